"""A season planned again on the day of a count: what was planned is held, and only gaps are filled.

One continuous program is patched: bounds and right-hand sides say what has been counted, and HiGHS starts
from where it last stood. Trays to be sown, joins, purchases, hands and units planned are bounded from below,
since planning again by expectation would take a hedge back.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_array

from model.program.cost_terms import late_plants
from model.program.program import Program
from model.rehearsal.lived_season import TINY, Jobs, Living, Season
from model.rehearsal.network_arrays import Days, NetworkArrays
from model.risk.batches import Floats
from model.solver.compiled import Compiled, Solution, SolveError, run, solver, start_from, with_rows

SLACK = 1e-7
"""Share by which bounds of what is held give way to the solver's tolerance."""

ROUNDED = 1e-3
"""Seedlings of a wave by which sums of the solver's tolerance may differ."""

SAME = 0.01
"""Joins, or cells sown, below which a change is the solver's tolerance: the batch keeps its luck."""

UPSET = 1e-3
"""What a plant costs that goes to an order from a graft day that the plan has not for it, as a share of the
lowest penalty: it steers the choice between re-plans that cost the same, and is in no cost."""

NOT_PAID = ("short", "sold")
"""Variables whose cost a season has for itself; so has it the discount of plants that come late."""

FIRM = ("sown", "joins", "bought", "spare_bought", "offer_taken", "packs_bought")
"""Variables that stay as they are held where plants only change places."""

HELD = (
    "sown_into",
    "offer_taken",
    "spare_bought",
    "temporary_hands",
    "called_hands",
    "units_opened",
    "bays_open",
    "wave_opened",
    "vehicles",
    "packs_bought",
)
"""What is held besides trays, joins and plants bought."""

DECIDED = ("declined", "declined_whole", "lot_chosen", "admitted")
"""What stays as the plan has it; a group that clashes with none in a zone may still be let in later on."""


class GapFilling:
    """The continuous program of a plan, to be solved again from days of counts.

    ``solves``: programs solved so far.
    """

    def __init__(
        self, living: Living, program: Program, compiled: Compiled, values: dict[str, Floats], jobs: Jobs
    ) -> None:
        self.living, self.program, self.network = living, program, program.network
        self.values, self.solves = values, 0
        self.arrays = NetworkArrays(self.network)
        self._lots = [lot.lot for lot in self.network.scenario.seed_lots]
        freed = compiled.row_upper.copy()
        freed[list(compiled.rows.get("spare_seedlings", {}).values())] = np.inf
        self.compiled = with_rows(
            replace(compiled, row_upper=freed),
            csc_array((len(self._lots), len(compiled.cost))),
            np.full(len(self._lots), -np.inf),
            np.full(len(self._lots), np.inf),
        )
        self._firm = self.compiled.columns(FIRM)
        self._seed_rows = len(compiled.row_upper) + np.arange(len(self._lots))
        self._paid = self.compiled.cost.copy()
        cost = self.compiled.cost.copy()
        other = [i for i, plants in enumerate(values["delivered"]) if plants <= TINY]
        columns = compiled.position["delivered"][other]
        cost[columns[columns >= 0]] += UPSET * min(
            (term.penalty for term in self.network.orders), default=0.0
        )
        self._highs = solver(replace(self.compiled, cost=cost))
        self._ones: dict[tuple[int, int], float] = {}
        self._there = np.zeros(len(self.network.waves))
        self._start, self._open_start = self._starts(jobs)
        late = {
            int(compiled.position[name][n]): term.late_cost * weeks
            for name, n, term, weeks in _late(program)
            if compiled.position[name][n] >= 0
        }
        self._paid[self.compiled.columns(NOT_PAID)] = 0.0
        for column, cost in late.items():
            self._paid[column] -= cost

    def _starts(self, jobs: Jobs) -> tuple[Solution, Solution]:
        """Optima with the plan's jobs held before any count: with nothing new, and with all open."""
        least = run(self._highs)
        waves, joins, flows = (
            np.zeros(len(of)) for of in (self.network.waves, self.network.joins, self.network.flows)
        )
        lower, upper = self._bounds(-1, jobs, Season(waves, joins, joins, flows, flows))
        try:
            return self._solved(lower, self._nothing_new(lower, upper)), self._solved(lower, upper)
        except SolveError:
            # The plan meets a limit to the last of the solver's tolerance.
            return least, least

    def restart(self) -> None:
        """Start from the optimum of the plan's program, so that a season does not depend on those before."""
        self._without_margins(np.zeros(len(self.network.flows), dtype=bool))
        self._seeds_of_lots(np.zeros(len(self._there)))
        start_from(self._highs, self._start)
        self._open = self._open_start

    def fill(self, day: int, jobs: Jobs, season: Season) -> tuple[Jobs, float]:
        """Jobs of a season as planned again on a day of counts, and what the new jobs cost more, in currency.

        Counts after the day are not used. First plants only change places between orders, or come late; where
        that leaves an order short of more than the plan, all that can still be done is open.
        """
        # Joins made are whole, those planned need not be: on a full day a part of a join has no room.
        season = replace(season, made=np.minimum(season.made, jobs.joins))
        lower, upper = self._bounds(day, jobs, season)
        self._count(day, jobs, season)
        kept = self._solved(lower, self._nothing_new(lower, upper)).columns
        values = self.compiled.values(kept)
        short = values["short"]
        if float(np.maximum(short - self.values["short"] - 0.5, 0).max(initial=0.0)) <= 0:
            return replace(jobs, delivered=_given(values)), 0.0
        # What is open is like what was open on the count before, more than what is held on this one.
        start_from(self._highs, self._open)
        self._open = self._solved(lower, upper)
        more = float(self._paid @ (self._open.columns - kept))
        found = self.compiled.values(self._open.columns)
        sown, joins, bought = (np.maximum(found[name], 0.0) for name in ("sown", "joins", "bought"))
        alike = (self.arrays.graft < day) | (np.abs(joins - jobs.joins) < SAME)
        return Jobs(
            np.where((sown - jobs.sown) * self.arrays.cells < SAME, jobs.sown, sown),
            np.where(alike, jobs.joins, joins),
            _given(found),
            np.maximum(jobs.bought, bought),
            {name: np.maximum(jobs.held[name], np.maximum(found[name], 0.0)) for name in HELD},
        ), more

    def _nothing_new(self, lower: Floats, upper: Floats) -> Floats:
        """Upper bounds by which no more is sown, joined or bought than is held."""
        held = upper.copy()
        held[self._firm] = lower[self._firm] * (1 + SLACK)
        return held

    def _solved(self, lower: Floats, upper: Floats) -> Solution:
        count = len(lower)
        self._highs.changeColsBounds(count, np.arange(count, dtype=np.int32), lower, upper)
        self.solves += 1
        return run(self._highs)

    def _bounds(self, day: int, jobs: Jobs, season: Season) -> tuple[Floats, Floats]:
        """Bounds of the columns: what lies before the day is fixed, what was planned is held from below."""
        compiled, days = self.compiled, self._days
        lower, upper = compiled.lower.copy(), compiled.upper.copy()

        def bound(name: str, least: Floats, fixed: NDArray[np.bool_]) -> None:
            there = compiled.position[name] >= 0
            columns, value = compiled.position[name][there], least[there]
            lower[columns] = value
            upper[columns] = np.where(fixed[there], value, np.maximum(upper[columns], value))

        bound("sown", jobs.sown, days["sown"] < day)
        possible, past = self._possible(day, jobs, season), days["joins"] < day
        joins = jobs.joins * self.arrays.scarcer(possible)
        bound("joins", np.where(past, season.made, joins), past)
        bound("bought", jobs.bought, days["bought"] < day)
        for name in HELD:
            bound(name, jobs.held[name], days[name] < day)
        for name in DECIDED:
            bound(name, self.values[name], days[name] < day)
        there = (compiled.position["delivered"] >= 0) & (days["packed"] < day)
        upper[compiled.position["delivered"][there]] = np.maximum(jobs.delivered[there], 0.0)
        return lower, upper

    @cached_property
    def _days(self) -> dict[str, NDArray[np.float64]]:
        """For each decision, the day after which it stands: −∞ if it always does, ∞ if never."""
        network, program, offers = self.network, self.program, self.network.offers
        flows, apart = network.flows, program.apart
        packed = [network.orders[d.order].packed(flows[d.flow].ready) for d in network.deliveries]
        days: dict[str, list[float]] = {
            "sown": [wave.sow for wave in network.waves],
            "joins": [flows[join.flow].graft for join in network.joins],
            "bought": [i.day - offers[i.offer].lead_days for i in network.buy_ins],
            "offer_taken": [i.day - offers[i.offer].lead_days for i in program.offer_days],
            "spare_bought": [i.day - offers[i.offer].lead_days for i in program.spare_days],
            "sown_into": [network.waves[place.wave].sow for place in program.amounts.sown_into],
            "temporary_hands": [program.weeks[i.week].days[0] for i in program.crew_weeks],
            "called_hands": [i.day for i in program.called_days],
            "units_opened": [batch.open for batch in program.amounts.batches],
            "wave_opened": [network.waves[w].sow for w in program.opened_waves],
            "vehicles": [on.day for on in program.run_days],
            "admitted": [-np.inf if at in apart.clashing else at.day for at in apart.admitted],
            "packed": [np.inf if day is None else day for day in packed],
        }
        always = {name: [-np.inf] * len(self.values[name]) for name in DECIDED if name not in days}
        never = {name: [np.inf] * len(self.values[name]) for name in HELD if name not in days}
        return {name: np.array(of, dtype=float) for name, of in (days | always | never).items()}

    def counted_on(self, jobs: Jobs) -> Days:
        """Day on which each wave is counted: the last of its trays come to the bench."""
        days, (waves, bench) = self.arrays.bench.copy(), self._sown_into
        used = jobs.held["sown_into"] > TINY
        np.maximum.at(days, waves[used], bench[used])
        return days

    @cached_property
    def _sown_into(self) -> Days:
        """Wave, and day of coming to the bench, of all trays sown into a zone; shape (2, places)."""
        places = self.program.amounts.sown_into
        return np.array([(place.wave, place.bench) for place in places], dtype=np.intp).reshape(-1, 2).T

    def _possible(self, day: int, jobs: Jobs, season: Season) -> Floats:
        """Share of the joins still planned for which the counted seedlings of each wave are enough."""
        left = self.arrays.left(day, season.seedlings, season.brought)
        planned = self.arrays.planned(day, jobs.joins)
        scarce = (self.counted_on(jobs) <= day) & (jobs.sown > 0) & (planned > left)
        possible = np.ones(len(left))
        possible[scarce] = left[scarce] / planned[scarce] * (1 - SLACK)
        return possible

    def _count(self, day: int, jobs: Jobs, season: Season) -> None:
        """Write the counts up to the day into the rows, and the seed that is there before more can come."""
        of = self.arrays
        lower, upper = self.compiled.row_lower.copy(), self.compiled.row_upper.copy()
        rows = self._row_of["seedlings"]
        upper[rows[jobs.sown > TINY]] += ROUNDED
        counted = (self.counted_on(jobs) <= day) & (of.sow < day)
        drawn = of.of_waves(np.where(of.graft < day, season.made / of.match, 0.0))
        there = drawn + of.left(day, season.seedlings, season.brought) - of.usable * jobs.sown
        upper[rows[counted]] = there[counted] + ROUNDED
        healed = (of.grafted < day) & (self.healed_on <= day)
        rows = self._row_of["flow_healed"][healed]
        lower[rows] = (of.of_flows(season.made * of.take) - season.counted)[healed]
        upper[rows] = np.inf  # no room for more than planned
        ready = healed & (of.ready <= day)
        rows = self._row_of["take"][ready]
        lower[rows] = upper[rows] = (season.finished - of.survival * season.counted)[ready]
        self._without_margins(healed)
        self._not_by_lots(healed, upper)
        self._seed(day, jobs, upper)
        count = len(lower)
        self._highs.changeRowsBounds(count, np.arange(count, dtype=np.int32), lower, upper)

    @cached_property
    def _row_of(self) -> dict[str, Days]:
        """Row of each wave or flow, by constraint group."""
        waves, flows = self.program.wave_labels, self.program.flow_labels
        labels = {"seedlings": waves, "flow_healed": flows, "take": flows}
        rows = self.compiled.rows
        return {
            group: np.array([rows[group][label] for label in of], dtype=np.intp)
            for group, of in labels.items()
        }

    @cached_property
    def healed_on(self) -> Days:
        """Day on which the take of each flow is counted."""
        return np.array(self.living.healed_on, dtype=np.intp)

    def _without_margins(self, healed: NDArray[np.bool_]) -> None:
        """Let deliveries of counted flows take no margin, and those of all others theirs."""
        changed = {
            place: margin for f in np.flatnonzero(healed).tolist() for place, margin in self._margins[f]
        }
        self._restore({place: value for place, value in self._ones.items() if place not in changed})
        for place in changed.keys() - self._ones.keys():
            self._highs.changeCoeff(*place, 1.0)
        self._ones = changed

    def _not_by_lots(self, healed: NDArray[np.bool_], upper: Floats) -> None:
        """Lots and units of a counted flow give what it has: the count is of all its plants together."""
        labels = self.program.flow_labels
        counted = {labels[f] for f in np.flatnonzero(healed).tolist()}
        length = len(next(iter(counted), ()))
        for group in ("plants_of_lots", "plants_in_units"):
            for label, row in self.compiled.rows.get(group, {}).items():
                if label[:length] in counted:
                    upper[row] = np.inf

    @cached_property
    def _margins(self) -> list[list[tuple[tuple[int, int], float]]]:
        """Places in the rows of the take where a flow's deliveries have a margin, and what stands there."""
        found: list[list[tuple[tuple[int, int], float]]] = [[] for _ in self.network.flows]
        columns = self.compiled.position["delivered"].tolist()
        for column, delivery in zip(columns, self.network.deliveries, strict=True):
            if column >= 0 and delivery.margin:
                place = int(self._row_of["take"][delivery.flow]), column
                found[delivery.flow].append((place, 1 + delivery.margin))
        return found

    def _restore(self, changed: dict[tuple[int, int], float]) -> None:
        for (row, column), value in changed.items():
            self._highs.changeCoeff(row, column, value)

    def _seed(self, day: int, jobs: Jobs, upper: Floats) -> None:
        """Seed sown before new packs can come is in stock or in the packs of the plan."""
        scenario = self.network.scenario
        packs: dict[str, float] = {}
        for pack, number in zip(scenario.packs, jobs.held["packs_bought"].tolist(), strict=True):
            packs[pack.item] = packs.get(pack.item, 0.0) + pack.size * number
        of = self.arrays
        self._seeds_of_lots(np.where(of.sow < day + of.lead, of.seeds, 0.0))
        for row, lot in zip(self._seed_rows.tolist(), scenario.seed_lots, strict=True):
            upper[row] = (lot.stock + packs.get(lot.lot, 0.0)) * (1 + SLACK)

    def _seeds_of_lots(self, seeds: Floats) -> None:
        """Let each tray of a wave take so many seeds of the seed that is there."""
        columns = self.compiled.position["sown"]
        for w in np.flatnonzero((seeds != self._there) & (columns >= 0)).tolist():
            lot = self._lots.index(self.network.waves[w].lot.lot)
            self._highs.changeCoeff(int(self._seed_rows[lot]), int(columns[w]), float(seeds[w]))
        self._there = seeds


def _given(values: dict[str, Floats]) -> Floats:
    """Plants that orders are to have of each flow, whole: a part of a plant is no plant."""
    whole: Floats = np.ceil(np.maximum(values["delivered"], 0.0) - ROUNDED)
    return np.maximum(whole, 0.0)


def _late(program: Program) -> list[tuple[str, int, Any, float]]:
    """Decisions that bring plants late: variable, index, order and weeks begun."""
    return [
        (name, n, program.network.orders[o], weeks)
        for o, of in late_plants(program).items()
        for (name, n), weeks in of.items()
    ]

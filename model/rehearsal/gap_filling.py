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
        self._there: dict[tuple[int, int], float] = {}
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
        self._restore(self._ones)
        for place in self._there:
            self._highs.changeCoeff(*place, 0.0)
        self._there.clear()
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
        short = self.compiled.values(kept)["short"]
        if float(np.maximum(short - self.values["short"] - 0.5, 0).max(initial=0.0)) <= 0:
            return replace(jobs, delivered=self._given(kept)), 0.0
        # What is open is like what was open on the count before, more than what is held on this one.
        start_from(self._highs, self._open)
        self._open = self._solved(lower, upper)
        found = self._open.columns
        more = float(self._paid @ (found - kept))
        sown, joins, bought = (self._of(found, name) for name in ("sown", "joins", "bought"))
        cells = np.array([wave.tray.cells for wave in self.network.waves])
        alike = self._grafted_before(day) | (np.abs(joins - jobs.joins) < SAME)
        return Jobs(
            np.where((sown - jobs.sown) * cells < SAME, jobs.sown, sown),
            np.where(alike, jobs.joins, joins),
            self._given(found),
            np.maximum(jobs.bought, bought),
            {name: np.maximum(jobs.held[name], self._of(found, name)) for name in HELD},
        ), more

    def _nothing_new(self, lower: Floats, upper: Floats) -> Floats:
        """Upper bounds by which no more is sown, joined or bought than is held."""
        held = upper.copy()
        held[self._firm] = lower[self._firm] * (1 + SLACK)
        return held

    def _given(self, columns: Floats) -> Floats:
        """Plants that orders are to have of each flow, whole: a part of a plant is no plant."""
        whole: Floats = np.ceil(self._of(columns, "delivered") - ROUNDED)
        return np.maximum(whole, 0.0)

    def _grafted_before(self, day: int) -> Any:
        """Whether the graft day of each join lies before the day."""
        flows = self.network.flows
        return np.array([flows[join.flow].graft < day for join in self.network.joins], dtype=bool)

    def _of(self, columns: Floats, name: str) -> Floats:
        values: Floats = np.maximum(self.compiled.values(columns)[name], 0.0)
        return values

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
        least = np.array([min(possible[w] for w in join.waves) for join in self.network.joins])
        bound("joins", np.where(past, season.made, jobs.joins * least), past)
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

    def counted_on(self, jobs: Jobs) -> list[int]:
        """Day on which each wave is counted: the last of its trays come to the bench."""
        days = [wave.bench for wave in self.network.waves]
        places = self.program.amounts.sown_into
        for place, trays in zip(places, jobs.held["sown_into"].tolist(), strict=True):
            if trays > TINY:
                days[place.wave] = max(days[place.wave], place.bench)
        return days

    def _possible(self, day: int, jobs: Jobs, season: Season) -> Floats:
        """Share of the joins still planned for which the counted seedlings of each wave are enough."""
        network = self.network
        possible = np.ones(len(network.waves))
        for w, counted in enumerate(self.counted_on(jobs)):
            if counted <= day and jobs.sown[w] > 0:
                left, planned = self._left(day, w, season), 0.0
                for j in network.draws[w]:
                    if network.flows[network.joins[j].flow].graft >= day:
                        planned += float(jobs.joins[j]) / network.joins[j].match
                if planned > left:
                    possible[w] = left / planned * (1 - SLACK)
        return possible

    def _left(self, day: int, w: int, season: Season) -> float:
        """Seedlings of a counted wave that nobody has brought to the bench before the day."""
        gone = [
            j for j in self.network.draws[w] if self.network.flows[self.network.joins[j].flow].graft < day
        ]
        # Seedlings that recorded joins used were there, however few of the wave are drawn.
        return max(float(season.seedlings[w] - sum(season.brought[j] for j in gone)), 0.0)

    def _count(self, day: int, jobs: Jobs, season: Season) -> None:
        """Write the counts up to the day into the rows, and the seed that is there before more can come."""
        network, rows = self.network, self.compiled.rows
        lower, upper = self.compiled.row_lower.copy(), self.compiled.row_upper.copy()
        for (w, wave), counted in zip(enumerate(network.waves), self.counted_on(jobs), strict=True):
            if jobs.sown[w] > TINY:
                upper[rows["seedlings"][self.program.wave_labels[w]]] += ROUNDED
            if counted <= day and wave.sow < day:
                past = [j for j in network.draws[w] if network.flows[network.joins[j].flow].graft < day]
                drawn = sum(season.made[j] / network.joins[j].match for j in past)
                there = drawn + self._left(day, w, season) - wave.usable * jobs.sown[w]
                upper[rows["seedlings"][self.program.wave_labels[w]]] = there + ROUNDED
        self._restore(self._ones)
        for f, flow in enumerate(network.flows):
            if flow.graft < day and self.living.healed_on[f] <= day:
                made = sum(season.made[j] * network.joins[j].take for j in network.flow_joins[f])
                row = rows["flow_healed"][self.program.flow_labels[f]]
                lower[row], upper[row] = made - season.counted[f], np.inf  # no room for more than planned
                take = rows["take"][self.program.flow_labels[f]]
                if flow.ready <= day:
                    lower[take] = upper[take] = season.finished[f] - flow.survival * season.counted[f]
                for i in self._served.get(f, ()):
                    column = int(self.compiled.position["delivered"][i])
                    if column >= 0 and network.deliveries[i].margin:
                        self._ones[take, column] = 1 + network.deliveries[i].margin
                        self._highs.changeCoeff(take, column, 1.0)
        self._not_by_lots(day, upper)
        self._seed(day, jobs, upper)
        count = len(lower)
        self._highs.changeRowsBounds(count, np.arange(count, dtype=np.int32), lower, upper)

    def _not_by_lots(self, day: int, upper: Floats) -> None:
        """Lots and units of a counted flow give what it has: the count is of all its plants together."""
        flows, rows, labels = self.network.flows, self.compiled.rows, self.program.flow_labels
        counted = {
            labels[f] for f, flow in enumerate(flows) if flow.graft < day and self.living.healed_on[f] <= day
        }
        length = len(next(iter(counted), ()))
        for group in ("plants_of_lots", "plants_in_units"):
            for label, row in rows.get(group, {}).items():
                if label[:length] in counted:
                    upper[row] = np.inf

    @cached_property
    def _served(self) -> dict[int, list[int]]:
        found: dict[int, list[int]] = {}
        for i, delivery in enumerate(self.network.deliveries):
            found.setdefault(delivery.flow, []).append(i)
        return found

    def _restore(self, changed: dict[tuple[int, int], float]) -> None:
        for (row, column), value in changed.items():
            self._highs.changeCoeff(row, column, value)
        changed.clear()

    def _seed(self, day: int, jobs: Jobs, upper: Floats) -> None:
        """Seed sown before new packs can come is in stock or in the packs of the plan."""
        scenario = self.network.scenario
        packs: dict[str, float] = {}
        for pack, number in zip(scenario.packs, jobs.held["packs_bought"].tolist(), strict=True):
            packs[pack.item] = packs.get(pack.item, 0.0) + pack.size * number
        by_lot = {lot.lot: (n, lot) for n, lot in enumerate(scenario.seed_lots)}
        for w, wave in enumerate(self.network.waves):
            n, lot = by_lot[wave.lot.lot]
            place = int(self._seed_rows[n]), int(self.compiled.position["sown"][w])
            now = float(wave.seeds) if wave.sow < day + lot.lead_days else 0.0
            if place[1] >= 0 and self._there.get(place, 0.0) != now:
                self._highs.changeCoeff(*place, now)
                self._there[place] = now
        for lot_name, (n, lot) in by_lot.items():
            upper[self._seed_rows[n]] = (lot.stock + packs.get(lot_name, 0.0)) * (1 + SLACK)


def _late(program: Program) -> list[tuple[str, int, Any, float]]:
    """Decisions that bring plants late: variable, index, order and weeks begun."""
    return [
        (name, n, program.network.orders[o], weeks)
        for o, of in late_plants(program).items()
        for (name, n), weeks in of.items()
    ]

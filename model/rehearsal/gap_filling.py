"""A season planned again on the day of a count: what was planned is held, and only gaps are filled.

One continuous program is patched: bounds and right-hand sides say what has been counted, and HiGHS starts
from where it last stood. Trays to be sown, joins, purchases, hands and units planned are bounded from below,
since planning again by expectation would take a hedge back.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from scipy.sparse import csc_array

from model.program.cost_terms import late_plants
from model.program.program import Program
from model.rehearsal.lived_season import TINY, Jobs, Living, Season
from model.risk.batches import Floats
from model.solver.compiled import Compiled, run, solver, start_from, with_rows

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

HELD = (
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


class GapFilling:
    """The continuous program of a plan, to be solved again from days of counts.

    ``solves``: programs solved so far.
    """

    def __init__(
        self, living: Living, program: Program, compiled: Compiled, values: dict[str, Floats]
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
        self._seed_rows = len(compiled.row_upper) + np.arange(len(self._lots))
        self._paid = self.compiled.cost.copy()
        cost = self.compiled.cost.copy()
        other = [i for i, plants in enumerate(values["delivered"]) if plants <= TINY]
        columns = compiled.position["delivered"][other]
        cost[columns[columns >= 0]] += UPSET * min(
            (term.penalty for term in self.network.orders), default=0.0
        )
        self._highs = solver(replace(self.compiled, cost=cost))
        self._start = run(self._highs)
        self._ones: dict[tuple[int, int], float] = {}
        self._there: dict[tuple[int, int], float] = {}
        late = {
            int(compiled.position[name][n]): term.late_cost * weeks
            for name, n, term, weeks in _late(program)
            if compiled.position[name][n] >= 0
        }
        self._paid[self.compiled.columns(NOT_PAID)] = 0.0
        for column, cost in late.items():
            self._paid[column] -= cost

    def restart(self) -> None:
        """Start from the optimum of the plan's program, so that a season does not depend on those before."""
        self._restore(self._ones)
        for place in self._there:
            self._highs.changeCoeff(*place, 0.0)
        self._there.clear()
        start_from(self._highs, self._start)

    def fill(self, day: int, jobs: Jobs, season: Season) -> tuple[Jobs, float]:
        """Jobs of a season as planned again on a day of counts, and what the new jobs cost more, in currency.

        Counts after the day are not used. First plants only change places between orders, or come late; where
        that leaves an order short of more than the plan, all that can still be done is open.
        """
        # Joins made are whole, those planned need not be: on a full day a part of a join has no room.
        season = replace(season, made=np.minimum(season.made, jobs.joins))
        lower, upper = self._bounds(day, jobs, season)
        self._count(day, jobs, season)
        held = upper.copy()
        firm = self.compiled.columns(
            ("sown", "joins", "bought", "spare_bought", "offer_taken", "packs_bought")
        )
        held[firm] = lower[firm] * (1 + SLACK)
        kept = self._solved(lower, held)
        short = self.compiled.values(kept)["short"]
        if float(np.maximum(short - self.values["short"] - 0.5, 0).max(initial=0.0)) <= 0:
            return replace(jobs, delivered=self._given(kept)), 0.0
        found = self._solved(lower, upper)
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

    def _solved(self, lower: Floats, upper: Floats) -> Floats:
        count = len(lower)
        self._highs.changeColsBounds(count, np.arange(count, dtype=np.int32), lower, upper)
        self.solves += 1
        return run(self._highs).columns

    def _bounds(self, day: int, jobs: Jobs, season: Season) -> tuple[Floats, Floats]:
        """Bounds of the columns: what lies before the day is fixed, what was planned is held from below."""
        network, compiled = self.network, self.compiled
        lower, upper = compiled.lower.copy(), compiled.upper.copy()

        def bound(name: str, n: int, least: float, *, fixed: bool) -> None:
            column = int(compiled.position[name][n])
            if column >= 0:
                lower[column] = least
                upper[column] = least if fixed else max(upper[column], least)

        for w, wave in enumerate(network.waves):
            bound("sown", w, float(jobs.sown[w]), fixed=wave.sow < day)
        possible = self._possible(day, jobs, season)
        for j, join in enumerate(network.joins):
            past = network.flows[join.flow].graft < day
            least = season.made[j] if past else jobs.joins[j] * min(possible[w] for w in join.waves)
            bound("joins", j, float(least), fixed=past)
        for i, buy_in in enumerate(network.buy_ins):
            ordered = buy_in.day - network.offers[buy_in.offer].lead_days
            bound("bought", i, float(jobs.bought[i]), fixed=ordered < day)
        days = {
            "offer_taken": [i.day - network.offers[i.offer].lead_days for i in self.program.offer_days],
            "spare_bought": [i.day - network.offers[i.offer].lead_days for i in self.program.spare_days],
            "temporary_hands": [self.program.weeks[i.week].days[0] for i in self.program.crew_weeks],
            "called_hands": [i.day for i in self.program.called_days],
            "units_opened": [batch.open for batch in self.program.amounts.batches],
            "wave_opened": [network.waves[w].sow for w in self.program.opened_waves],
            "vehicles": [on.day for on in self.program.run_days],
        }
        for name, by in days.items():
            for n, on in enumerate(by):
                bound(name, n, float(jobs.held[name][n]), fixed=on < day)
        for name in ("packs_bought", "bays_open"):
            for n, number in enumerate(jobs.held[name].tolist()):
                bound(name, n, number, fixed=False)
        for name in ("declined", "declined_whole", "lot_chosen"):
            for n, value in enumerate(self.values[name].tolist()):
                bound(name, n, value, fixed=True)
        for n, (at, value) in enumerate(
            zip(self.program.apart.admitted, self.values["admitted"].tolist(), strict=True)
        ):
            bound("admitted", n, value, fixed=at in self.program.apart.clashing or at.day < day)
        for i, delivery in enumerate(network.deliveries):
            packed = network.orders[delivery.order].packed(network.flows[delivery.flow].ready)
            column = int(compiled.position["delivered"][i])
            if column >= 0 and packed is not None and packed < day:
                upper[column] = max(float(jobs.delivered[i]), 0.0)
        return lower, upper

    def _possible(self, day: int, jobs: Jobs, season: Season) -> Floats:
        """Share of the joins still planned for which the counted seedlings of each wave are enough."""
        network = self.network
        possible = np.ones(len(network.waves))
        for w, wave in enumerate(network.waves):
            if wave.bench <= day and jobs.sown[w] > 0:
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
        for w, wave in enumerate(network.waves):
            if jobs.sown[w] > TINY:
                upper[rows["seedlings"][self.program.wave_labels[w]]] += ROUNDED
            if wave.bench <= day and wave.sow < day:
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

    @property
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

"""Seasons rehearsed: counts come on their days, and what they leave missing is planned again.

The stand of a wave is counted when it comes to the bench, the take of a graft day when healing ends (own-root
plants: when they are ready). A count is acted on where it is below what was planned for by more than
``TOLERANCE``. A re-plan knows the counts up to its day and no others. What it may do: give plants to other
orders, sow again, graft again, buy in, deliver late. At the end plants are used as in a season that is not
re-planned (``model.risk.recourse``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from model.collector import collector_paused
from model.phases import Say, silent
from model.planned.plan_tables import Plan
from model.planned.tables.declared import FLOW
from model.program.program import Program
from model.rehearsal.gap_filling import HELD, GapFilling
from model.rehearsal.lived_season import TINY, Jobs, Living, Season
from model.rehearsal.network_arrays import Days
from model.risk.batches import Floats, Seasons
from model.risk.recourse import Recourse, recourse
from model.solver.compiled import Compiled, SolveError

TOLERANCE, LEAST = 0.01, 1.0
"""A count is acted on where it lacks more than this share, and more than one seedling or plant."""

DONE = ("sown_again", "grafted_again", "bought_in", "late", "moved", "thrown_away", "replans", "kept")
"""What was done in a season: trays, joins; plants bought, late, moved and thrown away; days planned again,
and days on which no new plan was found, so that the season went on as it was."""


@dataclass(frozen=True, slots=True)
class Rehearsed:
    """Seasons rehearsed, one column or row for each.

    ``short``, ``late``: plants by order and season. ``done``: columns ``DONE``. ``totals``: in currency cost,
    penalties; ``solves``: linear programs solved in all.
    """

    short: Floats
    late: Floats
    done: pd.DataFrame
    totals: pd.DataFrame
    solves: int

    def chances(self, quantity: Floats) -> pd.DataFrame:
        """Share of the seasons in which each order is filled, filled to 98 %, and filled in time."""
        asked = quantity[:, None]
        return pd.DataFrame(
            {
                "full": (self.short <= TINY).mean(axis=1),
                "nearly": (self.short <= 0.02 * asked + TINY).mean(axis=1),
                "in_time": (self.short + self.late <= TINY).mean(axis=1),
            }
        )


def together(parts: Sequence[Rehearsed]) -> Rehearsed:
    """Parts of the seasons as one, in their order."""
    return Rehearsed(
        np.concatenate([part.short for part in parts], axis=1),
        np.concatenate([part.late for part in parts], axis=1),
        pd.concat([part.done for part in parts], ignore_index=True),
        pd.concat([part.totals for part in parts], ignore_index=True),
        sum(part.solves for part in parts),
    )


@dataclass(frozen=True, slots=True)
class _Lived:
    after: Recourse
    done: tuple[float, ...]
    cost: float
    penalties: float


class Rehearsal:
    """The seasons drawn, to be rehearsed with a plan; ``columns``: its values in the compiled program."""

    def __init__(
        self, program: Program, compiled: Compiled, columns: Floats, plan: Plan, drawn: Seasons
    ) -> None:
        self.plan, self.network = plan, program.network
        values = {name: np.maximum(v, 0.0) for name, v in compiled.values(columns).items()}
        self.living = Living(self.network, plan, drawn)
        held = {name: values[name] for name in HELD}
        self.jobs = Jobs(values["sown"], values["joins"], values["delivered"], values["bought"], held)
        self.filling = GapFilling(self.living, program, compiled, values, self.jobs)
        lines = plan.costs["line"]
        self.planned = float(plan.costs["amount"][~lines.isin(["shortfall", "salvage", "late"])].sum())

    def seasons(self, numbers: Sequence[int], progress: Say = silent) -> Rehearsed:
        """Rehearse the seasons of these numbers. Raises SolveError where HiGHS reaches no optimum."""
        found, solves = [], self.filling.solves
        with collector_paused():
            for n in numbers:
                progress(f"season {n + 1:,}")
                found.append(self._season(n))
        return Rehearsed(
            np.column_stack([one.after.short[:, 0] for one in found]),
            np.column_stack([one.after.late[:, 0] for one in found]),
            pd.DataFrame([one.done for one in found], columns=list(DONE)),
            pd.DataFrame([(one.cost, one.penalties) for one in found], columns=["cost", "penalties"]),
            self.filling.solves - solves,
        )

    def _season(self, n: int) -> _Lived:
        """One season: count days in their order, each with the jobs as they then stand."""
        self.filling.restart()
        jobs, last, more, counts, kept = self.jobs, -1, 0.0, 0, 0
        season = self.living.season(n, jobs)
        while len(coming := (days := self._gaps(jobs, season))[days > last]):
            day = int(coming.min())
            last, counts = day, counts + 1
            try:
                again, extra = self.filling.fill(day, jobs, season)
            except SolveError:
                # A limit is met to the last of the solver's tolerance: the season goes on as it was.
                kept += 1
                self.filling.restart()
                continue
            more += extra
            if self._differ(jobs, again):
                jobs = again
                season = self.living.season(n, jobs)
        return self._ended(jobs, season, more, counts - kept, kept)

    def _differ(self, before: Jobs, after: Jobs) -> bool:
        """Whether anything new is done; plants given to the orders that had them are not."""
        new = after.delivered > np.maximum(before.delivered, 0) + LEAST
        made = ((after.sown - before.sown), (after.joins - before.joins), (after.bought - before.bought))
        return bool(new.any() or any((change > TINY * 100).any() for change in made))

    def _gaps(self, jobs: Jobs, season: Season) -> Days:
        """Days on which a count lacks more than the tolerance of what was planned for; from today on."""
        of, today = self.filling.arrays, self.network.past.today
        needed = of.planned(today, jobs.joins)
        left = of.left(today, season.seedlings, season.brought)
        thin = (jobs.sown > TINY) & (left < needed - np.maximum(LEAST, TOLERANCE * needed))
        wanted = of.delivered(jobs.delivered)
        least = wanted - np.maximum(LEAST, TOLERANCE * wanted)
        asked = wanted > TINY
        days = (
            self.filling.counted_on(jobs)[thin],
            self.filling.healed_on[asked & (season.counted * of.survival < least)],
            of.ready[asked & (season.finished < least)],
        )
        found: Days = np.maximum(np.concatenate(days), today)
        return found

    def _ended(self, jobs: Jobs, season: Season, more: float, *counts: int) -> _Lived:
        """How the season's plants are used, what was done in it, and what it costs."""
        after = recourse(self.network.scenario, self._as_plan(jobs), season.finished[:, None])
        penal = float(self.plan.orders["penalty"].to_numpy(dtype=float) @ after.short[:, 0])
        trade = float(after.late_cost[0] + after.buy_in_cost[0] - after.salvage[0])
        sown, joins, bought = (
            float(np.maximum(now - then, 0).sum())
            for now, then in (
                (jobs.sown, self.jobs.sown),
                (jobs.joins, self.jobs.joins),
                (jobs.bought, self.jobs.bought),
            )
        )
        moved = float(
            after.moved[0] + np.maximum(jobs.delivered - self.jobs.delivered, 0)[self._movable].sum()
        )
        thrown = float(season.finished.sum() + after.bought[0] - after.delivered[0])
        late = float(after.late.sum())
        done = (sown, joins, bought + float(after.bought[0]), late, moved, thrown, *map(float, counts))
        return _Lived(after, done, self.planned + more + penal + trade, penal)

    @cached_property
    def _movable(self) -> NDArray[np.bool_]:
        """Deliveries in time from flows of the plan: what they bring beyond it is moved from other orders."""
        network, joins = self.network, self.jobs.joins
        grown = [joins[of].sum() > TINY for of in network.flow_joins]
        return np.array(
            [
                grown[d.flow] and not network.orders[d.order].days_late(network.flows[d.flow].ready)
                for d in network.deliveries
            ],
            dtype=bool,
        )

    def _as_plan(self, jobs: Jobs) -> Plan:
        """The season's jobs as tables of a plan, as far as the use of its plants reads them."""
        network, at = self.network, self.network.calendar.date
        flows = pd.DataFrame(
            [(*self.living.flows[n], at(f.ready), f.method.method) for n, f in enumerate(network.flows)],
            columns=[*FLOW, "ready_day", "method"],
            dtype=object,
        )
        rows: list[tuple[object, ...]] = []
        for i in np.flatnonzero(jobs.delivered > TINY).tolist():
            delivery = network.deliveries[i]
            flow, term = network.flows[delivery.flow], network.orders[delivery.order]
            late = term.days_late(flow.ready)
            rows.append(
                (
                    term.order.order,
                    "own",
                    *self.living.flows[delivery.flow],
                    late,
                    float(jobs.delivered[i]),
                )
            )
        buys, bought = [], np.zeros(len(network.orders))
        for i in np.flatnonzero(jobs.bought > TINY).tolist():
            buy_in, plants = network.buy_ins[i], float(jobs.bought[i])
            offer, term = network.offers[buy_in.offer], network.orders[buy_in.order]
            buys.append((offer.offer, at(buy_in.day), plants, 0.0))
            bought[buy_in.order] += plants
            late = term.days_late(buy_in.day)
            rows.append((term.order.order, "buy-in", offer.product, None, None, late, plants))
        columns = ["order", "source", *FLOW, "days_late", "plants"]
        return replace(
            self.plan,
            flows=flows,
            deliveries=pd.DataFrame(rows, columns=columns, dtype=object),
            buy_in=pd.DataFrame(buys, columns=["offer", "arrival_day", "plants", "spare"]),
            orders=self.plan.orders.assign(bought=bought),
        )

"""Near-best plans: the least and the most of a quantity among all plans that cost little more than the best.

The program is solved again with its cost limited to a share above that of the plan: once for the least and
once for the most of the quantity. Trays, packs and hands may be fractional. Graft days are whole. If the plan
is one in whole trays, so are waves with a fixed cost, units, deliveries and orders declined whole, whose cost
cannot be had in part. No plan may waste to make a quantity large: it has only the seedlings, trays and plants
needed, and its hours are worked. Nor may one leave an order shorter than the plan does: that is no freedom.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum
from math import ceil, floor, inf
from operator import itemgetter
from typing import Any

import numpy as np
from scipy.sparse import csc_array, csr_array

from model.program.amounts import Key
from model.program.apart_sets import DECIDED as APART_DECIDED
from model.program.growing import reserve_label
from model.program.index_sets import Coefs
from model.program.program import Program
from model.scenario.choices import Task, ZoneUse
from model.solve import Solved
from model.solver.compiled import (
    Compiled,
    Floats,
    Solution,
    SolveError,
    run,
    solver,
    with_columns,
    with_fixed,
    with_rows,
)

NODES = 100
"""Nodes that HiGHS searches where something is whole; unlike a limit of time, it repeats its results."""

LUMPS = (
    "wave_opened",
    "units_opened",
    "bays_open",
    "offer_taken",
    "batch_set_up",
    "declined_whole",
    "vehicles",
    *APART_DECIDED,
)
"""Variables that are whole here."""

SOME = 1e-6
"""A day with more joins than this is a graft day."""

ROOM = 1e-9
"""Share of the least cost by which the cost may exceed its limit, for rounding in the solver."""

NO_WASTE = ("seedlings", "bench_trays", "flow_trays", "whole_trays_finishing", "salvage", "skill_hours")
"""Groups whose rows say "at least the amount needed"; here they say "exactly the amount needed"."""


class Quantity(StrEnum):
    """Quantities whose least and most can be found."""

    OVERTIME = "overtime hours"
    TEMPORARY = "hours of temporary hands"
    BOUGHT = "plants bought in"
    SLOT_DAYS = "slot-days in the healing chamber"
    PEAK_SLOTS = "slots of the healing chamber at its fullest"
    PEAK_WEEK = "hours of the busiest week"
    GRAFT_DAYS = "graft days"


PEAKS = (Quantity.PEAK_SLOTS, Quantity.PEAK_WEEK)
"""Quantities that are the largest of several sums: only their least is found.

The same holds of slot-days where units are run all-in all-out: for the most, a unit would be opened, or kept
shut, for a part of a tray.
"""


@dataclass(frozen=True, slots=True)
class NearBest:
    """Least and most of a quantity near the least cost, and the quantity with the plan's lumps at least cost.

    ``most`` is None where only the least is found. ``proved_least`` and ``proved_most`` are bounds that no
    plan passes. They equal least and most unless a search stopped early.
    """

    quantity: Quantity
    at_best: float
    least: float
    most: float | None
    proved_least: float
    proved_most: float | None


def near_best(solved: Solved, quantity: Quantity, within: float) -> NearBest:
    """Least and most of a quantity among the plans that cost at most (1 + within) · the cost of the plan.

    ``within`` is a share, at least 0. Raises SolveError where HiGHS reaches no optimum.
    """
    program, whole = solved.program, solved.solution is not solved.continuous
    thrifty = _no_shorter(_without_waste(program, solved.compiled), solved)
    lumps = solved.compiled.columns(LUMPS if whole else ())
    best = run(solver(with_fixed(thrifty, lumps, np.round(solved.solution.columns[lumps]))))
    limited = _within(thrifty, solved.solution.objective, within)
    if quantity is Quantity.GRAFT_DAYS:
        return _graft_days(program, limited, best, lumps)
    parts = [limited.vector(coefs) for coefs in _parts(program, quantity)]
    at_best = max((float(part @ best.columns) for part in parts), default=0.0)
    if quantity in PEAKS:
        least, bound = _least_peak(limited, parts, best, lumps)
        return NearBest(quantity, at_best, least, None, bound, None)
    (part,) = parts
    least, low = _search(limited, part, lumps, best.columns)
    if quantity is Quantity.SLOT_DAYS and _heals_in_units(program):
        return NearBest(quantity, at_best, least, None, low, None)
    most, high = _search(limited, -part, lumps, best.columns)
    return NearBest(quantity, at_best, least, 0.0 - most, low, 0.0 - high)


def _without_waste(program: Program, compiled: Compiled) -> Compiled:
    """The program without waste; its least cost is the same."""
    lower, upper = compiled.row_lower.copy(), compiled.upper.copy()
    settled = abs(csr_array(compiled.matrix)) @ (compiled.lower == compiled.upper) > 0
    rows = [
        row
        for group in NO_WASTE
        for row in compiled.rows.get(group, {}).values()
        if not (program.settled and settled[row])
    ]
    kept = compiled.rows.get("spare_seedlings", {})
    # Certain seedlings may be more than those that they replace: such a row has slack.
    rows += [kept[reserve_label(program, r)] for r in program.network.reserves if not r.certain]
    lower[rows] = compiled.row_upper[rows]
    sold = {f for _, flows in program.salvaged for f in flows}
    gone = {f for f, flow in enumerate(program.network.flows) if flow.graft < program.network.past.today}
    position = compiled.position["surplus"].tolist()
    unsold = [column for f, column in enumerate(position) if f not in sold | gone and column >= 0]
    upper[unsold] = 0.0
    return replace(compiled, row_lower=lower, upper=upper)


def _no_shorter(compiled: Compiled, solved: Solved) -> Compiled:
    """The program with no order shorter than in the plan."""
    short, upper = compiled.columns(("short",)), compiled.upper.copy()
    upper[short] = np.maximum(compiled.lower[short], np.minimum(upper[short], solved.solution.columns[short]))
    return replace(compiled, upper=upper)


def _heals_in_units(program: Program) -> bool:
    """Whether a batch of units of some healing zone may be opened."""
    zones = program.amounts.zones
    return any(zones[batch.zone].zone.use is ZoneUse.HEALING for batch in program.amounts.batches)


def _within(compiled: Compiled, least: float, within: float) -> Compiled:
    """The program with a last row that limits its cost.

    Σ cost · v ≤ least + within · |least|
    """
    limit = least + (within + ROOM) * abs(least) + ROOM - compiled.offset
    return with_rows(compiled, compiled.cost[None, :], np.array([-inf]), np.array([limit]))


def _with_free_columns(compiled: Compiled, count: int, upper: float) -> Compiled:
    """The program with columns added at its end; they are in no row yet, and their cost is 0."""
    empty = csc_array((compiled.matrix.shape[0], count))
    return with_columns(compiled, empty, upper, np.zeros(count))


def _parts(program: Program, quantity: Quantity) -> list[Coefs]:
    """The sum that defines a quantity, or for a peak the sums of which it is the largest."""
    sums = {
        Quantity.OVERTIME: "overtime",
        Quantity.TEMPORARY: "temporary_worked",
        Quantity.BOUGHT: "bought",
    }
    if quantity in sums:
        return [{(sums[quantity], n): 1.0 for n in range(program.counts[sums[quantity]])}]
    if quantity is Quantity.PEAK_WEEK:
        return _week_hours(program)
    by_day = _healing_slots(program)
    if quantity is Quantity.PEAK_SLOTS:
        return [by_day[t] for t in sorted(by_day)]
    total: Coefs = defaultdict(float)
    for coefs in by_day.values():
        for key, slots in coefs.items():
            total[key] += slots
    return [total]


def _week_hours(program: Program) -> list[Coefs]:
    """Hours worked by all crews and temporary hands in each week."""
    week_of = program.week_of
    weeks: list[Coefs] = [{} for _ in program.weeks]
    for n, crew_day in enumerate(program.crew_days):
        weeks[week_of[crew_day.day]] |= {("regular", n): 1.0, ("overtime", n): 1.0}
    for n, index in enumerate(program.temporary_skill_days):
        weeks[week_of[index.day]]["temporary_worked", n] = 1.0
    return weeks


def _healing_slots(program: Program) -> dict[int, Coefs]:
    """Slots in use in healing zones on each day; a busy unit uses all its slots."""
    zones = program.amounts.zones
    by_day: dict[int, Coefs] = defaultdict(lambda: defaultdict(float))

    def stand(zone: str, key: Key, slots: float, days: Iterable[int]) -> None:
        if zones[zone].zone.use is ZoneUse.HEALING:
            for t in days:
                by_day[t][key] += slots

    for s in program.amounts.standing:
        if zones[s.zone].pool:
            stand(s.zone, s.key, s.trays * s.slots, range(s.start, s.end))
    for e, batch in enumerate(program.amounts.batches):
        stand(batch.zone, ("units_opened", e), zones[batch.zone].slots_each, range(batch.open, batch.shut))
    return by_day


def _least_peak(limited: Compiled, parts: list[Floats], best: Solution, lumps: Any) -> tuple[float, float]:
    """The least value of the largest part, and its proved bound.

    min  peak      with part ≤ peak, each part
    """
    wide = _with_free_columns(limited, 1, inf)
    peak = np.zeros(len(wide.cost))
    peak[-1] = 1.0
    rows = np.array([np.append(part, 0.0) - peak for part in parts]).reshape(-1, len(peak))
    wide = with_rows(wide, rows, np.full(len(rows), -inf), np.zeros(len(rows)))
    largest = max((float(part @ best.columns) for part in parts), default=0.0)
    return _search(wide, peak, lumps, np.append(best.columns, largest))


def _grafted(program: Program) -> dict[int, list[int]]:
    """Grafted flows of each graft day."""
    days: dict[int, list[int]] = defaultdict(list)
    for f, flow in enumerate(program.network.flows):
        if flow.grafted:
            days[flow.graft].append(f)
    return dict(sorted(days.items()))


def _most_joins(program: Program) -> list[float]:
    """An upper bound on the joins of each flow: those that all its orders and all saleable surplus need."""
    network = program.network
    served: dict[int, float] = defaultdict(float)
    for delivery in network.deliveries:
        term = network.orders[delivery.order]
        served[delivery.flow] += term.order.quantity * (1 + delivery.margin)
    most = []
    for f, flow in enumerate(network.flows):
        worst = min(network.joins[j].take for j in network.flow_joins[f]) * flow.survival
        most.append((served[f] + flow.sold_as.salvage_most) / worst)
    return most


def _hands(program: Program, flows: list[int]) -> float:
    """The most joins that all hands together can make on the day of these flows."""
    amounts, network = program.amounts, program.network
    total: dict[str, float] = {}
    for f in flows:
        flow = network.flows[f]
        needed: dict[str, float] = defaultdict(float)
        for of in amounts.roles(Task.GRAFT, flow.method.method, flow.tray.format):
            needed[of.skill] += of.hours
        if not needed:
            return inf
        # A join takes hands of every role: the skill with most of its hours limits it.
        skill, hours = max(needed.items(), key=itemgetter(1))
        total[skill] = min(total.get(skill, inf), hours)
    joins = 0.0
    for skill, hours in total.items():
        for limits in amounts.crews.values():
            crew, day = limits.crew, network.flows[flows[0]].graft
            if skill in crew.skills:
                own = crew.pace * (limits.regular[day] + limits.overtime[day])
                temporary = crew.temp_pace * crew.temp_heads_most * limits.temporary_hours(day)
                joins += (own + temporary) / hours
    return joins


def _graft_days(program: Program, limited: Compiled, best: Solution, lumps: Any) -> NearBest:
    """Fewest and most graft days.

    For the most, a day counts if it has a tray of joins, or as few as the plan of least cost has on it.

    min  Σ k[g]      with joins of g ≤ most joins of g · k[g], k 0 or 1
    max  Σ k[g]      with trays of joins of g ≥ least trays of g · k[g], k 0 or 1
    """
    days = _grafted(program)
    count, joins = len(days), best.columns
    wide = _with_free_columns(limited, count, 1.0)
    chosen = np.arange(len(wide.cost) - count, len(wide.cost))
    most = _most_joins(program)
    fewest, filled = np.zeros((2, count, len(wide.cost)))
    used = np.zeros(count, dtype=bool)
    for g, flows in enumerate(days.values()):
        row = wide.vector({("grafted", f): 1.0 for f in flows})
        used[g] = row[: len(joins)] @ joins > SOME
        row[chosen[g]] = -min(sum(most[f] for f in flows), _hands(program, flows))
        fewest[g] = row
        row = -wide.vector({("grafted", f): 1 / program.network.flows[f].tray.cells for f in flows})
        trays = -float(row[: len(joins)] @ joins)
        row[chosen[g]] = min(trays, 1.0) if used[g] else 1.0
        filled[g] = row
    cost = np.zeros(len(wide.cost))
    cost[chosen] = 1.0
    sides = np.full(count, -inf), np.zeros(count)
    start, whole = np.append(joins, used.astype(float)), np.append(chosen, lumps)
    least, bound = _search(with_rows(wide, fewest, *sides), cost, whole, start)
    more, limit = _search(with_rows(wide, filled, *sides), -cost, whole, start)
    proved = (float(ceil(bound - 1e-6)), float(floor(0.0 - limit + 1e-6)))
    return NearBest(Quantity.GRAFT_DAYS, float(used.sum()), float(round(least)), 0.0 - round(more), *proved)


def _search(compiled: Compiled, cost: Floats, whole: Any, start: Floats) -> tuple[float, float]:
    """The least cost found within ``NODES`` nodes, or by the given start, and its proved bound.

    HiGHS is not told the start: with one it may report a bound that is too good.
    """
    wanted = replace(compiled, cost=cost, offset=0.0)
    continuous = run(solver(wanted))
    if not len(whole):
        return continuous.objective, continuous.objective
    known = float(cost @ start)
    try:
        found = run(solver(wanted, whole, mip_max_nodes=NODES), stopped_early=True)
    except SolveError:
        return known, continuous.objective
    return min(known, float(cost @ found.columns)), max(found.bound, continuous.objective)

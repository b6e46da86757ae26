"""Check of runs: what rides on which day, on how many vehicles, at what cost."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Container, Iterator
from datetime import date
from math import ceil
from typing import Any

from model.proof.problems import CENT, Problem, differs, exceeds, wrong
from model.proof.replay import Replay
from model.proof.world import ONE_DAY

ROUNDING = 1e-6
"""Part of a vehicle that is only rounding."""


def runs_carry_their_trays(r: Replay) -> Iterator[Problem]:
    """All plants of a customer with a run ride with it, on vehicles enough and no more than it has."""
    by_order: dict[tuple[str, date, str], float] = defaultdict(float)
    settled: dict[tuple[str, date, str], float] = defaultdict(float)
    for row in r.rows["deliveries"]:
        order = r.world.orders[row["order"]]
        run = r.world.rides.get(order.customer)
        if run is not None:
            cells = r.world.formats[r.world.products[row["product"]].final_format].cells
            whole = -(-order.quantity // cells)
            at = run.run, r.world.leaves(order, row["ready_day"]), row["order"]
            trays = row["plants"] * whole / order.quantity
            by_order[at] += trays
            settled[at] += trays if _is_settled(r, row) else 0.0
    riding = _by_day(by_order, r.world.in_whole_trays if r.plan.facts.whole else {})
    there = _by_day(settled, r.world.in_whole_trays)
    told = {(row["run"], row["day"]): row for row in r.rows["runs"]}
    for name, day in {*riding, *told}:
        place, trays, run = f"{name} on {day}", riding[name, day], r.world.runs[name]
        if (name, day) not in told:
            yield from exceeds(f"{place} is not in table runs, trays", trays, 0.0)
            continue
        row = told[name, day]
        yield from wrong(f"{place}: the run does not leave on that day", r.world.run_leaves(run, day))
        yield from differs(f"{place}, trays", row["trays"], trays)
        yield from exceeds(f"{place}, trays against room for them", trays, row["vehicles"] * run.trays)
        yield from differs(f"{place}, room for trays", row["carries"], row["vehicles"] * run.trays)
        if run.vehicles_most is not None:
            most = max(run.vehicles_most, ceil(there[name, day] / run.trays - ROUNDING))
            yield from exceeds(f"{place}, vehicles", row["vehicles"], most)
        cost = row["vehicles"] * run.fixed_cost + trays * run.cost_per_tray
        yield from differs(f"{place}, cost", row["amount"], cost, CENT)


def _by_day(
    by_order: dict[tuple[str, date, str], float], full: Container[str]
) -> dict[tuple[str, date], float]:
    """Trays by run and day, those of ``full`` orders rounded up to whole ones order by order."""
    found: dict[tuple[str, date], float] = defaultdict(float)
    for (run, day, order), trays in by_order.items():
        found[run, day] += ceil(trays - ROUNDING) if order in full else trays
    return found


def _is_settled(r: Replay, row: dict[str, Any]) -> bool:
    """Whether the past has settled a delivery."""
    record = r.world.record
    if row["source"] == "own":
        return bool(row["pack_day"] < record.today)
    by = row["ready_day"] - r.world.offers[row["offer"]].lead_days * ONE_DAY
    return bool(by < record.today or record.comes(row["offer"], row["ready_day"]))

"""Shadow prices: the change of cost per unit of each limit, and the range in which it holds.

They come from the continuous program, with the lumpy decisions (``HELD`` of ``model.program.variables``) held
as in the plan; trays, packs and units stay divisible. HiGHS keeps its basis within the range, so the price
holds at least that far.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from model.planned.plan_tables import frame
from model.program.index_sets import Label
from model.program.program import Program

if TYPE_CHECKING:
    from model.solver.compiled import Compiled, Solution

WEEK_LIMIT = "week hours"

ROW_LIMITS = {
    "order": ("order", "plant"),
    "slots": ("slots", "slot"),
    "units_busy": ("units", "unit"),
    "week_hours": (WEEK_LIMIT, "hour"),
    "skill_limits": ("skill hours", "hour"),
    "day_share": ("one graft day", "plant"),
    "lot_share": ("share of a lot", "plant"),
    "unit_share": ("share of a unit", "plant"),
}
"""Constraint groups, each with the name of its limit and the unit of the limit."""

COLUMN_LIMITS = {"regular": "regular hours", "overtime": "overtime hours"}

WORTHLESS = 1e-7

Row = dict[str, Any]


def shadow_prices(program: Program, compiled: Compiled, solution: Solution, highs: Any) -> pd.DataFrame:
    """The table ``shadow_prices``: every order, and each other limit that has a price from today on.

    ``highs`` stands at the solution.
    """
    _, ranging = highs.getRanging()
    found = [part(program, compiled, solution, ranging) for part in (_rows, _stock, _columns, _offers)]
    rows = [row for part in found for row in part]
    return frame("shadow_prices", [row for row in rows if not _is_past(program, row)])


def _is_past(program: Program, row: Row) -> bool:
    """Whether a limit lies before today, so that nobody can have one more of it."""
    if row["day"] is None:
        return False
    t = program.network.calendar.day(row["day"])
    last = program.weeks[program.week_of[t]].days[-1] if row["limit"] == WEEK_LIMIT else t
    return last < program.network.past.today


def _price(
    limit: str, name: str, day: date | None, unit: str, value: float, low: float, at: float, high: float
) -> Row:
    """A row of the table. No limit is below 0, so the range begins there at the earliest.

    An open upper end of the range is None; the range includes the present limit ``at``.
    """
    return {
        "limit": limit,
        "name": name,
        "day": day,
        "unit": unit,
        "value": value,
        "at": at,
        "low": float(min(max(0.0, low), at)),
        "high": float(max(high, at)) + 0.0 if np.isfinite(high) else None,  # + 0.0: no "-0"
    }


def limit_name(group: str, label: Label) -> str:
    """Name of the limit that a row of a group stands for; of hours at a skill and of shares it names both."""
    if group == "skill_limits":
        return f"{label[0]} at {label[2]}"
    if group == "lot_share":
        return f"{label[0]} from {label[1]}"
    if group == "unit_share":
        zone, shut, *not_for = label[2:]
        return f"{label[0]} in units of {zone} until {shut}{f' not for {not_for[0]}' if not_for else ''}"
    return str(label[0])


def day_of(group: str, label: Label) -> date | None:
    """Day of the limit that a row of a group stands for; None where it holds on all days."""
    return None if group in ("order", "lot_share") else date.fromisoformat(label[1])


def _in_units(program: Program, compiled: Compiled, solution: Solution) -> dict[Label, float]:
    """Most plants of each order in the units opened in a zone on a day: its share of one, times the units."""
    opened = compiled.values(solution.columns)["units_opened"]
    units = {label: float(n) for label, n in zip(program.labels["units_opened"], opened, strict=True)}
    of = {term.order.order: term.of_one_unit or 0.0 for term in program.network.orders}
    rows = compiled.rows.get("unit_share", {})
    return {
        (order, day, zone, *others): of[order] * units[zone, day, *others]
        for order, day, zone, *others in rows
    }


def _rows(program: Program, compiled: Compiled, solution: Solution, ranging: Any) -> list[Row]:
    down, up = ranging.row_bound_dn.value_, ranging.row_bound_up.value_
    found, in_units = [], _in_units(program, compiled, solution)
    for group, (limit, unit) in ROW_LIMITS.items():
        for label, n in compiled.rows.get(group, {}).items():
            value = float(solution.row_dual[n])
            if group != "order" and abs(value) < WORTHLESS:
                continue
            name, day, more = limit_name(group, label), day_of(group, label), in_units.get(label, 0.0)
            at = float(compiled.row_upper[n]) + more
            found.append(_price(limit, name, day, unit, value, down[n] + more, at, up[n] + more))
    return found


def _stock(program: Program, compiled: Compiled, solution: Solution, ranging: Any) -> list[Row]:
    """Prices of stock that packs cannot replace, because none are on sale or none can arrive in time.

    One more unit on hand relaxes all rows of its item, so their prices add up. Within the range all these
    rows can move together without a change of basis.
    """
    down, up = ranging.row_bound_dn.value_, ranging.row_bound_up.value_
    buyable = {pack.item for pack in program.packs}
    standing: dict[str, list[int]] = defaultdict(list)
    with_packs: set[int] = set()
    for group in ("stock", "packs", "packs_out"):
        for (item, *_), n in compiled.rows.get(group, {}).items():
            standing[item].append(n)
            if group != "stock":
                with_packs.add(n)
    found = []
    for item, (at, _) in program.items.items():
        priced = [n for n in standing[item] if abs(solution.row_dual[n]) > WORTHLESS]
        only_packs = bool(priced) and item in buyable and with_packs.issuperset(priced)
        if priced and not only_packs:
            value = float(sum(solution.row_dual[n] for n in priced))
            low = at - _together([at - down[n] for n in priced])
            high = at + _together([up[n] - at for n in priced])
            found.append(_price("stock", item, None, "unit", value, low, at, high))
    return found


def _together(steps: list[float]) -> float:
    """Largest step that all rows may take at once: as shares of their own steps, the moves add up to 1."""
    if any(step <= 0 for step in steps):
        return 0.0
    shares = sum(1 / step for step in steps if np.isfinite(step))
    return 1 / shares if shares else float("inf")


def _columns(program: Program, compiled: Compiled, solution: Solution, ranging: Any) -> list[Row]:
    """Prices of hours. Overtime that a crew does not work on that day binds nothing and has no price."""
    down, up = ranging.col_bound_dn.value_, ranging.col_bound_up.value_
    calendar = program.network.calendar
    found = []
    for variable, limit in COLUMN_LIMITS.items():
        for index, n in zip(program.crew_days, compiled.position[variable].tolist(), strict=True):
            on_duty = program.amounts.crews[index.crew].on_duty[index.day]
            if n < 0 or (variable == "regular" and not on_duty):
                continue
            value, at = float(solution.column_dual[n]), float(compiled.upper[n])
            if value > -WORTHLESS or (variable == "overtime" and at <= 0):
                continue
            day = calendar.date(index.day)
            found.append(_price(limit, index.crew, day, "hour", value, down[n], at, up[n]))
    return found


def _offers(program: Program, compiled: Compiled, solution: Solution, ranging: Any) -> list[Row]:
    """Prices of an offer's most quantity a delivery.

    The row is Σ b − most · B ≤ 0, so its range is added to the most quantity. Deliveries ordered before today
    have no such row.
    """
    down, up = ranging.row_bound_dn.value_, ranging.row_bound_up.value_
    labels = compiled.rows.get("buy_in_quantity", {})
    found = []
    for index in program.offer_days:
        offer = program.network.offers[index.offer]
        n = labels.get((offer.offer, program.iso(index.day), "most"))
        if n is None or offer.most_per_delivery is None:
            continue
        at = float(offer.most_per_delivery)
        value = float(solution.row_dual[n])
        if value < -WORTHLESS:
            day = program.network.calendar.date(index.day)
            low, high = at + down[n], at + up[n]
            found.append(_price("buy-in", offer.offer, day, "plant", value, low, at, high))
    return found

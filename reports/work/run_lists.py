"""Lists that drivers work from: a page for each run and day, with the orders that ride."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import groupby
from typing import NamedTuple

from model.planned.plan_tables import Plan, rows_of
from model.planned.rides import Ride, rides_of
from model.scenario.entities import Scenario
from reports.book import style
from reports.book.parts import DEFERS, Cell, Sheet, SheetColumn
from reports.book.style import CellKind
from reports.book.words import TO_MIND, number
from reports.book.writing import grouped, shown_day
from reports.plan.figures import weekday
from reports.work.page_parts import page_width, to_sign


class RunList(NamedTuple):
    """What a run carries on a day; ``room``: trays that its vehicles carry."""

    run: str
    day: date
    vehicles: float
    room: float
    rides: tuple[Ride, ...]


def run_lists(scenario: Scenario, plan: Plan, first: date, last: date) -> list[RunList]:
    """The lists of the runs that leave from ``first`` to ``last``, by day."""
    rides = {
        at: tuple(own) for at, own in groupby(rides_of(scenario, plan), key=lambda ride: (ride.run, ride.day))
    }
    found = [
        RunList(run, day, vehicles, room, rides[run, day])
        for run, day, vehicles, room in rows_of(plan.runs, "run", "day", "vehicles", "carries")
        if first <= day <= last
    ]
    return sorted(found, key=lambda of: of.day)


FACTS = (SheetColumn("what", "This run", widest=18), SheetColumn("said", "Details", widest=24))

COLUMNS = (
    SheetColumn("loaded", "Loaded", box=True),
    SheetColumn("order", "Order", widest=18),
    SheetColumn("customer", "Customer", widest=24),
    SheetColumn("product", "Product", widest=24),
    SheetColumn("plants", "Plants", CellKind.COUNT, total=True),
    SheetColumn("trays", "Trays", CellKind.COUNT, total=True),
    SheetColumn("received", "Received by", box=True),
)

ABOUT = (
    "Every order rides in trays of its own, counted as if all its lots filled them together: count again "
    "where a dispatch note has more. The note goes with the order. Write down who received it, and bring "
    "this list back: what was not handed over is still owed."
)


def write_run_list(sheet: Sheet, of: RunList, nursery: str) -> None:
    """Write a list, which prints on one page."""
    sheet.write(0, 0, "Run", **style.TITLE)
    sheet.row = 2
    facts: list[list[Cell]] = [
        ["Nursery", nursery],
        ["Run", of.run],
        ["Leaves on", f"{weekday(of.day)} {shown_day(of.day)}"],
        ["Vehicles", number(of.vehicles)],
        ["Room for trays", grouped(of.room)],
    ]
    sheet.table(FACTS, facts)
    sheet.table(COLUMNS, [_row(ride) for ride in of.rides])
    sheet.lines(ABOUT, page_width(sheet), style.NOTE)
    sheet.row += 1
    for label in ("Loaded by, day", "Driver, day"):
        to_sign(sheet, label)
    sheet.row += 1
    sheet.lines(f"Caution, lifting: {TO_MIND['lifting']}", page_width(sheet), style.CAUTION)
    sheet.lines(DEFERS, page_width(sheet), style.CAUTION)


def _row(ride: Ride) -> dict[str, Cell]:
    shown = {name: getattr(ride, name) for name in ("order", "customer", "product", "plants", "trays")}
    return {"loaded": None, **shown, "received": None}


def names_of(lists: Sequence[RunList]) -> list[str]:
    """A name for the sheet of each list."""
    return [f"{of.day} run {of.run}" for of in lists]

"""Rules of runs: each leaves on some day, and every order of a customer with a run can leave with it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from model.scenario.records.trade import Run
from model.scenario.run_days import WEEK, last_run, leaves_on
from scenarios.cells.draft import Draft, DraftRow, Rule
from scenarios.cells.faults import Fault, shown


class Rides:
    """The runs of customers, as far as their cells are sound."""

    def __init__(self, draft: Draft) -> None:
        self.runs = {row["run"]: Run(**row.values) for row in draft.rows("runs", *Run.__slots__)}
        self.of = {
            row["customer"]: self.runs[row["run"]]
            for row in draft.rows("customers", "customer", "run")
            if row["run"] in self.runs
        }

    def leaving(self, order: DraftRow, late: int) -> tuple[date, int]:
        """Day on which an order leaves in time, and most days after it that its plants may leave.

        ``late``: most days that they may be late. The order's row must have its due day.
        """
        due: date = order["due_day"]
        run = self.of.get(order.values.get("customer", ""))
        leaves = None if run is None else last_run(run, due)
        if run is None or leaves is None:
            return due, late
        last = last_run(run, leaves + timedelta(days=late))
        return leaves, 0 if last is None else (last - leaves).days


def _days(draft: Draft) -> Iterator[Fault]:
    """A run's last day is not before its first."""
    for row in draft.rows("runs", "from_day", "to_day"):
        first, last = row["from_day"], row["to_day"]
        if first is not None and last is not None and last < first:
            yield row.fault("to_day", f"is before from_day ({first})", f"write a day from {first} on")


def _rides(draft: Draft) -> Iterator[Fault]:
    """An order of a customer with a run has a day on which it leaves in the week up to its due day."""
    rides, first, last = Rides(draft), draft.first_day, draft.last_day
    if first is None or last is None:
        return
    for row in draft.rows("orders", "customer", "due_day"):
        run = rides.of.get(row["customer"])
        leaves = None if run is None else last_run(run, row["due_day"])
        if run is None or (leaves is not None and leaves >= first):
            continue
        start = max(row["due_day"], run.from_day or first)
        later = next((d for n in range(WEEK) if leaves_on(run, d := start + timedelta(days=n))), last)
        wrong = f"has no day on which run '{shown(run.run)}' leaves in the week up to it"
        remedy = "give the run other days"
        if row["due_day"] < later <= last:
            remedy = f"write {later} or later, or {remedy}"
        yield row.fault("due_day", wrong, remedy)


RUN_ROWS = (
    Rule("a run's last day is not before its first", _days),
    Rule("an order of a customer with a run can leave with it", _rides),
)

"""Which of the nursery's own tasks are done on which plants, and on which days."""

from __future__ import annotations

from collections.abc import Iterator

from model.scenario.calendar import Calendar
from model.scenario.choices import ZoneUse
from model.scenario.records.people import OwnTask

SEEDLINGS = (ZoneUse.GERMINATION.value, ZoneUse.BENCH.value)
"""Stages before graft day."""

HOLDING = ZoneUse.HOLDING.value
"""The stage of ready plants that wait for their due day."""

STANDING = (*SEEDLINGS, HOLDING)
"""Stages that are not in table stages."""


def fits(
    task: OwnTask, stage: str, format_: str, *, method: str | None, product: str | None, lot: str | None
) -> bool:
    """Whether the task is done on plants of this kind in this stage."""
    asked = ((task.method, method), (task.product, product), (task.lot, lot), (task.format, format_))
    return task.stage == stage and all(wanted in (None, here) for wanted, here in asked)


def days_done(
    task: OwnTask, begins: int, start: int, end: int, left: int, calendar: Calendar
) -> Iterator[int]:
    """Day numbers of the task on plants that stand from ``start`` up to, but not including, ``end``.

    ``begins``: first day of their stage. ``left``: the day on which they leave its room. A task of one day
    waits on a day off for the next working day; where the plants have left by then, it is done on the working
    day before.
    """
    if task.day is None:
        yield from range(start, end)
        return
    due = begins + task.day - 1
    if start <= due < end:
        done = calendar.next_working(due)
        if done is None or done > left:
            done = calendar.previous_working(due)
        if done is not None:
            yield done

"""Overheads: what a nursery pays or writes off whatever it grows, row by row."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Annotated

from model.scenario.choices import OverheadKind, OverheadRule, Period
from model.scenario.schema import NOTE, amount

DAYS_IN = {Period.YEAR: 365.0, Period.MONTH: 365.0 / 12, Period.WEEK: 7.0}
"""Days of a period; a season is the whole plan."""


@dataclass(frozen=True, slots=True)
class Overhead:
    """Overheads: rent, insurance, repairs, owner's pay, interest ..., each with its period and rule."""

    overhead: Annotated[str, "Name of the overhead: rent, insurance, repairs, office, owner's pay ..."]
    amount: Annotated[float, "What it costs in a period.", amount()]
    period: Annotated[
        Period,
        "The period of the amount. season: the whole amount, once. year, month, week: the amount times the "
        "days from first_day to last_day over 365, over 365/12, over 7.",
    ] = Period.SEASON
    kind: Annotated[
        OverheadKind,
        "Where it stands in the result. overhead: paid. interest: paid, and told apart. depreciation: not "
        "paid in the season.",
    ] = OverheadKind.OVERHEAD
    shared_by: Annotated[
        OverheadRule | None,
        "What it is shared by among the orders, as overhead_by of the table nursery; blank: by that.",
    ] = None
    paid_day: Annotated[
        date | None,
        "Day on which all of it is paid. Blank: at the end of each week (period week) or month, by its days.",
    ] = None
    note: Annotated[str | None, NOTE] = None


def periods(row: Overhead, first: date, last: date) -> float:
    """Periods of an overhead in the plan: 1 season, or the days of the plan over the days of the period."""
    days = (last - first).days + 1
    return 1.0 if row.period is Period.SEASON else days / DAYS_IN[row.period]

"""A relief in plain words, with its dates."""

from __future__ import annotations

from datetime import date, timedelta
from typing import NamedTuple

from model.currencies import decimals
from model.scenario.entities import Scenario
from model.shortage.relief import Item

SHOWN = 4
"""Most parts of a relief that the reason of one order names."""


class Span(NamedTuple):
    """Relief of one limit on consecutive days, for the same orders."""

    first: Item
    last: date | None
    amount: float


def spans(items: tuple[Item, ...]) -> list[Span]:
    """The relief with consecutive days merged; the amount is the largest of any day."""
    found: list[Span] = []
    for item in sorted(items, key=lambda i: (i.kind, i.name, i.day is not None, i.day or date.min)):
        if found and item.day is not None and item.kind not in ("due day", "first day"):
            first, last, amount = found[-1]
            same = (first.kind, first.name, first.orders) == (item.kind, item.name, item.orders)
            if same and last == item.day - timedelta(days=1):
                found[-1] = Span(first, item.day, max(amount, item.amount))
                continue
        found.append(Span(item, item.day, item.amount))
    order = {item: n for n, item in enumerate(items)}
    return sorted(found, key=lambda span: order[span.first])


def in_words(scenario: Scenario, span: Span) -> str:
    """A relief in plain words, with its dates.

    A penalty has two decimals at least, since its steps are hundredths.
    """
    item, day = span.first, span.first.day
    assert item.kind in ("stock", "share of a lot", "penalty", "apart", "one lot") or day is not None
    when = f"on {day}" if span.last == day else f"from {day} to {span.last}"
    much = f"{span.amount:,.1f}".removesuffix(".0")
    s = "" if much == "1" else "s"
    units = {supply.supply: supply.unit for supply in scenario.supplies}
    places = max(decimals(scenario.nursery.currency), 2)
    return {
        "slots": f"{much} more slot{s} in {item.name} {when}",
        "units": f"{much} more unit{s} of {item.name} {when}",
        "hours": f"{much} more hour{s} of {item.name} {when}",
        "stock": f"{much} more {units.get(item.name, f'seed{s}')} of {item.name} on hand on the first day",
        "vehicles": f"{much} more vehicle{s} of {item.name} {when}",
        "buy-in": f"{much} more plant{s} from {item.name} {when}",
        "one graft day": f"{much} more plant{s} of order {item.name} from each graft day {when}"
        if span.last != day
        else f"{much} more plant{s} of order {item.name} from the graft day {day}",
        "share of a lot": f"{much} more plant{s} of order {item.name} from each seed lot",
        "share of a unit": f"{much} more plant{s} of order {item.name} in the units opened {when}",
        "due day": f"order {item.name} due {much} day{s} later, {when}",
        "first day": f"a start {much} day{s} earlier, {when}",
        "apart": f"{item.name} no longer kept apart",
        "one lot": f"order {item.name} of several lots",
        "penalty": f"a penalty higher by {item.amount:,.{places}f} {item.unit} for order {item.name}",
    }[item.kind]

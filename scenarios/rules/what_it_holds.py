"""What a scenario holds, in a few lines: orders, plants, season, how batches differ."""

from __future__ import annotations

from model.network.charges import bought_of, extra_asked
from model.scenario.entities import Scenario
from reports.book.batch_words import batch_words
from reports.book.words import counted, plants_in_words
from reports.book.writing import grouped, shown_day


def what_it_holds(scenario: Scenario) -> list[str]:
    """The lines, without a word on faults."""
    nursery, plants = scenario.nursery, sum(order.quantity for order in scenario.orders)
    extra = sum(extra_asked(scenario, order) for order in scenario.orders)
    filling = sum(bought_of(scenario, order) - order.quantity for order in scenario.orders)
    sent = plants_in_words(plants + filling, filling, extra)
    told = (
        f"; {grouped(len(scenario.progress))} rows of progress before {shown_day(nursery.today)}"
        if nursery.today
        else ""
    )
    return [
        f"{nursery.name}: {counted(len(scenario.orders), 'order')} for {sent} plants of "
        f"{counted(len(scenario.products), 'product')}, {shown_day(nursery.first_day)} to "
        f"{shown_day(nursery.last_day)}{told}",
        batch_words(scenario),
    ]

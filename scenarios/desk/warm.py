"""A process that keeps the plan of one scenario ready and answers quotes on the telephone.

It reads a line of JSON for each question and writes lines of JSON: first the answer of the continuous
program, then that of whole plans, then the weeks around in the continuous program. The numbers are those
of ``graftwright quote``.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

from model.network.charges import charged, extra_plants, filling_plants, placed_today
from model.scenario.entities import Order, Scenario
from reports.book.words import amount, unit_digits, unit_price
from reports.book.writing import grouped, shown_day, shown_share, write_as
from scenarios.cells.faults import BadInput, render_faults
from scenarios.files.asked_orders import asked_order
from scenarios.files.read_scenario import Overrides
from scenarios.solves.asking import Added, Asking, WholeAdded, solved_book, whole_added
from scenarios.variants.variants import read_case

WEEKS = 3
"""Weeks before and after the one asked for."""


def main(book: str, season: str) -> None:
    """Answer the questions of the standard input about a scenario; ``season``: its file, or blank."""
    from model.network.charges import with_charges
    from model.scenario.canonical import canonical

    case = read_case(Path(book), Overrides(None, Path(season) if season else None))
    scenario = with_charges(canonical(case.scenario))
    write_as(scenario.nursery)
    _say({"stage": "read"})
    solved_book(scenario)
    _say({"stage": "ready"})
    for line in sys.stdin:
        asked = json.loads(line)
        try:
            for told in answers(scenario, asked["order"], float(asked["profit_margin"])):
                _say({"number": asked["number"], **told})
        except BadInput as bad:
            _say({"number": asked["number"], "stage": "refused", "words": render_faults(bad.faults)})


def answers(scenario: Scenario, told: dict[str, str], profit_margin: float) -> Iterator[dict[str, Any]]:
    """The answer of the continuous program, that of whole plans, and the weeks around."""
    asked, money = placed_today(scenario, asked_order(scenario, told)), scenario.nursery.currency
    order = charged(scenario, asked)
    weeks = [charged(scenario, other) for other in _weeks(scenario, asked)]
    near = Asking(scenario, [order, *weeks], solved_book(scenario))
    yield {"stage": "continuous", **_told(near.added(order.order), money, profit_margin)}
    yield {"stage": "whole", **_told(whole_added(solved_book(scenario), order), money, profit_margin)}
    added = [near.added(name) for name in near.candidates]
    yield {
        "stage": "weeks",
        "rows": [
            {"due": shown_day(a.order.due_day), **_told(a, money, profit_margin)}
            for a in sorted(added, key=lambda a: a.order.due_day)
        ],
    }


def _weeks(scenario: Scenario, order: Order) -> list[Order]:
    """The same order in the weeks around, as far as the season goes."""
    first = scenario.nursery.today or scenario.nursery.first_day
    found = []
    for week in range(-WEEKS, WEEKS + 1):
        due = order.due_day + timedelta(weeks=week)
        if week and first <= due <= scenario.nursery.last_day:
            found.append(replace(order, order=f"{order.order}, {due}", due_day=due))
    return found


def _told(added: Added, money: str, profit_margin: float) -> dict[str, Any]:
    """An answer in words and printed numbers."""
    price, each = added.price(profit_margin), added.cost_per_plant
    left = added.margin_left
    return {
        "verdict": added.verdict,
        "delivered": grouped(added.delivered),
        "extra": grouped(extra) if (extra := extra_plants(added.order)) else "",
        "filling": grouped(filling) if (filling := filling_plants(added.order)) else "",
        "adds": amount(added.cost, money),
        "each": "" if each is None else f"{unit_digits(each, money)} {money}",
        "price": "" if price is None else unit_price(price, money),
        "left": "" if left is None else shown_share(left),
        "between": [amount(added.least, money), amount(added.most, money)]
        if isinstance(added, WholeAdded)
        else [],
        "shorter": list(added.shorter) if isinstance(added, WholeAdded) else [],
    }


def _say(told: dict[str, Any]) -> None:
    print(json.dumps(told), flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])

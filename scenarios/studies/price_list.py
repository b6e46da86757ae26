"""What to charge for each product and delivery week, from the present book."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from datetime import date

from model.currencies import decimals
from model.network.charges import charged, placed_today
from model.network.expansion import expand
from model.phases import Say, silent
from model.scenario.entities import Order, Scenario
from model.scenario.own_seed import sender_of
from model.solve import facts_of, solve
from reports.book.style import FINER, CellKind
from reports.book.words import unit_price
from reports.book.writing import grouped, shown_day, shown_share
from reports.study import column
from reports.study.study import Chart, Figure, Section, Study, run_facts, sheet_names
from scenarios.solves.asking import (
    Added,
    added_of,
    answer_columns,
    in_chunks,
    last_working_days,
    no_freight,
    price_columns,
    price_columns_by_day,
    price_note,
    profit_margin_input,
    whole_added_of,
    with_extra,
)
from scenarios.solves.parallel import run_all

WHOLE_WORK = 100_000
"""Whole plans are made for a list whose prices times the book's waves are no more than this."""


def price_list_study(
    scenario: Scenario, *, quantity: int, profit_margin: float, workers: int, progress: Say = silent
) -> Study:
    """Prices of ``quantity`` more plants of each product, due on the last working day of each week.

    ``profit_margin`` is a share of the price.
    """
    days = last_working_days(scenario)
    candidates = [
        charged(
            scenario,
            placed_today(
                scenario,
                Order(
                    f"{product.product} | {day.isoformat()}",
                    sender_of(scenario, product.product) or "price list",
                    product.product,
                    quantity,
                    day,
                ),
            ),
        )
        for product in scenario.ordered_products
        for day in days
    ]
    whole = len(candidates) * len(expand(scenario).waves) <= WHOLE_WORK
    ask: Callable[[tuple[Scenario, tuple[Order, ...]]], Sequence[Added]] = (
        whole_added_of if whole else added_of
    )
    parts = run_all(ask, in_chunks(scenario, candidates, len(days)), workers, "price list", progress)
    offered = [added for part in parts for added in part]
    priced = [a for a in offered if a.verdict == "yes"]
    money = scenario.nursery.currency
    crops = list(dict.fromkeys(product.crop for product in scenario.products))
    answer = [
        f"These prices are for {grouped(quantity)} more plants of a product, due at the end of a week, at "
        "a profit "
        f"margin of {shown_share(profit_margin, 0)} of the price. The extra plants make no booked order "
        "shorter.",
    ]
    if not whole:
        answer.append(
            "The book is large, so these are prices of the continuous program. Ask `graftwright quote` for "
            "one product and day in plans of whole trays."
        )
    if any(no_freight(scenario, a.order) for a in priced):
        answer.append(
            "No freight is in prices of products that all customers may have: a run carries the plants of "
            "its own customers. `graftwright quote --customer` tells the price for one of them."
        )
    by_product: dict[str, list[Added]] = defaultdict(list)
    for a in priced:
        by_product[a.order.product].append(a)
    for product, those in by_product.items():
        low, high = (
            best(those, key=lambda a: (_shown_price(a, profit_margin, money), a.order.due_day))
            for best in (min, max)
        )
        cheap, dear = (unit_price(a.price(profit_margin) or 0.0, money) for a in (low, high))
        span = f" to {dear} (due on {shown_day(high.order.due_day)})"
        answer.append(
            f"{product}: {'' if cheap == dear else 'from '}{cheap} a plant (due on "
            f"{shown_day(low.order.due_day)}){'' if cheap == dear else span}."
        )
    return Study(
        "Price list",
        scenario,
        answer,
        [
            Figure("Products and weeks priced", len(priced), CellKind.COUNT),
            Figure("Products and weeks that do not get all", len(offered) - len(priced), CellKind.COUNT),
        ],
        [
            *(
                _crop_section(scenario, crop, name, priced, profit_margin)
                for crop, name in zip(crops, sheet_names("Prices", crops), strict=True)
            ),
            _detail_section(money, offered, profit_margin),
        ],
        run_facts(facts_of(solve(scenario, whole=False)), money),
        [profit_margin_input(profit_margin)],
    )


def _shown_price(added: Added, profit_margin: float, money: str) -> float:
    """The price of a plant as it is shown, so that prices that are shown alike are equal."""
    return round(added.price(profit_margin) or 0.0, decimals(money) + FINER)


def _crop_section(
    scenario: Scenario, crop: str, name: str, priced: list[Added], profit_margin: float
) -> Section:
    """Weeks down, products of a crop across."""
    extra = with_extra(a.order for a in priced)
    products = [product.product for product in scenario.ordered_products if product.crop == crop]
    there = {name: {a.order.due_day: a for a in priced if a.order.product == name} for name in products}
    money = scenario.nursery.currency
    columns: list[column.Column[date]] = [column.day("day", "Due day", lambda day: day)]
    for n, product in enumerate(products):
        columns += price_columns_by_day(n, product, there[product], money, profit_margin)
    shows = f"Lines: price a plant by due day, a line for each product of {crop}."
    keys = tuple(f"price{n}" for n in range(len(products)))
    return column.section(
        name,
        f"Prices of {crop} by week.",
        [f"{price_note(scenario, extra=extra)} Blank: the plan does not deliver all the plants."],
        sorted({day for days in there.values() for day in days}),
        columns,
        Chart("line", f"{crop}: price a plant by week", shows, "day", keys, f"{money} a plant"),
    )


def _list_columns(money: str) -> list[column.Column[Added]]:
    """The charge a plant by the list prices, and the profit margin that it leaves."""
    return [
        column.price("listed", f"Price by the list ({money} a plant)", lambda a: a.own_price, change=True),
        column.share(
            "left",
            "Profit margin at the list's price",
            lambda a: a.margin_left,
            "=1-({each}+{overhead})/{listed}",
        ),
    ]


def _detail_section(money: str, offered: list[Added], profit_margin: float) -> Section:
    return column.section(
        "All weeks",
        "Every product and week: whether it can be delivered, cost and price.",
        [
            "In part: the plan leaves some of them short, for want of room, hands or seed, or since that is "
            "cheaper at their penalty. Cost and price are for the others."
        ],
        offered,
        [
            column.text("product", "Product", lambda a: a.order.product),
            column.day("day", "Due day", lambda a: a.order.due_day),
            *answer_columns(offered),
            *price_columns(money, profit_margin),
            *(_list_columns(money) if any(a.order.price is not None for a in offered) else ()),
        ],
        prints=False,
    )

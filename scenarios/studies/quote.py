"""A customer asks for more: yes, in part or no; at what price; would another week be cheaper?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from model.phases import Say, silent
from model.questions.trials import MOVED
from model.scenario.calendar import Calendar
from model.scenario.entities import Order, Scenario
from model.solve import plan_of, solve
from model.solver.compiled import Solution
from reports.book.parts import Cell, SheetColumn
from reports.book.style import CellKind
from reports.book.words import amount, unit_digits, unit_price
from reports.study import column
from reports.study.study import (
    CONTINUOUS_COSTS,
    Chart,
    Figure,
    Section,
    Study,
    run_facts,
    sheet_names,
)
from scenarios.studies.asking import (
    ENOUGH,
    Added,
    Asking,
    Pricing,
    added_of,
    as_candidate,
    in_chunks,
    overhead_per_plant,
    price_formula,
)
from scenarios.studies.parallel import run_all

WEEKS = 4
"""Weeks before and after the due day for which the quote is worked out too."""

SHARES = (0.5, 1.0, 1.5, 2.0)
"""Shares of the quantity for which the quote is worked out too."""

CHUNK = 24

PRICE_NOTE = (
    "Avoidable cost: the cost of the book with the plants less the cost without them. Price: (avoidable cost "
    "a plant + overhead a plant) / (1 - profit margin). The profit margin is a share of the price."
)


def quote_study(
    scenario: Scenario,
    candidates: Sequence[Order],
    *,
    profit_margin: float,
    workers: int,
    progress: Say = silent,
) -> Study:
    """What each candidate order alone, and all candidates together, would add to the cost of the book.

    ``candidates`` are valid orders with names that the book does not use; ``profit_margin`` is a share of the
    price.
    """
    progress("the book with and without")
    asking = Asking(scenario, candidates)
    alone = [asking.added(order.order) for order in candidates]
    together = _together(asking)
    chunks = [chunk for order in candidates for chunk in in_chunks(scenario, _grid(scenario, order), CHUNK)]
    found = run_all(added_of, chunks, workers, "other days and quantities", progress)
    added = {a.order.order: a for part in found for a in part}
    progress("in whole trays")
    accepted = [replace(a.order, quantity=int(a.delivered + ENOUGH)) for a in alone if a.verdict != "no"]
    whole = plan_of(solve(replace(scenario, orders=(*scenario.orders, *accepted))))
    pricing = Pricing(overhead_per_plant(scenario), profit_margin)
    money, names = scenario.nursery.currency, sheet_names("Days", [order.order for order in candidates])
    return Study(
        "Quote",
        scenario,
        [sentence for a in alone for sentence in _sentences(a, added, money, pricing)],
        [
            Figure("Candidates", len(alone), CellKind.COUNT),
            Figure("Plants asked for", sum(order.quantity for order in candidates), CellKind.COUNT),
            Figure("Plants deliverable, each order alone", sum(a.delivered for a in alone), CellKind.COUNT),
            Figure("Plants deliverable, all orders together", together[0], CellKind.COUNT),
            Figure(f"All together add to the cost ({money})", together[1], CellKind.MONEY),
            Figure("Plants short in whole trays, book and candidates", whole.short, CellKind.COUNT),
            Figure("Gap in whole trays: at most above least cost", whole.facts.gap, CellKind.SHARE),
        ],
        [
            _quote_section(money, alone, pricing),
            *(
                _grid_section(order, name, _trials(order, added), money, pricing)
                for order, name in zip(candidates, names, strict=True)
            ),
            _moves_section(asking, alone),
        ],
        run_facts(whole.facts, money),
        pricing.inputs(money),
    )


def _together(asking: Asking) -> tuple[float, float]:
    """Plants deliverable, and cost added in currency, with all candidates open."""
    limits = {key: value for name in asking.candidates for key, value in asking.opened(name).items()}
    solution = asking.trials.solve(limits)
    short = {name: asking.short_of(solution, name) for name in asking.candidates}
    penalties = sum(asking.penalty(name) * plants for name, plants in short.items())
    delivered = sum(order.quantity - short[name] for name, order in asking.candidates.items())
    return delivered, solution.objective - asking.trials.base - penalties


def _grid(scenario: Scenario, order: Order) -> list[Order]:
    """Copies of the order on other due days, a week apart, and in other quantities; each has its own name."""
    calendar = Calendar(scenario.nursery, scenario.days_off)
    days: list[date] = []
    for week in range(-WEEKS, WEEKS + 1):
        due = calendar.day(order.due_day) + 7 * week
        if 0 <= due < calendar.days and calendar.previous_working(due) is not None:
            days.append(calendar.date(due))
    quantities = sorted({max(1, round(share * order.quantity)) for share in SHARES})
    trials = [replace(order, due_day=day, quantity=quantity) for day in days for quantity in quantities]
    return [replace(as_candidate(scenario, trial), order=_trial(trial)) for trial in trials]


def _trial(order: Order) -> str:
    return f"{order.order} | {order.due_day.isoformat()} | {order.quantity}"


def _trials(order: Order, added: dict[str, Added]) -> list[Added]:
    """What the copies of an order would add."""
    return [a for name, a in added.items() if name.startswith(f"{order.order} | ")]


def _sentences(a: Added, added: dict[str, Added], money: str, pricing: Pricing) -> list[str]:
    order = a.order
    asked = f"{order.order}: {order.quantity:,} of {order.product} on {order.due_day.isoformat()}"
    if a.cost_per_plant is None:
        found = [f"{asked}: no. No plant of it can be delivered without making a booked order shorter."]
    else:
        part = "yes" if a.verdict == "yes" else f"in part, {a.delivered:,.0f} of them"
        found = [
            f"{asked}: {part}. They add {amount(a.cost, money)} to the cost, "
            f"{unit_digits(a.cost_per_plant, money)} a plant. "
            f"For a profit margin of {pricing.profit_margin:.0%} of the price, charge "
            f"{unit_price(pricing.price(a.cost_per_plant) or 0.0, money)} a plant."
        ]
        if order.price is not None:
            found.append(
                f"At the price of {order.price:g} offered, the profit margin is "
                f"{pricing.left(a.cost_per_plant, order.price):.1%} of the price."
            )
    same = [x for x in _trials(order, added) if x.order.quantity == order.quantity and x.verdict == "yes"]
    cheapest = min(same, key=lambda x: (round(x.cost, 2), x.order.due_day), default=None)
    if cheapest is not None and (a.verdict != "yes" or cheapest.cost < a.cost - 0.005):
        each = unit_price(cheapest.cost / cheapest.delivered, money)
        found.append(
            f"Within {WEEKS} weeks of that day, the order costs least if it is due on "
            f"{cheapest.order.due_day.isoformat()}: {each} a plant."
        )
    return found


def _quote_section(money: str, alone: list[Added], pricing: Pricing) -> Section:
    def price(a: Added) -> float | None:
        return pricing.price(a.cost_per_plant)

    def left(a: Added) -> float | None:
        return pricing.left(a.cost_per_plant, a.order.price)

    return column.section(
        "Quote",
        "Each candidate order alone: yes, in part or no; avoidable cost; price.",
        [f"{PRICE_NOTE} Each order is tried alone, without the other candidates. {CONTINUOUS_COSTS}"],
        alone,
        [
            column.text("order", "Order", lambda a: a.order.order),
            column.text("customer", "Customer", lambda a: a.order.customer),
            column.text("product", "Product", lambda a: a.order.product),
            column.day("due", "Due day", lambda a: a.order.due_day),
            column.count("quantity", "Plants asked for", lambda a: a.order.quantity),
            column.text("verdict", "Answer", lambda a: a.verdict),
            column.count("delivered", "Plants deliverable", lambda a: a.delivered),
            column.count("bought", "Of them bought in", lambda a: a.bought),
            column.money("cost", f"Avoidable cost ({money})", lambda a: a.cost if a.delivered else None),
            column.each("each", f"A plant ({money})", lambda a: a.cost_per_plant),
            column.each("price", f"Price at profit margin ({money} a plant)", price, price_formula("each")),
            column.price("own", f"Price offered ({money} a plant)", lambda a: a.order.price, change=True),
            column.share(
                "left", "Profit margin at the price offered", left, "=1-({each}+Overhead_a_plant)/{own}"
            ),
        ],
    )


def _grid_section(order: Order, name: str, trials: list[Added], money: str, pricing: Pricing) -> Section:
    """Due days down, quantities across: answer, avoidable cost and price of a plant."""
    quantities = sorted({a.order.quantity for a in trials})
    columns: list[column.Column[date]] = [column.day("due", "Due day", lambda day: day)]
    for quantity in quantities:
        there = {a.order.due_day: a for a in trials if a.order.quantity == quantity}
        columns += _quantity_columns(quantity, there, money, pricing)
    shows = (
        f"Lines: avoidable cost a plant of {order.product} by due day, a line for each quantity. Gaps: not "
        "deliverable."
    )
    keys = tuple(f"each{quantity}" for quantity in quantities)
    return column.section(
        name,
        f"{order.order} on other days and in other quantities.",
        [
            f"{order.quantity:,} of {order.product} were asked for on {order.due_day.isoformat()}. Where "
            f"only part can be delivered, the number of plants stands in place of yes. {PRICE_NOTE}"
        ],
        sorted({a.order.due_day for a in trials}),
        columns,
        Chart(
            "line",
            f"{order.order}: avoidable cost a plant by due day",
            shows,
            "due",
            keys,
            f"{money} a plant",
        ),
    )


def _quantity_columns(
    quantity: int, there: dict[date, Added], money: str, pricing: Pricing
) -> list[column.Column[date]]:
    """Answer, cost and price of a quantity by due day."""

    def verdict(day: date) -> str:
        a = there[day]
        return f"{a.delivered:,.0f}" if a.verdict == "in part" else a.verdict

    def each(day: date) -> float | None:
        return there[day].cost_per_plant

    def price(day: date) -> float | None:
        return pricing.price(each(day))

    return [
        column.text(f"verdict{quantity}", f"{quantity:,} plants", verdict),
        column.each(f"each{quantity}", f"{quantity:,}: cost a plant ({money})", each),
        column.each(
            f"price{quantity}", f"{quantity:,}: price ({money})", price, price_formula(f"each{quantity}")
        ),
    ]


def _moves_section(asking: Asking, alone: list[Added]) -> Section:
    """Booked orders whose plants come from other graft days or offers once a candidate is taken."""
    rows: list[list[Cell]] = []
    for a in alone:
        if a.verdict == "no":
            continue
        moved = asking.trials.fewest_moves(asking.opened(a.order.order))
        before, after = _sources(asking, asking.trials.solution), _sources(asking, moved)
        for name in sorted(set(before) & set(after)):
            gone = {
                source: plants - after[name].get(source, 0.0)
                for source, plants in before[name].items()
                if plants - after[name].get(source, 0.0) > 0.5
            }
            if gone:
                lists = _listed(before[name]), _listed(after[name])
                rows.append([a.order.order, name, sum(gone.values()), *lists])
    return Section(
        "Orders that move",
        "Booked orders whose graft days or offers change if a candidate is taken.",
        [
            "Several plans with the candidate may have the least cost. The sheet shows the one that moves "
            "the fewest booked plants from their graft day or offer in the plan without it. No due day "
            "changes."
        ],
        [
            SheetColumn("candidate", "Candidate"),
            SheetColumn("order", "Booked order"),
            SheetColumn("plants", "Plants that move", CellKind.COUNT),
            SheetColumn("before", "Plants by graft day or offer, without it", widest=60),
            SheetColumn("after", "With it", widest=60),
        ],
        rows,
    )


def _sources(asking: Asking, solution: Solution) -> dict[str, dict[str, float]]:
    """Plants of each order by source: a graft day, or an offer and its day."""
    network, compiled = asking.solved.program.network, asking.solved.compiled
    calendar = network.calendar
    values = compiled.values(solution.columns)
    found: dict[str, dict[str, float]] = defaultdict(lambda: defaultdict(float))
    for variable in MOVED:
        for i, plants in enumerate(values[variable].tolist()):
            if plants <= ENOUGH:
                continue
            if variable == "delivered":
                delivery = network.deliveries[i]
                source = f"grafted {calendar.date(network.flows[delivery.flow].graft).isoformat()}"
                order = delivery.order
            else:
                buy_in = network.buy_ins[i]
                day = calendar.date(buy_in.day).isoformat()
                source, order = f"{network.offers[buy_in.offer].offer} {day}", buy_in.order
            found[network.orders[order].order.order][source] += plants
    return found


def _listed(sources: dict[str, float]) -> str:
    return "; ".join(f"{source}: {plants:,.0f}" for source, plants in sorted(sources.items()) if plants > 0.5)

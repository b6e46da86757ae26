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
from reports.book.parts import Cell, Formula, SheetColumn
from reports.book.style import CellKind
from reports.study.study import CONTINUOUS_COSTS, Chart, Figure, Section, Study, run_facts, sheet_names
from scenarios.studies.asking import (
    ENOUGH,
    Added,
    Asking,
    added_of,
    as_candidate,
    in_chunks,
    overhead_per_plant,
    price_at,
    price_formula,
    price_inputs,
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
    grid = [trial for order in candidates for trial in _grid(scenario, order)]
    found = run_all(
        added_of,
        [chunk for order in candidates for chunk in in_chunks(scenario, _grid(scenario, order), CHUNK)],
        workers=workers,
        about="other days and quantities",
        progress=progress,
    )
    added = dict(zip([order.order for order in grid], [a for part in found for a in part], strict=True))
    progress("in whole trays")
    accepted = [replace(a.order, quantity=int(a.delivered + ENOUGH)) for a in alone if a.verdict != "no"]
    whole = plan_of(solve(replace(scenario, orders=(*scenario.orders, *accepted))))
    overhead = overhead_per_plant(scenario)
    money, names = scenario.nursery.currency, sheet_names("Days", [order.order for order in candidates])
    return Study(
        "Quote",
        scenario,
        [sentence for a in alone for sentence in _sentences(scenario, a, added, overhead, profit_margin)],
        [
            Figure("Candidates", float(len(alone)), CellKind.COUNT),
            Figure("Plants asked for", float(sum(order.quantity for order in candidates)), CellKind.COUNT),
            Figure("Plants deliverable, each order alone", sum(a.delivered for a in alone), CellKind.COUNT),
            Figure("Plants deliverable, all orders together", together[0], CellKind.COUNT),
            Figure(f"All together add to the cost ({money})", together[1], CellKind.MONEY),
            Figure("Plants short in whole trays, book and candidates", whole.short, CellKind.COUNT),
            Figure("Gap in whole trays: at most above least cost", whole.facts.gap, CellKind.SHARE),
        ],
        [
            _quote_section(scenario, alone, overhead, profit_margin),
            *(
                _grid_section(scenario, order, name, added, overhead, profit_margin)
                for order, name in zip(candidates, names, strict=True)
            ),
            _moves_section(asking, alone),
        ],
        run_facts(whole.facts),
        price_inputs(scenario, profit_margin),
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
    return [
        as_candidate(
            scenario, replace(order, order=_trial(order, day, quantity), due_day=day, quantity=quantity)
        )
        for day in days
        for quantity in quantities
    ]


def _trial(order: Order, day: date, quantity: int) -> str:
    return f"{order.order} | {day.isoformat()} | {quantity}"


def _sentences(
    scenario: Scenario, a: Added, added: dict[str, Added], overhead: float, profit_margin: float
) -> list[str]:
    order, money = a.order, scenario.nursery.currency
    asked = f"{order.order}: {order.quantity:,} of {order.product} on {order.due_day.isoformat()}"
    if a.cost_per_plant is None:
        found = [f"{asked}: no. No plant of it can be delivered without making a booked order shorter."]
    else:
        price = price_at(a.cost_per_plant, overhead, profit_margin)
        part = "yes" if a.verdict == "yes" else f"in part, {a.delivered:,.0f} of them"
        found = [
            f"{asked}: {part}. They add {a.cost:,.2f} {money} to the cost, {a.cost_per_plant:.4f} a plant. "
            f"For a profit margin of {profit_margin:.0%} of the price, charge {price:.4f} {money} a plant."
        ]
        if order.price is not None:
            left = 1 - (a.cost_per_plant + overhead) / order.price
            found.append(
                f"At the price of {order.price:g} offered, the profit margin is {left:.1%} of the price."
            )
    same = [x for x in added.values() if x.order.quantity == order.quantity and x.verdict == "yes"]
    same = [x for x in same if x.order.order.startswith(f"{order.order} | ")]
    cheapest = min(same, key=lambda x: (round(x.cost, 2), x.order.due_day), default=None)
    if cheapest is not None and (a.verdict != "yes" or cheapest.cost < a.cost - 0.005):
        each = cheapest.cost / cheapest.delivered
        found.append(
            f"Within {WEEKS} weeks of that day, the order costs least if it is due on "
            f"{cheapest.order.due_day.isoformat()}: {each:.4f} {money} a plant."
        )
    return found


def _quote_section(scenario: Scenario, alone: list[Added], overhead: float, profit_margin: float) -> Section:
    money = scenario.nursery.currency
    rows: list[list[Cell]] = []
    for a in alone:
        each = a.cost_per_plant
        price = None if each is None else price_formula("each", each, overhead, profit_margin)
        own = a.order.price
        left = (
            None
            if each is None or own is None or own <= 0
            else Formula("=1-({each}+Overhead_a_plant)/{own}", 1 - (each + overhead) / own)
        )
        rows.append(
            [
                a.order.order,
                a.order.customer,
                a.order.product,
                a.order.due_day,
                float(a.order.quantity),
                a.verdict,
                a.delivered if a.verdict != "no" else 0.0,
                a.bought if a.verdict != "no" else 0.0,
                a.cost if each is not None else None,
                each,
                price,
                own,
                left,
            ]
        )
    return Section(
        "Quote",
        "Each candidate order alone: yes, in part or no; avoidable cost; price.",
        [f"{PRICE_NOTE} Each order is tried alone, without the other candidates. {CONTINUOUS_COSTS}"],
        [
            SheetColumn("order", "Order"),
            SheetColumn("customer", "Customer"),
            SheetColumn("product", "Product"),
            SheetColumn("due", "Due day", CellKind.DAY),
            SheetColumn("quantity", "Plants asked for", CellKind.COUNT),
            SheetColumn("verdict", "Answer"),
            SheetColumn("delivered", "Plants deliverable", CellKind.COUNT),
            SheetColumn("bought", "Of them bought in", CellKind.COUNT),
            SheetColumn("cost", f"Avoidable cost ({money})", CellKind.MONEY),
            SheetColumn("each", f"A plant ({money})", CellKind.EACH),
            SheetColumn("price", f"Price at profit margin ({money} a plant)", CellKind.EACH),
            SheetColumn("own", f"Price offered ({money} a plant)", CellKind.PRICE, change=True),
            SheetColumn("left", "Profit margin at the price offered", CellKind.SHARE),
        ],
        rows,
    )


def _grid_section(
    scenario: Scenario,
    order: Order,
    name: str,
    added: dict[str, Added],
    overhead: float,
    profit_margin: float,
) -> Section:
    """Due days down, quantities across: answer, avoidable cost and price of a plant."""
    money = scenario.nursery.currency
    trials = [added[trial.order] for trial in _grid(scenario, order)]
    days = sorted({a.order.due_day for a in trials})
    quantities = sorted({a.order.quantity for a in trials})
    by_cell = {(a.order.due_day, a.order.quantity): a for a in trials}
    rows: list[list[Cell]] = []
    for day in days:
        row: list[Cell] = [day]
        for quantity in quantities:
            a = by_cell[day, quantity]
            each = a.cost_per_plant
            row += [
                a.verdict if a.verdict != "in part" else f"{a.delivered:,.0f}",
                each,
                None if each is None else price_formula(f"each{quantity}", each, overhead, profit_margin),
            ]
        rows.append(row)
    columns = [SheetColumn("due", "Due day", CellKind.DAY)]
    for quantity in quantities:
        columns += [
            SheetColumn(f"verdict{quantity}", f"{quantity:,} plants"),
            SheetColumn(f"each{quantity}", f"{quantity:,}: cost a plant ({money})", CellKind.EACH),
            SheetColumn(f"price{quantity}", f"{quantity:,}: price ({money})", CellKind.EACH),
        ]
    return Section(
        name,
        f"{order.order} on other days and in other quantities.",
        [
            f"{order.quantity:,} of {order.product} were asked for on {order.due_day.isoformat()}. Where "
            f"only part can be delivered, the number of plants stands in place of yes. {PRICE_NOTE}"
        ],
        columns,
        rows,
        [
            Chart(
                "line",
                f"{order.order}: avoidable cost a plant by due day",
                f"Lines: avoidable cost a plant of {order.product} by due day, a line for each quantity. "
                "Gaps: not deliverable. Numbers in the table above.",
                "due",
                tuple(f"each{quantity}" for quantity in quantities),
                "due day",
                f"{money} a plant",
            )
        ],
    )


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
                rows.append(
                    [
                        a.order.order,
                        name,
                        sum(gone.values()),
                        _listed(before[name]),
                        _listed(after[name]),
                    ]
                )
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

"""A customer asks for more: yes, in part or no; at what price; would another week be cheaper?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from functools import partial

from model.collector import collector_paused
from model.currencies import as_shown, least_sum
from model.network.charges import charge_of, charged, early_discount, extra_plants, placed_today
from model.phases import Say, silent
from model.questions.trials import MOVED
from model.questions.whole_differences import with_orders
from model.scenario.calendar import Calendar
from model.scenario.entities import Order, Scenario
from model.scenario.records.trade import Inquiry
from model.scenario.run_days import leaving
from model.solve import Solved, facts_of
from model.solver.compiled import Solution
from reports.book.parts import Cell, SheetColumn
from reports.book.style import CellKind
from reports.book.words import amount, digits, percent, plants_told, unit_digits, unit_price, with_unit
from reports.book.writing import grouped, shown_day, shown_share
from reports.study import column
from reports.study.study import Chart, Figure, Section, Study, run_facts, sheet_names
from reports.work.offers import NAME, Offer, write_offers
from scenarios.solves.asking import (
    ENOUGH,
    Added,
    Asking,
    WholeAdded,
    added_by,
    all_of_it,
    answer_columns,
    as_candidate,
    in_chunks,
    no_freight,
    price_columns,
    price_columns_by_day,
    price_note,
    profit_margin_input,
    solved_book,
    whole_added_of,
    with_candidate,
    with_extra,
)
from scenarios.solves.parallel import run_all

WEEKS = 4
"""Weeks before and after the due day for which the quote is worked out too."""

SHARES = (0.5, 1.0, 1.5, 2.0)
"""Shares of the quantity for which the quote is worked out too."""

DAYS = 4
"""Candidates that a worker takes at a time in whole plans."""

CONTINUOUS_NOTE = "Continuous: what the order adds where trays, packs and hands may be fractional."


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
    asked = {order.order: placed_today(scenario, order) for order in candidates}
    candidates = [charged(scenario, order) for order in asked.values()]
    book = solved_book(scenario)
    differences = [with_candidate(book, order) for order in candidates]
    alone = [added_by(book, order, found) for order, found in zip(candidates, differences, strict=True)]
    full = [all_of_it(a, found) for a, found in zip(alone, differences, strict=True)]
    copies = [trial for order in asked.values() for trial in _other_days(scenario, order)]
    copies += [
        trial for order in asked.values() for trial in _other_quantities(scenario, order, [order.due_day])
    ]
    chunks = in_chunks(scenario, copies, DAYS)
    found = run_all(whole_added_of, chunks, workers, "other days and quantities", progress)
    sized = {a.order.order: a for part in found for a in part}
    grids = [
        (scenario, order.order, together)
        for order in candidates
        for together in _grids(
            book, (order, *_other_quantities(scenario, asked[order.order], _days(scenario, order)))
        )
    ]
    answers = run_all(_continuous_of, grids, workers, "continuous", progress)
    continuous = {name: a for added, _ in answers for name, a in added.items()}
    trials: dict[str, Added] = {**sized, **{_trial(asked[a.order.order]): a for a in alone}}
    trials |= continuous
    progress("all of them together")
    together = differences[0] if len(alone) == 1 and alone[0].verdict == "yes" else None
    if together is None:
        accepted = [replace(a.order, quantity=int(a.delivered + ENOUGH)) for a in alone if a.delivered]
        together = with_orders(book, [as_candidate(scenario, order) for order in accepted])
    facts = facts_of(together.larger)
    money, named = scenario.nursery.currency, [order.order for order in candidates]
    return Study(
        "Quote",
        scenario,
        [
            sentence
            for a, whole in zip(alone, full, strict=True)
            for sentence in _sentences(
                scenario, a, whole, asked[a.order.order], continuous[a.order.order], trials, profit_margin
            )
            + _freight(scenario, a)
            + _held(scenario, a.order)
        ],
        [
            Figure("Candidates", len(alone), CellKind.COUNT),
            Figure("Plants asked for", sum(order.quantity for order in candidates), CellKind.COUNT),
            Figure("Plants deliverable, each order alone", sum(a.delivered for a in alone), CellKind.COUNT),
            Figure(
                "Plants deliverable, all orders together",
                0 if together.shorter else sum(together.delivered.values()),
                CellKind.COUNT,
            ),
            Figure(f"All together add to the cost ({money})", together.adds, CellKind.MONEY),
            Figure("Gap of the plan without them", facts_of(book).gap, CellKind.SHARE),
            Figure("Gap of the plan with all of them", facts.gap, CellKind.SHARE),
        ],
        [
            _quote_section(scenario, alone, continuous, profit_margin),
            *(
                section
                for a, grid, sheet in zip(
                    alone, sheet_names("Days", named), sheet_names("Quantities", named), strict=True
                )
                for section in (
                    _quantities_section(
                        scenario,
                        sheet,
                        (a, continuous[a.order.order]),
                        asked[a.order.order],
                        sized,
                        trials,
                        profit_margin,
                    ),
                    _grid_section(scenario, asked[a.order.order], grid, trials, profit_margin),
                )
            ),
            moves_section([row for _, rows in answers for row in rows]),
        ],
        run_facts(facts, money),
        [profit_margin_input(profit_margin)],
        books=[(NAME, partial(write_offers, scenario, _offers(scenario, alone, asked, profit_margin)))],
    )


def _offers(
    scenario: Scenario, alone: Sequence[WholeAdded], asked: Mapping[str, Order], profit_margin: float
) -> list[Offer]:
    """What can be offered, in whole plants, at the price of the order or else at the profit margin.

    ``asked``: the orders as they were asked for, by name.
    """
    found = []
    for a in alone:
        price = a.price(profit_margin) if a.own_price is None else a.own_price
        if price is not None and a.delivered >= 1:
            early = _early(scenario, asked[a.order.order], a)
            found.append(Offer(a.order, int(a.delivered + ENOUGH), price, early, _seed_told(a)))
    return found


def _seed_told(a: WholeAdded) -> str:
    """Seed that the customer must send, in words; blank for none."""
    return "; ".join(
        f"{grouped(seed.seeds)} seeds of {seed.variety} (lot {seed.lot})"
        + ("" if seed.by is None else f", here by {shown_day(seed.by)}")
        for seed in a.seed
    )


def _early(scenario: Scenario, asked: Order, a: Added) -> float:
    """Share of the list price that an order is spared since it is placed early.

    0 if no list charges it, or if it is charged the least.
    """
    charge = charge_of(scenario, asked)
    told = charge is not None and charge.total > charge.least and a.own_price is not None
    return early_discount(scenario, asked) if told else 0.0


def _days(scenario: Scenario, order: Order) -> list[date]:
    """Due days a week apart, around that of the order, on which something can be packed."""
    calendar = Calendar(scenario.nursery, scenario.days_off)
    due = [calendar.day(order.due_day) + 7 * week for week in range(-WEEKS, WEEKS + 1)]
    there = [day for day in due if 0 <= day < calendar.days and calendar.previous_working(day) is not None]
    return [calendar.date(day) for day in there]


def _named(order: Order) -> Order:
    return replace(order, order=_trial(order))


def _other_days(scenario: Scenario, order: Order) -> list[Order]:
    """Copies of the order on other due days; each has its own name."""
    return [
        charged(scenario, _named(replace(order, due_day=day)))
        for day in _days(scenario, order)
        if day != order.due_day
    ]


def _quantities(order: Order) -> list[int]:
    """Quantities for which the quote is worked out, that asked for among them."""
    return sorted({max(1, round(share * order.quantity)) for share in SHARES})


def _other_quantities(scenario: Scenario, order: Order, days: Sequence[date]) -> list[Order]:
    """Copies of the order in other quantities on some days; each has its own name."""
    return [
        charged(scenario, _named(replace(order, due_day=day, quantity=quantity)))
        for day in days
        for quantity in _quantities(order)
        if quantity != order.quantity
    ]


def _trial(order: Order) -> str:
    return f"{order.order} | {order.due_day.isoformat()} | {order.quantity}"


def _sentences(
    scenario: Scenario,
    a: WholeAdded,
    full: Added | None,
    order: Order,
    continuous: Added,
    trials: dict[str, Added],
    profit_margin: float,
) -> list[str]:
    """The answer to one candidate; ``order``: as it was asked for, before the list gave it a price.

    ``full``: all of it, where the plan leaves some of it short though all can be delivered.
    """
    money = scenario.nursery.currency
    asked = f"{order.order}: {plants_told(a.order)} of {order.product} on {shown_day(order.due_day)}"
    price = a.price(profit_margin)
    found = []
    if a.within_gaps:
        found.append(
            f"{order.order} adds less than the two plans may miss of their least cost "
            f"({amount(a.most - a.least, money)} together): take the figures as rough."
        )
    if a.shorter:
        found.append(f"{asked}: no. The plan with it would leave less of {', '.join(a.shorter)}.")
    elif price is None and full is not None:
        found.append(f"{asked}: no. Each plant of it adds more than the penalty for leaving it short.")
    elif price is None:
        found.append(f"{asked}: no. No plant of it can be delivered without making a booked order shorter.")
    else:
        part = "yes" if a.verdict == "yes" else f"in part, {grouped(a.delivered)} of them"
        found.append(
            f"{asked}: {part}. They add {amount(a.cost, money)} to the cost of the plan, "
            f"{unit_digits(a.cost_per_plant or 0.0, money)} a plant; surely between "
            f"{digits(a.least, money)} and {amount(a.most, money)}. For a profit margin of "
            f"{shown_share(profit_margin, 0)} of the price, charge {unit_price(price, money)} a plant. In "
            f"the continuous program {_beside(a, continuous, money)}."
        )
    if full is not None:
        found.append(
            f"All {plants_told(a.order)} of it can be delivered too, with no booked order shorter. They add "
            f"{amount(full.cost, money)}, {unit_digits(full.cost_per_plant or 0.0, money)} a plant. Leaving "
            "plants short, at their penalties, is cheaper."
        )
    if a.declined:
        those = ", ".join(f"{with_unit(grouped(plants), 'plants')} of {name}" for name, plants in a.declined)
        found.append(
            f"{order.order} takes the place of {those}: they are declined, and what it adds holds their "
            "price."
        )
    left, own = a.margin_left, a.own_price
    if left is not None and own is not None:
        said = f"At the price of {unit_price(own, money)} offered"
        if order.price is None:
            charge = amount(own * (a.order.quantity - extra_plants(a.order)), money)
            early = _early(scenario, order, a)
            spared = f", with {percent(early)} off the list price since it is placed early" if early else ""
            said = (
                f"By the list the order is charged {charge}{spared}, {unit_price(own, money)} a plant; "
                "at that"
            )
        found.append(f"{said}, the profit margin is {shown_share(left)} of the price.")
    if a.seed:
        found.append(f"{order.order}: the customer sends {_seed_told(a)}.")
    same = [
        trials[_trial(replace(order, due_day=day))]
        for day in _due_days(order, trials)
        if trials[_trial(replace(order, due_day=day))].verdict == "yes"
    ]
    cheapest = min(same, key=lambda x: (as_shown(x.cost, money), x.order.due_day), default=None)
    least = full or (a if a.verdict == "yes" else None)
    if cheapest is not None and (least is None or cheapest.cost < least.cost - least_sum(money)):
        each = unit_price(cheapest.cost_per_plant or 0.0, money)
        within = isinstance(cheapest, WholeAdded) and cheapest.most > a.least and a.verdict == "yes"
        what = "the order" if a.verdict == "yes" else "all of it"
        found.append(
            f"Within {WEEKS} weeks of that day, {what} adds least if it is due on "
            f"{shown_day(cheapest.order.due_day)}: {each} a plant"
            f"{'; the difference lies within the gaps of the plans' if within else ''}."
        )
    return found


def _beside(a: WholeAdded, continuous: Added, money: str) -> str:
    """What the continuous program says of a candidate, and of how many plants where those differ."""
    if not continuous.delivered:
        return "no plant of it can be delivered"
    who = "they" if abs(continuous.delivered - a.delivered) < 0.5 else grouped(continuous.delivered)
    return f"{who} add {amount(continuous.cost, money)}"


def _freight(scenario: Scenario, a: Added) -> list[str]:
    """That no freight is in what it adds, where runs carry the plants of other customers."""
    if not a.delivered or not no_freight(scenario, a.order):
        return []
    name = a.order.order
    return [f"{name}: no freight is in this, since no run of table customers is that of {a.order.customer}."]


def _held(scenario: Scenario, order: Order) -> list[str]:
    """Whether plants held for inquiries of the product on that day are used, where there are any."""
    at = order.product, leaving(scenario, order).due_day

    def same(row: Order | Inquiry, leaves: date) -> bool:
        return (row.product, leaves) == at

    asked = {row.inquiry for row in scenario.inquiries if same(row, leaving(scenario, row).due_day)}
    held = sum(
        row.quantity for row in scenario.orders if row.held and same(row, leaving(scenario, row).due_day)
    )
    if not asked and not held:
        return []
    about = f"inquiries of {order.product} for {shown_day(order.due_day)}"
    if not held:
        return [f"{order.order}: no plants are held for {about}, of which there are {len(asked)}."]
    return [
        f"{order.order}: the {grouped(held)} plants held for {about} are not used: the answer is for plants "
        "besides them. If this order is one of these inquiries, give it the plants held: they are paid for "
        "already."
    ]


def _quote_section(
    scenario: Scenario, alone: list[WholeAdded], continuous: dict[str, Added], profit_margin: float
) -> Section:
    money, extra = scenario.nursery.currency, with_extra(a.order for a in alone)

    return column.section(
        "Quote",
        "Each candidate order alone: yes, in part or no; what it adds; price.",
        [
            f"{price_note(scenario, extra=extra)} Each order is tried alone, without the other candidates. "
            f"{CONTINUOUS_NOTE}"
        ],
        alone,
        [
            column.text("order", "Order", lambda a: a.order.order),
            column.text("customer", "Customer", lambda a: a.order.customer),
            column.text("product", "Product", lambda a: a.order.product),
            column.day("due", "Due day", lambda a: a.order.due_day),
            *answer_columns(alone),
            *_whole_columns(money, lambda a: continuous[a.order.order]),
            *price_columns(money, profit_margin),
            column.price(
                "own", f"Price offered or listed ({money} a plant)", lambda a: a.own_price, change=True
            ),
            column.share(
                "left",
                "Profit margin at that price",
                lambda a: a.margin_left,
                "=1-({each}+{overhead})/{own}",
            ),
        ],
    )


def _whole_columns(money: str, beside: Callable[[WholeAdded], Added]) -> list[column.Column[WholeAdded]]:
    """What an order adds in whole plans, and ``beside`` it in the continuous program."""

    def where(of: Callable[[WholeAdded], Added], value: str) -> Callable[[WholeAdded], float | None]:
        return lambda a: getattr(of(a), value) if of(a).delivered else None

    def itself(a: WholeAdded) -> WholeAdded:
        return a

    return [
        column.money("cost", f"Adds ({money})", where(itself, "cost")),
        column.money("least", f"Surely no less than ({money})", where(itself, "least")),
        column.money("most", f"Surely no more than ({money})", where(itself, "most")),
        column.money("continuous", f"Continuous: adds ({money})", where(beside, "cost")),
    ]


def _due_days(order: Order, trials: dict[str, Added]) -> list[date]:
    """Days on which the order was tried."""
    return sorted(
        a.order.due_day
        for name, a in trials.items()
        if name == _trial(replace(order, due_day=a.order.due_day))
    )


def _grid_section(
    scenario: Scenario, order: Order, name: str, trials: dict[str, Added], profit_margin: float
) -> Section:
    """Due days down, quantities across: answer, what a plant adds, overhead and price."""
    money, extra = scenario.nursery.currency, bool(extra_plants(charged(scenario, order)))
    quantities = _quantities(order)
    columns: list[column.Column[date]] = [column.day("due", "Due day", lambda day: day)]
    days = _due_days(order, trials)
    for quantity in quantities:
        there = {day: trials[_trial(replace(order, due_day=day, quantity=quantity))] for day in days}
        columns += _quantity_columns(quantity, there, money, profit_margin)
    shows = (
        f"Lines: what a plant of {order.product} adds by due day, a line for each quantity. Gaps: not "
        "deliverable."
    )
    keys = tuple(f"each{quantity}" for quantity in quantities)
    return column.section(
        name,
        f"{order.order} on other days and in other quantities.",
        [
            f"{grouped(order.quantity)} of {order.product} were asked for on {shown_day(order.due_day)}. "
            "That "
            "quantity is tried in plans of whole trays on each day, other quantities in the "
            "continuous program. Where "
            f"the plan delivers a part, the number of plants stands in place of yes. "
            f"{price_note(scenario, extra=extra)} {CONTINUOUS_NOTE}"
        ],
        days,
        columns,
        Chart(
            "line",
            f"{order.order}: what a plant adds by due day",
            shows,
            "due",
            keys,
            f"{money} a plant",
        ),
    )


def _quantities_section(
    scenario: Scenario,
    name: str,
    itself: tuple[WholeAdded, Added],
    order: Order,
    sized: dict[str, WholeAdded],
    trials: dict[str, Added],
    profit_margin: float,
) -> Section:
    """Quantities down, on the day asked for: answer, what they add in whole plans, overhead and price.

    ``itself``: what the quantity asked for adds, in whole plans and in the continuous program. ``order``: as
    asked for. ``sized``: what the others add in whole plans; ``trials`` has them by the same names in the
    continuous program.
    """
    a, continuous = itself
    copies = [_trial(replace(order, quantity=quantity)) for quantity in _quantities(order)]
    rows = [sized.get(copy, a) for copy in copies]
    extra = with_extra(b.order for b in rows)
    return column.section(
        name,
        f"{order.order} on its day, in other quantities, in plans of whole trays.",
        [f"{price_note(scenario, extra=extra)} {CONTINUOUS_NOTE}"],
        rows,
        [
            *answer_columns(rows),
            *_whole_columns(scenario.nursery.currency, lambda b: trials.get(b.order.order, continuous)),
            *price_columns(scenario.nursery.currency, profit_margin),
        ],
    )


def _quantity_columns(
    quantity: int, there: dict[date, Added], money: str, profit_margin: float
) -> list[column.Column[date]]:
    """Answer, cost, overhead and price of a quantity by due day."""

    def verdict(day: date) -> str:
        a = there[day]
        return grouped(a.delivered) if a.verdict == "in part" else a.verdict

    whole = all(isinstance(a, WholeAdded) for a in there.values())
    about = grouped(quantity) if whole else f"{grouped(quantity)}, continuous"
    return [
        column.text(
            f"verdict{quantity}", f"{grouped(quantity)} plants{'' if whole else ', continuous'}", verdict
        ),
        *price_columns_by_day(quantity, about, there, money, profit_margin),
    ]


def _grids(book: Solved, orders: tuple[Order, ...]) -> list[tuple[Order, ...]]:
    """An order and its copies in other quantities and on other days, as they go into a continuous program.

    All go into one; but where a decision serves up to the most that is asked for, as the fixed cost of a wave
    does, those of each quantity go into one of their own. Else the largest would lower what the others add.
    """
    if not book.program.opened_waves and not book.program.apart.carried:
        return [orders]
    quantities = dict.fromkeys(order.quantity for order in orders)
    return [tuple(order for order in orders if order.quantity == quantity) for quantity in quantities]


def _continuous_of(
    grid: tuple[Scenario, str, tuple[Order, ...]],
) -> tuple[dict[str, Added], list[list[Cell]]]:
    """What each order of a grid, alone, adds in the continuous program, by name.

    And rows of what moves for the candidate, given by its name, where it is one of them.
    """
    scenario, candidate, orders = grid
    asking = Asking(scenario, orders, solved_book(scenario))
    with collector_paused():
        added = {name: asking.added(name) for name in asking.candidates}
    there = candidate in added and added[candidate].delivered
    return added, moved(asking, candidate) if there else []


def moved(asking: Asking, candidate: str) -> list[list[Cell]]:
    """Booked orders whose plants come from other graft days or offers once a candidate is taken."""
    rows: list[list[Cell]] = []
    solution = asking.trials.fewest_moves(asking.opened(candidate))
    before, after = _sources(asking, asking.trials.solution), _sources(asking, solution)
    for name in sorted(set(before) & set(after)):
        gone = {
            source: plants - after[name].get(source, 0.0)
            for source, plants in before[name].items()
            if plants - after[name].get(source, 0.0) > 0.5
        }
        if gone:
            lists = _listed(before[name]), _listed(after[name])
            rows.append([candidate, name, sum(gone.values()), *lists])
    return rows


def moves_section(rows: list[list[Cell]]) -> Section:
    """The booked orders that move; ``rows``: of ``moved``."""
    return Section(
        "Orders that move",
        "Booked orders whose graft days or offers change if a candidate is taken.",
        [
            "Both plans are those of the continuous program. Several plans with the candidate may have the "
            "least cost. The sheet shows the one that moves the fewest booked plants from their graft day or "
            "offer in the plan without it. No due day changes."
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
                source = f"grafted {shown_day(calendar.date(network.flows[delivery.flow].graft))}"
                order = delivery.order
            else:
                buy_in = network.buy_ins[i]
                day = calendar.date(buy_in.day).isoformat()
                source, order = f"{network.offers[buy_in.offer].offer} {day}", buy_in.order
            found[network.orders[order].order.order][source] += plants
    return found


def _listed(sources: dict[str, float]) -> str:
    return "; ".join(
        f"{source}: {grouped(plants)}" for source, plants in sorted(sources.items()) if plants > 0.5
    )

"""What to invest in over the next years: sets of modules of every kind, planned season by season.

Modules are of zones (racks, benches) or of crews (machines, trained hands).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import product

from model.phases import Say, silent
from model.planned.results import has_prices, result_of
from model.program.cost_terms import yearly_cost
from model.questions.investment import net_present_value, own_flows, payback_years
from model.scenario.choices import PayBasis
from model.scenario.entities import Scenario
from model.scenario.records.trade import Module
from model.solve import plan_of, solve
from reports.book.style import CellKind
from reports.book.words import PENALTIES, amount, counted
from reports.book.writing import grouped, shown_share
from reports.plan.result_words import better_or_worse
from reports.study import column
from reports.study.study import Chart, Figure, Input, Section, Study
from scenarios.cells.faults import Refused
from scenarios.solves.parallel import run_all
from scenarios.solves.scaling import at_pay, at_prices

MOST_SEASONS = 2_000
"""Seasons planned at most: each is a whole plan."""

Numbers = tuple[int, ...]
"""How many of each module, in the order of the table modules."""


@dataclass(frozen=True, slots=True)
class Growth:
    """How the years change, as shares a year: plants ordered, prices of orders, pay."""

    orders: float
    prices: float
    pay: float

    def of_year(self, scenario: Scenario, year: int) -> Scenario:
        """The scenario of a year; year 1 is as it stands."""
        plants, prices, pay = ((1 + rate) ** (year - 1) for rate in (self.orders, self.prices, self.pay))
        orders = tuple(
            replace(order, quantity=max(1, round(order.quantity * plants))) for order in scenario.orders
        )
        return at_prices(at_pay(replace(scenario, orders=orders), pay), prices)

    @property
    def none(self) -> bool:
        """Whether every year is like the first."""
        return self == Growth(0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Season:
    """The whole plan of a season with a set of modules, without the modules' own cost, in currency.

    ``result`` is None where no order has a price. ``penalties`` are part of ``cost``; ``short`` in plants.
    """

    cost: float
    penalties: float
    result: float | None
    short: float

    @property
    def paid(self) -> float:
        """The cost without penalties."""
        return self.cost - self.penalties

    @property
    def leaves(self) -> float:
        """What the season leaves without penalties: the result, or without prices the cost below nothing."""
        return -self.paid if self.result is None else self.result


@dataclass(frozen=True, slots=True)
class Chosen:
    """A set of modules: what it costs to buy, its yearly flows against buying none, and its seasons."""

    numbers: Numbers
    first_cost: float
    yearly: float
    """Yearly cost by capital recovery."""
    flows: tuple[float, ...]
    seasons: tuple[Season, ...]

    def value(self, rate: float) -> float:
        """Net present value."""
        return net_present_value(rate, self.flows)


def invest_study(
    scenario: Scenario,
    *,
    most: int,
    years: int,
    rate: float | None,
    growth: float,
    price_growth: float,
    pay_growth: float,
    budget: float | None,
    workers: int,
    progress: Say = silent,
) -> Study:
    """Every set of up to ``most`` modules of each kind over ``years`` years, and the one of greatest value.

    ``rate``: interest a year; None for the nursery's. Raises Refused where the scenario has no modules, or
    where too many seasons would have to be planned.
    """
    if not scenario.modules:
        raise Refused("the scenario has no modules: describe what you could buy in the table modules")
    at = scenario.nursery.interest_rate if rate is None else rate
    growing = Growth(growth, price_growth, pay_growth)
    sets = _sets(scenario.modules, most, budget)
    planned = 1 if growing.none else years
    if len(sets) * planned > MOST_SEASONS:
        raise Refused(
            f"{grouped(len(sets))} sets over {planned} years are {grouped(len(sets) * planned)} seasons to "
            "plan, more than "
            f"{grouped(MOST_SEASONS)}: try fewer of each with --most, a smaller --budget or fewer --years"
        )
    asked = [(growing.of_year(scenario, year), numbers) for numbers in sets for year in range(1, planned + 1)]
    seasons = run_all(season_of, asked, workers, "seasons", progress)
    own = [seasons[n * planned : (n + 1) * planned] for n in range(len(sets))]
    by_set = _at_most_with_fewer(scenario, sets, own)
    full = [found * (years if growing.none else 1) for found in by_set]
    chosen = [_chosen(scenario, numbers, found, full[0]) for numbers, found in zip(sets, full, strict=True)]
    best = max(chosen, key=lambda one: (round(one.value(at), 6), -sum(one.numbers)))
    return _study(scenario, chosen, best, at, growing, years)


def _sets(modules: Sequence[Module], most: int, budget: float | None) -> list[Numbers]:
    """Numbers of each module, none first; only sets that the budget buys."""
    found = product(range(most + 1), repeat=len(modules))
    return [numbers for numbers in found if budget is None or _price(modules, numbers) <= budget]


def _idle_costs(scenario: Scenario, module: Module) -> bool:
    """Whether a module costs pay although no plan uses it: a hand whose hours are paid, worked or not."""
    crew = next((crew for crew in scenario.crews if crew.crew == module.crew), None)
    if crew is None:
        return False
    return crew.pay_basis is PayBasis.COMMITTED or bool(crew.guaranteed_hours_per_head_week)


def _at_most_with_fewer(
    scenario: Scenario, sets: Sequence[Numbers], seasons: Sequence[list[Season]]
) -> list[list[Season]]:
    """The seasons with no cost above that of a set with one module fewer, whose plan fits too.

    But for modules that cost pay where they are idle.
    """
    free = [not _idle_costs(scenario, module) for module in scenario.modules]
    found: dict[Numbers, list[Season]] = {}
    for numbers, own in zip(sets, seasons, strict=True):
        fewer = [
            (*numbers[:n], number - 1, *numbers[n + 1 :])
            for n, number in enumerate(numbers)
            if number and free[n]
        ]
        known = [found[other] for other in fewer if other in found]
        found[numbers] = [
            min((season, *(other[year] for other in known)), key=lambda made: made.cost)
            for year, season in enumerate(own)
        ]
    return list(found.values())


def _price(modules: Sequence[Module], numbers: Numbers) -> float:
    return sum(number * module.first_cost for number, module in zip(numbers, modules, strict=True))


def season_of(asked: tuple[Scenario, Numbers]) -> Season:
    """The whole plan of a season with a set of modules."""
    scenario, numbers = asked
    rows = tuple(replace(row, added=n) for row, n in zip(scenario.modules, numbers, strict=True))
    made = plan_of(solve(replace(scenario, modules=rows)))
    own = sum(n * yearly_cost(scenario.nursery, row) for row, n in zip(rows, numbers, strict=True))
    result = result_of(made).result + own if has_prices(made.orders) else None
    return Season(made.cost - own, made.penalties, result, made.short)


def _chosen(scenario: Scenario, numbers: Numbers, seasons: list[Season], none: list[Season]) -> Chosen:
    """The flows of a set: what its modules cost and bring, and what each season leaves more."""
    years = len(seasons)
    flows = [0.0] * (years + 1)
    for number, module in zip(numbers, scenario.modules, strict=True):
        own = own_flows(module.first_cost, module.salvage_value, module.life_years, years)
        flows = [flow + number * each for flow, each in zip(flows, own, strict=True)]
    for year, (season, without) in enumerate(zip(seasons, none, strict=True), 1):
        flows[year] += season.leaves - without.leaves
    yearly = sum(
        n * yearly_cost(scenario.nursery, module) for n, module in zip(numbers, scenario.modules, strict=True)
    )
    return Chosen(numbers, _price(scenario.modules, numbers), yearly, tuple(flows), tuple(seasons))


def _named(modules: Sequence[Module], numbers: Numbers) -> str:
    """A set in words."""
    parts = [f"{n} {module.module}" for n, module in zip(numbers, modules, strict=True) if n]
    return " and ".join(parts) if len(parts) < 3 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def _study(
    scenario: Scenario, chosen: list[Chosen], best: Chosen, rate: float, growing: Growth, years: int
) -> Study:
    money = scenario.nursery.currency
    return Study(
        "Invest",
        scenario,
        _answer(scenario, chosen, best, rate, years),
        [
            Figure(f"Net present value of the best set ({money})", best.value(rate), CellKind.MONEY),
            Figure(f"To pay now ({money})", best.first_cost, CellKind.MONEY),
            Figure("Sets tried", len(chosen), CellKind.COUNT),
            Figure("Years", years, CellKind.COUNT),
        ],
        [_sets_section(scenario, chosen, rate, years), _seasons_section(scenario, chosen)],
        [
            ("Sets tried", len(chosen)),
            ("Seasons planned", len(chosen) * (1 if growing.none else years)),
            ("Plants ordered grow by a year", shown_share(growing.orders)),
            ("Prices of orders grow by a year", shown_share(growing.prices)),
            ("Pay grows by a year", shown_share(growing.pay)),
        ],
        [Input("Interest a year", rate, CellKind.SHARE, "Interest")],
    )


def _answer(scenario: Scenario, chosen: list[Chosen], best: Chosen, rate: float, years: int) -> list[str]:
    money, modules = scenario.nursery.currency, scenario.modules
    if not any(best.numbers):
        span = f"{counted(years, 'year')} at {shown_share(rate)}"
        found = [f"Buy nothing: no set of modules is worth its cost over {span}."]
    else:
        plain, discounted = payback_years(best.flows), payback_years(best.flows, rate)
        found = [
            f"Buy {_named(modules, best.numbers)}: {amount(best.first_cost, money)} now bring a net present "
            f"value of {amount(best.value(rate), money)} over {counted(years, 'year')} at "
            f"{shown_share(rate)}.",
            f"They pay back after {_years(plain)}, with interest after {_years(discounted)}.",
        ]
        with_them, without = best.seasons[0].result, chosen[0].seasons[0].result
        if with_them is not None and without is not None:
            found.append(
                f"The first season then leaves a result of {amount(with_them, money)} before they are paid, "
                f"{better_or_worse(with_them - without, money)} than without them; no penalty is in it."
            )
    others = [one for one in chosen if one is not best and any(one.numbers)]
    others.sort(key=lambda one: -one.value(rate))
    for other in others[:2]:
        found.append(
            f"{_named(modules, other.numbers)}: net present value {amount(other.value(rate), money)}."
        )
    fewer = [one for one in chosen if one.seasons[0].short < chosen[0].seasons[0].short]
    if fewer and chosen[0].seasons[0].result is None:
        found.append(
            "Without prices, plants that a set lets you deliver count for nothing here: give the orders "
            "prices."
        )
    return found


def _years(value: float | None) -> str:
    return "more years than these" if value is None else f"{grouped(value, 1)} years"


def _sets_section(scenario: Scenario, chosen: list[Chosen], rate: float, years: int) -> Section:
    money, modules = scenario.nursery.currency, scenario.modules
    keys = [f"year{year}" for year in range(1, years + 1)]
    present = f"={{now}}+NPV(Interest,{','.join(f'{{{key}}}' for key in keys)})"

    def flow(year: int) -> column.Column[Chosen]:
        return column.money(f"year{year}", f"Year {year} ({money})", lambda one: one.flows[year])

    def number(n: int) -> column.Column[Chosen]:
        return column.count(f"module{n}", modules[n].module, lambda one: one.numbers[n])

    def paid_back(at: float) -> Callable[[Chosen], float | None]:
        return lambda one: payback_years(one.flows, at) if one.first_cost else None

    shows = "Columns: net present value of each set against buying nothing."
    return column.section(
        "Sets",
        "Every set of modules: what it costs, what it brings, and when it has paid back.",
        [
            "Year 0 is what is paid now. Each later year holds what the season leaves more than without any "
            "module, in plans of whole trays and without penalties for plants short, what "
            "replacing a module at the "
            "end of its life costs, and in the last year the value left (straight line). Net present value: "
            "the sum of all years at interest. A plan may miss its least cost by its gap, and so may the "
            "yearly gain.",
            "Modules a year: their yearly cost over their life, interest included (in textbooks: capital "
            "recovery), as the study of the chamber has it. A machine or hand is a module of its crew: its "
            "pay is in the season, its price or training in the module.",
        ],
        chosen,
        [
            column.text("set", "Set", lambda one: _named(modules, one.numbers) or "nothing"),
            *(number(n) for n in range(len(modules))),
            column.money("now", f"Year 0 ({money})", lambda one: one.flows[0]),
            *(flow(year) for year in range(1, years + 1)),
            column.money("value", f"Net present value ({money})", lambda one: one.value(rate), present),
            column.decimal("payback", "Payback (years)", paid_back(0.0)),
            column.decimal("discounted", "Payback with interest (years)", paid_back(rate)),
            column.money("yearly", f"Modules a year ({money})", lambda one: one.yearly),
        ],
        Chart("columns", "Net present value by set", shows, "set", ("value",), money),
    )


def _seasons_section(scenario: Scenario, chosen: list[Chosen]) -> Section:
    money, modules = scenario.nursery.currency, scenario.modules
    rows = [(one, year, season) for one in chosen for year, season in enumerate(one.seasons, 1)]
    results: list[column.Column[tuple[Chosen, int, Season]]] = []
    if chosen[0].seasons[0].result is not None:
        results = [column.money("result", f"Result, modules not paid ({money})", lambda row: row[2].result)]
    return column.section(
        "Seasons",
        "The plan of every season with every set.",
        [
            "Costs are those of plans in whole trays, without the cost of the modules. A plan "
            "fits where there is "
            "more room, too: so no set costs more than one with fewer of each, but for hands who are paid "
            "whether they work or not. The book and the modules "
            "together are what the study of the chamber compares."
        ],
        rows,
        [
            column.text("set", "Set", lambda row: _named(modules, row[0].numbers) or "nothing"),
            column.count("year", "Year", lambda row: row[1]),
            *results,
            column.money("paid", f"Cost, without penalties ({money})", lambda row: row[2].paid),
            column.money("penalties", f"{PENALTIES.capitalize()} ({money})", lambda row: row[2].penalties),
            column.money("cost", f"Cost, with penalties ({money})", lambda row: row[2].cost),
            column.money(
                "total",
                f"Cost with penalties and the modules of a year ({money})",
                lambda row: row[2].cost + row[0].yearly,
            ),
            column.count("short", "Plants short", lambda row: row[2].short),
        ],
        prints=False,
    )

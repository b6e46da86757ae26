"""The customer's side: whether grafted plants pay in the field, and from which yield, price or plants on.

On an area, with n plants at p each, yield y, fruit at f, harvest at h a unit of yield, other costs o more:

    plants cost more     E = n[g] · p[g] − n[o] · p[o]
    all costs more       C = E + o
    break-even yield     y[o] + C / (f − h)
    gain                 (y[g] − y[o]) · (f − h) − C
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from model.phases import Say, silent
from model.scenario.entities import Order, Scenario
from reports.book.parts import Cell, Formula
from reports.book.style import CellKind
from reports.book.words import amount, number, unit_price
from reports.book.writing import grouped, shown_share
from reports.study import column
from reports.study.study import Chart, Figure, Input, Section, Study
from scenarios.cells.faults import Refused, meant

FEWER = tuple(n / 20 for n in range(20, 9, -1))
"""Grafted plants as shares of the own-root plants, for the table of fewer plants."""

FACTORS = (0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.25, 1.5, 1.75, 2.0)
"""Factors on the price of the fruit, for the table of prices."""


@dataclass(frozen=True, slots=True)
class Field:
    """A customer's field, by the area: plants and yields an area, prices in currency.

    ``other_costs``: what other costs rise by an area with grafted plants, below 0 for a saving.
    ``grafted_yield``: None where no figure is expected.
    """

    grafted_price: float
    own_root_price: float
    grafted_plants: float
    own_root_plants: float
    own_root_yield: float
    fruit_price: float
    harvest_cost: float = 0.0
    other_costs: float = 0.0
    grafted_yield: float | None = None

    @property
    def unit_left(self) -> float:
        """What a unit of yield leaves after harvest."""
        return self.fruit_price - self.harvest_cost

    @property
    def plants_cost_more(self) -> float:
        """What grafted plants cost more an area."""
        return self.grafted_plants * self.grafted_price - self.own_root_plants * self.own_root_price

    @property
    def all_cost_more(self) -> float:
        """What all costs rise by an area, harvest apart."""
        return self.plants_cost_more + self.other_costs

    def more_yield(self, cost: float) -> float | None:
        """The yield that pays a cost; None where a unit of yield leaves nothing."""
        return cost / self.unit_left if self.unit_left > 0 else None

    @property
    def break_even_yield(self) -> float | None:
        """The yield with grafted plants at which the customer is as well off; not below 0."""
        more = self.more_yield(self.all_cost_more)
        return None if more is None else max(self.own_root_yield + more, 0.0)

    @property
    def worth_of_yield(self) -> float:
        """What the yield expected above own-root leaves; 0 where none is expected."""
        grown = self.own_root_yield if self.grafted_yield is None else self.grafted_yield
        return (grown - self.own_root_yield) * self.unit_left

    @property
    def gain(self) -> float:
        """What the customer gains an area at the yield expected."""
        return self.worth_of_yield - self.all_cost_more

    @property
    def may_spend(self) -> float:
        """What grafted plants may cost an area so that they pay at the yield expected; not below 0."""
        spent = self.own_root_plants * self.own_root_price + self.worth_of_yield - self.other_costs
        return max(spent, 0.0)

    @property
    def most_plants(self) -> float | None:
        """The most grafted plants an area that pay at the yield expected; None where plants are free."""
        return self.may_spend / self.grafted_price if self.grafted_price > 0 else None

    @property
    def highest_price(self) -> float:
        """The highest price of a grafted plant that pays at the yield expected."""
        return self.may_spend / self.grafted_plants


def payback_study(
    scenario: Scenario,
    *,
    product: str | None,
    grafted_price: float | None,
    own_root_price: float | None,
    plants: float,
    grafted_plants: float | None,
    own_root_yield: float,
    grafted_yield: float | None,
    fruit_price: float,
    harvest_cost: float,
    other_costs: float,
    area: str,
    unit: str,
    progress: Say = silent,
) -> Study:
    """Whether grafted plants pay on a customer's field; ``area`` and ``unit`` name its measures.

    Prices of plants that are None are the mean prices of the orders for ``product`` and for own-root plants
    of its scion. Raises Refused where there are none.
    """
    progress("prices of plants")
    if plants <= 0 or (grafted_plants is not None and grafted_plants <= 0):
        raise Refused("an area has plants: write more than 0 for --plants and --grafted-plants")
    found = _prices(scenario, product, grafted_price, own_root_price)
    field = Field(
        *found,
        plants if grafted_plants is None else grafted_plants,
        plants,
        own_root_yield,
        fruit_price,
        harvest_cost,
        other_costs,
        grafted_yield,
    )
    money = scenario.nursery.currency
    return Study(
        "Payback",
        scenario,
        _answer(field, money, area, unit),
        _figures(field, money, area, unit),
        [_by_price(field, money, area, unit), _by_plants(field, money, area, unit)],
        [("Prices of plants", _source(product, grafted_price, own_root_price)), ("Currency", money)],
        _inputs(field, money, area, unit),
    )


def _prices(
    scenario: Scenario, name: str | None, grafted: float | None, own_root: float | None
) -> tuple[float, float]:
    """Prices of a grafted and of an own-root plant: those given, else those of the order book."""
    if grafted is not None and own_root is not None:
        return grafted, own_root
    products = {product.product: product for product in scenario.products}
    if name is None:
        raise Refused("say what plants cost: --grafted-price and --own-root-price, or --product of the book")
    if name not in products:
        remedy = meant(name, products, f"the products are {', '.join(products)}")
        raise Refused(f"there is no product '{name}'; {remedy}")
    scion = products[name].scion
    alike = {p.product for p in scenario.products if p.scion == scion and p.rootstock is None}
    if grafted is None:
        grafted = _mean_price(scenario, {name}, f"'{name}'", "--grafted-price")
    if own_root is None:
        own_root = _mean_price(scenario, alike, f"own-root plants of {scion}", "--own-root-price")
    return grafted, own_root


def _mean_price(scenario: Scenario, products: set[str], words: str, flag: str) -> float:
    """Mean price of the plants ordered of some products; refused where no order has a price."""

    def priced(order: Order) -> bool:
        return order.product in products and order.price is not None

    orders = [order for order in scenario.orders if priced(order)]
    if not orders:
        raise Refused(f"no order for {words} has a price; give it with {flag}")
    plants = sum(order.quantity for order in orders)
    return sum(order.quantity * (order.price or 0.0) for order in orders) / plants


def _source(product: str | None, grafted: float | None, own_root: float | None) -> str:
    given = [name for name, price in (("grafted", grafted), ("own-root", own_root)) if price is not None]
    if len(given) == 2:
        return "as given"
    book = f"mean price of the orders for {product} and for own-root plants of its scion"
    return f"{book}, but {given[0]} as given" if given else book


def _answer(field: Field, money: str, area: str, unit: str) -> list[str]:
    said = []
    if field.grafted_yield is not None:
        pay, gain = field.gain >= 0, amount(abs(field.gain), money)
        said.append(
            f"At {_yield(field.grafted_yield, unit)} against {_yield(field.own_root_yield, unit)} a {area}, "
            f"grafted plants {'pay' if pay else 'do not pay'}: the customer {'gains' if pay else 'loses'} "
            f"{gain} a {area}."
        )
    said.append(_pays_from(field, money, area, unit))
    apart = "" if not field.other_costs else f", all costs together {amount(field.all_cost_more, money)}"
    said.append(f"Grafted plants cost {amount(field.plants_cost_more, money)} a {area} more{apart}.")
    return [*said, *_fewer(field, money, area)]


def _pays_from(field: Field, money: str, area: str, unit: str) -> str:
    """The break-even yield in words."""
    at = field.break_even_yield
    if field.all_cost_more <= 0:
        return f"They pay without any more yield: they save {amount(-field.all_cost_more, money)} a {area}."
    if at is None:
        return f"More yield never pays: a {unit} sells for no more than its harvest costs."
    more = field.more_yield(field.all_cost_more) or 0.0
    return (
        f"They pay from {_yield(at, unit)} a {area} on, {_yield(more, unit)} more than own-root, at "
        f"{unit_price(field.unit_left, money)} a {unit} after harvest."
    )


def _fewer(field: Field, money: str, area: str) -> list[str]:
    """How many plants an area, and which price, break even at the yield expected."""
    at = "at the same yield" if field.grafted_yield is None else "at the yield expected"
    if field.may_spend <= 0:
        return [f"Even free plants would not pay {at}."]
    said = [
        f"The highest price of a grafted plant that pays {at} is {unit_price(field.highest_price, money)}."
    ]
    most = field.most_plants
    if most is not None:
        fewer = 1 - most / field.grafted_plants
        change = f"{shown_share(abs(fewer), 0)} {'fewer' if fewer > 0 else 'more'}"
        change = f"{change} than the {number(field.grafted_plants)}"
        said.append(f"Up to {number(most)} grafted plants a {area} pay {at}, {change} asked about.")
    return said


def _yield(value: float, unit: str) -> str:
    return f"{grouped(value, 2)} {unit}"


def _inputs(field: Field, money: str, area: str, unit: str) -> list[Input]:
    grown = field.own_root_yield if field.grafted_yield is None else field.grafted_yield
    return [
        Input(f"Price of a grafted plant ({money})", field.grafted_price, CellKind.PRICE, "Grafted_price"),
        Input(f"Price of an own-root plant ({money})", field.own_root_price, CellKind.PRICE, "Own_price"),
        Input(f"Grafted plants a {area}", field.grafted_plants, CellKind.DECIMAL, "Grafted_plants"),
        Input(f"Own-root plants a {area}", field.own_root_plants, CellKind.DECIMAL, "Own_plants"),
        Input(f"Own-root yield ({unit} a {area})", field.own_root_yield, CellKind.DECIMAL, "Own_yield"),
        Input(f"Yield expected, grafted ({unit} a {area})", grown, CellKind.DECIMAL, "Grafted_yield"),
        Input(f"Price of the fruit ({money} a {unit})", field.fruit_price, CellKind.PRICE, "Fruit_price"),
        Input(f"Cost of harvest ({money} a {unit})", field.harvest_cost, CellKind.PRICE, "Harvest_cost"),
        Input(f"Other costs, more ({money} a {area})", field.other_costs, CellKind.MONEY, "Other_costs"),
    ]


PLANTS_MORE = "Grafted_plants*Grafted_price-Own_plants*Own_price"
ALL_MORE = f"({PLANTS_MORE}+Other_costs)"
LEFT = "(Fruit_price-Harvest_cost)"
WORTH = f"(Grafted_yield-Own_yield)*{LEFT}"
MAY_SPEND = f"MAX(Own_plants*Own_price+{WORTH}-Other_costs,0)"
"""What ``Field`` works out, as workbook formulas of the inputs."""

NEVER = "never"
"""Stands where no yield pays."""


def _paid_by(more: str, left: str, value: float | None) -> Formula:
    """The break-even yield as a formula; ``more`` and ``left``: formulas of extra cost and of a unit left."""
    formula = f'=IF({left}>0,MAX(Own_yield+({more})/{left},0),"{NEVER}")'
    return Formula(formula, NEVER if value is None else value)


def _figures(field: Field, money: str, area: str, unit: str) -> list[Figure]:
    plants = field.more_yield(field.plants_cost_more)
    return [
        Figure(
            f"Break-even yield, all costs ({unit} a {area})",
            _paid_by(ALL_MORE, LEFT, field.break_even_yield),
            CellKind.FACTOR,
        ),
        _more(
            f"More yield that pays all costs ({unit} a {area})",
            ALL_MORE,
            field.more_yield(field.all_cost_more),
        ),
        _more(f"More yield that pays the plants alone ({unit} a {area})", PLANTS_MORE, plants),
        Figure(
            f"Grafted plants cost more ({money} a {area})",
            Formula(f"={PLANTS_MORE}", field.plants_cost_more),
            CellKind.MONEY,
        ),
        Figure(
            f"All costs rise by ({money} a {area})",
            Formula(f"={ALL_MORE}", field.all_cost_more),
            CellKind.MONEY,
        ),
        Figure(
            f"Gain at the yield expected ({money} a {area})",
            Formula(f"={WORTH}-{ALL_MORE}", field.gain),
            CellKind.MONEY,
        ),
        Figure(
            f"Highest price of a grafted plant that pays ({money})",
            Formula(f"={MAY_SPEND}/Grafted_plants", field.highest_price),
            CellKind.EACH,
        ),
        Figure(f"Most grafted plants that pay (a {area})", _most_plants(field), CellKind.DECIMAL),
    ]


def _more(label: str, cost: str, value: float | None) -> Figure:
    formula = f'=IF({LEFT}>0,({cost})/{LEFT},"{NEVER}")'
    return Figure(label, Formula(formula, NEVER if value is None else value), CellKind.FACTOR)


def _most_plants(field: Field) -> Cell:
    most = field.most_plants
    formula = f'=IF(Grafted_price>0,{MAY_SPEND}/Grafted_price,"any")'
    return Formula(formula, "any" if most is None else most)


def _changed(field: Field, **changes: float) -> Field:
    return Field(**{name: getattr(field, name) for name in field.__slots__} | changes)


def _by_price(field: Field, money: str, area: str, unit: str) -> Section:
    """Break-even yield against the price of the fruit."""

    def at(factor: float) -> Field:
        return _changed(field, fruit_price=field.fruit_price * factor)

    left = "({price}-Harvest_cost)"
    shows = "Lines: break-even yield with grafted plants, and own-root yield, by price of the fruit."
    gain = f"=(Grafted_yield-Own_yield)*{left}-{ALL_MORE}"
    return column.section(
        "By fruit price",
        "Break-even yield and gain against the price of the fruit.",
        [
            f"Break-even yield: the yield a {area} with grafted plants that leaves the customer as well off "
            "as own-root. Extra cost over what a unit of yield leaves after harvest, added to the own-root "
            "yield. Figures follow the numbers on the sheet Answer.",
            "Yields differ by field, disease and year: ask for trials near by, and try a part of the field.",
        ],
        FACTORS,
        [
            column.factor("factor", "Factor on the price", float),
            column.price(
                "price",
                f"Price of the fruit ({money} a {unit})",
                lambda f: at(f).fruit_price,
                "=Fruit_price*{factor}",
            ),
            *_yield_columns(at, ALL_MORE, left, area, unit),
            column.money(
                "gain", f"Gain at the yield expected ({money} a {area})", lambda f: at(f).gain, gain
            ),
        ],
        Chart(
            "line",
            "Break-even yield by price of the fruit",
            shows,
            "price",
            ("yield", "own"),
            f"{unit} a {area}",
        ),
    )


def _yield_columns(
    at: Callable[[float], Field], more: str, left: str, area: str, unit: str
) -> list[column.Column[float]]:
    """Break-even yield and own-root yield of the field at a row."""
    formula = f'=IF({left}>0,MAX(Own_yield+({more})/{left},0),"{NEVER}")'

    def paid(row: float) -> Cell:
        value = at(row).break_even_yield
        return Formula(formula, NEVER if value is None else value)

    return [
        column.factor("yield", f"Break-even yield ({unit} a {area})", paid),
        column.factor(
            "own", f"Own-root yield ({unit} a {area})", lambda row: at(row).own_root_yield, "=Own_yield+0"
        ),
    ]


def _by_plants(field: Field, money: str, area: str, unit: str) -> Section:
    """Break-even yield against the number of grafted plants."""

    def at(share: float) -> Field:
        return _changed(field, grafted_plants=field.own_root_plants * share)

    plants = "{plants}*Grafted_price-Own_plants*Own_price"
    shows = "Lines: break-even yield with fewer grafted plants, and own-root yield, by plants."
    return column.section(
        "Fewer plants",
        "Break-even yield against the number of grafted plants.",
        [
            "Strong rootstocks are often planted wider, or trained to two stems. Where the break-even yield "
            "lies at or below the own-root yield, fewer grafted plants pay without any more yield. Figures "
            "follow the numbers on the sheet Answer."
        ],
        FEWER,
        [
            column.share("share", "Grafted plants, share of own-root", float),
            column.decimal(
                "plants", f"Grafted plants a {area}", lambda s: at(s).grafted_plants, "=Own_plants*{share}"
            ),
            column.money(
                "more", f"They cost more ({money} a {area})", lambda s: at(s).plants_cost_more, f"={plants}"
            ),
            *_yield_columns(at, f"{plants}+Other_costs", LEFT, area, unit),
            column.money(
                "gain",
                f"Gain at the yield expected ({money} a {area})",
                lambda s: at(s).gain,
                f"={WORTH}-({plants}+Other_costs)",
            ),
        ],
        Chart("line", "Break-even yield by plants", shows, "plants", ("yield", "own"), f"{unit} a {area}"),
    )

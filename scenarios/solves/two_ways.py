"""Growing in-house beside buying in: both costs with a figure scaled, and where the cheaper way changes.

In the first way, products with an offer are all grown; in the second, they are all bought in. Everything else
stays the same. A cost is that of a whole plan, whose proved bound says how far it may lie above the least
cost; or the least cost of the continuous program.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import ceil
from statistics import fmean

from scipy.optimize import brentq

from model.currencies import least_sum
from model.planned.results import result_in
from model.questions.trials import Trials
from model.scenario.choices import Source
from model.scenario.entities import Order, Scenario
from model.solve import penalties_in, solve
from reports.book.style import CellKind
from scenarios.solves.scaling import at_pay

IN_HOUSE, BOUGHT_IN, NEITHER = "in-house", "bought in", "neither"

LACKING = 0.5
"""A way that delivers fewer plants than the other, by this many at least, cannot be compared by its cost."""

HALVINGS, EDGES = 5, 3
"""Times that the factors between two points are halved to find a change, and to find where it is sure."""


@dataclass(frozen=True, slots=True)
class Subject:
    """What is scaled: its name, the figure that shows its size, the figure's format, and a note."""

    words: str
    figure: str
    kind: CellKind
    note: str


SUBJECTS = {
    "volume": Subject(
        "the volume",
        "plants ordered",
        CellKind.COUNT,
        "The factor multiplies the quantity of every order for a product with an offer, rounded up to whole "
        "plants. The continuous program keeps fractions of a plant, so that its curve has no steps.",
    ),
    "buy-in-price": Subject(
        "the buy-in prices",
        "mean price of the offers",
        CellKind.PRICE,
        "The factor multiplies the price of every offer.",
    ),
    "take": Subject(
        "the take",
        "mean take of the methods",
        CellKind.SHARE,
        "The factor multiplies the take of every method, takes by age included. No take exceeds 1.",
    ),
    "wage": Subject(
        "the wages",
        "mean regular pay of the crews",
        CellKind.PRICE,
        "The factor multiplies all pay by the hour: regular, overtime and temporary.",
    ),
}


@dataclass(frozen=True, slots=True)
class Way:
    """Cost of one way and a lower bound on its least cost, in currency; plants short, and penalties for them.

    In the continuous program the bound is the cost. ``result``: None where no order has a price.
    """

    cost: float
    bound: float
    short: float
    penalties: float = 0.0
    result: float | None = None

    @property
    def paid(self) -> float:
        """Cost without penalties."""
        return self.cost - self.penalties


@dataclass(frozen=True, slots=True)
class Point:
    """Both ways at a factor. Costs that differ by less than ``tie``, in currency, are the same."""

    factor: float
    house: Way
    bought: Way
    tie: float

    @property
    def difference(self) -> float:
        """Cost in-house less cost bought in."""
        return self.house.cost - self.bought.cost

    @property
    def least(self) -> float:
        """The least costs differ by no less than this: in-house less bought in."""
        return min(self.house.bound, self.house.cost) - self.bought.cost

    @property
    def most(self) -> float:
        """The least costs differ by no more than this."""
        return self.house.cost - min(self.bought.bound, self.bought.cost)

    @property
    def lacking(self) -> str | None:
        """The way that delivers fewer plants; None where both deliver the same, so that costs compare."""
        apart = self.house.short - self.bought.short
        return None if abs(apart) < LACKING else IN_HOUSE if apart > 0 else BOUGHT_IN

    @property
    def sign(self) -> int:
        """1 where buying in is cheaper, -1 where growing is, 0 where they cost the same."""
        return 0 if abs(self.difference) < self.tie else 1 if self.difference > 0 else -1

    @property
    def sure(self) -> int:
        """The sign that the least costs surely have; 0 where the difference lies within the gaps."""
        return 1 if self.least >= self.tie else -1 if self.most <= -self.tie else 0

    @property
    def cheaper(self) -> str:
        """The cheaper way; the one that delivers more, where the other cannot deliver as much."""
        if self.lacking:
            return BOUGHT_IN if self.lacking == IN_HOUSE else IN_HOUSE
        return named(self.sign)


def named(sign: int) -> str:
    """The cheaper way where the difference has a sign."""
    return {1: BOUGHT_IN, -1: IN_HOUSE, 0: NEITHER}[sign]


@dataclass(frozen=True, slots=True)
class Change:
    """A factor at which the cheaper of two whole plans changes, and the cheaper way below and above it.

    ``low`` and ``high``: the nearest factors tried at which the way below, and the way above, is surely the
    cheaper; None where none was found.
    """

    factor: float
    low: float | None
    high: float | None
    below: str
    above: str


def offered(scenario: Scenario) -> set[str]:
    """Products with an offer."""
    return {offer.product for offer in scenario.buy_in_offers}


def one_way(scenario: Scenario, source: Source) -> Scenario:
    """The scenario with every product that has an offer taken from one source: all grown or all bought."""
    products = tuple(
        replace(product, source=source) if product.product in offered(scenario) else product
        for product in scenario.products
    )
    return replace(scenario, products=products)


def scaled(scenario: Scenario, of: str, factor: float) -> Scenario:
    """The scenario with its volume (in plants, rounded up), buy-in prices, takes or pay times a factor."""
    if of == "volume":
        return replace(
            scenario,
            orders=tuple(
                replace(order, quantity=max(ceil(round(parts, 9)), 1)) if parts else order
                for order, parts in volumes(scenario, factor)
            ),
        )
    if of == "buy-in-price":
        offers = tuple(replace(offer, price=offer.price * factor) for offer in scenario.buy_in_offers)
        return replace(scenario, buy_in_offers=offers)
    if of == "take":
        methods = tuple(replace(row, take=_taken(row.take, factor)) for row in scenario.methods)
        effects = tuple(replace(row, take=_taken(row.take, factor)) for row in scenario.age_effects)
        zones = tuple(replace(row, take=_taken(row.take, factor)) for row in scenario.stage_zones)
        return replace(scenario, methods=methods, age_effects=effects, stage_zones=zones)
    return at_pay(scenario, factor)


def volumes(scenario: Scenario, factor: float) -> list[tuple[Order, float | None]]:
    """Each order with its scaled quantity, fractions kept; None where its product has no offer."""
    products = offered(scenario)
    return [(o, o.quantity * factor if o.product in products else None) for o in scenario.orders]


def _taken(take: float | None, factor: float) -> float | None:
    return None if take is None else min(take * factor, 1.0)


def amounts(scenario: Scenario, of: str) -> list[float]:
    """The numbers of the scenario that the factor scales."""
    products = offered(scenario)
    if of == "volume":
        return [float(order.quantity) for order in scenario.orders if order.product in products]
    if of == "buy-in-price":
        return [offer.price for offer in scenario.buy_in_offers]
    if of == "take":
        methods = {product.method for product in scenario.products if product.ordered_as in products}
        return [row.take for row in scenario.methods if row.method in methods and row.take is not None]
    return [crew.pay_per_hour for crew in scenario.crews]


def figure_at(scenario: Scenario, of: str, factor: float) -> float:
    """The scaled figure at a factor: total plants ordered, or the mean price, take or pay."""
    found = amounts(scaled(scenario, of, factor), of)
    return sum(found) if of == "volume" else fmean(found)


# Both ways at a factor


def _both(scenario: Scenario, factor: float, way: Callable[[Source], Way]) -> Point:
    tie = least_sum(scenario.nursery.currency)
    return Point(factor, way(Source.GROW), way(Source.BUY), tie)


def whole(scenario: Scenario, of: str, factor: float) -> Point:
    """Both ways at a factor, in whole plans."""

    def way(source: Source) -> Way:
        solved = solve(one_way(scaled(scenario, of, factor), source))
        short = float(solved.compiled.values(solved.solution.columns)["short"].sum())
        penalties = penalties_in(solved.program, solved.compiled, solved.solution)
        left = result_in(solved.program, solved.compiled, solved.solution)
        return Way(solved.solution.objective, solved.bound, max(short, 0.0), penalties, left)

    return _both(scenario, factor, way)


def continuous(scenario: Scenario, of: str, factor: float) -> Point:
    """Both ways at a factor, in the continuous program.

    An order scaled to a fractional number of plants keeps the margin of the next whole number.
    """

    def way(source: Source) -> Way:
        solved = solve(one_way(scaled(scenario, of, factor), source), whole=False)
        solution = solved.continuous
        if of == "volume":
            parts = [(order, plants) for order, plants in volumes(scenario, factor) if plants is not None]
            limits = {("order", (order.order,)): plants for order, plants in parts}
            solution = Trials(solved).solve(limits)
        short = float(solved.compiled.values(solution.columns)["short"].sum())
        penalties = penalties_in(solved.program, solved.compiled, solution)
        left = result_in(solved.program, solved.compiled, solution)
        return Way(solution.objective, solution.objective, max(short, 0.0), penalties, left)

    return _both(scenario, factor, way)


# Where the cheaper way changes


def crossings(points: Sequence[Point]) -> list[tuple[int, int]]:
    """Pairs of neighbouring points between which the difference changes its sign.

    A point at which both ways cost the same is paired with itself. Of a run of such points only the first
    and the last count; where all points are such, there are no pairs. Points at which one way delivers less
    than the other are left out: penalties would decide there, not costs.
    """
    signs = [None if p.lacking else p.sign for p in points]
    found = []
    for n, sign in enumerate(signs):
        inside = 0 < n < len(signs) - 1 and signs[n - 1] == signs[n + 1] == 0
        if sign == 0 and any(signs) and not inside:
            found.append((n, n))
        after = signs[n + 1] if n + 1 < len(signs) else None
        if sign is not None and after is not None and sign * after < 0:
            found.append((n, n + 1))
    return found


def root(scenario: Scenario, of: str, low: float, high: float) -> Point:
    """The point between two factors at which both continuous costs are the same, by Brent's method."""
    factor = brentq(lambda f: continuous(scenario, of, f).difference, low, high, xtol=1e-10)
    return continuous(scenario, of, float(factor))


def changed(points: Sequence[Point]) -> list[tuple[int, int]]:
    """Pairs of points between which the cheaper of two whole plans changes.

    Of points in a row at which both ways deliver the same, those count at which the cheaper way is sure, and
    the two at the ends. What the signs of the others do lies within the gaps.
    """
    found, row = [], list[int]()
    for n in range(len(points) + 1):
        if n < len(points) and not points[n].lacking:
            row.append(n)
            continue
        told = [m for m in row if points[m].sign and (points[m].sure or m in (row[0], row[-1]))]
        found += [(a, b) for a, b in pairwise(told) if points[a].sign != points[b].sign]
        row = []
    return found


def change(scenario: Scenario, of: str, low: Point, high: Point) -> Change:
    """The change of the cheaper whole plan between two points whose signs differ.

    Between the last two factors tried, the factor at which the difference is 0 if it moves in a line.
    """
    a, b, tried = low, high, [low, high]
    for _ in range(HALVINGS):
        middle = whole(scenario, of, (a.factor + b.factor) / 2)
        tried.append(middle)
        a, b = (middle, b) if middle.sign == a.sign else (a, middle)
    span = abs(a.difference) + abs(b.difference)
    at = a.factor + (b.factor - a.factor) * abs(a.difference) / span
    below = [p for p in tried if p.factor <= a.factor]
    above = [p for p in tried if p.factor >= b.factor]
    return Change(
        at,
        _sure_from(scenario, of, low.sign, sorted(below, key=lambda p: -p.factor)),
        _sure_from(scenario, of, high.sign, sorted(above, key=lambda p: p.factor)),
        low.cheaper,
        high.cheaper,
    )


def _sure_from(scenario: Scenario, of: str, sign: int, tried: Sequence[Point]) -> float | None:
    """The factor from which on a way is surely the cheaper; ``tried``: by distance from the change."""
    n = next((n for n, point in enumerate(tried) if point.sure == sign), None)
    if n is None:
        return None
    near, sure = tried[max(n - 1, 0)].factor, tried[n].factor
    for _ in range(EDGES if n else 0):
        middle = whole(scenario, of, (near + sure) / 2)
        near, sure = (near, middle.factor) if middle.sure == sign else (middle.factor, sure)
    return sure

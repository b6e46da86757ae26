"""Break-even: the volume, buy-in price, take or wage at which grafting in-house and buying in cost the same.

Each way has the least cost of a continuous program. In the first, products with an offer are all grown; in
the second, they are all bought in. Everything else stays the same. Where the difference of the two costs
changes its sign, Brent's method finds the factor at which it is zero.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import ceil, isfinite, log
from statistics import fmean
from typing import TypeVar

from scipy.optimize import brentq

from model.network.expansion import expand
from model.phases import Say, silent
from model.questions.trials import Trials
from model.scenario.choices import Source
from model.scenario.entities import Order, Scenario
from model.shortage.relief import relief_within
from model.shortage.why_short import MOST_WORK, NOT_SOUGHT, cannot, reasons
from model.solve import penalties_in, plan_of, solve
from reports.book.style import CellKind
from reports.book.words import PENALTIES, amount, counted, unit_price, with_penalties
from reports.study import column
from reports.study.study import CONTINUOUS_COSTS, Chart, Figure, Section, Study, run_facts
from scenarios.cells.faults import Refused
from scenarios.studies.parallel import run_all

Record = TypeVar("Record")

POINTS = 9
"""Points of the curve, both ends included."""

SAME = 0.005
"""Difference of cost, in currency, below which both ways cost the same."""

JUMP = 1e-4
"""A difference at a change of sign above this share of the cost means that a cost jumps there."""

IN_HOUSE, BOUGHT_IN, NEITHER = "in-house", "bought in", "neither"

LACKING = 0.5
"""A way that delivers fewer plants than the other, by this many at least, cannot be compared by its cost."""

NAMED = 2
"""Short orders that the answer names for a way that cannot deliver."""


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
        "The factor multiplies the quantity of every order for a product with an offer. The program keeps "
        "fractions of a plant, so that the curve has no steps; the table shows plants rounded up.",
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
    """Least cost of one way, in currency, the penalties in it, and its plants short."""

    cost: float
    short: float
    penalties: float = 0.0


@dataclass(frozen=True, slots=True)
class Point:
    """Both ways at a factor."""

    factor: float
    house: Way
    bought: Way

    @property
    def difference(self) -> float:
        """Cost in-house less cost bought in."""
        return self.house.cost - self.bought.cost

    @property
    def lacking(self) -> str | None:
        """The way that delivers fewer plants; None where both deliver the same, so that costs compare."""
        apart = self.house.short - self.bought.short
        return None if abs(apart) < LACKING else IN_HOUSE if apart > 0 else BOUGHT_IN

    @property
    def sign(self) -> int:
        """1 where buying in is cheaper, -1 where growing is, 0 where they cost the same."""
        return 0 if abs(self.difference) < SAME else 1 if self.difference > 0 else -1

    @property
    def cheaper(self) -> str:
        """The cheaper way; the one that delivers more, where the other cannot deliver as much."""
        if self.lacking:
            return BOUGHT_IN if self.lacking == IN_HOUSE else IN_HOUSE
        return {1: BOUGHT_IN, -1: IN_HOUSE, 0: NEITHER}[self.sign]


@dataclass(frozen=True, slots=True)
class BreakEven:
    """A factor at which both ways cost the same, and the cheaper way below and above it."""

    at: Point
    below: str
    above: str

    @property
    def jump(self) -> bool:
        """Whether a cost jumps here, so that the cheaper way changes without an equal cost of both."""
        return abs(self.at.difference) > max(SAME, JUMP * abs(self.at.house.cost))


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
                for order, parts in _volumes(scenario, factor)
            ),
        )
    if of == "buy-in-price":
        offers = tuple(replace(offer, price=offer.price * factor) for offer in scenario.buy_in_offers)
        return replace(scenario, buy_in_offers=offers)
    if of == "take":
        methods = tuple(replace(row, take=_taken(row.take, factor)) for row in scenario.methods)
        effects = tuple(replace(row, take=_taken(row.take, factor)) for row in scenario.age_effects)
        return replace(scenario, methods=methods, age_effects=effects)
    crews = tuple(
        replace(
            crew,
            pay_per_hour=crew.pay_per_hour * factor,
            overtime_pay_per_hour=_times(crew.overtime_pay_per_hour, factor),
            temp_pay_per_hour=crew.temp_pay_per_hour * factor,
        )
        for crew in scenario.crews
    )
    days = tuple(replace(row, pay_per_hour=_times(row.pay_per_hour, factor)) for row in scenario.crew_days)
    return replace(scenario, crews=crews, crew_days=days)


def _volumes(scenario: Scenario, factor: float) -> list[tuple[Order, float | None]]:
    """Each order with its scaled quantity, fractions kept; None where its product has no offer."""
    products = offered(scenario)
    return [(o, o.quantity * factor if o.product in products else None) for o in scenario.orders]


def _times(value: float | None, factor: float) -> float | None:
    return None if value is None else value * factor


def _taken(take: float | None, factor: float) -> float | None:
    return None if take is None else min(take * factor, 1.0)


def least(scenario: Scenario, of: str, factor: float, source: Source) -> Way:
    """Least cost of the continuous program at a factor, one way.

    An order scaled to a fractional number of plants keeps the margin of the next whole number.
    """
    solved = solve(one_way(scaled(scenario, of, factor), source), whole=False)
    solution = solved.continuous
    if of == "volume":
        volumes = _volumes(scenario, factor)
        limits = {("order", (order.order,)): parts for order, parts in volumes if parts is not None}
        solution = Trials(solved).solve(limits)
    short = float(solution.columns[solved.compiled.columns(("short",))].sum())
    return Way(solution.objective, max(short, 0.0), penalties_in(solved.program, solved.compiled, solution))


def point(scenario: Scenario, of: str, factor: float) -> Point:
    """Both ways at a factor."""
    house, bought = (least(scenario, of, factor, source) for source in (Source.GROW, Source.BUY))
    return Point(factor, house, bought)


def _point(item: tuple[Scenario, str, float]) -> Point:
    return point(*item)


def _root(item: tuple[Scenario, str, float, float]) -> Point:
    """The point between two factors at which both ways cost the same, by Brent's method."""
    scenario, of, low, high = item
    factor = brentq(lambda f: point(scenario, of, f).difference, low, high, xtol=1e-10)
    return point(scenario, of, float(factor))


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


def break_even_study(
    scenario: Scenario, *, of: str, low: float, high: float, workers: int, progress: Say = silent
) -> Study:
    """The factors between ``low`` and ``high`` on ``of`` at which both ways cost the same, with the curve.

    ``of``: volume, buy-in-price, take or wage. Raises Refused where there is nothing to compare or the range
    is empty; SolveError where HiGHS reaches no optimum.
    """
    _refuse(scenario, of, low, high)
    factors = [low + (high - low) * n / (POINTS - 1) for n in range(POINTS)]
    items = [(scenario, of, factor) for factor in factors]
    points = run_all(_point, items, workers, "points of the curve", progress)
    pairs = crossings(points)
    brackets = [(scenario, of, factors[a], factors[b]) for a, b in pairs if a != b]
    roots = iter(run_all(_root, brackets, workers, "break-evens", progress))
    found = [
        BreakEven(
            points[a] if a == b else next(roots),
            points[a - (a == b)].cheaper if a or a != b else "",
            points[b + (a == b)].cheaper if b + (a == b) < len(points) else "",
        )
        for a, b in pairs
    ]
    facts = plan_of(solve(scenario, whole=False)).facts
    subject, money = SUBJECTS[of], scenario.nursery.currency
    return Study(
        "Break-even",
        scenario,
        [*_answer(scenario, of, points, found), *_lacking(scenario, of, points)],
        _figures(scenario, of, points, found),
        [_curve(scenario, of, points), _found(scenario, of, found)],
        [
            ("Factor on", subject.words),
            ("From", low),
            ("To", high),
            ("Points of the curve", POINTS),
            ("Currency", money),
            *run_facts(facts, money),
        ],
    )


def _refuse(scenario: Scenario, of: str, low: float, high: float) -> None:
    """Raise Refused where the question has no answer: a bad subject, a bad range, nothing to compare."""
    if of not in SUBJECTS:
        raise Refused(f"'{of}' has no break-even; choose one of {', '.join(SUBJECTS)}")
    if not (isfinite(low) and isfinite(high) and 0 < low < high):
        raise Refused(
            f"the range from {low:g} to {high:g} is empty; give two factors above 0, the lower first"
        )
    if not scenario.buy_in_offers:
        raise Refused(
            "no product has a buy-in offer, so growing cannot be compared with buying in; add a row to the "
            "table buy_in_offers"
        )
    if not _amounts(scenario, of):
        missing = {
            "volume": "no order is for a product with an offer",
            "take": "no product with an offer is grafted",
            "wage": "the scenario has no crews",
        }[of]
        raise Refused(f"{missing}: {SUBJECTS[of].words} cannot be scaled")


def _amounts(scenario: Scenario, of: str) -> list[float]:
    """The numbers of the scenario that the factor scales."""
    products = offered(scenario)
    if of == "volume":
        return [float(order.quantity) for order in scenario.orders if order.product in products]
    if of == "buy-in-price":
        return [offer.price for offer in scenario.buy_in_offers]
    if of == "take":
        methods = {product.method for product in scenario.products if product.product in products}
        return [row.take for row in scenario.methods if row.method in methods and row.take is not None]
    return [crew.pay_per_hour for crew in scenario.crews]


def figure_at(scenario: Scenario, of: str, factor: float) -> float:
    """The scaled figure at a factor: total plants ordered, or the mean price, take or pay."""
    amounts = _amounts(scaled(scenario, of, factor), of)
    return sum(amounts) if of == "volume" else fmean(amounts)


def _amount_words(scenario: Scenario, of: str, factor: float) -> str:
    subject, value = SUBJECTS[of], figure_at(scenario, of, factor)
    return {
        CellKind.COUNT: f"{value:,.0f} {subject.figure}",
        CellKind.SHARE: f"{subject.figure} {value:.1%}",
        CellKind.PRICE: f"{subject.figure} {unit_price(value, scenario.nursery.currency)}",
    }[subject.kind]


def _answer(scenario: Scenario, of: str, points: Sequence[Point], found: Sequence[BreakEven]) -> list[str]:
    subject, money = SUBJECTS[of], scenario.nursery.currency
    low, high = points[0].factor, points[-1].factor
    sentences = []
    for each in found:
        at = each.at
        sides = [
            f"{where} it {cheaper} is cheaper"
            for where, cheaper in (("below", each.below), ("above", each.above))
            if cheaper and cheaper != NEITHER
        ]
        where = f"at {at.factor:.4f} times {subject.words} ({_amount_words(scenario, of, at.factor)})"
        cost = with_penalties(at.house.cost, at.house.penalties, money)
        told = f"Growing in-house and buying in cost the same {where}: {cost}"
        if each.jump:
            told = (
                f"The cheaper way changes {where}. One of the costs jumps there, for example because an "
                f"offer's least quantity is reached: in-house {amount(at.house.cost, money)}, bought in "
                f"{amount(at.bought.cost, money)}"
            )
        sentences.append(f"{told}{'; ' if sides else ''}{', '.join(sides)}.")
    alike = [p for p in points if not p.lacking]
    if not found and alike:
        nearest = min(alike, key=lambda p: abs(p.difference))
        span = f"No break-even between {low:g} and {high:g} times {subject.words}"
        where = f"at the {len(points)} factors tried"
        if len(alike) < len(points):
            where = f"at {len(alike)} of the {len(points)} factors tried, where both ways deliver alike"
        if nearest.sign == 0:
            sentences.append(f"{span}: growing in-house and buying in cost the same throughout.")
        else:
            sentences.append(
                f"{span}: {nearest.cheaper} is cheaper throughout, by at least "
                f"{amount(abs(nearest.difference), money)} {where}. The difference is least at factor "
                f"{nearest.factor:g}."
            )
    return sentences


def _lacking(scenario: Scenario, of: str, points: Sequence[Point]) -> list[str]:
    """Of each way that delivers less than the other somewhere: where, what is short and the least relief."""
    told = []
    for source, way, other in ((Source.GROW, IN_HOUSE, BOUGHT_IN), (Source.BUY, BOUGHT_IN, IN_HOUSE)):
        lacking = [p for p in points if p.lacking == way]
        if not lacking:
            continue
        near = min(lacking, key=lambda p: abs(log(p.factor)))
        short = (near.house if way == IN_HOUSE else near.bought).short
        why, all_cannot = _why(one_way(scaled(scenario, of, near.factor), source))
        verb = "grown here" if way == IN_HOUSE else "bought in"
        head = f"cannot be {verb}" if all_cannot else f"is not all {verb}"
        span = f" (from {lacking[0].factor:g} to {lacking[-1].factor:g})" if len(lacking) > 1 else ""
        where = "at any" if len(lacking) == len(points) else f"at {len(lacking)}"
        cost = near.bought if way == IN_HOUSE else near.house
        price = with_penalties(cost.cost, cost.penalties, scenario.nursery.currency)
        told.append(
            f"The book {head} {where} of the {len(points)} factors tried{span}, so costs do not compare "
            f"there. At factor {near.factor:g}, {short:,.0f} plants are short. {why} There, "
            f"{other} costs {price}."
        )
    return told


def _why(scenario: Scenario) -> tuple[str, bool]:
    """Why orders of one way are short, in words, and whether any of them cannot be delivered."""
    relief = relief_within(scenario, MOST_WORK)
    if relief is None:
        return f"Why: {NOT_SOUGHT}.", True
    found = reasons(expand(scenario), relief)
    first = sorted(found, key=lambda name: (-relief.short[name], name))
    told = [f"{name}, {relief.short[name]:,.0f} short: {found[name]}." for name in first[:NAMED]]
    if len(first) > NAMED:
        told.append(f"{counted(len(first) - NAMED, 'more order')} short.")
    return " ".join(told), any(cannot(reason) for reason in found.values())


def _figures(
    scenario: Scenario, of: str, points: Sequence[Point], found: Sequence[BreakEven]
) -> list[Figure]:
    subject, money = SUBJECTS[of], scenario.nursery.currency
    figures: list[Figure] = [Figure("Break-evens found", len(found), CellKind.COUNT)]
    for each in found:
        figures += [
            Figure(f"Break-even: factor on {subject.words}", each.at.factor, CellKind.FACTOR),
            Figure(f"Break-even: {subject.figure}", figure_at(scenario, of, each.at.factor), subject.kind),
            Figure(f"Cost there ({money})", each.at.house.cost, CellKind.MONEY),
        ]
    apart = [abs(p.difference) for p in points if not p.lacking]
    if not found and apart:
        label = f"Least difference at the factors tried ({money})"
        figures.append(Figure(label, min(apart), CellKind.MONEY))
    return figures


def _columns(scenario: Scenario, of: str, at: Callable[[Record], Point]) -> list[column.Column[Record]]:
    """Both ways at the point ``at`` of a row."""
    subject, money = SUBJECTS[of], scenario.nursery.currency
    unit = f" ({money})" if subject.kind is CellKind.PRICE else ""
    figure = f"{subject.figure[0].upper()}{subject.figure[1:]}{unit}"

    def scaled_figure(row: Record) -> float:
        return figure_at(scenario, of, at(row).factor)

    return [
        column.factor("factor", f"Factor on {subject.words}", lambda row: at(row).factor),
        column.Kind(subject.kind)("amount", figure, scaled_figure),
        column.money("house", f"Cost in-house ({money})", lambda row: at(row).house.cost),
        column.money("house_penalties", f"Of it {PENALTIES} ({money})", lambda row: at(row).house.penalties),
        column.count("house_short", "Plants short in-house", lambda row: at(row).house.short),
        column.money("bought", f"Cost bought in ({money})", lambda row: at(row).bought.cost),
        column.money(
            "bought_penalties", f"Of it {PENALTIES} ({money})", lambda row: at(row).bought.penalties
        ),
        column.count("bought_short", "Plants short, bought in", lambda row: at(row).bought.short),
        column.money("difference", f"In-house less bought in ({money})", lambda row: at(row).difference),
    ]


def _curve(scenario: Scenario, of: str, points: Sequence[Point]) -> Section:
    subject = SUBJECTS[of]
    title = f"In-house and bought in against {subject.words}"
    shows = "Lines: cost in-house and cost bought in, by factor."
    both_ways: list[column.Column[Point]] = _columns(scenario, of, lambda point: point)
    return column.section(
        "Curve",
        "Cost of both ways against the factor, with a picture.",
        [
            f"In-house: every product with an offer is grown. Bought in: every product with an offer is "
            f"bought. Products without an offer stay as they are. {subject.note}",
            "Both costs include the penalties for plants short. Where one way delivers less than the other, "
            f"the costs do not compare: the last column names the other way. {CONTINUOUS_COSTS}",
        ],
        points,
        [*both_ways, column.text("cheaper", "Cheaper, or the only one", lambda point: point.cheaper)],
        Chart("line", title, shows, "factor", ("house", "bought"), scenario.nursery.currency),
    )


def _found(scenario: Scenario, of: str, found: Sequence[BreakEven]) -> Section:
    both_ways: list[column.Column[BreakEven]] = _columns(scenario, of, lambda each: each.at)
    return column.section(
        "Break-evens",
        "Where both ways cost the same.",
        [
            "A break-even is sought between two neighbouring points of the curve where the cheaper way "
            "changes. Two crossings between the same two points stay unseen: choose a narrower range.",
            "A cost may jump: where the orders of a delivery reach the offer's least quantity, or where a "
            "margin set by a service level grows by one join. The two costs then differ at the break-even "
            "by the size of the jump.",
        ],
        found,
        [
            *both_ways,
            column.text("below", "Cheaper below", lambda each: each.below or None),
            column.text("above", "Cheaper above", lambda each: each.above or None),
        ],
    )

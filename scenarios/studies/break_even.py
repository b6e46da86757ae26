"""Break-even: the volume, buy-in price, take or wage at which grafting in-house and buying in cost the same.

Whole plans answer, at some factors and between those where the cheaper way changes. Beside them stands the
continuous program: where the difference of its two costs changes its sign, Brent's method finds the factor at
which it is zero.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import isfinite, log
from typing import NamedTuple, TypeVar

from model.network.expansion import expand
from model.phases import Say, silent
from model.scenario.choices import Source
from model.scenario.entities import Scenario
from model.shortage.relief import relief_within
from model.shortage.why_short import MOST_WORK, NOT_SOUGHT, cannot, reasons
from model.solve import facts_of, solve
from reports.book.retold import retelling
from reports.book.style import CellKind
from reports.book.words import amount, counted, unit_price, with_penalties, with_unit
from reports.book.writing import figure, grouped, shown_share
from reports.study import column
from reports.study.study import CONTINUOUS_COSTS, Chart, Figure, Section, Study, run_facts
from scenarios.cells.faults import Refused
from scenarios.solves import two_ways
from scenarios.solves.parallel import run_all
from scenarios.solves.two_ways import (
    BOUGHT_IN,
    IN_HOUSE,
    NEITHER,
    SUBJECTS,
    Change,
    Point,
    amounts,
    figure_at,
    named,
    one_way,
    scaled,
)

Record = TypeVar("Record")

POINTS = 9
"""Points of the curve, both ends included."""

MOST_WAVES = 2500
"""In a book of more waves, no whole plans are made: there would be some 40 of them."""

JUMP = 1e-4
"""A difference at a change of sign above this share of the cost means that a cost jumps there."""

NAMED = 2
"""Short orders that the answer names for a way that cannot deliver."""

LARGE = "The book is large, so these are figures of the continuous program."


@dataclass(frozen=True, slots=True)
class BreakEven:
    """A factor at which both continuous costs are the same, and the cheaper way below and above it."""

    at: Point
    below: str
    above: str

    @property
    def jump(self) -> bool:
        """Whether a cost jumps here, so that the cheaper way changes without an equal cost of both."""
        return abs(self.at.difference) > max(self.at.tie, JUMP * abs(self.at.house.cost))


class Curve(NamedTuple):
    """The points of the curve in the continuous program and, but for large books, in whole plans."""

    continuous: list[Point]
    whole: list[Point] | None

    @property
    def told(self) -> list[Point]:
        """The points that answer."""
        return self.continuous if self.whole is None else self.whole


def _points(item: tuple[Scenario, str, float, bool]) -> tuple[Point, Point | None]:
    scenario, of, factor, large = item
    whole = None if large else two_ways.whole(scenario, of, factor)
    return two_ways.continuous(scenario, of, factor), whole


def _root(item: tuple[Scenario, str, float, float]) -> Point:
    return two_ways.root(*item)


def _change(item: tuple[Scenario, str, Point, Point]) -> Change:
    return two_ways.change(*item)


def break_even_study(
    scenario: Scenario, *, of: str, low: float, high: float, workers: int, progress: Say = silent
) -> Study:
    """The factors between ``low`` and ``high`` on ``of`` at which both ways cost the same, with the curve.

    ``of``: volume, buy-in-price, take or wage. Raises Refused where there is nothing to compare or the range
    is empty; SolveError where HiGHS reaches no optimum.
    """
    _refuse(scenario, of, low, high)
    large = len(expand(scenario).waves) > MOST_WAVES
    factors = [low + (high - low) * n / (POINTS - 1) for n in range(POINTS)]
    items = [(scenario, of, factor, large) for factor in factors]
    pairs = run_all(_points, items, workers, "points of the curve", progress)
    whole = [point for _, point in pairs if point is not None]
    curve = Curve([point for point, _ in pairs], whole or None)
    found = _break_evens(scenario, of, curve.continuous, workers, progress)
    between = [(scenario, of, whole[a], whole[b]) for a, b in two_ways.changed(whole)]
    changes = run_all(_change, between, workers, "changes of whole plans", progress) if between else []
    facts = facts_of(solve(scenario, whole=False))
    subject, money = SUBJECTS[of], scenario.nursery.currency
    continuous = _continuous_answer(scenario, of, curve.continuous, found)
    if curve.whole is None:
        answer = [LARGE, *continuous]
    else:
        beside = [f"In the continuous program, {line[0].lower()}{line[1:]}" for line in continuous]
        answer = [*_answer(scenario, of, curve.whole, changes), *beside]
    return Study(
        "Break-even",
        scenario,
        [*_left(scenario, of, curve.told), *answer, *_lacking(scenario, of, curve.told)],
        _figures(scenario, of, curve, found, changes),
        [
            _curve(scenario, of, curve),
            *([] if curve.whole is None else [_changes(scenario, of, changes)]),
            _found(scenario, of, found),
        ],
        [
            ("Factor on", subject.words),
            ("From", low),
            ("To", high),
            ("Points of the curve", POINTS),
            ("Currency", money),
            *run_facts(facts, money),
        ],
    )


def _break_evens(
    scenario: Scenario, of: str, points: Sequence[Point], workers: int, progress: Say
) -> list[BreakEven]:
    """Where both continuous costs are the same."""
    pairs = two_ways.crossings(points)
    brackets = [(scenario, of, points[a].factor, points[b].factor) for a, b in pairs if a != b]
    roots = iter(run_all(_root, brackets, workers, "break-evens", progress))
    return [
        BreakEven(
            points[a] if a == b else next(roots),
            points[a - (a == b)].cheaper if a or a != b else "",
            points[b + (a == b)].cheaper if b + (a == b) < len(points) else "",
        )
        for a, b in pairs
    ]


def _refuse(scenario: Scenario, of: str, low: float, high: float) -> None:
    """Raise Refused where the question has no answer: a bad subject, a bad range, nothing to compare."""
    if of not in SUBJECTS:
        raise Refused(f"'{of}' has no break-even; choose one of {', '.join(SUBJECTS)}")
    if not (isfinite(low) and isfinite(high) and 0 < low < high):
        raise Refused(
            f"the range from {figure(low)} to {figure(high)} is empty; give two factors above 0, the lower "
            "first"
        )
    if not scenario.buy_in_offers:
        raise Refused(
            "no product has a buy-in offer, so growing cannot be compared with buying in; add a row to the "
            "table buy_in_offers"
        )
    if not amounts(scenario, of):
        missing = {
            "volume": "no order is for a product with an offer",
            "take": "no product with an offer is grafted",
            "wage": "the scenario has no crews",
        }[of]
        raise Refused(f"{missing}: {SUBJECTS[of].words} cannot be scaled")


def _amount_words(scenario: Scenario, of: str, factor: float) -> str:
    subject, value = SUBJECTS[of], figure_at(scenario, of, factor)
    return {
        CellKind.COUNT: f"{grouped(value)} {subject.figure}",
        CellKind.SHARE: f"{subject.figure} {shown_share(value)}",
        CellKind.PRICE: f"{subject.figure} {unit_price(value, scenario.nursery.currency)}",
    }[subject.kind]


def _answer(scenario: Scenario, of: str, points: Sequence[Point], changes: Sequence[Change]) -> list[str]:
    """Where the cheaper of two whole plans changes, and how sure that is."""
    subject, alike = SUBJECTS[of], [p for p in points if not p.lacking]
    unsure = [p for p in alike if p.sign and not p.sure]
    told = []
    if unsure:
        told.append(
            f"At {len(unsure)} of the {len(points)} factors tried, the costs of both ways differ by less "
            "than their plans may miss of their least cost: which way is cheaper there is not sure."
        )
    for each in changes:
        where = f"{figure(each.factor, 4)} times {subject.words} ({_amount_words(scenario, of, each.factor)})"
        sure = ", ".join(
            f"{way} at {figure(factor, 4)}"
            for way, factor in ((each.below, each.low), (each.above, each.high))
            if factor is not None
        )
        told.append(
            f"The cheaper way changes at {where}: below it {each.below}, above it {each.above}"
            f"{f'; surely {sure}' if sure else ''}."
        )
    if not changes and alike:
        told.append(_none(scenario, of, points, alike))
    return told


def _left(scenario: Scenario, of: str, points: Sequence[Point]) -> list[str]:
    """The results nearest to the book as it is, where orders have prices and both ways deliver alike."""
    alike = [p for p in points if not p.lacking]
    if not alike:
        return []
    near = min(alike, key=lambda p: abs(log(p.factor)))
    house, bought, money = near.house.result, near.bought.result, scenario.nursery.currency
    if house is None or bought is None:
        return []
    return [
        f"At {figure(near.factor, 4)} times {SUBJECTS[of].words}, growing in-house leaves a result of "
        f"{amount(house, money)}, buying in {amount(bought, money)}."
    ]


def _continuous_answer(
    scenario: Scenario, of: str, points: Sequence[Point], found: Sequence[BreakEven]
) -> list[str]:
    """Where both continuous costs are the same."""
    subject, money = SUBJECTS[of], scenario.nursery.currency
    sentences = []
    for each in found:
        at = each.at
        sides = [
            f"{where} it {cheaper} is cheaper"
            for where, cheaper in (("below", each.below), ("above", each.above))
            if cheaper and cheaper != NEITHER
        ]
        where = f"at {grouped(at.factor, 4)} times {subject.words} ({_amount_words(scenario, of, at.factor)})"
        cost = with_penalties(at.house.cost, at.house.penalties, money)
        told = f"Growing in-house and buying in cost the same {where}: {cost}"
        if each.jump:
            told = (
                f"The cheaper way changes {where}. One of the costs jumps there, for example because the "
                f"margin of an order is a join larger or smaller: in-house "
                f"{cost}, bought in {with_penalties(at.bought.cost, at.bought.penalties, money)}"
            )
        sentences.append(f"{told}{'; ' if sides else ''}{', '.join(sides)}.")
    alike = [p for p in points if not p.lacking]
    if not found and alike:
        sentences.append(_none(scenario, of, points, alike))
    return sentences


def _none(scenario: Scenario, of: str, points: Sequence[Point], alike: Sequence[Point]) -> str:
    """No break-even: which way is cheaper throughout. ``alike``: points at which both deliver the same."""
    subject, money = SUBJECTS[of], scenario.nursery.currency
    low, high = figure(points[0].factor), figure(points[-1].factor)
    span = f"No break-even between {low} and {high} times {subject.words}"
    nearest = min(alike, key=lambda p: abs(p.difference))
    sides = {p.sure for p in alike} - {0}
    if not any(p.sign for p in alike):
        return f"{span}: growing in-house and buying in cost the same throughout."
    if not sides:
        return f"{span} is sure: the costs differ by {amount(abs(nearest.difference), money)} or more."
    if len(sides) > 1:
        return f"{span}: each way is cheaper at some factors, and in between one way cannot deliver as much."
    where = f"at the {len(points)} factors tried"
    if len(alike) < len(points):
        where = f"at {len(alike)} of the {len(points)} factors tried, where both ways deliver alike"
    return (
        f"{span}: {named(sides.pop())} is cheaper throughout, by at least "
        f"{amount(abs(nearest.difference), money)} {where}. The difference is least at factor "
        f"{figure(nearest.factor)}."
    )


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
        span = (
            f" (from {figure(lacking[0].factor)} to {figure(lacking[-1].factor)})" if len(lacking) > 1 else ""
        )
        where = "at any" if len(lacking) == len(points) else f"at {len(lacking)}"
        cost = near.bought if way == IN_HOUSE else near.house
        price = with_penalties(cost.cost, cost.penalties, scenario.nursery.currency)
        also = f" and is {with_unit(grouped(cost.short), 'plants')} short" if cost.short >= 1 else ""
        plants = with_unit(grouped(short), "plants")
        told.append(
            f"The book {head} {where} of the {len(points)} factors tried{span}, so costs do not compare "
            f"there. At factor {figure(near.factor)}, {plants} "
            f"{'is' if plants == '1 plant' else 'are'} short. {why} There, {other} costs {price}{also}."
        )
    return told


def _why(scenario: Scenario) -> tuple[str, bool]:
    """Why orders of one way are short, in words, and whether any of them cannot be delivered."""
    relief = relief_within(scenario, MOST_WORK)
    if relief is None:
        return f"Why: {NOT_SOUGHT}.", True
    if not relief.short:
        return "In the continuous program none is: a plan in whole trays that fills all was not found.", False
    found, retell = reasons(expand(scenario), relief), retelling(scenario)
    first = sorted(found, key=lambda name: (-relief.short[name], name))
    told = [
        f"In the continuous program {name} is {grouped(relief.short[name])} short: {retell(found[name])}."
        for name in first[:NAMED]
    ]
    if len(first) > NAMED:
        told.append(f"{counted(len(first) - NAMED, 'more order')} short.")
    return " ".join(told), any(cannot(reason) for reason in found.values())


def _figures(
    scenario: Scenario, of: str, curve: Curve, found: Sequence[BreakEven], changes: Sequence[Change]
) -> list[Figure]:
    subject, money = SUBJECTS[of], scenario.nursery.currency
    told = [each.factor for each in changes] if curve.whole else [each.at.factor for each in found]
    figures: list[Figure] = [Figure("Break-evens found", len(told), CellKind.COUNT)]
    for factor in told:
        figures += [
            Figure(f"Break-even: factor on {subject.words}", factor, CellKind.FACTOR),
            Figure(f"Break-even: {subject.figure}", figure_at(scenario, of, factor), subject.kind),
        ]
    if curve.whole:
        figures += [
            Figure(f"Continuous: factor on {subject.words}", each.at.factor, CellKind.FACTOR)
            for each in found
        ]
    apart = [abs(p.difference) for p in curve.told if not p.lacking]
    if not told and apart:
        label = f"Least difference of cost at the factors tried ({money})"
        figures.append(Figure(label, min(apart), CellKind.MONEY))
    return figures


def _figure_columns(
    scenario: Scenario, of: str, factor: Callable[[Record], float]
) -> list[column.Column[Record]]:
    """The factor and the figure that it scales."""
    subject, money = SUBJECTS[of], scenario.nursery.currency
    unit = f" ({money})" if subject.kind is CellKind.PRICE else ""
    figure = f"{subject.figure[0].upper()}{subject.figure[1:]}{unit}"
    return [
        column.factor("factor", f"Factor on {subject.words}", factor),
        column.Kind(subject.kind)("amount", figure, lambda row: figure_at(scenario, of, factor(row))),
    ]


def _columns(scenario: Scenario, of: str, at: Callable[[Record], Point]) -> list[column.Column[Record]]:
    """Both ways at the point ``at`` of a row."""
    money = scenario.nursery.currency
    factor: list[column.Column[Record]] = _figure_columns(scenario, of, lambda row: at(row).factor)
    return [
        *factor,
        *_result_columns(scenario, at),
        column.money(
            "house_paid", f"Cost in-house, without penalties ({money})", lambda row: at(row).house.paid
        ),
        column.money("house", f"Cost in-house, with penalties ({money})", lambda row: at(row).house.cost),
        column.count("house_short", "Plants short in-house", lambda row: at(row).house.short),
        column.money(
            "bought_paid", f"Cost bought in, without penalties ({money})", lambda row: at(row).bought.paid
        ),
        column.money("bought", f"Cost bought in, with penalties ({money})", lambda row: at(row).bought.cost),
        column.count("bought_short", "Plants short, bought in", lambda row: at(row).bought.short),
        column.money(
            "difference", f"In-house less bought in, with penalties ({money})", lambda row: at(row).difference
        ),
    ]


def _result_columns(scenario: Scenario, at: Callable[[Record], Point]) -> list[column.Column[Record]]:
    """The results of both ways, where orders have prices."""
    money = scenario.nursery.currency
    if all(order.price is None for order in scenario.orders):
        return []
    return [
        column.money("house_left", f"Result in-house ({money})", lambda row: at(row).house.result),
        column.money("bought_left", f"Result bought in ({money})", lambda row: at(row).bought.result),
    ]


def _curve(scenario: Scenario, of: str, curve: Curve) -> Section:
    subject, money = SUBJECTS[of], scenario.nursery.currency
    title = f"In-house and bought in against {subject.words}"
    shows = "Lines: cost in-house and cost bought in, by factor."
    both_ways: list[column.Column[Point]] = _columns(scenario, of, lambda point: point)
    note = CONTINUOUS_COSTS
    if curve.whole:
        beside = {point.factor: point for point in curve.continuous}
        both_ways += [
            column.money("least", f"Surely no less than ({money})", lambda point: point.least),
            column.money("most", f"Surely no more than ({money})", lambda point: point.most),
            column.money(
                "continuous",
                f"Continuous: in-house less bought in ({money})",
                lambda point: beside[point.factor].difference,
            ),
        ]
        note = (
            "Costs are those of plans in whole trays, packs and hands. Each plan may miss its "
            "least cost by its gap. So the least "
            "costs surely differ by no less than the one and no more than the other figure beside it. "
            "Continuous: the difference where trays, packs and hands may be fractional."
        )
    return column.section(
        "Curve",
        "Cost of both ways against the factor, with a picture.",
        [
            f"In-house: every product with an offer is grown. Bought in: every product with an offer is "
            f"bought. Products without an offer stay as they are. {subject.note}",
            "Both costs include the penalties for plants short. Where one way delivers less than the other, "
            f"the costs do not compare: the last column names the other way. {note}",
        ],
        curve.told,
        [*both_ways, column.text("cheaper", "Cheaper, or the only one", lambda point: point.cheaper)],
        Chart("line", title, shows, "factor", ("house", "bought"), money),
    )


def _changes(scenario: Scenario, of: str, changes: Sequence[Change]) -> Section:
    factor: list[column.Column[Change]] = _figure_columns(scenario, of, lambda each: each.factor)
    return column.section(
        "Break-evens",
        "Where the cheaper of two plans in whole trays changes.",
        [
            "A change is sought between two points of the curve whose cheaper ways differ and are sure, or "
            "lie at the ends. Between them, the factors are halved; at last, the difference is taken to move "
            "in a line. Surely: the nearest factor tried at which the difference exceeds the gaps of the two "
            "plans; blank: none was found. Two changes between the same two points stay unseen: choose a "
            "narrower range.",
        ],
        changes,
        [
            *factor,
            column.text("below", "Cheaper below", lambda each: each.below),
            column.factor("low", "Surely so at factor", lambda each: each.low),
            column.text("above", "Cheaper above", lambda each: each.above),
            column.factor("high", "Surely so at factor", lambda each: each.high),
        ],
    )


def _found(scenario: Scenario, of: str, found: Sequence[BreakEven]) -> Section:
    both_ways: list[column.Column[BreakEven]] = _columns(scenario, of, lambda each: each.at)
    return column.section(
        "Continuous",
        "Where both ways cost the same in the continuous program.",
        [
            "A break-even is sought between two neighbouring points of the curve where the cheaper way "
            "changes. Two crossings between the same two points stay unseen: choose a narrower range.",
            "A cost may jump: where the orders of a delivery reach the offer's least quantity, or where a "
            "margin set by a service level grows by one join. The two costs then differ at the break-even "
            f"by the size of the jump. {CONTINUOUS_COSTS}",
        ],
        found,
        [
            *both_ways,
            column.text("below", "Cheaper below", lambda each: each.below or None),
            column.text("above", "Cheaper above", lambda each: each.above or None),
        ],
        prints=False,
    )

"""Parts of the second statement: a program builder, days, shares, and what can be grown."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cache
from itertools import groupby
from math import inf
from typing import NamedTuple

import numpy as np
from scipy.integrate import quad
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array
from scipy.stats import beta, betabinom, binom, norm

from model.scenario.choices import MethodKind, Part, Period
from model.scenario.entities import Product, Scenario, SeedLot, TrayFormat
from model.scenario.records.methods import Method
from model.scenario.records.trade import BuyInOffer
from tests.independent_rooms import ZonesChosen

QUANTILES = 2000
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")

Coefs = dict[int, float]


@dataclass
class Builder:
    """A mixed-integer program, variable by variable and row by row; all variables are at least 0."""

    costs: list[float] = field(default_factory=list)
    uppers: list[float] = field(default_factory=list)
    lumpy: list[bool] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    rows: list[tuple[Coefs, float, float]] = field(default_factory=list)
    constant: float = 0.0

    def add_var(self, name: str, cost: float = 0.0, *, lumpy: bool = False, upper: float = inf) -> int:
        """A new variable; its number."""
        self.names.append(name)
        self.costs.append(cost)
        self.lumpy.append(lumpy)
        self.uppers.append(upper)
        return len(self.names) - 1

    def add_row(self, coefs: Coefs, lower: float, upper: float) -> None:
        """lower ≤ Σ coefficient · variable ≤ upper."""
        if coefs:
            self.rows.append((dict(coefs), lower, upper))

    def at_most(self, left: Coefs, right: Coefs, constant: float = 0.0) -> None:
        """Left ≤ right + constant."""
        self.add_row(plus(left, right, -1.0), -inf, constant)

    def equal(self, left: Coefs, right: Coefs, constant: float = 0.0) -> None:
        """Left = right + constant."""
        self.add_row(plus(left, right, -1.0), constant, constant)

    def solve(self, whole: bool) -> float:
        """The least value of the objective."""
        if not self.names:
            return self.constant
        data = [(r, v, c) for r, (coefs, _, _) in enumerate(self.rows) for v, c in coefs.items()]
        r, v, c = zip(*data, strict=True)
        result = milp(
            np.array(self.costs),
            integrality=np.array(self.lumpy, dtype=int) if whole else None,
            bounds=Bounds(0.0, np.array(self.uppers)),
            constraints=LinearConstraint(
                csr_array((c, (r, v)), shape=(len(self.rows), len(self.names))),
                np.array([lower for _, lower, _ in self.rows]),
                np.array([upper for _, _, upper in self.rows]),
            ),
            options={"mip_rel_gap": 0.0},
        )
        if result.status != 0:
            raise ArithmeticError(result.message)
        return float(result.fun) + self.constant


def plus(left: Coefs, right: Coefs, factor: float = 1.0) -> Coefs:
    """Left + factor · right, term by term."""
    total = dict(left)
    for variable, coef in right.items():
        total[variable] = total.get(variable, 0.0) + factor * coef
    return total


def times(coefs: Coefs, factor: float) -> Coefs:
    """Factor · coefs."""
    return {variable: factor * coef for variable, coef in coefs.items()}


def sum_after(drawn: dict[int, Coefs], t: int) -> Coefs:
    """Seedlings drawn after day t."""
    total: Coefs = {}
    for day, coefs in drawn.items():
        if day > t:
            total |= coefs
    return total


class Days:
    """Day numbers from the first day of the scenario."""

    def __init__(self, scenario: Scenario) -> None:
        nursery = scenario.nursery
        self.first = nursery.first_day
        self.count = (nursery.last_day - nursery.first_day).days + 1
        off = {row.day for row in scenario.days_off}
        self.working = [
            self.weekday(t) in nursery.working_weekdays and self.at(t) not in off for t in range(self.count)
        ]

    def at(self, t: int) -> date:
        """The date of day t."""
        return self.first + timedelta(days=t)

    def number(self, day: date) -> int:
        """The number of a date."""
        return (day - self.first).days

    def brings(self, offer: BuyInOffer, t: int) -> bool:
        """Whether the offer may be delivered on day t."""
        day = self.at(t)
        return (
            self.working[t]
            and self.weekday(t) in offer.delivery_weekdays
            and t >= offer.lead_days
            and (offer.from_day is None or day >= offer.from_day)
            and (offer.to_day is None or day <= offer.to_day)
        )

    def weekday(self, t: int) -> str:
        """Mon to Sun."""
        return WEEKDAYS[self.at(t).weekday()]

    def next(self, t: int) -> int | None:
        """The first working day on or after t."""
        return next((d for d in range(t, self.count) if self.working[d]), None)

    def prev(self, t: int) -> int | None:
        """The last working day on or before t."""
        return next((d for d in range(t, -1, -1) if self.working[d]), None)

    def weeks(self) -> list[list[int]]:
        """Days of each ISO week, cut to the horizon."""
        by_week = groupby(range(self.count), lambda t: self.at(t).isocalendar()[:2])
        return [list(days) for _, days in by_week]


class Wave(NamedTuple):
    """Trays of a lot sown in a format on day ``sow``; ``bench`` its first day on the bench."""

    lot: SeedLot
    tray: TrayFormat
    sow: int
    bench: int
    usable: float
    trays: int | None = None
    """Trays on hand on the first day; None for a wave still to be sown."""
    counted: bool = False


class Stay(NamedTuple):
    """Days in a zone after the graft day."""

    zone: str
    healing: bool
    start: int
    end: int


class Join(NamedTuple):
    """The variable of joins of one flow from one pair of waves."""

    variable: int
    waves: tuple[Wave, ...]
    match: float
    take: float


@dataclass
class Flow:
    """The joins of a product on day ``graft`` and their variables."""

    product: Product
    method: Method
    tray: TrayFormat
    graft: int
    stays: list[Stay]
    ready: int
    joins: list[Join]
    rooms: ZonesChosen
    number: int = 0
    made: int = -1
    trays: int = -1
    healed: int = -1
    surplus: int = -1
    plants: int | None = None
    """Plants on hand on the first day; None for a flow still to be grafted."""

    @property
    def kept(self) -> float:
        """Share of healed plants that can be sold; plants on hand that are ready were counted so."""
        return 1.0 if self.plants is not None and self.ready <= 0 else self.method.finish_survival

    def care_on(self, t: int) -> float:
        """Multiple of care on day t: that of the stage of the day; days of waiting are the last stage's."""
        left = list(zip(self.rooms.stages, self.rooms.care, strict=True))
        for stay in self.stays:
            until, multiple = stay.start, 1.0
            while left and (left[0][0].zone, left[0][0].part is Part.HEALING) == (stay.zone, stay.healing):
                if t >= until:
                    multiple = left[0][1]
                until += left.pop(0)[0].days
            if stay.start <= t < stay.end:
                return multiple
        return 1.0

    def held_care_on(self, t: int) -> float:
        """Multiple of tending on day t for plants that wait for their due day."""
        return self.rooms.held_care

    @property
    def grafted(self) -> bool:
        """Whether it is grafted."""
        return self.method.kind is not MethodKind.OWN_ROOT


@cache
def paired_share(mean_a: float, sd_a: float, mean_b: float, sd_b: float, tolerance: float) -> float:
    """Share of sorted quantiles of two Normals that find a partner within the tolerance."""
    z = norm.ppf((np.arange(QUANTILES) + 0.5) / QUANTILES)
    a, b = (mean_a + sd_a * z).tolist(), (mean_b + sd_b * z).tolist()
    pairs, waiting = 0, 0
    for stem in a:
        while waiting < QUANTILES and b[waiting] < stem - tolerance:
            waiting += 1
        if waiting < QUANTILES and b[waiting] <= stem + tolerance:
            pairs, waiting = pairs + 1, waiting + 1
    return pairs / QUANTILES


@cache
def fewest_joins(quantity: int, take: float, kept: float, alike: float, level: float) -> int:
    """Smallest n whose survivors reach the quantity with the chance ``level``, counted up."""
    n = quantity
    while chance(n, quantity, take, kept, alike) < level:
        n += 1
    return n


def chance(n: int, quantity: int, take: float, kept: float, alike: float) -> float:
    """Chance that the quantity survives of n joins; joins of a graft day fare ``alike``."""
    if alike == 0 or take == 1:
        return float(binom.sf(quantity - 1, n, take * kept))
    size = 1 / alike - 1
    healed = np.arange(quantity, n + 1)
    days = betabinom.pmf(healed, n, take * size, (1 - take) * size)
    return float(days @ binom.sf(quantity - 1, healed, kept))


@cache
def cheapest_joins(quantity: int, take: float, kept: float, alike: float, short: float, over: float) -> int:
    """The n of least expected loss, ``short`` a plant missing and ``over`` one too many; counted up."""

    def loss(n: int) -> float:
        survivors = np.arange(n + 1)
        if alike == 0 or take == 1:
            chances = binom.pmf(survivors, n, take * kept)
        else:
            size = 1 / alike - 1
            healed = betabinom.pmf(survivors, n, take * size, (1 - take) * size)
            chances = healed @ binom.pmf(survivors[None, :], survivors[:, None], kept)
        gone = quantity - survivors
        return float(chances @ np.where(gone > 0, short * gone, -over * gone))

    n = quantity
    while loss(n + 1) < loss(n) - 1e-9:  # one more join that costs as much as it saves is not made
        n += 1
    return n


@cache
def fewest_cells(
    wanted: int, germination: float, alike: float, seeds: int, sound: float, level: float
) -> int:
    """Smallest number of cells with ``wanted`` usable seedlings at the chance ``level``, counted up."""

    def enough(n: int) -> float:
        if alike == 0 or germination == 1:
            return float(binom.sf(wanted - 1, n, (1 - (1 - germination) ** seeds) * sound))
        size = 1 / alike - 1
        lots = beta(germination * size, (1 - germination) * size)
        given = lambda g: lots.pdf(g) * binom.sf(wanted - 1, n, (1 - (1 - g) ** seeds) * sound)  # noqa: E731
        return float(quad(given, *lots.ppf([1e-12, 1 - 1e-12]), limit=200)[0])

    n = wanted
    while enough(n) < level:
        n += 1
    return n


def matched_pairs(a: Sequence[float], b: Sequence[float], tolerance: float) -> int:
    """Most pairs of one of ``a`` and one of ``b`` (both sorted, mm) that differ by at most ``tolerance``.

    Greedy pairing of the smallest that fit is optimal on a line.
    """
    i = j = pairs = 0
    while i < len(a) and j < len(b):
        if abs(a[i] - b[j]) <= tolerance:
            pairs, i, j = pairs + 1, i + 1, j + 1
        elif a[i] < b[j]:
            i += 1
        else:
            j += 1
    return pairs


def overheads(scenario: Scenario) -> float:
    """What the rows of the table overheads cost over the days of the plan."""
    days = (scenario.nursery.last_day - scenario.nursery.first_day).days + 1
    times = {
        Period.SEASON: 1.0,
        Period.YEAR: days / 365,
        Period.MONTH: days * 12 / 365,
        Period.WEEK: days / 7,
    }
    return sum(row.amount * times[row.period] for row in scenario.overheads)

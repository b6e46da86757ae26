"""What may still be sold of a product on a day, beyond the orders booked: the exact distribution.

Inquiries come about independently, each with one of its rows or with none. An order that may be cancelled
frees its plants, and does not grow then. Plants go to the highest price first, those freed before those held.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial, reduce

import numpy as np
from numpy.typing import NDArray

from model.scenario.entities import Order, Product, Scenario
from model.scenario.records.trade import Inquiry
from model.scenario.run_days import leaving


@dataclass(frozen=True, slots=True, eq=False)
class Chances:
    """A distribution of whole plants: ``plants`` in rising order, each with its chance."""

    plants: NDArray[np.int64]
    chance: NDArray[np.float64]

    def at_least(self, plants: NDArray[np.int64]) -> NDArray[np.float64]:
        """Chance of so many plants or more, for each number of them."""
        tail = np.append(np.cumsum(self.chance[::-1])[::-1], 0.0)
        found: NDArray[np.float64] = tail[np.searchsorted(self.plants, plants)]
        return found

    def mean(self, most: float = np.inf) -> float:
        """Expected plants above 0, of at most ``most``."""
        return float(np.clip(self.plants, 0, most) @ self.chance)

    def mean_below(self) -> float:
        """Expected plants below 0, as a positive number."""
        return float(np.maximum(-self.plants, 0) @ self.chance)


def chances(outcomes: Iterable[tuple[int, float]]) -> Chances:
    """The distribution of outcomes, each with plants and chance; equal plants are put together."""
    plants, chance = zip(*outcomes, strict=True)
    found, place = np.unique(np.array(plants, dtype=np.int64), return_inverse=True)
    return Chances(found, np.bincount(place, np.array(chance, dtype=float)).astype(float))


def summed(parts: Iterable[Chances]) -> Chances:
    """The distribution of the sum of independent numbers of plants; that of none is 0 for sure."""

    def both(one: Chances, other: Chances) -> Chances:
        plants = np.add.outer(one.plants, other.plants).ravel()
        found, place = np.unique(plants, return_inverse=True)
        chance = np.bincount(place, np.outer(one.chance, other.chance).ravel())
        return Chances(found, chance.astype(float))

    return reduce(both, parts, chances([(0, 1.0)]))


@dataclass(frozen=True, slots=True, eq=False)
class Demand:
    """What may still be sold of a product on a due day.

    With the prices asked in falling order, and salvage as a sure buyer at its price:

    N[j] = Σ plants asked for at price[j] or more − Σ plants freed by orders cancelled
    sales(q) = Σ_j (price[j] − price[j+1]) · E[min(max(N[j], 0), q)]
    resold = Σ_j (price[j] − price[j+1]) · (E[freed] − E[max(−N[j], 0)])

    Each plant held more earns no more than the one before: ``sales`` is concave.

    ``prices``: in falling order, in currency a plant; ``net``: N for each of them. ``asked``: plants asked
    for at any price less those freed, salvage apart. ``freed``: expected plants freed by cancellations.
    """

    product: str
    due_day: date
    prices: tuple[float, ...]
    net: tuple[Chances, ...]
    asked: Chances
    freed: float

    @property
    def most(self) -> int:
        """Most plants that may be asked for beyond those freed."""
        return max(0, int(self.asked.plants[-1]))

    @property
    def _drops(self) -> list[tuple[float, Chances]]:
        """Each price less the next lower one, with N."""
        lower = (*self.prices, 0.0)[1:]
        return [(p - q, net) for p, q, net in zip(self.prices, lower, self.net, strict=True)]

    def sales(self, plants: float) -> float:
        """Expected sales of so many plants held, in currency, with salvage of those left."""
        return sum(drop * net.mean(plants) for drop, net in self._drops)

    @property
    def resold(self) -> float:
        """Expected sales of plants of cancelled orders where nothing is held, in currency."""
        return sum(drop * (self.freed - net.mean_below()) for drop, net in self._drops)

    def sold(self, plants: float) -> float:
        """Expected plants sold to inquiries of so many held."""
        return self.asked.mean(plants)

    def all_sold(self, plants: int) -> float:
        """Chance that so many plants held are all sold to inquiries."""
        return float(self.asked.at_least(np.array([plants]))[0])

    def steps(self, most: int) -> list[tuple[int, float]]:
        """Plants, and what each of them earns when held, in currency, from the first plant held on.

        The steps are the straight pieces of ``sales``. If they are more than ``most``, neighbours whose
        values differ by at most one part in ``most`` of the first value are put together: the sum is then
        still exact where a step ends.
        """
        levels = np.unique(np.concatenate([self.asked.plants, *(net.plants for net in self.net)]))
        levels = levels[(levels > 0) & (levels <= self.most)]
        if not len(levels):
            return []
        widths = np.diff(levels, prepend=0)
        values = sum((drop * net.at_least(levels) for drop, net in self._drops), np.zeros(len(levels)))
        finest = values[0] / most if len(levels) > most else 0.0
        found: list[list[float]] = []
        first = np.inf
        for width, value in zip(widths.tolist(), values.tolist(), strict=True):
            if found and first - value <= finest:
                found[-1][0] += width
                found[-1][1] += width * value
            else:
                found.append([width, width * value])
                first = value
        return [(int(width), total / width) for width, total in found if total > 0]


def asked_for(scenario: Scenario) -> bool:
    """Whether anything may still be sold or cancelled."""
    return bool(scenario.inquiries) or any(order.cancel_chance for order in scenario.orders)


def demands(scenario: Scenario, plants: Mapping[str, float] | None = None) -> list[Demand]:
    """What may still be sold, by product and due day in order.

    ``plants``: those delivered of each order, which it frees where it is cancelled; None: those ordered. A
    due day is that on which plants leave: with a run, that of the run. Plants by which an order grows leave
    with it.
    """
    products = {row.product: row for row in scenario.products}
    named = {order.order: order for order in scenario.orders}
    inquiries: dict[tuple[str, date], list[Inquiry]] = defaultdict(list)
    orders: dict[tuple[str, date], list[Order]] = defaultdict(list)
    for row in scenario.inquiries:
        leaves = leaving(scenario, row) if row.grows is None else leaving(scenario, named[row.grows])
        inquiries[row.product, leaves.due_day].append(row)
    grown = {row.grows for row in scenario.inquiries}
    for order in scenario.orders:
        if order.cancel_chance or order.order in grown:
            orders[order.product, leaving(scenario, order).due_day].append(order)
    return [
        _demand(products[product], due, inquiries[product, due], orders[product, due], plants or {})
        for product, due in sorted({*inquiries, *orders}, key=lambda key: (key[1], key[0]))
    ]


def _demand(
    product: Product,
    due: date,
    inquiries: Sequence[Inquiry],
    orders: Sequence[Order],
    delivered: Mapping[str, float],
) -> Demand:
    freed = {order.order: round(delivered.get(order.order, order.quantity)) for order in orders}
    by_name: dict[str, list[Inquiry]] = defaultdict(list)
    for row in inquiries:
        by_name[row.inquiry].append(row)
    groups = list(by_name.values())

    def net(counts: Callable[[Inquiry], bool]) -> Chances:
        """Plants of the inquiries that count, less those freed."""
        alone = [_come_about(rows, counts) for rows in groups if rows[0].grows is None]
        for order in orders:
            growing = summed(_come_about(rows, counts) for rows in groups if rows[0].grows == order.order)
            kept = 1 - order.cancel_chance
            more = zip(growing.plants.tolist(), (kept * growing.chance).tolist(), strict=True)
            alone.append(chances([*more, (-freed[order.order], order.cancel_chance)]))
        return summed(alone)

    salvage = product.salvage_price if product.salvage_most else 0.0
    prices = sorted({salvage, *(row.price for row in inquiries)} - {0.0}, reverse=True)
    nets = []
    for price in prices:
        wanted = net(partial(_pays, price))
        buyer = [chances([(product.salvage_most, 1.0)])] if salvage >= price else []
        nets.append(summed([wanted, *buyer]))
    return Demand(
        product.product,
        due,
        tuple(prices),
        tuple(nets),
        net(lambda row: True),
        sum(order.cancel_chance * freed[order.order] for order in orders),
    )


def _pays(price: float, row: Inquiry) -> bool:
    return row.price >= price


def _come_about(rows: Sequence[Inquiry], counts: Callable[[Inquiry], bool]) -> Chances:
    """Plants of one inquiry that count; its rows exclude each other."""
    none = max(0.0, 1 - sum(row.chance for row in rows))
    return chances([(0, none), *((row.quantity if counts(row) else 0, row.chance) for row in rows)])

"""Index sets of the program: what each variable and each row stands for, by the symbols of docs/maths.md."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property
from itertools import groupby
from typing import Any, NamedTuple

from model.network.types import Network
from model.program.amounts import Amounts, Key
from model.scenario.calendar import Week
from model.scenario.entities import Decline, Pack, Product

WHOLE = (
    "sown",
    "packs_bought",
    "units_opened",
    "offer_taken",
    "wave_opened",
    "temporary_hands",
    "new_hands",
    "bought",
    "short",
    "declined",
    "declined_whole",
)
"""Variables that are whole in a plan of whole trays."""

HELD = ("temporary_hands", "new_hands", "offer_taken", "wave_opened", "declined_whole")
"""Variables held at the plan's values when shadow prices are asked for."""

Coefs = dict[Key, float]
Label = tuple[Any, ...]


class Row(NamedTuple):
    """lower ≤ Σ coefficient · variable ≤ upper; None for no bound."""

    coefs: Coefs
    lower: float | None
    upper: float | None


Rows = dict[Label, Row]


class CrewDaySkill(NamedTuple):
    """Index of h and h′: hours of a crew at a skill on a day."""

    crew: str
    skill: str
    day: int


class CrewOnDay(NamedTuple):
    """Index of reg and ot."""

    crew: str
    day: int


class CrewInWeek(NamedTuple):
    """Index of M and A; ``week`` numbers the calendar's weeks."""

    crew: str
    week: int


class OfferDay(NamedTuple):
    """Index of B: a delivery of an offer on a day, with the buy-ins it may carry."""

    offer: int
    day: int
    buy_ins: tuple[int, ...]


@dataclass
class IndexSets:
    """Index sets of the program of one network."""

    network: Network
    amounts: Amounts

    @cached_property
    def weeks(self) -> list[Week]:
        """Weeks of the calendar."""
        return self.network.calendar.weeks

    @cached_property
    def week_of(self) -> dict[int, int]:
        """Number of the week of each day."""
        return {t: q for q, week in enumerate(self.weeks) for t in week.days}

    @cached_property
    def needs(self) -> dict[tuple[str, int], Coefs]:
        """Hours of each skill needed on each day."""
        needs: dict[tuple[str, int], Coefs] = defaultdict(lambda: defaultdict(float))
        for work in self.amounts.work:
            needs[work.skill, work.day][work.key] += work.hours
        return dict(sorted(needs.items()))

    @cached_property
    def crew_skill_days(self) -> list[CrewDaySkill]:
        """Index list of h."""
        return [
            CrewDaySkill(name, skill, day)
            for name, limits in self.amounts.crews.items()
            for skill, day in self.needs
            if skill in limits.crew.skills
        ]

    @cached_property
    def temporary_skill_days(self) -> list[CrewDaySkill]:
        """Index list of h′."""
        works = self.network.calendar.is_working
        return [
            index
            for index in self.crew_skill_days
            if works[index.day] and self.amounts.crews[index.crew].crew.temp_heads_most > 0
        ]

    @cached_property
    def crew_days(self) -> list[CrewOnDay]:
        """Index list of reg and ot."""
        worked = {CrewOnDay(*key) for key in self.network.past.worked}
        return sorted({CrewOnDay(i.crew, i.day) for i in self.crew_skill_days} | worked)

    @cached_property
    def crew_weeks(self) -> list[CrewInWeek]:
        """Index list of M and A."""
        return [
            CrewInWeek(name, q)
            for name, limits in self.amounts.crews.items()
            if limits.crew.temp_heads_most > 0
            for q in range(len(self.weeks))
        ]

    @cached_property
    def packs(self) -> list[Pack]:
        """Index list of P."""
        return list(self.network.scenario.packs)

    @cached_property
    def items(self) -> dict[str, tuple[float, int]]:
        """Stock and lead days of every seed lot and supply."""
        scenario = self.network.scenario
        items = {lot.lot: (float(lot.stock), lot.lead_days) for lot in scenario.seed_lots}
        return items | {s.supply: (s.stock, s.lead_days) for s in scenario.supplies}

    @cached_property
    def offer_days(self) -> list[OfferDay]:
        """Index list of B: deliveries with a least or a most quantity."""
        found = []
        buy_ins = list(enumerate(self.network.buy_ins))
        for (f, day), group in groupby(buy_ins, key=lambda item: (item[1].offer, item[1].day)):
            offer = self.network.offers[f]
            if offer.least_quantity > 0 or offer.most_per_delivery is not None:
                found.append(OfferDay(f, day, tuple(i for i, _ in group)))
        return found

    def declinable(self, how: Decline) -> list[int]:
        """Index list of D (orders that may be declined in part) or W (whole): indices of orders."""
        orders = self.network.orders
        return [o for o, term in enumerate(orders) if term.order.decline is how]

    @cached_property
    def declined(self) -> list[tuple[Key, int, float]]:
        """Variables D and W: each with the index of its order and the plants that one of it declines."""
        orders = self.network.orders
        parts = [(("declined", n), o, 1.0) for n, o in enumerate(self.declinable(Decline.PART))]
        whole = enumerate(self.declinable(Decline.WHOLE))
        return parts + [(("declined_whole", n), o, float(orders[o].order.quantity)) for n, o in whole]

    @cached_property
    def salvaged(self) -> list[tuple[Product, list[int]]]:
        """Index list of z: products with a salvage price, and their flows."""
        flows: dict[str, list[int]] = defaultdict(list)
        for f, flow in enumerate(self.network.flows):
            flows[flow.product.product].append(f)
        return [
            (product, flows[product.product])
            for product in self.network.scenario.products
            if product.salvage_price > 0 and product.salvage_most > 0 and flows[product.product]
        ]

    @cached_property
    def counts(self) -> dict[str, int]:
        """Number of variables of each letter."""
        network, amounts = self.network, self.amounts
        waves = len(network.waves)
        return {
            "sown": waves,
            "left": len(amounts.left),
            "joins": len(network.joins),
            "grafted": len(network.flows),
            "loaded": len(network.flows),
            "healed": len(network.flows),
            "delivered": len(network.deliveries),
            "surplus": len(network.flows),
            "sold": len(self.salvaged),
            "bought": len(network.buy_ins),
            "short": len(network.orders),
            "declined": len(self.declinable(Decline.PART)),
            "declined_whole": len(self.declinable(Decline.WHOLE)),
            "in_unit": len(amounts.loads),
            "units_opened": len(amounts.batches),
            "worked": len(self.crew_skill_days),
            "temporary_worked": len(self.temporary_skill_days),
            "regular": len(self.crew_days),
            "overtime": len(self.crew_days),
            "temporary_hands": len(self.crew_weeks),
            "new_hands": len(self.crew_weeks),
            "packs_bought": len(self.packs),
            "offer_taken": len(self.offer_days),
            "wave_opened": waves if network.scenario.nursery.wave_cost > 0 else 0,
        }

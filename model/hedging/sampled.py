"""The seasons that a plan is hedged over: what each makes of every wave and join, as shares of the mean.

They are drawn as ``model.risk.batches`` draws them, but stratified (Latin hypercube; McKay, Beckman and
Conover 1979, from memory): each batch has one season in each of N strata of equal chance, in an order of its
own. So a mishap of chance 1 in N strikes each batch in just one of the seasons; drawn freely, some days would
be struck and then shunned.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

import numpy as np
from scipy.special import betaincinv
from scipy.stats import binom

from model.network.as_counted import grafted_key, joins_made, plants_delivered, sown_key
from model.network.types import Flow, Join, Network, Wave
from model.rates.yields import stand, usable_share
from model.risk.batches import Floats, Seasons, varying_share
from model.scenario.batches import Mishap
from model.scenario.choices import Strikes, ZoneMode
from model.scenario.entities import SeedLot


class SampledSeasons(NamedTuple):
    """What each season makes of the network, as a share of what is expected; all seasons are equally likely.

    ``stand``: usable seedlings of a tray, shape (waves, seasons). ``take``: plants finished of a join, shape
    (joins, seasons).
    """

    stand: Floats
    take: Floats

    @property
    def number(self) -> int:
        """Number of seasons."""
        number: int = self.stand.shape[1]
        return number

    @property
    def as_expected(self) -> bool:
        """Whether nothing varies: each season is the one expected."""
        return all(np.allclose(share, 1.0, rtol=0, atol=1e-9) for share in self)


@dataclass(frozen=True, slots=True)
class StratifiedSeasons(Seasons):
    """Seasons of which each batch has one in each of ``number`` strata of equal chance."""

    def luck(self, *batch: object) -> Floats:
        """Numbers on (0, 1), one in each of the intervals of length 1 / number."""
        random = self.random(*batch)
        luck: Floats = (random.permutation(self.number) + random.random(self.number)) / self.number
        return luck

    def germination(self, lot: SeedLot, sown: date) -> Floats:
        """Germination of the lot's seeds sown on a day, in each season."""
        rate = varying_share(lot.germination, lot.between_lots, self.luck("lot", lot.lot))
        return _about(rate, lot.between_sowings, self.luck("sowing", lot.lot, sown))


def _about(rates: Floats, correlation: float, luck: Floats) -> Floats:
    """Shares that are Beta about each rate, at the quantiles ``luck``."""
    if correlation == 0:
        return rates
    size, inside = 1 / correlation - 1, (rates > 0) & (rates < 1)
    among = np.where(inside, rates, 0.5)
    found: Floats = np.where(inside, betaincinv(among * size, (1 - among) * size, luck), rates)
    return found


def sampled(network: Network, joins: Sequence[float], seasons: int, seed: int) -> SampledSeasons:
    """Seasons of a network. ``joins``: how many of each join single plants are drawn for.

    Seeds, seedlings and plants live or die singly too. Their number is binomial at this size, whatever the
    plan then makes it. What is counted does not vary; of what was sown or joined before today and is not
    counted yet, there is at least what has been used of it. Raises ValueError where ``seasons`` is below 1.
    """
    if seasons < 1:
        raise ValueError("seasons must be at least 1")
    season = _Season(network, StratifiedSeasons(seasons, seed))
    used = _seedlings_used(network)
    stands = np.ones((len(network.waves), seasons))
    for w, wave in enumerate(network.waves):
        drawn = [j for j in network.draws[w] if joins[j] > 0]
        if drawn and (wave.sow >= network.past.today or _uncounted(network, wave)):
            seedlings = sum(joins[j] / network.joins[j].match for j in drawn)
            luck = season.stand(wave, seedlings, sum(joins[j] for j in drawn) / seedlings)
            stands[w] = np.maximum(luck, used.get(w, 0.0))
    take = np.ones((len(network.joins), seasons))
    counted, delivered = _counted(network), _delivered(network)
    for f, flow in enumerate(network.flows):
        made = [j for j in network.flow_joins[f] if joins[j] > 0]
        if not made or flow.key in network.past.finished:
            continue
        left = season.left(flow)
        for heals in ([j for j in made if j not in counted], [j for j in made if j in counted]):
            if heals:
                take[heals] = season.healed(flow, heals, joins, left, counted=heals[0] in counted)
        if f in delivered:
            grown = {j: joins[j] * network.joins[j].take * flow.survival for j in made}
            missing = delivered[f] - sum(plants * take[j] for j, plants in grown.items())
            take[made] += np.maximum(missing, 0.0) / sum(grown.values())
    return SampledSeasons(stands, take)


def _uncounted(network: Network, wave: Wave) -> bool:
    """Whether a wave was sown before today, and its seedlings are not counted yet."""
    sown = network.past.sown.get(sown_key(wave))
    return sown is not None and sown.counted is None


def _seedlings_used(network: Network) -> dict[int, float]:
    """Share of a wave's expected seedlings that joins before today have used, by index."""
    used: dict[int, float] = defaultdict(float)
    for j, made in joins_made(network).items():
        for w in network.joins[j].waves if made > 0 else ():
            wave = network.waves[w]
            used[w] += (
                made / network.joins[j].match / (wave.usable * network.past.sown[sown_key(wave)].number)
            )
    return used


def _counted(network: Network) -> set[int]:
    """Joins made before today whose healed plants are counted, by index."""
    grafted = network.past.grafted
    return {
        j
        for j, made in joins_made(network).items()
        if made > 0 and grafted[grafted_key(network, network.joins[j])].counted is not None
    }


def _delivered(network: Network) -> dict[int, float]:
    """Plants of each flow that deliveries before today took, with their margins: so many were finished."""
    found: dict[int, float] = defaultdict(float)
    for i, plants in plants_delivered(network).items():
        if plants > 0:
            delivery = network.deliveries[i]
            found[delivery.flow] += plants * (1 + delivery.margin)
    return found


class _Season:
    """Draws of the batches of a network."""

    def __init__(self, network: Network, drawn: StratifiedSeasons) -> None:
        self.network, self.drawn = network, drawn
        self.sure = np.ones(drawn.number)
        self.zones = {zone.zone: zone for zone in network.scenario.zones}

    def _mishaps(self, strikes: Strikes) -> list[Mishap]:
        return [mishap for mishap in self.network.scenario.mishaps if mishap.strikes is strikes]

    def _left(self, mishap: Mishap, *batch: object) -> Floats:
        """Share that a mishap leaves of a batch."""
        struck = self.drawn.luck("mishap", mishap.mishap, *batch) < mishap.chance
        left: Floats = np.where(struck, 1 - mishap.share_lost, 1.0)
        return left

    def stand(self, wave: Wave, seedlings: float, match: float) -> Floats:
        """Usable seedlings of a wave that find a partner, as a share of those expected.

        ``seedlings``: how many are drawn on, ``match``: the share of them that should find one.
        """
        lot, day = wave.lot, self.network.calendar.date(wave.sow)
        rates = self.drawn.germination(lot, day)
        share: Floats = usable_share(rates, lot.seeds_per_cell, lot.grade_out)
        for mishap in self._mishaps(Strikes.GERMINATION):
            if mishap.lot in (None, lot.lot):
                share *= self._left(mishap, lot.lot)
        expected = stand(lot)
        luck = self.drawn.luck("single seedlings", lot.lot, wave.tray.format, day)
        found: Floats = share / expected * _singly(luck, share * match, seedlings / expected)
        return found

    def take(self, flow: Flow, join: Join) -> Floats:
        """Take of a join as a share of the one expected, mishaps left out."""
        day = self.network.calendar.date(flow.graft)
        found: Floats = self.drawn.take(flow.method, day, join.take) / join.take
        return found

    def left(self, flow: Flow) -> Floats:
        """Share of a flow's plants that no mishap takes.

        Of a zone run in units, what is loaded on a day counts as one load.
        """
        at = self.network.calendar.date
        found = self.sure
        today = self.network.past.today
        for mishap in self._mishaps(Strikes.GRAFT_DAY):
            if flow.grafted and flow.graft >= today and mishap.method in (None, flow.method.method):
                found = found * self._left(mishap, flow.method.method, at(flow.graft))
        for mishap in self._mishaps(Strikes.ZONE):
            for stay in flow.stays:
                if stay.zone == mishap.zone and stay.end > today:
                    pool = self.zones[stay.zone].mode is ZoneMode.POOL
                    for day in range(max(stay.start, today), stay.end) if pool else (stay.start,):
                        found = found * self._left(mishap, at(day), 0)
        return found

    def healed(
        self, flow: Flow, made: list[int], joins: Sequence[float], left: Floats, *, counted: bool
    ) -> Floats:
        """Plants finished of some joins of a flow as a share of those expected, shape (joins, seasons).

        ``left``: share that no mishap takes. Where healed plants are ``counted``, only finishing varies.
        """
        each = [self.network.joins[j] for j in made]
        share = np.array([left if counted else self.take(flow, join) * left for join in each])
        number = sum(joins[j] * (self.network.joins[j].take if counted else 1.0) for j in made)
        chance = share[0] * (1.0 if counted else each[0].take) * flow.survival
        day = self.network.calendar.date(flow.graft)
        found: Floats = share * _singly(
            self.drawn.luck("single plants", flow.product.product, day), chance, number
        )
        return found


def _singly(luck: Floats, chance: Floats, number: float) -> Floats:
    """Successes of single plants at the quantiles ``luck``, as a share of those expected: binomial."""
    of = max(1, round(number))
    inside = (chance > 0) & (chance < 1)
    safe = np.where(inside, chance, 0.5)
    found: Floats = np.where(inside, binom.ppf(luck, of, safe) / (of * safe), 1.0)
    return found

"""The batches of simulated seasons: how well each lot, sowing and graft day fares.

Every batch has random numbers of its own, made from the seed and the batch's name. So two plans of a scenario
meet the same seasons, and a change of one batch leaves all others as they are.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from datetime import date
from hashlib import sha256

import numpy as np
from numpy.random import PCG64, Generator, SeedSequence
from numpy.typing import NDArray
from scipy.special import betaincinv

from model.scenario.entities import SeedLot
from model.scenario.records.methods import Method

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]


def varying_share(mean: float, correlation: float, luck: Floats) -> Floats:
    """Shares of a Beta distribution at the quantiles ``luck``, in the shape of ``luck``.

    The Beta of ``model.rates.overseeding`` with that mean and intra-lot correlation in [0, 1); at correlation
    0 every share is the mean. ``luck`` is uniform on (0, 1); a higher luck gives a higher share.
    """
    if correlation == 0 or mean <= 0 or mean >= 1:
        return np.full(luck.shape, mean)
    size = 1 / correlation - 1
    shares: Floats = betaincinv(mean * size, (1 - mean) * size, luck)
    return shares


@dataclass(frozen=True, slots=True)
class Seasons:
    """A number of seasons drawn from a seed (PCG64); arrays have one entry for each season."""

    number: int
    seed: int

    def random(self, *batch: Hashable) -> Generator:
        """The random numbers of a batch, named by words and dates; the same name gives the same numbers."""
        name = "\n".join(map(repr, map(str, batch))).encode()
        words = np.frombuffer(sha256(name).digest(), dtype=np.uint32).tolist()
        return Generator(PCG64(SeedSequence([self.seed, *words])))

    def luck(self, *batch: Hashable) -> Floats:
        """Uniform numbers on (0, 1)."""
        return self.random(*batch).random(self.number)

    def germination(self, lot: SeedLot, sown: date) -> Floats:
        """Germination of the lot's seeds sown on a day, in each season.

        The lot's rate is Beta about its germination, the sowing's is Beta about the lot's.
        """
        rate = varying_share(lot.germination, lot.between_lots, self.luck("lot", lot.lot))
        if lot.between_sowings == 0:
            return rate
        size = 1 / lot.between_sowings - 1
        inside = (rate > 0) & (rate < 1)
        among = np.where(inside, rate, 0.5)
        drawn = self.random("sowing", lot.lot, sown).beta(among * size, (1 - among) * size)
        return np.where(inside, drawn, rate)

    def take(self, method: Method, day: date, mean: float) -> Floats:
        """Take of the method's joins made on a day, in each season, where ``mean`` is expected.

        All joins of a method and graft day share one luck, so their takes are high or low together.
        """
        return varying_share(mean, method.between_days, self.luck("graft day", method.method, day))

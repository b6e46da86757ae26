"""Stand, stem match and take as shares, and the yearly cost of a module."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

from model.scenario.choices import MatchFrom
from model.scenario.entities import SeedLot, TrayFormat
from model.scenario.records.methods import AgeEffect, Method

QUANTILES = 2000
"""Sorted quantiles that represent a distribution of stem diameters: the share is exact to 1 in 2000."""

REMEMBERED = 100
"""Books whose stem matches are remembered."""

AgeEffects = dict[tuple[str, int, int], AgeEffect]


def stand(lot: SeedLot) -> float:
    """Usable seedlings per cell, a share.

    σ = (1 − (1 − germination)^seeds per cell) · (1 − grade-out)
    """
    return float(usable_share(lot.germination, lot.seeds_per_cell, lot.grade_out))


def usable_share(germination: ArrayLike, seeds: int, grade_out: float) -> NDArray[np.float64]:
    """``stand`` at any germination, shares of any shape."""
    share: NDArray[np.float64] = (1 - (1 - np.asarray(germination, dtype=float)) ** seeds) * (1 - grade_out)
    return share


def usable_per_tray(lot: SeedLot, tray: TrayFormat, sowing_margin: float) -> float:
    """Usable seedlings that the plan expects from a tray.

    κ[w] = cells · σ / (1 + fixed sowing margin)
    """
    return tray.cells * stand(lot) / (1 + sowing_margin)


def stem_diameter(lot: SeedLot, age: int) -> tuple[float, float]:
    """Mean and standard deviation of a lot's stem diameter at ``age`` days, both in mm."""
    if (
        lot.diameter_start_mm is None
        or lot.diameter_growth_mm_per_day is None
        or lot.diameter_spread_mm is None
    ):
        raise ValueError(f"seed lot {lot.lot!r} has no stem diameters")
    mean = lot.diameter_start_mm + lot.diameter_growth_mm_per_day * age
    spread = lot.diameter_spread_mm + lot.diameter_spread_growth_mm_per_day * age
    return mean, spread


def match_share(
    mean_a: ArrayLike, sd_a: ArrayLike, mean_b: ArrayLike, sd_b: ArrayLike, tolerance: ArrayLike
) -> NDArray[np.float64]:
    """Share of two equally large populations with Normal stem diameters that find a partner within tolerance.

    All arguments are in mm and broadcast against each other; the result has their common shape. Greedy
    pairing of ``QUANTILES`` sorted quantiles, for all pairs of populations at once.
    """
    arrays = np.broadcast_arrays(mean_a, sd_a, mean_b, sd_b, tolerance)
    shape = arrays[0].shape
    ma, sa, mb, sb, tol = (np.asarray(x, dtype=float).ravel() for x in arrays)
    z = np.append(ndtri((np.arange(QUANTILES) + 0.5) / QUANTILES), 0.0)
    i = np.zeros(ma.size, dtype=np.intp)
    j = np.zeros(ma.size, dtype=np.intp)
    pairs = np.zeros(ma.size)
    for _ in range(2 * QUANTILES):
        open_ = (i < QUANTILES) & (j < QUANTILES)
        if not open_.any():
            break
        a, b = ma + sa * z[i], mb + sb * z[j]
        fits = open_ & (np.abs(a - b) <= tol)
        pairs += fits
        i += fits | (open_ & (a < b))
        j += fits | (open_ & (a > b))
    share: NDArray[np.float64] = (pairs / QUANTILES).reshape(shape)
    return share


@dataclass(frozen=True, slots=True)
class Pairing:
    """A rootstock and a scion of given ages (days), joined by a method."""

    method: Method
    rootstock: SeedLot
    scion: SeedLot
    rootstock_age: int
    scion_age: int


_Stems = tuple[float, float, float, float, float | None]
"""Mean and standard deviation of the rootstocks' and of the scions' stem diameters, and tolerance, in mm."""


def _stems(p: Pairing) -> _Stems:
    root, top = stem_diameter(p.rootstock, p.rootstock_age), stem_diameter(p.scion, p.scion_age)
    return (*root, *top, p.method.stem_tolerance_mm)


@lru_cache(maxsize=REMEMBERED)
def _shares(stems: tuple[_Stems, ...]) -> tuple[float, ...]:
    """``match_share`` of pairs of populations: studies ask for those of the same book many times."""
    return tuple(match_share(*np.array(stems, dtype=float).T).tolist())


def stem_match(pairings: Sequence[Pairing], effects: AgeEffects) -> list[float | None]:
    """Stem match μ of each pairing, a share; None if the pairing cannot be joined.

    The method's ``match_from`` says where it comes from: the method's number, the age effects, or the stem
    diameters of both lots.
    """
    matches: list[float | None] = [p.method.match for p in pairings]
    measured = [n for n, p in enumerate(pairings) if p.method.match_from is MatchFrom.DIAMETERS]
    if measured:
        shares = _shares(tuple(_stems(pairings[n]) for n in measured))
        for n, share in zip(measured, shares, strict=True):
            matches[n] = share if share > 0 else None
    for n, p in enumerate(pairings):
        if p.method.match_from is MatchFrom.AGES:
            effect = effects.get((p.method.method, p.rootstock_age, p.scion_age))
            matches[n] = effect.match if effect else None
    return matches


def take_at(method: Method, effects: AgeEffects, rootstock_age: int, scion_age: int) -> float:
    """Take τ of the method's joins at these ages, a share; 1 for own-root."""
    effect = effects.get((method.method, rootstock_age, scion_age))
    if effect is not None and effect.take is not None:
        return effect.take
    return 1.0 if method.take is None else method.take


def capital_recovery(first_cost: float, salvage_value: float, interest_rate: float, life_years: int) -> float:
    """Yearly cost of owning a thing, in the currency of its cost.

    (first cost − salvage) · i(1+i)^n / ((1+i)^n − 1) + salvage · i;
    Blank, Tarquin, Engineering Economy, ch. 6. Without interest, the loss of value is spread evenly.
    """
    if interest_rate == 0:
        return (first_cost - salvage_value) / life_years
    growth = (1 + interest_rate) ** life_years
    factor = interest_rate * growth / (growth - 1)
    return (first_cost - salvage_value) * factor + salvage_value * interest_rate

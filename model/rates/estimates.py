"""Rates from a nursery's own records: germination by lot, take by method, pace by crew.

Lots and graft days vary by more than chance. So a thousand seeds of one lot say less about the next lot
than a hundred seeds of each of ten lots. Rates are therefore assumed to vary between lots by a Beta
distribution (``model.rates.overseeding.Beta``). Its mean and intra-lot correlation come from the records.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from math import exp, inf, isnan, log, nan

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import minimize
from scipy.special import betaincinv, betaln, expit, log_expit, logit, ndtr, stdtrit

from model.rates.overseeding import Beta

Array = NDArray[np.float64]

COLUMNS = ("kind", "name", "rate", "low", "high", "correlation", "sowings", "records", "tried")

TAIL = 0.025
"""Probability that lies beyond each end of an interval."""

GRID = 25
"""Points of the grid along each axis: the logits of mean and of correlation."""

WIDEST = ((-12.0, 12.0), (-14.0, 6.0))
"""Range of the logits of mean and of intra-lot correlation that the fit may use."""

SURELY = 1 / (1 + 1e-6)
"""Greatest correlation reported for a lot; at this value nearly all its seeds germinate, or nearly none."""

NEGLIGIBLE = 16.0
"""The grid leaves out points whose log density is this far below the highest."""


class Counted(StrEnum):
    """What a record counts."""

    GERMINATION = "germination"
    GRADING = "grading"
    MATCH = "match"
    TAKE = "take"
    PACE = "pace"


@dataclass(frozen=True, slots=True)
class Record:
    """One row of the log.

    ``name`` is the seed lot (germination, grading) or the method (match, take, pace). ``tried`` counts seeds
    sown, seedlings graded, seedlings brought to the bench, or joins made; ``succeeded`` those that came up,
    were kept, found a partner, or healed. ``crew`` worked ``hours`` (pace only).
    """

    kind: Counted
    name: str
    day: date
    tried: int
    succeeded: int | None = None
    crew: str | None = None
    hours: float | None = None


def fit_by_moments(tried: ArrayLike, succeeded: ArrayLike) -> Beta:
    """Beta of the lots' rates, fitted by moments to arrays of counts, one entry a lot.

    p = Σx/Σn,  ρ = (Σ(x − n·p)² / (p·(1 − p)) − Σn) / Σn·(n − 1), within [0, 1), since
    Var x = n·p·(1 − p)·(1 + (n − 1)·ρ). With equal n this is the moment fit of Skellam 1948 (from
    memory). Raises ValueError where counts are impossible, or no lot has two tries.
    """
    n, x = _counts(tried, succeeded)
    pairs = float((n * (n - 1)).sum())
    if pairs == 0:
        why = "every lot has only one seed or join, so the records do not show how alike a lot fares"
        raise ValueError(why)
    p = float(x.sum() / n.sum())
    if p in (0, 1):
        return Beta(p, 0.0)
    spread = float(((x - n * p) ** 2).sum()) / (p * (1 - p))
    return Beta(p, min(max((spread - float(n.sum())) / pairs, 0.0), float(expit(WIDEST[1][1]))))


def fit_by_likelihood(tried: ArrayLike, succeeded: ArrayLike) -> Beta:
    """Beta of the lots' rates, fitted by maximum likelihood to arrays of counts, one entry a lot.

    Maximises Σ log B(α + x, β + n − x) − log B(α, β) over the logits of mean and ρ, from the moment
    fit. ρ is 0 if the lots vary no more than by chance. Raises ValueError as ``fit_by_moments``.
    """
    n, x = _counts(tried, succeeded)
    start = fit_by_moments(n, x)
    if start.mean in (0, 1):
        return start
    low, high = WIDEST[1]

    def unlikely(at: Array) -> float:
        return -float(_log_likelihood(n, x, at[:1], at[1:])[0])

    first = logit([start.mean, max(start.correlation, 1e-4)])
    best = minimize(
        unlikely,
        np.clip(first, [WIDEST[0][0], low], [WIDEST[0][1], high]),
        method="Nelder-Mead",
        options={"xatol": 1e-7, "fatol": 1e-9},
        bounds=list(WIDEST),
    )
    mean, alike = (float(v) for v in best.x)
    together = float(logit(x.sum() / n.sum()))
    apart = float(_log_likelihood(n, x, np.array([together]), np.array([low]))[0])
    if -float(best.fun) <= apart + 1e-6:
        return Beta(float(x.sum() / n.sum()), 0.0)
    return Beta(float(expit(mean)), float(expit(alike)))


def estimate(records: Iterable[Record], standard_seconds: Mapping[str, float] | None = None) -> pd.DataFrame:
    """Rates with 95 % intervals, from a log; the columns of ``COLUMNS``, sorted by kind and name.

    - germination, one row for each seed lot: the lot's own rate, shrunk towards the pool of all lots. The
      fewer its seeds, the more it shrinks. ``correlation`` says how uncertain it still is (``Pool.lot``).
      ``sowings``: how much sowings of one lot differ (``between_batches``), one figure for all lots. Where
      they differ, a sowing of n seeds tells as much as n / (1 + (n − 1) · ρ) seeds apart.
    - grading, one row for each lot, and match, one for each method: mean rate over days (``mean_rate``).
    - take, one row for each method: mean rate and correlation over graft days (``mean_rate``).
    - pace, one row for each crew: standard hours of the joins made over the hours worked (``pace``);
      ``standard_seconds`` gives the seconds of a join by method.

    ``correlation`` of take is fitted by maximum likelihood, and is NaN with only one graft day. ``low`` and
    ``high`` are NaN with only one day or, for pace, one record. Raises ValueError for an impossible record,
    naming it and its day.
    """
    standard = standard_seconds or {}
    rows = sorted(
        records, key=lambda r: (r.kind, r.name, r.crew or "", r.day, r.tried, r.succeeded or 0, r.hours or 0)
    )
    for row in rows:
        _check(row, standard)
    table: list[tuple[object, ...]] = []
    lots = _by(rows, Counted.GERMINATION, lambda r: r.name)
    if lots:
        days = [_sums(_by(lot, Counted.GERMINATION, _day).values()) for lot in lots.values()]
        sowings = between_batches(days)
        told = [_told_by(n, x, 0.0 if isnan(sowings) else sowings) for n, x in days]
        pool = Pool.of(*zip(*told, strict=True))
        for (name, lot), (n, x) in zip(lots.items(), told, strict=True):
            found = *pool.of_lot(n, x), pool.lot(n, x).correlation, sowings
            table.append((Counted.GERMINATION.value, name, *found, len(lot), sum(r.tried for r in lot)))
    for kind in (Counted.GRADING, Counted.MATCH, Counted.TAKE):
        for name, made in _by(rows, kind, lambda r: r.name).items():
            tried, good = _sums(_by(made, kind, _day).values())
            alike = _alike(tried, good) if kind is Counted.TAKE else nan
            table.append((kind.value, name, *mean_rate(tried, good), alike, nan, len(made), sum(tried)))
    for name, worked in _by(rows, Counted.PACE, lambda r: r.crew or "").items():
        ratio = pace([r.tried * standard[r.name] / 3600 for r in worked], [r.hours or 0.0 for r in worked])
        table.append((Counted.PACE.value, name, *ratio, nan, nan, len(worked), sum(r.tried for r in worked)))
    return pd.DataFrame(table, columns=list(COLUMNS)).sort_values(["kind", "name"], ignore_index=True)


def between_batches(groups: Iterable[tuple[Sequence[int], Sequence[int]]]) -> float:
    """Correlation within batches, one figure for all groups; a group gives tried and succeeded by batch.

    The analysis-of-variance estimate, ρ = (B − W) / (B + (m − 1) · W) within [0, 1): B is the mean square of
    batches about the rate of their group, W that of seeds about the rate of their batch, m the size of a
    batch. Ridout, Demétrio and Firth 1999, Biometrics 55:137-148 (from memory). NaN where no group has two
    batches, or no batch two tries.
    """
    between = within = batches = seeds = size = 0.0
    for tried, succeeded in groups:
        n, x = _counts(tried, succeeded)
        share = x / n
        between += float((n * (share - x.sum() / n.sum()) ** 2).sum())
        within += float((n * share * (1 - share)).sum())
        batches += n.size - 1
        seeds += float((n - 1).sum())
        size += float(n.sum() - (n**2).sum() / n.sum())
    if batches == 0 or seeds == 0:
        return nan
    between, within, size = between / batches, within / seeds, size / batches
    spread = between + (size - 1) * within
    return min(max((between - within) / spread, 0.0), SURELY) if spread > 0 else 0.0


def _told_by(tried: Sequence[int], succeeded: Sequence[int], alike: float) -> tuple[float, float]:
    """Seeds apart that tell as much as sowings of these numbers, and how many of them came up."""
    n, x = _counts(tried, succeeded)
    weight = 1 / (1 + (n - 1) * alike)
    return float((n * weight).sum()), float((x * weight).sum())


def mean_rate(tried: ArrayLike, succeeded: ArrayLike) -> tuple[float, float, float]:
    """Mean rate Σx/Σn over lots, and the ends of its 95 % interval; arrays of counts, one entry a lot.

    The interval is ``_jackknife`` of the logit of (Σx + ½)/(Σn + 1), which holds whether or not the lots
    vary. It is no narrower than the middle 68 % of Jeffreys' Beta(Σx + ½, Σn − Σx + ½): a few lots may be
    alike by luck, but counts have a standard error of their own. If all or none succeeded, the interval is
    the middle 95 % of that Beta. With one lot the ends are NaN, as one lot does not show how the next
    differs. Raises ValueError where counts are impossible.
    """
    n, x = _counts(tried, succeeded)
    good, bad = float(x.sum()), float((n - x).sum())
    rate = good / (good + bad)
    if n.size < 2:
        return rate, nan, nan
    if good == 0 or bad == 0:
        low, high = betaincinv(good + 0.5, bad + 0.5, [TAIL, 1 - TAIL])
        return rate, min(float(low), rate), max(float(high), rate)
    without = np.log((good - x + 0.5) / (bad - (n - x) + 0.5))
    low, high = expit(_jackknife(float(np.log((good + 0.5) / (bad + 0.5))), without))
    near, far = betaincinv(good + 0.5, bad + 0.5, ndtr([-1.0, 1.0]))
    return rate, float(min(low, near)), float(max(high, far))


def pace(standard_hours: ArrayLike, hours: ArrayLike) -> tuple[float, float, float]:
    """Pace relative to the standard, and the ends of its 95 % interval; one entry a record.

    pace = Σ standard hours / Σ hours. The interval is ``_jackknife`` of its logarithm; with one record its
    ends are NaN.
    """
    s, h = np.asarray(standard_hours, dtype=float), np.asarray(hours, dtype=float)
    ratio = float(s.sum() / h.sum())
    if s.size < 2:
        return ratio, nan, nan
    low, high = _jackknife(log(ratio), np.log((s.sum() - s) / (h.sum() - h)))
    return ratio, exp(low), exp(high)


def _jackknife(value: float, without: Array) -> tuple[float, float]:
    """95 % interval of an estimate, from the m estimates that each leave one record out.

    value ± t·√((m − 1)/m · Σ(without − mean of without)²), t Student's with m − 1 degrees of freedom
    (Tukey 1958, from memory). With 50-400 tried in each of 2-60 lots it covers the true value in 93-95 %.
    """
    m = without.size
    error = float(np.sqrt((m - 1) / m * ((without - without.mean()) ** 2).sum()))
    reach = float(stdtrit(m - 1, 1 - TAIL)) * error
    return value - reach, value + reach


@dataclass(frozen=True, slots=True)
class Pool:
    """Posterior distribution of the mean and the intra-lot correlation ρ of the lots' rates.

    Points of a grid, with weights. The prior is Jeffreys' Beta(½, ½) for the mean and a density ∝ 1/√ρ for ρ.
    Plain empirical Bayes would treat the fitted Beta as known, and its intervals are too narrow for few lots.
    A constant prior density for ρ makes them too wide if lots hardly vary.
    """

    alphas: Array
    betas: Array
    weights: Array

    @classmethod
    def of(cls, tried: ArrayLike, succeeded: ArrayLike) -> Pool:
        """The pool of lots with these counts, one entry a lot.

        Raises ValueError where counts are impossible.
        """
        n, x = _counts(tried, succeeded)
        box = WIDEST
        for _ in range(4):
            mean, alike, density = _density(n, x, box)
            likely = density > density.max() - NEGLIGIBLE
            box = (_around(mean, likely.any(axis=1)), _around(alike, likely.any(axis=0)))
        mean, alike, density = _density(n, x, box)
        weights = np.exp(density - density.max()).ravel()
        means, alikes = (v.ravel() for v in np.meshgrid(mean, alike, indexing="ij"))
        size = np.exp(-alikes)
        return cls(expit(means) * size, expit(-means) * size, weights / weights.sum())

    def lot(self, tried: float, succeeded: float) -> Beta:
        """Beta distribution of the rate of one of the pool's lots, given its own counts.

        Given α and β the lot's rate is Beta(α + x, β + n − x), with mean (α + x)/(α + β + n): between x/n
        and the pool's mean. The Beta returned has the first two moments of the mixture over the grid. Its
        correlation is for seeds sown from this lot from now on: it is small if many of the lot's seeds are
        counted, however much lots differ.
        """
        a, size = self.alphas + succeeded, self.alphas + self.betas + tried
        mean = float(self.weights @ (a / size))
        square = float(self.weights @ (a * (a + 1) / (size * (size + 1))))
        correlation = max(square - mean**2, 1e-15) / (mean * (1 - mean))
        return Beta(mean, min(correlation, SURELY))

    def of_lot(self, tried: float, succeeded: float) -> tuple[float, float, float]:
        """Rate of one of the pool's lots, and the ends of its 95 % interval: the middle of ``lot``."""
        rate = self.lot(tried, succeeded)
        low, high = betaincinv(rate.alpha, rate.beta, [TAIL, 1 - TAIL])
        return rate.mean, float(low), float(high)


def _density(n: Array, x: Array, box: tuple[tuple[float, float], ...]) -> tuple[Array, Array, Array]:
    """Grid over the box and the log posterior density on it, of shape (GRID, GRID)."""
    mean, alike = (np.linspace(low, high, GRID) for low, high in box)
    at, by = (v.ravel() for v in np.meshgrid(mean, alike, indexing="ij"))
    # Densities over logits: Beta(½, ½) becomes √(p·(1 − p)), 1/√ρ becomes √ρ·(1 − ρ).
    prior = (log_expit(at) + log_expit(-at) + log_expit(by)) / 2 + log_expit(-by)
    return mean, alike, (_log_likelihood(n, x, at, by) + prior).reshape(GRID, GRID)


def _log_likelihood(n: Array, x: Array, mean: Array, alike: Array) -> Array:
    """Σ log B(α + x, β + n − x) − log B(α, β), at logits of mean and ρ of equal shape."""
    size = np.exp(-alike)
    a, b = (expit(mean) * size)[:, None], (expit(-mean) * size)[:, None]
    total: Array = (betaln(a + x, b + n - x) - betaln(a, b)).sum(axis=1)
    return total


def _around(values: Array, likely: NDArray[np.bool_]) -> tuple[float, float]:
    """The range of the likely values, with one more step at each end."""
    found = np.flatnonzero(likely)
    return float(values[max(found[0] - 1, 0)]), float(values[min(found[-1] + 1, values.size - 1)])


def _counts(tried: ArrayLike, succeeded: ArrayLike) -> tuple[Array, Array]:
    """Both counts as arrays of floats. Raises ValueError where they are impossible."""
    n, x = np.asarray(tried, dtype=float), np.asarray(succeeded, dtype=float)
    if n.ndim != 1 or n.shape != x.shape or n.size == 0:
        raise ValueError("tried and succeeded must be lists of equal length, not empty")
    if not ((n >= 1) & (x >= 0) & (x <= n) & (n < inf)).all():
        raise ValueError("each lot must have at least 1 tried, and between 0 and all of them succeeded")
    return n, x


def _check(row: Record, standard: Mapping[str, float]) -> None:
    """Raise ValueError for an impossible record."""
    what = f"record of {row.kind} of {row.name!r} on {row.day.isoformat()}"
    if row.tried < 1:
        raise ValueError(f"{what}: tried must be at least 1")
    if row.kind is Counted.PACE:
        if row.crew is None or row.hours is None or row.hours <= 0:
            raise ValueError(f"{what}: a pace needs a crew and hours above 0")
        if standard.get(row.name, 0.0) <= 0:
            raise ValueError(f"{what}: no standard seconds for this method")
    elif row.succeeded is None or not 0 <= row.succeeded <= row.tried:
        raise ValueError(f"{what}: succeeded must lie between 0 and {row.tried} tried")


def _alike(tried: Sequence[int], succeeded: Sequence[int]) -> float:
    """Intra-lot correlation by maximum likelihood; NaN if the records do not determine it."""
    if len(tried) < 2 or max(tried) < 2:
        return nan
    return fit_by_likelihood(tried, succeeded).correlation


def _day(record: Record) -> str:
    return record.day.isoformat()


def _sums(groups: Iterable[Sequence[Record]]) -> tuple[list[int], list[int]]:
    """Sums of tried and of succeeded over each group of records."""
    lists = list(groups)
    tried = [sum(r.tried for r in rows) for rows in lists]
    return tried, [sum(r.succeeded or 0 for r in rows) for rows in lists]


def _by(rows: Sequence[Record], kind: Counted, key: Callable[[Record], str]) -> dict[str, list[Record]]:
    """Records of a kind, by key, in the order of the rows."""
    groups: dict[str, list[Record]] = {}
    for row in rows:
        if row.kind is kind:
            groups.setdefault(key(row), []).append(row)
    return groups

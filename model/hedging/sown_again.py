"""Sowing again in a hedge: what the count of one wave lets one sow of another, by a rule made once.

x_n[w] = x[w] + Σ R[w′,w] · thin_n[w′],    thin_n[w′] = max(0, 1 − stand_n[w′])

for waves w′ counted by the day on which w is sown. R is the same in all seasons, so nothing is known
beforehand; and thin_n is drawn, so the rule is linear.
"""

from __future__ import annotations

from collections import defaultdict
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_array, diags_array

from model.hedging.sampled import SampledSeasons
from model.network.types import Network
from model.risk.batches import Floats
from model.solver.compiled import Compiled

NEAREST = 1
"""So many sowing days of a lot and format, from the day of the count on, may be used to sow again."""

MEAN_USE = ("stock", "packs")
"""Constraint groups in which trays sown again count by their mean; in all others as many as may be sown."""

Columns = NDArray[np.intp]
Mask = NDArray[np.bool_]


class SowingAgain(NamedTuple):
    """Pairs of waves by their indices: where ``counted`` comes up thin, ``sown`` may be sown again."""

    counted: Columns
    sown: Columns


NO_SOWING_AGAIN = SowingAgain(np.empty(0, dtype=np.intp), np.empty(0, dtype=np.intp))
"""No pairs."""


def may_be_sown_again(network: Network, joins: Mask, luck: SampledSeasons) -> SowingAgain:
    """Waves that may be sown where others come up thin, for the same orders, from today on.

    ``joins``: those that may be made. Of each lot and format the first ``NEAREST`` sowing days count.
    """
    orders: dict[int, set[int]] = defaultdict(set)
    for delivery in network.deliveries:
        orders[delivery.flow].add(delivery.order)
    serves: dict[int, set[int]] = defaultdict(set)
    for j in np.flatnonzero(joins).tolist():
        for w in network.joins[j].waves:
            serves[w] |= orders[network.joins[j].flow]
    waves, today = network.waves, network.past.today
    open_ = (w for w in serves if waves[w].sow >= today and not waves[w].on_hand)
    later = sorted(open_, key=lambda w: (waves[w].sow, w))
    pairs = []
    for counted in sorted(serves):
        if (luck.stand[counted] >= 1).all():
            continue
        days: dict[tuple[str, str], int] = defaultdict(int)
        for w in later:
            kind = waves[w].lot.lot, waves[w].tray.format
            after = waves[w].sow >= max(waves[counted].bench, waves[counted].sow + 1)
            if after and serves[w] & serves[counted] and days[kind] < NEAREST:
                days[kind] += 1
                pairs.append((counted, w))
    both = np.array(pairs, dtype=np.intp).reshape(-1, 2)
    return SowingAgain(both[:, 0], both[:, 1])


class AgainColumns(NamedTuple):
    """The columns R, one for each pair: entries in the plan's rows, and cost.

    ``thin``: share of the counted wave that a season lacks, shape (pairs, seasons).
    """

    matrix: csc_array
    cost: Floats
    thin: Floats


def columns_of(plan: Compiled, again: SowingAgain, luck: SampledSeasons) -> AgainColumns:
    """R in the rows of the plan: as trays of w, of which most[w′] are sown at most and mean[w′] on average.

    Σ y / μ ≤ κ[w] · (x[w] + Σ most[w′] · R[w′,w]), and likewise where trays take room and hours
    used of item j: Σ units · (x[w] + Σ mean[w′] · R[w′,w])
    """
    thin = np.maximum(0.0, 1.0 - luck.stand[again.counted])
    trays = plan.position["sown"][again.sown]
    paid = np.zeros(plan.matrix.shape[0])
    for group in MEAN_USE:
        paid[list(plan.rows.get(group, {}).values())] = 1.0
    of = csc_array(plan.matrix[:, trays])
    most, mean = thin.max(axis=1, initial=0.0), thin.mean(axis=1)
    matrix = diags_array(paid) @ of @ diags_array(mean) + diags_array(1 - paid) @ of @ diags_array(most)
    return AgainColumns(csc_array(matrix), plan.cost[trays] * mean, thin)

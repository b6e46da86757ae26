"""Waves, joins and flows of a network as arrays, for sums over all of them in one step."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from model.network.types import Network
from model.risk.batches import Floats

Days = NDArray[np.intp]


class NetworkArrays:
    """Figures of waves, joins and flows, by their indices in the network.

    Of waves ``sow``, ``bench``: days, ``cells``, ``usable``, ``seeds``: cells, seedlings and seeds of a tray,
    ``lead``: days until more seed comes. Of joins ``flow``, ``graft``: day, ``match``, ``take``, ``waves``:
    the two drawn on, -1 for none. Of flows ``grafted``: graft day, ``ready``: day, ``survival``. ``source``:
    the flow of each delivery.
    """

    def __init__(self, network: Network) -> None:
        waves, joins, flows = network.waves, network.joins, network.flows
        self.sow = np.array([wave.sow for wave in waves], dtype=np.intp)
        self.bench = np.array([wave.bench for wave in waves], dtype=np.intp)
        self.cells = np.array([wave.tray.cells for wave in waves], dtype=float)
        self.lead = np.array([wave.lot.lead_days for wave in waves], dtype=np.intp)
        self.usable = np.array([wave.usable for wave in waves], dtype=float)
        self.seeds = np.array([wave.seeds for wave in waves], dtype=float)
        self.grafted = np.array([flow.graft for flow in flows], dtype=np.intp)
        self.ready = np.array([flow.ready for flow in flows], dtype=np.intp)
        self.survival = np.array([flow.survival for flow in flows], dtype=float)
        self.source = np.array([delivery.flow for delivery in network.deliveries], dtype=np.intp)
        self.flow = np.array([join.flow for join in joins], dtype=np.intp)
        self.graft = self.grafted[self.flow]
        self.match = np.array([join.match for join in joins], dtype=float)
        self.take = np.array([join.take for join in joins], dtype=float)
        pairs = [(-1 if join.rootstock is None else join.rootstock, join.scion) for join in joins]
        self.waves = np.array(pairs, dtype=np.intp).reshape(-1, 2)
        join, side = np.nonzero(self.waves >= 0)
        drawn = np.ones(len(join)), (self.waves[join, side], join)
        self._draws = csr_array(drawn, shape=(len(waves), len(joins)))

    def of_waves(self, joins: Floats) -> Floats:
        """Sum of a figure of joins over those that draw on each wave."""
        return np.asarray(self._draws @ joins, dtype=float)

    def of_flows(self, joins: Floats) -> Floats:
        """Sum of a figure of joins over those of each flow."""
        return np.bincount(self.flow, joins, len(self.grafted)).astype(float)

    def delivered(self, plants: Floats) -> Floats:
        """Sum of plants of deliveries over those from each flow."""
        return np.bincount(self.source, plants, len(self.grafted)).astype(float)

    def scarcer(self, waves: Floats) -> Floats:
        """The lower of a figure, at most 1, of the two waves that each join draws on."""
        least: Floats = np.append(waves, 1.0)[self.waves].min(axis=1)
        return least

    def planned(self, day: int, joins: Floats) -> Floats:
        """Seedlings of each wave that joins planned from a day on need."""
        return self.of_waves(np.where(self.graft >= day, joins / self.match, 0.0))

    def left(self, day: int, seedlings: Floats, brought: Floats) -> Floats:
        """Seedlings of each wave that nobody has brought to the bench before a day.

        Seedlings that recorded joins used were there, however few of the wave are drawn.
        """
        return np.maximum(seedlings - self.of_waves(np.where(self.graft < day, brought, 0.0)), 0.0)

"""Constraint groups of runs: the vehicles that leave on a day, and the trays on them."""

from __future__ import annotations

from math import ceil

from model.network.riding import trays_on
from model.program.index_sets import Row, Rows
from model.program.needless import TINY
from model.program.program import Program


def run_room(p: Program) -> Rows:
    """The trays of all orders that leave with a run on a day fit on its vehicles.

    Σ_o trays[o] / quantity[o] · (Σ d[p,g,o] + Σ b[f,t,o]) + Σ_o R[n,t,o] ≤ carries[n] · V[n,t]
    for each run n, day t; an order in whole trays has its R in place of its first sum
    """
    return {
        p.labels["vehicles"][n]: Row(p.rides[n] | {("vehicles", n): -float(on.run.trays)}, None, 0.0)
        for n, on in enumerate(p.run_days)
    }


def whole_trays_riding(p: Program) -> Rows:
    """An order in whole trays rides in whole trays, whatever part of it does.

    (Σ d[p,g,o] + Σ b[f,t,o]) / cells(final) ≤ R[n,t,o]      for each run n, day t and order o in whole trays
    """
    return {
        p.labels["riding"][k]: Row(ride.trays | {("riding", k): -1.0}, None, 0.0)
        for k, ride in enumerate(p.riding)
    }


def run_vehicles(p: Program) -> Rows:
    """No more vehicles leave than the run has on a day; never fewer than carry what is settled already.

    V[n,t] ≤ most vehicles[n]      where given
    """
    rows: Rows = {}
    for n, on in enumerate(p.run_days):
        if on.run.vehicles_most is not None:
            settled = {(name, i): p.settled.get(name, {}).get(i, 0.0) for name, i in on.trays}
            told = trays_on(n, on, p.riding, settled)
            most = max(on.run.vehicles_most, ceil(told / on.run.trays - TINY))
            rows[p.labels["vehicles"][n]] = Row({("vehicles", n): 1.0}, None, float(most))
    return rows


GROUPS = (run_room, whole_trays_riding, run_vehicles)

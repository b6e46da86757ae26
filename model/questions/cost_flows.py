"""How the costs that decisions bear pass on: from waves to joins, to the flows they make, to orders.

Plants grown but not delivered are waste and margin of the orders that they were grown for.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from model.planned.values import Values
from model.program.amounts import Key
from model.program.program import Program

WASTE = "waste and margin"

SEED, BASE, WASTED_BASE = "seed", "base", "base of waste"
"""Seed not yet assigned to rootstock or scion; and what costs are shared by, passed on like costs: that of
plants delivered, and that of waste and margin."""

TO_WASTE = {BASE: WASTED_BASE, WASTED_BASE: WASTED_BASE}
"""What becomes of the base when plants are waste; every other line becomes ``WASTE``."""

Source = tuple[str, str]
"""Line and detail of the plan's cost that an amount is a part of."""

Lines = dict[tuple[str, Source], float]
"""Money by line and source; and under ``BASE`` and ``WASTED_BASE`` what overhead is shared by,
and slot-days in each zone."""


class Bearer(NamedTuple):
    """Who bears a cost: an order by its index, and the product as it was grafted; None for none."""

    order: int | None = None
    made: str | None = None


NOBODY = Bearer()


@dataclass
class CostPool:
    """Costs by the decision that bears them, and costs that no decision bears."""

    keys: dict[Key, Lines] = field(default_factory=lambda: defaultdict(lambda: defaultdict(float)))
    overhead: dict[Source, float] = field(default_factory=lambda: defaultdict(float))
    modules: dict[str, dict[Source, float]] = field(default_factory=lambda: defaultdict(dict))
    """Yearly cost of modules by healing zone."""


def add_lines(into: Lines, lines: Mapping[tuple[str, Source], float], share: float = 1.0) -> None:
    """Add a share of some lines to others."""
    for part, amount in lines.items():
        into[part] += amount * share


def as_waste(lines: Mapping[tuple[str, Source], float]) -> Lines:
    """The same money under the line ``WASTE``, the same base as base of waste."""
    waste: Lines = defaultdict(float)
    for (line, source), amount in lines.items():
        waste[TO_WASTE.get(line, WASTE), source] += amount
    return waste


class _Drawn(NamedTuple):
    """Seedlings drawn from a wave, or kept spare, and where their cost goes."""

    seedlings: float
    day: int
    rootstock: bool
    into: Lines


def _drawn(
    program: Program, values: Values, flows: dict[int, Lines], spares: dict[int, Lines]
) -> list[list[_Drawn]]:
    """For each wave its seedlings drawn for flows, and those spare for reserves."""
    network = program.network
    drawn: list[list[_Drawn]] = [[] for _ in network.waves]
    for w, draws in enumerate(network.draws):
        for j in draws:
            join = network.joins[j]
            if values["joins", j] > 0:
                seedlings, day = values["joins", j] / join.match, network.flows[join.flow].graft
                drawn[w].append(_Drawn(seedlings, day, join.rootstock == w, flows[join.flow]))
    for n, reserve in enumerate(network.reserves):
        for i in reserve.spares:
            if values["spare", i] > 0:
                day = network.flows[reserve.flow].graft
                kept = _Drawn(values["spare", i], day, reserve.rootstock, spares[n])
                drawn[network.spares[i].wave].append(kept)
    return drawn


def waves_to_flows(
    program: Program,
    values: Values,
    pool: CostPool,
    flows: dict[int, Lines],
    spares: dict[int, Lines],
    nobody: Lines,
) -> None:
    """A wave's cost to its joins, by seedlings drawn over seedlings given; the rest is their waste.

    cost[w] · (y / μ) / (κ[w] · x[w]) to each join, and likewise with K to each reserve. Trays left
    on the bench cost the later ones.
    """
    drawn = _drawn(program, values, flows, spares)
    for w, wave in enumerate(program.network.waves):
        lines = dict(pool.keys.get(("sown", w), {}))
        for part, amount in pool.keys.get(("wave_opened", w), {}).items():
            lines[part] = lines.get(part, 0.0) + amount
        if not lines:
            continue
        total = sum(draw.seedlings for draw in drawn[w])
        if total <= 0:
            add_lines(nobody, as_waste(lines))
            continue
        given = max(values["sown", w] * wave.usable, total)
        for draw in drawn[w]:
            add_lines(draw.into, _owned(lines, draw.rootstock), draw.seedlings / given)
            add_lines(draw.into, as_waste(lines), (1 - total / given) * draw.seedlings / total)
    for k, left in enumerate(program.amounts.left):
        lines = pool.keys.get(("left", k), {})
        later = [draw for draw in (drawn[left.wave] if lines else ()) if draw.day > left.start]
        total = sum(draw.seedlings for draw in later)
        for draw in later:
            add_lines(draw.into, lines, draw.seedlings / total)
        if lines and not later:
            add_lines(nobody, as_waste(lines))


def spares_to_orders(
    program: Program, values: Values, spares: dict[int, Lines], orders: dict[Bearer, Lines]
) -> None:
    """The cost of spare seedlings to the orders that need them, by ε · d · (1 + m)."""
    network = program.network
    for n, lines in spares.items():
        made = network.flows[network.reserves[n].flow].product.product
        needs = {
            i: margin * values["delivered", i] * (1 + network.deliveries[i].margin)
            for i, margin in network.reserves[n].margins.items()
        }
        total = sum(needs.values())
        for i, need in needs.items():
            if need > 0:
                add_lines(orders[Bearer(network.deliveries[i].order, made)], lines, need / total)
        if total <= 0:
            add_lines(orders[NOBODY], as_waste(lines))


def _owned(lines: Mapping[tuple[str, Source], float], rootstock: bool) -> Lines:
    """Lines with the seed named after its part in the join."""
    named = "rootstock seed" if rootstock else "scion seed"
    return {(named if line == SEED else line, source): amount for (line, source), amount in lines.items()}


def salvage_to_flows(
    program: Program, values: Values, pool: CostPool, flows: dict[int, Lines], nobody: Lines
) -> None:
    """Income from surplus sold goes to the flows with surplus, in proportion to their surplus plants."""
    for n, (_, own) in enumerate(program.salvaged):
        lines = pool.keys.get(("sold", n), {})
        surplus = {f: values["surplus", f] for f in own if values["surplus", f] > 0}
        total = sum(surplus.values())
        for f, plants in surplus.items():
            add_lines(flows[f], lines, plants / total)
        if lines and not surplus:
            add_lines(nobody, lines)


def flows_to_orders(
    program: Program, values: Values, flows: dict[int, Lines], orders: dict[Bearer, Lines]
) -> None:
    """A flow's cost to its orders, by plants delivered over plants finished; the rest is waste and margin.

    cost[f] · d / (Σ d · (1 + m) + u) to each order under its lines, the rest by d · (1 + m).
    """
    network = program.network
    served: dict[int, list[tuple[int, float, float]]] = defaultdict(list)
    for i, delivery in enumerate(network.deliveries):
        if values["delivered", i] > 0:
            served[delivery.flow].append((delivery.order, values["delivered", i], delivery.margin))
    for f, lines in flows.items():
        if not lines:
            continue
        waste = {part: amount for part, amount in lines.items() if part[0] in (WASTE, WASTED_BASE)}
        good = {part: amount for part, amount in lines.items() if part not in waste}
        kept = [(o, plants, plants * (1 + margin)) for o, plants, margin in served[f]]
        held = sum(with_margin for _, _, with_margin in kept)
        if held <= 0:
            add_lines(orders[NOBODY], as_waste(lines))
            continue
        finished = held + max(values["surplus", f], 0.0)
        for o, plants, with_margin in kept:
            bears = orders[Bearer(o, network.flows[f].product.product)]
            add_lines(bears, good, plants / finished)
            add_lines(bears, as_waste(good), with_margin / held - plants / finished)
            add_lines(bears, waste, with_margin / held)


def by_order(program: Program, values: Values, pool: CostPool) -> dict[Bearer, Lines]:
    """Lines by order and product as grafted; ``NOBODY`` for plants grown for no order."""
    orders: dict[Bearer, Lines] = defaultdict(lambda: defaultdict(float))
    flows: dict[int, Lines] = defaultdict(lambda: defaultdict(float))
    spares: dict[int, Lines] = defaultdict(lambda: defaultdict(float))
    waves_to_flows(program, values, pool, flows, spares, orders[NOBODY])
    spares_to_orders(program, values, spares, orders)
    for variable in ("grafted", "loaded", "finishing", "healed"):
        for f in range(len(program.network.flows)):
            add_lines(flows[f], pool.keys.get((variable, f), {}))
    salvage_to_flows(program, values, pool, flows, orders[NOBODY])
    flows_to_orders(program, values, flows, orders)
    bearers = dict(_order_keys(program))
    for key, by in bearers.items():
        add_lines(orders[by], pool.keys.get(key, {}))
    for n, index in enumerate(program.spare_days):
        lines = pool.keys.get(("spare_bought", n), {})
        plants = sum(values["bought", i] for i in index.buy_ins)
        for i in index.buy_ins if lines else ():
            add_lines(orders[Bearer(program.network.buy_ins[i].order)], lines, values["bought", i] / plants)
    for n, on in enumerate(program.run_days):
        lines, total = pool.keys.get(("vehicles", n), {}), values.total(on.trays)
        for key, trays in on.trays.items() if lines and total > 0 else ():
            add_lines(orders[bearers[key]], lines, trays * values[key] / total)
    for k, ride in enumerate(program.riding):
        lines, total = pool.keys.get(("riding", k), {}), values.total(ride.trays)
        for key, trays in ride.trays.items() if lines and total > 0 else ():
            add_lines(orders[bearers[key]], lines, trays * values[key] / total)
    return orders


def _order_keys(program: Program) -> Iterator[tuple[Key, Bearer]]:
    """Decisions that belong to one order, with who bears them."""
    network = program.network
    for i, delivery in enumerate(network.deliveries):
        yield ("delivered", i), Bearer(delivery.order, network.flows[delivery.flow].product.product)
    yield from ((("bought", i), Bearer(buy_in.order)) for i, buy_in in enumerate(network.buy_ins))
    yield from ((("short", o), Bearer(o)) for o in range(len(network.orders)))
    yield from ((key, Bearer(o)) for key, o, _ in program.declined)

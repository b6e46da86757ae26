"""The terms of the cost. The objective and the plan's cost table are both made from them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

from model.program.index_sets import Coefs, IndexSets
from model.program.program import Program
from model.program.room import bay_costs
from model.rates.yields import capital_recovery
from model.scenario.choices import Part, PayBasis
from model.scenario.entities import Nursery, Scenario
from model.scenario.lateness import weeks_begun
from model.scenario.records.overheads import periods
from model.scenario.records.rooms import GerminationZone, StageZone
from model.scenario.records.trade import Module

COST_LINES = {
    "seed": None,
    "supplies": None,
    "labour": None,
    "guaranteed hours": None,
    "piece rates": None,
    "overtime": None,
    "temporary hands": None,
    "slots": None,
    "bays": None,
    "zones chosen": None,
    "buy-in": "buy-in",
    "freight": "freight",
    "waves": "other labour",
    "late": "late",
    "shortfall": "shortfall",
    "declined": "declined",
    "salvage": "waste and margin",
    "modules": None,
    "overhead": "overhead",
    "interest": "overhead",
    "depreciation": "overhead",
}
"""Cost lines in their order, each with the line of an order's traced cost that it goes to.

The cost of a decision goes to the orders that it serves; a constant is spread as overhead. None: the rule is
in ``model.questions.traced_costs``.
"""


NURSERY = "nursery"
"""Detail of the overhead that the table nursery gives as one sum."""


class CostTerm(NamedTuple):
    """A cost: its line and detail, a constant and the coefficients of decisions, in currency."""

    line: str
    detail: str
    constant: float
    coefs: Coefs


def yearly_cost(nursery: Nursery, module: Module) -> float:
    """Yearly cost of one module by capital recovery, in currency."""
    return capital_recovery(module.first_cost, module.salvage_value, nursery.interest_rate, module.life_years)


def costs(p: Program) -> list[CostTerm]:
    """All costs, each with its line.

    min  Σ price · P                                        seed and supplies
       + Σ pay[c,t] · reg + overtime pay[c] · ot            labour
       + Σ pay[c, first shift of q] · I                      guaranteed hours without work
       + Σ max(0, pay a piece · pace[c] · 3600 / seconds − pay[c,t]) · h″      piece rates, beyond the hour
       + Σ temporary pay[c,q] · Σ_{t in q with a shift} hours per head[t] · M + training cost · A
       + Σ temporary pay[c,q] · (hours per head[t] · M′ + training hours · A)      in place of M, by the day
       + Σ temporary overtime pay[c,q] · ot′
       + Σ cost per slot-day[z,t] · slots standing          units: unit slots · N on every busy day
       + Σ cost of a bay[z,q] · G[z,q]                      bays opened whole
       + Σ cost per tray of the zones chosen · trays there    zones to choose from
       + Σ price[f] · (b + v) + Σ wave cost · O + Σ penalty[o] · s − Σ salvage price · z
       + Σ fixed cost[n] · V + Σ cost per tray[n] · trays that ride      freight of runs
       + Σ late discount[o] · price[o] · ⌈days late / 7⌉ · (d + b)
       + Σ price[o] · c[o] · D + Σ price[o] · quantity[o] · W      price forgone by declining
       + overhead + Σ amount of an overhead · its periods + Σ yearly cost of added modules + committed payroll
    """
    return [
        *_pack_costs(p),
        *_labour_costs(p),
        *_slot_costs(p),
        *_zone_costs(p),
        *_trade_costs(p),
        *_fixed_costs(p),
    ]


def _pack_costs(p: Program) -> Iterator[CostTerm]:
    lots = {lot.lot for lot in p.network.scenario.seed_lots}
    coefs: dict[str, Coefs] = defaultdict(dict)
    for n, pack in enumerate(p.packs):
        coefs[pack.item]["packs_bought", n] = pack.price
    for item, terms in coefs.items():
        yield CostTerm("seed" if item in lots else "supplies", item, 0.0, terms)


def _labour_costs(p: Program) -> Iterator[CostTerm]:
    regular: dict[str, Coefs] = defaultdict(dict)
    overtime: dict[str, Coefs] = defaultdict(dict)
    for n, i in enumerate(p.crew_days):
        limits = p.amounts.crews[i.crew]
        regular[i.crew]["regular", n] = limits.pay[i.day]
        overtime[i.crew]["overtime", n] = limits.overtime_pay[i.day]
    temporary: dict[str, Coefs] = defaultdict(dict)
    for n, index in enumerate(p.crew_weeks):
        limits = p.amounts.crews[index.crew]
        temporary[index.crew]["temporary_hands", n] = limits.temporary_week_pay(p.weeks[index.week])
        temporary[index.crew]["new_hands", n] = limits.new_hand_cost(p.weeks[index.week])
    for n, at in enumerate(p.called_days):
        limits, week = p.amounts.crews[at.crew], p.weeks[p.week_of[at.day]]
        temporary[at.crew]["called_hands", n] = limits.hours[at.day] * limits.temporary_pay(week)
    for n, at in enumerate(p.temporary_overtime_days):
        week = p.weeks[p.week_of[at.day]]
        temporary[at.crew]["temporary_overtime", n] = p.amounts.crews[at.crew].temporary_overtime_pay(week)
    idle: dict[str, Coefs] = defaultdict(dict)
    for n, index in enumerate(p.guaranteed_weeks):
        idle[index.crew]["idle", n] = p.amounts.crews[index.crew].idle_pay(p.weeks[index.week])
    pieces: dict[str, Coefs] = defaultdict(dict)
    for n, piece in enumerate(p.crew_tasks):
        pieces[piece.crew]["worked_at_task", n] = p.beyond_the_hour(piece)
    for name, limits in p.amounts.crews.items():
        if name in pieces:
            yield CostTerm("piece rates", name, 0.0, pieces[name])
        if name in idle:
            yield CostTerm("guaranteed hours", name, 0.0, idle[name])
        if limits.crew.pay_basis is PayBasis.COMMITTED:
            yield CostTerm("labour", name, limits.payroll, {})
        else:
            yield CostTerm("labour", name, 0.0, regular[name])
        yield CostTerm("overtime", name, 0.0, overtime[name])
        yield CostTerm("temporary hands", name, 0.0, temporary[name])


def _slot_costs(p: Program) -> Iterator[CostTerm]:
    zones = p.amounts.zones
    coefs: dict[str, Coefs] = {zone: defaultdict(float) for zone in zones}
    for s in p.amounts.standing:
        if zones[s.zone].pool:
            coefs[s.zone][s.key] += s.trays * s.slots * zones[s.zone].cost_between(s.start, s.end)
    for e, batch in enumerate(p.amounts.batches):
        limits = zones[batch.zone]
        coefs[batch.zone]["units_opened", e] = limits.slots_each * limits.cost_between(batch.open, batch.shut)
    for zone, terms in coefs.items():
        yield CostTerm("slots", zone, 0.0, terms)
    for zone, terms in bay_costs(p):
        yield CostTerm("bays", zone, 0.0, terms)


def further_zones(scenario: Scenario) -> list[StageZone | GerminationZone]:
    """Rows of zones to choose from."""
    return [*scenario.stage_zones, *scenario.germination_zones]


def trays_in_zones(p: Program) -> Iterator[tuple[StageZone | GerminationZone, Coefs]]:
    """Rows of further zones, each with the trays of a decision that pass the stage or are held there.

    Plants that were grafted, or those held that were ready, before the first day have paid for theirs.
    """
    found: dict[StageZone | GerminationZone, Coefs] = {
        row: defaultdict(float) for row in further_zones(p.network.scenario)
    }
    for n, place in enumerate(p.amounts.sown_into):
        found[place.row]["sown_into", n] = 1.0
    for f, flow in enumerate(p.network.flows):
        for stage, row in zip(flow.route.stages, flow.route.rows, strict=True):
            if row is not None and flow.graft >= 0:
                healing = stage.part is Part.HEALING
                key, trays = (("loaded", f), 1.0) if healing else p.amounts.finishing_trays(f)
                found[row][key] += trays
    for end in p.amounts.ends:
        if end.held is not None and end.term.leaves(end.ready) > end.ready >= 0:
            found[end.held][end.key] += end.plants / end.term.tray.cells
    yield from found.items()


def zone_detail(row: StageZone | GerminationZone) -> str:
    """Detail of the cost of a further zone."""
    return f"{row.of}, {row.stage} in {row.zone}"


def _zone_costs(p: Program) -> Iterator[CostTerm]:
    for row, trays in trays_in_zones(p):
        if row.cost_per_tray:
            terms = {key: row.cost_per_tray * number for key, number in trays.items()}
            yield CostTerm("zones chosen", zone_detail(row), 0.0, terms)


def _trade_costs(p: Program) -> Iterator[CostTerm]:
    bought: dict[str, Coefs] = {offer.offer: {} for offer in p.network.offers}
    for i, buy_in in enumerate(p.network.buy_ins):
        offer = p.network.offers[buy_in.offer]
        bought[offer.offer]["bought", i] = offer.price
    for n, index in enumerate(p.spare_days):
        offer = p.network.offers[index.offer]
        bought[offer.offer]["spare_bought", n] = offer.price
    for name, terms in bought.items():
        yield CostTerm("buy-in", name, 0.0, terms)
    yield from _freight(p)
    late = late_plants(p)
    for o, term in enumerate(p.network.orders):
        if term.late_most:
            coefs = {key: term.late_cost * weeks for key, weeks in late[o].items()}
            yield CostTerm("late", term.order.order, 0.0, coefs)
        yield CostTerm("shortfall", term.order.order, 0.0, {("short", o): term.penalty})
    orders = p.network.orders
    for key, o, plants in p.declined:
        yield CostTerm("declined", orders[o].order.order, 0.0, {key: orders[o].price * plants})
    for n, (product, _) in enumerate(p.salvaged):
        yield CostTerm("salvage", product.product, 0.0, {("sold", n): -product.salvage_price})


def _freight(p: Program) -> Iterator[CostTerm]:
    """Vehicles and the trays on them, by run."""
    coefs: dict[str, Coefs] = {run.run: {} for run in p.network.scenario.runs}
    for n, on in enumerate(p.run_days):
        coefs[on.run.run]["vehicles", n] = on.run.fixed_cost
        coefs[on.run.run] |= {key: on.run.cost_per_tray * trays for key, trays in p.rides[n].items()}
    for name, terms in coefs.items():
        if terms:
            yield CostTerm("freight", name, 0.0, terms)


def late_plants(p: IndexSets) -> dict[int, Coefs]:
    """Weeks late, begun, of each decision that brings plants of an order late, by index of the order."""
    late: dict[int, Coefs] = defaultdict(dict)
    for i, delivery in enumerate(p.network.deliveries):
        days = p.network.orders[delivery.order].days_late(p.network.flows[delivery.flow].ready)
        if days:
            late[delivery.order]["delivered", i] = float(weeks_begun(days))
    for i, buy_in in enumerate(p.network.buy_ins):
        days = p.network.orders[buy_in.order].days_late(buy_in.day)
        if days:
            late[buy_in.order]["bought", i] = float(weeks_begun(days))
    return late


def _fixed_costs(p: Program) -> Iterator[CostTerm]:
    nursery = p.network.scenario.nursery
    if p.opened_waves:
        new = [w for w in p.opened_waves if not p.network.waves[w].on_hand]
        coefs: Coefs = {("wave_opened", w): nursery.wave_cost for w in new}
        yield CostTerm("waves", "fixed cost a wave", 0.0, coefs)
    for module in p.network.scenario.modules:
        yield CostTerm("modules", module.module, module.added * yearly_cost(nursery, module), {})
    yield CostTerm("overhead", NURSERY, nursery.overhead, {})
    for row in p.network.scenario.overheads:
        yield CostTerm(
            row.kind.value, row.overhead, row.amount * periods(row, nursery.first_day, nursery.last_day), {}
        )

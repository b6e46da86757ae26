"""The program's variables, each declared once with name, symbol, meaning, unit, index and bounds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from model.network.as_counted import joins_on_hand
from model.network.past import SownKey
from model.program.apart_sets import GRAFTING_TABLE
from model.program.index_sets import IndexSets, Label
from model.scenario.choices import Decline

Bounds = list[float | None]


@dataclass(frozen=True, slots=True)
class Variable:
    """A variable: its meaning, unit, indices and bounds."""

    name: str
    symbol: str
    """Its letter in the formulas of docs/maths.md."""
    meaning: str
    unit: str
    index: str
    """Meaning of the parts of a label."""
    labels: Callable[[IndexSets], list[Label]]
    """Labels of the indices, in the program's order, all different."""
    lower: float | Callable[[IndexSets], list[float]] = 0.0
    upper: float | Callable[[IndexSets], Bounds] | None = None
    """One bound for all indices, or a list by index; None for no bound. The past fixes settled values."""
    whole: bool = False
    """Whether it must be a whole number in a plan of whole trays."""
    held: bool = False
    """Whether it is held at the plan's value when shadow prices are computed."""


def _left(p: IndexSets) -> list[Label]:
    return [(*p.wave_labels[left.wave], p.iso(left.start)) for left in p.amounts.left]


def _sown_into(p: IndexSets) -> list[Label]:
    return [(*p.wave_labels[place.wave], place.row.zone) for place in p.amounts.sown_into]


def _joins(p: IndexSets) -> list[Label]:
    flows, waves, nobody = p.flow_labels, p.wave_labels, (None, None, None)
    return [
        (*flows[j.flow], *(nobody if j.rootstock is None else waves[j.rootstock]), *waves[j.scion])
        for j in p.network.joins
    ]


def _spares(p: IndexSets) -> list[Label]:
    flows, waves = p.flow_labels, p.wave_labels
    return [(*flows[s.flow], s.side, *waves[s.wave]) for s in p.network.spares]


def _flows(p: IndexSets) -> list[Label]:
    return [*p.flow_labels]


def _flows_in_whole_trays(p: IndexSets) -> list[Label]:
    """All flows where the trays of some are whole; only those of these stand in rows."""
    return [*p.flow_labels] if p.network.in_whole_trays else []


def _waves(p: IndexSets) -> list[Label]:
    return [*p.wave_labels]


def _orders(p: IndexSets) -> list[Label]:
    return [(term.order.order,) for term in p.network.orders]


def _delivered(p: IndexSets) -> list[Label]:
    orders = p.network.orders
    return [(*p.flow_labels[d.flow], orders[d.order].order.order) for d in p.network.deliveries]


def _bought(p: IndexSets) -> list[Label]:
    offers, orders = p.network.offers, p.network.orders
    return [(offers[b.offer].offer, p.iso(b.day), orders[b.order].order.order) for b in p.network.buy_ins]


def _from_lots(p: IndexSets) -> list[Label]:
    delivered = _delivered(p) if p.lot_parts else []
    return [(*delivered[part.delivery], part.rootstock, part.scion) for part in p.lot_parts]


def _in_units(p: IndexSets) -> list[Label]:
    if not p.unit_parts:
        return []
    delivered, loads = _delivered(p), _in_unit(p)
    flows = [p.flow_labels[delivery.flow] for delivery in p.network.deliveries]
    return [
        (*delivered[part.delivery], *loads[part.load][len(flows[part.delivery]) :]) for part in p.unit_parts
    ]


def _in_unit(p: IndexSets) -> list[Label]:
    return [(*p.stay_labels[load.stay], *p.batch_labels[load.batch][1:]) for load in p.amounts.loads]


def _declinable(how: Decline) -> Callable[[IndexSets], list[Label]]:
    return lambda p: [(p.network.orders[o].order.order,) for o in p.declinable(how)]


def _crew_days(p: IndexSets) -> list[Label]:
    return [(index.crew, p.iso(index.day)) for index in p.crew_days]


def _crew_weeks(p: IndexSets) -> list[Label]:
    return [(index.crew, p.iso(p.weeks[index.week].days[0])) for index in p.crew_weeks]


def _guaranteed(p: IndexSets) -> list[Label]:
    return [(index.crew, p.iso(p.weeks[index.week].days[0])) for index in p.guaranteed_weeks]


def _on_hand(p: IndexSets) -> Bounds:
    """Upper bound of trays: of a wave on hand those that stand there."""
    past = p.network.past
    keys = [(w, SownKey(w.lot.lot, w.tray.format, w.sow)) for w in p.network.waves]
    return [past.sown[key].number if wave.on_hand else None for wave, key in keys]


def _plants_on_hand(p: IndexSets) -> Bounds:
    """Upper bound of joins: of plants on hand those that stand there."""
    stood = joins_on_hand(p.network)
    return [stood.get(j) for j in range(len(p.network.joins))]


def _crew_tasks(p: IndexSets) -> list[Label]:
    return [(i.crew, *i.kind[:4], p.iso(i.kind.day)) for i in p.crew_tasks]


def _regular(p: IndexSets) -> Bounds:
    return [p.amounts.crews[i.crew].regular[i.day] for i in p.crew_days]


def _overtime(p: IndexSets) -> Bounds:
    crews, today = p.amounts.crews, p.network.past.today
    return [None if i.day < today else crews[i.crew].overtime[i.day] for i in p.crew_days]


def _hands(p: IndexSets) -> Bounds:
    return [float(p.amounts.crews[i.crew].crew.temp_heads_most) for i in p.crew_weeks]


def _new_hands(p: IndexSets) -> Bounds:
    """Upper bound of new hands: 0 in a week without shifts, or too early for what they practise on."""
    crews, early, bounds = p.amounts.crews, p.amounts.too_early, _hands(p)
    for n, index in enumerate(p.crew_weeks):
        if n in early or not crews[index.crew].working(p.weeks[index.week]):
            bounds[n] = 0.0
    return bounds


def _riding(p: IndexSets) -> list[Label]:
    orders, days = p.network.orders, p.run_days
    return [(days[r.on].run.run, p.iso(days[r.on].day), orders[r.order].order.order) for r in p.riding]


def _carried(p: IndexSets) -> list[Label]:
    return [(i.group.by.value, i.group.name, *p.flow_labels[i.flow]) for i in p.apart.carried]


def _admitted(p: IndexSets) -> list[Label]:
    """What was there before today is told from the rest where there is such."""
    of = p.apart.admitted
    labels: list[Label] = [
        (i.group.by.value, i.group.name, i.zone or GRAFTING_TABLE, p.iso(i.day)) for i in of
    ]
    if not any(i.before for i in of):
        return labels
    return [
        (*label, "before today" if i.before else "from today") for label, i in zip(labels, of, strict=True)
    ]


def _lots_chosen(p: IndexSets) -> list[Label]:
    sides = {True: "rootstock", False: "scion"}
    orders = p.network.orders
    return [(orders[i.order].order.order, sides[i.rootstock], i.lot) for i in p.apart.lots_of_orders]


def _ordered(p: IndexSets) -> list[float]:
    """Lower bound of packs bought: the packs ordered before today."""
    ordered = p.network.past.packs
    return [float(sum(n for _, n in ordered.get((pack.item, pack.size), ()))) for pack in p.packs]


VARIABLES = {
    variable.name: variable
    for variable in (
        Variable(
            "sown",
            "x[w]",
            "trays sown of a wave; of one on hand, trays kept",
            "trays",
            "lot, format, sowing day",
            _waves,
            upper=_on_hand,
            whole=True,
        ),
        Variable(
            "left",
            "r[w,k]",
            "trays of a wave left on the bench after a draw day",
            "trays",
            "lot, format, sowing day, draw day",
            _left,
        ),
        Variable(
            "sown_into",
            "X[w,z]",
            "trays of a wave that germinate in a further zone",
            "trays",
            "lot, format, sowing day, zone",
            _sown_into,
            whole=True,
        ),
        Variable(
            "joins",
            "y[p,w,v,g]",
            "joins from a rootstock wave and a scion wave; own-root: seedlings moved on, no rootstock; of "
            "plants on hand, those kept",
            "joins",
            "product, graft day, rootstock lot, format, sowing day, scion lot, format, sowing day",
            _joins,
            upper=_plants_on_hand,
        ),
        Variable(
            "spare",
            "K[p,w,g]",
            "seedlings of a wave kept for a flow as sowing margin",
            "seedlings",
            "product, graft day, side (rootstock or scion), lot, format, sowing day",
            _spares,
        ),
        Variable("grafted", "J[p,g]", "joins of a flow", "joins", "product, graft day", _flows),
        Variable("loaded", "T[p,g]", "trays loaded by a flow", "trays", "product, graft day", _flows),
        Variable(
            "whole_loaded",
            "T′[p,g]",
            "trays loaded by a flow whose trays are whole",
            "trays",
            "product, graft day",
            _flows_in_whole_trays,
            whole=True,
        ),
        Variable(
            "finishing",
            "C[p,g]",
            "trays in finishing of a flow whose trays are whole and consolidated",
            "trays",
            "product, graft day",
            _flows_in_whole_trays,
            whole=True,
        ),
        Variable("healed", "H[p,g]", "plants of a flow that heal", "plants", "product, graft day", _flows),
        Variable(
            "delivered",
            "d[p,g,o]",
            "plants of a flow delivered to an order",
            "plants",
            "product, graft day, order",
            _delivered,
        ),
        Variable(
            "from_lots",
            "Q[p,g,o,k,ℓ]",
            "plants delivered to an order spread over lots, of rootstock lot k and scion lot ℓ",
            "plants",
            "product, graft day, order, rootstock lot, scion lot",
            _from_lots,
        ),
        Variable(
            "in_units",
            "U[p,g,o,i,e]",
            "plants delivered to an order spread over units that are in units opened on a day",
            "plants",
            "product, graft day, order, zone, first day of the stay, day opened, day free again",
            _in_units,
        ),
        Variable(
            "surplus", "u[p,g]", "plants of a flow beyond all orders", "plants", "product, graft day", _flows
        ),
        Variable(
            "sold",
            "z[p]",
            "surplus sold at the salvage price",
            "plants",
            "product",
            lambda p: [(product.product,) for product, _ in p.salvaged],
            upper=lambda p: [float(product.salvage_most) for product, _ in p.salvaged],
        ),
        Variable(
            "bought",
            "b[f,t,o]",
            "plants bought in for an order",
            "plants",
            "offer, arrival day, order",
            _bought,
            whole=True,
        ),
        Variable("short", "s[o]", "plants of an order not delivered", "plants", "order", _orders, whole=True),
        Variable(
            "declined",
            "D[o]",
            "plants declined of an order that may be declined in part; trays of one in whole trays",
            "plants or trays",
            "order",
            _declinable(Decline.PART),
            whole=True,
        ),
        Variable(
            "declined_whole",
            "W[o]",
            "1 where an order is declined whole",
            "0 or 1",
            "order",
            _declinable(Decline.WHOLE),
            upper=1.0,
            whole=True,
            held=True,
        ),
        Variable(
            "in_unit",
            "L[p,g,i,e]",
            "trays of a stay loaded into units opened on a day",
            "trays",
            "product, graft day, zone, first day of the stay, day opened, day free again",
            _in_unit,
        ),
        Variable(
            "units_opened",
            "N[zone,e]",
            "units of a zone opened on a day",
            "units",
            "zone, day opened, day free again",
            lambda p: [*p.batch_labels],
            whole=True,
        ),
        Variable(
            "bays_open",
            "G[zone,q]",
            "bays of a zone open in a week",
            "bays",
            "zone, first day of the week",
            lambda p: [(index.zone, p.iso(p.weeks[index.week].days[0])) for index in p.bay_weeks],
            whole=True,
        ),
        Variable(
            "worked",
            "h[c,k,t]",
            "hours of a crew at a skill",
            "hours",
            "crew, skill, day",
            lambda p: [(i.crew, i.skill, p.iso(i.day)) for i in p.crew_skill_days],
        ),
        Variable(
            "temporary_worked",
            "h′[c,k,t]",
            "hours of a crew's temporary hands at a skill",
            "hours",
            "crew, skill, day",
            lambda p: [(i.crew, i.skill, p.iso(i.day)) for i in p.temporary_skill_days],
        ),
        Variable(
            "worked_at_task",
            "h″[c,j,t]",
            "hours of a crew paid by the piece at a kind of work",
            "hours",
            "crew, skill, task, method, format, day",
            _crew_tasks,
        ),
        Variable(
            "regular", "reg[c,t]", "regular hours of a crew", "hours", "crew, day", _crew_days, upper=_regular
        ),
        Variable(
            "overtime", "ot[c,t]", "overtime of a crew", "hours", "crew, day", _crew_days, upper=_overtime
        ),
        Variable(
            "temporary_hands",
            "M[c,q]",
            "temporary hands in a week",
            "hands",
            "crew, first day of the week",
            _crew_weeks,
            upper=_hands,
            whole=True,
            held=True,
        ),
        Variable(
            "new_hands",
            "A[c,q]",
            "temporary hands new in a week",
            "hands",
            "crew, first day of the week",
            _crew_weeks,
            upper=_new_hands,
            whole=True,
            held=True,
        ),
        Variable(
            "stayed_hands",
            "S[c,k,q]",
            "temporary hands in a week that have been there for so many weeks before it",
            "hands",
            "crew, first day of the week, weeks before",
            lambda p: [(i.crew, p.iso(p.weeks[i.week].days[0]), i.weeks) for i in p.stayed_hands],
        ),
        Variable(
            "called_hands",
            "M′[c,t]",
            "trained temporary hands called on a day",
            "hands",
            "crew, day",
            lambda p: [(i.crew, p.iso(i.day)) for i in p.called_days],
            upper=lambda p: [float(p.amounts.crews[i.crew].crew.temp_heads_most) for i in p.called_days],
            whole=True,
            held=True,
        ),
        Variable(
            "temporary_overtime",
            "ot′[c,t]",
            "overtime of a crew's temporary hands",
            "hours",
            "crew, day",
            lambda p: [(i.crew, p.iso(i.day)) for i in p.temporary_overtime_days],
        ),
        Variable(
            "idle",
            "I[c,q]",
            "guaranteed hours of a crew without work",
            "hours",
            "crew, first day of the week",
            _guaranteed,
        ),
        Variable(
            "packs_bought",
            "P[j,size]",
            "packs of an item bought",
            "packs",
            "item, size",
            lambda p: [(pack.item, pack.size) for pack in p.packs],
            lower=_ordered,
            whole=True,
        ),
        Variable(
            "offer_taken",
            "B[f,t]",
            "1 where an offer delivers on a day",
            "0 or 1",
            "offer, arrival day",
            lambda p: [(p.network.offers[i.offer].offer, p.iso(i.day)) for i in p.offer_days],
            upper=1.0,
            whole=True,
            held=True,
        ),
        Variable(
            "spare_bought",
            "v[f,t]",
            "plants bought in for no order, to reach an offer's least quantity",
            "plants",
            "offer, arrival day",
            lambda p: [(p.network.offers[i.offer].offer, p.iso(i.day)) for i in p.spare_days],
        ),
        Variable(
            "wave_opened",
            "O[w]",
            "1 where a wave with a fixed cost is sown",
            "0 or 1",
            "lot, format, sowing day",
            lambda p: [p.wave_labels[w] for w in p.opened_waves],
            upper=1.0,
            whole=True,
            held=True,
        ),
        Variable(
            "batch_set_up",
            "Y[m,g]",
            "1 where a method with a least batch joins on a day",
            "0 or 1",
            "method, graft day",
            lambda p: [(i.method, p.iso(i.graft)) for i in p.batch_days],
            upper=1.0,
            whole=True,
            held=True,
        ),
        Variable(
            "vehicles",
            "V[n,t]",
            "vehicles of a run that leave on a day",
            "vehicles",
            "run, day",
            lambda p: [(i.run.run, p.iso(i.day)) for i in p.run_days],
            whole=True,
            held=True,
        ),
        Variable(
            "riding",
            "R[n,t,o]",
            "trays of an order in whole trays that ride with a run on a day",
            "trays",
            "run, day, order",
            _riding,
            whole=True,
        ),
        Variable(
            "carried",
            "F[a,p,g]",
            "1 where a flow holds plants of a group kept apart",
            "0 or 1",
            "kind of group, group, product, graft day",
            _carried,
            upper=1.0,
            whole=True,
            held=True,
        ),
        Variable(
            "admitted",
            "E[a,z,t]",
            "1 where plants of a group may be in a zone, or at the grafting table",
            "0 or 1",
            "kind of group, group, zone or grafting table, day, there before today or not",
            _admitted,
            upper=1.0,
            whole=True,
            held=True,
        ),
        Variable(
            "lot_chosen",
            "Z[o,ℓ]",
            "1 where an order of one lot may come from a lot",
            "0 or 1",
            "order, side (rootstock or scion), lot",
            _lots_chosen,
            upper=1.0,
            whole=True,
            held=True,
        ),
    )
}
"""All variables, by name, in the order of the program's columns."""

WHOLE = tuple(variable.name for variable in VARIABLES.values() if variable.whole)
HELD = tuple(variable.name for variable in VARIABLES.values() if variable.held)

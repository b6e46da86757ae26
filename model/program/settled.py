"""Decisions that the past has settled, and the trays, joins and plants that follow from them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from math import ceil, isnan, nan

from model.network.as_counted import bought_before, joins_made, packed, plants_delivered, trays_sown
from model.network.groups import joins_of
from model.network.riding import trays_on
from model.program.amounts import Key
from model.program.apart_sets import GroupInFlow, Presence
from model.program.index_sets import IndexSets
from model.scenario.choices import Decline

Values = dict[str, dict[int, float]]

ROUNDING = 1e-6
"""Part of a vehicle that is only rounding."""


def settled(p: IndexSets) -> Values:
    """Values of the variables that the past has settled, by name and index.

    Values are those recorded in progress; a decision without a record is 0. Settled are

    - trays sown, where they germinate, and joins made before today,
    - plants bought in, if their delivery is recorded or had to be ordered before today; a delivery recorded
      with fewer plants than its offer's least quantity had the rest as spare plants,
    - plants delivered, and plants declined, of orders packed before today,
    - temporary hands of weeks that began before today,
    - hours of days with recorded hours,
    - vehicles of runs on which only settled plants ride: the fewest that carry them.
    - groups kept apart that flows grafted before today hold, and where their settled trays and plants are.
    """
    elsewhere = {
        n: place.recorded for n, place in enumerate(p.amounts.sown_into) if place.recorded is not None
    }
    values = {
        "sown": trays_sown(p.network),
        "sown_into": elsewhere,
        "joins": joins_made(p.network),
        **_trade(p),
        **_hands(p),
    }
    if p.opened_waves:
        values["wave_opened"] = {w: float(trays > 0) for w, trays in values["sown"].items()}
    return values | {"vehicles": _vehicles(p, values)} | _apart(p, values)


def _vehicles(p: IndexSets, values: Values) -> dict[int, float]:
    found = {}
    for n, on in enumerate(p.run_days):
        told = {(name, i): values.get(name, {}).get(i, nan) for name, i in on.trays}
        if not isnan(sum(told.values())):
            found[n] = float(ceil(trays_on(n, on, p.riding, told) / on.run.trays - ROUNDING))
    return found


def _apart(p: IndexSets, values: Values) -> Values:
    network, sets = p.network, p.apart
    made = {j for j, joins in values["joins"].items() if joins > 0}
    carried = {
        n: float(any(j in made for j, _ in joins_of(network, group, f)))
        for n, (group, f) in enumerate(sets.carried)
        if 0 <= network.flows[f].graft < network.past.today
    }
    holds = {sets.carried[n] for n, value in carried.items() if value}
    index = {each: n for n, each in enumerate(sets.admitted)}
    admitted = {
        index[at]: 1.0
        for present in sets.present
        if present.flow is None or GroupInFlow(present.group, present.flow) in holds
        for at in map(present.on, _days_there(p, values, made, present))
        if at in index
    }
    return {"carried": carried, "admitted": admitted}


def _days_there(p: IndexSets, values: Values, made: set[int], present: Presence) -> Sequence[int]:
    """Days on which settled decisions put trays or plants there; those of a whole flow always may."""
    if present.key is not None and present.key[0] == "left":
        left = p.amounts.left[present.key[1]]
        later = [j for j in p.network.draws[left.wave] if j in made]
        drawn = any(p.network.flows[p.network.joins[j].flow].graft >= left.end for j in later)
        return range(present.start, present.end) if drawn else range(0)
    return p.apart.days_there(present, lambda key: values[key[0]].get(key[1], 0.0))


def _trade(p: IndexSets) -> Values:
    network, past = p.network, p.network.past
    before, ordered = packed(network), bought_before(network)
    bought = {
        i: past.bought.get((network.offers[b.offer].offer, b.day, network.orders[b.order].order.order), 0.0)
        for i, b in enumerate(network.buy_ins)
        if i in ordered
    }
    loads: dict[tuple[int, int], float] = defaultdict(float)
    for i, plants in bought.items():
        loads[network.buy_ins[i].offer, network.buy_ins[i].day] += plants
    deliveries = {
        n: float(loads[index.offer, index.day] > 0)
        for n, index in enumerate(p.offer_days)
        if (index.offer, index.day) in loads
    }
    spare = {
        n: max(p.network.offers[index.offer].least_quantity - loads[key], 0.0) * (loads[key] > 0)
        for n, index in enumerate(p.spare_days)
        if (key := (index.offer, index.day)) in loads
    }
    declined = {
        variable: {n: 0.0 for n, o in enumerate(p.declinable(how)) if o in before}
        for variable, how in (("declined", Decline.PART), ("declined_whole", Decline.WHOLE))
    }
    return {
        "bought": bought,
        "offer_taken": deliveries,
        "spare_bought": spare,
        "delivered": plants_delivered(network),
        **declined,
    }


def _hands(p: IndexSets) -> Values:
    past = p.network.past
    hired = {
        n: past.hired.get((index.crew, index.week), 0.0)
        for n, index in enumerate(p.crew_weeks)
        if p.weeks[index.week].days[0] < past.today
    }
    new = {
        n: max(0.0, heads - past.hired.get((p.crew_weeks[n].crew, p.crew_weeks[n].week - 1), 0.0))
        for n, heads in hired.items()
    }
    regular, overtime = {}, {}
    for n, index in enumerate(p.crew_days):
        if index.day in past.worked_days:
            hours = past.worked.get((index.crew, index.day), 0.0)
            regular[n] = min(hours, p.amounts.crews[index.crew].regular[index.day])
            overtime[n] = hours - regular[n]
    called = {n: past.called.get(i, 0.0) for n, i in enumerate(p.called_days) if i.day < past.today}
    longer = {
        n: past.overtime.get(i, 0.0) for n, i in enumerate(p.temporary_overtime_days) if i.day < past.today
    }
    return {
        "temporary_hands": hired,
        "new_hands": new,
        "regular": regular,
        "overtime": overtime,
        "called_hands": called,
        "temporary_overtime": longer,
    }


def decided(p: IndexSets, values: Values) -> dict[Key, float]:
    """Values of x, X, J, T, H, d, E and A that are settled: trays, joins, plants, groups, new hands."""
    network = p.network
    found: dict[Key, float] = {("sown", w): trays for w, trays in values.get("sown", {}).items() if trays > 0}
    found |= {("sown_into", n): trays for n, trays in values.get("sown_into", {}).items() if trays > 0}
    found |= {("new_hands", n): heads for n, heads in values.get("new_hands", {}).items() if heads > 0}
    for j, joins in values.get("joins", {}).items():
        if joins <= 0:
            continue
        join = network.joins[j]
        each = network.joins_a_tray(j)
        for variable, amount in (("grafted", joins), ("loaded", joins / each), ("healed", joins * join.take)):
            key = (variable, join.flow)
            found[key] = found.get(key, 0.0) + amount
    return found | {
        (name, i): amount
        for name in ("delivered", "admitted")
        for i, amount in values.get(name, {}).items()
        if amount > 0
    }

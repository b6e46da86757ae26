"""What a solution has and nobody uses: left out even where it costs nothing.

If trays, joins or packs are free, an optimum may hold more of them than needed. The functions change values
of the program's variables in place. They keep every row of the program, and never raise the cost.
"""

from __future__ import annotations

from collections import defaultdict
from itertools import groupby
from math import ceil, floor, inf

from model.program.apart import drawn_on
from model.program.apart_sets import GroupOnDay
from model.program.growing import spare_seedlings, spare_trays
from model.program.index_sets import Coefs
from model.program.program import Program

TINY = 1e-6
"""Amounts below this count as 0: sums of the solver's own tolerance, 1e-7, stay below it."""

ByVariable = dict[str, list[float]]
"""Values by variable and index."""


def leave_out_plants(p: Program, v: ByVariable, *, all_jobs: bool, whole: bool) -> None:
    """Leave out joins for nobody, spare seedlings beyond the margins, and trays that are then not drawn on.

    Surplus sold is for somebody. What the past has settled stays. In a plan in ``whole`` trays whole ones go.
    Without ``all_jobs``, joins and trays sown stay as they are.
    """
    if all_jobs:
        _joins(p, v)
    _spares(p, v)
    if all_jobs:
        _sown(p, v, whole)
        _sown_into(p, v)
    _left(p, v)
    _loaded(p, v, whole)
    for k, ride in enumerate(p.riding):
        v["riding"][k] = _least_trays(v["riding"][k], _total(v, ride.trays), whole)


def leave_out_change_overs(p: Program, v: ByVariable) -> None:
    """Leave out changing over for lots that no flow of the day draws on."""
    held: set[GroupOnDay] = set()
    for n, (group, f) in enumerate(p.apart.carried):
        graft = p.network.flows[f].graft
        at = GroupOnDay(group, None, graft, graft < p.network.past.today)
        if at in p.apart.changed_over:
            if _total(v, drawn_on(p, group, f)) > TINY:
                held.add(at)
            elif n not in p.settled.get("carried", {}):
                v["carried"][n] = 0.0
    for n, at in enumerate(p.apart.admitted):
        if at in p.apart.changed_over and at not in held:
            v["admitted"][n] = 0.0


def _total(v: ByVariable, coefs: Coefs) -> float:
    return sum([coef * v[variable][i] for (variable, i), coef in coefs.items()])


def _joins(p: Program, v: ByVariable) -> None:
    """Joins from today on; what days before today left over is sold first."""
    network = p.network
    sold: dict[str, float] = defaultdict(float)
    for n, (product, _) in enumerate(p.salvaged):
        sold[product.product] = v["sold"][n]
    surplus: dict[str, dict[int, float]] = defaultdict(dict)
    for f, flow in enumerate(network.flows):
        if 0 <= flow.graft < network.past.today:
            sold[flow.sold_as.product] -= v["surplus"][f]
        elif v["surplus"][f] > 0 and v["healed"][f] > 0:
            surplus[flow.sold_as.product][f] = v["surplus"][f]
    batches = _Batches(p, v)
    for name, of_flow in surplus.items():
        may_go = {f: batches.may_go(f, plants) for f, plants in of_flow.items()}
        total = sum(may_go.values())
        kept = sum(of_flow.values()) - total
        wanted = min(total, max(0.0, sold[name] - kept))
        for f, plants in may_go.items() if total - wanted > TINY else ():
            over, before = plants * (1 - wanted / total), v["grafted"][f]
            _shrink(p, v, f, max(0.0, 1 - over / (v["healed"][f] * network.flows[f].survival)))
            v["surplus"][f] -= over
            batches.less(f, before - v["grafted"][f])
    batches.close()


class _Batches:
    """Graft days of methods with a least batch: joins that are set up for stay, as many as the least.

    A day that is set up for in part, as in the continuous program, is set up for less instead; one that
    serves nobody is not set up for.
    """

    def __init__(self, p: Program, v: ByVariable) -> None:
        self._p, self._v = p, v
        self._of = {f: n for n, on in enumerate(p.batch_days) for f in on.flows}
        self._joins = [sum(v["grafted"][f] for f in on.flows) for on in p.batch_days]
        self._free = [
            self._joins[n] if self._may_close(n) else self._joins[n] - on.least
            for n, on in enumerate(p.batch_days)
        ]

    def _may_close(self, n: int) -> bool:
        p, v = self._p, self._v
        if v["batch_set_up"][n] < 1 - TINY:
            return True
        flows = p.batch_days[n].flows
        sold = {flow for k, (_, own) in enumerate(p.salvaged) if v["sold"][k] > TINY for flow in own}
        served = any(v["delivered"][i] > TINY for f in flows for i in p.serves[f])
        return not served and sold.isdisjoint(flows)

    def may_go(self, f: int, plants: float) -> float:
        """Surplus plants of a flow that may be left out; those of flows asked before count as gone."""
        if f not in self._of:
            return plants
        p, n = self._p, self._of[f]
        joins = [p.network.joins[j].take for j in p.network.flow_joins[f]]
        each = min(joins) * p.network.flows[f].survival
        if f not in p.joins_of_lots:
            each = self._v["healed"][f] * p.network.flows[f].survival / self._v["grafted"][f]
        gone = min(plants, max(0.0, self._free[n]) * each)
        self._free[n] -= gone / each
        return gone

    def less(self, f: int, joins: float) -> None:
        """A flow has so many joins less."""
        if f in self._of:
            self._joins[self._of[f]] -= joins

    def close(self) -> None:
        """Set up no more than what is joined needs."""
        set_up = self._v["batch_set_up"]
        for n, on in enumerate(self._p.batch_days):
            if self._joins[n] <= TINY:
                set_up[n] = 0.0
            elif set_up[n] < 1 - TINY:
                set_up[n] = min(set_up[n], self._joins[n] / on.least)


def _shrink(p: Program, v: ByVariable, f: int, share: float) -> None:
    """Make only that share of a flow's joins; lots that orders are spread over keep what they give these."""
    if f in p.joins_of_lots:
        share = _shrink_lots(p, v, f, share)
    else:
        for j in p.network.flow_joins[f]:
            v["joins"][j] *= share
        v["grafted"][f] *= share
    v["healed"][f] *= share
    for n, load in enumerate(p.amounts.loads):
        if p.amounts.load_stays[load.stay].key == ("healed", f):
            v["in_unit"][n] *= share


def _shrink_lots(p: Program, v: ByVariable, f: int, share: float) -> float:
    """Leave out joins of lots that orders spread over lots do not need; the share of healed plants left."""
    network, by_lots = p.network, p.joins_of_lots[f]
    healed = {
        lots: sum(v["joins"][j] * network.joins[j].take for j in joins) for lots, joins in by_lots.items()
    }
    free = dict(healed)
    for n, part in enumerate(p.lot_parts):
        delivery = network.deliveries[part.delivery]
        if delivery.flow == f:
            needed = v["from_lots"][n] * (1 + delivery.margin) / network.flows[f].survival
            free[part.rootstock, part.scion] -= needed
    free = {lots: max(0.0, plants) for lots, plants in free.items()}
    over = min((1 - share) * sum(healed.values()), sum(free.values()))
    left = 1 - over / sum(healed.values())
    for lots, joins in by_lots.items():
        kept = 1 - over * free[lots] / sum(free.values()) / healed[lots] if free[lots] > 0 else 1.0
        for j in joins:
            v["joins"][j] *= kept
    v["grafted"][f] = sum(v["joins"][j] for j in network.flow_joins[f])
    return left


def _spares(p: Program, v: ByVariable) -> None:
    spare = v["spare"]
    for reserve, row in zip(p.network.reserves, spare_seedlings(p).values(), strict=True):
        kept = sum(spare[i] for i in reserve.spares)
        needed = max(0.0, kept + _total(v, row.coefs))
        for i in reserve.spares if kept > 0 else ():
            spare[i] *= min(1.0, needed / kept)


def _drawn(p: Program, v: ByVariable, w: int, after: float) -> float:
    """Seedlings of a wave that are drawn or spare after a day."""
    network, flows = p.network, p.network.flows
    drawn = 0.0
    for j in network.draws[w]:
        join = network.joins[j]
        if flows[join.flow].graft > after:
            drawn += v["joins"][j] / join.match
    for i in network.wave_spares[w]:
        if flows[network.spares[i].flow].graft > after:
            drawn += v["spare"][i]
    return drawn


def _sown(p: Program, v: ByVariable, whole: bool) -> None:
    settled = p.settled.get("sown", {})
    opened = {w: n for n, w in enumerate(p.opened_waves)}
    for w, wave in enumerate(p.network.waves):
        trays = v["sown"][w]
        if trays <= 0 or w in settled:
            continue
        drawn = _drawn(p, v, w, -inf)
        v["sown"][w] = needed = _least_trays(trays, drawn / wave.usable if drawn > 0 else 0.0, whole)
        if needed == 0 and w in opened:
            v["wave_opened"][opened[w]] = 0.0


def _sown_into(p: Program, v: ByVariable) -> None:
    """No more trays germinate in further zones than are sown; the others are in the lot's own zone."""
    left = dict(enumerate(v["sown"]))
    for n, place in enumerate(p.amounts.sown_into):
        if place.recorded is None:
            v["sown_into"][n] = min(v["sown_into"][n], left[place.wave])
        left[place.wave] -= v["sown_into"][n]


def _left(p: Program, v: ByVariable) -> None:
    for k, left in enumerate(p.amounts.left):
        if v["left"][k] > 0:
            drawn = _drawn(p, v, left.wave, left.start)
            v["left"][k] = min(v["left"][k], drawn / p.network.waves[left.wave].usable)


def _loaded(p: Program, v: ByVariable, whole: bool) -> None:
    before, spare = {name: v[name].copy() for name in ("loaded", "finishing")}, spare_trays(p)
    for f, flow in enumerate(p.network.flows):
        ordered_full = f in p.network.in_whole_trays
        if v["loaded"][f] <= 0 and not ordered_full:
            continue
        needed = _flow_trays(p, v, f) + _total(v, spare.get(f, {}))
        if ordered_full:
            needed = v["whole_loaded"][f] = _least_trays(v["whole_loaded"][f], needed, whole)
            v["finishing"][f] = _least_trays(v["finishing"][f], v["healed"][f] / flow.tray.cells, whole)
        v["loaded"][f] = min(v["loaded"][f], needed)
    for n, load in enumerate(p.amounts.loads):
        variable, f = p.amounts.load_stays[load.stay].key
        if variable in before and before[variable][f] > 0:
            v["in_unit"][n] *= v[variable][f] / before[variable][f]


def _least_trays(trays: float, needed: float, whole: bool) -> float:
    """Trays needed of those that there are."""
    if whole:
        needed = float(ceil(needed - TINY))
    return min(trays, needed)


def _flow_trays(p: Program, v: ByVariable, f: int) -> float:
    return sum((v["joins"][j] / p.network.joins_a_tray(j) for j in p.network.flow_joins[f]), 0.0)


def _most_out(p: Program, v: ByVariable, item: str) -> float:
    """The most units of an item, used and not back, at one time, where decisions have these values."""
    most, out = 0.0, 0.0
    moves = sorted((use.day, use.units * v[use.key[0]][use.key[1]]) for use in p.in_and_out.get(item, []))
    for _, group in groupby(moves, key=lambda move: move[0]):
        out += sum(units for _, units in group)
        most = max(most, out)
    return most


def leave_out_packs(p: Program, v: ByVariable) -> None:
    """Leave out packs that are not opened, large ones first; those ordered before today stay."""
    left = {item: amount for item, (amount, _) in p.items.items()}
    coming = {item for item in p.in_and_out if p.days_back(item)}
    for use in p.uses:
        if use.item not in coming:
            left[use.item] -= use.units * v[use.key[0]][use.key[1]]
    for item in coming:
        left[item] -= _most_out(p, v, item)
    for n, pack in enumerate(p.packs):
        left[pack.item] += pack.size * v["packs_bought"][n]
    ordered, _ = p.bounds("packs_bought")
    for n, pack in sorted(enumerate(p.packs), key=lambda entry: -entry[1].size):
        packs = v["packs_bought"][n]
        over = min(left[pack.item] / pack.size, packs - ordered[n])
        if abs(packs - round(packs)) <= TINY:
            over = float(floor(over + TINY))
        if over > 0:
            v["packs_bought"][n] -= over
            left[pack.item] -= over * pack.size


def leave_out_vehicles(p: Program, v: ByVariable) -> None:
    """Leave out vehicles that nothing rides on."""
    for n, on in enumerate(p.run_days):
        vehicles, needed = v["vehicles"][n], _total(v, p.rides[n]) / on.run.trays
        if abs(vehicles - round(vehicles)) <= TINY:
            needed = float(ceil(needed - TINY))
        v["vehicles"][n] = min(vehicles, needed)


UNIT_COLUMNS = ("units_opened", "in_unit", "in_units")
"""Variables that say which units plants are in."""


def free_units_soonest(p: Program, v: ByVariable) -> None:
    """Units are free again as soon as the last of their plants leave."""
    amounts = p.amounts
    at = {batch: e for e, batch in enumerate(amounts.batches)}
    loads = {load: n for n, load in enumerate(amounts.loads)}
    at_part = {part: n for n, part in enumerate(p.unit_parts)}
    parts: dict[int, list[int]] = defaultdict(list)
    for part, n in at_part.items():
        parts[part.load].append(n)
    inside: dict[int, list[int]] = defaultdict(list)
    for n, load in enumerate(amounts.loads):
        if v["in_unit"][n] > TINY:
            inside[load.batch].append(n)
    for e, held in inside.items():
        last = max(amounts.load_stays[amounts.loads[n].stay].stay.end for n in held)
        sooner = at.get(amounts.batches[e]._replace(shut=last), e)
        moved = {n: loads[to] for n in held if (to := amounts.loads[n]._replace(batch=sooner)) in loads}
        if sooner != e and len(moved) == len(held):
            _move(v["units_opened"], e, sooner)
            for n, to_load in moved.items():
                _move(v["in_unit"], n, to_load)
                for m in parts[n]:
                    _move(v["in_units"], m, at_part[p.unit_parts[m]._replace(load=to_load)])


def _move(values: list[float], n: int, to: int) -> None:
    values[to] += values[n]
    values[n] = 0.0

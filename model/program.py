"""The linear program: one function per constraint group, stated in Pyomo.

A group's function returns its rows; ``build`` makes them constraints. Symbols are those of docs/maths.md.
"""

from __future__ import annotations

import gc
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from math import ceil
from typing import Any

import pyomo.environ as pyo
from pyomo.core.expr.numeric_expr import LinearExpression

from model.amounts import Amounts, Key
from model.costs import costs
from model.entities import Kind
from model.network import Network
from model.sets import Coefs, CrewDay, CrewWeek, Label, Program, Row, Rows


def seedlings(p: Program) -> Rows:
    """Joins draw on a wave no more seedlings than it has.

    Σ_{joins drawing on w} y / μ ≤ κ[w] · x[w]      for each wave w
    """
    joins = p.network.joins
    rows = {}
    for w, wave in enumerate(p.network.waves):
        coefs: Coefs = {("y", j): 1 / joins[j].match for j in p.network.draws[w]}
        coefs["x", w] = -wave.usable
        rows[wave.lot.lot, wave.tray.format, wave.sow] = Row(coefs, None, 0.0)
    return rows


def bench_trays(p: Program) -> Rows:
    """Trays left on the bench hold the seedlings still to be drawn.

    Σ_{joins drawing on w after its k-th draw day} y / μ ≤ κ[w] · r[w,k]      for each w, k
    """
    joins, flows = p.network.joins, p.network.flows
    rows = {}
    for k, left in enumerate(p.amounts.left):
        wave = p.network.waves[left.wave]
        coefs: Coefs = {
            ("y", j): 1 / joins[j].match
            for j in p.network.draws[left.wave]
            if flows[joins[j].flow].graft > left.start
        }
        coefs["r", k] = -wave.usable
        rows[wave.lot.lot, wave.tray.format, wave.sow, left.start] = Row(coefs, None, 0.0)
    return rows


def _flow_label(p: Program, f: int) -> Label:
    flow = p.network.flows[f]
    return flow.product.product, flow.graft


def flow_joins(p: Program) -> Rows:
    """Joins of a flow.

    J[p,g] = Σ y
    """
    return {
        _flow_label(p, f): Row({("J", f): -1.0} | {("y", j): 1.0 for j in joins}, 0.0, 0.0)
        for f, joins in enumerate(p.network.flow_joins)
    }


def flow_trays(p: Program) -> Rows:
    """Trays that a flow loads.

    T[p,g] ≥ Σ y / (μ · κ[w])      on-tray: the rootstock's own trays, blanks and all
    T[p,g] ≥ Σ y / cells(final)    root-cut: each join stuck into a fresh cell
    T[p,g] ≥ Σ y / κ[v]            own-root: the trays as sown
    """
    rows = {}
    for f, flow in enumerate(p.network.flows):
        coefs: Coefs = {("T", f): -1.0}
        for j in p.network.flow_joins[f]:
            join = p.network.joins[j]
            if flow.method.kind is Kind.ROOT_CUT:
                coefs["y", j] = 1 / flow.tray.cells
            else:
                coefs["y", j] = 1 / (join.match * p.network.waves[join.waves[0]].usable)
        rows[_flow_label(p, f)] = Row(coefs, None, 0.0)
    return rows


def flow_healed(p: Program) -> Rows:
    """Plants of a flow that heal.

    H[p,g] = Σ y · τ
    """
    joins = p.network.joins
    return {
        _flow_label(p, f): Row({("H", f): -1.0} | {("y", j): joins[j].take for j in own}, 0.0, 0.0)
        for f, own in enumerate(p.network.flow_joins)
    }


def take(p: Program) -> Rows:
    """Finished plants go to orders, with their margin, or are surplus.

    Σ_o d[p,g,o] · (1 + m[o]) + u[p,g] = H[p,g] · φ      for each flow (p,g)
    """
    coefs: list[Coefs] = [{("u", f): 1.0, ("H", f): -flow.survival} for f, flow in enumerate(p.network.flows)]
    for i, delivery in enumerate(p.network.deliveries):
        coefs[delivery.flow]["d", i] = 1 + delivery.margin
    return {_flow_label(p, f): Row(row, 0.0, 0.0) for f, row in enumerate(coefs)}


def salvage(p: Program) -> Rows:
    """What is sold at the salvage price is surplus; ``salvage_most`` bounds the variable.

    z[p] ≤ Σ_g u[p,g],  z[p] ≤ salvage_most      for each product p
    """
    return {
        (product.product,): Row({("z", n): 1.0} | {("u", f): -1.0 for f in flows}, None, 0.0)
        for n, (product, flows) in enumerate(p.salvaged)
    }


def order(p: Program) -> Rows:
    """Every ordered plant is grown, bought in, short or, where it may be, declined.

    Σ_{p,g} d[p,g,o] + Σ_{f,t} b[f,t,o] + s[o] + D[o] + quantity[o] · W[o] = quantity[o]      for each order o
    """
    coefs: list[Coefs] = [{("s", o): 1.0} for o in range(len(p.network.orders))]
    for i, delivery in enumerate(p.network.deliveries):
        coefs[delivery.order]["d", i] = 1.0
    for i, buy_in in enumerate(p.network.buy_ins):
        coefs[buy_in.order]["b", i] = 1.0
    quantities = [float(term.order.quantity) for term in p.network.orders]
    for key, o, plants in p.declined:
        coefs[o][key] = plants
    return {
        (term.order.order,): Row(row, quantity, quantity)
        for term, row, quantity in zip(p.network.orders, coefs, quantities, strict=True)
    }


def slots(p: Program) -> Rows:
    """Trays standing in a pool find a slot.

    Σ_{trays standing in zone z on day t} trays · slots ≤ slots[z,t] + added modules · slots per module
    for each pool z, day t from today; what stands already and cannot but stay raises the limit to itself
    """
    zones = p.amounts.zones
    used: dict[tuple[str, int], Coefs] = defaultdict(lambda: defaultdict(float))
    for s in p.amounts.standing:
        if zones[s.zone].pool:
            for t in range(s.start, s.end):
                used[s.zone, t][s.key] += s.trays * s.slots
    rows = {}
    for zone, t in sorted(used):
        if t >= p.network.past.today:
            coefs = used[zone, t]
            rows[zone, t] = Row(coefs, None, max(zones[zone].amount[t], _decided(p, coefs)))
    return rows


def _decided(p: Program, coefs: Coefs) -> float:
    """What the decisions that the past has settled come to in a row."""
    return sum(coef * p.decided[key] for key, coef in coefs.items() if key in p.decided)


def unit_loads(p: Program) -> Rows:
    """Every stay in a zone run in units is loaded into a batch.

    Σ_e L[p,g,i,e] = trays of stay i of flow (p,g)
    """
    coefs: list[Coefs] = [{stay.key: -stay.trays} for stay in p.amounts.load_stays]
    for n, load in enumerate(p.amounts.loads):
        coefs[load.stay]["L", n] = 1.0
    return {
        (*_flow_label(p, stay.flow), stay.stay.zone, stay.stay.start): Row(row, 0.0, 0.0)
        for stay, row in zip(p.amounts.load_stays, coefs, strict=True)
    }


def unit_room(p: Program) -> Rows:
    """A batch takes no more than its units' slots.

    Σ_{p,g,i} L[p,g,i,e] · slots ≤ unit slots[z] · N[z,e]
    """
    batches, zones = p.amounts.batches, p.amounts.zones
    coefs: list[Coefs] = [{("N", e): -zones[batch.zone].slots_each} for e, batch in enumerate(batches)]
    for n, load in enumerate(p.amounts.loads):
        coefs[load.batch]["L", n] = p.amounts.load_stays[load.stay].slots
    return {(batch.zone, batch.open): Row(row, None, 0.0) for batch, row in zip(batches, coefs, strict=True)}


def units_busy(p: Program) -> Rows:
    """No more units are busy than there are.

    Σ_{e busy on t} N[z,e] ≤ units[z,t] + added modules      for each day t from today
    """
    zones = p.amounts.zones
    busy: dict[tuple[str, int], Coefs] = defaultdict(dict)
    for e, batch in enumerate(p.amounts.batches):
        for t in range(max(batch.open, p.network.past.today), batch.shut):
            busy[batch.zone, t]["N", e] = 1.0
    return {(zone, t): Row(busy[zone, t], None, zones[zone].amount[t]) for zone, t in sorted(busy)}


def skill_hours(p: Program) -> Rows:
    """Hands do all the work of a skill.

    Σ_{tasks of skill k on t} seconds / 3600 · amount ≤ Σ_c pace[c] · h[c,k,t] + temporary pace[c] · h′[c,k,t]
    for each skill k, day t of which no hours worked are told
    """
    crews, told = p.amounts.crews, p.network.past.worked_days
    rows: dict[tuple[str, int], Coefs] = {key: dict(coefs) for key, coefs in p.needs.items()}
    for n, i in enumerate(p.crew_skill_days):
        rows[i.skill, i.day]["h", n] = -crews[i.crew].crew.pace
    for n, i in enumerate(p.temporary_skill_days):
        rows[i.skill, i.day]["h'", n] = -crews[i.crew].crew.temp_pace
    return {key: Row(coefs, None, 0.0) for key, coefs in rows.items() if key[1] not in told}


def crew_hours(p: Program) -> Rows:
    """A crew's hours at all skills are its regular hours and overtime; these are bounded by its calendar.

    Σ_k h[c,k,t] = reg[c,t] + ot[c,t]      for each day t of which no hours worked are told
    reg[c,t] ≤ heads[c,t] · hours per head,  0 on days off
    ot[c,t] ≤ heads[c,t] · overtime hours per head,  on days off heads[c,t] · day-off hours per head
    """
    rows: dict[CrewDay, Coefs] = {
        index: {("reg", n): -1.0, ("ot", n): -1.0} for n, index in enumerate(p.crew_days)
    }
    for n, i in enumerate(p.crew_skill_days):
        rows[CrewDay(i.crew, i.day)]["h", n] = 1.0
    told = p.network.past.worked_days
    return {key: Row(coefs, 0.0, 0.0) for key, coefs in rows.items() if key.day not in told}


def week_hours(p: Program) -> Rows:
    """A crew's hours of a week stay within its weekly limit, where there is one.

    Σ_{t in q} reg[c,t] + ot[c,t] ≤ most heads[c] in q · week hours per head      where given
    for each week q that ends today or later; hours told beyond the limit raise it to themselves
    """
    past = p.network.past
    coefs: dict[CrewWeek, Coefs] = defaultdict(dict)
    for n, i in enumerate(p.crew_days):
        coefs[CrewWeek(i.crew, p.week_of[i.day])] |= {("reg", n): 1.0, ("ot", n): 1.0}
    rows: Rows = {}
    for key in sorted(coefs):
        days = p.weeks[key.week].days
        limit = p.amounts.crews[key.crew].week_hours(p.weeks[key.week])
        if limit is not None and days[-1] >= past.today:
            told = sum(past.worked.get((key.crew, t), 0.0) for t in days)
            rows[key] = Row(coefs[key], None, max(limit, told))
    return rows


def temporary_new(p: Program) -> Rows:
    """Temporary hands beyond last week's are new.

    A[c,q] ≥ M[c,q] − M[c,q−1]
    """
    rows: Rows = {}
    for n, index in enumerate(p.crew_weeks):
        coefs: Coefs = {("M", n): 1.0, ("A", n): -1.0}
        if index.week > 0:
            coefs["M", n - 1] = -1.0
        rows[index] = Row(coefs, None, 0.0)
    return rows


def temporary_hours(p: Program) -> Rows:
    """Temporary hands work no more than their day, and not while in training.

    Σ_k h′[c,k,t] ≤ hours per head · (M[c,q] − A[c,q] · [t is one of the first training days of q])
    for each working day t of week q
    """
    worked: dict[CrewDay, Coefs] = defaultdict(dict)
    for n, i in enumerate(p.temporary_skill_days):
        worked[CrewDay(i.crew, i.day)]["h'", n] = 1.0
    rows = {}
    for n, index in enumerate(p.crew_weeks):
        limits, week = p.amounts.crews[index.crew], p.weeks[index.week]
        hours = limits.crew.hours_per_head_day
        training = limits.training_days(week)
        for t in week.working:
            coefs = worked.get(CrewDay(index.crew, t))
            if coefs is not None:
                coefs["M", n] = -hours
                if t in training:
                    coefs["A", n] = hours
                rows[index.crew, t] = Row(coefs, None, 0.0)
    return rows


def buy_in_quantity(p: Program) -> Rows:
    """A delivery bought in is at least and at most what the offer says.

    least quantity · B[f,t] ≤ Σ_o b[f,t,o] ≤ most per delivery · B[f,t]      where it can still be ordered
    """
    rows: Rows = {}
    for n, index in enumerate(p.offer_days):
        if n in p.settled.get("B", {}):
            continue
        offer = p.network.offers[index.offer]
        ordered = sum(p.network.orders[p.network.buy_ins[i].order].order.quantity for i in index.buy_ins)
        most = ordered if offer.most_per_delivery is None else offer.most_per_delivery
        coefs: Coefs = {("b", i): 1.0 for i in index.buy_ins}
        rows[offer.offer, index.day, "most"] = Row(coefs | {("B", n): -float(most)}, None, 0.0)
        if offer.least_quantity > 0:
            least = Row(coefs | {("B", n): -float(offer.least_quantity)}, 0.0, None)
            rows[offer.offer, index.day, "least"] = least
    return rows


def waves_sown(p: Program) -> Rows:
    """A wave with a fixed cost is sown or not.

    x[w] ≤ most trays[w] · O[w]      where a wave has a fixed cost and can still be sown
    """
    if not p.counts["O"]:
        return {}
    network = p.network
    served: dict[int, set[int]] = defaultdict(set)
    for delivery in network.deliveries:
        served[delivery.flow].add(delivery.order)
    rows = {}
    for w, wave in enumerate(network.waves):
        if w in p.settled.get("x", {}):
            continue
        joins = [network.joins[j] for j in network.draws[w]]
        flows = {join.flow for join in joins}
        orders = sorted(set().union(*(served[f] for f in flows)))
        plants = sum(network.orders[o].order.quantity * (1 + network.orders[o].margin) for o in orders)
        products = {network.flows[f].product.product: network.flows[f].product for f in flows}
        plants += sum(product.salvage_most for product in products.values())
        dearest = max(
            1 / (join.match * join.take * network.flows[join.flow].survival * wave.usable) for join in joins
        )
        most = float(ceil(plants * dearest))
        rows[wave.lot.lot, wave.tray.format, wave.sow] = Row({("x", w): 1.0, ("O", w): -most}, None, 0.0)
    return rows


def _used(p: Program) -> dict[str, list[tuple[int, Key, float]]]:
    used: dict[str, list[tuple[int, Key, float]]] = defaultdict(list)
    for use in p.amounts.uses:
        used[use.item].append((use.day, use.key, use.units))
    return dict(sorted(used.items()))


def _sum(uses: list[tuple[int, Key, float]]) -> Coefs:
    coefs: Coefs = defaultdict(float)
    for _, key, units in uses:
        coefs[key] += units
    return coefs


def stock(p: Program) -> Rows:
    """What is used before an order of seed or supplies can arrive comes from stock, or was ordered before.

    used of item j before day today + lead[j] ≤ stock[j] + packs ordered that have come by then
    and so before each day of their arrival; what was used already raises the limit to itself
    """
    rows: Rows = {}
    past = p.network.past
    ordered: dict[str, list[tuple[int, float]]] = defaultdict(list)
    for (item, size), arrivals in past.packs.items():
        ordered[item] += [(day, size * number) for day, number in arrivals]
    for item, uses in _used(p).items():
        amount, lead = p.items[item]
        comes = past.today + lead
        for before in sorted({comes, *(day for day, _ in ordered[item] if past.today < day < comes)}):
            coefs = _sum([use for use in uses if use[0] < before])
            if coefs:
                there = amount + sum(units for day, units in ordered[item] if day < before)
                rows[item, before] = Row(coefs, None, max(there, _decided(p, coefs)))
    return rows


def packs(p: Program) -> Rows:
    """What is used of an item was in stock or is bought in packs.

    used of item j in all ≤ stock[j] + Σ_sizes size · P[j,size]
    """
    bought: dict[str, Coefs] = defaultdict(dict)
    for n, pack in enumerate(p.packs):
        bought[pack.item]["P", n] = -pack.size
    return {
        (item,): Row(_sum(uses) | bought[item], None, p.items[item][0]) for item, uses in _used(p).items()
    }


GROUPS: dict[str, Callable[[Program], Rows]] = {
    function.__name__: function
    for function in (
        seedlings,
        bench_trays,
        flow_joins,
        flow_trays,
        flow_healed,
        take,
        salvage,
        order,
        slots,
        unit_loads,
        unit_room,
        units_busy,
        skill_hours,
        crew_hours,
        week_hours,
        temporary_new,
        temporary_hours,
        buy_in_quantity,
        waves_sown,
        stock,
        packs,
    )
}


@contextmanager
def collector_paused() -> Iterator[None]:
    """Keep the garbage collector from walking millions of small objects while they are made."""
    was_enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_enabled:
            gc.enable()


def build(network: Network) -> Program:
    """State the program of a network as a Pyomo model, all variables continuous."""
    with collector_paused():
        program = Program(network, Amounts(network))
        program.model = model = pyo.ConcreteModel()
        for letter, count in program.counts.items():
            lower, upper = program.bounds(letter)
            variables = pyo.Var(range(count), bounds=lambda _, i, low=lower, high=upper: (low[i], high[i]))
            model.add_component(letter, variables)
            program.variables[letter] = [variables[i] for i in range(count)]
        for name, group in GROUPS.items():
            rows = group(program)
            model.add_component(name, pyo.Constraint(list(rows), rule=_rule(program, rows)))
        total: Coefs = defaultdict(float)
        constant = 0.0
        for term in costs(program):
            constant += term.constant
            for key, coef in term.coefs.items():
                total[key] += coef
        model.cost = pyo.Objective(expr=_linear(program, total, constant))
    return program


def _linear(program: Program, coefs: Coefs, constant: float = 0.0) -> Any:
    variables = [program.variables[letter][i] for letter, i in coefs]
    return LinearExpression(constant=constant, linear_coefs=list(coefs.values()), linear_vars=variables)


def _rule(program: Program, rows: Rows) -> Callable[..., Any]:
    def rule(_: Any, *label: Any) -> Any:
        row = rows[label]
        return (row.lower, _linear(program, row.coefs), row.upper)

    return rule


def rows(program: Program, group: str) -> list[str]:
    """The rows of a group as text, one a line, in the program's order."""
    return [f"{group}{list(label)}: {_text(row)}" for label, row in GROUPS[group](program).items()]


def _text(row: Row) -> str:
    terms = " ".join(f"{coef:+.6g} {letter}[{i}]" for (letter, i), coef in row.coefs.items())
    if row.lower is not None and row.lower == row.upper:
        return f"{terms} = {row.upper:.6g}"
    lower = "" if row.lower is None else f"{row.lower:.6g} <= "
    upper = "" if row.upper is None else f" <= {row.upper:.6g}"
    return f"{lower}{terms}{upper}"

"""Traced costs of an order: every cost line follows the plants from seed to delivery.

Each decision of the plan (trays of a wave, joins of a flow, plants delivered ...) bears the costs that it
causes, at unit rates: seed and supplies at money paid over amount used, hours at the pay of the day,
slot-days at their cost. Waves pass their cost on to joins by seedlings drawn, joins to their flow, flows to
orders by plants. Plants grown but not delivered are waste and margin of the orders that they were grown for.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping

import pandas as pd

from model.collector import collector_paused
from model.planned.values import Values
from model.program.amounts import CHANGING_OVER, Key, Work
from model.program.apart import drawn_on
from model.program.cost_terms import COST_LINES, costs, trays_in_zones, zone_detail
from model.program.index_sets import BaysInWeek, CrewInWeek, CrewOnDay
from model.program.program import Program
from model.questions.cost_flows import (
    BASE,
    NOBODY,
    SEED,
    TO_WASTE,
    WASTE,
    WASTED_BASE,
    Bearer,
    CostPool,
    Lines,
    Source,
    add_lines,
    by_order,
)
from model.scenario.choices import OverheadRule, PayBasis, Task, ZoneUse
from model.scenario.own_tasks import HOLDING
from model.solve import Solved

TRACED_LINES = (
    "rootstock seed",
    "scion seed",
    "media and trays",
    "clips and stakes",
    "graft labour",
    "other labour",
    "chamber",
    "bench",
    "holding",
    "packing",
    "freight",
    "buy-in",
    WASTE,
    "late",
    "shortfall",
    "declined",
    "overhead",
)
"""Lines of the traced cost of an order, in the order shown."""

PENALTIES = ("shortfall", "declined")
"""Lines that are no cost of plants: penalties for plants short, prices forgone for plants declined."""

DUST = 1e-9
"""Amounts of money below this count as zero: the tolerance of the arithmetic."""

Labour = tuple[dict[tuple[str, int], dict[Source, float]], dict[tuple[str, int], float]]
"""Pay by source, and the hours of work needed, by skill and day."""

GRAFTING = {Task.GRAFT.value, Task.STICK.value, CHANGING_OVER}


def _base(rule: OverheadRule) -> Source:
    """The base of overhead that is shared by a rule."""
    return "", rule.value


def traced_costs(solved: Solved) -> pd.DataFrame:
    """The plan's whole cost by order and line: columns order (None for no order), line, amount (currency).

    The amounts add up to the cost of the plan.
    """
    return total_traced(traced_parts(solved), "order", "line")


@collector_paused()
def traced_parts(solved: Solved) -> pd.DataFrame:
    """Traced costs by part of the plan's cost table: columns order, made, line, cost_line, detail, amount.

    ``made``: the product as it was grafted, None for plants bought, short or declined. Amounts are in
    currency. Those of one ``cost_line`` and ``detail`` add up to the plan's cost of that line and detail.
    """
    names: list[str | None] = [term.order.order for term in solved.program.network.orders]
    rows = [
        (None if by.order is None else names[by.order], by.made, line, *source, amount)
        for by, lines in sorted(_traced(solved).items(), key=lambda item: _place(item[0]))
        for (line, source), amount in sorted(lines.items(), key=lambda item: _rank(*item[0]))
        if line not in TO_WASTE and abs(amount) > DUST
    ]
    columns = ("order", "made", "line", "cost_line", "detail")
    texts = {name: pd.Series([row[n] for row in rows], dtype=object) for n, name in enumerate(columns)}
    return pd.DataFrame({**texts, "amount": pd.Series([row[-1] for row in rows], dtype=float)})


def total_traced(traced: pd.DataFrame, *columns: str) -> pd.DataFrame:
    """Traced amounts summed by the columns named, in the order in which their values first occur."""
    sums: dict[tuple[str | None, ...], float] = defaultdict(float)
    names = zip(*(traced[column] for column in columns), strict=True)
    for key, amount in zip(names, traced["amount"], strict=True):
        sums[key] += amount
    texts = {name: pd.Series([key[n] for key in sums], dtype=object) for n, name in enumerate(columns)}
    return pd.DataFrame({**texts, "amount": pd.Series(list(sums.values()), dtype=float)})


def _place(by: Bearer) -> tuple[bool, int, bool, str]:
    return by.order is None, by.order or 0, by.made is None, by.made or ""


def _rank(line: str, source: Source) -> tuple[int, Source]:
    return (TRACED_LINES.index(line) if line in TRACED_LINES else -1), source


@collector_paused()
def overhead_shares(solved: Solved) -> dict[str, float]:
    """What each order bears of the overhead, in currency, with the overhead of its waste and margin.

    The shares add up to the overhead, where plants are delivered and the scenario's rule lets orders bear it.
    """
    values, pool = _borne(solved, overhead_alone=True)
    bases = {(BASE, _base(rule)) for rule in OverheadRule}
    for key, lines in pool.keys.items():
        pool.keys[key] = {part: amount for part, amount in lines.items() if part in bases}
    orders = by_order(solved.program, values, pool)
    borne: dict[int | None, float] = defaultdict(float)
    for rule, amounts in _by_rule(solved.program, pool).items():
        total = sum(amounts.values())
        for (by, _), share in _shares(orders, "overhead", _base(rule)).items():
            borne[by.order] += total * share
    return {term.order.order: borne[o] for o, term in enumerate(solved.program.network.orders)}


def _traced(solved: Solved) -> dict[Bearer, Lines]:
    """Lines by order and product as grafted."""
    values, pool = _borne(solved)
    orders = by_order(solved.program, values, pool)
    _spread(solved.program, orders, pool)
    return orders


def _borne(solved: Solved, *, overhead_alone: bool = False) -> tuple[Values, CostPool]:
    """The plan's values, and the costs by the decision that bears them; overhead and modules are not shared.

    ``overhead_alone``: only overhead and what it is shared by are asked for; other costs may be left out.
    """
    program = solved.program
    values = solved.values
    pool = CostPool()
    _bear_items(program, values, pool)
    labour, works = _bear_labour(program, values, pool), program.work
    if overhead_alone and not _shared_by(program, OverheadRule.HOURS):
        works = [work for work in works if work.key[0] == "new_hands"]  # their practice is overhead
    _share_labour(program, values, pool, labour, works)
    _bear_slots(program, values, pool)
    _bear_bays(program, values, pool)
    _bear_zones(program, values, pool)
    _bear_the_rest(program, values, pool)
    _bear_practice(pool)
    _bear_elsewhere(program, pool)
    _bear_change_overs(program, values, pool)
    _bear_plants(program, values, pool)
    return values, pool


# What each decision bears


def _bear_items(program: Program, values: Values, pool: CostPool) -> None:
    """Seed and supplies at a rate for each unit: money paid for an item over the amount of it used.

    Stock on hand is free, so the rate is below the price where some stock is used.
    """
    used: dict[str, float] = defaultdict(float)
    bought: dict[str, float] = defaultdict(float)
    for use in program.uses:
        used[use.item] += use.units * values[use.key]
    for n, pack in enumerate(program.packs):
        bought[pack.item] += pack.price * values["packs_bought", n]
    lots = {lot.lot for lot in program.network.scenario.seed_lots}
    lines = {"sown": "media and trays", "grafted": "clips and stakes", "loaded": "media and trays"}
    for use in program.uses:
        amount = use.units * values[use.key]
        if amount > 0 and bought[use.item]:
            line = SEED if use.item in lots else lines.get(use.key[0], "packing")
            source = ("seed" if use.item in lots else "supplies", use.item)
            pool.keys[use.key][line, source] += amount * bought[use.item] / used[use.item]
    for item, amount in bought.items():
        if not used[item]:
            pool.overhead["seed" if item in lots else "supplies", item] += amount


def _bear_labour(program: Program, values: Values, pool: CostPool) -> Labour:
    """Pay by skill and day, to be shared by the hours needed there; paid hours without work are overhead.

    Own hands: regular and overtime pay of the crew on the day, over its hours. Temporary hands: pay of the
    crew's week and their overtime, over their hours in that week, and training, over those of the stint.
    Work by machines bears their attendants, and all work the supplies that its hours use up.
    """
    paid: dict[tuple[str, int], dict[Source, float]] = defaultdict(lambda: defaultdict(float))
    own = _own_rates(program, values, pool)
    temporary = _temporary_rates(program, values, pool)
    needed = {key: values.total(coefs) for key, coefs in program.needs.items()}
    for crew, skill, day, hours in _own_hours(program, values, needed):
        for source, rate in own[CrewOnDay(crew, day)].items():
            if skill is None:
                pool.overhead[source] += hours * rate
            else:
                paid[skill, day][source] += hours * rate
    training = _training_rates(program, values, own, pool)
    for n, i in enumerate(program.temporary_skill_days):
        hours, week = values["temporary_worked", n], (i.crew, program.week_of[i.day])
        paid[i.skill, i.day]["temporary hands", i.crew] += hours * temporary.get(week, 0.0)
        for source, rate in training.get(week, {}).items():
            paid[i.skill, i.day][source] += hours * rate
    for n, by_piece in enumerate(program.crew_tasks):
        at = by_piece.kind.skill, by_piece.kind.day
        paid[at]["piece rates", by_piece.crew] += values["worked_at_task", n] * program.beyond_the_hour(
            by_piece
        )
    for attends in program.attendance:
        hours, at = attends.hours * values[attends.key], (attends.skill, attends.day)
        for source, amount in paid[at].items() if hours > 0 else ():
            paid[attends.served, attends.day][source] += amount * hours / needed[at]
    for variable, indices in (
        ("worked", program.crew_skill_days),
        ("temporary_worked", program.temporary_skill_days),
    ):
        for n, i in enumerate(indices):
            for (_, source), amount in pool.keys.pop((variable, n), {}).items():
                paid[i.skill, i.day][source] += amount
    for key, amounts in paid.items():
        if needed[key] <= 0:
            for source, amount in amounts.items():
                pool.overhead[source] += amount
    return paid, needed


def _share_labour(
    program: Program, values: Values, pool: CostPool, labour: Labour, works: Iterable[Work]
) -> None:
    """What is paid at a skill on a day, by the hours of ``works``, in which it is done."""
    paid, needed = labour
    by_hours, base = _shared_by(program, OverheadRule.HOURS), _base(OverheadRule.HOURS)
    amounts_of = values.by_variable
    for work in works:
        name, n = work.key
        hours, at = work.hours * amounts_of[name][n], (work.skill, work.day)
        there = needed[at] if hours else 0.0
        if there > 0:
            task = work.task if work.of is None else work.of.task.value
            line = "graft labour" if task in GRAFTING else "other labour"
            lines = pool.keys[work.key]
            if by_hours:
                lines[BASE, base] += hours
            for source, amount in paid[at].items():
                lines[line, source] += hours * amount / there


def _bear_practice(pool: CostPool) -> None:
    """What new hands practise on is overhead: it is theirs as long as they stay, and no plant's."""
    for key in [key for key in pool.keys if key[0] == "new_hands"]:
        for (line, source), amount in pool.keys.pop(key).items():
            if line != BASE:
                pool.overhead[source] += amount


def _bear_elsewhere(program: Program, pool: CostPool) -> None:
    """A wave bears what its trays in further zones cost, less what they save in its own."""
    for n, place in enumerate(program.amounts.sown_into):
        for part, amount in pool.keys.pop(("sown_into", n), {}).items():
            pool.keys["sown", place.wave][part] += amount


def _bear_change_overs(program: Program, values: Values, pool: CostPool) -> None:
    """Flows bear the changing over for a lot on their graft day, by the seedlings of it that they draw on."""
    for n, at in enumerate(program.apart.admitted):
        lines = pool.keys.pop(("admitted", n), {})
        flows = [f for of, f in program.apart.carried if of == at.group and lines]
        there = [f for f in flows if program.network.flows[f].graft == at.day]
        drawn = {f: values.total(drawn_on(program, at.group, f)) for f in there}
        for f, seedlings in drawn.items():
            add_lines(pool.keys["grafted", f], lines, seedlings / sum(drawn.values()))


def _own_hours(
    program: Program, values: Values, needed: Mapping[tuple[str, int], float]
) -> Iterator[tuple[str, str | None, int, float]]:
    """Hours of own hands by crew, skill and day.

    Recorded hours of a day are divided by its work among the crew's skills; without such work, skill is None.
    """
    told = program.network.past.worked_days
    for n, i in enumerate(program.crew_skill_days):
        if i.day not in told:
            yield i.crew, i.skill, i.day, values["worked", n]
    for n, index in enumerate(program.crew_days):
        if index.day in told:
            hours = values["regular", n] + values["overtime", n]
            skills = program.amounts.crews[index.crew].crew.skills
            there = {skill: needed.get((skill, index.day), 0.0) for skill in skills}
            work = {skill: hours_needed for skill, hours_needed in there.items() if hours_needed > 0}
            total = sum(work.values())
            if total <= 0:
                yield index.crew, None, index.day, hours
            else:
                for skill, share in work.items():
                    yield index.crew, skill, index.day, hours * share / total


def _own_rates(program: Program, values: Values, pool: CostPool) -> dict[CrewOnDay, dict[Source, float]]:
    """Pay for an hour of each crew and day; hours that are paid without work are overhead."""
    rates: dict[CrewOnDay, dict[Source, float]] = defaultdict(dict)
    worked: dict[str, float] = defaultdict(float)
    for n, index in enumerate(program.crew_days):
        limits = program.amounts.crews[index.crew]
        regular, overtime = values["regular", n], values["overtime", n]
        worked[index.crew] += regular * limits.pay[index.day]
        if regular > 0:
            rates[index]["labour", index.crew] = regular * limits.pay[index.day] / (regular + overtime)
        if overtime > 0:
            paid = overtime * limits.overtime_pay[index.day]
            rates[index]["overtime", index.crew] = paid / (regular + overtime)
    for n, at in enumerate(program.guaranteed_weeks):
        pay = program.amounts.crews[at.crew].idle_pay(program.weeks[at.week])
        pool.overhead["guaranteed hours", at.crew] += values["idle", n] * pay
    for name, limits in program.amounts.crews.items():
        if limits.crew.pay_basis is PayBasis.COMMITTED:
            pool.overhead["labour", name] += limits.payroll - worked[name]
    return rates


def _temporary_rates(program: Program, values: Values, pool: CostPool) -> dict[tuple[str, int], float]:
    """Cost of an hour of temporary hands by crew and week; weeks without hours are overhead.

    Training is spread over the hours of the stint: the weeks in a row in which the crew has such hands.
    """
    hours, rates = _temporary_hours(program, values), {}
    paid: dict[tuple[str, int], float] = defaultdict(float)
    for n, at in enumerate(program.called_days):
        limits, week = program.amounts.crews[at.crew], program.week_of[at.day]
        days = limits.hours[at.day] * values["called_hands", n]
        paid[at.crew, week] += days * limits.temporary_pay(program.weeks[week])
    for n, at in enumerate(program.temporary_overtime_days):
        limits, week = program.amounts.crews[at.crew], program.week_of[at.day]
        rate = limits.temporary_overtime_pay(program.weeks[week])
        paid[at.crew, week] += values["temporary_overtime", n] * rate
    for stint in _stints(program, values):
        crew = program.amounts.crews[program.crew_weeks[stint[0]].crew]
        weeks = [program.crew_weeks[n].week for n in stint]
        training = sum(
            values["new_hands", n] * crew.new_hand_cost(program.weeks[week])
            for n, week in zip(stint, weeks, strict=True)
        )
        in_stint = sum(hours[crew.crew.crew, week] for week in weeks)
        for n, week in zip(stint, weeks, strict=True):
            amount = values["temporary_hands", n] * crew.temporary_week_pay(program.weeks[week])
            amount += paid[crew.crew.crew, week]
            worked = hours[crew.crew.crew, week]
            if worked > 0:
                rates[crew.crew.crew, week] = amount / worked + training / in_stint
            else:
                pool.overhead["temporary hands", crew.crew.crew] += amount
        if in_stint <= 0:
            pool.overhead["temporary hands", crew.crew.crew] += training
    return rates


def _temporary_hours(program: Program, values: Values) -> dict[tuple[str, int], float]:
    """Hours of temporary hands by crew and week."""
    hours: dict[tuple[str, int], float] = defaultdict(float)
    for n, i in enumerate(program.temporary_skill_days):
        hours[i.crew, program.week_of[i.day]] += values["temporary_worked", n]
    return hours


def _training_rates(
    program: Program, values: Values, own: Mapping[CrewOnDay, Mapping[Source, float]], pool: CostPool
) -> dict[tuple[str, int], dict[Source, float]]:
    """Pay of own hands with new hands, for an hour of the temporary hands of the stint, by crew and week.

    Recorded hours of a day are divided by its work already. Without hours in the stint it is overhead.
    """
    hours, told = _temporary_hours(program, values), program.network.past.worked_days
    rates: dict[tuple[str, int], dict[Source, float]] = {}
    for stint in _stints(program, values):
        paid: dict[Source, float] = defaultdict(float)
        name = program.crew_weeks[stint[0]].crew
        limits, weeks = program.amounts.crews[name], [program.crew_weeks[n].week for n in stint]
        for n, week in zip(stint, weeks, strict=True):
            spent = values["new_hands", n] * limits.crew.temp_trainer_hours
            for t in limits.training_days(program.weeks[week]) if spent > 0 else ():
                for source, rate in own.get(CrewOnDay(name, t), {}).items() if t not in told else ():
                    paid[source] += spent * rate
        in_stint = sum(hours[name, week] for week in weeks)
        for source, amount in paid.items():
            if in_stint > 0:
                for week in weeks:
                    rates.setdefault((name, week), {})[source] = amount / in_stint
            else:
                pool.overhead[source] += amount
    return rates


def _stints(program: Program, values: Values) -> list[list[int]]:
    """Indices of crew-weeks in a row with temporary hands."""
    stints: list[list[int]] = []
    before: CrewInWeek | None = None
    for n, index in enumerate(program.crew_weeks):
        if values["temporary_hands", n] <= 0 and values["new_hands", n] <= 0:
            continue
        if before is None or (index.crew, index.week) != (before.crew, before.week + 1):
            stints.append([])
        stints[-1].append(n)
        before = index
    return stints


def _bear_slots(program: Program, values: Values, pool: CostPool) -> None:
    """Slot-days at their cost; the cost of all slots of a batch of units is shared by the trays loaded."""
    zones, amounts_of = program.amounts.zones, values.by_variable
    by_slots, base = _shared_by(program, OverheadRule.SLOT_DAYS), _base(OverheadRule.SLOT_DAYS)
    for s in program.amounts.standing:
        name, n = s.key
        slots = s.trays * s.slots * amounts_of[name][n]
        if slots:  # below 0: trays that are not in the own zone of their lot
            lines = pool.keys[s.key]
            lines[BASE, ("slots", s.zone)] += slots * (s.end - s.start)
            if by_slots:
                lines[BASE, base] += slots * (s.end - s.start)
            if zones[s.zone].pool:
                line = (
                    "holding" if s.key[0] in ("delivered", "bought") else "chamber" if s.healing else "bench"
                )
                lines[line, ("slots", s.zone)] += slots * zones[s.zone].cost_between(s.start, s.end)
    loaded: dict[int, list[tuple[Key, str, float]]] = defaultdict(list)
    for n, load in enumerate(program.amounts.loads):
        stay = program.amounts.load_stays[load.stay]
        share = values["in_unit", n] * stay.slots * (stay.stay.end - stay.stay.start)
        if share > 0:
            line = "chamber" if zones[stay.stay.zone].zone.use is ZoneUse.HEALING else "bench"
            loaded[load.batch].append((stay.key, line, share))
    for e, batch in enumerate(program.amounts.batches):
        limits = zones[batch.zone]
        cost = values["units_opened", e] * limits.slots_each * limits.cost_between(batch.open, batch.shut)
        total = sum(share for _, _, share in loaded[e])
        if total > 0:
            for key, line, share in loaded[e]:
                pool.keys[key][line, ("slots", batch.zone)] += cost * share / total
        else:
            pool.overhead["slots", batch.zone] += cost


def _bear_bays(program: Program, values: Values, pool: CostPool) -> None:
    """The cost of the bays open in a week, shared by slot-days in them."""
    days: dict[BaysInWeek, dict[Key, float]] = defaultdict(lambda: defaultdict(float))
    for (index, _), standing in program.in_bays.items():
        for key, slots in standing.items():
            days[index][key] += slots * values[key]
    healing = {name for name, limits in program.amounts.zones.items() if limits.zone.use is ZoneUse.HEALING}
    for n, index in enumerate(program.bay_weeks):
        week = program.weeks[index.week]
        cost = values["bays_open", n] * program.amounts.bays[index.zone].week_cost(week)
        total, source = sum(days[index].values()), ("bays", index.zone)
        if total <= 0:
            pool.overhead[source] += cost
            continue
        for key, slot_days in days[index].items():
            if slot_days:
                held = key[0] in ("delivered", "bought")
                line = "holding" if held else "chamber" if index.zone in healing else "bench"
                pool.keys[key][line, source] += cost * slot_days / total


def _bear_zones(program: Program, values: Values, pool: CostPool) -> None:
    """What trays cost in the zones chosen, besides slots and work."""
    uses = {name: limits.zone.use for name, limits in program.amounts.zones.items()}
    for row, trays in trays_in_zones(program):
        line = "chamber" if uses[row.zone] is ZoneUse.HEALING else "bench"
        if row.stage == HOLDING:
            line = HOLDING
        for key, number in trays.items() if row.cost_per_tray else ():
            if values[key] > 0:
                source = ("zones chosen", zone_detail(row))
                pool.keys[key][line, source] += row.cost_per_tray * number * values[key]


def _bear_the_rest(program: Program, values: Values, pool: CostPool) -> None:
    """Buy-in, penalties, declined plants, salvage, fixed costs of waves; modules and overhead."""
    terms = costs(program)
    for term in terms:
        line = COST_LINES[term.line]
        if line is not None:
            for key, coef in term.coefs.items():
                if values[key]:
                    pool.keys[key][line, (term.line, term.detail)] += coef * values[key]
            if term.constant:
                pool.overhead[term.line, term.detail] += term.constant
    zones = program.amounts.zones
    modules = [term for term in terms if term.line == "modules"]
    for module, term in zip(program.network.scenario.modules, modules, strict=True):
        if module.zone is not None and zones[module.zone].zone.use is ZoneUse.HEALING:
            pool.modules[module.zone][term.line, term.detail] = term.constant
        else:
            pool.overhead[term.line, term.detail] += term.constant


def _bear_plants(program: Program, values: Values, pool: CostPool) -> None:
    """Plants delivered, where overhead is shared by them."""
    if _shared_by(program, OverheadRule.PLANTS):
        for variable in ("delivered", "bought"):
            for i, plants in enumerate(values.by_variable[variable]):
                pool.keys[variable, i][BASE, _base(OverheadRule.PLANTS)] += plants


def _shared_by(program: Program, rule: OverheadRule) -> bool:
    """Whether any overhead is shared by the rule."""
    scenario = program.network.scenario
    return rule is scenario.nursery.overhead_by or any(row.shared_by is rule for row in scenario.overheads)


def _by_rule(program: Program, pool: CostPool) -> dict[OverheadRule, dict[Source, float]]:
    """Overhead by the rule that shares it: a row's own, else the nursery's."""
    scenario = program.network.scenario
    own = {(row.kind.value, row.overhead): row.shared_by for row in scenario.overheads}
    found: dict[OverheadRule, dict[Source, float]] = defaultdict(dict)
    for source, amount in pool.overhead.items():
        found[own.get(source) or scenario.nursery.overhead_by][source] = amount
    return found


def _spread(program: Program, orders: dict[Bearer, Lines], pool: CostPool) -> None:
    """Modules of healing zones by slot-days in them, overhead by its bases; without any, to no order.

    overhead[o] = Σ over rules (overhead of the rule · base[rule, o] / Σ base[rule])

    The part by the base of waste is waste and margin.
    """
    for zone, amounts in pool.modules.items():
        _by_share(orders, amounts, "chamber", ("slots", zone))
    for rule, amounts in _by_rule(program, pool).items():
        _by_share(orders, amounts, "overhead", _base(rule))


def _by_share(orders: dict[Bearer, Lines], amounts: Mapping[Source, float], line: str, base: Source) -> None:
    for (by, into), share in _shares(orders, line, base).items():
        for source, amount in amounts.items():
            orders[by][into, source] += amount * share


def _shares(orders: Mapping[Bearer, Lines], line: str, base: Source) -> dict[tuple[Bearer, str], float]:
    """Shares of a cost by who bears it, under its ``line`` and under waste and margin; they add up to 1."""
    parts = {
        (by, into): lines.get((part, base), 0.0)
        for by, lines in orders.items()
        for part, into in ((BASE, line), (WASTED_BASE, WASTE))
    }
    total = sum(parts.values())
    if total <= 0:
        return {(NOBODY, line): 1.0}
    return {key: part / total for key, part in parts.items()}

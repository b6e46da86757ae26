"""Make the plan's tables from the values of the program's variables."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from functools import partial
from typing import Any

import numpy as np
import pandas as pd

from model.network.charges import extra_plants
from model.network.groups import named
from model.network.types import Flow
from model.planned.group_days import group_runs
from model.planned.plan_tables import PLAN_TABLES, frame
from model.planned.tables.declared import BATCH, FLOW
from model.planned.tables.job_tables import CLEANING, PLANTS
from model.planned.values import Values
from model.program.amounts import Use
from model.program.cost_terms import costs, late_plants
from model.program.index_sets import ATTENDING, BaysInWeek, CrewDaySkill, CrewInWeek, CrewOnDay
from model.program.labour import temporary_longer
from model.program.needless import TINY
from model.program.program import Program
from model.scenario.choices import PayBasis

Row = dict[str, Any]
Rows = Iterator[Row]
"""Rows of a plan table; each maps column names to values."""

AFTERWARDS = ("shadow_prices", "ways", "trace", "jobs", "job_crews")
"""Tables that are not made from the values of the variables."""

ORDER = {
    "joins": ("graft_day", "product", "in_zones", "rootstock_wave", "scion_wave"),
    "spare_seedlings": ("graft_day", "product", "in_zones", "side", "wave"),
    "flows": ("graft_day", "product", "in_zones"),
    "unit_loads": (*BATCH, "product", "graft_day", "in_zones", "load_day"),
    "change_overs": ("day", "lot"),
    "hours": ("day", "crew", "hands", "skill", "task"),
    "pieces": ("day", "crew", "skill", "task", "method", "format"),
    "buy_in": ("arrival_day", "offer", "order"),
}
"""Columns by which the rows of a table are sorted; a blank name comes first. Others stay as they are made."""


def plan_tables(program: Program, values: Values) -> dict[str, pd.DataFrame]:
    """All tables of the plan except those of ``AFTERWARDS``, by name."""
    results = _Results(program, values)
    tables = {}
    for name in PLAN_TABLES:
        if name not in AFTERWARDS:
            rows: Rows = getattr(results, name)()
            tables[name] = frame(name, sorted(rows, key=partial(_place, ORDER.get(name, ()))))
    return tables


def _place(columns: Sequence[str], row: Row) -> tuple[Any, ...]:
    return tuple(row[name] or "" for name in columns)


ROUNDING = 1e-9
"""A sum of amounts is 0 up to this share of them: they cancel but for rounding."""


class _Results:
    """One method for each table of ``PLAN_TABLES``, which yields its rows."""

    def __init__(self, program: Program, values: Values) -> None:
        self.p = program
        self.network = program.network
        self.v = values
        self.date = program.network.calendar.date
        self.sown = [w for w in range(len(self.network.waves)) if values["sown", w] > TINY]
        self.names = {w: f"W{n:04d}" for n, w in enumerate(self.sown, 1)}
        self.made = [j for j in range(len(self.network.joins)) if values["joins", j] > TINY]
        self.used = self._by_day(self.p.uses)
        self.back = self._by_day(self.p.amounts.returns)

    def _by_day(self, uses: list[Use]) -> dict[str, dict[int, float]]:
        """Units by item and day."""
        found: dict[str, dict[int, float]] = defaultdict(lambda: defaultdict(float))
        for use in uses:
            amount = use.units * self.v[use.key]
            if amount > 0:
                found[use.item][use.day] += amount
        return found

    def _flow(self, flow: Flow) -> Row:
        """Cells that name a flow."""
        return dict(zip(FLOW, (flow.product.product, self.date(flow.graft), flow.key.in_zones), strict=True))

    def _drawn(self, w: int) -> dict[int, float]:
        """Seedlings drawn from a wave by day."""
        drawn: dict[int, float] = defaultdict(float)
        for j in self.network.draws[w]:
            join = self.network.joins[j]
            if self.v["joins", j] > TINY:
                drawn[self.network.flows[join.flow].graft] += self.v["joins", j] / join.match
        return drawn

    def waves(self) -> Rows:
        for w in self.sown:
            wave, trays = self.network.waves[w], self.v["sown", w]
            spans = self.v.bench_spans(w)
            clear = spans[-1][1] if spans else self.p.amounts.first_draw(w)
            yield {
                "wave": self.names[w],
                "lot": wave.lot.lot,
                "variety": wave.lot.variety,
                "format": wave.tray.format,
                "sow_day": self.date(wave.sow),
                "bench_day": self.date(wave.bench),
                "trays": trays,
                "seeds": trays * wave.seeds,
                "usable_per_tray": wave.usable,
                "drawn": sum(self._drawn(w).values()),
                "clear_day": self.date(clear),
            }

    def germination(self) -> Rows:
        for w in self.sown:
            for place, trays in self.v.elsewhere[w]:
                out = {"zone": place.row.zone, "bench_day": self.date(place.bench)}
                yield {"wave": self.names[w], **out, "trays": trays}

    def bench_trays(self) -> Rows:
        for w in self.sown:
            for start, end, trays in self.v.bench_spans(w):
                days = {"from_day": self.date(start), "to_day": self.date(end)}
                yield {"wave": self.names[w], **days, "trays": trays}

    def joins(self) -> Rows:
        for j in self.made:
            join = self.network.joins[j]
            flow = self.network.flows[join.flow]
            root = join.rootstock
            made = self.v["joins", j]
            yield {
                **self._flow(flow),
                "rootstock_wave": None if root is None else self.names[root],
                "scion_wave": self.names[join.scion],
                "rootstock_age": None if root is None else flow.graft - self.network.waves[root].sow,
                "scion_age": flow.graft - self.network.waves[join.scion].sow,
                "joins": made,
                "match": join.match,
                "take": join.take,
                "seedlings": made / join.match,
            }

    def spare_seedlings(self) -> Rows:
        for i, spare in enumerate(self.network.spares):
            if self.v["spare", i] > TINY:
                flow = self.network.flows[spare.flow]
                yield {
                    **self._flow(flow),
                    "side": spare.side,
                    "wave": self.names[spare.wave],
                    "seedlings": self.v["spare", i],
                }

    def flows(self) -> Rows:
        served: dict[int, list[tuple[float, float]]] = defaultdict(list)
        for i, delivery in enumerate(self.network.deliveries):
            if self.v["delivered", i] > TINY:
                served[delivery.flow].append(
                    (self.v["delivered", i], self.v["delivered", i] * delivery.margin)
                )
        for f, flow in enumerate(self.network.flows):
            if self.v["grafted", f] <= TINY:
                continue
            healed = self.v["healed", f]
            key, trays = self.p.amounts.finishing_trays(f)
            yield {
                **self._flow(flow),
                "method": flow.method.method,
                "joins": self.v["grafted", f],
                "trays_loaded": self.v["loaded", f],
                "healed": healed,
                "trays_finishing": trays * self.v[key],
                "finished": healed * flow.survival,
                "ready_day": self.date(flow.ready),
                "delivered": sum(plants for plants, _ in served[f]),
                "margin_plants": sum(margin for _, margin in served[f]),
                "surplus": self.v["surplus", f],
            }

    def deliveries(self) -> Rows:
        found: list[tuple[int, str, Row, int, float, float]] = []
        for i, delivery in enumerate(self.network.deliveries):
            flow, plants = self.network.flows[delivery.flow], self.v["delivered", i]
            if plants > TINY:
                origin, margin = self._flow(flow) | {"offer": None}, plants * delivery.margin
                found.append((delivery.order, "own", origin, flow.ready, plants, margin))
        for i, buy_in in enumerate(self.network.buy_ins):
            plants = self.v["bought", i]
            if plants > TINY:
                offer = self.network.offers[buy_in.offer]
                origin = {"product": offer.product, "graft_day": None, "in_zones": None, "offer": offer.offer}
                found.append((buy_in.order, "buy-in", origin, buy_in.day, plants, 0.0))
        terms = self.network.orders
        found.sort(key=lambda row: (terms[row[0]].order.due_day, row[0], row[3]))
        for o, source, origin, ready, plants, margin in found:
            order, pack = terms[o].order, terms[o].packed(ready)
            yield {
                **origin,
                "order": order.order,
                "source": source,
                "ready_day": self.date(ready),
                "due_day": order.due_day,
                "pack_day": None if pack is None else self.date(pack),
                "days_late": terms[o].days_late(ready),
                "plants": plants,
                "margin_plants": margin,
            }

    def orders(self) -> Rows:
        own: dict[int, float] = defaultdict(float)
        bought: dict[int, float] = defaultdict(float)
        for i, delivery in enumerate(self.network.deliveries):
            own[delivery.order] += self.v["delivered", i]
        for i, buy_in in enumerate(self.network.buy_ins):
            bought[buy_in.order] += self.v["bought", i]
        declined: dict[int, float] = defaultdict(float)
        for key, o, plants in self.p.declined:
            declined[o] = self.v[key] * plants
        late = late_plants(self.p)
        names = ("order", "customer", "product", "due_day", "quantity", "price")
        for o, term in enumerate(self.network.orders):
            yield {name: getattr(term.order, name) for name in names} | {
                "extra": extra_plants(term.order),
                "own": own[o],
                "bought": bought[o],
                "short": self.v["short", o],
                "declined": declined[o],
                "late": sum(self.v[key] for key in late[o]),
                "late_discount": term.late_cost * sum(self.v[key] * weeks for key, weeks in late[o].items()),
                "margin": term.margin,
                "penalty": term.penalty,
                "short_because": None,
            }

    def salvage(self) -> Rows:
        for n, (product, flows) in enumerate(self.p.salvaged):
            surplus, sold = sum(self.v["surplus", f] for f in flows), self.v["sold", n]
            if surplus > TINY:
                price = product.salvage_price
                yield {
                    "product": product.product,
                    "surplus": surplus,
                    "sold": sold,
                    "price": price,
                    "amount": sold * price,
                }

    def slots(self) -> Rows:
        zones, calendar = self.p.amounts.zones, self.network.calendar
        used = {name: np.zeros(calendar.days) for name in zones}
        for s in self.p.amounts.standing:
            trays = s.trays * self.v[s.key]
            if trays and zones[s.zone].pool:
                used[s.zone][s.start : s.end] += trays * s.slots
        for e, batch in enumerate(self.p.amounts.batches):
            used[batch.zone][batch.open : batch.shut] += (
                zones[batch.zone].slots_each * self.v["units_opened", e]
            )
        for name, limits in zones.items():
            for t, amount in enumerate(used[name].tolist()):
                available, cost = limits.amount[t] * limits.slots_each, limits.cost[t]
                yield {
                    "zone": name,
                    "day": self.date(t),
                    "used": amount,
                    "available": available,
                    "cost_per_slot_day": cost,
                    "amount": amount * cost,
                }

    def bays(self) -> Rows:
        days: dict[BaysInWeek, list[tuple[int, float]]] = defaultdict(list)
        for (index, t), standing in self.p.in_bays.items():
            days[index].append((t, self.v.total(standing)))
        for n, index in enumerate(self.p.bay_weeks):
            count = self.v["bays_open", n]
            if count > TINY:
                limits, week = self.p.amounts.bays[index.zone], self.p.weeks[index.week]
                t, used = max(days[index], key=lambda day: day[1] / limits.slots[day[0]])
                yield {
                    "zone": index.zone,
                    "week_day": self.date(week.days[0]),
                    "bays": count,
                    "used": used,
                    "room": count * limits.slots[t],
                    "cost_per_bay": limits.week_cost(week),
                    "amount": count * limits.week_cost(week),
                }

    def unit_batches(self) -> Rows:
        loaded: dict[int, float] = defaultdict(float)
        for n, load in enumerate(self.p.amounts.loads):
            loaded[load.batch] += self.v["in_unit", n] * self.p.amounts.load_stays[load.stay].slots
        for e, batch in enumerate(self.p.amounts.batches):
            if self.v["units_opened", e] > TINY:
                yield {
                    "zone": batch.zone,
                    "open_day": self.date(batch.open),
                    "shut_until": self.date(batch.shut),
                    "not_for": named(batch.not_for),
                    "units": self.v["units_opened", e],
                    "slots_loaded": loaded[e],
                }

    def unit_loads(self) -> Rows:
        for n, load in enumerate(self.p.amounts.loads):
            if self.v["in_unit", n] > TINY:
                stay, batch = self.p.amounts.load_stays[load.stay], self.p.amounts.batches[load.batch]
                flow = self.network.flows[stay.flow]
                yield {
                    "zone": batch.zone,
                    "open_day": self.date(batch.open),
                    "shut_until": self.date(batch.shut),
                    "not_for": named(batch.not_for),
                    **self._flow(flow),
                    "load_day": self.date(stay.stay.start),
                    "trays": self.v["in_unit", n],
                }

    def kept_apart(self) -> Rows:
        for run in group_runs(self.p, self.v):
            yield {
                "zone": run.zone,
                "what": CLEANING if run.cleaning else PLANTS,
                "by": run.group.by.value,
                "group": run.group.name,
                "from_day": self.date(run.start),
                "to_day": self.date(run.end),
            }

    def change_overs(self) -> Rows:
        for n, at in enumerate(self.p.apart.admitted):
            if at in self.p.apart.changed_over and self.v["admitted", n] > TINY:
                number = self.v["admitted", n]
                yield {"day": self.date(at.day), "lot": at.group.name, "number": number}

    def hours(self) -> Rows:
        by_task: dict[tuple[str, int], dict[str, float]] = defaultdict(lambda: defaultdict(float))
        values = self.v.by_variable
        for work in self.p.work:
            name, n = work.key
            amount = work.hours * values[name][n]
            if amount:
                by_task[work.skill, work.day][work.task] += amount
        for attends in self.p.attendance:
            amount = attends.hours * self.v[attends.key]
            if amount > 0:
                by_task[attends.skill, attends.day][ATTENDING] += amount
        told: dict[CrewDaySkill, dict[str, float]] = defaultdict(lambda: defaultdict(float))
        for n, at in enumerate(self.p.crew_tasks):
            hours = self.v["worked_at_task", n]
            told[CrewDaySkill(at.crew, at.kind.skill, at.kind.day)][at.kind.task] += hours
            pace = self.p.amounts.crews[at.crew].crew.pace
            if hours > 0:
                left = by_task[at.kind.skill, at.kind.day]
                left[at.kind.task] = max(0.0, left[at.kind.task] - hours * pace)
        for hands, variable, indices in (
            ("own", "worked", self.p.crew_skill_days),
            ("temporary", "temporary_worked", self.p.temporary_skill_days),
        ):
            for n, i in enumerate(indices):
                own = told.get(i) if hands == "own" else None
                tasks, worked = by_task[i.skill, i.day] if own is None else own, self.v[variable, n]
                needed = sum(tasks.values())
                if worked > TINY and needed > 0:
                    row = {"crew": i.crew, "hands": hands, "day": self.date(i.day), "skill": i.skill}
                    for task, amount in sorted(tasks.items()):
                        if amount > 0:
                            yield {**row, "task": task, "hours": worked * amount / needed}

    def pieces(self) -> Rows:
        for n, i in enumerate(self.p.crew_tasks):
            hours, rate = self.v["worked_at_task", n], self.p.piece_rate(i)
            limits, kind = self.p.amounts.crews[i.crew], i.kind
            if hours > TINY and rate is not None and kind.of is not None:
                yield {
                    "crew": i.crew,
                    "day": self.date(kind.day),
                    "skill": kind.skill,
                    "task": kind.task,
                    "method": kind.method,
                    "format": kind.format,
                    "hours": hours,
                    "pieces": hours * limits.crew.pace / kind.of.hours,
                    "rate": rate,
                    "amount": hours * self.p.beyond_the_hour(i),
                }

    def crew_days(self) -> Rows:
        position = {index: n for n, index in enumerate(self.p.crew_days)}
        temporary: dict[CrewOnDay, float] = defaultdict(float)
        for n, i in enumerate(self.p.temporary_skill_days):
            temporary[CrewOnDay(i.crew, i.day)] += self.v["temporary_worked", n]
        at_work, training = self.p.temporary_at_work, self._training()
        there = defaultdict(float, {at: self.v.total(heads) for at, heads in at_work.items()})
        may = {at: self.v.total(temporary_longer(self.p, at)) for at in at_work}
        longer = {at: self.v["temporary_overtime", n] for n, at in enumerate(self.p.temporary_overtime_days)}
        for name, limits in self.p.amounts.crews.items():
            committed = limits.crew.pay_basis is PayBasis.COMMITTED
            for t in range(self.network.calendar.days):
                on = CrewOnDay(name, t)
                at, still_learning = position.get(on), there[on] - may.get(on, 0.0)
                regular = 0.0 if at is None else self.v["regular", at]
                overtime = 0.0 if at is None else self.v["overtime", at]
                paid = limits.regular[t] if committed else regular
                yield {
                    "crew": name,
                    "day": self.date(t),
                    "regular": regular,
                    "overtime": overtime,
                    "regular_available": limits.regular[t],
                    "overtime_available": limits.overtime[t],
                    "training": training[on],
                    "temporary": temporary[on],
                    "temporary_available": limits.temporary_hours(t) * there[on]
                    - limits.crew.temp_overtime_hours_per_head_day * still_learning,
                    "called": there[on] if limits.by_day else 0.0,
                    "temporary_overtime": longer.get(on, 0.0),
                    "amount": paid * limits.pay[t] + overtime * limits.overtime_pay[t],
                }

    def _training(self) -> dict[CrewOnDay, float]:
        """Hours of own hands with new temporary hands, by crew and day."""
        hours: dict[CrewOnDay, float] = defaultdict(float)
        for n, index in enumerate(self.p.crew_weeks):
            limits = self.p.amounts.crews[index.crew]
            for t in limits.training_days(self.p.weeks[index.week]):
                hours[CrewOnDay(index.crew, t)] = limits.crew.temp_trainer_hours * self.v["new_hands", n]
        return hours

    def guaranteed(self) -> Rows:
        for n, index in enumerate(self.p.guaranteed_weeks):
            idle = self.v["idle", n]
            if idle > TINY:
                limits, week = self.p.amounts.crews[index.crew], self.p.weeks[index.week]
                yield {
                    "crew": index.crew,
                    "week_day": self.date(week.days[0]),
                    "guaranteed": limits.guaranteed_hours(week),
                    "idle": idle,
                    "amount": idle * limits.idle_pay(week),
                }

    def temporary(self) -> Rows:
        called: dict[CrewInWeek, float] = defaultdict(float)
        longer: dict[CrewInWeek, float] = defaultdict(float)
        for n, at in enumerate(self.p.called_days):
            hours = self.p.amounts.crews[at.crew].hours[at.day] * self.v["called_hands", n]
            called[CrewInWeek(at.crew, self.p.week_of[at.day])] += hours
        for n, at in enumerate(self.p.temporary_overtime_days):
            longer[CrewInWeek(at.crew, self.p.week_of[at.day])] += self.v["temporary_overtime", n]
        for n, index in enumerate(self.p.crew_weeks):
            heads, new = self.v["temporary_hands", n], self.v["new_hands", n]
            if heads > TINY or called[index] > TINY or longer[index] > TINY:
                limits, week = self.p.amounts.crews[index.crew], self.p.weeks[index.week]
                hours = heads * limits.temporary_week_hours(week) + called[index]
                hours += new * limits.training_hours(week)
                amount = hours * limits.temporary_pay(week) + new * limits.crew.temp_training_cost
                amount += longer[index] * limits.temporary_overtime_pay(week)
                yield {
                    "crew": index.crew,
                    "week_day": self.date(week.days[0]),
                    "heads": heads,
                    "new": new,
                    "paid_hours": hours,
                    "overtime_hours": longer[index],
                    "amount": amount,
                }

    def _needed_day(self, item: str) -> int | None:
        """First day on which more is out than stock and packs ordered before today; None if it never is."""
        ordered = self.network.past.packs.items()
        left = self.p.items[item][0] + sum(
            size * packs for (name, size), arrivals in ordered if name == item for _, packs in arrivals
        )
        for day in sorted({*self.used[item], *self.back[item]}):
            left += self.back[item].get(day, 0.0) - self.used[item].get(day, 0.0)
            if left < -1e-6:
                return day
        return None

    def _kind(self, item: str) -> str:
        return "seed" if any(lot.lot == item for lot in self.network.scenario.seed_lots) else "supply"

    def purchases(self) -> Rows:
        for n, pack in enumerate(self.p.packs):
            bought = self.v["packs_bought", n]
            if bought > TINY:
                needed, lead = self._needed_day(pack.item), self.p.items[pack.item][1]
                yield {
                    "item": pack.item,
                    "kind": self._kind(pack.item),
                    "size": pack.size,
                    "packs": bought,
                    "price": pack.price,
                    "amount": bought * pack.price,
                    "needed_day": None if needed is None else self.date(needed),
                    "order_by": None if needed is None else self.date(needed - lead),
                    "ordered": sum(
                        packs for _, packs in self.network.past.packs.get((pack.item, pack.size), ())
                    ),
                }

    def items(self) -> Rows:
        bought: dict[str, float] = defaultdict(float)
        for n, pack in enumerate(self.p.packs):
            bought[pack.item] += pack.size * self.v["packs_bought", n]
        units = {supply.supply: supply.unit for supply in self.network.scenario.supplies}
        for item, (stock, lead) in self.p.items.items():
            used, back = sum(self.used[item].values()), sum(self.back[item].values())
            yield {
                "item": item,
                "kind": self._kind(item),
                "unit": units.get(item, "seeds"),
                "stock": stock,
                "bought": bought[item],
                "used": used,
                "back": back,
                "left": stock + bought[item] + back - used,
                "lead_days": lead,
            }

    def item_uses(self) -> Rows:
        for item in self.p.items:
            for day in sorted({*self.used[item], *self.back[item]}):
                used, back = self.used[item].get(day, 0.0), self.back[item].get(day, 0.0)
                yield {"item": item, "day": self.date(day), "used": used, "back": back}

    def buy_in(self) -> Rows:
        spare = {(i.offer, i.day): self.v["spare_bought", n] for n, i in enumerate(self.p.spare_days)}
        for i, buy_in in enumerate(self.network.buy_ins):
            plants = self.v["bought", i]
            if plants > TINY:
                offer, term = self.network.offers[buy_in.offer], self.network.orders[buy_in.order]
                more = spare.pop((buy_in.offer, buy_in.day), 0.0)
                yield {
                    "offer": offer.offer,
                    "product": offer.product,
                    "order": term.order.order,
                    "arrival_day": self.date(buy_in.day),
                    "order_by": self.date(buy_in.day - offer.lead_days),
                    "plants": plants,
                    "spare": more,
                    "price": offer.price,
                    "amount": (plants + more) * offer.price,
                }

    def runs(self) -> Rows:
        for n, on in enumerate(self.p.run_days):
            vehicles, trays = self.v["vehicles", n], self.v.total(self.p.rides[n])
            if vehicles > TINY or trays > TINY:
                yield {
                    "run": on.run.run,
                    "day": self.date(on.day),
                    "vehicles": vehicles,
                    "trays": trays,
                    "carries": vehicles * on.run.trays,
                    "amount": vehicles * on.run.fixed_cost + trays * on.run.cost_per_tray,
                }

    def costs(self) -> Rows:
        for term in costs(self.p):
            if term.constant or any(self.v[key] for key in term.coefs):
                amount = term.constant + self.v.total(term.coefs)
                # Trays of a wave that all germinate elsewhere leave nothing but rounding in the lot's zone.
                size = abs(term.constant) + sum(abs(coef * self.v[key]) for key, coef in term.coefs.items())
                if not size or abs(amount) > ROUNDING * size:
                    yield {"line": term.line, "detail": term.detail, "amount": amount}

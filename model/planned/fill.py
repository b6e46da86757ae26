"""The plan's tables made from the values of the program's variables."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from model.planned.plan_tables import PLAN_TABLES, frame
from model.program.amounts import Key
from model.program.cost_terms import costs
from model.program.index_sets import Coefs, CrewOnDay
from model.program.program import Program
from model.scenario.entities import MethodKind, PayBasis

TINY = 1e-7
"""Amounts below this are nothing: the solver's own tolerance."""

Floats = NDArray[np.float64]
Rows = list[tuple[Any, ...]]


class Values:
    """Values of all variables, with what a free choice left slack drawn tight.

    Where trays or hours cost nothing the optimum may hold more of them than needed; a crew should
    not be told to carry trays that are not there.
    """

    def __init__(self, program: Program, values: dict[str, Floats]) -> None:
        self.program = program
        self.by_letter: dict[str, list[float]] = {
            letter: np.where(np.abs(v) < TINY, 0.0, v).tolist() for letter, v in values.items()
        }
        self._tighten_trays()
        self._tighten_hours()
        self._tighten_new_hands()

    def __getitem__(self, key: Key) -> float:
        return self.by_letter[key[0]][key[1]]

    def total(self, coefs: Coefs) -> float:
        """Σ coefficient · value."""
        values = self.by_letter
        return sum([coef * values[letter][i] for (letter, i), coef in coefs.items()])

    def _tighten_trays(self) -> None:
        p, network = self.program, self.program.network
        for k, left in enumerate(p.amounts.left):
            drawn = sum(
                self["joins", j] / network.joins[j].match
                for j in network.draws[left.wave]
                if network.flows[network.joins[j].flow].graft > left.start
            )
            self.by_letter["left"][k] = min(self["left", k], drawn / network.waves[left.wave].usable)
        loaded = self.by_letter["loaded"].copy()
        for f in range(len(network.flows)):
            self.by_letter["loaded"][f] = min(self["loaded", f], self._flow_trays(f))
        for n, load in enumerate(p.amounts.loads):
            letter, f = p.amounts.load_stays[load.stay].key
            if letter == "loaded" and loaded[f] > 0:
                self.by_letter["in_unit"][n] *= self["loaded", f] / loaded[f]

    def _flow_trays(self, f: int) -> float:
        network = self.program.network
        flow = network.flows[f]
        total = 0.0
        for j in network.flow_joins[f]:
            join = network.joins[j]
            wave = network.waves[join.waves[0]]
            root_cut = flow.method.kind is MethodKind.ROOT_CUT
            each = flow.tray.cells if root_cut else join.match * wave.usable
            total += self["joins", j] / each
        return total

    def _tighten_hours(self) -> None:
        p, crews = self.program, self.program.amounts.crews
        offered: dict[tuple[str, int], float] = defaultdict(float)
        indices = [("worked", n, i) for n, i in enumerate(p.crew_skill_days)]
        indices += [("temporary_worked", n, i) for n, i in enumerate(p.temporary_skill_days)]
        for letter, n, i in indices:
            crew = crews[i.crew].crew
            offered[i.skill, i.day] += self[letter, n] * (crew.pace if letter == "worked" else crew.temp_pace)
        worked: dict[CrewOnDay, float] = defaultdict(float)
        for letter, n, i in indices:
            supply = offered[i.skill, i.day]
            if supply > 0 and i.day not in p.network.past.worked_days:
                self.by_letter[letter][n] *= min(1.0, self.total(p.needs[i.skill, i.day]) / supply)
            if letter == "worked":
                worked[CrewOnDay(i.crew, i.day)] += self[letter, n]
        for n, index in enumerate(p.crew_days):
            if index.day in p.network.past.worked_days:
                continue
            spare = max(self["regular", n] + self["overtime", n] - worked[index], 0.0)
            from_overtime = min(spare, self["overtime", n])
            self.by_letter["overtime"][n] -= from_overtime
            self.by_letter["regular"][n] -= spare - from_overtime

    def _tighten_new_hands(self) -> None:
        for n, index in enumerate(self.program.crew_weeks):
            before = self["temporary_hands", n - 1] if index.week > 0 else 0.0
            self.by_letter["new_hands"][n] = max(0.0, self["temporary_hands", n] - before)


def plan_tables(program: Program, values: dict[str, Floats]) -> dict[str, pd.DataFrame]:
    """All tables of the plan but the shadow prices, by name."""
    results = _Results(program, Values(program, values))
    makers: dict[str, Callable[[], Rows]] = {
        name: getattr(results, name) for name in PLAN_TABLES if name != "shadow_prices"
    }
    return {name: frame(name, make()) for name, make in makers.items()}


class _Results:
    """One method a table of ``PLAN_TABLES``, each giving its rows."""

    def __init__(self, program: Program, values: Values) -> None:
        self.p = program
        self.network = program.network
        self.v = values
        self.date = program.network.calendar.date
        self.sown = [w for w in range(len(self.network.waves)) if values["sown", w] > TINY]
        self.names = {w: f"W{n:04d}" for n, w in enumerate(self.sown, 1)}
        self.made = [j for j in range(len(self.network.joins)) if values["joins", j] > TINY]
        self.used = self._used()

    def _used(self) -> dict[str, dict[int, float]]:
        used: dict[str, dict[int, float]] = defaultdict(lambda: defaultdict(float))
        for use in self.p.amounts.uses:
            amount = use.units * self.v[use.key]
            if amount > 0:
                used[use.item][use.day] += amount
        return used

    def _drawn(self, w: int) -> dict[int, float]:
        """Seedlings drawn from a wave by day."""
        drawn: dict[int, float] = defaultdict(float)
        for j in self.network.draws[w]:
            join = self.network.joins[j]
            if self.v["joins", j] > TINY:
                drawn[self.network.flows[join.flow].graft] += self.v["joins", j] / join.match
        return drawn

    def _bench_spans(self, w: int) -> list[tuple[int, int, float]]:
        """Spans of days with the trays of wave w on the bench."""
        wave, first = self.network.waves[w], self.p.amounts.first_draw(w)
        spans = [(wave.bench, first, self.v["sown", w])]
        for k, left in self.left_of[w]:
            spans.append((left.start, left.end, self.v["left", k]))
        joined: list[tuple[int, int, float]] = []
        for start, end, trays in spans:
            if end <= start or trays <= TINY:
                continue
            if joined and joined[-1][1] == start and joined[-1][2] == trays:
                joined[-1] = (joined[-1][0], end, trays)
            else:
                joined.append((start, end, trays))
        return joined

    @property
    def left_of(self) -> dict[int, list[tuple[int, Any]]]:
        """Decisions r of each wave."""
        if not hasattr(self, "_left_of"):
            self._left_of: dict[int, list[tuple[int, Any]]] = defaultdict(list)
            for k, left in enumerate(self.p.amounts.left):
                self._left_of[left.wave].append((k, left))
        return self._left_of

    def waves(self) -> Rows:
        rows: Rows = []
        for w in self.sown:
            wave, trays = self.network.waves[w], self.v["sown", w]
            spans = self._bench_spans(w)
            clear = spans[-1][1] if spans else self.p.amounts.first_draw(w)
            rows.append(
                (
                    self.names[w],
                    wave.lot.lot,
                    wave.lot.variety,
                    wave.tray.format,
                    self.date(wave.sow),
                    self.date(wave.bench),
                    trays,
                    trays * wave.seeds,
                    wave.usable,
                    sum(self._drawn(w).values()),
                    self.date(clear),
                )
            )
        return rows

    def bench_trays(self) -> Rows:
        return [
            (self.names[w], self.date(start), self.date(end), trays)
            for w in self.sown
            for start, end, trays in self._bench_spans(w)
        ]

    def joins(self) -> Rows:
        rows: Rows = []
        for j in self.made:
            join = self.network.joins[j]
            flow = self.network.flows[join.flow]
            root = join.rootstock
            made = self.v["joins", j]
            rows.append(
                (
                    flow.product.product,
                    self.date(flow.graft),
                    None if root is None else self.names[root],
                    self.names[join.scion],
                    None if root is None else flow.graft - self.network.waves[root].sow,
                    flow.graft - self.network.waves[join.scion].sow,
                    made,
                    join.match,
                    join.take,
                    made / join.match,
                )
            )
        return sorted(rows, key=lambda row: (row[1], row[0], row[2] or "", row[3]))

    def flows(self) -> Rows:
        served: dict[int, list[tuple[float, float]]] = defaultdict(list)
        for i, delivery in enumerate(self.network.deliveries):
            if self.v["delivered", i] > TINY:
                served[delivery.flow].append(
                    (self.v["delivered", i], self.v["delivered", i] * delivery.margin)
                )
        rows: Rows = []
        for f, flow in enumerate(self.network.flows):
            if self.v["grafted", f] <= TINY:
                continue
            healed = self.v["healed", f]
            key, trays = self.p.amounts.finishing_trays(f)
            rows.append(
                (
                    flow.product.product,
                    self.date(flow.graft),
                    flow.method.method,
                    self.v["grafted", f],
                    self.v["loaded", f],
                    healed,
                    trays * self.v[key],
                    healed * flow.survival,
                    self.date(flow.ready),
                    sum(plants for plants, _ in served[f]),
                    sum(margin for _, margin in served[f]),
                    self.v["surplus", f],
                )
            )
        return sorted(rows, key=lambda row: (row[1], row[0]))

    def deliveries(self) -> Rows:
        rows: Rows = []
        for i, delivery in enumerate(self.network.deliveries):
            if self.v["delivered", i] > TINY:
                flow = self.network.flows[delivery.flow]
                rows.append(
                    self._delivery(
                        "delivered", i, delivery.order, "own", self.date(flow.graft), None, flow.ready
                    )
                )
        for i, buy_in in enumerate(self.network.buy_ins):
            if self.v["bought", i] > TINY:
                offer = self.network.offers[buy_in.offer].offer
                rows.append(self._delivery("bought", i, buy_in.order, "buy-in", None, offer, buy_in.day))
        position = {term.order.order: o for o, term in enumerate(self.network.orders)}
        return sorted(rows, key=lambda row: (row[6], position[row[0]], row[5]))

    def _delivery(
        self, letter: str, i: int, o: int, source: str, graft: Any, offer: str | None, ready: int
    ) -> tuple[Any, ...]:
        term, plants = self.network.orders[o], self.v[letter, i]
        pack = None if term.pack is None else self.date(term.pack)
        margin = plants * self.network.deliveries[i].margin if letter == "delivered" else 0.0
        return (
            term.order.order,
            term.product.product,
            source,
            graft,
            offer,
            self.date(ready),
            term.order.due_day,
            pack,
            plants,
            margin,
        )

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
        return [
            (
                term.order.order,
                term.order.customer,
                term.order.product,
                term.order.due_day,
                term.order.quantity,
                own[o],
                bought[o],
                self.v["short", o],
                declined[o],
                term.order.price,
                term.margin,
                term.penalty,
                None,
            )
            for o, term in enumerate(self.network.orders)
        ]

    def salvage(self) -> Rows:
        rows: Rows = []
        for n, (product, flows) in enumerate(self.p.salvaged):
            surplus, sold = sum(self.v["surplus", f] for f in flows), self.v["sold", n]
            if surplus > TINY:
                price = product.salvage_price
                rows.append((product.product, surplus, sold, price, sold * price))
        return rows

    def slots(self) -> Rows:
        zones, calendar = self.p.amounts.zones, self.network.calendar
        used = {name: np.zeros(calendar.days) for name in zones}
        for s in self.p.amounts.standing:
            if zones[s.zone].pool:
                used[s.zone][s.start : s.end] += s.trays * s.slots * self.v[s.key]
        for e, batch in enumerate(self.p.amounts.batches):
            used[batch.zone][batch.open : batch.shut] += (
                zones[batch.zone].slots_each * self.v["units_opened", e]
            )
        rows: Rows = []
        for name, limits in zones.items():
            for t, amount in enumerate(used[name].tolist()):
                available, cost = limits.amount[t] * limits.slots_each, limits.cost[t]
                rows.append((name, self.date(t), amount, available, cost, amount * cost))
        return rows

    def unit_batches(self) -> Rows:
        loaded: dict[int, float] = defaultdict(float)
        for n, load in enumerate(self.p.amounts.loads):
            loaded[load.batch] += self.v["in_unit", n] * self.p.amounts.load_stays[load.stay].slots
        return [
            (batch.zone, self.date(batch.open), self.date(batch.shut), self.v["units_opened", e], loaded[e])
            for e, batch in enumerate(self.p.amounts.batches)
            if self.v["units_opened", e] > TINY
        ]

    def unit_loads(self) -> Rows:
        rows: Rows = []
        for n, load in enumerate(self.p.amounts.loads):
            if self.v["in_unit", n] > TINY:
                stay, batch = self.p.amounts.load_stays[load.stay], self.p.amounts.batches[load.batch]
                flow = self.network.flows[stay.flow]
                rows.append(
                    (
                        batch.zone,
                        self.date(batch.open),
                        flow.product.product,
                        self.date(flow.graft),
                        self.date(stay.stay.start),
                        self.v["in_unit", n],
                    )
                )
        return sorted(rows)

    def hours(self) -> Rows:
        by_task: dict[tuple[str, int], dict[str, float]] = defaultdict(lambda: defaultdict(float))
        for work in self.p.amounts.work:
            amount = work.hours * self.v[work.key]
            if amount > 0:
                by_task[work.skill, work.day][work.task] += amount
        rows: Rows = []
        hands = [
            ("own", "worked", self.p.crew_skill_days),
            ("temporary", "temporary_worked", self.p.temporary_skill_days),
        ]
        for kind, letter, indices in hands:
            for n, i in enumerate(indices):
                tasks, worked = by_task[i.skill, i.day], self.v[letter, n]
                needed = sum(tasks.values())
                if worked > TINY and needed > 0:
                    rows += [
                        (i.crew, kind, self.date(i.day), i.skill, task, worked * amount / needed)
                        for task, amount in sorted(tasks.items())
                    ]
        return sorted(rows, key=lambda row: (row[2], row[0], row[1], row[3], row[4]))

    def crew_days(self) -> Rows:
        position = {index: n for n, index in enumerate(self.p.crew_days)}
        temporary: dict[CrewOnDay, float] = defaultdict(float)
        for n, i in enumerate(self.p.temporary_skill_days):
            temporary[CrewOnDay(i.crew, i.day)] += self.v["temporary_worked", n]
        there = self._temporary_available()
        rows: Rows = []
        for name, limits in self.p.amounts.crews.items():
            committed = limits.crew.pay_basis is PayBasis.COMMITTED
            for t in range(self.network.calendar.days):
                at = position.get(CrewOnDay(name, t))
                regular = 0.0 if at is None else self.v["regular", at]
                overtime = 0.0 if at is None else self.v["overtime", at]
                paid = limits.regular[t] if committed else regular
                rows.append(
                    (
                        name,
                        self.date(t),
                        regular,
                        overtime,
                        limits.regular[t],
                        limits.overtime[t],
                        temporary[CrewOnDay(name, t)],
                        there[CrewOnDay(name, t)],
                        paid * limits.pay[t] + overtime * limits.overtime_pay[t],
                    )
                )
        return rows

    def _temporary_available(self) -> dict[CrewOnDay, float]:
        there: dict[CrewOnDay, float] = defaultdict(float)
        for n, index in enumerate(self.p.crew_weeks):
            limits, week = self.p.amounts.crews[index.crew], self.p.weeks[index.week]
            training = limits.training_days(week)
            for t in week.working:
                idle = self.v["new_hands", n] if t in training else 0.0
                hours = limits.crew.hours_per_head_day * (self.v["temporary_hands", n] - idle)
                there[CrewOnDay(index.crew, t)] = hours
        return there

    def temporary(self) -> Rows:
        rows: Rows = []
        for n, index in enumerate(self.p.crew_weeks):
            heads, new = self.v["temporary_hands", n], self.v["new_hands", n]
            if heads > TINY:
                limits, week = self.p.amounts.crews[index.crew], self.p.weeks[index.week]
                hours = heads * limits.temporary_week_hours(week)
                amount = heads * limits.temporary_week_pay(week) + new * limits.crew.temp_training_cost
                rows.append((index.crew, self.date(week.days[0]), heads, new, hours, amount))
        return rows

    def _needed_day(self, item: str) -> int | None:
        """First day on which more than the stock, and what was ordered before today, is needed."""
        ordered = self.network.past.packs.items()
        left = self.p.items[item][0] + sum(
            size * packs for (name, size), arrivals in ordered if name == item for _, packs in arrivals
        )
        for day, units in sorted(self.used[item].items()):
            left -= units
            if left < -1e-6:
                return day
        return None

    def _kind(self, item: str) -> str:
        return "seed" if any(lot.lot == item for lot in self.network.scenario.seed_lots) else "supply"

    def purchases(self) -> Rows:
        rows: Rows = []
        for n, pack in enumerate(self.p.packs):
            bought = self.v["packs_bought", n]
            if bought > TINY:
                needed, lead = self._needed_day(pack.item), self.p.items[pack.item][1]
                rows.append(
                    (
                        pack.item,
                        self._kind(pack.item),
                        pack.size,
                        bought,
                        pack.price,
                        bought * pack.price,
                        None if needed is None else self.date(needed),
                        None if needed is None else self.date(needed - lead),
                        sum(packs for _, packs in self.network.past.packs.get((pack.item, pack.size), ())),
                    )
                )
        return rows

    def items(self) -> Rows:
        bought: dict[str, float] = defaultdict(float)
        for n, pack in enumerate(self.p.packs):
            bought[pack.item] += pack.size * self.v["packs_bought", n]
        units = {supply.supply: supply.unit for supply in self.network.scenario.supplies}
        rows: Rows = []
        for item, (stock, lead) in self.p.items.items():
            used = sum(self.used[item].values())
            rows.append(
                (
                    item,
                    self._kind(item),
                    units.get(item, "seeds"),
                    stock,
                    bought[item],
                    used,
                    stock + bought[item] - used,
                    lead,
                )
            )
        return rows

    def item_uses(self) -> Rows:
        return [
            (item, self.date(day), units)
            for item in self.p.items
            for day, units in sorted(self.used[item].items())
        ]

    def buy_in(self) -> Rows:
        rows: Rows = []
        for i, buy_in in enumerate(self.network.buy_ins):
            plants = self.v["bought", i]
            if plants > TINY:
                offer, term = self.network.offers[buy_in.offer], self.network.orders[buy_in.order]
                rows.append(
                    (
                        offer.offer,
                        offer.product,
                        term.order.order,
                        self.date(buy_in.day),
                        self.date(buy_in.day - offer.lead_days),
                        plants,
                        offer.price,
                        plants * offer.price,
                    )
                )
        return sorted(rows, key=lambda row: (row[3], row[0], row[2]))

    def costs(self) -> Rows:
        return [
            (term.line, term.detail, term.constant + self.v.total(term.coefs))
            for term in costs(self.p)
            if term.constant or any(self.v[key] for key in term.coefs)
        ]

"""The interest of an overdraft in the program: what decisions pay by week, and the balances that follow.

Every payment stands on the day on which ``model.planned.cash`` puts it. But a plan orders all packs of an
item on one day, that on which the item first runs out, less its lead days, and no row can say that without
whole numbers. So there are two programs. In one, packs are paid on given days, those of a plan; its prices
of a payment make the ordinary program another one with the same least cost, which is made whole as ever. In
the other, packs are paid as late as each use allows: its least cost is a bound for any plan.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from scipy.sparse import csr_array, hstack

from model.planned.cash import YEAR, by_period, days_in, offer_terms, terms_of
from model.program.amounts import Key
from model.program.cost_terms import trays_in_zones
from model.program.index_sets import Coefs
from model.program.program import Program
from model.scenario.calendar import mondays, week_of
from model.scenario.choices import OverheadKind, PayBasis
from model.scenario.lateness import weeks_begun
from model.scenario.records.overheads import periods
from model.solver.compiled import (
    Compiled,
    Floats,
    Solution,
    run,
    solver,
    start_from,
    with_columns,
    with_rows,
)

Ordered = Mapping[tuple[str, float], date]
"""Day on which packs are ordered, by item and size."""


@dataclass(frozen=True, slots=True)
class Payments:
    """What is paid out, less what is paid in, by week of the season, in currency.

    ``paid``: weeks by columns of the program, what one unit of a decision pays. ``sure``: by week, what is
    paid whatever is decided; the opening balance is taken off the first. ``interest``: of one of currency
    overdrawn at the end of each week.
    """

    paid: csr_array
    sure: Floats
    interest: Floats

    def overdrafts(self, columns: Floats) -> Floats:
        """What the overdraft costs by week under a solution of the program, in currency."""
        out = self.paid @ columns + self.sure
        balance, found = 0.0, []
        for paid, interest in zip(out.tolist(), self.interest.tolist(), strict=True):
            balance -= paid
            cost = interest * max(0.0, -balance)
            balance -= cost
            found.append(cost)
        return np.array(found)


class _Ledger:
    """Collects payments by week. Those before the first week or after the last are open items."""

    def __init__(self, program: Program) -> None:
        self.nursery = program.network.scenario.nursery
        self.weeks = mondays(self.nursery)
        self.coefs: list[Coefs] = [defaultdict(float) for _ in self.weeks]
        self.sure = np.zeros(len(self.weeks))
        self.sure[0] = -self.nursery.opening_balance

    def out(self, day: date, key: Key | None, amount: float) -> None:
        """Pay an amount for each unit of a decision on a day; ``key`` None: whatever is decided."""
        week = (week_of(day) - self.weeks[0]).days // 7
        if 0 <= week < len(self.weeks):
            if key is None:
                self.sure[week] += amount
            else:
                self.coefs[week][key] += amount

    def payments(self, compiled: Compiled) -> Payments:
        """The payments over the columns of the compiled program."""
        paid = csr_array(np.array([compiled.vector(coefs) for coefs in self.coefs]))
        days = np.array([days_in(self.nursery, week) for week in self.weeks])
        return Payments(paid, self.sure, self.nursery.overdraft_rate * days / YEAR)


def payments_of(program: Program, compiled: Compiled, ordered: Ordered | None) -> Payments:
    """What each decision pays by week.

    ``ordered``: days on which packs are ordered; those without a day are ordered before their first possible
    use. None: packs are left out, and zones chosen and deposits given back are paid as late as in any plan.
    """
    ledger = _Ledger(program)
    if ordered is not None:
        _packs(program, ledger, ordered)
    _hands(program, ledger)
    _rooms(program, ledger, ordered is None)
    _trade(program, ledger)
    _customers(program, ledger, ordered is None)
    _overheads(program, ledger)
    return ledger.payments(compiled)


def _packs(p: Program, ledger: _Ledger, ordered: Ordered) -> None:
    first: dict[str, int] = {}
    for use in p.uses:
        first[use.item] = min(use.day, first.get(use.item, use.day))
    for n, pack in enumerate(p.packs):
        day = ordered.get((pack.item, pack.size))
        if day is None:
            day = p.network.calendar.date(first.get(pack.item, 0) - p.items[pack.item][1])
        ledger.out(day + timedelta(days=pack.terms_days), ("packs_bought", n), pack.price)


def _hands(p: Program, ledger: _Ledger) -> None:
    on, crews = p.network.calendar.date, p.amounts.crews
    for limits in crews.values():
        if limits.crew.pay_basis is PayBasis.COMMITTED:
            for t, (hours, pay) in enumerate(zip(limits.regular, limits.pay, strict=True)):
                ledger.out(on(t), None, hours * pay)
    for n, i in enumerate(p.crew_days):
        limits = crews[i.crew]
        if limits.crew.pay_basis is not PayBasis.COMMITTED:
            ledger.out(on(i.day), ("regular", n), limits.pay[i.day])
        ledger.out(on(i.day), ("overtime", n), limits.overtime_pay[i.day])
    for n, index in enumerate(p.crew_weeks):
        week, limits = p.weeks[index.week], crews[index.crew]
        ledger.out(on(week.days[0]), ("temporary_hands", n), limits.temporary_week_pay(week))
        ledger.out(on(week.days[0]), ("new_hands", n), limits.new_hand_cost(week))
    for n, i in enumerate(p.called_days):
        week, limits = p.weeks[p.week_of[i.day]], crews[i.crew]
        ledger.out(on(week.days[0]), ("called_hands", n), limits.hours[i.day] * limits.temporary_pay(week))
    for n, i in enumerate(p.temporary_overtime_days):
        week = p.weeks[p.week_of[i.day]]
        ledger.out(on(week.days[0]), ("temporary_overtime", n), crews[i.crew].temporary_overtime_pay(week))
    for n, index in enumerate(p.guaranteed_weeks):
        week = p.weeks[index.week]
        ledger.out(on(week.days[0]), ("idle", n), crews[index.crew].idle_pay(week))
    for n, at in enumerate(p.crew_tasks):
        ledger.out(on(at.kind.day), ("worked_at_task", n), p.beyond_the_hour(at))


def _rooms(p: Program, ledger: _Ledger, latest: bool) -> None:
    on, zones = p.network.calendar.date, p.amounts.zones
    in_use = [
        (s.key, s.zone, s.trays * s.slots, s.start, s.end) for s in p.amounts.standing if zones[s.zone].pool
    ]
    in_use += [
        (("units_opened", e), batch.zone, zones[batch.zone].slots_each, batch.open, batch.shut)
        for e, batch in enumerate(p.amounts.batches)
    ]
    for key, zone, slots, start, end in in_use:
        for q in range(p.week_of[start], p.week_of[end - 1] + 1) if end > start else ():
            days = p.weeks[q].days
            cost = zones[zone].cost_between(max(start, days[0]), min(end, days[-1] + 1))
            ledger.out(on(days[0]), key, slots * cost)
    for n, index in enumerate(p.bay_weeks):
        week = p.weeks[index.week]
        ledger.out(on(week.days[0]), ("bays_open", n), p.amounts.bays[index.zone].week_cost(week))
    for row, trays in trays_in_zones(p):
        for key, number in trays.items() if row.cost_per_tray else ():
            begins = on(max(_begins(p, key), 0))
            ledger.out(ledger.nursery.last_day if latest else begins, key, row.cost_per_tray * number)


def _begins(p: Program, key: Key) -> int:
    """Day of sowing of trays that germinate, else of the graft of a flow or of plants held."""
    if key[0] == "sown_into":
        return p.network.waves[p.amounts.sown_into[key[1]].wave].sow
    f = p.network.deliveries[key[1]].flow if key[0] == "delivered" else key[1]
    return p.network.flows[f].graft


def _trade(p: Program, ledger: _Ledger) -> None:
    on, network, terms = p.network.calendar.date, p.network, offer_terms(p.network.scenario)

    def bought(offer: int, day: int, key: Key) -> None:
        sold = network.offers[offer]
        ledger.out(on(day) + timedelta(days=terms[sold.offer]), key, sold.price)

    for i, buy_in in enumerate(network.buy_ins):
        bought(buy_in.offer, buy_in.day, ("bought", i))
    for n, index in enumerate(p.spare_days):
        bought(index.offer, index.day, ("spare_bought", n))
    for n, ride in enumerate(p.run_days):
        ledger.out(on(ride.day), ("vehicles", n), ride.run.fixed_cost)
        for key, trays in p.rides[n].items():
            ledger.out(on(ride.day), key, ride.run.cost_per_tray * trays)
    for w in p.opened_waves:
        if not network.waves[w].on_hand:
            ledger.out(on(network.waves[w].sow), ("wave_opened", w), ledger.nursery.wave_cost)
    for n, (product, _) in enumerate(p.salvaged):
        ledger.out(ledger.nursery.last_day, ("sold", n), -product.salvage_price)


def _customers(p: Program, ledger: _Ledger, latest: bool) -> None:
    """Deposits, balances, and deposits given back for plants short."""
    network, declined = p.network, defaultdict[int, list[tuple[Key, float]]](list)
    for key, o, plants in p.declined:
        declined[o].append((key, plants))
    leaving: dict[int, list[tuple[Key, int]]] = defaultdict(list)
    for i, delivery in enumerate(network.deliveries):
        leaving[delivery.order].append((("delivered", i), network.flows[delivery.flow].ready))
    for i, buy_in in enumerate(network.buy_ins):
        leaving[buy_in.order].append((("bought", i), buy_in.day))
    for o, term in enumerate(network.orders):
        order = term.order
        if order.price is None:
            continue
        terms = terms_of(network.scenario, order.customer)
        deposit, after = terms.deposit_share * order.price, timedelta(days=terms.terms_days)
        paid = terms.deposit_day(order.due_day, order.ordered_day)
        ledger.out(paid, None, -deposit * order.quantity)
        for key, plants in declined[o]:
            ledger.out(paid, key, deposit * plants)
        for key, ready in leaving[o]:
            days = term.days_late(ready)
            balance = order.price - term.late_cost * weeks_begun(days) - deposit
            ledger.out(order.due_day + timedelta(days=days) + after, key, -balance)
        back = term.late_most if latest else 0
        ledger.out(order.due_day + timedelta(days=back) + after, ("short", o), deposit)


def _overheads(p: Program, ledger: _Ledger) -> None:
    nursery, scenario = ledger.nursery, p.network.scenario
    _spread(ledger, by_period(nursery, None), nursery.overhead)
    for row in scenario.overheads:
        if row.kind is not OverheadKind.DEPRECIATION:
            amount = row.amount * periods(row, nursery.first_day, nursery.last_day)
            _spread(ledger, by_period(nursery, row), amount)


def _spread(ledger: _Ledger, shares: Mapping[date, float], amount: float) -> None:
    for day, share in shares.items():
        ledger.out(day, None, share * amount)


def with_interest(compiled: Compiled, payments: Payments) -> Compiled:
    """The program with cash in hand C and overdraft F of each week: 2 columns and a row a week, at the end.

    min  cost + Σ i[q] · F[q]      i[q] = overdraft rate · days[q] / 365
    C[q] − F[q] = C[q−1] − (1 + i[q−1]) · F[q−1] + in[q] − out[q]      for each week q

    F is counted before its interest; C − F before the first week is the opening balance.
    """
    weeks = len(payments.interest)
    cost = np.append(np.zeros(weeks), payments.interest)
    wider = with_columns(compiled, csr_array((compiled.matrix.shape[0], 2 * weeks)), np.inf, cost)
    cash = np.eye(weeks) - np.eye(weeks, k=-1)
    owed = np.diag((1 + payments.interest)[:-1], k=-1) - np.eye(weeks)
    rows = csr_array(hstack([payments.paid, csr_array(cash), csr_array(owed)]))
    return with_rows(wider, rows, -payments.sure, -payments.sure)


class _Entries:
    """Entries of a sparse matrix, one by one."""

    def __init__(self) -> None:
        self.row: list[int] = []
        self.column: list[int] = []
        self.value: list[float] = []

    def add(self, row: int, column: int, value: float) -> None:
        """Add an entry; a negative column is that of a variable that stands nowhere in the program."""
        if column >= 0:
            self.row.append(row)
            self.column.append(column)
            self.value.append(value)

    def matrix(self, rows: int, columns: int) -> csr_array:
        """The matrix; entries in one place are added up."""
        return csr_array((self.value, (self.row, self.column)), shape=(rows, columns))


def _with_packs_late(program: Program, cash: Compiled) -> Compiled:
    """The program of cash, in which packs are not paid yet, with packs paid as late as their uses allow.

    Σ_q G[j,q] = Σ_sizes price · P[j,size]
    E[j,q] = E[j,q−1] + G[j,q] − least price[j] · used − back of item j that is due in week q

    G is what is paid for an item in a week, and E ≥ 0 what is paid for it beyond what is used so far at the
    least price of a unit, stock and packs ordered before today included. What is paid after the last week is
    an open item, in a week of its own.
    """
    weeks = mondays(program.network.scenario.nursery)
    span, before, first = len(weeks) + 1, len(cash.cost), cash.matrix.shape[0] - len(weeks)
    packs: dict[str, list[int]] = defaultdict(list)
    for n, pack in enumerate(program.packs):
        packs[pack.item].append(n)
    own, count = 2 * span * len(packs), (span + 1) * len(packs)
    entry, rows, right = _Entries(), _Entries(), np.zeros(count)
    recorded: dict[str, float] = defaultdict(float)
    for (item, size), arrivals in program.network.past.packs.items():
        recorded[item] += size * sum(number for _, number in arrivals)
    place = {item: j for j, item in enumerate(sorted(packs))}
    price, later = dict[str, float](), dict[str, timedelta]()
    for item, j in place.items():
        sold, (stock, lead) = [program.packs[n] for n in packs[item]], program.items[item]
        price[item] = min(pack.price / pack.size for pack in sold)
        later[item] = timedelta(days=max(pack.terms_days for pack in sold) - lead)
        row = j * (span + 1)
        paid = before + 2 * span * j
        left = paid + span
        right[row + 1] = -price[item] * (stock + recorded[item])
        for n, pack in zip(packs[item], sold, strict=True):
            rows.add(row, int(cash.position["packs_bought"][n]), -pack.price)
        for q in range(span):
            rows.add(row, paid + q, 1.0)
            rows.add(row + 1 + q, paid + q, 1.0)
            rows.add(row + 1 + q, left + q, -1.0)
            if q > 0:
                rows.add(row + 1 + q, left + q - 1, 1.0)
            if q < len(weeks):
                entry.add(first + q, paid + q, 1.0)
    for use in (use for item in place for use in program.in_and_out.get(item, ())):
        due = week_of(program.network.calendar.date(use.day) + later[use.item])
        q = min(max((due - weeks[0]).days // 7, 0), len(weeks))
        name, n = use.key
        at = int(cash.position[name][n])
        rows.add(place[use.item] * (span + 1) + 1 + q, at, -price[use.item] * use.units)
    in_cash = entry.matrix(cash.matrix.shape[0], before + own)[:, before:]
    wider = with_columns(cash, in_cash, np.inf, np.zeros(own))
    return with_rows(wider, rows.matrix(count, before + own), right, right) if packs else wider


def least_with_interest(program: Program, compiled: Compiled) -> float:
    """A proved bound of cost and interest together, in currency, for any plan of the program.

    Raises SolveError where HiGHS reaches no optimum.
    """
    cash = with_interest(compiled, payments_of(program, compiled, None))
    return run(solver(_with_packs_late(program, cash))).objective


@dataclass(frozen=True, slots=True)
class Priced:
    """The program with the interest of each payment in its cost, by the least cost of both together.

    ``objective``: least cost of the continuous program with its interest. ``worth``: what one of currency
    paid in each week costs in interest.
    """

    compiled: Compiled
    continuous: Solution
    objective: float
    worth: Floats


def priced(compiled: Compiled, continuous: Solution, payments: Payments) -> Priced:
    """Solve the continuous program with interest, and put the interest into the cost of its decisions.

    cost′ = cost + Σ_q worth[q] · (out[q] − in[q])

    The worth of a week is the dual of its row. By duality the least cost′ is that of the program with
    interest, and no decisions cost more by it than with their interest (Lagrangean relaxation).

    ``continuous``: an optimum without interest. Raises SolveError where HiGHS reaches no optimum.
    """
    found = run(solver(with_interest(compiled, payments)))
    worth = np.maximum(-found.row_dual[len(compiled.row_lower) :], 0.0)
    dearer = replace(
        compiled,
        cost=compiled.cost + worth @ payments.paid,
        offset=compiled.offset + float(worth @ payments.sure),
    )
    highs = solver(dearer)
    start_from(highs, continuous)
    return Priced(dearer, run(highs), found.objective, worth)

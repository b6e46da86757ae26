"""Cash: what is paid in and out on which day, by week, with the balance and what an overdraft costs.

deposit[o] = deposit share · price[o] · (quantity[o] − declined[o])
balance to pay = sales − late discount − deposit, at each day on which plants of the order leave
balance[q] = balance[q − 1] + in[q] − out[q] − overdraft[q]
overdraft[q] = rate · days[q] / 365 · max(0, −(balance[q − 1] + in[q] − out[q]))

All payments together are the result without depreciation: those of the season's weeks, and the open items,
which are paid before or after.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from typing import Any, NamedTuple

from model.planned.plan_tables import Plan, records, rows_of
from model.program.cost_terms import further_zones, zone_detail
from model.scenario.calendar import mondays, week_of
from model.scenario.choices import Period
from model.scenario.entities import Nursery, Scenario
from model.scenario.lateness import weeks_begun
from model.scenario.records.overheads import Overhead
from model.scenario.records.trade import Customer

DEPOSITS, CUSTOMERS, SURPLUS = "deposits", "customers", "surplus sold"
INTO = (DEPOSITS, CUSTOMERS, SURPLUS)
"""Kinds of what is paid in. A deposit given back is paid in below 0."""

KIND_OF = {
    "seed": "seed",
    "supplies": "supplies",
    "labour": "pay",
    "guaranteed hours": "pay",
    "overtime": "pay",
    "temporary hands": "pay",
    "piece rates": "pay",
    "slots": "heat and light",
    "bays": "heat and light",
    "zones chosen": "zones chosen",
    "buy-in": "buy-in",
    "waves": "waves",
    "freight": "freight",
    "late": CUSTOMERS,
    "salvage": SURPLUS,
    "overhead": "overhead",
    "interest": "interest",
}
"""The kind of payment of each cost line that is paid. The others are paid to nobody in the season."""

OUT = tuple(dict.fromkeys(kind for kind in KIND_OF.values() if kind not in INTO))
"""Kinds of what is paid out."""

YEAR = 365
"""Days of the year of a yearly rate."""


class Payment(NamedTuple):
    """A payment: its day, its kind in ``INTO`` or ``OUT``, and its amount in currency, in or out."""

    day: date
    kind: str
    amount: float


class Terms(NamedTuple):
    """When a customer pays: deposit share, its days before the due day, days to the rest after leaving."""

    deposit_share: float
    deposit_days: int
    terms_days: int

    def deposit_day(self, due_day: date, ordered_day: date | None) -> date:
        """Day on which an order's deposit is paid: not before it was placed, where that is known."""
        asked = due_day - timedelta(days=self.deposit_days)
        return asked if ordered_day is None else max(asked, ordered_day)


class Instalment(NamedTuple):
    """A share of a cost that is paid on a day; ``detail``: as in the plan's table of costs."""

    line: str
    detail: str
    day: date
    share: float


@dataclass(frozen=True, slots=True)
class Receipt:
    """What a customer pays for the plants of an order that leave on a day.

    ``part``: of the order's plants delivered, and so of its deposit; 1 where none is. ``lateness``: part of
    the order's late discount. ``due_day``, ``ordered_day``: those of the order. Money in
    currency, days in days.
    """

    order: str
    customer: str
    due_day: date
    ordered_day: date | None
    leave_day: date
    plants: float
    part: float
    lateness: float
    price: float
    sales: float
    ordered: float
    terms: Terms

    @property
    def deposit(self) -> float:
        """Deposit for these plants."""
        return self.terms.deposit_share * self.price * self.ordered * self.part

    @property
    def deposit_day(self) -> date:
        """Day on which the deposit is paid."""
        return self.terms.deposit_day(self.due_day, self.ordered_day)

    @property
    def balance(self) -> float:
        """What is still to pay when the plants have left; below 0: given back."""
        return self.sales - self.deposit

    @property
    def balance_day(self) -> date:
        """Day on which the balance is paid."""
        return self.leave_day + timedelta(days=self.terms.terms_days)


@dataclass(frozen=True, slots=True)
class CashWeek:
    """A week: what is paid in and out by kind, what the overdraft costs, the balance at its end."""

    week: date
    paid: dict[str, float]
    overdraft: float
    balance: float


@dataclass(frozen=True)
class Cash:
    """The cash of a season, in currency.

    ``before`` and ``after``: by kind, what is paid before the first week and after the last: open items.
    """

    opening: float
    weeks: tuple[CashWeek, ...]
    before: dict[str, float]
    after: dict[str, float]

    @cached_property
    def deepest(self) -> CashWeek:
        """The week that ends with the lowest balance, the first of equals."""
        return min(self.weeks, key=lambda week: week.balance)

    @property
    def overdraft(self) -> float:
        """What the overdraft costs in the season."""
        return sum(week.overdraft for week in self.weeks)

    @property
    def open(self) -> float:
        """What is still to be paid in after the last week, less what is to be paid out."""
        return net(self.after)


def net(paid: dict[str, float]) -> float:
    """What is paid in less what is paid out, of amounts by kind."""
    return sum(amount if kind in INTO else -amount for kind, amount in paid.items())


def terms_given(scenario: Scenario) -> bool:
    """Whether the scenario says when anyone pays, or how the account stands."""
    nursery = scenario.nursery
    of_bank = (nursery.opening_balance, nursery.overdraft_rate)
    of_trade = (nursery.terms_days, nursery.deposit_share, *scenario.customers)
    packs = [pack.terms_days for pack in scenario.packs]
    offers = [offer.terms_days for offer in scenario.buy_in_offers]
    return any((*of_bank, *of_trade, *packs, *offers))


def cash_of(scenario: Scenario, plan: Plan) -> Cash:
    """The cash of a plan by week; a week is that of a Monday, and the last one is whole."""
    nursery, weeks = scenario.nursery, mondays(scenario.nursery)
    by_week: dict[date, dict[str, float]] = defaultdict(lambda: defaultdict(float))
    for day, kind, amount in payments(scenario, plan):
        week = min(max(week_of(day), weeks[0] - timedelta(days=7)), weeks[-1] + timedelta(days=7))
        by_week[week][kind] += amount
    balance, found = nursery.opening_balance, []
    for week in weeks:
        paid = dict(by_week.pop(week, {}))
        balance += net(paid)
        cost = nursery.overdraft_rate * days_in(nursery, week) / YEAR * max(0.0, -balance)
        balance -= cost
        found.append(CashWeek(week, paid, cost, balance))
    before, after = (dict(by_week.pop(weeks[n] + timedelta(days=d), {})) for n, d in ((0, -7), (-1, 7)))
    return Cash(nursery.opening_balance, tuple(found), before, after)


def days_in(nursery: Nursery, week: date) -> int:
    """Days of the plan in the week of a Monday."""
    return (min(nursery.last_day, week + timedelta(days=6)) - max(nursery.first_day, week)).days + 1


def payments(scenario: Scenario, plan: Plan) -> Iterator[Payment]:
    """All payments for what the plan delivers and costs, on their days."""
    for receipt in receipts(scenario, plan):
        yield Payment(receipt.deposit_day, DEPOSITS, receipt.deposit)
        yield Payment(receipt.balance_day, CUSTOMERS, receipt.balance)
    packs, offers = pack_terms(scenario), offer_terms(scenario)
    first = scenario.nursery.first_day
    for kind, item, size, day, amount in rows_of(
        plan.purchases, "kind", "item", "size", "order_by", "amount"
    ):
        paid = (day or first) + timedelta(days=packs[item, size])
        yield Payment(paid, "seed" if kind == "seed" else "supplies", amount)
    for offer, day, amount in rows_of(plan.buy_in, "offer", "arrival_day", "amount"):
        yield Payment(day + timedelta(days=offers[offer]), "buy-in", amount)
    for table, column, kind in (
        ("crew_days", "day", "pay"),
        ("guaranteed", "week_day", "pay"),
        ("pieces", "day", "pay"),
        ("temporary", "week_day", "pay"),
        ("slots", "day", "heat and light"),
        ("bays", "week_day", "heat and light"),
        ("runs", "day", "freight"),
    ):
        for day, amount in rows_of(plan.table(table), column, "amount"):
            yield Payment(day, kind, amount)
    costs = {(line, detail): a for line, detail, a in rows_of(plan.costs, "line", "detail", "amount")}
    sown = sum(amount for (line, _), amount in costs.items() if line == "waves")
    opened = plan.waves["sow_day"][plan.waves["seeds"] > 0].tolist() if sown else []
    for day in opened:
        yield Payment(day, "waves", sown / len(opened))
    for line, detail, day, share in instalments(scenario, plan):
        kind = KIND_OF[line]
        yield Payment(day, kind, share * costs[line, detail] * (-1 if kind in INTO else 1))


# What is paid in


def receipts(scenario: Scenario, plan: Plan) -> list[Receipt]:
    """What customers pay, by order and day on which plants leave; orders without a price pay nothing."""
    leaving: dict[str, dict[int, float]] = defaultdict(lambda: defaultdict(float))
    for order, late, plants in rows_of(plan.deliveries, "order", "days_late", "plants"):
        leaving[order][late] += plants
    customers = {row.customer: row for row in scenario.customers}
    placed = {order.order: order.ordered_day for order in scenario.orders}
    found: list[Receipt] = []
    for row in sorted(records(plan.orders), key=lambda row: (row["due_day"], row["order"])):
        if row["price"] is not None:
            terms = _terms(scenario.nursery, customers.get(row["customer"]))
            found += _receipts_of(row, placed[row["order"]], leaving[row["order"]], terms)
    return found


def _receipts_of(
    row: dict[str, Any], ordered_day: date | None, leaving: dict[int, float], terms: Terms
) -> Iterator[Receipt]:
    """The receipts of an order; ``leaving``: plants by days late."""
    delivered, discount = row["own"] + row["bought"], row["late_discount"]
    weeks = sum(weeks_begun(late) * plants for late, plants in leaving.items())
    for late, plants in sorted(leaving.items()) if delivered > 0 else [(0, 0.0)]:
        lateness = weeks_begun(late) * plants / weeks if weeks else 0.0
        yield Receipt(
            row["order"],
            row["customer"],
            row["due_day"],
            ordered_day,
            row["due_day"] + timedelta(days=late),
            plants,
            plants / delivered if delivered > 0 else 1.0,
            lateness,
            row["price"],
            plants * row["price"] - lateness * discount,
            row["quantity"] - row["declined"],
            terms,
        )


def terms_of(scenario: Scenario, customer: str) -> Terms:
    """When a customer pays."""
    return _terms(scenario.nursery, next((r for r in scenario.customers if r.customer == customer), None))


def _terms(nursery: Nursery, customer: Customer | None) -> Terms:
    """The customer's own terms, and the nursery's where a cell is blank."""
    own = [None if customer is None else getattr(customer, name) for name in Terms._fields]
    cells = zip(Terms._fields, own, strict=True)
    return Terms(*(getattr(nursery, name) if value is None else value for name, value in cells))


# What is paid out


def pack_terms(scenario: Scenario) -> dict[tuple[str, float], int]:
    """Days from order to payment of each pack, by item and size."""
    return {(pack.item, pack.size): pack.terms_days for pack in scenario.packs}


def offer_terms(scenario: Scenario) -> dict[str, int]:
    """Days from delivery to payment of each offer."""
    return {offer.offer: offer.terms_days for offer in scenario.buy_in_offers}


def instalments(scenario: Scenario, plan: Plan) -> list[Instalment]:
    """The days on which costs are paid that no other table dates: their shares make 1 for each cost.

    Overheads by their periods; zones chosen by the slots in use there; surplus sold and, where no slot is in
    use, all else on the last day.
    """
    nursery = scenario.nursery
    found: list[Instalment] = []
    rows = {(row.kind.value, row.overhead): row for row in scenario.overheads}
    zones = {zone_detail(row): row.zone for row in further_zones(scenario)}
    for line, detail in rows_of(plan.costs, "line", "detail"):
        if line in ("overhead", "interest"):
            spread = by_period(nursery, rows.get((line, detail)))
        elif line == "zones chosen":
            spread = _by_use(nursery, plan, zones[detail])
        elif line == "salvage":
            spread = {nursery.last_day: 1.0}
        else:
            continue
        found += [Instalment(line, detail, day, share) for day, share in spread.items()]
    return found


def by_period(nursery: Nursery, row: Overhead | None) -> dict[date, float]:
    """Shares of an overhead by the day they are paid; None: the one sum of the table nursery."""
    if row is not None and row.paid_day is not None:
        return {row.paid_day: 1.0}
    weekly = row is not None and row.period is Period.WEEK
    days = (nursery.last_day - nursery.first_day).days + 1
    shares: dict[date, float] = defaultdict(float)
    for t in range(days):
        day = nursery.first_day + timedelta(days=t)
        end = week_of(day) + timedelta(days=6) if weekly else _month_end(day)
        shares[min(end, nursery.last_day)] += 1 / days
    return shares


def _month_end(day: date) -> date:
    """Last day of a day's month."""
    return (day.replace(day=1) + timedelta(days=31)).replace(day=1) - timedelta(days=1)


def _by_use(nursery: Nursery, plan: Plan, zone: str) -> dict[date, float]:
    """Shares of a cost by the slots in use in a zone, at the end of each week."""
    used: dict[date, float] = defaultdict(float)
    for name, day, slots in rows_of(plan.slots, "zone", "day", "used"):
        if name == zone and slots > 0:
            used[min(week_of(day) + timedelta(days=6), nursery.last_day)] += slots
    whole = sum(used.values())
    return {day: slots / whole for day, slots in used.items()} if whole else {nursery.last_day: 1.0}

"""The sheet of prices: the reader changes a price here, and all amounts follow."""

from __future__ import annotations

from datetime import date

from model.planned.plan_tables import rows_of
from model.scenario.calendar import Calendar
from model.scenario.capacity import CrewLimits
from reports.book.parts import Cell, SheetColumn
from reports.book.style import CellKind
from reports.book.writing import figure
from reports.plan.report import Report
from reports.sheets.accounts.money import COUNTED, DATED, overhead_rows
from reports.sheets.work_hours import rate_starts, temporary_starts


def prices(report: Report) -> None:
    """Every price in the plan's cost; packs and offers that the plan does not use are left out."""
    sheet = report.open(
        "Prices",
        "Prices",
        "Prices and rates of pay in the plan's cost, and the profit margin wanted. Change one in the "
        "column marked *: amounts, totals and shares follow on every sheet. The plan itself stays as it "
        "is. For the best plan at other prices, change the scenario and plan again. Change the prices of "
        "orders on the sheet Orders.",
    )
    list_ = _PriceList(report)
    list_.profit_margin(report.profit_margin)
    list_.packs()
    list_.runs()
    list_.pay()
    list_.slots()
    list_.bays()
    list_.others()
    columns = [
        SheetColumn("what", "Price of", widest=34),
        SheetColumn("name", "For", widest=30),
        SheetColumn("from", "From day", CellKind.DAY),
        SheetColumn("price", "Price", CellKind.PRICE, change=True),
        SheetColumn("unit", "Unit", widest=24),
    ]
    sheet.one_page = len(list_.rows) <= ONE_PAGE
    placed = sheet.table(columns, list_.rows)
    for key, row in list_.at.items():
        report.prices[key] = placed.cell("price", row)


ONE_PAGE = 64
"""Most prices that are printed on one page."""


class _PriceList:
    """The rows of the sheet, and the row of each price."""

    def __init__(self, report: Report) -> None:
        self.scenario, self.plan, self.money = report.scenario, report.plan, report.currency
        self.rows: list[list[Cell]] = []
        self.at: dict[tuple[str, ...], int] = {}

    def add(
        self, key: tuple[str, ...], what: str, name: str, price: float, per: str, day: date | None = None
    ) -> None:
        """Add a price; ``per``: the unit that it pays for."""
        self.at[key] = len(self.rows)
        self.rows.append([what, name, day, price, f"{self.money}/{per}" if per else self.money])

    def profit_margin(self, share: float) -> None:
        """Add the profit margin, a share of the price."""
        self.at["profit margin",] = len(self.rows)
        self.rows.append(["profit margin", "every product", None, share, "share of the price"])

    def packs(self) -> None:
        """Add the prices of the packs and offers that the plan buys."""
        for kind, item, size, price in sorted(rows_of(self.plan.purchases, "kind", "item", "size", "price")):
            what = "seed" if kind == "seed" else "supplies"
            self.add(("pack", item, repr(size)), what, item, price, f"pack of {figure(size, groups=True)}")
        used = set(self.plan.buy_in["offer"])
        for offer in self.scenario.buy_in_offers:
            if offer.offer in used:
                self.add(("offer", offer.offer), "plants bought in", offer.offer, offer.price, "plant")

    def runs(self) -> None:
        """Add the prices of the vehicles that leave, and of the trays on them."""
        used = set(self.plan.runs["run"])
        for run in self.scenario.runs:
            if run.run in used:
                self.add(("vehicle", run.run), "freight", run.run, run.fixed_cost, "vehicle")
                self.add(("tray", run.run), "freight", run.run, run.cost_per_tray, "tray")

    def pay(self) -> None:
        """Add the rates of pay; a crew without an overtime rate is paid its regular rate."""
        calendar = Calendar(self.scenario.nursery, self.scenario.days_off)
        for crew in self.scenario.crews:
            name, limits = crew.crew, CrewLimits(self.scenario, crew, calendar)
            starts = sorted(set(rate_starts(limits, calendar)))
            for start in starts:
                rate = limits.pay[calendar.day(start)]
                self.add(("labour", name, start.isoformat()), "regular hours", name, rate, "h", start)
            if crew.overtime_pay_per_hour is not None:
                rate, row = crew.overtime_pay_per_hour, len(self.rows)
                self.add(("overtime", name), "overtime and hours on days off", name, rate, "h")
            for start in starts:
                day = start.isoformat()
                same = self.at["labour", name, day] if crew.overtime_pay_per_hour is None else row
                self.at["overtime", name, day] = same
            if crew.temp_heads_most:
                weeks = temporary_starts(limits, calendar)
                for week, start in weeks.items():
                    if week == start:
                        rate = limits.temporary_pay_on(calendar.day(start))
                        since = start if len(set(weeks.values())) > 1 else None
                        key = "temporary hands", name, start.isoformat()
                        self.add(key, "temporary hands", name, rate, "h", since)
                if crew.temp_overtime_hours_per_head_day:
                    longer = temporary_starts(limits, calendar, CrewLimits.temporary_overtime_pay)
                    for of in calendar.weeks:
                        start = calendar.date(of.days[0])
                        if longer[start] == start:
                            rate = limits.temporary_overtime_pay(of)
                            since = start if len(set(longer.values())) > 1 else None
                            key = "temporary overtime", name, start.isoformat()
                            self.add(key, "overtime of temporary hands", name, rate, "h", since)
                self.add(("training", name), "training", name, crew.temp_training_cost, "new hand")

    def slots(self) -> None:
        """Add the costs of a slot in use, one for each day on which a cost changes."""
        last: dict[str, float] = {}
        for zone, day, cost in rows_of(self.plan.slots, "zone", "day", "cost_per_slot_day"):
            if last.get(zone) != cost:
                self.add(("slots", zone, day.isoformat()), "heat and light", zone, cost, "slot-day", day)
            last[zone] = cost

    def bays(self) -> None:
        """Add the costs of a bay open in a week, one for each week from which a cost changes."""
        last: dict[str, tuple[float, int]] = {}
        for zone, day, cost in rows_of(self.plan.bays, "zone", "week_day", "cost_per_bay"):
            before, row = last.get(zone, (None, 0))
            if before != cost:
                row = len(self.rows)
                self.add(("bays", zone, day.isoformat()), "heat and light of a bay", zone, cost, "bay", day)
            self.at["bays", zone, day.isoformat()] = row
            last[zone] = cost, row

    def others(self) -> None:
        """Add penalties, salvage, waves, modules and overhead."""
        nursery = self.scenario.nursery
        for table, column, count, price, key, what in (
            ("orders", "order", "short", "penalty", "shortfall", "plants short"),
            ("orders", "order", "declined", "price", "declined", "plants declined"),
            ("salvage", "product", "sold", "price", "salvage", "surplus plants sold"),
        ):
            for name, number, each in rows_of(self.plan.table(table), column, count, price):
                if number > 0:
                    self.add((key, name), what, name, each, "plant")
        if nursery.wave_cost:
            self.add(("waves",), "sowing a wave", "every wave", nursery.wave_cost, "wave")
        added = [module for module in self.scenario.modules if module.added]
        for module in added:
            name, first, worth = module.module, module.first_cost, module.salvage_value
            self.add(("first cost", name), "module, first cost", name, first, "module")
            self.add(("worth", name), "module, worth at the end", name, worth, "module")
        if added:
            self.at["interest",] = len(self.rows)
            self.rows.append(["interest", "modules", None, nursery.interest_rate, "share a year"])
        self.add(("opening balance",), "opening balance", "the account", nursery.opening_balance, "")
        self.at["overdraft",] = len(self.rows)
        self.rows.append(["overdraft", "the account", None, nursery.overdraft_rate, "share a year"])
        if nursery.overhead:
            self.add(("overhead",), "overhead", "the whole plan", nursery.overhead, "")
        own = overhead_rows(self.scenario)
        for (line, detail), row in own.items():
            self.add((line, detail), line, detail, row.amount, row.period.value)
        for line, detail, amount in rows_of(self.plan.costs, "line", "detail", "amount"):
            if (line, detail) not in own and line not in DATED and line not in COUNTED:
                self.add((line, detail), line, detail, amount, "")

"""Rules of time: an order that no day can meet is a fault.

An order that lacks slots or hours is no fault: the plan leaves it short.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from itertools import islice
from typing import Any, NamedTuple

from model.network.expansion import stays_after
from model.network.rooms import ways_through
from model.scenario.calendar import WEEKDAYS, Calendar
from model.scenario.entities import DayOff, Nursery
from model.scenario.own_tasks import HOLDING
from model.scenario.records.methods import Stage
from model.scenario.records.rooms import StageZone
from model.scenario.records.trade import BuyInOffer
from scenarios.cells.draft import Draft, DraftRow, Rule
from scenarios.cells.faults import Fault, shown
from scenarios.rules.crops import AGES
from scenarios.rules.sold.run_rows import Rides
from scenarios.rules.zone_rows import MOST_WAYS


def _window_weekdays(draft: Draft) -> Iterator[Fault]:
    """Sowing and grafting need working weekdays: some age in the window must be the distance of two."""
    working = [day for row in draft.rows("nursery", "working_weekdays") for day in row["working_weekdays"]]
    if not working:
        return
    numbers = [WEEKDAYS.index(day) for day in working]
    apart = {(b - a) % 7 for a in numbers for b in numbers}
    for row in draft.tables["methods"]:
        for low, high in AGES:
            youngest, oldest = row.values.get(low), row.values.get(high)
            if youngest is None or oldest is None:
                continue
            if not any(age % 7 in apart for age in range(youngest, min(oldest, youngest + 6) + 1)):
                later = next(age for age in range(youngest, youngest + 8) if age % 7 in apart)
                wrong = (
                    f"ends a window of {youngest} to {oldest} days: no two working weekdays are so far apart"
                )
                yield draft.spoiled(row, high, wrong, f"write at least {later}, or add working weekdays")


def _germination(draft: Draft) -> Iterator[Fault]:
    """Seedlings leave the germination room before the graft window closes."""
    lots = draft.grouped("seed_lots", "variety", "germination_days")
    told: set[int] = set()
    for product, method in draft.targets(draft.rows("products", "method"), "method"):
        for part, (_, high) in zip(("scion", "rootstock"), AGES, strict=True):
            oldest = method.values.get(high)
            if oldest is None:
                continue
            for lot in lots.get(product.values.get(part, ""), []):
                if lot["germination_days"] > oldest and lot.number not in told:
                    told.add(lot.number)
                    wrong = f"is past the window of method '{product['method']}', which ends at {oldest} days"
                    yield lot.fault("germination_days", wrong, f"write at most {oldest}")
    for lot in draft.rows("seed_lots", "germination_days"):
        if lot.number in told:
            draft.spoil(lot, "germination_days")


def _some_working_day(draft: Draft) -> Iterator[Fault]:
    calendar = calendar_of(draft)
    if calendar is not None and not calendar.working_days:
        row = draft.tables["nursery"][0]
        wrong = "leave no working day in the horizon"
        yield draft.spoiled(row, "working_weekdays", wrong, "add weekdays, or a later last_day")


def _due_after_ready(draft: Draft) -> Iterator[Fault]:
    """Faults of orders due before their product can be ready, where no offer can deliver it either."""
    calendar = calendar_of(draft)
    if calendar is None or not draft.sure("stages") or not draft.sure("seed_lots"):
        return
    ways, rides = Ways(draft, calendar), Rides(draft)
    orders = draft.rows("orders", "product", "due_day", "late_days_most")
    usual = [row["late_days_most"] for row in draft.rows("nursery", "late_days_most")]
    others = draft.grouped("products", "sold_as", "method", "scion", "rootstock")
    for row, product in draft.targets(orders, "product", "method", "scion", "rootstock"):
        made = (product, *others[row["product"]])
        days = [ways.earliest(way) for way in made]
        known = [day for day in days if day is not None]
        earliest = None if len(known) < len(days) else min(set(known) - {NEVER}, default=NEVER)
        late = next(iter(usual), 0) if row["late_days_most"] is None else row["late_days_most"]
        leaves, late = rides.leaving(row, late)
        due = calendar.day(leaves)
        if earliest is None or (earliest != NEVER and earliest <= last_ready(calendar, due, late)):
            continue
        if not ways.bought(product, due):
            remedy = f"make the horizon longer than {calendar.days} days, or remove the order"
            if earliest != NEVER:
                remedy = f"write {calendar.date(earliest)} or later, or an earlier first_day"
            yield row.fault("due_day", f"comes before any '{shown(row['product'])}' can be ready", remedy)


def last_ready(calendar: Calendar, due: int, late: int) -> int:
    """The last day on which plants of an order may be ready that may be ``late`` days late; -1 for none."""
    pack = calendar.previous_working(due)
    return max(-1 if pack is None else pack, due + late if late else -1)


def calendar_of(draft: Draft) -> Calendar | None:
    """The calendar; None where a cell that it needs is faulty."""
    needs = ("first_day", "last_day", "working_weekdays")
    rows = draft.rows("nursery", *needs)
    if len(rows) != 1 or not draft.sure("days_off", "day"):
        return None
    blank: dict[str, Any] = dict.fromkeys(Nursery.__slots__)
    settings = Nursery(**(blank | {name: rows[0][name] for name in needs}))
    return Calendar(settings, tuple(DayOff(row["day"]) for row in draft.rows("days_off", "day")))


NEVER = 10**9
"""Stands for a ready day after the horizon."""


_UNKNOWN = ""
"""Stands for the method of a stage that names none, and for a holding zone: none has a blank name."""


class _Seedlings(NamedTuple):
    """Seedlings of a variety within a window of ages, both ends included."""

    variety: str
    youngest: int
    oldest: int


class Ways:
    """The shortest way of each product from sowing to ready, starting on the first day.

    ``seed_from``: by lot, the day from which on there is seed, where that is later.
    """

    def __init__(self, draft: Draft, calendar: Calendar, seed_from: Mapping[str, int] | None = None) -> None:
        self.draft, self.calendar, self.seed_from = draft, calendar, seed_from or {}
        self.methods = draft.by("methods", "method", "scion_age_min", "scion_age_max", "holding_limit_days")
        self.lots = draft.grouped("seed_lots", "variety")
        self.stood: dict[str, list[int]] = defaultdict(list)
        for row in draft.rows("trays_on_hand", "lot", "sow_day"):
            self.stood[row["lot"]].append(calendar.day(row["sow_day"]))
        self.planted: dict[str, list[int]] = defaultdict(list)
        for row in draft.rows("plants_on_hand", "product", "graft_day"):
            self.planted[row["product"]].append(calendar.day(row["graft_day"]))
        self.found: dict[str, int | None] = {}
        self.graft_days: dict[_Seedlings, set[int] | None] = {}
        self.stages: dict[str, list[Stage] | None] = {}
        self.further: dict[str, list[StageZone]] = defaultdict(list)
        for row in draft.rows("stage_zones", *StageZone.__slots__):
            if row["stage"] != HOLDING:
                self.further[row["method"]].append(StageZone(**row.values))
        for row in draft.tables["stages"]:
            whole = set(Stage.__slots__) <= set(row.values)
            method = row.values.get("method", _UNKNOWN)
            stages = self.stages.setdefault(method, [])
            if not whole:
                self.stages[method] = None
            elif stages is not None:
                stages.append(Stage(**row.values))

    def earliest(self, product: DraftRow) -> int | None:
        """The earliest ready day of a product; ``NEVER`` after the horizon; None where it is unknown."""
        name = product["product"]
        if name not in self.found:
            self.found[name] = self._earliest(product)
        return self.found[name]

    def _earliest(self, product: DraftRow) -> int | None:
        method = self.methods.get(product["method"])
        if method is None or _UNKNOWN in self.stages:
            return None
        stages = self.stages.get(product["method"], [])
        days = self._days(_Seedlings(product["scion"], method["scion_age_min"], method["scion_age_max"]))
        if stages is None or days is None:
            return None
        if product["rootstock"] is not None:
            ages = method.values.get("rootstock_age_min"), method.values.get("rootstock_age_max")
            if ages[0] is None or ages[1] is None:
                return None
            more = self._days(_Seedlings(product["rootstock"], ages[0], ages[1]))
            if more is None:
                return None
            days = days & more
        days = days | set(self.planted[product["product"]])
        if not days:
            return NEVER
        stages = sorted(stages, key=lambda stage: stage.step)
        through = islice(ways_through(stages, self.further[method["method"]], _UNKNOWN), MOST_WAYS)
        passed = [[stage for stage, _ in way.passed] for way in through]
        ways = [stays_after(stages, min(days), self.calendar) for stages in passed]
        return min((way[1] for way in ways if way is not None), default=NEVER)

    def _days(self, seedlings: _Seedlings) -> set[int] | None:
        """Working days on which such seedlings can exist; None where a cell of a lot is faulty."""
        if seedlings not in self.graft_days:
            lots = self.lots.get(seedlings.variety, [])
            known = lots and all("germination_days" in lot.values for lot in lots)
            self.graft_days[seedlings] = (
                {day for lot in lots for day in self._lot_days(lot, seedlings)} if known else None
            )
        return self.graft_days[seedlings]

    def _lot_days(self, lot: DraftRow, seedlings: _Seedlings) -> Iterator[int]:
        germination, next_working = lot["germination_days"], self.calendar.next_working
        name = lot.values.get("lot", "")
        first = self.seed_from.get(name, 0)
        for day in self.calendar.working_days:
            for sown in self.stood[name]:
                bench = next_working(sown + germination) if germination else sown
                if (
                    seedlings.youngest <= day - sown <= seedlings.oldest
                    and bench is not None
                    and bench <= day
                ):
                    yield day
            sow = next_working(max(day - seedlings.oldest, first))
            if sow is None or sow > day - seedlings.youngest:
                continue
            bench = next_working(sow + germination) if germination else sow
            if bench is not None and bench <= day:
                yield day

    def bought(self, product: DraftRow, due: int) -> bool:
        """Whether an offer can deliver the product for that day; a row with faulty cells counts as able."""
        method = self.methods.get(product["method"])
        pack = self.calendar.previous_working(due)
        if pack is None or method is None:
            return False
        first = max(due - method["holding_limit_days"], 0)
        return any(
            set(BuyInOffer.__slots__) - set(row.values)
            or self._delivers(BuyInOffer(**row.values), first, pack)
            for row in self.draft.rows("buy_in_offers", "product")
            if row["product"] == product["product"]
        )

    def _delivers(self, offer: BuyInOffer, first: int, last: int) -> bool:
        calendar = self.calendar
        start = max(first, offer.lead_days, 0 if offer.from_day is None else calendar.day(offer.from_day))
        end = last if offer.to_day is None else min(last, calendar.day(offer.to_day))
        return any(
            calendar.is_working[day] and calendar.weekday(day) in offer.delivery_weekdays
            for day in range(start, end + 1)
        )


TIMING = (
    Rule("every window has an age that joins two working days", _window_weekdays),
    Rule("germination ends before the window does", _germination),
    Rule("the horizon has a working day", _some_working_day),
    Rule("an order is due when its product can be ready, or bought in", _due_after_ready),
)

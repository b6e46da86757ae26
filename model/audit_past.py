"""The past as the audit sees it: the rows of progress summed up anew, and that the plan keeps to them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date
from typing import TYPE_CHECKING, Any

from model.entities import Happened, Progress, Scenario
from model.problems import Problem, differs, wrong

if TYPE_CHECKING:
    from model.audit_replay import Replay

Sums = dict[tuple[Any, ...], float]


class Record:
    """Sums of the rows of progress, by kind and what they name; what was counted of sown and grafted."""

    def __init__(self, scenario: Scenario) -> None:
        self.today = scenario.nursery.today or scenario.nursery.first_day
        self.sums: dict[Happened, Sums] = {what: defaultdict(float) for what in Happened}
        self.counted: dict[Happened, Sums] = {what: defaultdict(float) for what in Happened}
        self.open: set[tuple[Any, ...]] = set()
        """What is not counted, or not in all its rows."""
        for row in scenario.progress:
            key = _key(row)
            self.sums[row.what][key] += row.number
            self.counted[row.what][key] += row.counted or 0.0
            if row.counted is None:
                self.open.add((row.what, *key))

    def share(self, what: Happened, key: tuple[Any, ...]) -> float | None:
        """What was counted of a number; None where not all of it was, or nothing is told."""
        number = self.sums[what].get(key, 0.0)
        return None if number <= 0 or (what, *key) in self.open else float(self.counted[what][key] / number)

    def told(self, what: Happened, *key: Any) -> float:
        """The number told; 0 where nothing is."""
        return self.sums[what].get(key, 0.0)

    def arrived(self, item: str, until: date) -> float:
        """Units of an item in packs ordered before today that have come by a day."""
        packs = self.sums[Happened.PACKS]
        return sum(float(size * n) for (name, size, day), n in packs.items() if name == item and day <= until)

    def comes(self, offer: str, day: date) -> bool:
        """Whether a delivery of plants bought in on that day was ordered before today."""
        return any(key[:2] == (offer, day) for key in self.sums[Happened.BOUGHT_IN])

    def ordered(self, item: str) -> float:
        """Units of an item in packs ordered before today."""
        return self.arrived(item, date.max)

    @property
    def worked_days(self) -> set[date]:
        """Days of which hours are told."""
        return {day for _, day in self.sums[Happened.WORKED]}


def _key(row: Progress) -> tuple[Any, ...]:
    match row.what:
        case Happened.SOWN:
            return row.lot, row.format, row.day
        case Happened.GRAFTED:
            rootstock = row.rootstock_lot, row.rootstock_format, row.rootstock_sow_day
            return row.product, row.day, *rootstock, row.lot, row.format, row.sow_day
        case Happened.FINISHED:
            return row.product, row.graft_day
        case Happened.DELIVERED:
            return row.order, row.graft_day
        case Happened.BOUGHT_IN:
            return row.offer, row.arrival_day, row.order
        case Happened.PACKS:
            return row.item, row.size, row.arrival_day
        case Happened.HIRED:
            return row.crew, row.day.isocalendar()[:2]
        case Happened.WORKED:
            return row.crew, row.day
        case Happened.STANDING:
            return row.zone, row.day


def join_key(r: Replay, row: dict[str, Any]) -> tuple[Any, ...]:
    """The key under which the joins of a row of the plan would be told."""
    names: list[Any] = []
    for side in ("rootstock_wave", "scion_wave"):
        wave = None if row[side] is None else r.waves.get(row[side])
        names += [None] * 3 if wave is None else [wave["lot"], wave["format"], wave["sow_day"]]
    return row["product"], row["graft_day"], *names


def the_past_stands(r: Replay) -> Iterator[Problem]:
    """All before today is in the plan as the progress tells it, and nothing else."""
    record, today = r.world.record, r.world.record.today
    planned: dict[Happened, Sums] = {what: defaultdict(float) for what in Happened}
    for row in r.rows["waves"]:
        if row["sow_day"] < today:
            planned[Happened.SOWN][row["lot"], row["format"], row["sow_day"]] += row["trays"]
    for row in r.rows["joins"]:
        if row["graft_day"] < today:
            planned[Happened.GRAFTED][join_key(r, row)] += row["joins"]
    for row in r.rows["deliveries"]:
        if row["source"] == "own" and row["pack_day"] < today:
            planned[Happened.DELIVERED][row["order"], row["graft_day"]] += row["plants"]
    for row in r.rows["buy_in"]:
        if row["order_by"] < today or record.comes(row["offer"], row["arrival_day"]):
            planned[Happened.BOUGHT_IN][row["offer"], row["arrival_day"], row["order"]] += row["plants"]
    for row in r.rows["temporary"]:
        if row["week_day"] < today:
            planned[Happened.HIRED][row["crew"], row["week_day"].isocalendar()[:2]] += row["heads"]
    for what in (
        Happened.SOWN,
        Happened.GRAFTED,
        Happened.DELIVERED,
        Happened.BOUGHT_IN,
        Happened.HIRED,
    ):
        for key in {*planned[what], *record.sums[what]}:
            place = f"{what.value}: {', '.join(str(part) for part in key if part is not None)}"
            yield from differs(place, planned[what].get(key, 0.0), record.told(what, *key))
    bought: Sums = defaultdict(float)
    shown: Sums = defaultdict(float)
    for row in r.rows["purchases"]:
        bought[row["item"], row["size"]] += row["packs"]
        shown[row["item"], row["size"]] += row["ordered"]
    ordered: Sums = defaultdict(float)
    for (item, size, _), number in record.sums[Happened.PACKS].items():
        ordered[item, size] += number
    for (item, size), number in ordered.items():
        there = bought.get((item, size), 0.0) >= number - 1e-6
        yield from wrong(f"{item}: {number:g} packs of {size:g} ordered, not in the plan", there)
    for item, size in {*shown, *ordered}:
        place = f"{item}: packs of {size:g} ordered before today"
        yield from differs(place, shown.get((item, size), 0.0), ordered.get((item, size), 0.0))
    for row in r.rows["crew_days"]:
        if row["day"] in record.worked_days:
            place, hours = f"{row['crew']} on {row['day']}, hours worked", row["regular"] + row["overtime"]
            yield from differs(place, hours, record.told(Happened.WORKED, row["crew"], row["day"]))


def usable_as_counted(r: Replay, wave: dict[str, Any]) -> float | None:
    """Usable seedlings per tray of a wave sown before today; None where the plan may only expect them."""
    key = wave["lot"], wave["format"], wave["sow_day"]
    if wave["sow_day"] >= r.world.record.today or not wave["trays"]:
        return None
    share = r.world.record.share(Happened.SOWN, key)
    if share is not None:
        return share
    cells = r.world.formats[wave["format"]].cells
    expected = r.world.usable(r.world.lots[wave["lot"]], cells)
    drawn = 0.0
    for row in r.rows["joins"]:
        draws = wave["wave"] in (row["rootstock_wave"], row["scion_wave"])
        if draws and row["graft_day"] < r.world.record.today:
            drawn += row["joins"] / r.expected_match(row)
    return float(max(expected, min(drawn / wave["trays"], cells)))


def take_as_counted(r: Replay, row: dict[str, Any]) -> float | None:
    """Take of joins that were counted; None where they were not."""
    if row["graft_day"] >= r.world.record.today:
        return None
    return r.world.record.share(Happened.GRAFTED, join_key(r, row))


def finished_as_counted(r: Replay, product: str, graft: date) -> float | None:
    """Plants counted ready of a graft day; None where they were not counted."""
    key = product, graft
    return r.world.record.sums[Happened.FINISHED].get(key)


def margin_left(r: Replay, order: str, graft: date) -> float:
    """Graft margin that an order still wants of a graft day: less once healed, none once ready."""
    product = r.world.orders[order].product
    if finished_as_counted(r, product, graft) is not None:
        return 0.0
    keys = [key for key in r.world.record.sums[Happened.GRAFTED] if key[:2] == (product, graft)]
    counted = keys and all((Happened.GRAFTED, *key) not in r.world.record.open for key in keys)
    if not counted:
        return r.world.margin(order)
    return r.world.finishing_margin(order)

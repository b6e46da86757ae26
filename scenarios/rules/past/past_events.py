"""Rules across the rows of progress: a row uses only what there was, and names only what was done."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterator
from datetime import date, timedelta
from math import inf
from typing import Any, NamedTuple

from model.network.charges import extra_of, filled
from model.network.expansion import stays_after
from model.scenario.calendar import Calendar
from model.scenario.choices import Happened, MethodKind
from scenarios.cells.draft import Draft, DraftRow, Rule
from scenarios.cells.faults import Fault, shown
from scenarios.cells.parse import plain
from scenarios.rules.past.claims import SLACK, Claim, too_many
from scenarios.rules.past.hands_told import HANDS_TOLD
from scenarios.rules.past.progress_rows import ROOTSTOCK, SCION, all_told, listed, told
from scenarios.rules.sold.run_rows import Rides
from scenarios.rules.timing import calendar_of
from scenarios.rules.zone_rows import in_zones, ways_of


class ToldWave(NamedTuple):
    """A wave as rows of progress name it."""

    lot: str
    format: str
    sown: date

    def __str__(self) -> str:
        return f"lot '{shown(self.lot)}' in '{shown(self.format)}' sown on {self.sown}"


def _waves_of(row: DraftRow) -> Iterator[tuple[str, ToldWave]]:
    """The waves that joins were made of, and the columns of their sowing days."""
    for columns in (SCION, ROOTSTOCK):
        cells = [row.values.get(column) for column in columns]
        if all(cell is not None for cell in cells):
            lot, tray, sown = cells
            yield columns[2], ToldWave(str(lot), str(tray), sown)  # type: ignore[arg-type]


def _varieties(draft: Draft) -> Iterator[Fault]:
    """Joins are of the product's scion and rootstock, on the trays that its method leaves them in."""
    lots = draft.by("seed_lots", "lot", "variety")
    methods = draft.by("methods", "method", "kind")
    grafted = told(draft, Happened.GRAFTED, "product")
    for row, product in draft.targets(grafted, "product", "method", "scion", "rootstock"):
        name = shown(row["product"])
        for column, part in (("lot", "scion"), ("rootstock_lot", "rootstock")):
            lot = lots.get(row.values.get(column, ""))
            if lot is not None and lot["variety"] != product[part]:
                wrong = f"is of '{shown(lot['variety'])}', not the {part} of '{name}'"
                yield draft.spoiled(row, column, wrong, f"name a lot of '{shown(product[part])}'")
        method, final = methods.get(product["method"]), product.values.get("final_format")
        tray = row.values.get("rootstock_format")
        on_tray = method is not None and method["kind"] is MethodKind.ON_TRAY
        if on_tray and None not in (tray, final) and tray != final:
            wrong = f"is not the final format of '{name}'; an on-tray method grafts in it"
            yield draft.spoiled(row, "rootstock_format", wrong, f"write {shown(str(final))}")


def _bench_days(draft: Draft, calendar: Calendar) -> dict[ToldWave, date | None]:
    """Waves sown, with the day on which they come to the bench; None past the horizon."""
    found: dict[ToldWave, date | None] = {}
    sowings = told(draft, Happened.SOWN, "lot", "format")
    for row, lot in draft.targets(sowings, "lot", "germination_days"):
        days, sown = lot["germination_days"], calendar.day(row["day"])
        bench = calendar.next_working(sown + days) if days else sown
        wave = ToldWave(row["lot"], row["format"], row["day"])
        found[wave] = None if bench is None else calendar.date(bench)
    stood = draft.rows("trays_on_hand", "lot", "format", "sow_day")
    for row, lot in draft.targets(stood, "lot", "germination_days"):
        bench = calendar.next_working(calendar.day(row["sow_day"]) + lot["germination_days"])
        found[_stood(row)] = None if bench is None else calendar.date(bench)
    return found


def _stood(row: DraftRow) -> ToldWave:
    """The wave of a row of trays on hand."""
    return ToldWave(row["lot"], row["format"], row["sow_day"])


def _within_horizon(draft: Draft) -> Iterator[Fault]:
    """Seedlings come to the bench, and joins become plants, by the last day."""
    calendar = calendar_of(draft)
    if calendar is None:
        return
    bench = _bench_days(draft, calendar)
    remedy = "write a later last_day in table nursery"
    for row in told(draft, Happened.SOWN, "lot", "format"):
        if bench.get(ToldWave(row["lot"], row["format"], row["day"]), row["day"]) is None:
            yield row.fault("day", "is so late that the seedlings come to the bench after last_day", remedy)
    ways = ways_of(draft)
    if ways is None:
        return
    for row, product in draft.targets(told(draft, Happened.GRAFTED, "product"), "product", "method"):
        passed = ways.get(product["method"], {}).get(in_zones(draft, row, row["product"]), [])
        stages = [stage for stage, _ in passed]
        if stays_after(stages, calendar.day(row["day"]), calendar) is None:
            yield row.fault("day", "is so late that the plants are ready after last_day", remedy)


def _sown_first(draft: Draft) -> Iterator[Fault]:
    """Joins draw on waves that were sown, and have come to the bench."""
    calendar = calendar_of(draft)
    if calendar is None or not all_told(draft, Happened.SOWN, "lot", "format", "day"):
        return
    bench = _bench_days(draft, calendar)
    sown = {ToldWave(r["lot"], r["format"], r["day"]) for r in told(draft, Happened.SOWN, "lot", "format")}
    sown |= {_stood(row) for row in draft.rows("trays_on_hand", "lot", "format", "sow_day")}
    if not draft.sure("trays_on_hand", "lot", "format", "sow_day"):
        return
    for row in told(draft, Happened.GRAFTED):
        for column, wave in _waves_of(row):
            come = bench.get(wave)
            if wave not in sown:
                days = [w.sown for w in sown if w[:2] == wave[:2]]
                wrong = f"is no day on which lot '{shown(wave.lot)}' was sown in '{shown(wave.format)}'"
                yield draft.spoiled(row, column, wrong, _write_or_add(days, Happened.SOWN))
            elif come is not None and come > row["day"]:
                wrong = f"is so late that the seedlings come to the bench on {come}, after the graft day"
                remedy = "write the day of an older wave, or fewer germination_days"
                yield draft.spoiled(row, column, wrong, remedy)


def _write_or_add(days: list[date], what: Happened) -> str:
    """The remedy for a day on which something was not done; ``days``: those on which it was."""
    add = f"add the row that says it was {what.value}"
    return f"write {listed(days)}, or {add}" if days else add


def _seedlings(draft: Draft) -> dict[Hashable, float]:
    """Most seedlings that each wave can have had: as counted, else one for each cell."""
    cells = draft.by("tray_formats", "format", "cells")
    most: dict[Hashable, float] = defaultdict(float)
    for row in told(draft, Happened.SOWN, "lot", "format"):
        tray, trays, counted = cells.get(row["format"]), row.values.get("number"), row.values.get("counted")
        if counted is None:
            counted = inf if trays is None or tray is None else trays * tray["cells"]
        most[ToldWave(row["lot"], row["format"], row["day"])] += counted
    for row, tray in draft.targets(
        draft.rows("trays_on_hand", "lot", "format", "sow_day"), "format", "cells"
    ):
        held = row.values.get("trays", inf) * tray["cells"]
        counted = row.values.get("seedlings")
        most[_stood(row)] += held if counted is None else counted
    return most


def _joins(draft: Draft) -> Iterator[Fault]:
    """A wave has at least as many seedlings as joins are made from it."""
    if not all_told(draft, Happened.SOWN, "lot", "format", "day"):
        return
    claims = [
        Claim(row, wave, row["number"])
        for row in told(draft, Happened.GRAFTED, "number")
        for _, wave in _waves_of(row)
    ]
    than, remedy = "seedlings of {}", "correct the wave's count"
    yield from too_many(draft, claims, _seedlings(draft), "joins", than, remedy)


def _healed(draft: Draft) -> dict[Hashable, float]:
    """Most plants of each product, graft day and zones chosen: healed as counted, else the joins made."""
    most: dict[Hashable, float] = defaultdict(float)
    for row in draft.rows("plants_on_hand", "product", "graft_day"):
        flow = row["product"], row["graft_day"], in_zones(draft, row, row["product"])
        most[flow] += row.values.get("plants", inf)
    for row in told(draft, Happened.GRAFTED, "product"):
        counted = row.values.get("counted")
        flow = row["product"], row["day"], in_zones(draft, row, row["product"])
        most[flow] += row.values.get("number", inf) if counted is None else counted
    return most


def _products(draft: Draft) -> Iterator[Fault]:
    """Plants delivered or bought in for an order are of the order's product, or of another way to make it."""
    made = draft.by("products", "product", "sold_as")
    for row, order in draft.targets(told(draft, Happened.DELIVERED, "order", "product"), "order", "product"):
        way = made.get(row["product"])
        sold_as = row["product"] if way is None or way["sold_as"] is None else way["sold_as"]
        if sold_as not in (None, order["product"]):
            wrong = f"is not the product of order '{shown(row['order'])}'"
            yield row.fault("product", wrong, f"write {shown(order['product'])}, or leave it blank")
            draft.spoil(row, "order")
    offers = draft.by("buy_in_offers", "offer", "product")
    for row, order in draft.targets(told(draft, Happened.BOUGHT_IN, "order", "offer"), "order", "product"):
        offer = offers.get(row["offer"])
        if offer is not None and order["product"] != offer["product"]:
            wrong = f"is of '{shown(offer['product'])}'; order '{shown(row['order'])}' is for another product"
            yield row.fault("offer", wrong, f"name an offer of '{shown(order['product'])}'")
            draft.spoil(row, "order")


def _grafted_first(draft: Draft) -> Iterator[Fault]:
    """Plants finished or delivered were grafted on the day named, or stood there on the first day."""
    sure = draft.sure("plants_on_hand", "product", "graft_day")
    if not (sure and all_told(draft, Happened.GRAFTED, "product", "day")):
        return
    healed = _healed(draft)
    for row, product in (*_finished(draft), *_delivered(draft)):
        chosen = in_zones(draft, row, product)
        if (product, row["graft_day"], chosen) not in healed:
            grafted = told(draft, Happened.GRAFTED, "product")
            days = [row["day"] for row in grafted if row["product"] == product]
            if row["graft_day"] in days:
                wrong = f"'{shown(product)}' of {row['graft_day']} was not grafted for these zones"
                remedy = "write the zones that stand at its joins"
                yield draft.spoiled(row, "in_zones", wrong, remedy)
                continue
            wrong = f"is no day on which '{shown(product)}' was grafted"
            yield draft.spoiled(row, "graft_day", wrong, _write_or_add(days, Happened.GRAFTED))


def _finished(draft: Draft, *needs: str) -> list[tuple[DraftRow, str]]:
    """Rows of plants counted ready, with their product."""
    rows = told(draft, Happened.FINISHED, "product", "graft_day", *needs)
    return [(row, row["product"]) for row in rows]


def _delivered(draft: Draft, *needs: str) -> list[tuple[DraftRow, str]]:
    """Rows of plants delivered, with the product that was grafted: their order's where they name none."""
    rows = told(draft, Happened.DELIVERED, "order", "product", "graft_day", *needs)
    orders = draft.targets(rows, "order", "product")
    return [(row, row["product"] or order["product"]) for row, order in orders]


def _claims(draft: Draft, rows: list[tuple[DraftRow, str]]) -> list[Claim]:
    """What rows of plants use of the plants of their product, graft day and zones chosen."""
    return [
        Claim(row, (product, row["graft_day"], in_zones(draft, row, product)), row["number"])
        for row, product in rows
    ]


def _plants(draft: Draft) -> Iterator[Fault]:
    """Of a graft day, no more plants are ready than healed, and no more are delivered than were ready."""
    sure = draft.sure("plants_on_hand", "product", "graft_day")
    if not (sure and all_told(draft, Happened.GRAFTED, "product", "day")):
        return
    there = _healed(draft)
    than, remedy = "that healed, or were joined", "correct the joins"
    yield from too_many(draft, _claims(draft, _finished(draft, "number")), there, "plants", than, remedy)
    if not all_told(draft, Happened.FINISHED, "product", "graft_day"):
        return
    ready: dict[Hashable, float] = defaultdict(float)
    for row, product in _finished(draft):
        ready[product, row["graft_day"], in_zones(draft, row, product)] += row.values.get("number", inf)
    than, remedy = "there were of that graft day", "correct what was counted"
    claims = _claims(draft, _delivered(draft, "number"))
    yield from too_many(draft, claims, there | ready, "plants", than, remedy)


def _orders(draft: Draft) -> Iterator[Fault]:
    """Deliveries and plants bought in for an order do not exceed its quantity."""
    orders = draft.by("orders", "order", "quantity")
    rows = [
        row
        for what in (Happened.DELIVERED, Happened.BOUGHT_IN)
        for row in told(draft, what, "order", "number")
    ]
    claims = [Claim(row, row["order"], row["number"]) for row in rows]
    most: dict[Hashable, float] = {name: float(_sent(draft, order)) for name, order in orders.items()}
    yield from too_many(draft, claims, most, "plants", "of order '{}'", "raise the order's quantity")


def _sent(draft: Draft, order: DraftRow) -> int:
    """Plants that go out for an order: with extra ones, and with those that fill its last tray."""
    sent: int = order["quantity"] + extra_of(
        order["quantity"], _of_customer(draft, order, "extra_share", 0.0)
    )
    if not _of_customer(draft, order, "whole_trays_to_customer", False):
        return sent
    product = draft.by("products", "product", "final_format").get(order.values.get("product", ""))
    trays = draft.by("tray_formats", "format", "cells")
    tray = None if product is None else trays.get(product["final_format"])
    return sent if tray is None else filled(sent, tray["cells"])


def _of_customer(draft: Draft, order: DraftRow, column: str, default: Any) -> Any:
    """A cell of the order, or else of its customer, or else of the nursery."""
    rows = [
        order,
        *(r for r in draft.rows("customers", "customer") if r["customer"] == order.values.get("customer")),
    ]
    told = [row.values.get(column) for row in (*rows, *draft.rows("nursery"))]
    return next((cell for cell in told if cell is not None), default)


def _packing_days(draft: Draft) -> Iterator[Fault]:
    """An order is delivered whole on its packing day, not before."""
    calendar = calendar_of(draft)
    if calendar is None:
        return
    rides = Rides(draft)
    for row, order in draft.targets(told(draft, Happened.DELIVERED, "order"), "order", "due_day"):
        pack = calendar.previous_working(calendar.day(rides.leaving(order, 0)[0]))
        if pack is not None and row["day"] < calendar.date(pack):
            wrong = f"is before order '{shown(row['order'])}' is packed ({calendar.date(pack)})"
            remedy = "set the order's due_day to this day; write a separate order for each part delivered"
            yield row.fault("day", wrong, remedy)


def _bought_days(draft: Draft) -> Iterator[Fault]:
    """Plants bought in arrive by the due day, or as late as the order may be, and are not held too long."""
    products, methods = draft.by("products", "product", "method"), draft.by("methods", "method")
    bought = told(draft, Happened.BOUGHT_IN, "order", "arrival_day")
    usual = [row["late_days_most"] for row in draft.rows("nursery", "late_days_most")]
    rides = Rides(draft)
    for row, order in draft.targets(bought, "order", "due_day", "product", "late_days_most"):
        arrival = row["arrival_day"]
        late = next(iter(usual), 0) if order["late_days_most"] is None else order["late_days_most"]
        due, late = rides.leaving(order, late)
        if (arrival - due).days > late:
            wrong = f"is after order '{shown(row['order'])}' is due ({due})"
            remedy = "set the order's due_day to this day, or name another order"
            yield row.fault("arrival_day", wrong, remedy)
            continue
        product = products.get(order["product"])
        method = None if product is None else methods.get(product["method"])
        most = None if method is None else method.values.get("holding_limit_days")
        if most is not None and (due - arrival).days > most:
            wrong = f"is more than {most} days before order '{shown(row['order'])}' is due, the holding limit"
            remedy = f"write {due - timedelta(days=most)} or later, or an earlier due_day"
            yield row.fault("arrival_day", wrong, remedy)


def _pack_sizes(draft: Draft) -> Iterator[Fault]:
    """Packs ordered are of a size that table packs offers."""
    sizes = draft.grouped("packs", "item", "size")
    if not draft.sure("packs", "item", "size"):
        return
    for row in told(draft, Happened.PACKS, "item", "size"):
        known = sorted({pack["size"] for pack in sizes.get(row["item"], [])})
        if row["size"] not in known:
            wrong = f"is not the size of a pack of '{shown(row['item'])}' in table packs"
            remedy = "add it to table packs"
            if known:
                remedy = f"write {' or '.join(map(plain, known))}, or {remedy}"
            yield draft.spoiled(row, "size", wrong, remedy)


def _seed(draft: Draft) -> Iterator[Fault]:
    """Seed is sown only once it is there: from stock, or from packs that have arrived."""
    if not all_told(draft, Happened.PACKS, "item", "size", "number", "arrival_day"):
        return
    formats = draft.by("tray_formats", "format", "cells")
    packs: dict[str, list[DraftRow]] = defaultdict(list)
    for row in told(draft, Happened.PACKS):
        packs[row["item"]].append(row)
    sown: dict[str, float] = defaultdict(float)
    short: set[str] = set()
    sowings = told(draft, Happened.SOWN, "lot", "format", "number")
    for row, lot in draft.targets(sowings, "lot", "stock", "seeds_per_cell"):
        tray = formats.get(row["format"])
        if tray is None or row["lot"] in short:
            continue
        come = [pack for pack in packs[row["lot"]] if pack["arrival_day"] <= row["day"]]
        there = lot["stock"] + sum(pack["size"] * pack["number"] for pack in come)
        sown[row["lot"]] += row["number"] * tray["cells"] * lot["seeds_per_cell"]
        if sown[row["lot"]] > there * (1 + SLACK):
            short.add(row["lot"])
            seeds = plain(sown[row["lot"]])
            wrong = f"makes {seeds} seeds sown of '{shown(row['lot'])}', but only {plain(there)} were there"
            yield row.fault("number", wrong, "record the packs that arrived, or correct the lot's stock")


PAST = (
    Rule("joins are of the product's varieties, in its trays", _varieties),
    Rule("seedlings and plants are raised by the last day", _within_horizon),
    Rule("seedlings grafted were sown and have come to the bench", _sown_first),
    Rule("a wave has a seedling for every join", _joins),
    Rule("an order gets its own product", _products),
    Rule("plants finished or delivered were grafted", _grafted_first),
    Rule("plants ready have healed, and plants delivered were ready", _plants),
    Rule("an order gets at most its quantity", _orders),
    Rule("orders are packed on their day", _packing_days),
    Rule("plants bought in come when their order can take them", _bought_days),
    Rule("packs ordered are in table packs", _pack_sizes),
    Rule("seed was there when it was sown", _seed),
    *HANDS_TOLD,
)

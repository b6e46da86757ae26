"""Rules across the rows of progress: a row uses only what there was, and names only what was done."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Iterator
from datetime import date, timedelta
from math import inf
from typing import NamedTuple

from model.network.expansion import stays_after
from model.scenario.calendar import Calendar
from model.scenario.choices import Happened, MethodKind
from model.scenario.entities import Stage
from scenarios.cells.draft import Draft, DraftRow, Rule
from scenarios.cells.faults import Fault, shown
from scenarios.cells.parse import plain
from scenarios.rules.progress_rows import ROOTSTOCK, SCION, all_told, latest, listed, told
from scenarios.rules.timing import calendar_of

SLACK = 1e-6
"""Share by which a sum of fractions may exceed its limit."""


class ToldWave(NamedTuple):
    """A wave as rows of progress name it."""

    lot: str
    format: str
    sown: date

    def __str__(self) -> str:
        return f"lot '{shown(self.lot)}' in '{shown(self.format)}' sown on {self.sown}"


class Claim(NamedTuple):
    """The amount of a limited thing that a row uses."""

    row: DraftRow
    of: Hashable
    amount: float


class Excess(NamedTuple):
    """A row that uses more of a thing than earlier rows have left of it."""

    row: DraftRow
    of: Hashable
    before: float
    most: float


def excesses(claims: Iterable[Claim], most: dict[Hashable, float]) -> Iterator[Excess]:
    """For each thing, the first row by day with which its use exceeds ``most``; a row is named once."""
    taken: dict[Hashable, float] = defaultdict(float)
    over: set[Hashable] = set()
    rows: set[int] = set()
    for row, of, amount in sorted(claims, key=lambda claim: claim.row["day"]):
        before = taken[of]
        taken[of] += amount
        limit = most.get(of, inf)
        if taken[of] > limit * (1 + SLACK) and of not in over:
            over.add(of)
            if id(row) not in rows:
                rows.add(id(row))
                yield Excess(row, of, before, limit)


def _with_before(before: float, things: str) -> str:
    """How a message begins: the amount that earlier rows use of the same thing."""
    return f"plus {plain(before)} {things} of earlier rows is" if before else "is"


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
    products = draft.by("products", "product", "method", "scion", "rootstock")
    methods = draft.by("methods", "method", "kind")
    for row in told(draft, Happened.GRAFTED, "product"):
        product = products.get(row["product"])
        if product is None:
            continue
        for column, part in (("lot", "scion"), ("rootstock_lot", "rootstock")):
            lot = lots.get(row.values.get(column, ""))
            if lot is not None and lot["variety"] != product[part]:
                wrong = f"is of '{shown(lot['variety'])}', not the {part} of '{shown(row['product'])}'"
                yield row.fault(column, wrong, f"name a lot of '{shown(product[part])}'")
                draft.spoil(row, column)
        method, final = methods.get(product["method"]), product.values.get("final_format")
        tray = row.values.get("rootstock_format")
        if method is None or method["kind"] is not MethodKind.ON_TRAY or tray is None or final is None:
            continue
        if tray != final:
            wrong = f"is not the final format of '{shown(row['product'])}'; an on-tray method grafts in it"
            yield row.fault("rootstock_format", wrong, f"write {shown(final)}")
            draft.spoil(row, "rootstock_format")


def _bench_days(draft: Draft, calendar: Calendar) -> dict[ToldWave, date | None]:
    """Waves sown, with the day on which they come to the bench; None past the horizon."""
    lots = draft.by("seed_lots", "lot", "germination_days")
    found: dict[ToldWave, date | None] = {}
    for row in told(draft, Happened.SOWN, "lot", "format"):
        lot = lots.get(row["lot"])
        if lot is not None:
            days, sown = lot["germination_days"], calendar.day(row["day"])
            bench = calendar.next_working(sown + days) if days else sown
            wave = ToldWave(row["lot"], row["format"], row["day"])
            found[wave] = None if bench is None else calendar.date(bench)
    return found


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
    products = draft.by("products", "product", "method")
    stages: dict[str, list[Stage]] = defaultdict(list)
    for stage in sorted(draft.rows("stages", *Stage.__slots__), key=lambda row: row["step"]):
        stages[stage["method"]].append(Stage(**stage.values))
    if not draft.sure("stages", *Stage.__slots__):
        return
    for row in told(draft, Happened.GRAFTED, "product"):
        product = products.get(row["product"])
        if product is None:
            continue
        if stays_after(stages[product["method"]], calendar.day(row["day"]), calendar) is None:
            yield row.fault("day", "is so late that the plants are ready after last_day", remedy)


def _sown_first(draft: Draft) -> Iterator[Fault]:
    """Joins draw on waves that were sown, and have come to the bench."""
    calendar = calendar_of(draft)
    if calendar is None or not all_told(draft, Happened.SOWN, "lot", "format", "day"):
        return
    bench = _bench_days(draft, calendar)
    sown = {ToldWave(r["lot"], r["format"], r["day"]) for r in told(draft, Happened.SOWN, "lot", "format")}
    for row in told(draft, Happened.GRAFTED):
        for column, wave in _waves_of(row):
            come = bench.get(wave)
            if wave not in sown:
                days = [w.sown for w in sown if w[:2] == wave[:2]]
                wrong = f"is no day on which lot '{shown(wave.lot)}' was sown in '{shown(wave.format)}'"
                add = f"add the row that says it was {Happened.SOWN.value}"
                yield row.fault(column, wrong, f"write {listed(days)}, or {add}" if days else add)
            elif come is not None and come > row["day"]:
                wrong = f"is so late that the seedlings come to the bench on {come}, after the graft day"
                yield row.fault(column, wrong, "write the day of an older wave, or fewer germination_days")
            else:
                continue
            draft.spoil(row, column)


def _seedlings(draft: Draft) -> dict[Hashable, float]:
    """Most seedlings that each wave can have had: as counted, else one for each cell."""
    cells = draft.by("tray_formats", "format", "cells")
    most: dict[Hashable, float] = defaultdict(float)
    for row in told(draft, Happened.SOWN, "lot", "format"):
        tray, trays, counted = cells.get(row["format"]), row.values.get("number"), row.values.get("counted")
        if counted is None:
            counted = inf if trays is None or tray is None else trays * tray["cells"]
        most[ToldWave(row["lot"], row["format"], row["day"])] += counted
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
    for row, wave, before, most in excesses(claims, _seedlings(draft)):
        wrong = f"{_with_before(before, 'joins')} more than the {plain(most)} seedlings of {wave}"
        yield row.fault("number", wrong, f"write at most {plain(most - before)}, or correct the wave's count")
        draft.spoil(row, "number")


def _healed(draft: Draft) -> dict[Hashable, float]:
    """Most plants of each product and graft day: healed as counted, else the joins made."""
    most: dict[Hashable, float] = defaultdict(float)
    for row in told(draft, Happened.GRAFTED, "product"):
        counted = row.values.get("counted")
        most[row["product"], row["day"]] += row.values.get("number", inf) if counted is None else counted
    return most


def _products(draft: Draft) -> Iterator[Fault]:
    """Plants delivered or bought in for an order are of the order's product."""
    orders, offers = draft.by("orders", "order", "product"), draft.by("buy_in_offers", "offer", "product")
    for row in told(draft, Happened.DELIVERED, "order", "product"):
        order = orders.get(row["order"])
        if order is not None and row["product"] not in (None, order["product"]):
            wrong = f"is not the product of order '{shown(row['order'])}'"
            yield row.fault("product", wrong, f"write {shown(order['product'])}, or leave it blank")
            draft.spoil(row, "order")
    for row in told(draft, Happened.BOUGHT_IN, "order", "offer"):
        order, offer = orders.get(row["order"]), offers.get(row["offer"])
        if order is not None and offer is not None and order["product"] != offer["product"]:
            wrong = f"is of '{shown(offer['product'])}'; order '{shown(row['order'])}' is for another product"
            yield row.fault("offer", wrong, f"name an offer of '{shown(order['product'])}'")
            draft.spoil(row, "order")


def _grafted_first(draft: Draft) -> Iterator[Fault]:
    """Plants finished or delivered were grafted on the day named."""
    if not all_told(draft, Happened.GRAFTED, "product", "day"):
        return
    healed = _healed(draft)
    for row, product in (*_finished(draft), *_delivered(draft)):
        if (product, row["graft_day"]) not in healed:
            days = [
                row["day"] for row in told(draft, Happened.GRAFTED, "product") if row["product"] == product
            ]
            add = f"add the row that says it was {Happened.GRAFTED.value}"
            wrong = f"is no day on which '{shown(product)}' was grafted"
            yield row.fault("graft_day", wrong, f"write {listed(days)}, or {add}" if days else add)
            draft.spoil(row, "graft_day")


def _finished(draft: Draft, *needs: str) -> list[tuple[DraftRow, str]]:
    """Rows of plants counted ready, with their product."""
    rows = told(draft, Happened.FINISHED, "product", "graft_day", *needs)
    return [(row, row["product"]) for row in rows]


def _delivered(draft: Draft, *needs: str) -> list[tuple[DraftRow, str]]:
    """Rows of plants delivered, with the product of their order."""
    orders = draft.by("orders", "order", "product")
    rows = told(draft, Happened.DELIVERED, "order", "graft_day", *needs)
    return [(row, order["product"]) for row in rows if (order := orders.get(row["order"])) is not None]


def _plants(draft: Draft) -> Iterator[Fault]:
    """Of a graft day, no more plants are ready than healed, and no more are delivered than were ready."""
    if not all_told(draft, Happened.GRAFTED, "product", "day"):
        return
    there = _healed(draft)
    claims = [
        Claim(row, (product, row["graft_day"]), row["number"]) for row, product in _finished(draft, "number")
    ]
    for row, _, before, most in excesses(claims, there):
        wrong = f"{_with_before(before, 'plants')} more than the {plain(most)} that healed, or were joined"
        yield row.fault("number", wrong, f"write at most {plain(most - before)}, or correct the joins")
        draft.spoil(row, "number")
    if not all_told(draft, Happened.FINISHED, "product", "graft_day"):
        return
    ready: dict[Hashable, float] = defaultdict(float)
    for row, product in _finished(draft):
        ready[product, row["graft_day"]] += row.values.get("number", inf)
    claims = [
        Claim(row, (product, row["graft_day"]), row["number"]) for row, product in _delivered(draft, "number")
    ]
    for row, _, before, most in excesses(claims, there | ready):
        wrong = f"{_with_before(before, 'plants')} more than the {plain(most)} there were of that graft day"
        yield row.fault("number", wrong, f"write at most {plain(most - before)}, or correct what was counted")
        draft.spoil(row, "number")


def _orders(draft: Draft) -> Iterator[Fault]:
    """Deliveries and plants bought in for an order do not exceed its quantity."""
    orders = draft.by("orders", "order", "quantity")
    rows = [
        row
        for what in (Happened.DELIVERED, Happened.BOUGHT_IN)
        for row in told(draft, what, "order", "number")
    ]
    claims = [Claim(row, row["order"], row["number"]) for row in rows]
    most: dict[Hashable, float] = {name: float(order["quantity"]) for name, order in orders.items()}
    for row, order, before, quantity in excesses(claims, most):
        wrong = (
            f"{_with_before(before, 'plants')} more than the {plain(quantity)} of order '{shown(str(order))}'"
        )
        remedy = f"write at most {plain(quantity - before)}, or raise the order's quantity"
        yield row.fault("number", wrong, remedy)


def _packing_days(draft: Draft) -> Iterator[Fault]:
    """An order is delivered whole on its packing day, not before."""
    calendar = calendar_of(draft)
    if calendar is None:
        return
    orders = draft.by("orders", "order", "due_day")
    for row in told(draft, Happened.DELIVERED, "order"):
        order = orders.get(row["order"])
        pack = None if order is None else calendar.previous_working(calendar.day(order["due_day"]))
        if pack is not None and row["day"] < calendar.date(pack):
            wrong = f"is before order '{shown(row['order'])}' is packed ({calendar.date(pack)})"
            remedy = "set the order's due_day to this day; write a separate order for each part delivered"
            yield row.fault("day", wrong, remedy)


def _bought_days(draft: Draft) -> Iterator[Fault]:
    """Plants bought in for an order arrive by its due day, and no earlier than the holding limit allows."""
    orders = draft.by("orders", "order", "due_day", "product")
    products, methods = draft.by("products", "product", "method"), draft.by("methods", "method")
    for row in told(draft, Happened.BOUGHT_IN, "order", "arrival_day"):
        order, arrival = orders.get(row["order"]), row["arrival_day"]
        if order is None:
            continue
        if arrival > order["due_day"]:
            wrong = f"is after order '{shown(row['order'])}' is due ({order['due_day']})"
            yield row.fault(
                "arrival_day", wrong, "set the order's due_day to this day, or name another order"
            )
            continue
        product = products.get(order["product"])
        method = None if product is None else methods.get(product["method"])
        most = None if method is None else method.values.get("holding_limit_days")
        if most is not None and (order["due_day"] - arrival).days > most:
            wrong = f"is more than {most} days before order '{shown(row['order'])}' is due, the holding limit"
            remedy = f"write {order['due_day'] - timedelta(days=most)} or later, or an earlier due_day"
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
            yield row.fault("size", wrong, remedy)
            draft.spoil(row, "size")


def _seed(draft: Draft) -> Iterator[Fault]:
    """Seed is sown only once it is there: from stock, or from packs that have arrived."""
    if not all_told(draft, Happened.PACKS, "item", "size", "number", "arrival_day"):
        return
    lots = draft.by("seed_lots", "lot", "stock", "seeds_per_cell")
    formats = draft.by("tray_formats", "format", "cells")
    packs: dict[str, list[DraftRow]] = defaultdict(list)
    for row in told(draft, Happened.PACKS):
        packs[row["item"]].append(row)
    sown: dict[str, float] = defaultdict(float)
    short: set[str] = set()
    for row in told(draft, Happened.SOWN, "lot", "format", "number"):
        lot, tray = lots.get(row["lot"]), formats.get(row["format"])
        if lot is None or tray is None or row["lot"] in short:
            continue
        come = [pack for pack in packs[row["lot"]] if pack["arrival_day"] <= row["day"]]
        there = lot["stock"] + sum(pack["size"] * pack["number"] for pack in come)
        sown[row["lot"]] += row["number"] * tray["cells"] * lot["seeds_per_cell"]
        if sown[row["lot"]] > there * (1 + SLACK):
            short.add(row["lot"])
            seeds = plain(sown[row["lot"]])
            wrong = f"makes {seeds} seeds sown of '{shown(row['lot'])}', but only {plain(there)} were there"
            yield row.fault("number", wrong, "record the packs that arrived, or correct the lot's stock")


def _hired(draft: Draft) -> Iterator[Fault]:
    """A crew has no more temporary hands in a week than there can be."""
    crews = draft.by("crews", "crew", "temp_heads_most")
    claims = [
        Claim(row, (row["crew"], _week(row["day"])), row["number"])
        for row in told(draft, Happened.HIRED, "crew", "number")
        if row["crew"] in crews
    ]
    most: dict[Hashable, float] = {
        claim.of: float(crews[claim.row["crew"]]["temp_heads_most"]) for claim in claims
    }
    for row, _, before, heads in excesses(claims, most):
        wrong = f"{_with_before(before, 'hands')} more than the {plain(heads)} that the crew may have"
        remedy = f"raise temp_heads_most to {plain(before + row['number'])}, or correct the number"
        yield row.fault("number", wrong, remedy)


def _week(day: date) -> tuple[int, int]:
    return day.isocalendar()[:2]


def _worked(draft: Draft) -> Iterator[Fault]:
    """Nobody works more than 24 hours a day."""
    hands: dict[tuple[str, tuple[int, int]], float] = defaultdict(float)
    for row in told(draft, Happened.HIRED, "crew", "number"):
        hands[row["crew"], _week(row["day"])] += row["number"]
    crews = draft.by("crews", "crew", "heads")
    sure = draft.sure("crew_days", "crew", "from_day", "heads")
    if not sure or not all_told(draft, Happened.HIRED, "crew", "number", "day"):
        return
    claims, most = [], dict[Hashable, float]()
    for row in told(draft, Happened.WORKED, "crew", "number"):
        name, day, crew = row["crew"], row["day"], crews.get(row["crew"])
        if crew is not None:
            heads = latest(draft, "crew_days", ("crew", name), "heads", day, crew["heads"])
            most[name, day] = 24 * (heads + hands[name, _week(day)])
            claims.append(Claim(row, (name, day), row["number"]))
    for row, _, before, hours in excesses(claims, most):
        wrong = f"{_with_before(before, 'hours')} more than the {plain(hours)} hours of its hands in a day"
        yield row.fault(
            "number", wrong, f"write at most {plain(hours - before)}, or correct the crew's hands"
        )


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
    Rule("a crew has at most its temporary hands", _hired),
    Rule("a day has 24 hours", _worked),
)

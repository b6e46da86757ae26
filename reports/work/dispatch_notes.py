"""Dispatch notes: a page that goes with each delivery, from seed lots to planting.

The plan gives each order its lots (``model.planned.trace``), and the note prints them with their counts. A
tray never holds two lots. The packer writes down what was packed of each lot, where it differs.

Advice on planting, on shoots and roots at the union, and that customers bear the risk of their own seed, is
common practice, no source.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import NamedTuple

from model.network.charges import with_charges
from model.planned.lots import Lots, in_whole_plants, whole
from model.planned.plan_tables import Plan, rows_of
from model.scenario.choices import MethodKind, TraceabilityCode
from model.scenario.entities import Nursery, Order, Product, Scenario
from model.scenario.own_seed import own_lots
from model.scenario.records.methods import Method
from model.scenario.run_days import run_by_customer
from reports.book import style
from reports.book.parts import DEFERS, Book, Cell, Sheet, SheetColumn, whole_file
from reports.book.retold import lot_words
from reports.book.style import CellKind
from reports.book.words import TO_MIND, plants_told
from reports.book.writing import grouped, shown_day
from reports.plan.figures import weekday
from reports.study.study import sheet_names
from reports.work.page_parts import page_width, section, to_sign
from reports.work.run_lists import names_of, run_lists, write_run_list

ON_PAPERS = "see its papers"
"""Stands for the lots of plants bought in, which only their grower knows."""

COUNTS = (
    "Pack these lots, as the plan gives them to this order. Where another number or another lot goes into "
    "the boxes, write the count packed: tracing relies on it. Trays are counted as full trays."
)

SHOOTS_AND_ROOTS = (
    "Take off shoots of the rootstock below the union, and roots of the scion above it, while they are "
    "small. Use clean hands or a clean blade."
)

TRACING = (
    "Keep this note with the record of the planting, and write down where each lot was planted. If a disease "
    "or a mix-up of varieties is found, the note leads from a plant back to its seed lots."
)

BOUGHT_LOTS = "The papers that came with plants bought in name their lots: keep those papers with this note."

HEALTH = (
    "Look at the plants on arrival. Keep apart those that look sick, and call the nursery with this note at "
    "hand."
)

RIGHTS = (
    "Local law rules on plant health (passports, certificates, where plants may go) and on rights in "
    "protected varieties, rootstocks included. This note replaces no paper that the law requires: parts of a "
    "plant passport printed here are no passport."
)


OWN_SEED = (
    "Plants of your own seed are raised at your risk: the nursery answers for raising them, not for the "
    "seed. Plants that are missing because it came late or too little, came up worse than told, carried a "
    "disease or was not true to its variety are not charged, and no others are owed for them."
)


class PlantSource(NamedTuple):
    """Plants of a delivery from one pair of lots, or bought in: origin, lots with days of sowing, number.

    ``rootstock`` is None for own-root plants.
    """

    origin: str
    rootstock: str | None
    scion: str
    plants: int


Origin = tuple[str, str | None, str]
"""A source without its plants."""


@dataclass(frozen=True, slots=True)
class Dispatch:
    """The plants of an order packed on one day; ``cells``: cells of a tray of the final format.

    ``leaves``: day on which they leave.
    """

    order: Order
    product: Product
    grafted: bool
    cells: int
    packed: date
    leaves: date
    sources: tuple[PlantSource, ...]
    own_seed: bool = False
    """Whether plants come from seed that the customer sent."""

    @property
    def plants(self) -> int:
        """Plants of all sources."""
        return sum(source.plants for source in self.sources)


def deliveries(scenario: Scenario, plan: Plan, *, first: date, days: int) -> list[Dispatch]:
    """Deliveries packed in the ``days`` days from ``first`` on, by day, then in the order of the scenario.

    Counts are whole. Over the sources of an order they add up to the plants delivered.
    """
    cells = {tray.format: tray.cells for tray in scenario.tray_formats}
    products = {product.product: product for product in scenario.products}
    methods = {method.method: method for method in scenario.methods}
    amounts = _amounts(plan, {name: methods[product.method] for name, product in products.items()})
    columns = ("order", "pack_day", "due_day", "days_late")
    leaves = {
        (order, packed): due + timedelta(days=late)
        for order, packed, due, late in rows_of(plan.deliveries, *columns)
    }
    last, found = first + timedelta(days=days - 1), []
    for order in with_charges(scenario).orders:
        product, served = products[order.product], amounts[order.order]
        by_day: dict[date, list[PlantSource]] = defaultdict(list)
        counts = in_whole_plants(list(served.values()), order.quantity)
        for (packed, origin), plants in zip(served, counts, strict=True):
            by_day[packed].append(PlantSource(*origin, plants))
        grafted = methods[product.method].kind is not MethodKind.OWN_ROOT
        found += [
            Dispatch(
                order,
                product,
                grafted,
                cells[product.final_format],
                packed,
                leaves.get((order.order, packed), packed),
                tuple(sources),
                _of_lots(sources, [lot.lot for lot in own_lots(scenario, order)]),
            )
            for packed, sources in by_day.items()
            if first <= packed <= last
        ]
    return sorted(found, key=lambda delivery: delivery.packed)


def _amounts(plan: Plan, methods: dict[str, Method]) -> dict[str, dict[tuple[date, Origin], float]]:
    """Plants by order, packing day and source; ``methods`` by product."""
    waves = Lots(plan.tables).waves
    amounts: dict[str, dict[tuple[date, Origin], float]] = defaultdict(lambda: defaultdict(float))
    columns = ("order", "product", "graft_day", "rootstock_wave", "scion_wave", "pack_day", "plants")
    for order, product, graft, rootstock, scion, packed, plants in rows_of(plan.trace, *columns):
        method = methods[product]
        done = "moved on" if method.kind is MethodKind.OWN_ROOT else "grafted"
        root = None if rootstock is None else lot_words(waves[rootstock])
        amounts[order][
            packed, (f"{done} {shown_day(graft)}, {method.method}", root, lot_words(waves[scion]))
        ] += plants
    for order, product, offer, ready, packed, plants in rows_of(
        plan.deliveries, "order", "product", "offer", "ready_day", "pack_day", "plants"
    ):
        if offer is not None:
            own_root = methods[product].kind is MethodKind.OWN_ROOT
            origin = (
                f"arrived {shown_day(ready)}, bought in: {offer}",
                None if own_root else ON_PAPERS,
                ON_PAPERS,
            )
            amounts[order][packed, origin] += plants
    return amounts


def _of_lots(sources: Sequence[PlantSource], lots: Sequence[str]) -> bool:
    """Whether a source is of a lot: its name, and the day of sowing after it."""
    waves = [wave for source in sources for wave in (source.rootstock, source.scion) if wave is not None]
    return any(wave.startswith(f"{lot} sown ") for lot in lots for wave in waves)


# The workbook


def write_dispatch_notes(scenario: Scenario, plan: Plan, path: Path, *, first: date, days: int) -> None:
    """Write the notes of what is packed in ``days`` days from ``first`` on to ``path``, whole or not at all.

    Each delivery has a sheet that prints on one page. So has each run that leaves on one of these days, for
    its driver. If there is neither, one sheet says so. Raises OSError if the file cannot be written.
    """
    found = deliveries(scenario, plan, first=first, days=days)
    lists = run_lists(scenario, plan, first, first + timedelta(days=days - 1))
    noted = [f"{delivery.packed} {delivery.order.order}" for delivery in found]
    names = sheet_names("", [*names_of(lists), *noted])
    with whole_file(path) as part:
        book = Book(part, f"Dispatch notes of {scenario.nursery.name}", scenario.nursery)
        for name, of in zip(names, lists, strict=False):
            sheet = book.sheet(name, f"Run {of.run} on {shown_day(of.day)}.")
            sheet.one_page = True
            write_run_list(sheet, of, scenario.nursery.name)
        for name, delivery in zip(names[len(lists) :], found, strict=True):
            sheet = book.sheet(name, f"Order {delivery.order.order}.")
            sheet.one_page = True
            _note(sheet, delivery, scenario)
        if not names:
            page = book.workbook.add_worksheet("No deliveries")
            page.write_string(
                0, 0, f"Nothing is packed for delivery in the {days} days from {shown_day(first)}."
            )
        book.close()


def _note(sheet: Sheet, delivery: Dispatch, scenario: Scenario) -> None:
    sheet.write(0, 0, "Dispatch note", **style.TITLE)
    sheet.row = 2
    sheet.table(FACTS, [*_facts(delivery, scenario), *passport(delivery, scenario.nursery)])
    sheet.table(_columns(delivery), [_source_row(source, delivery) for source in delivery.sources])
    sheet.lines(COUNTS, page_width(sheet), style.NOTE)
    sheet.row += 1
    for label in ("Packed by, day", "Taken over by, day"):
        to_sign(sheet, label)
    sheet.row += 1
    if delivery.order.note:
        section(sheet, "Note of the order", [delivery.order.note])
    if delivery.grafted:
        section(sheet, "How to plant", [TO_MIND["planting"], SHOOTS_AND_ROOTS])
    if delivery.own_seed:
        section(sheet, "Your own seed", [OWN_SEED])
    bought = [BOUGHT_LOTS] if any(source.scion == ON_PAPERS for source in delivery.sources) else []
    section(sheet, "Tracing, plant health and variety rights", [TRACING, *bought, HEALTH, RIGHTS])
    for key in ("lifting", "blades") if delivery.grafted else ("lifting",):
        sheet.lines(f"Caution, {key}: {TO_MIND[key]}", page_width(sheet), style.CAUTION)
    sheet.lines(DEFERS, page_width(sheet), style.CAUTION)


FACTS = (SheetColumn("what", "This delivery", widest=18), SheetColumn("said", "Details", widest=24))


def varieties(product: Product, *, grafted: bool) -> str:
    """Crop and varieties of a product, in words."""
    on = f" on rootstock {product.rootstock}" if grafted else ", own-root"
    return f"{product.crop}: {product.scion}{on}"


def _facts(delivery: Dispatch, scenario: Scenario) -> list[list[Cell]]:
    order, product = delivery.order, delivery.product
    run = run_by_customer(scenario).get(order.customer)
    rows: list[list[Cell]] = [
        ["Nursery", scenario.nursery.name],
        ["Order", order.order],
        ["Customer", order.customer],
        ["Product", product.product],
        ["Crop and varieties", varieties(product, grafted=delivery.grafted)],
        ["Plants", f"{grouped(delivery.plants)} of {plants_told(order)} ordered"],
        ["Packing day", f"{weekday(delivery.packed)} {shown_day(delivery.packed)}"],
        ["Due day", f"{weekday(order.due_day)} {shown_day(order.due_day)}"],
    ]
    if run is not None:
        rows.append(["Run", f"{run.run}, {weekday(delivery.leaves)} {delivery.leaves}"])
    return rows


def passport(delivery: Dispatch, nursery: Nursery) -> list[list[Cell]]:
    """Parts A to D of the plant passport of own plants; none where only the traceability code is known.

    What a passport must look like is for the law in force (in the EU: Regulation 2016/2031, read in summary).
    """
    given = {
        "Passport A, botanical name": delivery.product.botanical_name,
        "Passport B, registration": nursery.registration_number,
        "Passport C, traceability": _code(delivery, nursery),
        "Passport D, origin": nursery.country_of_origin,
    }
    own = (delivery.product.botanical_name, nursery.registration_number, nursery.country_of_origin)
    return [[part, text] for part, text in given.items() if text is not None] if any(own) else []


def _code(delivery: Dispatch, nursery: Nursery) -> str | None:
    """The traceability code of the nursery's own plants."""
    own = [source for source in delivery.sources if source.scion != ON_PAPERS]
    if nursery.traceability_code is TraceabilityCode.OWN or not own:
        return delivery.order.order if own else None
    lots = dict.fromkeys(lot for source in own for lot in (source.scion, source.rootstock) if lot)
    return ", ".join(lots)


def _columns(delivery: Dispatch) -> list[SheetColumn]:
    rootstock = [SheetColumn("rootstock", "Rootstock lot", widest=24)] if delivery.grafted else []
    return [
        SheetColumn("origin", "Plants from", widest=18),
        *rootstock,
        SheetColumn("scion", "Scion lot" if delivery.grafted else "Seed lot", widest=24),
        SheetColumn("format", "Tray format", widest=10),
        SheetColumn("plants", "Plants", CellKind.COUNT, total=True),
        SheetColumn("trays", "Trays", CellKind.COUNT, total=True),
        SheetColumn("packed", "Count packed", box=True),
    ]


def _source_row(source: PlantSource, delivery: Dispatch) -> dict[str, Cell]:
    trays = whole(source.plants / delivery.cells)
    return source._asdict() | {"format": delivery.product.final_format, "trays": trays, "packed": None}

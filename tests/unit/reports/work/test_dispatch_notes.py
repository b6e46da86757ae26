"""Dispatch notes as they go with the plants: what they say, and what they leave out."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import openpyxl
import pytest
from openpyxl.worksheet.worksheet import Worksheet

from model.planned.plan_tables import PLAN_TABLES, Plan, frame
from model.scenario.entities import Order, Scenario
from model.solve import plan
from reports.book.paper import LETTER
from reports.work.dispatch_notes import PlantSource, deliveries, write_dispatch_notes
from tests.report_scenario import (
    CUSTOMER,
    HOSTILE,
    NURSERY,
    ORDER,
    PRODUCT,
    RUN,
    report_plan,
    report_scenario,
)
from tests.strategies import base_scenario
from tests.workbooks import table

DAYS = 28
FIRST = report_scenario().nursery.first_day


@pytest.fixture(scope="module")
def notes(tmp_path_factory: pytest.TempPathFactory) -> openpyxl.Workbook:
    return written(report_scenario(), report_plan(), tmp_path_factory.mktemp("notes"))


def written(scenario: Scenario, result: Plan, folder: Path, *, days: int = DAYS) -> openpyxl.Workbook:
    path = folder / "notes.xlsx"
    write_dispatch_notes(scenario, result, path, first=scenario.nursery.first_day, days=days)
    assert [file.name for file in folder.iterdir()] == [path.name]
    return openpyxl.load_workbook(path)


def text_of(sheet: Worksheet) -> str:
    return " ".join(
        str(cell) for row in sheet.iter_rows(values_only=True) for cell in row if cell is not None
    )


def note_of(notes: openpyxl.Workbook, order: str) -> Worksheet:
    (found,) = [sheet for sheet in notes if sheet.title.split(" ", 1)[1] == order]
    return found


def test_a_sheet_a_delivery_by_packing_day(notes: openpyxl.Workbook) -> None:
    rows = report_plan().deliveries
    packed = set(zip(rows["pack_day"].tolist(), rows["order"].tolist(), strict=True))
    assert len(packed) == 4
    runs = [f"{day} run {RUN}" for day in report_plan().runs["day"]]
    assert notes.sheetnames == [*runs, *(f"{day} {order}" for day, order in sorted(packed))]


def test_a_list_for_the_driver_of_a_run(notes: openpyxl.Workbook) -> None:
    """90 of 100 plants in trays of ten; a vehicle carries six."""
    sheet = notes[f"2027-03-17 run {RUN}"]
    facts = {row["This run"]: row["Details"] for row in table(sheet, "This run")}
    assert facts == {
        "Nursery": NURSERY,
        "Run": RUN,
        "Leaves on": "Wed 2027-03-17",
        "Vehicles": "2",
        "Room for trays": "12",
    }
    row, total = table(sheet, "Loaded")
    assert (row["Order"], row["Customer"], row["Product"]) == (ORDER, CUSTOMER, PRODUCT)
    assert (row["Plants"], row["Trays"], row["Loaded"], row["Received by"]) == (90, 9, None, None)
    assert total["Loaded"] == "Total"
    assert "Lift with two hands" in text_of(sheet)


def test_a_note_says_what_goes_where_and_when(notes: openpyxl.Workbook) -> None:
    facts = {row["This delivery"]: row["Details"] for row in table(note_of(notes, ORDER), "This delivery")}
    assert facts == {
        "Nursery": NURSERY,
        "Order": ORDER,
        "Customer": CUSTOMER,
        "Product": PRODUCT,
        "Crop and varieties": "tomato: Red on rootstock Stout",
        "Plants": "90 of 100 ordered",
        "Packing day": "Wed 2027-03-17",
        "Due day": "Wed 2027-03-17",
        "Run": f"{RUN}, Wed 2027-03-17",
    }


def test_a_line_a_source_with_its_lots_and_a_box(notes: openpyxl.Workbook) -> None:
    """Lots and days by hand from the plan's tables: one pair of waves a graft day."""
    result, sheet = report_plan(), note_of(notes, ORDER)
    sown = {row.wave: f"{row.lot} sown {row.sow_day}" for row in result.waves.itertuples()}
    joins = {row.graft_day: row for row in result.joins.itertuples() if row.product == PRODUCT}
    *rows, total = table(sheet, "Plants from")
    expected = [row for row in result.deliveries.itertuples() if row.order == ORDER]
    assert len(rows) == len(expected) == 3
    for row, planned in zip(rows, expected, strict=True):
        join = joins[planned.graft_day]
        assert row["Plants from"] == f"grafted {planned.graft_day}, splice"
        assert row["Rootstock lot"] == sown[join.rootstock_wave]
        assert row["Scion lot"] == sown[join.scion_wave]
        assert row["Tray format"] == "ten"
        assert abs(row["Plants"] - planned.plants) < 1
        assert 0 <= row["Trays"] - row["Plants"] / 10 < 1
        assert row["Count packed"] is None
    assert total["Plants from"] == "Total"
    assert sum(row["Plants"] for row in rows) == 90
    (at,) = [cells[0].row for cells in sheet.iter_rows() if cells[0].value == "Plants from"]
    boxes = [sheet.cell(at + 1 + n, 7).border for n in range(len(rows))]
    assert {(box.left.style, box.right.style, box.top.style) for box in boxes} == {("thin",) * 3}


def test_plants_bought_in_name_the_offer_and_leave_their_lots_to_its_papers(notes: openpyxl.Workbook) -> None:
    sheet = note_of(notes, "bought")
    (arrived,) = report_plan().buy_in["arrival_day"].tolist()
    row, _ = table(sheet, "Plants from")
    assert (row["Plants from"], row["Plants"]) == (f"arrived {arrived}, bought in: offer", 40)
    assert (row["Rootstock lot"], row["Scion lot"]) == ("see its papers", "see its papers")
    assert "papers that came with plants bought in" in text_of(sheet)
    assert "papers that came with plants bought in" not in text_of(note_of(notes, ORDER))


def test_own_root_plants_have_no_union_and_no_rootstock_lot(notes: openpyxl.Workbook) -> None:
    own = note_of(notes, "own")
    row, _ = table(own, "Plants from")
    assert row["Plants from"].startswith("moved on ")
    assert row["Seed lot"].startswith("Red A sown 2027-")
    assert not any(word in text_of(own) for word in ("union", "How to plant", "Rootstock lot", "bypassed"))
    for order in (ORDER, "bought"):
        text = text_of(note_of(notes, order))
        assert "the union and any roots grown on the scion stay above the soil. Otherwise the" in text
        assert "Take off shoots of the rootstock below the union" in text


def test_every_note_asks_to_be_kept_and_signed_and_defers_to_the_law(notes: openpyxl.Workbook) -> None:
    for sheet in notes.worksheets[len(report_plan().runs) :]:
        text = text_of(sheet)
        for words in (
            "Packed by, day",
            "Taken over by, day",
            "Keep this note with the record of the planting",
            "Local law rules on plant health",
            "Lift with two hands",
            "local codes and licensed practice come first",
        ):
            assert words in text, words


def test_the_note_of_an_order_is_shown_where_there_is_one(tmp_path: Path) -> None:
    told = "=1+1\nleave at the north gate, " * 20
    orders = [
        replace(order, note=told if order.order == "own" else None) for order in report_scenario().orders
    ]
    book = written(replace(report_scenario(), orders=tuple(orders)), report_plan(), tmp_path)
    assert " ".join(told.split()) in text_of(note_of(book, "own"))
    assert "Note of the order" not in text_of(note_of(book, ORDER))


def test_a_users_text_is_never_a_formula_and_totals_are_ours(notes: openpyxl.Workbook) -> None:
    cells = [cell for sheet in notes for row in sheet.iter_rows() for cell in row]
    formulas = [cell.value for cell in cells if cell.data_type == "f"]
    assert len(formulas) == 2 * len(notes.sheetnames)
    assert all(formula.startswith("=SUM($") for formula in formulas)
    assert {NURSERY, ORDER, CUSTOMER, PRODUCT} <= {cell.value for cell in cells if cell.value in HOSTILE}
    assert not any(cell.hyperlink for cell in cells)


def test_every_note_is_one_upright_page(notes: openpyxl.Workbook) -> None:
    for sheet in notes:
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        assert (sheet.page_setup.orientation, int(sheet.page_setup.paperSize)) == ("portrait", LETTER.number)
        assert sheet.print_area


def test_days_on_which_nothing_is_packed_say_so(tmp_path: Path) -> None:
    book = written(report_scenario(), report_plan(), tmp_path, days=2)
    assert book.sheetnames == ["No deliveries"]
    assert f"Nothing is packed for delivery in the 2 days from {FIRST}" in text_of(book["No deliveries"])


def test_an_order_due_on_a_day_off_is_packed_and_noted_before() -> None:
    base = base_scenario()
    saturday = date(2027, 3, 20)
    nursery = replace(base.nursery, working_weekdays=("Mon", "Tue", "Wed", "Thu", "Fri"))
    scenario = replace(base, nursery=nursery, orders=(replace(base.orders[0], due_day=saturday),))
    result = plan(scenario)
    (found,) = deliveries(scenario, result, first=date(2027, 3, 19), days=1)
    assert (found.packed, found.order.due_day, found.plants) == (date(2027, 3, 19), saturday, 100)
    assert deliveries(scenario, result, first=date(2027, 3, 20), days=2) == []


def test_a_note_has_the_lots_of_the_trace() -> None:
    scenario, result = traced(9.0, 14.0)
    (found,) = deliveries(scenario, result, first=FIRST, days=DAYS)
    assert found.sources == (
        PlantSource("grafted 2027-03-12, splice", "Stout A sown 2027-03-01", "Red A sown 2027-03-02", 9),
        PlantSource("grafted 2027-03-12, splice", "Stout A sown 2027-03-01", "Red A sown 2027-03-03", 14),
    )


def test_what_rounding_leaves_goes_to_the_largest_part_cut_off() -> None:
    """By hand: 10 plants of 3.913 and 6.087."""
    scenario, result = traced(3.913, 6.087)
    (found,) = deliveries(scenario, result, first=FIRST, days=DAYS)
    assert [source.plants for source in found.sources] == [4, 6]


def traced(*parts: float) -> tuple[Scenario, Plan]:
    """A plan of one order from one graft day, traced to scions sown on successive days."""
    result, product = report_plan(), report_scenario().products[0].product
    waves = [("R", "Stout A", "Stout", 1), *((f"S{n}", "Red A", "Red", 2 + n) for n, _ in enumerate(parts))]
    sown = frame(
        "waves",
        [
            dict.fromkeys(PLAN_TABLES["waves"].names, 0.0)
            | {"wave": wave, "lot": lot, "variety": variety, "format": "ten"}
            | {name: date(2027, 3, number) for name in ("sow_day", "bench_day", "clear_day")}
            for wave, lot, variety, number in waves
        ],
    )
    graft, packed = date(2027, 3, 12), date(2027, 3, 17)
    row = {"order": "O", "product": product, "graft_day": graft, "in_zones": None}
    row |= {"rootstock_wave": "R", "pack_day": packed}
    trace = frame("trace", [row | {"scion_wave": f"S{n}", "plants": part} for n, part in enumerate(parts)])
    empty = {name: frame(name, []) for name in ("joins", "spare_seedlings", "deliveries")}
    scenario = replace(report_scenario(), orders=(Order("O", "customer", product, int(sum(parts)), packed),))
    return scenario, replace(result, waves=sown, trace=trace, **empty)

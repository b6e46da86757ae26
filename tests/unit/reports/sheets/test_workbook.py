"""The plan workbook: its numbers, its formulas, its sheets, and that a user's text stays text."""

from __future__ import annotations

import html
import re
import zipfile
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import openpyxl
import pytest
from openpyxl import Workbook
from openpyxl.cell import Cell
from openpyxl.worksheet.worksheet import Worksheet

from model.planned.plan_tables import Plan
from model.planned.results import has_prices, result_of
from model.program.cost_terms import COST_LINES
from model.scenario.choices import ZoneMode
from model.scenario.entities import Scenario
from reports.book.paper import LETTER
from reports.sheets.workbook import ON_PAPER, RESULTS, SHEETS
from tests.changed_inputs import change_workbook, expected
from tests.depth import some
from tests.report_scenario import (
    CHECKS,
    HOSTILE,
    NURSERY,
    REMARKS,
    Remark,
    report_plan,
    report_scenario,
)
from tests.specimens import SPECIMENS
from tests.workbooks import (
    MARGIN,
    find,
    formula_cells,
    planned,
    recalculated,
    report_traced,
    table,
    write_report,
)

CENT = 0.005
CAPITAL_RECOVERY = 0.14903
"""At 8 % over 10 years; table in Blank, Tarquin, Engineering Economy."""


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("workbook") / "plan.xlsx"
    write_report(target, report_scenario(), report_plan(), remarks=REMARKS)
    return target


@pytest.fixture(scope="module")
def book(path: Path) -> Workbook:
    return openpyxl.load_workbook(path, data_only=True)


def cost_on_summary(book: Workbook) -> tuple[str, str]:
    row, _ = find(book["Summary"], "Cost with penalties (USD)")
    return "Summary", f"C{row}"


# Numbers


def test_the_plan_under_test_has_every_cost_line() -> None:
    """But that of zones to choose from, test_zones_chosen_papers.py, and of pieces, test_piece_rates.py."""
    assert set(report_plan().costs["line"]) == set(COST_LINES) - {"zones chosen", "piece rates"}


def test_every_formula_recalculated_equals_its_cached_value(path: Path) -> None:
    cached, value = formula_cells(path), recalculated(path)
    assert len(cached) > 200
    wrong = {at: (held, value(*at)) for at, held in cached.items() if abs(value(*at) - held) > CENT / 100}
    assert wrong == {}


@pytest.mark.parametrize("specimen", some([*SPECIMENS, "all short"]))
def test_formulas_hold_in_other_kinds_of_plan(tmp_path: Path, specimen: str) -> None:
    scenario = SPECIMENS.get(specimen) or all_short(SPECIMENS["on-tray"])
    result, traced = planned(scenario, whole=specimen not in ("wave cost", "committed"))
    write_report(tmp_path / "plan.xlsx", scenario, result, traced=traced)
    sheets = openpyxl.load_workbook(tmp_path / "plan.xlsx").sheetnames
    assert ("Units" in sheets) == any(zone.mode is ZoneMode.UNITS for zone in scenario.zones)
    assert [name for name in RESULTS if name in sheets] == list(RESULTS if has_prices(result.orders) else ())
    value = recalculated(tmp_path / "plan.xlsx")
    for at, held in formula_cells(tmp_path / "plan.xlsx").items():
        assert value(*at) == pytest.approx(held, abs=CENT / 100), at


def all_short(scenario: Scenario) -> Scenario:
    """The same with every order due on the first day, so that none can be filled."""
    first = scenario.nursery.first_day
    return replace(scenario, orders=tuple(replace(order, due_day=first) for order in scenario.orders))


def test_totals_are_the_plans(book: Workbook) -> None:
    result = report_plan()
    sheet, cell = cost_on_summary(book)
    assert book[sheet][cell].value == pytest.approx(result.cost, abs=CENT)
    found = result_of(result)
    for name, heading, column, total in (
        ("Costs", "Cost line", "Amount (USD)", result.cost),
        ("Cost details", "Cost line", "Amount (USD)", result.cost),
        ("Order costs", "Order", "Amount (USD)", result.cost),
        ("Cash", "Week from", "In less out (USD)", found.result + found.not_cash),
    ):
        assert table(book[name], heading)[-1][column] == pytest.approx(total, abs=CENT), name


def test_the_first_page_leads_with_the_result(book: Workbook) -> None:
    """Worked out again from the tables of orders and costs."""
    orders, costs = report_plan().orders, report_plan().costs.groupby("line")["amount"].sum()
    sales = sum((p or 0) * (o + b) for p, o, b in orders[["price", "own", "bought"]].itertuples(index=False))
    left = sales - costs.drop(["shortfall", "declined"]).sum()
    page = book["Summary"]
    first = [
        find(page, f"{words} (USD)")[0]
        for words in ("Sales", "Result", "Cost without penalties and prices declined")
    ]
    assert first == sorted(first)
    assert page.cell(first[0], 3).value == pytest.approx(sales)
    assert page.cell(first[1], 3).value == pytest.approx(left)
    row, _ = find(page, "Result before overhead and interest (USD)")
    later = costs[["overhead", "modules", "interest", "depreciation"]].sum()
    assert page.cell(row, 3).value == pytest.approx(left + later)


def test_orders_customers_and_products_add_up_to_the_result(book: Workbook) -> None:
    found = result_of(report_plan())
    for name, heading in (("order", "Customer"), ("customer", "Customer"), ("product", "Product")):
        total = table(book[f"Result by {name}"], heading)[-1]
        for column, value in (
            ("Sales (USD)", found.sales),
            ("Cash cost (USD)", found.cash),
            ("Overhead (USD)", found.overhead),
            ("Interest and depreciation (USD)", found.capital),
            ("Result (USD)", found.result),
            ("Apart: penalties, prices declined (USD)", found.apart),
        ):
            assert total[column] == pytest.approx(value, abs=CENT), (name, column)


def test_cost_lines_are_the_plans(book: Workbook) -> None:
    shown = {row["Cost line"]: row["Amount (USD)"] for row in table(book["Costs"], "Cost line")}
    sums = report_plan().costs.groupby("line")["amount"].sum()
    for line, amount in sums.items():
        assert shown[line] == pytest.approx(amount, abs=CENT), line


def test_cost_a_plant_is_cost_over_plants_delivered(book: Workbook) -> None:
    orders = report_plan().orders
    row, _ = find(book["Summary"], "Cost a plant delivered (USD)")
    paid = report_plan().costs.query("line not in ('shortfall', 'declined')")["amount"].sum()
    expected = paid / (orders["own"].sum() + orders["bought"].sum())
    assert book["Summary"].cell(row, 3).value == pytest.approx(expected)


def test_what_one_more_costs_or_saves_says_that_penalties_are_in_it(book: Workbook) -> None:
    assert report_plan().penalties > 0
    assert find(book["Orders"], "One more plant costs, penalties counted (USD)")
    told = [str(cell.value) for row in book["What binds"].iter_rows(max_row=8) for cell in row if cell.value]
    assert any("Penalties are counted" in text.replace("\n", " ") for text in told)


def test_the_cost_stands_with_and_without_penalties_on_the_first_page(book: Workbook) -> None:
    made, page = report_plan(), book["Summary"]
    for label, amount in (
        ("Penalties for plants short (USD)", made.penalties),
        ("Cost without penalties and prices declined (USD)", result_of(made).cost),
    ):
        row, _ = find(page, label)
        assert page.cell(row, 3).value == pytest.approx(amount)


def test_orders_are_all_there_with_what_is_short_and_why(book: Workbook) -> None:
    rows = {row["Order"]: row for row in table(book["Orders"], "Mark") if row["Order"] is not None}
    for order in report_plan().orders.to_dict("records"):
        row = rows[order["order"]]
        assert (row["Own"], row["Bought in"], row["Short"]) == pytest.approx(
            (order["own"], order["bought"], order["short"])
        )
        marks = (row["Mark"] or "").split("; ")
        assert ("SHORT" in marks) == (order["short"] > 0)
        assert ("DECLINED" in marks) == (order["declined"] > 0)
        assert row["Why short"] == order["short_because"]
        assert row["Due day"] == order["due_day"]


# Changing a price


@pytest.mark.parametrize(
    ("what", "name", "quantity"),
    some(
        [
            ("seed", "Red A", lambda p: p.purchases.query("item == 'Red A'")["packs"].iloc[0]),
            ("regular hours", "Growers", lambda p: 8.0 * 19 + _overtime(p, "Growers")),
            ("overtime and hours on days off", "Grafters", lambda p: _overtime(p, "Grafters")),
            ("training", "Grafters", lambda p: p.temporary["new"].sum()),
            ("plants bought in", "offer", lambda p: p.buy_in["plants"].sum()),
            ("plants short", "early", lambda _: 60.0),
            ("surplus plants sold", "Red own-root", lambda p: -_sold(p, "Red own-root")),
            ("sowing a wave", "every wave", lambda p: float(len(p.waves))),
            ("overhead", "the whole plan", lambda _: 1.0),
            ("module, first cost", "shelf", lambda _: CAPITAL_RECOVERY),
        ]
    ),
)
def test_a_changed_price_changes_the_total_by_its_quantity(path, book, tmp_path, what, name, quantity):  # type: ignore[no-untyped-def]
    changed = openpyxl.load_workbook(path)
    sheet = changed["Prices"]
    row = next(
        r for r in range(1, sheet.max_row + 1) if [sheet.cell(r, c).value for c in (1, 2)] == [what, name]
    )
    sheet.cell(row, 4).value += 0.5
    changed.save(tmp_path / "changed.xlsx")
    at = cost_on_summary(book)
    rise = recalculated(tmp_path / "changed.xlsx")(*at) - book[at[0]][at[1]].value
    assert rise == pytest.approx(0.5 * quantity(report_plan()), abs=CENT)


def _sold(made: Plan, product: str) -> float:
    return float(made.salvage.query("product == @product")["sold"].sum())


def _overtime(p, crew):  # type: ignore[no-untyped-def]
    return p.crew_days.query("crew == @crew")["overtime"].sum()


def test_changed_packs_change_seed_costs_cash_and_cost(path: Path, book: Workbook, tmp_path: Path) -> None:
    changed = openpyxl.load_workbook(path)
    row, column = find(changed["Seed"], "Packs to order*")
    price = book["Seed"].cell(row + 1, column + 2).value
    changed["Seed"].cell(row + 1, column).value += 2
    changed.save(tmp_path / "changed.xlsx")
    value = recalculated(tmp_path / "changed.xlsx")
    for name, heading, head in (
        ("Summary", "Cost with penalties (USD)", None),
        ("Cash", "Week from", "Out (USD)"),
    ):
        row, column = find(book[name], heading)
        if head is None:
            cell = book[name].cell(row, 3)
        else:
            total, _ = find(book[name], "Total")
            cell = book[name].cell(total, find(book[name], head)[1])
        assert value(name, cell.coordinate) - cell.value == pytest.approx(2 * price, abs=CENT)


def test_changed_inputs_come_to_the_models_numbers(path: Path, tmp_path: Path) -> None:
    target = tmp_path / "changed.xlsx"
    change_workbook(path, target)
    value = recalculated(target)
    wrong = {
        (sheet, cell): (wanted, value(sheet, cell))
        for sheet, cell, wanted in expected(path)
        if abs(value(sheet, cell) - wanted) > CENT / 100
    }
    assert wrong == {}


def test_changed_terms_move_a_payment_and_the_overdraft(path: Path, tmp_path: Path) -> None:
    """The last customer pays after the season: the totals stay, the last balance falls by the payment."""
    changed, before = openpyxl.load_workbook(path), recalculated(path)
    sheet, cash = changed["Receipts"], changed["Cash"]
    head, terms = find(sheet, "Balance, days after leaving*")
    row = next(r for r in range(head + 1, sheet.max_row) if sheet.cell(r, 1).value == "bought")
    sheet.cell(row, terms).value = 60
    changed.save(tmp_path / "changed.xlsx")
    after = recalculated(tmp_path / "changed.xlsx")
    paid = before("Receipts", sheet.cell(row, find(sheet, "Balance (USD)")[1]).coordinate)
    week, _ = find(cash, "Customers (USD)")
    total, last = find(cash, "Total")[0], find(cash, "after")[0]
    assert week < last < total
    for at, heading, rise in (
        (last, "Customers (USD)", paid),
        (total, "Customers (USD)", 0.0),
        (total, "In less out (USD)", 0.0),
    ):
        cell = cash.cell(at, find(cash, heading)[1]).coordinate
        assert after("Cash", cell) - before("Cash", cell) == pytest.approx(rise, abs=CENT), heading
    cell = cash.cell(last - 1, find(cash, "Balance at the end (USD)")[1]).coordinate
    cost = cash.cell(total, find(cash, "Overdraft costs (USD)")[1]).coordinate
    dearer = after("Cash", cost) - before("Cash", cost)
    assert paid > 1
    assert after("Cash", cell) - before("Cash", cell) == pytest.approx(-paid - dearer, abs=CENT)


# A user's text


def test_a_hostile_name_is_no_chart_reference(path: Path) -> None:
    with zipfile.ZipFile(path) as parts:
        charts = [parts.read(name).decode() for name in parts.namelist() if "charts/chart" in name]
    references = {ref for chart in charts for ref in re.findall(r"<c:f>([^<]*)</c:f>", chart)}
    assert references
    assert all(re.fullmatch(r"'?[A-Z][A-Za-z ]*'?![$A-Z0-9:]+", ref) for ref in references), references


def test_names_that_look_like_formulas_are_text(path: Path) -> None:
    found = set()
    for sheet in openpyxl.load_workbook(path):
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    assert re.fullmatch(r"=[-+*/(),:.!$'^=<> A-Za-z0-9]+", cell.value), cell.value
                    assert not any(name in cell.value for name in HOSTILE)
                elif cell.value in HOSTILE:
                    assert cell.data_type == "s"
                    found.add(cell.value)
    assert found == set(HOSTILE)


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        (NURSERY, NURSERY.replace("&", "&&")),
        ("2027 spring", "2027 spring"),
        ("&" * 100, "&" * 120),
    ],
)
def test_the_nurserys_name_in_the_foot_is_no_code(tmp_path: Path, name: str, shown: str) -> None:
    scenario = report_scenario()
    named = replace(scenario, nursery=replace(scenario.nursery, name=name))
    write_report(tmp_path / "plan.xlsx", named, report_plan())
    with zipfile.ZipFile(tmp_path / "plan.xlsx") as parts:
        foot = re.search(r"<oddFooter>(.*?)</oddFooter>", parts.read("xl/worksheets/sheet1.xml").decode())
    assert foot is not None
    assert html.unescape(foot.group(1)).startswith(f'&L&8&"Arial,Regular"{shown}&C&8')


def test_nothing_links_out_of_the_workbook(path: Path) -> None:
    with zipfile.ZipFile(path) as parts:
        for name in parts.namelist():
            assert b'TargetMode="External"' not in parts.read(name), name


# Sheets and pages


def test_sheets_stand_in_their_order(book: Workbook) -> None:
    without = ("Units", "Changes", "Spare seedlings", "Ways")
    there = [name for name, _, _ in SHEETS if name not in without]
    for_paper = [name for name in there if name in ON_PAPER]
    assert book.sheetnames == [*for_paper, *(name for name in there if name not in ON_PAPER)]
    assert book.sheetnames[0] == "Summary"


def test_contents_link_to_every_sheet_and_every_sheet_back(path: Path) -> None:
    book = openpyxl.load_workbook(path)
    linked = {
        cell.hyperlink.location for row in book["Contents"].iter_rows() for cell in row if cell.hyperlink
    }
    assert linked == {f"'{name}'!A1" for name in book.sheetnames}
    for sheet in book:
        back = [cell.hyperlink.location for row in sheet.iter_rows() for cell in row if cell.hyperlink]
        assert "'Contents'!A1" in back, sheet.title


def test_every_sheet_is_set_up_for_printing(path: Path) -> None:
    for sheet in openpyxl.load_workbook(path):
        assert sheet.print_area, sheet.title
        assert sheet.sheet_properties.pageSetUpPr.fitToPage, sheet.title
        assert sheet.page_setup.fitToWidth in (None, 1), sheet.title
        assert sheet.page_setup.paperSize == LETTER.number, sheet.title
        assert "&P" in sheet.oddFooter.right.text, sheet.title
        if sheet.auto_filter.ref:
            heading = int(re.search(r"\d+", sheet.auto_filter.ref).group())  # type: ignore[union-attr]
            assert sheet.freeze_panes == f"B{heading + 1}", sheet.title
            assert sheet.print_title_rows == f"${heading}:${heading}", sheet.title


def test_the_summary_prints_on_one_page(path: Path) -> None:
    setup = openpyxl.load_workbook(path)["Summary"].page_setup
    assert setup.fitToHeight in (None, 1)
    assert setup.orientation == "portrait"


def test_summary_widens_for_large_sums(tmp_path: Path) -> None:
    costs = report_plan().costs.assign(amount=report_plan().costs["amount"] * 1e9)
    traced = report_traced().assign(amount=report_traced()["amount"] * 1e9)
    write_report(
        tmp_path / "plan.xlsx", report_scenario(), replace(report_plan(), costs=costs), traced=traced
    )
    sheet = openpyxl.load_workbook(tmp_path / "plan.xlsx", data_only=True)["Summary"]
    row, _ = find(sheet, "Cost with penalties (USD)")
    assert len(f"{sheet.cell(row, 3).value:,.2f}") + 2 < sheet.column_dimensions["C"].width


def test_dates_are_dates_and_shown_as_iso_8601(book: Workbook) -> None:
    days = [
        cell
        for sheet in book
        for row in sheet.iter_rows()
        for cell in row
        if isinstance(cell.value, datetime)
    ]
    assert len(days) > 50
    assert {cell.number_format for cell in days} == {"yyyy-mm-dd"}


def test_columns_are_wide_enough_for_their_numbers(book: Workbook) -> None:
    for sheet in book:
        for row in sheet.iter_rows():
            for cell in row:
                if isinstance(cell.value, int | float) and cell.number_format != "General":
                    places = len(cell.number_format.split(".")[1]) if "." in cell.number_format else 0
                    width = sheet.column_dimensions[cell.column_letter].width
                    assert len(f"{cell.value:,.{min(places, 4)}f}") < width, (sheet.title, cell.coordinate)


def test_document_properties_name_no_person(book: Workbook) -> None:
    assert book.properties.title == f"Plan for {NURSERY}"
    assert book.properties.subject == NURSERY
    assert not book.properties.creator


def test_every_chart_has_its_text_in_words(path: Path) -> None:
    charts = 0
    with zipfile.ZipFile(path) as parts:
        for name in parts.namelist():
            if name.startswith("xl/drawings/drawing"):
                frames = re.findall(r"<xdr:cNvPr [^>]*>", parts.read(name).decode())
                charts += len(frames)
                for frame in frames:
                    described = re.search(r'descr="([^"]*)"', frame)
                    assert described is not None
                    assert "Numbers on the sheet" in described.group(1)
    assert charts == 4 + 8 + 2


def test_no_chart_is_empty(path: Path, book: Workbook) -> None:
    with zipfile.ZipFile(path) as parts:
        charts = [parts.read(name).decode() for name in parts.namelist() if "charts/chart" in name]
    for chart in charts:
        series = re.findall(r"<c:cat>.*?<c:f>(.*?)</c:f>.*?<c:val>.*?<c:f>(.*?)</c:f>", chart, re.S)
        shown: list[object] = []
        for names, values in series:
            (at, named), (there, of) = (html.unescape(text).rsplit("!", 1) for text in (names, values))
            cells = [cell.value for (cell,) in _column(book[there.strip("'")], of)]
            assert len(cells) == len(_column(book[at.strip("'")], named)), chart[:200]
            assert all(isinstance(cell, int | float) for cell in cells), values
            shown += cells
        assert any(shown)


def _column(sheet: Worksheet, span: str) -> tuple[tuple[Cell, ...], ...]:
    found = sheet[span.replace("$", "")]
    return found if isinstance(found, tuple) else ((found,),)


def test_charts_tell_columns_apart_by_pattern_and_lines_by_dash(path: Path) -> None:
    with zipfile.ZipFile(path) as parts:
        stacked = [
            text
            for text in (parts.read(name).decode() for name in parts.namelist() if "charts/chart" in name)
            if '<c:grouping val="stacked"/>' in text and "<c:lineChart>" in text
        ]
    assert stacked
    for text in stacked:
        bars, lines = text.split("<c:lineChart>")
        fills = re.findall(r"<c:ser>.*?</c:ser>", bars, re.S)
        patterns = [re.findall(r'prst="(\w+)"', fill) or ["plain"] for fill in fills]
        assert len({pattern[0] for pattern in patterns}) == len(fills)
        dashes = re.findall(r'<a:prstDash val="(\w+)"', lines)
        assert dashes == ["solid", "dash"]


def test_roles_have_their_hours_and_hands(book: Workbook) -> None:
    """Joiners take twice the time of cutters; grafters have half an hour a day."""
    rows = [row for row in table(book["Roles"], "Day") if row["Task"] == "graft"]
    hours = {(row["Day"], row["Role"]): row for row in rows}
    made = report_plan().hours
    worked = made.loc[made["task"].str.startswith("graft: "), "hours"].sum()
    assert sum(row["Worked (h)"] for row in rows) == pytest.approx(worked)
    for (day, role), row in hours.items():
        assert row["Hands for a whole shift"] == pytest.approx(row["Worked (h)"] / 0.5)
        if role == "cutter":
            assert hours[day, "=joiner"]["Worked (h)"] == pytest.approx(2 * row["Worked (h)"])


def test_roles_stand_in_the_place_of_their_task(book: Workbook) -> None:
    heads = next(row for row in book["Tasks"].iter_rows(values_only=True) if row[0] == "Crew")
    hours = [str(head) for head in heads if str(head).endswith("(h)")]
    assert hours[:2] == ["Sow (h)", "Tend (h)"]
    assert hours.index("Graft: cutter (h)") < hours.index("Pack (h)")


# Assumptions, checks, cautions


def test_assumptions_hold_every_input_but_the_orders(book: Workbook) -> None:
    rows = table(book["Assumptions"], "Table")
    held = {(row["Table"], row["Row"], row["Input"]): row for row in rows}
    assert held["crews", "Grafters", "overtime pay per hour"]["Value"] == 31.5
    assert held["crews", "Grafters", "overtime pay per hour"]["Unit"] == "USD/h"
    assert held["labour standards", "graft, all, all, cutter", "seconds"]["Value"] == 20
    assert held["labour standards", "tend, all, all", "seconds"]["Value"] == 5
    assert held["nursery", None, "working weekdays"]["Value"] == "Mon; Tue; Wed; Thu; Fri"
    assert (
        held["methods", "splice", "take"]["Remark"] == "take is above 0.7, the highest published (+a source)"
    )
    orders = [row for row in rows if row["Table"] == "orders"]
    assert [(row["Row"], row["Value"], row["Remark"]) for row in orders] == [("early", 60, "a small order")]


def test_assumptions_say_where_each_input_comes_from(tmp_path: Path) -> None:
    scenario = report_scenario()
    noted = replace(scenario.crews[0], note="the union's rates")
    write_report(tmp_path / "plan.xlsx", replace(scenario, crews=(noted, *scenario.crews[1:])), report_plan())
    rows = table(openpyxl.load_workbook(tmp_path / "plan.xlsx")["Assumptions"], "Table")
    assert "Remark" not in rows[0]
    crews = [row["Source"] for row in rows if row["Table"] == "crews"]
    first = [row["Source"] for row in rows if row["Row"] == noted.crew]
    assert first == ["the union's rates", *["as above"] * (len(first) - 1)]
    assert crews[len(first) : len(first) + 2] == ["no source given", "as above"]


def test_inputs_with_a_remark_come_first(book: Workbook) -> None:
    remarked = [row["Remark"] is not None for row in table(book["Assumptions"], "Table")]
    assert remarked == sorted(remarked, reverse=True)
    assert sum(remarked) == len(REMARKS)


def test_a_remark_on_the_name_of_a_row_is_not_lost(tmp_path: Path) -> None:
    remark = Remark("seed_lots", 2, "Red A", "lot", "Red A", "the lot is drawn on by nothing")
    write_report(tmp_path / "plan.xlsx", report_scenario(), report_plan(), remarks=[remark])
    rows = table(openpyxl.load_workbook(tmp_path / "plan.xlsx")["Assumptions"], "Table")
    found = [(row["Table"], row["Row"], row["Remark"]) for row in rows if row["Remark"] is not None]
    assert found == [("seed_lots", "row 2", "the lot is drawn on by nothing")]


def test_checks_show_result_and_run_facts(book: Workbook) -> None:
    rows = table(book["Checks"], "Check")
    assert [(row["Check"], row["Result"], row["Detail"]) for row in rows] == [
        (check.name, "passed", check.detail) for check in CHECKS
    ]
    facts = {row["What was run"]: row["Value"] for row in table(book["Checks"], "What was run")}
    assert facts["SHA-256 of the inputs"] == report_plan().facts.input_hash
    assert facts["Gap between the two"] == f"{report_plan().facts.gap:.4%}"


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("Sowing", "label"),
        ("Graft days", "Blades cut"),
        ("Graft days", "never mix lots at one bench"),
        ("Graft days", "stay above the soil"),
        ("Chamber", "licensed electrician"),
        ("Chamber", "Local codes decide"),
        ("Pay", "local adviser"),
        ("Deliveries", "Wet trays are heavy"),
        ("Healing and finishing", "Wet trays are heavy"),
        ("Work by day", "Wet trays are heavy"),
        ("Seed", "variety rights"),
        ("Labour", "Local law"),
        *(
            (name, "local codes and licensed practice come first")
            for name in ("Seed", "Sowing", "Graft days", "Chamber", "Labour", "Pay", "Deliveries")
        ),
    ],
)
def test_cautions_stand_where_the_work_is(book: Workbook, name: str, words: str) -> None:
    text = " ".join(str(row[0]) for row in book[name].iter_rows(max_col=1, values_only=True))
    assert words in text


# The summary page


def test_summary_holds_what_the_page_must(book: Workbook) -> None:
    text = "\n".join(str(cell) for row in book["Summary"].iter_rows(values_only=True) for cell in row)
    for title in (
        "Cost with penalties (USD)",
        "Cost of a plant by product",
        "Orders at risk: ",
        "What binds most, penalties counted",
    ):
        assert title in text, title


def test_cost_of_a_plant_by_product_is_its_traced_cost(book: Workbook) -> None:
    traced, orders = report_traced(), report_plan().orders
    for product, of in orders.groupby("product"):
        plants = of["own"].sum() + of["bought"].sum()
        paid = traced["order"].isin(of["order"]) & ~traced["line"].isin(["shortfall", "declined"])
        cost = traced[paid]["amount"].sum()
        row, _ = find(book["Summary"], product)
        assert book["Summary"].cell(row, 3).value == pytest.approx(cost / plants)
        shown = next(row for row in table(book["Products"], "Product") if row["Product"] == product)
        assert shown["Price from traced cost (USD a plant)"] == pytest.approx(cost / plants / (1 - MARGIN))

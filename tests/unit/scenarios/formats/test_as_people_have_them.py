"""Files as people have them: text files of several countries, of pandas, workbooks with a single table."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from model.scenario.entities import Scenario
from model.scenario.tables import BY_NAME
from scenarios.cells.faults import BadInput
from scenarios.cells.grid import TableSource
from scenarios.counts.log import read_log
from scenarios.files.read_scenario import Overrides, read_orders, read_scenario, read_with_remarks
from scenarios.formats.read_tables import read_table_file
from scenarios.rules.remarks import in_words
from tests.bad_input.small import Tables, grids, small, write_csvs, write_xlsx
from tests.locales import CODECS, LOCALES, Locale, ambiguous, write_as


def tables_of(locale: Locale) -> Tables:
    """The small scenario with a customer of the country, figures with decimals and thousands."""
    tables = small()
    tables["orders"][0] |= {"customer": locale.customer, "price": 1.25}
    return tables


def plain(tables: Tables, folder: Path) -> Scenario:
    return read_scenario(write_csvs(grids(tables), folder / "plain"))


def above(file: Path, line: str, codec: str) -> None:
    """Write a line above the heading, behind the mark of UTF-8 where there is one."""
    data = file.read_bytes()
    mark = b"\xef\xbb\xbf" if data.startswith(b"\xef\xbb\xbf") else b""
    file.write_bytes(mark + f"{line}\r\n".encode(codec) + data.removeprefix(mark))


def answered(folder: Path, locale: Locale, codec: str) -> list[tuple[str, str]]:
    """Answer every question of the reader by a line above the heading; table and column of each."""
    asked: list[tuple[str, str]] = []
    while True:
        try:
            read_scenario(folder)
        except BadInput as bad:
            for fault in bad.faults:
                answers = {f"dates={locale.order}", f"encoding={locale.code_page}"}
                (line,) = (answer for answer in answers if answer in fault.remedy)
                if (fault.table, line) not in asked:
                    above(folder / f"{fault.table}.csv", line, codec)
                asked += [(fault.table, fault.column), (fault.table, line)]
            continue
        return [(table, column) for table, column in asked if "=" not in column]


@pytest.mark.parametrize("form", ["code page", "UTF-8", "UTF-8 with its mark", "UTF-16 with tabs"])
@pytest.mark.parametrize("name", LOCALES)
def test_a_folder_of_each_country_is_read_or_asked_about(name: str, form: str, tmp_path: Path) -> None:
    locale = LOCALES[name]
    sheets = grids(tables_of(locale))
    codec = {"code page": CODECS[locale.code_page], "UTF-8": "utf-8"}.get(form, "utf-8-sig")
    asked = {(t, h) for t, rows in sheets.items() for n, h in enumerate(rows[0]) if ambiguous(rows, n)}
    slashed = "/" in locale.day(date(2027, 1, 2))
    if form == "UTF-16 with tabs":
        folder = write_as(locale, sheets, tmp_path / "own", "utf-16", "\t")
        if slashed:
            with pytest.raises(BadInput) as caught:
                read_scenario(folder)
            assert {(fault.table, fault.column) for fault in caught.value.faults} == asked
            return
    else:
        folder = write_as(locale, sheets, tmp_path / "own", codec)
        found = answered(folder, locale, codec.removesuffix("-sig"))
        assert {(table, column) for table, column in found if column} == (asked if slashed else set())
        assert {table for table, column in found if not column} <= {"orders"}
    scenario, remarks = read_with_remarks(folder)
    assert scenario == plain(tables_of(locale), tmp_path)
    told = " ".join(map(in_words, remarks))
    assert ("decimal commas" in told) is (locale.decimal == ",")
    assert f"days read as {locale.order}" in told
    assert ("cells separated by" in told) is (locale.separator != "," or "UTF-16" in form)


def frames(tables: Tables) -> dict[str, pd.DataFrame]:
    return {name: pd.DataFrame(rows) for name, rows in tables.items()}


PANDAS: dict[str, dict[str, Any]] = {
    "as it stands": {},
    "semicolons and commas": {"sep": ";", "decimal": ","},
    "UTF-16": {"sep": "\t", "encoding": "utf-16"},
    "quoted": {"quoting": 1},
    "other dates": {"date_format": "%d.%m.%Y"},
    "times at midnight": {"date_format": "%Y-%m-%d %H:%M:%S"},
    "years of two digits": {"date_format": "%d.%m.%y"},
}


@pytest.mark.parametrize("way", PANDAS)
def test_text_files_of_pandas(way: str, tmp_path: Path) -> None:
    tables = small()
    (tmp_path / "own").mkdir()
    for name, frame in frames(tables).items():
        days = [column for column in frame if frame[column].map(lambda cell: isinstance(cell, date)).any()]
        frame = frame.astype(dict.fromkeys(days, "datetime64[ns]")).convert_dtypes()
        frame.to_csv(tmp_path / "own" / f"{name}.csv", index=False, **PANDAS[way])
    assert read_scenario(tmp_path / "own") == plain(tables, tmp_path)


def test_a_workbook_of_pandas(tmp_path: Path) -> None:
    tables = small()
    with pd.ExcelWriter(tmp_path / "own.xlsx", engine="openpyxl") as book:
        for name, frame in frames(tables).items():
            frame.to_excel(book, sheet_name=name, index=False)
    assert read_scenario(tmp_path / "own.xlsx") == plain(tables, tmp_path)


def test_the_index_of_pandas_is_asked_about(tmp_path: Path) -> None:
    """Its column has no heading."""
    folder = write_csvs(grids(small()), tmp_path / "own")
    frames(small())["packs"].to_csv(folder / "packs.csv")
    with pytest.raises(BadInput) as caught:
        read_scenario(folder)
    (fault,) = caught.value.faults
    assert fault.wrong == "stands under no heading (column 1)"
    assert "one that begins with '#' is passed over" in fault.remedy


def test_a_table_of_a_folder_may_be_a_workbook(tmp_path: Path) -> None:
    sheets = grids(small())
    folder = write_csvs(sheets, tmp_path / "own")
    (folder / "orders.csv").unlink()
    write_xlsx({"Sheet1": sheets["orders"], "# sums": [["mine"]]}, folder / "orders.xlsx")
    (folder / "packs.csv").rename(folder / "packs.tsv")
    write_xlsx({"mine": [["of no table"]]}, folder / "mine.xlsx")
    assert read_scenario(folder) == plain(small(), tmp_path)
    write_xlsx({"Sheet1": sheets["orders"], "Sheet2": []}, folder / "orders.xlsx")
    with pytest.raises(BadInput) as caught:
        read_scenario(folder)
    (fault,) = caught.value.faults
    assert (fault.table, fault.wrong) == ("orders", "has 2 sheets")
    assert fault.remedy == "name the sheet with the rows 'orders'"


def test_numbers_and_days_stored_as_text_in_a_workbook(tmp_path: Path) -> None:
    tables = small()
    for row in tables["orders"]:
        row["due_day"] = f"{row['due_day']:%d.%m.%Y}"
        row["quantity"] = f"{row['quantity']:,}".replace(",", ".")
    tables["orders"][0]["quantity"] = "480"
    tables["orders"][0]["price"] = "1,25"
    expected = small()
    expected["orders"][0]["price"] = 1.25
    scenario, remarks = read_with_remarks(write_xlsx(grids(tables), tmp_path / "s.xlsx"))
    assert scenario == plain(expected, tmp_path)
    assert list(map(in_words, remarks)) == [
        "days read as day/month/year: orders (due_day)",
        "days stored as text: orders (due_day)",
        "numbers stored as text: orders (quantity, price)",
        "read with decimal commas: orders (price)",
    ]


def orders(folder: Path, *lines: str, heading: str = "order,customer,product,quantity,due_day") -> Path:
    """The small scenario, its orders written by hand."""
    write_csvs(grids(small()), folder)
    (folder / "orders.csv").write_text("\n".join([heading, *lines, ""]), encoding="utf-8")
    return folder


GOOD = ("O-1,Farm,Red on Stout,480,2027-04-30", "O-2,Farm,Red on Stout,520,2027-05-07")


def told(folder: Path) -> list[str]:
    scenario, remarks = read_with_remarks(folder)
    assert [order.quantity for order in scenario.orders] == [480, 520]
    return list(map(in_words, remarks))


def fault_of(folder: Path) -> str:
    with pytest.raises(BadInput) as caught:
        read_scenario(folder)
    assert len(caught.value.faults) == 1, caught.value.faults
    return str(caught.value.faults[0])


def test_columns_of_the_owners_own_are_passed_over_and_told(tmp_path: Path) -> None:
    lines = [f"{line},red,7" for line in GOOD]
    folder = orders(tmp_path, *lines, heading="Order,Customer,product,quantity,Due day,colour,# mine")
    assert told(folder) == ["orders, column colour: is no column of this table: passed over"]
    folder = orders(tmp_path, *lines, heading="order,customer,product,quantity,due_day,colour,lorry")
    assert told(folder) == ["orders, column colour, lorry: are no columns: passed over"]


def test_a_heading_that_may_be_a_misspelt_column_is_asked_about(tmp_path: Path) -> None:
    lines = [f"{line},7" for line in GOOD]
    heading = "order,customer,product,quantity,due_day,pryce"
    remedy = "did you mean 'price'? Else write '#' before it, and it is passed over"
    assert (
        fault_of(orders(tmp_path, *lines, heading=heading))
        == f"orders, row 1, pryce: 'pryce' is not a column; {remedy}"
    )
    heading = "order,customer,product,quantity,due_day,# pryce"
    assert told(orders(tmp_path, *lines, heading=heading)) == []


def test_a_sheet_or_file_of_the_owners_own_is_passed_over_and_told(tmp_path: Path) -> None:
    (orders(tmp_path, *GOOD) / "wishes.csv").write_text("wish\nrain\n")
    assert told(tmp_path) == ["CSV file wishes: is no table: passed over"]
    sheets = grids(small()) | {"wishes": [["rain"]], "Notes": [["sun"]]}
    _, remarks = read_with_remarks(write_xlsx(sheets, tmp_path / "s.xlsx"))
    assert list(map(in_words, remarks)) == ["sheet wishes, Notes: are no tables: passed over"]


def test_files_without_a_table_are_a_fault_and_no_error_of_the_program(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    (tmp_path / "folder" / "wishes.csv").write_text("wish\nrain\n")
    for path in (tmp_path / "folder", write_xlsx({"wishes": [["rain"]]}, tmp_path / "s.xlsx")):
        assert "holds no table; name its sheets, or the files of a folder, nursery" in fault_of(path)


def test_a_total_below_the_table_is_passed_over_and_told(tmp_path: Path) -> None:
    for row in ("Total,,,1000,", ",,Summe:,1000,", ",,,,\nGrand total,,,1000.00,"):
        (line,) = told(orders(tmp_path, *GOOD, row))
        assert line.endswith(": is a total (quantity 1,000, the sum of the rows above): passed over")


@pytest.mark.parametrize(
    "rows, wrong",
    [
        ((*GOOD, "Total,,,999,"), "looks like a total, but quantity 999 is not the sum above, 1,000"),
        ((*GOOD, "Total,,,,"), "looks like a total, and not like a row of the table"),
        ((GOOD[0], "Subtotal,,,480,", GOOD[1]), "looks like a total, and not like a row of the table"),
        ((*GOOD, "O-3,,,,"), "stands alone in its row: a remark, or a row not filled in"),
        ((*GOOD, "", "O-3,,,,"), "stands alone in its row: a remark, or a row not filled in"),
        ((*GOOD, "All prices without tax,,,,"), "stands alone in its row: a remark, or a row not filled in"),
    ],
)
def test_what_may_be_a_total_or_a_remark_is_told_as_such(
    rows: tuple[str, ...], wrong: str, tmp_path: Path
) -> None:
    told_ = fault_of(orders(tmp_path, *rows))
    assert wrong in told_
    assert "take it away, or write '#' before its first text" in told_
    ready = [f"#{row}" if "2027" not in row and row else row for row in rows]
    assert len(told(orders(tmp_path, *ready))) == 1


@pytest.mark.parametrize(
    "row", ["All prices without tax,,,,", "All prices without tax", ",,,,By telephone on Monday"]
)
def test_a_remark_below_a_gap_is_passed_over_and_told(row: str, tmp_path: Path) -> None:
    (line,) = told(orders(tmp_path, *GOOD, "", row))
    assert line.startswith("orders, row 5 ")
    assert line.endswith(": stands alone under the table: passed over as a remark")


def test_a_row_that_lacks_one_cell_is_a_row(tmp_path: Path) -> None:
    assert "quantity: is blank" in fault_of(orders(tmp_path, *GOOD, "O-3,Farm,Red on Stout,,2027-05-07"))


def test_an_order_may_be_named_after_the_mark_of_remarks(tmp_path: Path) -> None:
    assert told(orders(tmp_path, GOOD[0], GOOD[1].replace("O-2", "#1042"))) == []


@pytest.mark.parametrize(
    "name, meant",
    [("Gourd", "Melon on Gourd"), ("stout  green", "Green on Stout"), ("Red", None), ("on", None)],
)
def test_a_name_that_fits_one_product_in_part_is_offered(
    name: str, meant: str | None, tmp_path: Path
) -> None:
    told_ = fault_of(orders(tmp_path, GOOD[0].replace("Red on Stout", name)))
    assert "is not in table products" in told_
    assert (f"did you mean '{meant}'?" in told_) if meant else ("add it there" in told_)


def test_what_stands_above_the_heading(tmp_path: Path) -> None:
    head = 'sep=;\n"dates=month/day/year";;;;\ndecimal=comma'
    heading = f"{head}\norder;customer;product;quantity;due_day;price"
    lines = ("O-1;Farm;Red on Stout;480;04/05/2027;1.234", "O-2;Farm;Red on Stout;520;05/04/2027;1.000,5")
    scenario, remarks = read_with_remarks(orders(tmp_path, *lines, heading=heading))
    assert [order.due_day for order in scenario.orders] == [date(2027, 4, 5), date(2027, 5, 4)]
    assert [order.price for order in scenario.orders] == [1234, 1000.5]
    assert [in_words(remark) for remark in remarks] == [
        "cells separated by semicolons: orders",
        "days read as month/day/year: orders (due_day)",
        "read with thousands separators: orders (price)",
        "read with decimal commas: orders (price)",
    ]
    bad = orders(tmp_path, lines[0].replace("480", "many"), heading=heading)
    assert "row 5, quantity: 'many'" in fault_of(bad)


SINGLE: dict[str, tuple[list[list[Any]], str]] = {
    "counts": (
        [
            ["day", "counted", "lot", "tried", "succeeded"],
            [date(2027, 1, 15), "germination", "Red 26A", 1500, 1200],
        ],
        "days read as day/month/year",
    ),
    "progress": (
        [["day", "what", "number", "lot", "format"], [date(2027, 3, 2), "sown", 3, "Stout 26A", "72"]],
        "days read as day/month/year",
    ),
    "orders": (
        [
            ["order", "customer", "product", "quantity", "due_day", "price"],
            ["new", "Gärtnerei Müller", "Red on Stout", 480, date(2027, 4, 30), 1.25],
        ],
        "read as windows-1252 text, as in 'Gärtnerei'",
    ),
}
"""Files with a single table that commands take, and a remark on each as it is written in Germany."""


def single(kind: str, path: Path, folder: Path) -> tuple[Any, list[str]]:
    """What a command reads from the file beside the scenario in a folder, and the remarks."""
    if kind == "progress":
        scenario, remarks = read_with_remarks(folder, Overrides(progress=path))
        return scenario.progress, list(map(in_words, remarks))
    scenario = read_scenario(folder)
    if kind == "counts":
        counts, remarks = read_log(path, scenario)
        return counts, list(map(in_words, remarks))
    source = TableSource()
    read_table_file(BY_NAME["orders"], path, source)
    return read_orders(source, scenario), list(map(in_words, source.told()))


@pytest.mark.parametrize("kind", SINGLE)
def test_single_tables_are_read_like_those_of_a_scenario(kind: str, tmp_path: Path) -> None:
    """Text as it is written in Germany and a workbook give what a plain text file gives."""
    rows, remark = SINGLE[kind]
    folder = write_csvs(grids(small()), tmp_path / "s")
    germany = LOCALES["Germany"]
    write_csvs({"plain": rows}, tmp_path)
    write_as(germany, {"german": rows}, tmp_path, "cp1252")
    write_xlsx({"Sheet1": rows}, tmp_path / "book.xlsx")
    names = ("plain.csv", "german.csv", "book.xlsx")
    found = {name: single(kind, tmp_path / name, folder) for name in names}
    assert found["german.csv"][0] == found["book.xlsx"][0] == found["plain.csv"][0]
    assert len(found["plain.csv"][0]) >= 1
    assert found["plain.csv"][1] == found["book.xlsx"][1] == []
    assert any(remark in line for line in found["german.csv"][1])

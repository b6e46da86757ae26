"""The scenario workbook for people: with an explaining sheet, notes, pick lists and number formats."""

from __future__ import annotations

import re
from enum import Enum
from math import ceil
from typing import Any

from openpyxl import Workbook
from openpyxl.cell.cell import Cell
from openpyxl.comments import Comment
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.header_footer import HeaderFooterItem, _HeaderFooterPart
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from model.scenario.tables import BY_NAME, TABLES, Column, Table, Type
from reports.book.paper import A4, paper_of
from scenarios.cells.draft import text_of
from scenarios.cells.parse import wanted

GUIDE = "# how to fill in"
"""Name of the explaining sheet; the reader skips sheets whose names start with '#'."""

SPARE_ROWS = 1000
"""Rows below the last one that have pick lists and number formats."""

PAGE_WIDTH = 190
"""Characters that fit across one printed page at a readable size."""

FORMATS = dict.fromkeys(Type, "@") | {
    Type.DATE: "yyyy-mm-dd",
    Type.WHOLE: "#,##0",
    Type.NUMBER: "#,##0.00####",
    Type.SHARE: "0.0 %",
}

LOOKS_ESCAPED = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")
"""The start of a text that a spreadsheet would take for an escaped character; it must be escaped itself."""

BOLD = Font("Calibri", 11, bold=True)
ITALIC = Font("Calibri", 11, italic=True)
SHADE = PatternFill("solid", start_color="E7E6E6")
RULE = Border(bottom=Side("thin"))
WRAP = Alignment(wrap_text=True, vertical="top")

HOW_TO = (
    "Each sheet is one table of the scenario; each row below the heading is one entry.",
    "Rest the pointer on a heading to read what belongs in its column.",
    "Columns with a bold heading must be filled. Columns with a heading in italics may be left blank; the "
    "note on the heading says what a blank means.",
    "The unit of a column stands in brackets after its name. Write numbers only, without units.",
    "Money is in the currency named on the sheet nursery.",
    "Shares lie between 0 % and 100 %. Type 85% or 0.85.",
    "Dates are spreadsheet dates. An age is a number of days from sowing.",
    "Separate several names in one cell by ';', as in Mon;Tue;Wed.",
    "Write a name the same way everywhere. Columns that name something on another sheet offer a list to "
    "pick from.",
    "Do not rename sheets or columns, do not merge cells, and leave the heading in row 1. Blank rows do no "
    "harm. You may delete a sheet that may be missing.",
    "Sheets whose names start with # are for people; Graftwright does not read them.",
    "When done, save the file and let 'graftwright check FILE.xlsx' look for faults.",
)


def dressed_workbook(rows: dict[str, tuple[Any, ...]]) -> Workbook:
    """A workbook with a first sheet that explains, and a sheet for each table with its records."""
    book = Workbook()
    guide = book.active
    assert isinstance(guide, Worksheet)
    guide.title = GUIDE
    _write_guide(guide)
    last_rows = {table.name: len(rows[table.name]) + 1 + SPARE_ROWS for table in TABLES}
    for table in TABLES:
        sheet = book.create_sheet(table.name)
        _write_heading(sheet, table)
        for number, record in enumerate(rows[table.name], 2):
            for position, column in enumerate(table.columns, 1):
                _write_value(sheet.cell(number, position), column, getattr(record, column.name))
        _format_columns(sheet, table)
        _add_pick_lists(sheet, table, last_rows)
        _set_up(sheet, f"{table.name}: {table.help.partition('. ')[0]}")  # Excel takes 255 characters
        sheet.freeze_panes = "A2"
        sheet.row_dimensions[1].height = 30
        sheet.print_title_rows, sheet.print_title_cols = "1:1", "A:A"
    paper = paper_of(rows["nursery"][0].currency) if rows["nursery"] else A4
    for sheet in book.worksheets:
        sheet.page_setup.paperSize = paper.number
    return book


def _write_guide(sheet: Worksheet) -> None:
    lines = [("How to fill in this workbook", BOLD), *((line, None) for line in HOW_TO), ("", None)]
    for number, (line, font) in enumerate(lines, 1):
        cell = sheet.cell(number, 1, line)
        cell.alignment = WRAP
        if font is not None:
            cell.font = font
        sheet.merge_cells(start_row=number, end_row=number, start_column=1, end_column=3)
        sheet.row_dimensions[number].height = 15 * (1 + len(line) // 110)
    head = len(lines) + 1
    for position, title in enumerate(("sheet", "what it holds", "needed"), 1):
        cell = sheet.cell(head, position, title)
        cell.font, cell.fill, cell.border = BOLD, SHADE, RULE
    for number, table in enumerate(TABLES, head + 1):
        needed = "must have rows" if table.required else "may be empty or missing"
        for position, text in enumerate((table.name, table.help, needed), 1):
            sheet.cell(number, position, text).alignment = WRAP
        sheet.row_dimensions[number].height = 15 * (1 + len(table.help) // 75)
        sheet.cell(number, 1).hyperlink = f"#'{table.name}'!A1"
    for letter, width in (("A", 20), ("B", 70), ("C", 24)):
        sheet.column_dimensions[letter].width = width
    _set_up(sheet, "How to fill in")


def _write_heading(sheet: Worksheet, table: Table) -> None:
    for position, column in enumerate(table.columns, 1):
        cell = sheet.cell(1, position, column.heading)
        cell.font = BOLD if column.required else ITALIC
        cell.fill, cell.border, cell.alignment = SHADE, RULE, WRAP
        note = Comment(_note(table, column), "Graftwright", width=320, height=180)
        cell.comment = note
        width = max(18 if FORMATS[column.type] == "@" else 12, min(len(column.heading) + 2, 26))
        sheet.column_dimensions[get_column_letter(position)].width = 40 if column.name == "note" else width


def _note(table: Table, column: Column) -> str:
    """The note on a column's heading: meaning, type, unit, range and default."""
    lines = [column.help, f"Type: {column.type.value}" + (f", in {column.unit}" if column.unit else "")]
    instruction = wanted(column)
    lines.append(f"{instruction[0].upper()}{instruction[1:]}.")
    if column.required:
        lines.append("Must be filled.")
    elif column.default in (None, ()):
        lines.append("May be left blank.")
    else:
        lines.append(f"Blank means {_default(column.default)}.")
    if column.name in table.key:
        lines.append("No two rows alike" + (f" in {', '.join(table.key)}." if len(table.key) > 1 else "."))
    return "\n".join(lines)


def _default(value: Any) -> str:
    return f"{value:g}" if isinstance(value, float) and not isinstance(value, Enum) else text_of(value)


def _write_value(cell: Cell, column: Column, value: Any) -> None:
    """Write a value so that it reads back unchanged; no text becomes a formula or an error."""
    cell.number_format = FORMATS[column.type]
    if value in (None, ()):
        return
    if column.type in (Type.WHOLE, Type.DATE):
        cell.value = value
    elif column.type in (Type.NUMBER, Type.SHARE):
        # openpyxl would write 16 digits, too few for some numbers; a text marked as a number keeps all.
        cell.value = repr(float(value)) if not float(value).is_integer() else int(value)
        cell.data_type = "n"
    else:
        text = text_of(value)
        cell.value = LOOKS_ESCAPED.sub("_x005F_", text)
        cell.data_type = "s"
        cell.quotePrefix = text.startswith(("=", "+", "-", "@", "'"))
    cell.number_format = FORMATS[column.type]
    if column.name == "note":
        cell.alignment = WRAP


def _format_columns(sheet: Worksheet, table: Table) -> None:
    """Format whole columns, so that the spreadsheet reads later entries as the column's type."""
    for position, column in enumerate(table.columns, 1):
        sheet.column_dimensions[get_column_letter(position)].number_format = FORMATS[column.type]


def _add_pick_lists(sheet: Worksheet, table: Table, last_rows: dict[str, int]) -> None:
    for position, column in enumerate(table.columns, 1):
        source = _pick_list(column, last_rows)
        if source is None:
            continue
        listed = DataValidation(type="list", formula1=source, allow_blank=True, showErrorMessage=True)
        listed.errorTitle, listed.error = column.name, f"Please {wanted(column)}."[:250]
        letter = get_column_letter(position)
        listed.add(f"{letter}2:{letter}{last_rows[table.name]}")
        sheet.add_data_validation(listed)


def _pick_list(column: Column, last_rows: dict[str, int]) -> str | None:
    """The source of a column's pick list; None where there is none, such as for several names in a cell."""
    if column.type is Type.YES_NO:
        return '"yes,no"'
    if column.type is Type.CHOICE:
        return f'"{",".join(column.choices)}"'
    if column.type is Type.REFERENCE and len(column.references) == 1:
        table, name = column.references[0]
        letter = get_column_letter(list(BY_NAME[table].by_name).index(name) + 1)
        return f"'{table}'!${letter}$2:${letter}${last_rows[table]}"
    return None


def _set_up(sheet: Worksheet, footer: str) -> None:
    """Set up the page: landscape, as few pages wide as can be read, with a footer and page numbers."""
    sheet.page_setup.orientation = "landscape"
    width = sum(column.width for column in sheet.column_dimensions.values())
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = ceil(width / PAGE_WIDTH), 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.HeaderFooter.oddFooter = HeaderFooterItem(
        left=_HeaderFooterPart(text=footer.replace("&", "&&")), right=_HeaderFooterPart(text="&P / &N")
    )

"""Helpers to read written pages, by a parser of the HTML standard that refuses faulty pages."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree as ET

import html5lib

from model.scenario.entities import Scenario
from reports.book.parts import Formula, SheetColumn
from reports.book.style import CellKind
from reports.sheets.plan_page import plan_study
from reports.sheets.workbook import write_plan_workbook
from reports.study.study import Chart, Figure, Input, Section, Study
from tests.report_scenario import CHECKS, REMARKS, report_plan, report_scenario
from tests.scenario_parts import day
from tests.strategies import base_scenario, with_nursery
from tests.workbooks import MARGIN, report_traced

SVG = "{http://www.w3.org/2000/svg}"

HOSTILE = """</td><script>alert(1)</script><img src=x onerror="alert('1')">&amp; 'single' "double" =1+1"""
"""A user's text that would be markup, an attribute's end or a formula if it were not text."""


def page_of(path: Path) -> ET.Element:
    """The page's tree; raises where it breaks a rule of the standard."""
    parser = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False)
    return parser.parse(path.read_text(encoding="utf-8"))


def words(element: ET.Element) -> str:
    """All text within."""
    return "".join(element.itertext())


def tables(page: ET.Element) -> dict[str, list[list[str]]]:
    """Rows of each table in words, heading and total included, by caption."""
    return {
        words(table.find("caption")): [[words(cell) for cell in row] for row in table.iter("tr")]
        for table in page.iter("table")
    }


def section(*charts: Chart, name: str = "Weeks", rows: int = 4) -> Section:
    """A section of weeks with two series, a limit and a name; the second series has a gap."""
    return Section(
        name,
        "Plants by week.",
        ["A note.", "Caution: blades cut."],
        [
            SheetColumn("week", "Week from", CellKind.DAY),
            SheetColumn("red", "Red (plants)", CellKind.COUNT, total=True),
            SheetColumn("blue", "Blue (plants)", CellKind.COUNT, total=True),
            SheetColumn("most", "Most", CellKind.DECIMAL),
            SheetColumn("who", "Who"),
        ],
        [
            [day(7 * n), Formula("={blue}", 1000.0 + n), None if n == 1 else 10.0 * n, 1500.5, f"hand {n}"]
            for n in range(rows)
        ],
        charts,
    )


def chart(kind: str = "stacked", **more: object) -> Chart:
    """A chart of that section."""
    given = {"title": "Plants", "shows": "Columns: plants.", "x": "week", "y": ("red", "blue")} | more
    return Chart(kind, y_title="plants", **given)  # type: ignore[arg-type]


def study(*sections: Section, scenario: Scenario | None = None, **more: object) -> Study:
    """A study of these sections."""
    given = {
        "answer": ["Yes.", "It pays."],
        "figures": [Figure("Cost", 1234.5, CellKind.MONEY), Figure("Chance", 0.25, CellKind.SHARE)],
        "facts": [("Seconds", 1.5), ("Hash", "abc")],
        "inputs": [Input("Pay an hour", 17.5, CellKind.PRICE, "Wage")],
    } | more
    return Study("Test", scenario or base_scenario(), sections=sections, **given)  # type: ignore[arg-type]


def hostile_study() -> Study:
    """A study in which every text of a user is ``HOSTILE``, and one holds what no page can."""
    columns = [SheetColumn("name", HOSTILE), SheetColumn("value", f"{HOSTILE} value", CellKind.COUNT)]
    drawn = Chart("columns", HOSTILE, HOSTILE, "name", ("value",), HOSTILE)
    rows = [[HOSTILE, 1.0], ["bell \x07 null \x00 half \ud800 end", 2.0]]
    return study(
        Section(HOSTILE, HOSTILE, [HOSTILE], columns, rows, [drawn]),
        scenario=with_nursery(base_scenario(), name=HOSTILE),
        answer=[HOSTILE],
        figures=[Figure(HOSTILE, HOSTILE, CellKind.TEXT)],
        facts=[(HOSTILE, HOSTILE)],
    )


def planned_study(workbook: Path) -> Study:
    """The plan of ``report_scenario`` as a study; its workbook is written as well."""
    return plan_study(
        write_plan_workbook(
            report_scenario(),
            report_plan(),
            report_traced(),
            CHECKS,
            REMARKS,
            workbook,
            profit_margin=MARGIN,
        )
    )

"""Pages: what a study holds is on its page, a user's text is text, and nothing comes from elsewhere."""

from __future__ import annotations

import re
from base64 import b64encode
from hashlib import sha256
from pathlib import Path
from xml.etree import ElementTree as ET

import openpyxl
import pytest

from model.currencies import decimals
from reports.book.parts import Formula, kind_of, value_of
from reports.book.style import CellKind, printed
from reports.sheets.plan_page import WORKBOOK_ONLY
from reports.study.page import write_page
from reports.study.study import Study
from tests.pages import (
    HOSTILE,
    SVG,
    chart,
    hostile_study,
    page_of,
    planned_study,
    section,
    study,
    tables,
    words,
)
from tests.scenario_parts import day


def written(given: Study, path: Path) -> ET.Element:
    write_page(given, path)
    return page_of(path)


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> tuple[Study, ET.Element, Path]:
    """The plan of a scenario with hostile names, as a study, its page and its workbook."""
    folder = tmp_path_factory.mktemp("plan")
    made = planned_study(folder / "plan.xlsx")
    return made, written(made, folder / "plan.html"), folder / "plan.xlsx"


@pytest.mark.parametrize(
    "value, kind, shown",
    [
        (1234.5, CellKind.MONEY, "1,234.50"),
        (-0.001, CellKind.MONEY, "0.00"),
        (-3.0, CellKind.MONEY, "-3.00"),
        (0.125, CellKind.SHARE, "12.5%"),
        (1.25, CellKind.PRICE, "1.25"),
        (1.2345, CellKind.PRICE, "1.2345"),
        (1.2, CellKind.EACH, "1.2000"),
        (1234567.0, CellKind.FIGURE, "1234567"),
        (1234567.0, CellKind.COUNT, "1,234,567"),
        (2.26, CellKind.DECIMAL, "2.3"),
        (3, CellKind.TEXT, "3"),
        ("=1+1", CellKind.COUNT, "=1+1"),
        (day(0), CellKind.DAY, day(0).isoformat()),
        (None, CellKind.MONEY, ""),
    ],
)
def test_values_are_printed_as_the_workbook_shows_them(value: object, kind: CellKind, shown: str) -> None:
    assert printed(value, kind, 2) == shown


@pytest.mark.parametrize(
    "currency, money, price, even_price, each",
    [
        ("EUR", "1,234.57", "1,234.5678", "1,234.50", "1,234.5678"),
        ("JPY", "1,235", "1,234.57", "1,234.50", "1,234.57"),
        ("KWD", "1,234.568", "1,234.56784", "1,234.500", "1,234.56784"),
    ],
)
def test_money_is_printed_with_the_decimals_of_its_currency(
    currency: str, money: str, price: str, even_price: str, each: str
) -> None:
    places, value = decimals(currency), 1234.56784
    kinds = (CellKind.MONEY, CellKind.PRICE, CellKind.EACH)
    assert [printed(value, kind, places) for kind in kinds] == [money, price, each]
    assert printed(1234.5, CellKind.PRICE, places) == even_price
    assert printed(value, CellKind.FACTOR, places) == "1,234.5678"


def test_a_page_shows_a_study_whole(tmp_path: Path) -> None:
    page = written(study(section(chart())), tmp_path / "page.html")
    shown = tables(page)
    assert shown["Plants by week."] == [
        ["Week from", "Red (plants)", "Blue (plants)", "Most", "Who"],
        *(
            [day(7 * n).isoformat(), f"{1000 + n:,}", "" if n == 1 else str(10 * n), "1,500.5", f"hand {n}"]
            for n in range(4)
        ),
        ["Total", "4,006", "50", "", ""],
    ]
    assert shown["The answer in figures"][1:] == [["Cost", "1,234.50"], ["Chance", "25.0%"]]
    assert shown["Numbers that you may change in the workbook"][1:] == [["Pay an hour", "17.50"]]
    assert shown["What was run"][1:] == [["Seconds", "1.5"], ["Hash", "abc"]]
    paragraphs = [words(p) for p in page.iter("p")]
    for text in ("Yes.", "It pays.", "A note.", "Caution: blades cut."):
        assert text in paragraphs
    assert [words(p) for p in page.iter("p") if p.get("class") == "caution"] == ["Caution: blades cut."]


def test_a_study_without_rows_figures_and_charts_is_a_page_too(tmp_path: Path) -> None:
    page = written(study(section(chart(), rows=0), figures=[], inputs=[]), tmp_path / "page.html")
    assert tables(page)["Plants by week."][1:] == [["none"]]
    assert not list(page.iter("figure"))
    assert "The answer in figures" not in tables(page)


def test_a_users_text_is_text(tmp_path: Path) -> None:
    page = written(hostile_study(), tmp_path / "page.html")
    assert len(list(page.iter("script"))) == 1
    assert not list(page.iter("img"))
    cells = [cell for rows in tables(page).values() for row in rows for cell in row]
    assert cells.count(HOSTILE) == 6
    assert "bell   null   half   end" in cells
    assert HOSTILE in words(page.find("head/title"))
    svg = next(page.iter(f"{SVG}svg"))
    assert words(svg.find(f"{SVG}title")) == HOSTILE
    assert words(svg.find(f"{SVG}desc")) == f"{HOSTILE} Numbers in the table above."
    told = [mark.get("aria-label") for mark in svg.iter() if mark.get("role") == "graphics-symbol"]
    assert told[0] == f"{HOSTILE}, {HOSTILE} value: 1"
    handlers = [name for element in page.iter() for name in element.attrib if name.startswith("on")]
    assert handlers == []


def test_nothing_comes_from_elsewhere(plan: tuple[Study, ET.Element, Path], tmp_path: Path) -> None:
    write_page(plan[0], tmp_path / "page.html")
    text = (tmp_path / "page.html").read_text(encoding="utf-8")
    own = text.replace('xmlns="http://www.w3.org/2000/svg"', "").replace("http://example.invalid", "")
    assert not re.search(r"https?:|//[a-z]|@import|url\((?!#)", own)
    for element in plan[1].iter():
        assert not {"src", "action", "data", "style"} & set(element.attrib), element.tag
        assert element.get("href", "#").startswith("#")
    targets = {element.get("id") for element in plan[1].iter()}
    assert {link.get("href", "")[1:] for link in plan[1].iter("a")} <= targets


def test_the_policy_allows_the_pages_own_style_and_script_alone(tmp_path: Path) -> None:
    page = written(study(section(chart())), tmp_path / "page.html")
    policy = next(m.get("content") for m in page.iter("meta") if m.get("http-equiv"))
    rules = dict(rule.split(" ", 1) for rule in policy.split("; "))
    assert rules.pop("default-src") == rules.pop("base-uri") == rules.pop("form-action") == "'none'"
    for rule, tag in (("style-src", "style"), ("script-src", "script")):
        (held,) = page.iter(tag)
        digest = b64encode(sha256(words(held).encode()).digest()).decode()
        assert rules.pop(rule) == f"'sha256-{digest}'"
    assert rules == {}


def test_ids_are_unique_and_labels_refer_to_them(plan: tuple[Study, ET.Element, Path]) -> None:
    page = plan[1]
    ids = [element.get("id") for element in page.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    for element in page.iter():
        for name in ("aria-labelledby", "aria-describedby"):
            if element.get(name):
                assert element.get(name) in ids


def test_tables_and_headings_are_marked_up(plan: tuple[Study, ET.Element, Path]) -> None:
    page = plan[1]
    assert page.get("lang") == "en"
    assert [words(h)[:5] for h in page.iter("h1")] == ["Plan:"]
    assert not [element.tag for element in page.iter() if re.fullmatch(r"h[3-6]", str(element.tag))]
    assert len(list(page.iter("main"))) == len(list(page.iter("nav"))) == 1
    for table in page.iter("table"):
        assert words(table.find("caption"))
        assert all(head.get("scope") == "col" for head in table.find("thead").iter("th"))
        for body in table.findall("tbody"):
            assert all(head.get("scope") == "row" for head in body.iter("th"))


def test_every_chart_has_its_text_and_its_table(plan: tuple[Study, ET.Element, Path]) -> None:
    made, page, _ = plan
    charts = [chart for section in made.sections if section.rows for chart in section.charts]
    assert len(charts) > 7
    figures = list(page.iter("figure"))
    assert [words(f.find("figcaption")) for f in figures] == [c.alt for c in charts]
    for figure, given in zip(figures, charts, strict=True):
        assert len(given.alt) > 25
        svg = figure.find(f"{SVG}svg")
        assert words(svg.find(f"{SVG}desc")) == given.alt
        assert words(svg.find(f"{SVG}title")) == given.title


def test_the_plans_page_holds_what_its_workbook_holds(plan: tuple[Study, ET.Element, Path]) -> None:
    made, page, workbook = plan
    book = openpyxl.load_workbook(workbook, data_only=True)
    names = [section.name for section in made.sections]
    assert names[2:] == [
        n for n in book.sheetnames if n not in ("Summary", "Contents", "Charts", *WORKBOOK_ONLY)
    ]
    shown = tables(page)
    for part in made.sections[2:]:
        sheet = book[part.name]
        held = {str(c.value) for row in sheet.iter_rows() for c in row if isinstance(c.value, str)}
        assert [cell for row in shown[part.about][1:2] for cell in row] == [
            printed(value_of(cell), kind_of(cell, column.kind), made.decimals)
            for cell, column in zip(part.rows[0], part.columns, strict=True)
        ]
        assert {text for row in part.rows for text in row if isinstance(text, str)} <= held
        numbers = {round(float(c.value), 6) for row in sheet.iter_rows() for c in row if _is_number(c.value)}
        kept = {round(float(value_of(v)), 6) for row in part.rows for v in row if _is_number(value_of(v))}
        assert kept <= numbers
    summary = [row for row in book["Summary"].iter_rows(values_only=True) if row[0] == "Plants ordered"]
    assert f"{summary[0][2]:,.0f}" in [row[1] for row in shown["The answer in figures"]]


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def test_the_plans_answer_says_result_cost_plants_and_checks(plan: tuple[Study, ET.Element, Path]) -> None:
    made, page, _ = plan
    answer = [words(p) for p in page.find(".//section").iter("p")]
    for n, label in enumerate(("Result (USD)", "Cost with penalties (USD)")):
        figure = next(figure for figure in made.figures if figure.label == label)
        assert isinstance(figure.value, Formula)
        assert f"{figure.value.value:,.2f}" in answer[n]
    assert "2 of 2 checks of the audit passed." in answer
    assert "What one more saves counts the penalties for plants short." in answer


def test_the_first_week_is_told_day_by_day(plan: tuple[Study, ET.Element, Path]) -> None:
    made, _, _ = plan
    first = next(section for section in made.sections if section.name == "To do first")
    days = [row[0] for row in first.rows]
    assert days == sorted(days)
    assert {row[1] for row in first.rows} <= {"order by", "sow", "graft", "move on", "pack"}
    assert (days[-1] - days[0]).days < 7


def test_two_writings_are_alike(tmp_path: Path) -> None:
    write_page(study(section(chart())), tmp_path / "a.html")
    write_page(study(section(chart())), tmp_path / "b.html")
    assert (tmp_path / "a.html").read_bytes() == (tmp_path / "b.html").read_bytes()


def test_a_failure_leaves_the_old_page_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "page.html"
    path.write_text("old", encoding="utf-8")

    def fail(*_: object) -> None:
        raise OSError("disk full")

    monkeypatch.setattr("os.replace", fail)
    with pytest.raises(OSError, match="disk full"):
        write_page(study(section(chart())), path)
    assert path.read_text(encoding="utf-8") == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["page.html"]

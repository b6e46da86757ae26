"""Pages in a browser: offline, by keyboard, without script, narrow, on paper, and judged by axe-core."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from reports.study.page import write_page
from scenarios.commands.command_line import DONE, main
from tests.documents.browser import faults, opened
from tests.documents.office import pages
from tests.pages import chart, hostile_study, planned_study, section, study


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of the demo's plan."""
    folder = tmp_path_factory.mktemp("demo")
    assert main(["plan", "hollow_ash", "-o", str(folder)]) == DONE
    return folder / "plan.html"


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A page with one table and two charts."""
    path = tmp_path_factory.mktemp("small") / "small.html"
    write_page(study(section(chart("columns"), chart("line", title="Lines"))), path)
    return path


def table(page: Page, name: str) -> list[list[str]]:
    """Cells of a table's rows as they stand on the page, blanks left out."""
    rows = page.get_by_role("table", name=name).locator("tbody tr").all()
    return [row.locator("th, td").all_text_contents() for row in rows]


def focused(page: Page, attribute: str) -> str:
    """An attribute of the element that holds the focus."""
    return str(page.evaluate("name => document.activeElement.getAttribute(name)", attribute))


def test_a_plan_has_no_serious_fault(chromium: Browser, demo: Path) -> None:
    with opened(chromium, demo) as page:
        assert faults(page) == []


def test_a_plan_with_hostile_names_runs_nothing_and_has_no_serious_fault(
    chromium: Browser, tmp_path: Path
) -> None:
    for name, made in (("plan", planned_study(tmp_path / "plan.xlsx")), ("hostile", hostile_study())):
        write_page(made, tmp_path / f"{name}.html")
        with opened(chromium, tmp_path / f"{name}.html") as page:
            expect(page.get_by_role("heading", level=1)).to_be_visible()
            assert faults(page) == []


def test_the_check_of_accessibility_finds_what_is_wrong(chromium: Browser, small: Path) -> None:
    with opened(chromium, small) as page:
        page.evaluate("document.querySelector('svg title').remove(); document.documentElement.lang = ''")
        page.evaluate("document.querySelector('svg').removeAttribute('aria-labelledby')")
        assert {rule for rule, _, _ in faults(page)} == {"html-has-lang", "svg-img-alt"}


def test_a_table_is_sorted_by_keyboard(chromium: Browser, small: Path) -> None:
    with opened(chromium, small) as page:
        before = table(page, "Plants by week.")
        for _ in range(40):
            page.keyboard.press("Tab")
            if page.evaluate("document.activeElement.textContent") == "Blue (plants)":
                break
        page.keyboard.press("Enter")
        rows = table(page, "Plants by week.")
        assert [row[2] for row in rows] == ["0", "20", "30", ""]
        head = page.get_by_role("columnheader", name="Blue")
        expect(head).to_have_attribute("aria-sort", "ascending")
        expect(page.get_by_role("status")).to_have_text("Sorted by Blue (plants), ascending")
        page.keyboard.press("Space")
        assert [row[2] for row in table(page, "Plants by week.")] == ["30", "20", "0", ""]
        expect(head).to_have_attribute("aria-sort", "descending")
        page.get_by_role("button", name="Week from").press("Enter")
        assert table(page, "Plants by week.") == before
        expect(head).not_to_have_attribute("aria-sort", "descending")
        total = page.get_by_role("table", name="Plants by week.").locator("tfoot tr")
        assert total.locator("th, td").all_inner_texts()[:3] == ["Total", "4,006", "50"]


@pytest.mark.parametrize(
    "heading, key",
    [
        ("Plants ordered", lambda text: float(text.replace(",", ""))),
        ("Due day", str),
        ("Customer", str.casefold),
    ],
)
def test_orders_sort_by_number_day_and_name(chromium: Browser, demo: Path, heading: str, key) -> None:  # type: ignore[no-untyped-def]
    with opened(chromium, demo) as page:
        orders = page.get_by_role("table", name="Every order")
        heads = [text.strip() for text in orders.locator("thead th").all_text_contents()]
        orders.get_by_role("button", name=heading).press("Enter")
        shown = [row[heads.index(heading)] for row in table(page, "Every order")]
        assert len(shown) > 30
        assert shown == sorted(shown, key=key)


def test_a_charts_values_are_reached_by_keyboard(chromium: Browser, small: Path) -> None:
    with opened(chromium, small) as page:
        for _ in range(60):
            page.keyboard.press("Tab")
            if focused(page, "role") == "graphics-symbol":
                break
        assert focused(page, "aria-label").endswith("Red (plants): 1,000")
        for key, words in (
            ("ArrowRight", "Red (plants): 1,001"),
            ("ArrowUp", "Red (plants): 1,001"),
            ("End", "Red (plants): 1,003"),
            ("ArrowUp", "Blue (plants): 30"),
            ("ArrowLeft", "Blue (plants): 20"),
            ("ArrowLeft", "Blue (plants): 0"),
            ("ArrowDown", "Red (plants): 1,000"),
            ("Home", "Red (plants): 1,000"),
        ):
            page.keyboard.press(key)
            assert focused(page, "aria-label").endswith(words), key
            expect(page.locator("figure").first.locator(".told")).to_have_text(focused(page, "aria-label"))
        page.keyboard.press("Tab")
        assert focused(page, "aria-label").endswith("Red (plants): 1,000")
        assert page.evaluate("document.activeElement.closest('svg').id || document.activeElement.tagName")
        assert page.evaluate("document.activeElement.closest('figure') !== document.querySelector('figure')")


def test_a_focused_value_is_seen(chromium: Browser, small: Path) -> None:
    with opened(chromium, small) as page:
        mark = page.locator("figure [data-x]").nth(1)
        chart_at = page.locator("figure").first
        before = chart_at.screenshot()
        mark.focus()
        page.locator(".told").first.evaluate("told => { told.textContent = ''; }")
        assert chart_at.screenshot() != before


def test_the_first_tab_leads_past_the_contents(chromium: Browser, demo: Path) -> None:
    with opened(chromium, demo) as page:
        page.keyboard.press("Tab")
        expect(page.get_by_role("link", name="Skip to the answer")).to_be_focused()
        page.keyboard.press("Enter")
        expect(page.get_by_role("heading", name="Answer", exact=True)).to_be_focused()


def test_a_narrow_screen_shows_the_answer_first_and_the_contents_after_it(
    chromium: Browser, demo: Path
) -> None:
    """On a telephone the result and what a plant costs are in view; on a wide screen the "
    "contents stand aside."""
    with opened(chromium, demo, width=400) as page:
        for words in ("leave a result of", "A plant delivered costs", "none is short"):
            found = page.locator("p", has_text=words).first.bounding_box()
            assert found is not None
            assert found["y"] + found["height"] < 800
        figures = page.get_by_role("table", name="The answer in figures").bounding_box()
        contents = page.get_by_role("navigation").bounding_box()
        assert figures is not None
        assert contents is not None
        assert contents["y"] > figures["y"]
    with opened(chromium, demo) as page:
        answer, contents = (
            page.locator("#answer").bounding_box(),
            page.get_by_role("navigation").bounding_box(),
        )
        assert answer is not None
        assert contents is not None
        assert contents["x"] + contents["width"] < answer["x"]
        assert contents["y"] == pytest.approx(answer["y"], abs=5)


def test_charts_are_told_to_a_screen_reader(chromium: Browser, small: Path) -> None:
    with opened(chromium, small) as page:
        session = page.context.new_cdp_session(page)
        tree = session.send("Accessibility.getFullAXTree")["nodes"]
        told = {(node["role"]["value"], node.get("name", {}).get("value", "")) for node in tree}
        names = {name for _, name in told}
        assert {"Plants", "Lines"} <= names
        assert any(name.endswith("Blue (plants): 30") for name in names)
        assert ("columnheader", "Blue (plants)") in told
        described = {node.get("description", {}).get("value", "") for node in tree}
        assert "Columns: plants. Numbers in the table above." in described


def test_without_its_script_a_page_reads_the_same(chromium: Browser, small: Path) -> None:
    with opened(chromium, small) as page, opened(chromium, small, script=False) as plain:
        assert plain.locator("main").inner_text() == page.locator("main").inner_text()
        assert plain.get_by_role("button").count() == 0
        assert page.get_by_role("button").count() == 5


def test_a_narrow_screen_scrolls_in_one_direction_alone(chromium: Browser, demo: Path) -> None:
    """Reflow at 320 pixels: WCAG 2.2, 1.4.10; tables scroll within themselves, as it allows."""
    with opened(chromium, demo, width=320) as page:
        assert page.evaluate("document.documentElement.scrollWidth") <= 320


def test_on_paper_every_row_is_printed_under_its_heading(
    chromium: Browser, demo: Path, tmp_path: Path
) -> None:
    with opened(chromium, demo) as page:
        first, *_, last = table(page, "Which graft day or offer")
        page.pdf(path=tmp_path / "plan.pdf", prefer_css_page_size=True)
    printed = [" ".join(text.split()) for text in pages(tmp_path / "plan.pdf")]
    (begins,) = (n for n, text in enumerate(printed) if "Deliveries" in text and "Pack on" in text)
    ends = max(n for n, text in enumerate(printed) if f"{last[0]} {last[1]} {last[2]}" in text)
    assert f"{first[0]} {first[1]} {first[2]}" in printed[begins]
    assert ends > begins
    assert all("Pack on" in text for text in printed[begins : ends + 1])
    assert sum("Skip to the answer" in text for text in printed) == 0

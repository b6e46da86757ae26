"""The desk in a real browser: the whole way by keyboard alone, and killed in the middle of it."""

from __future__ import annotations

import io
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from random import Random

import openpyxl
import pytest
from playwright.sync_api import Browser, Error, Page, expect

from model.solve import plan
from reports.book.words import amount
from scenarios.commands.command_line import DONE, main
from scenarios.desk.runs import Runs
from scenarios.desk.season import rows_of
from scenarios.desk.workplace import Workplace
from scenarios.files.write_scenario import write_workbook
from tests.documents.browser import faults
from tests.strategies import base_scenario

WAIT = 120_000.0
"""Milliseconds that a page may take at most; far more than it does."""


@contextmanager
def started(folder: Path) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """The desk as a person starts it, and the address that it prints."""
    process = subprocess.Popen(
        [sys.executable, "-m", "scenarios", "desk", str(folder), "--no-browser"],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    assert process.stdout is not None
    found = None
    while found is None:
        line = process.stdout.readline()
        assert line, "the desk ended"
        found = re.search(r"http://\S+", line)
    try:
        yield process, found.group()
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGINT)
        process.wait(60)


@contextmanager
def page_of(chromium: Browser, address: str) -> Iterator[Page]:
    """A page that fetches nothing from elsewhere."""
    with chromium.new_context() as context:
        context.set_default_timeout(WAIT)
        home = address.partition("/open")[0]
        strange: list[str] = []
        page = context.new_page()
        page.on(
            "request", lambda request: None if request.url.startswith(home) else strange.append(request.url)
        )
        page.goto(address)
        page.wait_for_url(f"{home}/")
        yield page
        assert strange == []


def judged(page: Page) -> list[tuple[str, str, str]]:
    """Serious faults of the page as it stands, judged again where it has just loaded anew."""
    for _ in range(5):
        try:
            page.wait_for_load_state()
            return faults(page)
        except Error:
            time.sleep(0.5)
    return faults(page)


def to(page: Page, role: str, name: str) -> None:
    """Move the focus by Tab until it stands on the element of that role and name."""
    wanted = page.get_by_role(role, name=name, exact=True).first  # type: ignore[arg-type]
    expect(wanted).to_be_visible()
    for _ in range(300):
        if wanted.evaluate("element => element === document.activeElement"):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab does not reach {role} {name}")


def press(page: Page, role: str, name: str) -> None:
    to(page, role, name)
    page.keyboard.press("Enter")


def type_into(page: Page, name: str, text: str) -> None:
    to(page, "textbox", name)
    page.keyboard.press("ControlOrMeta+a")
    page.keyboard.type(text)


def drop(page: Page, file: Path) -> None:
    """Give a file to the field that the keyboard reaches; a browser has no keys for its own dialogue."""
    page.get_by_label("A workbook, a variant or a CSV file").set_input_files(file)
    press(page, "button", "Put it on the desk")


def answered(page: Page) -> str:
    """Wait for the answer; what it says in short."""
    expect(page.get_by_role("heading", name="In short")).to_be_visible(timeout=WAIT)
    return page.locator("pre").inner_text()


def sound(path: Path, quantity: object = None) -> Path:
    write_workbook(base_scenario(), path)
    if quantity is not None:
        book = openpyxl.load_workbook(path)
        book["orders"]["D2"].value = quantity  # type: ignore[assignment]
        book.save(path)
    return path


def test_the_whole_way_by_keyboard_alone(chromium: Browser, tmp_path: Path) -> None:
    desk, files = tmp_path / "desk", tmp_path / "files"
    files.mkdir()
    result = plan(base_scenario())
    with started(desk) as (_, address), page_of(chromium, address) as page:
        home = page.url
        assert judged(page) == []
        drop(page, sound(files / "broken.xlsx", "many"))
        expect(page.get_by_role("row", name="orders 2 quantity many")).to_be_visible()
        assert judged(page) == []
        drop(page, sound(files / "mended.xlsx"))
        expect(page.get_by_text("No faults.")).to_be_visible()
        assert judged(page) == []

        press(page, "link", "the plan of least cost: workbook, page, pictures and tables")
        press(page, "button", "Ask")
        assert f"{result.cost:,.2f} USD" in answered(page)
        assert judged(page) == []
        with page.expect_download() as download:
            press(page, "link", "plan.xlsx")
        taken = io.BytesIO(download.value.path().read_bytes())
        assert openpyxl.load_workbook(taken).sheetnames[0] == "Summary"

        page.goto(home)
        press(page, "link", "A customer is on the telephone")
        type_into(page, "Plants", "20")
        to(page, "textbox", "Due day")
        page.get_by_label("Due day").fill("2027-03-20")
        press(page, "button", "Ask")
        expect(page.get_by_role("heading", name="The weeks around")).to_be_visible(timeout=WAIT)
        assert judged(page) == []
        told = page.locator("dd").first.inner_text()
        out = tmp_path / "quote"
        asked = ["--product=Red on Stout", "--quantity=20", "--due=2027-03-20", "-o", str(out)]
        assert main(["quote", str(desk / "mended.xlsx"), *asked]) == DONE
        quote = openpyxl.load_workbook(out / "quote.xlsx", data_only=True)["Quote"]
        heading = next(row for row in quote.iter_rows() if row[0].value == "Order")
        at = next(cell for cell in heading if str(cell.value).startswith("Adds ("))
        assert told.startswith(amount(float(quote.cell(at.row + 1, at.column).value), "USD"))

        page.goto(home)
        press(page, "link", "What if?")
        assert judged(page) == []
        type_into(page, "Name of the what-if", "dear hands")
        to(page, "slider", "Pay an hour (per cent)")
        for _ in range(20):
            page.keyboard.press("ArrowRight")
        press(page, "button", "Make the what-if")
        expect(page.get_by_role("option", name="dear hands.toml")).to_be_attached()
        assert "times = 1.2" in (desk / "dear hands.toml").read_text()
        to(
            page,
            "listbox",
            "Variants (.toml) or other scenarios (default: those in the scenario's folder variants)",
        )
        page.keyboard.type("dear")
        press(page, "button", "Ask")
        assert "dear hands" in answered(page)

        sown = min(result.waves["sow_day"])
        page.goto(f"{home}season?until={sown + timedelta(days=1)}")
        assert judged(page) == []
        for box in page.get_by_role("checkbox").all():
            to(page, "checkbox", str(box.get_attribute("aria-label")))
            page.keyboard.press("Space")
        press(page, "button", "Write what is ticked")
        expect(page.get_by_text("Nothing is foreseen up to that day")).to_be_visible()
        rows = rows_of(desk / "mended progress.csv")
        assert {row["what"] for row in rows} == {"packs", "sown"}
        press(page, "link", "Plan again from today")
        to(page, "combobox", "Folder of the last plan (needed)")
        press(page, "button", "Ask")
        assert "change" in answered(page)
        assert judged(page) == []


@pytest.mark.parametrize("width", [360, 1280])
def test_it_fits_a_telephone_and_a_screen_dark_and_light(
    chromium: Browser, tmp_path: Path, width: int
) -> None:
    sound(tmp_path / "book.xlsx")
    with (
        started(tmp_path) as (_, address),
        chromium.new_context(
            viewport={"width": width, "height": 740}, color_scheme="dark" if width == 360 else "light"
        ) as context,
    ):
        page = context.new_page()
        page.goto(address)
        home = address.partition("open")[0]
        page.wait_for_url(home)
        page.get_by_label("A workbook, a variant or a CSV file").set_input_files(tmp_path / "book.xlsx")
        page.get_by_role("button", name="Put it on the desk").click()
        expect(page.get_by_text("No faults.")).to_be_visible()
        for path in ("", "ask/quote", "phone", "what-if"):
            page.goto(f"{home}{path}")
            assert judged(page) == []
            assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_killed_ten_times_nothing_that_a_person_had_is_lost(chromium: Browser, tmp_path: Path) -> None:
    """The desk is killed at random times while it works; it starts again with all that it had."""
    draw = Random(2027)
    sound(tmp_path / "made.xlsx")
    data = (tmp_path / "made.xlsx").read_bytes()
    folder = tmp_path / "desk"
    names: list[str] = []
    answers = 0
    for n in range(10):
        with started(folder) as (process, address), page_of(chromium, address) as page:
            for name in names:
                assert (folder / name).read_bytes() == data
            kept = Runs(Workplace(folder)).all()
            assert len(kept) == answers
            assert {run.state for run in kept} <= {"running", "done", "stopped"}
            expect(page.get_by_role("link", name=re.compile(r"^\d+: plan$"))).to_have_count(answers)
            drop(page, tmp_path / "made.xlsx")
            expect(page.get_by_text("No faults.")).to_be_visible()
            names.append(f"made{'' if n == 0 else f' {n + 1}'}.xlsx")
            press(page, "link", "the plan of least cost: workbook, page, pictures and tables")
            press(page, "button", "Ask")
            page.wait_for_url("**/answers/*")
            answers += 1
            time.sleep(draw.random() * 3)
            os.kill(process.pid, signal.SIGKILL)
    for run in Runs(Workplace(folder)).all():
        for path in (folder / "answers").glob(f"{run.number:04d} plan/files/*.xlsx"):
            assert openpyxl.load_workbook(path).sheetnames[0] == "Summary"

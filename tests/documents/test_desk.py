"""The desk in a real browser: the whole way by keyboard alone, and killed in the middle of it."""

from __future__ import annotations

import io
import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import chdir, contextmanager, redirect_stdout, suppress
from dataclasses import dataclass, field
from datetime import timedelta
from http.client import HTTPException
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
from tests.desks import Visitor
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


def as_the_command_line_says(desk: Path, out: Path) -> list[str]:
    """What the command line tells of the question that the desk answered last, without the files written."""
    workplace = Workplace(desk)
    run = Runs(workplace).all()[0]
    season = workplace.progress(run.book)
    told = [f"--progress={season}"] if season.is_file() else []
    options = [word for word in run.asked if word.startswith("-")]
    placed = [word for word in run.asked if not word.startswith("-")]
    with chdir(desk), redirect_stdout(io.StringIO()) as said:
        assert main([run.verb, *told, *options, "-o", str(out), "--", run.book, *placed]) == DONE
    return lines_of(said.getvalue())


def lines_of(said: str) -> list[str]:
    """Lines of an answer, but for those that name its files."""
    return [line.rstrip() for line in said.splitlines() if line.strip() and not line.startswith("Written")]


def sound(path: Path, quantity: object = None) -> Path:
    write_workbook(base_scenario(), path)
    if quantity is not None:
        book = openpyxl.load_workbook(path)
        book["orders"]["D2"].value = quantity  # type: ignore[assignment]
        book.save(path)
    return path


def test_the_whole_way_by_keyboard_alone(
    chromium: Browser, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "100")
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
        compared = lines_of(answered(page))
        assert any("dear hands" in line for line in compared)
        assert compared == as_the_command_line_says(desk, tmp_path / "compare")

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
        again = lines_of(answered(page))
        assert any("change" in line for line in again)
        assert again == as_the_command_line_says(desk, tmp_path / "replan")
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
        for path in ("", "ask/quote", "ask/compare", "phone", "what-if", "season", "start"):
            page.goto(f"{home}{path}")
            assert judged(page) == []
            assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_its_pages_print_without_what_one_presses(chromium: Browser, tmp_path: Path) -> None:
    """On paper there are no forms; the answer is there."""
    with started(tmp_path / "desk") as (_, address), page_of(chromium, address) as page:
        drop(page, sound(tmp_path / "book.xlsx"))
        expect(page.get_by_text("No faults.")).to_be_visible()
        press(page, "link", "the plan of least cost: workbook, page, pictures and tables")
        ask = page.get_by_role("button", name="Ask")
        expect(ask).to_be_visible()
        page.emulate_media(media="print")
        expect(ask).not_to_be_visible()
        page.emulate_media(media="screen")
        press(page, "button", "Ask")
        told = answered(page)
        page.emulate_media(media="print")
        assert page.locator("pre").is_visible()
        assert "USD" in told


@dataclass
class Had:
    """What a person had: files with their contents, rows of the season, numbers of answers, those done."""

    files: dict[str, bytes] = field(default_factory=dict)
    rows: dict[str, list[dict[str, str]]] = field(default_factory=dict)
    answers: set[int] = field(default_factory=set)
    done: set[int] = field(default_factory=set)

    def is_there(self, folder: Path, visitor: Visitor) -> None:
        """Nothing of it is lost, and nothing else is half there."""
        for name, data in self.files.items():
            assert (folder / name).read_bytes() == data
        for name, rows in self.rows.items():
            assert rows_of(folder / name)[: len(rows)] == rows
        kept = {run.number: run for run in Runs(Workplace(folder)).all()}
        assert self.answers <= set(kept)
        assert {kept[number].state for number in self.done} <= {"done"}
        assert {run.state for run in kept.values()} <= {"running", "done", "stopped"}
        front = visitor.get("/")
        for number, run in kept.items():
            assert front.has(f"{number}: {run.verb}")


def the_way(visitor: Visitor, folder: Path, n: int, data: bytes, had: Had) -> None:
    """Drop, plan, quote, what-if, tick, plan again, download; each is had once the desk has answered."""

    def asked(verb: str, **given: str) -> int:
        answer = visitor.post(f"/ask/{verb}", given)
        assert answer.status == 303, "too many questions are open"
        number = int(answer.headers["location"].rpartition("/")[2])
        had.answers.add(number)
        return number

    assert visitor.drop(f"round {n}.xlsx", data).status == 303
    had.files[f"round {n}.xlsx"] = data
    first = asked("plan")
    visitor.post("/phone", {"product": "Red on Stout", "quantity": "20", "due_day": "2027-03-20"})
    assert visitor.post("/what-if", {"name": f"round {n} dear", "slider-3": "120"}).status == 303
    had.files[f"round {n} dear.toml"] = (folder / f"round {n} dear.toml").read_bytes()
    assert visitor.answered(first) == "done"
    had.done.add(first)
    until = {"until": "2027-06-01"}
    page = visitor.get(f"/season?until={until['until']}").text
    packs = [key for key in re.findall('name="done" value="([^"]*)"', page) if "|packs|" in key]
    assert visitor.post("/season/done", {"done": packs} | until).status == 303
    had.rows[f"round {n} progress.csv"] = rows_of(folder / f"round {n} progress.csv")
    again = asked("replan", last=str(first))
    assert visitor.answered(again) == "done"
    had.done.add(again)
    assert visitor.get(f"/answers/{again}/files/replan.xlsx").status == 200


def test_killed_ten_times_nothing_that_a_person_had_is_lost(tmp_path: Path) -> None:
    """The desk is killed at random moments of the way; it starts again with all that it had."""
    draw, had = Random(2027), Had()
    data = sound(tmp_path / "made.xlsx").read_bytes()
    folder = tmp_path / "desk"
    longest = 0.0
    for n in range(11):
        with started(folder) as (process, address):
            port, _, path = address.partition("127.0.0.1:")[2].partition("/")
            visitor = Visitor(int(port))
            visitor.cookie = visitor.get(f"/{path}").headers["set-cookie"].partition(";")[0]
            had.is_there(folder, visitor)
            while sum(run.state == "running" for run in Runs(Workplace(folder)).all()) > 1:
                time.sleep(0.2)  # killed desks leave runs behind, and the desk allows only some at once
            begun = time.monotonic()
            if n == 0:  # unharmed, to know how long the way takes
                the_way(visitor, folder, n, data, had)
                longest = time.monotonic() - begun
                continue
            threading.Timer(draw.random() * longest, os.kill, (process.pid, signal.SIGKILL)).start()
            with suppress(OSError, HTTPException):
                the_way(visitor, folder, n, data, had)
            process.wait(60)
    assert len(had.files) > 11, "some rounds went past the file dropped"
    assert len(had.done) > 2, "and some past a plan"

"""The desk follows the file: many saves are one reading, of the last."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest

from scenarios.desk import reading
from scenarios.desk.reading import Reading, Watch
from scenarios.desk.workplace import Workplace, written
from scenarios.files.write_scenario import write_folder
from tests.strategies import base_scenario


def test_a_hundred_saves_are_one_reading_of_the_last(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Time is the test's own: a save a look, then looks without a save until the file counts as settled."""
    place = Workplace(tmp_path)
    write_folder(base_scenario(), tmp_path / "book")
    place.remember(book="book")
    orders = tmp_path / "book" / "orders.csv"
    text = orders.read_text()
    saves = iter([*range(101, 201), *([None] * 20)])
    now = [0.0]
    ended = threading.Event()
    heard: list[Reading] = []
    watch = Watch(place, heard.append)

    def wait(seconds: float) -> bool:
        now[0] += seconds
        quantity = next(saves, "over")
        if quantity == "over":
            ended.set()
            return True
        if quantity is not None:
            written(orders, text.replace(",100,", f",{quantity},").encode())
        return False

    monkeypatch.setattr(watch._stop, "wait", wait)
    monkeypatch.setattr(reading.time, "monotonic", lambda: now[0])
    watch.start()
    assert ended.wait(60)
    (last,) = heard
    assert last.scenario is not None
    assert [order.quantity for order in last.scenario.orders] == [200]


def test_the_marks_of_open_programs_are_no_scenarios(tmp_path: Path) -> None:
    place = Workplace(tmp_path)
    for name in ("~$book.xlsx", ".book.xlsx", "book.txt"):
        (tmp_path / name).write_text("x")
    (tmp_path / "link.xlsx").symlink_to(tmp_path / "book.txt")
    assert place.books() == []
    (tmp_path / "book.xlsx").write_text("x")
    assert place.books() == ["book.xlsx"]
    assert place.path("../book.xlsx") is None


def test_what_is_on_the_desk_is_remembered_and_a_broken_memory_is_none(tmp_path: Path) -> None:
    place = Workplace(tmp_path)
    (tmp_path / "book.xlsx").write_text("x")
    place.remember(book="book.xlsx", always=True)
    assert (Workplace(tmp_path).book, Workplace(tmp_path).state["always"]) == ("book.xlsx", True)
    (tmp_path / "book.xlsx").unlink()
    assert place.book is None
    (tmp_path / "desk.json").write_text("{")
    assert place.state == {}

"""The desk from the door to the answer: a workbook with faults, mended, planned, asked about, ticked."""

from __future__ import annotations

import csv
import io
import json
import time
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import openpyxl
import pytest

from model.solve import plan
from scenarios.desk.app import Desk
from scenarios.desk.reading import EVERY
from scenarios.desk.runs import Runs
from scenarios.desk.season import rows_of
from scenarios.desk.workplace import Workplace, written
from scenarios.files.write_scenario import write_workbook
from tests.desks import PATIENCE, Visitor, desk
from tests.strategies import base_scenario

Open = tuple[Desk, Visitor]


def workbook(folder: Path, change: str | int | None = None) -> bytes:
    """The small scenario as a workbook; ``change``: what its first order's quantity is instead."""
    path = folder / "made.xlsx"
    path.unlink(missing_ok=True)
    write_workbook(base_scenario(), path)
    if change is not None:
        book = openpyxl.load_workbook(path)
        (at,) = [c.column for c in book["orders"][1] if str(c.value).startswith("quantity")]
        book["orders"].cell(2, at).value = change
        book.save(path)
    return path.read_bytes()


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Open]:
    with desk(tmp_path_factory.mktemp("desk")) as made:
        yield made


@pytest.fixture(scope="module")
def planned(opened: Open, tmp_path_factory: pytest.TempPathFactory) -> int:
    """A sound scenario on the desk, and the number of its plan.

    A person's own file of the name of a Python module beside it is not run.
    """
    made, visitor = opened
    (made.workplace.folder / "json.py").write_text("raise SystemExit(1)")
    visitor.drop("sound.xlsx", workbook(tmp_path_factory.mktemp("sound")))
    answer = visitor.post("/ask/plan")
    assert answer.status == 303
    number = int(answer.headers["location"].rpartition("/")[2])
    assert visitor.answered(number) == "done"
    return number


def test_a_workbook_with_faults_names_its_cells_and_comes_back_marked(opened: Open, tmp_path: Path) -> None:
    _made, visitor = opened
    assert visitor.get("/").has("Drop a workbook here")
    assert visitor.drop("faulty.xlsx", workbook(tmp_path, "many")).status == 303
    front = visitor.get("/")
    assert front.has("1 fault. Mend it in the spreadsheet and save")
    assert front.has("orders 2 quantity many")
    assert not front.has("the plan of least cost")
    assert visitor.post("/ask/plan").has("Mend them first")
    marked = openpyxl.load_workbook(io.BytesIO(visitor.get("/book/marked.xlsx").body))
    assert [cell.value for cell in marked["Faults"][2]][:4] == ["orders", "D2", "quantity", "many"]
    comment = marked["orders"]["D2"].comment
    assert comment is not None
    assert comment.text.startswith("is text where a number belongs; write")


def test_a_mended_one_is_planned_as_the_command_line_plans_it(opened: Open, planned: int) -> None:
    _made, visitor = opened
    page = visitor.get(f"/answers/{planned}")
    assert page.has(f"{plan(base_scenario()).cost:,.2f}")
    assert page.has("plan.xlsx")
    assert "Written:" not in page.text
    whole = visitor.get(f"/answers/{planned}/files/plan.html")
    assert whole.headers["content-type"].startswith("text/html")
    assert "<script>" in whole.text
    taken = visitor.get(f"/answers/{planned}/files/plan.xlsx")
    assert taken.headers["content-disposition"] == 'attachment; filename="plan.xlsx"'
    assert openpyxl.load_workbook(io.BytesIO(taken.body)).sheetnames[0] == "Summary"
    assert visitor.get(f"/answers/{planned}/files/tables/orders.csv").text.startswith("order,")


def test_an_answer_says_when_the_scenario_has_changed(opened: Open, planned: int, tmp_path: Path) -> None:
    made, visitor = opened
    assert not visitor.get(f"/answers/{planned}").has("The scenario has changed since")
    book = made.workplace.book
    visitor.drop("another.xlsx", workbook(tmp_path, 120))
    assert visitor.get(f"/answers/{planned}").has("The scenario has changed since")
    visitor.post("/book/choose", {"book": book})
    assert not visitor.get(f"/answers/{planned}").has("The scenario has changed since")


def test_what_the_command_refuses_is_told_in_its_words(opened: Open, planned: int) -> None:
    _, visitor = opened
    answer = visitor.post("/ask/quote", {"product": "Red on Stout", "quantity": "-5", "due": "2027-03-20"})
    number = int(answer.headers["location"].rpartition("/")[2])
    assert visitor.answered(number) == "refused"
    page = visitor.get(f"/answers/{number}")
    assert page.has("There is no answer")
    assert page.has("orders, row 2, quantity: &#39;-5&#39; is")


def test_a_pick_that_is_not_in_its_list_asks_nothing(opened: Open, planned: int) -> None:
    made, visitor = opened
    before = len(made.runs.all())
    answer = visitor.post("/ask/quote", {"product": "../../etc", "quantity": "5", "due": "2027-03-20"})
    assert (answer.status, answer.has("choose one of the list")) == (400, True)
    assert visitor.post("/ask/break-even", {"of": ""}).has("fill it in")
    assert len(made.runs.all()) == before


def test_a_run_is_stopped_and_writes_nothing(opened: Open, planned: int) -> None:
    made, visitor = opened
    visitor.post("/ask/margins", {"seasons": "1000000"})
    run = made.runs.all()[0]
    assert run.state == "running"
    assert visitor.post(f"/answers/{run.number}/stop").status == 303
    assert visitor.answered(run.number) == "stopped"
    assert made.runs.files(run) == []
    assert visitor.get(f"/answers/{run.number}").has("Stopped. Nothing was written.")


def test_answers_outlive_the_desk(opened: Open, planned: int) -> None:
    made, _ = opened
    again = Runs(Workplace(made.workplace.folder))
    kept = again.get(planned)
    assert kept == made.runs.get(planned)
    assert kept is not None
    assert "plan.xlsx" in again.files(kept)
    told = json.loads((again.folder(kept) / "run.json").read_text())
    assert told["hashed"] == made.workplace.hashed(kept.book)


def test_what_is_ticked_stands_in_the_progress_file_and_in_the_next_plan(opened: Open, planned: int) -> None:
    made, visitor = opened
    book = made.workplace.book
    assert book is not None
    result = plan(base_scenario())
    sown = min(result.waves["sow_day"])
    season = made.workplace.progress(book)
    page = visitor.get(f"/season?until={sown}")
    keys = [row.partition('"')[0] for row in page.text.split('name="done" value="')[1:]]
    sowing = next(key for key in keys if "|sown|" in key)
    wrong = visitor.post("/season/done", {"done": sowing, f"number {sowing}": "x", "until": sown})
    assert (wrong.status, season.exists()) == (400, False)
    part = visitor.post("/season/done", {"done": sowing, f"number {sowing}": "12", "until": sown})
    assert part.has("but only 0 were there; record the packs that arrived")
    assert not season.exists()
    packs = [key for key in keys if "|packs|" in key]
    assert visitor.post("/season/done", {"done": packs, "until": sown}).status == 303
    assert (
        visitor.post("/season/done", {"done": sowing, f"number {sowing}": "12", "until": sown}).status == 303
    )
    *before, row = rows_of(season)
    assert len(before) == len(packs)
    assert (row["day"], row["what"], float(row["number"]), row["counted"]) == (str(sown), "sown", 12.0, "")
    assert sowing not in visitor.get(f"/season?until={sown}").text
    wrong = visitor.post("/season/counted", {f"count {len(packs)}": "1,200", "until": sown})
    assert wrong.has("may be 1.200 or 1200; write 1.2000 or 1200")
    assert visitor.post("/season/counted", {f"count {len(packs)}": "91,0", "until": sown}).status == 303
    assert rows_of(season)[-1]["counted"] == "91"
    assert visitor.get("/").has(f"{len(packs) + 1} rows of progress before {sown + timedelta(days=1)}")
    told = list(csv.reader(io.StringIO(season.read_text())))
    season.write_text("my own list\n")
    assert visitor.get("/season").has("was not written at the desk")
    season.unlink()
    assert told[0][0].startswith("day")


def test_a_what_if_is_a_variant_that_others_can_read(opened: Open, planned: int) -> None:
    made, visitor = opened
    before = made.workplace.books()
    answer = visitor.post("/what-if", {"name": "dear hands 26/27", "slider-3": "120", "slider-0": "100"})
    assert answer.status == 303
    made_one = made.workplace.folder / "dear hands 26-27.toml"
    assert "times = 1.2" in made_one.read_text()
    for given in (
        {"name": "bad", "table": "crews", "row": "*", "column": "heads", "way": "value", "figure": "-3"},
        {"name": "bad", "table": "crews", "row": "*", "column": "heads", "way": "value", "figure": "x"},
        {"name": "", "slider-3": "120"},
        {"name": "nothing moved"},
    ):
        assert visitor.post("/what-if", given).status == 400
    made_one.unlink()
    cell = {"name": "cell", "table": "packs", "row": "*", "column": "price", "way": "plus"}
    asked = visitor.post("/what-if", cell | {"figure": "1.250"})
    assert asked.has("may be 1.250 or 1250")
    for kept in ('value="cell"', 'value="1.250"', 'value="price" selected', 'value="plus" selected'):
        assert kept in asked.text
    assert visitor.post("/what-if", cell | {"figure": "1,25"}).status == 303
    assert "plus = 1.25" in (made.workplace.folder / "cell.toml").read_text()
    (made.workplace.folder / "cell.toml").unlink()
    assert made.workplace.books() == before


def test_a_hundred_saves_make_one_plan_of_the_last(tmp_path: Path) -> None:
    """The plan is made when the file is saved; on a busy machine one in between may be begun and stopped."""
    first, last = workbook(tmp_path, 101), workbook(tmp_path, 200)
    folder = tmp_path / "desk"
    with desk(folder) as (made, visitor):
        visitor.drop("book.xlsx", first)
        assert visitor.post("/book/always", {"always": "yes"}).status == 303
        for data in (*[first] * 99, last):
            written(folder / "book.xlsx", data)
            time.sleep(EVERY / 10)
        end = time.monotonic() + PATIENCE
        while not any(run.state == "done" for run in made.runs.all()):
            assert time.monotonic() < end
            time.sleep(EVERY)
        (run,) = (run for run in made.runs.all() if run.state != "stopped")
        assert run.by_itself
        assert run.hashed == made.workplace.hashed("book.xlsx")
        assert visitor.get(f"/answers/{run.number}").has("plants 200 ordered")


def test_the_telephone_tells_the_numbers_of_the_quote(opened: Open, planned: int) -> None:
    _, visitor = opened
    asked = {"product": "Red on Stout", "quantity": "20", "due_day": "2027-03-20", "profit_margin": "0,25"}
    answer = visitor.post("/phone", asked)
    call = answer.headers["location"]
    while json.loads(visitor.get(f"{call}/state").text)["state"] == "running":
        time.sleep(0.1)
    page = visitor.get(call)
    quote = visitor.post(
        "/ask/quote",
        {"product": "Red on Stout", "quantity": "20", "due": "2027-03-20", "profit_margin": "0,25"},
    )
    number = int(quote.headers["location"].rpartition("/")[2])
    assert visitor.answered(number) == "done"
    told = visitor.get(f"/answers/{number}").text
    adds = told.partition("They add ")[2].partition(" to the")[0]
    assert adds
    assert page.has(f"Adds to the cost {adds}, surely between")

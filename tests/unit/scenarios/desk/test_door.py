"""The desk's door: nobody but the browser that was let in reads or writes anything."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from scenarios.desk.app import MOST_UPLOAD, Desk
from scenarios.desk.runs import Run
from scenarios.files.write_scenario import write_workbook
from tests.desks import Visitor, desk
from tests.strategies import base_scenario

Open = tuple[Desk, Visitor]


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Open]:
    """A desk with a scenario, and an answer whose files are two pages, one of them a link."""
    folder = tmp_path_factory.mktemp("desk")
    write_workbook(base_scenario(), folder / "book.xlsx")
    (folder / "secret.txt").write_text("not for the browser")
    with desk(folder) as made:
        made[0].workplace.remember(book="book.xlsx")
        run = Run(1, "plan", "book.xlsx", (), "2027-03-01T08:00:00", "", "plan.html", "done", 0, 1.0)
        files = made[0].runs.folder(run) / "files"
        files.mkdir(parents=True)
        (files / "plan.html").write_text("<h1>an answer</h1>")
        (files / "link.html").symlink_to(folder / "secret.txt")
        (files / ".hidden").write_text("kept by the program")
        made[0].runs._write(run)
        yield made


def contents(folder: Path) -> dict[str, bytes]:
    return {str(p): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


FOREIGN = {
    "a name that was bound to this address": {"Host": "grafts.example"},
    "the right name without its port": {"Host": "127.0.0.1"},
    "another port": {"Host": "127.0.0.1:1"},
    "no name": {"Host": ""},
    "another page": {"Origin": "http://grafts.example"},
    "another page on this machine": {"Origin": "http://127.0.0.1:1"},
    "a page without an address": {"Origin": "null"},
    "a page that the browser knows to be another's": {"Sec-Fetch-Site": "cross-site"},
    "a page on this machine that the browser knows to be another's": {"Sec-Fetch-Site": "same-site"},
    "no secret": {"Cookie": ""},
    "a wrong secret": {"Cookie": "graftwright=x"},
}


@pytest.mark.parametrize("why", FOREIGN)
def test_a_foreign_request_reads_and_writes_nothing(opened: Open, why: str) -> None:
    made, visitor = opened
    before = contents(made.workplace.folder)
    told = {name.replace("-", "_"): value for name, value in FOREIGN[why].items()}
    paths = ("/", "/state", "/ask/plan", "/answers/1", "/answers/1/files/plan.html", "/desk.js", "/nowhere")
    for answer in [visitor.get(path, **told) for path in paths]:
        assert answer.status in (400, 403, 421)
        assert "an answer" not in answer.text
        assert "book.xlsx" not in answer.text
    for answer in (
        visitor.post("/ask/plan", **told),
        visitor.post("/book/start", {"with": "demo"}, **told),
        visitor.drop("new.xlsx", b"PK", **told),
    ):
        assert answer.status in (400, 403, 421)
    assert contents(made.workplace.folder) == before


def test_a_request_that_writes_must_say_where_it_comes_from(opened: Open) -> None:
    _, visitor = opened
    assert visitor.post("/book/always", Origin="").status == 403
    assert visitor.post("/book/always").status == 303


def test_an_address_opens_the_desk_once(opened: Open) -> None:
    made, visitor = opened
    stranger = Visitor(visitor.port)
    path = made.door.address().partition(str(visitor.port))[2]
    first = stranger.get(path, Sec_Fetch_Site="cross-site")
    assert first.status == 200
    told = first.headers["set-cookie"]
    assert all(word in told for word in ("HttpOnly", "SameSite=strict", "Path=/"))
    assert made.door.secret not in first.text
    second = stranger.get(path)
    assert (second.status, "set-cookie" in second.headers) == (403, False)
    assert stranger.get("/open?once=").status == 403
    again = visitor.get(path)
    assert (again.status, again.headers["location"]) == (303, "/"), "back or reload, in the browser let in"


def test_every_answer_forbids_what_is_not_needed(opened: Open) -> None:
    _, visitor = opened
    for path in ("/", "/nowhere", "/answers/1/files/plan.html"):
        headers = visitor.get(path).headers
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "same-origin"
        assert headers["cache-control"] == "no-store"
        assert "frame-ancestors 'self'" in headers["content-security-policy"]
    assert "default-src 'none'" in visitor.get("/").headers["content-security-policy"]


PATHS = (
    "../../secret.txt",
    "..%2f..%2f..%2fsecret.txt",
    "%2e%2e/%2e%2e/%2e%2e/secret.txt",
    "..%5c..%5csecret.txt",
    "/etc/passwd",
    "%2fetc%2fpasswd",
    "link.html",
    ".hidden",
    "plan.html%00.txt",
    "",
)


@pytest.mark.parametrize("path", PATHS)
def test_no_path_leads_out_of_an_answer(opened: Open, path: str) -> None:
    _, visitor = opened
    assert visitor.get("/answers/1/files/plan.html").text == "<h1>an answer</h1>"
    answer = visitor.get(f"/answers/1/files/{path}")
    assert answer.status in (400, 404)
    assert "not for the browser" not in answer.text
    assert "kept by the program" not in answer.text


NAMES = {
    "../../up.xlsx": "up.xlsx",
    "..\\..\\up.xlsx": "up 2.xlsx",
    "/etc/up.xlsx": "up 3.xlsx",
    "<script>alert(1)</script>.xlsx": "script_.xlsx",
    ".hidden.xlsx": "hidden.xlsx",
    "~$open.xlsx": "$open.xlsx",
    "a:b|c?.xlsx": "a_b_c_.xlsx",
    "x" * 300 + ".xlsx": "x" * 80 + ".xlsx",
}


def test_a_dropped_file_gets_a_name_in_the_folder_and_replaces_nothing(opened: Open) -> None:
    made, visitor = opened
    folder = made.workplace.folder
    before = set(os.listdir(folder))
    data = (folder / "book.xlsx").read_bytes()
    for given, right in NAMES.items():
        assert visitor.drop(given, data).status == 303
        assert made.workplace.book == right
        assert visitor.get("/").has(right.replace("<", ""))
        assert "<script>alert" not in visitor.get("/").text
    assert set(os.listdir(folder)) - before - {"desk.json"} == set(NAMES.values())
    for name in NAMES.values():
        (folder / name).unlink()
    made.workplace.remember(book="book.xlsx")


def test_a_file_of_another_kind_is_not_taken(opened: Open) -> None:
    made, visitor = opened
    before = contents(made.workplace.folder)
    for name in ("run.exe", "page.html", "book.xlsm", "no ending", ""):
        assert visitor.drop(name, b"MZ").status == 400
    assert contents(made.workplace.folder) == before


def test_a_huge_file_is_refused_before_it_is_read(opened: Open) -> None:
    made, visitor = opened
    before = contents(made.workplace.folder)
    answer = visitor.drop("huge.xlsx", b"", Content_Length=str(10**9))
    assert answer.status == 413
    assert MOST_UPLOAD < 10**9
    assert contents(made.workplace.folder) == before


def test_the_desk_is_closed_from_its_page_and_not_from_elsewhere(opened: Open) -> None:
    made, visitor = opened
    closed: list[bool] = []
    made.leave = lambda: closed.append(True)
    assert visitor.post("/close", Origin="http://grafts.example").status == 403
    assert not closed
    assert visitor.post("/close").has("The desk is closed What was done is kept.")
    assert closed == [True]


def test_two_that_start_at_the_same_time_have_secrets_of_their_own(tmp_path: Path, opened: Open) -> None:
    _, visitor = opened
    with desk(tmp_path) as (_, other):
        stranger = Visitor(visitor.port, other.cookie)
        assert stranger.get("/").status == 403
        assert other.cookie.partition("=")[0] != visitor.cookie.partition("=")[0]

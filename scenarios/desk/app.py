"""The desk's pages: the scenario, a screen for each question, the answers."""

from __future__ import annotations

import mimetypes
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from reports.book import style
from reports.book.writing import shown_day, written_as
from reports.study.templates import rendered
from scenarios.cells.typed import number_typed, plain_day
from scenarios.desk.marked import write_marked
from scenarios.desk.phone_pages import PhonePages
from scenarios.desk.reading import Reading, Watch
from scenarios.desk.runs import Run, Runs, TooMany
from scenarios.desk.safety import OPEN, PAGE_POLICY, Door, Guarded
from scenarios.desk.screens import Field, FieldKind, Screen
from scenarios.desk.season_pages import SeasonPages
from scenarios.desk.start_pages import StartPages
from scenarios.desk.what_if_pages import WhatIfPages
from scenarios.desk.workplace import BOOKS, Workplace
from scenarios.formats.held import in_words

PAGES = Path(__file__).with_name("pages")
MOST_UPLOAD, MOST_FORM = 60_000_000, 200_000
"""Bytes of a file dropped, and of a form."""

TAKEN = (*BOOKS, ".csv")
KINDS = {".html": "text/html", ".svg": "image/svg+xml", ".csv": "text/csv", ".ics": "text/calendar"}
"""Types of files that are shown; others are taken away."""


class Desk:
    """The pages over one workplace."""

    def __init__(self, workplace: Workplace, screens: Sequence[Screen], door: Door) -> None:
        self.workplace, self.door = workplace, door
        self.screens = {screen.verb: screen for screen in screens}
        self.runs = Runs(workplace)
        self.watch = Watch(workplace, self._saved)
        self.phone = PhonePages(self)
        self.leave: Callable[[], None] = lambda: None
        """Have the server end, once it has answered."""

    def close(self) -> None:
        """Stop what runs for the desk."""
        self.watch.stop()
        self.runs.stop_all()
        self.phone.telephone.hang_up()

    def app(self) -> Guarded:
        """The application, behind its door."""
        routes = [
            Route(OPEN, self.opened, methods=["GET"]),
            Route("/", self.front, methods=["GET"]),
            Route("/state", self.state, methods=["GET"]),
            Route("/book", self.dropped, methods=["POST"], max_body_size=MOST_UPLOAD),
            Route("/book/start", self.begun, methods=["POST"], max_body_size=MOST_FORM),
            Route("/book/choose", self.chosen, methods=["POST"], max_body_size=MOST_FORM),
            Route("/book/always", self.always, methods=["POST"], max_body_size=MOST_FORM),
            Route("/book/marked.xlsx", self.marked, methods=["GET"]),
            Route("/ask/{verb}", self.screen, methods=["GET"]),
            Route("/ask/{verb}", self.asked, methods=["POST"], max_body_size=MOST_FORM),
            Route("/answers/{number:int}", self.answer, methods=["GET"]),
            Route("/answers/{number:int}/state", self.progress, methods=["GET"]),
            Route("/answers/{number:int}/stop", self.stopped, methods=["POST"], max_body_size=MOST_FORM),
            Route("/answers/{number:int}/files/{name:path}", self.file, methods=["GET"]),
            *self.phone.routes(),
            *WhatIfPages(self).routes(),
            *SeasonPages(self).routes(),
            *StartPages(self).routes(),
            Route("/close", self.left, methods=["POST"], max_body_size=MOST_FORM),
            Route("/address", self.address, methods=["POST"], max_body_size=MOST_FORM),
            Route("/desk.css", self.look, methods=["GET"]),
            Route("/desk.js", self.script, methods=["GET"]),
        ]
        handlers: Any = {OSError: self.unwritten, Exception: self.failed}
        return Guarded(Starlette(routes=routes, exception_handlers=handlers), self.door)

    # The door

    def opened(self, request: Request) -> Response:
        """Take the one-use word out of the address and give the browser the secret.

        A browser that has it already, and comes back by a used address, goes to the desk.
        """
        if self.door.knows(request.headers):
            return _to("/")
        if not self.door.opens(request.query_params.get("once", "")):
            why = "This address has been used. Open the desk in the browser that used it, or start it again."
            return self.page("told.html", title="The desk is open elsewhere", lines=[why], status=403)
        response = self.page("opened.html", title="The desk opens")
        self.door.let_in(response)
        return response

    def address(self, request: Request) -> Response:
        """A new address that opens the desk once, for another browser on this machine."""
        lines = [
            "Open this address in the other browser on this machine. It works once.",
            self.door.address(),
        ]
        return self.page("told.html", title="Another browser", lines=lines)

    def left(self, request: Request) -> Response:
        """Close the desk: who started it by a double-click may have no window in which to press Ctrl-C."""
        self.leave()
        return self.told("The desk is closed", "What was done is kept. You may close this page.", 200)

    def unwritten(self, request: Request, error: OSError) -> Response:
        """A file that cannot be read or written, such as one that is open in another program."""
        return self.told(
            "A file cannot be read or written", f"{in_words(error)}. What was done is kept.", 500
        )

    def failed(self, request: Request, error: Exception) -> Response:
        """An error of the desk's own, in plain words; the terminal has the rest."""
        line = f"The desk has an error of its own ({type(error).__name__}). What was done is kept."
        return self.told("Something went wrong", line, 500)

    # The scenario

    def front(self, request: Request) -> Response:
        """The scenario on the desk, the questions, the answers."""
        reading = self.watch.reading()
        return self.page(
            "front.html",
            title="The desk",
            reading=reading,
            books=self.workplace.books(),
            folder=str(self.workplace.folder),
            always=bool(self.workplace.state.get("always")),
            questions=self._questions(),
            runs=self.runs.all(),
            taken=", ".join(TAKEN),
        )

    def state(self, request: Request) -> Response:
        """What changes when the file is saved or a run ends, for pages that wait."""
        book = self.workplace.book
        stamp = None if book is None else [list(part) for part in self.workplace.stamp(book)]
        return JSONResponse(
            {"book": book, "stamp": stamp, "runs": [[r.number, r.state] for r in self.runs.all()]}
        )

    async def dropped(self, request: Request) -> Response:
        """Put a copy of a file into the folder, and on the desk where it is a scenario."""
        async with request.form(max_files=1, max_fields=5, max_part_size=MOST_FORM) as form:
            file = form.get("file")
            if not isinstance(file, UploadFile) or not file.filename:
                return self.told("No file was chosen", "Choose a workbook, a variant or a CSV file.")
            if not file.filename.lower().endswith(TAKEN):
                return self.told(
                    "This file is not taken", f"Choose a file that ends in {' or '.join(TAKEN)}."
                )
            data = await file.read()
            name = await run_in_threadpool(self.workplace.add, file.filename, data)
        if name in self.workplace.books():
            self.workplace.remember(book=name)
        return _to("/")

    async def begun(self, request: Request) -> Response:
        """Start with the demo, or with a blank workbook."""
        form = await request.form(max_fields=5)
        name = await run_in_threadpool(self._begin, str(form.get("with")))
        self.workplace.remember(book=name)
        return _to("/")

    def _begin(self, kind: str) -> str:
        from scenarios.files.write_scenario import write_blank, write_workbook
        from scenarios.variants.by_name import read

        demo = read("hollow_ash")
        with TemporaryDirectory(dir=self.workplace.folder, prefix=".part-") as place:
            part = Path(place) / "book.xlsx"
            if kind == "demo":
                write_workbook(demo, part)
            else:
                write_blank(part, examples=demo if kind == "examples" else None)
            return self.workplace.add(
                "hollow ash.xlsx" if kind == "demo" else "my nursery.xlsx", part.read_bytes()
            )

    async def chosen(self, request: Request) -> Response:
        """Put another scenario of the folder on the desk."""
        name = str((await request.form(max_fields=5)).get("book"))
        if name not in self.workplace.books():
            return self.told("There is no such scenario", "Choose one of the folder's.")
        self.workplace.remember(book=name)
        return _to("/")

    async def always(self, request: Request) -> Response:
        """Whether the plan is made whenever the file is saved."""
        form = await request.form(max_fields=5)
        self.workplace.remember(always="always" in form)
        return _to("/")

    def marked(self, request: Request) -> Response:
        """A copy of the workbook with its faulty cells marked."""
        reading = self.watch.reading()
        if reading is None or not reading.faults or not reading.book.lower().endswith(".xlsx"):
            return self.told("There is nothing to mark", "The scenario on the desk has no faulty cells.")
        with TemporaryDirectory() as place:
            copy = Path(place) / "marked.xlsx"
            write_marked(self.workplace.folder / reading.book, reading.faults, copy)
            data = copy.read_bytes()
        name = f"{Path(reading.book).stem} marked.xlsx"
        return Response(data, headers={"Content-Disposition": _attached(name)}, media_type=_kind(copy))

    def _saved(self, reading: Reading) -> None:
        """Make the plan again once the file is saved, where a person wants that."""
        if not self.workplace.state.get("always"):
            return
        for run in self.runs.all():
            if run.state == "running" and run.by_itself:
                self.runs.stop(run)
        if reading.sound:
            self.runs.start("plan", [], [], self.screens["plan"].page, by_itself=True)

    # Questions and answers

    def screen(self, request: Request) -> Response:
        """The screen of a question."""
        screen = self.screens.get(request.path_params["verb"])
        if screen is None:
            return self.told("There is no such question", "Choose one of those on the desk.", 404)
        return self._screen(screen, {})

    async def asked(self, request: Request) -> Response:
        """Ask it."""
        screen = self.screens.get(request.path_params["verb"])
        if screen is None:
            return self.told("There is no such question", "Choose one of those on the desk.", 404)
        form = await request.form(max_fields=100)
        given = {field.name: [str(value) for value in form.getlist(field.name)] for field in screen.fields}
        return await run_in_threadpool(self._ask, screen, given)

    def _ask(self, screen: Screen, given: dict[str, list[str]]) -> Response:
        reading = self.watch.reading()
        if reading is None or not reading.sound:
            return self.told("The scenario has faults", "Mend them first: they stand on the desk.")
        with self.written():
            wrong = self._not_offered(screen, given)
            if wrong:
                return self._screen(screen, given, wrong)
            options, placed = screen.arguments(self._in_full(screen, given))
        try:
            run = self.runs.start(screen.verb, options, placed, screen.page)
        except TooMany:
            return self._screen(
                screen, given, ["Too many questions are open: stop one, or wait for its answer."]
            )
        return _to(f"/answers/{run.number}")

    def _not_offered(self, screen: Screen, given: dict[str, list[str]]) -> list[str]:
        """What must be given and is not, and picks that are not in their list."""
        wrong = []
        for field in screen.fields:
            values = [value for value in given[field.name] if value.strip()]
            if field.required and not values:
                wrong.append(f"{field.label}: fill it in.")
            offered = dict(self._offers(field))
            if field.offers and not field.free and any(value not in offered for value in values):
                wrong.append(f"{field.label}: choose one of the list.")
            if field.kind is FieldKind.NUMBER:
                wrong += [f"{field.label}: '{value}' {why}." for value in values if (why := _unlike(value))]
        return wrong

    def _in_full(self, screen: Screen, given: dict[str, list[str]]) -> dict[str, list[str]]:
        """Names of files and of earlier plans as paths of the folder, numbers with decimal points."""
        found = dict(given)
        for field in screen.fields:
            if field.kind is FieldKind.NUMBER:
                typed = (value for value in given[field.name] if value.strip())
                found[field.name] = [f"{number_typed(value):.15g}" for value in typed]
            if field.kind is FieldKind.DAY:
                found[field.name] = [plain_day(value) for value in given[field.name]]
            if field.offers in ("files", "variants"):
                found[field.name] = [str(self.workplace.folder / name) for name in given[field.name] if name]
            if field.offers == "plans":
                runs = {str(run.number): run for run in self.runs.all()}
                found[field.name] = [
                    str(self.runs.folder(runs[name]) / "files") for name in given[field.name] if name in runs
                ]
        return found

    def _offers(self, field: Field) -> list[tuple[str, str]]:
        """Values from which a person picks, each with its words."""
        if field.choices:
            return [(choice, choice) for choice in field.choices]
        if field.offers == "files":
            return [(name, name) for name in self.workplace.files()]
        if field.offers == "variants":
            return [(name, name) for name in self.workplace.books() if name != self.workplace.book]
        if field.offers == "plans":
            made = [run for run in self.runs.all() if run.verb in ("plan", "replan") and run.state == "done"]
            with self.written():
                told = {
                    run.number: f"answer {run.number}, {run.verb} of {_day_told(run.started)}" for run in made
                }
            return [(str(number), words) for number, words in told.items()]
        reading = self.watch.reading()
        names = () if reading is None else reading.offers.get(field.offers, ())
        return [(name, name) for name in names]

    def _screen(self, screen: Screen, given: dict[str, list[str]], wrong: Sequence[str] = ()) -> Response:
        reading = self.watch.reading()
        return self.page(
            "screen.html",
            title=screen.title,
            screen=screen,
            given=given,
            wrong=list(wrong),
            offers={field.name: self._offers(field) for field in screen.fields},
            reading=reading,
            status=400 if wrong else 200,
        )

    def answer(self, request: Request) -> Response:
        """An answer: how it goes, what it says, its page and its files."""
        run = self.runs.get(request.path_params["number"])
        if run is None:
            return self.told("There is no such answer", "Choose one of those on the desk.", 404)
        files = self.runs.files(run)
        screen = self.screens.get(run.verb)
        return self.page(
            "answer.html",
            title=run.verb if screen is None else screen.title,
            run=run,
            told=[line for line in self.runs.told(run) if not line.startswith("Written: ")],
            files=[name for name in files if "/" not in name],
            more=[name for name in files if "/" in name],
            page=run.page if run.page in files else None,
            same=self._same(run),
            **self._progress(run),
        )

    def _same(self, run: Run) -> bool:
        """Whether the scenario is still what it was when the question was asked."""
        return run.book == self.workplace.book and run.hashed == self.workplace.hashed(run.book)

    def progress(self, request: Request) -> Response:
        """How a run goes, for its page."""
        run = self.runs.get(request.path_params["number"])
        return JSONResponse({} if run is None else {"state": run.state, **self._progress(run)})

    def _progress(self, run: Run) -> dict[str, Any]:
        left = self.runs.left(run) if run.state == "running" else None
        return {
            "phase": self.runs.phase(run) if run.state == "running" else "",
            "elapsed": round(self.runs.elapsed(run), 1),
            "left": None if left is None else round(left),
        }

    def stopped(self, request: Request) -> Response:
        """Stop a run."""
        run = self.runs.get(request.path_params["number"])
        if run is None:
            return self.told("There is no such answer", "Choose one of those on the desk.", 404)
        self.runs.stop(run)
        return _to(f"/answers/{run.number}")

    def file(self, request: Request) -> Response:
        """A file of an answer: shown where it is a page or a picture, else taken away."""
        run = self.runs.get(request.path_params["number"])
        path = None if run is None else self.runs.file(run, request.path_params["name"])
        if path is None or path.is_symlink():
            return self.told("There is no such file", "Choose one of the answer's.", 404)
        kind = KINDS.get(path.suffix)
        headers = {"Content-Security-Policy": PAGE_POLICY} if kind == "text/html" else {}
        if kind is None:
            headers["Content-Disposition"] = _attached(path.name)
        return FileResponse(path, media_type=kind or _kind(path), headers=headers)

    # Parts

    def look(self, request: Request) -> Response:
        """The style sheet."""
        return Response(rendered("desk.css", parts=PAGES, style=style), media_type="text/css")

    def script(self, request: Request) -> Response:
        """The script."""
        return Response((PAGES / "desk.js").read_text(encoding="utf-8"), media_type="text/javascript")

    def _questions(self) -> list[tuple[str, list[Screen]]]:
        """The screens by the question that they answer."""
        found: dict[str, list[Screen]] = {}
        for screen in self.screens.values():
            for question in screen.questions:
                found.setdefault(question, []).append(screen)
        return list(found.items())

    def told(self, title: str, line: str, status: int = 400) -> Response:
        """A page that says one thing."""
        return self.page("told.html", title=title, lines=[line], status=status)

    def page(self, name: str, *, title: str, status: int = 200, **values: Any) -> HTMLResponse:
        """A page of that template."""
        with self.written():
            text = rendered(name, parts=PAGES, title=title, day_told=_day_told, **values)
        return HTMLResponse(text, status)

    def written(self) -> AbstractContextManager[None]:
        """Within it, days and numbers are told and read as the scenario on the desk writes them."""
        reading = self.watch.reading()
        return written_as(None if reading is None or reading.scenario is None else reading.scenario.nursery)


def _day_told(day: date | str) -> str:
    """A day as the scenario on the desk writes it; of a text, an ISO day at its beginning."""
    if isinstance(day, date):
        return shown_day(day)
    try:
        return shown_day(date.fromisoformat(day[:10])) + day[10:]
    except ValueError:
        return day


def _to(address: str) -> RedirectResponse:
    return RedirectResponse(address, 303)


def _unlike(text: str) -> str:
    """Why a text is no number; blank where it is one."""
    try:
        number_typed(text)
    except ValueError as error:
        return "; ".join(error.args)
    return ""


def _kind(path: Path) -> str:
    return mimetypes.guess_type(path.name)[0] or "application/octet-stream"


def _attached(name: str) -> str:
    """The header that makes a browser keep a file; names are the desk's own or cleaned by it."""
    plain = "".join(c if c.isascii() and c not in '"\\' else "_" for c in name)
    return f'attachment; filename="{plain}"'

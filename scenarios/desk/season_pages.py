"""The pages of the season: what the plan foresees until a day, to be ticked, and what was told so far."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from reports.book.writing import shown_day
from scenarios.cells.faults import BadInput, Refused
from scenarios.desk import season
from scenarios.desk.runs import FILES, Run
from scenarios.desk.workplace import written

if TYPE_CHECKING:
    from scenarios.desk.app import Desk

MOST_FORM, MOST_FIELDS = 5_000_000, 20_000


class SeasonPages:
    """Pages over the last plan of the scenario on the desk, and over the file of its season."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk

    def routes(self) -> list[Route]:
        """Their addresses."""
        return [
            Route("/season", self.show, methods=["GET"]),
            Route("/season/done", self.done, methods=["POST"], max_body_size=MOST_FORM),
            Route("/season/counted", self.counted, methods=["POST"], max_body_size=MOST_FORM),
        ]

    def last(self) -> Run | None:
        """The last plan of the scenario on the desk."""
        runs = self.desk.runs.all()
        book = self.desk.workplace.book
        plans = (run for run in runs if run.verb in ("plan", "replan") and run.state == "done")
        return next((run for run in plans if run.book == book), None)

    def show(self, request: Request) -> Response:
        """What is due until a day."""
        return self._page(request.query_params.get("until", ""), [])

    def _page(self, until: str, wrong: list[str]) -> Response:
        run, reading = self.last(), self.desk.watch.reading()
        if run is None or reading is None:
            return self.desk.told(
                "There is no plan yet", "Make a plan first: then its work can be ticked here."
            )
        plan, file = self.desk.runs.folder(run) / FILES, self.desk.workplace.progress(run.book)
        try:
            day = date.fromisoformat(until)
        except ValueError:
            day = date.today()
        try:
            found, told = season.tasks(plan, file, day, self._first()), season.rows_of(file)
        except BadInput:
            why = "The last plan was not written by this version, or its files have changed. Plan again."
            return self.desk.told("The season cannot be shown", why)
        except (Refused, OSError) as error:
            return self.desk.told("The season cannot be shown", str(error))
        counts = {what.value: words for what, words in season.COUNTED.items()}
        return self.desk.page(
            "season.html",
            title="The season",
            wrong=wrong,
            run=run,
            until=day.isoformat(),
            tasks=found,
            told=list(enumerate(told)),
            uncounted=[
                (n, row) for n, row in enumerate(told) if row["what"] in counts and not row["counted"]
            ],
            counts=counts,
            file=file.name,
            first=None if reading.scenario is None else reading.scenario.nursery.first_day,
            status=400 if wrong else 200,
        )

    async def done(self, request: Request) -> Response:
        """Write what was ticked into the season's file."""
        form = await request.form(max_fields=MOST_FIELDS)
        return await run_in_threadpool(self._done, form)

    def _done(self, form: FormData) -> Response:
        run = self.last()
        until = str(form.get("until", ""))
        if run is None:
            return RedirectResponse("/season", 303)
        ticked = {str(key) for key in form.getlist("done")}
        file = self.desk.workplace.progress(run.book)
        rows, wrong = [], []
        with self.desk.written():
            for task in self._tasks(run, file, until):
                if task.key in ticked:
                    number, count = (
                        str(form.get(f"number {task.key}", "")),
                        str(form.get(f"count {task.key}", "")),
                    )
                    try:
                        rows.append(season.ticked(task, number, count))
                    except ValueError as error:
                        day = shown_day(task.row.day)
                        wrong.append(f"{day}, {task.words}: {error}.")
        wrong = wrong or self._kept(file, lambda: season.add(file, rows))
        return self._page(until, wrong) if wrong else RedirectResponse(f"/season?until={until}", 303)

    def _kept(self, file: Path, write: Callable[[], None]) -> list[str]:
        """Write the season's file; where the scenario then has faults, put the file back and tell them."""
        before = file.read_bytes() if file.is_file() else None
        write()
        reading = self.desk.watch.reading()
        if reading is None or reading.sound:
            return []
        if before is None:
            file.unlink()
        else:
            written(file, before)
        return [str(fault) for fault in reading.faults] or [reading.refused]

    def _count(self, file: Path, counts: dict[int, str]) -> None:
        with self.desk.written():
            season.count(file, counts)

    def _tasks(self, run: Run, file: Path, until: str) -> list[season.Task]:
        plan = self.desk.runs.folder(run) / FILES
        return season.tasks(plan, file, date.fromisoformat(until), self._first())

    def _first(self) -> date:
        """First day of the scenario, as far as it can be read."""
        reading = self.desk.watch.reading()
        if reading is None or reading.scenario is None:
            return date.min
        return reading.scenario.nursery.first_day

    async def counted(self, request: Request) -> Response:
        """Write counts into rows told before."""
        form = await request.form(max_fields=MOST_FIELDS)
        return await run_in_threadpool(self._counted, form)

    def _counted(self, form: FormData) -> Response:
        run = self.last()
        until = str(form.get("until", ""))
        if run is None:
            return RedirectResponse("/season", 303)
        file = self.desk.workplace.progress(run.book)
        counts = {
            int(name.removeprefix("count ")): str(text)
            for name, text in form.items()
            if name.startswith("count ") and str(text).strip()
        }
        try:
            wrong = self._kept(file, lambda: self._count(file, counts))
        except (ValueError, IndexError) as error:
            wrong = [f"{error}."]
        return self._page(until, wrong) if wrong else RedirectResponse(f"/season?until={until}", 303)

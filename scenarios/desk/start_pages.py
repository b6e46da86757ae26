"""The page of the start: a dozen questions and a list of orders make a first workbook."""

from __future__ import annotations

import csv
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from scenarios.cells.faults import BadInput, Fault
from scenarios.desk.workplace import named
from scenarios.start.questions import QUESTIONS, answered_in, read_answers
from scenarios.start.start_orders import START_ORDERS, StartOrder, read_start_orders

if TYPE_CHECKING:
    from scenarios.desk.app import Desk

MOST_FORM = 3_000_000
HEADING = [column.name for column in START_ORDERS.columns]


class StartPages:
    """Pages that make a first scenario."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk

    def routes(self) -> list[Route]:
        """Their addresses."""
        return [
            Route("/start", self.show, methods=["GET"]),
            Route("/start", self.made, methods=["POST"], max_body_size=MOST_FORM),
        ]

    def show(self, request: Request) -> Response:
        """The questions."""
        return self._page({}, [])

    def _page(self, given: dict[str, str], wrong: list[str]) -> Response:
        return self.desk.page(
            "start.html",
            title="A first scenario",
            wrong=wrong,
            given=given,
            questions=QUESTIONS,
            heading=", ".join(HEADING),
            status=400 if wrong else 200,
        )

    async def made(self, request: Request) -> Response:
        """Write the workbook and put it on the desk."""
        async with request.form(max_fields=100, max_part_size=MOST_FORM) as form:
            given = {name: str(value) for name, value in form.items()}
        return await run_in_threadpool(self._made, given)

    def _made(self, given: dict[str, str]) -> Response:
        from scenarios.files.write_scenario import write_workbook
        from scenarios.start.first_scenario import first_scenario

        faults = []
        with TemporaryDirectory() as folder:
            try:
                answers = read_answers(given)
            except BadInput as bad:
                faults += bad.faults
            try:
                with answered_in(given):
                    orders = pasted(given.get("orders", ""), Path(folder))
            except BadInput as bad:
                faults += bad.faults
            if faults:
                return self._page(given, [str(fault) for fault in faults])
            path = Path(folder) / "start.xlsx"
            write_workbook(first_scenario(answers, orders), path)
            name = self.desk.workplace.add(named(answers.name, ".xlsx"), path.read_bytes())
        self.desk.workplace.remember(book=name)
        return RedirectResponse("/", 303)


def pasted(text: str, folder: Path) -> tuple[StartOrder, ...]:
    """Orders pasted from a spreadsheet or typed, with or without a heading; raises ``BadInput``.

    Cells stand apart by tabs, else by semicolons, else by commas.
    """
    lines = [line for line in text.splitlines() if line.strip()]
    if not lines:
        raise BadInput([Fault("start", None, "orders", "", "are missing", "paste at least one order")])
    mark = next((mark for mark in ("\t", ";") if any(mark in line for line in lines)), ",")
    rows = [[cell.strip() for cell in row] for row in csv.reader(lines, delimiter=mark)]
    if rows and rows[0][0].casefold() != HEADING[0]:
        rows.insert(0, HEADING[: max(len(row) for row in rows)])
    path = folder / "start_orders.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, delimiter=mark).writerows(rows)
    return read_start_orders(path)

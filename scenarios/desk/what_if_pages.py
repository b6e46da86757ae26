"""The pages of what-ifs: sliders for the figures that matter most, and any cell of any table."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from model.scenario.tables import BY_NAME
from scenarios.cells.typed import number_typed
from scenarios.desk import what_if
from scenarios.desk.what_if import EVERY, WAYS, Change
from scenarios.desk.workplace import named

if TYPE_CHECKING:
    from scenarios.desk.app import Desk

MOST_FORM = 100_000
NEUTRAL = "100"
"""Per cent at which a slider changes nothing."""


class WhatIfPages:
    """Pages that make variants of the scenario on the desk."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk

    def routes(self) -> list[Route]:
        """Their addresses."""
        return [
            Route("/what-if", self.show, methods=["GET"]),
            Route("/what-if", self.made, methods=["POST"], max_body_size=MOST_FORM),
        ]

    def show(self, request: Request) -> Response:
        """The sliders, and the rows and columns of a table."""
        return self._page({"table": request.query_params.get("table", "")}, [])

    def _page(self, given: dict[str, str], wrong: list[str]) -> Response:
        reading = self.desk.watch.reading()
        if reading is None or reading.scenario is None:
            return self.desk.told("The scenario has faults", "Mend them first: they stand on the desk.")
        tables, name = what_if.tables(reading.scenario), given.get("table", "")
        table = BY_NAME[name] if name in tables else None
        return self.desk.page(
            "what_if.html",
            title="What if?",
            wrong=wrong,
            given=given,
            book=reading.book,
            variants=[book for book in self.desk.workplace.books() if book.endswith(".toml")],
            sliders=what_if.sliders(),
            tables=tables,
            table=table,
            keys=[] if table is None else what_if.keys(reading.scenario, table),
            columns=[] if table is None else what_if.columns(table),
            ways=WAYS,
            every=EVERY,
            status=400 if wrong else 200,
        )

    async def made(self, request: Request) -> Response:
        """Write the variant."""
        form = await request.form(max_fields=100)
        given = {name: str(value) for name, value in form.items()}
        return await run_in_threadpool(self._made, given)

    def _made(self, given: dict[str, str]) -> Response:
        book = self.desk.workplace.book
        name = given.get("name", "").strip()
        if book is None or not name:
            return self._page(given, ["Give the what-if a name."])
        try:
            with self.desk.written():
                changes = self._changes(given)
                text = what_if.text_of_variant(name, book, changes)
        except (ValueError, KeyError) as error:
            why = "; ".join(map(str, error.args)) if len(error.args) > 1 else "cannot stand there"
            return self._page(given, [f"'{given.get('figure', '')}' {why}."])
        if not changes:
            return self._page(given, ["Move a slider, or give a new figure."])
        file = self.desk.workplace.add(named(name, ".toml"), text.encode())
        faults = what_if.faults_of(self.desk.workplace.folder / file)
        if faults:
            (self.desk.workplace.folder / file).unlink()
            return self._page(given, faults)
        return RedirectResponse("/ask/compare", 303)

    def _changes(self, given: dict[str, str]) -> list[Change]:
        """The changes of the sliders that were moved, or the one of a cell."""
        if given.get("table"):
            row: tuple[tuple[str, str], ...] | str = given.get("row", "")
            if row and row != EVERY:
                row = tuple((str(k), str(v)) for k, v in json.loads(given["row"]).items())
            way = given.get("way", "")
            if way not in WAYS:
                raise ValueError(way)
            figure = given.get("figure", "").strip()
            if figure and (way != "value" or what_if.holds_number(given["table"], given["column"])):
                figure = repr(number_typed(figure))
            return [Change(given["table"], row, given["column"], way, figure)]
        changes = []
        for n, (_, table, column) in enumerate(what_if.sliders()):
            share = given.get(f"slider-{n}", NEUTRAL)
            if share != NEUTRAL:
                row = "" if table == "nursery" else EVERY
                changes.append(Change(table, row, column, "times", repr(float(share) / 100)))
        return changes

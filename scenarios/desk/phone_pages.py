"""The telephone's pages: an order asked for, and what is known of it so far."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from scenarios.cells.typed import plain_number
from scenarios.desk.telephone import Call, Telephone

if TYPE_CHECKING:
    from scenarios.desk.app import Desk

MOST_FORM = 20_000
ASKED = ("product", "quantity", "due_day", "price", "customer")
"""Columns of the order that a customer asks for."""

PROFIT_MARGIN = "0.25"


class PhonePages:
    """Pages over one telephone."""

    def __init__(self, desk: Desk) -> None:
        self.desk, self.telephone = desk, Telephone(desk.workplace)

    def routes(self) -> list[Route]:
        """Their addresses."""
        return [
            Route("/phone", self.ask, methods=["GET"]),
            Route("/phone", self.asked, methods=["POST"], max_body_size=MOST_FORM),
            Route("/phone/{number:int}", self.call, methods=["GET"]),
            Route("/phone/{number:int}/state", self.state, methods=["GET"]),
        ]

    def ask(self, request: Request) -> Response:
        """The form; the plan is made ready meanwhile."""
        return self._page(None)

    async def asked(self, request: Request) -> Response:
        """Ask."""
        form = await request.form(max_fields=20)
        given = {name: str(form.get(name, "")).strip() for name in (*ASKED, "profit_margin")}
        return await run_in_threadpool(self._asked, given)

    def _asked(self, given: dict[str, str]) -> Response:
        reading = self.desk.watch.reading()
        if reading is None or not reading.sound:
            return self.desk.told("The scenario has faults", "Mend them first: they stand on the desk.")
        typed = given.pop("profit_margin") or PROFIT_MARGIN
        with self.desk.written():
            margin = plain_number(typed, share=True).replace(",", ".")
            given["price"] = plain_number(given["price"])
        try:
            if not 0 <= float(margin) < 1:
                raise ValueError
        except ValueError:
            why = f"{margin} is not a share from 0 to below 1, such as 0.25."
            return self.desk.told("The profit margin cannot be read", why)
        order = {name: text for name, text in given.items() if text}
        order.setdefault("customer", "candidate")
        call = self.telephone.ask(reading.book, order, margin)
        return RedirectResponse(f"/phone/{call.number}", 303)

    def call(self, request: Request) -> Response:
        """What is known of an order so far."""
        call = self.telephone.calls.get(request.path_params["number"])
        if call is None:
            return RedirectResponse("/phone", 303)
        return self._page(call)

    def state(self, request: Request) -> Response:
        """The answers so far, for the page."""
        call = self.telephone.calls.get(request.path_params["number"])
        if call is None:
            return JSONResponse({"known": [], "state": "gone"})
        return JSONResponse({"known": sorted(call.answers), "state": "ended" if call.ended else "running"})

    def _page(self, call: Call | None) -> Response:
        reading = self.desk.watch.reading()
        if reading is None or not reading.sound:
            return self.desk.told("The scenario has faults", "Mend them first: they stand on the desk.")
        self.telephone.ready(reading.book)
        given: dict[str, Any] = {} if call is None else {**call.order, "profit_margin": call.profit_margin}
        return self.desk.page(
            "phone.html",
            title="A customer is on the telephone",
            products=reading.offers["products"],
            customers=reading.offers["customers"],
            given=given,
            margin=PROFIT_MARGIN,
            call=call,
            stage=self.telephone.stage,
        )

"""Rules of inquiries, and of orders that may be cancelled or hold plants for inquiries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from scenarios.cells.draft import Draft, DraftRow, Rule
from scenarios.cells.faults import Fault, shown
from scenarios.rules.nursery import outside

SAME = ("product", "due_day", "grows")
"""Columns in which all rows of an inquiry agree."""

ROUNDING = 1e-9
"""Chances that add up to 1 may be above it by so much."""


def _due_in_horizon(draft: Draft) -> Iterator[Fault]:
    for row in draft.rows("inquiries", "due_day"):
        yield from outside(draft, row, "due_day")


def _one_inquiry(draft: Draft) -> Iterator[Fault]:
    """Rows of one inquiry are of one product and day, and at most one of them comes about."""
    for rows in draft.grouped("inquiries", "inquiry").values():
        first, *others = rows
        for column in SAME:
            for row in others:
                if {column} <= row.values.keys() & first.values.keys() and row[column] != first[column]:
                    right = "nothing" if first[column] is None else shown(str(first[column]))
                    wrong = f"differs from row {first.number} of the same inquiry"
                    yield draft.spoiled(
                        row, column, wrong, f"write {right}, or give the inquiry another name"
                    )
        chances = [row["chance"] for row in rows if "chance" in row.values]
        if len(chances) == len(rows) > 1 and sum(chances) > 1 + ROUNDING:
            wrong = f"makes the chances of inquiry '{shown(first['inquiry'])}' add up to {sum(chances):g}"
            yield rows[-1].fault("chance", wrong, "write chances that add up to at most 1")


def _growing(draft: Draft) -> Iterator[Fault]:
    """An inquiry for more of an order is of its product and day, and the order is booked."""
    rows = [row for row in draft.rows("inquiries", "grows") if row["grows"] is not None]
    told: dict[str, list[DraftRow]] = defaultdict(list)
    for row, order in draft.targets(rows, "grows"):
        for column in ("product", "due_day"):
            if {column} <= row.values.keys() & order.values.keys() and row[column] != order[column]:
                wrong = f"is not that of order '{shown(order['order'])}', which these plants would enlarge"
                remedy = f"write {shown(str(order[column]))}, or clear grows"
                yield draft.spoiled(row, column, wrong, remedy)
        if order.values.get("held") and not told[order["order"]]:
            told[order["order"]].append(row)
            wrong = "holds plants for inquiries, so nobody has ordered it"
            yield row.fault("grows", wrong, "name an order that is booked, or clear grows")


def _held(draft: Draft) -> Iterator[Fault]:
    """Plants held are nobody's order: they have no price, and are not cancelled."""
    for row in draft.rows("orders", "held"):
        if not row["held"]:
            continue
        if row.values.get("price") is not None:
            wrong = "is a price of plants held for inquiries, which nobody has agreed"
            yield row.fault("price", wrong, "clear it, or write no in held")
        if row.values.get("cancel_chance"):
            wrong = "does not belong to plants held for inquiries: nobody has ordered them"
            yield row.fault("cancel_chance", wrong, "write 0, or no in held")


INQUIRIES = (
    Rule("inquiries are for days within the horizon", _due_in_horizon),
    Rule("rows of an inquiry exclude each other", _one_inquiry),
    Rule("an inquiry for more of an order fits it", _growing),
    Rule("plants held have no price", _held),
)

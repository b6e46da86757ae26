"""Which lots the plants of each order come from, worked by hand."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from model.planned.plan_tables import PLAN_TABLES, frame
from model.planned.trace import trace_rows
from model.scenario.schema import Type

SOWN, GRAFTED = date(2027, 3, 1), date(2027, 3, 22)
FIRST, SECOND = date(2027, 4, 12), date(2027, 4, 14)
BLANKS: dict[Type, Any] = {Type.DATE: GRAFTED, Type.TEXT: "", Type.REFERENCE: "P", Type.CHOICE: "own"}


def rows(name: str, *given: dict[str, Any]) -> Any:
    """A plan table of these cells, with others that do not matter here."""
    blank = {column.name: BLANKS.get(column.type, 0) for column in PLAN_TABLES[name].columns}
    return frame(name, [blank | row for row in given])


def pair(scion: str, joins: float, take: float) -> dict[str, Any]:
    return {"graft_day": GRAFTED, "rootstock_wave": "R", "scion_wave": scion, "joins": joins, "take": take}


def order(name: str, packed: date, plants: float, margin: float = 0.0) -> dict[str, Any]:
    return {"order": name, "pack_day": packed, "plants": plants, "margin_plants": margin, "offer": None}


def traced(finished: float, *orders: dict[str, Any]) -> list[tuple[str, str, float]]:
    """Order, scion wave and plants of 30 joins that heal at 0.9 and 70 that heal at 0.6, on one rootstock."""
    tables = {
        "waves": rows(
            "waves",
            {"wave": "R", "sow_day": SOWN},
            {"wave": "S2", "sow_day": date(2027, 3, 3)},
            {"wave": "S1", "sow_day": date(2027, 3, 2)},
        ),
        "joins": rows("joins", pair("S2", 70.0, 0.6), pair("S1", 30.0, 0.9)),
        "flows": rows("flows", {"finished": finished}),
        "deliveries": rows("deliveries", *orders),
    }
    return [(row["order"], row["scion_wave"], row["plants"]) for row in trace_rows(tables)]


def told(*right: tuple[str, str, float]) -> list[tuple[str, str, Any]]:
    return [(name, wave, pytest.approx(plants)) for name, wave, plants in right]


def test_an_order_takes_what_is_left_of_one_pair_before_the_next() -> None:
    """27 and 42 plants heal and all finish; A takes 20 of the first, B the last 7 and 23 of the second."""
    found = traced(69.0, order("A", FIRST, 20.0), order("B", FIRST, 30.0))
    assert found == told(("A", "S1", 20.0), ("B", "S1", 7.0), ("B", "S2", 23.0))


def test_who_is_packed_first_takes_first() -> None:
    found = traced(69.0, order("A", SECOND, 20.0), order("B", FIRST, 30.0))
    assert found == told(("B", "S1", 27.0), ("B", "S2", 3.0), ("A", "S2", 20.0))


def test_what_does_not_finish_is_lost_to_all_pairs_alike() -> None:
    """Of 69 that heal 46 finish: 18 of the first pair."""
    assert traced(46.0, order("A", FIRST, 20.0)) == told(("A", "S1", 18.0), ("A", "S2", 2.0))


def test_the_margin_of_an_order_goes_with_it() -> None:
    """A with its margin takes 24 of the 27; B takes 3 of them and 3 of the second, 5/6 of each to deliver."""
    found = traced(69.0, order("A", FIRST, 20.0, 4.0), order("B", SECOND, 5.0, 1.0))
    assert found == told(("A", "S1", 20.0), ("B", "S1", 2.5), ("B", "S2", 2.5))


def test_what_the_solver_rounds_off_is_taken_of_the_last_pair() -> None:
    found = traced(69.0, order("A", FIRST, 69.0 + 1e-5))
    assert [name for name, *_ in found] == ["A", "A"]
    assert sum(plants for *_, plants in found) == pytest.approx(69.0 + 1e-5, abs=1e-9)

"""Plan tables: types that do not depend on the rows, rows by name, and columns that are spelt right."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from model.planned.plan_tables import FACTS, PLAN_TABLES, Plan, frame, rows_of
from model.scenario.tables import BY_NAME
from model.solve import plan
from tests.by_hand import BY_HAND
from tests.places import ROOT
from tests.specimens import SPECIMENS

ORDER: dict[str, Any] = {
    "order": "O-1",
    "customer": "Market farm",
    "product": "Pair",
    "due_day": date(2027, 3, 1),
    "quantity": 20,
    "extra": 0,
    "own": 20,
    "bought": 0,
    "short": 0,
    "declined": 0,
    "late": 0,
    "late_discount": 0,
    "price": None,
    "margin": 0,
    "penalty": 50,
    "short_because": None,
}


def types(table: str, rows: list[dict[str, Any]]) -> list[str]:
    return [str(dtype) for dtype in frame(table, rows).dtypes]


def test_types_are_those_of_the_declaration_whatever_the_rows() -> None:
    expected = [*["object"] * 4, "int64", "int64", *["float64"] * 6, "object", "float64", "float64", "object"]
    for rows in ([], [ORDER], [ORDER | {"price": 1}], [ORDER | {"price": 0.5, "quantity": 20.0}, ORDER]):
        assert types("orders", rows) == expected


@pytest.mark.parametrize("table", PLAN_TABLES)
def test_an_empty_table_has_the_types_of_a_full_one(table: str) -> None:
    plans = [made for _, made in BY_HAND.values()] + [plan(SPECIMENS["buy-in"])]
    for made in plans:
        assert made.table(table).dtypes.to_dict() == frame(table, []).dtypes.to_dict()


def test_a_number_that_may_be_blank_is_a_float_or_none() -> None:
    (held,) = frame("orders", [ORDER | {"price": 1}])["price"]
    assert type(held) is float
    assert frame("orders", [ORDER])["price"].tolist() == [None]


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"plants": 3}, "plants"),
        ({"own": None}, "own has a blank"),
        ({"customer": None}, "customer has a blank"),
        ({"quantity": 2.5}, None),
        ({"own": "many"}, None),
        ({"price": "dear"}, None),
    ],
)
def test_rows_that_do_not_fit_are_refused(change: dict[str, Any], told: str | None) -> None:
    with pytest.raises(ValueError, match=told):
        frame("orders", [ORDER | change])


def test_a_row_without_a_column_is_refused() -> None:
    with pytest.raises(ValueError, match="penalty"):
        frame("orders", [{name: value for name, value in ORDER.items() if name != "penalty"}])


def test_rows_of_a_column_that_is_not_there_is_an_error_also_without_rows() -> None:
    with pytest.raises(KeyError, match="prise"):
        rows_of(frame("orders", []), "order", "prise")


@pytest.mark.parametrize("table", [*PLAN_TABLES.values(), FACTS], ids=lambda table: table.name)
def test_a_declaration_is_whole(table: Any) -> None:
    assert set(table.key) <= set(table.names)
    assert len(set(table.names)) == len(table.columns)
    for column in table.columns:
        assert column.title
        assert column.help
        for named, by in column.references:
            assert by in (BY_NAME[named] if named in BY_NAME else PLAN_TABLES[named]).by_name


def test_a_plan_has_an_attribute_for_each_table() -> None:
    assert [name for name in Plan.__dataclass_fields__ if name != "facts"] == list(PLAN_TABLES)


def test_headings_show_money_days_and_hours() -> None:
    shown = {
        ("orders", "price"): "Price (EUR a plant)",
        ("orders", "own"): "Own",
        ("items", "lead_days"): "Lead time (days)",
        ("hours", "hours"): "Worked (h)",
        ("costs", "amount"): "Amount (EUR)",
        ("joins", "take"): "Take",
    }
    for (table, column), heading in shown.items():
        assert PLAN_TABLES[table].by_name[column].titled("EUR") == heading


def test_facts_are_a_table_of_one_row() -> None:
    made = plan(SPECIMENS["buy-in"])
    (row,) = made.facts.table().to_dict("records")
    assert list(row) == FACTS.names
    assert row["objective"] == made.facts.objective
    assert row["whole"] is True
    assert row["numpy_version"] == made.facts.versions["numpy"]


def reads(tree: ast.AST) -> Iterator[tuple[str, str, int]]:
    """Table, column and line of each read by name: rows_of(plan.orders, "own"), plan.orders["own"]."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "rows_of":
            of, names = node.args[0], node.args[1:]
        elif isinstance(node, ast.Call) and getattr(node.func, "attr", "") in ("column", "columns"):
            of, names = node.args[0], node.args[1:]
            if isinstance(of, ast.Constant):
                of = ast.Attribute(ast.Name("report"), str(of.value))
        elif isinstance(node, ast.Subscript):
            of, names = node.value, [node.slice]
        else:
            continue
        if isinstance(of, ast.Attribute) and of.attr in PLAN_TABLES and _of_a_plan(of.value):
            for name in names:
                for leaf in name.elts if isinstance(name, ast.List) else [name]:
                    if isinstance(leaf, ast.Constant):
                        yield of.attr, str(leaf.value), node.lineno


def _of_a_plan(value: ast.expr) -> bool:
    """Whether an expression is a plan by its name, as ``plan``, ``report.plan``, ``made``."""
    name = value.attr if isinstance(value, ast.Attribute) else getattr(value, "id", "")
    return name in ("plan", "made", "result", "report", "last", "base", "sound")


def test_every_read_by_name_names_a_column() -> None:
    found = [
        (table, column, f"{path.relative_to(ROOT)}:{line}")
        for folder in ("model", "reports", "scenarios")
        for path in sorted((ROOT / folder).rglob("*.py"))
        for table, column, line in reads(ast.parse(Path(path).read_text(encoding="utf-8")))
    ]
    assert len(found) > 150
    assert [read for read in found if read[1] not in PLAN_TABLES[read[0]].by_name] == []

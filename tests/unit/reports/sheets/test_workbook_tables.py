"""The plan's tables as CSV files."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import pytest

from model.planned.plan_tables import PLAN_TABLES
from reports.plan.csv_tables import write_plan_tables
from tests.report_scenario import HOSTILE, report_plan


def read(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_every_table_is_written_with_its_columns_and_rows(tmp_path: Path) -> None:
    write_plan_tables(report_plan(), tmp_path / "new" / "tables")
    for name, table in PLAN_TABLES.items():
        with (tmp_path / "new" / "tables" / f"{name}.csv").open(encoding="utf-8", newline="") as file:
            heading, *rows = csv.reader(file)
        assert heading == table.names, name
        assert len(rows) == len(report_plan().table(name)), name


def test_figures_and_dates_come_back_as_they_were(tmp_path: Path) -> None:
    write_plan_tables(report_plan(), tmp_path)
    for row, held in zip(read(tmp_path / "joins.csv"), report_plan().joins.to_dict("records"), strict=True):
        assert float(row["joins"]) == held["joins"]
        assert row["graft_day"] == held["graft_day"].isoformat()
        assert row["rootstock_age"] == ("" if held["rootstock_age"] is None else str(held["rootstock_age"]))


def test_no_field_starts_like_a_formula(tmp_path: Path) -> None:
    write_plan_tables(report_plan(), tmp_path)
    texts = [
        value for name in PLAN_TABLES for row in read(tmp_path / f"{name}.csv") for value in row.values()
    ]
    assert not [text for text in texts if text.startswith(("=", "@", "+"))]
    assert {f"'{name}" for name in HOSTILE[:5]} <= set(texts)


@pytest.mark.parametrize("name", ["=1", "'=1", "''-1", "it's", "'quoted'", "plain"])
def test_a_text_comes_back_after_one_apostrophe_less(tmp_path: Path, name: str) -> None:
    orders = report_plan().orders.assign(customer=name)
    write_plan_tables(replace(report_plan(), orders=orders), tmp_path)
    written = read(tmp_path / "orders.csv")[0]["customer"]
    covered = name.lstrip("'").startswith(("=", "-"))
    assert written == (f"'{name}" if covered else name)

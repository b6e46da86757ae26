"""Seedlings kept as sowing margin at a level, as an owner finds them in the plan workbook."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from tests.specimens import SPECIMENS
from tests.workbooks import planned, table, write_report


def test_spare_seedlings_stand_on_a_sheet_of_their_own_and_beside_their_wave(tmp_path: Path) -> None:
    scenario = SPECIMENS["own margins"]
    result, traced = planned(scenario, whole=True)
    write_report(tmp_path / "plan.xlsx", scenario, result, traced=traced)
    book = openpyxl.load_workbook(tmp_path / "plan.xlsx", data_only=True)
    rows, kept = table(book["Spare seedlings"], "Graft day"), result.spare_seedlings
    rows = [row for row in rows if row["Wave"] is not None]
    assert not kept.empty
    assert [row["Spare seedlings"] for row in rows] == pytest.approx(kept["seedlings"].tolist())
    joins = result.joins.to_dict("records")
    for row in rows:
        side = f"{row['Side']}_wave"
        drawn = sum(
            join["seedlings"]
            for join in joins
            if (join["product"], join["graft_day"], join[side])
            == (row["Product"], row["Graft day"], row["Wave"])
        )
        assert row["Seedlings drawn for joins"] == pytest.approx(drawn)
        share = pytest.approx(row["Spare seedlings"] / drawn) if drawn else None
        assert row["Spare, as a share of those drawn"] == share
    assert any(row["Seedlings drawn for joins"] for row in rows)
    by_wave = kept.groupby("wave")["seedlings"].sum()
    for row in table(book["Sowing"], "Sow on"):
        if row["Wave"] is not None:
            assert row["Spare seedlings"] == pytest.approx(by_wave.get(row["Wave"], 0.0))


def test_no_sheet_and_no_column_where_none_are_kept(tmp_path: Path) -> None:
    scenario = SPECIMENS["on-tray"]
    result, traced = planned(scenario, whole=True)
    write_report(tmp_path / "plan.xlsx", scenario, result, traced=traced)
    book = openpyxl.load_workbook(tmp_path / "plan.xlsx", data_only=True)
    assert "Spare seedlings" not in book.sheetnames
    assert "Spare seedlings" not in table(book["Sowing"], "Sow on")[0]

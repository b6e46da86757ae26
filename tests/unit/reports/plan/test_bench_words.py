"""What lies ready at the grafting table, and what stands with the grafting jobs."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from math import ceil
from pathlib import Path

import pytest
from openpyxl import load_workbook

from model.planned.job_crews import assignments
from model.planned.plan_tables import records
from model.scenario.choices import Per
from model.scenario.records.trade import Supply, SupplyUse
from model.solve import plan
from reports.plan.bench_words import ready_at_the_table
from reports.plan.terminal import summary
from reports.work.work_lists import write_work_lists
from tests.scenario_parts import day
from tests.specimens import SPECIMENS
from tests.workbooks import planned, write_report


def test_supplies_of_the_joins_and_open_cuts_stand_on_the_list(tmp_path: Path) -> None:
    """A clip and two supports a join, all of one crew; five cuts open at a time; the ramp misted."""
    base = SPECIMENS["practice"]
    scenario = replace(
        base,
        methods=tuple(replace(row, open_cuts_most=5) for row in base.methods),
        stages=tuple(replace(row, mistings=4) if row.stage == "ramp" else row for row in base.stages),
        supplies=(*base.supplies, Supply("Sticks", "stick", 5000.0, 0)),
        supply_uses=(*base.supply_uses, SupplyUse("Sticks", Per.JOIN, None, None, 2.0)),
    )
    made = plan(scenario)
    given = assignments(made)
    for row in records(made.flows):
        parts = [part for part in given if part.job.day == row["graft_day"]]
        joins = row["joins"]
        (said,) = ready_at_the_table(scenario, parts)
        assert said.endswith(f": {ceil(joins - 1e-6):,} Clips, {ceil(2 * joins - 1e-6):,} Sticks.")
    write_work_lists(scenario, made, given, tmp_path / "lists.xlsx", first=day(0), days=28)
    pages = load_workbook(tmp_path / "lists.xlsx")
    text = "\n".join(
        str(cell) for page in pages for row in page.iter_rows(values_only=True) for cell in row if cell
    )
    for words in ("cuts open at a time: at most 5", "misted 4 times a day", "Ready at the table", "practise"):
        assert words in text
    assert ready_at_the_table(replace(scenario, supply_uses=()), given) == []


def test_trays_to_practise_on_stand_on_the_sheet_of_sowings(tmp_path: Path) -> None:
    """With the waves they are all the seed that the plan uses."""
    scenario = SPECIMENS["practice"]
    result, traced = planned(scenario, whole=True)
    write_report(tmp_path / "plan.xlsx", scenario, result, traced=traced)
    sheet = load_workbook(tmp_path / "plan.xlsx", data_only=True)["Sowing"]
    lines = [row for row in sheet.iter_rows(values_only=True) if row[0]]
    (head,) = (n for n, row in enumerate(lines) if "For new hands of" in row)
    at = {name: lines[head].index(name) for name in ("Seed lot", "Seeds", "Training from")}
    seeds: Counter[str] = Counter()
    for row in lines[head + 1 :]:
        if row[at["Seed lot"]]:
            assert row[0] < row[at["Training from"]]
            seeds[row[at["Seed lot"]]] += row[at["Seeds"]]
    assert seeds
    for row in records(result.waves):
        seeds[row["lot"]] += row["seeds"]
    used = {row["item"]: row["used"] for row in records(result.items) if row["item"] in seeds}
    assert dict(seeds) == pytest.approx(used)
    words = "\n".join(line.words for line in summary(scenario, result, []))
    assert "trays, besides trays to practise on" in words

"""What lies ready at the grafting table, and what stands with the grafting jobs."""

from __future__ import annotations

from dataclasses import replace
from math import ceil
from pathlib import Path

from openpyxl import load_workbook

from model.planned.job_crews import assignments
from model.planned.plan_tables import records
from model.scenario.choices import Per
from model.scenario.records.trade import Supply, SupplyUse
from model.solve import plan
from reports.plan.bench_words import ready_at_the_table
from reports.work.work_lists import write_work_lists
from tests.strategies import SPECIMENS, day


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

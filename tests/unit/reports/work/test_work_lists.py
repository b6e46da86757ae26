"""Work lists: what a crew has to do besides jobs on plants."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import openpyxl

from model.planned.job_crews import assignments
from model.solve import plan
from reports.work.work_lists import write_work_lists
from tests.scenario_parts import day
from tests.specimens import SPECIMENS


def test_a_day_spent_with_new_hands_alone_has_a_list(tmp_path: Path) -> None:
    """Grafters without a job on a day still learn that they have 1.5 hours with new hands."""
    scenario = SPECIMENS["shifts"]
    made = plan(scenario)
    given = assignments(made)
    busy = {part.job.day for part in given if part.crew == "Grafters"}
    rows = made.crew_days
    free = next(d for d in rows.loc[rows["crew"] == "Grafters", "day"] if d not in busy and d >= day(0))
    at = (rows["crew"] == "Grafters") & (rows["day"] == free)
    taught = replace(made, crew_days=rows.assign(training=at * 1.5))
    write_work_lists(scenario, taught, given, tmp_path / "lists.xlsx", first=free, days=1)
    book = openpyxl.load_workbook(tmp_path / "lists.xlsx")
    ours = [sheet for sheet in book if sheet.title.endswith("Grafters")]
    assert len(ours) == 2
    cells = [cell.value for sheet in ours for row in sheet.iter_rows() for cell in row]
    assert any("They spend 1.5 h more with new hands." in str(value) for value in cells)
    assert 1.5 in cells, "the hours by the clock of the week's page"


def test_a_list_says_how_many_temporary_hands_to_call(tmp_path: Path) -> None:
    """One hand is called on two days; on each its overtime is told beside its hours."""
    scenario = SPECIMENS["hands by the day"]
    made = plan(scenario)
    first = made.crew_days.query("called > 0")["day"].min()
    write_work_lists(scenario, made, assignments(made), tmp_path / "lists.xlsx", first=first, days=1)
    book = openpyxl.load_workbook(tmp_path / "lists.xlsx")
    cells = [str(cell.value) for sheet in book for row in sheet.iter_rows() for cell in row]
    (told,) = {text for text in cells if "Temporary hands to call: 1." in text}
    assert "h of it overtime" in told

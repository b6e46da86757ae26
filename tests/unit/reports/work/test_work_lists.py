"""Work lists: what a crew has to do besides jobs on plants."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import openpyxl

from model.planned.job_crews import assignments
from model.scenario.choices import Task
from model.solve import plan
from reports.work.work_lists import write_work_lists
from tests.scenario_parts import day, in_roles
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


def test_a_week_says_where_trays_go_that_are_moved_in_roles(tmp_path: Path) -> None:
    """A line for each role and zone, of trays; plants that go to wait are moved in trays too."""
    base = SPECIMENS["work"]
    scenario = replace(base, labour_standards=in_roles(base.labour_standards, Task.MOVE))
    made = plan(scenario)
    first = made.jobs.query("role == 'joiner'")["day"].min()
    write_work_lists(scenario, made, assignments(made), tmp_path / "lists.xlsx", first=first, days=30)
    book = openpyxl.load_workbook(tmp_path / "lists.xlsx")
    weeks = [sheet for sheet in book if " week, " in sheet.title]
    lines = [[cell.value for cell in row] for sheet in weeks for row in sheet.iter_rows()]
    moved = [line for line in lines if str(line[0]).startswith("move: ")]
    assert {line[0] for line in moved} == {"move: cutter", "move: joiner"}
    assert all(line[2] is not None and line[4] == "trays" for line in moved)

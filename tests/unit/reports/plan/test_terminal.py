"""The summary on the terminal: what it says, and that it reads in a pipe."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from rich.console import Console

from model.planned.plan_tables import frame
from reports.book.words import FIRST_PART
from reports.plan.terminal import print_summary
from tests.report_scenario import CHECKS, report_plan, report_scenario


def printed(width: int = 80, **changes: object) -> str:
    file = io.StringIO()
    scenario = report_scenario()
    nursery = replace(scenario.nursery, **changes)  # type: ignore[arg-type]
    console = Console(file=file, width=width, highlight=False)
    print_summary(console, replace(scenario, nursery=nursery), report_plan(), CHECKS)
    return file.getvalue()


def test_summary_answers_what_an_owner_asks_first() -> None:
    plan, text = report_plan(), printed()
    assert plan.penalties > 0
    with_them = f"({plan.cost:,.2f} with penalties for plants short)"
    assert f"{plan.cost - plan.penalties:,.2f} USD {with_them}" in " ".join(text.split())
    assert "254 ordered" in text
    assert "40 bought in" in text
    assert f"{plan.short:,.0f} plants" in text
    assert f"at most {plan.facts.gap:.2%} above" in text
    assert "2 of 2 passed" in text
    for label in ("cost a plant", "chamber", "work", "seed"):
        assert f"\n  {label} " in text
    assert "early (Market farm, due 2027-03-04) by 60 plants: no route" in text
    assert "What binds most, penalties counted:" in text
    assert FIRST_PART in " ".join(text.split())


@pytest.mark.parametrize("width", [40, 80, 200])
def test_lines_keep_to_the_width_and_are_plain_in_a_pipe(width: int) -> None:
    lines = printed(width, name="Oak").splitlines()
    assert max(map(len, lines)) <= width
    assert all(line == line.rstrip() for line in lines)
    assert all(character.isascii() for line in lines for character in line)


def test_a_name_is_neither_markup_nor_a_control_sequence() -> None:
    text = printed(name="[bold]Ash[/bold] \x1b[2J\x07\nfake line")
    assert "Plan for [bold]Ash[/bold]  [2J  fake line\n" in text
    assert "\x1b" not in text


def test_a_plan_in_which_nothing_binds_says_so() -> None:
    file = io.StringIO()
    plan = replace(report_plan(), shadow_prices=frame("shadow_prices", []))
    print_summary(Console(file=file, width=80), report_scenario(), plan, CHECKS)
    assert "No limit of slots, hours or offers binds." in file.getvalue()
    assert "What binds" not in file.getvalue()

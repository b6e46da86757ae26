"""A first scenario: a dozen answers and a list of orders, all else stated defaults."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from model.proof.audit import audit
from model.scenario.choices import MethodKind
from model.scenario.entities import Scenario
from model.solve import plan
from scenarios.cells.faults import BadInput
from scenarios.commands.command_line import BAD_INPUT, DONE, main
from scenarios.desk.start_pages import pasted
from scenarios.files.read_scenario import read_scenario
from scenarios.files.write_scenario import write_workbook
from scenarios.start.first_scenario import first_scenario
from scenarios.start.library import DEFAULT, grafted, own_root, task_times
from scenarios.start.questions import QUESTIONS, read_answers
from scenarios.start.start_orders import StartOrder, read_start_orders

TOLD = {
    "name": "Ferry Lane",
    "currency": "eur",
    "germination_slots": "80",
    "bench_slots": "300",
    "healing_slots": "120",
    "finishing_slots": "200",
    "grafters": "3",
    "grafter_pay": "18,5",
    "growers": "2",
    "grower_pay": "16",
    "scion_seed": "120",
    "rootstock_seed": "280",
}
HEADING = "customer,crop,variety,rootstock,cells,quantity,due_day,price"


def order(crop: str, rootstock: str | None, **more: Any) -> StartOrder:
    asked = StartOrder("Low Meadow", crop, f"A {crop}", rootstock, 72, 144, date(2027, 5, 4), 1.5)
    return replace(asked, **more)


def lists(folder: Path, *rows: str) -> Path:
    path = folder / "orders.csv"
    path.write_text("\n".join([HEADING, *rows]))
    return path


@pytest.mark.parametrize("crop", grafted())
@pytest.mark.parametrize("rootstock", ["Root", None])
def test_every_crop_makes_a_scenario_without_faults(crop: str, rootstock: str | None, tmp_path: Path) -> None:
    made = first_scenario(read_answers(TOLD), [order(crop, rootstock)])
    write_workbook(made, tmp_path / "made.xlsx")
    assert read_scenario(tmp_path / "made.xlsx") == made


def test_what_was_answered_is_in_it_and_nothing_else_is_without_its_source() -> None:
    made = first_scenario(read_answers(TOLD), [order("tomato", "Root"), order("melon", "Gourd", quantity=96)])
    assert (made.nursery.name, made.nursery.currency) == ("Ferry Lane", "EUR")
    assert [zone.slots for zone in made.zones] == [80, 300, 120, 200]
    assert [(crew.heads, crew.pay_per_hour) for crew in made.crews] == [(3, 18.5), (2, 16)]
    seed = {(pack.item, pack.size): pack.price for pack in made.packs}
    assert seed["A tomato seed", 1000] == 120
    assert seed["Root seed", 100] == 28
    tables = (made.methods, made.seed_lots, made.tray_formats, made.zones, made.crews, made.supplies)
    for row in (made.nursery, *made.labour_standards, *(row for table in tables for row in table)):
        note = row.note
        assert note is not None
        assert note.startswith(f"{DEFAULT}: ")
        assert len(note) > len(DEFAULT) + 10


def test_the_library_says_where_each_figure_comes_from() -> None:
    for way in grafted().values():
        assert way.source
        assert way.scion_age_min < way.scion_age_max
        assert way.rootstock_age_min < way.rootstock_age_max
        assert 0.5 < way.take < 1
        assert way.kind is not MethodKind.OWN_ROOT
    assert set(own_root()) == set(grafted())
    assert all(row.source for row in (*own_root().values(), *task_times()))


def test_a_first_plan_needs_few_answers_and_passes_the_audit() -> None:
    """At most 40 cells besides the orders; the plan grows both crops."""
    assert len(QUESTIONS) <= 40
    assert len([question for question in QUESTIONS if question.default is None]) == len(TOLD)
    made = first_scenario(read_answers(TOLD), [order("tomato", "Root"), order("melon", None)])
    result = plan(made, whole=False)
    assert [check.name for check in audit(made, result) if not check.passed] == []
    assert result.orders["own"].tolist() == pytest.approx([144, 144])


def test_seed_has_time_to_arrive_before_the_first_sowing() -> None:
    made = first_scenario(read_answers(TOLD), [order("eggplant", "Root"), order("cucumber", "Gourd")])
    way = grafted()["eggplant"]
    longest = way.rootstock_age_max + way.dark_days + way.ramp_days + way.finish_days
    assert (date(2027, 5, 4) - made.nursery.first_day).days == longest + made.seed_lots[0].lead_days + 7


BAD_ANSWERS = {
    ("name", ""): "is missing",
    ("currency", "gold"): "is not a currency in use",
    ("grafters", "three"): "is not a number",
    ("healing_slots", "-5"): "is out of range",
    ("bench_slots", "1e9"): "is out of range",
    ("temporary", "1.5"): "is not a whole number",
    ("grower_pay", "nan"): "is not a number",
    ("scion_seed", "1,400"): "may be 1.400 or 1400",
    ("rootstock_seed", "2.900"): "may be 2.900 or 2900",
    ("overhead", "1,000,5"): "is not a number",
}


def test_bad_answers_are_told_all_at_once() -> None:
    told = TOLD | dict([*BAD_ANSWERS])
    with pytest.raises(BadInput) as bad:
        read_answers(told)
    found = {(fault.column, fault.value): fault.wrong for fault in bad.value.faults}
    assert found == BAD_ANSWERS


def test_bad_orders_are_told_all_at_once(tmp_path: Path) -> None:
    path = lists(
        tmp_path,
        "A,tomatoe,Pinwheel,Anvil,72,100,2027-05-04,1",
        "A,tomato,Pinwheel,Anvil,0,100,2027-05-04,1",
        "A,cucumber,Pinwheel,Gourd,72,x,2027-05-04,1",
        "A,melon,Sunbowl,Anvil,72,100,2027-05-04,1",
        "A,tomato,,Anvil,72,100,2027-02-30,1",
    )
    with pytest.raises(BadInput) as bad:
        read_start_orders(path)
    told = {(fault.row, fault.column) for fault in bad.value.faults}
    right = {(2, "crop"), (3, "cells"), (4, "quantity"), (6, "variety"), (6, "due_day")}
    assert told >= right
    assert (5, "rootstock") in told
    assert "did you mean 'tomato'" in str(bad.value)


def test_orders_are_pasted_as_the_country_writes_them(tmp_path: Path) -> None:
    """With semicolons or tabs, a decimal comma says what the point between thousands is."""
    row = "Nørd;tomato;Pinwheel;Anvil;72;2.000;4.5.2027;24,50\n"
    for text in (row, row.replace(";", "\t"), HEADING.replace(",", ";") + "\n" + row):
        (read,) = pasted(text, tmp_path)
        assert (read.customer, read.quantity, read.due_day, read.price) == (
            "Nørd",
            2000,
            date(2027, 5, 4),
            24.5,
        )
    with pytest.raises(BadInput, match="paste at least one order"):
        pasted(" \n", tmp_path)


def test_an_empty_list_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="write at least one row"):
        read_start_orders(lists(tmp_path))


def test_the_command_writes_the_workbook(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path, target = lists(tmp_path, "A,tomato,Pinwheel,Anvil,72,100,2027-05-04,1"), tmp_path / "made.xlsx"
    given = [f"--{name.replace('_', '-')}={text}" for name, text in TOLD.items()]
    assert main(["start", str(target), f"--orders={path}", *given]) == DONE
    made = read_scenario(target)
    assert isinstance(made, Scenario)
    assert [row.quantity for row in made.orders] == [100]
    assert openpyxl.load_workbook(target)["methods"]["B2"].value
    assert main(["start", str(tmp_path / "other.xlsx"), f"--orders={path}", *given[1:]]) == BAD_INPUT
    assert "start, name: is missing" in capsys.readouterr().err
    assert not (tmp_path / "other.xlsx").exists()
    assert main(["start", str(tmp_path / "other.xlsx"), *given]) == BAD_INPUT

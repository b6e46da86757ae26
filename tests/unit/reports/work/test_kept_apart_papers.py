"""What is kept apart on paper: work lists, calendar, workbook, and the parts of a plant passport."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from model.planned.job_crews import assignments
from model.planned.plan_tables import Plan, rows_of
from model.scenario.choices import TraceabilityCode
from model.scenario.entities import Scenario
from model.solve import plan
from reports.plan.apart_words import Cleaning, cleanings, kept_apart_on
from reports.work.calendar_feed import calendar_feed
from reports.work.dispatch_notes import deliveries, passport
from reports.work.work_lists import write_work_lists
from tests.known_answers.test_kept_apart import TABLE, two_customers
from tests.scenario_parts import WORK, day
from tests.specimens import HANDS, SPECIMENS
from tests.strategies import with_nursery


@pytest.fixture(scope="module")
def scenario() -> Scenario:
    """Two customers that share no graft day, with a day of cleaning between."""
    rule = replace(TABLE, cleaning_days=1)
    made = replace(two_customers(rule, holding=2), labour_standards=WORK, crews=HANDS)
    return with_nursery(made, registration_number="NL-123456789", country_of_origin="NL")


@pytest.fixture(scope="module")
def made(scenario: Scenario) -> Plan:
    return plan(scenario)


def test_the_day_between_two_customers_is_for_cleaning(made: Plan) -> None:
    """Graft days 9, 10 and 11 reach both orders: one customer has the first, the other the last."""
    (cleaning,) = cleanings(made)
    assert cleaning == Cleaning("grafting table", cleaning.after, day(10), day(10))
    told = [kept_apart_on(made, day(t)) for t in (8, 9, 10, 11)]
    assert told[0] == []
    assert {told[1][0], told[3][0]} == {
        "Kept apart on this day: grafting table: customer Market farm.",
        "Kept apart on this day: grafting table: customer Shop.",
    }
    assert told[2] == [f"Kept apart on this day: grafting table: cleaning after {cleaning.after}."]


def test_a_day_says_what_goes_into_which_units() -> None:
    """Two graft days, one for each customer: the units of either are not for the other."""
    made = plan(SPECIMENS["kept apart in units"])
    loads = list(rows_of(made.unit_loads, "open_day", "not_for", "load_day"))
    for opened, not_for, loaded in loads:
        told = f"Chamber, units opened {opened} and not for {not_for}: Red on Stout"
        assert kept_apart_on(made, loaded) == [f"Kept apart on this day: {told}."]
    assert len({not_for for _, not_for, _ in loads}) == 2


def test_work_lists_say_whose_day_it_is(scenario: Scenario, made: Plan, tmp_path: Path) -> None:
    given = assignments(made)
    write_work_lists(scenario, made, given, tmp_path / "lists.xlsx", first=day(9), days=1)
    book = openpyxl.load_workbook(tmp_path / "lists.xlsx")
    texts = [str(cell.value) for sheet in book for row in sheet.iter_rows() for cell in row if cell.value]
    assert kept_apart_on(made, day(9))[0] in texts


def test_the_calendar_has_an_entry_for_each_cleaning(scenario: Scenario, made: Plan) -> None:
    feed = calendar_feed(scenario, assignments(made), stamped=day(0), cleaned=cleanings(made)).decode()
    assert feed.count("SUMMARY:Cleaning: grafting table") == 1
    assert f"DTSTART;VALUE=DATE:{day(10):%Y%m%d}" in feed[feed.index("SUMMARY:Cleaning") - 300 :]


def test_parts_of_a_passport_are_those_given(scenario: Scenario, made: Plan) -> None:
    found, *_ = deliveries(scenario, made, first=day(0), days=21)
    lots = {text for source in found.sources for text in (source.rootstock, source.scion)}
    told = dict(passport(found, scenario.nursery))
    assert told.keys() == {
        "Passport B, registration",
        "Passport C, traceability",
        "Passport D, origin",
    }
    assert set(str(told["Passport C, traceability"]).split(", ")) == lots
    own = replace(scenario.nursery, traceability_code=TraceabilityCode.OWN)
    assert dict(passport(found, own))["Passport C, traceability"] == found.order.order
    bare = replace(scenario.nursery, registration_number=None, country_of_origin=None)
    assert passport(found, bare) == []
    named = replace(found, product=replace(found.product, botanical_name="Solanum lycopersicum"))
    assert passport(named, bare)[0] == ["Passport A, botanical name", "Solanum lycopersicum"]

"""Tasks in roles, worked by hand: 2 cutters, 3 joiners and 1 clipper make 1,200 joins an hour together."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from model.planned.job_crews import assignments
from model.planned.jobs import jobs_of
from model.planned.tables.job_tables import Step
from model.questions.traced_costs import traced_parts
from model.scenario.choices import Per, Task
from model.scenario.entities import Product, Scenario
from model.scenario.records.people import Crew, LabourStandard, PieceRate, SkillLimit
from model.scenario.records.trade import Supply, SupplyUse
from model.solve import plan, solve
from reports.plan.bench_words import ready_at_the_table
from reports.plan.role_words import hands_by_role, role_hands
from tests.known_answers.build import crew, day, grafted_method, lot, order, own_root, planned, seed_price

AT_THE_TABLE = tuple(
    LabourStandard(Task.GRAFT, skill, None, None, hands * 3600 / 1200, role)
    for role, skill, hands in (("cutter", "cutting", 2), ("joiner", "joining", 3), ("clipper", "clipping", 1))
)
"""6, 9 and 3 seconds a join."""

CUTTERS = crew(crew="Cutters", skills=("cutting",), heads=1.0, pay_per_hour=10.0)
JOINERS = crew(crew="Joiners", skills=("joining",), heads=1.5, pay_per_hour=20.0)
CLIPPERS = crew(crew="Clippers", skills=("clipping",), heads=0.5, pay_per_hour=15.0)


def grafting_day(joins: int, *crews: Crew) -> Scenario:
    """Joins of one day of eight hours, on single trays; a plant short costs 100."""
    product = Product("plant", "tomato", "variety", "stock", "splice", "single", ("single",))
    return own_root(
        1,
        [order("one", joins, 0, shortfall_penalty=100)],
        products=(product,),
        methods=(grafted_method(),),
        seed_lots=(lot(), lot("stock")),
        crews=crews,
        labour_standards=AT_THE_TABLE,
    )


def test_hours_of_the_roles_stand_in_their_ratio(tmp_path: Path) -> None:
    """4,800 joins take four hours of the table: 8 h of cutters, 12 of joiners, 4 of clippers."""
    made = planned(grafting_day(4800, CUTTERS, JOINERS, CLIPPERS), tmp_path)
    hours = made.hours.set_index(["crew", "task"])["hours"].to_dict()
    at = zip(("Cutters", "Joiners", "Clippers"), ("cutter", "joiner", "clipper"), strict=True)
    assert [hours[crew, f"graft: {role}"] for crew, role in at] == pytest.approx([8, 12, 4])
    assert made.cost == pytest.approx(8 * 10 + 12 * 20 + 4 * 15)
    jobs = [job for job in jobs_of(made).values() if job.step is Step.GRAFT]
    assert [(job.task, job.skill, job.count, job.hours) for job in jobs] == [
        ("graft: clipper", "clipping", pytest.approx(4800), pytest.approx(4)),
        ("graft: cutter", "cutting", pytest.approx(4800), pytest.approx(8)),
        ("graft: joiner", "joining", pytest.approx(4800), pytest.approx(12)),
    ]


def test_the_scarcest_role_limits_the_joins(tmp_path: Path) -> None:
    """Cutters have 8 h, 4,800 cuts; those who can clip and cut help out where clipping leaves them time."""
    short = planned(grafting_day(6000, CUTTERS, replace(JOINERS, heads=2), CLIPPERS), tmp_path)
    assert short.orders["short"].sum() == pytest.approx(1200)
    helping = replace(CLIPPERS, skills=("clipping", "cutting"), heads=1.0)
    full = planned(grafting_day(6000, CUTTERS, replace(JOINERS, heads=2), helping), tmp_path)
    assert full.orders["short"].sum() == pytest.approx(0)
    limited = replace(
        grafting_day(6000, CUTTERS, replace(JOINERS, heads=2), helping),
        skill_limits=(SkillLimit("cutting", None, 6.0),),
    )
    # Cutters cut for 6 h. Of x joins, helpers cut x / 600 - 6 h and clip x / 1200 h, together 8 h: x = 5,600.
    assert planned(limited, tmp_path).orders["short"].sum() == pytest.approx(400)


def test_pay_for_a_piece_is_shared_by_the_seconds_or_told_by_role(tmp_path: Path) -> None:
    """A join for 0.09 is 0.03 a cut: 600 cuts an hour make 18. 0.02 a cut make 12. An hour makes 10."""
    scenario = grafting_day(4800, CUTTERS, JOINERS, CLIPPERS)
    by_the_hour = 8 * 10 + 12 * 20 + 4 * 15
    shared = (PieceRate("Cutters", Task.GRAFT, None, None, 0.09),)
    made = planned(replace(scenario, piece_rates=shared), tmp_path)
    assert made.cost == pytest.approx(by_the_hour + 8 * (18 - 10))
    (row,) = made.pieces.to_dict("records")
    assert row["task"] == "graft: cutter"
    assert (row["pieces"], row["rate"]) == pytest.approx((4800, 0.03))
    own = PieceRate("Cutters", Task.GRAFT, None, None, 0.02, "cutter")
    both = replace(scenario, piece_rates=(*shared, own))
    assert planned(both, tmp_path).cost == pytest.approx(by_the_hour + 8 * (12 - 10))
    parts = traced_parts(solve(both, whole=False))
    assert set(parts["line"]) == {"graft labour"}
    assert parts["amount"].sum() == pytest.approx(by_the_hour + 8 * (12 - 10))


def test_whoever_does_every_role_is_paid_the_whole_piece(tmp_path: Path) -> None:
    """1,600 joins take 8 h of one hand: 0.10 a join are 160, twice the pay by the hour."""
    every = crew(crew="Grafters", skills=("cutting", "joining", "clipping"), pay_per_hour=10.0)
    rates = (PieceRate("Grafters", Task.GRAFT, None, None, 0.10),)
    made = planned(replace(grafting_day(1600, every), piece_rates=rates), tmp_path)
    assert made.cost == pytest.approx(160)


def test_the_closest_standard_has_all_the_roles(tmp_path: Path) -> None:
    """A row for the method alone counts before three for all methods."""
    whole = LabourStandard(Task.GRAFT, "joining", "splice", None, 18.0)
    scenario = grafting_day(2400, CUTTERS, JOINERS, CLIPPERS)
    scenario = replace(scenario, labour_standards=(*AT_THE_TABLE, whole))
    made = planned(scenario, tmp_path)
    assert made.hours["task"].tolist() == ["graft"]
    assert made.cost == pytest.approx(12 * 20)


def test_sowing_and_packing_in_roles(tmp_path: Path) -> None:
    """Seeds stand with the first role alone: they are taken from stock once."""
    roles = (("filler", 60.0), ("seeder", 120.0))
    scenario = own_root(
        1,
        [order("one", 40, 0, shortfall_penalty=100)],
        crews=(crew(pay_per_hour=10.0),),
        packs=(seed_price(0.5),),
        labour_standards=(
            *(LabourStandard(Task.SOW, "sowing", None, None, seconds, role) for role, seconds in roles),
            LabourStandard(Task.PACK, "sowing", None, None, 9.0, "boxer"),
            LabourStandard(Task.PACK, "sowing", None, "single", 0.0, "boxer"),
        ),
    )
    made = planned(scenario, tmp_path)
    assert made.cost == pytest.approx(10 * 40 * 180 / 3600)
    sown = [job for job in jobs_of(made).values() if job.step is Step.SOW]
    assert [(job.role, job.trays, job.seeds) for job in sown] == [
        ("filler", pytest.approx(40), pytest.approx(40)),
        ("seeder", pytest.approx(40), None),
    ]
    (packed,) = [job for job in jobs_of(made).values() if job.step is Step.PACK]
    assert (packed.task, packed.skill) == ("pack", None)


def test_hands_of_each_role_on_lists() -> None:
    """Over a shift of eight hours: one cutter, one and a half joiners, half a clipper. Clips lie once."""
    scenario = replace(
        grafting_day(4800, CUTTERS, JOINERS, CLIPPERS),
        supplies=(Supply("Clips", "clip", 10_000.0, 0),),
        supply_uses=(SupplyUse("Clips", Per.JOIN, None, None, 1.0),),
    )
    made = plan(scenario, whole=False)
    given = assignments(made)
    said = {part.crew: hands_by_role([part], 8.0) for part in given if part.job.step is Step.GRAFT}
    assert said["Cutters"] == ["Hands by role, each for the whole shift of 8 h. At graft: cutter 1."]
    laid = [ready_at_the_table(scenario, [part]) for part in given if part.job.step is Step.GRAFT]
    assert [line for lines in laid for line in lines] == ["Ready at the table for the joins: 4,800 Clips."]
    rows = [(row.day, row.task, row.role, row.hours, row.hands) for row in role_hands(scenario, made)]
    assert rows == [
        (day(0), "graft", "clipper", pytest.approx(4), pytest.approx(0.5)),
        (day(0), "graft", "cutter", pytest.approx(8), pytest.approx(1)),
        (day(0), "graft", "joiner", pytest.approx(12), pytest.approx(1.5)),
    ]

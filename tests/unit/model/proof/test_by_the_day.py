"""Work, supplies and moves of the audit's replay, by the day, of plans worked by hand."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from datetime import date

import pytest

from model.planned.plan_tables import Plan
from model.proof.audit import CHECKS, audit
from model.proof.checks.job_checks import _all_due
from model.proof.replay import Replay
from model.scenario.choices import Happened, PayBasis, Per, Task
from model.scenario.entities import Scenario
from model.scenario.records.past import Progress
from model.scenario.records.people import LabourStandard
from model.scenario.records.trade import Supply, SupplyUse
from tests.by_hand import BY_HAND, by_place
from tests.by_hand_later import LATER
from tests.mutations import rows_of, with_table
from tests.scenario_parts import day
from tests.strategies import with_nursery, with_rows
from tests.told import PLANS, apart, told, with_row, with_store

HOURS: dict[tuple[str, Task], dict[int, float]] = {
    ("own-root", Task.SOW): {2: 3},
    ("own-root", Task.MOVE): {4: 3, 6: 2.5},
    ("own-root", Task.TEND): {2: 3, 3: 3, 4: 3, 5: 3, 6: 2.5, 7: 2.5, 8: 2.5, 9: 2.5, 10: 2, 11: 2},
    ("own-root", Task.GRADE): {10: 20},
    ("own-root", Task.PACK): {12: 20},
    ("own-root", Task.GRAFT): {},
    ("root-cut in units", Task.GRAFT): {8: 40},
    ("root-cut in units", Task.STICK): {8: 40},
    ("root-cut in units", Task.MOVE): {6: 3, 7: 3, 8: 4, 11: 4},
    ("root-cut in units", Task.CARE): {8: 4, 9: 4, 10: 4},
    ("root-cut in units", Task.TEND): {4: 3, 5: 6, 6: 6, 7: 6, 11: 4, 12: 4},
    ("on-tray in units", Task.STICK): {},
    ("on-tray in units", Task.MOVE): {6: 5, 7: 3, 8: 5, 11: 5},
}
"""Hours by day where each task takes an hour a tray, a join or a plant."""


@pytest.mark.parametrize("name, task", HOURS)
def test_hours_that_the_work_takes(name: str, task: Task) -> None:
    scenario, plan = BY_HAND[name]
    standards = (LabourStandard(task, "general", None, None, 3600.0),)
    if task not in (Task.SOW, Task.MOVE, Task.TEND):  # work of which some belongs to no method
        rule, slow = scenario.methods[0].method, replace(standards[0], seconds=9999.0)
        standards = (slow, replace(standards[0], method=rule, format="ten"))
    replay = Replay(replace(scenario, labour_standards=standards), plan)
    right = {day(t): hours for t, hours in HOURS[name, task].items()}
    assert replay.needed == {("general", task.value, on): hours for on, hours in right.items()}
    jobs: dict[date, float] = defaultdict(float)
    for due in _all_due(replay):
        if due.task == task.value:
            jobs[due.day] += due.work
    assert jobs == right


@pytest.mark.parametrize("name", PLANS)
def test_a_standard_of_the_method_and_the_tray_itself_counts_as_well(name: str) -> None:
    scenario, plan = PLANS[name]
    rule = {Task.SOW: None}

    def itself(row: LabourStandard) -> LabourStandard:
        return replace(row, method=rule.get(row.task, scenario.methods[0].method), format="ten")

    closer = with_rows(scenario, "labour_standards", itself)
    slow = tuple(replace(row, seconds=9999.0) for row in scenario.labour_standards)
    both = replace(closer, labour_standards=(*slow, *closer.labour_standards))
    for made in (closer, both):
        assert [check for check in audit(made, plan) if not check.passed] == []


def test_a_standard_of_no_seconds_takes_no_hands() -> None:
    scenario, plan = BY_HAND["own-root"]
    none = (LabourStandard(Task.PACK, "general", None, None, 0.0),)
    replay = Replay(replace(scenario, labour_standards=none), plan)
    assert replay.needed == {}
    assert not [text for text, _ in told("jobs are due", replay.world.scenario, plan) if "pack" in text]


def test_consolidating_and_moving_to_holding_take_hours() -> None:
    scenario, plan = BY_HAND["on-tray in units"]
    slow = (LabourStandard(Task.CONSOLIDATE, "general", None, None, 3600.0),)
    closer = Replay(with_row("methods", consolidate=True)(replace(scenario, labour_standards=slow)), plan)
    assert closer.needed == {("general", "consolidate", day(11)): 3.6}
    assert [(due.day, due.work) for due in _all_due(closer) if due.task == "consolidate"] == [(day(11), 3.6)]
    scenario, plan = BY_HAND["own-root"]
    slow = (LabourStandard(Task.MOVE, "general", None, None, 3600.0),)
    needed = Replay(with_store(replace(scenario, labour_standards=slow)), plan).needed
    assert needed == {("general", "move", day(t)): trays for t, trays in ((4, 3.0), (6, 2.5), (10, 2.0))}


USES: dict[tuple[str, Per], dict[int, float]] = {
    ("root-cut in units", Per.TRAY_SOWN): {4: 3, 5: 3},
    ("root-cut in units", Per.JOIN): {8: 40},
    ("root-cut in units", Per.TRAY_STUCK): {8: 4},
    ("root-cut in units", Per.PLANT_DELIVERED): {13: 36},
    ("on-tray in units", Per.TRAY_STUCK): {},
    ("own-root", Per.JOIN): {},
}
"""Trays sown or stuck, joins made and plants delivered by day."""


@pytest.mark.parametrize("name, per", USES)
def test_supplies_that_are_used(name: str, per: Per) -> None:
    scenario, plan = BY_HAND[name]
    clips = replace(
        scenario,
        supplies=(Supply("clips", "each", 0.0, 0),),
        supply_uses=(SupplyUse("clips", per, None, None, 2.0),),
    )
    assert Replay(clips, plan).used["clips"] == {day(t): 2 * number for t, number in USES[name, per].items()}


def moves(scenario: Scenario, plan: Plan) -> list[tuple[date, str, str | None, str | None, float | None]]:
    """Moves of plants that are due: day, step, from, to and trays."""
    found = [due for due in _all_due(Replay(scenario, plan)) if due.task == "move" and due.name == "Pair"]
    return [(due.day, due.step, due.start, due.to, due.trays) for due in found]


def test_trays_are_moved_whole_until_they_are_healed() -> None:
    """The second healing stage stands in the house; 3.6 trays are filled from 5 only after it."""
    scenario, plan = BY_HAND["on-tray in units"]
    (flow,) = rows_of(plan, "flows")
    closer = with_table(plan, "flows", [flow | {"trays_finishing": 3.6}])
    stages = tuple(replace(stage, zone="House") if stage.step == 2 else stage for stage in scenario.stages)
    into = (day(8), "move to healing", None, "Chamber", 5.0)
    assert moves(replace(scenario, stages=stages), closer) == [
        into,
        (day(10), "move on", "Chamber", "House", 5.0),
    ]
    assert moves(scenario, closer) == [into, (day(11), "move on", "Chamber", "House", 3.6)]
    assert moves(replace(scenario, stages=()), plan) == [(day(8), "move to healing", None, "House", 5.0)]


def test_seedlings_stay_on_the_bench_until_they_are_drawn() -> None:
    scenario, plan = BY_HAND["own-root"]
    spans = [("W1", day(4), day(5), 3.0), ("W1", day(5), day(6), 3.0)]
    check = "seedlings suffice"
    assert told(check, scenario, replace(plan, bench_trays=by_place("bench_trays", spans))) == []
    spans[1] = ("W1", day(5), day(6), 2.0)
    assert told(check, scenario, replace(plan, bench_trays=by_place("bench_trays", spans))) == [
        (
            "wave W1 on 2027-03-06, seedlings still to be drawn against those on the bench: "
            "25.0000 is more than 20.0000",
            5.0,
        )
    ]


def test_waves_of_a_continuous_plan_cost_what_their_line_says() -> None:
    scenario, plan = BY_HAND["own-root"]
    line = ("waves", "fixed cost a wave", 2.5)
    costs = by_place("costs", [*(tuple(row.values()) for row in rows_of(plan, "costs")), line])
    facts = replace(plan.facts, whole=False, objective=27.9)
    costly = with_nursery(scenario, wave_cost=3.0)
    assert told("money adds up", costly, replace(plan, costs=costs, facts=facts)) == []


def test_a_committed_crew_is_paid_all_its_regular_hours() -> None:
    scenario, plan = BY_HAND["own-root"]
    paid = replace(plan, crew_days=plan.crew_days.assign(amount=16 * 20.0))
    committed = with_row("crews", pay_basis=PayBasis.COMMITTED)(scenario)
    assert told("crews keep their hours", committed, paid) == []


def test_hours_recorded_may_be_more_than_a_week_has() -> None:
    """5 hours on day 3, in the week of today, day 5: more than the 2 of two heads, but so it was."""
    scenario, plan = LATER["bought in"]
    row = Progress(day(3), Happened.WORKED, 5.0, crew="Growers")
    short = with_row("crews", week_hours_per_head=1.0)(scenario)
    worked = apart(apart(plan, "crew_days 4 regular = 5"), "crew_days 4 amount = 100")
    check = "crews keep their hours"
    right = [("Growers, week of 2027-03-08, hours: 4.5000 is more than 2.0000", 2.5)]
    assert told(check, replace(short, progress=(*short.progress, row)), worked) == right
    assert told(check, replace(short, progress=(*short.progress, replace(row, number=3.0))), worked) == [
        ("Growers, week of 2027-03-01, hours: 5.0000 is more than 3.0000", 2.0),
        *right,
    ]
    assert told(check, with_nursery(replace(short, progress=(row,)), today=day(14)), worked) == []


def test_a_use_left_out_and_a_rootstock_too_many() -> None:
    scenario, plan = BY_HAND["own-root"]
    unused = replace(plan, item_uses=by_place("item_uses", []))
    assert told("stock never runs out", scenario, unused) == [
        ("Red A on 2027-03-03, used: the plan says 0.0000, the replay 30.0000", 30.0)
    ]
    (join,) = rows_of(plan, "joins")
    rooted = with_table(plan, "joins", [join | {"rootstock_wave": "W1"}])
    assert ("joins of Red plain on 2027-03-07: an own-root product has a rootstock", 1.0) in told(
        "joins are possible", scenario, rooted
    )


def test_plants_that_leave_when_they_are_ready_are_not_moved_to_holding() -> None:
    scenario, plan = BY_HAND["on-tray in units"]
    slow = (LabourStandard(Task.MOVE, "general", None, None, 3600.0),)
    needed = Replay(with_store(replace(scenario, labour_standards=slow)), plan).needed
    assert {on: hours for (_, _, on), hours in needed.items()} == {
        day(t): trays for t, trays in HOURS["on-tray in units", Task.MOVE].items()
    }


def test_one_problem_is_told_alone_and_a_plan_beyond_reading_fails_every_check() -> None:
    scenario, plan = BY_HAND["own-root"]
    one = {check.name: check for check in audit(scenario, apart(plan, "waves 1 seeds = 31.0"))}
    assert one["waves are sown right"].detail == "wave W1, seeds: the plan says 31.0000, the replay 30.0000"
    beyond = audit(replace(scenario, seed_lots=None), plan)  # type: ignore[arg-type]
    assert [check.name for check in beyond] == list(CHECKS)
    assert {(check.passed, check.worst) for check in beyond} == {(False, float("inf"))}
    assert beyond[0].detail.startswith("the plan cannot be replayed: TypeError: ")


@pytest.mark.parametrize(
    "parts, sound",
    [
        ([(0.0, 0.5), (0.5, 1.0)], True),
        ([(0.5, 1.0), (0.0, 0.5)], True),
        ([(0.0, 0.5), (0.50009, 0.99991)], True),
        ([(0.0, 0.5), (0.6, 1.0)], False),
        ([(0.0, 0.5), (0.4, 1.0)], False),
        ([(0.1, 1.0)], False),
        ([(0.0, 0.9)], False),
        ([(0.0, 0.5), (0.5, 1.1)], False),
        ([], False),
    ],
)
def test_parts_of_a_job(parts: list[tuple[float, float]], sound: bool) -> None:
    scenario, plan = BY_HAND["own-root"]
    others = [tuple(row.values()) for row in rows_of(plan, "job_crews") if row["job"] != "J2"]
    mine = [("J2", "Growers", start, end, 1.0 / len(parts), 0.0) for start, end in parts]
    made = replace(plan, job_crews=by_place("job_crews", [*others, *mine]))
    told_of = [("job J2: the crews' parts do not add up to the whole job", 1.0)]
    found = told("crews do the jobs", scenario, made)
    assert [problem for problem in found if problem[0].startswith("job")] == ([] if sound else told_of)


def test_hours_of_every_move_are_hours_at_the_task_move() -> None:
    scenario, plan = BY_HAND["own-root"]
    jobs, crews, hours = (rows_of(plan, table) for table in ("jobs", "job_crews", "hours"))
    assert jobs[4]["step"] == "move to bench"
    jobs[4]["skill"] = "general"
    crews[4] |= {"crew": "Growers", "own": 1.0}
    hours.append(hours[0] | {"day": day(4), "task": "move"})
    for table, rows in (("jobs", jobs), ("job_crews", crews), ("hours", hours)):
        plan = with_table(plan, table, rows)
    assert told("crews do the jobs", scenario, plan) == []


def test_a_graft_day_may_be_spread_over_units_opened_on_two_days() -> None:
    scenario, plan = BY_HAND["on-tray in units"]
    batches = [("Chamber", day(t), day(11), 1.0, trays) for t, trays in ((7, 2.0), (8, 3.0))]
    loads = [("Chamber", day(t), day(11), "Pair", day(8), day(8), trays) for t, trays in ((7, 2.0), (8, 3.0))]
    check = "units run all-in all-out"
    two = replace(plan, unit_loads=by_place("unit_loads", loads))
    both = replace(two, unit_batches=by_place("unit_batches", batches))
    assert told(check, scenario, both) == []
    assert told(check, scenario, replace(two, unit_batches=by_place("unit_batches", batches[1:]))) == [
        ("Chamber opened 2027-03-08: loaded, but not in table unit_batches", 2.0),
        (
            "Pair grafted on 2027-03-09, trays loaded into Chamber: the plan says 3.0000, the replay 5.0000",
            2.0,
        ),
    ]


def test_a_unit_is_not_empty_before_a_stay_in_it_ends() -> None:
    scenario, plan = BY_HAND["on-tray in units"]
    for table in ("unit_batches", "unit_loads"):
        plan = with_table(plan, table, [row | {"shut_until": day(10)} for row in rows_of(plan, table)])
    told_of = told("units run all-in all-out", scenario, plan)
    assert told_of == [("Chamber opened 2027-03-09: shut until 2027-03-11, before a stay ends", 1.0)]


def test_seedlings_drawn_in_the_past_are_as_good_as_the_match() -> None:
    """A match may be wrong by .002 on both sides, so 10 seedlings a tray by .04."""
    scenario, plan = LATER["healed"]
    check = "waves are sown right"
    assert told(check, scenario, apart(plan, "waves 1 usable_per_tray = 10.039")) == []
    assert told(check, scenario, apart(plan, "waves 1 usable_per_tray = 10.041")) == [
        (
            "wave W1, usable seedlings per tray: the plan says 10.0410, the replay 10.0000",
            pytest.approx(0.041),
        )
    ]


def test_slots_of_what_is_still_decided() -> None:
    """From day 6 on: what stands in germination and on the bench was sown before, the house fills later."""
    scenario, plan = BY_HAND["own-root"]
    assert Replay(scenario, plan).newly == Replay(scenario, plan).standing
    replay = Replay(with_nursery(scenario, today=day(6)), plan)
    newly = {key: slots for key, slots in replay.newly.items() if slots}
    house = {day(t): 2.5 for t in (6, 7, 8, 9)} | {day(10): 2.0, day(11): 2.0}
    assert newly == {("House", on): slots for on, slots in house.items()}
    assert replay.standing == newly | {
        (zone, day(t)): 3.0 for zone, t in (("Warm room", 2), ("Warm room", 3), ("Bench", 4), ("Bench", 5))
    }

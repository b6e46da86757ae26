"""What each check tells of plans worked by hand with one thing changed: the place, both numbers, the size.

told.txt holds a check, a plan and a change in one line (table, row from 1, column = value), and below it all
that the check must tell, each with its size.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from model.planned.plan_tables import PLAN_TABLES, Plan
from model.proof.audit import CHECKS, audit
from model.proof.job_checks import _all_due
from model.proof.replay import Replay
from model.scenario.choices import Decline, Happened, MatchFrom, PayBasis, Per, Source, Task
from model.scenario.entities import DayOff, Progress, Scenario, Supply, SupplyUse
from model.scenario.people import CrewDay, LabourStandard
from tests.by_hand import BY_HAND, by_place
from tests.by_hand_later import LATER
from tests.mutations import rows_of, with_table
from tests.strategies import day, with_nursery, with_rows

PLANS = {**BY_HAND, **LATER}
Problems = list[tuple[str, float]]


def cases() -> list[tuple[str, str, str, Problems]]:
    """Check, plan, change and problems."""
    found: list[tuple[str, str, str, Problems]] = []
    for line in Path(__file__).with_name("told.txt").read_text(encoding="utf-8").splitlines():
        *texts, last = line.strip().split(" | ")
        if line.startswith(" "):
            found[-1][3].append((" | ".join(texts), float(last)))
        else:
            found.append((*texts, last, []))  # type: ignore[arg-type]
    return found


def told(check: str, scenario: Scenario, made: Plan) -> Problems:
    """The problems that a check finds, in order of their texts."""
    return sorted(CHECKS[check](Replay(scenario, made)))


def apart(plan: Plan, change: str) -> Plan:
    """The plan with one change, as told.txt writes it."""
    where, _, text = change.partition(" = ")
    table, number, column = where.split(" ")
    rows, n = rows_of(plan, table), int(number) - 1
    rows[n][column] = value(text, rows[n][column])
    return with_table(plan, table, rows)


def value(text: str, before: Any) -> Any:
    """The value that a text stands for, of the kind of the one before."""
    if text == "blank" or isinstance(before, str):
        return None if text == "blank" else text
    if isinstance(before, int | float):
        return type(before)(text) if text.lstrip("-").isdigit() else float(text)
    return type(before).fromisoformat(text)


@pytest.mark.parametrize("name", LATER)
def test_plans_with_a_past_pass(name: str) -> None:
    assert [check for check in audit(*LATER[name]) if not check.passed] == []


@pytest.mark.parametrize("check, name, change, problems", cases())
def test_a_check_tells_what_is_wrong(check: str, name: str, change: str, problems: Problems) -> None:
    scenario, plan = PLANS[name]
    found = told(check, scenario, apart(plan, change))
    assert [text for text, _ in found] == sorted(text for text, _ in problems)
    assert [size for _, size in found] == pytest.approx([size for _, size in sorted(problems)], abs=1e-4)


def test_every_check_is_told_of_but_that_of_columns_and_that_of_the_bound() -> None:
    checked = {check for check, *_ in cases()}
    assert set(CHECKS) - checked == {"tables have their columns", "salvage is surplus", "the bound holds"}


@pytest.mark.parametrize("name", PLANS)
@pytest.mark.parametrize("table", PLAN_TABLES)
def test_less_than_a_millionth_is_not_told(name: str, table: str) -> None:
    scenario, plan = PLANS[name]
    rows = rows_of(plan, table)
    names = {"size", "price"} if table == "purchases" else set()
    numbers = [c for c, cell in rows[0].items() if isinstance(cell, float) and cell > 0] if rows else []
    for column in set(numbers) - names:
        near = [{**rows[0], column: rows[0][column] - 4e-7}, *rows[1:]]
        failed = [check for check in audit(scenario, with_table(plan, table, near)) if not check.passed]
        assert failed == [], column


# Another scenario


def with_row(table: str, **changes: Any) -> Callable[[Scenario], Scenario]:
    """A change of all rows of a table."""
    return lambda scenario: with_rows(scenario, table, lambda row: replace(row, **changes))


def of_order(name: str, **changes: Any) -> Callable[[Scenario], Scenario]:
    """A change of one order."""
    return lambda scenario: with_rows(
        scenario, "orders", lambda row: replace(row, **changes) if row.order == name else row
    )


def off(t: int) -> Callable[[Scenario], Scenario]:
    """A day off."""
    return lambda scenario: replace(scenario, days_off=(DayOff(day(t)),))


def other_product(scenario: Scenario) -> Scenario:
    """Another product, which the first order asks for."""
    (product,) = scenario.products
    more = replace(scenario, products=(product, replace(product, product="other")))
    return of_order("O-1", product="other")(more)


def other_method(scenario: Scenario) -> Scenario:
    """Another method for the product."""
    (rule,), (stage,) = scenario.methods, scenario.stages
    more = replace(
        scenario,
        methods=(rule, replace(rule, method="other")),
        stages=(stage, replace(stage, method="other")),
    )
    return with_row("products", method="other")(more)


def with_store(scenario: Scenario) -> Scenario:
    """Ready plants are held in a zone of their own."""
    zones = (*scenario.zones, replace(scenario.zones[-1], zone="Store"))
    return with_row("methods", holding_zone="Store")(replace(scenario, zones=zones))


OTHERWISE: list[tuple[str, Callable[[Scenario], Scenario], str, Problems]] = [
    ("on-tray in units", off(4), "waves are sown right", [("wave W1: sown on 2027-03-05, a day off", 1)]),
    (
        "on-tray in units",
        off(8),
        "joins are possible",
        [("joins of Pair on 2027-03-09: grafted on a day off", 1)],
    ),
    ("healed", off(8), "joins are possible", []),
    ("healed", off(4), "waves are sown right", []),
    (
        "on-tray in units",
        off(8),
        "units run all-in all-out",
        [("Chamber opened 2027-03-09: opened on a day off", 1)],
    ),
    ("healed", off(8), "units run all-in all-out", []),
    (
        "own-root",
        with_row("products", source=Source.BUY),
        "flows add up",
        [("Red plain grafted on 2027-03-07: the product must only be bought in", 1)],
    ),
    ("delivered", with_row("products", source=Source.BUY), "flows add up", []),
    (
        "own-root",
        other_method,
        "flows add up",
        [("Red plain grafted on 2027-03-07: method must be other, not plain", 1)],
    ),
    (
        "on-tray in units",
        with_row("methods", consolidate=True),
        "flows add up",
        [("Pair grafted on 2027-03-09, trays finishing: the plan says 5.0000, the replay 3.6000", 1.4)],
    ),
    (
        "on-tray in units",
        with_row("methods", consolidate=True),
        "jobs are due",
        [("job consolidate Pair on 2027-03-12: missing", 36)],
    ),
    (
        "bought in",
        with_row("products", source=Source.GROW),
        "bought plants arrive",
        [
            ("offer offer on 2027-03-09: Red plain must not be bought in", 1),
            ("offer offer on 2027-03-13: Red plain must not be bought in", 1),
        ],
    ),
    (
        "bought in",
        with_row("buy_in_offers", delivery_weekdays=("Mon",)),
        "bought plants arrive",
        [("offer offer on 2027-03-13: the offer does not deliver on Sat", 1)],
    ),
    (
        "bought in",
        with_row("buy_in_offers", from_day=day(13)),
        "bought plants arrive",
        [("offer offer on 2027-03-13: before the offer's first day", 1)],
    ),
    ("bought in", with_row("buy_in_offers", from_day=day(12)), "bought plants arrive", []),
    (
        "bought in",
        with_row("buy_in_offers", to_day=day(11)),
        "bought plants arrive",
        [("offer offer on 2027-03-13: after the offer's last day", 1)],
    ),
    ("bought in", off(12), "bought plants arrive", [("offer offer on 2027-03-13: arrives on a day off", 1)]),
    (
        "bought in",
        with_row("buy_in_offers", least_quantity=35),
        "bought plants arrive",
        [
            (
                "offer offer on 2027-03-13, plants, the offer's least quantity against plants bought: "
                "35.0000 is more than 20.0000",
                15,
            )
        ],
    ),
    (
        "bought in",
        with_row("buy_in_offers", most_per_delivery=15),
        "bought plants arrive",
        [("offer offer on 2027-03-13, plants: 20.0000 is more than 15.0000", 5)],
    ),
    (
        "bought in",
        other_product,
        "bought plants arrive",
        [("offer offer on 2027-03-09: the offer and the order O-1 are not for one product", 1)],
    ),
    (
        "bought in",
        other_product,
        "orders are met or short",
        [("order O-1: product must be other, not Red plain", 1)],
    ),
    (
        "bought in",
        of_order("O-3", decline=Decline.WHOLE),
        "orders are met or short",
        [
            (
                "order O-3 may only be declined whole, plants declined or kept: 4.0000 is more than 0.0000",
                4,
            )
        ],
    ),
    (
        "bought in",
        with_row("crews", week_hours_per_head=1.0),
        "crews keep their hours",
        [("Growers, week of 2027-03-08, hours: 4.5000 is more than 2.0000", 2.5)],
    ),
    (
        "bought in",
        with_row("crews", temp_heads_most=0),
        "temporary hands are trained",
        [("temporary hands of Growers, week of 2027-03-08, heads: 1.0000 is more than 0.0000", 1)],
    ),
    (
        "bought in",
        with_row("crews", temp_pace=1.0),
        "hands do the work",
        [
            (
                "pack (general) on 2027-03-10, hours at the standard pace: the plan says 3.5000, "
                "the replay 3.0000",
                0.5,
            )
        ],
    ),
    (
        "bought in",
        with_row("methods", holding_limit_days=0),
        "deliveries keep their days",
        [("order O-1, plants ready on 2027-03-09, days held: 1.0000 is more than 0.0000", 1)],
    ),
    ("delivered", with_row("methods", holding_limit_days=0), "deliveries keep their days", []),
    (
        "bought in",
        lambda scenario: with_nursery(scenario, graft_margin=0.1),
        "deliveries keep their days",
        [],
    ),
    (
        "on-tray in units",
        lambda scenario: with_rows(
            scenario,
            "methods",
            lambda row: replace(row, match_from=MatchFrom.DIAMETERS, stem_tolerance_mm=0.1),
        ),
        "joins are possible",  # stems without a diameter are all alike
        [("joins of Pair on 2027-03-09, match: the plan says 0.8000, the replay 1.0000", 0.2)],
    ),
    (
        "own-root",
        lambda scenario: replace(scenario, crew_days=(CrewDay("Growers", day(2), None, 25.0),)),
        "money adds up",
        [
            ("cost of labour: the plan says 20.0000, the replay 25.0000", 5),
            ("objective: the plan says 25.4000, the replay 30.4000", 5),
        ],
    ),
    (
        "own-root",
        off(2),
        "crews keep their hours",
        [  # on a day off, two heads of 8 hours each may work overtime
            ("Growers on 2027-03-03, regular hours: 1.0000 is more than 0.0000", 1),
            ("Growers on 2027-03-03, regular hours available: the plan says 16.0000, the replay 0.0000", 16),
            ("Growers on 2027-03-03, overtime available: the plan says 0.0000, the replay 16.0000", 16),
        ],
    ),
    (
        "own-root",
        with_store,
        "jobs are due",
        [
            ("job move to holding O-1 on 2027-03-11: missing", 20),
            ("job tend Store on 2027-03-11: missing", 2),
            ("job tend Store on 2027-03-12: missing", 2),
            ("job tend House on 2027-03-11: no such job is due", 1),
            ("job tend House on 2027-03-11, trays: the plan says 2.0000, the replay 0.0000", 2),
            ("job tend House on 2027-03-12: no such job is due", 1),
            ("job tend House on 2027-03-12, trays: the plan says 2.0000, the replay 0.0000", 2),
        ],
    ),
    (
        "own-root",
        with_row("seed_lots", germination_zone="Bench"),
        "jobs are due",
        [
            ("job sow Red A on 2027-03-03: missing", 30),
            ("job sow Red A on 2027-03-03: no such job is due", 1),
            ("job sow Red A on 2027-03-03, trays: the plan says 3.0000, the replay 0.0000", 3),
            ("job sow Red A on 2027-03-03, seeds: the plan says 30.0000, the replay 0.0000", 30),
            ("job sow Red A on 2027-03-03, hours: the plan says 0.5000, the replay 0.0000", 0.5),
            ("job move to bench Red A on 2027-03-05: no such job is due", 1),
            ("job move to bench Red A on 2027-03-05, trays: the plan says 3.0000, the replay 0.0000", 3),
            *(
                problem
                for t in (3, 4)
                for problem in (
                    (f"job tend Bench on 2027-03-0{t}: missing", 3.0),
                    (f"job tend Warm room on 2027-03-0{t}: no such job is due", 1.0),
                    (
                        f"job tend Warm room on 2027-03-0{t}, trays: the plan says 3.0000, the replay 0.0000",
                        3.0,
                    ),
                )
            ),
        ],
    ),
    (
        "own-root",
        lambda scenario: with_nursery(scenario, wave_cost=3.0, overhead=2.0),
        "money adds up",
        [
            ("cost of waves: the plan says 0.0000, the replay 3.0000", 3),
            ("cost of overhead: the plan says 0.0000, the replay 2.0000", 2),
            ("objective: the plan says 25.4000, the replay 30.4000", 5),
        ],
    ),
    (
        "own-root",
        with_row("crews", pay_basis=PayBasis.COMMITTED),
        "money adds up",
        [  # 21 days of 16 hours at 20
            ("cost of labour: the plan says 20.0000, the replay 6,720.0000", 6700),
            ("objective: the plan says 25.4000, the replay 6,725.4000", 6700),
        ],
    ),
    (
        "bought in",
        lambda scenario: with_nursery(scenario, interest_rate=0.0),
        "money adds up",
        [  # 80 over 4 years
            ("cost of modules: the plan says 105.3333, the replay 20.0000", 85.3333),
            ("objective: the plan says 1,638.6333, the replay 1,553.3000", 85.3333),
        ],
    ),
    (
        "delivered",
        lambda scenario: replace(scenario, progress=scenario.progress[1:]),
        "stock never runs out",
        [("Red A: needed on 2027-03-03, not None", 1), ("Red A: must be ordered by 2027-03-02, not None", 1)],
    ),
    (
        "delivered",
        lambda scenario: replace(
            scenario, progress=tuple(row for row in scenario.progress if row.what.value != "finished")
        ),
        "flows add up",  # 20 were delivered, though only 12.5 were expected
        [],
    ),
]


@pytest.mark.parametrize("name, change, check, problems", OTHERWISE)
def test_a_plan_is_held_against_the_scenario(
    name: str, change: Callable[[Scenario], Scenario], check: str, problems: Problems
) -> None:
    scenario, plan = PLANS[name]
    found = told(check, change(scenario), plan)
    assert [text for text, _ in found] == sorted(text for text, _ in problems)
    assert [size for _, size in found] == pytest.approx([size for _, size in sorted(problems)], abs=1e-4)


def test_what_is_sold_of_the_surplus() -> None:
    scenario, plan = BY_HAND["own-root"]
    dear = with_row("products", salvage_price=2.5, salvage_most=4)(scenario)
    sold = replace(plan, salvage=by_place("salvage", [("Red plain", 5.0, 6.0, 2.0, 11.0)]))
    assert told("salvage is surplus", dear, sold) == [
        ("Red plain, income: the plan says 11.0000, the replay 15.0000", 4.0),
        ("Red plain, plants sold against salvage_most: 6.0000 is more than 4.0000", 2.0),
        ("Red plain, plants sold against surplus: 6.0000 is more than 5.0000", 1.0),
        ("Red plain, salvage price: the plan says 2.0000, the replay 2.5000", 0.5),
        ("Red plain, surplus: the plan says 5.0000, the replay 0.0000", 5.0),
    ]
    assert ("cost of salvage: the plan says 0.0000, the replay -15.0000", 15.0) in told(
        "money adds up", dear, sold
    )


def test_the_facts_of_the_run() -> None:
    scenario, plan = BY_HAND["own-root"]
    facts = replace(
        plan.facts, objective=20.0, bound=21.0, continuous_objective=22.0, dual_objective=23.0, gap=0.5
    )
    assert told("the bound holds", scenario, replace(plan, facts=facts)) == [
        ("continuous optimum against the lower bound: 22.0000 is more than 21.0050", pytest.approx(0.995)),
        ("continuous optimum against the plan's cost: 22.0000 is more than 20.0050", pytest.approx(1.995)),
        ("dual objective: the plan says 23.0000, the replay 22.0000", 1.0),
        ("gap: the plan says 0.5000, the replay -0.0476", pytest.approx(0.5 + 1 / 21)),
        ("lower bound against the plan's cost: 21.0000 is more than 20.0000", 1.0),
    ]


def test_columns_and_the_worst_of_more_problems() -> None:
    scenario, plan = BY_HAND["own-root"]
    other = replace(plan, waves=plan.waves.drop(columns=["trays", "seeds"]))
    assert told("tables have their columns", scenario, other) == [
        ("waves: columns missing, unknown or out of order: seeds, trays", 2.0)
    ]
    turned = replace(plan, items=plan.items[plan.items.columns[::-1]])
    (problem,) = told("tables have their columns", scenario, turned)
    assert problem[1] == 8.0
    failed = {c.name: c for c in audit(scenario, apart(plan, "crew_days 3 overtime = 1.0"))}
    found = failed["crews keep their hours"]
    assert (found.passed, found.worst) == (False, 20.0)
    assert found.detail == (
        "Growers on 2027-03-03, pay: the plan says 20.0000, the replay 40.0000 (and 2 more)"
    )
    found = failed["money adds up"]
    assert found.detail == "cost of overtime: the plan says 0.0000, the replay 20.0000 (and 1 more)"
    found = failed["the bound holds"]
    assert (found.passed, found.detail, found.worst) == (True, "", 0.0)


# Work and supplies, by the day

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
    loads = [("Chamber", day(t), "Pair", day(8), day(8), trays) for t, trays in ((7, 2.0), (8, 3.0))]
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

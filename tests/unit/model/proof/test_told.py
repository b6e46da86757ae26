"""What each check tells of plans worked by hand with one thing changed: the place, both numbers, the size.

told.txt holds a check, a plan and a change in one line (table, row from 1, column = value), and below it all
that the check must tell, each with its size.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import inf
from pathlib import Path
from typing import Any

import pytest

from model.planned.plan_tables import PLAN_TABLES, Plan
from model.proof.audit import CHECKS, UNREADABLE, Check, audit
from model.proof.problems import Problem
from model.proof.replay import Replay
from model.scenario.choices import Decline, MatchFrom, PayBasis, Source
from model.scenario.entities import DayOff, Scenario
from model.scenario.records.people import CrewDay
from tests.by_hand import BY_HAND, by_place
from tests.by_hand_later import LATER
from tests.mutations import rows_of, with_table
from tests.scenario_parts import day
from tests.strategies import with_nursery, with_rows
from tests.told import PLANS, Problems, apart, told, with_row, with_store


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


@pytest.mark.parametrize("name", LATER)
def test_plans_with_a_past_pass(name: str) -> None:
    assert [check for check in audit(*LATER[name]) if not check.passed] == []


@pytest.mark.parametrize("check, name, change, problems", cases())
def test_a_check_tells_what_is_wrong(check: str, name: str, change: str, problems: Problems) -> None:
    scenario, plan = PLANS[name]
    found = told(check, scenario, apart(plan, change))
    assert [text for text, _ in found] == sorted(text for text, _ in problems)
    assert [size for _, size in found] == pytest.approx([size for _, size in sorted(problems)], abs=1e-4)


def test_every_check_is_told_of_but_those_with_tests_of_their_own() -> None:
    checked = {check for check, *_ in cases()}
    others = {
        "tables have their columns",
        "spare seedlings suffice",
        "guaranteed hours are paid",
        "bays hold their trays",
        "groups are apart",
        "lots are changed over for",
        "orders are of one lot",
        "units are shared by no two groups kept apart",
        "orders are spread",
        "piece rates are paid",
        "runs carry their trays",
        "salvage is surplus",
        "trays germinate right",
        "ways are told",
        "the bound holds",
    }
    assert set(CHECKS) - checked == others


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
        "own-root",
        of_order("O-1", most_share_of_one_day=0.75),
        "deliveries keep their days",
        [
            (
                "order O-1, plants ready on 2027-03-11, plants of the graft day 2027-03-07: 20.0000 is more "
                "than 15.0000",
                5,
            )
        ],
    ),
    (
        "own-root",
        lambda scenario: with_nursery(
            of_order("O-1", most_share_of_one_day=1.0)(scenario), most_share_of_one_day=0.5
        ),
        "deliveries keep their days",
        [],
    ),
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
        with_row("methods", least_batch=31),
        "joins are possible",
        [("plain on 2027-03-07, its least batch against joins: 31.0000 is more than 25.0000", 6)],
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
    assert problem[1] == 9.0
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


@pytest.mark.parametrize("error", UNREADABLE)
def test_a_check_that_cannot_read_the_plan_fails(
    monkeypatch: pytest.MonkeyPatch, error: type[Exception]
) -> None:
    def stumble(replay: Replay) -> list[Problem]:
        raise error("no such day")

    name = "waves are sown right"
    monkeypatch.setitem(CHECKS, name, stumble)
    found = {check.name: check for check in audit(*BY_HAND["own-root"])}
    assert found.pop(name) == Check(name, False, f"cannot be checked: {error.__name__}: no such day", inf)
    assert all(check.passed for check in found.values())


@pytest.mark.parametrize("error", UNREADABLE)
def test_a_plan_that_cannot_be_replayed_fails_every_check(
    monkeypatch: pytest.MonkeyPatch, error: type[Exception]
) -> None:
    def stumble(scenario: Scenario, plan: Plan) -> Replay:
        raise error("no such day")

    monkeypatch.setattr("model.proof.audit.Replay", stumble)
    why = f"the plan cannot be replayed: {error.__name__}: no such day"
    assert audit(*BY_HAND["own-root"]) == [Check(name, False, why, inf) for name in CHECKS]

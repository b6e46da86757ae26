"""Which jobs a re-plan changes, by hand, and when the last plan is carried on."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from model.network.expansion import expand
from model.planned.plan_tables import Plan
from model.program.build import build
from model.scenario.choices import Happened
from model.scenario.entities import Scenario
from model.scenario.records.past import Progress
from model.scenario.records.trade import BuyInOffer
from model.season.as_planned import as_planned
from model.season.last_plan import TOLD, decisions
from model.season.replanning import Replanned, _calm, _Job, fixed_to, replan, usual_upset
from model.solve import plan, plan_of
from model.solver.compiled import compile_program
from tests.scenario_parts import WEEK, crew, day, one_day_splice, order
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, with_nursery, with_rows


def scenario(*more: Any, **changes: Any) -> Scenario:
    """Every seed a plant, one age for grafting, no holding: an order fixes its days. 100 are due on day 30.

    For an order of 40 due on day d: 4 trays of rootstock sown on d - 9, 2 of scions on d - 8, 4 trays
    grafted on d - 5.
    """
    orders = (order("O-1", "Red on Stout", 100, 30), *more)
    made = with_nursery(
        base_scenario(orders=orders, methods=(one_day_splice(),), **changes), last_day=day(40)
    )
    return with_rows(made, "seed_lots", lambda row: replace(row, germination=1.0, grade_out=0.0))


@cache
def before() -> Plan:
    return plan(scenario())


def new(due: int, **changes: Any) -> Any:
    return order("new", "Red on Stout", 40, due, **changes)


def again(today: int, *orders: Any, upset: float | None = 0.0) -> Replanned:
    """The plan again from a day, with orders that came since."""
    told = as_planned(before(), day(today))
    later = with_nursery(replace(scenario(*orders), progress=told), today=day(today))
    return replan(later, before().tables, upset=upset)


@pytest.mark.parametrize("upset", [0.0, 1.0])
@pytest.mark.parametrize("today", [0, 3])
@pytest.mark.parametrize("due", [9, 13, 17])
def test_every_job_that_changes_counts_once(due: int, today: int, upset: float) -> None:
    """Two sowings, a graft day and a delivery are new; the packs of both lots change."""
    found = again(today, new(today + due), upset=upset)
    assert found.found.jobs == 6
    assert found.upset == upset
    assert not found.kept
    assert found.carried_on == pytest.approx(75.0 + 40 * 50.0)
    assert found.found.cost == pytest.approx(75.0 + 40 * 0.75)
    assert plan_of(found.solved).cost == pytest.approx(75.0 + 40 * 0.75)


@pytest.mark.parametrize("upset, kept", [(0.0, False), (328.2, False), (328.5, True), (1000.0, True)])
def test_a_change_must_save_what_it_upsets(upset: float, kept: bool) -> None:
    """40 plants more save 40 · (50 - 0.75) = 1,970 and change 6 jobs: 328.3 a job."""
    found = again(0, new(9), upset=upset)
    assert found.kept == kept
    assert plan_of(found.solved).short == (40 if kept else 0)
    assert plan_of(found.solved).cost == pytest.approx(2075.0 if kept else 105.0)


@pytest.mark.parametrize("pays, upset", [((), 0.0), ((20.0,), 20.0), ((30.0, 20.0), 30.0)])
def test_where_nothing_is_said_a_job_must_save_an_hours_pay(pays: tuple[float, ...], upset: float) -> None:
    crews = tuple(crew(f"crew {n}", "work", pay_per_hour=pay) for n, pay in enumerate(pays))
    assert again(3, upset=None).upset == 0.0
    assert usual_upset(scenario(crews=crews)) == upset


@pytest.mark.parametrize("quantity, cost, kept", [(90, 72.5, True), (80, 60.0, False), (70, 57.5, False)])
def test_a_change_must_save_more_than_the_gap_of_the_new_plan(quantity: int, cost: float, kept: bool) -> None:
    """90 plants need a tray of rootstocks less, 2.50; the gap to 90 · 0.75 is 5. 70 save 17.50."""
    smaller = with_rows(scenario(), "orders", lambda row: replace(row, quantity=quantity))
    found = replan(smaller, before().tables)
    assert found.found.cost == pytest.approx(cost)
    assert found.found.gap == pytest.approx(cost - quantity * 0.75)
    assert found.carried_on == pytest.approx(75.0)
    assert found.kept == kept
    assert plan_of(found.solved).cost == pytest.approx(75.0 if kept else cost)


@pytest.mark.parametrize("left_open, kept", [(0.0, False), (32.4, False), (32.6, True)])
def test_what_the_last_proof_left_open_is_no_reason_to_change(left_open: float, kept: bool) -> None:
    """50 plants instead of 100 save 32.50."""
    smaller = with_rows(scenario(), "orders", lambda row: replace(row, quantity=50))
    found = replan(smaller, before().tables, left_open=left_open)
    assert found.kept == kept
    assert found.found.gap == pytest.approx(max(5.0, left_open))


def test_nothing_new_changes_nothing() -> None:
    found = again(3)
    assert found.kept
    assert found.found.jobs == 0
    assert found.carried_on == pytest.approx(75.0)
    assert found.solved.bound <= found.solved.solution.objective


def test_an_order_that_shrank_costs_less_and_is_planned_anew() -> None:
    """50 plants: 5 trays of ten rootstocks at .25 and 3 of twenty scions at .50."""
    smaller = with_rows(scenario(), "orders", lambda row: replace(row, quantity=50))
    found = replan(smaller, before().tables)
    assert not found.kept
    assert found.found.jobs == 5
    assert plan_of(found.solved).cost == pytest.approx(42.5)


def test_a_last_plan_that_is_unknown_cannot_be_carried_on() -> None:
    other = with_rows(scenario(), "orders", lambda row: replace(row, due_day=day(31)))
    found = replan(other, before().tables)
    assert found.carried_on is None
    assert not found.kept
    assert plan_of(found.solved).cost == pytest.approx(75.0)


@pytest.mark.parametrize("penalty, short", [(0.08, 0.0), (0.069, 0.0), (0.068, 40.0), (0.01, 40.0)])
def test_a_promise_counts_ten_times_the_penalty_beside_the_penalty_itself(
    penalty: float, short: float
) -> None:
    """A plant costs .25 + .50 to grow, 11 times .069 is more and 11 times .068 is less."""
    firm = with_rows(scenario(), "orders", lambda row: replace(row, quantity=40))
    made = plan(firm)
    assert made.short == 0
    cheap = with_rows(firm, "orders", lambda row: replace(row, shortfall_penalty=penalty))
    assert plan(cheap).short == 40
    assert plan_of(replan(cheap, made.tables).solved).short == pytest.approx(short)


@pytest.mark.parametrize("upset, filled", [(0.0, 80), (0.5, 80), (1.1, 40), (5.0, 40)])
def test_each_change_must_save_what_it_upsets_by_itself(upset: float, filled: int) -> None:
    """Two new orders, a week apart: one saves 1,970, the other 40 · (0.85 - 0.75) = 4 by four jobs or six."""
    cheap = replace(new(16), order="cheap", shortfall_penalty=0.85)
    found = again(0, new(9), cheap, upset=upset)
    assert not found.kept
    assert found.found.jobs == (10 if filled == 80 else 6)
    made = plan_of(found.solved)
    assert dict(zip(made.orders["order"], made.orders["short"], strict=True)) == pytest.approx(
        {"O-1": 0, "new": 0, "cheap": 80 - filled}
    )


def up(of: Scenario, made: Plan, rootstocks: dict[int, float], **changes: Any) -> Replanned:
    """The plan again from day 24, with so many rootstocks up of those sown on each day, and scions enough."""

    def count(row: Progress) -> Progress:
        few = rootstocks.get((row.day - day(0)).days) if row.lot == "Stout A" else 130.0
        return replace(row, counted=few) if row.what is Happened.SOWN else row

    told = tuple(count(row) for row in as_planned(made, day(24)))
    return replan(with_nursery(replace(of, progress=told, **changes), today=day(24)), made.tables)


@pytest.mark.parametrize(
    "rootstocks, short", [(110.0, 0), (100.0, 0), (99.0, 1), (98.5, 2), (96.0, 4), (95.9, None), (90.0, None)]
)
def test_joins_may_follow_the_counts_by_a_fiftieth_and_two(rootstocks: float, short: int | None) -> None:
    """Of 100 joins planned, 96 may still be made in carrying on; whole plants are short, at 50 each."""
    found = up(scenario(), before(), {21: rootstocks})
    assert found.kept == (short is not None)
    assert found.carried_on == (None if short is None else pytest.approx(75 + 50 * short))


def test_carrying_on_grafts_nothing_for_an_order_that_came_since() -> None:
    found = up(scenario(new(38)), before(), {21: 97.0})
    assert found.carried_on == pytest.approx(75 + (3 + 40) * 50)
    assert plan_of(found.solved).orders["short"].tolist() == pytest.approx([3, 0])


def test_carrying_on_changes_nothing_that_is_done() -> None:
    """On day 25 only 90 were grafted; no others can be, and 10 are short."""
    told = tuple(
        replace(row, number=90.0) if row.what is Happened.GRAFTED else row
        for row in as_planned(before(), day(26))
    )
    found = replan(with_nursery(replace(scenario(), progress=told), today=day(26)), before().tables)
    assert found.kept
    assert found.carried_on == pytest.approx(75 + 10 * 50)
    assert plan_of(found.solved).short == pytest.approx(10)


@pytest.mark.parametrize("price, kept", [(49.0, False), (51.0, False), (549.0, False), (551.0, True)])
def test_a_promise_is_kept_up_to_eleven_penalties_a_plant(price: float, kept: bool) -> None:
    """Three plants short at 50 are bought instead, even where that is dearer than carrying on."""
    of = scenario(
        buy_in_offers=(BuyInOffer("neighbour", "Red on Stout", price, 0, WEEK, None, None, 0, None),)
    )
    found = up(of, plan(of), {21: 97.0})
    made = plan_of(found.solved)
    assert found.carried_on == pytest.approx(75 + 3 * 50)
    assert found.kept == kept
    assert made.short == pytest.approx(3 if kept else 0)
    assert made.cost == pytest.approx(75 + 3 * (50 if kept else price))
    assert kept or found.found.jobs == 1


def two() -> Scenario:
    """100 plants for O-1 due on day 30, 100 for O-2 due a day before, from graft days of their own."""
    return scenario(order("O-2", "Red on Stout", 100, 29))


@pytest.mark.parametrize("quantity, short", [(100, 0), (103, 0), (104, 0), (105, 1), (110, 6)])
def test_deliveries_may_grow_by_a_fiftieth_and_two(quantity: int, short: int) -> None:
    """O-2 grew, and 20 rootstocks more came up for it; O-1 lost three, so that not all is as planned."""
    made = plan(two())
    found = up(
        two(),
        made,
        {20: 120.0, 21: 97.0},
        orders=scenario(replace(two().orders[1], quantity=quantity)).orders,
    )
    assert found.carried_on == pytest.approx(150 + 50 * (3 + short))
    assert found.kept == (short == 0)
    assert plan_of(found.solved).orders["short"].tolist() == pytest.approx([3, 0])


def test_a_delivery_that_was_not_planned_is_no_way_to_carry_on() -> None:
    """Plants may now be held: what is over of O-2's flow could fill O-1, in a new plan only."""
    made = plan(two())
    held = tuple(replace(row, holding_limit_days=3) for row in two().methods)
    found = up(two(), made, {20: 120.0, 21: 97.0}, methods=held)
    assert found.carried_on == pytest.approx(150 + 50 * 3)
    assert not found.kept
    assert plan_of(found.solved).cost == pytest.approx(150)


def test_each_order_may_break_its_own_promise_where_it_must() -> None:
    made = plan(two())
    found = up(two(), made, {20: 97.0, 21: 95.0})
    assert found.carried_on is None
    assert plan_of(found.solved).orders["short"].tolist() == pytest.approx([5, 3])
    assert plan_of(found.solved).cost == pytest.approx(150 + 50 * 8)
    assert found.found.jobs == 2  # 95 joins and plants for 100; 97 are near enough


@pytest.mark.parametrize(
    "upset, cost, jobs, kept",
    [
        (0.0, 42.5, 5, False),
        (3.4, 42.5, 5, False),
        (5.5, 45.0, 5, False),
        (8.0, 55.0, 3, True),
        (10.0, 75.0, 0, True),
    ],
)
def test_what_is_given_up_must_save_what_it_upsets(upset: float, cost: float, jobs: int, kept: bool) -> None:
    """From day 19, 50 plants instead of 100 are delivered in any case. Fewer trays save up to 32.50.

    Two sowings, their packs and the graft day may change. At 5.50 a job all five do, for 30.00; at 8.00 the
    scions, their packs and the graft day would save 20.00, which is less than three times 8.00.
    """
    fewer = with_rows(scenario(), "orders", lambda row: replace(row, quantity=50))
    told = as_planned(before(), day(19))
    found = replan(with_nursery(replace(fewer, progress=told), today=day(19)), before().tables, upset=upset)
    assert found.found.cost == pytest.approx(cost)
    assert found.found.jobs == jobs
    assert found.kept == kept
    assert plan_of(found.solved).cost == pytest.approx(75.0 if kept else cost)


def test_costs_that_no_decision_changes_count_in_both() -> None:
    of = with_nursery(scenario(), overhead=1000.0)
    found = replan(of, plan(of).tables)
    assert found.kept
    assert found.carried_on == pytest.approx(1075.0)
    assert plan_of(found.solved).cost == pytest.approx(1075.0)
    smaller = with_rows(of, "orders", lambda row: replace(row, quantity=50))
    fewer = replan(smaller, plan(of).tables)
    assert not fewer.kept
    assert fewer.solved.solution.objective == pytest.approx(1042.5)
    assert fewer.solved.bound == pytest.approx(1000 + 50 * 0.75)


@pytest.mark.parametrize("name", ["temporary hands", "buy-in", "wave cost"])
def test_shadow_prices_are_those_of_the_plan_where_nothing_is_new(name: str) -> None:
    """The bound is the cost of the continuous plan."""
    made = plan(SPECIMENS[name])
    found = replan(SPECIMENS[name], made.tables)
    assert found.kept
    columns = ["limit", "name", "day"]
    prices = [of.shadow_prices.set_index(columns)["value"].to_dict() for of in (made, plan_of(found.solved))]
    assert prices[1] == pytest.approx(prices[0], abs=1e-6)
    assert found.solved.bound == pytest.approx(plan(SPECIMENS[name], whole=False).cost)


@pytest.mark.parametrize("variables", [(), ("sown",), ("joins", "delivered"), TOLD])
def test_decisions_fixed_are_those_named_and_still_open(variables: tuple[str, ...]) -> None:
    """From day 22 on the trays of day 21 are sown: nothing holds what is settled."""
    made = before()
    told = as_planned(made, day(22))
    program = build(expand(with_nursery(replace(scenario(), progress=told), today=day(22))))
    compiled = compile_program(program)
    values, known = decisions(program, made.tables)
    fixed = fixed_to(program, compiled, values, variables)
    at = {
        int(compiled.position[variable][n]): value
        for (variable, n), value in values.items()
        if variable in variables and n not in program.settled.get(variable, {})
    }
    at.pop(-1, None)
    assert known
    assert bool(at) == bool(variables)
    for column in range(len(compiled.cost)):
        bounds = float(fixed.lower[column]), float(fixed.upper[column])
        kept = float(compiled.lower[column]), float(compiled.upper[column])
        assert bounds == ((at[column],) * 2 if column in at else kept)


@pytest.mark.parametrize(
    "variable, last, value, expected",
    [
        ("sown", 4.0, 4.5, True),
        ("sown", 4.0, 3.6, False),
        ("joins", 0.0, 0.5, True),
        ("joins", 100.0, 103.9, False),
        ("joins", 100.0, 104.0, True),
        ("joins", 100.0, 96.0, True),
        ("joins", 100.0, 0.0, True),
    ],
)
def test_half_a_tray_is_a_change_and_joins_may_follow_the_counts(
    variable: str, last: float, value: float, expected: bool
) -> None:
    assert _Job(variable, 0, last).differs(value) == expected


def test_a_job_that_is_new_costs_what_it_upsets_besides_its_own_cost() -> None:
    """Of columns that cost 1 and up: one new job of 40, and one of no size yet, which has the mean size."""
    compiled = compile_program(build(expand(scenario())))
    own = replace(compiled, cost=np.arange(len(compiled.cost)) + 1.0)
    jobs = [_Job("sown", 2, 0.0), _Job("sown", 4, 0.0), _Job("sown", 5, 3.0)]
    calm = _calm(own, jobs, {2: 40.0, 4: 0.0, 5: 10.0}, 100.0)
    more = np.zeros(len(own.cost))
    more[[2, 4]] = 100 / 40, 100 / 25
    assert calm.cost.tolist() == pytest.approx([*(own.cost + more), 10.0, 10.0])


def test_changes_are_free_unless_a_price_is_given() -> None:
    """40 plants more save 0.4 for each tray that changes."""
    later = scenario(new(9, shortfall_penalty=0.85))
    assert plan_of(replan(later, before().tables).solved).short == 0


def test_of_plans_of_one_cost_the_last_is_carried_on() -> None:
    """Due three days later than it was, and held for as long, O-1 may be grafted on any of four days."""
    was = with_rows(scenario(), "orders", lambda row: replace(row, due_day=day(27)))
    made = plan(was)
    held = with_rows(scenario(), "methods", lambda row: replace(row, holding_limit_days=3))
    assert plan(held).flows["graft_day"].tolist() != [day(22)]
    found = replan(held, made.tables)
    assert found.kept
    assert plan_of(found.solved).flows["graft_day"].tolist() == [day(22)]
    assert plan_of(found.solved).cost == pytest.approx(plan(held).cost)


def test_progress_names_its_phases_in_order() -> None:
    said: list[str] = []
    replan(scenario(), before().tables, progress=said.append)
    assert [text for text in said if "," not in text and ":" not in text] == [
        "expand",
        "compile",
        "solve",
        "last plan",
        "whole trays",
        "shadow prices",
    ]
    assert "whole trays, search for a cheaper plan" in said

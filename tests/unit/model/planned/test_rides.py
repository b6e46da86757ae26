"""Runs of tiny plans, worked by hand: what rides when, what it costs, who bears it, when it is paid."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pandas as pd
import pytest

from model.network.expansion import expand
from model.planned.cash import cash_of, payments
from model.planned.plan_tables import Plan, records
from model.planned.rides import Ride, rides_of
from model.proof.audit import audit
from model.questions.traced_costs import traced_costs
from model.scenario.entities import Scenario
from model.scenario.records.trade import Customer, Run
from model.scenario.run_days import last_run, with_runs
from model.season.as_planned import as_planned
from model.season.replanning import replan
from model.shortage.relief import least_relief
from model.solve import plan, plan_of, solve
from scenarios.solves.asking import as_candidate, whole_added
from tests.scenario_parts import day, order
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, with_nursery, with_rows

COAST = Run("coast", ("Tue", "Fri"), 30.0, 0.5, 6)


def book(*orders: tuple[str, int, int], **run: object) -> Scenario:
    """Orders by name, plants and due day; those of the customer "Market farm" ride."""
    return base_scenario(
        orders=tuple(order(name, "Red on Stout", quantity, due) for name, quantity, due in orders),
        customers=(Customer("Market farm", run="coast"),),
        runs=(replace(COAST, **run),),  # type: ignore[arg-type]
    )


def freight(made: Plan) -> list[tuple[date, float, float, float]]:
    """Day, vehicles, trays and cost of the runs."""
    return [(row["day"], row["vehicles"], row["trays"], row["amount"]) for row in records(made.runs)]


@pytest.mark.parametrize(
    ("due", "leaves"), [(14, 11), (15, 15), (16, 15), (17, 15), (18, 18), (19, 18), (20, 18)]
)
def test_an_order_leaves_with_the_last_run_until_it_is_due(due: int, leaves: int) -> None:
    """Day 15 is a Tuesday, 18 a Friday."""
    (moved,) = with_runs(book(("O-1", 10, due))).orders
    assert moved.due_day == day(leaves)


def test_a_run_leaves_between_its_first_and_its_last_day() -> None:
    short = replace(COAST, from_day=day(12), to_day=day(17))
    assert last_run(short, day(18)) == day(15)
    assert last_run(short, day(14)) is None
    assert last_run(short, day(22)) is None  # more than a week after its last


def test_orders_ride_together() -> None:
    """85 and 18 plants take 9 and 2 trays of ten: 11 in all, two vehicles of six."""
    scenario = book(("O-1", 85, 16), ("O-2", 18, 17), ("O-3", 12, 20))
    made = plan(scenario)
    assert freight(made) == [(day(15), 2.0, pytest.approx(11), 65.5), (day(18), 1.0, pytest.approx(2), 31.0)]
    assert rides_of(scenario, made) == [
        Ride("coast", day(15), "O-1", "Market farm", "Red on Stout", 85, 9),
        Ride("coast", day(15), "O-2", "Market farm", "Red on Stout", 18, 2),
        Ride("coast", day(18), "O-3", "Market farm", "Red on Stout", 12, 2),
    ]
    assert {(row["order"], row["due_day"]) for row in records(made.deliveries)} == {
        ("O-1", day(15)),
        ("O-2", day(15)),
        ("O-3", day(18)),
    }


def test_parts_of_an_order_fill_their_trays() -> None:
    """63 plants are 7 trays of ten: 28 of them fill 3, though they are 3.1 of the 7; 35 take 4."""
    scenario = book(("O-1", 63, 16))
    made = plan(scenario)
    (first, *_) = records(made.deliveries)
    parts = [first | {"plants": 28.0, "days_late": 0}, first | {"plants": 35.0, "days_late": 3}]
    split = replace(made, deliveries=pd.DataFrame(parts))
    assert [(r.day, r.plants, r.trays) for r in rides_of(scenario, split)] == [
        (day(15), 28, 3),
        (day(18), 35, 4),
    ]


def test_freight_is_borne_by_trays_within_a_run() -> None:
    scenario = book(("O-1", 85, 16), ("O-2", 18, 17), ("O-3", 12, 20))
    traced = traced_costs(solve(scenario))
    borne = {o: amount for o, line, amount in traced.itertuples(index=False) if line == "freight"}
    assert borne == pytest.approx({"O-1": 65.5 * 9 / 11, "O-2": 65.5 * 2 / 11, "O-3": 31.0})


def test_freight_is_paid_on_the_day_of_the_run() -> None:
    scenario = book(("O-1", 85, 16), ("O-3", 12, 20))
    made = plan(scenario)
    paid = {p.day: p.amount for p in payments(scenario, made) if p.kind == "freight"}
    assert paid == pytest.approx({day(15): 64.5, day(18): 31.0})
    (of_week,) = [week for week in cash_of(scenario, made).weeks if week.paid.get("freight")]
    assert of_week.paid["freight"] == pytest.approx(95.5)


def test_an_order_that_fetches_its_plants_has_no_freight() -> None:
    scenario = replace(book(("O-1", 85, 16)), customers=(Customer("Market farm"),))
    made = plan(scenario)
    assert made.runs.empty
    assert "freight" not in set(made.costs["line"])
    assert made.deliveries["due_day"].tolist() == [day(16)] * len(made.deliveries)


def test_late_plants_are_held_until_the_next_run() -> None:
    """Of 13 trays, 12 leave on Tuesday; one waits for Friday, packed on the day on which it is ready."""
    scenario = SPECIMENS["runs"]
    made = plan(scenario)
    late = [row for row in records(made.deliveries) if row["days_late"]]
    assert [(row["order"], row["days_late"], row["pack_day"]) for row in late] == [
        ("O-4", 3, row["ready_day"]) for row in late
    ]
    assert sum(row["plants"] for row in late) == pytest.approx(6)
    assert [(d, v, pytest.approx(t)) for d, v, t, _ in freight(made)] == [
        (day(15), 2.0, 12),
        (day(18), 1.0, 4),
    ]
    delivered = made.jobs[made.jobs["step"] == "deliver"]
    told = {row["name"]: row["detail"] for row in records(delivered) if row["day"] == day(18)}
    assert told["O-4"] == "Red on Stout, to Market farm, by coast, 3 days late"
    fetched = {row["name"]: row["detail"] for row in records(delivered)}["O-5"]
    assert fetched == "Red on Stout, to Neighbour"


def test_plants_are_held_no_longer_than_the_limit_for_a_run() -> None:
    """Nothing held: what leaves on Tuesday is ready on Tuesday."""
    scenario = with_rows(book(("O-1", 20, 17)), "methods", lambda row: replace(row, holding_limit_days=0))
    assert set(plan(scenario).deliveries["ready_day"]) == {day(15)}
    network = expand(scenario)
    assert {network.flows[d.flow].ready for d in network.deliveries} == {15}


def test_a_quote_that_rides_on_a_run_that_goes_anyway_adds_no_vehicle() -> None:
    """The book takes 9 of 12 trays on Tuesday. 30 plants more ride for their trays, 40 need a vehicle."""
    solved = solve(book(("O-1", 85, 16)))
    asked = order("asked", "Red on Stout", 30, 17)
    seed = plan(replace(solved.program.network.scenario, orders=(asked,), customers=())).cost
    found = whole_added(solved, as_candidate(solved.program.network.scenario, asked))
    alone = plan(replace(solved.program.network.scenario, orders=(asked,))).cost
    assert alone == pytest.approx(seed + 31.5)
    assert found.cost <= seed + 1.5 + 0.01
    more = whole_added(solved, as_candidate(solved.program.network.scenario, replace(asked, quantity=40)))
    assert more.cost > found.cost + 25


def test_relief_of_too_few_vehicles() -> None:
    """13 trays, vehicles for 6: two more would fill the orders."""
    scenario = book(("O-1", 85, 16), ("O-2", 38, 17), vehicles_most=1)
    assert plan(scenario).short > 0
    relief = least_relief(scenario)
    assert [(item.kind, item.name, item.day, item.amount) for item in relief.items] == [
        ("vehicles", "coast", day(15), 2.0)
    ]


def test_a_season_with_runs_told_as_planned_is_kept() -> None:
    """Past runs take the vehicles that carried what left; the plan from then on is the same."""
    scenario = SPECIMENS["runs"]
    before = plan(scenario)
    for today in (day(12), day(16)):
        rows = tuple(row for row in as_planned(before, today) if row.number > 1e-9)
        past = replace(with_nursery(scenario, today=today), progress=rows)
        found = replan(past, before.tables)
        again = plan_of(found.solved)
        assert again.cost == pytest.approx(before.cost, abs=0.02)
        assert freight(again) == [
            (d, v, pytest.approx(t), pytest.approx(a)) for d, v, t, a in freight(before)
        ]
        assert [check for check in audit(past, again) if not check.passed] == []


def test_more_was_sent_than_the_run_has_vehicles_for() -> None:
    """What is recorded rode: the limit gives way to it, and the plan can still be made."""
    scenario = book(("O-1", 85, 16), ("O-2", 38, 17))
    today = day(16)
    rows = tuple(row for row in as_planned(plan(scenario), today) if row.number > 1e-9)
    few = (replace(COAST, vehicles_most=1),)
    past = replace(with_nursery(scenario, today=today), runs=few, progress=rows)
    made = plan(past)
    assert made.runs["vehicles"].tolist()[0] == 3.0
    assert [check for check in audit(past, made) if not check.passed] == []


def test_each_part_of_an_order_in_whole_trays_takes_whole_trays() -> None:
    """60 and 30 plants are nine trays of ten; a vehicle carries six. Of 60, 49.9 come first: 5 trays, 2."""
    split = book(("O-1", 57, 13), ("O-2", 25, 13), vehicles_most=1)
    split = with_nursery(split, whole_trays_to_customer=True)
    split = with_rows(
        split, "orders", lambda row: replace(row, price=3.0, late_days_most=7, late_discount=0.02)
    )
    split = with_rows(split, "zones", lambda row: replace(row, slots=9.0) if row.zone == "Chamber" else row)
    made = plan(split)
    assert freight(made) == [(day(11), 1, 5, 32.5), (day(15), 1, 5, 32.5)]
    assert sorted(ride.trays for ride in rides_of(split, made)) == [2, 3, 5]
    assert [check for check in audit(split, made) if not check.passed] == []
    in_parts = plan(split, whole=False)
    assert sum(in_parts.runs["trays"]) == pytest.approx(9)

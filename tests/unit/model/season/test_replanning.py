"""The plan again from today: carried on without surprises, changed with restraint, cured where it can be."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from itertools import product
from pathlib import Path

import pytest

from model.planned.plan_tables import Plan, Tables
from model.proof.audit import audit
from model.scenario.choices import Happened, Source
from model.scenario.entities import Order, Scenario
from model.scenario.records.past import Progress
from model.scenario.records.trade import BuyInOffer
from model.season.as_planned import as_planned
from model.season.cures import cures
from model.season.differences import differences
from model.season.replanning import replan
from model.solve import plan, plan_of
from reports.plan.csv_tables import write_plan_tables
from scenarios.cells.faults import BadInput
from scenarios.files.read_plan import NEEDED, read_last
from scenarios.studies.replan import replan_study
from tests.demo import demo, demo_plan
from tests.depth import some
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, with_nursery

FIVE_DAYS = ("2027-01-25", "2027-02-15", "2027-03-08", "2027-04-05", "2027-05-10")


@cache
def specimen(name: str) -> tuple[Scenario, Plan]:
    scenario = SPECIMENS[name]
    return scenario, plan(scenario)


def told(
    scenario: Scenario, before: Plan, today: date, change: Callable[[Progress], Progress] = lambda row: row
) -> Scenario:
    """The scenario from a day, with the past as planned but for a change of its rows."""
    rows = tuple(change(row) for row in as_planned(before, today, since=scenario.nursery.first_day))
    return with_nursery(replace(scenario, progress=rows), today=today)


@pytest.mark.parametrize("day", FIVE_DAYS)
def test_without_surprises_the_demos_cost_and_plan_are_unchanged(day: str) -> None:
    scenario, before = demo(), demo_plan()
    today = date.fromisoformat(day)
    again = replan(told(scenario, before, today), before.tables)
    after = plan_of(again.solved)
    assert again.kept
    assert after.cost == pytest.approx(before.cost, abs=0.005)
    assert differences(before.tables, after.tables, today).empty
    for table in ("waves", "joins", "deliveries", "buy_in", "orders"):
        assert _close(after.table(table), before.table(table)), table


def _close(one: object, other: object) -> bool:
    """Whether two tables have the same texts and days, and numbers as close as the solver's tolerance."""
    rows, others = one.to_dict("records"), other.to_dict("records")  # type: ignore[attr-defined]
    return len(rows) == len(others) and all(
        a[key] == (pytest.approx(b[key], abs=1e-4) if isinstance(b[key], float) else b[key])
        for a, b in zip(rows, others, strict=True)
        for key in a
    )


@pytest.mark.parametrize("name, days", some(product(SPECIMENS, [3, 9])))
def test_without_surprises_a_plan_is_carried_on(name: str, days: int) -> None:
    scenario, before = specimen(name)
    today = scenario.nursery.first_day + timedelta(days=days)
    later = told(scenario, before, today)
    again = replan(later, before.tables)
    after = plan_of(again.solved)
    assert again.kept
    if name == "piece rates":  # limits of skills hold from today on: hours of the past may cost less
        assert after.cost <= before.cost + 0.005
    else:
        assert after.cost == pytest.approx(before.cost, abs=0.005)
    assert differences(before.tables, after.tables, today).empty
    assert [check.detail for check in audit(later, after) if not check.passed] == []


@pytest.mark.parametrize("days", [8, 14])
def test_units_opened_before_today_follow_from_what_was_joined(days: int) -> None:
    """They may leave out other groups than in the last plan, or be of another day: they were no decision."""
    scenario, before = specimen("kept apart in units")
    later = told(scenario, before, scenario.nursery.first_day + timedelta(days=days))
    again = replan(later, before.tables)
    assert again.kept
    assert again.carried_on == pytest.approx(before.cost, abs=0.005)


def failed(scenario: Scenario, before: Plan, days: int, share: float) -> tuple[Scenario, date]:
    """All joins counted so many days after the first graft day: a share of them healed."""
    first = before.flows["graft_day"].min()
    today = first + timedelta(days=days)

    def count(row: Progress) -> Progress:
        return replace(row, counted=row.number * share) if row.what is Happened.GRAFTED else row

    return told(scenario, before, today, count), today


def two_orders(**changes: object) -> Scenario:
    """Two orders of one product, a week apart, with time to sow again for the later one."""
    base = base_scenario(**changes)
    later = base.nursery.first_day + timedelta(days=30)
    orders = (base.orders[0], replace(base.orders[0], order="O-2", quantity=60, due_day=later))
    return with_nursery(replace(base, orders=orders), last_day=later + timedelta(days=10))


def test_a_failure_leaves_what_can_be_filled_filled() -> None:
    scenario = two_orders()
    before = plan(scenario)
    later, _ = failed(scenario, before, 3, 0.5)
    again = replan(later, before.tables)
    after = plan_of(again.solved)
    short = dict(zip(after.orders["order"], after.orders["short"], strict=True))
    assert short["O-1"] > 0
    assert short["O-2"] == 0
    assert [check.detail for check in audit(later, after) if not check.passed] == []


def test_the_promise_to_an_old_order_comes_before_a_dearer_new_one() -> None:
    """Room for one of the two only: the new order loses more by being short, and the old one is kept."""
    roomy = base_scenario()
    used = plan(roomy).slots
    most = float(used.loc[used["zone"] == "Chamber", "used"].max()) + 1
    zones = tuple(replace(zone, slots=most) if zone.zone == "Chamber" else zone for zone in roomy.zones)
    base = replace(roomy, zones=zones)
    before = plan(base)
    assert before.short == 0
    dear = replace(base.orders[0], order="new", quantity=900, shortfall_penalty=90.0)
    today = base.nursery.first_day + timedelta(days=1)
    later = with_nursery(replace(base, orders=(*base.orders, dear)), today=today)
    without = plan(later)
    again = plan_of(replan(later, before.tables).solved)
    short = [dict(zip(p.orders["order"], p.orders["short"], strict=True)) for p in (without, again)]
    assert short[0]["O-1"] > 0
    assert short[1]["O-1"] == 0
    assert without.cost <= again.cost + 0.005


def test_a_promise_is_kept_where_breaking_it_would_be_cheaper() -> None:
    """Bought in at 3.00, a missing plant costs more than its penalty of 2.50: it is bought all the same."""
    week = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
    offer = BuyInOffer("neighbour", "Red on Stout", 3.0, 1, week, None, None, 0, None)
    scenario = with_nursery(two_orders(buy_in_offers=(offer,)), shortfall_penalty=2.5)
    before = plan(scenario)
    later, _ = failed(scenario, before, 3, 0.5)
    assert plan(later).short > before.short + 30
    again = replan(later, before.tables)
    made = plan_of(again.solved)
    assert made.short <= before.short
    answer = " ".join(replan_study(later, before.tables, again, made).answer)
    assert "than changing it, but less of what was promised would be delivered." in answer


def poorer(scenario: Scenario, before: Plan, today: date, share: float) -> Scenario:
    """The demo from a day, with the last graft day before it healed at so much of its take."""
    last = max(row.day for row in as_planned(before, today) if row.what is Happened.GRAFTED)
    take = {
        product.product: method.take or 1.0
        for product in scenario.products
        for method in scenario.methods
        if method.method == product.method
    }

    def count(row: Progress) -> Progress:
        if row.what is not Happened.GRAFTED or row.day != last:
            return row
        return replace(row, counted=float(round(row.number * share * take[row.product or ""])))

    return told(scenario, before, today, count)


def test_a_poor_graft_day_changes_the_few_jobs_that_matter() -> None:
    """A tenth healed less: an hour's pay for each job that changes leaves a fifth of the changes.

    What these save is all but a thousandth of what all save.
    """
    scenario, before = demo(), demo_plan()
    later = poorer(scenario, before, date(2027, 3, 18), 0.9)
    free, calm = (replan(later, before.tables, upset=price) for price in (0.0, None))
    assert not calm.kept
    assert calm.upset == max(crew.pay_per_hour for crew in scenario.crews)
    assert calm.found.jobs <= free.found.jobs / 5
    assert calm.found.cost <= free.found.cost * 1.001
    assert calm.carried_on is not None
    assert calm.carried_on - calm.found.cost > calm.upset * calm.found.jobs
    changed = differences(before.tables, plan_of(calm.solved).tables, date(2027, 3, 18))
    assert len(changed) <= calm.found.jobs + 5  # keeping the plan changes some by the counts alone


def test_cures_of_a_failed_graft_day() -> None:
    offer = BuyInOffer(
        "neighbour",
        "Red on Stout",
        3.0,
        1,
        ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"),
        None,
        None,
        0,
        None,
    )
    scenario = two_orders(buy_in_offers=(offer,))
    before = plan(scenario)
    later, _ = failed(scenario, before, 3, 0.5)
    hit, ways = cures(later, before.tables)
    found = {way.name: way for way in ways}
    assert hit == ["O-1"]
    part, buy, best = found["ship part"], found["buy in"], found["all together"]
    assert part.cost is not None
    assert buy.cost is not None
    assert best.cost is not None
    missing = part.short["O-1"]
    assert missing == pytest.approx(100 * (1 - 0.5 / (scenario.methods[0].take or 1.0)), abs=1)
    assert buy.short == {}
    # Buying the missing plants at 3.00 instead of paying the penalty for them.
    penalty = scenario.nursery.shortfall_penalty
    assert part.cost - buy.cost == pytest.approx(missing * (penalty - 3.0), rel=0.02)
    in_time = [way.cost for way in ways if way.cost is not None and not way.name.startswith("the rest")]
    assert best.cost == pytest.approx(min(in_time))
    assert found["the rest 14 days later"].short == {}


def test_no_cures_where_nothing_is_missing() -> None:
    scenario, before = demo(), demo_plan()
    today = date(2027, 4, 5)
    assert cures(told(scenario, before, today), before.tables) == ([], [])


def test_differences_are_jobs_from_today() -> None:
    scenario = base_scenario()
    small, large = (
        plan(scenario),
        plan(replace(scenario, orders=(replace(scenario.orders[0], quantity=150),))),
    )
    found = differences(small.tables, large.tables, scenario.nursery.first_day)
    assert set(found["what"]) == {"sow", "graft", "deliver", "order packs"}
    (packed,) = found[found["what"] == "deliver"].to_dict("records")
    assert (packed["before"], packed["after"]) == pytest.approx((100, 150))
    assert found["day"].is_monotonic_increasing
    graft = small.flows["graft_day"].max() + timedelta(days=1)
    assert set(differences(small.tables, large.tables, graft)["what"]) == {"deliver"}
    assert differences(small.tables, small.tables, scenario.nursery.first_day).empty


def test_the_last_plan_reads_back_as_it_was(tmp_path: Path) -> None:
    before = demo_plan()
    write_plan_tables(before, tmp_path / "tables")
    again: Tables = read_last(tmp_path)
    assert set(again) == set(NEEDED)
    for name in NEEDED:
        assert again[name].to_dict("records") == before.table(name).to_dict("records")


def test_a_broken_last_plan_is_refused_with_every_fault(tmp_path: Path) -> None:
    before = demo_plan()
    write_plan_tables(before, tmp_path)
    (tmp_path / "buy_in.csv").unlink()
    waves = (tmp_path / "waves.csv").read_text().splitlines()
    cells = waves[1].split(",")
    cells[4], cells[6] = "soon", ""
    (tmp_path / "waves.csv").write_text("\n".join([waves[0], ",".join(cells), *waves[2:]]) + "\n")
    joins = (tmp_path / "joins.csv").read_text().replace("scion_wave", "scion")
    (tmp_path / "joins.csv").write_text(joins)
    quantity = before.orders["quantity"].tolist()[0]
    orders = (tmp_path / "orders.csv").read_text().replace(f",{quantity},", ",2.5,", 1)
    (tmp_path / "orders.csv").write_text(orders)
    with pytest.raises(BadInput) as caught:
        read_last(tmp_path)
    places = {(fault.table, fault.row, fault.column, fault.value) for fault in caught.value.faults}
    assert ("waves", 2, "sow_day", "soon") in places
    assert ("waves", 2, "trays", "") in places
    assert ("joins", 1, "scion_wave", "") in places
    assert ("orders", 2, "quantity", "2.5") in places
    assert {fault.table for fault in caught.value.faults} == {"waves", "joins", "buy_in", "orders"}


def test_orders_that_came_since_are_planned_too() -> None:
    scenario, before = demo(), demo_plan()
    today = date(2027, 2, 15)
    later = told(scenario, before, today)
    product = next(p for p in scenario.products if p.source is not Source.BUY)
    new = Order("new", "somebody", product.product, 500, date(2027, 5, 28), 1.5)
    after = plan_of(replan(replace(later, orders=(*later.orders, new)), before.tables).solved)
    assert "new" in set(after.orders["order"])
    assert after.short == 0

"""Last days to make plants again, by hand and by trying every day."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from itertools import groupby, product

import pytest
from hypothesis import given, settings

from model.planned.last_days import LastDay, last_days_of
from model.planned.plan_tables import Plan, rows_of
from model.scenario.choices import MethodKind, Part
from model.scenario.entities import Scenario
from model.scenario.records.methods import Method
from model.solve import plan
from reports.plan.figures import NO_GRAFTING, NO_SOWING, orders_at_risk
from tests.depth import deep
from tests.scenario_parts import day, order
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, small_scenarios, with_rows


def test_the_last_days_by_hand() -> None:
    """Due on 16, ready 5 days after grafting: joins by 11. Scions are 3 days old then, rootstocks 4."""
    of = base_scenario(orders=(order("O-1", "Red on Stout", 40, 16),))
    made = plan(of)
    found = last_days_of(of, made)
    lots = dict(rows_of(made.waves, "wave", "lot"))
    assert {lots[wave]: last.again for wave, last in found.waves.items()} == {
        "Red A": day(8),
        "Stout A": day(7),
    }
    ((flow, last),) = found.flows.items()
    assert last == LastDay(day(11), flow[1] + timedelta(days=3))


def test_an_order_due_early_gets_no_help_from_sowing_again() -> None:
    """Sown on 0, on the bench on 2; due on 9, joins are due by 4, so that rootstocks must be sown by 0."""
    of = base_scenario(orders=(order("O-1", "Red on Stout", 40, 9),))
    made = plan(of)
    found = last_days_of(of, made)
    assert found.sown_too_late == {"O-1"}
    assert [risk.why for risk in orders_at_risk(of, made) if NO_SOWING in risk.why]
    details = made.jobs.loc[made.jobs["step"].isin(["sow", "graft"]), "detail"]
    assert any(text.endswith("; no time to do it again") for text in details)
    later = base_scenario(orders=(order("O-1", "Red on Stout", 40, 18),))
    made = plan(later)
    assert NO_SOWING not in {why for risk in orders_at_risk(later, made) for why in risk.why}
    assert any(
        text.endswith(f"; again by {day(10)}") for text in made.jobs.loc[made.jobs["step"] == "sow", "detail"]
    )


def test_a_take_counted_after_the_last_graft_day_is_a_reason() -> None:
    """Due on 16, joins are due by 11; those of 9 to 11 are counted on 12 to 14. Own roots have no take."""
    of = base_scenario(orders=(order("O-1", "Red on Stout", 40, 16),))
    made = plan(of)
    found = last_days_of(of, made)
    assert found.grafted_too_late == {"O-1"}
    assert [risk.why for risk in orders_at_risk(of, made) if NO_GRAFTING in risk.why]
    own_root = SPECIMENS["own-root"]
    ((_, last),) = last_days_of(own_root, plan(own_root)).flows.items()
    assert not last.in_time
    assert not last_days_of(own_root, plan(own_root)).grafted_too_late


def test_plants_on_hand_are_not_made_again_and_what_is_too_late_from_the_start_is_told() -> None:
    """Trays sown before the first day serve an order that nothing sown from it on can reach."""
    made = SPECIMENS["plants on hand"]
    found = last_days_of(made, plan(made))
    ready = [flow for flow in found.flows if flow[1] < made.nursery.first_day]
    assert [found.flows[flow].again for flow in ready] == [None]
    assert "O-0" not in found.sown_too_late
    of = replace(SPECIMENS["trays on hand"], orders=(order("O-1", "Red on Stout", 40, 7),))
    planned = plan(of)
    found = last_days_of(of, planned)
    assert {(last.again, last.never, last.in_time) for last in found.waves.values()} == {(None, True, False)}
    assert found.sown_too_late == {"O-1"}


def test_what_serves_no_order_has_no_last_day() -> None:
    last = LastDay(None, day(3))
    assert last.in_time
    assert last.words(day(1)) == ""
    assert LastDay(day(3), day(3)).in_time
    assert not LastDay(day(2), day(3)).in_time


def passed(of: Scenario, method: Method) -> Iterator[list[tuple[str, Part, int]]]:
    """Zone, part and days of each stage, for each choice of zones; stages of one stay choose together."""
    stages = sorted((s for s in of.stages if s.method == method.method), key=lambda s: s.step)
    further: dict[str, dict[str, int | None]] = {stage.stage: {} for stage in stages}
    for row in of.stage_zones:
        if row.method == method.method and row.stage in further:  # not in holding
            further[row.stage][row.zone] = row.days
    stays = [
        list(run) for _, run in groupby(stages, key=lambda s: (s.zone, s.part, sorted(further[s.stage])))
    ]
    for zones in product(*([None, *further[stay[0].stage]] for stay in stays)):
        through = []
        for stay, zone in zip(stays, zones, strict=True):
            for stage in stay:
                own = further[stage.stage].get(zone) if zone else None
                through.append((zone or stage.zone, stage.part, stage.days if own is None else own))
        yield through


def ready(of: Scenario, method: Method, graft: date) -> date | None:
    """First ready day of joins made on a day, moved on working days only, whatever zones they pass."""
    works, found = working(of), []
    for through in passed(of, method):
        at: date | None = graft
        for _, run in groupby(through, key=lambda stage: stage[:2]):
            days = sum(stage[2] for stage in run)
            if at is not None and days:
                at = min((d for d in works if d >= at + timedelta(days=days)), default=None)
        if at is not None and at <= of.nursery.last_day:
            found.append(at)
    return min(found, default=None)


def working(of: Scenario) -> set[date]:
    nursery, off = of.nursery, {entry.day for entry in of.days_off}
    span = (nursery.last_day - nursery.first_day).days + 1
    days = (nursery.first_day + timedelta(days=n) for n in range(span))
    return {d for d in days if f"{d:%a}" in nursery.working_weekdays and d not in off}


def last_graft(of: Scenario, name: str, made: str) -> date:
    """The last working day whose joins, made as a product, are ready for the order, in time or late."""
    works, methods = working(of), {m.method: m for m in of.methods}
    asked = next(row for row in of.orders if row.order == name)
    method = methods[next(p.method for p in of.products if p.product == made)]
    late = of.nursery.late_days_most if asked.late_days_most is None else asked.late_days_most
    nursery, last = of.nursery, asked.due_day + timedelta(days=late)
    for run in of.runs if any(row.customer == asked.customer for row in of.customers) else ():
        span = (nursery.last_day - nursery.first_day).days + 1
        days = [nursery.first_day + timedelta(days=n) for n in range(span)]
        goes = [d for d in days if f"{d:%a}" in run.weekdays]
        due = max(d for d in goes if d <= asked.due_day)
        last = max(d for d in goes if d <= due + timedelta(days=late))
    leaving = max(d for d in works if d <= last)
    return max(d for d in works if (end := ready(of, method, d)) is not None and end <= leaving)


def last_sowing(of: Scenario, made: Plan, wave: str) -> tuple[date | None, bool]:
    """The last working day on which seed of the wave's lot is of an age by every order's last graft day.

    Second: whether there is no such day for some order. Plants on hand need no seed.
    """
    works, methods = working(of), {m.method: m for m in of.methods}
    of_product = {p.product: methods[p.method] for p in of.products}
    lot = {row.lot: row for row in of.seed_lots}[dict(rows_of(made.waves, "wave", "lot"))[wave]]
    own = made.deliveries[made.deliveries["source"] == "own"]
    found = []
    for name_of, graft, zones, root, top in rows_of(
        made.joins, "product", "graft_day", "in_zones", "rootstock_wave", "scion_wave"
    ):
        method = of_product[name_of]
        if graft < of.nursery.first_day:
            continue
        windows = []
        if root == wave:
            windows.append((method.rootstock_age_min or 0, method.rootstock_age_max or 0))
        if top == wave:
            windows.append((method.scion_age_min, method.scion_age_max))
        for name, *flow in rows_of(own, "order", "product", "graft_day", "in_zones"):
            if flow != [name_of, graft, zones]:
                continue
            for low, high in windows:
                until = last_graft(of, name, name_of)
                found.append(
                    max(
                        (
                            d
                            for d in works
                            for g in works
                            if low <= (g - d).days <= high
                            and g <= until
                            and any(d + timedelta(days=lot.germination_days) <= b <= g for b in works)
                        ),
                        default=None,
                    )
                )
    days = [one for one in found if one is not None]
    never = len(days) < len(found)
    return None if never else min(days, default=None), never


@settings(max_examples=deep(40))
@given(small_scenarios())
def test_no_later_day_would_do(of: Scenario) -> None:
    made = plan(of, whole=False)
    found = last_days_of(of, made)
    own = made.deliveries[made.deliveries["source"] == "own"]
    methods = {method.method: method.kind for method in of.methods}
    kinds = {product.product: methods[product.method] for product in of.products}
    too_late: set[str] = set()
    for (made_as, graft, zones), last in found.flows.items():
        served = [
            o
            for o, *flow in rows_of(own, "order", "product", "graft_day", "in_zones")
            if tuple(flow) == (made_as, graft, zones) and graft >= of.nursery.first_day
        ]
        assert last.again == min((last_graft(of, name, made_as) for name in served), default=None)
        assert last.again is None or last.again >= graft
        if kinds[made_as] is not MethodKind.OWN_ROOT:
            too_late |= {name for name in served if last_graft(of, name, made_as) < last.counted}
    assert found.grafted_too_late == too_late
    for wave, sown in rows_of(made.waves, "wave", "sow_day"):
        assert (found.waves[wave].again, found.waves[wave].never) == last_sowing(of, made, wave)
        assert found.waves[wave].again is None or found.waves[wave].again >= sown
    late = {wave for wave, last in found.waves.items() if not last.in_time}
    drawn: dict[str, set[str]] = defaultdict(set)
    for name, *named in rows_of(own, "order", "product", "graft_day", "in_zones"):
        for *flow, root, top in rows_of(
            made.joins, "product", "graft_day", "in_zones", "rootstock_wave", "scion_wave"
        ):
            drawn[name] |= {root, top} & late if flow == named else set()
    assert found.sown_too_late <= {name for name, waves in drawn.items() if waves}
    for wave in late:
        assert found.sown_too_late & {name for name, waves in drawn.items() if wave in waves}


@pytest.mark.parametrize("days, last", [(3, 10), (4, 9)])
def test_days_of_germination_count(days: int, last: int) -> None:
    """Joins by 13; scions are 3 days old then, or 4 where they are 4 days in the germination room."""
    of = base_scenario(orders=(order("O-1", "Red on Stout", 40, 18),))
    of = with_rows(of, "seed_lots", lambda row: replace(row, germination_days=days))
    found = last_days_of(of, plan(of)).waves.values()
    assert max(one.again for one in found if one.again is not None) == day(last)

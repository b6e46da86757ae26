"""Groups kept apart on random books: by the printed trace alone they never meet, and it is never a saving."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from datetime import date, timedelta
from itertools import groupby
from itertools import product as product_of

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.network.rooms import routes_of
from model.planned.plan_tables import Plan, records
from model.planned.tables.declared import FLOW
from model.proof.audit import audit
from model.scenario.choices import GroupBy, MethodKind, Shared
from model.scenario.entities import Order, Scenario
from model.scenario.records.kept_apart import Apart
from model.solve import facts_of, plan_of, solve
from tests.depth import deep
from tests.drawn_rows import Draw, drawn_apart
from tests.independent_parts import Days
from tests.scenario_parts import day
from tests.specimens import SPECIMENS
from tests.strategies import books_on_hand, small_scenarios

Row = dict[str, object]


@st.composite
def books_apart(draw: Draw) -> Scenario:
    """Small books, all with groups kept apart; in some they stand together on the first day."""
    if draw(st.integers(0, 2)) == 0:
        return draw(books_on_hand())
    book: Scenario = draw(small_scenarios(products_most=2, orders_most=3))
    lots = tuple(row for row in book.seed_lots if row.lot != "Red B")
    return book if book.apart else drawn_apart(draw, replace(book, seed_lots=lots))


class Traced:
    """The trace of a plan as printed: what it says of lots, places and days."""

    def __init__(self, scenario: Scenario, made: Plan) -> None:
        self.scenario, self.days = scenario, Days(scenario)
        waves = {row["wave"]: row for row in records(made.waves)}
        orders = {order.order: order for order in scenario.orders}
        products = {row.product: row for row in scenario.products}
        methods = {row.method: row for row in scenario.methods}
        routes = routes_of(scenario)
        self.places: dict[tuple[GroupBy, str], dict[tuple[str | None, date], bool]] = defaultdict(dict)
        self.units: dict[tuple[GroupBy, str], set[tuple[object, ...]]] = defaultdict(set)
        loaded: dict[tuple[object, ...], set[tuple[object, ...]]] = defaultdict(set)
        for row in records(made.unit_loads):
            loaded[tuple(row[name] for name in FLOW)].add((row["zone"], row["open_day"], row["not_for"]))
        self.lots: dict[tuple[str, str], set[str]] = defaultdict(set)
        for row in records(made.trace):
            order, product = orders[row["order"]], products[row["product"]]
            method = methods[product.method]
            sides = [side for side in ("rootstock_wave", "scion_wave") if row[side] is not None]
            for side in sides:
                self.lots[order.order, side].add(waves[row[side]]["lot"])
            lots = {waves[row[side]]["lot"] for side in sides}
            groups = self.groups_of(lots) | {(GroupBy.CUSTOMER, order.customer), (GroupBy.CROP, product.crop)}
            first, graft = scenario.nursery.first_day, row["graft_day"]
            stays, ready = self.way(routes[product.method][row["in_zones"]].stages, graft)
            waits = routes[product.method][row["in_zones"]].method.holding_zone
            since = stays[-1][1] if stays and stays[-1][0] == waits else ready
            for group in groups - {g for g in groups if g[0] is GroupBy.CROP and g[1] != product.crop}:
                if method.kind is not MethodKind.OWN_ROOT:
                    self.stand(group, None, graft, graft + timedelta(days=1), graft)
                self.units[group] |= loaded[tuple(row[name] for name in FLOW)]
                nobody_s = group[0] is GroupBy.CUSTOMER and graft < first
                for zone, start, end in () if nobody_s else stays:
                    self.stand(group, zone, start, end, graft)
                self.stand(group, waits, ready, order.due_day, first if nobody_s else since)
            for side in sides:
                wave = waves[row[side]]
                lot = next(each for each in scenario.seed_lots if each.lot == wave["lot"])
                elsewhere = [each for each in records(made.germination) if each["wave"] == wave["wave"]]
                places = [(each["zone"], each["bench_day"]) for each in elsewhere]
                if wave["trays"] > sum(each["trays"] for each in elsewhere) + 1e-6:
                    places.append((lot.germination_zone, wave["bench_day"]))
                for group, (zone, out) in product_of(self.groups_of({lot.lot}), places):
                    self.stand(group, zone, wave["sow_day"], out, wave["sow_day"])
                    self.stand(group, lot.bench_zone, out, graft, wave["sow_day"])

    def groups_of(self, lots: set[str]) -> set[tuple[GroupBy, str]]:
        """Groups of some lots."""
        rows = [row for row in self.scenario.seed_lots if row.lot in lots]
        found = {(GroupBy.LOT, row.lot) for row in rows}
        found |= {(GroupBy.CROP, row.crop) for row in rows if row.crop is not None}
        return found | {(GroupBy.HEALTH, row.health.value) for row in rows if row.health is not None}

    def way(self, stages: tuple[object, ...], graft: date) -> tuple[list[tuple[str, date, date]], date]:
        """Zones passed after the graft day with their days, and the ready day."""
        now, stays = self.days.number(graft), []
        for (zone, _), run in groupby(stages, lambda stage: (stage.zone, stage.part)):  # type: ignore[attr-defined]
            length = sum(stage.days for stage in run)  # type: ignore[attr-defined]
            end = self.days.next(now + length) if length else now
            assert end is not None
            stays.append((zone, self.days.at(now), self.days.at(end)))
            now = end
        return stays, self.days.at(now)

    def stand(
        self, group: tuple[GroupBy, str], zone: str | None, start: date, end: date, begun: date
    ) -> None:
        """Plants of a group stand in a zone; those begun before the first day may meet others that were."""
        first = self.scenario.nursery.first_day
        for n in range((max(start, first) - start).days, (end - start).days):
            at = zone, start + timedelta(days=n)
            self.places[group][at] = self.places[group].get(at, False) or begun >= first


def meets(traced: Traced, rule: Apart) -> bool:
    """Whether the groups of a rule share by the trace what they may not, or come before the cleaning ends."""
    if rule.share is Shared.UNIT:
        shared = traced.units[rule.by, rule.group] & traced.units[rule.other_by, rule.other]
        return any(rule.zone in (None, zone) for zone, *_ in shared)
    one, other = traced.places[rule.by, rule.group], traced.places[rule.other_by, rule.other]
    return any(
        (zone is None) == (rule.share is Shared.GRAFT_DAY)
        and rule.zone in (None, zone)
        and (at := (zone, day + timedelta(days=n))) in other
        and (new or other[at])
        for (zone, day), new in one.items()
        for n in range(-rule.cleaning_days, rule.cleaning_days + 1)
    )


@pytest.mark.deep
@given(books_apart())
@settings(max_examples=deep(100))
def test_no_pair_kept_apart_ever_meets(scenario: Scenario) -> None:
    made = plan_of(solve(scenario))
    assert [check for check in audit(scenario, made) if not check.passed] == []
    traced = Traced(scenario, made)
    for rule in scenario.apart:
        assert not meets(traced, rule), rule
    for order in scenario.orders:
        for side in ("rootstock_wave", "scion_wave"):
            one = scenario.nursery.one_lot if order.one_lot is None else order.one_lot
            assert not one or len(traced.lots[order.order, side]) <= 1
    fewer = replace(scenario, apart=scenario.apart[:-1]) if len(scenario.apart) > 1 else together(scenario)
    bound = facts_of(solve(fewer)).bound
    assert made.facts.objective >= bound - 1e-6 * max(1.0, abs(bound))


def test_a_rule_of_units_is_read_from_the_trace() -> None:
    """The plan keeps the rule; loaded into the units of the other kind, its plants would meet."""
    scenario = SPECIMENS["kept apart in units"]
    made = plan_of(solve(scenario))
    assert not any(meets(Traced(scenario, made), rule) for rule in scenario.apart)
    mixed = replace(made, unit_loads=made.unit_loads.assign(open_day=day(9), not_for=None))
    assert any(meets(Traced(scenario, mixed), rule) for rule in scenario.apart)


def together(scenario: Scenario) -> Scenario:
    """The scenario with nothing kept apart."""

    def any_lot(order: Order) -> Order:
        return replace(order, one_lot=False)

    return replace(scenario, apart=(), orders=tuple(any_lot(order) for order in scenario.orders))

"""Which waves, joins, flows, deliveries and buy-ins a scenario allows."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from model.network.expansion import expand, order_terms, stays_after
from model.network.types import Network
from model.scenario.calendar import WEEKDAYS, Calendar
from model.scenario.choices import MarginPolicy, MatchFrom, MethodKind, Part, ZoneUse
from model.scenario.entities import DayOff, Product, Scenario, TrayFormat
from model.scenario.records.methods import AgeEffect, Stage
from model.scenario.records.trade import BuyInOffer
from tests.known_answers.build import (
    day,
    grafted_method,
    lot,
    nursery,
    order,
    own_root,
    own_root_method,
    pool,
)

FIVE_DAYS = WEEKDAYS[:5]


def stage(step: int, zone: str, days: int, part: Part = Part.HEALING) -> Stage:
    return Stage("splice", step, f"stage {step}", part, zone, days)


def grafted(days: int = 21, due: int = 10, off: tuple[int, ...] = (), **method: Any) -> Scenario:
    """Rootstock 4 to 5 days old, scion 3, a healing day; one order due on day 10, held at most 2 days."""
    splice = grafted_method(
        **{
            "rootstock_age_min": 4,
            "rootstock_age_max": 5,
            "scion_age_min": 3,
            "scion_age_max": 3,
            "holding_limit_days": 2,
        }
        | method
    )
    return own_root(
        days,
        [order("one", 100, due)],
        products=(Product("plant", "tomato", "top", "bottom", "splice", "single", ("small",)),),
        seed_lots=(lot("bottom", germination_days=2), lot("top", germination_days=2)),
        tray_formats=(TrayFormat("single", 50, 1.0), TrayFormat("small", 200, 1.0)),
        methods=(splice,),
        stages=(stage(1, "chamber", 1),),
        zones=(
            pool("bench", ZoneUse.BENCH),
            pool("chamber", ZoneUse.HEALING),
            pool("hold", ZoneUse.HOLDING),
        ),
        days_off=tuple(DayOff(day(t)) for t in off),
    )


def five_days(scenario: Scenario) -> Scenario:
    return replace(scenario, nursery=replace(scenario.nursery, working_weekdays=FIVE_DAYS))


def flows(network: Network) -> list[tuple[int, int]]:
    """Graft day and ready day of every flow."""
    return [(flow.graft, flow.ready) for flow in network.flows]


def joins(network: Network) -> list[tuple[int, int | None, int]]:
    """Graft day and sowing days of rootstock and scion of all joins, in order."""
    return sorted(
        (
            network.flows[join.flow].graft,
            None if join.rootstock is None else network.waves[join.rootstock].sow,
            network.waves[join.scion].sow,
        )
        for join in network.joins
    )


def test_flows_are_ready_within_the_holding_limit_of_the_due_day() -> None:
    assert flows(expand(grafted())) == [(7, 8), (8, 9), (9, 10)]


def test_all_pairs_of_waves_in_both_windows_are_joined() -> None:
    network = expand(grafted(holding_limit_days=1))
    assert joins(network) == [(8, 3, 5), (8, 4, 5), (9, 4, 6), (9, 5, 6)]
    assert [(wave.lot.variety, wave.tray.format, wave.sow) for wave in network.waves] == [
        ("bottom", "single", 3),
        ("bottom", "single", 4),
        ("bottom", "single", 5),
        ("top", "small", 5),
        ("top", "small", 6),
    ]


def test_draws_and_flow_joins_name_the_same_joins() -> None:
    network = expand(grafted())
    for j, join in enumerate(network.joins):
        assert j in network.flow_joins[join.flow]
        assert [w for w, draws in enumerate(network.draws) if j in draws] == sorted(join.waves)
    assert sum(len(draws) for draws in network.draws) == 2 * len(network.joins)
    assert network.draw_days(1) == [7, 8]


def test_rootstock_of_an_age_that_would_be_sown_before_the_first_day_is_left_out() -> None:
    network = expand(grafted(due=6, holding_limit_days=1))
    assert joins(network) == [(4, 0, 1), (5, 0, 2), (5, 1, 2)]


def test_waves_are_sown_and_joined_on_working_days_only() -> None:
    """Due on Wednesday, day 9; the weekend is days 5 and 6. Ready by Monday to Wednesday.

    Grafted on Friday, day 4, a flow heals until Monday. Its rootstock is 4 days old at least, of day 0.
    Of Monday's grafting the scion is of Friday, and the rootstock of Wednesday or Thursday; of Tuesday's
    the scion would be of Saturday: none.
    """
    network = expand(five_days(grafted(due=9)))
    assert joins(network) == [(4, 0, 1), (7, 2, 4), (7, 3, 4)]
    assert flows(network) == [(4, 7), (7, 8)]
    assert [delivery.flow for delivery in network.deliveries] == [0, 1]


def test_germination_ends_on_the_next_working_day() -> None:
    """Sown on Thursday and Friday: two days later is the weekend, so on Monday."""
    network = expand(five_days(grafted(due=9)))
    bench = {(wave.lot.variety, wave.sow): wave.bench for wave in network.waves}
    assert bench == {
        ("bottom", 0): 2,
        ("top", 1): 3,
        ("bottom", 2): 4,
        ("bottom", 3): 7,
        ("top", 4): 7,
    }


def test_seedlings_still_germinating_are_not_joined() -> None:
    """Of 3 days old scions with 4 days of germination none is on the bench."""
    scenario = grafted()
    slow = tuple(replace(lot_, germination_days=4) for lot_ in scenario.seed_lots)
    network = expand(replace(scenario, seed_lots=slow))
    assert not network.joins
    assert not network.flows
    assert not network.deliveries


def test_a_day_off_moves_the_end_of_healing() -> None:
    """Day 9 off: grafted on day 8, healed on day 10 instead of 9."""
    network = expand(grafted(off=(9,)))
    assert flows(network) == [(7, 8), (8, 10)]


def test_an_order_due_on_a_day_off_is_packed_before() -> None:
    """Due on Saturday, day 12: packed on Friday, so ready by then, and at most 2 days before Saturday."""
    scenario = five_days(grafted(due=12, rootstock_age_max=7, scion_age_max=7))
    (term,) = order_terms(scenario, Calendar(scenario.nursery))
    assert (term.due, term.pack) == (12, 11)
    assert flows(expand(scenario)) == [(9, 10), (10, 11)]


def test_an_order_with_no_working_day_up_to_its_due_day_cannot_be_served() -> None:
    scenario = grafted(due=1, off=(0, 1))
    network = expand(scenario)
    assert network.orders[0].pack is None
    assert not network.flows
    offer = BuyInOffer("neighbour", "plant", 1.0, 0, WEEKDAYS, None, None, 0, None)
    assert not expand(replace(scenario, buy_in_offers=(offer,))).buy_ins


def test_flows_past_the_horizon_are_left_out() -> None:
    """Salvage pays for flows of all days; the last grafted on day 9 is ready on day 10, the last day."""
    scenario = grafted(days=11)
    (plant,) = scenario.products
    sold = replace(plant, salvage_price=0.1, salvage_most=10)
    network = expand(replace(scenario, products=(sold,)))
    assert flows(network) == [(g, g + 1) for g in range(4, 10)]
    assert {delivery.flow for delivery in network.deliveries} == {3, 4, 5}


@pytest.mark.parametrize("price, most", [(0.0, 10), (0.1, 0)])
def test_salvage_without_a_price_or_a_quantity_makes_no_flows(price: float, most: int) -> None:
    scenario = grafted()
    (plant,) = scenario.products
    sold = replace(plant, salvage_price=price, salvage_most=most)
    assert flows(expand(replace(scenario, products=(sold,)))) == flows(expand(scenario))


def test_root_cut_rootstocks_are_raised_in_their_own_formats() -> None:
    scenario = grafted(kind=MethodKind.ROOT_CUT, holding_limit_days=0)
    (plant,) = scenario.products
    cut = replace(plant, rootstock_formats=("small", "single"))
    network = expand(replace(scenario, products=(cut,)))
    assert [(wave.lot.variety, wave.tray.format, wave.sow) for wave in network.waves] == [
        ("bottom", "single", 4),
        ("bottom", "small", 4),
        ("bottom", "single", 5),
        ("bottom", "small", 5),
        ("top", "small", 6),
    ]
    assert len(network.joins) == 4
    assert network.flows[0].tray.format == "single"


@pytest.mark.parametrize("formats, used", [((), ["single"]), (("small", "single"), ["single", "small"])])
def test_own_root_plants_are_raised_in_the_final_or_the_named_formats(
    formats: tuple[str, ...], used: list[str]
) -> None:
    scenario = own_root(
        3, [order("one", 10, 2)], tray_formats=(TrayFormat("single", 50, 1.0), TrayFormat("small", 200, 1.0))
    )
    (plant,) = scenario.products
    scenario = replace(
        scenario,
        products=(replace(plant, scion_formats=formats),),
        methods=(own_root_method(holding_limit_days=0),),
    )
    network = expand(scenario)
    assert [wave.tray.format for wave in network.waves] == used
    assert all(join.rootstock is None and join.match == join.take == 1.0 for join in network.joins)
    assert not network.flows[0].grafted


def test_each_lot_of_a_variety_gives_waves_of_its_own() -> None:
    scenario = grafted(holding_limit_days=0)
    older = lot("bottom", lot="older seed", germination_days=2, germination=0.6)
    network = expand(replace(scenario, seed_lots=(*scenario.seed_lots, older)))
    usable = {(wave.lot.lot, wave.sow): wave.usable for wave in network.waves if wave.lot.variety == "bottom"}
    assert usable == pytest.approx(
        {("bottom lot", 4): 50.0, ("bottom lot", 5): 50.0, ("older seed", 4): 30.0, ("older seed", 5): 30.0}
    )


def test_match_and_take_by_ages() -> None:
    """Rootstock of 5 days has a match; that of 4 days has none and is not joined."""
    effects = (AgeEffect("splice", 5, 3, match=0.8, take=0.7), AgeEffect("splice", 4, 3, take=0.9))
    scenario = grafted(match_from=MatchFrom.AGES, match=None, take=0.95, holding_limit_days=0)
    network = expand(replace(scenario, age_effects=effects))
    assert joins(network) == [(9, 4, 6)]
    assert (network.joins[0].match, network.joins[0].take) == (0.8, 0.7)


def test_stays_join_stages_of_one_part_and_zone() -> None:
    stages = (
        stage(1, "dark", 2),
        stage(2, "chamber", 1),
        stage(3, "chamber", 2),
        stage(4, "chamber", 3, Part.FINISHING),
    )
    stays, ready = stays_after(stages, 1, Calendar(nursery(20))) or ((), -1)
    assert [(stay.zone, stay.part, stay.start, stay.end) for stay in stays] == [
        ("dark", Part.HEALING, 1, 3),
        ("chamber", Part.HEALING, 3, 6),
        ("chamber", Part.FINISHING, 6, 9),
    ]
    assert ready == 9


def test_each_stay_ends_on_a_working_day_and_the_next_begins_there() -> None:
    """From Thursday, day 3: 2 days end on Saturday, so on Monday, day 7; 3 more on Thursday, day 10."""
    calendar = Calendar(nursery(20, working_weekdays=FIVE_DAYS))
    stays, ready = stays_after((stage(1, "dark", 2), stage(2, "ramp", 3)), 3, calendar) or ((), -1)
    assert [(stay.start, stay.end) for stay in stays] == [(3, 7), (7, 10)]
    assert ready == 10


def test_a_stay_of_no_days_ends_where_it_starts() -> None:
    stays, ready = stays_after((stage(1, "dark", 0),), 3, Calendar(nursery(5))) or ((), -1)
    assert [(stay.start, stay.end) for stay in stays] == [(3, 3)]
    assert ready == 3


def test_without_stages_plants_are_ready_on_the_graft_day() -> None:
    assert stays_after((), 3, Calendar(nursery(5))) == ((), 3)


def test_stays_that_leave_the_horizon_are_none() -> None:
    calendar = Calendar(nursery(5))
    assert stays_after((stage(1, "dark", 1),), 3, calendar) is not None
    assert stays_after((stage(1, "dark", 2),), 3, calendar) is None


def test_stages_follow_each_other_by_step_not_by_row() -> None:
    scenario = grafted()
    stages = (stage(2, "bench", 1), stage(1, "chamber", 1))
    (first, *_) = expand(replace(scenario, stages=stages)).flows
    assert [stay.zone for stay in first.stays] == ["chamber", "bench"]


def bought(**changes: Any) -> list[int]:
    """Days on which plants for an order due on Wednesday, day 9, may be bought in; held 4 days at most."""
    plain = BuyInOffer("neighbour", "plant", 1.0, 0, WEEKDAYS, None, None, 0, None)
    scenario = five_days(grafted(due=9, holding_limit_days=4))
    offers = (replace(plain, **changes),)
    return [buy_in.day for buy_in in expand(replace(scenario, buy_in_offers=offers)).buy_ins]


@pytest.mark.parametrize(
    "changes, days",
    [
        ({}, [7, 8, 9]),
        ({"delivery_weekdays": ("Tue", "Sat")}, [8]),
        ({"lead_days": 8}, [8, 9]),
        ({"lead_days": 10}, []),
        ({"from_day": day(9)}, [9]),
        ({"to_day": day(7)}, [7]),
        ({"from_day": day(-5), "to_day": day(99)}, [7, 8, 9]),
    ],
)
def test_days_of_buying_in(changes: dict[str, Any], days: list[int]) -> None:
    assert bought(**changes) == days


def test_buying_in_serves_orders_of_its_product_only() -> None:
    scenario = grafted()
    (plant,) = scenario.products
    scenario = replace(
        scenario,
        products=(plant, replace(plant, product="other")),
        orders=(*scenario.orders, order("two", 10, 10, "other")),
        buy_in_offers=(BuyInOffer("neighbour", "other", 1.0, 0, WEEKDAYS, None, None, 0, None),),
    )
    network = expand(scenario)
    assert {network.orders[buy_in.order].order.order for buy_in in network.buy_ins} == {"two"}
    assert {network.flows[d.flow].product.product for d in network.deliveries if d.order == 1} == {"other"}


def test_terms_of_an_order() -> None:
    """The order's own penalty and service level stand before the nursery's."""
    scenario = grafted(take=0.9)
    scenario = replace(
        scenario,
        nursery=replace(scenario.nursery, margin_policy=MarginPolicy.LEVEL, shortfall_penalty=3.0),
        orders=(
            order("plain", 100, 10),
            order("sure", 100, 10, service_level=0.999, shortfall_penalty=7.0),
        ),
    )
    plain, sure = order_terms(scenario, Calendar(scenario.nursery))
    assert (plain.penalty, sure.penalty) == (3.0, 7.0)
    assert plain.margin == pytest.approx(117 * 0.9 / 100 - 1)
    assert sure.margin > plain.margin


def test_one_scenario_gives_one_network() -> None:
    assert expand(grafted()) is not expand(grafted())
    first, second = expand(grafted()), expand(grafted())
    assert (first.waves, first.flows, first.joins, first.deliveries) == (
        second.waves,
        second.flows,
        second.joins,
        second.deliveries,
    )

"""Relief names the limit, the day and the least amount, as worked by hand."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta
from math import ceil
from typing import Any

import pytest

from model.scenario.choices import Decline, Happened, MethodKind, Source, Task
from model.scenario.entities import DayOff, Order, Scenario
from model.scenario.records.past import Progress
from model.scenario.records.people import CrewDay, LabourStandard
from model.scenario.records.trade import BuyInOffer, Pack
from model.shortage import relief
from model.shortage.relief import STEPS, Granted, Item, all_served, least_relief, relief_within, with_moved
from model.solver.compiled import SolveError
from tests.scenario_parts import WEEK, WORK, crew, day, method, order, units
from tests.specimens import HANDS, SPECIMENS
from tests.strategies import base_scenario, with_nursery, with_rows

JOINS = 100 / (0.8 * 0.95)
TRAYS = JOINS / 0.9 / 8.1
"""Joins and rootstock trays of the base order: take .8, survival .95, match .9, 8.1 seedlings a tray."""

GRAFT = 11
"""Its graft day where nothing may be held: 2 + 1 days in the chamber and 2 in the house before day 16."""


def not_held(**changes: Any) -> Scenario:
    """The base scenario without holding: one graft day."""
    return base_scenario(methods=(method("splice", MethodKind.ON_TRAY, holding_limit_days=0),), **changes)


def with_order(scenario: Scenario, **changes: Any) -> Scenario:
    """The scenario with its first order changed."""
    first: Order = replace(scenario.orders[0], **changes)
    return replace(scenario, orders=(first, *scenario.orders[1:]))


def amounts(scenario: Scenario) -> dict[tuple[str, str, date | None], float]:
    """Relief by kind, name and day."""
    return {(item.kind, item.name, item.day): item.amount for item in least_relief(scenario).items}


def close(expected: dict[tuple[str, str, date | None], float]) -> Any:
    """Equal when rounded up to what relief comes in."""
    rounded = {key: ceil(round(value / STEPS.get(key[0], 1.0), 6)) for key, value in expected.items()}
    return pytest.approx({key: steps * STEPS.get(key[0], 1.0) for key, steps in rounded.items()})


def test_nothing_short_needs_no_relief() -> None:
    relief = least_relief(base_scenario())
    assert (relief.short, relief.items, relief.proof, relief.beyond) == ({}, (), (), ())


def test_slots_on_the_days_on_which_they_are_missing() -> None:
    full = with_rows(not_held(), "zones", lambda z: replace(z, slots=10.0) if z.zone == "Chamber" else z)
    missing = TRAYS - 10
    assert amounts(full) == close({("slots", "Chamber", day(GRAFT + n)): missing for n in range(3)})


def test_units() -> None:
    scenario = with_order(SPECIMENS["units"], quantity=400)
    relief = least_relief(scenario)
    assert {item.kind for item in relief.items} == {"units"}
    assert {item.name for item in relief.items} == {"Chamber"}


def test_hours_at_the_standard_pace() -> None:
    scenario = not_held(
        labour_standards=tuple(row for row in WORK if row.skill == "grafting"),
        crews=(crew("Grafters", "grafting", heads=0.5, pace=1.2, pay_per_hour=0.1),),
    )
    missing = JOINS * 200 / 3600 - 0.5 * 8 * 1.2
    assert amounts(scenario) == close({("hours", "grafting", day(GRAFT)): missing})


def test_hours_where_nobody_has_the_skill() -> None:
    scenario = not_held(labour_standards=tuple(row for row in WORK if row.skill == "grafting"))
    assert amounts(scenario) == close({("hours", "grafting", day(GRAFT)): JOINS * 200 / 3600})


def test_stock_that_comes_too_late() -> None:
    scenario = with_rows(
        base_scenario(),
        "seed_lots",
        lambda row: replace(row, lead_days=19) if row.variety == "Stout" else row,
    )
    assert amounts(scenario) == close({("stock", "Stout A", None): TRAYS * 10})


def test_more_of_an_offer() -> None:
    offer = BuyInOffer("Neighbour", "Red on Stout", 3.0, 1, WEEK, day(16), day(16), 0, 80)
    scenario = with_rows(
        base_scenario(buy_in_offers=(offer,)), "products", lambda row: replace(row, source=Source.BUY)
    )
    relief = least_relief(scenario)
    assert relief.short == pytest.approx({"O-1": 20})
    assert amounts(scenario) == close({("buy-in", "Neighbour", day(16)): 20})


def test_due_day_moved_to_the_first_that_can_be_met() -> None:
    # earliest: rootstock sown on day 0 and grafted at 4 days, 3 in the chamber, 2 in the house
    early = with_order(base_scenario(), due_day=day(6))
    assert amounts(early) == close({("due day", "O-1", day(9)): 3})
    assert not Granted(early).short(least_relief(early).items)


@pytest.mark.parametrize("last, kind", [(20, "due day"), (10, "due day"), (9, "due day"), (8, "first day")])
def test_the_first_day_moves_only_where_no_later_due_day_is_left(last: int, kind: str) -> None:
    early = with_nursery(with_order(base_scenario(), due_day=day(6)), last_day=day(last))
    assert [(item.kind, item.amount) for item in least_relief(early).items] == [(kind, 3.0)]


def test_first_day_moved_where_the_horizon_ends_before() -> None:
    early = with_nursery(with_order(base_scenario(), due_day=day(6)), last_day=day(8))
    relief = least_relief(early)
    assert [(i.kind, i.day, i.amount, i.orders) for i in relief.items] == [
        ("first day", day(-3), 3.0, ("O-1",))
    ]
    assert with_moved(early, relief.items).nursery.first_day == day(-3)


def test_an_earlier_first_day_serves_the_orders_cut_off_and_no_others() -> None:
    """One order is due too early for what is grown; another could be bought in for more than its penalty."""
    base = base_scenario()
    cheap = replace(base.orders[0], order="cheap", product="Bought", due_day=day(8), shortfall_penalty=0.2)
    early = replace(base.orders[0], order="early", due_day=day(6))
    of = replace(
        base,
        orders=(cheap, early),
        products=(*base.products, replace(base.products[0], product="Bought", source=Source.BUY)),
        buy_in_offers=(BuyInOffer("Neighbour", "Bought", 3.0, 1, WEEK, None, None, 0, None),),
    )
    relief = least_relief(with_nursery(of, last_day=day(8)))
    assert relief.short == pytest.approx({"cheap": 100, "early": 100})
    assert [(item.kind, item.orders) for item in relief.items] == [
        ("first day", ("early",)),
        ("penalty", ("cheap",)),
    ]


def test_an_earlier_first_day_spares_other_due_days() -> None:
    two = (replace(base_scenario().orders[0], order="first", due_day=day(5)), *base_scenario().orders)
    early = with_nursery(replace(with_order(base_scenario()), orders=two), last_day=day(16))
    early = replace(early, orders=(two[0], replace(two[1], due_day=day(8))))
    assert amounts(early) == close({("due day", "first", day(9)): 4, ("due day", "O-1", day(9)): 1})
    cut = with_nursery(early, last_day=day(8))
    assert amounts(cut) == close({("first day", "Test nursery", day(-4)): 4})


def test_penalty_raised_to_the_next_hundredth_above_the_cost() -> None:
    # 146.2 joins' seedlings / .81: 1.69 seeds each a plant at .50 + .25
    cost = 0.75 / (0.8 * 0.95 * 0.9 * 0.81)
    cheap = with_order(base_scenario(), shortfall_penalty=0.2)
    (item,) = least_relief(cheap).items
    assert (item.kind, item.name, item.day, item.orders) == ("penalty", "O-1", None, ("O-1",))
    assert cost < 0.2 + item.amount < cost + 0.0101
    below = replace(item, amount=cost - 0.2 - 1e-4)
    assert Granted(cheap).short([below]) == pytest.approx({"O-1": 100})


def test_a_raised_penalty_serves_its_own_order() -> None:
    """Of three orders two have penalties below the 1.354 that a plant costs, by 1.155 and 0.455."""
    base = base_scenario().orders[0]
    penalties = {"A": 0.2, "B": 50.0, "C": 0.9}
    orders = tuple(replace(base, order=name, shortfall_penalty=p) for name, p in penalties.items())
    found = least_relief(replace(base_scenario(), orders=orders)).items
    assert [(item.kind, item.name, item.day, item.orders) for item in found] == [
        ("penalty", "A", None, ("A",)),
        ("penalty", "C", None, ("C",)),
    ]
    assert [item.amount for item in found] == pytest.approx([1.16, 0.46])


def test_an_order_that_may_be_declined_is_not_short() -> None:
    declined = with_order(base_scenario(), due_day=day(6), price=1.0, decline=Decline.WHOLE)
    assert least_relief(declined).short == {}


def test_an_order_declined_gets_no_relief_beside_one_that_is_short() -> None:
    """Neither can be reached by its due day; one is declined."""
    short = replace(base_scenario().orders[0], due_day=day(6))
    declined = replace(short, order="declined", price=1.0, decline=Decline.WHOLE)
    relief = least_relief(replace(base_scenario(), orders=(declined, short)))
    assert relief.short == pytest.approx({"O-1": 100})
    assert [(item.kind, item.name) for item in relief.items] == [("due day", "O-1")]


def test_what_nobody_grows_or_offers_is_beyond_relief() -> None:
    scenario = with_rows(base_scenario(), "products", lambda row: replace(row, source=Source.BUY))
    relief = least_relief(scenario)
    assert (relief.items, relief.beyond) == ((), ("O-1",))
    assert relief.short == pytest.approx({"O-1": 100})


def test_orders_served_are_those_that_use_the_limit() -> None:
    base = SPECIMENS["own-root"]
    other = replace(base.orders[0], order="other", due_day=day(5))
    scenario = replace(base, orders=(*base.orders, other))
    cramped = with_rows(scenario, "zones", lambda z: replace(z, slots=1.0) if z.zone == "House" else z)
    served = {(item.kind, item.orders) for item in least_relief(cramped).items}
    assert ("due day", ("other",)) in served
    assert ("slots", ("O-1",)) in served


def shared(**changes: Any) -> Scenario:
    """Orders A and B of 100, due on days 9 and 12; every seed gives a plant, held for up to three days.

    A is grafted on day 4, as early as can be. B may be as well, since days 5 and 6 are off, but to hold its
    plants costs a little, so that it is grafted on day 7.
    """
    sure = {"match": 1.0, "take": 1.0, "finish_survival": 1.0, "rootstock_age_max": 4, "scion_age_max": 3}
    made = base_scenario(
        orders=tuple(order(name, "Red on Stout", 100, due) for name, due in (("A", 9), ("B", 12))),
        methods=(method("splice", MethodKind.ON_TRAY, **sure),),
        days_off=(DayOff(day(5)), DayOff(day(6))),
        **changes,
    )
    made = with_rows(made, "zones", lambda z: replace(z, cost_per_slot_day=0.01) if z.zone == "House" else z)
    return with_rows(made, "seed_lots", lambda row: replace(row, germination=1.0, grade_out=0.0))


def six_slots(zone: str) -> Scenario:
    """10 trays of each order want a slot each."""
    return with_rows(shared(), "zones", lambda z: replace(z, slots=6.0) if z.zone == zone else z)


def four_hours(task: Task, seconds: float) -> Scenario:
    """Each order wants five hours on a day."""
    half = crew("Hands", "work", heads=0.5, pay_per_hour=0.1)
    return shared(labour_standards=(LabourStandard(task, "work", None, None, seconds),), crews=(half,))


def racks(number: int) -> Scenario:
    """Units of six slots, of which each order wants two for its ten trays."""
    zones = base_scenario().zones
    return shared(zones=(*zones[:2], units("Chamber", number, 6.0, 1), zones[3]))


def bought() -> Scenario:
    """60 plants may be bought on each of two days, and none are grown."""
    offer = BuyInOffer("Neighbour", "Red on Stout", 3.0, 1, ("Wed", "Sat"), day(9), day(12), 0, 60)
    return with_rows(shared(buy_in_offers=(offer,)), "products", lambda row: replace(row, source=Source.BUY))


SHARED: dict[str, tuple[Scenario, str, str, float, list[int], list[int]]] = {
    "chamber": (six_slots("Chamber"), "Chamber", "slots", 4.0, [4, 5, 6], [7, 8, 9]),
    "house": (six_slots("House"), "House", "slots", 4.0, [7, 8], [10, 11]),
    "grafting": (four_hours(Task.GRAFT, 180), "work", "hours", 1.0, [4], [7]),
    "care": (four_hours(Task.CARE, 1800), "work", "hours", 1.0, [4, 5, 6], [7, 8, 9]),
    "grading": (four_hours(Task.GRADE, 180), "work", "hours", 1.0, [9], [12]),
    "packing": (four_hours(Task.PACK, 180), "work", "hours", 1.0, [9], [12]),
    "sowing": (four_hours(Task.SOW, 1800), "work", "hours", 1.0, [0], [3]),
    "one unit": (racks(1), "Chamber", "units", 1.0, [4, 5, 6], [7, 8, 9]),
    "no units": (racks(0), "Chamber", "units", 2.0, [4, 5, 6], [7, 8, 9]),
    "offer": (bought(), "Neighbour", "plants", 40.0, [9], [12]),
}
"""Scenario, then name, unit and amount of each item, its days for A and its days for B."""


@pytest.mark.parametrize("name", SHARED)
def test_of_orders_that_could_use_a_limit_those_are_served_that_do(name: str) -> None:
    of, what, unit, amount, for_a, for_b = SHARED[name]
    found = [(item.name, item.day, item.amount, item.unit, item.orders) for item in least_relief(of).items]
    assert found == [
        (what, day(t), pytest.approx(amount), unit, (order_,))
        for order_, days in (("A", for_a), ("B", for_b))
        for t in days
    ]


def test_the_proof_of_an_item_is_what_is_short_with_all_others() -> None:
    """Without one of A's three days A is short of 4 trays, and B is not; and the other way round."""
    assert least_relief(six_slots("Chamber")).proof == pytest.approx([40.0] * 6)


def test_an_item_that_only_makes_room_serves_the_order_that_gets_the_room() -> None:
    """Nobody grafts on day 7, and B, of the higher penalty, takes the room of day 4 from A.

    Five hours of 16 on day 7, for B, are less than 10 slots of 10 on three days, for either.
    """
    grafting = (LabourStandard(Task.GRAFT, "work", None, None, 180),)
    hands = crew("Hands", "work", heads=2.0, pay_per_hour=0.1)
    of = shared(labour_standards=grafting, crews=(hands,), crew_days=(CrewDay("Hands", day(7), 0.0, None),))
    of = with_rows(of, "zones", lambda z: replace(z, slots=10.0) if z.zone == "Chamber" else z)
    of = with_rows(of, "orders", lambda o: replace(o, shortfall_penalty=40.0) if o.order == "A" else o)
    relief = least_relief(of)
    assert relief.short == pytest.approx({"A": 100})
    assert [(item.kind, item.day, item.amount, item.orders) for item in relief.items] == [
        ("hours", day(7), pytest.approx(5.0), ("A",))
    ]


def test_trays_on_the_bench_serve_the_order_that_they_are_for() -> None:
    """Not held, O-1 is grafted on day 10 and O-2 on day 12; on day 9 the trays of either could be there."""
    of = SPECIMENS["wave cost"]
    first, second = of.orders
    of = replace(of, orders=(first, replace(second, due_day=first.due_day + timedelta(days=2))))
    of = with_rows(of, "zones", lambda z: replace(z, slots=6.0) if z.zone == "Bench" else z)
    of = with_rows(of, "methods", lambda row: replace(row, holding_limit_days=0))
    assert [(item.day, item.orders) for item in least_relief(of).items] == [
        (day(t), (name,)) for t, name in ((8, "O-1"), (9, "O-1"), (10, "O-2"), (11, "O-2"))
    ]


def test_room_used_by_others_serves_the_short_order_that_could_use_it() -> None:
    """On the first day of a full bench O-1 stands alone, and makes room for O-2; the third is only bought."""
    few = with_rows(
        SPECIMENS["wave cost"], "zones", lambda z: replace(z, slots=20.0) if z.zone == "Bench" else z
    )
    first, second = (replace(row, quantity=row.quantity * 3) for row in few.orders)
    few = replace(few, orders=(replace(first, shortfall_penalty=3.0), replace(second, shortfall_penalty=2.0)))
    third = replace(few.orders[0], order="O-3", product="Bought", shortfall_penalty=0.2)
    of = replace(
        few,
        orders=(*few.orders, third),
        products=(*few.products, replace(few.products[0], product="Bought", source=Source.BUY)),
        buy_in_offers=(BuyInOffer("Neighbour", "Bought", 3.0, 1, WEEK, None, None, 0, None),),
    )
    relief = least_relief(of)
    assert set(relief.short) == {"O-2", "O-3"}
    assert {(item.kind, item.orders) for item in relief.items} == {("slots", ("O-2",)), ("penalty", ("O-3",))}


def test_each_item_has_its_unit() -> None:
    early = with_order(base_scenario(), due_day=day(6))
    cases = (
        (early, "days"),
        (with_nursery(early, last_day=day(8)), "days"),
        (with_order(base_scenario(), shortfall_penalty=0.2), "USD a plant"),
        (with_rows(base_scenario(), "seed_lots", lambda row: replace(row, lead_days=19)), "units"),
    )
    for of, unit in cases:
        items = least_relief(of).items
        assert items
        assert {item.unit for item in items} == {unit}


def test_a_penalty_a_trace_above_the_cost_is_left_where_room_is_all_that_is_missing() -> None:
    """At every price of relief the last plants cost more than the penalty: relief is sought without one."""
    cost = 0.75 / (0.8 * 0.95 * 0.9 * 0.81)
    full = with_rows(not_held(), "zones", lambda z: replace(z, slots=10.0) if z.zone == "Chamber" else z)
    trace = with_order(full, shortfall_penalty=cost + 2e-5)
    missing = TRAYS - 10
    assert amounts(trace) == close({("slots", "Chamber", day(GRAFT + n)): missing for n in range(3)})


def test_several_causes_at_once_are_each_named() -> None:
    scenario = not_held(
        labour_standards=WORK,
        crews=(replace(HANDS[0], heads=20.0, pay_per_hour=0.0), replace(HANDS[1], heads=0.5)),
        packs=(Pack("Red A", 1.0, 0.5), Pack("Stout A", 1.0, 0.25)),
    )
    full = with_rows(scenario, "zones", lambda z: replace(z, slots=10.0) if z.zone == "Chamber" else z)
    full = with_order(full, shortfall_penalty=1.0)
    relief = least_relief(full)
    assert {item.kind for item in relief.items} == {"slots", "hours", "penalty"}
    for item in relief.items:
        assert Granted(full).short([other for other in relief.items if other is not item])


def test_a_slot_less_is_not_enough() -> None:
    full = with_rows(not_held(), "zones", lambda z: replace(z, slots=10.0) if z.zone == "Chamber" else z)
    items = list(least_relief(full).items)
    assert not Granted(full).short(items)
    for n, item in enumerate(items):
        assert Granted(full).short([*items[:n], replace(item, amount=item.amount - 1), *items[n + 1 :]])


@pytest.mark.parametrize(
    "name, zone, slots, penalty",
    [
        ("wave cost", "Chamber", 6.0, 2.0),
        ("wave cost", "House", 20.0, 2.0),
        ("temporary hands", "House", 6.0, None),
        ("packs", "Chamber", 20.0, None),
    ],
)
def test_each_item_is_whole_steps_and_a_step_less_is_not_enough(
    name: str, zone: str, slots: float, penalty: float | None
) -> None:
    """Books whose first relief has items that are needless, or too large by several steps."""
    few = with_rows(SPECIMENS[name], "zones", lambda z: replace(z, slots=slots) if z.zone == zone else z)
    more = 3 if slots == 20.0 else 1
    few = with_rows(
        few, "orders", lambda o: replace(o, quantity=o.quantity * more, shortfall_penalty=penalty)
    )
    items = list(least_relief(few).items)
    assert items
    assert not Granted(few).short(items)
    for n, item in enumerate(items):
        steps = item.amount / STEPS[item.kind]
        assert steps == pytest.approx(round(steps))
        assert steps >= 1
        less = replace(item, amount=item.amount - STEPS[item.kind])
        assert Granted(few).short([*items[:n], less, *items[n + 1 :]]), item


def test_more_of_one_graft_day_is_relief_where_there_is_one() -> None:
    """One graft day, and no more than .7 of 100 plants from it: 30 are missing."""
    assert amounts(with_order(not_held(), most_share_of_one_day=0.7)) == {
        ("one graft day", "O-1", day(GRAFT)): 30
    }


def test_paid_hands_are_no_cure_for_a_low_penalty() -> None:
    """There are hours enough; hours for nothing would make the order pay, but nobody works for nothing."""
    scenario = not_held(
        labour_standards=tuple(row for row in WORK if row.skill == "grafting"),
        crews=(crew("Grafters", "grafting", heads=5.0, pay_per_hour=100.0),),
    )
    (item,) = least_relief(with_order(scenario, shortfall_penalty=3.0)).items
    assert item.kind == "penalty"


def test_room_for_the_last_plant_is_made_rather_than_its_penalty_raised() -> None:
    """With parts of a slot there would be just room, and the last plant would cost anything."""
    full = with_rows(not_held(), "zones", lambda z: replace(z, slots=10.0) if z.zone == "Chamber" else z)
    assert {item.kind for item in least_relief(with_order(full, shortfall_penalty=2.0)).items} == {"slots"}


def from_day(today: int, due: int, **nursery: Any) -> Scenario:
    """The base order from a day on, with nothing done for it; 80 plants a delivery may still be bought in."""
    offer = BuyInOffer("Neighbour", "Red on Stout", 3.0, 0, WEEK, day(min(today, due)), None, 0, 80)
    late = with_order(not_held(buy_in_offers=(offer,)), due_day=day(due))
    return with_nursery(late, today=day(today), **nursery)


@pytest.mark.parametrize("today, beyond", [(15, ()), (16, ()), (17, ("O-1",))])
def test_an_order_is_beyond_relief_after_its_packing_day_and_not_on_it(
    today: int, beyond: tuple[str, ...]
) -> None:
    relief = least_relief(from_day(today, due=16))
    assert relief.short == pytest.approx({"O-1": 100 if beyond else 20})
    assert relief.beyond == beyond
    found = [(item.kind, item.name, item.day, item.amount) for item in relief.items]
    assert found == ([] if beyond else [("buy-in", "Neighbour", day(16), 20)])


@pytest.mark.parametrize("today, beyond", [(11, ()), (12, ("O-1",)), (13, ("O-1",))])
def test_an_order_packed_before_days_off_is_gone_on_them(today: int, beyond: tuple[str, ...]) -> None:
    """Due on a Sunday, packed on the Friday before, held for two days."""
    held = with_rows(
        from_day(today, due=13, working_weekdays=WEEK[:5]),
        "methods",
        lambda row: replace(row, holding_limit_days=2),
    )
    assert least_relief(held).beyond == beyond


def test_an_order_for_which_too_little_was_sown_is_beyond_relief() -> None:
    """A tray of each was sown on its only day; two days before grafting no more can be."""
    sown = (
        Progress(day(GRAFT - 4), Happened.SOWN, 1.0, lot="Stout A", format="ten"),
        Progress(day(GRAFT - 3), Happened.SOWN, 1.0, lot="Red A", format="twenty"),
    )
    fixed = method("splice", MethodKind.ON_TRAY, holding_limit_days=0, rootstock_age_max=4, scion_age_max=3)
    of = with_nursery(base_scenario(methods=(fixed,), progress=sown), today=day(GRAFT - 2))
    relief = least_relief(of)
    assert relief.short == pytest.approx({"O-1": 100 - 8.1 * 0.9 * 0.8 * 0.95})
    assert (relief.items, relief.beyond) == ((), ("O-1",))


@pytest.mark.parametrize("today, beyond", [(15, ()), (16, ("O-1",))])
def test_days_off_by_date_count_too(today: int, beyond: tuple[str, ...]) -> None:
    """Due on day 16, which is off, the order is packed the day before."""
    held = with_rows(from_day(today, due=16), "methods", lambda row: replace(row, holding_limit_days=2))
    offer = replace(held.buy_in_offers[0], from_day=day(15))
    assert least_relief(replace(held, days_off=(DayOff(day(16)),), buy_in_offers=(offer,))).beyond == beyond


def test_no_day_is_made_earlier_once_something_has_happened() -> None:
    """The horizon ends before a later due day can be met, and from today there is no earlier first day."""
    late = with_nursery(with_order(base_scenario(), due_day=day(6)), last_day=day(8))
    assert [item.kind for item in least_relief(late).items] == ["first day"]
    relief = least_relief(with_nursery(late, today=day(1)))
    assert (relief.items, relief.beyond) == ((), ("O-1",))


@pytest.mark.parametrize(
    "today, due, beyond", [(6, None, ()), (8, 17, ()), (9, 18, ()), (12, None, ("O-1",))]
)
def test_a_route_that_began_before_today_reaches_no_order(
    today: int, due: int | None, beyond: tuple[str, ...]
) -> None:
    """Nothing is sown. By day 6 it may still be; later the due day moves, as far as the horizon allows."""
    under_way = with_nursery(base_scenario(), today=day(today))
    relief = least_relief(under_way)
    assert [(item.kind, item.day) for item in relief.items] == ([("due day", day(due))] if due else [])
    assert relief.beyond == beyond
    assert set(Granted(under_way).short(relief.items)) == set(beyond)


@pytest.mark.parametrize("both, second", [((), ("b", "c")), (("b",), ("b", "c"))])
def test_an_order_that_no_item_names_is_named_by_those_it_needs(
    both: tuple[str, ...], second: tuple[str, ...]
) -> None:
    """Order c is short without the second item alone; order d is filled without either, so both name it."""
    first, other = (Item("slots", name, None, 1.0, "slots", both) for name in ("Bench", "Room"))

    class Solved(Granted):
        def short(self, items: Iterable[Item]) -> dict[str, float]:
            return {"a": 1.0} if list(items) == [other] else {"b": 2.0, "c": 3.0}

    served = all_served(Solved(base_scenario()), [replace(first, orders=("a",)), other], ["a", "b", "c", "d"])
    assert [item.orders for item in served] == [("a", "d"), (*second, "d")]


def test_what_is_recorded_of_other_orders_does_not_stand_in_the_way() -> None:
    """Order "bought" is recorded as bought in; order O-1 cannot be ready from day 8 on, but a day later."""
    offer = BuyInOffer("Neighbour", "Red on Stout", 3.0, 0, WEEK, None, day(7), 0, 80)
    told = Progress(day(6), Happened.BOUGHT_IN, 10.0, offer="Neighbour", arrival_day=day(7), order="bought")
    base = base_scenario(buy_in_offers=(offer,), progress=(told,))
    both = replace(
        base, orders=(*base.orders, replace(base.orders[0], order="bought", quantity=10, due_day=day(9)))
    )
    relief = least_relief(with_nursery(both, today=day(8)))
    assert [(item.kind, item.name, item.day) for item in relief.items] == [("due day", "O-1", day(17))]


def test_a_relief_is_sought_up_to_exactly_the_work_allowed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Columns times ten parts before the parts are known, and columns times the parts once they are."""
    late = with_order(base_scenario(), due_day=day(6))
    columns = len(Granted(late).program(())[1].cost)
    assert relief_within(late, 10 * columns) is not None
    assert relief_within(late, 10 * columns - 1) is None
    monkeypatch.setattr(relief, "FEWEST", 0.01)
    items = least_relief(late).items
    made = len(Granted(late).program(items)[1].cost)
    assert relief_within(late, len(items) * made) is not None
    assert relief_within(late, len(items) * made - 1) is None


def test_a_relief_that_cures_nothing_is_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Granted, "short", lambda self, items: {"O-1": 1.0})
    with pytest.raises(SolveError, match="status 'short even with relief'"):
        least_relief(with_order(base_scenario(), due_day=day(6)))

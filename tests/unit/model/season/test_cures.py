"""Ways to cure a failed graft day: what each leaves open, what it costs, and how many days later."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import ceil
from typing import Any

import pytest

from model.planned.plan_tables import Plan
from model.scenario.choices import Happened, MethodKind, Task, ZoneUse
from model.scenario.entities import DayOff, Scenario
from model.scenario.records.past import Progress
from model.scenario.records.people import LabourStandard
from model.scenario.records.trade import BuyInOffer, Pack
from model.season.as_planned import as_planned
from model.season.cures import LATER, Cure, cures
from model.solve import plan
from tests.scenario_parts import WEEK, crew, day, healing, lot, method, order, pool, units
from tests.strategies import base_scenario, with_nursery, with_rows

DUE, HARD = 50, 30
"""The order's due day, and days in the house before it: plants are grafted on day 17, and sown on day 13."""

GRAFT = DUE - HARD - 3
AGAIN = 4 + 3 + HARD
"""Days from sowing again to new plants: 4 to the graft day, 3 in the chamber, 30 in the house."""


def scenario(last: int = 100, **changes: Any) -> Scenario:
    """An order of 100 that cannot be held, of seedlings of one age, and one of 60 much later."""
    firm = method("splice", MethodKind.ON_TRAY, holding_limit_days=0, rootstock_age_max=4, scion_age_max=3)
    orders = (order("O-1", "Red on Stout", 100, DUE), order("O-2", "Red on Stout", 60, 90))
    made = base_scenario(orders=orders, methods=(firm,), stages=healing("splice", hard=HARD), **changes)
    return with_nursery(made, last_day=day(last))


@cache
def before() -> Plan:
    return plan(scenario())


def failed(of: Scenario, made: Plan, today: int, share: float = 0.4) -> Scenario:
    """So far all went as planned, but for a share of the joins that healed."""

    def count(row: Progress) -> Progress:
        return replace(row, counted=row.number * share) if row.what is Happened.GRAFTED else row

    told = tuple(count(row) for row in as_planned(made, day(today)))
    return with_nursery(replace(of, progress=told), today=day(today))


def ways(later: Scenario, made: Plan) -> tuple[list[str], dict[str, Cure]]:
    hit, found = cures(later, made.tables)
    return hit, {way.name: way for way in found}


@pytest.mark.parametrize("days", LATER)
@pytest.mark.parametrize("late", [0, 1])
def test_the_rest_is_due_so_many_days_later_to_the_day(days: int, late: int) -> None:
    """Sown again on the day on which new plants are ready just in time, and a day later."""
    today = DUE + days - AGAIN + late
    hit, found = ways(failed(scenario(), before(), today), before())
    assert hit == ["O-1"]
    missing = found["ship part"].short["O-1"]
    rest = found[f"the rest {days} days later"]
    assert rest.short == ({} if not late else {"O-1": pytest.approx(missing, abs=1)})
    for shorter in (other for other in LATER if other < days):
        assert set(found[f"the rest {shorter} days later"].short) == {"O-1"}
    for longer in (other for other in LATER if other > days):
        assert found[f"the rest {longer} days later"].short == {}


def test_the_ways_and_their_days() -> None:
    _, found = ways(failed(scenario(), before(), GRAFT + 1), before())
    assert LATER == (7, 14, 28)
    assert list(found) == [
        "ship part",
        "other plants of the product",
        "seedlings that stand",
        "sow again",
        "buy in",
        "all together",
        "the rest 7 days later",
        "the rest 14 days later",
        "the rest 28 days later",
    ]


def test_no_day_lies_beyond_the_horizon() -> None:
    """With the last day 7 days after the due day, the rest is due on it, however many days are asked for."""
    short = replace(scenario(DUE + 7), orders=scenario().orders[:1])
    made = plan(short)
    _, found = ways(failed(short, made, DUE + 7 - AGAIN), made)
    assert [found[f"the rest {days} days later"].short for days in LATER] == [{}, {}, {}]
    costs = [found[f"the rest {days} days later"].cost for days in LATER]
    assert costs == pytest.approx([costs[0]] * 3)


def test_what_is_missing_and_what_it_costs() -> None:
    """40 % of the joins healed instead of 80 %: half of the order's plants are there, half are paid for."""
    today = DUE + 7 - AGAIN
    later = failed(scenario(), before(), today)
    _, found = ways(later, before())
    part = found["ship part"]
    made = sum(row.number for row in as_planned(before(), day(today)) if row.what is Happened.GRAFTED)
    there = made * 0.4 * 0.95
    assert part.short == {"O-1": pytest.approx(100 - there)}
    assert part.cost is not None
    rest = found["the rest 7 days later"]
    assert rest.cost is not None
    # The rest is ceil of what is missing: seed of 1.69 a plant is bought for it instead of the penalty.
    seed = 0.75 / (0.8 * 0.95 * 0.9 * 0.81)
    assert part.cost - rest.cost == pytest.approx((100 - there) * (50 - seed), abs=60)
    assert found["all together"].cost == pytest.approx(part.cost, abs=60)


def offered(**changes: Any) -> Scenario:
    """The scenario with plants at 3.00, a day's notice."""
    offer = BuyInOffer("neighbour", "Red on Stout", 3.0, 1, WEEK, None, None, 0, None)
    return scenario(buy_in_offers=(replace(offer, **changes),))


def test_buying_in_buys_what_is_missing_and_no_more() -> None:
    made = plan(offered())
    later = failed(offered(), made, GRAFT + 2)
    _, found = ways(later, made)
    part, buy = found["ship part"], found["buy in"]
    assert part.cost is not None
    assert buy.cost is not None
    assert buy.short == {}
    assert part.cost - buy.cost == pytest.approx(part.short["O-1"] * (50 - 3.0))


def test_each_way_leaves_open_what_it_says() -> None:
    """Nothing stands, nothing can come in time: neither other plants, seedlings nor sowing again help."""
    later = failed(scenario(), before(), GRAFT + 1)
    _, found = ways(later, before())
    missing = found["ship part"].short
    for name in ("other plants of the product", "seedlings that stand", "sow again", "buy in"):
        assert found[name].short == {"O-1": pytest.approx(missing["O-1"], abs=1e-3)}, name
    assert {way.name: way.open_ for way in found.values() if not way.name.startswith("the rest")} == {
        "ship part": "nothing: missing plants are short",
        "other plants of the product": "which plants go to which order",
        "seedlings that stand": "what is grafted from the trays sown",
        "sow again": "what is sown and grafted",
        "buy in": "what is bought in, and which plants go where",
        "all together": "everything that can still be decided",
    }


IN_TIME = (
    "ship part",
    "other plants of the product",
    "seedlings that stand",
    "sow again",
    "buy in",
    "all together",
)


def filling(found: dict[str, Cure], name: str = "O-1") -> set[str]:
    """The ways, on the order's own day, by which it is filled."""
    return {way for way in IN_TIME if found[way].cost is not None and name not in found[way].short}


def test_plants_bought_in_are_left_to_two_ways() -> None:
    made = plan(offered())
    _, found = ways(failed(offered(), made, GRAFT + 2), made)
    assert filling(found) == {"buy in", "all together"}


def test_seed_sown_again_is_left_to_two_ways() -> None:
    """Rootstock was sown on day 12, since day 13 was to be a day off, and 40 % of it came up.

    On day 13, which is worked after all, more is sown for the same graft day. Where neither may be sown nor
    grafted anew, the last plan's joins cannot be made at all.
    """
    wide = method("splice", MethodKind.ON_TRAY, holding_limit_days=0, rootstock_age_max=5, scion_age_max=3)
    of = replace(scenario(), methods=(wide,), orders=scenario().orders[:1])
    made = plan(replace(of, days_off=(DayOff(day(GRAFT - 4)),)))
    assert made.waves["sow_day"].tolist() == [day(GRAFT - 5), day(GRAFT - 3)]
    sown = as_planned(made, day(GRAFT - 4))
    few = tuple(replace(row, counted=row.number * 10 * 0.81 * 0.4) for row in sown)
    later = with_nursery(replace(of, progress=few), today=day(GRAFT - 4))
    hit, found = ways(later, made)
    assert hit == ["O-1"]
    assert filling(found) == {"sow again", "all together"}
    assert found["other plants of the product"].cost is None
    assert found["other plants of the product"].short == {}


def test_plants_of_another_flow_are_left_to_all_ways_but_the_first() -> None:
    """O-2 of a low penalty, due a day before O-1, has plants that may now be held for a day.

    Without them O-1 is short of what its own graft day lost; O-2 then goes without.
    """
    orders = (scenario().orders[0], order("O-2", "Red on Stout", 60, DUE - 1, shortfall_penalty=5.0))
    of = replace(scenario(), orders=orders)
    made = plan(of)
    told = failed(of, made, GRAFT + 1)
    lost = tuple(
        replace(row, counted=row.number * 0.8)
        if row.what is Happened.GRAFTED and row.day == day(GRAFT - 1)
        else row
        for row in told.progress
    )
    held = with_rows(replace(told, progress=lost), "methods", lambda row: replace(row, holding_limit_days=1))
    hit, found = ways(held, made)
    assert hit == ["O-1"]
    missing = found["ship part"].short["O-1"]
    assert found["ship part"].short == {"O-1": pytest.approx(missing)}
    assert filling(found) == set(IN_TIME) - {"ship part"}
    for name in filling(found):
        assert found[name].short == {"O-2": pytest.approx(missing, abs=1e-3)}, name
    part, moved = found["ship part"].cost, found["other plants of the product"].cost
    assert part is not None
    assert moved is not None
    assert part - moved == pytest.approx(missing * 45)


@pytest.mark.parametrize("missing, told", [(0.4, False), (0.6, True), (1.4, True)])
def test_an_order_is_hit_from_half_a_plant_on(missing: float, told: bool) -> None:
    """Of each plant short a join less than .8 of all has healed, and of joins healed .95 are finished."""
    made = plan(replace(scenario(), orders=scenario().orders[:1]))
    (joins,) = made.joins["joins"].tolist()
    share = (100 - missing) / 0.95 / joins
    hit, found = ways(failed(replace(scenario(), orders=scenario().orders[:1]), made, GRAFT + 1, share), made)
    assert hit == (["O-1"] if told else [])
    if told:
        part, rest = found["ship part"], found["the rest 28 days later"]
        assert part.short == {"O-1": pytest.approx(missing)}
        assert rest.short == {}
        assert part.cost is not None
        assert rest.cost is not None
        # The rest is whole plants, each from .25 and .50 of seed.
        seed = ceil(missing) * 0.75 / (0.8 * 0.95 * 0.9 * 0.81)
        assert part.cost - rest.cost == pytest.approx(missing * 50 - seed, abs=1e-3)


def test_a_way_holds_what_it_does_not_leave_open_at_the_last_plans_whole_numbers() -> None:
    """O-2 is grafted on day 57 by temporary hands and healed in units; O-1 is past curing.

    O-2 is of another product with seed of its own. The last plan has 11 trays of rootstock and 6 of scions
    for it, one hand for a week and 2 units. Its 78.95 joins need the seed of 108.3 cells, .49 of a hand of 8
    hours and 1.35 units of 8 slots for 3 days; the plants of O-1 stand in 2.26 of 3 units.
    """
    hands = crew("Grafters", "grafting", heads=0.0, temp_heads_most=3, temp_pay_per_hour=2.0)
    of = scenario(
        crews=(hands,),
        labour_standards=(LabourStandard(Task.GRAFT, "grafting", None, None, 180.0),),
        zones=(
            pool("Warm room", ZoneUse.GERMINATION, 1000.0),
            pool("Bench", ZoneUse.BENCH, 1000.0),
            units("Chamber", 4, 8.0, 1, 0.5),
            pool("House", ZoneUse.FINISHING, 1000.0, 0.01),
        ),
    )
    other = replace(of.products[0], product="Blue on Sturdy", scion="Blue", rootstock="Sturdy")
    of = replace(
        of,
        orders=(of.orders[0], replace(of.orders[1], product="Blue on Sturdy")),
        products=(*of.products, other),
        seed_lots=(*of.seed_lots, lot("Blue A", "Blue", stock=0), lot("Sturdy A", "Sturdy", stock=0)),
        packs=(*of.packs, Pack("Blue A", 1.0, 0.5), Pack("Sturdy A", 1.0, 0.25)),
    )
    made = plan(of)
    assert made.temporary["heads"].tolist() == [1.0, 1.0]
    assert made.unit_batches["units"].tolist() == [3.0, 2.0]
    assert made.waves["trays"].tolist()[2:] == [11.0, 6.0]
    _, found = ways(failed(of, made, GRAFT + 1), made)
    joins = 60 / (0.8 * 0.95)
    hand = (1 - joins * 180 / 3600 / 8) * 8 * 7 * 2.0
    unit = (5 - (joins + 100 / (0.8 * 0.95)) / 0.9 / 8.1 / 8) * 8 * 3 * 0.5
    seed = 110 * 0.25 + 120 * 0.5 - joins / 0.9 / 0.81 * 0.75
    part = found["ship part"].cost
    assert part is not None
    right = {"ship part": 0.0} | dict.fromkeys(IN_TIME[1:], hand + unit)
    right |= dict.fromkeys(("sow again", "all together"), hand + unit + seed)
    saved = {name: part - (found[name].cost or 0.0) for name in IN_TIME}
    assert saved == pytest.approx(right, abs=1e-3)


def test_more_may_have_been_grafted_than_was_planned() -> None:
    """A join more than planned was made, and few healed: what is done is done."""
    later = failed(scenario(), before(), GRAFT + 1)
    told = tuple(
        replace(row, number=row.number + 1) if row.what is Happened.GRAFTED else row for row in later.progress
    )
    hit, found = ways(replace(later, progress=told), before())
    assert hit == ["O-1"]
    assert found["ship part"].short == {"O-1": pytest.approx(100 - 100 / 0.8 * 0.4)}


def test_an_order_that_came_since_is_filled_as_well() -> None:
    """Keeping the last plan leaves it short; sown anew it is not."""
    new = order("new", "Red on Stout", 40, 80)
    later = failed(replace(scenario(), orders=(*scenario().orders, new)), before(), GRAFT + 1, 0.8)
    hit, found = ways(later, before())
    assert hit == ["new"]
    assert found["ship part"].short == {"new": pytest.approx(40)}
    assert filling(found, "new") == {"sow again", "all together"}


def two_at_once() -> Scenario:
    """Two orders of one product due on one day, the first at a penalty of 50, the second at 5."""
    cheap = order("O-2", "Red on Stout", 60, DUE, shortfall_penalty=5.0)
    return replace(scenario(), orders=(scenario().orders[0], cheap))


def test_other_plants_of_the_product_go_where_they_are_missed_most() -> None:
    """Carried on, both are short in proportion or worse; moved, what is short is short of the cheaper one."""
    made = plan(two_at_once())
    _, found = ways(failed(two_at_once(), made, GRAFT + 1), made)
    part, moved = found["ship part"], found["other plants of the product"]
    assert sum(moved.short.values()) == pytest.approx(sum(part.short.values()), abs=1e-3)
    assert part.cost is not None
    assert moved.cost is not None
    assert moved.cost <= part.cost + 1e-6
    assert moved.short["O-2"] == pytest.approx(60)
    saved = (part.short.get("O-1", 0.0) - moved.short.get("O-1", 0.0)) * 45
    assert part.cost - moved.cost == pytest.approx(saved, abs=1e-3)


def test_seedlings_that_stand_are_grafted_on_another_day() -> None:
    """Twice the trays were sown and stand for two graft days: the second takes what the first has lost."""
    wide = method("splice", MethodKind.ON_TRAY, holding_limit_days=3, rootstock_age_max=6, scion_age_max=5)
    of = replace(scenario(), methods=(wide,), orders=scenario().orders[:1])
    made = plan(of)
    first = (made.flows["graft_day"].min() - day(0)).days
    told = failed(of, made, first + 1)
    doubled = tuple(
        replace(row, number=row.number * 3) if row.what is Happened.SOWN else row for row in told.progress
    )
    _, found = ways(replace(told, progress=doubled), made)
    assert first < GRAFT
    assert filling(found) == {"seedlings that stand", "sow again", "all together"}
    for name in ("ship part", "other plants of the product", "buy in"):
        assert found[name].short.keys() == {"O-1"}, name
    # Seedlings over could be grafted to be sold, but not where only what is there is shipped.
    sold = with_rows(
        replace(told, progress=doubled),
        "products",
        lambda row: replace(row, salvage_price=1.0, salvage_most=500),
    )
    _, dearer = ways(sold, made)
    assert dearer["ship part"].cost == pytest.approx(found["ship part"].cost)
    assert (dearer["seedlings that stand"].cost or 0.0) < (found["seedlings that stand"].cost or 0.0) - 10


def test_what_was_short_before_is_no_loss_and_stays_short_by_its_name() -> None:
    """An order due on day 20 that nothing can reach was short in the last plan, too."""
    never = order("never", "Red on Stout", 10, 20)
    of = replace(scenario(), orders=(*scenario().orders, never))
    made = plan(of)
    hit, found = ways(failed(of, made, 5 + 13), made)
    assert hit == ["O-1"]
    assert set(found["ship part"].short) == {"O-1", "never"}
    late = found["the rest 28 days later"]
    assert late.short == {"never": pytest.approx(10)}
    assert late.open_ == "when the rest is due, and everything else"


def test_progress_names_every_way() -> None:
    said: list[str] = []
    _, found = cures(failed(scenario(), before(), GRAFT + 1), before().tables, progress=said.append)
    tried = [f"cures: {n} of {len(found)} tried, {way.name}" for n, way in enumerate(found)]
    assert said == ["cures", *tried[1:]]


@pytest.mark.parametrize("today, packed", [(DUE, False), (DUE + 1, True)])
def test_orders_packed_before_today_are_not_to_be_cured(today: int, packed: bool) -> None:
    """Half of O-1 was delivered on its day; on the day itself it can still be made good."""
    later = failed(scenario(), before(), today)
    told = tuple(
        replace(row, number=50.0) if row.what is Happened.DELIVERED else row for row in later.progress
    )
    hit, found = ways(replace(later, progress=told), before())
    assert hit == ([] if packed else ["O-1"])
    assert (not found) == packed


def test_another_way_takes_rootstocks_that_overshot_their_window() -> None:
    """Nobody grafted on the graft day. Rootstocks are too old for splice a day later, not for root-cut."""
    splice = scenario()
    cut = method("cut", MethodKind.ROOT_CUT, take=0.7, rootstock_age_max=9, scion_age_max=6)
    product = replace(splice.products[0], product="Red on Stout, cut", method="cut", sold_as="Red on Stout")
    both = replace(
        splice,
        products=(*splice.products, replace(product, rootstock_formats=("twenty", "ten"))),
        methods=(*splice.methods, replace(cut, holding_limit_days=0)),
        stages=(*splice.stages, *healing("cut", hard=HARD - 1)),
    )
    made = plan(both)
    assert set(made.flows["product"]) == {"Red on Stout"}
    rows = tuple(row for row in as_planned(made, day(GRAFT + 1)) if row.what is not Happened.GRAFTED)
    later = with_nursery(replace(both, progress=rows), today=day(GRAFT + 1))
    hit, found = ways(later, made)
    assert hit == ["O-1"]
    assert list(found)[6:8] == ["make as Red on Stout", "make as Red on Stout, cut"]
    assert found["make as Red on Stout"].short["O-1"] == pytest.approx(100)
    saved = 100 - found["make as Red on Stout, cut"].short["O-1"]
    sown = made.waves[made.waves["sow_day"] < day(GRAFT)]
    seedlings = (sown["trays"] * sown["usable_per_tray"]).groupby(sown["variety"]).sum().min()
    assert saved == pytest.approx(seedlings * 0.9 * 0.7 * 0.95)
    assert found["make as Red on Stout, cut"].cost < found["ship part"].cost
    assert found["all together"].cost <= found["make as Red on Stout, cut"].cost

"""The plan says why an order is short."""

from dataclasses import replace

import pytest

from model.network.expansion import expand
from model.program.build import build
from model.scenario.choices import MethodKind, Task
from model.scenario.entities import DayOff, Scenario
from model.shortage import why_short
from model.shortage.relief import Item, Relief, least_relief
from model.shortage.relief_words import SHOWN, in_words, spans
from model.shortage.routes import route_keys
from model.shortage.why_short import LUMPY, NOT_FOUND, NOT_SOUGHT, lumpy
from model.shortage.why_short import reasons as reasons_of
from model.solve import plan
from model.solver.compiled import SolveError
from model.solver.filling import Filling
from tests.scenario_parts import WORK, crew, day, method, order
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, with_rows


def reasons(scenario: Scenario) -> dict[str, str | None]:
    """Why each order is short."""
    orders = plan(scenario).orders
    return dict(zip(orders["order"], orders["short_because"], strict=True))


def with_order(**changes: float) -> Scenario:
    """The base scenario with its order changed."""
    return with_rows(base_scenario(), "orders", lambda row: replace(row, **changes))  # type: ignore[arg-type]


def with_second_order(due: int) -> Scenario:
    """The base scenario with a second order, due on that day."""
    base = base_scenario()
    return replace(base, orders=(*base.orders, replace(base.orders[0], order="second", due_day=day(due))))


def test_nothing_is_said_of_filled_orders() -> None:
    assert reasons(base_scenario()) == {"O-1": None}


def test_no_route_names_the_earliest_ready_day() -> None:
    told = reasons(with_second_order(due=2))
    assert told["O-1"] is None
    earliest = plan(base_scenario()).flows["ready_day"].min()
    assert told["second"] is not None
    assert "no route" in told["second"]
    assert "the earliest ready day is" in told["second"]
    assert earliest > day(2)


@pytest.mark.parametrize("zone", ["Chamber", "Bench"])
def test_the_least_relief_is_the_reason(zone: str) -> None:
    full = with_rows(
        base_scenario(), "zones", lambda row: replace(row, slots=1.0) if row.zone == zone else row
    )
    told = reasons(full)["O-1"]
    assert told is not None
    assert told.startswith("least relief: ")
    assert f"slots in {zone} from 20" in told
    whole = [in_words(full, span) for span in spans(least_relief(full).items)]
    assert told.removeprefix("least relief: ").removesuffix(f"; and {len(whole) - SHOWN} more") == "; ".join(
        whole[:SHOWN]
    )


def test_units_are_named_with_the_day_on_which_they_would_be_busy() -> None:
    """Of 8 slots in one unit, with no module: more than 8 trays are wanted."""
    full = with_rows(SPECIMENS["units"], "orders", lambda row: replace(row, quantity=200))
    told = reasons(replace(full, modules=()))["O-1"]
    assert told is not None
    assert "more unit of Chamber on 20" in told or "more units of Chamber" in told


def test_cheaper_left_short_is_said_where_only_a_higher_penalty_fills_the_order() -> None:
    """All limits free, a plant still costs more than its penalty; with the penalty told it is filled."""
    cheap = with_order(shortfall_penalty=0.01)
    (item,) = least_relief(cheap).items
    assert reasons(cheap) == {
        "O-1": "cheaper left short (proved): its penalty of 0.01 a plant is below what a plant costs; least "
        f"relief: a penalty higher by {item.amount:.2f} USD a plant for order O-1"
    }
    for penalty, short in ((item.amount, 100), (item.amount + 0.01, 0)):
        made = plan(with_order(shortfall_penalty=penalty), whole=False)
        assert made.short == pytest.approx(short, abs=1e-6)


def first_text(scenario: Scenario) -> str:
    """Why the first order is short."""
    told = reasons(scenario)[scenario.orders[0].order]
    assert told is not None
    return told


def test_four_parts_of_the_relief_are_named_and_the_rest_counted() -> None:
    """One slot of the chamber is missing on each of several days that do not follow one another."""
    network = expand(base_scenario())
    for count, rest in ((1, ""), (4, ""), (5, "; and 1 more"), (6, "; and 2 more")):
        items = tuple(Item("slots", "Chamber", day(2 * t), 1.0, "slots", ("O-1",)) for t in range(count))
        relief = Relief(base_scenario(), {"O-1": 1.0}, items, (1.0,) * count, ())
        named = "; ".join(f"1 more slot in Chamber on {day(2 * t)}" for t in range(min(count, SHOWN)))
        assert reasons_of(network, relief) == {"O-1": f"least relief: {named}{rest}"}


def test_stock_that_runs_out_is_named_without_a_day() -> None:
    late = with_rows(
        base_scenario(),
        "seed_lots",
        lambda row: replace(row, stock=40, lead_days=19) if row.lot == "Red A" else row,
    )
    assert first_text(late).startswith("least relief: ")
    assert "more seeds of Red A on hand on the first day" in first_text(late)


def test_work_on_plants_healed_and_delivered_is_on_the_route() -> None:
    """Nothing but packing, or grading, wants hands, and there are next to none."""
    for task in (Task.PACK, Task.GRADE, Task.CONSOLIDATE):
        standards = tuple(row for row in WORK if row.task is task)
        few = crew("Growers", "general", heads=0.001, pay_per_hour=0.1)
        splice = method("splice", MethodKind.ON_TRAY, consolidate=True)
        scenario = base_scenario(labour_standards=standards, crews=(few,), methods=(splice,))
        assert "hours of general" in first_text(scenario), task


def test_an_order_that_nothing_can_be_held_for_is_told_so() -> None:
    """Day 11 is the only graft day of plants ready on day 16, and a day off; others may be ready before."""
    splice = method("splice", MethodKind.ON_TRAY, holding_limit_days=0)
    shut = base_scenario(methods=(splice,), days_off=(DayOff(day(11)),))
    text = (
        f"no route: nothing of Red on Stout can be ready by {day(16)} "
        f"and held no more than 0 days to {day(16)}; least relief: order O-1 due 1 day later, on {day(17)}"
    )
    assert first_text(shut) == text
    both = replace(shut, orders=(*shut.orders, order("early", "Red on Stout", 10, 15)))
    assert reasons(both) == {"O-1": text, "early": None}


def test_an_order_packed_before_days_off_is_not_told_of_a_ready_day_that_it_has() -> None:
    """Due on Friday, packed on Wednesday, day 16, the only ready day; held 1 day, and 2 are wanted."""
    splice = method("splice", MethodKind.ON_TRAY, holding_limit_days=1)
    scenario = base_scenario(
        orders=(order("friday", "Red on Stout", 10, 18), order("wednesday", "Red on Stout", 10, 16)),
        methods=(splice,),
        days_off=(DayOff(day(10)), DayOff(day(17)), DayOff(day(18)), DayOff(day(13)), DayOff(day(12))),
    )
    assert reasons(scenario)["wednesday"] is None
    told = first_text(scenario)
    assert f"by {day(16)} and held no more than 1 days to {day(18)}; " in told
    assert told.endswith(f"no relief can fill it: {why_short.NO_DAY}")


def test_an_order_without_a_working_day_to_pack_is_told_so() -> None:
    early = base_scenario(
        orders=(order("O-1", "Red on Stout", 10, 1),), days_off=(DayOff(day(0)), DayOff(day(1)))
    )
    assert first_text(early) == (
        f"no route: nothing of Red on Stout can be ready and packed on a working day by {day(1)}; "
        f"least relief: order O-1 due 10 days later, on {day(11)}"
    )


@pytest.mark.parametrize("name", ["tight chamber", "buy-in", "root-cut", "packs"])
def test_routes_are_the_decisions_that_lead_to_the_order(name: str) -> None:
    """By definition, order for order: its deliveries, their flows, the joins of these, the waves of those."""
    program = build(expand(SPECIMENS[name]))
    network = program.network
    for o in range(len(network.orders)):
        served = {i for i, delivery in enumerate(network.deliveries) if delivery.order == o}
        flows = {network.deliveries[i].flow for i in served}
        waves = {w for join in network.joins if join.flow in flows for w in join.waves}
        left = {k for k, kept in enumerate(program.amounts.left) if kept.wave in waves}
        right = {("bought", i) for i, buy_in in enumerate(network.buy_ins) if buy_in.order == o}
        right |= (
            {("delivered", i) for i in served} | {("sown", w) for w in waves} | {("left", k) for k in left}
        )
        right |= {(name, f) for name in ("grafted", "loaded", "healed") for f in flows}
        assert route_keys(program, o) == right


def test_in_a_book_too_large_the_command_that_looks_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """An order without a route is told so all the same: that takes no solving."""
    full = with_rows(
        with_second_order(due=2), "zones", lambda row: replace(row, slots=min(row.slots or 0.0, 1.0))
    )
    monkeypatch.setattr(why_short, "MOST_WORK", 10)
    told = reasons(full)
    assert told["O-1"] == NOT_SOUGHT
    assert "graftwright limits" in NOT_SOUGHT
    assert str(told["second"]).startswith("no route: ")
    assert "least relief" not in str(told["second"])


def test_a_plan_stands_where_no_relief_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    def none_found(scenario: Scenario, most: float) -> Relief:
        raise SolveError("Unbounded")

    monkeypatch.setattr(why_short, "relief_within", none_found)
    full = with_rows(base_scenario(), "zones", lambda row: replace(row, slots=min(row.slots or 0.0, 1.0)))
    assert reasons(full) == {"O-1": NOT_FOUND}


def test_an_order_short_in_whole_trays_alone_keeps_its_words() -> None:
    """The continuous program fills it: no relief is looked for."""
    scenario = base_scenario()
    program = build(expand(scenario))
    orders = plan(scenario).orders.assign(short=[1.0])
    told = why_short.say_why_short(program, orders, {"O-1": LUMPY[True]})
    assert told["short_because"].tolist() == [LUMPY[True]]


@pytest.mark.parametrize(
    "filling, text",
    [
        (Filling(10.0), LUMPY[True]),
        (Filling(9.9), LUMPY[False]),
        (Filling(9.9, 10.004), f"{LUMPY[False]}; the cheapest one found that fills it costs as much"),
        (
            Filling(9.9, 12.345),
            f"{LUMPY[False]}; the cheapest one found that fills it costs 2.35 USD more, penalties counted",
        ),
    ],
)
def test_what_is_known_of_filling_an_order_is_said(filling: Filling, text: str) -> None:
    assert lumpy(filling, 10.0, "USD") == text

"""A hedge that keeps a level, solved by hand: one order, two sowing days, ten seasons.

100 plants are ordered, a plant costs 1 and a plant short 5. What is sown on day 0 fails in the first season;
of what is sown on day 1, half comes up in the second. All other seasons go well.

Without a level: a plant short in one season costs .5 in the mean, so no plant is worth growing for one season
alone, but 100 must be sown for the other eight. On day 0 they are 100 short in the first season: 150. On day
1 they are 50 short in the second: 125, the best.

One season of ten may be short: the second was the worst, and is let go. In the others 1 % more than the order
is grown: 101 on day 1, with 49.5 short in the second season: 125.75. No season may be short: 101 on day 1 for
the first season, and for the second 50.5 more on day 0: 151.5.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from model.hedging.chance_rows import SPARE, filled_but_in_the_worst, short_columns
from model.hedging.extensive import Hedge
from model.hedging.hedged_plan import best_over
from model.hedging.sampled import SampledSeasons
from model.hedging.whole_hedge import aim_of, whole_plan
from model.network.expansion import expand
from model.phases import silent
from model.program.build import build
from model.program.program import Program
from model.scenario.choices import Decline
from model.scenario.entities import Scenario
from model.scenario.records.trade import BuyInOffer
from model.solver.compiled import Solution, compile_program, run, solver
from tests.known_answers.build import day, lot, order, own_root, seed_price

SEASONS = 10

WEEK = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def nursery(least: int | None, orders: int = 1, penalty: float = 5.0) -> Scenario:
    """Orders of 100 plants together, sown on day 0 or 1; an offer with a least delivery, or none."""
    book = [order(f"order {n}", 100 // orders, 1, shortfall_penalty=penalty) for n in range(orders)]
    scenario = own_root(2, book, seed_lots=(lot(stock=0),), packs=(seed_price(1.0),))
    if least is None:
        return scenario
    offer = BuyInOffer("at once", "plant", 2.0, 0, WEEK, day(1), day(1), least, None)
    return replace(scenario, buy_in_offers=(offer,))


def luck_of(program: Program) -> SampledSeasons:
    """The first season spoils day 0, the second half of day 1."""
    stand = np.ones((2, SEASONS))
    stand[0, 0], stand[1, 1] = 0.0, 0.5
    assert [wave.sow for wave in program.network.waves] == [0, 1]
    return SampledSeasons(stand, np.ones((len(program.network.joins), SEASONS)))


def kept(
    level: float | None, scenario: Scenario, luck: SampledSeasons | None = None
) -> tuple[Hedge, Solution, list[float]]:
    """The hedge that keeps a level, its optimum, and the plants sown by day."""
    program = build(expand(scenario))
    compiled = compile_program(program)
    hedge, found = best_over(program, compiled, luck or luck_of(program), np.ones(2, dtype=bool))
    if level is not None:
        continuous = run(solver(compiled))
        levels = np.full(len(scenario.orders), level)
        hedge = filled_but_in_the_worst(program, hedge, found, continuous, levels)
        found = run(solver(hedge.compiled))
    sown = hedge.plan.values(found.columns[: len(hedge.plan.cost)])["sown"]
    cells = [wave.tray.cells for wave in program.network.waves]
    return hedge, found, (sown * cells).tolist()


@pytest.mark.parametrize(
    ("level", "sown", "short", "cost"),
    [
        (None, (0.0, 100.0), 50.0, 125.0),
        (0.9, (0.0, 101.0), 49.5, 125.75),
        (0.95, (50.5, 101.0), 0.0, 151.5),
        (1.0, (50.5, 101.0), 0.0, 151.5),
    ],
)
def test_an_order_is_short_in_the_seasons_that_its_level_lets_go(
    level: float | None, sown: tuple[float, float], short: float, cost: float
) -> None:
    assert SPARE == 0.01
    hedge, found, plants = kept(level, nursery(None))
    assert plants == pytest.approx(sown)
    by_season = found.columns[short_columns(hedge)[0]]
    assert by_season[1] == pytest.approx(short)
    assert np.delete(by_season, 1) == pytest.approx(np.zeros(SEASONS - 1))
    assert hedge.cost(found) == pytest.approx(cost)


@pytest.mark.parametrize(("poor", "sown"), [(0.6, 101 / 0.6), (0.41, 101 / 0.41), (0.4, 101.0)])
def test_a_plant_to_spare_is_grown_at_up_to_twice_its_cost(poor: float, sown: float) -> None:
    """In the first season a share ``poor`` comes up on either day, and no season may be short.

    A plant short there costs .5, and 2 more: one sown to spare saves 2.5 · poor / 1.01,
    more than 1 above .404.
    """
    stand = np.ones((2, SEASONS))
    stand[:, 0] = poor
    _, _, plants = kept(1.0, nursery(None), SampledSeasons(stand, np.ones((2, SEASONS))))
    assert sum(plants) == pytest.approx(sown)


def test_an_order_that_is_not_worth_its_plants_keeps_no_level() -> None:
    """Plants short cost .9, a plant 1: all are short in the plan without seasons, and in the hedge."""
    hedge, found, plants = kept(1.0, nursery(None, penalty=0.9))
    assert plants == pytest.approx([0, 0])
    assert hedge.cost(found) == pytest.approx(90)


@pytest.mark.parametrize("orders", [1, 4])
@pytest.mark.parametrize(
    ("level", "least", "sown", "cost"),
    [(None, 60, (0, 100), 110.0), (1.0, 50, (0, 101), 111.0), (1.0, 60, (50.5, 101), 151.5)],
)
def test_plants_bought_late_count_where_a_least_delivery_is_bought(
    level: float | None, least: int, sown: tuple[float, float], cost: float, orders: int
) -> None:
    """50 are missing in the second season, of one order or of several that share a delivery."""
    hedge, found, plants = kept(level, nursery(least, orders))
    assert plants == pytest.approx(sown)
    assert hedge.cost(found) == pytest.approx(cost)


@pytest.mark.parametrize(("lead", "sown"), [(1, (202, 0)), (2, (0, 200))])
def test_late_plants_count_only_where_they_are_late_in_the_expected_season(
    lead: int, sown: tuple[float, float]
) -> None:
    """Plants may not wait: what is sown on day 1 is in time, on day 2 a day late, for 1 % of the price.

    Of what is sown on the first day on which there is seed, half comes up in the second season: 202 are sown
    for 101. 51 late ones would be cheaper than 101 in time. Where seed comes on day 2, all plants are late
    anyway: 200 are sown for 100.
    """
    one = order("one", 100, 1, shortfall_penalty=5.0, price=5.0, late_days_most=1, late_discount=0.01)
    scenario = own_root(3, [one], seed_lots=(lot(stock=0, lead_days=lead),), packs=(seed_price(1.0),))
    (method,) = scenario.methods
    scenario = replace(scenario, methods=(replace(method, holding_limit_days=0),))
    assert [wave.sow for wave in expand(scenario).waves] == [1, 2]
    stand = np.ones((2, SEASONS))
    stand[lead - 1, 1] = 0.5
    _, _, plants = kept(1.0, scenario, SampledSeasons(stand, np.ones((2, SEASONS))))
    assert plants == pytest.approx(sown)


def test_plants_bought_early_to_spare_are_bought_in_whole_trays_too() -> None:
    """Half of 100 seedlings come up in every second season; 50 plants at 2 save 5 each there.

    The expected season needs none of them.
    """
    scenario = own_root(2, [order("one", 100, 1, shortfall_penalty=5.0)], seed_lots=(lot(stock=100),))
    offer = BuyInOffer("the day before", "plant", 2.0, 1, WEEK, day(1), day(1), 0, None)
    program = build(expand(replace(scenario, buy_in_offers=(offer,))))
    compiled = compile_program(program)
    half = np.tile([1.0, 0.5], (2, SEASONS // 2))
    luck, joins = SampledSeasons(half, np.ones((2, SEASONS))), np.ones(2, dtype=bool)
    hedge, found = best_over(program, compiled, luck, joins)
    whole = whole_plan(program, compiled, aim_of(program, hedge, found, joins), silent)
    assert compiled.values(run(solver(compiled)).columns)["bought"].sum() == pytest.approx(0.0)
    assert compiled.values(whole.columns)["bought"].sum() == pytest.approx(50.0)


@pytest.mark.parametrize("decline", [Decline.PART, Decline.WHOLE])
def test_what_is_declined_over_many_seasons_is_declined_in_whole_trays_too(decline: Decline) -> None:
    """A plant costs 1 in the expected season, and 2 where half come up in every second: the price is 1.2."""
    one = order("one", 100, 1, shortfall_penalty=5.0, price=1.2, decline=decline)
    scenario = own_root(2, [one], seed_lots=(lot(stock=0),), packs=(seed_price(1.0),))
    program = build(expand(scenario))
    compiled = compile_program(program)
    half = np.tile([1.0, 0.5], (2, SEASONS // 2))
    luck, joins = SampledSeasons(half, np.ones((2, SEASONS))), np.ones(2, dtype=bool)
    hedge, found = best_over(program, compiled, luck, joins)
    whole = whole_plan(program, compiled, aim_of(program, hedge, found, joins), silent)
    assert run(solver(compiled)).objective == pytest.approx(100)
    assert hedge.cost(found) == pytest.approx(120)
    assert whole.objective == pytest.approx(120)
    assert compiled.values(whole.columns)["sown"].sum() == pytest.approx(0)

"""Hedged plans known from elsewhere: the farmer of two stages, the newsvendor of random yield.

Farmer: Birge, Louveaux, Introduction to Stochastic Programming, section 1.1; the mapping is that of
``tests.known_answers.test_farmer``, but beets that are not harvested are short at their price: declining is
decided before the season. Yields of 0.8, 1 and 1.2 times the average are equally likely: 108,390 here and now
with 170, 80 and 250 acres; 107,240 for the plan at average yields; 115,405.56 where yields are known before;
so 1,150 for hedging and 7,015.56 for perfect information.

Making again: Hillier, Lieberman, Introduction to Operations Research, dynamic programming, "Determining
Reject Allowances" (from memory; its figures were worked out again). One good item is wanted. An item costs
100 and is good with the chance 1/2, a run costs 300 to set up, and none at the end 1,600. Each run is
inspected before the next. With two runs left the best is 2 items, then 3 or 4 if none was good: 700. With
one run alone it is 3 or 4 items: 800.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from model.hedging.extensive import Hedge, hedge_program
from model.hedging.hedged_plan import best_over
from model.hedging.sampled import SampledSeasons
from model.hedging.sown_again import may_be_sown_again
from model.network.expansion import expand
from model.program.build import build
from model.program.program import Program
from model.risk.batches import Floats
from model.scenario.choices import Decline, Part
from model.scenario.entities import Scenario
from model.scenario.records.methods import Stage
from model.solve import plan
from model.solver.compiled import Compiled, Solution, compile_program, run, solver, with_fixed
from tests.known_answers.build import grafted_method, lot, order, own_root, own_root_method, seed_price
from tests.known_answers.test_farmer import ACRES, BEETS, CROPS, farm
from tests.specimens import SPECIMENS

BEST = 1.2
"""The best yield, times the average; a nursery's seedlings are at most those planned."""

YIELDS = (0.8, 1.0, 1.2)


def _program(scenario: Scenario) -> tuple[Program, Compiled]:
    program = build(expand(scenario))
    return program, compile_program(program)


def _all_joins(program: Program) -> np.ndarray:
    return np.ones(len(program.network.joins), dtype=bool)


def _yields(program: Program, shares: Floats) -> SampledSeasons:
    """Seasons in which all crops yield these shares of the best."""
    stand = np.tile(shares, (len(program.network.waves), 1))
    return SampledSeasons(stand, np.ones((len(program.network.joins), len(shares))))


def _farm() -> tuple[Program, Hedge, Solution]:
    scenario = farm({"land": ACRES}, BEST)
    *grain, beets = scenario.orders
    beets = replace(beets, price=None, decline=Decline.NO, shortfall_penalty=36.0)
    program, compiled = _program(replace(scenario, orders=(*grain, beets)))
    luck = _yields(program, np.array(YIELDS) / BEST)
    return program, *best_over(program, compiled, luck, _all_joins(program))


def _acres(program: Program, compiled: Compiled, columns: Floats) -> list[float]:
    trays = compiled.values(columns)["sown"]
    by_crop = {wave.tray.format: float(trays[w]) for w, wave in enumerate(program.network.waves)}
    return [by_crop[name] for name in CROPS]


def test_the_farmer_chooses_his_acres_before_the_yields() -> None:
    program, hedge, found = _farm()
    assert BEETS - found.objective == pytest.approx(108_390)
    assert _acres(program, hedge.plan, found.columns[: len(hedge.plan.cost)]) == pytest.approx([170, 80, 250])


def test_the_farmers_acres_at_average_yields_earn_less() -> None:
    program, hedge, _ = _farm()
    formats = [wave.tray.format for wave in program.network.waves]
    average = dict(zip(CROPS, (120.0, 80.0, 300.0), strict=True))
    fixed = with_fixed(hedge.compiled, hedge.plan.position["sown"], np.array([average[f] for f in formats]))
    assert BEETS - run(solver(fixed)).objective == pytest.approx(107_240)


def test_the_farmer_who_knows_the_yields_earns_more() -> None:
    known = [BEETS - plan(farm({"land": ACRES}, factor), whole=False).cost for factor in YIELDS]
    assert np.mean(known) == pytest.approx(115_405.56, abs=0.01)


SET_UP, ITEM, NONE_GOOD = 300.0, 100.0, 1600.0


def _runs(first: int, again: int) -> tuple[Hedge, Compiled]:
    """A run of some items, and another after it is inspected; all outcomes of all items, equally likely."""
    scenario = own_root(
        2,
        [order("one", 1, 1, shortfall_penalty=NONE_GOOD)],
        seed_lots=(lot(germination=0.5, stock=0),),
        packs=(seed_price(ITEM),),
    )
    program, compiled = _program(scenario)
    outcomes = list(product((0.0, 1.0), repeat=first + again))
    good = np.array([[sum(o[:first]), sum(o[first:])] for o in outcomes]).T
    expected = np.array([[0.5 * first], [0.5 * max(again, 1)]])
    luck = SampledSeasons(good / expected, np.ones((len(program.network.joins), len(outcomes))))
    assert [wave.sow for wave in program.network.waves] == [0, 1]
    may = may_be_sown_again(program.network, _all_joins(program), luck)
    assert [pair.tolist() for pair in may] == [[0], [1]]
    hedge = hedge_program(program, compiled, _all_joins(program), luck, may)
    return hedge, with_fixed(hedge.compiled, hedge.plan.position["sown"], np.array([first, 0.0]))


@pytest.mark.parametrize(
    ("first", "again", "cost"),
    [(3, 0, 800), (4, 0, 800), (2, 0, 900), (2, 2, 725), (2, 3, 700), (2, 4, 700)],
)
def test_making_again_after_a_count_costs_what_the_textbook_says(first: int, again: int, cost: float) -> None:
    """The set-up of the second run is paid where none was good, one time in 2 ** first."""
    hedge, fixed = _runs(first, again)
    found = run(solver(with_fixed(fixed, hedge.rule_columns, np.array([float(again)]))))
    set_up = SET_UP * (1 + (again > 0) / 2**first)
    assert found.objective + set_up == pytest.approx(cost)


def test_the_best_rule_makes_three_again_where_none_was_good() -> None:
    """Of a second run that yields as three items do: each costs 100 and saves 200 until three are made."""
    hedge, fixed = _runs(2, 3)
    found = run(solver(fixed))
    assert found.columns[hedge.rule_columns] == pytest.approx([3.0])


SEED, STOCK_UP = 2.0, 1.0


def grafted_once(quantity: int, penalty: float, take: float) -> Scenario:
    """One order, one graft day: a join takes a rootstock at 2 and a scion at 1."""
    return own_root(
        1,
        [order("one", quantity, 0, shortfall_penalty=penalty)],
        products=(
            replace(
                own_root(1, []).products[0],
                rootstock="root",
                method="splice",
                scion_formats=("single",),
            ),
        ),
        methods=(grafted_method(take=take),),
        stages=(Stage("splice", 1, "heal", Part.HEALING, "bench", 0),),
        seed_lots=(lot(stock=0), lot("root", stock=0)),
        packs=(seed_price(STOCK_UP), seed_price(SEED, "root lot")),
    )


@pytest.mark.parametrize(
    ("penalty", "joins"),
    [
        # A join more than 300 / .9 saves .5 · .6 · 11 = 3.3 > 3 in the poor half of the seasons.
        (11.0, 300 / 0.6),
        # It saves .5 · .6 · 9 = 2.7 < 3; up to 300 / .9 a join saves .75 · 9 in both.
        (9.0, 300 / 0.9),
        # .75 · 3.9 = 2.925 < 3: not even the first join pays.
        (3.9, 0.0),
    ],
)
def test_one_order_one_graft_day_is_the_newsvendor_of_random_yield(penalty: float, joins: float) -> None:
    """Take .9 or .6, equally likely: joins by hand, to the join."""
    program, compiled = _program(grafted_once(300, penalty, 0.75))
    take = np.tile(np.array([0.9, 0.6]) / 0.75, (len(program.network.joins), 1))
    luck = SampledSeasons(np.ones((len(program.network.waves), 2)), take)
    hedge, found = best_over(program, compiled, luck, _all_joins(program))
    made = hedge.plan.values(found.columns[: len(compiled.cost)])["joins"]
    assert float(made.sum()) == pytest.approx(joins)
    cost = (SEED + STOCK_UP) * joins + penalty * sum(max(300 - t * joins, 0) / 2 for t in (0.9, 0.6))
    assert found.objective == pytest.approx(cost)


@pytest.mark.parametrize("name", SPECIMENS)
def test_one_season_as_expected_gives_the_plan_of_today(name: str) -> None:
    """Whatever the scenario has, margins and the past included: to the cent."""
    program, compiled = _program(SPECIMENS[name])
    luck = SampledSeasons(np.ones((len(program.network.waves), 1)), np.ones((len(program.network.joins), 1)))
    _, found = best_over(program, compiled, luck, _all_joins(program))
    assert found.objective == pytest.approx(run(solver(compiled)).objective, abs=0.005)


def test_plants_that_come_late_in_a_season_cost_their_discount() -> None:
    """Due on day 0 of 2, seed a day old: the graft day is day 1, so all 10 come late at .1 of their price."""
    late = order("one", 10, 0, price=3.0, late_days_most=2, late_discount=0.1)
    scenario = own_root(2, [late], methods=(own_root_method(scion_age_min=1, scion_age_max=1),))
    program, compiled = _program(scenario)
    ones = np.ones((len(program.network.waves), 2))
    luck = SampledSeasons(ones, np.ones((len(program.network.joins), 2)))
    _, found = best_over(program, compiled, luck, _all_joins(program))
    assert found.objective == pytest.approx(10 * 3.0 * 0.1)


def test_seasons_known_before_cost_no_more() -> None:
    """The mean of the plans of each season alone is a bound of the hedged plan's cost."""
    program, compiled = _program(grafted_once(300, 11.0, 0.75))
    take = np.tile(np.array([1.1, 0.7]), (len(program.network.joins), 1))
    ones = np.ones((len(program.network.waves), 2))
    _, both = best_over(program, compiled, SampledSeasons(ones, take), _all_joins(program))
    alone = [
        best_over(program, compiled, SampledSeasons(ones[:, :1], take[:, n : n + 1]), _all_joins(program))[1]
        for n in (0, 1)
    ]
    assert np.mean([found.objective for found in alone]) <= both.objective + 1e-6

"""Rows that raise the bound: rounded by hand, and in books whose least cost is worked by hand.

A tray of twenty scions gives 20 · 0.9 · 0.9 = 16.2 seedlings. 0.9 of them match, 0.8 take, 0.95 finish:
11.0808 plants, of seed for 20 · 0.50 = 10. A tray of ten rootstocks gives half as many, for 10 · 0.25 = 2.50.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import csc_array

from model.network.expansion import expand
from model.program.build import build as build_program
from model.program.program import Program
from model.program.variables import WHOLE
from model.scenario.choices import Decline, Shared, ZoneUse
from model.scenario.entities import Scenario
from model.scenario.records.kept_apart import Apart
from model.scenario.records.trade import BuyInOffer, Customer, Pack, Run
from model.solve import plan
from model.solver.compiled import Compiled, Solution, compile_program, run, solver
from model.solver.demands import Demand, ways_without
from model.solver.group_rows import GroupRows
from model.solver.rounded_rows import RoundedRows, _of_runs, _whole_vehicles
from model.solver.strong import Entry, Strong
from model.solver.wave_rows import BatchRows, WaveRows
from tests.depth import deep
from tests.known_answers import build
from tests.known_answers.test_kept_apart import CUSTOMERS, two_customers
from tests.scenario_parts import WEEK, lot, order, units
from tests.specimens import OWN_ROOT, SPECIMENS
from tests.strategies import base_scenario, small_scenarios, with_nursery

PLANTS_A_TRAY = 16.2 * 0.9 * 0.8 * 0.95
SCIONS, ROOTSTOCKS = 10.0, 2.5
"""Cost of the seed of a tray of scions, and of a tray of rootstocks, two of which go with one of scions."""


def rounded(
    trays: list[tuple[int, float]], ways: list[tuple[int, float]], plants: float, settled: dict[int, float]
) -> tuple[dict[int, float], float] | None:
    """The coefficient of each column and the least; ``settled``: trays of columns that are settled."""
    lower = np.array([settled.get(n, 0.0) for n in range(4)])
    upper = np.array([settled.get(n, np.inf) for n in range(4)])
    none = np.empty(0)
    compiled = Compiled(csc_array((0, 4)), none, none, lower, upper, np.zeros(4), 0.0, {}, {})
    demand = Demand(0, 0, plants, frozenset(n for n, _ in trays), tuple(Entry(*way) for way in ways))
    counted = {n: Entry(n, coef) for n, coef in trays}
    row = next(next(_of_runs(compiled, [demand], counted)), None)
    return row and (dict(row[0]), row[1])


def test_a_demand_of_two_trays_and_a_part_takes_three() -> None:
    """24 plants at 10 a tray: 2.4 trays, so 3, or one tray less for each 4 plants done without."""
    assert rounded([(0, 10.0)], [(3, 1.1)], 24.0, {}) == (pytest.approx({0: 1.0, 3: 1.1 / 4}), 3.0)


def test_a_tray_of_fewer_plants_counts_as_its_plants_fill_the_part() -> None:
    """Of 2.4 trays of 10 the part is 4 plants: a tray of 3 is three quarters of it, one of 8 a whole."""
    found = rounded([(0, 10.0), (1, 3.0), (2, 8.0)], [], 24.0, {})
    assert found == (pytest.approx({0: 1.0, 1: 0.75, 2: 1.0}), 3.0)


def test_settled_trays_are_taken_from_the_demand() -> None:
    """2 trays of 4 plants are sown: 16 of 24 plants are left, 1.6 trays, so 2; the part is 6 plants."""
    found = rounded([(0, 10.0), (1, 4.0)], [(3, 1.0)], 24.0, {1: 2.0})
    assert found == (pytest.approx({0: 1.0, 3: 1 / 6}), 2.0)


@pytest.mark.parametrize("plants", [20.0, 20.1, 19.995])
def test_nearly_whole_trays_are_not_rounded(plants: float) -> None:
    """A part below a fiftieth would make large coefficients; one above 0.999 raises the bound by nothing."""
    assert rounded([(0, 10.0)], [], plants, {}) is None


def test_plants_bought_late_stand_once_in_the_row_of_whole_vehicles() -> None:
    """Deliveries up to the order's run ride with it, later ones do not; HiGHS takes no column twice."""
    base = base_scenario()
    weekday = f"{base.orders[0].due_day:%a}"
    scenario = replace(
        base,
        orders=(replace(base.orders[0], price=2.0, late_days_most=7, late_discount=0.1),),
        customers=(Customer(base.orders[0].customer, run="coast"),),
        runs=(Run("coast", (weekday,), 14.0, 0.25, 7),),
        buy_in_offers=(BuyInOffer("offer", base.orders[0].product, 1.0, 0, WEEK, None, None, 0, None),),
    )
    scenario = with_nursery(scenario, last_day=base.orders[0].due_day + timedelta(days=8))
    program, compiled, _ = solved(scenario)
    (n,) = (n for n, on in enumerate(program.run_days) if on.day == program.network.orders[0].due)
    (row,) = next(_whole_vehicles(program, compiled, ways_without(program, compiled)))
    columns = [entry.column for entry in row[0]]
    assert len(columns) == len(set(columns))
    on_time = {int(compiled.position[name][i]) for name, i in program.run_days[n].trays if name == "bought"}
    late = set(compiled.position["bought"].tolist()) - on_time
    assert on_time
    assert late
    assert set(columns) & (on_time | late) == late


def test_no_row_where_settled_trays_fill_the_demand() -> None:
    assert rounded([(0, 10.0), (1, 4.0)], [], 24.0, {1: 6.0}) is None
    assert rounded([(0, 10.0), (1, 4.0)], [], 24.0, {1: 7.0}) is None


def solved(scenario: Scenario) -> tuple[Program, Compiled, Solution]:
    """The program with fractional trays, and its optimum."""
    program = build_program(expand(scenario))
    compiled = compile_program(program)
    return program, compiled, run(solver(compiled))


def strengthened(program: Program, compiled: Compiled, continuous: Solution) -> Strong:
    """The program with all kinds of rows added."""
    strong = Strong(compiled, continuous)
    strong.add(WaveRows(program, compiled))
    strong.add(RoundedRows(program, compiled))
    return strong


def test_the_bound_of_one_order_is_the_cost_of_its_whole_trays() -> None:
    """100 plants are 9.02 trays of scions and 18.05 of rootstocks, so 10 and 19."""
    program, compiled, continuous = solved(base_scenario())
    assert continuous.objective == pytest.approx(100 / PLANTS_A_TRAY * (SCIONS + 2 * ROOTSTOCKS))
    strong = strengthened(program, compiled, continuous)
    assert strong.optimum.objective == pytest.approx(10 * SCIONS + 19 * ROOTSTOCKS)


def test_the_bound_of_an_own_root_order_is_the_cost_of_its_whole_trays() -> None:
    """A tray of ten gives 8.1 seedlings, of which 0.95 finish: 12.74 trays for 98 plants, at 10 · 0.50."""
    scenario = base_scenario(**OWN_ROOT)
    asked = replace(scenario.orders[0], quantity=98)
    program, compiled, continuous = solved(replace(scenario, orders=(asked,)))
    assert continuous.objective == pytest.approx(98 / (8.1 * 0.95) * 5)
    assert strengthened(program, compiled, continuous).optimum.objective == pytest.approx(13 * 5)


@pytest.mark.parametrize(("second_due", "scions", "rootstocks"), [(10, 9, 18), (20, 10, 19)])
def test_orders_that_share_waves_are_rounded_together(second_due: int, scions: int, rootstocks: int) -> None:
    """50 and 45 plants on one day need 8.57 and 17.15 trays; ten days apart 4.51 and 4.06, 9.02 and 8.12."""
    orders = (order("O-1", "Red on Stout", 50, 10), order("O-2", "Red on Stout", 45, second_due))
    strong = strengthened(*solved(base_scenario(orders=orders)))
    assert strong.optimum.objective == pytest.approx(scions * SCIONS + rootstocks * ROOTSTOCKS)


@pytest.mark.parametrize(("penalty", "cost"), [(50.0, 177.5), (1.75, 165 + 1.75 * 2.489)])
def test_plants_of_the_margin_need_whole_trays_too(penalty: float, cost: float) -> None:
    """100 plants and a margin of a quarter need 11.28 and 22.56 trays, so 12 and 23.

    11 and 22 trays, for 165, give 121.889 of the 125: 3.111 with margin, or 2.489 plants, are short.
    """
    scenario = with_nursery(base_scenario(), shortfall_penalty=penalty)
    asked = replace(scenario.orders[0], graft_margin=0.25)
    strong = strengthened(*solved(replace(scenario, orders=(asked,))))
    assert strong.optimum.objective == pytest.approx(cost, abs=1e-3)


@pytest.mark.parametrize(("penalty", "trays"), [(1.4, 8), (1.5, 9)])
def test_an_order_stops_at_whole_trays_where_more_cost_more_than_its_penalty(
    penalty: float, trays: int
) -> None:
    """Of 99 plants, 8 trays of scions leave 10.35 short; a ninth costs 15 with its rootstocks."""
    scenario = with_nursery(base_scenario(), shortfall_penalty=penalty)
    strong = strengthened(*solved(replace(scenario, orders=(replace(scenario.orders[0], quantity=99),))))
    short = max(0.0, 99 - trays * PLANTS_A_TRAY)
    cost = trays * (SCIONS + 2 * ROOTSTOCKS) + penalty * short
    assert strong.optimum.objective == pytest.approx(cost)


def test_an_order_declined_whole_needs_no_trays() -> None:
    """A price of 0.60 pays for less than half of the plants' seed, so that the order is declined for 60."""
    scenario = base_scenario()
    asked = replace(scenario.orders[0], price=0.6, decline=Decline.WHOLE)
    assert strengthened(*solved(replace(scenario, orders=(asked,)))).optimum.objective == pytest.approx(60.0)


@pytest.mark.parametrize("name", SPECIMENS)
def test_no_row_cuts_off_the_best_whole_plan(name: str) -> None:
    """The least cost in whole numbers is the same with the rows, and no less than the bound."""
    program, compiled, continuous = solved(SPECIMENS[name])
    strong = strengthened(program, compiled, continuous)
    whole = compiled.columns(WHOLE)
    best, still = (run(solver(of, whole, mip_rel_gap=0.0)).objective for of in (compiled, strong.compiled))
    assert still == pytest.approx(best, abs=1e-4)
    assert continuous.objective <= strong.optimum.objective + 1e-6 <= best + 2e-4


def check_rows(scenario: Scenario) -> int:
    """The best whole plan keeps all rows that any values break, here its own with less open and no surplus.

    Rows of waves with a fixed cost, of least batches and of groups kept apart. Returns how many there are.
    """
    program, compiled, _ = solved(scenario)
    best = run(solver(compiled, compiled.columns(WHOLE), mip_max_nodes=500), stopped_early=True).columns
    fewer = best.copy()
    fewer[compiled.columns(("wave_opened", "batch_set_up"))] *= 0.3
    fewer[compiled.columns(("surplus", "admitted"))] = 0.0
    sources = WaveRows(program, compiled), BatchRows(program, compiled), GroupRows(program, compiled)
    rows = [row for source in sources for values in (best, fewer) for row in source.broken(values)]
    assert all(sum(coef * best[k] for k, coef in row.entries) >= row.least - 1e-5 for row in rows)
    return len(rows)


def test_a_wave_may_give_more_than_is_ordered_where_the_rest_is_sold() -> None:
    """40 plants beyond the 100 ordered, and their margin, sell at 4.00; their seed costs less than half."""
    base = with_nursery(base_scenario(), wave_cost=100.0, graft_margin=0.25)
    sold = replace(base.products[0], salvage_price=4.0, salvage_most=40)
    assert check_rows(replace(base, products=(sold,))) > 0
    assert check_rows(base) > 0


def test_the_bound_knows_that_one_of_two_customers_has_the_chamber() -> None:
    """Plants of all three graft days are in the chamber on the third: 30 of the other are short, at 50 each.

    Without the rows each customer has a third of each graft day.
    """
    scenario = two_customers(Apart(*CUSTOMERS, Shared.ZONE, "Chamber"), holding=2)
    program, compiled, continuous = solved(scenario)
    strong = Strong(compiled, continuous)
    strong.add(GroupRows(program, compiled))
    *_, alone = solved(replace(scenario, orders=scenario.orders[:1]))
    assert strong.optimum.objective == pytest.approx(alone.objective + 30 * 50)
    assert continuous.objective == pytest.approx(plan(two_customers(holding=2), whole=False).cost)
    assert check_rows(scenario) > 0


def test_the_bound_knows_that_a_small_order_takes_a_whole_batch() -> None:
    """60 plants ask 79 joins, and a day is set up for 100, as many as an order of 76 takes."""
    small, filling = (
        replace(SPECIMENS["least batch"], orders=(order("O-1", "Red on Stout", plants, 13),))
        for plants in (60, 76)
    )
    program, compiled, continuous = solved(small)
    strong = Strong(compiled, continuous)
    strong.add(BatchRows(program, compiled))
    *_, filled = solved(filling)
    assert strong.optimum.objective == pytest.approx(filled.objective)
    assert continuous.objective == pytest.approx(filled.objective * 60 / 76)
    assert check_rows(small) > 0


@given(small_scenarios(window=2), st.sampled_from([15.0, 200.0]))
@settings(max_examples=deep(40))
def test_no_row_cuts_off_the_best_plan_of_random_books(scenario: Scenario, cost: float) -> None:
    check_rows(with_nursery(scenario, wave_cost=cost))


def wagner_whitin(quantities: list[int], fixed: float, held: float) -> float:
    """Least cost of lots for quantities due day by day, by the recursion of Wagner and Whitin (1958)."""
    least = [0.0]
    for end in range(1, len(quantities) + 1):
        costs = [
            least[start] + fixed + sum(held * (t - start) * quantities[t] for t in range(start, end))
            for start in range(end)
        ]
        least.append(min(costs))
    return least[-1]


def lots(quantities: list[int], fixed: float, held: float) -> Scenario:
    """Own-root plants, ready when they are sown: a fixed cost a wave, and a cost of holding a plant a day."""
    orders = [build.order(f"O-{t}", quantity, t) for t, quantity in enumerate(quantities)]
    zones = (build.pool("bench", ZoneUse.BENCH), build.pool("hold", ZoneUse.HOLDING, cost=held))
    nursery = build.nursery(len(quantities), wave_cost=fixed)
    return build.own_root(len(quantities), orders, nursery=nursery, zones=zones)


@given(st.lists(st.integers(1, 100), min_size=1, max_size=14), st.sampled_from([30.0, 100.0, 300.0]))
@settings(max_examples=deep(20))
def test_the_bound_of_lots_is_the_least_cost_of_lots(quantities: list[int], fixed: float) -> None:
    """The rows of a single product without limits state its lots exactly (Barany, Van Roy, Wolsey 1984)."""
    strong = strengthened(*solved(lots(quantities, fixed, 0.5)))
    assert strong.optimum.objective == pytest.approx(wagner_whitin(quantities, fixed, 0.5))


def test_the_bound_knows_whole_packs() -> None:
    """9.02 trays of scions need 181 seeds and 18.05 of rootstocks 181: packs of 100 at 40, of 50 at 12."""
    packs = (Pack("Red A", 100.0, 40.0), Pack("Stout A", 50.0, 12.0))
    program, compiled, continuous = solved(replace(base_scenario(), packs=packs))
    assert continuous.objective == pytest.approx(100 / PLANTS_A_TRAY * (20 * 0.40 + 20 * 0.24))
    assert strengthened(program, compiled, continuous).optimum.objective == pytest.approx(2 * 40 + 4 * 12)


def test_a_larger_pack_counts_as_its_smaller_ones_and_a_part() -> None:
    """181 seeds are 1.81 packs of 100, of which one of 250 is 2 and a part: one of 250 at 60 is enough."""
    packs = (Pack("Red A", 100.0, 40.0), Pack("Red A", 250.0, 60.0))
    lots = (lot("Red A", "Red", stock=0), lot("Stout A", "Stout"))
    strong = strengthened(*solved(replace(base_scenario(seed_lots=lots), packs=packs)))
    assert 2 / (2 + 0.5 / 0.805) * 60 < strong.optimum.objective <= 60 + 1e-6


def test_stock_is_taken_from_the_packs() -> None:
    """100 of the 181 seeds of scions are there: one pack."""
    lots = (lot("Red A", "Red", stock=100), lot("Stout A", "Stout"))
    scenario = replace(base_scenario(seed_lots=lots), packs=(Pack("Red A", 100.0, 40.0),))
    assert strengthened(*solved(scenario)).optimum.objective == pytest.approx(40)


def test_the_bound_knows_whole_units() -> None:
    """100 plants take 18.05 trays in units of 8 slots: 3 for the 3 days of healing, at 0.50 a slot."""
    base = base_scenario(packs=(), seed_lots=(lot("Red A", "Red"), lot("Stout A", "Stout")))
    zones = (*base.zones[:2], units("Chamber", 5, 8.0, 1, 0.5), base.zones[3])
    program, compiled, continuous = solved(replace(base, zones=zones))
    assert continuous.objective == pytest.approx(100 / (PLANTS_A_TRAY / 2) * 3 * 0.5)
    assert strengthened(program, compiled, continuous).optimum.objective == pytest.approx(3 * 8 * 3 * 0.5)


def test_the_bound_knows_the_least_of_a_delivery() -> None:
    """An order of 50 can only be bought, from an offer of at least 400 plants at 0.10: 40, and not 5."""
    offer = BuyInOffer("Neighbour", "Red on Stout", 0.1, 2, ("Tue",), None, None, 400, None)
    asked = (order("O-1", "Red on Stout", 50, 16),)
    program, compiled, continuous = solved(
        base_scenario(orders=asked, seed_lots=(), packs=(), buy_in_offers=(offer,))
    )
    assert strengthened(program, compiled, continuous).optimum.objective == pytest.approx(40)


@pytest.mark.parametrize("fixed", [30.0, 300.0])
def test_lots_of_many_days_are_planned_at_their_least_cost(fixed: float) -> None:
    """Eighty waves are too many for a search: the dive keeps the rows, and ends at their bound."""
    quantities = [20 + 37 * t % 80 for t in range(80)]
    made = plan(lots(quantities, fixed, 0.5))
    assert made.facts.objective == pytest.approx(wagner_whitin(quantities, fixed, 0.5), abs=0.01)
    assert made.facts.gap == pytest.approx(0, abs=1e-6)

"""Traced costs of tiny plans, worked by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from model.questions.cost_flows import WASTE
from model.questions.traced_costs import overhead_shares, traced_costs
from model.scenario.choices import Decline, MethodKind, OverheadRule, PayBasis, Per, Source, Task
from model.scenario.entities import Scenario
from model.scenario.records.people import LabourStandard
from model.scenario.records.trade import BuyInOffer, Module, Pack, Supply, SupplyUse
from model.solve import plan_of, solve
from tests.scenario_parts import WEEK, crew, day, method, order
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, with_nursery, with_rows

# 100 plants: / .95 survival / .8 take joins, / .9 match seedlings, / .81 stand seeds of each part.
JOINS = 100 / 0.95 / 0.8
SEEDS = JOINS / 0.9 / 0.81


def lines(scenario: Scenario, whole: bool = False) -> dict[str | None, dict[str, float]]:
    """Traced cost by order and line."""
    found: dict[str | None, dict[str, float]] = {}
    for name, line, amount in traced_costs(solve(scenario, whole=whole)).itertuples(index=False):
        found.setdefault(name, {})[line] = amount
    return found


def test_seed_goes_to_its_part_of_the_join() -> None:
    """Rootstock seed costs .25, scion seed .50 a seed in the base scenario."""
    only = lines(base_scenario())["O-1"]
    prices = {p.item: p.price / p.size for p in base_scenario().packs}
    assert only["rootstock seed"] == pytest.approx(SEEDS * prices["Stout A"])
    assert only["scion seed"] == pytest.approx(SEEDS * prices["Red A"])
    assert set(only) == {"rootstock seed", "scion seed"}


def test_trays_sown_beyond_what_is_drawn_are_waste() -> None:
    """146.2 seedlings a part: rootstock 8.1 a tray of ten: 19 trays; 153.9 given, 146.2 drawn."""
    scenario = base_scenario()
    only = lines(scenario, whole=True)["O-1"]
    prices = {p.item: p.price / p.size for p in scenario.packs}
    drawn = JOINS / 0.9
    assert only["rootstock seed"] == pytest.approx(190 * prices["Stout A"] * drawn / (19 * 8.1))
    assert only["scion seed"] == pytest.approx(200 * prices["Red A"] * drawn / (10 * 16.2))
    assert sum(only.values()) == pytest.approx(190 * prices["Stout A"] + 200 * prices["Red A"])
    assert only[WASTE] > 0


def test_margin_is_waste_and_margin() -> None:
    plain, held = (
        lines(base_scenario())["O-1"],
        lines(with_nursery(base_scenario(), graft_margin=0.25))["O-1"],
    )
    assert held["scion seed"] == pytest.approx(plain["scion seed"])
    assert held[WASTE] == pytest.approx(0.25 * sum(plain.values()))


def test_supplies_by_what_they_are_used_for() -> None:
    scenario = replace(
        base_scenario(),
        supplies=(Supply("clip", "clip", 0.0, 0), Supply("label", "label", 50.0, 0)),
        supply_uses=(
            SupplyUse("clip", Per.JOIN, None, None, 1.0),
            SupplyUse("label", Per.PLANT_DELIVERED, None, None, 1.0),
        ),
        packs=(*base_scenario().packs, Pack("clip", 1.0, 0.03), Pack("label", 1.0, 0.02)),
    )
    only = lines(scenario)["O-1"]
    assert only["clips and stakes"] == pytest.approx(JOINS * 0.03)
    # 100 labels used, 50 of them from stock, which is free
    assert only["packing"] == pytest.approx(50 * 0.02)


def worked(**changes: object) -> Scenario:
    """A minute a join and a minute a plant packed, by a crew at 20 an hour."""
    return replace(
        base_scenario(),
        crews=(crew("Growers", "work", **changes),),
        labour_standards=(
            LabourStandard(Task.GRAFT, "work", None, None, 60.0),
            LabourStandard(Task.PACK, "work", None, None, 60.0),
        ),
    )


def test_labour_by_task_and_idle_pay_as_overhead() -> None:
    used = lines(worked())["O-1"]
    assert used["graft labour"] == pytest.approx(JOINS / 60 * 20)
    assert used["other labour"] == pytest.approx(100 / 60 * 20)
    committed = lines(worked(pay_basis=PayBasis.COMMITTED))["O-1"]
    assert committed["graft labour"] == pytest.approx(used["graft labour"])
    # two hands, 8 hours, 21 days, all worked
    paid = 2 * 8 * 21 * 20
    assert committed["overhead"] == pytest.approx(paid - (JOINS + 100) / 60 * 20)


def test_overhead_goes_by_slot_days_and_to_nobody_without_plants() -> None:
    base = with_nursery(base_scenario(), overhead=300.0)
    two = replace(base, orders=(replace(base.orders[0], order="small", quantity=50), base.orders[0]))
    shares = {name: own["overhead"] for name, own in lines(two).items()}
    assert sum(shares.values()) == pytest.approx(300)
    assert shares["O-1"] > 1.5 * shares["small"] > 0
    none = replace(base, orders=(replace(base.orders[0], due_day=base.nursery.first_day),))
    assert lines(none) == {
        "O-1": {"shortfall": pytest.approx(100 * 50)},
        None: {"overhead": pytest.approx(300)},
    }


# The second order is grown twice over: of three hundred plants finished, one hundred are its waste.
BASES: dict[OverheadRule, tuple[float, float, float]] = {
    OverheadRule.PLANTS: (1.0, 1.0, 0.0),
    OverheadRule.HOURS: (JOINS + 100, JOINS + 100, JOINS),
}
"""By rule: what the first order, the second, and the second's waste are of the base.

By slot-days: tests/known_answers/test_overhead_by_space.py."""


@pytest.mark.parametrize("rule", [OverheadRule.PLANTS, OverheadRule.HOURS, OverheadRule.NONE])
def test_overhead_by_each_rule(rule: OverheadRule) -> None:
    made = worked()
    twice = replace(made.orders[0], order="O-2", graft_margin=1.0)
    free = replace(
        made, orders=(*made.orders, twice), packs=(), crews=(crew("Growers", "work", pay_per_hour=0.0),)
    )
    stocked = with_rows(free, "seed_lots", lambda lot: replace(lot, stock=100_000))
    solved = solve(with_nursery(stocked, overhead=300.0, overhead_by=rule), whole=False)
    found = {(o, line): amount for o, line, amount in traced_costs(solved).itertuples(index=False)}
    if rule is OverheadRule.NONE:
        assert found == {(None, "overhead"): pytest.approx(300)}
        assert overhead_shares(solved) == {"O-1": 0, "O-2": 0}
        return
    first, second, waste = (300 * part / sum(BASES[rule]) for part in BASES[rule])
    assert (found["O-1", "overhead"], found["O-2", "overhead"]) == pytest.approx((first, second))
    assert found.get(("O-2", WASTE), 0.0) == pytest.approx(waste)
    assert overhead_shares(solved) == {"O-1": pytest.approx(first), "O-2": pytest.approx(second + waste)}


def test_plants_bought_in_bear_overhead_by_plants() -> None:
    base = base_scenario()
    offer = BuyInOffer("dear", base.products[0].product, 9.0, 1, WEEK, None, None, 0, None)
    bought = replace(base, products=(replace(base.products[0], source=Source.BUY),), buy_in_offers=(offer,))
    assert lines(with_nursery(bought, overhead=300.0, overhead_by=OverheadRule.PLANTS))["O-1"] == {
        "buy-in": pytest.approx(900),
        "overhead": pytest.approx(300),
    }


def test_a_module_is_borne_by_what_heals() -> None:
    rack = Module("rack", "Chamber", 6.0, 2, 1000.0, 0.0, 10)
    only = lines(replace(base_scenario(), modules=(rack,)))["O-1"]
    assert only["chamber"] == pytest.approx(2 * 100.0)


def test_declined_and_short_plants_are_their_orders() -> None:
    scenario = replace(
        base_scenario(),
        orders=(
            *base_scenario().orders,
            order("cheap", base_scenario().orders[0].product, 10, 16, price=0.5, decline=Decline.PART),
        ),
    )
    assert lines(scenario)["cheap"] == {"declined": pytest.approx(5.0)}


def test_a_batch_of_units_is_borne_by_its_loads() -> None:
    name = next(n for n, s in SPECIMENS.items() if any(z.units is not None for z in s.zones))
    scenario = with_rows(
        replace(SPECIMENS[name], modules=()),
        "zones",
        lambda z: replace(z, cost_per_slot_day=0.1) if z.units is not None else z,
    )
    solved = solve(scenario)
    zone = next(z.zone for z in scenario.zones if z.units is not None)
    slots = plan_of(solved).slots
    paid = float(slots.loc[slots["zone"] == zone, "amount"].sum())
    traced = traced_costs(solved)
    assert paid > 0
    chamber = float(traced.loc[traced["line"] == "chamber", "amount"].sum())
    waste = float(traced.loc[traced["line"] == WASTE, "amount"].sum())
    assert chamber <= paid + 1e-9
    assert chamber + waste >= paid - 1e-6


def test_training_is_spread_over_the_stint_that_it_serves() -> None:
    """Two orders of 100, due a week apart and grafted in weeks in a row, by hands hired for the first.

    Their training costs 300. The first week's order bears no more of it than the second's: both take the same
    hours.
    """
    hired = crew("Grafters", "grafting", heads=0.0, temp_heads_most=1, temp_training_cost=300.0)
    method_ = method("splice", MethodKind.ON_TRAY, holding_limit_days=0)
    graft = LabourStandard(Task.GRAFT, "grafting", None, None, 60.0)
    base = with_nursery(
        base_scenario(crews=(hired,), labour_standards=(graft,), methods=(method_,)), last_day=day(25)
    )
    two = replace(base, orders=(order("O-1", "Red on Stout", 100, 16), order("O-2", "Red on Stout", 100, 23)))
    solved = solve(two, whole=False)
    values = solved.compiled.values(solved.solution.columns)
    assert values["new_hands"].sum() > 0
    assert (values["temporary_hands"] > 0).sum() > 1
    lines = traced_costs(solved)
    labour = lines[lines["line"] == "graft labour"].set_index("order")["amount"]
    assert labour["O-1"] == pytest.approx(labour["O-2"])
    assert labour.sum() == pytest.approx(plan_of(solved).costs.set_index("line")["amount"]["temporary hands"])

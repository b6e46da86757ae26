"""The study of order costs: what it shows against plans made anew."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings

from model.planned.jobs import jobs_of
from model.questions.traced_costs import traced_costs
from model.questions.ungrafted import ungrafted
from model.scenario.choices import Decline, MethodKind, Task
from model.scenario.entities import Scenario
from model.scenario.records.past import PlantsOnHand
from model.solve import plan, plan_of, solve
from reports.book.parts import Cell, Formula
from reports.book.writing import shown_share
from reports.study.study import Study
from scenarios.cells.draft import draft_of
from scenarios.files.read_scenario import read_scenario
from scenarios.files.write_scenario import write_folder
from scenarios.rules.all_rules import check
from scenarios.studies.order_costs import PARTS, extra_costs, order_costs_study
from tests.demo import demo, demo_plan
from tests.depth import deep
from tests.least import least
from tests.scenario_parts import TWO_WAYS, day
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, small_scenarios, with_nursery, with_rows

DEMO = demo()


def few() -> Scenario:
    """Three orders with a fixed cost of each wave, the last of them at a price below its seed."""
    book = with_nursery(base_scenario(), wave_cost=5.0)
    first = book.orders[0]
    orders = [(0, 4.0), (1, 3.0), (2, 0.5)]
    return replace(
        book,
        orders=tuple(
            replace(first, order=f"O-{n}", due_day=first.due_day - timedelta(days=n), price=price)
            for n, price in orders
        ),
    )


FEW = few()


@pytest.fixture(scope="module")
def study() -> Study:
    return order_costs_study(FEW, profit_margin=0.25, workers=1)


@pytest.fixture(scope="module")
def of_demo() -> Study:
    """The demo's costs, with two orders tried in whole plans."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("scenarios.studies.order_costs.MOST_WHOLE", 2)
        return order_costs_study(DEMO, profit_margin=0.25, workers=1)


def rows(study: Study, name: str) -> list[dict[str, Cell]]:
    """Rows of a section by key of column, formulas by their value."""
    found = next(s for s in study.sections if s.name == name)
    return [
        {
            c.key: cell.value if isinstance(cell, Formula) else cell
            for c, cell in zip(found.columns, row, strict=True)
        }
        for row in found.rows
    ]


def number(cell: Cell) -> float:
    assert isinstance(cell, int | float)
    return float(cell)


def test_traced_costs_of_all_orders_are_the_plans_cost_to_the_cent(of_demo: Study) -> None:
    whole = demo_plan().cost
    assert sum(number(row["all"]) for row in rows(of_demo, "Traced lines")) == pytest.approx(whole, abs=0.005)
    nobody = next(row for row in rows(of_demo, "Traced lines") if row["order"] == "no order")
    orders = sum(number(row["traced"]) for row in rows(of_demo, "Orders"))
    assert orders + number(nobody["all"]) == pytest.approx(whole, abs=0.005)


@pytest.mark.parametrize("which", [0, 1, 2])
def test_what_an_order_adds_is_the_plan_less_the_plan_without_it(study: Study, which: int) -> None:
    order = FEW.orders[which]
    row = next(row for row in rows(study, "Orders") if row["order"] == order.order)
    without = replace(FEW, orders=tuple(o for o in FEW.orders if o is not order))
    book, less = plan(FEW), plan(without)
    gaps = book.cost - book.facts.bound + less.cost - less.facts.bound
    assert number(row["adds"]) == pytest.approx(book.cost - less.cost, abs=gaps + 1e-9 * book.cost)
    assert number(row["least"]) <= number(row["adds"]) <= number(row["most"])


def test_the_headline_names_orders_whose_price_is_below_what_they_add(study: Study) -> None:
    """Without any of them the whole plan and its sales leave more; without the others less."""
    losing = [row for row in rows(study, "Orders") if number(row["earned"]) < 0]
    assert losing
    book = plan(FEW)
    for row in losing:
        assert str(row["order"]) in study.answer[0]
        without = plan(replace(FEW, orders=tuple(o for o in FEW.orders if o.order != row["order"])))
        sales = number(row["price"]) * number(row["quantity"])
        gaps = book.cost - book.facts.bound + without.cost - without.facts.bound
        assert number(row["earned"]) == pytest.approx(sales - (book.cost - without.cost), abs=gaps)
    kept = next(row for row in rows(study, "Orders") if number(row["earned"]) > 0)
    assert str(kept["order"]) not in study.answer[0]


def test_orders_that_only_take_the_room_of_others_are_named() -> None:
    """Two orders of a product and day, with room for less than one of them: neither adds a plant."""
    base = base_scenario()
    two = (replace(base.orders[0], price=2.0), replace(base.orders[0], order="O-2", price=3.0))
    tight = with_rows(replace(base, orders=two), "zones", lambda zone: replace(zone, slots=4.0))
    study = order_costs_study(tight, profit_margin=0.2, workers=1)
    served = [str(row["order"]) for row in rows(study, "Orders") if number(row["plants"]) > 0]
    assert served
    told = f"Left out: {', '.join(served)}. No plan is found that has such an order"
    assert any(line.startswith(told) for line in study.answer), study.answer


def test_penalties_are_in_no_cost_of_a_plant() -> None:
    """The base's order twice, with room for less: a plant that is delivered costs its seed and no penalty."""
    tight = with_rows(base_scenario(), "zones", lambda zone: replace(zone, slots=4.0))
    study = order_costs_study(tight, profit_margin=0.2, workers=1)
    (row,) = rows(study, "Orders")
    assert 0 < number(row["plants"]) < number(row["quantity"])
    penalty = next(figure.value for figure in study.figures if figure.label.startswith("Penalties"))
    assert number(penalty) > 0
    for key in ("traced_each", "each"):
        assert 1.3 < number(row[key]) < 3


@pytest.mark.parametrize("how", [Decline.WHOLE, Decline.PART])
def test_plants_declined_cost_nothing_and_earn_nothing(how: Decline) -> None:
    """The order at 0.50 pays less than its seed: it is declined, so that it adds and earns nothing."""
    cheap = replace(FEW, orders=tuple(replace(order, decline=how) for order in FEW.orders))
    study = order_costs_study(cheap, profit_margin=0.25, workers=1)
    found = {row["order"]: row for row in rows(study, "Orders")}
    assert found["O-2"]["plants"] == 0
    assert [found["O-2"][key] for key in ("adds", "each", "earned")] == [None] * 3
    assert number(found["O-2"]["continuous"]) == 0
    assert number(found["O-0"]["earned"]) > 0
    assert study.answer[0] == "None of 2 orders with a price is priced below what it adds."


def test_a_large_book_is_tried_whole_where_the_price_leaves_least(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("scenarios.studies.order_costs.MOST_WHOLE", 1)
    base = base_scenario()
    orders = tuple(
        replace(base.orders[0], order=name, price=price) for name, price in (("a", 3.0), ("b", 2.0))
    )
    found = rows(order_costs_study(replace(base, orders=orders), profit_margin=0.2, workers=1), "Orders")
    assert {row["order"]: row["adds"] is None for row in found} == {"a": True, "b": False}


@pytest.mark.parametrize("which", [0, 16, 32])
def test_the_continuous_figure_is_the_continuous_book_less_that_without_it(
    of_demo: Study, which: int
) -> None:
    order = DEMO.orders[which]
    row = next(row for row in rows(of_demo, "Orders") if row["order"] == order.order)
    without = replace(DEMO, orders=tuple(o for o in DEMO.orders if o is not order))
    assert number(row["continuous"]) == pytest.approx(least(DEMO) - least(without), abs=0.005)


def test_marginal_cost_is_its_dual_where_the_range_allows(of_demo: Study) -> None:
    prices = plan(DEMO, whole=False).shadow_prices.query("limit == 'order'").set_index("name")
    checked = 0
    for row in rows(of_demo, "Orders"):
        price = prices.loc[row["order"]]
        if price["high"] is None or price["high"] >= price["at"] + 1:
            assert number(row["marginal"]) == pytest.approx(price["value"], abs=1e-5)
            checked += 1
        assert number(row["marginal"]) >= price["value"] - 1e-5
    assert checked > 5


def test_prices_follow_the_margin_on_price(study: Study) -> None:
    for row in rows(study, "Orders"):
        each = number(row["each"]) + number(row["overhead"])
        assert number(row["each"]) == pytest.approx(number(row["adds"]) / number(row["plants"]))
        assert number(row["target"]) == pytest.approx(each / 0.75)
        assert number(row["margin"]) == pytest.approx(1 - each / number(row["price"]))


def test_workers_do_not_change_the_costs(study: Study) -> None:
    two = order_costs_study(FEW, profit_margin=0.25, workers=2)
    assert study.sections == two.sections


def test_the_extra_cost_of_grafting_lies_where_budgets_put_it(of_demo: Study) -> None:
    """Added cost of a grafted plant: .46 to .74 in published budgets, which are analogues of the whole only.

    Source: Rivard et al. 2010; Barrett et al. 2012; Djidonou et al. 2013; Taylor et al. 2008 (docs/costs.md).
    """
    *products, total = rows(of_demo, "Cost of grafting")
    direct, labour = shown_share(number(total["share1"])), shown_share(number(total["of_grafted"]))
    assert any(f"is {direct} of what" in told and f"is {labour} of the" in told for told in of_demo.answer)
    assert 0.4 < number(total["difference"]) < 0.8
    for row in (*products, total):
        parts = [number(row[f"part{n}"]) for n in range(len(PARTS))]
        assert sum(parts) == pytest.approx(number(row["difference"]))
        assert number(row["grafted"]) - number(row["own"]) == pytest.approx(number(row["difference"]))
        assert parts[0] > 0
        assert 0 < number(row["labour"]) < parts[1]
        assert number(row["of_grafted"]) == pytest.approx(number(row["labour"]) / number(row["grafted"]))


def test_ungrafted_is_a_valid_scenario_without_grafts(tmp_path: Path) -> None:
    plain = ungrafted(DEMO)
    write_folder(plain, tmp_path / "plain")
    assert read_scenario(tmp_path / "plain") == plain
    kinds = {method.method: method.kind for method in plain.methods}
    assert {kinds[product.method] for product in plain.products} == {MethodKind.OWN_ROOT}
    assert [o.quantity for o in plain.orders] == [o.quantity for o in DEMO.orders]
    made = plan(plain, whole=False)
    assert made.short == 0
    assert made.joins["rootstock_wave"].isna().all()


def test_ungrafted_plants_are_packed_at_the_same_rates_by_the_piece() -> None:
    """A rate of the grafted plants' method is paid for their packing, and none for joins."""
    scenario = SPECIMENS["piece rates"]
    (asked,) = (row for row in scenario.piece_rates if row.task is Task.PACK and row.method == "splice")
    added = ungrafted(scenario).piece_rates[len(scenario.piece_rates) :]
    assert added == (replace(asked, method="splice ungrafted"),)


def test_own_tasks_go_where_ungrafted_plants_go() -> None:
    """Spraying while the plants harden and labels in holding stay; the clips of the joins do not."""
    scenario = SPECIMENS["own tasks"]
    tasks = tuple(replace(task, product="Red on Stout") for task in scenario.own_tasks[2:])
    plain = ungrafted(replace(scenario, own_tasks=tasks))
    assert check(draft_of(plain)) == []
    assert [task.task for task in plain.own_tasks] == ["spray", "label"]
    assert [task.method for task in plain.own_tasks] == ["splice ungrafted"] * 2
    done = {job.own_task for job in jobs_of(plan(plain)).values() if job.own_task}
    assert done == {"spray", "label"}


@pytest.mark.parametrize(("standing", "kept"), [("Red on Stout", 1), ("Red on Stout, cut", 2)])
def test_a_way_of_which_plants_stand_stays_where_ungrafted(standing: str, kept: int) -> None:
    """On its own roots too; another way is left out."""
    tunnel = replace(base_scenario().zones[2], zone="Tunnel")
    scenario = base_scenario(zones=(*base_scenario().zones, tunnel), **TWO_WAYS)
    stood = PlantsOnHand(standing, day(-6), 25, "Red A", day(-10), "Stout A", day(-11))
    plain = ungrafted(replace(scenario, plants_on_hand=(stood,)))
    assert check(draft_of(plain)) == []
    assert len(plain.products) == kept
    assert plan(plain).short == plan(ungrafted(scenario)).short


@settings(max_examples=deep(30))
@given(small_scenarios())
def test_any_scenario_can_be_ungrafted(scenario: Scenario) -> None:
    plain = ungrafted(scenario)
    made = plan(plain, whole=False)
    assert made.joins["rootstock_wave"].isna().all()
    assert ungrafted(plain).products == plain.products


def test_extra_cost_worked_by_hand() -> None:
    """Base: 100 plants, seed alone. Own-root: / .95 survival / .81 stand scion seeds of .50 a plant."""
    scenario = base_scenario()
    here, there = solve(scenario, whole=False), solve(ungrafted(scenario), whole=False)
    extra, total = extra_costs(
        scenario, plan_of(here), traced_costs(here), plan_of(there), traced_costs(there)
    )
    grafted = 0.75 / (0.95 * 0.8 * 0.9 * 0.81)
    own = 0.50 / (0.95 * 0.81)
    assert extra.grafted["seed"] == pytest.approx(grafted)
    assert extra.own_root["seed"] == pytest.approx(own)
    assert total.difference == pytest.approx(grafted - own)

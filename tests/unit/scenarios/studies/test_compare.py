"""Comparison of variants: every cause recomputed from the two plans' own tables, sums, words."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from math import ceil
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from model.planned.plan_tables import Plan, rows_of
from model.program.cost_terms import COST_LINES
from model.rates.yields import capital_recovery
from model.scenario.about_cells import CellChange
from model.scenario.choices import Source, Task, ZoneUse
from model.scenario.entities import Scenario
from model.scenario.records.people import PieceRate
from model.scenario.records.rooms import StageZone
from model.solve import plan, plan_of, solve
from reports.book.parts import value_of
from reports.study.study import Section, Study, write_study
from scenarios.studies.compare import (
    CLEAR,
    SAME,
    TOTAL,
    WITHIN,
    Measured,
    compare_study,
    compared,
    differences,
    keeps_apart,
    measures,
    verdict,
    with_nothing_apart,
)
from scenarios.variants.variants import Variant
from tests.report_scenario import report_scenario
from tests.scenario_parts import pool
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, with_nursery, with_rows


def named(name: str, scenario: Scenario, *changes: CellChange) -> Variant:
    return Variant(name, f"about {name}", Path(f"{name}.toml"), scenario, changes)


def dearer(scenario: Scenario) -> Scenario:
    """Pay up by a half."""
    return with_rows(scenario, "crews", lambda crew: replace(crew, pay_per_hour=1.5 * crew.pay_per_hour))


def home_grown(scenario: Scenario) -> Scenario:
    """Nothing bought in."""
    return with_rows(scenario, "products", lambda product: replace(product, source=Source.GROW))


LAMPS = 0.02
"""Cost of a tray that hardens in the further house, in which a slot costs nothing."""


def with_further_house(scenario: Scenario) -> Scenario:
    """Plants grafted by splice may harden in a house of a cost by the tray; packing is paid by the plant."""
    return replace(
        scenario,
        zones=(*scenario.zones, pool("Lit house", ZoneUse.FINISHING, 1000.0)),
        stage_zones=(StageZone("splice", "hard", "Lit house", cost_per_tray=LAMPS),),
        piece_rates=(PieceRate("Helpers", Task.PACK, None, None, 0.5),),
    )


def cases() -> list[Variant]:
    base = with_further_house(report_scenario())
    rack = with_rows(base, "modules", lambda module: replace(module, added=module.added + 1))
    return [
        named("base", base),
        named("dearer hands", dearer(base)),
        named(
            "home-grown", home_grown(base), CellChange("products", "x", "source", "either", "grow", "a.toml")
        ),
        named("one rack", rack),
    ]


@pytest.fixture(scope="module")
def study() -> Study:
    return compare_study(cases(), workers=1)


@pytest.fixture(scope="module")
def plans() -> list[Plan]:
    """The plan of each case. No test changes them."""
    return [plan_of(solve(variant.scenario)) for variant in cases()]


def section(study: Study, name: str) -> list[dict[str, Any]]:
    found: Section = next(each for each in study.sections if each.name == name)
    keys = [column.key for column in found.columns]
    return [dict(zip(keys, map(value_of, row), strict=True)) for row in found.rows]


def overtime_pay(scenario: Scenario, name: str, when: date) -> float:
    """The crew's own pay of overtime, or else its pay of that day."""
    (crew,) = [crew for crew in scenario.crews if crew.crew == name]
    if crew.overtime_pay_per_hour is not None:
        return crew.overtime_pay_per_hour
    later = [row for row in scenario.crew_days if row.crew == name and row.from_day <= when]
    pays = [row.pay_per_hour for row in sorted(later, key=lambda row: row.from_day) if row.pay_per_hour]
    return pays[-1] if pays else crew.pay_per_hour


def recomputed(scenario: Scenario, made: Plan) -> dict[str, float]:
    """Cost by line from the plan's tables of things, without its table of costs.

    Of overheads, rent is 30 a month, an overdraft 12.5 in all and houses 520 a year, over 28 days.
    """

    def of_kind(kind: str) -> float:
        rows = made.purchases[made.purchases["kind"] == kind]
        return float((rows["packs"] * rows["price"]).sum())

    overtime = sum(
        row.overtime * overtime_pay(scenario, row.crew, row.day) for row in made.crew_days.itertuples()
    )
    modules = sum(
        row.added
        * capital_recovery(row.first_cost, row.salvage_value, scenario.nursery.interest_rate, row.life_years)
        for row in scenario.modules
    )
    orders = made.orders
    lit = made.flows[["Lit house" in (zones or "") for zones in made.flows["in_zones"]]]
    return {
        "seed": of_kind("seed"),
        "supplies": of_kind("supply"),
        "labour": float(made.crew_days["amount"].sum()) - overtime,
        "overtime": overtime,
        "guaranteed hours": float(made.guaranteed["amount"].sum()),
        "piece rates": float(made.pieces["amount"].sum()),
        "temporary hands": float(made.temporary["amount"].sum()),
        "slots": float((made.slots["used"] * made.slots["cost_per_slot_day"]).sum()),
        "bays": float(made.bays["amount"].sum()),
        "zones chosen": LAMPS * float(lit["trays_finishing"].sum()),
        "freight": float(made.runs["amount"].sum()),
        "buy-in": float((made.buy_in["plants"] * made.buy_in["price"]).sum()),
        "waves": scenario.nursery.wave_cost * len(made.waves),
        "late": late_discounts(scenario, made),
        "shortfall": float((orders["short"] * orders["penalty"]).sum()),
        "declined": float((orders["declined"] * orders["price"].fillna(0)).sum()),
        "salvage": -float((made.salvage["sold"] * made.salvage["price"]).sum()),
        "modules": modules,
        "overhead": scenario.nursery.overhead + 30.0 * 12 * 28 / 365,
        "interest": 12.5,
        "depreciation": 520.0 * 28 / 365,
    }


def late_discounts(scenario: Scenario, made: Plan) -> float:
    """A share of the price of each plant for each week begun after the due day."""
    of = {order.order: order for order in scenario.orders}
    return sum(
        plants * (of[name].price or 0) * (of[name].late_discount or 0) * ceil(days / 7)
        for name, days, plants in rows_of(made.deliveries, "order", "days_late", "plants")
    )


def test_every_cause_is_the_difference_of_the_two_plans_own_tables(study: Study, plans: list[Plan]) -> None:
    variants = cases()
    found = [recomputed(variant.scenario, made) for variant, made in zip(variants, plans, strict=True)]
    assert all(value for value in found[0].values()), "the base has every cost line"
    rows = section(study, "Causes")
    told = {(row["variant"], row["cause"]): row for row in rows}
    assert len(told) == len(rows)
    for variant, lines in zip(variants[1:], found[1:], strict=True):
        for line in COST_LINES:
            row = told[variant.name, line]
            assert row["base"] == pytest.approx(found[0][line], abs=1e-6)
            assert row["other"] == pytest.approx(lines[line], abs=1e-6)
            assert row["difference"] == pytest.approx(lines[line] - found[0][line], abs=1e-6)


def test_causes_add_up_to_the_difference_of_cost(study: Study, plans: list[Plan]) -> None:
    costs = [made.cost for made in plans]
    rows = section(study, "Causes")
    for variant, cost in zip(cases()[1:], costs[1:], strict=True):
        own = [row for row in rows if row["variant"] == variant.name]
        assert own[-1]["cause"] == TOTAL
        assert sum(row["difference"] for row in own[:-1]) == pytest.approx(cost - costs[0], abs=1e-6)
        assert own[-1]["difference"] == pytest.approx(cost - costs[0], abs=1e-6)


def paid(made: Plan) -> float:
    """Cost of a plan without what nobody pays."""
    return float(made.costs.query("line not in ('shortfall', 'declined')")["amount"].sum())


def sold(made: Plan) -> float:
    """Plants delivered at their prices."""
    columns = ["price", "own", "bought"]
    return sum((p or 0) * (own + bought) for p, own, bought in made.orders[columns].itertuples(index=False))


def test_side_by_side_says_what_the_plans_say(study: Study, plans: list[Plan]) -> None:
    rows = {row["what"]: row for row in section(study, "Side by side")}
    for n, one in enumerate(plans):
        orders, key = one.orders, f"v{n}"
        grafted = one.joins[[wave is not None for wave in one.joins["rootstock_wave"]]]
        expected = {
            "Result": sold(one) - paid(one),
            "Result less the base's": sold(one) - paid(one) - sold(plans[0]) + paid(plans[0]),
            "Cost with penalties": one.cost,
            "Cost with penalties less the base's": one.cost - plans[0].cost,
            "Penalties for plants short": one.penalties,
            "Cost without penalties": one.cost - one.penalties,
            "Cost per plant delivered": paid(one) / (orders["own"] + orders["bought"]).sum(),
            "Short": one.short,
            "Bought in": one.buy_in["plants"].sum(),
            "Seeds sown": one.waves["seeds"].sum(),
            "Joins": grafted["joins"].sum(),
            "Own hands, overtime": one.crew_days["overtime"].sum(),
            "Temporary hands": one.hours[one.hours["hands"] == "temporary"]["hours"].sum(),
            "Least cost possible, with penalties (bound)": one.facts.bound,
            "Gap: at most above least cost": one.facts.objective - one.facts.bound,
        }
        for what, value in expected.items():
            digits = 4 if rows[what]["unit"].endswith("/plant") else 2
            assert rows[what][key] == pytest.approx(value, abs=0.51 * 10**-digits), what
        total = rows["Ordered"][key]
        assert total == pytest.approx(
            rows["Delivered"][key] + rows["Short"][key] + rows["Declined"][key], abs=0.02
        )
        assert 0 < rows["Healing slots in use, at the peak"][key] <= 100 + 1e-6


def test_orders_and_cost_lines_add_up(study: Study, plans: list[Plan]) -> None:
    orders, lines = section(study, "Orders"), section(study, "Cost lines")
    assert len(orders) == len(plans[0].orders)
    for n, one in enumerate(plans):
        assert sum(row.get(f"short{n}", 0) for row in orders) == pytest.approx(one.short)
        assert sum(row.get(f"bought{n}", 0) for row in orders) == pytest.approx(one.buy_in["plants"].sum())
        parts = [value for key, value in lines[n].items() if key not in ("variant", "cost")]
        assert sum(parts) == pytest.approx(lines[n]["cost"]) == pytest.approx(one.cost)


def test_the_same_tables_for_any_number_of_workers(study: Study) -> None:
    told: list[str] = []
    again = compare_study(cases(), workers=2, progress=told.append)
    assert again == study
    assert told == [f"plans: {n} of 4" for n in (1, 2, 3, 4)]


def test_an_order_that_one_variant_lacks_is_blank_there() -> None:
    base = SPECIMENS["buy-in"]
    fewer = replace(base, orders=base.orders[1:])
    found = compare_study([named("all", base), named("fewer", fewer)], workers=1)
    rows = {row["order"]: row for row in section(found, "Orders")}
    assert rows["O-1"]["bought1"] is None
    assert rows["O-2"]["bought1"] > 0
    assert "short1" not in rows["O-2"], "nothing is short there"


def test_answer_names_the_cheapest_what_it_saves_and_why() -> None:
    base = SPECIMENS["on-tray"]
    half = with_rows(base, "packs", lambda pack: replace(pack, price=pack.price / 2))
    more = with_nursery(half, overhead=10.0)
    cost = plan(base).cost
    found = compare_study([named("now", base), named("half", more)], workers=1)
    saved = cost / 2 - 10
    assert found.answer == [
        f"half costs least, {cost - saved:,.2f} USD: {saved:,.2f} USD less than now, "
        f"mainly seed ({-cost / 2:+,.2f}), against overhead (+10.00)."
    ]
    found = compare_study([named("half", more), named("now", base)], workers=1)
    assert found.answer == [
        f"No variant is cheaper than half, which costs {cost - saved:,.2f} USD. The next, now, costs "
        f"{saved:,.2f} USD more, mainly seed ({cost / 2:+,.2f}), against overhead (-10.00)."
    ]
    assert [figure.label for figure in found.figures] == ["Cost: half (USD)", "Cost: now (USD)"]


def test_what_cannot_be_grown_is_told_with_the_least_relief() -> None:
    base = SPECIMENS["tight chamber"]
    made = plan(base)
    assert made.short > 0
    found = compare_study([named("tight", base), named("again", base)], workers=1)
    with_them = f"({made.cost:,.2f} with penalties for plants short)"
    assert f"which costs {made.cost - made.penalties:,.2f} USD {with_them}" in found.answer[0]
    orders = sorted(rows_of(made.orders, "short", "order", "short_because"))
    for name in ("tight", "again"):
        (told,) = [line for line in found.answer if line.startswith(f"{name} cannot deliver every order: ")]
        assert told.startswith(f"{name} cannot deliver every order: {made.short:,.0f} plants short. ")
        plants, order, why = orders[-1]
        assert f"{order}, {plants:,.0f} short: {why}." in told
        assert "least relief: " in told


def test_a_variant_that_cannot_deliver_is_not_compared_by_its_penalties() -> None:
    """With slots for all, the dearer plan is the answer; without them, no sum of the other is told."""
    tight = SPECIMENS["tight chamber"]
    roomy = replace(with_rows(tight, "zones", lambda zone: replace(zone, slots=1000.0)), zone_days=())
    cost = plan(roomy).cost
    both = [named("tight", tight), named("roomy", roomy)]
    for variants in (both, both[::-1]):
        first, missing = compare_study(variants, workers=1).answer
        assert first == f"roomy is the only one that can deliver every order: it costs {cost:,.2f} USD."
        assert missing.startswith("tight cannot deliver every order: ")
        assert "USD" not in missing
    three = [named("roomy", roomy), named("tight", tight), named("dear", with_nursery(roomy, overhead=10.0))]
    told = compare_study(three, workers=1).answer
    assert told[0] == "Of the variants that can deliver every order:"
    assert told[1].startswith(
        f"No variant is cheaper than roomy, which costs {cost:,.2f} USD. The next, dear,"
    )
    assert told[-1].startswith("tight cannot deliver every order: ")


def test_plants_left_short_to_save_money_are_told() -> None:
    cheap = with_rows(SPECIMENS["on-tray"], "orders", lambda row: replace(row, shortfall_penalty=0.001))
    found = compare_study([named("cheap", cheap), named("again", cheap)], workers=1)
    short = plan(cheap).short
    assert short > 0
    left = f"cheap ({short:,.0f}), again ({short:,.0f})"
    assert found.answer[-1] == f"Plants are left short to save money in: {left}."


def test_a_difference_is_clear_only_where_it_is_larger_than_the_gap_of_the_dearer_plan() -> None:
    """Where it is, what the difference surely is has one sign; where not, 0 lies between its ends."""
    scenario = SPECIMENS["on-tray"]
    made = plan(scenario)

    def with_gap(gap: float) -> Plan:
        return replace(made, facts=replace(made.facts, bound=made.cost - gap))

    base, other = measures(scenario, with_gap(3.0)), measures(scenario, with_gap(4.0))
    assert set(differences(base, other).values()) == {0.0}
    assert verdict(0.0, base, other, "USD") == SAME
    variants = [named("a", scenario), named("b", scenario)]
    for more, word, surely in ((4.5, CLEAR, "0.50 and 7.50"), (3.5, WITHIN, "-0.50 and 6.50")):
        dear = replace(
            other,
            lines=other.lines | {"seed": other.lines["seed"] + more},
            facts=replace(other.facts, bound=other.facts.bound + more),
        )
        assert [verdict(d, base, dear, "USD") for d in (more, -more)] == [word, word]
        told = compared(variants, [base, dear]).answer
        assert f"The difference of b from a is surely between {surely} USD." in told
        assert any("no more than the gap of the dearer plan (4.00 USD)" in text for text in told) == (
            word == WITHIN
        )


def test_the_least_cost_says_that_penalties_are_counted_where_any_variant_has_others() -> None:
    """Without them the third would cost least: 2 less, with 5 of penalties 3 more."""
    scenario = SPECIMENS["on-tray"]
    base = measures(scenario, plan(scenario))

    def with_lines(seed: float, shortfall: float) -> Measured:
        lines = base.lines | {
            "seed": base.lines["seed"] + seed,
            "shortfall": base.lines["shortfall"] + shortfall,
        }
        return replace(base, lines=lines, facts=replace(base.facts, bound=base.cost + seed + shortfall))

    variants = [named(name, scenario) for name in "abc"]
    for seed, start in ((1.0, "No variant is cheaper with "), (-1.0, "b costs least with ")):
        told = compared(variants, [base, with_lines(seed, 0.0), with_lines(-2.0, 5.0)]).answer
        assert told[0].startswith(f"{start}penalties for plants short counted")


def test_variants_of_one_name_are_numbered() -> None:
    scenario = SPECIMENS["on-tray"]
    found = compare_study([named("same", scenario)] * 3, workers=1)
    assert [row["variant"] for row in section(found, "Variants")] == ["same", "same (2)", "same (3)"]


def test_what_cannot_be_compared_is_refused() -> None:
    scenario = SPECIMENS["on-tray"]
    with pytest.raises(ValueError, match="at least one variant"):
        compare_study([named("alone", scenario)], workers=1)
    with pytest.raises(ValueError, match="EUR and USD"):
        compare_study([named("a", scenario), named("b", with_nursery(scenario, currency="EUR"))], workers=1)


def test_the_workbook_holds_the_sections_and_the_changes_as_text(study: Study, tmp_path: Path) -> None:
    change = CellChange("orders", "=1+1", "due_day", date(2027, 3, 1), None, "a.toml")
    variants = [named("base", SPECIMENS["on-tray"]), named("=2+2", SPECIMENS["on-tray"], change)]
    path = tmp_path / "compare.xlsx"
    write_study(compare_study(variants, workers=1), path)
    book = load_workbook(path)
    names = ["Side by side", "Causes", "Cost lines", "Orders", "Variants", "Changes"]
    assert [name for name in book.sheetnames if name in names] == names
    cells = [cell for row in book["Changes"].iter_rows() for cell in row if cell.value is not None]
    assert {"=1+1", "=2+2", "2027-03-01"} <= {cell.value for cell in cells}
    assert all(cell.data_type != "f" for cell in cells)
    assert len(book["Cost lines"]._charts) == 1


def test_a_book_that_keeps_nothing_apart_is_not_planned_twice() -> None:
    """A blank cell of one_lot says what the nursery says; no order is of one lot here."""
    scenario = base_scenario()
    assert not keeps_apart(scenario)
    assert keeps_apart(with_nursery(scenario, one_lot=True))
    assert keeps_apart(SPECIMENS["kept apart"])
    assert not keeps_apart(with_nothing_apart(with_nursery(SPECIMENS["kept apart"], one_lot=True)))

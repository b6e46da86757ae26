"""Quote, price list and accept: their figures against plans made without them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import openpyxl
import pytest

from model.questions import whole_differences
from model.questions.whole_differences import WholeDifference
from model.scenario.choices import Decline, MarginPolicy, OverheadRule, SowingPolicy
from model.scenario.entities import Order, Scenario
from model.scenario.records.trade import ListPrice
from model.solve import Solved, plan, solve
from model.solver.compiled import Compiled, Solution, SolveError
from reports.study.study import Study, sheet_names, write_study
from scenarios.cells.faults import Refused
from scenarios.solves.asking import Asking, WholeAdded, added_by, last_working_days, whole_added
from scenarios.studies.accept import accept_study
from scenarios.studies.price_list import price_list_study
from scenarios.studies.quote import moved, moves_section, quote_study
from tests.demo import demo as the_demo
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, with_nursery, with_rows
from tests.study_rows import least, records, section, worth


@pytest.fixture(scope="module")
def demo() -> Scenario:
    return the_demo()


# Quote


def asked(scenario: Scenario, **changes: object) -> Order:
    """An order like the first of the book, under another name."""
    return replace(scenario.orders[0], order="asked", price=None, **changes)  # type: ignore[arg-type]


WAVE = 100.0
"""A fixed cost of each wave, in currency."""


@pytest.fixture(scope="module")
def few() -> Scenario:
    """A book of three orders with a fixed cost of each wave."""
    book = with_nursery(base_scenario(), wave_cost=5.0)
    first = book.orders[0]
    days = [first.due_day - timedelta(days=n) for n in (0, 1, 2)]
    return replace(book, orders=tuple(replace(first, order=f"O-{d}", due_day=d) for d in days))


@pytest.fixture(scope="module")
def candidate(few: Scenario) -> Order:
    """An order asked for, whose names a spreadsheet could take for formulas."""
    return replace(few.orders[0], order="=1+1", customer="@evil", quantity=60, price=3.0)


@pytest.fixture(scope="module")
def quoted(few: Scenario, candidate: Order) -> Study:
    """Its quote."""
    return quote_study(few, [candidate], profit_margin=0.2, workers=1)


def test_a_quote_is_the_whole_plan_with_less_the_whole_plan_without(
    few: Scenario, candidate: Order, quoted: Study
) -> None:
    (row,) = records(section(quoted, "Quote"))
    book, without = plan(replace(few, orders=(*few.orders, candidate))), plan(few)
    gaps = book.cost - book.facts.bound + without.cost - without.facts.bound
    adds = worth(row["cost"])
    assert row["verdict"] == "yes"
    assert adds == pytest.approx(book.cost - without.cost, abs=gaps)
    assert worth(row["least"]) <= adds <= worth(row["most"])
    each = adds / 60 + worth(row["overhead"])
    assert worth(row["each"]) == pytest.approx(adds / 60)
    assert worth(row["price"]) == pytest.approx(each / 0.8)
    assert worth(row["left"]) == pytest.approx(1 - each / 3.0)
    assert quoted.answer[0].startswith("=1+1: 60 of")


def test_the_continuous_answer_does_not_hang_on_what_else_is_asked(
    few: Scenario, candidate: Order, quoted: Study
) -> None:
    """Otherwise copies asked for in its company would spread the fixed cost of waves over more plants."""
    alone = Asking(few, [candidate]).added(candidate.order).cost
    company = [replace(candidate, order=f"{n} more", quantity=n) for n in (60, 40, 20)]
    assert Asking(few, [candidate, *company]).added(candidate.order).cost == pytest.approx(alone)
    (row,) = records(section(quoted, "Quote"))
    assert worth(row["continuous"]) == pytest.approx(alone)


def test_other_weeks_are_quoted_in_whole_plans(few: Scenario, candidate: Order, quoted: Study) -> None:
    rows = records(section(quoted, *sheet_names("Days", [candidate.order])))
    assert len(rows) > 1
    day = rows[0]["due"]
    assert isinstance(day, date)
    other = whole_added(solve(few), replace(candidate, due_day=day))
    assert rows[0]["verdict60"] == other.verdict
    assert rows[0]["each60"] == other.cost_per_plant


def test_other_quantities_are_quoted_in_whole_plans_on_the_day_asked_for(
    few: Scenario, candidate: Order, quoted: Study
) -> None:
    rows = records(section(quoted, *sheet_names("Quantities", [candidate.order])))
    assert [row["quantity"] for row in rows] == [30, 60, 90, 120]
    book = solve(few)
    for row in rows:
        other = whole_added(book, replace(candidate, quantity=row["quantity"]))
        assert [worth(row[key]) for key in ("cost", "least", "most")] == [other.cost, other.least, other.most]
        assert worth(row["price"]) == other.price(0.2)
    (one,) = records(section(quoted, "Quote"))
    assert [rows[1][key] for key in ("cost", "continuous", "each")] == [
        one[key] for key in ("cost", "continuous", "each")
    ]
    continuous = [worth(row["continuous"]) / row["quantity"] for row in rows]
    assert continuous == pytest.approx(continuous[:1] * 4, rel=0.2)


def test_other_days_and_quantities_are_quoted_in_the_continuous_program() -> None:
    base = base_scenario()
    study = quote_study(base, [asked(base, quantity=60)], profit_margin=0.2, workers=1)
    rows = records(section(study, "Days asked"))
    (row,) = [row for row in rows if row["due"] == base.orders[0].due_day]
    for quantity in (30, 120):
        book = replace(base, orders=(*base.orders, asked(base, quantity=quantity)))
        assert row[f"verdict{quantity}"] == "yes"
        each = (least(book) - least(base)) / quantity
        assert worth(row[f"each{quantity}"]) == pytest.approx(each, abs=1e-5)
    (row,) = records(section(study, "Quote"))
    book = replace(base, orders=(*base.orders, asked(base, quantity=60)))
    assert worth(row["continuous"]) == pytest.approx(least(book) - least(base), abs=0.005)


def test_one_order_has_one_number_on_both_sheets(candidate: Order, quoted: Study) -> None:
    (row,) = records(section(quoted, "Quote"))
    days = records(section(quoted, *sheet_names("Days", [candidate.order])))
    (day,) = [day for day in days if day["due"] == candidate.due_day]
    assert [row["each"], row["overhead"], worth(row["price"])] == [
        day["each60"],
        day["overhead60"],
        worth(day["price60"]),
    ]


def test_a_small_order_pays_for_its_own_margin_alone() -> None:
    """Each order's margin is for its own seedlings: a quote changes no seed of the 300 plants booked.

    10, 20, 30 and 40 plants in waves open already never add more than by themselves, less two waves. With
    the margin of the smallest order for all of a lot, 10 plants would add 90.00 USD of seed, not 17.50.
    """
    one_day = {"rootstock_age_max": 4, "scion_age_max": 3, "holding_limit_days": 0}
    base = with_rows(base_scenario(), "methods", lambda row: replace(row, **one_day))
    level = {"sowing_policy": SowingPolicy.LEVEL, "margin_policy": MarginPolicy.LEVEL}
    book = with_nursery(with_rows(base, "orders", lambda row: replace(row, quantity=300)), **level)
    book = with_nursery(book, wave_cost=WAVE)
    study = quote_study(book, [asked(book, quantity=20)], profit_margin=0.2, workers=1)
    rows, before = records(section(study, "Quantities asked")), solve(book).solution.objective
    assert [row["quantity"] for row in rows] == [10, 20, 30, 40]
    for row in rows:
        small = asked(book, quantity=row["quantity"])
        adds = solve(replace(book, orders=(*book.orders, small))).solution.objective - before
        assert [worth(row[key]) for key in ("cost", "least", "most")] == pytest.approx([adds] * 3)
        assert 0 < adds <= solve(replace(book, orders=(small,))).solution.objective - 2 * WAVE
    (row,) = records(section(study, "Quote"))
    assert worth(row["cost"]) == worth(rows[1]["cost"])
    assert worth(rows[0]["cost"]) == pytest.approx(17.5)


def test_workers_do_not_change_a_quote(few: Scenario, candidate: Order, quoted: Study) -> None:
    two = quote_study(few, [candidate], profit_margin=0.2, workers=2)
    assert quoted.sections == two.sections
    assert quoted.answer == two.answer


@pytest.mark.parametrize(("least_charge", "told"), [(0.0, True), (400.0, False)])
def test_no_discount_is_told_of_an_order_that_is_charged_the_least(least_charge: float, told: bool) -> None:
    """100 plants at 3, a tenth off, are 270: of a least charge of 400 nothing is taken off."""
    book = base_scenario(list_prices=(ListPrice(base_scenario().products[0].product, 1, None, 3.0),))
    book = with_nursery(book, early_discount=0.1, least_charge=least_charge)
    asked = replace(book.orders[0], order="asked", price=None)
    said = " ".join(quote_study(book, [asked], profit_margin=0.25, workers=1).answer)
    assert ("10.0% off the list price" in said) is told
    assert f"is charged {max(270.0, least_charge):.2f} USD" in said


def test_a_difference_within_the_gaps_is_told_first(monkeypatch: pytest.MonkeyPatch) -> None:
    def rough(book: Solved, order: Order, plans: WholeDifference | None) -> WholeAdded:
        found = added_by(book, order, plans)
        return replace(found, most=found.least + 2 * found.cost)

    def first() -> str:
        book = base_scenario()
        return quote_study(book, [asked(book, quantity=10)], profit_margin=0.2, workers=1).answer[0]

    assert "may miss" not in first()
    monkeypatch.setattr("scenarios.studies.quote.added_by", rough)
    assert first().startswith("asked adds less than the two plans may miss of their least cost")


def test_orders_that_are_declined_for_it_are_named() -> None:
    """Room for 40 plants or so, which an order has that may be declined."""
    base = base_scenario()
    tight = with_rows(
        base, "zones", lambda zone: replace(zone, slots=4.0) if zone.zone == "Chamber" else zone
    )
    weak = replace(base.orders[0], quantity=40, price=9.0, decline=Decline.PART)
    book = replace(tight, orders=(weak,))
    study = quote_study(book, [asked(book, decline=Decline.NO, quantity=20)], profit_margin=0.2, workers=1)
    (row,) = records(section(study, "Quote"))
    assert row["verdict"] == "yes"
    declined = round((worth(row["cost"])) / 9.0)
    assert f"asked takes the place of {declined} plants of O-1: they are declined" in " ".join(study.answer)


def test_no_room_is_no_and_some_room_is_in_part() -> None:
    base = base_scenario()
    tight = with_rows(base, "zones", lambda zone: replace(zone, slots=24.0))
    alone = Asking(tight, [asked(tight, quantity=400)]).added("asked")
    assert alone.verdict == "in part"
    assert 0 < alone.delivered < 400
    assert alone.cost_per_plant == pytest.approx(alone.cost / alone.delivered)
    early = asked(tight, due_day=tight.nursery.first_day)
    none = Asking(tight, [early]).added("asked")
    assert (none.verdict, none.cost_per_plant) == ("no", None)
    study = quote_study(tight, [early], profit_margin=0.2, workers=1)
    assert study.answer[0].endswith("No plant of it can be delivered without making a booked order shorter.")


def test_orders_that_move_are_named(demo: Scenario) -> None:
    candidate = Order("asked", "x", "Duskling on Ironmere, 72", 2400, date(2027, 4, 23))
    rows = records(moves_section(moved(Asking(demo, [candidate]), "asked")))
    assert rows
    booked = {order.order: order.quantity for order in demo.orders}
    for row in rows:
        assert isinstance(row["order"], str)
        assert 0.5 < worth(row["plants"]) <= booked[row["order"]]
        assert row["before"] != row["after"]


def test_freight_that_is_in_no_price_is_named() -> None:
    """A run carries the plants of its own customers: those of Market farm, not those of a candidate."""
    book = SPECIMENS["runs"]
    order = asked(book, quantity=10)
    for customer, unsaid in (("Market farm", False), ("candidate", True)):
        study = quote_study(book, [replace(order, customer=customer)], profit_margin=0.2, workers=1)
        assert any("no freight is in this" in sentence for sentence in study.answer) is unsaid
    prices = price_list_study(book, quantity=10, profit_margin=0.2, workers=1)
    assert any("No freight is in prices" in sentence for sentence in prices.answer)


def test_a_free_week_moves_nothing() -> None:
    plain = base_scenario()
    study = quote_study(plain, [asked(plain, quantity=10)], profit_margin=0.2, workers=1)
    assert records(section(study, "Orders that move")) == []


# Price list


def test_prices_are_those_of_a_quote() -> None:
    """The same order and day: one number in both."""
    scenario = SPECIMENS["packs"]
    study = price_list_study(scenario, quantity=60, profit_margin=0.3, workers=1)
    rows = records(section(study, "All weeks"))
    assert len(rows) == len(scenario.products) * len(last_working_days(scenario))
    priced = [row for row in rows if row["verdict"] == "yes"]
    assert priced
    for row in priced:
        day = row["day"]
        assert isinstance(day, date)
        candidate = Order("asked", "x", str(row["product"]), 60, day)
        (quote,) = records(section(quote_study(scenario, [candidate], profit_margin=0.3, workers=1), "Quote"))
        for key in ("each", "overhead", "price"):
            assert worth(row[key]) == pytest.approx(worth(quote[key]))


def test_the_lowest_and_the_highest_price_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """With its share of overhead: a day on which plants add less may be the dearer one."""
    monkeypatch.setattr("scenarios.studies.price_list.WHOLE_WORK", 0)
    scenario = with_nursery(SPECIMENS["work"], overhead=400.0, overhead_by=OverheadRule.SLOT_DAYS)
    study = price_list_study(scenario, quantity=60, profit_margin=0.3, workers=1)
    rows = [row for row in records(section(study, "All weeks")) if row["verdict"] == "yes"]
    for product in {row["product"] for row in rows}:
        prices = [worth(row["price"]) for row in rows if row["product"] == product]
        (told,) = [text for text in study.answer if text.startswith(f"{product}: ")]
        assert f"from {min(prices):,.4f} USD a plant" in told
        assert f" to {max(prices):,.4f} USD (" in told


def test_a_large_book_is_priced_in_the_continuous_program(monkeypatch: pytest.MonkeyPatch) -> None:
    scenario = base_scenario()
    monkeypatch.setattr("scenarios.studies.price_list.WHOLE_WORK", 0)
    study = price_list_study(scenario, quantity=60, profit_margin=0.3, workers=1)
    assert any("continuous program" in sentence for sentence in study.answer)
    row = next(row for row in records(section(study, "All weeks")) if row["verdict"] == "yes")
    day = row["day"]
    assert isinstance(day, date)
    book = replace(scenario, orders=(*scenario.orders, Order("asked", "x", str(row["product"]), 60, day)))
    assert worth(row["each"]) == pytest.approx((least(book) - least(scenario)) / 60)


def test_workers_do_not_change_the_price_list() -> None:
    one, two = (price_list_study(base_scenario(), quantity=50, profit_margin=0.3, workers=n) for n in (1, 2))
    assert one.sections == two.sections


def test_weeks_end_on_their_last_working_day(demo: Scenario) -> None:
    days = last_working_days(demo)
    off = {row.day for row in demo.days_off}
    assert all(day.weekday() < 5 and day not in off for day in days)
    fridays = [day for day in days if day.weekday() == 4]
    assert len(fridays) == len(days) - len([d for d in off if d.weekday() == 4])


def test_the_quantity_asked_for_has_one_number_on_all_sheets_and_others_are_named_continuous(
    few: Scenario, candidate: Order
) -> None:
    study = quote_study(few, [candidate], profit_margin=0.3, workers=1)
    (quote,) = records(section(study, "Quote"))
    quantity = candidate.quantity
    sheets = [section(study, sheet_names(name, [candidate.order])[0]) for name in ("Quantities", "Days")]
    (sized,) = [row for row in records(sheets[0]) if row["quantity"] == quantity]
    days = sheets[1]
    (day,) = [row for row in records(days) if row["due"] == candidate.due_day]
    for key in ("each", "overhead", "price"):
        told = {worth(quote[key]), worth(sized[key]), worth(day[f"{key}{quantity}"])}
        assert len(told) == 1
    for of in days.columns[1:]:
        assert of.key.endswith(f"{quantity}") != ("continuous" in of.heading)


# Accept


def choosy(demo: Scenario, *prices: float) -> Scenario:
    """The base's order twice over, which may be declined whole or in part for these prices."""
    whole, part = prices
    order = demo.orders[0]
    return replace(
        demo,
        orders=(
            replace(order, order="whole", price=whole, decline=Decline.WHOLE),
            replace(order, order="part", price=part, decline=Decline.PART),
        ),
    )


def test_an_order_is_taken_above_its_cost_and_declined_below() -> None:
    """The base's order alone takes 19 trays of 10 seeds at .25 and 10 of 20 at .50: 147.50 for 100 plants."""
    cheap = accept_study(choosy(base_scenario(), 1.2, 1.2))
    rows = {row["order"]: row for row in records(section(cheap, "Orders"))}
    for name in ("whole", "part"):
        assert worth(rows[name]["declined"]) == 100
        assert worth(rows[name]["least"]) == pytest.approx(1.475)
    assert "decline 2" in cheap.answer[0]
    dear = accept_study(choosy(base_scenario(), 1.6, 1.6))
    rows = {row["order"]: row for row in records(section(dear, "Orders"))}
    assert worth(rows["whole"]["declined"]) == 0
    assert worth(rows["part"]["declined"]) <= 10


def test_the_result_is_price_less_cost() -> None:
    scenario = choosy(base_scenario(), 3.0, 0.5)
    made = plan(scenario)
    only = replace(scenario, orders=(replace(scenario.orders[0], decline=Decline.NO),))
    found = {figure.label: worth(figure.value) for figure in accept_study(scenario).figures}
    left = found["Result (USD)"]
    filled = float(made.orders.set_index("order")["own"]["part"])
    assert found["Sales (USD)"] == pytest.approx(300 + 0.5 * filled)
    assert left == pytest.approx(300 + 100 * 0.5 - made.cost)
    assert left >= 300 - plan(only).cost - 1e-6


def test_an_order_is_declined_where_its_price_is_below_and_taken_where_it_is_above(demo: Scenario) -> None:
    """Some of the demo's orders, whole or not at all: each answer agrees with the price worth taking from."""
    some = (replace(order, decline=Decline.WHOLE) for order in demo.orders[11:17])
    whole = replace(demo, orders=tuple(some))
    rows = records(section(accept_study(whole), "Orders"))
    assert {bool(row["declined"]) for row in rows} == {True, False}
    for row in rows:
        if row["declined"]:
            assert worth(row["over"]) <= 1e-6
        else:
            assert worth(row["over"]) >= -1e-6


def test_plants_that_fill_the_last_tray_have_a_column() -> None:
    """100 plants leave in trays of 6: 17 trays of 102 plants."""
    book = with_nursery(choosy(base_scenario(), 1.2, 1.2), whole_trays_to_customer=True)
    (tray,) = {row.final_format for row in book.products}
    book = with_rows(book, "tray_formats", lambda row: replace(row, cells=6) if row.format == tray else row)
    rows = records(section(accept_study(book), "Orders"))
    assert [(row["quantity"], row["filling"]) for row in rows] == [(102, 2), (102, 2)]
    assert "filling" not in records(section(accept_study(choosy(base_scenario(), 1.2, 1.2)), "Orders"))[0]


def test_where_no_order_may_be_declined_the_study_says_so() -> None:
    with pytest.raises(Refused, match="column decline"):
        accept_study(base_scenario())


def test_what_cannot_be_delivered_is_told() -> None:
    scenario = choosy(base_scenario(), 90.0, 90.0)
    tight = with_rows(scenario, "zones", lambda zone: replace(zone, slots=8.0))
    study = accept_study(tight)
    told = [sentence for sentence in study.answer if "plants of it could not be delivered" in sentence]
    assert told
    assert all(": least relief: 8 more slots in Bench" in sentence for sentence in told)
    rows = records(section(study, "Orders"))
    assert all(str(row["why"]).startswith("least relief: ") for row in rows if row["short"])


@pytest.mark.parametrize("dead_end", [False, True])
def test_no_price_pays_for_a_booked_order_that_is_shorter(
    dead_end: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Room for the booked order alone, whose penalty would be in the price of the one to take.

    ``dead_end``: no plan is found in which the booked order is no shorter.
    """
    tries, best_of = [], whole_differences._best_of

    def tried(book: Solved, compiled: Compiled) -> Solution:
        tries.append(compiled)
        if dead_end and len(tries) == 3:
            raise SolveError("Infeasible")
        return best_of(book, compiled)

    monkeypatch.setattr(whole_differences, "_best_of", tried)
    booked = replace(base_scenario().orders[0], order="booked", price=3.0)
    asked_for = replace(booked, order="asked for", price=5.0, quantity=40, decline=Decline.PART)
    scenario = base_scenario(orders=(booked, asked_for))
    tight = with_rows(scenario, "zones", lambda zone: replace(zone, slots=14.0))
    study = accept_study(tight)
    assert len(tries) == 3
    (row,) = records(section(study, "Orders"))
    assert (row["least"], row["why"]) == (None, "less of booked could be delivered")
    assert "if all of it were taken, less of booked could be delivered." in " ".join(study.answer)


# The workbook


def test_a_studys_workbook_holds_what_the_study_found(quoted: Study, tmp_path: Path) -> None:
    write_study(quoted, tmp_path / "quote.xlsx")
    values = openpyxl.load_workbook(tmp_path / "quote.xlsx", data_only=True)
    formulas = openpyxl.load_workbook(tmp_path / "quote.xlsx")
    assert values.sheetnames[:2] == ["Answer", "Quote"]
    texts = {cell.value: cell for row in formulas["Quote"].iter_rows() for cell in row if cell.value}
    assert texts["=1+1"].data_type == "s"
    assert texts["@evil"].data_type == "s"
    prices = [
        (cell.value, values["Quote"][cell.coordinate].value)
        for row in formulas["Quote"].iter_rows()
        for cell in row
        if cell.data_type == "f"
    ]
    assert any("Profit_margin" in str(text) for text, _ in prices)
    assert all(isinstance(value, float | int) for _, value in prices)
    assert set(formulas.defined_names) == {"Profit_margin"}


def test_days_before_the_horizon_are_not_quoted() -> None:
    plain = base_scenario()
    study = quote_study(plain, [asked(plain, quantity=10)], profit_margin=0.2, workers=1)
    days = [row["due"] for row in records(section(study, "Days asked"))]
    first, last = plain.nursery.first_day, plain.nursery.last_day
    assert all(isinstance(day, date) and first <= day <= last for day in days)
    assert plain.orders[0].due_day in days
    assert {b - a for a, b in pairwise(days)} <= {timedelta(days=7)}  # type: ignore[operator]


def test_names_of_sheets_are_short_allowed_and_no_two_alike() -> None:
    texts = ["A/B", "a:b", "[x]*?'\\", "long " * 20, "long " * 20, ""]
    names = sheet_names("Days", texts)
    assert names[:2] == ["Days A B", "Days 2 a b"]
    assert len({name.casefold() for name in names}) == len(texts)
    assert all(len(name) <= 31 and not set(name) & set("[]:*?/\\'") for name in names)


def test_candidates_of_like_names_have_sheets_of_their_own(tmp_path: Path) -> None:
    plain = base_scenario()
    candidates = [replace(asked(plain, quantity=10), order=name) for name in ("A/B", "A:B")]
    study = quote_study(plain, candidates, profit_margin=0.2, workers=1)
    write_study(study, tmp_path / "quote.xlsx")
    assert {"Days A B", "Days 2 A B"} <= set(openpyxl.load_workbook(tmp_path / "quote.xlsx").sheetnames)

"""What an order is charged by the list, worked by hand, and the plan whose sales it makes."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from model.network.charges import (
    Charge,
    billed_price,
    bought_of,
    charged,
    extra_asked,
    extra_plants,
    with_charges,
)
from model.network.expansion import expand
from model.planned.cash import receipts
from model.planned.plan_tables import records
from model.planned.results import result_of
from model.proof.audit import audit
from model.scenario.choices import Decline, PriceOf
from model.scenario.entities import Scenario
from model.scenario.records.trade import Customer, ListPrice
from model.solve import plan
from reports.book.words import plants_told
from tests.scenario_parts import day
from tests.strategies import base_scenario, with_nursery, with_rows

NAME = "Red on Stout"
LIST = (
    ListPrice(NAME, 1, None, 2.0),
    ListPrice(NAME, 50, None, 1.5),
    ListPrice(NAME, 1, day(10), 3.0),
    ListPrice(NAME, 200, day(10), 2.5),
)


def book(quantity: int = 100, due: int = 16, **nursery: Any) -> Scenario:
    """One order without a price, in trays of ten cells, of which nine are billed."""
    made = base_scenario(list_prices=LIST)
    trays = [replace(tray, billed=9) if tray.format == "ten" else tray for tray in made.tray_formats]
    (order,) = made.orders
    orders = (replace(order, quantity=quantity, due_day=day(due), price=None),)
    return with_nursery(replace(made, tray_formats=tuple(trays), orders=orders), **nursery)


@pytest.mark.parametrize(
    ("quantity", "due", "nursery", "charge"),
    [
        (40, 9, {}, 2.0 * 36),
        (49, 9, {}, 2.0 * 44.1),
        (50, 9, {}, 1.5 * 45),
        (100, 10, {}, 3.0 * 90),
        (199, 10, {}, 3.0 * 179.1),
        (200, 10, {}, 2.5 * 180),
        (40, 9, {"part_tray_charge": 5.0}, 72.0),
        (41, 9, {"part_tray_charge": 5.0}, 2.0 * 36.9 + 5),
        (41, 9, {"part_tray_charge": 5.0, "least_charge": 78.9}, 78.9),
        (41, 9, {"part_tray_charge": 5.0, "least_charge": 78.7}, 78.8),
    ],
)
def test_a_charge_by_hand(quantity: int, due: int, nursery: dict[str, float], charge: float) -> None:
    """Billed are 9 of 10 plants; from the tenth day on other steps hold, and the older ones no longer."""
    (order,) = with_charges(book(quantity, due, **nursery)).orders
    assert order.price is not None
    assert order.price * quantity == pytest.approx(charge)


@pytest.mark.parametrize(("cells", "billed"), [(128, 125), (288, 285)])
def test_plugs_are_billed_as_growers_do(cells: int, billed: int) -> None:
    """Trays of 128 cells billed as 125 plants and 288 as 285: terms printed by plug houses."""
    scenario = book(4 * cells, 9)
    trays = [replace(tray, cells=cells, billed=billed) for tray in scenario.tray_formats]
    (order,) = with_charges(replace(scenario, tray_formats=tuple(trays))).orders
    assert order.price is not None
    assert order.price * 4 * cells == pytest.approx(4 * billed * 1.5)


def test_a_price_a_tray_counts_parts_as_parts() -> None:
    scenario = replace(book(25, 9), list_prices=(ListPrice(NAME, 1, None, 12.0, PriceOf.TRAY),))
    (order,) = with_charges(scenario).orders
    assert order.price is not None
    assert order.price * 25 == pytest.approx(30.0)


@pytest.mark.parametrize(("least", "lowered"), [(0.0, 30.0), (280.0, 20.0), (400.0, 0.0)])
def test_an_early_discount_takes_nothing_off_the_least_charge(least: float, lowered: float) -> None:
    """Goods of 300 less 30: nothing is taken off below the least."""
    assert Charge(300.0, 30.0, 0.0, least).lowered == lowered


@pytest.mark.parametrize(
    ("placed", "settings", "charge"),
    [
        (6, {"early_discount": 0.1, "early_days": 10}, 2.7 * 36.9 + 5),
        (7, {"early_discount": 0.1, "early_days": 10}, 3.0 * 36.9 + 5),
        (None, {"early_discount": 0.1}, 3.0 * 36.9 + 5),
        (6, {"early_discount": 0.1, "early_days": 10, "least_charge": 110.0}, 110.0),
    ],
)
def test_an_early_order_is_spared_a_share_of_the_list_price(
    placed: int | None, settings: dict[str, Any], charge: float
) -> None:
    """Due on the 17th day at 3.00 for 36.9 plants billed: placed 10 days before, a tenth of that is off."""
    scenario = book(41, 16, part_tray_charge=5.0, **settings)
    (order,) = scenario.orders
    early = replace(order, ordered_day=None if placed is None else day(placed))
    price = charged(scenario, early).price
    assert price is not None
    assert price * 41 == pytest.approx(charge)
    own = replace(scenario, customers=(Customer(order.customer, early_discount=0.0),))
    assert charged(own, early).price == charged(own, order).price


@pytest.mark.parametrize(
    ("ordered", "share", "extra"),
    [(1000, 0.03, 30), (100, 0.07, 7), (101, 0.03, 4), (5, 0.01, 1), (99, 0.0, 0)],
)
def test_extra_plants_are_sent_and_not_billed(ordered: int, share: float, extra: int) -> None:
    """3 % of 1,000 are 30; a part of a plant is one. The charge is that of the plants ordered."""
    scenario = book(ordered, 9, extra_share=share)
    (plain,) = with_charges(with_nursery(scenario, extra_share=0.0)).orders
    made = with_charges(scenario)
    (order,) = made.orders
    assert with_charges(made) is made
    assert (order.quantity, extra_plants(order)) == (ordered + extra, extra)
    assert billed_price(order) == pytest.approx(plain.price)
    assert order.price is not None
    assert plain.price is not None
    assert order.price * order.quantity == pytest.approx(plain.price * plain.quantity)
    assert plants_told(order) == (f"{ordered:,} and {extra} extra" if extra else f"{ordered:,}")


@pytest.mark.parametrize(
    ("ordered", "share", "sent", "extra", "told"),
    [
        (41, 0.0, 50, 0, "50 (9 to fill last trays)"),
        (40, 0.0, 40, 0, "40"),
        (41, 0.07, 50, 3, "47 (6 to fill last trays) and 3 extra"),
        (40, 0.03, 50, 2, "48 (8 to fill last trays) and 2 extra"),
        (38, 0.05, 40, 2, "38 and 2 extra"),
    ],
)
def test_the_last_tray_is_filled(ordered: int, share: float, sent: int, extra: int, told: str) -> None:
    """Trays of ten billed as nine, 2.00 a plant: extra plants fill them too; no part of a tray is charged."""
    whole: dict[str, Any] = {"whole_trays_to_customer": True, "extra_share": share, "part_tray_charge": 5.0}
    scenario = replace(book(ordered, 9, **whole), list_prices=LIST[:1])
    (order,) = with_charges(scenario).orders
    assert (order.quantity, extra_plants(order), plants_told(order)) == (sent, extra, told)
    assert order.price is not None
    assert order.price * sent == pytest.approx(2.0 * 0.9 * (sent - extra))
    assert charged(scenario, replace(order, quantity=13)).quantity == 13, "it is filled once"
    own = with_rows(scenario, "orders", lambda row: replace(row, price=3.0))
    assert billed_price(with_charges(own).orders[0]) == pytest.approx(3.0)


def test_whose_word_on_whole_trays_counts() -> None:
    """The order's own, or else its customer's, or else the nursery's; plants held stay as they are."""
    scenario = book(41, 9)
    (order,) = scenario.orders
    theirs = replace(scenario, customers=(Customer(order.customer, whole_trays_to_customer=True),))
    nurserys = with_nursery(scenario, whole_trays_to_customer=True)
    not_theirs = replace(nurserys, customers=(Customer(order.customer, whole_trays_to_customer=False),))
    assert [bought_of(of, order) for of in (scenario, theirs, nurserys, not_theirs)] == [41, 50, 50, 41]
    assert bought_of(scenario, replace(order, whole_trays_to_customer=True)) == 50
    assert bought_of(theirs, replace(order, whole_trays_to_customer=False)) == 41
    assert bought_of(nurserys, replace(order, held=True)) == 41


def test_whose_share_of_extra_plants_counts() -> None:
    """The order's own, or else its customer's, or else the nursery's."""
    scenario = book(100, 9, extra_share=0.01)
    (order,) = scenario.orders
    own = replace(scenario, customers=(Customer(order.customer, extra_share=0.02),))
    assert [extra_asked(of, order) for of in (scenario, own)] == [1, 2]
    assert extra_asked(own, replace(order, extra_share=0.0)) == 0


def test_the_plan_delivers_extra_plants_and_the_season_is_paid_without_them() -> None:
    scenario = with_rows(book(90, extra_share=0.05), "orders", lambda row: replace(row, price=3.0))
    made = plan(scenario)
    (row,) = records(made.orders)
    assert (row["quantity"], row["extra"], row["own"], row["short"]) == (95, 5, 95.0, 0.0)
    assert result_of(made).sales == pytest.approx(90 * 3.0)
    assert sum(receipt.sales for receipt in receipts(scenario, made)) == pytest.approx(90 * 3.0)
    assert all(check.passed for check in audit(scenario, made))
    assert not all(check.passed for check in audit(with_nursery(scenario, extra_share=0.06), made))


def test_a_price_agreed_stays_and_a_product_without_a_list_has_none() -> None:
    scenario = book(least_charge=1000.0)
    agreed = replace(scenario.orders[0], price=0.25)
    assert charged(scenario, agreed) is agreed
    early = replace(scenario, list_prices=(ListPrice(NAME, 101, None, 1.0), ListPrice(NAME, 1, day(17), 1.0)))
    assert with_charges(early).orders[0].price is None


def test_sales_are_the_charge_and_the_audit_finds_it_too() -> None:
    scenario = book(95, part_tray_charge=7.0)
    made = plan(scenario)
    assert result_of(made).sales == pytest.approx(3.0 * 85.5 + 7)
    assert all(check.passed for check in audit(scenario, made))
    dearer = [replace(row, price=row.price + 0.01) for row in LIST]
    failed = audit(replace(scenario, list_prices=tuple(dearer)), made)
    assert not all(check.passed for check in failed)


def test_an_order_is_declined_by_what_the_list_charges() -> None:
    """Seed costs 0.75 a plant: a tray at the list's 0.10 is declined, unless the least charge pays it."""
    cheap = (ListPrice(NAME, 1, None, 0.10),)
    scenario = replace(book(10), list_prices=cheap)
    scenario = replace(scenario, orders=tuple(replace(o, decline=Decline.WHOLE) for o in scenario.orders))
    assert plan(scenario).orders["declined"].tolist() == [10]
    assert plan(with_nursery(scenario, least_charge=60.0)).orders["declined"].tolist() == [0]
    assert expand(scenario).orders[0].penalty == pytest.approx(50 + 0.09)


def test_plants_held_for_inquiries_are_not_charged_and_none_are_sent_beyond_them() -> None:
    scenario = with_rows(book(90, extra_share=0.05), "orders", lambda row: replace(row, held=True))
    made = plan(scenario)
    (row,) = records(made.orders)
    assert (row["quantity"], row["extra"], row["price"]) == (90, 0, None)
    assert all(check.passed for check in audit(scenario, made))


@pytest.mark.parametrize("days", [10, 11])
def test_the_audit_reads_the_day_on_which_an_order_was_placed(days: int) -> None:
    """Due ten days after it was placed: the discount is off where ten days are enough."""
    scenario = book(90, early_discount=0.1, early_days=days)
    scenario = with_rows(scenario, "orders", lambda row: replace(row, ordered_day=day(6)))
    made = plan(scenario)
    assert result_of(made).sales == pytest.approx(3.0 * 81 * (0.9 if days == 10 else 1.0))
    assert all(check.passed for check in audit(scenario, made))

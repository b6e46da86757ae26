"""An order that a customer asks for, told by its cells."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scenarios.cells.faults import BadInput
from scenarios.files.asked_orders import asked_order
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario

ASKED = {"product": "Red on Stout", "quantity": "20", "due_day": "2027-03-20", "customer": "me"}


def test_an_order_without_a_price_is_asked_for_on_its_day_where_booked_ones_may_come_late() -> None:
    """A late plant gives up a share of the price, so one that is late by its own word still needs a price."""
    scenario = base_scenario()
    late = replace(scenario, nursery=replace(scenario.nursery, late_days_most=7, late_discount=0.4))
    assert asked_order(late, ASKED).late_days_most == 0
    assert asked_order(late, ASKED | {"price": "2"}).late_days_most is None
    with pytest.raises(BadInput, match="price"):
        asked_order(late, ASKED | {"late_days_most": "3"})


def test_any_customer_may_ask_where_customers_are_kept_apart() -> None:
    assert asked_order(SPECIMENS["kept apart in units"], ASKED).customer == "me"

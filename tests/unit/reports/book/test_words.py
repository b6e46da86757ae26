"""Money in words, with the decimals of its currency, with and without penalties; names told apart."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.book.words import (
    amount,
    more_or_less,
    saves_or_costs,
    small_price,
    told_apart,
    unit_price,
    with_penalties,
    with_unit,
)


@pytest.mark.parametrize(
    "currency, sum_, one, small",
    [
        ("USD", "1,234.57 USD", "1,234.5678 USD", "0.0123 USD"),
        ("JPY", "1,235 JPY", "1,234.57 JPY", "0.01 JPY"),
        ("KWD", "1,234.568 KWD", "1,234.56784 KWD", "0.012 KWD"),
    ],
)
def test_money_has_the_decimals_of_its_currency(currency: str, sum_: str, one: str, small: str) -> None:
    assert amount(1234.56784, currency) == sum_
    assert unit_price(1234.56784, currency) == one
    assert small_price(0.01234, currency) == small


def test_one_tray_is_not_1_trays() -> None:
    told = [
        with_unit(*each) for each in (("1", "trays"), ("21", "trays"), ("1", "change-overs"), ("1", "lbs"))
    ]
    assert told == ["1 tray", "21 trays", "1 change-over", "1 lbs"]


def test_nothing_has_no_sign() -> None:
    assert amount(-0.001, "USD") == "0.00 USD"
    assert amount(-0.4, "JPY") == "0 JPY"


def test_a_cost_is_told_with_and_without_penalties() -> None:
    assert with_penalties(1200.0, 1000.0, "USD") == ("200.00 USD (1,200.00 with penalties for plants short)")
    assert with_penalties(1200.0, 0.0, "USD") == "1,200.00 USD"
    assert with_penalties(-80.0, -100.0, "USD") == "20.00 USD (-80.00 with penalties for plants short)"
    assert with_penalties(1200.0, 0.4, "JPY") == "1,200 JPY"


def test_a_difference_is_told_with_and_without_penalties() -> None:
    """100 more, of which penalties are 120 more: without them 20 less."""
    assert more_or_less(100.0, 120.0, "USD") == (
        "20.00 USD less (100.00 USD more with penalties for plants short)"
    )
    assert more_or_less(-100.0, 0.0, "USD") == "100.00 USD less"
    assert saves_or_costs(-50.0, -49.999, "USD") == (
        "saves nothing (costs 50.00 USD more with penalties for plants short)"
    )


def test_short_names_stand_as_they_are() -> None:
    assert told_apart(["Red", "Blue", "Red"], 10) == ["Red", "Blue", "Red"]


def test_long_names_keep_both_ends() -> None:
    names = ["Duskling on Ironmere, 50 cells", "Duskling on Ironmere, 72 cells"]
    assert told_apart(names, 24) == ["Duskling on Iro…50 cells", "Duskling on Iro…72 cells"]


@given(st.lists(st.text("ab ", max_size=40), max_size=12), st.integers(12, 30))
def test_different_names_never_look_alike(names: list[str], most: int) -> None:
    told = told_apart(names, most)
    assert len(set(zip(names, told, strict=True))) == len(set(names)) == len(set(told))
    assert all(len(text) <= most for text in told)

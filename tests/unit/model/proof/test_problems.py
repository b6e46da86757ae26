"""How far amounts may differ before the audit tells it: 0.0001, or a millionth of the larger one."""

from __future__ import annotations

from math import nan

import pytest

from model.proof.problems import differs, exceeds, more, must_be, off, unless, wrong


@pytest.mark.parametrize(
    "a, b, allowed, expected",
    [
        (1.00011, 1.0, None, True),
        (1.00009, 1.0, None, False),
        (1000.0009, 1000.0, None, False),  # a millionth of 1000 is a thousandth
        (1000.0011, 1000.0, None, True),
        (-1000.0, -1000.0009, None, False),
        (-1000.0, -1000.0011, None, True),
        (1.0, 5.0, None, False),
        (1.004, 1.0, 0.005, False),
        (1.006, 1.0, 0.005, True),
        (1.5, 1.0, 0.5, False),  # just what is allowed
        (1024.0, 1023.5, 0.5, False),
        (2.0**20, 2.0**20 - 1.5, 0.5, True),  # a millionth of it is 1.05
        (nan, 1.0, None, True),
        (1.0, nan, None, True),
    ],
)
def test_more_than_is_allowed(a: float, b: float, allowed: float | None, expected: bool) -> None:
    found = more(a, b) if allowed is None else more(a, b, allowed)
    assert found == expected


def test_off_is_more_or_less() -> None:
    assert off(1.0, 1.1)
    assert off(1.1, 1.0)
    assert not off(1.1, 1.0, 0.2)
    assert not off(1.0, 1.1, 0.2)


def test_what_is_told() -> None:
    assert list(differs("a place", 1234.5, 1230.0)) == [
        ("a place: the plan says 1,234.5000, the replay 1,230.0000", 4.5)
    ]
    assert list(differs("a place", 1.0, 3.0)) == [("a place: the plan says 1.0000, the replay 3.0000", 2.0)]
    assert list(differs("a place", 1.0, 3.0, 2.5)) == []
    assert list(exceeds("a place", 1234.5, 1230.0)) == [("a place: 1,234.5000 is more than 1,230.0000", 4.5)]
    assert list(exceeds("a place", 1.0, 3.0)) == []
    assert list(wrong("a place", False)) == [("a place", 1.0)]
    assert list(wrong("a place", True)) == []
    assert list(unless("a place", {"one": False, "two": True, "three": False})) == [
        ("a place: one", 1.0),
        ("a place: three", 1.0),
    ]
    assert list(must_be("a place", "skill", "sow", "graft")) == [
        ("a place: skill must be graft, not sow", 1.0)
    ]
    assert list(must_be("a place", "skill", "graft", "graft")) == []

"""The climate of a stage in words."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from model.scenario.choices import Part
from model.scenario.records.methods import Stage

STAGE = Stage("splice", 1, "dark", Part.HEALING, "Chamber", 2)


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ({}, ""),
        ({"temperature": 26.5}, "26.5 °C"),
        ({"humidity": 0.95}, "95 % humidity"),
        ({"light": 0.0, "light_hours": 12.0}, "dark"),
        ({"light": 75.0}, "75 µmol/m²/s"),
        ({"light": 75.0, "light_hours": 12.0}, "75 µmol/m²/s for 12 h a day"),
        ({"temperature": 0.0, "humidity": 0.0, "light": 0.0}, "0 °C, 0 % humidity, dark"),
        ({"light_hours": 12.0}, ""),
        ({"humidity": 0.95, "mistings": 6}, "95 % humidity, misted 6 times a day"),
        ({"mistings": 1}, "misted once a day"),
        ({"mistings": 0}, "not misted"),
    ],
)
def test_words(cells: dict[str, Any], words: str) -> None:
    assert replace(STAGE, **cells).climate == words

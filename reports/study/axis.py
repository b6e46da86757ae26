"""The axis of a chart's values, the same in workbooks, pages and pictures."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from model.planned.plan_tables import TINY

TICKS = 5
"""About how many steps an axis of values has."""

CLOSE = 5 / 6
"""If the lowest value is above this share of the highest, an axis of lines does not start at 0."""

ABOVE = " (axis begins above 0)"
"""Follows the title of an axis that does not start at 0."""


@dataclass(frozen=True, slots=True)
class Axis:
    """The axis of values, from ``low`` to ``high`` with lines at ``ticks``."""

    low: float
    high: float
    ticks: list[float]

    def share(self, value: float) -> float:
        """Height of a value on the axis, as a share from 0 to 1."""
        return (value - self.low) / (self.high - self.low)

    @property
    def remark(self) -> str:
        """What the title of the axis says of where it starts; empty where that is 0 or below."""
        return ABOVE if self.low > 0 else ""


def axis_of(values: Sequence[float], low: float | None) -> Axis:
    """From 0, or ``low``, to the highest value, in round steps; from below 0 if a value is negative."""
    bottom = min([*values, 0.0]) if low is None else low
    top = max([*values, bottom])
    step = _step(top - bottom if top - bottom > TINY else 1.0)
    first, last = math.floor(bottom / step + 1e-9), math.ceil(top / step - 1e-9)
    ticks = [n * step for n in range(first, max(last, first + 1) + 1)]
    return Axis(ticks[0], ticks[-1], ticks)


def start_of_points(values: Sequence[float]) -> float:
    """The tenth below the lowest value, so that small differences between points show."""
    return math.floor(min(values, default=0.0) * 10) / 10


def start_of_lines(values: Sequence[float]) -> float | None:
    """The lowest value if all differ by less than a sixth, as in workbooks; else None: it starts at 0."""
    return min(values) if values and min(values) > CLOSE * max(values) else None


def _step(span: float) -> float:
    """A round step, so that about ``TICKS`` make the span: 1, 2, 2.5 or 5 times a power of ten."""
    power = 10.0 ** math.floor(math.log10(span / TICKS))
    return next(step * power for step in (1, 2, 2.5, 5, 10) if step * power * TICKS >= span * (1 - 1e-9))

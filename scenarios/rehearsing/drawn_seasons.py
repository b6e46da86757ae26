"""Seasons drawn for a plan: how many at most, in words how they are drawn, and chances against levels."""

from __future__ import annotations

from collections.abc import Iterable
from math import isnan

from model.planned.plan_tables import TINY, Plan, rows_of
from model.risk.simulation import Risk
from model.scenario.entities import Scenario
from reports.book.parts import Cell
from reports.book.writing import grouped
from scenarios.cells.faults import Refused

MOST_DRAWS = 100_000_000
"""Seasons times orders, at most: several arrays then take 0.8 GB each."""

BELOW, AT, ABOVE, DECLINED = "below", "at", "above", "declined in the plan"

DRAWN = (
    "Each season draws at random: the germination of every seed lot and of each of its sowings, the "
    "seedlings that come up and pass grading, the stem match, the take of each method and graft day, and the "
    "plants that finish. The correlations set how much lots, sowings and graft days differ. Where the "
    "scenario leaves one blank, a default stands in (common practice, no source); at 0 they do not differ. "
    "Mishaps strike lots, graft days and zones as the table mishaps says; what they take is lost once the "
    "work is done."
)
MADE = (
    "Earlier graft days take seedlings from a wave first; products grafted on the same day share them in "
    "proportion. Seedlings are brought to the bench until the plan's joins are made or none is left. "
    "Seedlings left over are thrown away. Seedlings and joins are whole numbers."
)
RECOURSE = (
    "How losses are met: the plants of a graft day fill the orders that the plan serves from it, earlier due "
    "days first, each up to its planned plants. All these orders share that day's take. Plants over fill "
    "other short orders of the product, earlier due days first, if they are ready in time and within the "
    "holding limit. Once the order's last plants are ready, missing plants are bought in at the cheapest "
    "offer that can come in time, if that costs less than the penalty. The rest is short. Plants left "
    "without an order are sold at the salvage price, up to the most that can be sold."
)


def drawn_facts(seasons: int, seed: int) -> list[tuple[str, Cell]]:
    """The facts of the seasons drawn, for the last sheet."""
    return [("Seasons", seasons), ("Seed of the random numbers (PCG64)", seed)]


def check_seasons(scenario: Scenario, seasons: int) -> None:
    """Raise Refused where ``seasons`` times the number of orders exceeds ``MOST_DRAWS``."""
    orders = max(1, len(scenario.orders))
    if seasons > (most := MOST_DRAWS // orders):
        raise Refused(
            f"--seasons {grouped(seasons)} is too many for {grouped(orders)} orders; draw at most "
            f"{grouped(most)}"
        )


def verdict(promised: float, low: float, high: float) -> str:
    """Whether a chance that lies between ``low`` and ``high`` is below, at or above the level promised."""
    if high < promised:
        return BELOW
    return ABOVE if low > promised else AT


def verdicts(made: Plan, risk: Risk, levels: Iterable[float]) -> list[str]:
    """Each order's chance against its level, in words; a level is NaN where none is promised.

    An order that the plan leaves short of its margin may still be filled in seasons: the chance counts.
    """
    said = []
    planned = rows_of(made.orders, "quantity", "declined", "short")
    chances = rows_of(risk.orders, "low", "high")
    for (quantity, declined, short), (low, high), level in zip(planned, chances, levels, strict=True):
        if quantity - declined <= TINY:
            said.append(DECLINED)
        elif isnan(level):
            said.append("no level promised")
        else:
            found = verdict(level, low, high)
            said.append(f"{BELOW}: short in the plan" if found == BELOW and short > TINY else found)
    return said

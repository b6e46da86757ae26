"""Which of several plans is best in other seasons, and how sure that is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import isnan

from model.scenario.choices import MarginPolicy
from model.scenario.entities import Scenario
from reports.book.words import PENALTIES, amount, counted, more_or_less
from reports.study import column
from scenarios.rehearsing.lived_plans import LivedPlan
from scenarios.rehearsing.season_costs import difference

CARRIED = (
    "Carried over to all seasons: few seasons are rehearsed, and a mishap more or less changes their mean. "
    "What each plan costs in all seasons without planning again says how lucky those rehearsed were; their "
    "mean is corrected by that (regression estimate, Cochran 1977). The best is chosen by this figure. "
    "Differences are taken season by season, as all plans meet the same luck."
)


HEDGED = "hedged"
"""Name of the plan over many seasons among the choices."""


def about_the_hedge(scenario: Scenario, cases: Sequence[LivedPlan]) -> Iterator[str]:
    """What to bear in mind of the hedged plan, where it is among the choices, in words."""
    if all(case.name != HEDGED for case in cases):
        return
    if scenario.nursery.margin_policy is not MarginPolicy.LEVEL:
        yield "The hedged plan weighs penalties and keeps no level (margin_policy = level does)."
    elif cases[0].rehearsed is None:
        yield (
            "Nobody plans again in these seasons, and the hedged plan counts on that: --rehearse 100 shows "
            "which levels each choice keeps where the grower does."
        )


def best_of(money: str, cases: Sequence[LivedPlan]) -> str:
    """Which of all margins keeps most levels and costs least in the other seasons, in words."""
    best, *others = sorted(cases, key=lambda case: case.rank)
    again = best.rehearsed
    if again is None:
        below, season = best.below, best.season(money)
        where = f"In {counted(best.risk.seasons, 'other season')}"
    else:
        below, season = best.below_rehearsed or 0, best.season_rehearsed(money)
        where = f"Rehearsed in {counted(again.short.shape[1], 'other season')}"
    further = "" if again is None else f" {_next(money, best, others[0])}"
    carried = "" if again is None else ", carried over to all seasons"
    tried = ", ".join(case.name for case in cases)
    return (
        f"{where}, of the choices tried ({tried}) the best is: {best.name}. It leaves {below or 'no'} "
        f"{'order' if below == 1 else 'orders'} below the level, and a season costs {season} on "
        f"average{carried}.{further}"
    )


def _next(money: str, best: LivedPlan, other: LivedPlan) -> str:
    """What the next best choice costs against the best, and how sure that is, in words."""
    more, error = difference(other.season_costs, best.season_costs)
    levels = (best.rank[0], other.rank[0])
    of = "" if levels[0] == levels[1] else f" with {counted(levels[1], 'order')} below the level"
    penalties = other.season_penalties - best.season_penalties
    sure = "" if isnan(error) else f"; standard error {amount(error, money)}, penalties counted"
    return f"The next, {other.name}{of}, costs {more_or_less(more, penalties, money)} a season{sure}."


def rehearsed_columns(money: str, cases: Sequence[LivedPlan]) -> list[column.Column[LivedPlan]]:
    """What the rehearsed seasons say, where there are any."""
    if cases[0].rehearsed is None:
        return []
    best = min(cases, key=lambda case: case.rank)
    return [
        column.count("below_again", "Orders below their level, rehearsed", lambda c: c.below_rehearsed),
        column.decimal("short_again", "Short, rehearsed, mean (plants)", lambda c: c.mean_rehearsed("short")),
        column.decimal("late_again", "Late, rehearsed, mean (plants)", lambda c: c.mean_rehearsed("late")),
        column.money(
            "again",
            f"Cost of a season, rehearsed, with penalties, mean ({money})",
            lambda c: c.mean_rehearsed("cost"),
        ),
        column.money(
            "again_penal",
            f"Of it {PENALTIES}, rehearsed, mean ({money})",
            lambda c: c.mean_rehearsed("penalties"),
        ),
        column.money(
            "lasting",
            f"Cost of a season, rehearsed, with penalties, carried over to all seasons ({money})",
            lambda c: c.season_costs.mean,
        ),
        column.money(
            "lasting_penal",
            f"Of it {PENALTIES}, carried over ({money})",
            lambda c: c.season_penalties,
        ),
        column.money(
            "dearer",
            f"More than the best, with penalties, carried over ({money})",
            lambda c: difference(c.season_costs, best.season_costs)[0],
        ),
        column.money(
            "dearer_error",
            f"Standard error of the difference ({money})",
            lambda c: None if isnan(error := difference(c.season_costs, best.season_costs)[1]) else error,
        ),
    ]

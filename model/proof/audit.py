"""The audit: replays a plan day by day from the scenario, with code that shares nothing with the program.

Each check yields the problems that it finds. A plan with a problem is not shown. A short order is not a
problem. docs/maths.md defines what is right.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from model.planned.plan_tables import Plan
from model.proof.business_checks import (
    bought_plants_arrive,
    bound_holds,
    counts_are_whole,
    crews_keep_their_hours,
    hands_do_the_work,
    money_adds_up,
    salvage_is_surplus,
    stock_never_runs_out,
    temporary_hands_are_trained,
)
from model.proof.growing_checks import (
    deliveries_keep_their_days,
    flows_add_up,
    joins_are_possible,
    orders_are_met_or_short,
    seedlings_suffice,
    slots_suffice,
    units_run_all_in_all_out,
    waves_are_sown_right,
)
from model.proof.job_checks import crews_do_the_jobs, jobs_are_due, jobs_name_their_lots
from model.proof.past_checks import the_past_is_kept
from model.proof.problems import Problem
from model.proof.replay import Replay
from model.scenario.entities import Scenario


@dataclass(frozen=True, slots=True)
class Check:
    """One check: its name, whether the plan passed, and the worst problem with its size if not."""

    name: str
    passed: bool
    detail: str
    worst: float


UNREADABLE = (ArithmeticError, AttributeError, LookupError, TypeError, ValueError)
"""Errors that may arise when a broken plan is read."""


def tables_have_their_columns(r: Replay) -> Iterator[Problem]:
    """Every table has exactly its declared columns."""
    yield from r.read.columns


def every_value_is_there(r: Replay) -> Iterator[Problem]:
    """No value is missing, of the wrong type or infinite, and no count is negative."""
    yield from r.read.values


def days_are_in_the_plan(r: Replay) -> Iterator[Problem]:
    """Every day lies inside the horizon."""
    yield from r.read.days


def names_are_in_the_scenario(r: Replay) -> Iterator[Problem]:
    """Every product, lot, order, zone, crew ... of the plan exists in the scenario."""
    yield from r.read.names


def rows_occur_once(r: Replay) -> Iterator[Problem]:
    """No key (wave, flow, day of a zone or crew ...) occurs twice in its table."""
    yield from r.read.repeats


CHECKS: dict[str, Callable[[Replay], Iterator[Problem]]] = {
    "tables have their columns": tables_have_their_columns,
    "every value is there": every_value_is_there,
    "days lie in the plan": days_are_in_the_plan,
    "names are in the scenario": names_are_in_the_scenario,
    "rows occur once": rows_occur_once,
    "the past is kept": the_past_is_kept,
    "waves are sown right": waves_are_sown_right,
    "joins are possible": joins_are_possible,
    "seedlings suffice": seedlings_suffice,
    "flows add up": flows_add_up,
    "deliveries keep their days": deliveries_keep_their_days,
    "orders are met or short": orders_are_met_or_short,
    "slots suffice": slots_suffice,
    "units run all-in all-out": units_run_all_in_all_out,
    "hands do the work": hands_do_the_work,
    "crews keep their hours": crews_keep_their_hours,
    "temporary hands are trained": temporary_hands_are_trained,
    "bought plants arrive": bought_plants_arrive,
    "stock never runs out": stock_never_runs_out,
    "money adds up": money_adds_up,
    "salvage is surplus": salvage_is_surplus,
    "jobs are due": jobs_are_due,
    "jobs name their lots": jobs_name_their_lots,
    "crews do the jobs": crews_do_the_jobs,
    "counts are whole": counts_are_whole,
    "the bound holds": bound_holds,
}


def audit(scenario: Scenario, plan: Plan) -> list[Check]:
    """All checks of a plan against its scenario. A plan too broken to be replayed fails them all."""
    try:
        replay = Replay(scenario, plan)
    except UNREADABLE as error:
        why = f"the plan cannot be replayed: {type(error).__name__}: {error}"
        return [Check(name, False, why, float("inf")) for name in CHECKS]
    return [_run(name, check, replay) for name, check in CHECKS.items()]


def _run(name: str, check: Callable[[Replay], Iterator[Problem]], replay: Replay) -> Check:
    try:
        problems = list(check(replay))
    except UNREADABLE as error:
        why = f"cannot be checked: {type(error).__name__}: {error}"
        return Check(name, False, why, float("inf"))
    if not problems:
        return Check(name, True, "", 0.0)
    place, worst = max(problems, key=lambda problem: problem[1])
    more = f" (and {len(problems) - 1} more)" if len(problems) > 1 else ""
    return Check(name, False, place + more, worst)

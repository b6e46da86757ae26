"""The audit: replays a plan day by day from the scenario, with code that shares nothing with the program.

Each check yields the problems that it finds. A plan with a problem is not shown. A short order is not a
problem. docs/maths.md defines what is right.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from model.collector import collector_paused
from model.planned.plan_tables import Plan
from model.proof.checks import (
    apart_checks,
    bay_checks,
    business_checks,
    growing_checks,
    job_checks,
    needless_checks,
    run_checks,
    spare_checks,
    spread_checks,
    trace_checks,
    way_checks,
)
from model.proof.checks.past_checks import the_past_is_kept
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


CHECKS: dict[str, Callable[[Replay], Iterable[Problem]]] = {
    "tables have their columns": lambda r: r.read.columns,
    "every value is there": lambda r: r.read.values,
    "days lie in the plan": lambda r: r.read.days,
    "names are in the scenario": lambda r: r.read.names,
    "rows occur once": lambda r: r.read.repeats,
    "the past is kept": the_past_is_kept,
    "waves are sown right": growing_checks.waves_are_sown_right,
    "trays germinate right": growing_checks.trays_germinate_right,
    "joins are possible": growing_checks.joins_are_possible,
    "seedlings suffice": growing_checks.seedlings_suffice,
    "spare seedlings suffice": spare_checks.spare_seedlings_suffice,
    "flows add up": growing_checks.flows_add_up,
    "ways are told": way_checks.ways_are_told,
    "deliveries keep their days": growing_checks.deliveries_keep_their_days,
    "lots are traced": trace_checks.lots_are_traced,
    "groups are apart": apart_checks.groups_are_apart,
    "units are shared by no two groups kept apart": apart_checks.units_are_shared_by_no_two,
    "orders are of one lot": apart_checks.orders_are_of_one_lot,
    "lots are changed over for": apart_checks.lots_are_changed_over,
    "orders are spread": spread_checks.orders_are_spread,
    "orders are met or short": growing_checks.orders_are_met_or_short,
    "slots suffice": growing_checks.slots_suffice,
    "bays hold their trays": bay_checks.bays_hold_their_trays,
    "units run all-in all-out": growing_checks.units_run_all_in_all_out,
    "hands do the work": business_checks.hands_do_the_work,
    "crews keep their hours": business_checks.crews_keep_their_hours,
    "piece rates are paid": business_checks.piece_rates_are_paid,
    "guaranteed hours are paid": business_checks.guaranteed_hours_are_paid,
    "temporary hands are trained": business_checks.temporary_hands_are_trained,
    "bought plants arrive": business_checks.bought_plants_arrive,
    "stock never runs out": business_checks.stock_never_runs_out,
    "nothing is needless": needless_checks.nothing_is_needless,
    "money adds up": business_checks.money_adds_up,
    "runs carry their trays": run_checks.runs_carry_their_trays,
    "salvage is surplus": business_checks.salvage_is_surplus,
    "jobs are due": job_checks.jobs_are_due,
    "jobs name their lots": job_checks.jobs_name_their_lots,
    "crews do the jobs": job_checks.crews_do_the_jobs,
    "counts are whole": business_checks.counts_are_whole,
    "the bound holds": business_checks.bound_holds,
}


@collector_paused()
def audit(scenario: Scenario, plan: Plan) -> list[Check]:
    """All checks of a plan against its scenario. A plan too broken to be replayed fails them all."""
    try:
        replay = Replay(scenario, plan)
    except UNREADABLE as error:
        why = f"the plan cannot be replayed: {type(error).__name__}: {error}"
        return [Check(name, False, why, float("inf")) for name in CHECKS]
    return [_run(name, check, replay) for name, check in CHECKS.items()]


def _run(name: str, check: Callable[[Replay], Iterable[Problem]], replay: Replay) -> Check:
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

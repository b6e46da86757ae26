"""The audit: a plan replayed day by day from the scenario, by code that shares nothing with the program.

Every check answers with the places where the plan is wrong; a plan with any is not shown. An order
left short is not wrong. docs/maths.md says what is right.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from math import isfinite

from model.audit_business import (
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
from model.audit_growing import (
    deliveries_keep_their_days,
    flows_add_up,
    joins_are_possible,
    orders_are_met_or_short,
    seedlings_suffice,
    slots_suffice,
    units_run_all_in_all_out,
    waves_are_sown_right,
)
from model.audit_replay import Replay
from model.entities import Scenario
from model.plan import PLAN_TABLES, Plan
from model.problems import ABSOLUTE, Problem, wrong
from model.replay import ONE_DAY


@dataclass(frozen=True, slots=True)
class Check:
    """One check: what it looks at, whether all is well, the worst place if not, and by how much."""

    name: str
    passed: bool
    detail: str
    worst: float


MAY_BE_NEGATIVE = {"amount", "value", "left", "at", "low", "high", "surplus"}


def tables_are_whole(r: Replay) -> Iterator[Problem]:
    """Every table has its columns; no number is missing, infinite or, where it counts things, negative."""
    for name, columns in PLAN_TABLES.items():
        found = list(r.plan.table(name).columns)
        yield from wrong(f"{name}: columns {found}", found == list(columns))
        for n, row in enumerate(r.rows[name]):
            for column, value in row.items():
                if isinstance(value, float) and not isfinite(value):
                    yield f"{name}, row {n + 1}, {column}: {value}", 1.0
                elif isinstance(value, int | float) and column not in MAY_BE_NEGATIVE and value < -ABSOLUTE:
                    yield f"{name}, row {n + 1}, {column}: {value} is negative", -value


def days_are_in_the_plan(r: Replay) -> Iterator[Problem]:
    """Everything that is done is done inside the horizon."""
    outside = {("waves", "clear_day"), ("unit_batches", "shut_until")}
    for name, rows in r.rows.items():
        if name == "shadow_prices":
            continue
        for row in rows:
            for column, value in row.items():
                if isinstance(value, date) and (name, column) not in outside:
                    late = r.world.last + (ONE_DAY if column in ("to_day", "due_day") else 0 * ONE_DAY)
                    early = r.world.first - (3650 * ONE_DAY if column == "order_by" else 0 * ONE_DAY)
                    yield from wrong(f"{name}, {column}: {value} is outside", early <= value <= late)


CHECKS: dict[str, Callable[[Replay], Iterator[Problem]]] = {
    "tables are whole": tables_are_whole,
    "days lie in the plan": days_are_in_the_plan,
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
    "counts are whole": counts_are_whole,
    "the bound holds": bound_holds,
}


def audit(scenario: Scenario, plan: Plan) -> list[Check]:
    """All checks of a plan against its scenario. A plan too broken to be replayed fails them all."""
    try:
        replay = Replay(scenario, plan)
    except (KeyError, TypeError, ValueError, AttributeError, ZeroDivisionError) as error:
        why = f"the plan cannot be replayed: {type(error).__name__}: {error}"
        return [Check(name, False, why, float("inf")) for name in CHECKS]
    return [_run(name, check, replay) for name, check in CHECKS.items()]


def _run(name: str, check: Callable[[Replay], Iterator[Problem]], replay: Replay) -> Check:
    try:
        problems = list(check(replay))
    except (KeyError, TypeError, ValueError, AttributeError, ZeroDivisionError) as error:
        why = f"cannot be checked: {type(error).__name__}: {error}"
        return Check(name, False, why, float("inf"))
    if not problems:
        return Check(name, True, "", 0.0)
    place, worst = max(problems, key=lambda problem: problem[1])
    more = f" (and {len(problems) - 1} more)" if len(problems) > 1 else ""
    return Check(name, False, place + more, worst)

"""The plan made again from today, compared with the last plan: changes, cost, and cures for short orders."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from functools import partial
from typing import Any

import pandas as pd

from model.currencies import least_sum
from model.phases import Say, silent
from model.planned.plan_tables import Plan, Tables, rows_of
from model.planned.results import has_prices, result_of
from model.program.cost_terms import COST_LINES
from model.scenario.entities import Scenario
from model.season.cures import Cure, cures
from model.season.differences import differences
from model.season.replanning import Replanned
from reports.book.parts import Cell, SheetColumn
from reports.book.style import CellKind
from reports.book.words import PENALTIES, amount, counted, more_or_less, with_penalties, with_unit
from reports.book.writing import grouped, shown_day
from reports.plan.result_words import better_or_worse
from reports.study import column
from reports.study.study import CONTINUOUS_COSTS, Chart, Figure, Section, Study, run_facts
from scenarios.solves.differing_jobs import job_columns, job_rows

MOST_NAMED = 5
"""Changed jobs that the answer names; the sheet has them all."""


def replan_study(
    scenario: Scenario,
    last: Tables,
    again: Replanned,
    made: Plan,
    *,
    progress: Say = silent,
) -> Study:
    """The plan ``made`` of ``again`` compared with the last plan's tables, and cures for orders now short.

    Raises SolveError where HiGHS reaches no optimum.
    """
    today = scenario.nursery.today or scenario.nursery.first_day
    changed = differences(last, made.tables, today)
    hit, ways = cures(scenario, last, progress=progress)
    money, before = scenario.nursery.currency, float(last["costs"]["amount"].sum())
    return Study(
        "Plan from today",
        scenario,
        _answer(money, today, last, again, made, changed, hit, ways),
        [
            Figure("Today", today, CellKind.DAY),
            *_result_figures(last, again, made, money),
            *_cost_figures("of the last plan", before, _penalties(last), money),
            *_cost_figures("of the plan from today", made.cost, made.penalties, money),
            *_cost_figures("if the last plan is kept", again.carried_on, again.carried_penalties, money),
            Figure("Jobs that change", len(changed), CellKind.COUNT),
            Figure("Plants short in the last plan", float(last["orders"]["short"].sum()), CellKind.DECIMAL),
            Figure("Plants short from today", made.short, CellKind.DECIMAL),
        ],
        [
            _changes(scenario, changed, again.upset),
            _costs(last, made, money),
            _orders(last, made),
            *([_cures(hit, ways, before, _penalties(last), money)] if ways else []),
        ],
        [(f"Least saving for each job that changes ({money})", again.upset), *run_facts(made.facts, money)],
    )


def _result_figures(last: Tables, again: Replanned, made: Plan, money: str) -> list[Figure]:
    """The results of the last plan, from today, and if the last plan is kept, where orders have prices."""
    if not has_prices(made.orders):
        return []
    return [
        Figure(f"Result of the last plan ({money})", result_of(last).result, CellKind.MONEY),
        Figure(f"Result of the plan from today ({money})", result_of(made).result, CellKind.MONEY),
        Figure(f"Result if the last plan is kept ({money})", again.carried_result, CellKind.MONEY),
    ]


def _cost_figures(of: str, cost: float | None, penalties: float, money: str) -> list[Figure]:
    """A cost without penalties, and with them."""
    paid = None if cost is None else cost - penalties
    return [
        Figure(f"Cost {of}, without penalties ({money})", paid, CellKind.MONEY),
        Figure(f"Cost {of}, with {PENALTIES} ({money})", cost, CellKind.MONEY),
    ]


def _answer(
    money: str,
    today: date,
    last: Tables,
    again: Replanned,
    made: Plan,
    changed: pd.DataFrame,
    hit: Sequence[str],
    ways: Sequence[Cure],
) -> list[str]:
    count, before = len(changed), float(last["costs"]["amount"].sum())
    since = f"From {shown_day(today)} on"
    if not again.kept and not count:
        first = f"{since}, no job changes."
    elif not again.kept:
        first = f"{since}, {count} job{' changes' if count == 1 else 's change'}: see the sheet Changes."
    elif count:
        first = f"{since}, keep the last plan, with {counted(count, 'number')} adjusted to the counts."
    else:
        first = f"{since}, keep the last plan; no job changes."
    more, penal = made.cost - before, made.penalties - _penalties(last)
    left = []
    if has_prices(made.orders):
        now, then = result_of(made).result, result_of(last).result
        alike = abs(now - then) < least_sum(money)
        told = ", as planned" if alike else f": {better_or_worse(now - then, money)} than planned"
        left = [f"The season leaves {amount(now, money)}{told}."]
    alike = abs(more) < least_sum(money) and abs(penal) < least_sum(money)
    against = ", as much as" if alike else f": {more_or_less(more, penal, money)} than"
    said = [
        first,
        *left,
        f"The whole season, past days included, costs "
        f"{with_penalties(made.cost, made.penalties, money)}{against} in the last plan.",
    ]
    if not again.kept and 0 < count <= MOST_NAMED:
        said.append(f"{'; '.join(_in_words(job) for job in changed.itertuples(index=False))}.")
    if again.carried_on is not None:
        saved = again.carried_on - again.found.cost
        penal = again.carried_penalties - again.found.penalties
        if not again.kept:
            dear = saved <= -least_sum(money)
            broken = ", but less of what was promised would be delivered" if dear else ""
            said.append(
                f"Keeping the last plan would cost {more_or_less(saved, penal, money)} than changing it"
                f"{_kept(again, money)}{broken}."
            )
        elif saved >= least_sum(money):
            said.append(
                f"A new plan would cost {more_or_less(-saved, -penal, money)}, by changing "
                f"{counted(again.found.jobs, 'job')}. A change must save more than the gap of the plans, "
                f"{amount(again.found.gap, money)}, and more than {amount(again.upset, money)} a job."
            )
    if not again.kept and again.carried_on is None:
        said.append("The last plan can no longer be carried out as it is.")
    if hit:
        best = min((way for way in ways if way.cost is not None), key=lambda way: way.cost or 0.0)
        told = with_penalties(best.cost or 0.0, best.penalties, money)
        kept = (
            "If kept, the last plan" if again.carried_on is not None else "With its sowing and hands kept, it"
        )
        said.append(
            f"{kept} leaves {counted(len(hit), 'order')} short that it filled "
            f"before ({', '.join(hit[:5])}{' ...' if len(hit) > 5 else ''}). The cheapest cure is: "
            f"{best.name}. The season then costs {told}{_leaving(best, money)}. "
            f"{grouped(sum(best.short.values()))} plants are short in "
            "all."
        )
    return said


def _kept(again: Replanned, money: str) -> str:
    left = again.carried_result
    return "" if left is None else f" and leave a result of {amount(left, money)}"


def _leaving(way: Cure, money: str) -> str:
    return "" if way.result is None else f" and leaves {amount(way.result, money)}"


def _penalties(last: Tables) -> float:
    costs = last["costs"]
    return float(costs.loc[costs["line"] == "shortfall", "amount"].sum())


def _in_words(job: Any) -> str:
    """A changed job in a few words."""
    much = f"{with_unit(grouped(job.after), job.unit)} instead of {grouped(job.before)}"
    return f"{shown_day(job.day)}, {job.what} {job.name}: {much}"


def _changes(scenario: Scenario, changed: pd.DataFrame, upset: float) -> Section:
    rows, money = job_rows(scenario, changed), scenario.nursery.currency
    notes = [
        "The jobs that change from the last plan, by day. Purchases stand on the last day to order.",
        "0 in the last plan: the job is new. 0 from today: the job falls away.",
        f"A job changes only where that saves more than {amount(upset, money)}, or where less of what was "
        "promised would be delivered without it. The cost of the plan does not include this.",
    ]
    if not rows:
        notes.insert(0, "No job changes.")
    return Section(
        "Changes",
        "The jobs that change from the last plan, by day.",
        notes,
        job_columns("Last plan", "From today"),
        rows,
    )


def _costs(last: Tables, made: Plan, money: str) -> Section:
    sums: dict[str, list[float]] = defaultdict(lambda: [0.0, 0.0])
    for n, costs in enumerate((last["costs"], made.costs)):
        for line, cost in rows_of(costs, "line", "amount"):
            sums[line][n] += cost

    def change(line: str) -> float:
        return sums[line][1] - sums[line][0]

    title = "Cost by line, penalties counted, in the last plan and from today"
    shows = "Columns: cost of each line in the last plan and from today."
    return column.section(
        "Costs",
        f"{title}.",
        ["Both are for the whole season. Past days cost what was recorded, or else the standards."],
        [line for line in COST_LINES if line in sums],
        [
            column.text("line", "Cost line", str),
            column.money("before", f"Last plan ({money})", lambda line: sums[line][0], total=True),
            column.money("after", f"From today ({money})", lambda line: sums[line][1], total=True),
            column.money("change", f"Change ({money})", change, "={after}-{before}", total=True),
        ],
        Chart("columns", title, shows, "line", ("before", "after"), money),
    )


def _orders(last: Tables, made: Plan) -> Section:
    names = ("own", "bought", "short")
    before = {order: rest for order, *rest in rows_of(last["orders"], "order", *names)}
    rows: list[list[Cell]] = []
    for order, *head, own, bought, short in rows_of(
        made.orders, "order", "customer", "product", "due_day", "quantity", *names
    ):
        was = before.get(order, [0.0] * len(names))
        rows.append([order, *head, was[0], own, was[1], bought, was[2], short])
    return Section(
        "Orders",
        "How each order is filled, in the last plan and from today.",
        ["An order that is new since the last plan has 0 in its columns."],
        [
            SheetColumn("order", "Order"),
            SheetColumn("customer", "Customer"),
            SheetColumn("product", "Product"),
            SheetColumn("due_day", "Due day", CellKind.DAY),
            SheetColumn("quantity", "Quantity (plants)", CellKind.COUNT, total=True),
            SheetColumn("own_before", "Own growing, last plan (plants)", CellKind.COUNT, total=True),
            SheetColumn("own", "Own growing, from today (plants)", CellKind.COUNT, total=True),
            SheetColumn("bought_before", "Bought in, last plan (plants)", CellKind.COUNT, total=True),
            SheetColumn("bought", "Bought in, from today (plants)", CellKind.COUNT, total=True),
            SheetColumn("short_before", "Short, last plan (plants)", CellKind.COUNT, total=True),
            SheetColumn("short", "Short, from today (plants)", CellKind.COUNT, total=True),
        ],
        rows,
    )


def _result_column(ways: Sequence[Cure], money: str) -> list[column.Column[Cure]]:
    """The result of each way, where orders have prices."""
    priced = any(way.result is not None for way in ways)
    return [column.money("result", f"Result ({money})", lambda way: way.result)] if priced else []


def _cures(hit: Sequence[str], ways: Sequence[Cure], before: float, penalties: float, money: str) -> Section:
    spent, part = before - penalties, ways[0]

    def less(cost: float | None, other: float | None) -> float | None:
        return None if cost is None or other is None else cost - other

    def short(way: Cure) -> float | None:
        return None if way.cost is None else sum(way.short.values())

    def short_of(way: Cure, order: str) -> float | None:
        return None if way.cost is None else way.short.get(order, 0.0)

    title = "Cost of each way against the last plan"
    shows = "Columns: what the season costs more than in the last plan, with and without penalties."
    return column.section(
        "Cures",
        "Ways to go on, each on its own, with its cost.",
        [
            "Each way may change only what the second column names; all else stays as in the last plan. A "
            "blank cost means that the way cannot be done.",
            "Ship part: the orders get the plants there are; the rest is short at its penalty. The rest "
            "later: the customer takes the missing plants so many days after the due day; ask first.",
            CONTINUOUS_COSTS,
        ],
        ways,
        [
            column.text("way", "Way", lambda way: way.name),
            column.text("open", "What it may change", lambda way: way.open_, widest=50),
            *_result_column(ways, money),
            column.money("paid", f"Cost of the season, without penalties ({money})", lambda way: way.paid),
            column.money("penalties", f"{PENALTIES.capitalize()} ({money})", lambda way: way.penalties),
            column.money("cost", f"Cost of the season, with penalties ({money})", lambda way: way.cost),
            column.money(
                "more_paid",
                f"Against the last plan, without penalties ({money})",
                lambda way: less(way.paid, spent),
            ),
            column.money(
                "more", f"Against the last plan, with penalties ({money})", lambda way: less(way.cost, before)
            ),
            column.money(
                "against_paid",
                f"Against shipping part, without penalties ({money})",
                lambda way: less(way.paid, part.paid),
            ),
            column.money(
                "against",
                f"Against shipping part, with penalties ({money})",
                lambda way: less(way.cost, part.cost),
            ),
            column.decimal("short", "Short in all (plants)", short),
            *(
                column.decimal(f"order {n}", f"{order}, short (plants)", partial(short_of, order=order))
                for n, order in enumerate(hit)
            ),
        ],
        Chart("columns", title, shows, "way", ("more_paid", "more"), money, x_title="way to go on"),
    )

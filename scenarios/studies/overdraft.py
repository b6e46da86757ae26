"""What the overdraft costs, and whether the plan would change if its interest were in the program."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import pandas as pd

from model.currencies import least_sum
from model.phases import Say, silent
from model.planned.cash import Cash, CashWeek, cash_of
from model.planned.plan_tables import Plan, rows_of
from model.planned.results import has_prices, result_of
from model.questions.cash_in_program import least_with_interest, payments_of, priced
from model.scenario.entities import Scenario
from model.season.differences import differences
from model.solve import Solved, plan_of, solve
from model.solver.whole import make_whole
from reports.book.style import CellKind
from reports.book.words import PENALTIES, amount, counted, more_or_less, percent
from reports.book.writing import grouped
from reports.plan.result_words import cash_sentence
from reports.study import column
from reports.study.study import Chart, Figure, Section, Study, run_facts
from scenarios.solves.differing_jobs import job_columns, job_rows

AS_MADE, WITH_INTEREST = "as made, without interest", "with the interest in the program"

OF = 1_000
"""Currency of which the interest is told."""


@dataclass(frozen=True, slots=True)
class Paid:
    """A plan in whole trays with its cash."""

    plan: Plan
    cash: Cash

    @property
    def together(self) -> float:
        """Cost with penalties and overdraft, in currency."""
        return self.plan.cost + self.cash.overdraft


@dataclass(frozen=True, slots=True)
class Interest:
    """What interest in the program makes of a plan, in currency.

    ``saves``: in the continuous program. ``bound``: cost and overdraft together of any plan are no less.
    ``worth``: by week, interest of one of currency paid in it. ``changed``: jobs that differ.
    """

    other: Paid
    saves: float
    bound: float
    worth: list[float]
    changed: pd.DataFrame


def overdraft_study(scenario: Scenario, *, progress: Say = silent) -> Study:
    """The plan and its overdraft, beside the plan made with the interest in the program.

    Raises SolveError where HiGHS reaches no optimum.
    """
    solved = solve(scenario, progress=progress)
    made = plan_of(solved, progress=progress)
    now, money = Paid(made, cash_of(scenario, made)), scenario.nursery.currency
    found = with_interest(solved, now, progress) if now.cash.overdraft >= least_sum(money) else None
    cheaper = found is not None and now.together - found.other.together >= least_sum(money)
    return Study(
        "Overdraft",
        scenario,
        [*_answer(scenario, now), *_would_change(money, now, found, cheaper)],
        [
            Figure(f"The overdraft costs ({money})", now.cash.overdraft, CellKind.MONEY),
            Figure("Overdraft rate a year", scenario.nursery.overdraft_rate, CellKind.SHARE),
            Figure(f"Balance of the deepest week ({money})", now.cash.deepest.balance, CellKind.MONEY),
            Figure("Jobs that differ", len(found.changed) if found and cheaper else 0, CellKind.COUNT),
        ],
        [
            _plans(money, now, found),
            _weeks(money, now, found, cheaper),
            *([_jobs(scenario, found.changed)] if found is not None and cheaper else []),
        ],
        run_facts(made.facts, money),
    )


def with_interest(solved: Solved, now: Paid, progress: Say = silent) -> Interest:
    """The plan made with the interest in the program, with packs ordered on the days of the plan ``now``."""
    program, compiled, continuous = solved.program, solved.compiled, solved.continuous
    scenario = program.network.scenario
    progress("interest in the program")
    columns = "item", "size", "order_by"
    ordered = {
        (item, size): day or scenario.nursery.first_day
        for item, size, day in rows_of(now.plan.purchases, *columns)
    }
    payments = payments_of(program, compiled, ordered)
    best = priced(compiled, continuous, payments)
    least = max(least_with_interest(program, compiled), now.plan.facts.bound)
    whole = make_whole(program, best.compiled, best.continuous, progress).solution
    cost = float(compiled.cost @ whole.columns) + compiled.offset
    other = plan_of(replace(solved, solution=replace(whole, objective=cost)), progress=progress)
    before = continuous.objective + float(payments.overdrafts(continuous.columns).sum())
    return Interest(
        Paid(other, cash_of(scenario, other)),
        max(0.0, before - best.objective),
        min(least, now.together),
        best.worth.tolist(),
        differences(now.plan.tables, other.tables, scenario.nursery.today or scenario.nursery.first_day),
    )


def _answer(scenario: Scenario, now: Paid) -> Iterator[str]:
    money, cost = scenario.nursery.currency, now.cash.overdraft
    rate = percent(scenario.nursery.overdraft_rate)
    if scenario.nursery.overdraft_rate == 0:
        yield "An overdraft costs nothing here: overdraft_rate of the table nursery is 0."
    elif cost < least_sum(money):
        yield f"The overdraft costs nothing: no week of the plan ends below 0, at a rate of {rate}."
    elif has_prices(now.plan.orders):
        result = result_of(now.plan).result
        yield (
            f"The season leaves a result of {amount(result, money)}, and {amount(result - cost, money)} once "
            "the overdraft is paid."
        )
    yield f"{cash_sentence(now.cash, scenario)}."


def _would_change(money: str, now: Paid, found: Interest | None, cheaper: bool) -> Iterator[str]:
    if found is None:
        yield "So the plan would not change if interest were in the program."
        return
    other, more = found.other, found.other.plan.cost - now.plan.cost
    differs = (
        f"{counted(len(found.changed), 'job')} of it differ. It costs "
        f"{more_or_less(more, other.plan.penalties - now.plan.penalties, money)}, and its overdraft "
        f"{more_or_less(other.cash.overdraft - now.cash.overdraft, 0.0, money)}."
    )
    if cheaper and more > -least_sum(money):
        yield f"With the interest in the program the plan would change: {differs}"
    elif cheaper:
        yield f"With the interest in the program another plan was found: {differs}"
        yield "It is cheaper without interest too: the gap of the plan left room for it, not the interest."
    else:
        yield (
            "With the interest in the program no plan was found that costs less with its overdraft: the plan "
            "would not change."
        )
    yield (
        f"In the continuous program, where trays, packs and hands may be fractional, putting the interest "
        f"into it saves {amount(found.saves, money)}."
    )
    gap = now.plan.cost - now.plan.facts.bound
    yield (
        f"No other plan saves more than {amount(now.together - found.bound, money)}, even one that orders "
        f"seed and supplies only as they are used. The plan may miss its least cost without interest by "
        f"{amount(gap, money)}."
    )


def _plans(money: str, now: Paid, found: Interest | None) -> Section:
    rows = [(AS_MADE, now), *([(WITH_INTEREST, found.other)] if found is not None else [])]
    results: list[column.Column[tuple[str, Paid]]] = []
    if has_prices(now.plan.orders):
        results = [
            column.money("result", f"Result ({money})", lambda row: result_of(row[1].plan).result),
            column.money(
                "left",
                f"Result less overdraft ({money})",
                lambda row: result_of(row[1].plan).result - row[1].cash.overdraft,
                "={result}-{overdraft}",
            ),
        ]
    return column.section(
        "Plans",
        "The plan and its overdraft, without and with the interest in the program.",
        [
            "The first line is the plan as it is made: its sheet Cash shows the same overdraft. For the "
            "second line each payment counts with the interest that it costs until the account is in credit "
            "again. Both plans are in whole trays, and either may miss its least cost by its gap.",
        ],
        rows,
        [
            column.text("plan", "Plan", lambda row: row[0]),
            *results,
            column.money(
                "paid",
                f"Cost, without penalties ({money})",
                lambda row: row[1].plan.cost - row[1].plan.penalties,
            ),
            column.money(
                "penalties", f"{PENALTIES.capitalize()} ({money})", lambda row: row[1].plan.penalties
            ),
            column.money("cost", f"Cost, with penalties ({money})", lambda row: row[1].plan.cost),
            column.money("overdraft", f"The overdraft costs ({money})", lambda row: row[1].cash.overdraft),
            column.money(
                "together",
                f"Cost with penalties and overdraft ({money})",
                lambda row: row[1].together,
                "={cost}+{overdraft}",
            ),
            column.count("short", "Plants short", lambda row: row[1].plan.short),
        ],
    )


def _weeks(money: str, now: Paid, found: Interest | None, cheaper: bool) -> Section:
    other = now.cash.weeks if found is None else found.other.cash.weeks
    worth = [0.0] * len(other) if found is None else found.worth
    rows = list(zip(now.cash.weeks, other, worth, strict=True))
    more: list[column.Column[tuple[CashWeek, CashWeek, float]]] = []
    if found is not None:
        more = [
            column.money(
                "other_balance", f"Balance with interest in the program ({money})", lambda row: row[1].balance
            ),
            column.money(
                "other_costs",
                f"Overdraft costs with interest in the program ({money})",
                lambda row: row[1].overdraft,
                total=True,
            ),
            column.money("worth", f"Interest of {grouped(OF)} paid then ({money})", lambda row: OF * row[2]),
        ]
    keys = ("balance", "other_balance") if cheaper else ("balance",)
    shows = (
        "Lines: the balance at the end of each week, as the plan is made and with interest in the program."
    )
    if not cheaper:
        shows = "Line: the balance at the end of each week."
    return column.section(
        "Weeks",
        "The balance at the end of each week, and what the overdraft costs.",
        [
            "The balances are those of the sheet Cash of a plan.",
            f"Interest of {grouped(OF)} paid then: what a payment of {grouped(OF)} {money} in the week costs "
            "until the account is in credit again. The difference of two weeks is what later terms for it "
            "save.",
        ],
        rows,
        [
            column.day("week", "Week from", lambda row: row[0].week),
            column.money("balance", f"Balance at the end ({money})", lambda row: row[0].balance),
            column.money(
                "overdraft", f"The overdraft costs ({money})", lambda row: row[0].overdraft, total=True
            ),
            *more,
        ],
        Chart("line", "Balance by week", shows, "week", keys, money),
    )


def _jobs(scenario: Scenario, changed: pd.DataFrame) -> Section:
    return Section(
        "Jobs",
        "The jobs in which the two plans differ, by day.",
        [
            "Purchases stand on the last day to order. 0 in a column: that plan does not have the job. Plans "
            "of nearly equal cost may differ in many jobs.",
        ],
        job_columns("As made", "With interest"),
        job_rows(scenario, changed),
    )

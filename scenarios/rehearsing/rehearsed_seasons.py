"""Rehearsed seasons of the risk study: what re-planning cures, what is done, and what it costs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from model.network.expansion import expand
from model.phases import Say, silent
from model.planned.plan_tables import Plan
from model.program.build import build
from model.rehearsal.rehearsed import Rehearsal, Rehearsed, together
from model.risk.batches import Seasons
from model.risk.simulation import Risk, wilson_interval
from model.scenario.entities import Scenario
from model.solve import Solved
from model.solver.compiled import compile_program
from reports.book.style import CellKind
from reports.book.words import PENALTIES, amount, number, percent, saves_or_costs
from reports.book.writing import grouped
from reports.study import column
from reports.study.study import Section
from scenarios.solves.parallel import run_all

AT_ONCE = 25
"""Seasons rehearsed in one piece of work; the pieces do not depend on the number of workers."""

HOW = (
    "Rehearsed: each season is lived day by day. The stand of a wave is counted when it comes to the bench, "
    "the take of a graft day when healing ends, plants once more when they are ready. Where a count lacks "
    "more than 1 % of what was planned for, the rest is planned again with the counts up to that day: plants "
    "go to other orders, seed is sown and plants are grafted again, bought in, or delivered late where the "
    "order allows. What was planned is held; only gaps are filled. Trays, packs and hands of a re-plan may "
    "be fractional."
)


@dataclass(frozen=True)
class _Planned:
    """A plan as another process gets it; ``columns``: its values in the compiled program, as bytes."""

    scenario: Scenario
    columns: bytes
    plan: Plan = field(compare=False)


Chunk = tuple[_Planned, int, int, range]
"""Plan, seasons drawn, seed, and the numbers of those to rehearse."""


def rehearsed_seasons(
    solved: Solved,
    plan: Plan,
    count: int,
    *,
    seasons: int,
    seed: int,
    workers: int = 1,
    progress: Say = silent,
) -> Rehearsed:
    """The ``plan`` of ``solved`` rehearsed in the first ``count`` of ``seasons`` seasons.

    The number of workers changes nothing. Raises SolveError where HiGHS reaches no optimum.
    """
    planned = _Planned(solved.program.network.scenario, solved.solution.columns.tobytes(), plan)
    starts = range(0, min(count, seasons), AT_ONCE)
    chunks = [(planned, seasons, seed, range(n, min(n + AT_ONCE, count, seasons))) for n in starts]
    return together(run_all(_rehearsed, chunks, workers, "seasons rehearsed, in parts", progress))


@lru_cache(maxsize=1)
def _rehearsal(planned: _Planned, seasons: int, seed: int) -> Rehearsal:
    """The rehearsal of a process: the parts of one plan have the same program and seasons."""
    program = build(expand(planned.scenario))
    columns = np.frombuffer(planned.columns)
    return Rehearsal(program, compile_program(program), columns, planned.plan, Seasons(seasons, seed))


def _rehearsed(chunk: Chunk) -> Rehearsed:
    *drawn, numbers = chunk
    return _rehearsal(*drawn).seasons(numbers)


def told(found: Rehearsed, plain: Risk, money: str) -> str:
    """In words, what re-planning cures and costs; ``plain``: the same seasons without it."""
    n = found.short.shape[1]
    short = found.short.sum(axis=0)
    before = plain.totals["short"].to_numpy(dtype=float)[:n]
    saved, fewer = (
        plain.totals[figure].to_numpy(dtype=float)[:n] - found.totals[figure].to_numpy(dtype=float)
        for figure in ("cost", "penalties")
    )
    done = found.done.mean()
    means = {name: number(float(value)) for name, value in done.items()}
    sure = "" if n == 1 else f"; standard error {amount(_error(saved), money)}, penalties counted"
    unsure = "" if n == 1 else f" (standard error {number(_error(short))})"
    seasons = "season is" if n == 1 else f"{grouped(n)} of these seasons are"
    changes = saves_or_costs(float(saved.mean()), float(fewer.mean()), money)
    return (
        f"Rehearsed, the first {seasons} {number(float(short.mean()))} plants short on average"
        f"{unsure}, against {number(float(before.mean()))} where nothing is planned again. On average "
        f"{means['sown_again']} trays are sown again, {means['grafted_again']} plants grafted again, "
        f"{means['bought_in']} bought in, {means['late']} late. Planning again "
        f"{changes} a season{sure}."
    )


def _error(figures: ArrayLike) -> float:
    """Standard error of the mean of two seasons or more."""
    values = np.asarray(figures, dtype=float)
    return float(values.std(ddof=1) / len(values) ** 0.5)


def sections(scenario: Scenario, found: Rehearsed, plain: Risk, money: str) -> Iterator[Section]:
    """The sheets Rehearsed orders and Rehearsed seasons."""
    seasons = found.short.shape[1]
    quantity = np.array([order.quantity for order in scenario.orders], dtype=float)
    chances = found.chances(quantity)
    before = (plain.short[:, :seasons] <= 1e-6).mean(axis=1)
    low_high = [wilson_interval(round(p * seasons), seasons) for p in chances["full"].tolist()]
    rows = list(range(len(scenario.orders)))
    orders = scenario.orders
    yield column.section(
        "Rehearsed orders",
        "The chance to fill each order where the season is planned again after counts.",
        [
            HOW,
            "In full: all plants come, in time or late. 98 %: at least that share comes. In time: all come "
            "by the due day. From, to: 95 % interval (Wilson) of the chance in full.",
        ],
        rows,
        [
            column.text("order", "Order", lambda o: orders[o].order),
            column.text("product", "Product", lambda o: orders[o].product),
            column.day("due", "Due day", lambda o: orders[o].due_day),
            column.count("quantity", "Quantity (plants)", lambda o: orders[o].quantity, total=True),
            column.share("before", "In full, not planned again", lambda o: float(before[o])),
            column.share("full", "In full, rehearsed", lambda o: float(chances["full"].iloc[o])),
            column.share("low", "From", lambda o: low_high[o][0]),
            column.share("high", "To", lambda o: low_high[o][1]),
            column.share("nearly", "At least 98 %, rehearsed", lambda o: float(chances["nearly"].iloc[o])),
            column.share("in_time", "In time, rehearsed", lambda o: float(chances["in_time"].iloc[o])),
            column.decimal(
                "short", "Short, mean (plants)", lambda o: float(found.short[o].mean()), total=True
            ),
            column.decimal("late", "Late, mean (plants)", lambda o: float(found.late[o].mean()), total=True),
        ],
    )
    yield _seasons(found, plain, money)


MEASURES = (
    ("sown_again", "Trays sown again"),
    ("grafted_again", "Plants grafted again"),
    ("bought_in", "Plants bought in beyond the plan"),
    ("late", "Plants late"),
    ("moved", "Plants moved to other orders"),
    ("thrown_away", "Plants finished for no order"),
    ("replans", "Days of counts on which the season is planned again"),
    ("kept", "Days of counts on which no new plan was found"),
)


def _seasons(found: Rehearsed, plain: Risk, money: str) -> Section:
    seasons = found.short.shape[1]
    paid = found.totals["cost"] - found.totals["penalties"]
    without = (plain.totals["cost"] - plain.totals["penalties"])[:seasons]
    measures: list[tuple[str, CellKind, pd.Series[float]]] = [
        (label, CellKind.DECIMAL, found.done[name]) for name, label in MEASURES
    ]
    measures += [
        ("Plants short", CellKind.DECIMAL, pd.Series(found.short.sum(axis=0))),
        ("Plants short, not planned again", CellKind.DECIMAL, plain.totals["short"][:seasons]),
        (f"Cost of the season with {PENALTIES} ({money})", CellKind.MONEY, found.totals["cost"]),
        (f"The same, not planned again ({money})", CellKind.MONEY, plain.totals["cost"][:seasons]),
        (f"Cost of the season without {PENALTIES} ({money})", CellKind.MONEY, paid),
        (f"The same without penalties, not planned again ({money})", CellKind.MONEY, without),
    ]
    return column.section(
        "Rehearsed seasons",
        "What is done in the seasons, and what they cost.",
        [
            f"{grouped(seasons)} seasons, the first of those simulated. In how many: share of the seasons in "
            "which the figure is above 0. Error: standard error of the mean."
        ],
        measures,
        [
            column.text("measure", "Measure", lambda row: row[0], widest=44),
            column.decimal("mean", "Mean", lambda row: float(row[2].mean())),
            column.decimal("error", "Error", lambda row: _error(row[2]) if seasons > 1 else None),
            column.share("times", "In how many", lambda row: float((row[2] > 1e-6).mean())),
            column.decimal("low", "5 %", lambda row: float(row[2].quantile(0.05))),
            column.decimal("middle", "50 %", lambda row: float(row[2].quantile(0.5))),
            column.decimal("high", "95 %", lambda row: float(row[2].quantile(0.95))),
        ],
    )


def reach(found: Rehearsed, levels: list[float | None]) -> str:
    """In words, how many orders reach the level promised, by the chance in full with its interval."""
    seasons = found.short.shape[1]
    filled = (found.short <= 1e-6).sum(axis=1).tolist()
    promised = [(n, level) for n, level in zip(filled, levels, strict=True) if level is not None]
    reached = sum(wilson_interval(int(n), seasons)[1] >= level for n, level in promised)
    share = percent(float((found.short.sum(axis=0) <= 1e-6).mean()))
    level = f"{reached} of {len(promised)} orders reach their level; " if promised else ""
    return f"Rehearsed, {level}{share} of the seasons fill every order."

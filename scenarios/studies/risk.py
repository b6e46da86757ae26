"""How sure the plan is: the chance to fill each order, and how plants and cost vary over seasons."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import accumulate
from math import floor, isnan, log10
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from model.currencies import least_sum
from model.phases import Say, silent
from model.planned.plan_tables import TINY, Plan, rows_of
from model.planned.results import has_prices, result_of
from model.risk.simulation import WORST, Risk, simulate, without_mishaps
from model.scenario.batches import Mishap
from model.scenario.entities import Scenario
from model.solve import plan_of, solve
from reports.book.batch_words import batch_words
from reports.book.parts import Cell, OfKind, SheetColumn
from reports.book.style import CellKind
from reports.book.words import PENALTIES, amount, digits, number, percent, with_penalties
from reports.book.writing import grouped
from reports.study import column
from reports.study.study import Chart, Figure, Section, Study, run_facts
from scenarios.rehearsing.drawn_seasons import (
    BELOW,
    DECLINED,
    DRAWN,
    MADE,
    RECOURSE,
    check_seasons,
    drawn_facts,
    verdicts,
)
from scenarios.rehearsing.rehearsed_seasons import reach, rehearsed_seasons, sections, told

MOST_BARS = 20
"""Bars of a histogram; rounding of their width may add one or two."""


def risk_study(
    scenario: Scenario,
    *,
    seasons: int,
    seed: int,
    rehearse: int | None = None,
    workers: int = 1,
    progress: Say = silent,
) -> Study:
    """The plan of least cost in whole trays, and its results in ``seasons`` seasons drawn from ``seed``.

    ``rehearse``: so many of the seasons are rehearsed too, planned again after counts.

    Raises SolveError where HiGHS reaches no optimum, ValueError where ``seasons`` is below 1.
    """
    check_seasons(scenario, seasons)
    solved = solve(scenario, progress=progress)
    made = plan_of(solved, progress=progress)
    progress(f"{grouped(seasons)} seasons")
    risk = simulate(scenario, made, seasons=seasons, seed=seed, progress=progress)
    mishaps = _mishaps(scenario, made, risk, progress)
    orders = _orders(scenario, made, risk)
    money, cost = scenario.nursery.currency, risk.totals["cost"]
    how = {"seasons": seasons, "seed": seed, "workers": workers}
    again = None if rehearse is None else rehearsed_seasons(solved, made, rehearse, **how, progress=progress)
    penal = float(risk.totals["penalties"].mean())
    return Study(
        "Risk",
        scenario,
        [
            *_result_in_words(money, made, risk),
            batch_words(scenario),
            _reach(risk, orders),
            _most_at_risk(orders),
            _short_in_words(risk),
            *_mishaps_in_words(risk, mishaps),
            f"A season costs {with_penalties(float(cost.mean()), penal, money)} on average; 90 of 100 "
            f"seasons cost between {_range(risk, money)}. "
            f"The plan expects {with_penalties(made.cost, made.penalties, money)}.",
            *([] if again is None else [reach(again, list(orders["promised"])), told(again, risk, money)]),
        ],
        [
            *_result_figures(money, made, risk),
            Figure("Orders that promise a level", _promising(orders), CellKind.COUNT),
            Figure("Orders below the level promised", _count(orders, BELOW), CellKind.COUNT),
            Figure("Plants short, mean of the seasons", float(risk.totals["short"].mean()), CellKind.DECIMAL),
            Figure(
                "Plants over, mean of the seasons", float(risk.totals["surplus"].mean()), CellKind.DECIMAL
            ),
            Figure(
                f"Cost of the plan, without penalties ({money})", made.cost - made.penalties, CellKind.MONEY
            ),
            Figure(
                f"Cost of a season, mean, without penalties ({money})",
                float(cost.mean()) - penal,
                CellKind.MONEY,
            ),
            Figure(f"{PENALTIES.capitalize()}, mean ({money})", penal, CellKind.MONEY),
            Figure(
                f"Cost of a season, with penalties, standard deviation ({money})",
                float(cost.std(ddof=0)),
                CellKind.MONEY,
            ),
        ],
        [
            _order_section(orders),
            *([] if again is None else sections(scenario, again, risk, money)),
            _season_section(money, made, risk),
            *_mishap_section(mishaps),
            _short_section(risk),
            _cost_section(money, risk),
        ],
        [*drawn_facts(seasons, seed), *run_facts(made.facts, money)],
    )


def _result_in_words(money: str, made: Plan, risk: Risk) -> list[str]:
    """The result of a season, and of the plan, where orders have prices."""
    if not has_prices(made.orders):
        return []
    found = risk.totals["result"]
    low, high = (float(found.quantile(share)) for share in (0.05, 0.95))
    return [
        f"A season leaves a result of {amount(float(found.mean()), money)} on average; 90 of 100 seasons "
        f"leave between {digits(low, money)} and {amount(high, money)}. The plan expects "
        f"{amount(result_of(made).result, money)}."
    ]


def _result_figures(money: str, made: Plan, risk: Risk) -> list[Figure]:
    if not has_prices(made.orders):
        return []
    found = risk.totals["result"]
    return [
        Figure(f"Result of the plan ({money})", result_of(made).result, CellKind.MONEY),
        Figure(f"Result of a season, mean ({money})", float(found.mean()), CellKind.MONEY),
        Figure("Seasons with a loss", float((found < 0).mean()), CellKind.SHARE),
    ]


def _range(risk: Risk, money: str) -> str:
    """The 5 % and 95 % quantiles of a season's cost; where seasons have penalties, with them too."""
    cost, paid = risk.totals["cost"], risk.totals["cost"] - risk.totals["penalties"]

    def between(sums: pd.Series[float]) -> str:
        low, high = (float(sums.quantile(share)) for share in (0.05, 0.95))
        return f"{digits(low, money)} and {amount(high, money)}"

    if float(risk.totals["penalties"].max()) < least_sum(money):
        return between(cost)
    return f"{between(paid)} (between {between(cost)} with {PENALTIES})"


def histogram(values: ArrayLike, *, counts: bool) -> list[tuple[str, int]]:
    """Bars of equal, round width with the number of values in each.

    ``counts`` True: fractions of a plant are rounded up, and 0 has its own bar. False: a bar holds values
    from its first number up to, but excluding, its last.
    """
    array = np.asarray(values, dtype=float)
    if counts:
        array = np.ceil(array - TINY)
    width = _round_width((float(array.max()) - float(array.min())) / MOST_BARS)
    place = np.ceil(array / width) if counts else np.floor(array / width)
    bars = []
    for n in range(int(place.min()), int(place.max()) + 1):
        if counts:
            first, last = (n - 1) * width + 1, n * width
            label = grouped(last) if width == 1 or n == 0 else f"{grouped(first)} to {grouped(last)}"
        else:
            label = f"{grouped(n * width)} to {grouped((n + 1) * width)}"
        bars.append((label, int((place == n).sum())))
    return bars


def _round_width(least: float) -> int:
    """The smallest of 1, 2, 5, 10, 20, ... that is at least ``least``."""
    if least <= 1:
        return 1
    ten = 10 ** floor(log10(least))
    return next(int(step * ten) for step in (1, 2, 5, 10) if step * ten >= least)


def _orders(scenario: Scenario, made: Plan, risk: Risk) -> pd.DataFrame:
    """The table of orders with customer and verdict; an order declined or without a promise has no level."""
    table = risk.orders.copy()
    table["customer"] = [order.customer for order in scenario.orders]
    said = verdicts(made, risk, table["promised"])
    promised = [
        None if isnan(level) or words == DECLINED else level
        for level, words in zip(table["promised"], said, strict=True)
    ]
    table["promised"] = pd.Series(promised, dtype=object)
    table["verdict"] = said
    return table


def _count(orders: pd.DataFrame, word: str) -> int:
    return sum(said.startswith(word) for said in orders["verdict"])


def _promising(orders: pd.DataFrame) -> int:
    return sum(level is not None for level in orders["promised"])


def _reach(risk: Risk, orders: pd.DataFrame) -> str:
    promising, below = _promising(orders), _count(orders, BELOW)
    if not promising:
        return f"No service level is promised to any order. {grouped(risk.seasons)} seasons were drawn."
    reached = promising - below
    return (
        f"{reached} of {promising} orders reach the service level promised to them, as far as "
        f"{grouped(risk.seasons)} seasons can tell; {below} fall{'s' if below == 1 else ''} below it."
    )


def _most_at_risk(orders: pd.DataFrame) -> str:
    """In words, the order furthest below its level; without promised levels, the one of the lowest chance."""
    unsure = [
        (chance - (promised or 0.0), n)
        for n, (chance, promised) in enumerate(rows_of(orders, "chance", "promised"))
        if chance < 1
    ]
    if not unsure:
        return "Every order is filled in every season drawn."
    at = orders.iloc[[min(unsure)[1]]]
    columns = ("order", "quantity", "promised", "chance", "mean_short", "worst_short")
    order, quantity, promised, chance, mean, worst = next(rows_of(at, *columns))
    against = "" if promised is None else f", {percent(promised)} promised"
    return (
        f"Order {order} is most at risk: it is filled in {percent(chance)} of the seasons{against}. On "
        f"average {number(mean)} of its {grouped(quantity)} plants are short; in 95 % of the seasons, "
        f"{number(worst)} or fewer."
    )


def _short_in_words(risk: Risk) -> str:
    short = risk.totals["short"]
    bought = float(risk.totals["bought"].mean())
    also = "" if bought == 0 else f" {number(bought)} more than planned are bought in on average."
    return (
        f"All orders together are {number(float(short.mean()))} plants short on average, and "
        f"{number(float(short.quantile(0.95)))} or fewer in 95 % of the seasons.{also}"
    )


class _Taken(NamedTuple):
    """Plants short that come from a mishap, or from all: mean of the seasons, and of the worst of them."""

    mishap: Mishap | None
    mean: float
    worst: float


def _mishaps(scenario: Scenario, made: Plan, risk: Risk, progress: Say) -> list[_Taken]:
    """What each mishap takes, then all together: plants short less those of the same seasons without it."""
    if not scenario.mishaps:
        return []
    short = risk.totals["short"].to_numpy(dtype=float)
    worst = short >= np.quantile(short, 1 - WORST, method="inverted_cdf")
    apart, none = without_mishaps(scenario, made, risk, progress=progress)

    def taken(mishap: Mishap | None, other: Risk) -> _Taken:
        more = short - other.totals["short"].to_numpy(dtype=float)
        return _Taken(mishap, float(more.mean()), float(more[worst].mean()))

    return [*(taken(row, apart[row.mishap]) for row in scenario.mishaps), taken(None, none)]


def _mishaps_in_words(risk: Risk, mishaps: Sequence[_Taken]) -> Iterator[str]:
    if not mishaps:
        yield "No mishaps are drawn: the table mishaps is empty."
        return
    short = risk.totals["short"]
    worst = float(short[short >= short.quantile(1 - WORST, interpolation="higher")].mean())
    *each, together = mishaps
    parts = ", ".join(
        f"{number(max(taken.worst, 0.0))} from '{taken.mishap.mishap}'"
        for taken in sorted(each, key=lambda taken: -taken.worst)
        if taken.mishap is not None
    )
    yield (
        f"In the worst {percent(WORST)} of the seasons {number(worst)} plants are short on average; "
        f"{number(max(together.worst, 0.0))} of them come from mishaps ({parts})."
    )


def _mishap_section(mishaps: Sequence[_Taken]) -> Iterator[Section]:
    if mishaps:
        yield column.section(
            "Mishaps",
            "Plants short that come from each mishap.",
            [
                "From a mishap: plants short, less those of the same seasons without it. In one season "
                "several mishaps may take the same plants' chance to be made up, so that the rows need not "
                f"add up to all. Worst seasons: the {percent(WORST)} with most plants short."
            ],
            mishaps,
            [
                column.text("mishap", "Mishap", lambda row: row.mishap.mishap if row.mishap else "all"),
                column.text(
                    "strikes", "Strikes", lambda row: str(row.mishap.strikes) if row.mishap else None
                ),
                column.text(
                    "where", "Lot, method or zone", lambda row: _where(row.mishap) if row.mishap else None
                ),
                column.share("chance", "Chance", lambda row: row.mishap.chance if row.mishap else None),
                column.share("lost", "Share lost", lambda row: row.mishap.share_lost if row.mishap else None),
                column.decimal("mean", "Short from it, mean (plants)", lambda row: row.mean),
                column.decimal("worst", "Short from it, worst seasons (plants)", lambda row: row.worst),
            ],
        )


def _where(mishap: Mishap) -> str:
    return mishap.lot or mishap.method or mishap.zone or "each"


def _order_section(orders: pd.DataFrame) -> Section:
    columns = [
        SheetColumn("order", "Order"),
        SheetColumn("customer", "Customer"),
        SheetColumn("product", "Product"),
        SheetColumn("due_day", "Due day", CellKind.DAY),
        SheetColumn("quantity", "Quantity (plants)", CellKind.COUNT, total=True),
        SheetColumn("margin", "Graft margin", CellKind.SHARE),
        SheetColumn("promised", "Level promised", CellKind.SHARE),
        SheetColumn("chance", "Chance to fill", CellKind.SHARE),
        SheetColumn("low", "Chance, from", CellKind.SHARE),
        SheetColumn("high", "Chance, to", CellKind.SHARE),
        SheetColumn("verdict", "Against the level"),
        SheetColumn("chance_grown", "Chance without buying in more", CellKind.SHARE),
        SheetColumn("mean_short", "Short, mean (plants)", CellKind.DECIMAL, total=True),
        SheetColumn("worst_short", "Short in 95 % of seasons, at most (plants)", CellKind.DECIMAL),
    ]
    rows: list[list[Cell]] = [list(row) for row in rows_of(orders, *(column.key for column in columns))]
    return Section(
        "Orders",
        "The chance to fill each order, against the level promised.",
        [
            DRAWN,
            MADE,
            RECOURSE,
            "Chance to fill: share of the seasons in which all plants of the order are ready on its packing "
            "day. From, to: 95 % interval (Wilson), since the seasons drawn are a sample. Below, above: the "
            "whole interval lies below or above the level; at: the level lies within the interval. A margin "
            "covers only the plants grown. Where most of an order is bought in, the margin may therefore be "
            "too small for the level promised.",
        ],
        columns,
        rows,
    )


class _Spread(NamedTuple):
    """A figure of the season: its value in the plan and in each season, shown by its ``kind``."""

    measure: str
    kind: CellKind
    planned: float
    seasons: pd.Series[float]

    def of(self, value: float) -> OfKind:
        """A cell of the figure."""
        return OfKind(value, self.kind)


def _season_section(money: str, made: Plan, risk: Risk) -> Section:
    totals = risk.totals.assign(paid=risk.totals["cost"] - risk.totals["penalties"])
    over = float(made.flows["margin_plants"].sum() + made.flows["surplus"].sum())
    measures = [
        ("Plants finished", "finished", float(made.flows["finished"].sum()), CellKind.DECIMAL),
        ("Plants short", "short", made.short, CellKind.DECIMAL),
        ("Plants over, for no order", "surplus", over, CellKind.DECIMAL),
        ("Plants bought in beyond the plan", "bought", 0.0, CellKind.DECIMAL),
        (f"Cost of buying these in ({money})", "buy_in_cost", 0.0, CellKind.MONEY),
        (f"{PENALTIES.capitalize()} ({money})", "penalties", made.penalties, CellKind.MONEY),
        (f"Cost of the season with penalties ({money})", "cost", made.cost, CellKind.MONEY),
        (
            f"Cost of the season without penalties ({money})",
            "paid",
            made.cost - made.penalties,
            CellKind.MONEY,
        ),
    ]
    if has_prices(made.orders):
        result = result_of(made).result
        measures.insert(0, (f"Result of the season ({money})", "result", result, CellKind.MONEY))
    figures = [_Spread(label, kind, planned, totals[key]) for label, key, planned, kind in measures]
    return column.section(
        "Season",
        "How plants and cost vary over the seasons.",
        [
            f"{grouped(risk.seasons)} seasons. 5 %, 50 %, 95 %: that share of them lies at or below the "
            "figure.",
            "Cost of a season: the plan's cost, with the season's own shortfall, salvage and further buy-in. "
            "Seed, supplies, work and space cost what was planned: the money is spent before losses show.",
        ],
        figures,
        [
            column.text("measure", "Measure", lambda row: row.measure, widest=44),
            column.decimal("planned", "In the plan", lambda row: row.of(row.planned)),
            column.decimal("mean", "Mean", lambda row: row.of(float(row.seasons.mean()))),
            column.decimal(
                "spread", "Standard deviation", lambda row: row.of(float(row.seasons.std(ddof=0)))
            ),
            column.decimal("low", "5 %", lambda row: row.of(float(row.seasons.quantile(0.05)))),
            column.decimal("middle", "50 %", lambda row: row.of(float(row.seasons.quantile(0.5)))),
            column.decimal("high", "95 %", lambda row: row.of(float(row.seasons.quantile(0.95)))),
        ],
    )


def _short_section(risk: Risk) -> Section:
    return _histogram_section(
        "Short plants",
        "Plants short, and in how many seasons.",
        "All orders of a season together; fractions of a plant are rounded up.",
        "Plants short",
        histogram(risk.totals["short"], counts=True),
    )


def _cost_section(money: str, risk: Risk) -> Section:
    return _histogram_section(
        "Cost",
        "Cost of the season with penalties, and in how many seasons.",
        "Each row counts the seasons that cost its first number or more, and less than its last.",
        f"Cost of the season with penalties ({money})",
        histogram(risk.totals["cost"], counts=False),
    )


def _histogram_section(name: str, about: str, note: str, what: str, bars: list[tuple[str, int]]) -> Section:
    so_far = list(accumulate(times for _, times in bars))
    shows = f"Columns: share of the seasons by {what[0].lower()}{what[1:]}."
    return column.section(
        name,
        about,
        [note],
        range(len(bars)),
        [
            column.text("bar", what, lambda n: bars[n][0]),
            column.count("seasons", "Seasons", lambda n: bars[n][1], total=True),
            column.share("share", "Share of the seasons", lambda n: bars[n][1] / so_far[-1]),
            column.share("so_far", "Share up to here", lambda n: so_far[n] / so_far[-1]),
        ],
        Chart("columns", about.rstrip("."), shows, "bar", ("share",), "share of the seasons"),
    )

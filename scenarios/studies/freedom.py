"""How far plans of nearly least cost differ: the least and the most of each quantity among them."""

from __future__ import annotations

from model.phases import Say, silent
from model.questions.near_best import NearBest, Quantity, near_best
from model.scenario.entities import Scenario
from model.solve import plan_of, solve
from reports.book.parts import Cell, SheetColumn
from reports.book.style import CellKind
from reports.book.words import number, percent
from reports.study.study import CONTINUOUS_COSTS, Chart, Figure, Section, Study, run_facts
from scenarios.studies.parallel import run_all


def freedom_study(scenario: Scenario, *, within: float, workers: int, progress: Say = silent) -> Study:
    """The least and the most of each quantity among plans that cost at most (1 + within) · least cost.

    Raises SolveError where HiGHS reaches no optimum.
    """
    found = run_all(
        _near,
        [(scenario, quantity, within) for quantity in Quantity],
        workers=workers,
        about="least and most",
        progress=progress,
    )
    facts = plan_of(solve(scenario, whole=False)).facts
    money, more = scenario.nursery.currency, within * abs(facts.objective)
    answer = [
        f"Plans that cost at most {percent(within)} ({more:,.2f} {money}) more than the least cost have:"
    ]
    answer += [_in_words(near) for near in found]
    return Study(
        "Freedom",
        scenario,
        answer,
        [
            Figure(f"Least cost ({money})", facts.objective, CellKind.MONEY),
            Figure(f"May cost more ({money})", more, CellKind.MONEY),
        ],
        [_section(found, within)],
        run_facts(facts),
    )


def _near(item: tuple[Scenario, Quantity, float]) -> NearBest:
    scenario, quantity, within = item
    return near_best(solve(scenario, whole=False), quantity, within)


def _in_words(near: NearBest) -> str:
    best = f"{number(near.at_best)} in the plan of least cost"
    if near.most is None:
        return f"{near.quantity}: as few as {number(near.least)}; {best}."
    return f"{near.quantity}: {number(near.least)} to {number(near.most)}; {best}."


def _section(found: list[NearBest], within: float) -> Section:
    rows: list[list[Cell]] = []
    for near in found:
        best = near.at_best
        rows.append(
            [
                near.quantity.value,
                best,
                near.least,
                near.most,
                near.proved_least,
                near.proved_most,
                near.least / best if best else None,
                1.0 if best else None,
                near.most / best if best and near.most is not None else None,
            ]
        )
    return Section(
        "Least and most",
        "Each quantity in the plan of least cost, and its least and most among plans of nearly that cost.",
        [
            f"The plans compared cost at most {percent(within)} more than the least cost and waste nothing. "
            "Each least and each most is of that quantity alone: one plan cannot reach them all. For the "
            f"fullest day and the busiest week only the least is worked out. {CONTINUOUS_COSTS}",
            "Graft days are counted whole. For the most, a day counts if at least a tray of joins is made "
            "on it, or as few as the plan of least cost makes on it. The search for graft days stops after "
            "a number of steps. No fewer than, No more than: proved bounds that no plan passes.",
        ],
        [
            SheetColumn("quantity", "Quantity", widest=44),
            SheetColumn("best", "In the plan of least cost", CellKind.DECIMAL),
            SheetColumn("least", "Least", CellKind.DECIMAL),
            SheetColumn("most", "Most", CellKind.DECIMAL),
            SheetColumn("proved_least", "No fewer than", CellKind.DECIMAL),
            SheetColumn("proved_most", "No more than", CellKind.DECIMAL),
            SheetColumn("least_share", "Least, of least cost's", CellKind.SHARE),
            SheetColumn("best_share", "Plan of least cost", CellKind.SHARE),
            SheetColumn("most_share", "Most, of least cost's", CellKind.SHARE),
        ],
        rows,
        [
            Chart(
                "columns",
                "Least and most against the plan of least cost",
                "Columns: least and most of each quantity as a share of that in the plan of least cost. "
                "Numbers in the table above.",
                "quantity",
                ("least_share", "best_share", "most_share"),
                "quantity",
                "share of the plan of least cost",
            )
        ],
    )

"""How far plans of nearly least cost differ: the least and the most of each quantity among them."""

from __future__ import annotations

from model.phases import Say, silent
from model.planned.plan_tables import Plan
from model.planned.results import has_prices, result_of
from model.questions.near_best import NearBest, Quantity, near_best
from model.scenario.entities import Scenario
from model.solve import plan_of
from reports.book.style import CellKind
from reports.book.words import PENALTIES, amount, number, percent
from reports.study import column
from reports.study.study import Chart, Figure, Section, Study, run_facts
from scenarios.solves.asking import solved_book
from scenarios.solves.parallel import run_all


def freedom_study(scenario: Scenario, *, within: float, workers: int, progress: Say = silent) -> Study:
    """The least and the most of each quantity among plans that cost at most (1 + within) · the plan's cost.

    Raises SolveError where HiGHS reaches no optimum.
    """
    # The search for the fewest graft days takes longest, so it starts first.
    first = sorted(Quantity, key=lambda quantity: quantity is not Quantity.GRAFT_DAYS)
    items = [(scenario, quantity, within) for quantity in first]
    by_quantity = dict(zip(first, run_all(_near, items, workers, "least and most", progress), strict=True))
    found = [by_quantity[quantity] for quantity in Quantity]
    made = plan_of(solved_book(scenario))
    money, more = scenario.nursery.currency, within * abs(made.facts.objective)
    paid = made.cost - made.penalties
    counted = f", {PENALTIES} counted," if made.penalties else ""
    answer = [
        f"Plans that cost at most {percent(within)} ({amount(more, money)}) more than the plan{counted} have:"
    ]
    answer += [_in_words(near) for near in found]
    return Study(
        "Freedom",
        scenario,
        answer,
        [
            *_result(made, money),
            Figure(f"Cost of the plan, without penalties ({money})", paid, CellKind.MONEY),
            Figure(f"Cost of the plan, with {PENALTIES} ({money})", made.cost, CellKind.MONEY),
            Figure(f"May cost more ({money})", more, CellKind.MONEY),
        ],
        [_section(found, within)],
        run_facts(made.facts, money),
    )


def _result(made: Plan, money: str) -> list[Figure]:
    """What the plan leaves, where orders have prices."""
    if not has_prices(made.orders):
        return []
    return [Figure(f"Result of the plan ({money})", result_of(made).result, CellKind.MONEY)]


def _near(item: tuple[Scenario, Quantity, float]) -> NearBest:
    scenario, quantity, within = item
    return near_best(solved_book(scenario), quantity, within)


def _in_words(near: NearBest) -> str:
    best = f"{number(near.at_best)} at least cost"
    if near.most is None:
        return f"{near.quantity}: as few as {number(near.least)}; {best}."
    return f"{near.quantity}: {number(near.least)} to {number(near.most)}; {best}."


def _section(found: list[NearBest], within: float) -> Section:
    def least(near: NearBest) -> float | None:
        return near.least / near.at_best if near.at_best else None

    def best(near: NearBest) -> float | None:
        return 1.0 if near.at_best else None

    def most(near: NearBest) -> float | None:
        return near.most / near.at_best if near.at_best and near.most is not None else None

    shows = "Columns: least and most of each quantity as a share of that at least cost."
    keys = ("least_share", "best_share", "most_share")
    title, unit = "Least and most against least cost", "share of that at least cost"
    return column.section(
        "Least and most",
        "Each quantity at least cost, and its least and most among plans of nearly that cost.",
        [
            f"The plans compared cost at most {percent(within)} more than the plan in whole trays, waste "
            "nothing, and leave no order shorter. Each least and each most is of that quantity alone: one "
            "plan cannot reach them all. For the fullest day and the busiest week only the least is worked "
            "out, and so for slot-days where the healing chamber is run in units.",
            "Trays, packs and hands may be fractional here: a plan in whole trays may not quite reach the "
            "least or the most. Graft days, waves with a fixed cost, units, deliveries with a fixed cost and "
            "orders declined whole are counted whole. For the most, a day counts if at least a tray of joins "
            "is made on it, or as few as the plan makes on it. Where something is whole, the search stops "
            "after a number of steps. No fewer than, No more than: proved bounds that no plan passes.",
            "At least cost: the quantity where what is counted whole stays as in the plan and the rest may "
            "be fractional. The plan's own figure, in whole trays and hands, may differ from it.",
        ],
        found,
        [
            column.text("quantity", "Quantity", lambda near: near.quantity.value, widest=44),
            column.decimal("best", "At least cost", lambda near: near.at_best),
            column.decimal("least", "Least", lambda near: near.least),
            column.decimal("most", "Most", lambda near: near.most),
            column.decimal("proved_least", "No fewer than", lambda near: near.proved_least),
            column.decimal("proved_most", "No more than", lambda near: near.proved_most),
            column.share("least_share", "Least, as a share", least),
            column.share("best_share", "At least cost, as a share", best),
            column.share("most_share", "Most, as a share", most),
        ],
        Chart("columns", title, shows, "quantity", keys, unit),
    )

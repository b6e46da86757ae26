"""Ways to go on where the last plan no longer fills its orders, each tried on its own, with its cost."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import timedelta
from math import ceil

from model.collector import collector_paused
from model.network.as_counted import gone
from model.network.charges import with_charges
from model.network.expansion import expand
from model.phases import Say, silent
from model.planned.plan_tables import Tables
from model.planned.results import result_in
from model.program.amounts import Key
from model.program.build import build
from model.program.program import Program
from model.scenario.entities import Scenario
from model.season.last_plan import decisions, shortfalls
from model.season.replanning import fixed_to
from model.solve import penalties_in
from model.solver.compiled import Compiled, SolveError, compile_program, run, solver

LATER = (7, 14, 28)
"""Days by which the due day of missing plants is moved."""

SHORT = 1e-6
"""An order counts as short above this many plants."""


@dataclass(frozen=True, slots=True)
class Cure:
    """One way to go on: cost of its plan, the penalties in it, its result, and shortfall by order, if any.

    ``open_``: in words, what the way may change. ``cost``, ``penalties`` and ``result`` are in currency; the
    cost is None where the way cannot be carried out, the result also where no order has a price.
    """

    name: str
    open_: str
    cost: float | None
    penalties: float
    result: float | None
    short: dict[str, float]

    @property
    def paid(self) -> float | None:
        """Cost without penalties."""
        return None if self.cost is None else self.cost - self.penalties


def cures(scenario: Scenario, last: Tables, *, progress: Say = silent) -> tuple[list[str], list[Cure]]:
    """Orders that the last plan filled and now leaves short if it is kept, and the ways to fill them.

    Both lists are empty where no order is newly short. Costs are those of the continuous program, from the
    scenario's ``today``. Each way changes only what ``Cure.open_`` says.
    """
    with collector_paused():
        program = build(expand(scenario))
        compiled = compile_program(program)
        values, _ = decisions(program, last)
        before = shortfalls(last)
        progress("cures")
        firm = ("sown", "bought", "temporary_hands", "called_hands", "units_opened")
        ship = _solved(program, _held(program, compiled, values, firm, ("joins", "delivered")))
        terms = program.network.orders
        packed = {terms[o].order.order for o in gone(program.network)}
        missed = ship[3]
        newly = {name for name, plants in missed.items() if plants > before.get(name, 0.0) + 0.5}
        hit = [name for name in missed if name in newly - packed]
        if not hit:
            return [], []
        found = [Cure("ship part", "nothing: missing plants are short", *ship)]
        ways: tuple[tuple[str, str, tuple[str, ...], tuple[str, ...]], ...] = (
            (
                "other plants of the product",
                "which plants go to which order",
                ("sown", "joins", "bought"),
                (),
            ),
            ("seedlings that stand", "what is grafted from the trays sown", ("sown", "bought"), ()),
            ("sow again", "what is sown and grafted", ("bought",), ()),
            ("buy in", "what is bought in, and which plants go where", ("sown",), ("joins",)),
            ("all together", "everything that can still be decided", (), ()),
        )
        others = _other_ways(program, hit)
        count = 1 + len(ways) + len(others) + len(LATER)
        for name, open_, fixed, most in ways:
            progress(f"cures: {len(found)} of {count} tried, {name}")
            found.append(Cure(name, open_, *_solved(program, _held(program, compiled, values, fixed, most))))
        for way in others:
            name = f"make as {way}"
            progress(f"cures: {len(found)} of {count} tried, {name}")
            held = _held(program, compiled, values, ("sown", "bought"), ("joins",), way)
            found.append(Cure(name, "what is grafted so from the trays sown", *_solved(program, held)))
        missing = {order: missed[order] for order in hit}
        for days in LATER:
            name = f"the rest {days} days later"
            progress(f"cures: {len(found)} of {count} tried, {name}")
            found.append(_later(scenario, missing, days, name))
    return hit, found


def _other_ways(program: Program, hit: list[str]) -> list[str]:
    """Ways to make the products of these orders, where there are several, that can still be grafted."""
    network = program.network
    missed = {term.product.product for term in network.orders if term.order.order in hit}
    open_ = {flow.product.product for flow in network.flows if flow.graft >= network.past.today}
    ways = [product for product in network.scenario.products if product.ordered_as in missed]
    several = {way.ordered_as for way in ways if way.sold_as is not None}
    return [way.product for way in ways if way.ordered_as in several and way.product in open_]


def _held(
    program: Program,
    compiled: Compiled,
    values: dict[Key, float],
    fixed: tuple[str, ...],
    most: tuple[str, ...],
    way: str | None = None,
) -> Compiled:
    """The program with ``fixed`` held at the last plan's values, and ``most`` at no more than them.

    Joins of the product ``way`` stay open. Trays sown as planned germinate as planned, or in their lot's own
    zone.
    """
    most = (*most, "sown_into") if "sown" in fixed else most
    held = fixed_to(program, compiled, values, fixed)
    upper = held.upper.copy()
    network = program.network
    for (variable, n), value in values.items():
        column = int(compiled.position[variable][n])
        if variable == "joins" and network.flows[network.joins[n].flow].product.product == way:
            continue
        if variable in most and column >= 0 and n not in program.settled.get(variable, {}):
            upper[column] = value
    return replace(held, upper=upper)


def _solved(
    program: Program, compiled: Compiled
) -> tuple[float | None, float, float | None, dict[str, float]]:
    """Cost, penalties, result and shortfall by order; no cost where the program has no solution."""
    try:
        solution = run(solver(compiled))
    except SolveError:
        return None, 0.0, None, {}
    short = compiled.values(solution.columns)["short"].tolist()
    names = [term.order.order for term in program.network.orders]
    missed = {name: s for name, s in zip(names, short, strict=True) if s > SHORT}
    penalties = penalties_in(program, compiled, solution)
    return solution.objective, penalties, result_in(program, compiled, solution), missed


def _later(scenario: Scenario, missing: dict[str, float], days: int, name: str) -> Cure:
    """The way in which missing plants are due ``days`` later, or on the last day if that comes first."""
    end = scenario.nursery.last_day
    kept, rest = [], {}
    for order in with_charges(scenario).orders:
        plants = ceil(missing.get(order.order, 0.0) - SHORT)
        if plants > 0:
            later = min(order.due_day + timedelta(days=days), end)
            rest[order.order] = replace(
                order, order=f"{order.order} rest", quantity=plants, due_day=later, late_days_most=0
            )
        if order.quantity > plants:
            kept.append(replace(order, quantity=order.quantity - plants))
    program = build(expand(replace(scenario, orders=(*kept, *rest.values()))))
    cost, penalties, result, short = _solved(program, compile_program(program))
    of = {later.order: order for order, later in rest.items()}
    missed: dict[str, float] = defaultdict(float)
    for late, lacking in short.items():
        missed[of.get(late, late)] += lacking
    return Cure(name, "when the rest is due, and everything else", cost, penalties, result, dict(missed))

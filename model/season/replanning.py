"""The plan made again from today: the last plan is kept where possible, else changed as little as pays."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from scipy.sparse import csc_array

from model.network.expansion import expand
from model.phases import Say, silent
from model.planned.plan_tables import Tables
from model.program.amounts import Key
from model.program.build import build, collector_paused
from model.program.index_sets import Coefs
from model.program.program import Program
from model.program.variables import HELD
from model.scenario.entities import Scenario
from model.season.last_plan import TOLD, decisions, shortfalls
from model.solve import Solved
from model.solver.compiled import (
    Compiled,
    Solution,
    SolveError,
    compile_program,
    proved_bound,
    run,
    solver,
    with_columns,
    with_fixed,
    with_rows,
)
from model.solver.whole import EXACT, make_whole

AT_HAND = 7
"""Days from today in which changes of sowing and grafting are to be avoided: the days at hand."""

PROMISE = 10.0
"""A plant short that was not short before costs this many times the highest penalty."""

NEARLY = 0.02
"""Share, plus two plants, by which joins and deliveries of a plan that is kept may follow the counts."""

CLOSE = 1e-6
"""Changes smaller than this count as none."""


@dataclass(frozen=True, slots=True)
class Replanned:
    """A plan made again.

    ``kept``: whether the last plan is kept. ``carried_on``: cost of keeping it, in currency; None where it
    cannot be kept. ``unsettled``: trays of sowing and grafting changed in the days at hand.
    """

    solved: Solved
    kept: bool
    carried_on: float | None
    unsettled: float


class _Nearness(NamedTuple):
    """A decision in the days at hand: trays for each unit of it, and its trays in the last plan."""

    key: Key
    trays: float
    last: float


def replan(scenario: Scenario, last: Tables, *, upset: float = 0.0, progress: Say = silent) -> Replanned:
    """The plan of least cost from the scenario's ``today``, in whole trays, compared with the last plan.

    The last plan is kept if it can be carried out, no cheaper plan is found, and no other plan fills more of
    the orders that it filled. Otherwise the plan is made anew. These orders stay filled wherever possible.
    Every tray of sowing or grafting that changes in the ``AT_HAND`` days from today must save ``upset``, in
    currency; the cost of the plan and its bound do not include this. Raises SolveError where HiGHS reaches no
    optimum.
    """
    with collector_paused():
        progress("expand")
        program = build(expand(scenario))
        progress("compile")
        compiled = compile_program(program)
        progress("solve")
        continuous = run(solver(compiled))
        values, known = decisions(program, last)
        near = _near(program, values)
        progress("last plan")
        carried = _carried_on(program, compiled, values) if known else None
        progress("whole trays")
        promised = shortfalls(last)
        made = _made_anew(program, compiled, near, promised, upset, progress)
        moved = _moved(compiled, made, near)
        kept = (
            carried is not None
            and carried.objective <= made.objective + upset * moved + CLOSE
            and _broken(program, compiled, carried, promised) <= _broken(program, compiled, made, promised)
        )
        solution = carried if kept and carried is not None else made
        progress("shadow prices")
        held = compiled.columns(HELD)
        priced_in = with_fixed(compiled, held, np.round(solution.columns[held]))
        priced = run(solver(priced_in))
    bound = proved_bound(continuous.objective, solution.objective)
    return Replanned(
        Solved(program, compiled, continuous, solution, bound, priced_in, priced, {}),
        kept,
        None if carried is None else carried.objective,
        0.0 if kept else moved,
    )


def fixed_to(
    program: Program, compiled: Compiled, values: dict[Key, float], variables: tuple[str, ...]
) -> Compiled:
    """The program with the open decisions of these variables fixed to ``values``."""
    columns, at = [], []
    for (variable, n), value in values.items():
        if variable in variables and n not in program.settled.get(variable, {}):
            column = int(compiled.position[variable][n])
            if column >= 0:
                columns.append(column)
                at.append(value)
    return with_fixed(compiled, np.array(columns, dtype=np.intp), np.array(at))


def _carried_on(program: Program, compiled: Compiled, values: dict[Key, float]) -> Solution | None:
    """The solution with the last plan's decisions; None where they cannot be carried out.

    First all decisions are fixed exactly. If that fails, sowing, buying and hiring stay fixed. Joins may then
    change by ``NEARLY``, deliveries may grow by ``NEARLY`` or shrink, and missing plants are short.
    """
    with suppress(SolveError):
        return run(solver(fixed_to(program, compiled, values, TOLD)))
    firm = tuple(variable for variable in TOLD if variable not in ("joins", "delivered"))
    nearly = fixed_to(program, compiled, values, firm)
    lower, upper = nearly.lower.copy(), nearly.upper.copy()
    for (variable, n), value in values.items():
        column = int(compiled.position[variable][n]) if variable in ("joins", "delivered") else -1
        if column >= 0 and n not in program.settled.get(variable, {}):
            slack = NEARLY * value + 2 if value > CLOSE else 0.0
            lower[column] = max(value - slack, 0.0) if variable == "joins" else 0.0
            upper[column] = value + slack
    with suppress(SolveError):
        nearly = replace(nearly, lower=lower, upper=upper)
        return run(solver(nearly, compiled.columns(("short",)), **EXACT), stopped_early=True)
    return None


def _near(p: Program, values: dict[Key, float]) -> list[_Nearness]:
    """Sowing and grafting in the days at hand, with the last plan's trays."""
    today, flows = p.network.past.today, p.network.flows
    joins: dict[int, float] = {}
    for j, join in enumerate(p.network.joins):
        joins[join.flow] = joins.get(join.flow, 0.0) + values["joins", j]
    sown = [
        _Nearness(("sown", w), 1.0, values["sown", w])
        for w, wave in enumerate(p.network.waves)
        if today <= wave.sow < today + AT_HAND
    ]
    return sown + [
        _Nearness(("grafted", f), 1 / flow.tray.cells, joins.get(f, 0.0) / flow.tray.cells)
        for f, flow in enumerate(flows)
        if today <= flow.graft < today + AT_HAND
    ]


def _moved(compiled: Compiled, solution: Solution, near: list[_Nearness]) -> float:
    """Trays in which a solution differs from the last plan in the days at hand."""
    values = compiled.values(solution.columns)
    return sum(abs(float(values[n.key[0]][n.key[1]]) * n.trays - n.last) for n in near)


def _broken(program: Program, compiled: Compiled, solution: Solution, before: dict[str, float]) -> int:
    """Plants short beyond the last plan's shortfalls, over the orders not declined in it, rounded."""
    short = compiled.values(solution.columns)["short"].tolist()
    names = [term.order.order for term in program.network.orders]
    over = [float(s) - before[name] for name, s in zip(names, short, strict=True) if name in before]
    return round(sum(plants for plants in over if plants > 0))


def _made_anew(
    program: Program,
    compiled: Compiled,
    near: list[_Nearness],
    short: dict[str, float],
    upset: float,
    progress: Say,
) -> Solution:
    """A solution in whole trays that keeps all promises it can, and changes little in the days at hand.

    s[o] − e[o] ≤ short before      at 10 times the highest penalty for e
    trays · v + less − more = trays before      at ``upset`` for less and more
    """
    terms = program.network.orders
    price = PROMISE * max((term.penalty for term in terms), default=0.0)
    orders = [(o, short[t.order.order]) for o, t in enumerate(terms) if t.order.order in short]
    wider = _with_slack(
        compiled, [({("short", o): 1.0}, None, before) for o, before in orders], (-1.0,), price
    )
    if upset > 0:
        rows = [({n.key: n.trays}, n.last, n.last) for n in near]
        wider = _with_slack(wider, rows, (1.0, -1.0), upset)
    whole, _ = make_whole(program, wider, run(solver(wider)), progress)
    count = len(compiled.cost)
    return replace(whole, columns=whole.columns[:count], objective=_cost(compiled, whole.columns[:count]))


def _cost(compiled: Compiled, columns: np.ndarray[tuple[int], np.dtype[np.float64]]) -> float:
    return float(compiled.cost @ columns) + compiled.offset


def _with_slack(
    compiled: Compiled,
    rows: Sequence[tuple[Coefs, float | None, float]],
    signs: tuple[float, ...],
    price: float,
) -> Compiled:
    """The program with further rows; each has a slack variable for each sign, at a price."""
    if not rows:
        return compiled
    count = len(compiled.cost)
    slack = csc_array((compiled.matrix.shape[0], len(rows) * len(signs)))
    wider = with_columns(compiled, slack, np.inf, np.full(slack.shape[1], price))
    entries = np.zeros((len(rows), count + slack.shape[1]))
    for n, (coefs, _, _) in enumerate(rows):
        entries[n, :count] = compiled.vector(coefs)
        for k, sign in enumerate(signs):
            entries[n, count + k * len(rows) + n] = sign
    lower = np.array([-np.inf if low is None else low for _, low, _ in rows])
    return with_rows(wider, entries, lower, np.array([high for _, _, high in rows]))

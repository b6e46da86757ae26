"""The plan again from today: the last one carried on where it can be, else changed with restraint."""

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
"""Days from today whose sowing and grafting had better stay as they are."""

PROMISE = 10.0
"""A plant short that was not short before costs so many times the highest penalty."""

NEARLY = 0.02
"""Share by which joins and deliveries may follow the counts, and two plants, while a plan is carried on."""

CLOSE = 1e-6
"""Changes smaller than this are none."""


@dataclass(frozen=True, slots=True)
class Replanned:
    """A plan made again.

    ``kept``: the last plan is carried on as it was. ``carried_on``: what it costs to do so, in currency; None
    where it cannot be. ``unsettled``: trays of sowing and grafting changed in the days at hand.
    """

    solved: Solved
    kept: bool
    carried_on: float | None
    unsettled: float


class _Nearness(NamedTuple):
    """A decision of the days at hand: trays for each unit of it, and trays in the last plan."""

    key: Key
    trays: float
    last: float


def replan(
    scenario: Scenario,
    last: Tables,
    *,
    upset: float = 0.0,
    progress: Say = silent,
) -> Replanned:
    """The plan of least cost from the scenario's ``today``, in whole trays, against the last plan.

    The last plan is carried on where it can be, nothing that costs less is found, and changing it would not
    fill more of the orders that it filled. Otherwise these stay filled unless that cannot be, and every tray
    of sowing or grafting that changes in the ``AT_HAND`` days from today counts as ``upset``, in currency: so
    much must a change save. The cost of the plan and its bound are without it. Raises SolveError where HiGHS
    reaches no optimum.
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
        made = _made_anew(program, compiled, values, near, promised, upset)
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
    """The program with what is still open of these variables fixed as in ``values``."""
    columns, at = [], []
    for (variable, n), value in values.items():
        if variable in variables and n not in program.settled.get(variable, {}):
            column = int(compiled.position[variable][n])
            if column >= 0:
                columns.append(column)
                at.append(value)
    return with_fixed(compiled, np.array(columns, dtype=np.intp), np.array(at))


def _carried_on(program: Program, compiled: Compiled, values: dict[Key, float]) -> Solution | None:
    """The last plan's decisions with all that follows from them; None where they cannot be carried out.

    First to the letter; else what is sown, bought and hired to the letter, and what is grafted and who gets
    it as nearly as counts allow: up to ``NEARLY`` more or less, and what then misses is short.
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
    """Sowing and grafting of the days at hand: the last plan's trays."""
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
    """Trays by which a solution differs from the last plan in the days at hand."""
    values = compiled.values(solution.columns)
    return sum(abs(float(values[n.key[0]][n.key[1]]) * n.trays - n.last) for n in near)


def _broken(program: Program, compiled: Compiled, solution: Solution, before: dict[str, float]) -> int:
    """Whole plants short of orders beyond what the last plan left short of them."""
    short = compiled.values(solution.columns)["short"].tolist()
    names = [term.order.order for term in program.network.orders]
    over = [float(s) - before[name] for name, s in zip(names, short, strict=True) if name in before]
    return round(sum(plants for plants in over if plants > 0))


def _made_anew(
    program: Program,
    compiled: Compiled,
    values: dict[Key, float],
    near: list[_Nearness],
    short: dict[str, float],
    upset: float,
) -> Solution:
    """A solution in whole trays that breaks no promise it need not, and changes little at hand.

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
    whole, _ = make_whole(program, wider, run(solver(wider)))
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
    """The program with further rows, each with a slack variable of every sign at a price."""
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

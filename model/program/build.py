"""The linear program: one function per constraint group, stated in Pyomo.

A group's function returns its rows; ``build`` makes them constraints. Symbols are those of docs/maths.md.
"""

from __future__ import annotations

import gc
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import pyomo.environ as pyo
from pyomo.core.expr.numeric_expr import LinearExpression

from model.network.types import Network
from model.program.amounts import Amounts
from model.program.buying import buy_in_quantity, packs, stock
from model.program.cost_terms import costs
from model.program.growing import (
    bench_trays,
    flow_healed,
    flow_joins,
    flow_trays,
    order,
    salvage,
    seedlings,
    take,
    waves_sown,
)
from model.program.index_sets import Coefs, Row, Rows
from model.program.labour import crew_hours, skill_hours, temporary_hours, temporary_new, week_hours
from model.program.program import Program
from model.program.room import slots, unit_loads, unit_room, units_busy

GROUPS: dict[str, Callable[[Program], Rows]] = {
    function.__name__: function
    for function in (
        seedlings,
        bench_trays,
        flow_joins,
        flow_trays,
        flow_healed,
        take,
        salvage,
        order,
        slots,
        unit_loads,
        unit_room,
        units_busy,
        skill_hours,
        crew_hours,
        week_hours,
        temporary_new,
        temporary_hours,
        buy_in_quantity,
        waves_sown,
        stock,
        packs,
    )
}


@contextmanager
def collector_paused() -> Iterator[None]:
    """Keep the garbage collector from walking millions of small objects while they are made."""
    was_enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_enabled:
            gc.enable()


def build(network: Network) -> Program:
    """State the program of a network as a Pyomo model, all variables continuous."""
    with collector_paused():
        program = Program(network, Amounts(network))
        program.model = model = pyo.ConcreteModel()
        for letter, count in program.counts.items():
            lower, upper = program.bounds(letter)
            variables = pyo.Var(range(count), bounds=lambda _, i, low=lower, high=upper: (low[i], high[i]))
            model.add_component(letter, variables)
            program.variables[letter] = [variables[i] for i in range(count)]
        for name, group in GROUPS.items():
            rows = group(program)
            model.add_component(name, pyo.Constraint(list(rows), rule=_rule(program, rows)))
        total: Coefs = defaultdict(float)
        constant = 0.0
        for term in costs(program):
            constant += term.constant
            for key, coef in term.coefs.items():
                total[key] += coef
        model.cost = pyo.Objective(expr=_linear(program, total, constant))
    return program


def _linear(program: Program, coefs: Coefs, constant: float = 0.0) -> Any:
    variables = [program.variables[letter][i] for letter, i in coefs]
    return LinearExpression(constant=constant, linear_coefs=list(coefs.values()), linear_vars=variables)


def _rule(program: Program, rows: Rows) -> Callable[..., Any]:
    def rule(_: Any, *label: Any) -> Any:
        row = rows[label]
        return (row.lower, _linear(program, row.coefs), row.upper)

    return rule


def rows(program: Program, group: str) -> list[str]:
    """The rows of a group as text, one a line, in the program's order."""
    return [f"{group}{list(label)}: {_text(row)}" for label, row in GROUPS[group](program).items()]


def _text(row: Row) -> str:
    terms = " ".join(f"{coef:+.6g} {letter}[{i}]" for (letter, i), coef in row.coefs.items())
    if row.lower is not None and row.lower == row.upper:
        return f"{terms} = {row.upper:.6g}"
    lower = "" if row.lower is None else f"{row.lower:.6g} <= "
    upper = "" if row.upper is None else f" <= {row.upper:.6g}"
    return f"{lower}{terms}{upper}"

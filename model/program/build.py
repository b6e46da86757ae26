"""The linear program: one function per constraint group, stated in Pyomo.

A group's function returns its rows, and ``build`` makes them constraints. Indices are readable labels, as in
``model.slots["Healing chamber", "2027-03-31"]``. Symbols are those of docs/maths.md.
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
from model.program import buying, growing, labour, room
from model.program.amounts import Amounts
from model.program.cost_terms import costs
from model.program.index_sets import Coefs, Rows
from model.program.program import Program

GROUPS: dict[str, Callable[[Program], Rows]] = {
    group.__name__: group for module in (growing, room, labour, buying) for group in module.GROUPS
}
"""All constraint groups by name, in the order of the program's rows."""


@contextmanager
def collector_paused() -> Iterator[None]:
    """Pause the garbage collector, which would otherwise walk millions of small objects as they are made."""
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
        for name, labels in program.labels.items():
            made = pyo.Var(labels)
            model.add_component(name, made)
            program.variables[name] = members = list(made.values())
            for member, lower, upper in zip(members, *program.bounds(name), strict=True):
                member.lower, member.upper = lower, upper
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
    variables = [program.variables[name][i] for name, i in coefs]
    return LinearExpression(constant=constant, linear_coefs=list(coefs.values()), linear_vars=variables)


def _rule(program: Program, rows: Rows) -> Callable[..., Any]:
    def rule(_: Any, *label: Any) -> Any:
        row = rows[label]
        return (row.lower, _linear(program, row.coefs), row.upper)

    return rule

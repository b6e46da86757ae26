"""The linear program: one function per constraint group, stated in Pyomo.

A group's function returns its rows, and ``state`` makes them constraints. Indices are readable labels, as in
``model.slots["Healing chamber", "2027-03-31"]``. Symbols are those of docs/maths.md.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection
from typing import Any, NamedTuple

import pyomo.core as pyo  # pyomo.environ loads solvers and extensions too
from pyomo.core.expr.numeric_expr import LinearExpression
from pyomo.core.expr.relational_expr import EqualityExpression, InequalityExpression

from model.collector import collector_paused
from model.network.types import Network
from model.program import apart, buying, freight, growing, labour, room
from model.program.amounts import Amounts
from model.program.cost_terms import costs
from model.program.index_sets import Coefs, Rows
from model.program.program import Program

GROUPS: dict[str, Callable[[Program], Rows]] = {
    group.__name__: group
    for module in (growing, room, labour, buying, freight, apart)
    for group in module.GROUPS
}
"""All constraint groups by name, in the order of the program's rows."""


class Stated(NamedTuple):
    """A program as a Pyomo model, and the model's variables by name, in the order of their indices."""

    model: Any
    variables: dict[str, list[Any]]

    def let_go(self) -> None:
        """Empty the model once it is compiled: it takes more memory than all else.

        Its parts refer to one another, so that only the collector, which is paused, would find them.
        """
        for component in list(self.model.component_objects((pyo.Constraint, pyo.Var))):
            component.clear()
        self.variables.clear()


def build(network: Network, closed: Collection[str] = ()) -> Program:
    """The program of a network: index sets, bounds and amounts, from which its rows are made.

    ``closed``: orders of which none is asked for, or one alone.
    """
    with collector_paused():
        return Program(network, Amounts(network), frozenset(closed))


def state(program: Program) -> Stated:
    """State a program as a Pyomo model, all variables continuous."""
    with collector_paused():
        model = pyo.ConcreteModel()
        variables: dict[str, list[Any]] = {}
        for name, labels in program.labels.items():
            made = pyo.Var(labels)
            model.add_component(name, made)
            variables[name] = members = list(made.values())
            for member, lower, upper in zip(members, *program.bounds(name), strict=True):
                member.lower, member.upper = lower, upper
        for name, group in GROUPS.items():
            rows = group(program)
            model.add_component(name, pyo.Constraint(list(rows), rule=_rule(variables, rows)))
            rows.clear()
        model.cost = pyo.Objective(expr=_linear(variables, *total_cost(program)))
    return Stated(model, variables)


def total_cost(program: Program) -> tuple[Coefs, float]:
    """The cost that is least: coefficients of variables, and the constant, in currency."""
    total: Coefs = defaultdict(float)
    constant = 0.0
    for term in costs(program):
        constant += term.constant
        for key, coef in term.coefs.items():
            total[key] += coef
    return total, constant


def _linear(variables: dict[str, list[Any]], coefs: Coefs, constant: float = 0.0) -> Any:
    members = [variables[name][i] for name, i in coefs]
    return LinearExpression(constant=constant, linear_coefs=list(coefs.values()), linear_vars=members)


def _rule(variables: dict[str, list[Any]], rows: Rows) -> Callable[..., Any]:
    def rule(_: Any, *label: Any) -> Any:
        coefs, lower, upper = rows[label]
        body = _linear(variables, coefs)
        # Pyomo would make the same of the three in a tuple, but works out for each row what they are.
        if lower == upper:
            return EqualityExpression((body, upper))
        if lower is None:
            return InequalityExpression((body, upper), False)
        return InequalityExpression((lower, body), False) if upper is None else (lower, body, upper)

    return rule

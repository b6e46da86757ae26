"""The program of one network: index sets, variables with their bounds, and decisions settled by the past."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from model.program.amounts import Key
from model.program.file_names import names
from model.program.index_sets import Coefs, IndexSets, Label
from model.program.settled import decided, settled
from model.program.variables import VARIABLES, Bounds


@dataclass
class Program(IndexSets):
    """Index sets, variables and rows of the program of one network."""

    closed: frozenset[str] = frozenset()
    """Orders of which none is asked for, or one alone."""

    @cached_property
    def labels(self) -> dict[str, list[Label]]:
        """Label of each index of each variable, by the variable's name."""
        return {name: variable.labels(self) for name, variable in VARIABLES.items()}

    @cached_property
    def counts(self) -> dict[str, int]:
        """Number of indices of each variable."""
        return {name: len(labels) for name, labels in self.labels.items()}

    @cached_property
    def names(self) -> dict[str, list[str]]:
        """Name of each index of each variable in a program file, by the variable's name."""
        return {variable: names(variable, labels) for variable, labels in self.labels.items()}

    def most_ordered(self, asked: Mapping[int, float], besides: float = 0.0) -> float:
        """Most plants asked for together: ``besides``, and those by index of the order.

        Of the closed orders only the largest counts: in a limit made for all of them, a fixed cost would be
        spread over plants that nobody asks for together.
        """
        of = {o: self.network.orders[o].order.order in self.closed for o in asked}
        largest = max((plants for o, plants in asked.items() if of[o]), default=0.0)
        return sum((plants for o, plants in asked.items() if not of[o]), besides) + largest

    def settled_part(self, coefs: Coefs) -> float:
        """Sum of coefficient times value over the settled decisions of a row."""
        return sum(coef * self.decided[key] for key, coef in coefs.items() if key in self.decided)

    def bounds(self, name: str) -> tuple[list[float], Bounds]:
        """Lower and upper bounds of a variable by index. Values settled by the past are fixed."""
        lower, upper, count = VARIABLES[name].lower, VARIABLES[name].upper, self.counts[name]
        low = lower(self) if callable(lower) else [lower] * count
        high = upper(self) if callable(upper) else [upper] * count
        for n, value in self.settled.get(name, {}).items():
            low[n] = high[n] = value
        return low, high

    @cached_property
    def settled(self) -> dict[str, dict[int, float]]:
        """Values of the variables that the past has settled, by name and index."""
        return settled(self) if self.network.past.today > 0 else {}

    @cached_property
    def decided(self) -> dict[Key, float]:
        """Trays, joins, healed plants and deliveries that the past has settled, by decision."""
        return decided(self, self.settled)

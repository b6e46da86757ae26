"""The program of one network: its index sets, its variables with their bounds, and what is settled."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from model.program.amounts import Key
from model.program.index_sets import Coefs, IndexSets, Label
from model.program.settled import decided, settled


@dataclass
class Program(IndexSets):
    """Index sets, variables and rows of the program of one network."""

    variables: dict[str, list[Any]] = field(default_factory=dict)
    model: Any = None

    def flow_label(self, f: int) -> Label:
        """Product and graft day of a flow."""
        flow = self.network.flows[f]
        return flow.product.product, flow.graft

    def settled_part(self, coefs: Coefs) -> float:
        """What the settled decisions come to in a row."""
        return sum(coef * self.decided[key] for key, coef in coefs.items() if key in self.decided)

    def bounds(self, letter: str) -> tuple[list[float], list[float | None]]:
        """Lower and upper bounds of the variables of a letter; None for no upper bound.

        What the past has settled is fixed; packs ordered are bought.
        """
        upper = self._upper(letter)
        lower = [0.0] * len(upper)
        if letter == "packs_bought":
            ordered = self.network.past.packs
            lower = [sum(n for _, n in ordered.get((pack.item, pack.size), ())) for pack in self.packs]
        for n, value in self.settled.get(letter, {}).items():
            lower[n] = value
            upper[n] = value
        return lower, upper

    @cached_property
    def settled(self) -> dict[str, dict[int, float]]:
        """Values of the variables that the past has settled, by letter and index."""
        return settled(self) if self.network.past.today > 0 else {}

    @cached_property
    def decided(self) -> dict[Key, float]:
        """Trays, joins, healed plants and deliveries that the past has settled, by decision."""
        return decided(self, self.settled)

    def _upper(self, letter: str) -> list[float | None]:
        crews, today = self.amounts.crews, self.network.past.today
        if letter == "regular":
            return [crews[i.crew].regular[i.day] for i in self.crew_days]
        if letter == "overtime":
            return [None if i.day < today else crews[i.crew].overtime[i.day] for i in self.crew_days]
        if letter == "temporary_hands":
            return [float(crews[i.crew].crew.temp_heads_most) for i in self.crew_weeks]
        if letter == "new_hands":
            return [
                float(crews[i.crew].crew.temp_heads_most) if self.weeks[i.week].working else 0.0
                for i in self.crew_weeks
            ]
        if letter in ("offer_taken", "wave_opened", "declined_whole"):
            return [1.0] * self.counts[letter]
        if letter == "sold":
            return [float(product.salvage_most) for product, _ in self.salvaged]
        return [None] * self.counts[letter]

"""The part of the second statement about supplies, and packs of these and of seed."""

from __future__ import annotations

from typing import Any

from model.scenario.choices import Per
from tests.independent_parts import Coefs, plus, times
from tests.independent_spread import Spread


class Packs(Spread):
    """Supplies and packs of one scenario."""

    @staticmethod
    def closest(rows: list[Any], method: str | None, format_: str) -> Any:
        """The row for method and format, else for the method, else for the format, else for all."""
        wanted = [(method, format_), (method, None), (None, format_), (None, None)]
        for pair in wanted:
            for row in rows:
                if (row.method, row.format) == pair:
                    return row
        return None

    def use_supplies(self, per: Per, method: str | None, format_: str, day: int, amount: Coefs) -> None:
        """Supplies used on a day."""
        for supply in self.scenario.supplies if day >= 0 else ():
            rows = [r for r in self.scenario.supply_uses if (r.supply, r.per) == (supply.supply, per)]
            row = self.closest(rows, method, format_)
            if row is not None:
                self.used[supply.supply].append((day, times(amount, row.quantity)))

    def state_packs(self) -> None:
        """Seed and supplies: stock first, packs after their lead time; what comes back is used again."""
        items = [(row.lot, row.stock, row.lead_days) for row in self.scenario.seed_lots]
        items += [(row.supply, row.stock, row.lead_days) for row in self.scenario.supplies]
        for item, stock, lead in items:
            packs = {}
            for row in self.scenario.packs:
                if row.item == item:
                    packs[self.builder.add_var(f"P {item} {row.size}", row.price, lumpy=True)] = row.size
            for t in range(self.days.count) if self.back[item] else (lead - 1, self.days.count):
                out: Coefs = {}
                for sign, moves in ((1.0, self.used[item]), (-1.0, self.back[item])):
                    for day, amount in moves:
                        out = plus(out, amount, sign) if day <= t else out
                self.builder.at_most(out, packs if t >= lead else {}, stock)

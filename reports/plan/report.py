"""What the plan workbook is written from, and where on its sheets the shared figures are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import pandas as pd

from model.planned.last_days import LastDays, last_days_of
from model.planned.plan_tables import PLAN_TABLES, Plan
from model.planned.tables.declared import MONEY
from model.planned.tables.plan_schema import DTYPES, PlanColumn
from model.program.cost_terms import COST_LINES
from model.proof.audit import Check
from model.scenario.about_cells import CellChange, Remark
from model.scenario.entities import Scenario
from model.scenario.schema import Type
from reports.book.parts import Book, Cell, Placed, Sheet, SheetColumn
from reports.book.style import CellKind
from reports.book.words import CAUTIONS
from reports.plan.figures import AtRisk, cost_by_line, orders_at_risk


@dataclass
class Report:
    """A plan workbook being written."""

    book: Book
    scenario: Scenario
    plan: Plan
    traced: pd.DataFrame
    """As ``model.questions.traced_costs.traced_parts``."""
    profit_margin: float
    """Profit margin, a share of the price."""
    checks: Sequence[Check]
    remarks: Sequence[Remark]
    changes: Sequence[CellChange] = ()
    """Cells that the scenario, a variant, changes."""
    sheets: dict[str, Sheet] = field(default_factory=dict)
    prices: dict[tuple[str, ...], str] = field(default_factory=dict)
    """Cell of each price: kind and names to its reference."""
    amounts: dict[tuple[str, str], str] = field(default_factory=dict)
    """Sum of the amounts of a cost line and detail: formula without its ``=``."""
    cost_cells: dict[tuple[str, str], str] = field(default_factory=dict)
    """Cell of each amount on the sheet of cost details, by cost line and detail."""
    traced_lines: Sequence[str] = ()
    """Lines of the traced cost, in the order of the sheet Cost by product."""
    order_rows: dict[str, int] = field(default_factory=dict)
    """Row of each order on the sheet of orders."""
    tables: dict[str, Placed] = field(default_factory=dict)
    """Tables that other sheets and charts refer to, by sheet."""
    spans: dict[tuple[str, str], tuple[int, int]] = field(default_factory=dict)
    """Rows of a zone, crew, cost line or product within such a table."""

    @property
    def cost_lines(self) -> dict[str, float]:
        """Cost of each line of the plan, in the order of ``COST_LINES``."""
        found = cost_by_line(self.plan)
        return {line: found[line] for line in COST_LINES if line in found}

    @cached_property
    def last_days(self) -> LastDays:
        """The last days of the plan's waves and flows."""
        return last_days_of(self.scenario, self.plan)

    @cached_property
    def at_risk(self) -> list[AtRisk]:
        """The orders at risk, the worst first."""
        return orders_at_risk(self.scenario, self.plan, self.last_days)

    @property
    def currency(self) -> str:
        """Currency of all money."""
        return self.scenario.nursery.currency

    def open(self, name: str, title: str, *notes: str, cautions: Sequence[str] = (), room: int = 0) -> Sheet:
        """The sheet of that name with its title, its notes and its ``CAUTIONS``, by their kinds."""
        sheet = self.sheets[name]
        sheet.open(title, notes, [line for kind in cautions for line in CAUTIONS[kind]], room)
        return sheet

    def table(
        self, name: str, columns: Sequence[SheetColumn], rows: Sequence[Mapping[str, Cell]], *by: str
    ) -> Placed:
        """Write a table that other sheets and charts refer to.

        ``by``: columns whose names are in order; the rows of each name are kept as its span.
        """
        self.tables[name] = placed = self.sheets[name].table(columns, rows)
        for key in by:
            self.keep_spans(name, [str(row[key]) for row in rows])
        return placed

    def column(self, table: str, name: str, **changes: Any) -> SheetColumn:
        """A sheet's column for a column of the plan; ``changes`` replace its properties."""
        declared = PLAN_TABLES[table].by_name[name]
        shown = SheetColumn(name, declared.titled(self.currency), _kind(declared))
        return replace(shown, **changes)

    def columns(self, table: str, *names: str, **changes: Any) -> list[SheetColumn]:
        """Sheet columns for several columns of a plan table."""
        return [self.column(table, name, **changes) for name in names]

    def keep_spans(self, table: str, names: Sequence[str]) -> None:
        """Keep the rows of each name in a table; ``names``: the name of each row."""
        self.spans.update({(table, name): span for name, span in spans_of(names).items()})

    def span(self, table: str, key: str, name: str) -> str:
        """Reference to the rows of ``name`` in a column of a table."""
        return self.tables[table].span(key, *self.spans[table, name])


def in_zones(report: Report, table: str) -> list[SheetColumn]:
    """The column of the zones chosen for flows, where a method lets choose."""
    return [report.column(table, "in_zones")] if report.scenario.stage_zones else []


def _kind(column: PlanColumn) -> CellKind:
    """How a sheet writes a plan's column."""
    if column.type not in DTYPES:
        return CellKind.DAY if column.type is Type.DATE else CellKind.TEXT
    if column.unit.startswith(MONEY):
        return CellKind.MONEY if column.unit == MONEY else CellKind.PRICE
    return {"share": CellKind.SHARE, "h": CellKind.DECIMAL, "slots": CellKind.DECIMAL}.get(
        column.unit, CellKind.COUNT
    )


def spans_of(names: Sequence[str]) -> dict[str, tuple[int, int]]:
    """First row, and row past the last, of each name; equal names follow each other in ``names``."""
    found: dict[str, tuple[int, int]] = {}
    for n, name in enumerate(names):
        found[name] = (found.get(name, (n, n))[0], n + 1)
    return found

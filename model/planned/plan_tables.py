"""The result: a plan as tidy tables.

``PLAN_TABLES`` declares every table and column once; ``Plan`` holds one ``pandas.DataFrame`` for each.
``FACTS`` declares the facts of a run. Days are ``datetime.date`` objects, money is in the scenario's
currency, a blank is ``None``; ``model.planned.tables.plan_schema`` says how each type is held. Counts of
plants, joins and seedlings are expectations and may be fractional. In a plan of whole trays, trays, packs,
plants bought in and plants short are whole.

The audit, the CSV files and their reader, the headings of the workbook and docs/plan_tables.md come from
this declaration.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields
from typing import Any

import pandas as pd

from model.planned.tables.declared import DECLARED
from model.planned.tables.job_tables import JOB_CREWS, JOBS
from model.planned.tables.plan_schema import (
    choice,
    money,
    share,
    table,
    text,
    whole,
    yes_no,
)

Tables = Mapping[str, pd.DataFrame]
"""Tables of a plan by their names in ``PLAN_TABLES``."""

PACKAGES = ("graftwright", "pyomo", "highspy", "numpy", "pandas")
"""Packages whose versions the facts of a run record."""

PLAN_TABLES = {table.name: table for table in (*DECLARED, JOBS, JOB_CREWS)}
"""The tables of a plan by name, in order."""

FACTS = table(
    "facts",
    "The facts of a run, in one row. Seconds are left out, as they differ from run to run.",
    (),
    choice(
        "status",
        "Status",
        "whole: a plan of whole trays; optimal: fractional trays allowed",
        ("whole", "optimal"),
    ),
    yes_no("whole", "Whole trays, packs and hands", "whether trays, packs and hands are whole"),
    money("objective", "Cost of this plan", "cost of this plan"),
    money("bound", "Proved: no plan costs less than", "proved lower bound on the cost of any plan"),
    share("gap", "Gap between the two", "cost less bound, as a share of the bound"),
    money("continuous_objective", "Least cost with fractional trays", "least cost of the continuous program"),
    money(
        "dual_objective",
        "The same from the worth of its limits (the dual program)",
        "value of the dual program; must equal the least cost",
    ),
    whole("columns", "Columns", "columns of the program", "columns"),
    whole("rows", "Rows", "rows of the program", "rows"),
    whole("nonzeros", "Non-zeros", "coefficients of the program other than 0", "coefficients"),
    *(text(f"{name}_version", f"Version of {name}", f"version of {name}") for name in ("python", *PACKAGES)),
    text("input_hash", "SHA-256 of the inputs", "SHA-256 of the scenario, as hexadecimal digits"),
)
"""The facts of a run as a table of one row."""


@dataclass(frozen=True, slots=True)
class Facts:
    """The facts of a run, for every report.

    ``objective`` is the cost of this plan, ``bound`` a proved lower bound on the cost of any plan (both in
    currency), ``gap`` their difference as a share of the bound. ``dual_objective`` is the value of the dual
    of the continuous program; it must equal ``continuous_objective``. ``whole`` says whether trays, packs
    and hands are whole. ``seconds`` are by phase. ``replanned`` says whether the plan was made beside a last
    plan, whose jobs may stay although nobody needs them. ``seasons``: sampled seasons that the plan is best
    over, 0 for the expected season; such a plan grows plants to spare.
    """

    status: str
    whole: bool
    objective: float
    bound: float
    gap: float
    continuous_objective: float
    dual_objective: float
    columns: int
    rows: int
    nonzeros: int
    seconds: dict[str, float]
    versions: dict[str, str]
    input_hash: str
    replanned: bool = False
    seasons: int = 0

    def table(self) -> pd.DataFrame:
        """The table ``FACTS``."""
        versions = {f"{name}_version": version for name, version in self.versions.items()}
        values = {field.name: getattr(self, field.name) for field in fields(self)} | versions
        return FACTS.frame([{name: values[name] for name in FACTS.names}])


@dataclass(frozen=True, slots=True)
class Plan:
    """A plan: an attribute for each table of ``PLAN_TABLES``, and the facts of its run."""

    facts: Facts
    waves: pd.DataFrame
    germination: pd.DataFrame
    bench_trays: pd.DataFrame
    joins: pd.DataFrame
    spare_seedlings: pd.DataFrame
    ways: pd.DataFrame
    flows: pd.DataFrame
    deliveries: pd.DataFrame
    trace: pd.DataFrame
    orders: pd.DataFrame
    salvage: pd.DataFrame
    slots: pd.DataFrame
    bays: pd.DataFrame
    unit_batches: pd.DataFrame
    unit_loads: pd.DataFrame
    kept_apart: pd.DataFrame
    change_overs: pd.DataFrame
    hours: pd.DataFrame
    crew_days: pd.DataFrame
    pieces: pd.DataFrame
    guaranteed: pd.DataFrame
    temporary: pd.DataFrame
    purchases: pd.DataFrame
    items: pd.DataFrame
    item_uses: pd.DataFrame
    buy_in: pd.DataFrame
    runs: pd.DataFrame
    costs: pd.DataFrame
    shadow_prices: pd.DataFrame
    jobs: pd.DataFrame
    job_crews: pd.DataFrame

    def table(self, name: str) -> pd.DataFrame:
        """The table of that name in ``PLAN_TABLES``."""
        frame: pd.DataFrame = getattr(self, name)
        return frame

    @property
    def tables(self) -> Tables:
        """All tables by name."""
        return {name: self.table(name) for name in PLAN_TABLES}

    @property
    def cost(self) -> float:
        """Cost of the plan: the sum of its cost lines, in the scenario's currency."""
        return float(self.costs["amount"].sum())

    @property
    def penalties(self) -> float:
        """Penalties for plants short: a part of the cost that nobody pays."""
        return float(self.costs.loc[self.costs["line"] == "shortfall", "amount"].sum())

    @property
    def short(self) -> float:
        """Plants short over all orders."""
        return float(self.orders["short"].sum())


def frame(name: str, rows: Iterable[Mapping[str, Any]]) -> pd.DataFrame:
    """A plan table from its rows, each a mapping by column name; errors as ``PlanTable.frame``."""
    return PLAN_TABLES[name].frame(rows)


TINY = 1e-6
"""Amounts below this are rounding errors."""


def rows_of(frame: pd.DataFrame, *columns: str) -> Iterator[tuple[Any, ...]]:
    """Rows of a table as plain tuples of the named columns; raises KeyError if a column is missing."""
    return zip(*(frame[name].tolist() for name in columns), strict=True)


def records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Rows of a table as plain values by column."""
    names = [str(name) for name in frame.columns]
    return [dict(zip(names, row, strict=True)) for row in rows_of(frame, *names)]

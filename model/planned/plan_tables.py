"""The result: a plan as tidy tables.

``PLAN_TABLES`` gives every table's columns in order, with unit and meaning; ``Plan`` holds one
``pandas.DataFrame`` for each. Days are ``datetime.date`` objects, money is in the scenario's
currency, blanks are ``None``. Counts of plants, joins and seedlings are expectations and need
not be whole; trays, packs, plants bought in and short are whole in a plan of whole trays.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pandas as pd

PLAN_TABLES: dict[str, dict[str, str]] = {
    "waves": {
        "wave": "name of the wave, in order of sowing",
        "lot": "seed lot",
        "variety": "variety of the lot",
        "format": "tray format",
        "sow_day": "day of sowing",
        "bench_day": "day on which the trays move from germination to the bench",
        "trays": "trays sown",
        "seeds": "seeds sown",
        "usable_per_tray": "usable seedlings counted on per tray, after the sowing margin",
        "drawn": "seedlings brought to the bench for joins (own-root: moved on)",
        "clear_day": "day from which no tray is left on the seedling bench",
    },
    "bench_trays": {
        "wave": "name of the wave",
        "from_day": "first day with this number of trays on the seedling bench",
        "to_day": "day on which the number changes (not counted in)",
        "trays": "trays on the seedling bench",
    },
    "joins": {
        "product": "product",
        "graft_day": "graft day (own-root: day on which seedlings leave the bench)",
        "rootstock_wave": "wave of the rootstock; None for own-root",
        "scion_wave": "wave of the scion",
        "rootstock_age": "days from sowing; None for own-root",
        "scion_age": "days from sowing",
        "joins": "joins made (own-root: seedlings moved on)",
        "match": "stem match, share of seedlings",
        "take": "take at these ages, share of joins",
        "seedlings": "seedlings drawn from each of the two waves: joins / match",
    },
    "flows": {
        "product": "product",
        "graft_day": "graft day",
        "method": "method",
        "joins": "joins (own-root: seedlings moved on)",
        "trays_loaded": "trays from the graft day through healing",
        "healed": "plants healed",
        "trays_finishing": "trays through finishing",
        "finished": "plants ready for sale",
        "ready_day": "ready day",
        "delivered": "plants for orders",
        "margin_plants": "plants kept over the orders as overseeding margin",
        "surplus": "plants finished, and neither for orders nor margin",
    },
    "deliveries": {
        "order": "order",
        "product": "product",
        "source": "own or buy-in",
        "graft_day": "graft day of the flow; None for buy-in",
        "offer": "buy-in offer; None for own",
        "ready_day": "ready day, or day of arrival for buy-in",
        "due_day": "due day",
        "pack_day": "day of packing",
        "plants": "plants for the order",
        "margin_plants": "plants held beside them as margin; 0 for buy-in",
    },
    "orders": {
        "order": "order",
        "customer": "customer",
        "product": "product",
        "due_day": "due day",
        "quantity": "plants ordered",
        "own": "plants from own growing",
        "bought": "plants bought in",
        "short": "plants short",
        "declined": "plants declined",
        "price": "price per plant; None where the order gives none",
        "margin": "graft margin, share over the order in expectation",
        "penalty": "penalty per plant short; with its price where the order may be declined",
        "short_because": "why plants are short; None where none are",
    },
    "salvage": {
        "product": "product",
        "surplus": "surplus plants",
        "sold": "of them sold at the salvage price",
        "price": "salvage price per plant",
        "amount": "income",
    },
    "slots": {
        "zone": "zone",
        "day": "day",
        "used": "slots used (units: all slots of units that are busy)",
        "available": "slots there are, modules included",
        "cost_per_slot_day": "cost of a slot in use",
        "amount": "cost",
    },
    "unit_batches": {
        "zone": "zone run all-in all-out",
        "open_day": "first day of loading",
        "shut_until": "day on which the units are empty again",
        "units": "units opened",
        "slots_loaded": "slots of the trays loaded, of all loading days",
    },
    "unit_loads": {
        "zone": "zone run all-in all-out",
        "open_day": "first day of loading of the batch",
        "product": "product of the flow",
        "graft_day": "graft day of the flow",
        "load_day": "day on which the flow's stay in the zone starts",
        "trays": "trays of this stay loaded into units of this batch",
    },
    "hours": {
        "crew": "crew",
        "hands": "own or temporary",
        "day": "day",
        "skill": "skill",
        "task": "task",
        "hours": "hours worked, by the clock",
    },
    "crew_days": {
        "crew": "crew",
        "day": "day",
        "regular": "regular hours worked",
        "overtime": "overtime, or hours on a day off",
        "regular_available": "regular hours there are",
        "overtime_available": "overtime hours there are",
        "temporary": "hours worked by temporary hands",
        "temporary_available": "hours of temporary hands outside training",
        "amount": "pay of regular hours and overtime (committed crews: whole regular pay)",
    },
    "temporary": {
        "crew": "crew",
        "week_day": "first day of the week in the plan",
        "heads": "temporary hands",
        "new": "of them new this week",
        "paid_hours": "hours paid",
        "amount": "pay and training",
    },
    "purchases": {
        "item": "seed lot or supply",
        "kind": "seed or supply",
        "size": "seeds or units in the pack",
        "packs": "packs bought, those ordered before today included",
        "price": "price of a pack",
        "amount": "cost",
        "needed_day": "first day on which more than the stock is needed",
        "order_by": "last day to order: the day needed less the lead time",
        "ordered": "packs of them ordered before today",
    },
    "items": {
        "item": "seed lot or supply",
        "kind": "seed or supply",
        "unit": "unit",
        "stock": "units on hand",
        "bought": "units bought",
        "used": "units used",
        "left": "units left at the end",
        "lead_days": "lead time",
    },
    "item_uses": {
        "item": "seed lot or supply",
        "day": "day of use",
        "used": "units used on that day",
    },
    "buy_in": {
        "offer": "offer",
        "product": "product",
        "order": "order served",
        "arrival_day": "day of delivery",
        "order_by": "last day to order",
        "plants": "plants",
        "price": "price per plant",
        "amount": "cost",
    },
    "costs": {
        "line": "cost line: seed, supplies, labour, overtime, temporary hands, slots, buy-in, waves, "
        "shortfall, declined (price forgone), salvage, modules, overhead",
        "detail": "item, crew, zone, offer ... that it is for",
        "amount": "cost; income is negative",
    },
    "shadow_prices": {
        "limit": "order, slots, units, regular hours, overtime hours, week hours, stock or buy-in",
        "name": "order, zone, crew, item or offer",
        "day": "day; None where the limit has none",
        "unit": "what one more of the limit is",
        "value": "change of least cost with one more: cost of one more plant, or saving (negative) "
        "of one more slot or hour",
        "at": "the limit as it stands",
        "low": "the value holds at least down to this limit",
        "high": "the value holds at least up to this limit",
    },
}

COST_LINES = (
    "seed",
    "supplies",
    "labour",
    "overtime",
    "temporary hands",
    "slots",
    "buy-in",
    "waves",
    "shortfall",
    "declined",
    "salvage",
    "modules",
    "overhead",
)


@dataclass(frozen=True, slots=True)
class Facts:
    """What was run and what came out, for the foot of every report.

    ``objective`` is the cost of this plan, ``bound`` the proved least cost of any plan (both in
    currency), ``gap`` their difference as a share of the bound, ``dual_objective`` the value of the
    dual of the continuous program, which must equal ``continuous_objective``.
    ``whole`` says whether trays, packs and hands are whole.
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


@dataclass(frozen=True, slots=True)
class Plan:
    """One table of ``PLAN_TABLES`` an attribute, and the run's facts."""

    facts: Facts
    waves: pd.DataFrame
    bench_trays: pd.DataFrame
    joins: pd.DataFrame
    flows: pd.DataFrame
    deliveries: pd.DataFrame
    orders: pd.DataFrame
    salvage: pd.DataFrame
    slots: pd.DataFrame
    unit_batches: pd.DataFrame
    unit_loads: pd.DataFrame
    hours: pd.DataFrame
    crew_days: pd.DataFrame
    temporary: pd.DataFrame
    purchases: pd.DataFrame
    items: pd.DataFrame
    item_uses: pd.DataFrame
    buy_in: pd.DataFrame
    costs: pd.DataFrame
    shadow_prices: pd.DataFrame

    def table(self, name: str) -> pd.DataFrame:
        """The table of that name in ``PLAN_TABLES``."""
        frame: pd.DataFrame = getattr(self, name)
        return frame

    @property
    def cost(self) -> float:
        """Cost of the plan: the sum of its cost lines, in the scenario's currency."""
        return float(self.costs["amount"].sum())

    @property
    def short(self) -> float:
        """Plants short over all orders."""
        return float(self.orders["short"].sum())


def frame(name: str, rows: list[tuple[Any, ...]]) -> pd.DataFrame:
    """A plan table from its rows, given in the order of its columns.

    Columns with a None stay objects, so that a blank is None and never NaN.
    """
    columns = list(PLAN_TABLES[name])
    if not rows:
        return pd.DataFrame({column: pd.Series(dtype=object) for column in columns})
    data = {}
    for column, values in zip(columns, zip(*rows, strict=True), strict=True):
        blank = any(value is None for value in values)
        data[column] = pd.Series(list(values), dtype=object if blank else None)
    return pd.DataFrame(data)


TINY = 1e-6
"""Amounts below this are rounding."""


def rows_of(frame: pd.DataFrame, *columns: str) -> Iterator[tuple[Any, ...]]:
    """Rows of a plan table as plain tuples, of the named columns or of all."""
    chosen = [frame[name].tolist() for name in columns or frame.columns]
    return zip(*chosen, strict=True)

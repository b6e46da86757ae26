"""A plan through many seasons: germination, match, take and finishing vary from season to season.

All draws are whole plants; arrays have one number for each season. ``model.risk.recourse`` says how the
plants finished are used.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable
from dataclasses import dataclass, replace
from datetime import date
from itertools import accumulate, pairwise
from math import ceil
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.random import Generator
from scipy.special import ndtri

from model.network.charges import with_charges
from model.phases import Say, part_of, silent
from model.planned.plan_tables import Plan, rows_of
from model.planned.results import has_prices
from model.planned.tables.declared import FLOW, FlowKey, flow_key
from model.rates.overseeding import service_level
from model.rates.yields import usable_share
from model.risk.batches import Counts, Floats, Seasons
from model.risk.counted import WHOLE, Known
from model.risk.mishaps import Losses, thinned
from model.risk.recourse import Recourse, recourse
from model.scenario.choices import MarginPolicy
from model.scenario.entities import Scenario

WORST = 0.05
"""Share of the seasons that counts as the worst."""

INTERVAL = 0.95
"""Confidence of the intervals of chances."""


@dataclass(frozen=True, slots=True)
class Risk:
    """The results of a plan in ``seasons`` simulated seasons.

    ``orders``: one row for each order, in the scenario's order: order, product, due_day, quantity (plants),
    margin (share), promised (service level, a share; NaN where none is promised), chance (share of seasons in
    which the order is filled on its day), low, high (Wilson interval of the chance, 95 %), chance_grown
    (share of seasons in which it is filled without buying in more than planned), mean_short (plants),
    worst_short (plants; no more are short in 95 % of the seasons).

    ``totals``: one row for each season: finished (plants of all flows), bought (plants bought in beyond the
    plan), delivered (for orders, finished or so bought), surplus (for no order, finished or so bought), short
    (plants); in currency buy_in_cost (of plants bought beyond the plan), penalties (for plants short), cost
    (of the season, penalties included), result (sales less cost without penalties and prices forgone; NaN
    where no order has a price).

    ``short``: plants short, shape (orders, seasons). ``finished``: plants finished, shape (flows, seasons),
    flows as in the plan's table.
    """

    seasons: int
    seed: int
    orders: pd.DataFrame
    totals: pd.DataFrame
    short: Floats
    finished: Floats


def simulate(scenario: Scenario, plan: Plan, *, seasons: int, seed: int, progress: Say = silent) -> Risk:
    """The plan in ``seasons`` seasons; the same ``seed`` gives the same seasons.

    Raises ValueError where ``seasons`` is below 1.
    """
    if seasons < 1:
        raise ValueError("seasons must be at least 1")
    drawn, scenario = Seasons(seasons, seed), with_charges(scenario)
    lived = live(drawn, scenario, plan, part_of(f"{seasons:,} seasons", progress))
    after = recourse(scenario, plan, lived.finished)
    orders, totals = _orders(scenario, plan, after), _totals(plan, lived.finished, after)
    return Risk(seasons, seed, orders, totals, after.short, lived.finished)


@dataclass(frozen=True, slots=True)
class Lived:
    """What the seasons make of a plan's jobs; arrays have one number for each season.

    ``seedlings``: usable ones by wave. ``joins``: rows of joins in the order in which they are made.
    ``healed`` and ``finished``: plants, shape (flows, seasons), flows as in the plan's table.
    """

    losses: Losses
    seedlings: dict[str, Counts]
    joins: list[JoinsMade]
    healed: Counts
    finished: Floats


def live(drawn: Seasons, scenario: Scenario, plan: Plan, progress: Say = silent) -> Lived:
    """The seasons drawn, lived with the plan's jobs as they stand.

    What progress has counted is the same in all of them.
    """
    losses, known = Losses(drawn, scenario, plan), Known(scenario, plan)
    seedlings = _seedlings(drawn, scenario, plan, losses, known)
    joins = _joins(drawn, plan, seedlings, known, progress)
    return Lived(losses, seedlings, joins, *_finished(drawn, scenario, plan, joins, losses, known))


def wilson_interval(successes: int, trials: int, confidence: float = INTERVAL) -> tuple[float, float]:
    """Interval of the chance of an event that came ``successes`` times in ``trials``.

    (p + z²/2n ± z·√(p(1−p)/n + z²/4n²)) / (1 + z²/n); Wilson 1927, J. Am. Stat. Assoc. 22:209-212.
    """
    p, z2 = successes / trials, float(ndtri((1 + confidence) / 2)) ** 2
    middle = p + z2 / (2 * trials)
    half = (z2 * (p * (1 - p) / trials + z2 / (4 * trials**2))) ** 0.5
    scale = 1 + z2 / trials
    low = 0.0 if successes == 0 else (middle - half) / scale
    high = 1.0 if successes == trials else (middle + half) / scale
    return low, high


def whole_parts(amounts: list[float]) -> list[int]:
    """Whole numbers close to the amounts, with sum ⌈Σ amounts⌉: ⌈a₁ + ... + aₖ⌉ − ⌈a₁ + ... + aₖ₋₁⌉."""
    sums = [max(ceil(amount - WHOLE), 0) for amount in accumulate(amounts)]
    return [after - before for before, after in pairwise([0, *sums])]


def _seedlings(
    drawn: Seasons, scenario: Scenario, plan: Plan, losses: Losses, known: Known
) -> dict[str, Counts]:
    """Usable seedlings of each wave; all waves of a lot share its luck, those of a day the sowing's too."""
    cells = {tray.format: tray.cells for tray in scenario.tray_formats}
    lots = {lot.lot: lot for lot in scenario.seed_lots}
    seedlings = {}
    columns = ["wave", "lot", "format", "sow_day", "trays"]
    for wave, name, tray, day, trays in plan.waves[columns].itertuples(index=False):
        (sown,) = whole_parts([trays * cells[tray]])
        lot = lots[name]
        counted = known.seedlings((name, tray, day))
        if counted is not None:
            seedlings[wave] = np.full(drawn.number, counted, dtype=np.int64)
            continue
        share = usable_share(drawn.germination(lot, day), lot.seeds_per_cell, lot.grade_out)
        up = drawn.random("seedlings", name, tray, day).binomial(sown, share)
        seedlings[wave] = thinned(drawn, up, losses.of_sowing(name, day), name, tray, day)
    return seedlings


@dataclass(frozen=True, slots=True)
class PlannedJoins:
    """A row of the plan's joins, rounded to whole joins."""

    flow: FlowKey
    waves: tuple[str, ...]
    wanted: int
    match: float
    take: float

    @property
    def seedlings(self) -> float:
        """Expected seedlings that the planned joins take from each wave."""
        return self.wanted / self.match


class JoinsMade(NamedTuple):
    """A row of joins by season: seedlings allotted from each wave, joins made, seedlings brought, healed."""

    row: PlannedJoins
    allotted: Counts
    joins: Counts
    brought: Counts
    healed: Counts


def joins_by_day(plan: Plan) -> dict[date, list[PlannedJoins]]:
    """The plan's joins by graft day, in order of days; rounding keeps the sum of each flow."""
    of_flow: dict[FlowKey, list[tuple[tuple[str, ...], float, float, float]]] = defaultdict(list)
    columns = (*FLOW, "rootstock_wave", "scion_wave", "joins", "match", "take")
    for *named, root, scion, joins, match, take in rows_of(plan.joins, *columns):
        drawn_on = (scion,) if root is None else (root, scion)
        of_flow[flow_key(named)].append((drawn_on, joins, match, take))
    by_day: dict[date, list[PlannedJoins]] = defaultdict(list)
    for flow in sorted(of_flow, key=lambda key: (key[1], key[0], key[2] or "")):
        rows = of_flow[flow]
        for (waves, _, match, take), wanted in zip(rows, whole_parts([row[1] for row in rows]), strict=True):
            if wanted:
                by_day[flow[1]].append(PlannedJoins(flow, waves, wanted, match, take))
    return by_day


def _joins(
    drawn: Seasons, plan: Plan, seedlings: dict[str, Counts], known: Known, progress: Say
) -> list[JoinsMade]:
    """Joins made in each row: earlier graft days first, rows of a day in proportion to the plan.

    Each row has its share of the seedlings left on the day, and uses them until the plan's joins are made or
    the share is used up. Joins of the past were made, so their seedlings existed.
    """
    there = dict(seedlings)
    made = []
    days = joins_by_day(plan)
    for n, rows in enumerate(days.values(), 1):
        progress(f"graft day {n} of {len(days)}")
        planned: dict[str, float] = defaultdict(float)
        for row in rows:
            for wave in row.waves:
                planned[wave] += row.seedlings
        share = {wave: there[wave] / planned[wave] for wave in planned}
        for row in rows:
            least = np.minimum.reduce([share[wave] for wave in row.waves])
            allotted = np.floor(row.seedlings * least + WHOLE).astype(np.int64)
            used = known.brought(row.flow[1], row.wanted, row.match)
            if used is None:
                rng = drawn.random("match", *batch_name(row.flow), *row.waves)
                joins, brought = matched(rng, row.wanted, row.match, allotted)
            else:
                joins, brought = (np.full(drawn.number, number) for number in (row.wanted, used))
            made.append(JoinsMade(row, allotted, joins, brought, joins))
            for wave in row.waves:
                there[wave] = np.maximum(there[wave] - brought, 0)
    return made


def matched(rng: Generator, wanted: int, match: float, allotted: Counts) -> tuple[Counts, Counts]:
    """Joins made, and seedlings used, of ``allotted`` seedlings that match independently of each other.

    The wanted-th match comes after wanted + NegativeBinomial(wanted, match) seedlings. Where fewer are
    allotted, the matches among them are hypergeometric.
    """
    if match >= 1:
        joins = np.minimum(allotted, wanted)
        return joins, joins
    tried = wanted + rng.negative_binomial(wanted, match, allotted.size)
    brought = np.minimum(tried, allotted)
    joins = np.full(allotted.size, wanted)
    few = tried > allotted
    joins[few] = rng.hypergeometric(wanted - 1, tried[few] - wanted, allotted[few])
    return joins, brought


def batch_name(flow: FlowKey) -> tuple[Hashable, ...]:
    """A flow as the name of a batch of random numbers."""
    return tuple(part for part in flow if part is not None)


def _finished(
    drawn: Seasons,
    scenario: Scenario,
    plan: Plan,
    joins: list[JoinsMade],
    losses: Losses,
    known: Known,
) -> tuple[Counts, Floats]:
    """Plants healed and finished of each flow, shape (flows, seasons); ``joins`` get their healed plants."""
    methods = {method.method: method for method in scenario.methods}
    flows = {
        flow_key(cells): (n, methods[name])
        for n, (*cells, name) in enumerate(rows_of(plan.flows, *FLOW, "method"))
    }
    healed = np.zeros((len(flows), drawn.number), dtype=np.int64)
    takes: dict[tuple[str, date, float], Floats] = {}
    for place, (row, _, made, _, _) in enumerate(joins):
        n, method = flows[row.flow]
        batch = method.method, row.flow[1], row.take
        if batch not in takes:
            takes[batch] = drawn.take(method, row.flow[1], row.take)
        whole = drawn.random("heal", *batch_name(row.flow), *row.waves).binomial(made, takes[batch])
        whole = known.healed(row.flow, row.waves, whole)
        joins[place] = joins[place]._replace(healed=whole)
        healed[n] += whole
    finished = np.zeros((len(flows), drawn.number))
    for flow, (n, method) in flows.items():
        kept = drawn.random("finish", *batch_name(flow)).binomial(healed[n], method.finish_survival)
        ready = thinned(drawn, kept, losses.of_flow(flow, method.method), *batch_name(flow))
        finished[n] = known.finished(flow, ready.astype(float))
    return healed, finished


def promised_levels(scenario: Scenario) -> list[float]:
    """Service levels of the orders; NaN under fixed margins, which promise no level, and for plants held."""
    if scenario.nursery.margin_policy is MarginPolicy.FIXED:
        return [float("nan")] * len(scenario.orders)
    products = {product.product: product for product in scenario.products}
    return [
        float("nan") if order.held else service_level(order, products[order.product], scenario.nursery)
        for order in scenario.orders
    ]


def _orders(scenario: Scenario, plan: Plan, after: Recourse) -> pd.DataFrame:
    margins = dict(zip(plan.orders["order"], plan.orders["margin"], strict=True))
    filled = after.short <= WHOLE
    seasons = filled.shape[1]
    rows = []
    for o, (order, promised) in enumerate(zip(scenario.orders, promised_levels(scenario), strict=True)):
        times = int(filled[o].sum())
        rows.append(
            (
                order.order,
                order.product,
                order.due_day,
                order.quantity,
                float(margins[order.order]),
                promised,
                times / seasons,
                *wilson_interval(times, seasons),
                float((after.missing[o] <= WHOLE).mean()),
                float(after.short[o].mean()),
                float(np.quantile(after.short[o], 1 - WORST, method="inverted_cdf")),
            )
        )
    names = ["order", "product", "due_day", "quantity", "margin", "promised", "chance", "low", "high"]
    return pd.DataFrame(rows, columns=[*names, "chance_grown", "mean_short", "worst_short"])


def _totals(plan: Plan, finished: Floats, after: Recourse) -> pd.DataFrame:
    """Totals by season; the plan's cost, with the season's own shortfall, salvage and further buy-in."""
    planned = plan.costs["amount"][~plan.costs["line"].isin(["shortfall", "salvage", "late"])].sum()
    penalties = plan.orders["penalty"].to_numpy(dtype=float)
    penal = penalties @ after.short
    cost = planned + penal + after.late_cost + after.buy_in_cost - after.salvage
    forgone = plan.costs["amount"][plan.costs["line"] == "declined"].sum()
    grown = finished.sum(axis=0)
    return pd.DataFrame(
        {
            "finished": grown,
            "bought": after.bought,
            "delivered": after.delivered,
            "surplus": grown + after.bought - after.delivered,
            "short": after.short.sum(axis=0),
            "buy_in_cost": after.buy_in_cost,
            "penalties": penal,
            "cost": cost,
            "result": _sales(plan, after) - (cost - penal - forgone),
        }
    )


def _sales(plan: Plan, after: Recourse) -> Floats:
    """Sales by season: Σ price · (quantity − declined − short); NaN where no order has a price."""
    orders = plan.orders
    if not has_prices(orders):
        return np.full(after.short.shape[1], np.nan)
    prices = np.array([price or 0.0 for price in orders["price"].tolist()])
    wanted = (orders["quantity"] - orders["declined"]).to_numpy(dtype=float)
    sales: Floats = prices @ (wanted[:, None] - after.short)
    return sales


def without_mishaps(
    scenario: Scenario, plan: Plan, risk: Risk, *, progress: Say = silent
) -> tuple[dict[str, Risk], Risk]:
    """The same seasons without each mishap of the scenario, by its name, and without any."""

    def left_out(*names: str) -> Risk:
        kept = tuple(row for row in scenario.mishaps if row.mishap not in names)
        fewer = replace(scenario, mishaps=kept)
        return simulate(fewer, plan, seasons=risk.seasons, seed=risk.seed, progress=progress)

    names = [row.mishap for row in scenario.mishaps]
    none = left_out(*names)
    return ({names[0]: none} if len(names) == 1 else {name: left_out(name) for name in names}), none

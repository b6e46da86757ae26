"""The plan and its seasons as one linear program: decisions made once, and their consequences by season.

The plan is the ordinary program without margins. Each season n has copies of what is decided late: joins
made y, deliveries d, surplus u, plants short s, surplus sold z, and plants b bought once all plants of their
orders are known. They meet what the plan has sown, planned to join and bought early (``hedge_program``). The
plan has the mean of the seasons' s, z, late d and late b. So all costs stand in the plan's columns, and the
plan's part of a solution solves the ordinary program.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from scipy.sparse import coo_array, csc_array, csr_array, diags_array

from model.hedging.sampled import SampledSeasons
from model.hedging.sown_again import (
    NO_SOWING_AGAIN,
    AgainColumns,
    Columns,
    Mask,
    SowingAgain,
    columns_of,
)
from model.program.program import Program
from model.risk.batches import Floats
from model.solver.compiled import Compiled, Solution

APART = ("carried", "admitted", "lot_chosen")
"""What the plan keeps apart, in all seasons alike."""

APART_ROWS = ("groups_in_flows", "groups_in_places", "plants_of_one_lot")
"""Constraint groups that tie deliveries to it."""


@dataclass(frozen=True, slots=True)
class SeasonRows:
    """The rows and columns of one season, alike in all but for the luck of waves and joins.

    ``columns``: the plan's column that each column of the season is a copy of. ``matrix``: entries of the
    season's rows, of the plan's columns first and then of its own; ``wave`` and ``join`` say whose luck
    scales an entry, -1 for none. ``late``: columns of the season of which the plan has the mean. ``thin_by``:
    for each join made, whose columns come first, the two waves it draws on (-1 for none); the last rows are
    theirs.
    """

    columns: Columns
    late: Columns
    matrix: coo_array
    wave: Columns
    join: Columns
    thin_by: Columns
    row_lower: Floats
    row_upper: Floats

    def of(self, luck: SampledSeasons, n: int, again: SowingAgain) -> tuple[Mask, Columns, Columns, Floats]:
        """Rows of season ``n`` that may bind, and their entries: row among these, column, value.

        Where the stand is no thinner than expected, a wave has the seedlings of all its planned joins; joins
        of two such waves are made as planned. Not so where the wave may be sown again: more may be planned.
        """
        sure = luck.stand[:, n] >= 1
        sure[again.sown] = False
        thin: Mask = np.logical_or.reduce(np.append(~sure, False)[self.thin_by], axis=1)
        made = np.flatnonzero(~thin)
        count = self.matrix.shape[1] - len(self.columns)
        row, column, value = self.matrix.row, self.matrix.col.copy(), self.matrix.data.copy()
        scaled = self.wave >= 0
        value[scaled] *= luck.stand[self.wave[scaled], n]
        scaled = self.join >= 0
        value[scaled] *= luck.take[self.join[scaled], n]
        kept: Mask = np.ones(len(self.row_lower), dtype=np.bool_)
        kept[row[(self.wave >= 0) & np.append(sure, False)[self.wave]]] = False
        kept[len(kept) - len(thin) + made] = False
        place = np.arange(self.matrix.shape[1])
        place[count + made] = self.columns[made]
        inside = kept[row]
        at = np.cumsum(kept) - 1
        return kept, at[row[inside]], place[column[inside]], value[inside]

    def seedlings(self, again: SowingAgain) -> coo_array:
        """Entries that trays sown again would have in a season as expected: row of the season, pair."""
        own = np.flatnonzero((self.wave >= 0) & np.isin(self.wave, again.sown))
        of = dict(zip(self.wave[own].tolist(), own.tolist(), strict=True))
        at = np.array([of[w] for w in again.sown.tolist()], dtype=np.intp)
        pairs = np.arange(len(at))
        shape = len(self.row_lower), len(at)
        return coo_array((self.matrix.data[at], (self.matrix.row[at], pairs)), shape=shape)


class Splitting:
    """The program split into the plan and a season; only ``joins`` may be made."""

    def __init__(self, program: Program, compiled: Compiled, joins: Mask) -> None:
        self.program, self.compiled, self.joins = program, compiled, joins

    @cached_property
    def flows(self) -> Mask:
        """Flows with joins that may be made."""
        used = np.zeros(len(self.program.network.flows), dtype=bool)
        of = [join.flow for join in self.program.network.joins]
        used[np.array(of, dtype=np.intp)[self.joins]] = True
        return used

    def _some(self, name: str, chosen: Mask | list[int] | None = None) -> Columns:
        at = self.compiled.position[name]
        at = at if chosen is None else at[np.asarray(chosen, dtype=None if len(chosen) else np.intp)]
        return at[at >= 0]

    @cached_property
    def late(self) -> tuple[list[int], list[int], list[int]]:
        """Plants bought, deliveries and their spare plants that are ordered once all plants are known.

        All plants of an order are known on the last ready day of the flows that may serve it. A delivery is
        late where it is late for all orders that it may serve.
        """
        network = self.program.network
        known = [network.past.today] * len(network.orders)
        for delivery in network.deliveries:
            if self.flows[delivery.flow]:
                ready = network.flows[delivery.flow].ready
                known[delivery.order] = max(known[delivery.order], ready)
        early = {
            (b.offer, b.day)
            for b in network.buy_ins
            if b.day - network.offers[b.offer].lead_days < known[b.order]
        }
        return (
            [i for i, b in enumerate(network.buy_ins) if (b.offer, b.day) not in early],
            [n for n, i in enumerate(self.program.offer_days) if (i.offer, i.day) not in early],
            [n for n, i in enumerate(self.program.spare_days) if (i.offer, i.day) not in early],
        )

    @cached_property
    def served(self) -> tuple[Mask, Mask]:
        """Deliveries from flows that may be made: those in time, and those late, which cost a discount."""
        network = self.program.network
        made = np.array([self.flows[d.flow] for d in network.deliveries], dtype=bool)
        days = [network.orders[d.order].days_late(network.flows[d.flow].ready) for d in network.deliveries]
        late = np.array(days, dtype=np.intp) > 0
        return made & ~late, made & late

    @cached_property
    def means(self) -> Columns:
        """The plan's columns that have the mean of the seasons."""
        bought, taken, spare = self.late
        return np.concatenate(
            [
                self._some("delivered", self.served[1]),
                self._some("short"),
                self._some("sold"),
                self._some("bought", bought),
                self._some("offer_taken", taken),
                self._some("spare_bought", spare),
            ]
        )

    @cached_property
    def season(self) -> SeasonRows:
        """The rows and columns of a season."""
        compiled = self.compiled
        count = len(compiled.cost)
        made = self._some("joins", self.joins)
        columns = np.concatenate(
            [made, self._some("delivered", self.served[0]), self._some("surplus", self.flows), self.means]
        )
        place = np.full(count, -1, dtype=np.intp)
        shared = compiled.columns(("sown", "bought", "declined", "declined_whole", *APART))
        place[shared] = shared
        place[columns] = count + np.arange(len(columns))
        rows = self._rows()
        inside = coo_array(self._without_healed(rows))
        there = place[inside.col] >= 0
        caps = len(rows) + np.arange(len(made))
        row = np.concatenate([inside.row[there], caps, caps])
        column = np.concatenate([place[inside.col[there]], place[made], made])
        value = np.concatenate([inside.data[there], np.ones(len(made)), -np.ones(len(made))])
        of_take = (row < self._count("take")) & (column >= count) & (column < count + len(made))
        return SeasonRows(
            columns,
            np.arange(len(columns) - len(self.means), len(columns)),
            coo_array((value, (row, column)), shape=(len(rows) + len(made), count + len(columns))),
            np.append(self._index("sown"), np.full(len(columns), -1))[column],
            np.append(self._index("joins")[made], -1)[np.where(of_take, column - count, -1)],
            self._waves_of(made),
            np.append(compiled.row_lower[rows], np.full(len(made), -np.inf)),
            np.append(compiled.row_upper[rows], np.zeros(len(made))),
        )

    def _waves_of(self, made: Columns) -> Columns:
        """The waves that the joins of these columns draw on, shape (joins, 2), -1 for none."""
        joins = [self.program.network.joins[j] for j in self._index("joins")[made].tolist()]
        waves = [(-1 if join.rootstock is None else join.rootstock, join.scion) for join in joins]
        return np.array(waves, dtype=np.intp).reshape(-1, 2)

    def _index(self, name: str) -> Columns:
        """For each of the plan's columns its index of this variable, -1 for none."""
        index = np.full(len(self.compiled.cost), -1, dtype=np.intp)
        at = self.compiled.position[name]
        index[at[at >= 0]] = np.flatnonzero(at >= 0)
        return index

    def _count(self, group: str) -> int:
        return len(self.compiled.rows.get(group, {}))

    def _rows(self) -> Columns:
        """The plan's rows that a season has for itself, those of the take first."""
        found, labels = self.compiled.rows, self.program.labels["offer_taken"]
        groups = ("take", "seedlings", "order", "salvage")
        rows = [row for group in groups for row in found.get(group, {}).values()]
        quantity = found.get("buy_in_quantity", {})
        for n in self.late[1]:
            rows += [quantity[*labels[n], end] for end in ("most", "least") if (*labels[n], end) in quantity]
        return np.append(np.array(rows, dtype=np.intp), self._apart())

    def _apart(self) -> Columns:
        """Rows that tie deliveries, bought ones too, to what the plan keeps apart."""
        rows = [row for group in APART_ROWS for row in self.compiled.rows.get(group, {}).values()]
        used = abs(csr_array(self.compiled.matrix)[rows][:, self.compiled.columns(("delivered", "bought"))])
        return np.array(rows, dtype=np.intp)[used.sum(axis=1) > 0]

    def _without_healed(self, rows: Columns) -> csr_array:
        """These rows, with the healed plants of a flow written as its joins times their take."""
        matrix = csr_array(self.compiled.matrix)
        count = matrix.shape[1]
        healed = self.compiled.position["healed"]
        named = {label: n for n, label in enumerate(self.program.labels["healed"])}
        of = [(healed[named[label]], row) for label, row in self.compiled.rows.get("flow_healed", {}).items()]
        if not of:
            return csr_array(matrix[rows])
        columns = np.array([column for column, _ in of], dtype=np.intp)
        joins = coo_array(matrix[[row for _, row in of]])
        kept = joins.col != columns[joins.row]
        # Row of the group: Σ y · τ − H = 0, so that H stands for the rest of its row.
        rest = coo_array(
            (joins.data[kept], (columns[joins.row[kept]], joins.col[kept])), shape=(count, count)
        )
        others = np.ones(count)
        others[columns] = 0.0
        return csr_array(matrix[rows] @ (csr_array(rest) + csr_array(diags_array(others))))


@dataclass(frozen=True, slots=True)
class Hedge:
    """The plan and its seasons as one program: the plan's columns and rows, the seasons', and the columns R.

    ``rule``: those of R, for the pairs of ``again``. ``joins_again``: joins that draw on waves sown again.
    """

    compiled: Compiled
    plan: Compiled
    season: SeasonRows
    luck: SampledSeasons
    again: SowingAgain
    rule: AgainColumns
    joins_again: list[int]

    @property
    def rule_columns(self) -> Columns:
        """The columns R of the program, one for each pair."""
        count = len(self.compiled.cost)
        return np.arange(count - len(self.again.sown), count)

    def cost(self, found: Solution) -> float:
        """Mean cost of a season at the plan's prices, in currency."""
        plan = found.columns[: len(self.plan.cost)]
        return (
            float(self.plan.cost @ plan + self.rule.cost @ found.columns[self.rule_columns])
            + self.plan.offset
        )


def hedge_program(
    program: Program,
    compiled: Compiled,
    joins: Mask,
    luck: SampledSeasons,
    again: SowingAgain = NO_SOWING_AGAIN,
) -> Hedge:
    """The program of a plan whose seasons are ``luck``; only ``joins`` may be made.

    y_n ≤ y      for each join, season n
    x_n[w] = x[w] + Σ R[w′,w] · thin_n[w′],  thin_n[w′] = max(0, 1 − stand_n[w′])
    Σ y_n / μ ≤ κ[w] · stand_n[w] · x_n[w]      for each wave w, season n
    Σ_o d_n[p,g,o] + u_n[p,g] = Σ y_n · τ · φ · take_n      for each flow (p,g), season n
    s[o] = Σ_n s_n[o] / N

    Each season has its own rows of orders, salvage and late deliveries too, as ``model.program`` states them.
    ``compiled``: the program of the scenario without margins.
    """
    plan = only(program, compiled, joins)
    season = Splitting(program, plan, joins).season
    count, own = len(plan.cost), len(season.columns)
    rows, above = plan.matrix.shape[0], coo_array(plan.matrix)
    parts: list[tuple[Any, Any, Floats]] = [(above.row, above.col, above.data)]
    lower, upper = [plan.row_lower], [plan.row_upper]
    rule, first = columns_of(plan, again, luck), count + own * luck.number
    whole = coo_array(rule.matrix)
    parts.append((whole.row, first + whole.col, whole.data))
    seedlings = season.seedlings(again)
    for n in range(luck.number):
        kept, row, column, value = season.of(luck, n, again)
        parts.append((rows + row, column + np.where(column >= count, own * n, 0), value))
        at = rows + np.cumsum(kept)[seedlings.row] - 1
        sown = seedlings.data * luck.stand[again.sown, n] * rule.thin[:, n]
        parts.append((at[sown != 0], first + seedlings.col[sown != 0], sown[sown != 0]))
        lower.append(season.row_lower[kept])
        upper.append(season.row_upper[kept])
        rows += int(kept.sum())
    late = season.columns[season.late]
    ties = rows + np.arange(len(late))
    parts.append((ties, late, np.ones(len(late))))
    shares = np.full(len(late), -1 / luck.number)
    parts += [(ties, count + own * n + season.late, shares) for n in range(luck.number)]
    row, column, value = (np.concatenate(part) for part in zip(*parts, strict=True))
    pairs = len(again.sown)
    shape = rows + len(late), first + pairs
    nothing = np.zeros(len(late))
    return Hedge(
        replace(
            plan,
            matrix=csc_array(coo_array((value, (row, column)), shape=shape)),
            row_lower=np.concatenate([*lower, nothing]),
            row_upper=np.concatenate([*upper, nothing]),
            lower=np.concatenate(
                [plan.lower, np.tile(plan.lower[season.columns], luck.number), np.zeros(pairs)]
            ),
            upper=np.concatenate(
                [plan.upper, np.tile(plan.upper[season.columns], luck.number), np.full(pairs, np.inf)]
            ),
            cost=np.concatenate([plan.cost, np.zeros(own * luck.number), rule.cost]),
        ),
        plan,
        season,
        luck,
        again,
        rule,
        _drawing_on(program, joins, again),
    )


def _drawing_on(program: Program, joins: Mask, again: SowingAgain) -> list[int]:
    """Those of the joins that draw on waves sown again, by index."""
    sown, made = set(again.sown.tolist()), program.network.joins
    return [j for j in np.flatnonzero(joins).tolist() if sown.intersection(made[j].waves)]


def only(program: Program, compiled: Compiled, joins: Mask) -> Compiled:
    """The program in which only these joins may be made, and only waves sown that they draw on."""
    draws = {w for j in np.flatnonzero(joins).tolist() for w in program.network.joins[j].waves}
    sown = np.array([w not in draws for w in range(len(program.network.waves))], dtype=bool)
    upper = compiled.upper.copy()
    for name, out in (("joins", ~joins), ("sown", sown)):
        at = compiled.position[name][out]
        at = at[at >= 0]
        upper[at] = compiled.lower[at]
    return replace(compiled, upper=upper)

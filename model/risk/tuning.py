"""Margins tuned on simulated seasons: each order reaches its service level with a margin as small as can be.

In each round a plan is made and simulated, and the margins move by the plants that seasons lack or have over.
A margin by formula considers one order, one graft day and one wave. Simulated seasons also see plants shared
between orders, plants bought in and spare seedlings of whole trays.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import ceil

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from model.phases import Say, part_of, silent
from model.planned.plan_tables import Plan, rows_of
from model.planned.tables.declared import FLOW
from model.rates.overseeding import graft_margin, lot_margin, service_level, sowing_margins
from model.risk.batches import Floats
from model.risk.counted import WHOLE
from model.risk.simulation import Risk, simulate, wilson_interval
from model.scenario.choices import MarginPolicy
from model.scenario.entities import Scenario
from model.solve import plan_of, solve

ROUNDS = 12
"""Plans made, at most."""

SOWN_ANEW = 2
"""Rounds in which sowing margins follow the waves; later they stay, so that graft margins can settle."""

LOWERED = 5
"""Rounds in which margins may be lowered; later they are only raised, so that rounds do not repeat."""

DAMPED = 0.8
"""Share of an order's excess that a round removes: other orders of its graft days may depend on it."""

LEAST = 0.2
"""Plants, at least, by which a margin is raised."""

FINEST = 100_000
"""A tuned margin is a multiple of 1 / FINEST, so that five decimal places in a variant give it exactly."""

MOST = 9.0
"""The largest margin that the tables allow."""

REHEARSED = 3
"""Best rounds that are rehearsed, where they are."""

Again = Callable[[Scenario, Plan], tuple[int, float]]
"""Orders below their level, and the mean cost of a season in currency, where seasons are planned again."""


@dataclass(frozen=True, slots=True)
class Margins:
    """Graft margins by order and sowing margins by seed lot, both in the scenario's order, as shares."""

    graft: Floats
    sowing: Floats


@dataclass(frozen=True, slots=True)
class Bands:
    """Bands for the chance of each order, set by its level and the error of that many seasons; shares.

    ``enough``: the least chance whose whole interval lies at the level or above. ``aim``: one interval
    higher, since each new plan meets newly drawn seasons. ``much``: one interval higher again; above it, a
    margin is lowered.
    """

    enough: Floats
    aim: Floats
    much: Floats


@dataclass(frozen=True, slots=True)
class Round:
    """Margins, the plan made with them, and its seasons; ``reached``: which orders reach their level."""

    margins: Margins
    scenario: Scenario
    plan: Plan
    risk: Risk
    reached: NDArray[np.bool_]

    @property
    def below(self) -> int:
        """Number of orders that do not reach their level."""
        return int((~self.reached).sum())

    @property
    def rank(self) -> tuple[int, float]:
        """Orders below their level, then mean cost of a season: the lowest rank is the best.

        Priced margins promise no level for its own sake, so there only the cost counts.
        """
        priced = self.scenario.nursery.margin_policy is MarginPolicy.PRICED
        return 0 if priced else self.below, float(self.risk.totals["cost"].mean())


@dataclass(frozen=True, slots=True)
class Tuned:
    """The result of tuning.

    ``levels``: the level aimed at for each order. ``rounds``: all rounds; the first has the scenario's
    margins. ``chosen``: the best round. ``most``: for each order the largest margin for which there was room;
    infinite where no margin left it short in the plan.
    """

    levels: Floats
    bands: Bands
    rounds: tuple[Round, ...]
    chosen: Round
    most: Floats

    @property
    def before(self) -> Round:
        """The round with the scenario's margins."""
        return self.rounds[0]

    def remarks(self) -> list[str]:
        """For each order, why it misses its level or exceeds it by more than the seasons' error; else ''.

        The seasons are those that margins are tuned on, in which nobody plans again.
        """
        orders, chance = self.chosen.plan.orders, self.chosen.risk.orders["chance"].to_numpy()
        own, gone = orders["own"].to_numpy(dtype=float), _gone(self.chosen.plan)
        said = []
        for o, reached in enumerate(self.chosen.reached.tolist()):
            if not reached:
                said.append(self._missed(o))
            elif gone[o]:
                said.append("declined in the plan")
            elif chance[o] <= self.bands.much[o]:
                said.append("")
            elif own[o] <= WHOLE:
                said.append("all bought in")
            elif self.chosen.margins.graft[o] == 0:
                said.append("above its level without any margin")
            elif self._elsewhere(o, below=float(self.chosen.margins.graft[o])):
                said.append("reached with a smaller margin in a round that was not chosen")
            else:
                said.append("also filled by whole trays, or by plants over from other orders")
        return said

    def _missed(self, o: int) -> str:
        if float(self.chosen.plan.orders["short"].iloc[o]) > WHOLE:
            return "short in the plan, which no margin can change"
        if float(self.chosen.risk.orders["high"].iloc[o]) >= self.levels[o]:
            return "at its level within the seasons' error"
        if self.chosen.margins.graft[o] >= self.most[o] - 1 / FINEST:
            return "larger margins leave more plants short in the plan, because room or hands bind"
        if self._elsewhere(o):
            return "reached in a round that was not chosen"
        return f"not reached in {len(self.rounds)} rounds"

    def _elsewhere(self, o: int, *, below: float = np.inf) -> bool:
        """Whether a round reaches the order's level with a graft margin below this one."""
        return any(made.reached[o] and made.margins.graft[o] < below for made in self.rounds)


def tune(
    scenario: Scenario, *, seasons: int, seed: int, again: Again | None = None, progress: Say = silent
) -> Tuned:
    """Margins of every order and seed lot with which orders reach their levels in ``seasons`` seasons.

    Levels are ``order_levels``. An order reaches its level if the whole Wilson interval of its chance lies at
    the level or above, so that it should reach it in other seasons too, or if it is filled in every season.
    Plans are in whole trays. Margins that push other plants out, so that the plan and a season leave more
    short than with the scenario's own, go back halfway. Of the other rounds the chosen one has the fewest
    orders below their level, then the least mean cost of a season; where margins are priced, the least cost.
    ``again``: the ``REHEARSED`` best of these are ranked anew by what it says of them. The same scenario and
    seed give the same margins. Raises SolveError where HiGHS reaches no optimum, ValueError where ``seasons``
    is below 1.
    """
    levels = order_levels(scenario)
    bands = bands_of(levels.tolist(), seasons)
    made: list[Round] = []
    fuller: list[Round] = []
    margins, changed, most = margins_of(scenario), scenario, np.full(len(scenario.orders), np.inf)
    while len(made) < ROUNDS:
        label = f"margins, round {len(made) + 1} of at most {ROUNDS}"
        progress(label)
        made.append(_round(changed, margins, bands, seasons, seed, part_of(label, progress)))
        before, n = margins, len(made)
        most = _room(made[-1], most)
        fuller = [other for other in made if not _pushed_out(made[0], other)]
        if made[-1] is not fuller[-1]:
            margins = _halfway(made[-1].margins, fuller[-1].margins)
        else:
            margins = _moved(made[-1], bands, most, lower=n <= LOWERED)
            if n <= SOWN_ANEW:
                margins = replace(margins, sowing=_sown(made[-1], levels))
        if _same(margins, before):
            break
        changed = with_margins(scenario, margins)
    return Tuned(levels, bands, tuple(made), _chosen(fuller, again), most)


def _chosen(rounds: Sequence[Round], again: Again | None) -> Round:
    """The round of the lowest rank; of several such the first."""
    best = sorted(rounds, key=lambda other: other.rank)
    if again is None:
        return best[0]

    def rank(made: Round) -> tuple[int, float]:
        below, cost = again(made.scenario, made.plan)
        return 0 if made.scenario.nursery.margin_policy is MarginPolicy.PRICED else below, cost

    return min(best[:REHEARSED], key=rank)


def order_levels(scenario: Scenario) -> Floats:
    """Service level aimed at for each order, a share.

    It is ``model.rates.overseeding.service_level``. Fixed margins promise no level; then it is the order's
    own or the nursery's.
    """
    products = {product.product: product for product in scenario.products}
    return np.array(
        [service_level(order, products[order.product], scenario.nursery) for order in scenario.orders]
    )


def margins_of(scenario: Scenario) -> Margins:
    """The scenario's margins: those of its orders and lots, or else those of its policies."""
    products = {product.product: product for product in scenario.products}
    methods = {method.method: method for method in scenario.methods}
    sowing = sowing_margins(scenario)
    graft = []
    for order in scenario.orders:
        product = products[order.product]
        graft.append(graft_margin(order, product, methods[product.method], scenario.nursery))
    return Margins(np.array(graft), np.array([sowing[lot.lot] for lot in scenario.seed_lots]))


def with_margins(scenario: Scenario, margins: Margins) -> Scenario:
    """The scenario with these margins written into its orders and seed lots."""
    orders = zip(scenario.orders, margins.graft.tolist(), strict=True)
    lots = zip(scenario.seed_lots, margins.sowing.tolist(), strict=True)
    return replace(
        scenario,
        orders=tuple(replace(order, graft_margin=margin) for order, margin in orders),
        seed_lots=tuple(replace(lot, sowing_margin=margin) for lot, margin in lots),
    )


def least_chance(level: float, seasons: int) -> float:
    """Least share of the seasons whose Wilson interval lies at ``level`` or above; 1 if no share does."""
    low, high = 0, seasons
    while low < high:
        middle = (low + high) // 2
        if wilson_interval(middle, seasons)[0] >= level:
            high = middle
        else:
            low = middle + 1
    return low / seasons


def bands_of(levels: Sequence[float], seasons: int) -> Bands:
    """The bands of orders with these levels; raises ValueError where ``seasons`` is below 1."""
    if seasons < 1:
        raise ValueError("seasons must be at least 1")
    bands, at = [], list(levels)
    for _ in range(3):
        at = [least_chance(level, seasons) for level in at]
        bands.append(np.array(at))
    return Bands(*bands)


def step(
    chance: float, short: Floats, spread: float, band: tuple[float, float, float], *, lower: bool
) -> float:
    """Plants by which an order's margin moves.

    ``chance`` is compared with the order's ``band`` (enough, aim, much). Below enough: the extra plants with
    which the order would have been filled in a share ``aim`` of the seasons, ``short`` being its plants short
    by season. Above much, where margins may be lowered: the damped Newton step (Φ⁻¹(chance) − Φ⁻¹(aim)) ·
    ``spread``, the standard deviation of its plants.
    """
    enough, aim, much = band
    if chance < enough:
        return max(float(np.quantile(short, aim, method="inverted_cdf")), LEAST)
    if not lower or chance <= much:
        return 0.0
    most = 1 - 0.5 / len(short)
    return -DAMPED * spread * float(ndtri(min(chance, most)) - ndtri(min(aim, most)))


def _round(
    scenario: Scenario, margins: Margins, bands: Bands, seasons: int, seed: int, progress: Say
) -> Round:
    plan = plan_of(solve(scenario, progress=progress), progress=progress)
    risk = simulate(scenario, plan, seasons=seasons, seed=seed, progress=progress)
    enough = risk.orders["chance"].to_numpy() >= bands.enough
    return Round(margins, scenario, plan, risk, enough | _gone(plan))


def _gone(plan: Plan) -> NDArray[np.bool_]:
    """Whether the plan declines each order entirely."""
    gone: NDArray[np.bool_] = (plan.orders["quantity"] - plan.orders["declined"]).to_numpy(float) <= WHOLE
    return gone


def _room(made: Round, most: Floats) -> Floats:
    """The largest margin of each order for which there is room, as far as the rounds tell.

    An order short in the plan has no room for its margin: it could grow the same plants with as much less
    margin as the plan leaves short. A plant in hand is worth more than one to spare.
    """
    own, short = (made.plan.orders[name].to_numpy(dtype=float) for name in ("own", "short"))
    scarce = (own > WHOLE) & (short > WHOLE)
    fits = most.copy()
    grown = own[scarce] * (1 + made.margins.graft[scarce])
    fits[scarce] = np.floor(np.maximum(0.0, grown / (own[scarce] + short[scarce]) - 1) * FINEST) / FINEST
    return np.minimum(most, fits)


def _moved(made: Round, bands: Bands, most: Floats, *, lower: bool) -> Margins:
    """Each margin moved by its order's step, at most to ``most``; those of orders all bought in stay."""
    own, short = (made.plan.orders[name].to_numpy(dtype=float) for name in ("own", "short"))
    chance, spread = made.risk.orders["chance"].to_numpy(), _spread(made)
    graft = made.margins.graft.copy()
    for o in np.flatnonzero((own > WHOLE) & (short <= WHOLE)):
        band = float(bands.enough[o]), float(bands.aim[o]), float(bands.much[o])
        plants = step(float(chance[o]), made.risk.short[o], float(spread[o]), band, lower=lower)
        graft[o] = max(0.0, graft[o] + plants / own[o])
    moved = np.array([_written(margin) for margin in graft.tolist()])
    return replace(made.margins, graft=np.minimum(moved, most))


def _spread(made: Round) -> Floats:
    """Standard deviation, over the seasons, of each order's share of the plants of its flows."""
    flows, deliveries = made.plan.flows, made.plan.deliveries
    flow = {key: f for f, key in enumerate(rows_of(flows, *FLOW))}
    at = {order: o for o, order in enumerate(made.plan.orders["order"])}
    parts = np.zeros((len(at), made.risk.seasons))
    finished = flows["finished"].to_numpy(dtype=float)
    own = deliveries[deliveries["source"] == "own"]
    for order, *named, plants, more in rows_of(own, "order", *FLOW, "plants", "margin_plants"):
        f = flow[tuple(named)]
        parts[at[order]] += made.risk.finished[f] * ((plants + more) / finished[f])
    spread: Floats = parts.std(axis=1)
    return spread


def _sown(made: Round, levels: Floats) -> Floats:
    """Sowing margins for each lot's usual wave, at the highest level among the orders that use the lot.

    The usual wave: sort the lot's waves by seedlings drawn, smallest first; it is the one that brings their
    sum to half. A smaller wave needs a larger margin, but lacks few plants, which whole trays or graft
    margins supply at less cost than more seed in every wave. A lot keeps its margin if no seedling is drawn
    from it, or if it varies so much that no number of seeds is enough.
    """
    scenario, waves = made.scenario, made.plan.waves
    products = {product.product: product for product in scenario.products}
    highest: dict[str, float] = {}
    for order, level in zip(scenario.orders, levels.tolist(), strict=True):
        for variety in filter(None, (products[order.product].scion, products[order.product].rootstock)):
            highest[variety] = max(highest.get(variety, 0.0), level)
    sowing = made.margins.sowing.copy()
    for n, lot in enumerate(scenario.seed_lots):
        drawn = np.sort(waves.loc[waves["lot"] == lot.lot, "drawn"].to_numpy(dtype=float))
        if drawn.sum() < 1 or lot.variety not in highest:
            continue
        usual = drawn[np.searchsorted(drawn.cumsum(), drawn.sum() / 2)]
        try:
            sowing[n] = _written(lot_margin(lot, max(1, round(usual)), highest[lot.variety]))
        except ValueError:
            continue
    return sowing


def _written(margin: float) -> float:
    """The margin as a variant writes it: rounded up, at most ``MOST``."""
    return min(ceil(margin * FINEST - WHOLE) / FINEST, MOST)


def _pushed_out(before: Round, after: Round) -> bool:
    """Whether margins leave more plants short in the plan and in a season, as room or hands bind."""
    seasons = [float(made.risk.totals["short"].mean()) for made in (before, after)]
    return after.plan.short > before.plan.short + WHOLE and seasons[1] > seasons[0] + WHOLE


def _halfway(margins: Margins, back: Margins) -> Margins:
    graft = [_written(margin) for margin in (margins.graft + back.graft) / 2]
    sowing = [_written(margin) for margin in (margins.sowing + back.sowing) / 2]
    return Margins(np.array(graft), np.array(sowing))


def _same(margins: Margins, others: Margins) -> bool:
    return np.array_equal(margins.graft, others.graft) and np.array_equal(margins.sowing, others.sowing)

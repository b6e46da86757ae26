"""Plans side by side, each in the same other seasons: simulated, and rehearsed where that is asked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from model.phases import Say, part_of, silent
from model.planned.plan_tables import Plan
from model.rehearsal.rehearsed import Rehearsed
from model.risk.batches import Floats
from model.risk.simulation import Risk, simulate, wilson_interval
from model.scenario.entities import Scenario
from model.solve import Solved, plan_of, solve
from reports.book.words import percent, with_penalties
from reports.book.writing import grouped
from scenarios.rehearsing.drawn_seasons import BELOW, verdicts
from scenarios.rehearsing.rehearsed_seasons import rehearsed_seasons
from scenarios.rehearsing.season_costs import SeasonCosts

PLAIN = (0.01, 0.03, 0.06, 0.12)
"""Plain graft margins of all orders that are tried."""

FILLED = 1e-6
"""An order with no more plants short than this is filled."""


@dataclass(frozen=True, slots=True)
class OtherSeasons:
    """The seasons that all plans live: how many, drawn from which seed, and the orders' levels (NaN: none).

    ``rehearse``: so many of them, the first, are rehearsed too, by ``workers`` processes.
    """

    number: int
    seed: int
    levels: Sequence[float]
    rehearse: int = 0
    workers: int = 1


@dataclass(frozen=True, slots=True)
class LivedPlan:
    """A plan, the seasons lived through it, and in words each order's chance there against its level.

    ``rehearsed``: the seasons rehearsed; None where none are. ``inside``: for a plan made for some seasons,
    their mean cost in it, in currency.
    """

    name: str
    plan: Plan
    risk: Risk
    levels: Sequence[float]
    said: list[str]
    rehearsed: Rehearsed | None
    inside: float | None = None

    def mean(self, figure: str) -> float:
        """Mean of a figure over the seasons."""
        return float(self.risk.totals[figure].mean())

    @property
    def costs(self) -> Floats:
        """Cost of each season, in currency."""
        costs: Floats = self.risk.totals["cost"].to_numpy(dtype=float)
        return costs

    @property
    def below(self) -> int:
        """Orders below their level."""
        return sum(words.startswith(BELOW) for words in self.said)

    @property
    def below_rehearsed(self) -> int | None:
        """Orders below their level where seasons are planned again; None where none are."""
        if self.rehearsed is None:
            return None
        seasons = self.rehearsed.short.shape[1]
        filled = (self.rehearsed.short <= FILLED).sum(axis=1).tolist()
        highs = [wilson_interval(int(n), seasons)[1] for n in filled]
        declined = self.plan.orders["quantity"].to_numpy() <= self.plan.orders["declined"].to_numpy() + FILLED
        return sum(
            high < level and not left
            for high, level, left in zip(highs, self.levels, declined.tolist(), strict=True)
        )

    def mean_rehearsed(self, figure: str) -> float | None:
        """Mean over the rehearsed seasons: ``cost``, ``penalties``, or plants ``short`` or ``late``."""
        if self.rehearsed is None:
            return None
        if figure in self.rehearsed.totals:
            return float(self.rehearsed.totals[figure].mean())
        plants: Floats = getattr(self.rehearsed, figure)
        return float(plants.sum(axis=0).mean())

    @property
    def season_costs(self) -> SeasonCosts:
        """Costs of all seasons, and of those rehearsed; where none are, of all again."""
        return self._seasons("cost")

    @property
    def season_penalties(self) -> float:
        """Penalties in their mean, carried over to all seasons likewise; in currency."""
        return max(0.0, self._seasons("penalties").mean)

    def _seasons(self, figure: str) -> SeasonCosts:
        simulated: Floats = self.risk.totals[figure].to_numpy(dtype=float)
        again = self.rehearsed
        return SeasonCosts(simulated, simulated if again is None else again.totals[figure].to_numpy(float))

    @property
    def rank(self) -> tuple[int, float]:
        """Orders below their level, then the mean cost of a season; by rehearsed seasons, if there are."""
        below = self.below_rehearsed
        return self.below if below is None else below, self.season_costs.mean

    def season(self, money: str) -> str:
        """Mean cost of a season in words, with and without penalties."""
        return with_penalties(self.mean("cost"), self.mean("penalties"), money)

    def season_rehearsed(self, money: str) -> str:
        """The same rehearsed, carried over to all seasons."""
        return with_penalties(self.season_costs.mean, self.season_penalties, money)


def lived(
    name: str,
    scenario: Scenario,
    seasons: OtherSeasons,
    *,
    plan: Plan | None = None,
    solved: Solved | None = None,
    progress: Say = silent,
) -> LivedPlan:
    """A plan of ``scenario`` in the seasons; ``plan``, of ``solved``: None for the plan of least cost.

    Raises SolveError where HiGHS reaches no optimum.
    """
    told = part_of(name, progress)
    if solved is None and (plan is None or seasons.rehearse):
        solved = solve(scenario, progress=told)
    if plan is None:
        assert solved is not None
        plan = plan_of(solved, progress=told)
    told(f"{grouped(seasons.number)} other seasons")
    number, seed = seasons.number, seasons.seed
    risk = simulate(scenario, plan, seasons=number, seed=seed, progress=told)
    again = None
    if solved is not None and seasons.rehearse:
        again = rehearsed_seasons(
            solved,
            plan,
            seasons.rehearse,
            seasons=number,
            seed=seed,
            workers=seasons.workers,
            progress=told,
        )
    return LivedPlan(name, plan, risk, seasons.levels, verdicts(plan, risk, seasons.levels), again)


def plain_at_its_best(scenario: Scenario, seasons: OtherSeasons, progress: Say = silent) -> LivedPlan:
    """The plain graft margin of ``PLAIN`` that keeps most levels in the seasons, then costs least.

    So chance is on its side. Raises SolveError where HiGHS reaches no optimum.
    """
    cases = [
        lived(f"plain margin of {percent(size)}", plain(scenario, size), seasons, progress=progress)
        for size in PLAIN
    ]
    return min(cases, key=lambda case: case.rank)


def plain(scenario: Scenario, size: float) -> Scenario:
    """The scenario with one graft margin for all orders; sowing margins stay."""
    return replace(scenario, orders=tuple(replace(order, graft_margin=size) for order in scenario.orders))

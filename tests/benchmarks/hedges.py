"""Hedged plans of the demo against plain margins, in rehearsed seasons that none of them was made for.

`python -m tests.benchmarks.hedges FOLDER` is run by hand and is not a test. Each plan is made once and kept
in the folder. All plans are rehearsed in the same numbered seasons; each season is written to the plan's file
as soon as it is lived. So a run may be stopped, and the next one in that folder goes on.
"""

from __future__ import annotations

import argparse
import csv
import pickle
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import product
from math import isclose
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from scipy.stats import binomtest

from model.hedging.hedged_plan import hedged
from model.network.expansion import expand
from model.planned.plan_tables import Plan
from model.program.build import build
from model.rehearsal.rehearsed import Rehearsal
from model.risk.batches import Floats, Seasons
from model.risk.simulation import simulate
from model.risk.tuning import order_levels
from model.scenario.choices import MarginPolicy, Strikes
from model.scenario.entities import Scenario
from model.solve import plan_of, solve
from model.solver.compiled import compile_program
from scenarios.rehearsing.lived_plans import FILLED, plain
from scenarios.rehearsing.season_costs import SeasonCosts, difference
from scenarios.solves.parallel import run_all
from scenarios.variants.by_name import read

DRAWN = Seasons(10_000, 2000)
"""The seasons that judge: all are simulated, the first of them rehearsed. No hedge is made from this seed."""

OVER = 100
"""Seasons that a hedge is made for."""

CHANCE, LOST = 0.01, 0.7
"""Chance that a graft day goes wrong, and the share of its plants that is then lost."""

PIECE = 20
"""Seasons of a plan that a process lives before it takes those of the next plan: all plans grow evenly."""

PLAIN, HEDGE, LEVELS = "plain", "hedge", "levels"
"""A graft margin of all orders; a hedge that promises no level; a hedge that keeps levels."""

DOUBT = 0.05
"""An order is surely below its level where the exact two-sided interval of its chance, at 1 − this, is."""


@dataclass(frozen=True, slots=True)
class Case:
    """A plan compared. ``penalty``: what a plant short costs; ``size``: the margin, or the hedge's seed."""

    penalty: float
    kind: str
    size: float

    @property
    def name(self) -> str:
        """Its name in the folder."""
        return f"{self.penalty:g}-{self.kind}-{self.size:g}"

    def file(self, folder: Path, kind: str) -> Path:
        """One of its files: the plan, or seasons simulated or rehearsed."""
        return folder / f"{self.name}.{kind}"


@dataclass(frozen=True, slots=True)
class Kept:
    """A plan as it is kept; ``columns``: its values in the compiled program."""

    scenario: Scenario
    columns: Floats
    plan: Plan


def nursery(penalty: float) -> Scenario:
    """The demo with its correlations, where a graft day may go wrong and nothing else."""
    demo = read("hollow_ash")
    mishaps = [mishap for mishap in demo.mishaps if mishap.strikes is Strikes.GRAFT_DAY]
    return replace(
        demo,
        nursery=replace(demo.nursery, shortfall_penalty=penalty),
        mishaps=tuple(replace(mishap, chance=CHANCE, share_lost=LOST) for mishap in mishaps),
    )


def make(asked: tuple[Path, Case]) -> None:
    """Make a plan and simulate all seasons with it, unless it is kept already."""
    folder, case = asked
    if case.file(folder, "plan").exists():
        return
    scenario = nursery(case.penalty)
    if case.kind == PLAIN:
        solved = solve(plain(scenario, case.size))
    else:
        policy = MarginPolicy.LEVEL if case.kind == LEVELS else MarginPolicy.FIXED
        scenario = replace(scenario, nursery=replace(scenario.nursery, margin_policy=policy))
        solved = hedged(scenario, seasons=OVER, seed=int(case.size)).solved
    scenario, plan = solved.program.network.scenario, plan_of(solved)
    risk = simulate(scenario, plan, seasons=DRAWN.number, seed=DRAWN.seed)
    lived = risk.totals[["cost", "penalties"]].assign(cpu=0.0)
    short = pd.DataFrame(risk.short.T, columns=[order.order for order in scenario.orders])
    pd.concat([lived, short], axis=1).round(6).to_csv(
        case.file(folder, "simulated.csv"), index_label="season"
    )
    case.file(folder, "rehearsed.csv").write_text(
        ",".join(["season", "cost", "penalties", "cpu", *short.columns]) + "\n", encoding="utf-8"
    )
    kept = pickle.dumps(Kept(scenario, solved.solution.columns, plan))
    case.file(folder, "plan").write_bytes(kept)


@cache
def rehearsal(folder: Path, case: Case) -> Rehearsal:
    """The rehearsal of a kept plan, made once in a process."""
    kept: Kept = pickle.loads(case.file(folder, "plan").read_bytes())
    program = build(expand(kept.scenario))
    compiled = compile_program(program)
    fits = len(compiled.cost) == len(kept.columns)
    if not fits or not isclose(compiled.cost @ kept.columns + compiled.offset, kept.plan.facts.objective):
        raise ValueError(f"{case.name} was planned by another version of the program; take a new folder")
    return Rehearsal(program, compiled, kept.columns, kept.plan, DRAWN)


def live(asked: tuple[Path, Case, Sequence[int]]) -> None:
    """Rehearse seasons of a plan; each is added to the plan's file once it is lived."""
    folder, case, numbers = asked
    of = rehearsal(folder, case)
    for n in numbers:
        since = time.process_time()
        found = of.seasons([n])
        took = time.process_time() - since
        totals = found.totals[["cost", "penalties"]].iloc[0].tolist()
        row = [n, *(round(amount, 6) for amount in (*totals, took, *found.short[:, 0].tolist()))]
        with case.file(folder, "rehearsed.csv").open("a", newline="", encoding="utf-8") as file:
            csv.writer(file, lineterminator="\n").writerow(row)


def pieces(folder: Path, cases: Sequence[Case], seasons: int) -> Iterator[tuple[Path, Case, Sequence[int]]]:
    """What is left to rehearse, a few seasons of each plan in turn."""
    done = {case: set(seasons_of(folder, case, "rehearsed.csv").index) for case in cases}
    for start, case in product(range(0, seasons, PIECE), cases):
        left = [n for n in range(start, min(start + PIECE, seasons)) if n not in done[case]]
        if left:
            yield folder, case, left


def seasons_of(folder: Path, case: Case, kind: str) -> pd.DataFrame:
    """Costs and plants short by order of a plan's seasons, by their numbers."""
    return pd.read_csv(case.file(folder, kind), index_col="season").sort_index()


def below(found: pd.DataFrame, levels: Floats) -> int:
    """Orders surely below their level in these seasons (Clopper and Pearson 1934)."""
    filled = (found.iloc[:, 3:] <= FILLED).sum().tolist()
    tests = [binomtest(int(n), len(found)).proportion_ci(1 - DOUBT, "exact") for n in filled]
    return sum(interval.high < level for interval, level in zip(tests, levels.tolist(), strict=True))


Costs = tuple["pd.Series[float]", "pd.Series[float]"]
"""Costs of the seasons simulated, and of those rehearsed, by their numbers."""


def season_costs(costs: Costs, among: pd.Index[Any]) -> SeasonCosts:
    """The costs, of the seasons rehearsed those ``among`` these numbers alone; they stand first."""
    simulated, again = costs
    rest = simulated.index.difference(among)
    ordered = np.concatenate([simulated[among].to_numpy(), simulated[rest].to_numpy()])
    return SeasonCosts(np.asarray(ordered, dtype=float), np.asarray(again[among], dtype=float))


def paired(one: Costs, other: Costs) -> tuple[int, float, float, float, float]:
    """Seasons that both lived; what the second costs more; its error; both corrected by simulated seasons."""
    both = one[1].index.intersection(other[1].index)
    more = (other[1][both] - one[1][both]).to_numpy()
    error = float(more.std(ddof=1) / len(more) ** 0.5)
    corrected = difference(season_costs(other, both), season_costs(one, both))
    return len(both), float(more.mean()), error, *corrected


def summary(folder: Path) -> str:
    """What all plans of the folder cost, and what plain margins cost more than hedges, as tables."""
    names = sorted(file.name.removesuffix(".rehearsed.csv") for file in folder.glob("*.rehearsed.csv"))
    split = [name.split("-") for name in names]
    cases = [Case(float(penalty), kind, float(size)) for penalty, kind, size in split]
    levels = order_levels(nursery(0.0))
    costs: dict[tuple[float, str, str], Costs] = {}
    plans: list[list[Any]] = []
    for case in sorted(cases, key=lambda case: (-case.penalty, case.kind, case.size)):
        simulated, again = (seasons_of(folder, case, f"{kind}.csv") for kind in ("simulated", "rehearsed"))
        if len(again) < 2:
            continue
        own = costs[case.penalty, case.kind, f"{case.size:g}"] = simulated["cost"], again["cost"]
        told = [again["cost"].mean(), again["cost"].sem(), season_costs(own, again.index).mean]
        told += [again["penalties"].mean(), below(again, levels), again["cpu"].mean()]
        told += [simulated["cost"].mean(), simulated["cost"].sem(), below(simulated, levels)]
        plans.append([case.name, len(again), *told])
    for penalty, kind in {key[:2] for key in costs if key[1] != PLAIN}:
        of = [costs[key] for key in costs if key[:2] == (penalty, kind)]
        simulated, again = (
            pd.concat(side, axis=1, join="inner").mean(axis=1) for side in zip(*of, strict=True)
        )
        costs[penalty, kind, "mean of seeds"] = simulated, again
    pairs = [
        [f"{one[0]:g}", f"{one[1]} {one[2]}", f"{other[1]} {other[2]}", *paired(costs[one], costs[other])]
        for one, other in product(costs, costs)
        if one[0] == other[0] and one[1] != PLAIN and other[1] == PLAIN
    ]
    lines = [
        [
            *("plan", "seasons", "cost", "error", "corrected", "penalties", "below", "cpu"),
            *("simulated", "error", "below"),
        ],
        *plans,
        [],
        ["penalty", "plan", "against", "seasons", "saves", "error", "saves, corrected", "error"],
        *pairs,
    ]
    return "\n".join(
        " | ".join(f"{cell:,.2f}" if isinstance(cell, float) else str(cell) for cell in row) for row in lines
    )


def main(arguments: list[str]) -> int:
    """Make the plans asked for, rehearse what is left of their seasons, and tell what all plans cost."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.hedges", description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--penalties", type=float, nargs="*", default=[25.0, 5.0])
    parser.add_argument("--margins", type=float, nargs="*", default=[0.03, 0.06, 0.12, 0.18])
    parser.add_argument("--hedges", type=int, nargs="*", default=[1, 2, 3], help="seeds; no level promised")
    parser.add_argument("--levels", type=int, nargs="*", default=[], help="seeds of hedges that keep levels")
    parser.add_argument("--seasons", type=int, default=1000, help="seasons rehearsed; 0: only tell")
    parser.add_argument("--workers", type=int, default=1)
    asked = parser.parse_args(arguments)
    sizes = {PLAIN: asked.margins, HEDGE: asked.hedges, LEVELS: asked.levels}
    if asked.seasons:
        asked.folder.mkdir(parents=True, exist_ok=True)
        cases = [Case(p, kind, size) for p in asked.penalties for kind in sizes for size in sizes[kind]]
        say = lambda words: print(words, file=sys.stderr)  # noqa: E731
        run_all(make, [(asked.folder, case) for case in cases], asked.workers, "plans", say)
        run_all(live, list(pieces(asked.folder, cases, asked.seasons)), asked.workers, "pieces", say)
    print(summary(asked.folder))
    return 0


if __name__ == "__main__":
    from tests.benchmarks import hedges  # other processes know what they run by this name

    sys.exit(hedges.main(sys.argv[1:]))

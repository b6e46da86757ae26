"""The demo's hedge over several processes, by mpi-sppy: a benchmark, not a test.

`mpiexec -n 2 python -m tests.benchmarks.hedge_over_processes METHOD SEASONS ROUNDS` prints as JSON the cost
of the hedge solved as one linear program, and the bound and cost that the method reaches: `hedging`
(progressive hedging), `subgradient` or `lshaped`. It needs an MPI and `pip install '.[mpi]'`. With
`one SEASONS ORDERS` it solves the hedge of a book of so many orders as one program, for its time and memory.

mpi-sppy knows decisions made once and a program for each season. The ties m = Σ_n m_n / N of the plan's means
are neither, so they are priced: of the cost c · m the plan pays the share ``TIED``, and the seasons pay the
rest as c · m_n. This is a Lagrangian relaxation, so a bound of it is a bound of the hedge.
"""

from __future__ import annotations

import json
import resource
import sys
import time
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pyomo.environ as pyo
from mpi4py import MPI
from mpisppy.opt.lshaped import LShapedMethod
from mpisppy.opt.ph import PH
from mpisppy.opt.subgradient import Subgradient
from mpisppy.utils.sputils import attach_root_node
from pyomo.core.expr import LinearExpression
from scipy.sparse import coo_array, csr_array

from model.hedging.candidates import joins_of_a_few_plans
from model.hedging.extensive import Hedge, hedge_program
from model.hedging.hedged_plan import USED, without_margins
from model.hedging.sampled import sampled
from model.hedging.sown_again import NO_SOWING_AGAIN
from model.network.expansion import expand
from model.program.build import build
from model.risk.batches import Floats
from model.solver.compiled import compile_program, run, run_interior, solver
from scenarios.variants.by_name import read
from tests.benchmarks.books import book
from tests.benchmarks.run import SIZES

TIED = 0.01
"""Share of the price of the seasons' means that the plan pays."""

SEED = 1

SOLVER = "highs"

WORTH, TRAY = 0.2, 100
"""Worth of a join in USD, and joins of a tray: the weight ρ of progressive hedging for a decision is what it
is worth over its size in the plan of least cost, or over a tray if that is more."""


@dataclass(frozen=True)
class Block:
    """Rows lower ≤ A · v ≤ upper, bounds and cost of the columns v."""

    matrix: csr_array
    row_lower: Floats
    row_upper: Floats
    lower: Floats
    upper: Floats
    cost: Floats


class Rooted(LShapedMethod):
    """The L-shaped method whose root holds the plan.

    mpi-sppy could hold it with a season in the root, but version 0.14 then fails on more than one process.
    """

    def __init__(self, seasons: Seasons, options: dict[str, Any]) -> None:
        self.seasons = seasons
        super().__init__(options, seasons.names, seasons.model)

    def _create_root_no_scenarios(self) -> None:
        super()._create_root_no_scenarios()
        self.seasons.add_plan(self.root, self.root.obj)


class Seasons:
    """The hedge of a book, no level promised, and its seasons as Pyomo models; 0 orders: the demo."""

    def __init__(self, number: int, orders: int, *, plan_in_all: bool) -> None:
        scenario = book(orders, *SIZES[orders], seed=1) if orders else read("hollow_ash")
        program = build(expand(without_margins(scenario)))
        compiled = compile_program(program)
        least = run(solver(compiled))
        most = joins_of_a_few_plans(program, compiled, least)
        luck = sampled(program.network, most.tolist(), number, SEED)
        self.hedge: Hedge = hedge_program(program, compiled, most > USED, luck)
        self.least, self.plan_in_all = least.columns, plan_in_all
        self.names = [f"season{n}" for n in range(number)]
        plan, season = self.hedge.plan, self.hedge.season
        self.free = plan.upper > plan.lower
        inside = season.matrix.col[season.matrix.col < len(plan.cost)]
        self.shared = np.unique(inside[self.free[inside]])
        self.plan = self._plan()

    def _plan(self) -> Block:
        plan, cost = self.hedge.plan, self.hedge.plan.cost.copy()
        cost[self._means] *= TIED
        return Block(csr_array(plan.matrix), plan.row_lower, plan.row_upper, plan.lower, plan.upper, cost)

    @property
    def _means(self) -> Any:
        return self.hedge.season.columns[self.hedge.season.late]

    def _season(self, n: int) -> Block:
        plan, season = self.hedge.plan, self.hedge.season
        kept, row, column, value = season.of(self.hedge.luck, n, NO_SOWING_AGAIN)
        count, own = len(plan.cost), len(season.columns)
        cost = np.zeros(count + own)
        cost[count + season.late] = (1 - TIED) * plan.cost[self._means]
        return Block(
            csr_array(coo_array((value, (row, column)), shape=(int(kept.sum()), count + own))),
            season.row_lower[kept],
            season.row_upper[kept],
            np.append(plan.lower, plan.lower[season.columns]),
            np.append(plan.upper, plan.upper[season.columns]),
            cost,
        )

    def model(self, name: str) -> pyo.ConcreteModel:
        """A season's program, with the rows of the plan or without."""
        plan, season = self.hedge.plan, self._season(self.names.index(name))
        count = len(plan.cost)
        model = pyo.ConcreteModel(name)
        model.shared = pyo.Var(range(len(self.shared)))
        columns = dict(zip(self.shared.tolist(), model.shared.values(), strict=True))
        for at, variable in columns.items():
            variable.setlb(plan.lower[at])
            variable.setub(None if np.isinf(plan.upper[at]) else plan.upper[at])
        terms = [(self.plan.cost[at], variable) for at, variable in columns.items()]
        self._add(model, "season", season, columns, range(count, count + len(self.hedge.season.columns)))
        terms += [(season.cost[at], variable) for at, variable in model.season.items()]
        model.cost = pyo.Objective(expr=_sum(terms))
        if self.plan_in_all:
            self.add_plan(model, model.cost)
        attach_root_node(model, 0.0, [model.shared])
        return model

    def add_plan(self, model: pyo.ConcreteModel, objective: Any) -> None:
        """Add the plan's rows, its columns that no season has, and their cost to a model with the others."""
        own = np.setdiff1d(np.flatnonzero(self.free), self.shared).tolist()
        columns = dict(zip(self.shared.tolist(), model.shared.values(), strict=True))
        self._add(model, "plan", self.plan, columns, own)
        fixed = float(self.plan.cost[~self.free] @ self.plan.lower[~self.free]) + self.hedge.plan.offset
        objective.expr += _sum([(self.plan.cost[at], v) for at, v in model.plan.items()]) + fixed

    @staticmethod
    def _add(model: pyo.ConcreteModel, name: str, block: Block, columns: dict[int, Any], own: Any) -> None:
        """Add the block's ``own`` columns and all its rows; columns that are neither are fixed."""
        columns = dict(columns)
        model.add_component(name, pyo.Var(own))
        model.add_component(f"{name}_rows", pyo.ConstraintList())
        for at, variable in getattr(model, name).items():
            variable.setlb(block.lower[at])
            variable.setub(None if np.isinf(block.upper[at]) else block.upper[at])
            columns[at] = variable
        matrix, rows = block.matrix, getattr(model, f"{name}_rows")
        for row, (lower, upper) in enumerate(zip(block.row_lower, block.row_upper, strict=True)):
            inside = slice(matrix.indptr[row], matrix.indptr[row + 1])
            terms, given = [], 0.0
            for at, value in zip(matrix.indices[inside].tolist(), matrix.data[inside].tolist(), strict=True):
                if at in columns:
                    terms.append((value, columns[at]))
                else:
                    given += value * block.lower[at]
            if not terms:
                continue
            if lower == upper:
                rows.add(_sum(terms) == lower - given)
            else:
                ends = [None if np.isinf(end) else end - given for end in (lower, upper)]
                rows.add((ends[0], _sum(terms), ends[1]))

    def weights(self, model: pyo.ConcreteModel) -> list[tuple[int, float]]:
        """ρ of progressive hedging for each decision."""
        trays = np.isin(self.shared, self.hedge.plan.columns(("sown",)))
        each = np.where(trays, TRAY, 1.0)
        weights = WORTH * each / np.maximum(np.abs(self.least[self.shared]), TRAY / each)
        return [(id(v), float(w)) for v, w in zip(model.shared.values(), weights, strict=True)]

    def cost(self, values: Floats) -> float:
        """Mean cost of a season where the decisions have these values. Raises SolveError where none may."""
        compiled = self.hedge.compiled
        lower, upper = compiled.lower.copy(), compiled.upper.copy()
        lower[self.shared] = np.maximum(lower[self.shared], values - 1e-4)
        upper[self.shared] = np.minimum(upper[self.shared], values + 1e-4)
        return run_interior(replace(compiled, lower=lower, upper=upper)).objective


def _sum(terms: list[tuple[float, Any]]) -> Any:
    return LinearExpression(linear_coefs=[c for c, _ in terms], linear_vars=[v for _, v in terms])


def hedging(seasons: Seasons, rounds: int) -> tuple[float, Floats]:
    """Best bound and mean decisions of progressive hedging, its proximal terms made linear."""
    engine = PH(_options(rounds), seasons.names, seasons.model, rho_setter=seasons.weights)
    _, _, first = engine.ph_main(finalize=False)
    engine._disable_prox()
    engine.solve_loop()
    return max(first, engine.Ebound()), _mean(engine)


def subgradient(seasons: Seasons, rounds: int) -> tuple[float, Floats]:
    """Best bound and mean decisions of the subgradient method."""
    engine = Subgradient(_options(rounds), seasons.names, seasons.model, rho_setter=seasons.weights)
    _, _, first = engine.subgradient_main(finalize=False)
    return max(first, engine.best_bound_obj_val), _mean(engine)


def _options(rounds: int) -> dict[str, Any]:
    return {
        "solver_name": SOLVER,
        "PHIterLimit": rounds,
        "defaultPHrho": 1.0,
        "convthresh": 1e-6,
        "verbose": False,
        "display_progress": True,
        "linearize_proximal_terms": True,
        "proximal_linearization_tolerance": 1e-2,
        "toc": False,
    }


def _mean(engine: Any) -> Floats:
    model = next(iter(engine.local_scenarios.values()))
    means, decisions = model._mpisppy_model.xbars, model._mpisppy_data.nonant_indices
    return _in_order({variable.name: pyo.value(means[at]) for at, variable in decisions.items()})


def _in_order(found: dict[str, float]) -> Floats:
    """Values of the decisions as ``Seasons.shared`` has them; mpi-sppy sorts its own list by name.

    Names are such as shared[3], in quotation marks where a process only keeps values for the first one.
    """
    values = {int(name.strip("'")[len("shared[") : -1]): value for name, value in found.items()}
    return np.array([values[n] for n in range(len(values))])


def lshaped(seasons: Seasons, rounds: int) -> tuple[float, Floats]:
    """Bound and decisions of the L-shaped method, whose root holds the plan."""
    options = {
        "root_solver": SOLVER,
        "sp_solver": SOLVER,
        "max_iter": rounds,
        "tol": 1e-3,
        "valid_eta_lb": dict.fromkeys(seasons.names, 0.0),  # on the demo no season earns anything
        "toc": False,
    }
    engine = Rooted(seasons, options)
    engine.lshaped_algorithm()
    return engine._LShaped_bound, _in_order({v.name: v.value for v in engine.root_vars})


METHODS = {"hedging": hedging, "subgradient": subgradient, "lshaped": lshaped}


def main(arguments: list[str]) -> int:
    """Run one method, or solve one program."""
    method, number, third = arguments[0], int(arguments[1]), int(arguments[2])
    told = one(number, third) if method == "one" else compared(method, number, third)
    if told:
        print(json.dumps(told, indent=1))
    return 0


def one(number: int, orders: int) -> dict[str, Any]:
    """Size, processor seconds and memory of the hedge of a book as one program."""
    compiled = Seasons(number, orders, plan_in_all=False).hedge.compiled
    since = time.process_time()
    best = run_interior(compiled).objective
    return {
        "rows, columns": compiled.matrix.shape,
        "nonzeros": compiled.matrix.nnz,
        "cost": best,
        "processor seconds": time.process_time() - since,
        "peak memory, MB": _memory(),
    }


def compared(method: str, number: int, rounds: int) -> dict[str, Any]:
    """The method beside the demo's hedge as one program; nothing on all processes but the first."""
    world = MPI.COMM_WORLD
    seasons = Seasons(number, 0, plan_in_all=method != "lshaped")
    world.Barrier()
    since, spent = time.perf_counter(), time.process_time()
    bound, values = METHODS[method](seasons, rounds)
    took = world.gather((time.perf_counter() - since, time.process_time() - spent, _memory()), root=0)
    if took is None:
        return {}
    spent = time.process_time()
    best = run_interior(seasons.hedge.compiled).objective
    alone, cost = time.process_time() - spent, seasons.cost(values)
    return {
        "processes": len(took),
        "decisions": len(values),
        "one program": {"cost": best, "processor seconds": alone},
        "bound": bound,
        "bound below": (best - bound) / best,
        "cost": cost,
        "cost above": (cost - best) / best,
        "seconds": max(seconds for seconds, _, _ in took),
        "processor seconds": [seconds for _, seconds, _ in took],
        "peak memory, MB": [memory for _, _, memory in took],
    }


def _memory() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

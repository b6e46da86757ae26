"""Solves side by side: in order, the same for any number of workers, and through a Dask cluster."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import joblib
import pytest
from distributed import Client

from model.scenario.entities import Scenario
from model.solve import plan
from scenarios.solves.parallel import run_all
from scenarios.studies.break_even import break_even_study
from scenarios.studies.compare import compare_study
from scenarios.variants.variants import Variant
from tests.specimens import SPECIMENS


@contextmanager
def cluster() -> Iterator[None]:
    """Two workers of a Dask cluster within this process, as joblib's back end."""
    with (
        Client(processes=False, n_workers=2, threads_per_worker=1, dashboard_address=None),
        joblib.parallel_config(backend="dask"),
    ):
        yield


def squared(number: int) -> int:
    return number * number


def thread(number: int) -> str:
    return threading.current_thread().name


def cost(scenario: Scenario) -> tuple[float, float]:
    made = plan(scenario)
    return made.cost, made.short


def fails(number: int) -> int:
    if number == 3:
        raise ValueError("three")
    return number


@pytest.mark.parametrize("workers", [1, 2, 3])
def test_results_come_in_the_order_of_the_items(workers: int) -> None:
    told: list[str] = []
    assert run_all(squared, range(7), workers=workers, about="squares", progress=told.append) == [
        0,
        1,
        4,
        9,
        16,
        25,
        36,
    ]
    assert told == [f"squares: {n} of 7" for n in range(1, 8)]
    assert run_all(squared, [], workers=workers, about="squares") == []


@pytest.mark.parametrize("workers", [1, 2])
def test_an_error_comes_out_as_it_is(workers: int) -> None:
    with pytest.raises(ValueError, match="three"):
        run_all(fails, range(5), workers=workers, about="numbers")


def test_a_dask_cluster_gives_the_same_results() -> None:
    scenarios = list(SPECIMENS.values())
    alone = run_all(cost, scenarios, workers=1, about="plans")
    told: list[str] = []
    with cluster():
        names = run_all(thread, range(6), workers=2, about="threads")
        together = run_all(cost, scenarios, workers=2, about="plans", progress=told.append)
    assert all("Dask" in name for name in names), "the cluster has run them"
    assert together == alone
    assert told[-1] == f"plans: {len(scenarios)} of {len(scenarios)}"


def test_studies_on_a_dask_cluster_are_the_same() -> None:
    variants = [Variant(name, "", Path(name), SPECIMENS[name]) for name in ("on-tray", "root-cut", "packs")]
    offer = SPECIMENS["buy-in"]
    compared = compare_study(variants, workers=1)
    even = break_even_study(offer, of="buy-in-price", low=0.1, high=2.0, workers=1)
    with cluster():
        assert compare_study(variants, workers=2) == compared
        on_cluster = break_even_study(offer, of="buy-in-price", low=0.1, high=2.0, workers=2)
    assert (on_cluster.answer, on_cluster.sections) == (even.answer, even.sections)

"""Many independent solves side by side, through joblib; the number of workers does not change the results."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Sequence
from contextlib import closing
from typing import TypeVar

from joblib import Parallel, delayed

from model.phases import Say, silent
from reports.book.writing import Writing, writing, written_by

Item = TypeVar("Item")
Result = TypeVar("Result")


def run_all(
    function: Callable[[Item], Result],
    items: Sequence[Item],
    workers: int,
    about: str,
    progress: Say = silent,
) -> list[Result]:
    """The function's result for each item, in the items' order.

    ``workers`` processes run at once; ``function`` and items must be picklable. Inside
    ``joblib.parallel_config`` the back end given there runs them instead (a Dask cluster, say). ``progress``
    hears ``about`` and how many items are done.
    """
    found: dict[int, Result] = {}
    with warnings.catch_warnings():
        # A run that is stopped half-way discards finished results on purpose.
        warnings.filterwarnings("ignore", message=".*tasks have been successfully executed")
        parallel, how = Parallel(n_jobs=workers, return_as="generator_unordered"), writing()
        asked = (delayed(_written)(how, function, n, item) for n, item in enumerate(items))
        with closing(parallel(asked)) as results:
            for n, result in results:
                found[n] = result
                progress(f"{about}: {len(found)} of {len(items)}")
    return [found[n] for n in range(len(items))]


def _written(how: Writing, function: Callable[[Item], Result], n: int, item: Item) -> tuple[int, Result]:
    """The item's number and its result in another process, with sentences written as in this one."""
    with written_by(how):
        return n, function(item)

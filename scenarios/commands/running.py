"""Parts that all verbs share: load the scenario, report the phases, print the answer."""

from __future__ import annotations

import sys
import time
from argparse import Namespace
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from model.phases import Say
from scenarios.cells.faults import Refused, printable, shown
from scenarios.commands.arguments import TypedDay

if TYPE_CHECKING:
    from rich.console import Console

    from model.scenario.about_cells import Remark
    from reports.study.study import Study
    from scenarios.files.read_scenario import Overrides
    from scenarios.variants.variants import Variant

DONE, FAILED, BAD_INPUT, SHORT, STOPPED = 0, 1, 2, 3, 130
"""Exit codes; SHORT: done, but the plan leaves orders short; STOPPED: by Ctrl-C, with the shells' number."""

EVERY = 10.0
"""Seconds between two lines on the progress of a phase, where the output is not a terminal."""


class Failed(Exception):
    """The plan could not be made, or fails the audit; the message is for the user; exit code 1."""


def case_of(options: Namespace) -> Variant:
    """Load the scenario as a Variant with sorted rows, applying --today and --progress.

    Prints remarks on how its files were read on stderr. What the command tells from then on is written as
    the scenario's locale writes.
    """
    case = filed_case_of(options)
    tell_as_read(case.as_read)
    return in_order(case)


def tell_as_read(as_read: Iterable[Remark], of: str = "") -> None:
    """Print remarks on how files were read on stderr; ``of``: the scenario's name, where several are read."""
    if as_read:
        from scenarios.rules.remarks import in_words

        for remark in as_read:
            print(f"remark: {of}{in_words(remark)}", file=sys.stderr)


def filed_case_of(options: Namespace) -> Variant:
    """Load the scenario as ``case_of`` does, with the rows in the order of the files."""
    from reports.book.writing import write_as
    from scenarios.variants.by_name import path_of
    from scenarios.variants.variants import read_case

    _settle_days(options)
    case = read_case(path_of(options.scenario), overrides_of(options))
    write_as(case.scenario.nursery)
    return case


def _settle_days(options: Namespace) -> None:
    """Read the days among the options that are written as the scenario's locale writes them."""
    typed = [name for name, value in vars(options).items() if isinstance(value, TypedDay)]
    if not typed:
        return
    from reports.book.writing import written_as
    from scenarios.cells.typed import plain_day
    from scenarios.variants.by_name import path_of
    from scenarios.variants.variants import read_case

    with written_as(read_case(path_of(options.scenario)).scenario.nursery):
        for name in typed:
            text = getattr(options, name).text
            try:
                setattr(options, name, date.fromisoformat(plain_day(text)))
            except ValueError:
                raise Refused(f"{shown(text)} is not a date such as 2027-04-20") from None


def in_order(case: Variant) -> Variant:
    """The case with the rows of every table sorted, so that answers do not depend on their order."""
    from model.scenario.canonical import canonical

    return replace(case, scenario=canonical(case.scenario))


def overrides_of(options: Namespace) -> Overrides:
    """The overrides of a scenario: --today, and --progress, a file."""
    from scenarios.files.read_scenario import Overrides
    from scenarios.variants.by_name import path_of

    return Overrides(options.today, None if options.progress is None else path_of(options.progress))


@contextmanager
def phases() -> Iterator[Say]:
    """Report the phases of a run: one changing line on a terminal, a line for each phase elsewhere."""
    from rich.console import Console

    console: Console = Console(stderr=True, highlight=False)
    start = time.perf_counter()
    if console.is_terminal:
        with console.status("") as status:
            yield lambda phase: status.update(f"{phase} ... ({time.perf_counter() - start:.1f} s)")
    else:
        yield _Lines(console)


class _Lines:
    """Prints a line for each phase, and from time to time its progress (``phase: progress``)."""

    def __init__(self, console: Console) -> None:
        self.console, self.phase, self.told = console, "", 0.0

    def __call__(self, text: str) -> None:
        phase, now = text.partition(":")[0], time.perf_counter()
        if phase != self.phase or now - self.told >= EVERY:
            self.phase, self.told = phase, now
            self.console.print(f"{text} ...", markup=False)


@contextmanager
def solving() -> Iterator[None]:
    """Raise ``Failed`` where HiGHS finds no optimum inside the block."""
    from model.solver.compiled import SolveError

    try:
        yield
    except SolveError as error:
        raise Failed(str(error)) from None


def write_page_and_pictures(study: Study, folder: Path, name: str) -> None:
    """Write the study as a page and its charts as pictures, with the same name as the workbook."""
    from reports.study.charts import write_pictures
    from reports.study.page import write_page

    write_page(study, folder / f"{name}.html")
    write_pictures(study, folder / f"{name}_pictures")


def print_answer(tell: Callable[[Console], None], output: Path, names: Iterable[str]) -> None:
    """Print the answer and the names of the files written."""
    from rich.console import Console

    console = Console(highlight=False)
    tell(console)
    written = ", ".join(str(output / name) for name in names)
    console.print(printable(f"Written: {written}"), soft_wrap=True, markup=False)

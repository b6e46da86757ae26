"""What a verb is: its help, its arguments as data, and the function that runs it."""

from __future__ import annotations

from argparse import ArgumentParser, ArgumentTypeError, Namespace
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any, NamedTuple

PROFIT_MARGIN = 0.25
"""Profit margin where none is given, as a share of the price; the workbook's follows when changed."""


class Argument:
    """One argument of a verb: its flags (or its name) and the settings that ``add_argument`` takes."""

    def __init__(self, *flags: str, **settings: Any) -> None:
        self.flags, self.settings = flags, settings

    @property
    def name(self) -> str:
        """The name of its value among the parsed options."""
        return str(self.settings.get("dest", self.flags[-1].lstrip("-").replace("-", "_")))

    def add_to(self, parser: ArgumentParser) -> None:
        """Add it to the parser of a verb."""
        parser.add_argument(*self.flags, **self.settings)


class Verb(NamedTuple):
    """A verb: its help, its arguments, and the function that runs it and returns the exit code."""

    help: str
    arguments: tuple[Argument, ...]
    run: Callable[[Namespace], int]


def share(text: str) -> float:
    """A share from 0 up to, but without, 1."""
    value = float(text)
    if not 0 <= value < 1:
        raise ArgumentTypeError(f"{text} is no share from 0 to below 1, such as 0.25")
    return value


def positive(text: str) -> float:
    """A number above 0 and finite."""
    value = float(text)
    if not 0 < value < float("inf"):
        raise ArgumentTypeError(f"{text} is not a number above 0")
    return value


def amount(text: str) -> float:
    """A number from 0 and finite."""
    value = float(text)
    if not 0 <= value < float("inf"):
        raise ArgumentTypeError(f"{text} is not a number from 0")
    return value


def count(text: str) -> int:
    """A whole number from 1."""
    value = int(text)
    if value < 1:
        raise ArgumentTypeError(f"{text} is not a whole number from 1")
    return value


def day(text: str) -> date:
    """A date such as 2027-04-20."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ArgumentTypeError(f"{text} is no date such as 2027-04-20") from None


def program_file(text: str) -> Path:
    """A file for a program, by its ending an LP or an MPS file."""
    from model.solver.program_file import ENDINGS

    path = Path(text)
    if path.suffix not in ENDINGS or path.is_dir():
        raise ArgumentTypeError(f"{text} is no file that ends in {' or '.join(ENDINGS)}")
    return path


SCENARIO = (
    Argument(
        "scenario",
        metavar="SCENARIO",
        help="a workbook (.xlsx), a folder of CSV files, a variant (.toml), or the demo's name: hollow_ash",
    ),
    Argument(
        "--progress",
        type=Path,
        metavar="FILE.csv",
        help="what has happened, beside what the scenario tells: a file with the columns of table progress",
    ),
    Argument(
        "--today",
        type=day,
        metavar="DATE",
        help="first day that can still be planned, such as 2027-03-08 (default: the scenario's)",
    ),
)
"""What every verb that reads a scenario takes."""

OUTPUT = Argument("-o", "--output", type=Path, required=True, metavar="FOLDER", help="where to write")

PARALLEL = (
    Argument(
        "--workers", type=count, default=1, metavar="N", help="solves at a time (default 1); same answer"
    ),
    Argument("--cluster", metavar="ADDRESS", help="address of a Dask scheduler to solve on"),
)
"""How many solves run at once, and where."""

PROFIT = Argument(
    "--profit-margin",
    type=share,
    default=PROFIT_MARGIN,
    metavar="SHARE",
    help=f"profit margin, a share of the price (default {PROFIT_MARGIN})",
)

SEASONS = (
    Argument("--seasons", type=count, default=10_000, metavar="N", help="seasons drawn (default 10,000)"),
    Argument("--seed", type=count, default=1, metavar="N", help="of the random numbers (default 1)"),
)

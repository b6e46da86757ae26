"""A verb as data: its help, its arguments, and the function that runs it."""

from __future__ import annotations

import re
from argparse import ArgumentParser, ArgumentTypeError, Namespace
from collections.abc import Callable
from datetime import date
from math import nan
from pathlib import Path
from typing import Any, NamedTuple

from scenarios.cells.faults import shown

LONGEST = 10_000
"""Days; no scenario's horizon is longer."""

MOST_MONEY = 1_000_000_000

PROFIT_MARGIN = 0.25
"""Default profit margin, as a share of the price; a user may change it in the workbook."""


class Argument:
    """One argument of a verb: its flags (or its name) and the settings for ``add_argument``."""

    def __init__(self, *flags: str, **settings: Any) -> None:
        self.flags, self.settings = flags, settings

    @property
    def name(self) -> str:
        """The attribute of the parsed options that holds its value."""
        return str(self.settings.get("dest", self.flags[-1].lstrip("-").replace("-", "_")))

    def add_to(self, parser: ArgumentParser) -> None:
        """Add it to the parser of a verb."""
        parser.add_argument(*self.flags, **self.settings)


class Verb(NamedTuple):
    """A verb: its help, its arguments, and the function that runs it and returns the exit code."""

    help: str
    arguments: tuple[Argument, ...]
    run: Callable[[Namespace], int]


def _figure(text: str) -> float:
    """The number that a text is; where it is none, nan, which no range holds."""
    try:
        return float(text)
    except ValueError:
        return nan


def share(text: str) -> float:
    """A share from 0 to below 1."""
    value = _figure(text)
    if not 0 <= value < 1:
        raise ArgumentTypeError(f"{shown(text)} is not a share from 0 to below 1, such as 0.25")
    return value


def factor(text: str) -> float:
    """A factor from a thousandth to a thousand."""
    value = _figure(text)
    if not 0.001 <= value <= 1000:
        raise ArgumentTypeError(f"{shown(text)} is not a number from 0.001 to 1,000")
    return value


def amount(text: str) -> float:
    """An amount of money from 0 up."""
    value = _figure(text)
    if not 0 <= value <= MOST_MONEY:
        raise ArgumentTypeError(f"{shown(text)} is not a number from 0 to {MOST_MONEY:,}")
    return value


def above_zero(text: str) -> float:
    """A number above 0."""
    value = _figure(text)
    if not 0 < value <= MOST_MONEY:
        raise ArgumentTypeError(f"{shown(text)} is not a number above 0, up to {MOST_MONEY:,}")
    return value


def degrees(text: str) -> float:
    """A temperature, in degrees Celsius or Fahrenheit."""
    value = _figure(text)
    if not -80 <= value <= 150:
        raise ArgumentTypeError(f"{shown(text)} is not a temperature from -80 to 150 degrees")
    return value


def change(text: str) -> float:
    """An amount of money, below 0 for a saving."""
    value = _figure(text)
    if not -MOST_MONEY <= value <= MOST_MONEY:
        raise ArgumentTypeError(f"{shown(text)} is not a number from -{MOST_MONEY:,} to {MOST_MONEY:,}")
    return value


def yearly_change(text: str) -> float:
    """A change a year, as a share: from -0.5 to 1."""
    value = _figure(text)
    if not -0.5 <= value <= 1:
        raise ArgumentTypeError(f"{shown(text)} is not a share from -0.5 to 1, such as 0.03")
    return value


def measure(text: str) -> str:
    """The name of a measure, such as ha or carton."""
    if not (text.isprintable() and 0 < len(text.strip()) <= 20):
        raise ArgumentTypeError(f"{shown(text)} is not the name of a measure, such as t or acre")
    return text.strip()


def count_to(most: int) -> Callable[[str], int]:
    """A function that reads a whole number from 1 to ``most``."""

    def count(text: str) -> int:
        value = _figure(text)
        if not (1 <= value <= most and value.is_integer()) or any(map(str.isalpha, text)):
            raise ArgumentTypeError(f"{shown(text)} is not a whole number from 1 to {most:,}")
        return int(value)

    return count


def place(text: str) -> Path:
    """A file or folder."""
    return Path(named(text))


def named(text: str) -> str:
    """The name of a scenario, file or folder."""
    if "\0" in text:
        raise ArgumentTypeError(f"{shown(text)} is not a name: it holds a NUL character")
    return text


class TypedDay(NamedTuple):
    """A day in numbers that only the scenario's locale can read: ``case_of`` does."""

    text: str


def day(text: str) -> date | TypedDay:
    """A date such as 2027-04-20, or one as the scenario's locale writes it."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        if re.fullmatch(r"[0-9]{1,4}[-/.][ \u00a0]?[0-9]{1,2}[-/.][ \u00a0]?[0-9]{1,4}\.?", text):
            return TypedDay(text)
        raise ArgumentTypeError(f"{shown(text)} is not a date such as 2027-04-20") from None


def program_file(text: str) -> Path:
    """A file for the linear program: its ending makes it an LP or an MPS file."""
    from model.solver.program_file import ENDINGS

    path = Path(text)
    if path.suffix not in ENDINGS or path.is_dir():
        raise ArgumentTypeError(f"{text} is not a file that ends in {' or '.join(ENDINGS)}")
    return path


SCENARIO = (
    Argument(
        "scenario",
        type=named,
        metavar="SCENARIO",
        help="a workbook (.xlsx, .ods, .xls), a folder of CSV files, a variant (.toml), "
        "or the demo's name: hollow_ash",
    ),
    Argument(
        "--progress",
        type=place,
        metavar="FILE.csv",
        help="rows of progress to add to the scenario's: a file with the columns of the table progress",
    ),
    Argument(
        "--today",
        type=day,
        metavar="DATE",
        help="first day that can still be planned, such as 2027-03-08 (default: the scenario's, else the day "
        "after the last row of --progress)",
    ),
)
"""The arguments of every verb that reads a scenario."""

OUTPUT = Argument("-o", "--output", type=place, required=True, metavar="FOLDER", help="folder to write into")

PARALLEL = (
    Argument(
        "--workers",
        type=count_to(1000),
        default=1,
        metavar="N",
        help="programs solved at a time (default 1); the answer is the same",
    ),
    Argument("--cluster", metavar="ADDRESS", help="address of a Dask scheduler; its workers solve"),
)
"""How many solves run at once, and where."""

PROFIT = Argument(
    "--profit-margin",
    type=share,
    default=PROFIT_MARGIN,
    metavar="SHARE",
    help=f"profit margin, a share of the price (default {PROFIT_MARGIN})",
)

REHEARSE = Argument(
    "--rehearse",
    type=count_to(100_000),
    metavar="N",
    help="so many of the seasons are lived day by day too, planned again after counts",
)

HEDGE = Argument(
    "--hedge",
    type=count_to(100_000),
    metavar="N",
    help="compare also with the plan that is best on average over N sampled seasons (100 or more)",
)

SEASONS = (
    Argument(
        "--seasons",
        type=count_to(1_000_000),
        default=10_000,
        metavar="N",
        help="seasons simulated (default 10,000)",
    ),
    Argument(
        "--seed",
        type=count_to(1_000_000_000),
        default=1,
        metavar="N",
        help="seed of the random numbers (default 1)",
    ),
)

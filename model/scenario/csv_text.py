"""A user's texts in CSV files, where a spreadsheet would run some of them as formulas."""

from __future__ import annotations

import re

_FORMULA = re.compile(r"'*[=+\-@\t\r]")
_COVERED = re.compile(r"'+[=+\-@\t\r]")


def cover(text: str) -> str:
    """A text as it stands in a CSV file: with an apostrophe where a spreadsheet would run it as a formula.

    Apostrophes before one of = + - @, a tab or a carriage return are one more in the file; ``uncover`` takes
    that one away. All other texts stand as they are.
    """
    return f"'{text}" if _FORMULA.match(text) else text


def uncover(text: str) -> str:
    """The text of a cell of a CSV file that ``cover`` has made fit for it."""
    return text[1:] if _COVERED.match(text) else text

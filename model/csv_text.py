"""A user's texts in CSV files, protected from being run as formulas by a spreadsheet."""

from __future__ import annotations

import re

_FORMULA = re.compile(r"'*[=+\-@\t\r]")
_COVERED = re.compile(r"'+[=+\-@\t\r]")


def cover(text: str) -> str:
    """The text to write to a CSV file, with an apostrophe added if a spreadsheet would run it as a formula.

    A text gets one apostrophe more if it begins with = + - @, a tab or a carriage return, also behind
    apostrophes of its own. ``uncover`` removes that one. All other texts are unchanged.
    """
    return f"'{text}" if _FORMULA.match(text) else text


def uncover(text: str) -> str:
    """The user's text, from a cell that ``cover`` wrote to a CSV file."""
    return text[1:] if _COVERED.match(text) else text

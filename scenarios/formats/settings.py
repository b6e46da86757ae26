"""Lines above the heading of a text file that say what its cells alone leave open.

``sep=;`` is what spreadsheet programs write. The others answer a question that the reader has asked:
``encoding=windows-1250``, ``dates=day/month/year``, ``decimal=comma``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from scenarios.cells.faults import meant, shown
from scenarios.cells.grid import DATES, DECIMALS, NOTHING, FileFault, Told

LINE = re.compile(
    r"[\"']?(sep|encoding|dates|decimal)=(?:([;,|\t])|([^\"']*?))[\"']?[;,|\t ]*", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class Settings:
    """What the lines above the heading say.

    ``lines``: how many there are. ``separator``: None where they do not say.
    """

    lines: int = 0
    separator: str | None = None
    told: Told = NOTHING


def settings_of(text: str) -> Settings:
    """The lines above the heading; raises ``FileFault`` where one names what is not known."""
    found: dict[str, str] = {}
    lines = 0
    for number, line in enumerate(text.splitlines()[:4], 1):
        match = LINE.fullmatch(line)
        if match is None:
            break
        key, value = match[1].casefold(), match[2] or (match[3] or "").strip().casefold()
        _check(key, value, number)
        found[key] = value
        lines += 1
    told = Told(found.get("decimal"), found.get("dates"))
    return Settings(lines, found.get("sep"), told)


def _check(key: str, value: str, row: int) -> None:
    known = {"dates": DATES, "decimal": DECIMALS, "sep": (";", ",", "\t", "|")}.get(key)
    if known is not None and value not in known:
        spelt = [f"{key}={choice}" for choice in known]
        wrong = f"holds '{shown(f'{key}={value}')}', which is not known here"
        raise FileFault(wrong, meant(f"{key}={value}", spelt, f"write {' or '.join(spelt)}"), row)

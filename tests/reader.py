"""A process that opens a workbook again and again until its standard input ends; a broken one ends it."""

from __future__ import annotations

import select
import sys
from hashlib import sha256
from io import BytesIO
from pathlib import Path

import openpyxl

PAUSE = 0.005
"""Seconds from one opening to the next, so that the runs have their turn."""


def main(path: Path) -> None:
    """Prints how often it opened the workbook, and how many different ones it found."""
    opened, found = 0, set()
    while not select.select([sys.stdin], [], [], PAUSE)[0]:
        data = path.read_bytes()
        opened += 1
        if sha256(data).digest() not in found:
            assert "Summary" in openpyxl.load_workbook(BytesIO(data)).sheetnames
            found.add(sha256(data).digest())
    print(opened, len(found))


if __name__ == "__main__":
    main(Path(sys.argv[1]))

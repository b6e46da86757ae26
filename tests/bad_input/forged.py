"""Workbooks that no spreadsheet program would write: parts of a zip file changed by hand."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from pathlib import Path


def forge(source: Path, target: Path, part: str, change: Callable[[bytes], bytes]) -> Path:
    """Copies a workbook with one of its parts changed, or added where it is not there."""
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        names = old.namelist()
        for name in names:
            new.writestr(name, change(old.read(name)) if name == part else old.read(name))
        if part not in names:
            new.writestr(part, change(b""))
    return target


def swollen(source: Path, target: Path, part: str, size: int, filler: bytes) -> Path:
    """Copies a workbook with a part swollen to ``size`` bytes, written piece by piece."""
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            if name != part:
                new.writestr(name, old.read(name))
        block = filler * (1_000_000 // len(filler))
        with new.open(part, "w", force_zip64=True) as stream:
            for _ in range(size // len(block) + 1):
                stream.write(block)
    return target

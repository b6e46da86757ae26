"""LibreOffice for tests: every formula calculated again on loading, PDF pages as text and pictures."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Sequence
from pathlib import Path

import openpyxl

BROKEN = re.compile(r"###|#REF!|#NAME\?|#VALUE!|#DIV/0!|#N/A|Err:\d+")
"""What a page shows where a cell cannot be shown or calculated."""

SETTINGS = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load">
<prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop></item>
<item oor:path="/org.openoffice.Setup/L10N">
<prop oor:name="ooSetupSystemLocale" oor:op="fuse"><value>{country}</value></prop></item>
</oor:items>
"""
"""A user profile that says: always calculate a workbook again, and write as this country does."""


def convert(source: Path, kind: str, folder: Path) -> Path:
    """The file converted by LibreOffice to ``kind`` (pdf, xlsx) in ``folder``; raises where it fails."""
    converted([source], kind, folder)
    return folder / kind / source.with_suffix(f".{kind}").name


def converted(
    sources: Sequence[Path], kind: str, folder: Path, country: str = "en-US", form: str = ""
) -> Path:
    """A folder with the files converted by LibreOffice in one start; ``form``: details of the ``kind``."""
    profile = folder / f"profile-{country}"
    settings = profile / "user" / "registrymodifications.xcu"
    if not settings.exists():
        settings.parent.mkdir(parents=True)
        settings.write_text(SETTINGS.format(country=country), encoding="utf-8")
    made = folder / kind
    subprocess.run(
        [
            *("soffice", f"-env:UserInstallation=file://{profile}", "--headless", "--convert-to"),
            *(f"{kind}:{form}" if form else kind, "--outdir", str(made), *map(str, sources)),
        ],
        check=True,
        capture_output=True,
        timeout=300,
    )
    return made


def pages(pdf: Path, order: str = "layout") -> list[str]:
    """The text of each page, laid out as on it, or in another ``order`` of pdftotext."""
    text = subprocess.run(
        ["pdftotext", f"-{order}", str(pdf), "-"], check=True, capture_output=True, timeout=120
    )
    return text.stdout.decode().split("\f")[:-1]


def ink(pdf: Path, folder: Path) -> list[int]:
    """Pixels darker than white on each page, at 40 dots an inch, foot left out."""
    subprocess.run(
        ["pdftoppm", "-r", "40", "-gray", str(pdf), str(folder / "page")],
        check=True,
        capture_output=True,
        timeout=120,
    )
    found = []
    for picture in sorted(folder.glob("page-*.pgm")):
        _, size, _, pixels = picture.read_bytes().split(b"\n", 3)
        width, height = map(int, size.split())
        found.append(sum(pixel < 250 for pixel in pixels[: width * int(height * 0.93)]))
    return found


def broken_pages(pdf: Path) -> list[int]:
    """Numbers of the pages that show a broken cell."""
    return [number for number, text in enumerate(pages(pdf), 1) if BROKEN.search(text)]


def for_paper(workbook: Path) -> list[str]:
    """The sheets that print unasked: those whose print area is more than one cell."""
    return [
        sheet.title for sheet in openpyxl.load_workbook(workbook) if ":" in sheet.print_area.split("!")[1]
    ]


def sheets_printed(workbook: Path, pdf: Path) -> tuple[list[str], list[str]]:
    """The workbook's sheets, and the sheet of each page by its foot."""
    sheets = openpyxl.load_workbook(workbook, read_only=True).sheetnames
    feet = [
        name
        for text in pages(pdf, "raw")
        for name in sheets
        if re.search(rf"\s{re.escape(name)}\s+page \d+ of", text)
    ]
    return sheets, feet

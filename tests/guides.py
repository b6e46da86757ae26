"""The guides made anew: every command run on the demo, its output, tables and pictures written in.

``python -m tests.guides`` wants LibreOffice and pdftoppm. In a guide

- a block with one line ``graftwright ...`` is a command; a block ``text`` after it is what it prints, lines
  left out marked by ``...``;
- ``<!-- table FILE.html "Caption" ROWS "Column" ... -->`` stands before rows of a table of a page, whatever
  the numbers in its caption;
- ``<!-- picture FILE.png -->`` stands before a chart, whose alternative text comes with it;
- ``<!-- page FILE.xlsx NUMBER DOTS -->`` stands before a printed page of a workbook, at so many dots an inch.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path

from model.scenario.choices import Happened
from model.scenario.records.past import Progress
from model.scenario.tables import BY_NAME
from model.season.as_planned import as_planned
from model.solve import plan
from scenarios.commands.command_line import DONE, SHORT
from scenarios.commands.work_files import in_wholes
from scenarios.files.write_scenario import write_table
from scenarios.variants.by_name import read
from tests.documents.office import convert
from tests.pages import page_of, tables
from tests.places import ROOT

GUIDES = ROOT / "docs" / "guides"
PICTURES = GUIDES / "pictures"
PROGRESS = ROOT / "scenarios" / "hollow_ash" / "records" / "progress.csv"

COMMAND = re.compile(r"```\n(graftwright [^\n]+)\n```\n")
SAID = re.compile(r"```\n(graftwright [^\n]+)\n```\n((?:(?!```).)*?)```text\n(.*?)```\n", flags=re.DOTALL)
TABLE = re.compile(r"<!-- table (.+?) -->\n((?:\|.*\n)*)")
PICTURE = re.compile(r"<!-- picture (\S+) -->\n!\[.*?\]\((\S+?)\)\n")
PAGE = re.compile(r"<!-- page (\S+) (\d+) (\d+) -->\n!\[.*?\]\((\S+?)\)\n")

CUT = "..."
NUMBER = re.compile(r"[\d,.]*\d")
FIGURES = re.compile(r"[+−-]?[\d,.]+%?")

TODAY, GRAFTED, PRODUCT, HEALED = date(2027, 3, 22), date(2027, 3, 10), "Amberfall on Stonebrook, 72", 0.60
"""The demo's graft day that healed badly, as invented as the nursery."""


def guides() -> list[Path]:
    """The guides, without their list."""
    return sorted(path for path in GUIDES.glob("*.md") if path.name != "README.md")


def demo_progress() -> tuple[Progress, ...]:
    """What has happened at the demo before ``TODAY``: all as planned, one graft day counted and poor."""

    def told(row: Progress) -> Progress:
        if (row.what, row.day, row.product) != (Happened.GRAFTED, GRAFTED, PRODUCT):
            return row
        return replace(
            row, counted=float(round(HEALED * row.number)), note="a poor take; invented like all here"
        )

    return tuple(told(row) for row in in_wholes(as_planned(plan(read("hollow_ash")), TODAY)))


def run_commands(texts: Iterable[str], folder: Path) -> dict[str, str]:
    """What each command of the guides prints when run in ``folder``, in order; each is run once."""
    said: dict[str, str] = {}
    for command in (command for text in texts for command in COMMAND.findall(text)):
        if command not in said:
            said[command] = _printed(command, folder)
    return said


def _printed(command: str, folder: Path) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "scenarios", *shlex.split(command)[1:]],
        cwd=folder,
        env=os.environ | {"COLUMNS": "110", "PYTHONIOENCODING": "utf-8"},
        capture_output=True,
        timeout=600,
    )
    if done.returncode not in (DONE, SHORT):
        raise RuntimeError(f"{command}\n{done.stderr.decode()}")
    return "".join(f"{line.rstrip()}\n" for line in done.stdout.decode().splitlines())


def as_run(text: str, said: dict[str, str], folder: Path) -> str:
    """A guide's text with output and tables as the commands left them."""
    text = SAID.sub(lambda m: f"```\n{m[1]}\n```\n{m[2]}```text\n{shortened(m[3], said[m[1]])}```\n", text)
    text = TABLE.sub(lambda m: f"<!-- table {m[1]} -->\n{_table(m[1], folder)}", text)
    return PICTURE.sub(lambda m: f"<!-- picture {m[1]} -->\n![{alternative(folder / m[1])}]({m[2]})\n", text)


def shortened(kept: str, output: str) -> str:
    """The output with those of its lines that are kept, by their words; all where one is not found."""
    lines, found, left_out = output.splitlines(), [], False
    wanted = [line for line in kept.splitlines() if line != CUT]
    for line in lines:
        if wanted and _words(line) == _words(wanted[0]):
            wanted.pop(0)
            found += [CUT, line] if left_out else [line]
            left_out = False
        else:
            left_out = True
    if wanted or not kept.strip():
        return output
    return "\n".join([*found, *([CUT] if left_out else [])]) + "\n"


def _words(line: str) -> str:
    return " ".join(NUMBER.sub("#", line).split())


@cache
def _page_tables(path: Path) -> dict[str, list[list[str]]]:
    return tables(page_of(path))


def _table(directive: str, folder: Path) -> str:
    file, caption, most, *columns = shlex.split(directive)
    found = _page_tables(folder / file)
    heading, *rows = found.get(caption) or next(found[n] for n in found if _words(n) == _words(caption))
    rows = [row for row in rows if row[0] != "Total"]
    at = [heading.index(column) for column in columns]
    lines = [[row[n].replace("|", "\\|") for n in at] for row in rows[: int(most)]]
    rule = ["---:" if all(FIGURES.fullmatch(line[n]) for line in lines) else "---" for n in range(len(at))]
    cut = [[CUT] + [""] * (len(at) - 1)] if len(rows) > int(most) else []
    return "".join(f"| {' | '.join(line)} |\n" for line in [columns, rule, *lines, *cut])


def alternative(picture: Path) -> str:
    """What a chart shows in words."""
    told = (picture.parent / "alt_texts.txt").read_text(encoding="utf-8").splitlines()
    words = next(line for line in told if line.startswith(f"{picture.name}: "))
    return words.removeprefix(f"{picture.name}: ").removesuffix(" Numbers in the table above.")


def _print_page(workbook: Path, number: str, dots: str, target: Path) -> None:
    with tempfile.TemporaryDirectory() as name:
        pdf = convert(workbook, "pdf", Path(name))
        command = ["pdftoppm", "-png", "-singlefile", "-r", dots, "-f", number, "-l", number]
        subprocess.run([*command, str(pdf), str(target.with_suffix(""))], check=True, timeout=120)


def write_guides(folder: Path, say: Callable[[str], None]) -> None:
    """Runs all commands in ``folder`` and writes guides and pictures anew."""
    texts = {path: path.read_text(encoding="utf-8") for path in guides()}
    said = run_commands(texts.values(), folder)
    for path, text in texts.items():
        path.write_text(as_run(text, said, folder), encoding="utf-8")
        for source, target in PICTURE.findall(text):
            shutil.copyfile(folder / source, path.parent / target)
        for workbook, number, dots, target in PAGE.findall(text):
            _print_page(folder / workbook, number, dots, path.parent / target)
        say(path.name)


def main() -> None:
    """Writes the demo's progress, then all guides."""
    write_table(BY_NAME["progress"], demo_progress(), PROGRESS)
    with tempfile.TemporaryDirectory() as folder:
        write_guides(Path(folder), print)


if __name__ == "__main__":
    main()

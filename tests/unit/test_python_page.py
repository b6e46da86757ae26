"""docs/python.md: its code runs, and prints and draws what the page shows."""

import re
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path

import matplotlib
import pytest
from matplotlib.testing.compare import compare_images

from tests.places import ROOT

PAGE = ROOT / "docs" / "python.md"
BLOCKS = re.compile(r"```(\w*)\n(.*?)```\n", flags=re.DOTALL)
NUMBER = re.compile(r"-?\d[\d,]*(?:\.\d+)?")

NEAR = 0.005
"""Another version of the solver may find another plan in whole trays, at nearly the same cost."""

LIKE = 10
"""Difference of pictures (root mean square of the colours, to 255) that other fonts may make."""


def test_the_code_prints_and_draws_what_the_page_shows(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    matplotlib.use("Agg")
    names: dict[str, object] = {"__name__": "page"}
    said = ""
    shown = 0
    for kind, text in BLOCKS.findall(PAGE.read_text(encoding="utf-8")):
        if kind == "python":
            assert said == "", "what was printed before is not shown"
            with redirect_stdout(StringIO()) as out:
                exec(compile(text, str(PAGE), "exec", dont_inherit=True), names)
            said = out.getvalue()
        elif kind == "text":
            assert NUMBER.sub("#", said).split() == NUMBER.sub("#", text).split(), said
            assert _numbers(said) == pytest.approx(_numbers(text), rel=NEAR), said
            said, shown = "", shown + 1
    assert said == ""
    assert shown == 5
    assert compare_images(str(PAGE.parent / "chamber_slots.png"), "chamber_slots.png", LIKE) is None


def _numbers(text: str) -> list[float]:
    return [float(number.replace(",", "")) for number in NUMBER.findall(text)]

"""The full search misses no test that searches deeper in it."""

import re
from pathlib import Path

import pytest

from tests.places import ROOT

DEPTH = re.compile(r"\bPROFILE\b|(?<!max_examples=)\bdeep\(")
"""Depth that neither Hypothesis nor ``some`` asks for, so that its tests are marked by hand."""

USERS = [path for path in sorted((ROOT / "tests").rglob("test_*.py")) if DEPTH.search(path.read_text())]


@pytest.mark.parametrize("path", USERS, ids=lambda path: path.stem)
def test_a_module_that_asks_for_depth_marks_its_tests(path: Path) -> None:
    assert "@pytest.mark.deep\n" in path.read_text()

"""The guides say what the code says today: output, tables, alternative texts, pictures and figures."""

from __future__ import annotations

import base64
import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from model.scenario.tables import BY_NAME
from scenarios.files.write_scenario import write_table
from tests.guides import COMMAND, GUIDES, PAGE, PICTURE, PROGRESS, SAID, TABLE, as_run, demo_progress, guides
from tests.guides import run_commands as run_all
from tests.pages import page_of, words

TEXTS = {path.name: path.read_text(encoding="utf-8") for path in guides()}
FIGURE = re.compile(r"(?<![\w.,/-])(?:\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d+\.\d+)(?![\w.,]*\w)")
"""A number that only an answer can hold: with thousands apart, or with decimals."""

ALIKE = """async ([first, second]) => {
  const pixels = async (data) => {
    const picture = new Image();
    picture.src = "data:image/png;base64," + data;
    await picture.decode();
    const canvas = new OffscreenCanvas(270, 135).getContext("2d");
    canvas.drawImage(picture, 0, 0, 270, 135);
    return canvas.getImageData(0, 0, 270, 135).data;
  };
  const [a, b] = [await pixels(first), await pixels(second)];
  return a.reduce((sum, value, n) => sum + Math.abs(value - b[n]), 0) / a.length;
}"""
"""The mean difference of two pictures' channels, 0 to 255, both drawn small."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("guides")


@pytest.fixture(scope="module")
def said(folder: Path) -> dict[str, str]:
    return run_all(TEXTS.values(), folder)


def test_the_demo_has_progress_as_its_plan_foresees_it(tmp_path: Path) -> None:
    write_table(BY_NAME["progress"], demo_progress(), tmp_path / "progress.csv")
    assert PROGRESS.read_bytes() == (tmp_path / "progress.csv").read_bytes(), "run: python -m tests.guides"


@pytest.mark.parametrize("name", TEXTS)
def test_a_guide_says_what_the_code_says(name: str, said: dict[str, str], folder: Path) -> None:
    assert SAID.search(TEXTS[name])
    assert as_run(TEXTS[name], said, folder) == TEXTS[name], "run: python -m tests.guides"


@pytest.mark.parametrize("name", TEXTS)
def test_every_figure_in_the_words_of_a_guide_is_an_answer(
    name: str, said: dict[str, str], folder: Path
) -> None:
    text = TEXTS[name]
    answers = " ".join(said[command] for command in COMMAND.findall(text))
    for command in COMMAND.findall(text):
        output = command.split(" -o ")[1].split()[0]
        answers += " ".join(words(page_of(path)) for path in sorted((folder / output).glob("*.html")))
    told = re.sub(r"```.*?```|!\[.*?\]\(.*?\)", "", TABLE.sub("", text), flags=re.DOTALL)
    assert [figure for figure in FIGURE.findall(told) if figure not in answers] == []


@pytest.mark.parametrize("name", TEXTS)
def test_charts_are_those_of_today(name: str, said: dict[str, str], folder: Path, chromium: Browser) -> None:
    page = chromium.new_page()
    for source, target in PICTURE.findall(TEXTS[name]):
        pair = [base64.b64encode(path.read_bytes()).decode() for path in (folder / source, GUIDES / target)]
        assert page.evaluate(ALIKE, pair) < 0.5, f"{target}; run: python -m tests.guides"
    page.close()


def test_every_guide_and_picture_is_used() -> None:
    listed = re.findall(r"\]\((\w+\.md)\)", (GUIDES / "README.md").read_text(encoding="utf-8"))
    assert sorted(listed) == sorted(TEXTS)
    shown = [target for text in TEXTS.values() for _, target in PICTURE.findall(text)]
    shown += [target for text in TEXTS.values() for *_, target in PAGE.findall(text)]
    shown = [target for target in shown if target.startswith("pictures/")]
    here = [f"pictures/{path.name}" for path in (GUIDES / "pictures").iterdir()]
    assert sorted(set(shown)) == sorted(here)


@pytest.mark.parametrize("name", TEXTS)
def test_a_guide_has_what_a_reader_needs(name: str) -> None:
    heads = re.findall(r"^## (.+)$", TEXTS[name], flags=re.MULTILINE)
    assert {"Ask", "How to read it", "What to do next", "What it does not say", "Caution"} <= set(heads)
    assert re.search(r"^> .+\?", TEXTS[name], flags=re.MULTILINE)

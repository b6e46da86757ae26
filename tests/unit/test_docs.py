"""The docs say what the code does: formulas, names, the tables page and links are checked."""

import pkgutil
import re
import shlex
from pathlib import Path

import pytest

from model.network.expansion import expand
from model.program.build import GROUPS, build
from model.program.variables import VARIABLES
from scenarios.commands.command_line import VERBS, parser
from scenarios.commands.study_verbs import STUDIES
from scenarios.files.tables_page import PAGES
from tests.baselines.scenarios import grafted
from tests.places import ROOT

MATHS = (ROOT / "docs" / "maths.md").read_text(encoding="utf-8")
NAME = re.compile(r"`(model(?:\.\w+)+\.\w+)`")


def _function(name: str) -> object:
    found: object = pkgutil.resolve_name(name)
    return found


def _words(text: str) -> str:
    return " ".join(text.split())


def _formulas() -> list[tuple[str, str]]:
    """Each formula line of each block, with the text that follows the block up to the next heading."""
    found = []
    for section in re.split(r"\n(?=##+ )", MATHS):
        for block in re.finditer(r"```\n(.*?)```\n", section, flags=re.DOTALL):
            found += [(line, section[block.end() :]) for line in block[1].splitlines() if line.strip()]
    return found


def test_every_function_named_in_the_maths_exists() -> None:
    names = NAME.findall(MATHS)
    assert len(names) > 25
    for name in names:
        assert callable(_function(name)), name


@pytest.mark.parametrize("line, after", _formulas())
def test_every_formula_stands_in_the_docstring_of_the_function_that_states_it(line: str, after: str) -> None:
    names = NAME.findall(after)
    assert names, f"no function is named for {line!r}"
    docstrings = [_words(_function(name).__doc__ or "") for name in names]
    assert any(_words(line) in docstring for docstring in docstrings), (line, names)


@pytest.mark.parametrize("group", GROUPS)
def test_every_constraint_group_is_in_the_maths(group: str) -> None:
    assert f"`{GROUPS[group].__module__}.{group}`" in MATHS


def test_every_variable_stands_once_in_the_maths_as_declared() -> None:
    table = MATHS[MATHS.index("| letter | word |") :].split("\n\n", 1)[0]
    rows = [tuple(cell.strip() for cell in line.split("|")[1:-1]) for line in table.splitlines()[2:]]
    assert rows == [
        (v.symbol, f"`{v.name}`", v.meaning, v.unit, v.index, "yes" if v.whole else "")
        for v in VARIABLES.values()
    ]
    counts = build(expand(grafted())).counts
    assert [word for _, word, *_ in rows] == [f"`{name}`" for name in counts]


@pytest.mark.parametrize("name", VARIABLES)
def test_every_variable_is_in_a_formula(name: str) -> None:
    """The letter of the table stands in the formulas below it."""
    letter = VARIABLES[name].symbol.partition("[")[0]
    formulas = "\n".join(re.findall(r"```\n(.*?)```", MATHS, flags=re.DOTALL))
    assert re.search(rf"(?<![\w′]){letter}(?![\w′])", formulas), letter


def test_shares_formulas_stand_in_their_docstrings() -> None:
    rows = re.findall(r"^\| (.+?) \| (.+?) \| `(model(?:\.\w+)+\.\w+)` \|$", MATHS, flags=re.MULTILINE)
    assert len(rows) == 6
    for _, meaning, name in rows:
        formula = re.search(r"(cells · .*|\(1 − .*)$", meaning)
        if formula:
            assert formula.group(1) in (_function(name).__doc__ or ""), name


@pytest.mark.parametrize("name", PAGES)
def test_the_pages_of_tables_are_made_from_the_schemas(name: str) -> None:
    written = (ROOT / "docs" / name).read_text(encoding="utf-8")
    assert written == PAGES[name](), "run: python -m scenarios.files.tables_page"


@pytest.mark.parametrize(
    "document", [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").rglob("*.md"))]
)
def test_links_lead_somewhere(document: Path) -> None:
    text = document.read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)#]+?)\)", text):
        if not target.startswith("http"):
            assert (document.parent / target).exists(), f"{document.name} -> {target}"


def test_places_named_for_contributors_exist() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| `([^`]+)` \| (.+?) \|$", text, flags=re.MULTILINE)
    assert len(rows) > 10
    for place, about in rows:
        assert (ROOT / place).exists(), place
        for name in re.findall(r"`(\w+(?:/|\.py))`", about):
            assert (ROOT / place / name).exists(), f"{place}{name}"


COMMANDS = [
    line
    for path in [ROOT / "README.md", *sorted((ROOT / "docs").rglob("*.md"))]
    for line in path.read_text(encoding="utf-8").splitlines()
    if line.startswith("graftwright ")
]


@pytest.mark.parametrize("line", sorted(set(COMMANDS)))
def test_every_command_shown_can_be_given(line: str) -> None:
    options = parser().parse_args(shlex.split(line, comments=True)[1:])
    assert options.verb in VERBS


def test_the_readme_says_of_every_verb_what_its_help_says() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    told = re.findall(r"^\| `graftwright (\S+) [^`]*` \| (.+) \|$", readme, flags=re.MULTILINE)
    assert told == [(name, verb.help) for name, verb in VERBS.items()]


def test_every_study_is_in_the_docs() -> None:
    for verb in STUDIES:
        assert any(line.startswith(f"graftwright {verb} ") for line in COMMANDS), verb

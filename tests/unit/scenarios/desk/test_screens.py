"""The desk's screens: each question of the command line is on them, and means the same there."""

from __future__ import annotations

import re

import pytest

from scenarios.commands.command_line import VERBS, parser
from scenarios.commands.desk_verb import LEFT_OUT, QUESTIONS, screens
from scenarios.desk.screens import Field, FieldKind, Screen
from tests.places import ROOT

SCREENS = {screen.verb: screen for screen in screens(VERBS)}
VALUES = {
    "DATE": "2027-04-20",
    "SHARE": "0.1",
    "FACTOR": "0.7",
    "N": "3",
    "PLANTS": "24",
    "MONEY": "1.5",
    "UNITS": "40",
    "NUMBER": "7",
}


def test_every_verb_that_answers_is_a_screen() -> None:
    files = {"check", "start", "blank", "convert", "desk"}
    assert set(SCREENS) == set(VERBS) - files


def test_the_questions_are_those_of_the_guides() -> None:
    guides = (ROOT / "docs" / "guides" / "README.md").read_text(encoding="utf-8")
    asked = re.findall(r"^\| (.+\?) \| \[", guides, re.MULTILINE)
    assert [question.replace("asks for 2,400 more", "asks for more") for question in asked] == list(QUESTIONS)


def test_a_screen_has_the_title_of_its_own_question() -> None:
    assert SCREENS["chamber"].title == "How much healing chamber should we own?"
    assert SCREENS["compare"].title == "Variants side by side, and what makes them differ"
    assert len({screen.title for screen in SCREENS.values()}) == len(SCREENS)


@pytest.mark.parametrize("verb", SCREENS)
def test_each_argument_is_a_field_or_is_filled_in_by_the_desk(verb: str) -> None:
    fields = {field.name for field in SCREENS[verb].fields}
    assert fields == {a.name for a in VERBS[verb].arguments} - set(LEFT_OUT)


def filled(field: Field, called: str) -> str:
    if field.choices:
        return field.choices[-1]
    return "yes" if field.kind is FieldKind.TICK else VALUES.get(called, f"some {field.name}")


@pytest.mark.parametrize("verb", SCREENS)
def test_what_is_filled_in_reaches_the_command(verb: str) -> None:
    screen, arguments = SCREENS[verb], {a.name: a for a in VERBS[verb].arguments}
    given = {f.name: [filled(f, arguments[f.name].settings.get("metavar", ""))] for f in screen.fields}
    options, placed = screen.arguments(given)
    line = [verb, *options, "--output=out", "--", "book.xlsx", *placed]
    told = vars(parser().parse_args(line))
    for name, (text,) in given.items():
        value = told[name]
        shown = value[0] if isinstance(value, list) else value
        right = {"True": "yes"}.get(str(shown), str(shown))
        assert right == text or float(right) == float(text)


def test_blank_fields_leave_the_defaults() -> None:
    options, placed = SCREENS["prices"].arguments({"quantity": [" "], "profit_margin": [""]})
    assert (options, placed) == ([], [])
    assert vars(parser().parse_args(["prices", "-o", "out", "book"]))["quantity"] == 1000


def test_a_value_that_looks_like_an_option_stays_a_value() -> None:
    field = Field("product", "--product", "Product", FieldKind.TEXT)
    placed = Field("counts", "", "Counts", FieldKind.TEXT)
    screen = Screen("quote", "", ("?",), "", (field, placed), "")
    assert screen.arguments({"product": ["--seed"], "counts": ["-x"]}) == (["--product=--seed"], ["-x"])

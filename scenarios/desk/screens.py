"""What the desk asks for each question: a screen a verb, a field an argument.

The command line makes the screens from its own declarations, so the two never differ.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum


class FieldKind(StrEnum):
    """How a field is filled in."""

    TEXT = "text"
    NUMBER = "number"
    DAY = "date"
    CHOICE = "choice"
    TICK = "tick"


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a screen.

    ``flag``: that of the argument; blank for one that is told by its place. ``offers``: the list of the
    scenario or of the folder from which a person picks (``products``, ``modules``, ``customers``, ``plans``,
    ``files``, ``variants``); blank where there is none. ``free``: a person may type what the list lacks.
    """

    name: str
    flag: str
    label: str
    kind: FieldKind
    choices: tuple[str, ...] = ()
    offers: str = ""
    free: bool = False
    default: str = ""
    required: bool = False
    several: bool = False


@dataclass(frozen=True, slots=True)
class Screen:
    """A verb as a screen: its title, the questions that it answers, what it tells, its fields, its page."""

    verb: str
    title: str
    questions: tuple[str, ...]
    about: str
    fields: tuple[Field, ...]
    page: str

    def arguments(self, given: Mapping[str, list[str]]) -> tuple[list[str], list[str]]:
        """Options, and arguments told by their place, of what a person filled in; blanks are left out."""
        options: list[str] = []
        placed: list[str] = []
        for field in self.fields:
            values = [value.strip() for value in given.get(field.name, ()) if value.strip()]
            if not field.flag:
                placed += values
            elif field.kind is FieldKind.TICK:
                options += [field.flag] if values else []
            elif values:
                options.append(f"{field.flag}={values[0]}")
        return options, placed

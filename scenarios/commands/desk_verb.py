"""The verb that opens the desk, and the desk's screens, which are made from the other verbs' declarations."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from scenarios.cells.faults import Refused
from scenarios.commands.arguments import Argument, Verb, place
from scenarios.commands.running import DONE

if TYPE_CHECKING:
    from scenarios.desk.screens import Field, Screen

FOLDER = "Graftwright"
"""Name of the desk's folder in a person's home, where no other is named."""

ARGUMENTS = (
    Argument(
        "folder",
        nargs="?",
        type=place,
        metavar="FOLDER",
        help="the folder with your scenarios and their answers, or a scenario in it (default: "
        f"{FOLDER} in your home folder)",
    ),
    Argument("--no-browser", action="store_true", help="only print the address, and open no browser"),
)

QUESTIONS: dict[str, tuple[str, ...]] = {
    "Can we deliver this order book, and what do we do on which day?": ("plan",),
    "What does each order cost us, and what must we charge?": ("costs", "prices", "heat"),
    "A customer asks for more: yes or no, at what price, in which week?": ("quote", "accept"),
    "Who has asked but not booked: what do we hold for them, and what is a deposit worth?": ("hold",),
    "Is it worth grafting here, or buying in, or part of each?": ("break-even", "compare"),
    "How much healing chamber should we own?": ("chamber",),
    "What seed, clips, trays and media do we order, in which packs, by when?": ("plan",),
    "When does money go out and come in, and how deep do we go into the overdraft?": ("plan", "overdraft"),
    "Who works when, and how many grafters do we need?": ("work", "plan"),
    "How sure are we?": ("risk", "margins"),
    "The wave took badly. What now?": ("replan", "rates"),
    "What should we invest in over the next years?": ("invest",),
    "Does it pay my customer?": ("payback",),
    "Why can't it be done, and what would cure it?": ("limits", "freedom"),
}
"""The owner's questions, those of docs/guides, each with the verbs that answer it."""

LEFT_OUT = ("scenario", "progress", "today", "output", "workers", "cluster", "write_program")
"""Arguments that the desk fills in itself, or that a person at the desk has no use for."""

LISTS = {
    ("product", "NAME"): "products",
    ("module", "NAME"): "modules",
    ("customer", "NAME"): "customers",
    ("last", "FOLDER"): "plans",
    ("orders", "FILE.csv"): "files",
    ("counts", "COUNTS.csv"): "files",
    ("variants", "VARIANT"): "variants",
}
"""Where a person picks, by the argument and what its help calls the value."""

NUMBERS = ("NUMBER", "PLANTS", "MONEY", "SHARE", "FACTOR", "N", "UNITS")
"""What help calls a value that is a number."""


def desk(options: Namespace, verbs: Mapping[str, Verb]) -> int:
    """Open the desk, until Ctrl-C closes it."""
    from scenarios.desk.serve import serve

    folder, book = _folder(options.folder)
    serve(folder, screens(verbs), book=book, browser=not options.no_browser)
    return DONE


def _folder(named: Path | None) -> tuple[Path, str | None]:
    """The desk's folder, and the scenario in it that was named."""
    if named is None:
        return Path.home() / FOLDER, None
    if (named / "nursery.csv").is_file() or named.is_file():
        return named.resolve().parent, named.name
    if named.suffix and not named.exists():
        raise Refused(f"{named} is not there; name a folder, or a scenario that exists")
    return named, None


def screens(verbs: Mapping[str, Verb]) -> list[Screen]:
    """A screen for each verb of ``QUESTIONS``, in that order."""
    from scenarios.desk.screens import Screen

    return [
        Screen(
            name,
            _title(name, verbs[name].help),
            tuple(question for question, answering in QUESTIONS.items() if name in answering),
            verbs[name].help,
            tuple(_field(argument) for argument in verbs[name].arguments if argument.name not in LEFT_OUT),
            f"{name}.html",
        )
        for name in dict.fromkeys(name for names in QUESTIONS.values() for name in names)
    ]


def _title(verb: str, about: str) -> str:
    """The first question that the verb is the first to answer; where there is none, what it tells."""
    first = (question for question, answering in QUESTIONS.items() if answering[0] == verb)
    return next(first, about[:1].upper() + about[1:])


def _field(argument: Argument) -> Field:
    """The field of an argument: its kind follows what the help calls the value."""
    from scenarios.desk.screens import Field, FieldKind

    settings = argument.settings
    called, default = settings.get("metavar", ""), settings.get("default")
    offers = LISTS.get((argument.name, called), "")
    kind = FieldKind.TEXT
    if settings.get("action") == "store_true":
        kind = FieldKind.TICK
    elif settings.get("choices") or offers:
        kind = FieldKind.CHOICE
    elif called == "DATE":
        kind = FieldKind.DAY
    elif called in NUMBERS:
        kind = FieldKind.NUMBER
    help_ = settings["help"].replace("%(default)s", str(default))
    placed = not argument.flags[0].startswith("-")
    several = settings.get("nargs") == "*"
    return Field(
        argument.name,
        "" if placed else argument.flags[-1],
        help_[:1].upper() + help_[1:],
        kind,
        tuple(settings.get("choices", ())),
        offers,
        offers == "customers",
        "" if default is None else str(default),
        bool(settings.get("required")) or (placed and not several),
        several,
    )

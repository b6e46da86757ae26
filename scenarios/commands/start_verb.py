"""The verb that makes a first scenario: a dozen questions, a list of orders, and stated defaults."""

from __future__ import annotations

import sys
from argparse import Namespace
from pathlib import Path

from scenarios.cells.faults import Refused, printable
from scenarios.commands.arguments import Argument, place
from scenarios.commands.running import DONE, tell_as_read
from scenarios.start.questions import QUESTIONS

HEADING = "customer,crop,variety,rootstock,cells,quantity,due_day,price"

ARGUMENTS = (
    Argument("file", type=place, metavar="FILE.xlsx", help="the workbook to write"),
    Argument(
        "--orders",
        type=place,
        metavar="FILE.csv",
        help=f"the list of orders: a file with the columns {HEADING.replace(',', ', ')}",
    ),
    *(
        Argument(
            question.flag,
            metavar="TEXT" if question.kind in ("text", "currency", "locale") else "NUMBER",
            help=question.words + (f" (default {question.default})" if question.default else ""),
        )
        for question in QUESTIONS
    ),
)


def start(options: Namespace) -> int:
    """Ask on a terminal what was not given, and write the workbook."""
    from scenarios.files.write_scenario import write_workbook
    from scenarios.start.first_scenario import first_scenario
    from scenarios.start.questions import answered_in, read_answers
    from scenarios.start.start_orders import read_start_list

    target: Path = options.file
    if target.suffix.lower() != ".xlsx":
        raise Refused(f"{target}: name a file that ends in .xlsx")
    told = {q.name: getattr(options, q.name) or "" for q in QUESTIONS}
    list_ = options.orders
    if sys.stdin.isatty():
        for question in QUESTIONS:
            if not told[question.name]:
                told[question.name] = _asked(question.words, question.default)
        list_ = list_ or Path(_asked("File with the list of orders", None))
    if list_ is None:
        raise Refused(f"name the list of orders with --orders: a file with the columns {HEADING}")
    answers = read_answers(told)
    with answered_in(told):
        orders, as_read = read_start_list(list_)
    tell_as_read(as_read)
    write_workbook(first_scenario(answers, orders), target)
    print(printable(f"Written: {target}"))
    print(
        "Rows that the start filled in say 'default' in their note, with the source. Check them, then plan."
    )
    return DONE


def _asked(words: str, default: str | None) -> str:
    print(f"{words}{f' [{default}]' if default else ''}: ", end="", file=sys.stderr, flush=True)
    return sys.stdin.readline().strip()

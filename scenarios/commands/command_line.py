"""The command line: ``graftwright VERB ...``, one plain verb for each question.

Exit codes: 0 done, 1 failed, 2 bad input, 3 done but the plan leaves orders short, 130
stopped by Ctrl-C. A verb imports what it
needs when it runs, so that help and messages on bad arguments appear at once.
"""

from __future__ import annotations

import atexit
import gc
import sys
from argparse import SUPPRESS, Action, ArgumentParser
from collections.abc import Sequence
from contextvars import copy_context

from model.collector import collect_seldom
from scenarios.commands import desk_verb, file_verbs, plan_verbs, start_verb
from scenarios.commands.arguments import (
    LONGEST,
    OUTPUT,
    SCENARIO,
    Argument,
    Verb,
    amount,
    count_to,
    day,
    place,
    program_file,
)
from scenarios.commands.endings import (
    ending,
    hush_trackers,
    leave_at_once,
    leave_quietly,
    never_fail_to_print,
    still_solving,
)
from scenarios.commands.running import BAD_INPUT, DONE, FAILED, SHORT, STOPPED
from scenarios.commands.study_verbs import STUDIES

VERBS: dict[str, Verb] = {
    "plan": Verb(
        "the plan of least cost: workbook, page, pictures and tables",
        (
            *SCENARIO,
            OUTPUT,
            Argument(
                "--write-program",
                type=program_file,
                metavar="FILE",
                help="also write the linear program for any other solver: FILE.lp or FILE.mps",
            ),
            Argument(
                "--seasons",
                type=count_to(10_000),
                metavar="N",
                help="the plan that is best on average over N sampled seasons, without margins (100 or more)",
            ),
            Argument(
                "--seed",
                type=count_to(1_000_000_000),
                default=1,
                metavar="N",
                help="seed of the sampled seasons (default 1)",
            ),
        ),
        plan_verbs.plan,
    ),
    "replan": Verb(
        "a new plan from today: what changes against the last plan, what it costs, cures",
        (
            *SCENARIO,
            Argument("--last", type=place, required=True, metavar="FOLDER", help="folder of the last plan"),
            Argument(
                "--upset",
                type=amount,
                metavar="MONEY",
                help="least saving for each job that changes (default: an hour of the best-paid crew)",
            ),
            OUTPUT,
        ),
        plan_verbs.replan,
    ),
    "work": Verb(
        "work lists for each crew, tray tags, dispatch notes, a calendar feed",
        (
            *SCENARIO,
            OUTPUT,
            Argument(
                "--from",
                dest="first",
                type=day,
                metavar="DATE",
                help="first day of the lists (default: the first day with work)",
            ),
            Argument(
                "--days",
                type=count_to(LONGEST),
                default=plan_verbs.WORK_DAYS,
                metavar="N",
                help="number of days (default %(default)s)",
            ),
        ),
        plan_verbs.work,
    ),
    **STUDIES,
    "check": Verb(
        "every fault of a scenario at once, and remarks on unusual figures", SCENARIO, file_verbs.check
    ),
    "start": Verb(
        "a first scenario from a dozen answers and a list of orders; the rest are stated defaults",
        start_verb.ARGUMENTS,
        start_verb.start,
    ),
    "blank": Verb(
        "an empty scenario workbook with headings, units, pick lists and notes",
        (
            Argument("file", type=place, metavar="FILE.xlsx", help="the workbook to write"),
            Argument("--examples", action="store_true", help="with the demo's rows as examples"),
        ),
        file_verbs.blank,
    ),
    "convert": Verb(
        "a scenario from workbook to a folder of CSV files, or back",
        (*SCENARIO, Argument("target", type=place, metavar="TARGET", help="a new .xlsx file or folder")),
        file_verbs.convert,
    ),
    "desk": Verb(
        "a page on this machine with a screen for each question; the same without a verb",
        desk_verb.ARGUMENTS,
        lambda options: desk_verb.desk(options, VERBS),
    ),
}
"""The verbs, in the order of the help and of the README's table, which says the same of each."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; print any error in plain words."""
    never_fail_to_print()
    hush_trackers()
    collect_seldom()
    atexit.register(gc.freeze)  # Python would walk all that is left once more, just to end
    given = sys.argv[1:] if arguments is None else arguments
    options = parser().parse_args(given or ["desk"])
    try:
        code = copy_context().run(VERBS[options.verb].run, options)  # how it writes ends with the command
        sys.stdout.flush()
    except BrokenPipeError:
        return leave_quietly()
    except (Exception, KeyboardInterrupt) as error:
        told, code = ending(error, options)
        print(told, file=sys.stderr)
    if code == STOPPED and arguments is None and still_solving():
        leave_at_once(code)
    return code


def parser() -> ArgumentParser:
    """The parser of all verbs."""
    made = ArgumentParser(
        prog="graftwright",
        description="Plans the sowing, grafting and delivery of grafted transplants at least cost.",
        epilog=f"Exit codes: {DONE} done, {FAILED} failed, {BAD_INPUT} bad input, "
        f"{SHORT} done but orders are short, {STOPPED} stopped by Ctrl-C.",
    )
    made.add_argument("--version", action=_Version, help="show the version and stop")
    verbs = made.add_subparsers(dest="verb", required=True, metavar="VERB", title="verbs")
    for name, verb in VERBS.items():
        of_verb = verbs.add_parser(name, help=verb.help, description=verb.help)
        for argument in verb.arguments:
            argument.add_to(of_verb)
    return made


class _Version(Action):
    """Print the installed version; looks it up only when it is needed."""

    def __init__(self, option_strings: Sequence[str], dest: str, help: str) -> None:
        super().__init__(option_strings, SUPPRESS, nargs=0, help=help)

    def __call__(self, parser: ArgumentParser, *_: object) -> None:
        from importlib.metadata import PackageNotFoundError, version

        try:
            print(f"{parser.prog} {version('graftwright')}")
        except PackageNotFoundError:
            print(f"{parser.prog}, not installed")
        parser.exit()


if __name__ == "__main__":
    sys.exit(main())

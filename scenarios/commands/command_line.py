"""The command line: ``graftwright VERB ...``, one plain verb for each question.

Exit codes: 0 done, 1 failed, 2 bad input, 3 done but the plan leaves orders short.
"""

from __future__ import annotations

import argparse
import shutil
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from scenarios.commands.study_verbs import (
    MARGIN,
    STUDIES,
    Refused,
    add_studies,
    amount,
    case_of,
    cluster,
    count,
    day,
    folder_for,
    output_argument,
    scenario_of,
    with_changes,
    write_and_print,
    write_page_and_pictures,
)

if TYPE_CHECKING:
    from rich.console import Console

    from model.planned.plan_tables import Plan
    from model.proof.audit import Check
    from model.scenario.entities import Scenario
    from model.solve import Solved
    from scenarios.variants.variants import Variant

DONE, FAILED, BAD_INPUT, SHORT = 0, 1, 2, 3

WORK_DAYS = 7
"""Days of the work lists where none are given."""


class Failed(Exception):
    """A plan that could not be made or is not right, in words for the user; exit code 1."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the exit code."""
    from scenarios.cells.faults import BadInput, render_faults

    options = parser().parse_args(arguments)
    try:
        return int(options.verb(options))
    except BadInput as bad:
        print(render_faults(bad.faults), file=sys.stderr)
        return BAD_INPUT
    except Refused as refused:
        print(refused, file=sys.stderr)
        return BAD_INPUT
    except Failed as failed:
        print(failed, file=sys.stderr)
        return FAILED
    except OSError as error:
        print(f"cannot read or write: {error}", file=sys.stderr)
        return FAILED
    except KeyboardInterrupt:
        print("stopped; nothing written", file=sys.stderr)
        return FAILED


def parser() -> argparse.ArgumentParser:
    """The parser of all verbs."""
    made = argparse.ArgumentParser(
        prog="graftwright",
        description="Plans the sowing, grafting and delivery of grafted transplants at least cost.",
        epilog="Exit codes: 0 done, 1 failed, 2 bad input, 3 done but orders are short.",
    )
    verbs = made.add_subparsers(required=True, metavar="VERB", title="verbs")

    plan = verbs.add_parser("plan", help="the plan of least cost: workbook and tables")
    _scenario_argument(plan)
    output_argument(plan)
    plan.set_defaults(verb=plan_verb)

    again = verbs.add_parser("replan", help="the plan again from today, and what it changes against the last")
    _scenario_argument(again)
    again.add_argument(
        "--last", type=Path, required=True, metavar="FOLDER", help="where the last plan was written"
    )
    again.add_argument(
        "--upset",
        type=amount,
        default=0.0,
        metavar="MONEY",
        help="what a tray of sowing or grafting changed in the next seven days must save (default 0)",
    )
    output_argument(again)
    again.set_defaults(verb=replan_verb)

    work = verbs.add_parser("work", help="work lists, tray tags, dispatch notes, a calendar feed")
    _scenario_argument(work)
    output_argument(work)
    work.add_argument(
        "--from", dest="first", type=day, metavar="DATE", help="first day of the lists (default: of the work)"
    )
    work.add_argument("--days", type=count, default=WORK_DAYS, metavar="N", help="days (default %(default)s)")
    work.set_defaults(verb=work_verb)

    add_studies(verbs, _scenario_argument, study_verb)

    check = verbs.add_parser("check", help="read a scenario and report every fault and remark")
    _scenario_argument(check)
    check.set_defaults(verb=check_verb)

    blank = verbs.add_parser("blank", help="write an empty scenario workbook to fill in")
    blank.add_argument("file", type=Path, metavar="FILE.xlsx", help="the workbook to write")
    blank.add_argument("--examples", action="store_true", help="with the demo's rows as examples")
    blank.set_defaults(verb=blank_verb)

    convert = verbs.add_parser("convert", help="a scenario from workbook to folder of CSV files, or back")
    _scenario_argument(convert)
    convert.add_argument("target", type=Path, metavar="TARGET", help="a new .xlsx file or folder")
    convert.set_defaults(verb=convert_verb)
    return made


def _scenario_argument(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "scenario",
        metavar="SCENARIO",
        help="a workbook (.xlsx), a folder of CSV files, a variant (.toml), or the demo's name: hollow_ash",
    )
    parser.add_argument(
        "--progress",
        type=Path,
        metavar="FILE.csv",
        help="what has happened, beside what the scenario tells: a file with the columns of table progress",
    )
    parser.add_argument(
        "--today",
        type=day,
        metavar="DATE",
        help="first day that can still be planned, such as 2027-03-08 (default: the scenario's)",
    )


def plan_verb(options: argparse.Namespace) -> int:
    """Plan a scenario; write workbook and tables once the audit has passed."""
    from rich.console import Console

    from reports.plan.terminal import print_summary
    from scenarios.files.atomic import whole_files

    output = folder_for(options.output)
    with _progress() as phase:
        phase("read")
        case = case_of(options)
        scenario = case.scenario
        solved, result, checks = _audited(scenario, phase)
        phase("write")
        with whole_files(output) as folder:
            _write_plan(case, solved, result, checks, folder)
    console = Console(highlight=False)
    print_summary(console, scenario, result, checks)
    written = ", ".join(str(output / name) for name in PLAN_FILES)
    console.print(f"Written: {written}", soft_wrap=True, markup=False)
    return SHORT if result.short > 0 else DONE


PLAN_FILES = ("plan.xlsx", "plan.html", "plan_pictures", "tables")


def _write_plan(case: Variant, solved: Solved, result: Plan, checks: list[Check], folder: Path) -> None:
    """Workbook, page, pictures and tables of a plan that has passed the audit."""
    from model.questions.traced_costs import traced_parts
    from reports.plan.csv_tables import write_plan_tables
    from reports.sheets.plan_page import plan_study
    from reports.sheets.workbook import write_plan_workbook
    from scenarios.rules.remarks import remarks

    scenario = case.scenario
    report = write_plan_workbook(
        scenario,
        result,
        traced_parts(solved),
        checks,
        remarks(scenario),
        folder / "plan.xlsx",
        case.changes,
        target_margin=MARGIN,
    )
    write_plan_tables(result, folder / "tables")
    write_page_and_pictures(plan_study(report), folder, "plan")


def replan_verb(options: argparse.Namespace) -> int:
    """Plan again from today; write the plan and what it changes, once the audit has passed."""
    from rich.console import Console

    from model.season.replanning import replan
    from model.solve import plan_of
    from model.solver.compiled import SolveError
    from reports.study.study import print_study, write_study
    from reports.work.calendar_feed import NotAFeed
    from scenarios.commands.work_files import CALENDAR, NoWork, write_work
    from scenarios.files.atomic import whole_files
    from scenarios.files.read_plan import read_last
    from scenarios.studies.replan import replan_study

    output = folder_for(options.output)
    with _progress() as phase:
        phase("read")
        case = case_of(options)
        scenario = case.scenario
        if scenario.nursery.today is None:
            raise Refused("the scenario has no today: write it into the table nursery, or say --today")
        last = read_last(options.last)
        try:
            again = replan(scenario, last, upset=options.upset, progress=phase)
            result = plan_of(again.solved, progress=phase)
            checks = _proved(scenario, result, phase)
            study = replan_study(scenario, last, again, result, upset=options.upset, progress=phase)
            study = with_changes(study, case)
        except SolveError as error:
            raise Failed(str(error)) from None
        phase("write")
        with whole_files(output) as folder:
            _write_plan(case, again.solved, result, checks, folder)
            write_study(study, folder / "replan.xlsx")
            write_page_and_pictures(study, folder, "replan")
            if (output / CALENDAR).is_file():
                shutil.copyfile(output / CALENDAR, folder / CALENDAR)
            with suppress(NoWork):
                try:
                    write_work(scenario, result, folder, first=scenario.nursery.today, days=WORK_DAYS)
                except NotAFeed:
                    raise Refused(f"{output / CALENDAR} is another program's; move it away") from None
            made = sorted(path.name for path in folder.iterdir())
    console = Console(highlight=False)
    print_study(console, study)
    written = ", ".join(str(output / name) for name in made)
    console.print(f"Written: {written}", soft_wrap=True, markup=False)
    return SHORT if result.short > 0 else DONE


def _audited(scenario: Scenario, phase: Callable[[str], None]) -> tuple[Solved, Plan, list[Check]]:
    """The plan of least cost with its solution, once the audit has passed; else raises ``Failed``."""
    from model.solve import plan_of, solve
    from model.solver.compiled import SolveError

    try:
        solved = solve(scenario, progress=phase)
        result = plan_of(solved, progress=phase)
    except SolveError as error:
        raise Failed(str(error)) from None
    return solved, result, _proved(scenario, result, phase)


def _proved(scenario: Scenario, result: Plan, phase: Callable[[str], None]) -> list[Check]:
    """The checks of the audit, all passed; else raises ``Failed``."""
    from model.proof.audit import audit

    phase("audit")
    checks = audit(scenario, result)
    wrong = [f"audit failed: {check.name}: {check.detail}" for check in checks if not check.passed]
    if wrong:
        raise Failed("\n".join([*wrong, "the plan is wrong and was not written; please report this"]))
    return checks


def work_verb(options: argparse.Namespace) -> int:
    """Plan a scenario; write the work of its crews once the audit has passed."""
    from reports.work.calendar_feed import NotAFeed
    from scenarios.commands.work_files import FILES, NoWork, write_work

    output = folder_for(options.output)
    with _progress() as phase:
        phase("read")
        scenario = case_of(options).scenario
        _, result, _ = _audited(scenario, phase)
        phase("write")
        try:
            first = write_work(scenario, result, output, first=options.first, days=options.days)
        except (NoWork, NotAFeed) as error:
            raise Refused(str(error)) from None
    print(f"Lists, tags and notes of {options.days} days from {first}; the calendar holds the whole season.")
    print(f"Written: {', '.join(str(output / name) for name in FILES)}")
    return SHORT if result.short > 0 else DONE


def study_verb(options: argparse.Namespace) -> int:
    """Work out one study of a scenario; write its workbook."""
    from model.solver.compiled import SolveError

    verb, output = STUDIES[options.study], folder_for(options.output)
    with _progress() as phase, cluster(getattr(options, "cluster", None)):
        phase("read")
        case = case_of(options)
        try:
            study = with_changes(verb.study(options, case.scenario, phase), case)
        except SolveError as error:
            print(error, file=sys.stderr)
            return FAILED
        phase("write")
    write_and_print(study, output, options.study)
    return DONE


def check_verb(options: argparse.Namespace) -> int:
    """Read a scenario and print its size and what is remarkable about it."""
    from scenarios.rules.remarks import remarks

    scenario = case_of(options).scenario
    for remark in remarks(scenario):
        print(f"remark: {remark}")
    print(_size(scenario))
    print("no faults")
    return DONE


def _size(scenario: Scenario) -> str:
    nursery, plants = scenario.nursery, sum(order.quantity for order in scenario.orders)
    told = f"; {len(scenario.progress):,} rows of progress before {nursery.today}" if nursery.today else ""
    return (
        f"{nursery.name}: {len(scenario.orders)} orders for {plants:,} plants of "
        f"{len(scenario.products)} products, {nursery.first_day} to {nursery.last_day}{told}"
    )


def blank_verb(options: argparse.Namespace) -> int:
    """Write a blank scenario workbook."""
    from scenarios.files.write_scenario import write_blank

    target = _new_file(options.file)
    if target.suffix.lower() != ".xlsx":
        raise Refused(f"{target}: name a file that ends in .xlsx")
    examples = scenario_of("hollow_ash") if options.examples else None
    write_blank(target, examples=examples)
    print(f"Written: {target}")
    return DONE


def convert_verb(options: argparse.Namespace) -> int:
    """Write a scenario in the other form."""
    from scenarios.files.write_scenario import write_folder, write_workbook

    target = _new_file(options.target)
    scenario = case_of(options).scenario
    if target.suffix.lower() == ".xlsx":
        write_workbook(scenario, target)
    elif target.suffix:
        raise Refused(f"{target}: name a file that ends in .xlsx, or a folder without a suffix")
    else:
        write_folder(scenario, target)
    print(f"Written: {target}")
    return DONE


def _new_file(path: Path) -> Path:
    if path.exists():
        raise Refused(f"{path} exists already; name a new one, or move it away first")
    return path


@contextmanager
def _progress() -> Iterator[Callable[[str], None]]:
    """Tells what is being done: a moving line on a terminal, a line a phase elsewhere."""
    from rich.console import Console

    console: Console = Console(stderr=True, highlight=False)
    start = time.perf_counter()
    if console.is_terminal:
        with console.status("") as status:
            yield lambda phase: status.update(f"{phase} ... ({time.perf_counter() - start:.1f} s)")
    else:
        yield lambda phase: console.print(f"{phase} ...", markup=False)


if __name__ == "__main__":
    sys.exit(main())

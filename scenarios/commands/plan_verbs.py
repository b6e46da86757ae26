"""The verbs that make a plan: plan, replan from today, and write work lists."""

from __future__ import annotations

from argparse import Namespace
from contextlib import suppress
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from model.phases import Say
from reports.book.writing import grouped, shown_day
from scenarios.cells.faults import Refused
from scenarios.commands.arguments import PROFIT_MARGIN
from scenarios.commands.claimed import claimed
from scenarios.commands.running import (
    DONE,
    SHORT,
    Failed,
    case_of,
    phases,
    print_answer,
    solving,
    write_page_and_pictures,
)

if TYPE_CHECKING:
    from model.planned.plan_tables import Plan
    from model.proof.audit import Check
    from model.scenario.entities import Scenario
    from model.solve import Solved
    from scenarios.variants.variants import Variant

WORK_DAYS = 7
"""Default number of days on the work lists."""

PLAN_FILES = ("plan.xlsx", "plan.html", "plan_pictures/", "tables/")


def plan(options: Namespace) -> int:
    """Plan a scenario; write workbook and tables once the audit has passed."""
    from model.solver.program_file import write_program
    from reports.plan.terminal import print_summary
    from scenarios.files.output import claim_new, new_file

    if options.seasons is not None:
        return _hedged(options)
    output, program = claimed(options, PLAN_FILES), options.write_program
    if program is not None:
        claim_new(program)
    with phases() as phase:
        phase("read")
        case = case_of(options)
        scenario = case.scenario
        solved, result, checks = _audited(scenario, phase)
        phase("write")
        with output.writing() as folder:
            _write_plan(case, solved, result, checks, folder)
            if program is not None:
                with new_file(program) as part:
                    write_program(solved.program, solved.compiled, part)
    tell = partial(print_summary, scenario=scenario, plan=result, checks=checks)
    print_answer(
        tell, output.folder, PLAN_FILES if program is None else (*PLAN_FILES, str(program.absolute()))
    )
    return SHORT if result.short > 0 else DONE


def _hedged(options: Namespace) -> int:
    """Plan a scenario over sampled seasons; write the plan, its papers and how it compares once audited."""
    from model.hedging.hedged_plan import hedged
    from model.solve import explained, plan_of
    from reports.study.study import print_study, write_study
    from scenarios.commands.work_files import CALENDAR, FILES, earlier_feed
    from scenarios.hedging.compared import changes_of, hedge_study

    if options.write_program is not None:
        raise Refused("--write-program writes the program of the expected season; leave out --seasons")
    names = (*PLAN_FILES, "hedge.xlsx", "hedge.html", "hedge_pictures/", *FILES)
    output = claimed(options, names, carried=[CALENDAR])
    earlier = earlier_feed(output.folder)
    with phases() as phase:
        phase("read")
        case = case_of(options)
        with solving():
            found = hedged(case.scenario, seasons=options.seasons, seed=options.seed, progress=phase)
            result = explained(found.solved, plan_of(found.solved, progress=phase), progress=phase)
            checks = _proved(found.scenario, result, phase)
            sample = {"seasons": options.seasons, "seed": options.seed}
            study = hedge_study(case.scenario, found, result, **sample, progress=phase)
        changes = (*case.changes, *changes_of(case.scenario, found.scenario))
        case = replace(case, scenario=found.scenario, changes=changes)
        phase("write")
        with output.writing() as folder:
            _write_plan(case, found.solved, result, checks, folder)
            write_study(study, folder / "hedge.xlsx")
            write_page_and_pictures(study, folder, "hedge")
            made = _with_papers(case.scenario, result, folder, earlier)
    print_answer(lambda console: print_study(console, study), output.folder, made)
    return SHORT if result.short > 0 else DONE


def replan(options: Namespace) -> int:
    """Plan again from today; write the new plan and its changes once the audit has passed."""
    from model.season import replanning
    from model.solve import explained, plan_of
    from reports.study.study import print_study, write_study
    from scenarios.commands.study_verbs import with_changes
    from scenarios.commands.work_files import CALENDAR, FILES, earlier_feed
    from scenarios.files.read_plan import left_open, read_last
    from scenarios.studies.replan import replan_study

    names = (*PLAN_FILES, "replan.xlsx", "replan.html", "replan_pictures/", *FILES)
    output = claimed(options, names, carried=[CALENDAR])
    earlier = earlier_feed(output.folder)
    with phases() as phase:
        phase("read")
        case = case_of(options)
        scenario = case.scenario
        if scenario.nursery.today is None:
            raise Refused("the scenario has no today: write it into the table nursery, or give --today")
        last, gap = read_last(options.last), left_open(options.last)
        with solving():
            again = replanning.replan(scenario, last, upset=options.upset, left_open=gap, progress=phase)
            result = explained(again.solved, plan_of(again.solved, progress=phase), progress=phase)
            checks = _proved(scenario, result, phase)
            study = replan_study(scenario, last, again, result, progress=phase)
            study = with_changes(study, case)
        phase("write")
        with output.writing() as folder:
            _write_plan(case, again.solved, result, checks, folder)
            write_study(study, folder / "replan.xlsx")
            write_page_and_pictures(study, folder, "replan")
            made = _with_papers(scenario, result, folder, earlier)
    print_answer(lambda console: print_study(console, study), output.folder, made)
    return SHORT if result.short > 0 else DONE


def work(options: Namespace) -> int:
    """Plan a scenario; write the crews' lists, tags, notes and calendar once the audit has passed."""
    from scenarios.commands.work_files import CALENDAR, FILES, earlier_feed, write_work

    output = claimed(options, FILES, carried=[CALENDAR])
    earlier = earlier_feed(output.folder)
    with phases() as phase:
        phase("read")
        scenario = case_of(options).scenario
        _check_days(options, scenario)
        _, result, _ = _audited(scenario, phase)
        phase("write")
        with output.writing() as folder:
            first = write_work(
                scenario, result, folder, earlier=earlier, first=options.first, days=options.days
            )
    span = f"{options.days} days from {shown_day(first)}"
    print(f"Lists, tags and notes of {span}; the calendar holds the whole season.")
    print(f"Written: {', '.join(str(output.folder / name) for name in FILES)}")
    return SHORT if result.short > 0 else DONE


def _check_days(options: Namespace, scenario: Scenario) -> None:
    """Refuse work lists for days outside the scenario."""
    first, last = scenario.nursery.first_day, scenario.nursery.last_day
    if options.first is not None and not first <= options.first <= last:
        days = f"{shown_day(first)} to {shown_day(last)}"
        raise Refused(f"--from {shown_day(options.first)} is outside the scenario; write a day from {days}")
    length = (last - first).days + 1
    if options.days > max(length, WORK_DAYS):
        raise Refused(
            f"--days {grouped(options.days)} is longer than the scenario; write at most {grouped(length)}"
        )


def _write_plan(case: Variant, solved: Solved, result: Plan, checks: list[Check], folder: Path) -> None:
    """Write workbook, page, pictures and tables of a plan that has passed the audit."""
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
        [*case.as_read, *remarks(scenario)],
        folder / "plan.xlsx",
        case.changes,
        profit_margin=PROFIT_MARGIN,
    )
    write_plan_tables(result, folder / "tables")
    write_page_and_pictures(plan_study(report), folder, "plan")


def _with_papers(scenario: Scenario, result: Plan, folder: Path, earlier: bytes | None) -> list[str]:
    """Write the crews' papers of the week from today on beside a plan; the names of all that is there.

    Without a today, the week begins with the first day with work. ``earlier``: the last calendar feed.
    """
    from scenarios.commands.work_files import NoWork, write_work

    with suppress(NoWork):
        write_work(scenario, result, folder, earlier=earlier, first=scenario.nursery.today, days=WORK_DAYS)
    return sorted(path.name for path in folder.iterdir())


def _audited(scenario: Scenario, phase: Say) -> tuple[Solved, Plan, list[Check]]:
    """Solve and audit: the solution, the plan and its checks; raises ``Failed`` where the audit fails."""
    from model.solve import explained, plan_of, solve

    with solving():
        solved = solve(scenario, progress=phase)
        result = explained(solved, plan_of(solved, progress=phase), progress=phase)
    return solved, result, _proved(scenario, result, phase)


def _proved(scenario: Scenario, result: Plan, phase: Say) -> list[Check]:
    """The checks of the audit; raises ``Failed`` where one fails."""
    from model.proof.audit import audit

    phase("audit")
    checks = audit(scenario, result)
    wrong = [f"audit failed: {check.name}: {check.detail}" for check in checks if not check.passed]
    if wrong:
        raise Failed("\n".join([*wrong, "the plan is wrong and was not written; please report this"]))
    return checks

"""The verbs for a scenario's files: check them, write a blank one, convert them."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from scenarios.cells.faults import Refused, printable
from scenarios.commands.running import DONE, filed_case_of


def check(options: Namespace) -> int:
    """Read a scenario; print its size and how much batches differ, then remarks on unusual figures."""
    from reports.book.retold import retelling
    from scenarios.rules.costly import left_from
    from scenarios.rules.remarks import in_words, remarks
    from scenarios.rules.what_it_holds import what_it_holds
    from scenarios.variants.by_name import read

    case = filed_case_of(options)
    scenario = case.scenario
    retell = retelling(scenario)
    for line in what_it_holds(scenario):
        print(line)
    for remark in (*case.as_read, *remarks(scenario), *left_from(read("hollow_ash"), scenario)):
        print(f"remark: {retell(in_words(remark))}")
    print("no faults")
    return DONE


def blank(options: Namespace) -> int:
    """Write a blank scenario workbook."""
    from scenarios.files.write_scenario import write_blank
    from scenarios.variants.by_name import read

    target: Path = options.file
    if target.suffix.lower() != ".xlsx":
        raise Refused(f"{target}: name a file that ends in .xlsx")
    write_blank(target, examples=read("hollow_ash") if options.examples else None)
    print(printable(f"Written: {target}"))
    return DONE


def convert(options: Namespace) -> int:
    """Write a scenario as a workbook or as a folder of CSV files."""
    from scenarios.files.write_scenario import write

    target: Path = options.target
    write(filed_case_of(options).scenario, target)
    print(printable(f"Written: {target}"))
    return DONE

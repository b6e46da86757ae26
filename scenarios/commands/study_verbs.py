"""The verbs of the studies: each reads a scenario, works out an answer, prints it and writes a workbook."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from importlib import import_module
from typing import TYPE_CHECKING

from model.phases import Say
from scenarios.cells.faults import Refused
from scenarios.commands import asked
from scenarios.commands.arguments import (
    OUTPUT,
    PARALLEL,
    PROFIT,
    SCENARIO,
    SEASONS,
    Argument,
    Verb,
    count_to,
    factor,
    named,
    place,
    share,
)
from scenarios.commands.claimed import claimed
from scenarios.commands.running import (
    DONE,
    case_of,
    phases,
    print_answer,
    solving,
    write_page_and_pictures,
)

if TYPE_CHECKING:
    from model.scenario.entities import Scenario
    from reports.study.study import Study
    from scenarios.files.output import Output
    from scenarios.variants.variants import Variant

    StudyOf = Callable[[Namespace, Scenario, Say], Study]


def _study(help: str, study: str | StudyOf, *own: Argument, beside: Sequence[str] = ()) -> Verb:
    """A verb that answers with a study.

    ``study``: ``module:name`` of the function that works it out, imported only when it runs. It takes the
    scenario, ``progress``, and the verb's ``own`` arguments by their names. Or a function of the options, the
    scenario and ``progress``, where the options name files to read first. ``beside``: names of other files
    that the study may write besides its workbook.
    """
    if isinstance(study, str):
        names = [argument.name for argument in own if argument.name != "cluster"]
        study = partial(_by_name, study, names)
    return Verb(help, (*SCENARIO, OUTPUT, *own), partial(_run, study, beside))


def _by_name(place: str, names: list[str], options: Namespace, scenario: Scenario, progress: Say) -> Study:
    module, function = place.split(":")
    worked_out: Study = getattr(import_module(module), function)(
        scenario, progress=progress, **{name: getattr(options, name) for name in names}
    )
    return worked_out


def _run(study: StudyOf, beside: Sequence[str], options: Namespace) -> int:
    """Work out one study of a scenario; write its workbook and print its answer."""
    name = options.verb
    output = claimed(options, (f"{name}.xlsx", f"{name}.html", f"{name}_pictures/", *beside))
    with phases() as phase, _cluster(getattr(options, "cluster", None)):
        phase("read")
        case = case_of(options)
        with solving():
            found = with_changes(study(options, case.scenario, phase), case)
        phase("write")
    _write_and_print(found, output, name)
    return DONE


@contextmanager
def _cluster(address: str | None) -> Iterator[None]:
    """Run the solves of the block on the Dask cluster at ``address``, through joblib's Dask back end."""
    if address is None:
        yield
        return
    try:
        from distributed import Client
    except ImportError:
        raise Refused("--cluster needs Dask: pip install 'graftwright[cluster]'") from None
    from joblib import parallel_config

    with Client(address), parallel_config(backend="dask"):  # type: ignore[no-untyped-call]
        yield


def with_changes(study: Study, case: Variant) -> Study:
    """The study with a sheet of the cells that the variant changes, unless it already has one."""
    from reports.book.changes import CHANGES
    from reports.study.study import changes_section

    if not case.changes or any(section.name == CHANGES for section in study.sections):
        return study
    sections = [*study.sections, changes_section(case.changes)]
    return replace(study, sections=sections, facts=[("Variant", case.name), *study.facts])


def _write_and_print(study: Study, output: Output, name: str) -> None:
    """Write the study's workbook, page, pictures and files into the folder, and print its answer."""
    from reports.study.study import print_study, write_study

    with output.writing() as folder:
        write_study(study, folder / f"{name}.xlsx")
        write_page_and_pictures(study, folder, name)
        for file, text in study.files:
            (folder / file).write_text(text, encoding="utf-8")
        names = sorted(made.name for made in folder.iterdir())
    print_answer(lambda console: print_study(console, study), output.folder, names)


STUDIES: dict[str, Verb] = {
    "costs": _study(
        "what each order costs, what to charge, what grafting adds to a plant",
        "scenarios.studies.order_costs:order_costs_study",
        PROFIT,
        *PARALLEL,
    ),
    "quote": _study(
        "a customer asks for more: yes or no, at what price, in which week",
        asked.quote,
        PROFIT,
        Argument("--product", metavar="NAME", help="the product asked for"),
        Argument("--quantity", metavar="PLANTS", help="how many plants"),
        Argument("--due", metavar="DATE", help="the due day, such as 2027-04-20"),
        Argument("--price", metavar="MONEY", help="the price that the customer offers for a plant"),
        Argument("--customer", metavar="NAME", default="candidate", help="the customer who asks"),
        Argument(
            "--orders",
            type=place,
            metavar="FILE.csv",
            help="for several orders: a file with the columns of the table orders",
        ),
        *PARALLEL,
    ),
    "prices": _study(
        "a price for each product and delivery week",
        "scenarios.studies.price_list:price_list_study",
        PROFIT,
        Argument(
            "--quantity",
            type=count_to(1_000_000),
            default=1000,
            metavar="PLANTS",
            help="plants of each product priced (default 1,000)",
        ),
        *PARALLEL,
    ),
    "accept": _study(
        "which orders to take, where some may be declined", "scenarios.studies.accept:accept_study"
    ),
    "chamber": _study(
        "how much healing chamber to own",
        "scenarios.studies.chamber:chamber_study",
        Argument("--module", metavar="NAME", help="the module to add; needed where there are several"),
        Argument("--most", type=count_to(100), default=6, metavar="N", help="most modules tried (default 6)"),
        *PARALLEL,
    ),
    "break-even": _study(
        "where grafting and buying in cost the same",
        "scenarios.studies.break_even:break_even_study",
        Argument(
            "--of",
            choices=("volume", "buy-in-price", "take", "wage"),
            required=True,
            help="the figure to vary",
        ),
        Argument("--low", type=factor, default=0.5, metavar="FACTOR", help="lowest factor (default 0.5)"),
        Argument("--high", type=factor, default=2.0, metavar="FACTOR", help="highest factor (default 2.0)"),
        *PARALLEL,
    ),
    "compare": _study(
        "variants side by side, and what makes them differ",
        asked.compare,
        Argument(
            "variants",
            nargs="*",
            type=named,
            metavar="VARIANT",
            help="variants (.toml) or other scenarios (default: those in the scenario's folder variants)",
        ),
        *PARALLEL,
    ),
    "rates": _study(
        "germination, take and pace from your own counts, and a variant with them",
        asked.rates,
        Argument(
            "counts",
            type=named,
            metavar="COUNTS.csv",
            help="the log of counts, one row a count; the demo has hollow_ash/records/counts.csv",
        ),
        beside=["counted_rates.toml"],
    ),
    "risk": _study(
        "the chance to fill each order, and how the cost may vary",
        "scenarios.studies.risk:risk_study",
        *SEASONS,
    ),
    "margins": _study(
        "how much more to sow and graft: margins tuned until every order reaches its level",
        asked.margins,
        *SEASONS,
        beside=["tuned_margins.toml"],
    ),
    "limits": _study(
        "what binds, why orders are short, and the least relief",
        "scenarios.studies.limits:limits_study",
        *PARALLEL,
    ),
    "freedom": _study(
        "how different a plan may be for little more money",
        "scenarios.studies.freedom:freedom_study",
        Argument(
            "--within",
            type=share,
            default=0.01,
            metavar="SHARE",
            help="a plan may cost more than the least cost by this share of it (default 0.01)",
        ),
        *PARALLEL,
    ),
}
"""The verbs, in the order of the help."""

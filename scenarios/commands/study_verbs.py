"""The verbs of the studies: each reads a scenario, works out one answer, writes one workbook, prints it."""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from model.scenario.entities import Scenario
    from reports.study.study import Study
    from scenarios.files.read_scenario import Told
    from scenarios.variants.variants import Variant

Progress = Callable[[str], None]

MARGIN = 0.25
"""Target margin where none is given, as a share of the price; the workbook's follows when changed."""

PRICED_PLANTS = 1000
MOST_MODULES = 6
SEASONS = 10_000
WITHIN = 0.01
RANGE = (0.5, 2.0)
"""Factors of a break-even's range."""

BREAK_EVENS = ("volume", "buy-in-price", "take", "wage")


class Refused(Exception):
    """A wish of the user that cannot be met, in words for the user; exit code 2."""


class StudyVerb(NamedTuple):
    """A verb: help, arguments beside the common ones, and the study it makes."""

    help: str
    arguments: Callable[[argparse.ArgumentParser], None]
    study: Callable[[argparse.Namespace, Scenario, Progress], Study]
    parallel: bool = True


def case_of(options: argparse.Namespace) -> Variant:
    """The scenario named, with what is told beside it, as a variant: with its changes where it is one."""
    from scenarios.variants.variants import read_case

    return read_case(scenario_path(options.scenario), told_in(options))


def told_in(options: argparse.Namespace) -> Told:
    """What is told beside a scenario: today, and progress in a file."""
    from scenarios.files.read_scenario import Told

    file = options.progress
    return Told(options.today, None if file is None else scenario_path(str(file)))


def scenario_of(name: str) -> Scenario:
    """The scenario of a workbook, a folder, a variant (.toml), or the demo by its name."""
    from scenarios.variants.variants import read_any

    return read_any(scenario_path(name))


def scenario_path(name: str) -> Path:
    """The file or folder of that name, or what comes with the package under it: the demo, its files."""
    path, package = Path(name), Path(__file__).resolve().parents[1]
    if not path.exists() and not path.is_absolute() and ".." not in path.parts:
        shipped = package / path
        if (shipped / "nursery.csv").is_file() or (shipped.suffix in (".csv", ".toml") and shipped.is_file()):
            return shipped
    return path


@contextmanager
def cluster(address: str | None) -> Iterator[None]:
    """Solves inside run on the Dask cluster at that address, through joblib's back end for it."""
    if address is None:
        yield
        return
    try:
        from distributed import Client
    except ImportError:
        raise Refused("--cluster wants Dask: pip install 'graftwright[cluster]'") from None
    from joblib import parallel_config

    with Client(address), parallel_config(backend="dask"):  # type: ignore[no-untyped-call]
        yield


def share(text: str) -> float:
    """A share from 0 up to, but without, 1."""
    value = float(text)
    if not 0 <= value < 1:
        raise argparse.ArgumentTypeError(f"{text} is no share from 0 to below 1, such as 0.25")
    return value


def positive(text: str) -> float:
    """A number above 0 and finite."""
    value = float(text)
    if not 0 < value < float("inf"):
        raise argparse.ArgumentTypeError(f"{text} is not a number above 0")
    return value


def day(text: str) -> date:
    """A date such as 2027-04-20."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text} is no date such as 2027-04-20") from None


def amount(text: str) -> float:
    """A number from 0 and finite."""
    value = float(text)
    if not 0 <= value < float("inf"):
        raise argparse.ArgumentTypeError(f"{text} is not a number from 0")
    return value


def count(text: str) -> int:
    """A whole number from 1."""
    value = int(text)
    if value < 1:
        raise argparse.ArgumentTypeError(f"{text} is not a whole number from 1")
    return value


def _nothing(parser: argparse.ArgumentParser) -> None:
    """No arguments beside the common ones."""


def _margin(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--margin",
        type=share,
        default=MARGIN,
        metavar="SHARE",
        help=f"target margin, a share of the price (default {MARGIN})",
    )


def _costs(options: argparse.Namespace, scenario: Scenario, progress: Progress) -> Study:
    from scenarios.studies.order_costs import order_costs_study

    return order_costs_study(
        scenario, target_margin=options.margin, workers=options.workers, progress=progress
    )


def _quote_arguments(parser: argparse.ArgumentParser) -> None:
    _margin(parser)
    parser.add_argument("--product", metavar="NAME", help="what is asked for")
    parser.add_argument("--quantity", metavar="PLANTS", help="how many")
    parser.add_argument("--due", metavar="DATE", help="for which day, such as 2027-04-20")
    parser.add_argument("--price", metavar="MONEY", help="the price offered, a plant")
    parser.add_argument("--customer", metavar="NAME", default="candidate", help="who asks")
    parser.add_argument(
        "--orders", type=Path, metavar="FILE.csv", help="several: a file with the columns of the table orders"
    )


def _quote(options: argparse.Namespace, scenario: Scenario, progress: Progress) -> Study:
    from model.scenario.tables import BY_NAME
    from scenarios.cells.grid import Grid, TableSource
    from scenarios.files.read_csv import read_table_file
    from scenarios.files.read_scenario import read_orders
    from scenarios.studies.quote import quote_study

    asked = {
        "customer": options.customer,
        "product": options.product,
        "quantity": options.quantity,
        "due_day": options.due,
        "price": options.price,
    }
    source = TableSource()
    if options.orders is not None:
        if any(asked[name] is not None for name in ("product", "quantity", "due_day", "price")):
            raise Refused("name the orders in a file or by --product, --quantity and --due, not both")
        if not options.orders.is_file():
            raise Refused(
                f"{options.orders} is no file; name a CSV file with the columns of the table orders"
            )
        read_table_file(BY_NAME["orders"], options.orders, source)
    else:
        missing = [name for name in ("product", "quantity", "due") if getattr(options, name) is None]
        if missing:
            raise Refused(f"say what is asked for: {', '.join(f'--{name}' for name in missing)} is missing")
        given = {"order": _free_name(scenario)} | {k: v for k, v in asked.items() if v is not None}
        source.grids["orders"] = Grid("orders", [(1, list(given)), (2, list(given.values()))], typed=False)
    candidates = read_orders(source, scenario)
    return quote_study(
        scenario, candidates, target_margin=options.margin, workers=options.workers, progress=progress
    )


def _free_name(scenario: Scenario) -> str:
    """A name for the candidate that no booked order has."""
    booked = {order.order for order in scenario.orders}
    return next(name for n in range(len(booked) + 1) if (name := f"candidate {n + 1}") not in booked)


def _chamber_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--module", metavar="NAME", help="the module to add; needed where there are several")
    parser.add_argument(
        "--most",
        type=count,
        default=MOST_MODULES,
        metavar="N",
        help=f"most modules (default {MOST_MODULES})",
    )


def _chamber(options: argparse.Namespace, scenario: Scenario, progress: Progress) -> Study:
    from scenarios.studies.chamber import chamber_study

    names = [module.module for module in scenario.modules]
    if not names:
        raise Refused("the scenario has no modules: describe one in the table modules")
    if options.module is None and len(names) > 1:
        raise Refused(f"name a module with --module: {', '.join(names)}")
    module = names[0] if options.module is None else options.module
    if module not in names:
        from scenarios.cells.faults import meant

        remedy = meant(module, names, f"the modules are {', '.join(names)}")
        raise Refused(f"'{module}' is no module; {remedy}")
    return chamber_study(
        scenario, module=module, most=options.most, workers=options.workers, progress=progress
    )


def _break_even_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--of", choices=BREAK_EVENS, required=True, help="what is varied")
    low, high = RANGE
    parser.add_argument(
        "--low", type=positive, default=low, metavar="FACTOR", help=f"from (default {low} times)"
    )
    parser.add_argument(
        "--high", type=positive, default=high, metavar="FACTOR", help=f"to (default {high} times)"
    )


def _break_even(options: argparse.Namespace, scenario: Scenario, progress: Progress) -> Study:
    from scenarios.studies.break_even import break_even_study

    if options.low >= options.high:
        raise Refused(f"--low {options.low:g} is not below --high {options.high:g}")
    try:
        return break_even_study(
            scenario,
            of=options.of,
            low=options.low,
            high=options.high,
            workers=options.workers,
            progress=progress,
        )
    except ValueError as error:
        raise Refused(str(error)) from None


def _accept(options: argparse.Namespace, scenario: Scenario, progress: Progress) -> Study:
    from scenarios.studies.accept import NothingToDecline, accept_study

    try:
        return accept_study(scenario, progress=progress)
    except NothingToDecline as error:
        raise Refused(str(error)) from None


def _price_list_arguments(parser: argparse.ArgumentParser) -> None:
    _margin(parser)
    parser.add_argument(
        "--quantity",
        type=count,
        default=PRICED_PLANTS,
        metavar="PLANTS",
        help=f"plants of each product priced (default {PRICED_PLANTS:,})",
    )


def _price_list(options: argparse.Namespace, scenario: Scenario, progress: Progress) -> Study:
    from scenarios.studies.price_list import price_list_study

    return price_list_study(
        scenario,
        quantity=options.quantity,
        target_margin=options.margin,
        workers=options.workers,
        progress=progress,
    )


def _limits(options: argparse.Namespace, scenario: Scenario, progress: Progress) -> Study:
    from scenarios.studies.limits import limits_study

    return limits_study(scenario, workers=options.workers, progress=progress)


def _freedom_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--within",
        type=share,
        default=WITHIN,
        metavar="SHARE",
        help=f"share of the least cost that a plan may be dearer (default {WITHIN})",
    )


def _freedom(options: argparse.Namespace, scenario: Scenario, progress: Progress) -> Study:
    from scenarios.studies.freedom import freedom_study

    return freedom_study(scenario, within=options.within, workers=options.workers, progress=progress)


def _season_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--seasons", type=count, default=SEASONS, metavar="N", help=f"seasons drawn (default {SEASONS:,})"
    )
    parser.add_argument(
        "--seed", type=count, default=1, metavar="N", help="of the random numbers (default 1)"
    )


def _risk(options: argparse.Namespace, scenario: Scenario, progress: Progress) -> Study:
    from scenarios.studies.risk import risk_study

    return risk_study(scenario, seasons=options.seasons, seed=options.seed, progress=progress)


def _margins(options: argparse.Namespace, scenario: Scenario, progress: Progress) -> Study:
    from scenarios.studies.margins import margins_study

    return margins_study(
        scenario,
        seasons=options.seasons,
        seed=options.seed,
        parent=_parent(options),
        progress=progress,
    )


def _rates_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "counts",
        metavar="COUNTS.csv",
        help="the log: a count of seeds, joins or hours a row; the demo's: hollow_ash/records/counts.csv",
    )


def _rates(options: argparse.Namespace, scenario: Scenario, progress: Progress) -> Study:
    from scenarios.counts.log import read_counts
    from scenarios.studies.rates import rates_study

    file = scenario_path(options.counts)
    if not file.is_file():
        raise Refused(f"{options.counts} is no file; name a CSV file with the log of counts")
    counts = read_counts(file, scenario)
    return rates_study(scenario, counts, parent=_parent(options), progress=progress)


def _parent(options: argparse.Namespace) -> str:
    """The scenario as a variant in the output folder names its parent: seen from there where it can be."""
    from scenarios.cells.parse import CellFault
    from scenarios.variants.toml_read import PARENT, cell_value

    scenario, output = scenario_path(options.scenario).resolve(), options.output.resolve()
    with suppress(ValueError):  # another drive has no way from here
        scenario = Path(os.path.relpath(scenario, output))
    try:
        if cell_value("", PARENT, scenario.as_posix()) == scenario.as_posix():
            return scenario.as_posix()
        wrong = "begins or ends with a blank"
    except CellFault as fault:
        wrong = fault.wrong
    raise Refused(f"a variant cannot name {options.scenario} as its parent: the path {wrong}")


def _compare_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "variants",
        nargs="*",
        metavar="VARIANT",
        help="variants (.toml) or other scenarios; none: those in the folder variants of the scenario",
    )


def _compare(options: argparse.Namespace, scenario: Scenario, progress: Progress) -> Study:
    from scenarios.cells.faults import BadInput, Fault
    from scenarios.studies.compare import compare_study
    from scenarios.variants.variants import read_case

    base = scenario_path(options.scenario)
    paths = [scenario_path(name) for name in options.variants] or sorted((base / "variants").glob("*.toml"))
    if not paths:
        raise Refused(f"name the variants to compare with {options.scenario}")
    cases: list[Variant] = []
    faults: list[Fault] = []
    for path in (base, *paths):
        try:
            cases.append(read_case(path, told_in(options)))
        except BadInput as bad:
            faults += [fault for fault in bad.faults if fault not in faults]
    if faults:
        raise BadInput(faults)
    try:
        return compare_study(cases, workers=options.workers, progress=progress)
    except ValueError as error:
        raise Refused(str(error)) from None


STUDIES: dict[str, StudyVerb] = {
    "costs": StudyVerb("what each order costs, and what to charge", _margin, _costs),
    "quote": StudyVerb("more is asked for: yes or no, what price, which week", _quote_arguments, _quote),
    "prices": StudyVerb("a price for each product and delivery week", _price_list_arguments, _price_list),
    "accept": StudyVerb("which orders to take, where some may be declined", _nothing, _accept, False),
    "chamber": StudyVerb("how much healing chamber to own", _chamber_arguments, _chamber),
    "break-even": StudyVerb("where grafting and buying in cost the same", _break_even_arguments, _break_even),
    "compare": StudyVerb("variants side by side, and what makes them differ", _compare_arguments, _compare),
    "rates": StudyVerb(
        "germination, take and pace from the nursery's own counts", _rates_arguments, _rates, False
    ),
    "risk": StudyVerb(
        "the chance to fill each order, and how the cost may vary", _season_arguments, _risk, False
    ),
    "margins": StudyVerb(
        "overseeding margins tuned until every order reaches its level", _season_arguments, _margins, False
    ),
    "limits": StudyVerb("what binds, why orders are short, and the least relief", _nothing, _limits),
    "freedom": StudyVerb("how far a plan may differ and cost little more", _freedom_arguments, _freedom),
}
"""The verbs, in the order of the help."""


def output_argument(parser: argparse.ArgumentParser) -> None:
    """The folder to write into."""
    parser.add_argument("-o", "--output", type=Path, required=True, metavar="FOLDER", help="where to write")


def parallel_arguments(parser: argparse.ArgumentParser) -> None:
    """How many solves run at once, and where."""
    parser.add_argument(
        "--workers", type=count, default=1, metavar="N", help="solves at a time (default 1); same answer"
    )
    parser.add_argument("--cluster", metavar="ADDRESS", help="address of a Dask scheduler to solve on")


def with_changes(study: Study, case: Variant) -> Study:
    """The study with what the variant changes on a sheet of its own, unless it has that already."""
    from reports.book.changes import CHANGES
    from reports.study.study import changes_section

    if not case.changes or any(section.name == CHANGES for section in study.sections):
        return study
    sections = [*study.sections, changes_section(case.changes)]
    return replace(study, sections=sections, facts=[("Variant", case.name), *study.facts])


def write_and_print(study: Study, output: Path, name: str) -> None:
    """The study's workbook, page, pictures and files into the folder, its answer on the terminal."""
    from rich.console import Console

    from reports.study.study import print_study, write_study
    from scenarios.files.atomic import whole_files

    with whole_files(output) as folder:
        write_study(study, folder / f"{name}.xlsx")
        write_page_and_pictures(study, folder, name)
        for file, text in study.files:
            (folder / file).write_text(text, encoding="utf-8")
        names = sorted(made.name for made in folder.iterdir())
    console = Console(highlight=False)
    print_study(console, study)
    written = ", ".join(str(output / file) for file in names)
    console.print(f"Written: {written}", soft_wrap=True, markup=False)


def write_page_and_pictures(study: Study, folder: Path, name: str) -> None:
    """The study as a page and its charts as pictures, named after the workbook beside them."""
    from reports.study.charts import write_pictures
    from reports.study.page import write_page

    write_page(study, folder / f"{name}.html")
    write_pictures(study, folder / f"{name}_pictures")


def folder_for(output: Path) -> Path:
    """The output folder; raises Refused where a file stands in its place."""
    if output.exists() and not output.is_dir():
        raise Refused(f"{output} is a file; name a folder to write into")
    return output


def add_studies(
    verbs: Any,
    scenario_argument: Callable[[argparse.ArgumentParser], None],
    run: Callable[[argparse.Namespace], int],
) -> None:
    """A parser for each study's verb."""
    for name, verb in STUDIES.items():
        parser = verbs.add_parser(name, help=verb.help, description=verb.help)
        scenario_argument(parser)
        output_argument(parser)
        verb.arguments(parser)
        if verb.parallel:
            parallel_arguments(parser)
        parser.set_defaults(verb=run, study=name)

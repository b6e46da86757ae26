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
    HEDGE,
    OUTPUT,
    PARALLEL,
    PROFIT,
    REHEARSE,
    SCENARIO,
    SEASONS,
    Argument,
    Verb,
    above_zero,
    amount,
    change,
    count_to,
    degrees,
    factor,
    measure,
    named,
    place,
    share,
    yearly_change,
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

    ``study``: the module of ``scenarios.studies`` that works it out, imported only when it runs. Its function
    of the same name with ``_study`` takes the scenario, ``progress``, the verb's ``own`` arguments by their
    names, and ``parent`` where it writes a variant. Or a function of the options, the scenario and
    ``progress``, where the options name files to read first. ``beside``: names of other files that the study
    may write besides its workbook.
    """
    if isinstance(study, str):
        names = [argument.name for argument in own if argument.name != "cluster"]
        study = partial(_by_name, study, [*names, "parent"] if beside else names)
    return Verb(help, (*SCENARIO, OUTPUT, *own), partial(_run, study, beside))


def _by_name(study: str, names: list[str], options: Namespace, scenario: Scenario, progress: Say) -> Study:
    given = {name: asked.parent_of(options) if name == "parent" else getattr(options, name) for name in names}
    module = import_module(f"scenarios.studies.{study}")
    worked_out: Study = getattr(module, f"{study}_study")(scenario, progress=progress, **given)
    return worked_out


def _with_default(flag: str, kind: Callable[[str], float], default: float, unit: str, help: str) -> Argument:
    """An argument whose help tells its default."""
    return Argument(flag, type=kind, default=default, metavar=unit, help=f"{help} (default {default:,})")


def _run(study: StudyOf, beside: Sequence[str], options: Namespace) -> int:
    """Work out one study of a scenario; write its workbook and print its answer."""
    from model.network.charges import with_charges

    name = options.verb
    output = claimed(options, (f"{name}.xlsx", f"{name}.html", f"{name}_pictures/", *beside))
    with phases() as phase, _cluster(getattr(options, "cluster", None)):
        phase("read")
        case = case_of(options)
        with solving():
            found = with_changes(study(options, with_charges(case.scenario), phase), case)
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
        for file, write in study.books:
            write(folder / file)
        names = sorted(made.name for made in folder.iterdir())
    print_answer(lambda console: print_study(console, study), output.folder, names)


STUDIES: dict[str, Verb] = {
    "costs": _study(
        "what each order costs, what to charge, what grafting adds to a plant",
        "order_costs",
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
        beside=["offers.xlsx"],
    ),
    "prices": _study(
        "a price for each product and delivery week",
        "price_list",
        PROFIT,
        _with_default("--quantity", count_to(1_000_000), 1000, "PLANTS", "plants of each product priced"),
        *PARALLEL,
    ),
    "accept": _study("which orders to take, where some may be declined", "accept"),
    "hold": _study(
        "what to hold for inquiries, what is then expected, what a deposit is worth",
        asked.hold,
        *PARALLEL,
        beside=["held.toml"],
    ),
    "chamber": _study(
        "how much healing chamber to own",
        "chamber",
        Argument("--module", metavar="NAME", help="the module to add; needed where there are several"),
        _with_default("--most", count_to(100), 6, "N", "most modules tried"),
        *PARALLEL,
    ),
    "invest": _study(
        "what to invest in over the next years: room, machines and hands, net present value, payback",
        "invest",
        _with_default("--most", count_to(100), 2, "N", "most modules of each kind"),
        _with_default("--years", count_to(40), 10, "N", "years from now"),
        Argument("--rate", type=share, metavar="SHARE", help="interest a year (default: the nursery's)"),
        _with_default("--growth", yearly_change, 0.0, "SHARE", "how much more plants are ordered each year"),
        _with_default("--price-growth", yearly_change, 0.0, "SHARE", "how much prices rise each year"),
        _with_default("--pay-growth", yearly_change, 0.0, "SHARE", "how much pay rises each year"),
        Argument("--budget", type=amount, metavar="MONEY", help="most to pay now (default: no limit)"),
        *PARALLEL,
    ),
    "overdraft": _study("what the overdraft costs, and whether the plan would change for it", "overdraft"),
    "break-even": _study(
        "where grafting and buying in cost the same",
        "break_even",
        Argument(
            "--of",
            choices=("volume", "buy-in-price", "take", "wage"),
            required=True,
            help="the figure to vary",
        ),
        _with_default("--low", factor, 0.5, "FACTOR", "lowest factor"),
        _with_default("--high", factor, 2.0, "FACTOR", "highest factor"),
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
    "heat": _study(
        "what a heated bay costs by month, and a variant with these costs by date",
        asked.heat,
        Argument("--zone", required=True, metavar="NAME", help="the zone whose bays are heated"),
        Argument(
            "--slots-per-bay",
            type=above_zero,
            metavar="NUMBER",
            help="slots of a bay (default: those of the table bays, else all of the zone)",
        ),
        Argument(
            "--area",
            type=above_zero,
            required=True,
            metavar="NUMBER",
            help="roof and walls of a bay, m2; with --measures us in ft2",
        ),
        Argument(
            "--u-value",
            type=above_zero,
            required=True,
            metavar="NUMBER",
            help="heat that the cover lets through, W/(m2 K); us: Btu/(h ft2 F), 0.7 for a double film",
        ),
        Argument(
            "--set-point",
            type=degrees,
            required=True,
            metavar="NUMBER",
            help="temperature kept inside, degrees Celsius; us: Fahrenheit",
        ),
        Argument(
            "--outdoor",
            required=True,
            metavar="TEMPERATURES",
            help="mean temperatures outside from January on: --outdoor=-3,-1,4,9,14,18,20,19,15,9,4,-1",
        ),
        Argument("--fuel-price", type=amount, required=True, metavar="MONEY", help="price of a unit of fuel"),
        Argument(
            "--fuel-heat",
            type=above_zero,
            required=True,
            metavar="NUMBER",
            help="heat of a unit of fuel, kWh; us: 1,000 Btu, such as 138.69 for a gallon of heating oil",
        ),
        _with_default("--efficiency", above_zero, 0.8, "NUMBER", "heat given over heat in the fuel"),
        Argument("--measures", choices=("metric", "us"), default="metric", help="units (default metric)"),
        beside=["heated_bays.toml"],
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
        "the chance to fill each order, and how the cost may vary", "risk", *SEASONS, REHEARSE, *PARALLEL
    ),
    "margins": _study(
        "how much more to sow and graft: margins tuned until every order reaches its level",
        "margins",
        *SEASONS,
        HEDGE,
        REHEARSE,
        *PARALLEL,
        beside=["tuned_margins.toml"],
    ),
    "payback": _study(
        "whether grafted plants pay for the customer: break-even yield, or how many fewer plants",
        "payback",
        Argument(
            "--product", metavar="NAME", help="the grafted product: its orders' mean price is the price"
        ),
        Argument("--grafted-price", type=amount, metavar="MONEY", help="price of a grafted plant"),
        Argument("--own-root-price", type=amount, metavar="MONEY", help="price of an own-root plant"),
        Argument(
            "--plants", type=above_zero, required=True, metavar="PLANTS", help="own-root plants an area"
        ),
        Argument(
            "--grafted-plants",
            type=above_zero,
            metavar="PLANTS",
            help="grafted plants an area (default: as many)",
        ),
        Argument(
            "--own-root-yield", type=amount, required=True, metavar="UNITS", help="yield an area, own-root"
        ),
        Argument("--grafted-yield", type=amount, metavar="UNITS", help="yield an area expected, grafted"),
        Argument(
            "--fruit-price", type=amount, required=True, metavar="MONEY", help="price of a unit of yield"
        ),
        _with_default("--harvest-cost", amount, 0.0, "MONEY", "cost of harvest, a unit of yield"),
        _with_default(
            "--other-costs",
            change,
            0.0,
            "MONEY",
            "what other costs rise by an area; below 0 for a saving",
        ),
        Argument("--area", type=measure, default="ha", metavar="NAME", help="the area (default ha)"),
        Argument("--unit", type=measure, default="t", metavar="NAME", help="the unit of yield (default t)"),
    ),
    "limits": _study("what binds, why orders are short, and the least relief", "limits", *PARALLEL),
    "freedom": _study(
        "how different a plan may be for little more money",
        "freedom",
        _with_default(
            "--within", share, 0.01, "SHARE", "a plan may cost more than the least cost by this share of it"
        ),
        *PARALLEL,
    ),
}
"""The verbs, in the order of the help."""

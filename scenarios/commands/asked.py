"""Studies whose options name files or figures to read first, and those in folders of their own."""

from __future__ import annotations

import os
from argparse import Namespace
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from model.phases import Say
from scenarios.cells.faults import BadInput, Fault, Refused
from scenarios.commands.running import in_order, overrides_of, tell_as_read

if TYPE_CHECKING:
    from model.scenario.entities import Scenario
    from reports.study.study import Study
    from scenarios.variants.variants import Variant


def quote(options: Namespace, scenario: Scenario, progress: Say) -> Study:
    """The quote for the orders of a file, or for the one order that the options describe."""
    from model.scenario.tables import BY_NAME
    from scenarios.cells.grid import TableSource
    from scenarios.files.asked_orders import asked_order
    from scenarios.files.read_scenario import read_orders
    from scenarios.formats.read_tables import read_table_file
    from scenarios.studies.quote import quote_study

    asked = {
        "customer": options.customer,
        "product": options.product,
        "quantity": options.quantity,
        "due_day": options.due,
        "price": options.price,
    }
    if options.orders is not None:
        if any(asked[name] is not None for name in ("product", "quantity", "due_day", "price")):
            raise Refused("give the orders in a file, or one by --product, --quantity and --due, not both")
        if not options.orders.is_file():
            raise Refused(f"{options.orders} is not a file; name a file with the columns of the table orders")
        source = TableSource()
        read_table_file(BY_NAME["orders"], options.orders, source)
        orders = read_orders(source, scenario)
        tell_as_read(source.told(), "asked for, ")
    else:
        missing = [name for name in ("product", "quantity", "due") if getattr(options, name) is None]
        if missing:
            raise Refused(f"say what is asked for: {', '.join(f'--{name}' for name in missing)} is missing")
        orders = (asked_order(scenario, {name: told for name, told in asked.items() if told is not None}),)
    return quote_study(
        scenario,
        orders,
        profit_margin=options.profit_margin,
        workers=options.workers,
        progress=progress,
    )


def compare(options: Namespace, scenario: Scenario, progress: Say) -> Study:
    """Compare the scenario with the variants that the options name, or those in its folder ``variants``."""
    from scenarios.studies.compare import compare_study
    from scenarios.variants.by_name import path_of
    from scenarios.variants.variants import read_case, root_of

    base = path_of(options.scenario)
    paths = [path_of(name) for name in options.variants] or sorted((base / "variants").glob("*.toml"))
    if not paths:
        raise Refused(f"name the variants to compare with {options.scenario}")
    cases: list[Variant] = []
    faults: list[Fault] = []
    for path in (base, *paths):
        try:
            cases.append(in_order(read_case(path, overrides_of(options))))
        except BadInput as bad:
            faults += [fault for fault in bad.faults if fault not in faults]
    if faults:
        raise BadInput(faults)
    workbooks = {root_of(case.path).resolve(): case.as_read for case in cases[1:]}
    workbooks.pop(root_of(base).resolve(), None)
    for workbook, as_read in workbooks.items():
        tell_as_read(as_read, f"{workbook.name}, ")
    return compare_study(cases, workers=options.workers, progress=progress)


def hold(options: Namespace, scenario: Scenario, progress: Say) -> Study:
    """What to hold for inquiries."""
    from scenarios.holding.hold import hold_study

    return hold_study(scenario, parent=parent_of(options), workers=options.workers, progress=progress)


def rates(options: Namespace, scenario: Scenario, progress: Say) -> Study:
    """Estimate rates from a log of counts."""
    from scenarios.counts.log import read_log
    from scenarios.studies.rates import rates_study
    from scenarios.variants.by_name import path_of

    file = path_of(options.counts)
    if not file.is_file():
        raise Refused(f"{options.counts} is not a file; name a file with the log of counts")
    counts, as_read = read_log(file, scenario)
    tell_as_read(as_read)
    return rates_study(scenario, counts, parent=parent_of(options), progress=progress)


def heat(options: Namespace, scenario: Scenario, progress: Say) -> Study:
    """What a bay costs in each month, from how it is heated."""
    from model.rates.heat import Heating, Measures
    from scenarios.start.heating import heat_study

    figures = ("u_value", "area", "set_point", "fuel_price", "fuel_heat", "efficiency")
    heating = Heating(Measures(options.measures), *(getattr(options, name) for name in figures))
    return heat_study(
        scenario,
        zone=options.zone,
        outdoor=options.outdoor,
        heating=heating,
        slots_per_bay=options.slots_per_bay,
        parent=parent_of(options),
        progress=progress,
    )


def parent_of(options: Namespace) -> str:
    """The path of the scenario as a parent of a variant in the output folder, relative to it if possible."""
    from scenarios.cells.parse import CellFault
    from scenarios.variants.by_name import path_of
    from scenarios.variants.toml_read import PARENT, cell_value

    scenario, output = path_of(options.scenario).resolve(), options.output.resolve()
    with suppress(ValueError):  # no relative path leads to another drive
        scenario = Path(os.path.relpath(scenario, output))
    try:
        if cell_value("", PARENT, scenario.as_posix()) == scenario.as_posix():
            return scenario.as_posix()
        wrong = "begins or ends with a blank"
    except CellFault as fault:
        wrong = fault.wrong
    raise Refused(f"a variant cannot name {options.scenario} as its parent: the path {wrong}")

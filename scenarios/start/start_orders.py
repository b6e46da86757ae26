"""The list of orders that a start is made from: a row an order, without the names of products."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Annotated

from model.scenario.about_cells import Remark
from model.scenario.ranges import PLANTS
from model.scenario.schema import NOTE, price, table_of, whole
from scenarios.cells.draft import Draft
from scenarios.cells.faults import BadInput, Fault, meant
from scenarios.cells.grid import TableSource
from scenarios.cells.typed import order_of_days
from scenarios.files.read_scenario import in_order, read_table
from scenarios.formats.read_tables import read_table_file
from scenarios.start.library import grafted, own_root


@dataclass(frozen=True, slots=True)
class StartOrder:
    """The list of orders: what is ordered in the customer's words."""

    customer: Annotated[str, "Customer who ordered."]
    crop: Annotated[str, "tomato, eggplant, pepper, cucumber, watermelon or melon."]
    variety: Annotated[str, "Variety of the scion, the top of the plant."]
    rootstock: Annotated[str | None, "Variety of the rootstock; blank for own-root."]
    cells: Annotated[int, "Cells of the tray in which the plants are sold.", whole("cells", low=1, high=5000)]
    quantity: Annotated[int, "Plants ordered.", whole("plants", low=1, high=PLANTS)]
    due_day: Annotated[date, "Day on which the plants leave."]
    price: Annotated[float | None, "Price of a plant.", price("plant")] = None
    note: Annotated[str | None, NOTE] = None


START_ORDERS = table_of("start_orders", StartOrder, required=True)


def read_start_orders(path: Path) -> tuple[StartOrder, ...]:
    """The orders in a file with the columns of ``START_ORDERS``; raises ``BadInput`` with every fault."""
    return read_start_list(path)[0]


def read_start_list(path: Path) -> tuple[tuple[StartOrder, ...], list[Remark]]:
    """The orders as ``read_start_orders`` returns them, and remarks on how their file was read."""
    source, draft = TableSource(), Draft()
    read_table_file(START_ORDERS, path, source)
    faults = list(source.faults)
    if START_ORDERS.name in source.grids:
        grid = source.grids[START_ORDERS.name]
        dates = grid.told.dates or order_of_days()
        source.grids[START_ORDERS.name] = replace(grid, told=replace(grid.told, dates=dates))
        faults += read_table(START_ORDERS, source, draft)
        faults += _crops(draft)
        faults += _one_crop(draft)
    if faults:
        raise BadInput(in_order(faults, (START_ORDERS,)))
    return tuple(StartOrder(**row.values) for row in draft.tables[START_ORDERS.name]), source.told()


def _crops(draft: Draft) -> Iterator[Fault]:
    for row in draft.rows(START_ORDERS.name, "crop", "rootstock"):
        known = own_root() if row["rootstock"] is None else grafted()
        if row["crop"] not in known:
            otherwise = f"write one of {', '.join(known)}; other crops need a workbook of their own"
            yield row.fault(
                "crop", "is not a crop that the start knows", meant(row["crop"], known, otherwise)
            )


def _one_crop(draft: Draft) -> Iterator[Fault]:
    """A variety is of one crop, and is no scion and rootstock of different crops."""
    crops: dict[str, str] = {}
    for row in draft.rows(START_ORDERS.name, "crop", "variety", "rootstock"):
        known = grafted().get(row["crop"])
        told = {row["variety"]: row["crop"]}
        if known is not None and row["rootstock"] is not None:
            told |= {row["rootstock"]: known.rootstock_crop}
        for name, crop in told.items():
            if crops.setdefault(name, crop) != crop:
                column = "variety" if name == row["variety"] else "rootstock"
                wrong = f"is {crops[name]} in another row and {crop} here"
                yield row.fault(column, wrong, "give varieties of different crops different names")

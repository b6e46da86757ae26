"""Rules of products that are another way to make a product (column ``sold_as``)."""

from __future__ import annotations

from collections.abc import Iterator

from model.scenario.choices import Shared, Source
from scenarios.cells.draft import Draft, DraftRow, Rule
from scenarios.cells.faults import Fault, shown

SAME = ("crop", "scion", "rootstock", "final_format")
"""Columns in which all ways to make a product agree."""

MADE = ("method", "scion_formats", "rootstock_formats")
"""Columns in which two ways to make a product must differ."""


def _chains(draft: Draft) -> Iterator[Fault]:
    """The product that a way is sold as is sold under its own name."""
    products = draft.by("products", "product", "sold_as")
    for row in draft.rows("products", "product", "sold_as"):
        name = row["sold_as"]
        if name == row["product"]:
            yield draft.spoiled(row, "sold_as", "names the product itself", "clear it")
        elif name in products and products[name]["sold_as"] is not None:
            wrong = f"is itself sold as '{shown(products[name]['sold_as'])}'"
            yield row.fault("sold_as", wrong, f"write {shown(products[name]['sold_as'])}")


def _ways(draft: Draft) -> Iterator[tuple[DraftRow, DraftRow]]:
    """Each other way to make a product, with the product's row."""
    rows = [row for row in draft.rows("products", "product", "sold_as") if row["sold_as"] is not None]
    return draft.targets(rows, "sold_as")


def _same_plants(draft: Draft) -> Iterator[Fault]:
    """All ways to make a product give the same plants in the same trays."""
    for row, product in _ways(draft):
        for column in SAME:
            if {column} <= row.values.keys() & product.values.keys() and row[column] != product[column]:
                right = product[column]
                name = shown(product["product"])
                wrong = f"is not the {column} of '{name}', as which these plants are sold"
                yield row.fault(column, wrong, "clear sold_as" if right is None else f"write {shown(right)}")


def _money_once(draft: Draft) -> Iterator[Fault]:
    """Source and salvage stand in the row of the product that is sold; a way may repeat them."""
    for row, product in _ways(draft):
        for column, right in (("source", Source.EITHER), ("salvage_price", 0.0), ("salvage_most", 0)):
            if column in row.values and row[column] not in (right, product.values.get(column, right)):
                wrong = f"does not belong here: that of '{shown(product['product'])}' counts"
                remedy = f"write {right.value if isinstance(right, Source) else 0}, or leave it blank"
                yield draft.spoiled(row, column, wrong, remedy)


def _ways_differ(draft: Draft) -> Iterator[Fault]:
    """No product is made twice in the same way, but for batches that are kept apart in different units."""
    if any(row["share"] is Shared.UNIT for row in draft.rows("apart", "share")):
        return
    first: dict[tuple[object, ...], DraftRow] = {}
    ways = [row for row, _ in _ways(draft)]
    sold = {row["sold_as"] for row in ways}
    for row in draft.rows("products", "product", "sold_as", *MADE):
        if row["product"] in sold or row in ways:
            name = row["product"] if row["sold_as"] is None else row["sold_as"]
            other = first.setdefault((name, *(row[column] for column in MADE)), row)
            if other is not row:
                wrong = f"makes the plants as '{shown(other['product'])}' does: same method, same formats"
                yield row.fault("method", wrong, "name another method or other formats, or remove the row")


def _ordered_by_name(draft: Draft) -> Iterator[Fault]:
    """Orders, offers, list prices and inquiries name the product that is sold."""
    for table in ("orders", "buy_in_offers", "list_prices", "inquiries"):
        rows = draft.rows(table, "product")
        for row, product in list(draft.targets(rows, "product", "sold_as")):
            if product["sold_as"] is not None:
                wrong = f"is another way to make '{shown(product['sold_as'])}'"
                yield draft.spoiled(row, "product", wrong, f"write {shown(product['sold_as'])}")


OTHER_WAYS = (
    Rule("a way to make a product names a product sold by its own name", _chains),
    Rule("all ways to make a product give the same plants", _same_plants),
    Rule("source and salvage stand with the product sold", _money_once),
    Rule("ways to make a product differ", _ways_differ),
    Rule("orders and offers name the product sold", _ordered_by_name),
)

"""Bad rows of products that are another way to make a product: each changes little in the small scenario."""

from __future__ import annotations

from typing import Any

from tests.bad_input.changes import Case, Change, added, both, rows

CUT = "Red on Stout, cut"


def way(**cells: Any) -> Change:
    """A change that adds another way to make Red on Stout, row 6, with some cells changed."""
    made = {"product": CUT, "crop": "tomato", "scion": "Red", "rootstock": "Stout", "method": "by ages"}
    made |= {"final_format": "72", "scion_formats": "128", "sold_as": "Red on Stout"}
    return added("products", **(made | cells))


def bad(
    name: str, column: str, value: str, wrong: str, remedy: str, *more: Change, row: int = 6, **cells: Any
) -> Case:
    """A case of one fault in table products."""
    return Case(name, both(way(**cells), *more), "products", row, column, value, wrong, remedy)


def elsewhere(name: str, table: str, row: int, column: str, wrong: str, remedy: str, *more: Change) -> Case:
    """A case in which another table names the way."""
    return Case(name, both(way(), *more), table, row, column, CUT, wrong, remedy)


WAYS = [
    bad("way sold as none", "sold_as", "Red", "is not in table products", "write a name", sold_as="Red"),
    bad("way sold as itself", "sold_as", CUT, "the product itself", "clear it", sold_as=CUT),
    bad(
        "way sold as another way",
        "sold_as",
        CUT,
        "is itself sold as 'Red on Stout'",
        "write Red on Stout",
        added(
            "products",
            product="Red on Stout, third",
            crop="tomato",
            scion="Red",
            rootstock="Stout",
            method="tomato splice",
            final_format="72",
            scion_formats="72",
            sold_as=CUT,
        ),
        row=7,
    ),
    bad("way of another scion", "scion", "Green", "not the scion of 'Red on", "write Red", scion="Green"),
    bad("way of another crop", "crop", "pepper", "not the crop of", "write tomato", crop="pepper"),
    bad(
        "way on another rootstock",
        "rootstock",
        "Gourd",
        "not the rootstock of",
        "write Stout",
        rootstock="Gourd",
    ),
    bad(
        "way in other trays", "final_format", "128", "not the final_format of", "write 72", final_format="128"
    ),
    bad("way never bought in", "source", "grow", "that of 'Red on Stout' counts", "either", source="grow"),
    bad(
        "way with a salvage price",
        "salvage_price",
        "0.5",
        "that of 'Red on Stout' counts",
        "write 0",
        salvage_price=0.5,
    ),
    bad(
        "way with salvage", "salvage_most", "10", "that of 'Red on Stout' counts", "write 0", salvage_most=10
    ),
    bad(
        "way that is no other way",
        "method",
        "tomato splice",
        "makes the plants as 'Red on Stout' does",
        "another method or other formats",
        method="tomato splice",
    ),
    elsewhere(
        "order of a way",
        "orders",
        2,
        "product",
        "another way to make 'Red on Stout'",
        "write Red on Stout",
        rows(("orders", 2, "product", CUT)),
    ),
    elsewhere(
        "offer of a way",
        "buy_in_offers",
        2,
        "product",
        "another way to make 'Red on Stout'",
        "write Red on Stout",
        rows(("buy_in_offers", 2, "product", CUT)),
    ),
]

"""Rules of what new hands practise on: seed of the nursery that can have come up by then, or supplies."""

from __future__ import annotations

from collections.abc import Iterator

from scenarios.cells.draft import Draft, Rule
from scenarios.cells.faults import Fault


def _items(draft: Draft) -> Iterator[Fault]:
    """A lot is sown in a format, early enough to come up, and is the nursery's own; a supply has none."""
    lots = draft.by("seed_lots", "lot", "germination_days", "customer")
    supplies = draft.by("supplies", "supply")
    for row in draft.rows("practice", "item", "format", "days_before"):
        lot = lots.get(row["item"])
        if lot is None:
            if row["item"] in supplies and row["format"] is not None:
                yield row.fault("format", f"does not belong here: '{row['item']}' is a supply", "clear it")
            continue
        if row["format"] is None:
            yield row.fault("format", "is blank although a lot is sown", "name the tray format it is sown in")
        if row["days_before"] < lot["germination_days"]:
            wrong = f"is less than the {lot['germination_days']} days in which '{row['item']}' germinates"
            yield row.fault("days_before", wrong, "write the age at which its seedlings are grafted")
        if lot["customer"] is not None:
            wrong = f"is seed that {lot['customer']} sends for own orders alone"
            yield row.fault("item", wrong, "name a lot of the nursery")


def _amounts(draft: Draft) -> Iterator[Fault]:
    for row in draft.rows("practice", "quantity"):
        if row["quantity"] == 0:
            yield row.fault("quantity", "is 0: nothing is used", "write a quantity, or clear the row")


PRACTICE = (
    Rule("what is practised on has grown", _items),
    Rule("something is practised on", _amounts),
)

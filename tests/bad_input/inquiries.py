"""Bad rows of inquiries, of orders that may be cancelled, and of plants held."""

from __future__ import annotations

from datetime import date

from tests.bad_input.changes import Case, cell, one_more, rows

RIGHT = {
    "inquiry": "I-1",
    "customer": "Market farm",
    "product": "Red on Stout",
    "quantity": 120,
    "due_day": date(2027, 4, 3),
    "price": 1.5,
    "chance": 0.5,
}
"""One more row of the inquiry I-1, in row 3."""

MORE = RIGHT | {"inquiry": "I-2", "product": "Green on Stout", "due_day": date(2027, 5, 14), "grows": "O-4"}
"""An inquiry for more of an order, in row 3."""

HELD = ("orders", 2, "held", "yes")

INQUIRIES = [
    cell("inquiry for no product", "inquiries", 2, "product", "Melon", "is not in table", "'Melon on Gourd'"),
    cell("a chance in percent", "inquiries", 2, "chance", 70, "above 1", "0.7"),
    cell("an inquiry for nothing", "inquiries", 2, "quantity", 0, "below 1", "from 1"),
    cell("asked without a price", "inquiries", 2, "price", None, "is blank", "number"),
    cell("asked for too late", "inquiries", 2, "due_day", date(2027, 6, 1), "after last_day", "2027-05-30"),
    one_more("inquiries", 3, RIGHT, "chances above 1", "chance", 0.7, "add up to 1.2", "at most 1"),
    one_more("inquiries", 3, RIGHT, "two days", "due_day", date(2027, 5, 7), "from row 2", "2027-04-03"),
    one_more("inquiries", 3, MORE, "more of no order", "grows", "O-44", "is not in table orders", "'O-4'"),
    one_more("inquiries", 3, MORE, "more of another", "product", "Red on Stout", "'O-4'", "Green on Stout"),
    one_more("inquiries", 3, MORE, "more later", "due_day", date(2027, 5, 7), "'O-4'", "2027-05-14"),
    Case(
        "held at a price",
        rows(HELD, ("orders", 2, "price", 1.2)),
        *("orders", 2, "price", "1.2", "nobody has agreed", "no in held"),
    ),
    Case(
        "held and cancelled",
        rows(HELD, ("orders", 2, "price", None), ("orders", 2, "cancel_chance", 0.1)),
        *("orders", 2, "cancel_chance", "0.1", "nobody has ordered", "write 0"),
    ),
    Case(
        "held and declined",
        rows(HELD, ("orders", 2, "price", None), ("orders", 2, "decline", "whole")),
        *("orders", 2, "decline", "whole", "needs a price", "no here"),
    ),
    Case(
        "more of plants held",
        rows(
            HELD,
            ("orders", 2, "price", None),
            ("inquiries", 2, "grows", "O-1"),
            ("inquiries", 2, "due_day", date(2027, 4, 30)),
        ),
        *("inquiries", 2, "grows", "O-1", "holds plants for inquiries", "booked"),
    ),
    cell("kept above the price", "orders", 2, "cancel_kept", 30, "above 1", "0.3"),
]

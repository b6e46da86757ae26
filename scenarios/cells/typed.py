"""Days and numbers as a person types them into a form or a command, in plain form: those of the locale.

Without a locale, or where a text is nothing that the locale writes, it is left as it is. Whoever reads it
then says what is wrong. The plain form, 2027-03-31 and 1234.5, is always read.
"""

from __future__ import annotations

from decimal import Decimal

from reports.book.writing import is_plain, writing
from scenarios.cells.grid import COMMA, DMY, MDY, POINT, YMD
from scenarios.cells.notation import FULL, number_of, orders_of

_ORDERS = {"d": DMY, "M": MDY, "y": YMD}
"""Order of a day by the first part of its pattern."""


def order_of_days() -> str | None:
    """The order in which the locale writes days; None without one."""
    return None if is_plain() else _ORDERS[writing().day[0]]


def plain_day(text: str) -> str:
    """A day as the locale writes it, as ISO 8601."""
    order, days = order_of_days(), orders_of(text.strip())
    found = days.get(FULL) or days.get(order or "")
    return text if order is None or found is None else found.isoformat()


def plain_number(text: str, *, share: bool = False) -> str:
    """A number or a sum as the locale writes it, with a decimal point; ``share``: it may be a percentage.

    A number that the locale does not write so, such as 0.95 in Germany, may have the other decimal sign.
    """
    return text if is_plain() else next(iter(_plain(text, share=share)), text)


def number_typed(text: str) -> float:
    """A number that a person types by itself.

    Raises ``ValueError`` with what is wrong and the remedy. Without a locale that goes for 1,234 and 1.234
    too: they may be either.
    """
    plain = _plain(text)
    if not plain:
        raise ValueError("is not a number", "write a number such as 12 or 12.5")
    found = {Decimal(number) for number in plain}
    if is_plain() and len(found) > 1:
        small, large = sorted(found)
        raise ValueError(f"may be {small} or {large}", f"write {small}0 or {large}")
    return float(plain[0])


def _plain(text: str, *, share: bool = False) -> list[str]:
    """A number in plain form, read with each decimal sign that it may have: the locale's first."""
    bare = text.strip() if is_plain() else writing().without_sign(text.strip())
    signs = (COMMA, POINT) if writing().decimal == "," else (POINT, COMMA)
    return [found for sign in signs if (found := number_of(bare, sign, share=share)) is not None]

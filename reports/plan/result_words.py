"""Results in words, for the plan's page and for comparisons of plans."""

from __future__ import annotations

from model.planned.results import Result
from reports.book.words import amount, digits


def result_words(found: Result, money: str) -> str:
    """Sales, costs and result as one sentence without its full stop."""
    capital = f", {digits(found.capital, money)} interest and depreciation" if found.capital else ""
    told = (
        f"Sales of {amount(found.sales, money)} less {digits(found.cash, money)} cash cost, "
        f"{digits(found.overhead, money)} overhead{capital} leave a result of {amount(found.result, money)}"
    )
    return f"{told}; no penalty is in it" if found.apart else told


def better_or_worse(difference: float, money: str) -> str:
    """A difference of results in words."""
    return f"{amount(abs(difference), money)} {'more' if difference >= 0 else 'less'}"

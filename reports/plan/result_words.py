"""Results in words, for the plan's page and for comparisons of plans."""

from __future__ import annotations

from model.inquiries.expected import Expected
from model.planned.cash import Cash
from model.planned.results import Result
from model.scenario.entities import Scenario
from reports.book.words import amount, digits, percent
from reports.book.writing import grouped, shown_day


def result_words(found: Result, money: str) -> str:
    """Sales, costs and result as one sentence without its full stop."""
    capital = f", {digits(found.capital, money)} interest and depreciation" if found.capital else ""
    told = (
        f"Sales of {amount(found.sales, money)} less {digits(found.cash, money)} cash cost, "
        f"{digits(found.overhead, money)} overhead{capital} leave a result of {amount(found.result, money)}"
    )
    return f"{told}; no penalty is in it" if found.apart else told


def cash_words(found: Cash, scenario: Scenario) -> str:
    """The deepest week, what the overdraft costs, and what is open at the end, without a full stop."""
    money, deepest = scenario.nursery.currency, found.deepest
    told = f"{amount(deepest.balance, money)} at the end of the deepest week, from {shown_day(deepest.week)}"
    if found.overdraft:
        rate = percent(scenario.nursery.overdraft_rate)
        told += f"; the overdraft costs {amount(found.overdraft, money)} at {rate}, in no result"
    told += f"; {amount(found.weeks[-1].balance, money)} at the end"
    return f"{told}, with {amount(found.open, money)} still to come" if found.after else told


def cash_sentence(found: Cash, scenario: Scenario) -> str:
    """The same as a sentence without its full stop."""
    return f"In the account are {cash_words(found, scenario)}"


def expected_words(found: Expected, scenario: Scenario) -> str:
    """The result expected with inquiries and cancellations by their chances, without a full stop."""
    money, parts = scenario.nursery.currency, []
    if found.lost:
        parts += [f"{amount(found.cancelled, money)} less by orders cancelled"]
    if found.resold:
        parts += [f"{amount(found.resold, money)} for their plants"]
    if found.plants:
        parts += [f"{amount(found.sales, money)} for {grouped(found.plants)} plants held"]
    elif scenario.inquiries:
        parts += ["no plants held for inquiries"]
    return f"{amount(found.result, money)}, the result with {', '.join(parts)}"


def better_or_worse(difference: float, money: str) -> str:
    """A difference of results in words."""
    return f"{amount(abs(difference), money)} {'more' if difference >= 0 else 'less'}"

"""The summary on the terminal: plain lines for a screen, a pipe and a screen reader."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from rich.console import Console
from rich.text import Text

from model.inquiries.demand import asked_for
from model.inquiries.expected import expected_of
from model.planned.cash import cash_of, terms_given
from model.planned.plan_tables import Plan, rows_of
from model.planned.results import Result, has_prices, result_of
from model.proof.audit import Check
from model.scenario.entities import Scenario
from reports.book.retold import retelling
from reports.book.words import (
    FIRST_PART,
    amount,
    counted,
    number,
    percent,
    printable,
    unit_price,
    with_penalties,
    with_unit,
)
from reports.book.writing import GAP, grouped, shown_day, shown_share
from reports.plan.figures import bindings, fullest_chamber, key_numbers, saving
from reports.plan.practice_words import sown_to_practise
from reports.plan.result_words import cash_words, expected_words

MOST_SHORT = 5
LIMITS = 3
LABEL = 16
"""Width of the label before each figure, its indent included."""

KEPT = "\ue000"
"""Stands for the space inside a number while lines are wrapped: no text for people has it."""


class Line(NamedTuple):
    """One line of the summary; long ones wrap under their text, not under their label."""

    label: str
    words: str

    @property
    def is_title(self) -> bool:
        """Whether the line is a heading: a label without words."""
        return not self.words


def print_summary(console: Console, scenario: Scenario, plan: Plan, checks: Sequence[Check]) -> None:
    """Print result, cost, plants short, chamber, hours, seeds, gap, checks, and what binds most."""
    for line in summary(scenario, plan, checks):
        label = printable(line.label)
        if line.is_title:
            console.print(Text(label, style="bold"), soft_wrap=True)
            continue
        room = max(console.width - len(label), 20)
        for part in Text(printable(line.words).replace(GAP, KEPT)).wrap(console, room):
            part.rstrip()
            console.print(Text(label + part.plain.replace(KEPT, GAP)), soft_wrap=True)
            label = " " * len(label)


def summary(scenario: Scenario, plan: Plan, checks: Sequence[Check]) -> list[Line]:
    """The lines of the summary, in order."""
    return [
        Line(f"Plan for {scenario.nursery.name}", ""),
        *(Line(f"  {label}".ljust(LABEL), words) for label, words in _numbers(scenario, plan, checks)),
        *_short(scenario, plan),
        *_binding(scenario, plan),
    ]


def _numbers(scenario: Scenario, plan: Plan, checks: Sequence[Check]) -> Iterator[tuple[str, str]]:
    money, numbers = scenario.nursery.currency, key_numbers(scenario, plan)
    own, bought = f"{grouped(numbers.own)} own", f"{grouped(numbers.bought)} bought in"
    if has_prices(plan.orders):
        yield from _result(result_of(plan), money)
    if asked_for(scenario):
        yield "expected", expected_words(expected_of(scenario, plan), scenario)
    if terms_given(scenario):
        yield "cash", cash_words(cash_of(scenario, plan), scenario)
    yield "cost", with_penalties(numbers.cost, numbers.penalties, money)
    without = ", without penalties" if numbers.penalties else ""
    yield "cost a plant", f"{unit_price(numbers.cost_per_plant, money)} delivered{without}"
    yield "plants", f"{numbers.ordered_words} ordered, {own}, {bought}"
    yield "short", f"{number(numbers.short)} plants" if numbers.short else "none"
    if numbers.declined:
        forgone = f"the cost includes their price, {amount(numbers.forgone, money)}"
        yield "declined", f"{number(numbers.declined)} plants; {forgone}"
    if numbers.late:
        given_up = f"the cost includes the price given up, {amount(numbers.late_discount, money)}"
        yield "late", f"{number(numbers.late)} plants; {given_up}"
    chamber = fullest_chamber(scenario, plan)
    if chamber is not None:
        slots = f"{number(chamber.used)} of {number(chamber.available)} slots"
        yield "chamber", f"{percent(chamber.share)} of {chamber.zone} on {shown_day(chamber.day)}: {slots}"
    yield "work", f"{grouped(numbers.hours)} hours, {grouped(numbers.joins)} joins"
    practice = ", besides trays to practise on" if sown_to_practise(scenario, plan) else ""
    yield "seed", f"{grouped(numbers.seeds)} seeds in {grouped(numbers.trays)} trays{practice}"
    yield "gap", f"at most {shown_share(plan.facts.gap, 2)} above the least cost of any plan"
    yield "checks", f"{sum(check.passed for check in checks)} of {len(checks)} passed"


def _result(found: Result, money: str) -> Iterator[tuple[str, str]]:
    """Sales less costs, before and after overhead and interest."""
    unpriced = f"; {number(found.unpriced)} plants have no price" if found.unpriced else ""
    yield "sales", f"{amount(found.sales, money)}{unpriced}"
    yield "cash cost", f"{amount(found.cash, money)} before overhead"
    yield "before", f"{amount(found.before, money)} left before overhead and interest"
    yield "overhead", amount(found.overhead, money)
    if found.capital:
        yield "interest", f"{amount(found.capital, money)}, depreciation included"
    each = "" if found.per_plant is None else f", {unit_price(found.per_plant, money)} a plant delivered"
    yield "result", f"{amount(found.result, money)}{each}"


def _short(scenario: Scenario, plan: Plan) -> Iterator[Line]:
    columns = ("order", "customer", "due_day", "short", "short_because")
    found = sorted((row for row in rows_of(plan.orders, *columns) if row[3] > 0), key=lambda r: (-r[3], r[0]))
    if found:
        yield Line("Short:", "")
    retell = retelling(scenario)
    for order, customer, due, plants, why in found[:MOST_SHORT]:
        because = f": {retell(why)}" if why else ""
        missing = with_unit(number(plants), "plants")
        yield Line("  ", f"{order} ({customer}, due {shown_day(due)}) by {missing}{because}")
    if len(found) > MOST_SHORT:
        yield Line("  ", f"and {counted(len(found) - MOST_SHORT, 'more order')}")


def _binding(scenario: Scenario, plan: Plan) -> Iterator[Line]:
    found = bindings(plan)[:LIMITS]
    if not found:
        yield Line("No limit of slots, hours or offers binds.", "")
        return
    yield Line(f"What binds most{', penalties counted' if plan.penalties else ''}:", "")
    for binding in found:
        yield Line("  ", saving(binding, scenario.nursery.currency))
    yield Line("  ", FIRST_PART)

"""The days on which runs leave, and with which run an order goes.

An order of a customer with a run leaves with the last run of the week that ends with its due day. Plants that
miss it go with the first run on which they can, if the order may be so late.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta
from typing import TypeVar

from model.scenario.calendar import WEEKDAYS
from model.scenario.entities import Order, Scenario
from model.scenario.records.trade import Inquiry, Run

WEEK = 7
"""Days in which a run leaves at least once, between its first and its last day."""

Asked = TypeVar("Asked", Order, Inquiry)


def leaves_on(run: Run, day: date) -> bool:
    """Whether the run leaves on a day."""
    inside = (run.from_day or day) <= day <= (run.to_day or day)
    return inside and WEEKDAYS[day.weekday()] in run.weekdays


def last_run(run: Run, due: date) -> date | None:
    """The last day on which the run leaves in the week that ends with ``due``; None where there is none."""
    days = (due - timedelta(days=n) for n in range(WEEK))
    return next((day for day in days if leaves_on(run, day)), None)


def run_by_customer(scenario: Scenario) -> Mapping[str, Run]:
    """The run of each customer who has one."""
    runs = {run.run: run for run in scenario.runs}
    return {row.customer: runs[row.run] for row in scenario.customers if row.run is not None}


def leaving(scenario: Scenario, order: Asked) -> Asked:
    """The order or inquiry, due on the day on which it leaves: where its customer has a run, that of the run.

    One without such a day, from the first day on, stays as it is.
    """
    run = run_by_customer(scenario).get(order.customer)
    day = None if run is None else last_run(run, order.due_day)
    return order if day is None or day < scenario.nursery.first_day else replace(order, due_day=day)


def with_runs(scenario: Scenario) -> Scenario:
    """The scenario with orders due on the day on which they leave."""
    if not run_by_customer(scenario):
        return scenario
    return replace(scenario, orders=tuple(leaving(scenario, order) for order in scenario.orders))

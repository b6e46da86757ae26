"""The plan workbook: what an owner prints, mails and shows a bank."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import pandas as pd

from model.collector import collector_paused
from model.inquiries.demand import asked_for
from model.planned.plan_tables import Plan
from model.planned.results import has_prices
from model.proof.audit import Check
from model.scenario.about_cells import CellChange, Remark
from model.scenario.entities import Scenario
from reports.book.changes import ABOUT, CHANGES
from reports.book.parts import Book, whole_file
from reports.plan.report import Report
from reports.plan.role_words import role_hands
from reports.sheets.accounts.money import cash, cost_details, costs, heat_and_light, instalments, receipts
from reports.sheets.accounts.purchases import buy_in, runs, seed, stock, supplies
from reports.sheets.accounts.result_sheets import (
    order_costs,
    result,
    result_by_customer,
    result_by_order,
    result_by_product,
)
from reports.sheets.asked_not_booked import held
from reports.sheets.binding import what_binds
from reports.sheets.checks import assumptions, changed, checks
from reports.sheets.front import charts, contents, summary
from reports.sheets.limit_prices import prices
from reports.sheets.order_book import deliveries, orders
from reports.sheets.products import cost_by_product, products, traced_costs
from reports.sheets.sowing_grafting import flows, graft_days, season, sowing, spare_seedlings
from reports.sheets.tracing import trace
from reports.sheets.ways import ways
from reports.sheets.work_hours import labour, pay, roles, tasks, work_by_day
from reports.sheets.zone_days import chamber, kept_apart, units, zones

SHEETS: tuple[tuple[str, Callable[[Report], None], str], ...] = (
    ("Summary", summary, "The plan on one page."),
    ("Contents", contents, "This list."),
    ("Charts", charts, "Chambers, crews, season, cash and cost as pictures."),
    ("Result", result, "Sales less costs, before and after overhead and interest."),
    ("Result by customer", result_by_customer, "What each customer leaves."),
    ("Result by product", result_by_product, "What each product leaves."),
    ("Result by order", result_by_order, "What each order leaves, customer by customer."),
    ("Orders", orders, "Every order: how it is filled, spare days, what one more plant costs."),
    ("Held", held, "Plants held for inquiries, orders that may be cancelled, the result expected."),
    ("Deliveries", deliveries, "Which graft day or offer the plants of each order come from."),
    ("Trace", trace, "From each delivery back to its seed lots, and from each wave to its orders."),
    ("Season", season, "Trays sown, joins, plants ready and due by week."),
    ("Sowing", sowing, "What is sown when, in which trays, for which products."),
    ("Spare seedlings", spare_seedlings, "Seedlings kept as sowing margin, by graft day and wave."),
    ("Graft days", graft_days, "What is grafted when, from which waves, at which ages."),
    ("Healing and finishing", flows, "From graft day to ready day: trays, healed and finished plants."),
    ("Ways", ways, "Products made in several ways: which way on which day, and what another would cost."),
    ("Zones", zones, "Every zone by week against its slots, healing chambers first."),
    ("Chamber", chamber, "Healing chambers by day against their slots."),
    ("Units", units, "Chamber units run all-in all-out: what is loaded when."),
    ("Kept apart", kept_apart, "Where groups kept apart are on which days, and when places are cleaned."),
    ("Labour", labour, "Hours of every crew by week against the hours available."),
    ("Tasks", tasks, "Hours of every crew by week and task."),
    ("Roles", roles, "Hours and hands at each role by day."),
    ("Work by day", work_by_day, "Hours of every crew by day and task."),
    ("Seed", seed, "Seed to order: packs, price, last day to order."),
    ("Supplies", supplies, "Clips, stakes, media and other supplies to order."),
    ("Stock", stock, "Seed and supplies on hand, bought, used, left."),
    ("Buy-in", buy_in, "Finished plants from other nurseries."),
    ("Runs", runs, "Vehicles that leave with plants: trays, orders, cost."),
    ("Pay", pay, "Pay of every crew by week."),
    ("Heat and light", heat_and_light, "Cost of slots in use by week."),
    ("Costs", costs, "Cost by line, with shares and cost a plant."),
    ("Cost details", cost_details, "What each cost line pays for."),
    ("Products", products, "Cost and price of a plant by product."),
    ("Cost by product", cost_by_product, "Cost of a plant by product and by what it is spent for."),
    ("Traced costs", traced_costs, "Every cost, traced to the products."),
    ("Order costs", order_costs, "Every cost, traced to the orders."),
    ("Receipts", receipts, "What customers pay for each order, and when."),
    ("Instalments", instalments, "When overheads and other costs without a day are paid."),
    ("Cash", cash, "Money in and out by week, the balance, and what the overdraft costs."),
    ("Prices", prices, "All prices and rates of pay: change them here."),
    ("What binds", what_binds, "What one more slot, hour or plant saves or costs."),
    ("Assumptions", assumptions, "Every input with unit, source and remark."),
    (CHANGES, changed, ABOUT),
    ("Checks", checks, "The audit's checks, and what was run."),
)
"""Name, writer and contents line of each sheet, in order; those on paper stand before the others."""

RESULTS = ("Result", "Result by customer", "Result by product", "Result by order", "Order costs")
"""Sheets of a plan in which an order has a price."""

ON_PAPER = (
    *("Summary", "Charts", "Result", "Result by customer", "Orders", "Seed", "Supplies", "Buy-in", "Cash"),
    "What binds",
)
"""Sheets that print unasked, for the owner: what comes out, what is ordered where, what it takes, what binds.

The other sheets stay on the screen. Crews have papers of their own, which ``graftwright work`` writes.
"""

CASH = ("Receipts", "Instalments", "Cash")
"""Sheets that add up others of the middle: they are written after them, in this order."""

LATE = ("Summary", "Contents", "Charts", "Held", *RESULTS, "Products", "Cost by product", "Costs")
"""Sheets that show figures of later sheets. They are written last, in reverse order."""


@collector_paused()
def write_plan_workbook(
    scenario: Scenario,
    plan: Plan,
    traced: pd.DataFrame,
    checks: Sequence[Check],
    remarks: Sequence[Remark],
    path: Path,
    changes: Sequence[CellChange] = (),
    *,
    profit_margin: float,
) -> Report:
    """Write the plan workbook to ``path``, whole or not at all; raises OSError if that fails.

    Returns what was written, so that the page and the pictures of the plan show the same. ``traced``: the
    plan's cost by order, from ``traced_parts``. ``profit_margin``: a share of the price, which the reader
    may change. ``changes``: the cells that the scenario changes, if it is a variant.
    """
    with whole_file(path) as part:
        book = Book(part, f"Plan for {scenario.nursery.name}", scenario.nursery)
        report = Report(book, scenario, plan, traced, profit_margin, checks, remarks, changes)
        left_out = {"Units"} if plan.unit_batches.empty else set()
        left_out |= {"Runs"} if plan.runs.empty else set()
        left_out |= {"Kept apart"} if plan.kept_apart.empty else set()
        left_out |= set() if role_hands(scenario, plan) else {"Roles"}
        left_out |= {"Ways"} if plan.ways.empty else set()
        left_out |= {"Spare seedlings"} if plan.spare_seedlings.empty else set()
        left_out |= {"Trace"} if plan.trace.empty else set()
        left_out |= set() if changes else {CHANGES}
        left_out |= set() if asked_for(scenario) else {"Held"}
        left_out |= set() if has_prices(plan.orders) else {*RESULTS, "Receipts"}
        wanted = [entry for entry in SHEETS if entry[0] not in left_out]
        for title, _, about in sorted(wanted, key=lambda entry: entry[0] not in ON_PAPER):
            report.sheets[title] = book.sheet(title, about)
            report.sheets[title].prints = title in ON_PAPER
        writers = {title: writer for title, writer, _ in wanted}
        for title in _order(list(writers)):
            writers[title](report)
        book.close()
    return report


def _order(names: list[str]) -> list[str]:
    """Order of writing: prices first, since amounts refer to them; sheets of sums last."""
    first = ["Prices"]
    middle = [name for name in names if name not in (*first, *LATE)]
    middle.sort(key=lambda name: CASH.index(name) if name in CASH else -1)
    return [*first, *middle, *(name for name in reversed(LATE) if name in names)]

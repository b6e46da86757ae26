"""Why an order is short: one reason for every report, that of the least relief, found by solving.

- ``no route``: no plants can reach it in time, whatever the limits.
- ``least relief``: what would let it be filled, proved by solving again with it and without it.
- ``cheaper left short (proved)``: the only cure is a higher penalty. No limit keeps it short, so that a plant
  of it costs more than its penalty.
- An order that the continuous program fills is short only because trays, packs and hands are whole.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import inf

import pandas as pd

from model.currencies import decimals
from model.network.types import Network
from model.planned.plan_tables import rows_of
from model.program.program import Program
from model.scenario.entities import Scenario
from model.shortage.relief import Relief, relief_within
from model.shortage.relief_words import SHOWN, in_words, spans
from model.shortage.routes import no_route, reached
from model.solver.compiled import SolveError
from model.solver.filling import Filling

LUMPY = {
    True: "in whole trays no plan that fills it costs less (proved)",
    False: "in whole trays no plan that fills it at less cost was found (not proved)",
}
"""What is said of an order that only the continuous program fills, by whether the plan is proved cheapest."""

CHEAPER = "cheaper left short"
"""How the reason of an order begins that nothing but its own penalty keeps short."""

BEYOND = "the nursery does not grow it, and no offer can deliver it"
"""Why no relief can fill an order for plants that come from nowhere."""

NO_DAY = "no later due day and no earlier first day lets plants be ready for it"
"""Why no relief can fill an order for plants that are grown here."""

TOO_LATE = "it was packed before today, or what it needs should have been done before today"
"""Why no relief can fill an order of a season under way."""

TOO_FEW = "only seedlings or plants on hand can reach it in time, and there are too few of them"
"""Why no relief can fill an order that only what was on hand on the first day can reach."""

NOT_SOUGHT = "not looked for in a book of this size; the command graftwright limits looks for it"

NOT_FOUND = "the solver found no least relief for a book with numbers as far apart as these"

MOST_WORK = 200_000
"""A plan looks for the reason where columns of the program times parts of the relief do not exceed this.

The demo with 45 parts has 124,000, and takes seven seconds.
"""


def beyond(network: Network, order: str) -> str:
    """Why no relief can fill an order, in words."""
    if network.past.today > 0:
        return TOO_LATE
    if order in reached(network):
        return TOO_FEW
    product = next(term.product for term in network.orders if term.order.order == order)
    return NO_DAY if any(flow.sold_as == product for flow in network.flows) else BEYOND


def cures(scenario: Scenario, relief: Relief) -> dict[str, list[str]]:
    """For each short order the parts of the relief that serve it, in words."""
    merged = spans(relief.items)
    return {
        name: [in_words(scenario, span) for span in merged if name in span.first.orders]
        for name in relief.short
    }


def reasons(network: Network, relief: Relief) -> dict[str, str]:
    """Why each order of the relief is short, in words; at most ``SHOWN`` parts of its relief are named."""
    told, cure, there = {}, cures(network.scenario, relief), reached(network)
    for term in network.orders:
        name = term.order.order
        if name not in relief.short:
            continue
        items = [item for item in relief.items if name in item.orders]
        route = "" if name in there else f"{no_route(network, term)}; "
        if name in relief.beyond:
            told[name] = f"{route}no relief can fill it: {beyond(network, name)}"
        elif all((item.kind, item.name) == ("penalty", name) for item in items):
            told[name] = (
                f"{CHEAPER} (proved): its penalty of {term.penalty:g} a plant is below what a plant "
                f"costs; least relief: {'; '.join(cure[name])}"
            )
        else:
            more = len(cure[name]) - SHOWN
            some = "; ".join(cure[name][:SHOWN]) + (f"; and {more} more" if more > 0 else "")
            told[name] = f"{route}least relief: {some}"
    return told


def lumpy(filling: Filling, cost: float, currency: str) -> str:
    """Why an order that the continuous program fills is short in a plan of this cost, in words."""
    told = LUMPY[filling.proved(cost)]
    if filling.proved(cost) or filling.found == inf:
        return told
    more = f"{max(filling.found - cost, 0.0):,.{decimals(currency)}f}"
    much = f"{more} {currency} more, penalties counted" if float(more.replace(",", "")) else "as much"
    return f"{told}; the cheapest one found that fills it costs {much}"


def cannot(reason: str | None) -> bool:
    """Whether an order with this reason cannot be delivered, rather than being left short to save money."""
    return reason is not None and not reason.startswith((CHEAPER, *LUMPY.values()))


def say_why_short(program: Program, orders: pd.DataFrame, filled: Mapping[str, str]) -> pd.DataFrame:
    """The plan's table ``orders`` with the reason of each shortfall in ``short_because``.

    ``filled``: what is said of each order that the continuous program fills. In a book too large for
    ``MOST_WORK`` the relief is not looked for, and the text names the command that does. The plan stands, and
    the text says so, where HiGHS finds no relief.
    """
    short = {name for name, plants in rows_of(orders, "order", "short") if plants > 0}
    if not short:
        return orders
    network = program.network
    told = {name: filled[name] for name in short & filled.keys()}
    if short - filled.keys():
        relief, instead = None, NOT_SOUGHT
        try:
            relief = relief_within(network.scenario, MOST_WORK)
        except SolveError:
            instead = NOT_FOUND
        if relief is None:
            there = reached(network)
            for term in network.orders:
                name = term.order.order
                if name in short and name not in filled:
                    told[name] = instead if name in there else no_route(network, term)
        else:
            told |= {name: text for name, text in reasons(network, relief).items() if name in short}
    names = orders["order"].tolist()
    return orders.assign(
        short_because=pd.Series([told.get(name) for name in names], dtype=object, index=orders.index)
    )

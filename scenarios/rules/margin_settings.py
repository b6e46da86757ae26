"""Rules of overseeding margins: cells that a policy needs; lots and graft days that no margin can cover."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from math import ceil

from scipy.special import betaincc

from model.rates.overseeding import Beta, chance_of_enough, critical_level
from model.scenario import batches
from model.scenario.choices import Decline, MarginPolicy, SowingPolicy
from scenarios.cells.draft import Draft, DraftRow, Rule
from scenarios.cells.faults import Fault

MOST_OVER = 10
"""Multiple of the joins, or of the cells, needed in expectation that no nursery goes beyond."""

PENALTY = ("shortfall_penalty", "decline", "price")
SALVAGE = ("salvage_price", "salvage_most")


def _nursery(draft: Draft, *needs: str) -> DraftRow | None:
    return next(iter(draft.rows("nursery", *needs)), None)


def _penalty(order: DraftRow, nursery: DraftRow) -> float:
    """Cost of a plant short of the order, as ``model.rates.overseeding.penalty``."""
    own: float = order["shortfall_penalty"]
    own = nursery["shortfall_penalty"] if own is None else own
    return own + ((order["price"] or 0.0) if order["decline"] is not Decline.NO else 0.0)


def _priced(draft: Draft) -> Iterator[Fault]:
    """Priced margins need a plant_cost above the salvage price and below the cost of a plant short."""
    nursery = _nursery(draft, "margin_policy", "plant_cost", "shortfall_penalty")
    if nursery is None or nursery["margin_policy"] is not MarginPolicy.PRICED:
        return
    cost = nursery["plant_cost"]
    if cost is None:
        wrong = "is blank, and margins are priced"
        yield draft.spoiled(nursery, "plant_cost", wrong, "write what a plant costs")
        return
    told: list[DraftRow] = []
    for order in draft.rows("orders", "order", *PENALTY):
        penalty = _penalty(order, nursery)
        if penalty <= cost:
            column = "shortfall_penalty"
            where = nursery if order[column] is None else order
            if where in told:
                continue
            told.append(where)
            wrong = f"makes a plant short of order '{order['order']}' cost no more than one grown ({cost:g})"
            yield where.fault(column, wrong, "write more than plant_cost")
    for product in draft.rows("products", *SALVAGE):
        if product["salvage_most"] > 0 and product["salvage_price"] >= cost:
            told.append(product)
            wrong = f"is not below plant_cost ({cost:g}): growing plants to sell as surplus would pay"
            yield product.fault("salvage_price", wrong, "write less than plant_cost")
    if told:
        draft.spoil(nursery, "plant_cost")


def _level(draft: Draft, order: DraftRow) -> float | None:
    """Service level of an order; None where a cell that it needs is faulty."""
    nursery = _nursery(draft, "margin_policy", "service_level")
    if nursery is None or any(column not in order.values for column in ("service_level", *PENALTY)):
        return None
    if nursery["margin_policy"] is not MarginPolicy.PRICED:
        level: float = order["service_level"]
        return nursery["service_level"] if level is None else level
    product = draft.by("products", "product", *SALVAGE).get(order["product"])
    if product is None or "plant_cost" not in nursery.values or "shortfall_penalty" not in nursery.values:
        return None
    cost = nursery["plant_cost"]
    sold = product["salvage_price"] if product["salvage_most"] > 0 else 0.0
    return critical_level(_penalty(order, nursery) - cost, cost - sold)


def _graft_days(draft: Draft) -> Iterator[Fault]:
    """Graft days that vary so much that no sensible number of joins keeps the promise to an order."""
    nursery = _nursery(draft, "margin_policy")
    if nursery is None or nursery["margin_policy"] is MarginPolicy.FIXED:
        return
    needs = ("kind", "take", "take_correlation", "finish_survival")
    methods = draft.by("methods", "method", *needs)
    made: dict[str, list[str]] = defaultdict(list)
    for product in draft.rows("products", "product", "method", "sold_as"):
        name = product["product"] if product["sold_as"] is None else product["sold_as"]
        made[name].append(product["method"])
    told: set[str] = set()
    chance = cache(chance_of_enough)  # many orders are alike
    rows = draft.rows("orders", "product", "quantity", "graft_margin")
    pairs = [(row, name) for row in rows for name in made[row["product"]]]
    for order, name in pairs:
        method = methods.get(name)
        if method is None or "take_correlation" not in method.values or not method["take"]:
            continue
        alike = _alike(method["take_correlation"], batches.GRAFT_DAY)
        level = None if order["graft_margin"] is not None else _level(draft, order)
        if level is None:
            continue
        take, kept, plants = method["take"], method["finish_survival"], order["quantity"]
        most = ceil(MOST_OVER * plants / (take * kept))
        enough = chance(most, plants, take, alike, kept) >= level
        if not enough and method["method"] not in told:
            told.add(method["method"])
            wrong = (
                f"makes take vary so much that {MOST_OVER} times the joins needed do not fill an order at "
                "its service level"
            )
            yield draft.spoiled(method, "take_correlation", wrong, "lower it, or the service level")


def _lots(draft: Draft) -> Iterator[Fault]:
    """Seed lots that vary so much that no sensible number of cells holds enough."""
    nursery = _nursery(draft, "sowing_policy")
    if nursery is None or nursery["sowing_policy"] is not SowingPolicy.LEVEL:
        return
    levels = [_level(draft, order) for order in draft.rows("orders", "product")]
    highest = max((level for level in levels if level is not None), default=0.0)
    needs = ("germination_correlation", "sowing_correlation")
    for lot in draft.rows("seed_lots", "germination", "sowing_margin", *needs):
        germination = lot["germination"]
        lots, sowings = _alike(lot[needs[0]], batches.LOT), _alike(lot[needs[1]], batches.SOWING)
        alike = batches.together(lots, sowings)
        if lot["sowing_margin"] is not None or not alike or germination >= 1:
            continue
        rate = Beta(germination, alike)
        if betaincc(rate.alpha, rate.beta, germination / MOST_OVER) < highest:
            wrong = (
                f"makes germination vary so much that {MOST_OVER} times the cells needed do not give enough "
                "seedlings at the service level"
            )
            remedy = "lower it, or give the lot a sowing_margin"
            yield draft.spoiled(lot, needs[0] if lots >= sowings else needs[1], wrong, remedy)


def _alike(written: float | None, otherwise: float) -> float:
    """A correlation as written, or what stands in for it."""
    return otherwise if written is None else written


MARGINS = (
    Rule("plant_cost lies between the salvage price and the penalty", _priced),
    Rule("a margin can cover how much graft days vary", _graft_days),
    Rule("a margin can cover how much seed lots vary", _lots),
)

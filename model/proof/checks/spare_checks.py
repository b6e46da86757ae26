"""The check of sowing margins with policy 'level': the spare seedlings that each graft day's orders need."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date
from itertools import product as pairs_of

from model.planned.tables.declared import FlowKey
from model.proof.problems import Problem, exceeds, wrong
from model.proof.replay import Replay, flow_of
from model.scenario.choices import Happened, MethodKind

Key = tuple[str, str, date]
"""Lot, format and sowing day of a wave."""


def spare_seedlings_suffice(r: Replay) -> Iterator[Problem]:
    """Each flow keeps the spare seedlings that its orders need, in waves from which it may draw."""
    kept: dict[tuple[FlowKey, str], float] = defaultdict(float)
    for row in r.rows["spare_seedlings"]:
        place, wave = f"spare seedlings of {row['wave']} for {row['product']}", r.waves[row["wave"]]
        key, graft = (wave["lot"], wave["format"], wave["sow_day"]), row["graft_day"]
        fit = r.world.raised_for(r.world.products[row["product"]], graft, row["side"])
        yield from wrong(f"{place}: they cannot be grafted on {graft}", key in fit)
        yield from wrong(f"{place}: grafted before today", graft >= r.world.record.today)
        yield from wrong(f"{place}: the lot has no margin of its orders", _open(r, key))
        kept[flow_of(row), row["side"]] += row["seedlings"]
    for row in r.rows["flows"]:
        name, graft = row["product"], row["graft_day"]
        for side in ("rootstock", "scion") if graft >= r.world.record.today else ():
            place = f"{name} grafted on {graft}, {side}s to spare needed against those kept"
            yield from exceeds(place, _spare_needed(r, flow_of(row), side), kept[flow_of(row), side])


def _open(r: Replay, wave: Key) -> bool:
    """Whether the seedlings of a wave are expected, not counted, and have the margins of the orders."""
    counted = r.world.record.share(Happened.SOWN, wave) is not None
    return not counted and r.world.fixed_sowing(r.world.lots[wave[0]]) is None


def _spare_needed(r: Replay, flow: FlowKey, side: str) -> float:
    """Spare seedlings that a flow needs on one side."""
    name, graft, chosen = flow
    product = r.world.products[name]
    method = r.world.methods[product.method]
    if side == "rootstock" and method.kind is MethodKind.OWN_ROOT:
        return 0.0
    scions = r.world.raised_for(product, graft, "scion")
    roots: list[Key | None] = [None]
    if method.kind is not MethodKind.OWN_ROOT:
        roots = [*r.world.raised_for(product, graft, "rootstock")]
    if not any(wave is not None and _open(r, wave) for wave in (roots if side == "rootstock" else scions)):
        return 0.0
    best, lots = 0.0, set()
    for root, scion in pairs_of(roots, scions):
        root_age = None if root is None else (graft - root[2]).days
        age = (graft - scion[2]).days
        match = r.world.match(method.method, root and root[0], scion[0], root_age, age)
        kept = r.world.take(method.method, root_age, age, chosen) * method.finish_survival
        best = max(best, match * kept)
        wave = root if side == "rootstock" else scion
        if match > 0 and wave is not None and _open(r, wave):
            lots.add(wave[0])
    orders = [order.order for order in r.world.reached(*flow)]
    sowing = r.world.sowing_margin
    shares = {o: max((sowing(o, lot, name, chosen) for lot in lots), default=0.0) for o in orders}
    if not shares or best <= 0:
        return 0.0
    goods = r.world.products[product.ordered_as]
    sold = goods.salvage_price > 0 and goods.salvage_most > 0
    least, most = 0.0 if sold else min(shares.values()), max(shares.values())
    needed = 0.0
    for row in r.joins_of[flow]:
        wave_row = r.waves[row[f"{side}_wave"]]
        expected = _open(r, (wave_row["lot"], wave_row["format"], wave_row["sow_day"]))
        needed += row["joins"] / row["match"] * (least if expected else least - most)
    for row in r.served[flow]:
        needed += (shares[row["order"]] - least) * (row["plants"] + row["margin_plants"]) / best
    return needed

"""The check that nothing is sown, joined or bought that nobody uses, even where it is free."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date
from math import ceil, floor

from model.proof.problems import ABSOLUTE, Problem, exceeds
from model.proof.replay import Replay

ROUNDING = 1e-7
"""Part of a tray or a pack that is no more than rounding."""


def nothing_is_needless(r: Replay) -> Iterator[Problem]:
    """Somebody uses each tray sown from today on or kept of those on hand, each plant and each pack.

    Surplus sold is used. Spare plants of an offer's least quantity are checked with the plants bought. A plan
    made beside a last plan may keep jobs that nobody needs, as to change them upsets too; one that is best
    over sampled seasons grows plants to spare.
    """
    if not (r.plan.facts.replanned or r.plan.facts.seasons):
        yield from _trays(r)
        yield from _plants(r)
        yield from _packs(r)
        yield from _vehicles(r)


def _is_whole(number: float) -> bool:
    return abs(number - round(number)) <= ABSOLUTE


def _trays(r: Replay) -> Iterator[Problem]:
    for name, wave in r.waves.items():
        if wave["sow_day"] >= r.world.record.today or wave["sow_day"] < r.world.first:
            drawn = sum(r.drawn[name].values()) + sum(r.spare[name].values())
            used = drawn / wave["usable_per_tray"]
            used = ceil(used - ROUNDING) if _is_whole(wave["trays"]) else used
            place = f"wave {name}, trays sown against those that somebody uses"
            yield from exceeds(place, wave["trays"], used)


def _plants(r: Replay) -> Iterator[Problem]:
    """Surplus that is not sold; what days before today left over is sold first."""
    before: dict[str, float] = defaultdict(float)
    from_today: dict[str, float] = defaultdict(float)
    joins: dict[tuple[str, date], float] = defaultdict(float)
    for row in r.rows["flows"]:
        joins[row["method"], row["graft_day"]] += row["joins"]
    for row in r.rows["flows"]:
        least = r.world.methods[row["method"]].least_batch
        if least is not None and joins[row["method"], row["graft_day"]] <= least + ABSOLUTE:
            continue  # no fewer would be set up for
        gone = r.world.first <= row["graft_day"] < r.world.record.today
        when = before if gone else from_today
        when[r.world.products[row["product"]].ordered_as] += row["surplus"]
    sold: dict[str, float] = defaultdict(float)
    for row in r.rows["salvage"]:
        sold[row["product"]] += row["sold"]
    for product, plants in from_today.items():
        used = max(0.0, sold[product] - before[product])
        yield from exceeds(f"{product}, plants grown against those ordered or sold", plants, used)


def _packs(r: Replay) -> Iterator[Problem]:
    """Packs not ordered yet that could be left out: whole ones where they are whole, else parts of them."""
    left: dict[str, float] = {
        row["item"]: row["stock"] - max(r.out(row["item"]).values(), default=0.0) for row in r.rows["items"]
    }
    for row in r.rows["purchases"]:
        left[row["item"]] = left.get(row["item"], 0.0) + row["packs"] * row["size"]
    for row in r.rows["purchases"]:
        new, over = row["packs"] - row["ordered"], left[row["item"]] / row["size"]
        over = floor(over + ROUNDING) if _is_whole(row["packs"]) else over
        needless = min(new, max(0.0, over))
        yield from exceeds(f"{row['item']}, packs of {row['size']:g} that nobody uses", needless, 0.0)


def _vehicles(r: Replay) -> Iterator[Problem]:
    """Vehicles that could stay at home: whole ones where they are whole, else parts of them."""
    for row in r.rows["runs"]:
        over = row["vehicles"] - row["trays"] / r.world.runs[row["run"]].trays
        over = floor(over + ROUNDING) if _is_whole(row["vehicles"]) else over
        yield from exceeds(f"{row['run']} on {row['day']}, vehicles that carry nothing", over, 0.0)

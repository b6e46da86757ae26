"""The check of products that are made in several ways: each way in use is told as it is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from model.planned.tables.declared import FlowKey
from model.proof.problems import CENT, Problem, differs, exceeds, must_be, wrong
from model.proof.replay import Replay, flow_of


def ways_are_told(r: Replay) -> Iterator[Problem]:
    """Table ``ways`` has all graft days of products made in several ways, and no others in use.

    In a continuous plan, no way from which an order gets plants is told as dearer.
    """
    rooms = r.world.rooms.ways
    sold = [p.ordered_as for p in r.world.scenario.products for _ in rooms[p.method]]
    several = {name for name in sold if sold.count(name) > 1}
    flows = {flow_of(row): row for row in r.rows["flows"]}
    told = {(row["way"], row["graft_day"], row["in_zones"]) for row in r.rows["ways"]}
    for name, day, _ in sorted(flows.keys() - told, key=str):
        listed = r.world.products[name].ordered_as not in several
        yield from wrong(f"{name} grafted on {day}: is not in table ways", listed)
    given: dict[FlowKey, float] = defaultdict(float)
    for row in r.rows["deliveries"]:
        if row["graft_day"] is not None:
            given[flow_of(row)] += row["plants"]
    for row in r.rows["ways"]:
        place, way = f"{row['way']} on {row['graft_day']}", r.world.products[row["way"]]
        yield from must_be(place, "product", row["product"], way.ordered_as)
        yield from wrong(f"{place}: the product is made in one way", way.ordered_as in several)
        yield from must_be(place, "method", row["method"], way.method)
        flow = flows.get((row["way"], row["graft_day"], row["in_zones"]), {"joins": 0.0, "finished": 0.0})
        yield from differs(f"{place}, joins", row["joins"], flow["joins"])
        yield from differs(f"{place}, finished", row["finished"], flow["finished"])
        facts = r.plan.facts
        in_use = given[row["way"], row["graft_day"], row["in_zones"]] > 1.0
        if row["dearer"] is not None and not facts.whole and not facts.replanned and in_use:
            yield from exceeds(f"{place}, dearer by, although it is made so", row["dearer"], CENT)

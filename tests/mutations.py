"""Plans broken on purpose: what an audit must not let pass.

Each mutation takes a sound plan and gives a broken one, or None where the plan has nothing of the kind.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import timedelta
from math import nan
from typing import Any

import pandas as pd

from model.planned.plan_tables import PLAN_TABLES, Plan

Row = dict[str, Any]
Change = Callable[[Plan], Plan | None]
DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Mutation:
    """A way to break a plan, and the check that must fail then."""

    check: str
    change: Change


def rows_of(plan: Plan, table: str) -> list[Row]:
    """A table's rows."""
    return list(plan.table(table).to_dict("records"))


def with_table(plan: Plan, table: str, rows: list[Row]) -> Plan:
    """The plan with other rows in a table, whatever their values."""
    columns = PLAN_TABLES[table].names
    held = {name: pd.Series([row[name] for row in rows], dtype=object) for name in columns}
    return replace(plan, **{table: pd.DataFrame(held)})


def first(table: str, change: Callable[[Row], Row], where: Callable[[Row], bool] = lambda r: True) -> Change:
    """Change the first row of a table that is as asked for."""

    def apply(plan: Plan) -> Plan | None:
        rows = rows_of(plan, table)
        for n, row in enumerate(rows):
            if where(row):
                rows[n] = row | change(row)
                return with_table(plan, table, rows)
        return None

    return apply


def without(table: str, where: Callable[[Row], bool] = lambda r: True) -> Change:
    """Take the first row of a table that is as asked for away."""

    def apply(plan: Plan) -> Plan | None:
        rows = rows_of(plan, table)
        for n, row in enumerate(rows):
            if where(row):
                return with_table(plan, table, rows[:n] + rows[n + 1 :])
        return None

    return apply


def twice(table: str) -> Change:
    """Repeat the first row of a table."""

    def apply(plan: Plan) -> Plan | None:
        rows = rows_of(plan, table)
        return with_table(plan, table, [rows[0], *rows]) if rows else None

    return apply


def facts(change: Callable[[Plan], Row]) -> Change:
    """Change the facts of the run."""
    return lambda plan: replace(plan, facts=replace(plan.facts, **change(plan)))


def if_whole(change: Change) -> Change:
    """Only in a plan of whole trays."""
    return lambda plan: change(plan) if plan.facts.whole else None


def from_two_lots(plan: Plan) -> Plan | None:
    """Trace an order of one lot to a second lot; only plans with groups kept apart are known to have one."""
    rows = rows_of(plan, "trace")
    if plan.kept_apart.empty or not rows:
        return None
    row = min(rows, key=lambda row: str(row["order"]))
    return with_table(plan, "trace", [*rows, row | {"scion_wave": row["rootstock_wave"]}])


def into_other_units(plan: Plan) -> Plan | None:
    """Exchange the kinds of units that are not for some groups; only where there are two kinds."""
    kinds = sorted({row["not_for"] for row in rows_of(plan, "unit_batches")} - {None})
    other = dict(zip(kinds, reversed(kinds), strict=True))
    for table in ("unit_batches", "unit_loads"):
        rows = [row | {"not_for": other.get(row["not_for"])} for row in rows_of(plan, table)]
        plan = with_table(plan, table, rows)
    return plan if len(kinds) == 2 else None


def emptied_too_soon(plan: Plan) -> Plan | None:
    """Say of all units that they are empty again a day after they are opened."""
    late = [r for r in rows_of(plan, "unit_batches") if r["shut_until"] > r["open_day"] + DAY]
    for table in ("unit_batches", "unit_loads"):
        rows = [row | {"shut_until": row["open_day"] + DAY} for row in rows_of(plan, table)]
        plan = with_table(plan, table, rows)
    return plan if any(row["slots_loaded"] > 0.01 for row in late) else None


def held_elsewhere(plan: Plan) -> Plan | None:
    """Say of plants that wait in the store that they wait in the house; only where they may choose."""
    there = [row for row in rows_of(plan, "deliveries") if (row["in_zones"] or "").endswith("Store")]
    for table in ("flows", "joins", "deliveries", "trace", "spare_seedlings", "unit_loads", "ways"):
        rows = rows_of(plan, table)
        for row in rows:
            if (row["in_zones"] or "").endswith("Store"):
                row["in_zones"] = row["in_zones"].removesuffix("Store") + "House"
        plan = with_table(plan, table, rows)
    return plan if any(row["due_day"] > row["ready_day"] for row in there) else None


def column_dropped(plan: Plan) -> Plan:
    """The table of waves without its trays."""
    return replace(plan, waves=plan.waves.drop(columns="trays"))


def _in_whole_trays(row: Row) -> bool:
    """Whether the consolidated trays of a flow are surely whole ones: its plants would fill a part of one."""
    in_parts, trays = abs(row["healed"] - round(row["healed"])) > 0.01, row["trays_finishing"]
    return bool(in_parts and abs(trays - round(trays)) < 1e-6 and trays < row["trays_loaded"] - 0.01)


MUTATIONS: dict[str, Mutation] = {
    "a column is missing": Mutation("tables have their columns", column_dropped),
    "an amount is no number": Mutation("every value is there", first("orders", lambda r: {"own": nan})),
    "the objective is no number": Mutation("every value is there", facts(lambda plan: {"objective": nan})),
    "fewer than no trays": Mutation("every value is there", first("waves", lambda r: {"trays": -1.0})),
    "sown a year later": Mutation(
        "days lie in the plan", first("waves", lambda r: {"sow_day": r["sow_day"] + 365 * DAY})
    ),
    "an unknown product": Mutation(
        "names are in the scenario", first("flows", lambda r: {"product": "No such product"})
    ),
    "an unknown lot": Mutation("names are in the scenario", first("waves", lambda r: {"lot": "No such lot"})),
    "a wave told twice": Mutation("rows occur once", twice("waves")),
    "a wave moved": Mutation(
        "joins are possible",
        first("waves", lambda r: {"sow_day": r["sow_day"] + DAY}, lambda r: r["drawn"] > 0.01),
    ),
    "benched a day late": Mutation(
        "waves are sown right",
        first("waves", lambda r: {"bench_day": r["bench_day"] + DAY}, lambda r: r["drawn"] > 0.01),
    ),
    "seeds left out": Mutation("waves are sown right", first("waves", lambda r: {"seeds": r["seeds"] - 1})),
    "stand overstated": Mutation(
        "waves are sown right", first("waves", lambda r: {"usable_per_tray": r["usable_per_tray"] * 1.1})
    ),
    "grafted a day later": Mutation(
        "joins are possible", first("joins", lambda r: {"graft_day": r["graft_day"] + DAY})
    ),
    "an age misstated": Mutation(
        "joins are possible", first("joins", lambda r: {"scion_age": r["scion_age"] + 1})
    ),
    "match overstated": Mutation(
        "joins are possible", first("joins", lambda r: {"match": r["match"] + 0.05})
    ),
    "take overstated": Mutation("joins are possible", first("joins", lambda r: {"take": r["take"] + 0.05})),
    "joined with a wave never sown": Mutation(
        "names are in the scenario", first("joins", lambda r: {"scion_wave": "W9999"})
    ),
    "more joins than seedlings": Mutation(
        "seedlings suffice", first("joins", lambda r: {"joins": r["joins"] * 3 + 1000})
    ),
    "spare seedlings given away": Mutation(
        "spare seedlings suffice", first("spare_seedlings", lambda r: {"seedlings": r["seedlings"] / 2})
    ),
    "a lot not told": Mutation("lots are traced", without("trace")),
    "more plants of a lot than delivered": Mutation(
        "lots are traced", first("trace", lambda r: {"plants": r["plants"] + 1})
    ),
    "traced to a day of packing that is not": Mutation(
        "lots are traced", first("trace", lambda r: {"pack_day": r["pack_day"] - DAY})
    ),
    "trays germinating where their lot does not": Mutation(
        "trays germinate right", first("germination", lambda r: {"zone": "House"})
    ),
    "trays too early on the bench": Mutation(
        "trays germinate right", first("germination", lambda r: {"bench_day": r["bench_day"] - DAY})
    ),
    "more trays in a further zone than stand there": Mutation(
        "slots suffice", first("germination", lambda r: {"trays": r["trays"] / 2})
    ),
    "a wave cleared too soon": Mutation(
        "slots suffice", without("bench_trays", lambda r: bool(r["trays"] > 0.01))
    ),
    "more healed than joined": Mutation(
        "flows add up", first("flows", lambda r: {"healed": r["healed"] * 1.2 + 1})
    ),
    "fewer trays than are filled": Mutation(
        "flows add up",
        first("flows", lambda r: {"trays_loaded": 0.0}, lambda r: r["trays_loaded"] > 0.01),
    ),
    "ready too soon": Mutation("flows add up", first("flows", lambda r: {"ready_day": r["ready_day"] - DAY})),
    "sent through zones that nobody chose": Mutation(
        "flows add up",
        first(
            "flows", lambda r: {"in_zones": f"{r['in_zones']}; attic"}, lambda r: r["in_zones"] is not None
        ),
    ),
    "held where it does not wait": Mutation("slots suffice", held_elsewhere),
    "joins counted in other zones": Mutation(
        "flows add up",
        first("joins", lambda r: {"in_zones": None}, lambda r: r["in_zones"] is not None),
    ),
    "a flow forgotten": Mutation("flows add up", without("flows", lambda r: r["delivered"] > 0.01)),
    "held too long": Mutation(
        "deliveries keep their days", first("deliveries", lambda r: {"ready_day": r["ready_day"] - 4 * DAY})
    ),
    "packed a day late": Mutation(
        "deliveries keep their days", first("deliveries", lambda r: {"pack_day": r["pack_day"] + DAY})
    ),
    "a margin eaten": Mutation(
        "deliveries keep their days",
        first("deliveries", lambda r: {"margin_plants": 0.0}, lambda r: abs(r["margin_plants"]) > 0.01),
    ),
    "an order overfilled": Mutation(
        "orders are met or short", first("orders", lambda r: {"own": r["own"] + 1})
    ),
    "a plant billed that is extra": Mutation(
        "orders are met or short", first("orders", lambda r: {"extra": r["extra"] + 1})
    ),
    "a shortfall hidden": Mutation(
        "orders are met or short",
        first("orders", lambda r: {"short": 0.0}, lambda r: r["short"] > 0.01),
    ),
    "an order declined that may not be": Mutation(
        "orders are met or short",
        first("orders", lambda r: {"own": r["own"] - 1, "declined": 1.0}, lambda r: r["own"] > 1),
    ),
    "an order forgotten": Mutation("orders are met or short", without("orders")),
    "more trays than slots": Mutation(
        "slots suffice", first("bench_trays", lambda r: {"trays": r["trays"] + 1e6})
    ),
    "slots in use left out": Mutation("slots suffice", without("slots", lambda r: bool(r["used"] > 0.01))),
    "slots invented": Mutation("slots suffice", first("slots", lambda r: {"available": r["available"] + 1})),
    "loaded while shut": Mutation(
        "units run all-in all-out", first("unit_loads", lambda r: {"load_day": r["load_day"] + 3 * DAY})
    ),
    "a unit overfull": Mutation(
        "units run all-in all-out", first("unit_loads", lambda r: {"trays": r["trays"] + 1000})
    ),
    "a unit emptied too soon": Mutation("units run all-in all-out", emptied_too_soon),
    "an order of one lot from two": Mutation("orders are of one lot", from_two_lots),
    "units for others": Mutation("units are shared by no two groups kept apart", into_other_units),
    "more of a lot than its order has": Mutation(
        "orders are spread", first("trace", lambda r: {"plants": r["plants"] + 1e6})
    ),
    "a lot not changed over for": Mutation("lots are changed over for", without("change_overs")),
    "changed over twice": Mutation(
        "lots are changed over for", first("change_overs", lambda r: {"number": r["number"] + 1})
    ),
    "a group not told": Mutation("groups are apart", without("kept_apart")),
    "a group in another's place": Mutation(
        "groups are apart", first("kept_apart", lambda r: {"to_day": r["to_day"] + DAY})
    ),
    "work without hands": Mutation("hands do the work", without("hours", lambda r: r["hours"] > 0.01)),
    "a machine without attendants": Mutation(
        "hands do the work", without("hours", lambda r: bool(r["task"] == "attend" and r["hours"] > 0.01))
    ),
    "attendants not told": Mutation("jobs are due", without("jobs", lambda r: r["step"] == "attend")),
    "a skill nobody has": Mutation("hands do the work", first("hours", lambda r: {"skill": "Flying"})),
    "more hours than a day has": Mutation(
        "crews keep their hours", first("crew_days", lambda r: {"regular": r["regular"] + 500})
    ),
    "overtime without end": Mutation(
        "crews keep their hours", first("crew_days", lambda r: {"overtime": r["overtime"] + 500})
    ),
    "too long at one skill": Mutation(
        "crews keep their hours", first("hours", lambda r: {"hours": r["hours"] + 500})
    ),
    "pieces paid at another rate": Mutation(
        "piece rates are paid", first("pieces", lambda r: {"rate": r["rate"] + 1})
    ),
    "a piece too many": Mutation(
        "piece rates are paid", first("pieces", lambda r: {"pieces": r["pieces"] + 1})
    ),
    "pieces paid by the hour": Mutation(
        "piece rates are paid", without("pieces", lambda r: r["hours"] > 0.01)
    ),
    "pieces paid as nothing": Mutation(
        "piece rates are paid", first("pieces", lambda r: {"amount": r["amount"] + 1})
    ),
    "bays unpaid": Mutation("bays hold their trays", without("bays")),
    "a bay shut with trays in it": Mutation(
        "bays hold their trays", first("bays", lambda r: {"bays": r["bays"] - 1})
    ),
    "guaranteed hours unpaid": Mutation("guaranteed hours are paid", without("guaranteed")),
    "guaranteed hours paid twice": Mutation(
        "guaranteed hours are paid", first("guaranteed", lambda r: {"idle": 2 * r["idle"]})
    ),
    "training ignored": Mutation(
        "temporary hands are trained",
        first("temporary", lambda r: {"new": 0.0}, lambda r: r["new"] > 0.01),
    ),
    "temporary hands beyond the most": Mutation(
        "temporary hands are trained", first("temporary", lambda r: {"heads": r["heads"] + 1000})
    ),
    "temporary hands unpaid": Mutation(
        "temporary hands are trained",
        first("temporary", lambda r: {"amount": r["amount"] - 1}),
    ),
    "hours of temporary hands beyond their pace": Mutation(
        "temporary hands are trained",
        first("crew_days", lambda r: {"temporary_available": r["temporary_available"] + 0.5}),
    ),
    "a hand called too many": Mutation(
        "temporary hands are trained",
        first("crew_days", lambda r: {"called": r["called"] + 9}, lambda r: r["called"] > 0.01),
    ),
    "called hands unpaid": Mutation(
        "temporary hands are trained",
        first("crew_days", lambda r: {"called": 0.0}, lambda r: r["called"] > 0.01),
    ),
    "overtime of temporary hands unpaid": Mutation(
        "temporary hands are trained",
        first("crew_days", lambda r: {"temporary_overtime": 0.0}, lambda r: r["temporary_overtime"] > 0.01),
    ),
    "bought in by the one": Mutation(
        "bought plants arrive",
        first("buy_in", lambda r: {"plants": 0.5}, lambda r: abs(r["plants"] - 0.5) > 0.01),
    ),
    "spare plants beyond the offer's least": Mutation(
        "bought plants arrive", first("buy_in", lambda r: {"spare": r["spare"] + 1})
    ),
    "an arrival moved": Mutation(
        "bought plants arrive", first("buy_in", lambda r: {"arrival_day": r["arrival_day"] - DAY})
    ),
    "seed never bought": Mutation(
        "stock never runs out", without("purchases", lambda r: r["packs"] * r["size"] > 0.01)
    ),
    "ordered too late": Mutation(
        "stock never runs out",
        first(
            "purchases",
            lambda r: {"order_by": r["order_by"] + DAY},
            lambda r: r["order_by"] is not None,
        ),
    ),
    "a pack at another price": Mutation(
        "stock never runs out", first("purchases", lambda r: {"price": r["price"] + 1})
    ),
    "use of an item left out": Mutation(
        "stock never runs out", without("item_uses", lambda r: r["used"] > 0.01)
    ),
    "more clips come back than were used": Mutation(
        "stock never runs out", first("items", lambda r: {"back": r["back"] + 1})
    ),
    "clips that come back a day early": Mutation(
        "stock never runs out",
        first("item_uses", lambda r: {"day": r["day"] - DAY}, lambda r: r["back"] > 0.01),
    ),
    "what new hands practise on not sown": Mutation(
        "jobs are due", without("jobs", lambda r: r["step"] == "sow" and "practise" in (r["detail"] or ""))
    ),
    "clips not washed": Mutation("jobs are due", without("jobs", lambda r: r["step"] == "wash")),
    "clips washed by nobody": Mutation(
        "hands do the work", without("hours", lambda r: bool(r["task"] == "wash" and r["hours"] > 0.01))
    ),
    "a cost line changed": Mutation(
        "money adds up", first("costs", lambda r: {"amount": r["amount"] * 0.9 - 1})
    ),
    "an objective too low": Mutation(
        "money adds up", facts(lambda plan: {"objective": plan.facts.objective * 0.9 - 1})
    ),
    "a tray that nobody draws on": Mutation(
        "nothing is needless", first("waves", lambda r: {"trays": r["trays"] + 1})
    ),
    "plants for nobody": Mutation(
        "nothing is needless", first("flows", lambda r: {"surplus": r["surplus"] + 1})
    ),
    "a pack that nobody opens": Mutation(
        "nothing is needless", first("purchases", lambda r: {"packs": r["packs"] + 1})
    ),
    "a vehicle left at home": Mutation(
        "runs carry their trays", first("runs", lambda r: {"vehicles": r["vehicles"] - 1})
    ),
    "trays on no vehicle": Mutation("runs carry their trays", without("runs")),
    "a run on another day": Mutation(
        "runs carry their trays", first("runs", lambda r: {"day": r["day"] + DAY})
    ),
    "a tray that does not ride": Mutation(
        "runs carry their trays", first("runs", lambda r: {"trays": r["trays"] - 1})
    ),
    "freight unpaid": Mutation("runs carry their trays", first("runs", lambda r: {"amount": 0.0})),
    "a vehicle that carries nothing": Mutation(
        "nothing is needless",
        first("runs", lambda r: {"vehicles": r["vehicles"] + 1, "carries": 2 * r["carries"]}),
    ),
    "more sold than left over": Mutation(
        "salvage is surplus", first("salvage", lambda r: {"sold": r["surplus"] + 1})
    ),
    "a way in use left out": Mutation("ways are told", without("ways", lambda r: r["joins"] > 0.01)),
    "a way used more than it was": Mutation(
        "ways are told", first("ways", lambda r: {"joins": r["joins"] + 1})
    ),
    "a way told as another method": Mutation(
        "ways are told",
        first("ways", lambda r: {"method": f"{r['method']} too"}, lambda r: r["joins"] > 0.01),
    ),
    "a job a day late": Mutation("jobs are due", first("jobs", lambda r: {"day": r["day"] + DAY})),
    "a job left out": Mutation(
        "jobs are due", without("jobs", lambda r: bool((r["count"] or r["trays"] or 0) > 0.01))
    ),
    "an own task renamed": Mutation(
        "jobs are due",
        first("jobs", lambda r: {"own_task": f"{r['own_task']} too"}, lambda r: r["own_task"] is not None),
    ),
    "a role's job told as another's": Mutation(
        "jobs are due",
        first("jobs", lambda r: {"role": f"{r['role']} too"}, lambda r: r["role"] is not None),
    ),
    "a role without hands": Mutation(
        "hands do the work",
        without("hours", lambda r: bool(r["task"] == "graft: joiner" and r["hours"] > 0.01)),
    ),
    "pieces of a role paid as whole ones": Mutation(
        "piece rates are paid",
        first("pieces", lambda r: {"task": "graft"}, lambda r: r["task"].startswith("graft: ")),
    ),
    "an own task left out": Mutation("jobs are due", without("jobs", lambda r: r["own_task"] is not None)),
    "a job invented": Mutation("jobs are due", first("jobs", lambda r: {"name": f"{r['name']} too"})),
    "seeds misstated on a list": Mutation(
        "jobs are due", first("jobs", lambda r: {"seeds": r["seeds"] + 1}, lambda r: r["seeds"] is not None)
    ),
    "moved to the wrong zone": Mutation(
        "jobs are due", first("jobs", lambda r: {"to_zone": "attic"}, lambda r: r["to_zone"] is not None)
    ),
    "grafters sent to the wrong trays": Mutation(
        "jobs name their lots", first("jobs", lambda r: {"detail": None}, lambda r: r["step"] == "graft")
    ),
    "a job that nobody finishes": Mutation(
        "crews do the jobs", first("job_crews", lambda r: {"ends": r["ends"] / 2})
    ),
    "a job given to nobody": Mutation("crews do the jobs", without("job_crews")),
    "a crew sent for longer than planned": Mutation(
        "crews do the jobs", first("job_crews", lambda r: {"own": r["own"] + 1}, lambda r: bool(r["crew"]))
    ),
    "half a tray": Mutation(
        "counts are whole", if_whole(first("waves", lambda r: {"trays": r["trays"] + 0.5}))
    ),
    "half a tray loaded": Mutation(
        "flows add up",
        if_whole(first("flows", lambda r: {"trays_loaded": r["trays_loaded"] + 0.5}, _in_whole_trays)),
    ),
    "a tray too many in finishing": Mutation(
        "flows add up", first("flows", lambda r: {"trays_finishing": r["trays_finishing"] + 1})
    ),
    "half a plant short": Mutation(
        "counts are whole", if_whole(first("orders", lambda r: {"short": r["short"] + 0.5}))
    ),
    "a dual that disagrees": Mutation(
        "the bound holds", facts(lambda plan: {"dual_objective": plan.facts.dual_objective * 1.01 + 1})
    ),
    "a bound above the plan": Mutation(
        "the bound holds", facts(lambda plan: {"bound": plan.facts.objective + abs(plan.facts.objective) + 1})
    ),
    "a gap made small": Mutation("the bound holds", facts(lambda plan: {"gap": plan.facts.gap - 0.01})),
}
"""Ways to break a plan, by name."""

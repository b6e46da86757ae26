"""Checks of plants and places: waves, joins, flows, deliveries, slots and units."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date
from itertools import pairwise
from math import ceil

from model.planned.tables.declared import FlowKey
from model.proof.checks.past_checks import (
    finished_as_counted,
    margin_left,
    take_as_counted,
    usable_as_counted,
)
from model.proof.plan_rows import Row
from model.proof.problems import ABSOLUTE, CENT, MATCH, Problem, differs, exceeds, must_be, unless, wrong
from model.proof.replay import Replay, flow_of
from model.proof.world import days_from
from model.scenario.choices import Decline, MethodKind, Part, Source, ZoneMode
from model.scenario.entities import Order

ROUNDING = 1e-6
"""Part of a tray that is only rounding."""


def waves_are_sown_right(r: Replay) -> Iterator[Problem]:
    """Sowing days are working days; bench days, seeds and usable seedlings follow from the lot."""
    for row in r.rows["waves"]:
        place, lot = f"wave {row['wave']}", r.world.lots[row["lot"]]
        cells = r.world.formats[row["format"]].cells
        gone = row["sow_day"] < r.world.record.today
        works = gone or r.world.works(row["sow_day"])
        yield from wrong(f"{place}: sown on {row['sow_day']}, a day off", works)
        right = r.world.bench_day(lot, row["sow_day"])
        yield from must_be(place, "bench day", row["bench_day"], right)
        seeds = row["trays"] * cells * lot.seeds_per_cell if row["sow_day"] >= r.world.first else 0.0
        yield from differs(f"{place}, seeds", row["seeds"], seeds)
        counted = usable_as_counted(r, row)
        usable = r.world.usable(lot, cells) if counted is None else counted
        # Seedlings drawn in the past depend on stem match; program and audit agree on it only to ``MATCH``.
        close = ABSOLUTE + (2 * MATCH * usable if gone else 0.0)
        yield from differs(f"{place}, usable seedlings per tray", row["usable_per_tray"], usable, close)
        yield from must_be(place, "variety", row["variety"], lot.variety)


def trays_germinate_right(r: Replay) -> Iterator[Problem]:
    """Trays germinate in zones open to their lot, no more than are sown, and are on the bench in time."""
    for name, rows in r.elsewhere.items():
        wave = r.waves[name]
        trays, drawn = sum(row["trays"] for row in rows), min(r.drawn[name], default=date.max)
        yield from exceeds(f"wave {name}, trays in further zones", trays, wave["trays"])
        gone = wave["sow_day"] < r.world.record.today
        yield from wrong(f"wave {name}: was on hand, not in a further zone", wave["sow_day"] >= r.world.first)
        for row in rows:
            place, rule = f"wave {name} in {row['zone']}", r.world.further.get((wave["lot"], row["zone"]))
            if rule is None:
                yield f"{place}: its lot may not germinate there", row["trays"]
                continue
            right = r.world.bench_day(r.world.lots[wave["lot"]], wave["sow_day"], rule.days)
            out = row["bench_day"]
            if not gone:
                yield from must_be(place, "bench day", out, right)
            else:
                yield from wrong(f"{place}: on the bench after {right}", right is None or out <= right)
            yield from wrong(f"{place}: drawn on {drawn}, before it is on the bench", drawn >= out)


def joins_are_possible(r: Replay) -> Iterator[Problem]:
    """Graft days are working days; ages lie in the windows; varieties, formats, match and take are right.

    A method joins its least batch on a day, or nothing.
    """
    yield from _least_batches(r)
    for row in r.rows["joins"]:
        place = f"joins of {row['product']} on {row['graft_day']}"
        product = r.world.products[row["product"]]
        rule = r.world.methods[product.method]
        roots, scions = r.world.raised_in(product)
        gone = row["graft_day"] < r.world.record.today
        grafted = rule.kind is not MethodKind.OWN_ROOT
        rights = {
            "grafted on a day off": gone or r.world.works(row["graft_day"]),
            "an own-root product has a rootstock": grafted or row["rootstock_wave"] is None,
        }
        yield from unless(place, rights)
        sides = [("scion", product.scion, scions, rule.scion_age_min, rule.scion_age_max)]
        if grafted:
            low, high = rule.rootstock_age_min or 0, rule.rootstock_age_max or 0
            sides.append(("rootstock", product.rootstock or "", roots, low, high))
        lots: dict[str, str | None] = {"rootstock": None}
        for side, variety, formats, youngest, oldest in sides:
            wave: Row | None = r.waves.get(row[f"{side}_wave"])
            if wave is None:
                yield f"{place}: {side} wave {row[f'{side}_wave']} is not in table waves", row["joins"]
                continue
            lots[side] = wave["lot"]
            age = (row["graft_day"] - wave["sow_day"]).days
            told = row[f"{side}_age"]
            yield from must_be(place, f"{side} age", told, age)
            yield from must_be(place, f"{side}", wave["variety"], variety)
            if gone:
                continue
            rights = {
                f"{side} age of {age} days is outside the graft window": youngest <= age <= oldest,
                f"{side} is still in germination": wave["bench_day"] <= row["graft_day"],
                f"{side} may not be raised in {wave['format']}": wave["format"] in formats,
            }
            yield from unless(place, rights)
        root_age, age = row["rootstock_age"], row["scion_age"]
        match = r.world.match(rule.method, lots["rootstock"], lots["scion"] or "", root_age, age)
        if gone:
            yield from exceeds(f"{place}, expected match against match", match - MATCH, row["match"])
            yield from exceeds(f"{place}, match", row["match"], 1.0)
        else:
            yield from differs(f"{place}, match", row["match"], match, MATCH)
        counted, take = take_as_counted(r, row), r.world.take(rule.method, root_age, age, row["in_zones"])
        yield from differs(f"{place}, take", row["take"], take if counted is None else counted)
        yield from differs(f"{place}, seedlings", row["seedlings"], row["joins"] / row["match"])


def _least_batches(r: Replay) -> Iterator[Problem]:
    """From today on a whole plan joins at least a method's least batch on a day, or nothing.

    A plan made beside a last plan may join fewer on days that this one has set up for.
    """
    joins: dict[tuple[str, date], float] = defaultdict(float)
    for row in r.rows["joins"]:
        if row["graft_day"] >= r.world.record.today:
            joins[r.world.products[row["product"]].method, row["graft_day"]] += row["joins"]
    for (method, day), made in joins.items() if r.plan.facts.whole and not r.plan.facts.replanned else ():
        least = r.world.methods[method].least_batch
        if least is not None and made > ABSOLUTE:
            yield from exceeds(f"{method} on {day}, its least batch against joins", least, made)


def seedlings_suffice(r: Replay) -> Iterator[Problem]:
    """A wave has the seedlings that are drawn or spare, and the bench holds those still to be drawn."""
    drawn = {
        name: {day: r.drawn[name].get(day, 0.0) + r.spare[name].get(day, 0.0) for day in days}
        for name in r.waves
        if (days := {*r.drawn[name], *r.spare[name]})
    }
    for name, wave in r.waves.items():
        total, there = sum(r.drawn[name].values()), wave["trays"] * wave["usable_per_tray"]
        yield from exceeds(f"wave {name}, seedlings drawn", sum(drawn.get(name, {}).values()), there)
        yield from differs(f"wave {name}, column drawn", wave["drawn"], total)
    spans: dict[str, list[Row]] = defaultdict(list)
    for row in r.rows["bench_trays"]:
        spans[row["wave"]].append(row)
        trays = r.waves[row["wave"]]["trays"]
        place = f"wave {row['wave']}"
        early = min(out for *_, out, _ in r.germinating(r.waves[row["wave"]]))
        yield from exceeds(f"{place}, trays on the bench", row["trays"], trays)
        yield from wrong(f"{place}: on the bench before its bench day {early}", row["from_day"] >= early)
    for name, rows in spans.items():
        ordered = sorted(rows, key=lambda s: (s["from_day"], s["to_day"]))
        for one, other in pairwise(ordered):
            apart = one["to_day"] <= other["from_day"]
            yield from wrong(f"wave {name}: spans on the bench overlap on {other['from_day']}", apart)
        end, clear = ordered[-1]["to_day"], r.waves[name]["clear_day"]
        last = max(drawn.get(name, {}), default=end)
        rights = {
            f"trays on the bench after {last}, when all seedlings are drawn": last >= end,
            f"on the bench after its clear day {clear}": end <= clear,
        }
        yield from unless(f"wave {name}", rights)
    for name, of_day in drawn.items():
        wave = r.waves[name]
        stood = [(s["from_day"], s["to_day"], s["trays"]) for s in spans[name]]
        elsewhere = [(row["bench_day"], row["trays"]) for row in r.elsewhere.get(name, [])]
        for day in days_from(max(wave["bench_day"], r.world.first), max(of_day)):
            there = sum(trays for start, end, trays in stood if start <= day < end)
            there += sum(trays for out, trays in elsewhere if day < out)
            to_come = sum(seedlings for when, seedlings in of_day.items() if when > day)
            place = f"wave {name} on {day}, seedlings still to be drawn against those on the bench"
            yield from exceeds(place, to_come, there * wave["usable_per_tray"])


def flows_add_up(r: Replay) -> Iterator[Problem]:
    """Joins, trays and healed, finished and delivered plants of each flow agree with one another."""
    flows = {flow_of(row): row for row in r.rows["flows"]}
    for key in {*r.joins_of, *r.served} - set(flows):
        yield f"{key[0]} grafted on {key[1]}: has joins or deliveries, but is not in table flows", 1.0
    for name, day, chosen in flows:
        ways = r.world.rooms.ways[r.world.products[name].method]
        place = f"{name} grafted on {day}: in zones {chosen}"
        yield from wrong(f"{place}, which its method does not allow", chosen in ways)
        ordered = r.world.products[r.world.products[name].ordered_as]
        grown = ordered.source is not Source.BUY or day < r.world.record.today
        yield from wrong(f"{name} grafted on {day}: the product must only be bought in", grown)
    for key, row in flows.items():
        place, product = f"{key[0]} grafted on {key[1]}", r.world.products[row["product"]]
        rule, cells = r.world.methods[product.method], r.world.formats[product.final_format].cells
        joins, served = r.joins_of[key], r.served[key]
        yield from must_be(place, "method", row["method"], rule.method)
        yield from differs(f"{place}, joins", row["joins"], sum(j["joins"] for j in joins))
        needed = _trays_needed(r, rule.kind, cells, joins) + _spare_trays(r, rule.kind, key)
        stood = r.world.record.plants.get(key)
        if stood is not None and rule.kind is not MethodKind.ROOT_CUT:
            needed = row["joins"] * -(-stood // cells) / stood
        yield from exceeds(f"{place}, trays needed against trays loaded", needed, row["trays_loaded"])
        yield from differs(f"{place}, healed", row["healed"], sum(j["joins"] * j["take"] for j in joins))
        finishing = row["healed"] / cells if rule.consolidate else row["trays_loaded"]
        if _in_whole_trays(r, row):
            finishing = ceil(finishing - ROUNDING)
            yield from wrong(f"{place}, trays loaded: not a whole number", _is_whole(row["trays_loaded"]))
        yield from differs(f"{place}, trays finishing", row["trays_finishing"], finishing)
        counted = finished_as_counted(r, key)
        gone = sum(d["plants"] for d in served if d["pack_day"] < r.world.record.today)
        finished = max(row["healed"] * rule.finish_survival, gone) if counted is None else counted
        if counted is not None and stood is not None:
            finished = row["healed"] * counted / stood
        yield from differs(f"{place}, finished", row["finished"], finished)
        ready = r.world.way(rule.method, row["graft_day"], row["in_zones"])[1]
        yield from must_be(place, "ready day", row["ready_day"], ready)
        plants, margin = sum(d["plants"] for d in served), sum(d["margin_plants"] for d in served)
        yield from differs(f"{place}, delivered", row["delivered"], plants)
        yield from differs(f"{place}, margin", row["margin_plants"], margin)
        yield from differs(f"{place}, surplus", row["surplus"], row["finished"] - plants - margin)
        what = "plants delivered with margin against finished plants"
        yield from exceeds(f"{place}, {what}", plants + margin, row["finished"])


def _in_whole_trays(r: Replay, row: Row) -> bool:
    """Whether a flow's trays are whole ones: some order of its product leaves in whole trays."""
    product = r.world.products[row["product"]].ordered_as
    whole = r.plan.facts.whole and product in r.world.in_whole_trays.values()
    return bool(whole and row["graft_day"] >= r.world.record.today)


def _is_whole(number: float) -> bool:
    return abs(number - round(number)) <= ABSOLUTE


def _trays_needed(r: Replay, kind: MethodKind, cells: int, joins: list[Row]) -> float:
    if kind is MethodKind.ROOT_CUT:
        return sum(float(j["joins"]) for j in joins) / cells
    side = "rootstock_wave" if kind is MethodKind.ON_TRAY else "scion_wave"
    waves = [(j, r.waves.get(j[side])) for j in joins]
    return sum(float(j["joins"] / j["match"] / wave["usable_per_tray"]) for j, wave in waves if wave)


def _spare_trays(r: Replay, kind: MethodKind, flow: FlowKey) -> float:
    """Trays of spare rootstocks of an on-tray flow, or of spare seedlings of an own-root one."""
    side = {MethodKind.ON_TRAY: "rootstock", MethodKind.OWN_ROOT: "scion"}.get(kind)
    return sum(
        float(row["seedlings"] / r.waves[row["wave"]]["usable_per_tray"])
        for row in r.rows["spare_seedlings"]
        if (*flow_of(row), row["side"]) == (*flow, side)
    )


def deliveries_keep_their_days(r: Replay) -> Iterator[Problem]:
    """Plants are ready when packed, held no longer than allowed, carry their margin, are spread by rule."""
    of_day: dict[tuple[str, date | None], float] = defaultdict(float)
    for row in r.rows["deliveries"]:
        of_day[row["order"], row["graft_day"]] += row["plants"]
    for row in r.rows["deliveries"]:
        place = f"order {row['order']}, plants ready on {row['ready_day']}"
        order = r.world.orders[row["order"]]
        rule = r.world.made_by(row["product"])
        late = r.world.days_late(order, row["ready_day"])
        pack = r.world.packed_on(order, row["ready_day"])
        made = row["product"] if row["source"] == "buy-in" else r.world.products[row["product"]].ordered_as
        yield from _as_ordered(place, made, row, order)
        yield from must_be(place, "days late", row["days_late"], late)
        yield from must_be(place, "pack day", row["pack_day"], pack)
        if row["pack_day"] >= r.world.record.today:
            early = f"{place}: packed on {row['pack_day']}, before they are ready"
            yield from wrong(early, row["ready_day"] <= row["pack_day"])
            held = (row["due_day"] - row["ready_day"]).days + row["days_late"]
            yield from exceeds(f"{place}, days held", held, rule.holding_limit_days)
        if row["source"] == "own":
            ready = r.world.way(rule.method, row["graft_day"], row["in_zones"])[1]
            yield from wrong(f"{place}: the ready day of their flow is {ready}", row["ready_day"] == ready)
        own = row["source"] == "own"
        if own and min(row["graft_day"], row["pack_day"]) >= r.world.record.today:
            what = f"{place}, plants of the graft day {row['graft_day']}"
            alike = of_day[row["order"], row["graft_day"]]
            yield from exceeds(what, alike, r.world.most_of_one("day", order))
        margin = row["plants"] * margin_left(r, row["order"], flow_of(row)) if own else 0.0
        if row["pack_day"] < r.world.record.today:
            yield from exceeds(f"{place}, margin", row["margin_plants"], margin)
        else:
            yield from differs(f"{place}, margin", row["margin_plants"], margin)


def _as_ordered(place: str, product: str, row: Row, order: Order) -> Iterator[Problem]:
    yield from must_be(place, "product", product, order.product)
    yield from must_be(place, "due day", row["due_day"], order.due_day)


def orders_are_met_or_short(r: Replay) -> Iterator[Problem]:
    """Own, bought, short and declined plants add up to each order; the plan has every order once."""
    names = [row["order"] for row in r.rows["orders"]]
    once = sorted(names) == sorted(r.world.orders)
    yield from wrong("table orders must have each order of the scenario once", once)
    late: dict[str, list[tuple[float, int]]] = defaultdict(list)
    for row in r.rows["deliveries"]:
        if row["days_late"] > 0:
            late[row["order"]].append((row["plants"], row["days_late"]))
    for row in r.rows["orders"]:
        order, sources = r.world.orders[row["order"]], r.by_order[row["order"]]
        place = f"order {row['order']}"
        total = row["own"] + row["bought"] + row["short"] + row["declined"]
        yield from differs(f"{place}, own + bought + short + declined", total, order.quantity)
        if order.decline is Decline.NO:
            yield from exceeds(f"{place} may not be declined, plants declined", row["declined"], 0.0)
        if order.decline is Decline.WHOLE and r.plan.facts.whole:
            kept = min(row["declined"], order.quantity - row["declined"])
            yield from exceeds(f"{place} may only be declined whole, plants declined or kept", kept, 0.0)
        if order.decline is Decline.PART and r.plan.facts.whole and row["order"] in r.world.in_whole_trays:
            cells = r.world.formats[r.world.products[order.product].final_format].cells
            parts = f"{place} is declined by the tray, plants beyond whole ones"
            yield from exceeds(parts, abs(row["declined"] - cells * round(row["declined"] / cells)), 0.0)
        yield from must_be(place, "quantity", row["quantity"], order.quantity)
        yield from must_be(place, "extra", row["extra"], r.world.extra[row["order"]])
        yield from _as_ordered(place, row["product"], row, order)
        after_due = late[row["order"]]
        yield from differs(f"{place}, late", row["late"], sum(plants for plants, _ in after_due))
        given_up = sum(plants * r.world.late_discount(order, days) for plants, days in after_due)
        yield from differs(f"{place}, late discount", row["late_discount"], given_up, CENT)
        if row["price"] is None or order.price is None:
            yield from must_be(place, "price", row["price"], order.price)
        else:
            yield from differs(f"{place}, price", row["price"], order.price)
        yield from differs(f"{place}, penalty", row["penalty"], r.world.penalty(order), CENT)
        yield from differs(f"{place}, own", row["own"], sources["own"])
        yield from differs(f"{place}, bought", row["bought"], sources["buy-in"])
        yield from differs(
            f"{place}, margin", row["margin"], r.world.margin(row["order"], order.product), 1e-6
        )


def slots_suffice(r: Replay) -> Iterator[Problem]:
    """Trays standing in each zone fit into its slots each day, and the table ``slots`` is right."""
    listed = {(row["zone"], row["day"]): row for row in r.rows["slots"]}
    used, newly = slots_used(r), _slots_decided(r)
    for zone, day in {*listed, *used}:
        there, cost = r.world.zone_day(zone, day)
        place, taken = f"{zone} on {day}", used.get((zone, day), 0.0)
        if day >= r.world.record.today and newly[zone, day] > ABSOLUTE:
            yield from exceeds(f"{place}, slots used against slots available", taken, there)
        row = listed.get((zone, day))
        if row is None:
            yield from exceeds(f"{place} is not in table slots, slots used", taken, 0.0)
            continue
        yield from differs(f"{place}, slots used", row["used"], taken)
        yield from differs(f"{place}, slots available", row["available"], there)
        yield from differs(f"{place}, cost of a slot", row["cost_per_slot_day"], cost)
        yield from differs(f"{place}, cost", row["amount"], taken * cost, CENT)


def slots_used(r: Replay) -> dict[tuple[str, date], float]:
    """Slots used by zone and day: in a pool those of its trays, in units all slots of busy units."""
    used = defaultdict(
        float, {k: v for k, v in r.standing.items() if r.world.zones[k[0]].mode is ZoneMode.POOL}
    )
    for row in r.rows["unit_batches"]:
        for day in days_from(row["open_day"], row["shut_until"]):
            used[row["zone"], day] += row["units"] * (r.world.zones[row["zone"]].unit_slots or 0.0)
    return used


def _slots_decided(r: Replay) -> dict[tuple[str, date], float]:
    """Slots used by decisions that are still open, by zone and day; for units, the units opened."""
    newly = defaultdict(float, r.newly)
    for row in r.rows["unit_batches"]:
        if row["open_day"] >= r.world.record.today:
            for day in days_from(row["open_day"], row["shut_until"]):
                newly[row["zone"], day] += row["units"]
    return newly


BatchKey = tuple[str, date, date, str | None]
"""Zone, day opened, day free again and groups kept out of units opened together."""


def batch_of(row: Row) -> BatchKey:
    """The units that a row of ``unit_batches`` or ``unit_loads`` is about."""
    return row["zone"], row["open_day"], row["shut_until"], row["not_for"]


def units_run_all_in_all_out(r: Replay) -> Iterator[Problem]:
    """Stays in units are loaded in full, on loading days only, into units with room that then stay shut."""
    batches = {batch_of(row): row for row in r.rows["unit_batches"]}
    into: dict[BatchKey, float] = defaultdict(float)
    loaded: dict[tuple[FlowKey, str, date], float] = defaultdict(float)
    for row in r.rows["unit_loads"]:
        zone, product = r.world.zones[row["zone"]], r.world.products[row["product"]]
        place = f"{row['zone']} opened {row['open_day']}"
        batch = batches.get(batch_of(row))
        if batch is None:
            yield f"{place}: loaded, but not in table unit_batches", row["trays"]
            continue
        days = (row["load_day"] - row["open_day"]).days
        ends = [
            out
            for z, _, start, out in r.world.way(product.method, row["graft_day"], row["in_zones"])[0]
            if (z, start) == (row["zone"], row["load_day"])
        ]
        gone, shut = row["open_day"] < r.world.record.today, batch["shut_until"]
        rights = {
            f"loaded on day {days + 1}, which is no loading day": 0 <= days < (zone.load_days or 1),
            f"no stay of {row['product']} starts on {row['load_day']}": bool(ends),
            f"shut until {shut}, before a stay ends": all(end <= shut for end in ends),
            "opened on a day off": gone or r.world.works(row["open_day"]),
        }
        yield from unless(place, rights)
        into[batch_of(row)] += row["trays"] * r.world.formats[product.final_format].slots
        loaded[flow_of(row), row["zone"], row["load_day"]] += row["trays"]
    for key, batch in batches.items():
        room = batch["units"] * (r.world.zones[key[0]].unit_slots or 0.0)
        yield from exceeds(f"{key[0]} opened {key[1]}, slots loaded against its slots", into[key], room)
        yield from differs(f"{key[0]} opened {key[1]}, slots loaded", batch["slots_loaded"], into[key])
    for flow in r.rows["flows"]:
        for zone_name, part, start, out in r.world.way(flow["method"], *flow_of(flow)[1:])[0]:
            if r.world.zones[zone_name].mode is ZoneMode.UNITS and out > max(start, r.world.first):
                trays = flow["trays_loaded"] if part is Part.HEALING else flow["trays_finishing"]
                done = loaded[flow_of(flow), zone_name, start]
                place = f"{flow['product']} grafted on {flow['graft_day']}, trays loaded into {zone_name}"
                yield from differs(place, done, trays)

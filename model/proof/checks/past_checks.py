"""The check that the plan keeps the past, and the shares that follow from counts."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import Any

from model.planned.tables.declared import FlowKey
from model.proof.problems import Problem, differs, exceeds, wrong
from model.proof.progress_sums import Sums
from model.proof.replay import Replay, flow_of
from model.scenario.choices import Happened


def join_key(r: Replay, row: dict[str, Any]) -> tuple[Any, ...]:
    """The key of a plan row's joins in the sums of progress."""
    names: list[Any] = []
    for side in ("rootstock_wave", "scion_wave"):
        wave = None if row[side] is None else r.waves.get(row[side])
        names += [None] * 3 if wave is None else [wave["lot"], wave["format"], wave["sow_day"]]
    return *flow_of(row), *names


PLANNED = (
    Happened.SOWN,
    Happened.GRAFTED,
    Happened.DELIVERED,
    Happened.BOUGHT_IN,
    Happened.HIRED,
    Happened.CALLED,
    Happened.OVERTIME,
)
"""Kinds of rows that the plan must have as they were recorded, no more and no less."""


def the_past_is_kept(r: Replay) -> Iterator[Problem]:
    """Everything before today is in the plan as progress records it, and nothing else is."""
    record, today = r.world.record, r.world.record.today
    planned: dict[Happened, Sums] = {what: defaultdict(float) for what in Happened}
    for row in r.rows["waves"]:
        if r.world.first <= row["sow_day"] < today:
            planned[Happened.SOWN][row["lot"], row["format"], row["sow_day"]] += row["trays"]
        elif row["sow_day"] < today:
            wave = row["lot"], row["format"], row["sow_day"]
            place = f"trays of {row['lot']} in {row['format']} sown on {row['sow_day']}"
            yield from exceeds(
                f"{place}, against those on hand", row["trays"], record.recorded(Happened.SOWN, *wave)
            )
    elsewhere: Sums = defaultdict(float)
    for row in r.rows["germination"]:
        wave = tuple(r.waves[row["wave"]][name] for name in ("lot", "format", "sow_day"))
        if wave[-1] < today:
            elsewhere[*wave, row["zone"]] += row["trays"]
    for key in {*elsewhere, *record.elsewhere}:
        place = f"sown: {', '.join(map(str, key[:-1]))}, to germinate in {key[-1]}"
        yield from differs(place, elsewhere.get(key, 0.0), record.elsewhere.get(key, 0.0))
    for row in r.rows["joins"]:
        if r.world.first <= row["graft_day"] < today:
            planned[Happened.GRAFTED][join_key(r, row)] += row["joins"]
        elif row["graft_day"] < today:
            place = f"{row['product']} grafted on {row['graft_day']}, against the plants on hand"
            stood = record.recorded(Happened.GRAFTED, *join_key(r, row))
            yield from exceeds(place, row["joins"], stood)
    for row in r.rows["deliveries"]:
        if row["source"] == "own" and row["pack_day"] < today:
            planned[Happened.DELIVERED][row["order"], *flow_of(row)] += row["plants"]
    for row in r.rows["buy_in"]:
        if row["order_by"] < today or record.comes(row["offer"], row["arrival_day"]):
            planned[Happened.BOUGHT_IN][row["offer"], row["arrival_day"], row["order"]] += row["plants"]
    for row in r.rows["temporary"]:
        if row["week_day"] < today:
            planned[Happened.HIRED][row["crew"], row["week_day"].isocalendar()[:2]] += row["heads"]
    for row in r.rows["crew_days"]:
        if row["day"] < today:
            planned[Happened.OVERTIME][row["crew"], row["day"]] += row["temporary_overtime"]
            planned[Happened.CALLED][row["crew"], row["day"]] += row["called"]
    for what in PLANNED:
        for key in {*planned[what], *record.sums[what]} - record.on_hand:
            place = f"{what.value}: {', '.join(str(part) for part in key if part is not None)}"
            yield from differs(place, planned[what].get(key, 0.0), record.recorded(what, *key))
    bought: Sums = defaultdict(float)
    shown: Sums = defaultdict(float)
    for row in r.rows["purchases"]:
        bought[row["item"], row["size"]] += row["packs"]
        shown[row["item"], row["size"]] += row["ordered"]
    ordered: Sums = defaultdict(float)
    for (item, size, _), number in record.sums[Happened.PACKS].items():
        ordered[item, size] += number
    for (item, size), number in ordered.items():
        lacks = f"{item}: the plan lacks some of the {number:g} packs of {size:g} already ordered"
        yield from wrong(lacks, bought.get((item, size), 0.0) >= number - 1e-6)
    for item, size in {*shown, *ordered}:
        place = f"{item}: packs of {size:g} ordered before today"
        yield from differs(place, shown.get((item, size), 0.0), ordered.get((item, size), 0.0))
    for row in r.rows["crew_days"]:
        if row["day"] in record.worked_days:
            place, hours = f"{row['crew']} on {row['day']}, hours worked", row["regular"] + row["overtime"]
            yield from differs(place, hours, record.recorded(Happened.WORKED, row["crew"], row["day"]))


def usable_as_counted(r: Replay, wave: dict[str, Any]) -> float | None:
    """Usable seedlings per tray of a wave sown before today; None for any other wave."""
    key = wave["lot"], wave["format"], wave["sow_day"]
    if wave["sow_day"] >= r.world.record.today or not wave["trays"]:
        return None
    trays = r.world.record.recorded(Happened.SOWN, *key)
    share = r.world.record.share(Happened.SOWN, key)
    if share is not None:
        return share
    cells = r.world.formats[wave["format"]].cells
    expected = r.world.usable(r.world.lots[wave["lot"]], cells)
    drawn = 0.0
    for row in r.rows["joins"]:
        draws = wave["wave"] in (row["rootstock_wave"], row["scion_wave"])
        if draws and row["graft_day"] < r.world.record.today:
            drawn += row["joins"] / r.expected_match(row)
    return float(max(expected, min(drawn / trays, cells)))


def take_as_counted(r: Replay, row: dict[str, Any]) -> float | None:
    """Take of joins that were counted; None if they were not."""
    if row["graft_day"] >= r.world.record.today:
        return None
    return r.world.record.share(Happened.GRAFTED, join_key(r, row))


def finished_as_counted(r: Replay, flow: FlowKey) -> float | None:
    """Plants of a flow that were counted ready; None if they were not counted."""
    return r.world.record.sums[Happened.FINISHED].get(flow)


def margin_left(r: Replay, order: str, flow: FlowKey) -> float:
    """Graft margin that an order still needs from a flow: less once healed, none once counted ready."""
    if finished_as_counted(r, flow) is not None:
        return 0.0
    keys = [key for key in r.world.record.sums[Happened.GRAFTED] if key[:3] == flow]
    counted = keys and all((Happened.GRAFTED, *key) not in r.world.record.open for key in keys)
    if not counted:
        return r.world.margin(order, flow[0], flow[2])
    return r.world.finishing_margin(order, flow[0], flow[2])

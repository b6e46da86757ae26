"""Sheets of the growing: season by week, sowing, graft days, flows."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

from model.network.charges import leaves_in_whole_trays, with_charges
from model.planned.last_days import LastDay
from model.planned.plan_tables import records, rows_of
from model.planned.tables.declared import FLOW, FlowKey, flow_key
from model.scenario.calendar import mondays, week_of
from reports.book.parts import Cell, Formula, SheetColumn
from reports.book.style import CellKind
from reports.plan.figures import waves_charged, waves_sown, weekday
from reports.plan.germination_words import germinates_in
from reports.plan.practice_words import sown_to_practise
from reports.plan.report import Report, in_zones


def season(report: Report) -> None:
    """Trays sown, joins made, plants ready and due in every week."""
    plan = report.plan
    first = report.scenario.nursery.first_day
    stood = any(ready < first for ready in plan.flows["ready_day"])
    early = " Plants on hand that were ready before the first day are in no week." if stood else ""
    report.open("Season", "Season by week", f"Weeks start on Monday.{early}")
    sums: dict[tuple[str, date], float] = defaultdict(float)
    for day, trays, seeds in rows_of(waves_sown(plan), "sow_day", "trays", "seeds"):
        sums["trays", week_of(day)] += trays
        sums["seeds", week_of(day)] += seeds
    for day, wave, joins in rows_of(plan.joins, "graft_day", "rootstock_wave", "joins"):
        sums["joins" if wave is not None else "moved", week_of(day)] += joins if day >= first else 0.0
    for day, finished in rows_of(plan.flows, "ready_day", "finished"):
        sums["ready", week_of(day)] += finished if day >= first else 0.0
    for due, plants in rows_of(plan.orders, "due_day", "quantity"):
        sums["due", week_of(due)] += plants
    for week, count in waves_charged(report.scenario, plan).items():
        sums["waves", week] = count
    columns = [
        SheetColumn("week", "Week from", CellKind.DAY),
        SheetColumn("trays", "Trays sown", CellKind.COUNT, total=True),
        SheetColumn("seeds", "Seeds sown", CellKind.COUNT, total=True),
        SheetColumn("joins", "Joins", CellKind.COUNT, total=True),
        SheetColumn("moved", "Own-root seedlings moved on", CellKind.COUNT, total=True),
        SheetColumn("ready", "Plants ready", CellKind.COUNT, total=True),
        SheetColumn("due", "Plants due", CellKind.COUNT, total=True),
    ]
    if report.scenario.nursery.wave_cost:
        columns.append(SheetColumn("waves", "Waves at a fixed cost", CellKind.COUNT, total=True))
    amounts = [column.key for column in columns[1:]]
    rows = [
        {"week": week} | {key: sums[key, week] for key in amounts}
        for week in mondays(report.scenario.nursery)
    ]
    report.table("Season", columns, rows)


def sowing(report: Report) -> None:
    """What is sown when, and for which products; below that what is sown for new hands to practise on."""
    plan, practice = report.plan, sown_to_practise(report.scenario, report.plan)
    places = germinates_in(report.scenario, plan) if report.scenario.germination_zones else {}
    sheet = report.open(
        "Sowing",
        "Sowing",
        "One line a wave: trays of one seed lot sown in one format on one day. Trays on hand were sown "
        "before the first day and have no seeds; those that no order needs are left out. To bench: day on "
        "which the trays leave germination. Cleared: first day without a tray of the wave on the bench. "
        "Last day to sow again: seed sown then still reaches all orders served, if there are room, hands, "
        "seed and the other half of the pair. After the count: whether that day lies on or after the day "
        "to bench, when the stand is counted."
        + (
            " Germinates in: zones, with the trays in each; they come to the bench on the day To bench "
            "unless another is told, and are counted when the last of them do."
            if places
            else ""
        )
        + (" Below them: trays for new hands to practise on, of which nothing is sold." if practice else ""),
        cautions=["sowing"],
    )
    products: dict[str, set[str]] = defaultdict(set)
    grafts: dict[str, list[date]] = defaultdict(list)
    for product, day, *waves in rows_of(plan.joins, "product", "graft_day", "rootstock_wave", "scion_wave"):
        for wave in waves:
            if wave is not None:
                products[wave].add(product)
                grafts[wave].append(day)
    spare: dict[str, float] = defaultdict(float)
    for wave, seedlings in rows_of(plan.spare_seedlings, "wave", "seedlings"):
        spare[wave] += seedlings
    last = report.last_days.waves
    rows = records(plan.waves)
    for row in rows:
        row["germinates"] = places.get((row["lot"], row["format"], row["sow_day"]))
        row["again"] = last[row["wave"]].again
        row["in_time"] = _after_count(last[row["wave"]])
        row["spare"] = spare.get(row["wave"], 0.0)
        days = sorted(grafts[row["wave"]])
        row["first"], row["last"] = (days[0], days[-1]) if days else (None, None)
        row["weekday"] = weekday(row["sow_day"])
        row["for"] = "; ".join(sorted(products[row["wave"]]))
    columns = [
        report.column("waves", "sow_day"),
        SheetColumn("weekday", "Weekday"),
        *report.columns("waves", "wave", "lot", "variety", "format"),
        *report.columns("waves", "trays", "seeds", total=True),
        *([SheetColumn("germinates", "Germinates in", widest=40)] if places else []),
        report.column("waves", "bench_day"),
        SheetColumn("first", "First drawn on", CellKind.DAY),
        SheetColumn("last", "Last drawn on", CellKind.DAY),
        report.column("waves", "clear_day"),
        SheetColumn("again", "Last day to sow again", CellKind.DAY),
        SheetColumn("in_time", "After the count?"),
        *([report.column("spare_seedlings", "seedlings", key="spare", total=True)] if spare else []),
        SheetColumn("for", "For product", widest=40),
    ]
    sheet.table(columns, rows)
    if practice:
        columns = [
            report.column("waves", "sow_day"),
            SheetColumn("weekday", "Weekday"),
            *report.columns("waves", "lot", "variety", "format"),
            SheetColumn("trays", "Trays", CellKind.DECIMAL, total=True),
            SheetColumn("seeds", "Seeds", CellKind.DECIMAL, total=True),
            report.column("waves", "bench_day"),
            SheetColumn("crew", "For new hands of"),
            SheetColumn("hands", "New hands", CellKind.COUNT),
            SheetColumn("training", "Training from", CellKind.DAY),
        ]
        sheet.table(columns, [row | {"weekday": weekday(row["sow_day"])} for row in practice])


def spare_seedlings(report: Report) -> None:
    """Seedlings kept as sowing margin at a level: for which product and day, and in which wave."""
    sheet = report.open(
        "Spare seedlings",
        "Spare seedlings",
        "With sowing policy 'level', each order keeps so many seedlings beyond those that its joins use that "
        "enough come up with the chance of its service level. One line a product, graft day and wave. On the "
        "graft day they stand in for seedlings that failed; the work lists bring them to the bench with the "
        "others of their wave. All are expectations.",
    )
    drawn: dict[tuple[FlowKey, str, str], float] = defaultdict(float)
    columns_ = (*FLOW, "rootstock_wave", "scion_wave", "seedlings")
    for *flow, rootstock, scion, seedlings in rows_of(report.plan.joins, *columns_):
        drawn[flow_key(flow), "rootstock", rootstock] += seedlings
        drawn[flow_key(flow), "scion", scion] += seedlings
    rows: list[dict[str, Cell]] = []
    for row in records(report.plan.spare_seedlings):
        used = drawn[flow_key([row[name] for name in FLOW]), row["side"], row["wave"]]
        share = Formula("={seedlings}/{drawn}", row["seedlings"] / used) if used else None
        rows.append(row | {"weekday": weekday(row["graft_day"]), "drawn": used, "share": share})
    columns = [
        report.column("spare_seedlings", "graft_day"),
        SheetColumn("weekday", "Weekday"),
        report.column("spare_seedlings", "product"),
        *in_zones(report, "spare_seedlings"),
        *report.columns("spare_seedlings", "side", "wave"),
        SheetColumn("drawn", "Seedlings drawn for joins", CellKind.COUNT, total=True),
        report.column("spare_seedlings", "seedlings", total=True),
        SheetColumn("share", "Spare, as a share of those drawn", CellKind.SHARE),
    ]
    sheet.table(columns, rows)


def _after_count(last: LastDay) -> str:
    """Whether what is lost can be made again after it is counted; blank where nothing needs to be."""
    if last.again is None and not last.never:
        return ""
    return "yes" if last.in_time else "no"


def graft_days(report: Report) -> None:
    """What is grafted when, from which waves."""
    sheet = report.open(
        "Graft days",
        "Graft days",
        "One line a product and pair of waves. Seedlings of each: seedlings brought to the bench from "
        "each of the two waves. They are more than the joins, since some find no partner of like stem. "
        "Last day to graft again: joins made then still reach all orders served, if there are seedlings, "
        "room and hands. After the count: whether that day lies on or after the end of healing. "
        "Seedlings kept spare are not in it. Own-root seedlings are moved on, not grafted. At planting, the "
        "union and any roots grown on the scion stay above the soil.",
        cautions=["grafting"],
    )
    methods = {product.product: product.method for product in report.scenario.products}
    first = report.scenario.nursery.first_day
    rows = [row for row in records(report.plan.joins) if row["graft_day"] >= first]
    last = report.last_days.flows
    for row in rows:
        flow = last[flow_key([row[name] for name in FLOW])]
        row["again"], row["in_time"] = flow.again, _after_count(flow)
        row["weekday"], row["method"] = weekday(row["graft_day"]), methods[row["product"]]
        row["work"] = "move on" if row["rootstock_wave"] is None else "graft"
        row["healed"] = row["joins"] * row["take"]
    columns = [
        report.column("joins", "graft_day"),
        SheetColumn("weekday", "Weekday"),
        SheetColumn("work", "Work"),
        report.column("joins", "product"),
        *in_zones(report, "joins"),
        report.column("flows", "method"),
        *report.columns("joins", "rootstock_wave", "rootstock_age", "scion_wave", "scion_age"),
        *report.columns("joins", "seedlings", "match"),
        report.column("joins", "joins", total=True),
        report.column("joins", "take"),
        SheetColumn("healed", "Expected to heal", CellKind.COUNT, total=True),
        SheetColumn("again", "Last day to graft again", CellKind.DAY),
        SheetColumn("in_time", "After the count?"),
    ]
    sheet.table(columns, rows)


IN_WHOLE_TRAYS = (
    " Where an order of a product leaves in whole trays, the last tray of each graft day counts whole, full "
    "or not: it takes the room, the moving and the care of a whole one."
)


def flows(report: Report) -> None:
    """All joins of one product on one day, from graft day to ready day."""
    orders = with_charges(report.scenario).orders
    sheet = report.open(
        "Healing and finishing",
        "From graft day to ready day",
        "One line for all joins of one product on one day that go through the same zones. Counts of plants "
        "are expectations. "
        "Margin: plants kept beyond the orders as overseeding margin. Surplus: plants beyond orders and "
        f"margin.{IN_WHOLE_TRAYS if any(map(leaves_in_whole_trays, orders)) else ''}",
        cautions=["lifting"],
    )
    columns = [
        *report.columns("flows", "graft_day", "product", "method"),
        *in_zones(report, "flows"),
        *report.columns("flows", "joins", "trays_loaded", "healed", total=True),
        report.column("flows", "trays_finishing", kind=CellKind.DECIMAL, total=True),
        report.column("flows", "finished", total=True),
        report.column("flows", "ready_day"),
        *report.columns("flows", "delivered", "margin_plants", "surplus", total=True),
    ]
    rows = records(report.plan.flows)
    rows.sort(key=lambda row: (row["graft_day"], row["product"], row["in_zones"] or ""))
    sheet.table(columns, rows)

"""The sheet of products made in several ways: what is made how, what it costs, what the others would cost."""

from __future__ import annotations

from collections import defaultdict
from operator import itemgetter

from model.planned.plan_tables import records, rows_of
from model.questions.traced_costs import PENALTIES
from reports.book.parts import Cell, Formula, SheetColumn
from reports.book.style import CellKind
from reports.plan.figures import weekday
from reports.plan.report import Report, in_zones


def ways(report: Report) -> None:
    """Each way with what its plants cost, then each way on each graft day with the price of using it."""
    money = report.currency
    sheet = report.open(
        "Ways",
        "Ways to make a product",
        "Products that can be made in several ways: by another method, raised in other trays, or in other "
        "zones. The plan "
        "makes each graft day what costs least, with the room, hands, seed and seedlings that the day has. "
        "Cost: traced cost of the plants delivered, with overhead and without penalties, as this plan has "
        "it; it does not follow the sheet Prices. Dearer by: what another plant costs more when it is made "
        "in this way on that day than where it costs least, at least, in the continuous program. 0: costs "
        "the same. A way that is never used has the day on which it would be least dear.",
        cautions=["grafting"],
    )
    each = [
        *report.columns("ways", "product", "way", "method"),
        *report.columns("ways", "joins", "finished", total=True),
        SheetColumn("delivered", "Delivered", CellKind.COUNT, total=True),
        SheetColumn("cost", f"Traced cost ({money})", CellKind.MONEY, total=True),
        SheetColumn("plant", f"Cost ({money} a plant)", CellKind.EACH),
    ]
    sheet.table(each, _each_way(report))
    columns = [
        report.column("ways", "graft_day"),
        SheetColumn("weekday", "Weekday"),
        *report.columns("ways", "product", "way", "method"),
        *in_zones(report, "ways"),
        *report.columns("ways", "joins", "finished", total=True),
        report.column("ways", "dearer", kind=CellKind.EACH),
    ]
    rows = sorted(records(report.plan.ways), key=itemgetter("graft_day", "product", "way"))
    sheet.table(columns, [row | {"weekday": weekday(row["graft_day"])} for row in rows])


def _each_way(report: Report) -> list[dict[str, Cell]]:
    """A row for each way: its plants of the season and what they cost."""
    cost: dict[str, float] = defaultdict(float)
    for made, line, amount in rows_of(report.traced, "made", "line", "amount"):
        cost[made] += 0.0 if line in PENALTIES else amount
    delivered: dict[str, float] = defaultdict(float)
    for product, source, plants in rows_of(report.plan.deliveries, "product", "source", "plants"):
        delivered[product] += plants if source == "own" else 0.0
    found: dict[str, dict[str, Cell]] = {}
    sums: dict[tuple[str, str], float] = defaultdict(float)
    for day in records(report.plan.ways):
        found.setdefault(day["way"], {name: day[name] for name in ("product", "way", "method")})
        for name in ("joins", "finished"):
            sums[day["way"], name] += day[name]
    for way, cells in found.items():
        cells |= {"joins": sums[way, "joins"], "finished": sums[way, "finished"]}
        cells |= {"delivered": delivered[way], "cost": cost[way], "plant": None}
        if delivered[way]:
            cells["plant"] = Formula("={cost}/{delivered}", cost[way] / delivered[way])
    return [found[way] for way in sorted(found, key=lambda way: (str(found[way]["product"]), way))]

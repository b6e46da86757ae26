"""The sheet Trace: from each order back to its lots, and from each wave on to its orders."""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path

import openpyxl
import pytest

from tests.report_scenario import report_plan, report_scenario
from tests.workbooks import table, write_report


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> openpyxl.Workbook:
    path: Path = tmp_path_factory.mktemp("trace") / "plan.xlsx"
    write_report(path, report_scenario(), report_plan())
    return openpyxl.load_workbook(path, data_only=True)


def test_each_order_leads_back_to_its_lots(book: openpyxl.Workbook) -> None:
    plan, scenario = report_plan(), report_scenario()
    lots = {row.wave: f"{row.lot} sown {row.sow_day}" for row in plan.waves.itertuples()}
    joined_by = {
        (job.day, job.name): crew.crew
        for job in plan.jobs.itertuples()
        for crew in plan.job_crews.itertuples()
        if job.step == "graft" and crew.job == job.job
    }
    customers = {order.order: order.customer for order in scenario.orders}
    *rows, total = table(book["Trace"], "Order")
    assert len(rows) == len(plan.trace)
    for row, traced in zip(rows, plan.trace.itertuples(), strict=True):
        assert (row["Order"], row["Customer"]) == (traced.order, customers[traced.order])
        assert row["Plants"] == pytest.approx(traced.plants)
        assert row["Scion or seed lot"] == lots[traced.scion_wave]
        assert row["Rootstock lot"] == lots.get(traced.rootstock_wave)
        assert row["Graft day"] == traced.graft_day
        assert (row["Joined by"] or None) == joined_by.get((traced.graft_day, traced.product))
        assert (row["Healed in"] is None) == (traced.rootstock_wave is None)
    assert total["Plants"] == pytest.approx(plan.orders["own"].sum())


def test_each_wave_leads_on_to_its_orders(book: openpyxl.Workbook) -> None:
    plan = report_plan()
    gone: dict[str, dict[str, float]] = defaultdict(lambda: defaultdict(float))
    for row in plan.trace.itertuples():
        for wave in filter(None, (row.rootstock_wave, row.scion_wave)):
            gone[wave][row.order] += row.plants
    waves = {(row.lot, row.sow_day, row.format): row.wave for row in plan.waves.itertuples()}
    rows = table(book["Trace"], "Seed lot")
    assert len(rows) == len(waves)
    for row in rows:
        orders = gone[waves[row["Seed lot"], row["Sow on"], row["Tray format"]]]
        assert row["Plants delivered"] == pytest.approx(sum(orders.values()))
        assert (row["Orders"] or "") == "; ".join(
            f"{name} ({plants:,.0f})" for name, plants in orders.items()
        )

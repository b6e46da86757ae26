"""Pay by the piece, worked by hand: an hour sows a tray at the standard pace."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from model.questions.traced_costs import traced_parts
from model.scenario.choices import Task
from model.scenario.entities import Scenario, TrayFormat
from model.scenario.records.people import LabourStandard, PieceRate
from model.solve import solve
from tests.known_answers.build import HOUR_A_TRAY, crew, order, own_root, planned


def day_of_work(trays: int, rate: float, pace: float = 1.0, **hands: object) -> Scenario:
    """Trays sown on one day of eight hours by one hand, who is paid by the piece, or 10 an hour."""
    return own_root(
        1,
        [order("one", trays, 0, shortfall_penalty=100)],
        crews=(crew(pay_per_hour=10, pace=pace, **hands),),
        labour_standards=(HOUR_A_TRAY,),
        piece_rates=(PieceRate("hands", Task.SOW, None, None, rate),),
    )


@pytest.mark.parametrize(
    ("rate", "pace", "cost", "beyond"),
    [
        (12.0, 1.0, 6 * 12, 6 * 2),
        (9.0, 1.0, 6 * 10, 0),  # an hour pays 10 at least
        (9.0, 2.0, 6 * 9, 6 * 9 - 3 * 10),  # 18 an hour
        (9.0, 0.75, 8 * 10, 0),  # 6.75 an hour
    ],
)
def test_the_piece_or_the_hour_whichever_is_more(
    tmp_path: Path, rate: float, pace: float, cost: float, beyond: float
) -> None:
    made = planned(day_of_work(6, rate, pace), tmp_path)
    assert made.cost == pytest.approx(cost)
    (row,) = made.pieces.to_dict("records")
    assert (row["pieces"], row["rate"], row["amount"]) == pytest.approx((6, rate, beyond))


def test_overtime_is_paid_on_top(tmp_path: Path) -> None:
    """Ten trays at 12, and 5 more for each of two hours of overtime."""
    hours = {"overtime_hours_per_head_day": 2.0, "overtime_pay_per_hour": 15.0}
    assert planned(day_of_work(10, 12.0, **hours), tmp_path).cost == pytest.approx(10 * 12 + 2 * 5)


def test_who_does_which_kind_of_work(tmp_path: Path) -> None:
    """Sowing is dear by the piece and moving is not, so the crew paid by the piece moves the trays."""
    scenario = replace(
        day_of_work(4, 30.0),
        crews=(crew(pay_per_hour=10), crew(crew="others", pay_per_hour=11)),
        labour_standards=(HOUR_A_TRAY, LabourStandard(Task.PACK, "sowing", None, None, 3600.0)),
    )
    made = planned(scenario, tmp_path)
    assert made.cost == pytest.approx(4 * 10 + 4 * 11)
    assert made.pieces.empty
    assert made.hours.set_index(["crew", "task"])["hours"].to_dict() == pytest.approx(
        {("hands", "pack"): 4.0, ("others", "sow"): 4.0}
    )
    full = planned(replace(scenario, orders=(order("one", 8, 0),)), tmp_path)
    assert full.cost == pytest.approx(8 * 10 + 8 * 11)
    more = [replace(row, heads=1.25) for row in scenario.crews]
    over = replace(scenario, orders=(order("one", 10, 0),), crews=(more[0], scenario.crews[1]))
    assert planned(over, tmp_path).orders["short"].sum() == pytest.approx(1.0)


def test_rates_by_format(tmp_path: Path) -> None:
    """The row for the format counts before the one for all."""
    scenario = day_of_work(6, 12.0)
    own = PieceRate("hands", Task.SOW, None, "single", 20.0)
    rates = (*scenario.piece_rates, own)
    assert planned(replace(scenario, piece_rates=rates), tmp_path).cost == pytest.approx(6 * 20)
    other = replace(own, format="other")
    rates = (*scenario.piece_rates, other)
    formats = (*scenario.tray_formats, TrayFormat("other", 2, 1.0))
    scenario = replace(scenario, piece_rates=rates, tray_formats=formats)
    assert planned(scenario, tmp_path).cost == pytest.approx(6 * 12)


def test_the_order_bears_what_pieces_pay() -> None:
    parts = traced_parts(solve(day_of_work(6, 12.0), whole=False))
    found = parts[parts["cost_line"] == "piece rates"]
    assert found["order"].tolist() == ["one"]
    assert found["amount"].sum() == pytest.approx(12.0)

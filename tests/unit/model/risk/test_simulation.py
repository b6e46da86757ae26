"""The rule of recourse on plants counted by hand, who draws first, and the study's words and tables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from openpyxl import load_workbook

from model.planned.plan_tables import Plan
from model.risk.recourse import Recourse, recourse
from model.risk.simulation import simulate
from model.scenario.choices import Decline, MethodKind, Source
from model.scenario.entities import Scenario
from model.scenario.records.trade import BuyInOffer
from model.solve import plan
from reports.book.parts import value_of
from reports.study.study import Study, write_study
from scenarios.rehearsing.drawn_seasons import verdict
from scenarios.studies.risk import histogram, risk_study
from tests.by_hand import by_place
from tests.scenario_parts import WEEK, day, method, one_day_splice, order
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, with_nursery, with_rows

ONE_FLOW = SPECIMENS["wave cost"]
"""O-1 of 60 and O-2 of 90, both grafted on one day, at a penalty of 50."""

TWO_FLOWS = SPECIMENS["buy-in"]
"""33 plants each for O-1 (due on day 15) and O-2 (day 17), ready on days 13 and 17; 80 bought in, 4 short."""


def after(scenario: Scenario, made: Plan, *finished: Sequence[float]) -> Recourse:
    """What is done with the plants finished of each flow, a number a season."""
    return recourse(scenario, made, np.array(finished, dtype=float))


def table(study: Study, name: str) -> list[dict[str, Any]]:
    """Rows of a section by key."""
    found = next(section for section in study.sections if section.name == name)
    return [dict(zip([c.key for c in found.columns], map(value_of, row), strict=True)) for row in found.rows]


def test_earlier_due_days_are_filled_first() -> None:
    made = plan(ONE_FLOW)
    assert made.flows["delivered"].tolist() == pytest.approx([150.0])
    seasons = after(ONE_FLOW, made, [155, 150, 140, 50, 0])
    assert seasons.short.tolist() == [[0, 0, 0, 10, 60], [0, 0, 10, 90, 90]]
    assert seasons.delivered.tolist() == [150, 150, 140, 50, 0]
    assert seasons.bought.tolist() == seasons.salvage.tolist() == [0] * 5


def test_plants_over_fill_other_orders_that_they_reach_in_time() -> None:
    made = plan(TWO_FLOWS)
    assert made.orders["short"].tolist() == pytest.approx([4.0, 0.0])
    seasons = after(TWO_FLOWS, made, [40, 33, 30], [30, 33, 40])
    # Over of the first flow fills what the plan left short of O-1; held for O-2 it would pass the limit.
    # Over of the second comes too late for O-1.
    assert seasons.short == pytest.approx(np.array([[0, 4, 7], [3, 0, 0]]))
    holding = with_rows(TWO_FLOWS, "methods", lambda row: replace(row, holding_limit_days=4))
    assert after(holding, made, [40], [30]).short == pytest.approx(np.array([[0], [0]]))


def offer(scenario: Scenario, **changes: Any) -> Scenario:
    """The scenario with its offer changed."""
    return with_rows(scenario, "buy_in_offers", lambda row: replace(row, **changes))


def test_what_is_missing_is_bought_in_where_it_can_still_come() -> None:
    made = plan(TWO_FLOWS)
    # Known on day 13 and needed on day 15, a Tuesday: 5 days of lead are too long, and the delivery is full.
    assert after(offer(TWO_FLOWS, lead_days=2), made, [30], [33]).short[0] == pytest.approx([7])
    assert after(offer(TWO_FLOWS, most_per_delivery=None), made, [30], [33]).short[0] == pytest.approx([7])
    some = after(offer(TWO_FLOWS, lead_days=2, most_per_delivery=85), made, [30], [33])
    assert some.short[0] == pytest.approx([2])
    assert some.missing[0] == pytest.approx([7])
    assert some.bought == pytest.approx([5])
    assert some.buy_in_cost == pytest.approx([15])
    grown = with_rows(
        offer(TWO_FLOWS, lead_days=2, most_per_delivery=85),
        "products",
        lambda row: replace(row, source=Source.GROW),
    )
    assert after(grown, made, [30], [33]).short[0] == pytest.approx([7])


def test_a_least_quantity_is_paid_whole_and_only_where_shortfall_costs_more() -> None:
    made = plan(TWO_FLOWS)
    thursday = offer(TWO_FLOWS, lead_days=0, to_day=None)
    seasons = after(thursday, made, [37, 37], [32, 23])
    # 30 plants at 3 cost 90: more than one plant short at 50, less than ten.
    assert seasons.short[1] == pytest.approx([1, 0])
    assert seasons.bought == pytest.approx([0, 30])
    assert seasons.buy_in_cost == pytest.approx([0, 90])
    assert seasons.delivered == pytest.approx([69, 70])


def test_the_cheapest_offer_is_bought_first() -> None:
    offers = tuple(
        BuyInOffer(name, "Red on Stout", price, 0, WEEK, None, None, 0, most)
        for name, price, most in (("dear", 4.0, None), ("cheap", 2.0, 6), ("too dear", 60.0, None))
    )
    made = plan(ONE_FLOW)
    # An offer may serve from the day on which the plants are ready to the day on which O-2 is due.
    days = (day(17) - made.deliveries["ready_day"].min()).days + 1
    seasons = after(replace(ONE_FLOW, buy_in_offers=offers), made, [45])
    assert seasons.short == pytest.approx(np.zeros((2, 1)))
    assert seasons.bought == pytest.approx([105])
    cheap = 6 * days
    assert seasons.buy_in_cost == pytest.approx([2 * cheap + 4 * (105 - cheap)])
    only = after(replace(ONE_FLOW, buy_in_offers=offers[2:]), made, [45])
    assert only.bought == pytest.approx([0])


def test_salvage_is_paid_up_to_the_most() -> None:
    scenario = with_rows(ONE_FLOW, "products", lambda row: replace(row, salvage_price=4.0, salvage_most=40))
    assert after(scenario, plan(ONE_FLOW), [140, 160, 250]).salvage == pytest.approx([0, 40, 160])


def certain() -> Scenario:
    """The base scenario where every seed gives a plant."""
    sure = method("splice", MethodKind.ON_TRAY, match=1.0, take=1.0, finish_survival=1.0)
    made = base_scenario(methods=(sure,))
    made = with_rows(made, "seed_lots", lambda row: replace(row, germination=1.0, grade_out=0.0))
    two = replace(made.products[0], product="Also red on Stout")
    return replace(made, products=(*made.products, two))


def drawn(joins: list[tuple[str, int, float]]) -> list[float]:
    """Plants finished of flows (product, graft day, joins) that share 60 rootstock seedlings."""
    scenario = certain()
    made = plan(scenario)
    sown = [
        (f"W{n}", lot, variety, "ten", day(0), day(2), trays, trays * 10, 10.0, 0.0, day(9))
        for n, (lot, variety, trays) in enumerate((("Stout A", "Stout", 6.0), ("Red A", "Red", 20.0)))
    ]
    rows = [(product, day(t), "W0", "W1", t, t, n, 1.0, 1.0, n) for product, t, n in joins]
    flows = [(p, day(t), "splice", n, 1.0, n, 1.0, n, day(t + 5), 0.0, 0.0, n) for p, t, n in joins]
    changed = replace(
        made,
        waves=by_place("waves", sown),
        joins=by_place("joins", rows),
        flows=by_place("flows", flows),
        deliveries=by_place("deliveries", []),
    )
    return simulate(scenario, changed, seasons=1, seed=0).finished[:, 0].tolist()


def test_earlier_graft_days_draw_first_and_products_of_a_day_in_proportion() -> None:
    one, two = "Red on Stout", "Also red on Stout"
    assert drawn([(one, 4, 40.0), (one, 5, 15.0)]) == [40, 15]
    assert drawn([(one, 4, 40.0), (one, 5, 40.0)]) == [40, 20]
    assert drawn([(one, 5, 40.0), (one, 4, 40.0)]) == [20, 40]
    assert drawn([(one, 4, 80.0), (two, 4, 40.0)]) == [40, 20]
    assert drawn([(one, 4, 30.4), (two, 5, 20.0)]) == [31, 20]


def test_seasons_must_be_some() -> None:
    made = plan(ONE_FLOW)
    with pytest.raises(ValueError, match="at least 1"):
        simulate(ONE_FLOW, made, seasons=0, seed=0)


@pytest.mark.parametrize(
    "low, high, said", [(0.90, 0.94, "below"), (0.94, 0.96, "at"), (0.95, 0.97, "at"), (0.96, 0.97, "above")]
)
def test_verdict(low: float, high: float, said: str) -> None:
    assert verdict(0.95, low, high) == said


def test_histogram_of_counts() -> None:
    assert histogram([0, 0, 1, 2.4], counts=True) == [("0", 2), ("1", 1), ("2", 0), ("3", 1)]
    bars = histogram(np.arange(101.0), counts=True)
    assert bars[:2] == [("0", 1), ("1 to 5", 5)]
    assert bars[-1] == ("96 to 100", 5)
    assert histogram([7.0, 7.0], counts=True) == [("7", 2)]


def test_histogram_of_amounts() -> None:
    assert histogram([1000.0, 1019.9, 1399.0], counts=False)[0] == ("1,000 to 1,020", 2)
    assert histogram([5.5], counts=False) == [("5 to 6", 1)]
    assert sum(n for _, n in histogram(np.linspace(-300, 9000, 777), counts=False)) == 777


def test_study_of_orders_with_levels() -> None:
    study = risk_study(SPECIMENS["level"], seasons=2000, seed=4)
    rows = table(study, "Orders")
    assert [row["promised"] for row in rows] == [0.99, 0.95]
    assert all(row["low"] <= row["chance"] <= row["high"] for row in rows)
    assert all(row["verdict"] == verdict(row["promised"], row["low"], row["high"]) for row in rows)
    below = sum(row["verdict"] == "below" for row in rows)
    assert study.answer[1].startswith(f"{2 - below} of 2 orders reach the service level")
    assert study.answer[2].startswith("Order O-")
    for name in ("Short plants", "Cost"):
        assert sum(row["seasons"] for row in table(study, name)) == 2000
        assert table(study, name)[-1]["so_far"] == pytest.approx(1.0)
    season = {row["measure"]: row for row in table(study, "Season")}
    assert season["Plants short"]["mean"] == pytest.approx(sum(row["mean_short"] for row in rows))
    assert all(row["low"] <= row["middle"] <= row["high"] for row in season.values())


def test_study_under_a_fixed_margin_promises_no_level() -> None:
    study = risk_study(base_scenario(), seasons=500, seed=4)
    (row,) = table(study, "Orders")
    assert row["promised"] is None
    assert row["verdict"] == "no level promised"
    assert study.answer[1].startswith("No service level is promised")
    assert study.answer[2].startswith("Order O-1 is most at risk: it is filled in ")
    assert "promised" not in study.answer[2]
    season = {row["measure"]: row for row in table(study, "Season")}
    told = [season[f"Cost of the season{of} (USD)"] for of in (" with penalties", " without penalties")]
    with_, without = ([row[at] for at in ("low", "high")] for row in told)
    assert with_[1] > without[1]
    assert (
        "90 of 100 seasons cost between {:,.2f} and {:,.2f} USD (between {:,.2f} and {:,.2f} USD with "
        "penalties for plants short).".format(*without, *with_)
        in " ".join(study.answer)
    )


def test_study_of_declined_short_and_certain_orders() -> None:
    declined = order("O-9", "Red on Stout", 500, 16, price=0.01, decline=Decline.WHOLE)
    late = order("O-8", "Red on Stout", 40, 2)
    scenario = with_nursery(replace(certain(), orders=(declined, late)), margin_policy="level")
    study = risk_study(scenario, seasons=50, seed=4)
    assert [row["verdict"] for row in table(study, "Orders")] == [
        "declined in the plan",
        "below: short in the plan",
    ]
    assert study.answer[0].startswith("A season leaves a result of 0.00 USD on average")
    assert study.answer[2].startswith("0 of 1 orders reach")
    sure = risk_study(certain(), seasons=50, seed=4)
    assert sure.answer[2] == "Every order is filled in every season drawn."
    assert len(table(sure, "Cost")) == 1


def test_an_order_short_of_its_margin_alone_is_judged_by_its_chance() -> None:
    """The chamber holds 60 plants: of 40 and as many to spare 30 are planned, yet all 40 come."""
    roomy = replace(certain(), methods=(one_day_splice(),), orders=(order("O-1", "Red on Stout", 40, 16),))
    full = with_rows(roomy, "orders", lambda row: replace(row, graft_margin=1.0))
    full = with_rows(full, "zones", lambda row: replace(row, slots=6.0) if row.zone == "Chamber" else row)
    study = risk_study(with_nursery(full, margin_policy="level"), seasons=200, seed=4)
    (row,) = table(study, "Orders")
    assert (row["chance"], row["verdict"]) == (1.0, "above")


def test_workbook_states_the_rule_and_holds_the_pictures(tmp_path: Path) -> None:
    said: list[str] = []
    study = risk_study(SPECIMENS["level"], seasons=200, seed=4, progress=said.append)
    assert said[-1] == "200 seasons: graft day 1 of 1"
    write_study(study, tmp_path / "risk.xlsx")
    book = load_workbook(tmp_path / "risk.xlsx")
    orders = " ".join(str(cell.value) for row in book["Orders"].iter_rows() for cell in row if cell.value)
    assert "earlier due days first" in orders
    assert "share that day's take" in orders
    assert [len(book[name]._charts) for name in ("Short plants", "Cost")] == [1, 1]

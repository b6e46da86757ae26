"""The studies of limits and of near-best plans: what they say, and that it is so."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from model.network.expansion import expand
from model.planned.results import result_of
from model.program.build import build
from model.questions.near_best import Quantity
from model.questions.ranging import prices
from model.scenario.choices import Decline, Source, Task
from model.scenario.entities import Scenario, ZoneDay
from model.scenario.records.people import CrewDay, LabourStandard
from model.scenario.records.trade import Pack
from model.shortage.relief import Item, least_relief
from model.shortage.relief_words import in_words, spans
from model.solve import plan, plan_of, solve
from reports.book.parts import value_of
from reports.plan.terminal import summary
from reports.study.study import Study, write_study
from scenarios.studies import limits
from scenarios.studies.accept import accept_study
from scenarios.studies.freedom import freedom_study
from scenarios.studies.limits import IN_WHOLE, PRICES, in_whole, limits_study, worth_of_one_more
from tests.scenario_parts import crew, day, order
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, with_nursery, with_rows
from tests.study_rows import section


def cramped(slots: float = 5.0) -> Scenario:
    """The base scenario with a chamber that is too small."""
    return with_rows(
        base_scenario(), "zones", lambda zone: replace(zone, slots=slots) if zone.zone == "Chamber" else zone
    )


def table(study: Study, name: str) -> list[dict[str, Any]]:
    """Rows of a section by key."""
    found = section(study, name)
    keys = [column.key for column in found.columns]
    return [dict(zip(keys, map(value_of, row), strict=True)) for row in found.rows]


def test_nothing_short_is_said_at_once() -> None:
    study = limits_study(base_scenario(), workers=1)
    assert study.answer[0] == "No order is short."
    assert table(study, "Short orders") == table(study, "Relief") == []


def test_a_short_order_is_told_with_its_cure_and_dates() -> None:
    study = limits_study(cramped(), workers=1)
    relief = least_relief(cramped())
    (told,) = [line for line in study.answer if line.startswith("O-1 is short by")]
    assert f"by {relief.short['O-1']:,.0f}. To fill it: " in told
    assert "more slots in Chamber from 2027-03-" in told
    assert "with all of this relief no order is short" in " ".join(study.answer)
    assert sum(row["amount"] for row in table(study, "Relief")) == sum(item.amount for item in relief.items)
    assert all(row["proof"] > 0 for row in table(study, "Relief"))
    (row,) = table(study, "Short orders")
    assert row["cure"] in told
    assert row["why"].startswith("least relief: ")
    assert row["cure"].startswith(row["why"].removeprefix("least relief: ").partition("; and ")[0])


def test_the_result_leads_and_penalties_are_named() -> None:
    """Where a plant is short, one more slot saves its penalty: that is said; a result holds none."""
    scenario = with_rows(cramped(), "orders", lambda order: replace(order, price=3.0))
    made = plan(scenario)
    assert made.penalties > 0
    left = result_of(made).result
    bound, free = limits_study(scenario, workers=1), freedom_study(scenario, within=0.1, workers=1)
    for study in (bound, free):
        assert study.figures[0].label.startswith("Result")
        assert study.figures[0].value == pytest.approx(left)
    hours = limits_study(with_rows(scarce_hours(), "orders", lambda row: replace(row, price=3.0)), workers=1)
    assert "penalties for plants short counted: " in hours.answer[-1]
    for study in (bound, hours):
        assert ", penalties counted, and how far" in section(study, "Worth of one more").about
    assert "penalties for plants short counted, have:" in free.answer[0]
    costs = {figure.label: figure.value for figure in free.figures}
    assert costs["Cost of the plan, without penalties (USD)"] == pytest.approx(made.cost - made.penalties)
    assert costs["Cost of the plan, with penalties for plants short (USD)"] == pytest.approx(made.cost)
    for study in (
        limits_study(base_scenario(), workers=1),
        freedom_study(base_scenario(), within=0.1, workers=1),
    ):
        assert not study.figures[0].label.startswith("Result")
        assert "penalties" not in " ".join(study.answer)


def test_the_plants_short_are_the_plans() -> None:
    """In 7 slots 22.4 plants are short where trays may be fractional, and 23 in the plan."""
    assert round(least_relief(cramped(7.0)).short["O-1"], 1) == 22.4
    assert plan(cramped(7.0)).short == 23
    told = limits_study(cramped(7.0), workers=1).answer[0]
    assert told.startswith("O-1 is short by 23 (22 in the continuous program). To fill it: ")


def test_plants_short_are_counted_in_one_plan() -> None:
    """Of those in the plan and those in the continuous program, none are added together."""
    scenario = with_nursery(cramped(7.0), shortfall_penalty=8.0)
    scenario = replace(scenario, orders=(*scenario.orders, order("later", "Red on Stout", 40, 20)))
    study, made = limits_study(scenario, workers=1), plan(scenario)
    figures = {figure.label: figure.value for figure in study.figures}
    assert made.short > 0
    assert figures["Plants short"] == pytest.approx(made.short)
    assert figures["Orders short"] == (made.orders["short"] > 0).sum()


def test_every_report_gives_the_reason_that_limits_gives() -> None:
    """The plan's table, the terminal and the sheet Orders; ``limits`` has the whole relief beside it."""
    scenario = replace(cramped(), orders=(*cramped().orders, order("soon", "Red on Stout", 5, 2)))
    made = plan(scenario)
    why = {row["order"]: row["why"] for row in table(limits_study(scenario, workers=1), "Short orders")}
    assert set(why) == {"O-1", "soon"}
    assert dict(zip(made.orders["order"], made.orders["short_because"], strict=True)) == why
    told = " ".join(line.words for line in summary(scenario, made, ()))
    assert all(text in told for text in why.values())


def test_an_order_short_in_whole_trays_alone_is_told_as_in_the_plan() -> None:
    """A hundred plants need a tray more of scions and of rootstocks than 99; the penalty is 8."""
    scenario = with_nursery(base_scenario(), shortfall_penalty=8.0)
    (why,) = plan(scenario).orders["short_because"]
    study = limits_study(scenario, workers=1)
    assert study.answer[0] == f"O-1 is short by 1 in whole trays alone: {why}."
    (row,) = table(study, "Short orders")
    assert (row["order"], row["planned"], row["short"], row["why"]) == ("O-1", 1, 0, why)
    assert study.figures[0].value == study.figures[1].value == 1
    assert table(study, "Relief") == []


def test_accept_gives_the_reason_that_limits_gives() -> None:
    """Of an order that it declines, since it cannot be delivered, and of one that stays short."""
    soon = order("soon", "Red on Stout", 5, 2, price=9.0)
    scenario = replace(cramped(), orders=(*cramped().orders, soon))
    why = {row["order"]: row["why"] for row in table(limits_study(scenario, workers=1), "Short orders")}
    choice = with_rows(
        scenario, "orders", lambda row: replace(row, decline=Decline.WHOLE) if row.order == "soon" else row
    )
    study = accept_study(choice)
    assert any(line.startswith("soon") and why["soon"] in line for line in study.answer)
    told = {row["order"]: row["why"] for row in table(study, "Orders")}
    assert told["soon"] == why["soon"]
    of_choice = {row["order"]: row["why"] for row in table(limits_study(choice, workers=1), "Short orders")}
    assert any(line.startswith("O-1") and line.endswith(f"{of_choice['O-1']}.") for line in study.answer)


def test_what_nobody_grows_or_offers_is_told() -> None:
    bought = with_rows(base_scenario(), "products", lambda row: replace(row, source=Source.BUY))
    study = limits_study(bought, workers=1)
    assert study.answer[0] == (
        "O-1 is short by 100. No relief can fill it: the nursery does not grow it, and no offer can deliver "
        "it."
    )


def test_many_short_orders_are_told_in_the_sheet() -> None:
    orders = tuple(order(f"O-{n}", "Red on Stout", 100, 16) for n in range(8))
    crowded = with_rows(replace(base_scenario(), orders=orders), "zones", lambda z: replace(z, slots=0.0))
    study = limits_study(crowded, workers=1)
    assert "3 more orders are short: see the sheet Short orders." in study.answer
    assert len(table(study, "Short orders")) == 8


ITEMS = {
    "3 more slots in Chamber on 2027-03-05": Item("slots", "Chamber", date(2027, 3, 5), 3.0, "slots"),
    "1 more unit of Chamber on 2027-03-05": Item("units", "Chamber", date(2027, 3, 5), 1.0, "units"),
    "2.5 more hours of grafting on 2027-03-05": Item("hours", "grafting", date(2027, 3, 5), 2.5, "hours"),
    "40 more clip of Clips on hand on the first day": Item("stock", "Clips", None, 40.0, "units"),
    "1,200 more seeds of Red A on hand on the first day": Item("stock", "Red A", None, 1200.0, "units"),
    "30 more plants from Neighbour on 2027-03-05": Item(
        "buy-in", "Neighbour", date(2027, 3, 5), 30.0, "plants"
    ),
    "order O-1 due 2 days later, on 2027-03-05": Item("due day", "O-1", date(2027, 3, 5), 2.0, "days"),
    "a start 2 days earlier, on 2027-03-05": Item("first day", "Nursery", date(2027, 3, 5), 2.0, "days"),
    "a penalty higher by 1.50 USD a plant for order O-1": Item("penalty", "O-1", None, 1.5, "USD a plant"),
}


@pytest.mark.parametrize("words", ITEMS)
def test_each_kind_of_relief_in_words(words: str) -> None:
    (span,) = spans((ITEMS[words],))
    assert in_words(SPECIMENS["packs"], span) == words


def test_days_that_follow_one_another_are_told_together() -> None:
    def slots(t: int, amount: float, *orders: str) -> Item:
        return Item("slots", "Chamber", day(t), amount, "slots", orders)

    found = spans((slots(3, 2.0, "a"), slots(4, 5.0, "a"), slots(6, 1.0, "a"), slots(7, 1.0, "b")))
    assert [(span.first.day, span.last, span.amount) for span in found] == [
        (day(3), day(4), 5.0),
        (day(6), day(6), 1.0),
        (day(7), day(7), 1.0),
    ]
    assert in_words(base_scenario(), found[0]) == "5 more slots in Chamber from 2027-03-04 to 2027-03-05"


def with_one_more(scenario: Scenario, worth: Any) -> Scenario:
    """The scenario with one more of a limit, written into its tables."""
    if worth.limit == "stock":
        return with_rows(
            scenario, "seed_lots", lambda row: replace(row, stock=row.stock + (row.lot == worth.name))
        )
    zone = next(zone for zone in scenario.zones if zone.zone == worth.name)
    after = replace(zone, slots=(zone.slots or 0) + 1)
    days = (
        ZoneDay(zone.zone, worth.day, slots=after.slots),
        ZoneDay(zone.zone, date.fromordinal(worth.day.toordinal() + 1), slots=zone.slots),
    )
    return replace(scenario, zone_days=days)


@pytest.mark.parametrize("scenario", [cramped(), cramped(12.0)])
def test_one_more_saves_what_the_scenario_with_one_more_costs_less(scenario: Scenario) -> None:
    scarce = with_rows(scenario, "seed_lots", lambda row: replace(row, stock=40, lead_days=0))
    scarce = replace(scarce, packs=(Pack("Red A", 1.0, 0.5),))
    solved = solve(scarce, whole=False)
    found = worth_of_one_more(solved, plan_of(solved))
    assert found
    for worth in found:
        again = solve(with_one_more(scarce, worth), whole=False).continuous.objective
        assert worth.saving == pytest.approx(solved.continuous.objective - again, abs=1e-6)
        assert worth.saving <= worth.dual + 1e-6


def scarce_hours() -> Scenario:
    """Half an hour a day is too little to graft the order of the base scenario."""
    hands = crew("Grafters", "grafting", heads=1.0, hours_per_head_day=0.5)
    standard = LabourStandard(Task.GRAFT, "grafting", None, None, 60.0)
    return base_scenario(crews=(hands,), labour_standards=(standard,))


def test_one_more_in_whole_plans_saves_what_the_plan_with_one_more_costs_less() -> None:
    """A small book, planned to the proved optimum."""
    scarce = scarce_hours()
    solved, before = solve(scarce, whole=False), solve(scarce).solution.objective
    found = in_whole(solve(scarce), worth_of_one_more(solved, plan_of(solved)))
    tried = [worth for worth in found if worth.whole is not None]
    assert len(tried) == min(IN_WHOLE, len(found)) > 0
    for worth in tried:
        assert worth.limit == "regular hours"
        assert worth.whole is not None
        assert worth.day is not None
        longer = CrewDay("Grafters", worth.day, 3.0), CrewDay("Grafters", worth.day + timedelta(days=1), 1.0)
        saves = before - solve(replace(scarce, crew_days=longer)).solution.objective
        assert worth.whole.saves == pytest.approx(saves, abs=1e-6)
        assert 0 < worth.whole.saves <= worth.whole.most + 1e-6
        assert worth.whole.least <= worth.whole.saves + 1e-6
    study = limits_study(scarce, workers=1)
    rows = table(study, "Worth of one more")
    assert [row["whole"] for row in rows] == [None if w.whole is None else w.whole.saves for w in found]
    assert "; in plans of whole trays " in study.answer[-1]


@pytest.mark.parametrize("name", SPECIMENS)
def test_every_limit_can_be_solved_again(name: str) -> None:
    cheap = with_rows(SPECIMENS[name], "orders", lambda row: replace(row, quantity=row.quantity * 4))
    solved = solve(cheap, whole=False)
    for worth in worth_of_one_more(solved, plan_of(solved)):
        assert -1e-6 <= worth.saving <= worth.dual + 1e-6


def test_a_limit_that_binds_only_with_another_is_not_said_to_save_something() -> None:
    """A tray stands in the full chamber on each day that has a price: a slot more on one alone is no use."""
    full = with_rows(SPECIMENS["salvage"], "orders", lambda row: replace(row, quantity=row.quantity * 4))
    solved = solve(full, whole=False)
    made = plan_of(solved)
    assert (made.shadow_prices["limit"] == "slots").any()
    assert worth_of_one_more(solved, made) == []
    study = limits_study(full, workers=1)
    assert study.answer[-1] == "More of any one limit alone saves nothing."


def test_a_large_book_says_that_no_whole_plans_were_made(monkeypatch: pytest.MonkeyPatch) -> None:
    scenario = scarce_hours()
    assert "in plans of whole trays" in limits_study(scenario, workers=1).answer[-1]
    monkeypatch.setattr(limits, "MOST_WAVES", 0)
    told = limits_study(scenario, workers=1).answer[-1]
    assert "in plans of whole trays" not in told
    assert told.endswith(limits.LARGE)


def test_prices_are_named_with_their_range() -> None:
    base = SPECIMENS["tight chamber"]
    priced = replace(base, orders=tuple(replace(o, price=3.0, decline=Decline.PART) for o in base.orders))
    rows = {row["what"]: row for row in table(limits_study(priced, workers=1), "Price ranges")}
    assert {"Pack of 1 of Red A", "Price of order O-1", "Slot-day in Chamber"} <= set(rows)
    for row in rows.values():
        assert row["low"] <= row["value"]
        assert row["range"].startswith("at least from ")
        assert (row["high"] is None) == row["range"].endswith(" on")


def test_freedom_has_a_row_for_each_quantity() -> None:
    study = freedom_study(SPECIMENS["temporary hands"], within=0.05, workers=1)
    rows = table(study, "Least and most")
    assert [row["quantity"] for row in rows] == [quantity.value for quantity in Quantity]
    assert len(study.answer) == 1 + len(rows)
    least_cost = solve(SPECIMENS["temporary hands"]).solution.objective
    assert [figure.value for figure in study.figures] == pytest.approx(
        [least_cost, least_cost, 0.05 * least_cost]
    )
    for row in rows:
        assert row["least"] <= row["best"] + 1e-4
        assert row["most"] is None or row["best"] <= row["most"] + 1e-4
        assert row["most_share"] is None or row["most_share"] == pytest.approx(row["most"] / row["best"])


def test_the_same_with_any_number_of_workers() -> None:
    assert limits_study(cramped(), workers=2).sections == limits_study(cramped(), workers=1).sections
    few, many = (freedom_study(cramped(), within=0.1, workers=n) for n in (1, 2))
    assert few.sections == many.sections


def test_progress_is_told() -> None:
    told: list[str] = []
    limits_study(base_scenario(), workers=1, progress=told.append)
    assert told == [f"what binds: {n} of 3" for n in (1, 2, 3)]


def test_both_are_written(tmp_path: Path) -> None:
    for study in (limits_study(cramped(), workers=1), freedom_study(cramped(), within=0.1, workers=1)):
        write_study(study, tmp_path / "study.xlsx")
        book = load_workbook(tmp_path / "study.xlsx")
        assert {section.name for section in study.sections} <= set(book.sheetnames)


def test_every_kind_of_price_has_words() -> None:
    kinds = {price.kind for scenario in SPECIMENS.values() for price in prices(build(expand(scenario)))}
    assert {"bays", "zones chosen"} <= kinds
    assert kinds <= set(PRICES)

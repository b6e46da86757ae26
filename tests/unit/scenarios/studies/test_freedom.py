"""Freedom of whole plans, against all of them counted out."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from typing import Any

import pytest

from model.questions.near_best import Quantity, near_best
from model.scenario.choices import MethodKind, ZoneUse
from model.scenario.entities import Scenario
from model.scenario.records.trade import BuyInOffer
from model.solve import plan, solve
from reports.study.study import Study
from scenarios.studies.freedom import freedom_study
from tests.scenario_parts import WEEK, healing, method, order, pool, units
from tests.strategies import base_scenario, with_nursery, with_rows

WAVE, DAY = 19.0, 10.0
"""Cost of a wave, and of a day of a tray of ten in the house, where a plant hardens for a day."""

TRAYS = {12: 1, 13: 1, 14: 2}
"""Trays by latest graft day: of three orders due four days later, each held for up to two days."""

WITHIN = 0.02


def three_due_days() -> Scenario:
    """Nothing fails; a graft day takes a wave of each variety, sown for it alone."""
    base, sure = base_scenario(), {"match": 1.0, "take": 1.0, "finish_survival": 1.0}
    ages = {"rootstock_age_max": 4, "scion_age_max": 3, "holding_limit_days": 2}
    made = replace(
        base,
        orders=tuple(order(f"O-{g}", "Red on Stout", 10 * n, g + 4) for g, n in TRAYS.items()),
        methods=(method("splice", MethodKind.ON_TRAY, **sure, **ages),),
        stages=healing("splice", hard=1),
        seed_lots=tuple(replace(row, germination=1.0, grade_out=0.0, stock=100) for row in base.seed_lots),
        packs=(),
        zones=(*base.zones[:3], pool("House", ZoneUse.FINISHING, 1000.0, DAY)),
    )
    return with_nursery(made, wave_cost=WAVE)


def least_costs() -> dict[int, float]:
    """The least cost by number of graft days: of all sets of days, each order grafted on its latest in it.

    An order in two parts costs no less: any part waits as long as the whole would, or longer.
    """
    days = range(min(TRAYS) - 2, max(TRAYS) + 1)
    costs: dict[int, list[float]] = {}
    for number in range(1, len(days) + 1):
        for chosen in combinations(days, number):
            held = {last: last - max((g for g in chosen if g <= last), default=0) for last in TRAYS}
            if max(held.values()) <= 2:
                stay = sum(DAY * n * (1 + held[last]) for last, n in TRAYS.items())
                costs.setdefault(number, []).append(2 * WAVE * number + stay)
    return {number: min(found) for number, found in costs.items()}


def rows(study: Study) -> dict[Any, dict[str, Any]]:
    (section,) = study.sections
    keys = [column.key for column in section.columns]
    return {row[0]: dict(zip(keys, row, strict=True)) for row in section.rows}


def test_graft_days_of_whole_plans_are_those_counted_out() -> None:
    """The continuous program opens waves in part, grafts on three days, and costs a fifth less.

    Two days are best, one costs 2 more, and three cost 28 more.
    """
    scenario, costs = three_due_days(), least_costs()
    best = min(costs.values())
    near = {number for number, cost in costs.items() if cost <= (1 + WITHIN) * best}
    assert (costs[1] - best, costs[2] - best, costs[3] - best, near) == (2, 0, 28, {1, 2})
    assert plan(scenario).cost == pytest.approx(best)

    part = solve(scenario, whole=False)
    told = near_best(part, Quantity.GRAFT_DAYS, WITHIN)
    assert (told.proved_least, told.proved_most) == (3, 3)
    assert part.solution.objective < 0.8 * best

    study = freedom_study(scenario, within=WITHIN, workers=1)
    found = rows(study)["graft days"]
    keys = ("best", "least", "most", "proved_least", "proved_most")
    assert [found[key] for key in keys] == [2, 1, 2, 1, 2]
    assert "graft days: 1 to 2; 2 at least cost." in study.answer
    assert study.figures[0].value == pytest.approx(best)


def ranges(scenario: Scenario, within: float, quantity: str) -> list[Any]:
    found = rows(freedom_study(scenario, within=within, workers=1))[quantity]
    return [found[key] for key in ("best", "least", "most", "proved_least", "proved_most")]


def free_waves() -> Scenario:
    """A tray of ten costs 10, and 10 more for each day that it is held: at least 40 for the four trays."""
    return with_nursery(three_due_days(), wave_cost=0.0)


def test_days_with_a_least_batch_are_counted_out() -> None:
    """Four trays, joined two at a time or more: 50 on two days, since one tray waits a day; 90 on one day.

    Without a least batch three days cost 40, four cost 50, two 50 and one 90.
    """
    batches = with_rows(free_waves(), "methods", lambda row: replace(row, least_batch=20))
    assert plan(batches).cost == pytest.approx(50)
    assert ranges(batches, 0.5, "graft days") == [2, 2, 2, 2, 2]
    assert ranges(batches, 1.0, "graft days") == [2, 1, 2, 1, 2]
    assert ranges(free_waves(), 1.0, "graft days") == [3, 2, 4, 2, 4]


def test_a_delivery_is_at_least_the_offers_least_or_none() -> None:
    """Growing costs 1 a plant, buying 1.10: 2 more would buy 20 of 40, but an offer brings 25 or none.

    For 4 more all may be bought. At 0.50 all are bought for 20. For 10 more the 25 are bought for 12.50, of
    them 2.5 to spare, and 17.5 are grown.
    """
    offer = BuyInOffer("Reds", "Red on Stout", 1.1, 1, WEEK, None, None, 25, None)
    due = order("O", "Red on Stout", 40, max(TRAYS) + 4)
    book = replace(free_waves(), orders=(due,), buy_in_offers=(offer,))
    assert ranges(book, 0.05, "plants bought in") == pytest.approx([0] * 5, abs=1e-6)
    assert ranges(book, 0.1, "plants bought in") == pytest.approx([0, 0, 40, 0, 40], abs=1e-6)
    cheap = replace(book, buy_in_offers=(replace(offer, price=0.5),))
    assert ranges(cheap, 0.5, "plants bought in") == pytest.approx([40, 22.5, 40, 22.5, 40])


def test_no_order_is_left_short_for_freedom() -> None:
    """A penalty of 1.50 is little more than a plant costs: for 10 % more, some could be left short."""
    book = with_nursery(free_waves(), shortfall_penalty=1.5)
    assert plan(book).short == 0
    assert ranges(book, 0.1, "slot-days in the healing chamber") == pytest.approx([12] * 5)


def test_a_unit_is_not_opened_for_a_part_of_a_tray() -> None:
    """Two units at a time, three days each: two loads of 20 slots do. Of the most nothing is told."""
    chamber = units("Chamber", 2, 20.0, 1, 0.0)
    book = with_rows(free_waves(), "zones", lambda row: chamber if row.zone == "Chamber" else row)
    told = ranges(book, 0.2, "slot-days in the healing chamber")
    assert told == [pytest.approx(120), pytest.approx(120), None, pytest.approx(120), None]

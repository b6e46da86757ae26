"""Sums of what was told of the past, and the shares that follow from counts, by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from model.proof.audit import CHECKS
from model.proof.progress_sums import ProgressSums
from model.proof.replay import Replay
from model.scenario.choices import Happened
from model.scenario.entities import Scenario
from model.scenario.records.past import Progress
from tests.by_hand import BY_HAND
from tests.by_hand_later import LATER, told
from tests.scenario_parts import day
from tests.strategies import base_scenario, with_nursery, with_rows


def sums(*rows: Progress) -> ProgressSums:
    """The sums of some rows, told on day 9."""
    return ProgressSums(with_nursery(base_scenario(progress=rows), today=day(9)))


def test_the_first_day_is_today_where_no_other_is_told() -> None:
    assert ProgressSums(base_scenario()).today == day(0)
    assert sums().today == day(9)


def test_rows_of_one_wave_are_summed_and_counted_together() -> None:
    one: dict[str, Any] = {"lot": "Red A", "format": "ten"}
    key = ("Red A", "ten", day(2))
    found = sums(
        told(2, Happened.SOWN, 3.0, counted=20.0, **one), told(2, Happened.SOWN, 2.0, counted=10.0, **one)
    )
    assert found.recorded(Happened.SOWN, *key) == 5.0
    assert found.share(Happened.SOWN, key) == 6.0
    assert found.recorded(Happened.SOWN, "Red A", "ten", day(3)) == 0.0
    assert found.share(Happened.SOWN, ("Red A", "ten", day(3))) is None
    assert found.share(Happened.GRAFTED, key) is None
    partly = sums(told(2, Happened.SOWN, 3.0, counted=20.0, **one), told(2, Happened.SOWN, 2.0, **one))
    assert partly.recorded(Happened.SOWN, *key) == 5.0
    assert partly.share(Happened.SOWN, key) is None
    small = sums(told(2, Happened.SOWN, 0.5, counted=4.0, **one))
    assert small.share(Happened.SOWN, key) == 8.0
    none_came = sums(told(2, Happened.SOWN, 3.0, counted=0.0, **one))
    assert none_came.share(Happened.SOWN, key) == 0.0
    nothing = sums(told(2, Happened.SOWN, 0.0, counted=0.0, **one))
    assert nothing.share(Happened.SOWN, key) is None


def test_packs_that_have_arrived() -> None:
    def packs(number: float, size: float, arrives: int, item: str = "Red A") -> Progress:
        return told(1, Happened.PACKS, number, item=item, size=size, arrival_day=day(arrives))

    found = sums(packs(2, 10, 4), packs(1, 10, 4), packs(3, 50, 6), packs(7, 1, 4, "Stout A"))
    assert [found.arrived("Red A", day(t)) for t in (3, 4, 5, 6)] == [0, 30, 30, 180]
    assert found.ordered("Red A") == 180
    assert found.ordered("Blue A") == 0


def test_what_else_is_recorded() -> None:
    found = sums(
        told(3, Happened.BOUGHT_IN, 30.0, order="O-1", offer="offer", arrival_day=day(8)),
        told(3, Happened.WORKED, 4.0, crew="Growers"),
        told(3, Happened.WORKED, 2.5, crew="Growers"),
        told(4, Happened.HIRED, 2.0, crew="Growers"),
        told(5, Happened.FINISHED, 90.0, product="Pair", graft_day=day(1)),
        told(6, Happened.DELIVERED, 80.0, order="O-1", product="Pair", graft_day=day(1)),
        told(7, Happened.STANDING, 6.0, zone="Bench"),
    )
    assert found.comes("offer", day(8))
    assert not found.comes("offer", day(7))
    assert not found.comes("other", day(8))
    assert found.worked_days == {day(3)}
    assert found.recorded(Happened.WORKED, "Growers", day(3)) == 6.5
    assert found.recorded(Happened.HIRED, "Growers", (2027, 9)) == 2.0
    assert found.recorded(Happened.FINISHED, "Pair", day(1), None) == 90.0
    assert found.recorded(Happened.DELIVERED, "O-1", "Pair", day(1), None) == 80.0
    assert found.recorded(Happened.BOUGHT_IN, "offer", day(8), "O-1") == 30.0
    assert found.recorded(Happened.STANDING, "Bench", day(7)) == 6.0


def with_progress(name: str, change: Callable[[Progress], Progress | None]) -> Scenario:
    """The scenario of a plan by hand with each row of progress changed or left out."""
    scenario, _ = LATER[name]
    rows = [change(row) for row in scenario.progress]
    return replace(scenario, progress=tuple(row for row in rows if row is not None))


def problems(check: str, scenario: Scenario, name: str) -> list[tuple[str, float]]:
    """What a check tells of a plan by hand under a changed scenario."""
    return sorted(CHECKS[check](Replay(scenario, LATER[name][1])))


def uncounted(what: Happened, number: float | None = None) -> Callable[[Progress], Progress]:
    """Rows of a kind, or those of that number, that are not counted yet."""
    return lambda row: (
        replace(row, counted=None) if row.what is what and number in (None, row.number) else row
    )


def test_a_wave_that_is_not_counted_has_what_was_drawn_from_it_and_no_more_than_its_cells() -> None:
    """3 trays of ten, of which 25 were moved on: 8 1/3 a tray, where 7 were expected."""
    weak = with_rows(LATER["delivered"][0], "seed_lots", lambda row: replace(row, germination=0.7))
    check = "waves are sown right"
    ((text, size),) = problems(check, weak, "delivered")
    assert text == "wave W1, usable seedlings per tray: the plan says 10.0000, the replay 8.3333"
    assert size == pytest.approx(5 / 3)
    few = replace(LATER["delivered"][1], waves=LATER["delivered"][1].waves.assign(trays=2.0, seeds=20.0))
    told = with_rows(
        weak, "progress", lambda row: replace(row, number=2.0) if row.what is Happened.SOWN else row
    )
    assert list(CHECKS[check](Replay(told, few))) == []


def test_a_wave_that_is_not_counted_is_drawn_from_at_the_match_expected() -> None:
    """40 joins at a match of .75 draw 53 1/3, more than 5 trays have cells; of 3 trays 17.7778 a tray."""
    open_waves = with_progress("healed", uncounted(Happened.SOWN))
    ((text, size),) = problems("waves are sown right", open_waves, "healed")
    assert text == "wave W2, usable seedlings per tray: the plan says 20.0000, the replay 17.7778"
    assert size == pytest.approx(20 / 9)


def test_joins_that_are_not_all_counted_take_as_expected_and_keep_their_margin() -> None:
    partly = with_progress("healed", uncounted(Happened.GRAFTED, 10.0))
    assert problems("joins are possible", partly, "healed") == [
        ("joins of Pair on 2027-03-09, take: the plan says 0.9000, the replay 0.7000", pytest.approx(0.2))
    ]
    kept = [
        (
            "order O-1, plants ready on 2027-03-14, margin: the plan says 0.0000, the replay 3.6000",
            pytest.approx(3.6),
        )
    ]
    assert problems("deliveries keep their days", partly, "healed") == kept
    ready = told(9, Happened.FINISHED, 36.0, product="Pair", graft_day=day(8))
    ready_too = replace(partly, progress=(*partly.progress, ready))
    assert problems("deliveries keep their days", ready_too, "healed") == []
    no_joins = with_progress("healed", lambda row: None if row.what is Happened.GRAFTED else row)
    assert problems("deliveries keep their days", no_joins, "healed") == kept


def test_plants_counted_ready_are_those_that_are_there() -> None:
    fewer = with_progress(
        "delivered", lambda row: replace(row, number=18.0) if row.what is Happened.FINISHED else row
    )
    assert (
        "Red plain grafted on 2027-03-07, finished: the plan says 20.0000, the replay 18.0000",
        2.0,
    ) in problems("flows add up", fewer, "delivered")


def test_packs_ordered_in_parts() -> None:
    parts = with_progress(
        "delivered", lambda row: replace(row, number=1.0) if row.what is Happened.PACKS else row
    )
    (half,) = (row for row in parts.progress if row.what is Happened.PACKS)
    both = replace(parts, progress=(*parts.progress, replace(half, arrival_day=day(1))))
    for check in ("the past is kept", "stock never runs out"):
        assert problems(check, both, "delivered") == []
    assert problems("the past is kept", parts, "delivered") == [
        ("Red A: packs of 10 ordered before today: the plan says 2.0000, the replay 1.0000", 1.0)
    ]
    other = replace(parts, progress=(*parts.progress, replace(half, size=5.0)))
    assert problems("the past is kept", other, "delivered") == [
        ("Red A: packs of 10 ordered before today: the plan says 2.0000, the replay 1.0000", 1.0),
        ("Red A: packs of 5 ordered before today: the plan says 0.0000, the replay 1.0000", 1.0),
        ("Red A: the plan lacks some of the 1 packs of 5 already ordered", 1.0),
    ]


@pytest.mark.parametrize("arrives", [2, 3])
def test_packs_that_come_too_late_are_not_used(arrives: int) -> None:
    """30 seeds are sown on day 2, today: 10 are there, 20 ordered."""
    scenario, plan = BY_HAND["own-root"]
    row = told(1, Happened.PACKS, 2.0, item="Red A", size=10.0, arrival_day=day(arrives))
    later = with_nursery(replace(scenario, progress=(row,)), today=day(2))
    found = sorted(CHECKS["stock never runs out"](Replay(later, plan)))
    short = [("Red A on 2027-03-03, used: 30.0000 is more than 10.0000", 20.0)]
    assert found == [
        *(short if arrives == 3 else []),
        ("Red A: must be ordered by None, not 2027-03-02", 1.0),
        ("Red A: needed on None, not 2027-03-03", 1.0),
    ]

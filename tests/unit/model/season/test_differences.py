"""Jobs in which two plans differ, from tables written by hand: each job's words, numbers, day and place."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pandas as pd
import pytest

from model.planned.plan_tables import PLAN_TABLES, Tables
from model.season.differences import COLUMNS, JOBS, differences
from tests.by_hand import BY_HAND, by_place
from tests.scenario_parts import day

COLUMNS_OF = {
    "waves": ("wave", "lot", "sow_day", "format", "trays"),
    "germination": ("wave", "zone", "trays"),
    "joins": ("product", "graft_day", "rootstock_wave", "scion_wave", "joins"),
    "buy_in": ("offer", "order", "order_by", "arrival_day", "plants"),
    "purchases": ("item", "size", "packs", "order_by", "ordered"),
    "temporary": ("crew", "week_day", "heads"),
    "crew_days": ("crew", "day", "called"),
    "deliveries": ("order", "product", "graft_day", "offer", "pack_day", "plants"),
    "orders": ("order", "product", "due_day", "short"),
}
"""The columns that are compared, in the order in which the rows below have them."""

WAVES = [("W1", "Stout A", day(4), "ten", 5.0), ("W2", "Red A", day(5), "twenty", 3.0)]


def tables(**rows: list[tuple[Any, ...]]) -> Tables:
    """Tables of a plan with these rows and no others."""
    return {
        name: pd.DataFrame(rows.get(name, []), columns=list(columns), dtype=object).assign(in_zones=None)
        for name, columns in COLUMNS_OF.items()
    }


def found(last: Tables, new: Tables, since: int = 0) -> list[tuple[Any, ...]]:
    """Rows of the differences."""
    return list(differences(last, new, day(since)).itertuples(index=False, name=None))


def test_every_job_in_words_and_the_order_of_jobs_within_a_day() -> None:
    """All on one day: bought, hired, called, sown, grafted with and without a rootstock, delivered, short."""
    new = tables(
        waves=[("W1", "Stout A", day(4), "ten", 5.0), ("W2", "Red A", day(4), "twenty", 3.0)],
        germination=[("W1", "House", 2.0)],
        joins=[("Pair", day(4), "W1", "W2", 40.0), ("Plain", day(4), None, "W2", 30.0)],
        buy_in=[("Neighbour", "O-1", day(4), day(9), 20.0)],
        purchases=[("Red A", 250.0, 3.0, day(4), 1.0)],
        temporary=[("Grafters", day(4), 2.0)],
        crew_days=[("Grafters", day(4), 1.0)],
        deliveries=[
            ("O-1", "Pair", day(4), None, day(4), 36.0),
            ("O-1", "Pair", None, "Neighbour", day(4), 20.0),
        ],
        orders=[("O-1", "Pair", day(4), 7.0)],
    )
    rows = [
        ("order packs", "Red A", "of 250", "packs", 2.0),
        ("order plants", "Neighbour", f"for O-1, to come {day(9)}", "plants", 20.0),
        ("hire", "Grafters", "for the week", "hands", 2.0),
        ("call", "Grafters", "for the day", "hands", 1.0),
        ("sow", "Red A", "in twenty", "trays", 3.0),
        ("sow", "Stout A", "in ten", "trays", 3.0),
        ("sow", "Stout A", "in ten, to germinate in House", "trays", 2.0),
        ("graft", "Pair", f"Red A of {day(4)} on Stout A of {day(4)}", "joins", 40.0),
        ("graft", "Plain", f"Red A of {day(4)}", "joins", 30.0),
        ("deliver", "O-1", "Pair, from Neighbour", "plants", 20.0),
        ("deliver", "O-1", f"Pair, grafted {day(4)}", "plants", 36.0),
        ("short", "O-1", "Pair", "plants", 7.0),
    ]
    assert found(tables(), new) == [(day(4), *job, 0.0, number) for *job, number in rows]
    assert found(new, tables()) == [(day(4), *job, number, 0.0) for *job, number in rows]
    assert list(dict.fromkeys(what for what, *_ in rows)) == list(JOBS)
    assert list(differences(tables(), tables(), day(0)).columns) == list(COLUMNS)


def test_each_job_has_the_day_on_which_it_is_done() -> None:
    """Sowing, grafting and packing as by hand: days 4, 5, 8 and 13."""
    _, made = BY_HAND["on-tray in units"]
    none = {name: by_place(name, []) for name in PLAN_TABLES}
    assert [(row[0], row[1]) for row in found(none, made.tables)] == [
        (day(4), "sow"),
        (day(5), "sow"),
        (day(8), "graft"),
        (day(13), "deliver"),
    ]
    bought = replace(
        made,
        orders=made.orders.assign(short=3.0, due_day=day(14)),
        buy_in=by_place("buy_in", [("Ours", "Pair", "O-1", day(12), day(10), 9.0, 0.0, 1.0, 9.0)]),
        purchases=by_place("purchases", [("Red A", "seed", 100.0, 3.0, 5.0, 15.0, day(6), day(2), 0.0)]),
    )
    days = {row[1]: row[0] for row in found(made.tables, bought.tables)}
    assert days == {"order plants": day(10), "order packs": day(2), "short": day(14)}


def test_days_come_first_then_jobs_then_names_then_details() -> None:
    new = tables(
        waves=[
            ("W1", "B", day(6), "ten", 1.0),
            ("W2", "A", day(6), "twenty", 1.0),
            ("W3", "A", day(6), "ten", 1.0),
            ("W4", "Z", day(5), "ten", 1.0),
        ],
        temporary=[("Sowers", day(6), 1.0)],
    )
    assert [row[:4] for row in found(tables(), new)] == [
        (day(5), "sow", "Z", "in ten"),
        (day(6), "hire", "Sowers", "for the week"),
        (day(6), "sow", "A", "in ten"),
        (day(6), "sow", "A", "in twenty"),
        (day(6), "sow", "B", "in ten"),
    ]


@pytest.mark.parametrize("since, kept", [(3, 2), (4, 2), (5, 1), (6, 0)])
def test_jobs_before_the_day_are_left_out_and_those_on_it_are_not(since: int, kept: int) -> None:
    assert len(found(tables(), tables(waves=WAVES), since)) == kept


@pytest.mark.parametrize("trays, told", [(4.4, True), (4.5, True), (4.51, False), (5.49, False), (5.5, True)])
def test_half_a_tray_is_a_change_and_less_is_none(trays: float, told: bool) -> None:
    rows = found(tables(waves=WAVES), tables(waves=[(*WAVES[0][:-1], trays), WAVES[1]]))
    assert rows == ([(day(4), "sow", "Stout A", "in ten", "trays", 5.0, trays)] if told else [])


@pytest.mark.parametrize(
    "before, after, told",
    [
        (100.0, 96.1, False),
        (100.0, 95.9, True),
        (100.0, 103.9, False),
        (100.0, 104.1, True),
        (1000.0, 978.1, False),
        (1000.0, 977.9, True),
        (0.0, 0.4, False),
        (0.0, 0.5, True),
        (0.5, 0.0, True),
        (2.0, 0.0, True),
        (0.4, 0.0, False),
    ],
)
@pytest.mark.parametrize("what", ["graft", "deliver"])
def test_joins_and_plants_may_differ_by_a_fiftieth_and_two(
    what: str, before: float, after: float, told: bool
) -> None:
    """Where both plans have them; a job that only one of them has is told from half a plant on."""

    def plants(number: float) -> Tables:
        if what == "graft":
            return tables(waves=WAVES, joins=[("Pair", day(8), "W1", "W2", number)])
        return tables(deliveries=[("O-1", "Pair", day(8), None, day(13), number)])

    rows = found(plants(before), plants(after))
    assert [(row[1], *row[-2:]) for row in rows] == ([(what, before, after)] if told else [])


def test_other_jobs_are_told_from_half_a_unit_on() -> None:
    """A plant short, bought or a pack more is told, however many there were."""
    few = tables(orders=[("O-1", "Pair", day(13), 100.0)], buy_in=[("Ours", "O-1", day(4), day(9), 100.0)])
    more = tables(orders=[("O-1", "Pair", day(13), 101.0)], buy_in=[("Ours", "O-1", day(4), day(9), 99.0)])
    assert [row[1] for row in found(few, more)] == ["order plants", "short"]


def test_rows_of_one_job_are_added() -> None:
    """Two waves of a lot and format on a day are one job of sowing."""
    two = [("W1", "Stout A", day(4), "ten", 2.0), ("W2", "Stout A", day(4), "ten", 3.0)]
    assert found(tables(waves=WAVES[:1]), tables(waves=two)) == []
    assert [row[-1] for row in found(tables(), tables(waves=two))] == [5.0]


def test_only_packs_still_to_be_ordered_count() -> None:
    """Three packs of which three are ordered are no job; nor are packs without a day to order them."""
    assert found(tables(), tables(purchases=[("Red A", 250.0, 3.0, day(4), 3.0)])) == []
    assert found(tables(), tables(purchases=[("Red A", 250.0, 3.0, None, 0.0)])) == []
    after_it = [("Red A", 250.0, 3.0, None, 0.0), ("Red B", 0.5, 1.0, day(4), 0.0)]
    assert found(tables(), tables(purchases=after_it)) == [
        (day(4), "order packs", "Red B", "of 0.5", "packs", 0.0, 1.0)
    ]

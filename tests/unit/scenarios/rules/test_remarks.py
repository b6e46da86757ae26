"""Remarks say what lies outside published ranges and what looks forgotten, and stop nothing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from model.scenario.about_cells import Remark
from model.scenario.choices import Decline, Happened, MarginPolicy, MethodKind, Task
from model.scenario.entities import Scenario
from model.scenario.records.past import Progress
from model.scenario.records.people import LabourStandard
from model.scenario.records.trade import Customer
from model.scenario.tables import BY_NAME
from scenarios.files.read_scenario import read_scenario
from scenarios.rules.remarks import in_words, published, published_ranges, remarks
from tests.bad_input.small import grids, small, write_csvs


@pytest.fixture(scope="module")
def scenario(tmp_path_factory: pytest.TempPathFactory) -> Scenario:
    tables = small()
    tables["labour_standards"] += [
        {"task": task, "skill": "general", "seconds": 10}
        for task in ("move", "tend", "care", "graft", "stick", "consolidate", "grade", "pack")
    ]
    tables["crews"][0]["day_off_hours_per_head"] = 1
    return read_scenario(write_csvs(grids(tables), tmp_path_factory.mktemp("small") / "s"))


def changed(scenario: Scenario, table: str, row: int, **cells: Any) -> Scenario:
    rows = getattr(scenario, table)
    if not isinstance(rows, tuple):
        return replace(scenario, **{table: replace(rows, **cells)})
    rows = (*rows[: row - 2], replace(rows[row - 2], **cells), *rows[row - 1 :])
    return replace(scenario, **{table: rows})


def test_a_plain_scenario_has_none(scenario: Scenario) -> None:
    assert remarks(scenario) == []


PUBLISHED = [
    ("seed_lots", 2, "germination", 0.7, "0.75", "7 CFR 201.31"),
    ("seed_lots", 2, "germination_days", 15, "14 days", "Harrington"),
    ("methods", 2, "take", 0.99, "0.63 to 0.98", "Lang"),
    ("methods", 2, "match", 0.5, "at least 0.555", "SARE"),
    ("methods", 2, "holding_limit_days", 40, "at most 28 days", "Kubota"),
    ("labour_standards", 3, "seconds", 5, "7.7 to 69 s", "Liang"),
    ("labour_standards", 2, "seconds", 300, "at most 283 s", "Rutgers"),
    ("crews", 2, "pay_per_hour", 12.0, "at least 14.83 USD", "US DOL"),
    ("orders", 2, "price", 2.5, "0.59 to 1.25 USD", "Rivard"),
    ("orders", 4, "price", 1.1, "0.06 to 0.51 USD", "Tronstad"),
    ("stages", 2, "temperature", 35, "25 to 30 °C", "healing chambers"),
    ("stages", 2, "humidity", 0.6, "0.85 to 1", "healing chambers"),
    ("stages", 2, "light", 200, "50 to 100 µmol", "healing chambers"),
    ("buy_in_offers", 2, "price", 0.3, "0.59 to 1.25 USD", "Rivard"),
]


@pytest.mark.parametrize("table, row, column, value, range_, source", PUBLISHED)
def test_outside_a_published_range(
    table: str, row: int, column: str, value: float, range_: str, source: str, scenario: Scenario
) -> None:
    found = remarks(changed(scenario, table, row, **{column: value}))
    assert [(r.table, r.row, r.column, r.value) for r in found] == [(table, row, column, f"{value:g}")]
    assert range_ in found[0].message
    assert source in found[0].source


def test_times_of_roles_are_judged_together(scenario: Scenario) -> None:
    """Cutting a join in 5 s and joining it in 4 s is within the published 7.7 to 69 s; in 2 s it is not."""
    cutter = replace(scenario.labour_standards[1], role="cutter", seconds=5.0)
    for seconds, told in ((4.0, []), (2.0, [("seconds", "7")])):
        roles = (cutter, replace(cutter, role="joiner", seconds=seconds))
        rest = [row for n, row in enumerate(scenario.labour_standards) if n != 1]
        found = remarks(replace(scenario, labour_standards=(*rest, *roles)))
        assert [(r.column, r.value) for r in found] == told
        assert all("all roles" in r.message for r in found)


def test_a_dark_stage_and_a_house_are_not_judged_by_the_chamber(scenario: Scenario) -> None:
    assert remarks(changed(scenario, "stages", 2, light=0.0)) == []
    assert remarks(changed(scenario, "stages", 4, temperature=18.0, humidity=0.6, light=300.0)) == []


def test_practice_of_nobody(scenario: Scenario) -> None:
    hired = {"temp_heads_most": 2, "temp_pay_per_hour": 18.0}
    assert remarks(changed(scenario, "crews", 2, temp_training_days=1, **hired)) == []
    (remark,) = remarks(changed(scenario, "crews", 2, **hired))
    assert (remark.table, remark.row, remark.column) == ("practice", 2, "crew")
    assert "nobody practises" in remark.message


def test_many_open_cuts(scenario: Scenario) -> None:
    assert remarks(changed(scenario, "methods", 2, open_cuts_most=5)) == []
    (remark,) = remarks(changed(scenario, "methods", 2, open_cuts_most=20))
    assert (remark.column, remark.value) == ("open_cuts_most", "20")
    assert "about five" in remark.message


def test_money_is_compared_in_its_currency_only(scenario: Scenario) -> None:
    abroad = changed(scenario, "nursery", 2, currency="JPY")
    assert remarks(changed(abroad, "crews", 2, pay_per_hour=12.0)) == []


def test_window_and_healing(scenario: Scenario) -> None:
    late = changed(scenario, "methods", 2, scion_age_min=25, scion_age_max=30)
    assert [(r.column, r.value) for r in remarks(late)] == [("scion_age_min", "25 to 30")]
    found = remarks(changed(scenario, "stages", 3, days=9))
    assert [(r.table, r.row, r.value) for r in found] == [("methods", 2, "12")]
    assert "days of healing" in found[0].message


def test_own_root_plants_take_no_time_at_the_grafting_table(scenario: Scenario) -> None:
    method = next(row.method for row in scenario.methods if row.kind is MethodKind.OWN_ROOT)
    standard = LabourStandard(Task.GRAFT, "general", method, None, 0.5)
    found = remarks(replace(scenario, labour_standards=(*scenario.labour_standards, standard)))
    assert [(r.table, r.column, r.value) for r in found] == [("labour_standards", "method", method)]


def test_take_by_ages(scenario: Scenario) -> None:
    tomato = changed(scenario, "products", 5, crop="tomato")
    found = remarks(changed(tomato, "age_effects", 2, take=0.2))
    assert [(r.table, r.row, r.column) for r in found] == [("age_effects", 2, "take")]


def test_holding_is_compared_where_plants_are_held(scenario: Scenario) -> None:
    cold = replace(scenario.zones[3], zone="Cold", use="holding", cost_per_slot_day=0.5)
    held = replace(scenario, zones=(*scenario.zones, cold))
    held = changed(held, "methods", 2, holding_zone="Cold")
    held = changed(held, "zones", 6, use=type(scenario.zones[0].use)("holding"))
    assert [(r.name, r.column) for r in remarks(held)] == [("Cold", "cost_per_slot_day")]


FORGOTTEN: list[tuple[str, Callable[[Scenario], Scenario], tuple[str, int, str], str]] = [
    ("no orders", lambda s: replace(s, orders=s.orders[:3]), ("products", 5, "product"), "has no orders"),
    (
        "unused lot",
        lambda s: replace(s, seed_lots=(*s.seed_lots, replace(s.seed_lots[0], lot="Old", variety="Old"))),
        ("seed_lots", 7, "variety"),
        "not used",
    ),
    (
        "no seed",
        lambda s: changed(s, "seed_lots", 3, stock=0),
        ("seed_lots", 3, "stock"),
        "the lot cannot be sown",
    ),
    (
        "unused method",
        lambda s: replace(s, methods=(*s.methods, replace(s.methods[3], method="spare"))),
        ("methods", 6, "method"),
        "in no product",
    ),
    (
        "unused zone",
        lambda s: replace(s, zones=(*s.zones, replace(s.zones[1], zone="Shed"))),
        ("zones", 6, "zone"),
        "not used",
    ),
    (
        "unused skill",
        lambda s: changed(s, "crews", 2, skills=("grafting", "general", "welding")),
        ("crews", 2, "skills"),
        "in no labour standard",
    ),
    (
        "penalty below offers",
        lambda s: changed(s, "nursery", 2, shortfall_penalty=0.9),
        ("nursery", 2, "shortfall_penalty"),
        "being short pays",
    ),
    (
        "order's penalty below offers",
        lambda s: changed(s, "orders", 2, shortfall_penalty=0.5),
        ("orders", 2, "shortfall_penalty"),
        "being short pays",
    ),
    (
        "interest as a percentage",
        lambda s: changed(s, "nursery", 2, interest_rate=6.0),
        ("nursery", 2, "interest_rate"),
        "600%",
    ),
    (
        "level without effect",
        lambda s: changed(
            changed(s, "nursery", 2, margin_policy=MarginPolicy.FIXED), "orders", 2, service_level=0.9
        ),
        ("orders", 2, "service_level"),
        "has no effect",
    ),
    ("free hours", lambda s: changed(s, "crews", 2, pay_per_hour=0.0), ("crews", 2, "pay_per_hour"), "free"),
    (
        "free temporary hours",
        lambda s: changed(s, "crews", 2, temp_heads_most=2, temp_training_days=1),
        ("crews", 2, "temp_pay_per_hour"),
        "free",
    ),
    (
        "salvage above the penalty",
        lambda s: changed(s, "products", 2, salvage_price=5.5, salvage_most=9),
        ("products", 2, "salvage_price"),
        "above the penalty of a plant short (5)",
    ),
    (
        "salvage above an order's own penalty",
        lambda s: changed(
            changed(s, "orders", 3, shortfall_penalty=1.5), "products", 3, salvage_price=2.0, salvage_most=9
        ),
        ("products", 3, "salvage_price"),
        "above the penalty of a plant short (1.5)",
    ),
    (
        "salvage above the plant's cost",
        lambda s: changed(
            changed(s, "nursery", 2, plant_cost=0.8), "products", 2, salvage_price=0.9, salvage_most=9
        ),
        ("products", 2, "salvage_price"),
        "above plant_cost (0.8)",
    ),
    (
        "an order to be declined for nothing",
        lambda s: changed(s, "orders", 2, price=0.0, decline=Decline.PART),
        ("orders", 2, "price"),
        "declines the order wherever it costs anything",
    ),
    (
        "other letters of the same look",
        lambda s: changed(s, "orders", 3, order="\u041e-1"),
        ("orders", 3, "order"),
        "looks like 'O-1' and is another name (here '\\u041e-1')",
    ),
    (
        "characters that do not show",
        lambda s: changed(s, "orders", 3, order="O-\u200b1"),
        ("orders", 3, "order"),
        "looks like 'O-1' and is another name (here 'O-\\u200b1')",
    ),
    (
        "cheap overtime",
        lambda s: changed(s, "crews", 2, overtime_pay_per_hour=20.0),
        ("crews", 2, "overtime_pay_per_hour"),
        "below the regular pay",
    ),
    (
        "dear scrap",
        lambda s: changed(s, "modules", 2, salvage_value=1000.0),
        ("modules", 2, "salvage_value"),
        "above first_cost",
    ),
    (
        "day off elsewhere",
        lambda s: changed(s, "days_off", 2, day=date(2026, 12, 25)),
        ("days_off", 2, "day"),
        "outside the horizon",
    ),
    (
        "late change of a zone",
        lambda s: changed(s, "zone_days", 2, from_day=date(2027, 12, 1)),
        ("zone_days", 2, "from_day"),
        "after the horizon",
    ),
    (
        "late change of a crew",
        lambda s: changed(s, "crew_days", 2, from_day=date(2027, 12, 1)),
        ("crew_days", 2, "from_day"),
        "after the horizon",
    ),
    (
        "late offer",
        lambda s: changed(s, "buy_in_offers", 2, from_day=date(2027, 12, 1)),
        ("buy_in_offers", 2, "from_day"),
        "after the horizon",
    ),
    (
        "penalty of an order far above its price",
        lambda s: changed(s, "orders", 2, price=1.2, shortfall_penalty=6.01),
        ("orders", 2, "shortfall_penalty"),
        "is more than 5 times the price (1.2)",
    ),
    (
        "penalty of the nursery far above a price",
        lambda s: changed(changed(s, "orders", 3, price=1.2), "nursery", 2, shortfall_penalty=6.01),
        ("nursery", 2, "shortfall_penalty"),
        "is more than 5 times the price of",
    ),
    (
        "past offer",
        lambda s: changed(s, "buy_in_offers", 2, to_day=date(2026, 12, 1)),
        ("buy_in_offers", 2, "to_day"),
        "before the horizon",
    ),
]


@pytest.mark.parametrize(
    "name, change, place, message", FORGOTTEN, ids=lambda part: part if isinstance(part, str) else ""
)
def test_what_looks_forgotten(
    name: str,
    change: Callable[[Scenario], Scenario],
    place: tuple[str, int, str],
    message: str,
    scenario: Scenario,
) -> None:
    found = remarks(change(scenario))
    assert [(r.table, r.row, r.column) for r in found] == [place], found
    assert message in found[0].message


def test_a_penalty_of_five_times_the_price_is_not_remarked_on(scenario: Scenario) -> None:
    assert remarks(changed(scenario, "orders", 2, price=1.2, shortfall_penalty=6.0)) == []


def test_salvage_that_pays_for_nothing_is_not_remarked_on(scenario: Scenario) -> None:
    usual = changed(changed(scenario, "nursery", 2, plant_cost=0.8), "products", 2, salvage_most=9)
    assert remarks(changed(usual, "products", 2, salvage_price=0.8)) == []
    assert remarks(changed(scenario, "products", 2, salvage_price=5.0, salvage_most=9)) == []
    assert remarks(changed(scenario, "products", 2, salvage_price=9.0, salvage_most=0)) == []


def test_offer_of_what_nobody_ordered(scenario: Scenario) -> None:
    found = remarks(replace(scenario, orders=scenario.orders[1:]))
    assert [(r.table, r.column) for r in found] == [("products", "product"), ("buy_in_offers", "product")]


def test_terms_of_a_customer_who_orders_nothing(scenario: Scenario) -> None:
    name = scenario.orders[0].customer
    assert not [r for r in remarks(replace(scenario, customers=(Customer(name),))) if r.table == "customers"]
    (remark,) = remarks(replace(scenario, customers=(Customer(f"{name}s", 30),)))
    assert (remark.table, remark.row, remark.column) == ("customers", 2, "customer")
    assert f"the nearest name is '{name}'" in remark.sentence


@pytest.mark.parametrize(
    ("cells", "column", "says"),
    [
        ({"lot": "Melon 26A"}, "format", "no product raises seedlings of 'Melon' in it"),
        ({"sow_day": date(2027, 2, 1)}, "sow_day", "37 days old on 2027-03-10, and grafted up to"),
        ({"seedlings": 90}, "seedlings", "usable seedlings where about 185 were expected"),
    ],
)
def test_trays_on_hand_of_no_use(scenario: Scenario, cells: dict[str, Any], column: str, says: str) -> None:
    """3 trays of 72 cells, .9 · .95 of them usable: 185."""
    (remark,) = remarks(changed(scenario, "trays_on_hand", 2, **cells))
    assert (remark.table, remark.row, remark.column) == ("trays_on_hand", 2, column)
    assert says in remark.message


def test_trays_on_hand_may_stand_in_germination_or_not(scenario: Scenario) -> None:
    """Gourds sown on the last day before the first germinate for four days; a count of 0 or 3 agrees."""
    stood = changed(scenario, "trays_on_hand", 2, sow_day=date(2027, 2, 28))
    for number, alike in ((0.0, True), (3.0, True), (4.0, False)):
        counted = Progress(date(2027, 3, 2), Happened.STANDING, number, zone="Warm room")
        found = remarks(replace(stood, progress=(counted,)))
        assert (not [remark for remark in found if "recorded sowings" in remark.message]) is alike


def test_remarks_name_columns_of_the_tables(scenario: Scenario) -> None:
    for _, change, _, _ in FORGOTTEN:
        for remark in remarks(change(scenario)):
            assert remark.column in BY_NAME[remark.table].by_name


def test_a_remark_in_words() -> None:
    remark = Remark(
        "crews", 2, "Hands\x1b[31m", "pay_per_hour", "12", "published: at least 14.83 USD", "US DOL"
    )
    assert (
        in_words(remark) == "crews, Hands\\x1b[31m, pay_per_hour 12: published: at least 14.83 USD (US DOL)"
    )


def test_every_published_range_has_a_source_that_was_read() -> None:
    for range_ in published_ranges():
        assert range_.source
        assert range_.read in {"R", "A", "C"}
        assert range_.low is not None or range_.high is not None
        assert range_.low is None or range_.high is None or range_.low <= range_.high


@pytest.mark.parametrize(
    "figure, crop, method, low",
    [
        ("take", "watermelon", "splice", 0.07),
        ("take", "seedless Watermelon", "Hole insertion", 0.9),
        ("take", "melon", "hole insertion", 0.55),
        ("germination", "heirloom tomato", "", 0.75),
    ],
)
def test_the_closest_published_range_counts(figure: str, crop: str, method: str, low: float) -> None:
    found = published(figure, crop, method)
    assert found is not None
    assert found.low == low


def test_nothing_is_said_of_crops_without_figures() -> None:
    assert published("take", "quince", "splice") is None
    assert published("take", "melon", "splice") is None

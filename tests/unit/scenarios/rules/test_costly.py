"""What is silent and costs most is remarked on, in the smallest scenario; the demo has none of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path

import pytest

from model.scenario.about_cells import Remark
from model.scenario.entities import DayOff, Scenario, ZoneDay
from model.scenario.records.people import Shift
from scenarios.commands.command_line import DONE, main
from scenarios.files.read_scenario import read_scenario
from scenarios.files.write_scenario import write_folder
from scenarios.rules.costly import (
    COSTLY,
    batches_too_large,
    days_without_care,
    left_from,
    no_variation,
    odd_prices,
    pack_prices,
    seed_in_time,
    tasks_without_hours,
)
from scenarios.rules.remarks import in_words, remarks
from scenarios.variants.by_name import read
from tests.bad_input.small import Tables, grids, small, write_csvs
from tests.specimens import SPECIMENS
from tests.strategies import with_rows

Change = Callable[[Tables], None]


@pytest.fixture
def told(tmp_path: Path) -> Callable[..., list[str]]:
    """The remarks of one kind on the small scenario without its progress, changed."""

    def tell(kind: Callable[[Scenario], object], change: Change = lambda tables: None) -> list[str]:
        tables = small() | {"progress": []}
        change(tables)
        sheets = grids({name: rows for name, rows in tables.items() if rows})
        scenario = read_scenario(write_csvs(sheets, tmp_path / f"s{len(list(tmp_path.iterdir()))}"))
        found: list[Remark] = list(kind(scenario))  # type: ignore[call-overload]
        return [in_words(remark) for remark in found]

    return tell


Tell = Callable[..., list[str]]


@cache
def demo() -> Scenario:
    return read("hollow_ash")


def test_the_demo_has_none() -> None:
    assert [remark for part in COSTLY for remark in part(demo())] == []
    assert list(left_from(demo(), demo())) == []


def test_the_remarks_are_among_all_remarks(told: Tell) -> None:
    assert set(told(tasks_without_hours)) <= set(told(remarks))


def test_orders_due_before_seed_can_come(told: Tell) -> None:
    """Today is 10 March. Seed of 40 days comes on 19 April, too late for the order of 30 April."""

    def change(tables: Tables, lead: int = 40, **more: object) -> None:
        tables["seed_lots"][0] |= {"stock": 0, "lead_days": lead, **more}
        tables["buy_in_offers"] = []
        tables["orders"][2]["due_day"] = date(2027, 5, 27)

    (line,) = told(seed_in_time, change)
    assert line.startswith(
        "orders, O-1, due_day 2027-04-30: is too early: seed of 'Red 26A' takes 40 days to come, "
        "and none is in stock; the first plants are ready on 2027-05-"
    )
    assert told(seed_in_time, lambda tables: change(tables, 5)) == []
    assert told(seed_in_time, lambda tables: change(tables, stock=1)) == []
    late = told(seed_in_time, lambda tables: change(tables, 300))
    assert [line.split(":")[0] for line in late] == [
        "orders, O-1, due_day 2027-04-30",
        "orders, O-3, due_day 2027-05-27",
    ]
    assert not any("first plants" in line for line in late)


def test_orders_that_an_offer_delivers_in_time_are_not_too_early(told: Tell) -> None:
    def change(tables: Tables) -> None:
        tables["seed_lots"][0] |= {"stock": 0, "lead_days": 40}
        tables["orders"] = [row for row in tables["orders"] if row["product"] == "Red on Stout"]
        tables["buy_in_offers"] = [tables["buy_in_offers"][0] | {"product": "Red on Stout", "lead_days": 3}]

    assert told(seed_in_time, change) == []


def test_several_orders_of_a_product_share_a_remark(told: Tell) -> None:
    def change(tables: Tables) -> None:
        tables["seed_lots"][0] |= {"stock": 0, "lead_days": 40}
        tables["buy_in_offers"] = []
        tables["orders"] = [tables["orders"][0] | {"order": name} for name in ("A", "B", "C")]

    (line,) = told(seed_in_time, change)
    assert line.endswith("(and 2 more orders of the product)")


def test_a_pack_priced_like_one_seed(told: Tell) -> None:
    def change(tables: Tables, price: float = 0.165) -> None:
        tables["packs"] = [
            {"item": lot, "size": 1000, "price": 100} for lot in ("Stout 26A", "Green 26A", "Melon 26A")
        ]
        tables["packs"].append({"item": "Red 26A", "size": 1000, "price": price})

    assert told(pack_prices, change) == [
        "packs, Red 26A, price 0.165: for 1,000 makes one cost 0.00016, 606 times less than other seed "
        "(0.1): the price is that of the whole pack"
    ]
    assert told(pack_prices, lambda tables: change(tables, 165)) == []
    (line,) = told(pack_prices, lambda tables: change(tables, 165_000))
    assert "1,650 times more than other seed" in line


def test_a_pack_is_compared_with_the_items_other_packs_and_with_plants(told: Tell) -> None:
    def sizes(tables: Tables) -> None:
        tables["packs"] += [{"item": "Clips", "size": 5000, "price": 0.11}]

    lines = told(pack_prices, sizes)
    assert [line.split(":")[0] for line in lines] == ["packs, Clips, price 12.5", "packs, Clips, price 0.11"]

    def plants(tables: Tables) -> None:
        tables["packs"] = [{"item": "Red 26A", "size": 1000, "price": 0.165}]
        tables["orders"][0]["price"] = 1.2

    (line,) = told(pack_prices, plants)
    assert "less than a plant sold (1.20)" in line


def test_a_price_many_times_the_others(told: Tell) -> None:
    def change(tables: Tables, price: float = 80.0, of_all: float = 1.0, crop: str = "tomato") -> None:
        tables["orders"] = [tables["orders"][n % 4] | {"order": f"O-{n}", "price": of_all} for n in range(8)]
        tables["orders"][3]["price"] = price
        product = tables["orders"][3]["product"]
        for row in tables["products"]:
            row["crop"] = crop if row["product"] == product else "tomato"

    assert told(odd_prices, change) == [
        "orders, O-3, price 80: is 80 times the median of the crop's other orders (1): "
        "check where the decimal point stands"
    ]
    (line,) = told(odd_prices, lambda tables: change(tables, 0.0125))
    assert "is one part in 80 of the median" in line
    assert told(odd_prices, lambda tables: change(tables, 9.0)) == []
    assert told(odd_prices, lambda tables: change(tables, 0.0)) == []

    def other_crop(tables: Tables) -> None:
        change(tables, crop="lettuce")

    assert told(odd_prices, other_crop) == []


def test_prices_of_a_product_are_compared_among_themselves(told: Tell) -> None:
    """Dear and cheap products stand beside each other; offers and pay are compared too."""

    def change(tables: Tables) -> None:
        first, second, *_ = tables["orders"]
        tables["orders"] = [first | {"order": f"A{n}", "price": 0.5} for n in range(5)]
        tables["orders"] += [second | {"order": f"B{n}", "price": 20.0} for n in range(5)]
        tables["buy_in_offers"] = [
            tables["buy_in_offers"][0] | {"product": "Melon on Gourd", "price": 1.9, "offer": "cheap"}
        ]
        tables["crews"] += [tables["crews"][0] | {"crew": f"C{n}"} for n in range(4)]
        tables["crews"][2]["pay_per_hour"] = 2150

    assert [line.split(":")[0] for line in told(odd_prices, change)] == [
        "buy_in_offers, cheap, price 1.9",
        "crews, C1, pay_per_hour 2150",
    ]


def test_tasks_without_a_standard(told: Tell) -> None:
    assert told(tasks_without_hours) == [
        "labour_standards, tasks: move, tend, graft (tomato splice, by ages), stick, care, grade, pack "
        "have no standard, so the work takes no hour and costs nothing"
    ]

    def full(tables: Tables) -> None:
        tables["labour_standards"] = [
            {"task": task, "skill": "general", "seconds": 5}
            for task in ("sow", "move", "tend", "care", "graft", "stick", "grade", "pack")
        ]

    assert told(tasks_without_hours, full) == []

    def consolidating(tables: Tables) -> None:
        full(tables)
        tables["methods"][0]["consolidate"] = "yes"

    (line,) = told(tasks_without_hours, consolidating)
    assert line.startswith("labour_standards, tasks: consolidate has no standard")


def test_days_on_which_nobody_looks_after_plants() -> None:
    """Weekend hands have no shift on the days off, and without hours of the others there nobody is left."""
    (crew, *_) = (crew for crew in demo().crews if "general" in crew.skills)
    hands = replace(crew, crew="hands", skills=("general",), day_off_hours_per_head=0.0, attendants=0.0)
    weekend = replace(hands, crew="weekend", hours_per_head_day=0.0, overtime_hours_per_head_day=0.0)
    without = replace(
        demo(),
        crews=(hands, weekend),
        crew_days=(),
        shifts=(Shift("weekend", ("Sat", "Sun"), 3.0, None),),
        days_off=tuple(DayOff(date(2027, 3, day)) for day in (26, 29)),
    )
    (remark,) = days_without_care(without)
    assert in_words(remark) == (
        "crews, day_off_hours_per_head: nobody with the skill 'general' has hours on 2 days, the first "
        "2027-03-26: no tray that they look after can stand in the nursery then"
    )
    there = replace(hands, day_off_hours_per_head=1.0)
    assert list(days_without_care(replace(without, crews=(there, weekend)))) == []


def test_joins_without_variation(told: Tell) -> None:
    def change(tables: Tables, **cells: float) -> None:
        tables["methods"][0] |= cells

    assert told(no_variation) == []
    (line,) = told(no_variation, lambda tables: change(tables, take=1))
    assert line.startswith("methods, tomato splice, take 1: so every join heals")
    (line,) = told(no_variation, lambda tables: change(tables, take_correlation=0))
    assert line.startswith("methods, tomato splice, take_correlation 0: so no graft day does better")


def test_orders_too_small_for_a_batch_and_batches_too_large_for_a_day() -> None:
    """60 and 90 plants, due 5 days apart and held for 3 at most: 79 and 118 joins of which .76 are sold."""
    book = SPECIMENS["least batch"]

    def told(least: int, scenario: Scenario = book) -> list[str]:
        batch = with_rows(scenario, "methods", lambda row: replace(row, least_batch=least))
        return [in_words(remark) for remark in batches_too_large(batch)]

    assert told(78) == []
    assert told(100) == []  # with the days off between them both may come from one day
    far = replace(book, orders=(book.orders[0], replace(book.orders[1], due_day=date(2027, 3, 21))))
    assert told(78, far) == []
    (line,) = told(100, far)
    assert line == (
        "orders, O-1, quantity 60: is, with the orders due near it, about 21 joins below the least batch of "
        "splice (100): it is left short, or that many more are joined for nobody"
    )
    zones = tuple(replace(z, slots=9.0) if z.zone == "Chamber" else z for z in book.zones)
    assert told(90, replace(book, zones=zones)) == []
    (line,) = told(91, replace(book, zones=zones))
    assert line == (
        "methods, splice, least_batch 91: is more than the healing zones hold (90 joins): by this method "
        "nothing is joined"
    )
    grown = replace(book, zones=zones, zone_days=(ZoneDay("Chamber", date(2027, 3, 9), slots=20.0),))
    assert told(91, grown) == []


def test_rows_of_the_demo_left_by_mistake_are_told_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    mine = replace(
        demo(),
        nursery=replace(demo().nursery, name="Mine"),
        packs=tuple(replace(pack, price=pack.price + 1) for pack in demo().packs[:5]) + demo().packs[5:],
        days_off=demo().days_off[:1],
    )
    (remark,) = left_from(demo(), mine)
    assert f"{len(demo().packs) - 5} rows of packs" in remark.message
    assert "days_off" not in remark.message
    write_folder(mine, tmp_path / "mine")
    assert main(["check", str(tmp_path / "mine")]) == DONE
    assert capsys.readouterr().out.count("are the demo's, word for word") == 1

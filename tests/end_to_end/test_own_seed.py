"""A customer sends seed for own orders: free for the nursery, told how much by what day, at what risk."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from model.planned.plan_tables import records
from model.planned.results import result_of
from model.proof.audit import audit
from model.scenario.entities import Scenario
from model.scenario.records.trade import Pack
from model.solve import plan
from reports.work.dispatch_notes import OWN_SEED, deliveries
from scenarios.cells.faults import BadInput
from scenarios.commands.command_line import DONE, main
from scenarios.files.read_scenario import read_scenario
from scenarios.files.write_scenario import write_folder
from tests.end_to_end.test_one_number import told
from tests.strategies import base_scenario, with_rows

FARM = "Market farm"
SEEDS = 180
"""Of 19 trays of twenty for 200 plants (292.4 seedlings at 16.2 a tray), less the 200 for 100 plants."""


def book() -> Scenario:
    """The base; the customer sends the seed of the scion two days before it is sown, in bags of a tray."""
    made = base_scenario(packs=(Pack("Red A", 20.0, 0.0), Pack("Stout A", 1.0, 0.25)))
    return with_rows(
        made,
        "seed_lots",
        lambda lot: replace(lot, customer=FARM, lead_days=2) if lot.lot == "Red A" else lot,
    )


def test_the_seed_costs_the_nursery_nothing_and_the_note_names_the_risk() -> None:
    """What is left is the rootstocks' seed: 190 seeds at 0.25."""
    scenario = book()
    made = plan(scenario)
    assert result_of(made).cost == pytest.approx(190 * 0.25)
    assert all(check.passed for check in audit(scenario, made))
    (note,) = deliveries(scenario, made, first=scenario.nursery.first_day, days=30)
    assert note.own_seed
    ours = with_rows(scenario, "seed_lots", lambda lot: replace(lot, customer=None))
    (note,) = deliveries(ours, made, first=scenario.nursery.first_day, days=30)
    assert not note.own_seed


def test_the_offer_says_how_much_seed_by_what_day(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_folder(book(), tmp_path / "book")
    (order,) = book().orders
    asked = ["--product", order.product, "--quantity", "100", "--due", order.due_day.isoformat()]
    verb = ["quote", str(tmp_path / "book"), *asked, "--customer", FARM, "-o", str(tmp_path / "out")]
    assert main(verb) == DONE
    with_it = plan(replace(book(), orders=(order, replace(order, order="asked"))))
    (red,) = [row for row in records(with_it.purchases) if row["item"] == "Red A"]
    assert red["size"] * red["packs"] == SEEDS + 200
    said = f"{SEEDS} seeds of Red (lot Red A), here by {red['order_by']}"
    assert said in " ".join(capsys.readouterr().out.split())
    page = openpyxl.load_workbook(tmp_path / "out" / "offers.xlsx").worksheets[0]
    cells = [str(cell) for row in page.values for cell in row if cell is not None]
    assert said in cells
    assert OWN_SEED in " ".join(cells)


def test_the_seed_sheet_says_who_sends_it(tmp_path: Path) -> None:
    write_folder(book(), tmp_path / "book")
    assert main(["plan", str(tmp_path / "book"), "-o", str(tmp_path / "out")]) == DONE
    row = told(tmp_path / "out" / "plan.xlsx", "Seed", **{"Seed lot": "Red A"})
    assert (row["Sent by its customer"], row["Units bought"]) == (FARM, 200)


def test_nobody_else_gets_plants_of_it_and_it_has_no_price(tmp_path: Path) -> None:
    """Each fault at once: another's order, plants sold as surplus, a pack with a price, a second sender."""
    made = book()
    red = made.seed_lots[0]
    bad = replace(
        made,
        orders=(*made.orders, replace(made.orders[0], order="O-2", customer="Glasshouse")),
        products=tuple(replace(row, salvage_price=0.5, salvage_most=10) for row in made.products),
        packs=(Pack("Red A", 20.0, 4.0), *made.packs[1:]),
        seed_lots=(*made.seed_lots, replace(red, lot="Red B", customer="Glasshouse")),
    )
    write_folder(bad, tmp_path / "book")
    with pytest.raises(BadInput) as refused:
        read_scenario(tmp_path / "book")
    places = {(fault.table, fault.column) for fault in refused.value.faults}
    assert places == {
        ("orders", "product"),
        ("products", "salvage_most"),
        ("packs", "price"),
        ("seed_lots", "customer"),
    }

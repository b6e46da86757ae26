"""Variants: what they expand to is what the same cells written into the tables would read as."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from enum import Enum
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from model.proof.audit import audit
from model.scenario.about_cells import CellChange
from model.scenario.choices import Source
from model.scenario.entities import Scenario
from model.scenario.tables import TABLES, records_of
from model.solve import plan
from scenarios import read
from scenarios.cells.draft import text_of
from scenarios.cells.faults import BadInput, render_faults
from scenarios.files.read_scenario import read_scenario
from scenarios.files.write_scenario import write_workbook
from scenarios.variants.toml_read import read_document
from scenarios.variants.variants import base_variant, read_case, read_variant
from tests.bad_input.small import Tables, grids, small, write_csvs
from tests.places import DEMO, ROOT

DEMO_VARIANTS = sorted((DEMO / "variants").glob("*.toml"))
HEAD = 'name = "changed"\nparent = "base"\n'


def base(folder: Path) -> Path:
    """The small scenario as a folder named base."""
    return write_csvs(grids(small()), folder / "base")


def variant(folder: Path, text: str, name: str = "changed", parent: str = "base") -> Path:
    """A variant's file beside the base."""
    path = folder / f"{name}.toml"
    path.write_text(f'name = "{name}"\nparent = "{parent}"\n{text}', encoding="utf-8")
    return path


def changed_tables(change: Callable[[Tables], None], folder: Path) -> Scenario:
    """The small scenario with its tables changed before they are written and read."""
    tables = small()
    change(tables)
    return read_scenario(write_csvs(grids(tables), folder / "told"))


def literal(value: Any) -> str:
    """A value as TOML."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float | date) and not isinstance(value, Enum):
        return value.isoformat() if isinstance(value, date) else repr(value)
    text = text_of(value).replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return f'"{text}"'


MANY = """
note = "a bit of each"

[[change]]
table = "methods"
row = "tomato splice"
column = "take"
value = 0.8

[[change]]
table = "orders"
row = "*"
column = "quantity"
times = 1.15

[[change]]
table = "stages"
row = { method = "root cut", step = 2 }
column = "days"
plus = -1

[[change]]
table = "supply_uses"
row = { supply = "Clips", per = "join", method = "tomato splice" }
column = "quantity"
value = 2

[[change]]
table = "days_off"
row = "2027-04-02"
column = "reason"
value = "fair"

[[change]]
table = "nursery"
column = "overhead"
value = 100

[[change]]
table = "age_effects"
row = { method = "by ages", rootstock_age = 20, scion_age = 18 }
column = "take"
value = ""

[[add]]
table = "buy_in_offers"
[add.values]
offer = "Far away"
product = "Melon on Gourd"
price = 1.4
lead_days = 21
delivery_weekdays = "Mon;Thu"
to_day = 2027-05-20

[[remove]]
table = "crew_days"
row = { crew = "Grafters", from_day = 2027-04-05 }

[[remove]]
table = "orders"
row = "O-4"
"""


def many(tables: Tables) -> None:
    """What MANY says, done to the tables."""
    del tables["orders"][3], tables["crew_days"]
    tables["methods"][0]["take"] = 0.8
    for row, quantity in zip(tables["orders"], (552, 1104, 276), strict=True):
        row["quantity"] = quantity
    (cut,) = [row for row in tables["stages"] if row["method"] == "root cut" and row["step"] == 2]
    cut["days"] = 3
    tables["supply_uses"][0]["quantity"] = 2
    tables["days_off"][0]["reason"] = "fair"
    tables["nursery"][0]["overhead"] = 100
    tables["age_effects"][0]["take"] = None
    tables["buy_in_offers"].append(
        {
            "offer": "Far away",
            "product": "Melon on Gourd",
            "price": 1.4,
            "lead_days": 21,
            "delivery_weekdays": "Mon;Thu",
            "to_day": date(2027, 5, 20),
        }
    )


def test_a_variant_is_the_scenario_of_the_changed_tables(tmp_path: Path) -> None:
    base(tmp_path)
    found = read_variant(variant(tmp_path, MANY))
    assert found.scenario == changed_tables(many, tmp_path)
    assert (found.name, found.note) == ("changed", "a bit of each")
    assert read(found.path) == found.scenario


def test_every_cell_changed_is_listed_once_with_what_it_was(tmp_path: Path) -> None:
    base(tmp_path)
    changes = read_variant(variant(tmp_path, MANY)).changes
    told = {(c.table, c.row, c.column): (c.before, c.after) for c in changes if c.table != "buy_in_offers"}
    assert told == {
        ("methods", "tomato splice", "take"): (0.92, 0.8),
        ("orders", "O-1", "quantity"): (480, 552),
        ("orders", "O-2", "quantity"): (960, 1104),
        ("orders", "O-3", "quantity"): (240, 276),
        ("orders", "O-4", "quantity"): (120, None),
        ("orders", "O-4", "order"): ("O-4", None),
        ("orders", "O-4", "customer"): ("Market farm", None),
        ("orders", "O-4", "product"): ("Green on Stout", None),
        ("orders", "O-4", "due_day"): (date(2027, 5, 14), None),
        ("orders", "O-4", "decline"): ("no", None),
        ("orders", "O-4", "cancel_chance"): (0.0, None),
        ("orders", "O-4", "held"): ("no", None),
        ("stages", "root cut, 2", "days"): (4, 3),
        ("supply_uses", "Clips, join, tomato splice", "quantity"): (1.0, 2.0),
        ("days_off", "2027-04-02", "reason"): ("holiday", "fair"),
        ("nursery", "", "overhead"): (0.0, 100.0),
        ("age_effects", "by ages, 20, 18", "take"): (0.9, None),
        ("crew_days", "Grafters, 2027-04-05", "crew"): ("Grafters", None),
        ("crew_days", "Grafters, 2027-04-05", "from_day"): (date(2027, 4, 5), None),
        ("crew_days", "Grafters, 2027-04-05", "heads"): (4.0, None),
    }
    added = [c for c in changes if c.table == "buy_in_offers"]
    assert all(c.before is None and c.row == "Far away" for c in added)
    assert {c.column: c.after for c in added}["delivery_weekdays"] == "Mon;Thu"
    assert all(c.file == "changed.toml" for c in changes)


def test_a_variant_on_a_variant_changes_what_its_parent_has_made(tmp_path: Path) -> None:
    base(tmp_path)
    write_workbook(read_scenario(tmp_path / "base"), tmp_path / "book.xlsx")
    take = '[[change]]\ntable = "methods"\nrow = "*"\ncolumn = "take"\ntimes = 0.5\n'
    (tmp_path / "deep").mkdir()
    variant(tmp_path / "deep", take, "first", "../book.xlsx")
    found = read_variant(variant(tmp_path, take, "second", "deep/first.toml"))
    assert [method.take for method in found.scenario.methods] == [0.23, 0.23, 0.2, None]
    assert [(c.row, c.before, c.after, c.file) for c in found.changes] == [
        ("tomato splice", 0.92, 0.46, "first.toml"),
        ("root cut", 0.92, 0.46, "first.toml"),
        ("by ages", 0.8, 0.4, "first.toml"),
        ("tomato splice", 0.46, 0.23, "second.toml"),
        ("root cut", 0.46, 0.23, "second.toml"),
        ("by ages", 0.4, 0.2, "second.toml"),
    ]


def test_a_row_renamed_by_the_parent_has_its_new_name_in_the_child(tmp_path: Path) -> None:
    base(tmp_path)
    rename = '[[change]]\ntable = "orders"\nrow = "O-1"\ncolumn = "order"\nvalue = "N-1"\n'
    variant(tmp_path, rename, "first")
    more = '[[change]]\ntable = "orders"\nrow = "N-1"\ncolumn = "quantity"\nvalue = 7\n'
    found = read_variant(variant(tmp_path, more, "second", "first.toml"))
    assert (found.scenario.orders[0].order, found.scenario.orders[0].quantity) == ("N-1", 7)
    assert found.changes[-1] == CellChange("orders", "N-1", "quantity", 480, 7, "second.toml")


def test_all_rows_of_a_change_pass_over_rows_removed_and_added(tmp_path: Path) -> None:
    base(tmp_path)
    text = (
        '[[remove]]\ntable = "orders"\nrow = "O-2"\n'
        '[[change]]\ntable = "orders"\nrow = "*"\ncolumn = "quantity"\nvalue = 9\n'
        '[[add]]\ntable = "orders"\nvalues = { order = "O-9", customer = "New", product = "Red plain", '
        "quantity = 77, due_day = 2027-05-03 }\n"
    )
    orders = read_variant(variant(tmp_path, text)).scenario.orders
    assert [(o.order, o.quantity) for o in orders] == [("O-1", 9), ("O-3", 9), ("O-4", 9), ("O-9", 77)]


def test_whole_numbers_are_rounded_to_the_nearest_and_binary_noise_is_gone(tmp_path: Path) -> None:
    base(tmp_path)
    text = (
        '[[change]]\ntable = "orders"\nrow = "*"\ncolumn = "quantity"\ntimes = 1.01\n'
        '[[change]]\ntable = "packs"\nrow = { item = "Clips", size = 500 }\ncolumn = "price"\nplus = 0.1\n'
        '[[change]]\ntable = "crews"\nrow = "Grafters"\ncolumn = "pay_per_hour"\ntimes = 1.1\n'
    )
    found = read_variant(variant(tmp_path, text)).scenario
    assert [o.quantity for o in found.orders] == [485, 970, 242, 121]
    assert found.packs[1].price == 12.6
    assert found.crews[0].pay_per_hour == 23.65


def test_texts_stay_as_written(tmp_path: Path) -> None:
    base(tmp_path)
    text = '[[change]]\ntable = "orders"\nrow = "O-1"\ncolumn = "customer"\nvalue = "\'=1+1"\n'
    assert read_variant(variant(tmp_path, text)).scenario.orders[0].customer == "'=1+1"


@pytest.mark.parametrize("table", [table.name for table in TABLES])
def test_every_cell_written_as_it_is_changes_nothing(table: str, tmp_path: Path) -> None:
    """All columns of all types take their own value, and every row is found by its key."""
    scenario = read_scenario(base(tmp_path))
    schema = next(each for each in TABLES if each.name == table)
    text = ""
    for record in records_of(scenario, schema):
        for column in schema.columns:
            if getattr(record, column.name) is None:
                continue
            text += f'[[change]]\ntable = "{table}"\ncolumn = "{column.name}"\n'
            text += f"value = {literal(getattr(record, column.name))}\n"
            key = {name: getattr(record, name) for name in schema.key}
            if key:
                parts = [f"{name} = {literal(part)}" for name, part in key.items() if part is not None]
                text += f"row = {{ {', '.join(parts)} }}\n"
    found = read_variant(variant(tmp_path, text))
    assert found.scenario == scenario
    assert found.changes == ()


def test_a_plain_scenario_is_a_variant_without_changes(tmp_path: Path) -> None:
    folder = base(tmp_path)
    found = base_variant(folder)
    assert (found.name, found.changes, found.scenario) == ("base", (), read_scenario(folder))
    assert read_case(folder) == found
    assert read(folder) == found.scenario


# Lines

STATEMENTS = st.sampled_from(
    [
        "",
        "# [[change]]",
        "note = '''\n[[change]]\ntable = \"x\"\n'''",
        'note = """\n# not a comment\n[[add]]\\\n   \n"""',
        "list = [\n  1, # ]\n  2,\n]",
        "odd = { a = 1, b = [[1]] }",
        "'quoted key' = 1",
        "a.b.c = 3",
        "time = 07:32:00",
    ]
)
ENTRIES = st.lists(
    st.tuples(st.sampled_from(["change", "add", "remove"]), st.lists(STATEMENTS, max_size=3)), max_size=6
)


@given(st.lists(STATEMENTS, max_size=3), ENTRIES)
def test_each_entry_and_key_is_found_on_its_line(
    tmp_path_factory: pytest.TempPathFactory, top: list[str], entries: list[tuple[str, list[str]]]
) -> None:
    lines: list[str] = []
    expected: dict[tuple[str | int, ...], int] = {}
    counts = {"change": 0, "add": 0, "remove": 0}

    def write(statements: list[str], place: tuple[str | int, ...]) -> None:
        for statement in {s.split(" = ")[0]: s for s in statements}.values():
            key = statement.split(" = ")[0].strip("'")
            if statement and not statement.startswith("#"):
                expected[(*place, *key.split("."))] = len(lines) + 1
            lines.extend(statement.split("\n"))

    write(top, ())
    for kind, statements in entries:
        expected[kind, counts[kind]] = len(lines) + 1
        lines.append(f"  [[ {kind} ]]  # entry")
        write(statements, (kind, counts[kind]))
        counts[kind] += 1
    path = tmp_path_factory.mktemp("lines") / "a.toml"
    path.write_text("\n".join(lines), encoding="utf-8")
    document = read_document(path)
    assert {place: document.line(place) for place in expected} == expected


def test_lines_of_tables_under_an_entry(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_text("[[add]]\r\n[add.values]\r\nx = 1\r\n[[add]]\r\n\r\n[add.values]\r\ny.z = 2\r\n")
    document = read_document(path)
    assert [document.line(("add", 0, "values", "x")), document.line(("add", 1, "values"))] == [3, 6]
    assert document.line(("add", 1, "values", "y", "z")) == 7
    assert document.line(("add", 1, "values", "none")) == 6


# The demo's

NAMES = {
    "all_bought_in",
    "all_in_house",
    "one_chamber_module_more",
    "one_grafter_fewer",
    "poor_take",
    "root_cut_everywhere",
    "wages_up_15",
}


def test_the_demo_has_its_variants() -> None:
    assert {path.stem for path in DEMO_VARIANTS} == NAMES


@pytest.mark.parametrize("path", DEMO_VARIANTS, ids=lambda path: path.stem)
def test_the_demos_variants_plan_and_pass_the_audit(path: Path) -> None:
    found = read_variant(path)
    assert found.note
    assert "\n" not in found.note
    assert found.changes
    result = plan(found.scenario)
    assert [check for check in audit(found.scenario, result) if not check.passed] == []


def test_the_demos_variants_do_what_they_say() -> None:
    found = {path.stem: read_variant(path).scenario for path in DEMO_VARIANTS}
    home = read_scenario(DEMO)
    assert {p.source for p in found["all_in_house"].products} == {Source.GROW}
    grafted = [p for p in found["all_bought_in"].ordered_products if p.rootstock]
    offered = {offer.product for offer in found["all_bought_in"].buy_in_offers}
    assert {p.source for p in grafted} == {Source.BUY}
    assert {p.product for p in grafted} <= offered
    assert found["one_chamber_module_more"].modules[0].added == 1
    assert found["one_grafter_fewer"].crews[0].heads == home.crews[0].heads - 1
    assert {
        m.kind.value
        for m in found["root_cut_everywhere"].methods
        if m.method in {p.method for p in found["root_cut_everywhere"].products if p.rootstock}
    } == {"root-cut"}
    for low, usual in zip(found["poor_take"].methods, home.methods, strict=True):
        assert low.take == (None if usual.take is None else pytest.approx(0.85 * usual.take))
    for dear, crew in zip(found["wages_up_15"].crews, home.crews, strict=True):
        assert dear.pay_per_hour == pytest.approx(1.15 * crew.pay_per_hour)
        assert dear.temp_pay_per_hour == pytest.approx(1.15 * crew.temp_pay_per_hour)


# The page

DOCS = ROOT / "docs" / "variants.md"


def blocks(kind: str) -> list[str]:
    """The fenced blocks of a kind on the page."""
    fenced = re.findall(r"^```(\w*)\n(.*?)^```$", DOCS.read_text(encoding="utf-8"), re.DOTALL | re.MULTILINE)
    return [text for name, text in fenced if name == kind]


def test_the_pages_examples_can_be_read(tmp_path: Path) -> None:
    first, second, third = blocks("toml")
    assert first == (DEMO / "variants" / "poor_take.toml").read_text(encoding="utf-8")
    (tmp_path / "hollow_ash").symlink_to(DEMO, target_is_directory=True)
    (tmp_path / "second.toml").write_text(second, encoding="utf-8")
    (tmp_path / "poor_take.toml").write_text(first.replace('".."', '"hollow_ash"'), encoding="utf-8")
    (tmp_path / "third.toml").write_text(third, encoding="utf-8")
    found = read_variant(tmp_path / "second.toml").scenario
    assert found.nursery.last_day == date(2027, 7, 9)
    assert len(found.orders) == len(read_scenario(DEMO).orders) - 1
    files = {change.file for change in read_variant(tmp_path / "third.toml").changes}
    assert files == {"poor_take.toml", "third.toml"}


def test_the_pages_faults_are_told_so(tmp_path: Path) -> None:
    first = blocks("toml")[0].replace('".."', '"hollow_ash"').replace('"methods"', '"method"')
    first += '\n[[change]]\ntable = "methods"\nrow = "tomato splice"\ncolumn = "take"\ntimes = 1.2\n'
    (tmp_path / "hollow_ash").symlink_to(DEMO, target_is_directory=True)
    path = tmp_path / "poor_take.toml"
    path.write_text(first, encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        read_variant(path)
    assert render_faults(caught.value.faults) + "\n" in blocks("")


def test_the_page_names_the_demos_variants() -> None:
    named = re.findall(r"^\| `(\w+)\.toml` \|", DOCS.read_text(encoding="utf-8"), re.MULTILINE)
    assert set(named) == NAMES

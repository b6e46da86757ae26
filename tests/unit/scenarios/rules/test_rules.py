"""Rules let pass what may be, and agree with the network on what no day can meet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any, get_args, get_type_hints

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from model.network.expansion import expand
from model.scenario.entities import DayOff, Scenario
from model.scenario.tables import TABLES, Table, Type, records_of
from scenarios.cells.draft import Draft, DraftRow
from scenarios.cells.faults import BadInput, Fault, nearest, render_faults
from scenarios.files.read_scenario import read_scenario
from scenarios.rules.all_rules import RULES, check
from tests.bad_input.small import Tables, grids, small, write_csvs
from tests.depth import deep


def read(tables: Tables, place: Path) -> Scenario:
    return read_scenario(write_csvs(grids(tables), place / "scenario"))


def draft_of(scenario: Scenario) -> Draft:
    """A scenario as the rules see it."""
    draft = Draft()
    for table in TABLES:
        for number, record in enumerate(records_of(scenario, table), 2):
            values = {column.name: getattr(record, column.name) for column in table.columns}
            draft.tables[table.name].append(DraftRow(table.name, number, values))
    return draft


ALLOWED: dict[str, Callable[[Tables], Any]] = {
    "bench serves for germination": lambda t: t["seed_lots"][1].update(germination_zone="Bench"),
    "seedlings on the finishing bench": lambda t: t["seed_lots"][0].update(bench_zone="House"),
    "finishing on the seedling bench": lambda t: t["stages"][2].update(zone="Bench"),
    "waiting on the seedling bench": lambda t: t["methods"][0].update(holding_zone="Bench"),
    "zone that gets its slots later": lambda t: t["zones"][3].update(slots=0),
    "zone to be built of modules": lambda t: t["zones"][2].update(units=0),
    "method without stages": lambda t: t.update(stages=[r for r in t["stages"] if r["method"] != "own root"]),
    "several lots of one variety": lambda t: t["seed_lots"].append(t["seed_lots"][0] | {"lot": "Red 25B"}),
    "table without rows": lambda t: t.update(crew_days=[dict.fromkeys(t["crew_days"][0])]),
    "skill that nothing wants": lambda t: t["crews"][0].update(skills="grafting;general;welding"),
    "a window of one day": lambda t: t["methods"][3].update(scion_age_min=21, scion_age_max=21),
    "own-root raised in other trays": lambda t: t["products"][2].update(scion_formats="128;72"),
    "equal figures in two rows of uses": lambda t: t["supply_uses"].append(
        t["supply_uses"][0] | {"method": None}
    ),
    "a day off outside the horizon": lambda t: t["days_off"].append({"day": date(2026, 12, 25)}),
    "two batches of a product where units are told apart": lambda t: (
        t["products"].append(t["products"][0] | {"product": "Red for Shop", "sold_as": "Red on Stout"}),
        t["apart"][0].update(share="unit", cleaning_days=0),
    ),
    "a customer in two spellings": lambda t: t["orders"][0].update(customer="MARKET FARM"),
}


@pytest.mark.parametrize("name", ALLOWED)
def test_what_may_be(name: str, tmp_path: Path) -> None:
    tables = small()
    ALLOWED[name](tables)
    assert read(tables, tmp_path).nursery.name == "Test nursery"


def test_rules_have_names_of_their_own() -> None:
    assert len({rule.name for rule in RULES}) == len(RULES)


def test_a_valid_scenario_breaks_no_rule(tmp_path: Path) -> None:
    assert check(draft_of(read(small(), tmp_path))) == []


@pytest.fixture(scope="module")
def scenario(tmp_path_factory: pytest.TempPathFactory) -> Scenario:
    made = read_scenario(write_csvs(grids(small()), tmp_path_factory.mktemp("small") / "s"))
    return replace(made, buy_in_offers=(), orders=made.orders[:3])


WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


@settings(max_examples=deep(60), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    weekdays=st.sets(st.sampled_from(WEEKDAYS), min_size=2),
    off=st.sets(st.integers(0, 40), max_size=8),
    window=st.tuples(st.integers(10, 20), st.integers(0, 8)),
    germination=st.integers(0, 12),
    stage=st.integers(0, 9),
    due=st.integers(0, 60),
)
def test_due_before_ready_is_what_the_network_cannot_reach(
    weekdays: set[str],
    off: set[int],
    window: tuple[int, int],
    germination: int,
    stage: int,
    due: int,
    scenario: Scenario,
) -> None:
    """An order is faulted exactly where no wave sown from the first day on can serve it."""
    nursery = replace(scenario.nursery, working_weekdays=tuple(sorted(weekdays, key=WEEKDAYS.index)))
    day = nursery.first_day + timedelta(days=due)
    ages = {"scion_age_min": window[0], "scion_age_max": sum(window)}
    changed = replace(
        scenario,
        nursery=nursery,
        days_off=tuple(DayOff(nursery.first_day + timedelta(days=t)) for t in sorted(off)),
        orders=tuple(replace(order, due_day=day) for order in scenario.orders),
        methods=tuple(replace(m, holding_limit_days=30, **ages) for m in scenario.methods),
        seed_lots=tuple(replace(lot, germination_days=germination) for lot in scenario.seed_lots),
        stages=tuple(replace(s, days=stage) for s in scenario.stages),
    )
    faults = check(draft_of(changed))
    network = expand(changed)
    served = {network.orders[delivery.order].order.order for delivery in network.deliveries}
    late = {order.order for order in changed.orders} - served
    assume(all(fault.column == "due_day" for fault in faults))
    assert {changed.orders[fault.row - 2].order for fault in faults if fault.row} == late
    for fault in faults:
        if fault.remedy.startswith("write 2027"):
            assert_earliest(changed, fault)


def assert_earliest(scenario: Scenario, fault: Fault) -> None:
    """The day that the remedy names can be met, and the day before cannot."""
    assert fault.row is not None
    order = scenario.orders[fault.row - 2]
    earliest = date.fromisoformat(fault.remedy.split()[1])
    for day, reached in ((earliest, True), (earliest - timedelta(days=1), False)):
        network = expand(replace(scenario, orders=(replace(order, due_day=day),)))
        assert bool(network.deliveries) == reached


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_columns_fit_the_types_of_their_attributes(table: Table) -> None:
    """Each column is an attribute of the record, in order, of a fitting type; the scenario has the table."""
    hints = get_type_hints(table.record)
    assert [column.name for column in table.columns] == [field.name for field in fields(table.record)]
    assert table.name in {field.name for field in fields(Scenario)}
    kinds = {
        Type.TEXT: str,
        Type.REFERENCE: str,
        Type.DATE: date,
        Type.WHOLE: int,
        Type.NUMBER: float,
        Type.SHARE: float,
        Type.YES_NO: bool,
        Type.CHOICES: tuple[str, ...],
        Type.REFERENCES: tuple[str, ...],
    }
    for column in table.columns:
        options = set(get_args(hints[column.name])) - {type(None)}
        expected = column.enum if column.type is Type.CHOICE else kinds[column.type]
        assert hints[column.name] == expected or options == {expected}, column.name
        blank = None if column.required else column.default
        if blank is None and not column.required:
            assert type(None) in get_args(hints[column.name]), column.name
        for target, name in column.references:
            assert name in {t.name: t for t in TABLES}[target].by_name


def test_every_scenario_table_has_a_schema() -> None:
    assert {table.name for table in TABLES} == {field.name for field in fields(Scenario)}


def test_faults_in_words() -> None:
    fault = Fault(
        "orders", 5, "product", "Tomatto\x1b[2J", "is not in table products", "did you mean 'Tomato'?"
    )
    text = "orders, row 5, product: 'Tomatto\\x1b[2J' is not in table products; did you mean 'Tomato'?"
    assert str(fault) == text
    assert render_faults([fault]) == f"{text}\n1 fault; the scenario was not used"
    assert str(BadInput([fault, fault])).endswith("2 faults; the scenario was not used")
    assert str(Fault("", None, "", "x.xlsx", "is damaged", "save it")) == "'x.xlsx' is damaged; save it"


def test_long_values_are_cut_in_messages() -> None:
    assert len(str(Fault("t", 1, "c", "x" * 10_000, "w", "r"))) < 100


@pytest.mark.parametrize(
    "word, found",
    [("GRAFTERS", "Grafters"), ("Graftres", "Grafters"), ("packers ", "Packers"), ("zebra", None)],
)
def test_nearest_name(word: str, found: str | None) -> None:
    assert nearest(word, ["Grafters", "Packers", "Drivers"]) == found


def test_names_within_messages_are_printable(tmp_path: Path) -> None:
    tables = small()
    tables["methods"][2]["method"] = tables["products"][3]["method"] = "by\u202eages"
    tables["stages"] = [
        r | {"method": "by\u202eages"} if r["method"] == "by ages" else r for r in tables["stages"]
    ]
    tables["age_effects"] = [row | {"method": "by\u202eages", "match": None} for row in tables["age_effects"]]
    with pytest.raises(BadInput) as caught:
        read(tables, tmp_path)
    assert "method 'by\\u202eages' takes its match from ages" in str(caught.value)
    assert "\u202e" not in str(caught.value)

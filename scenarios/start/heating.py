"""What a bay costs in each month, from its cover, the set point, the temperature outside and the fuel."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from model.phases import Say, silent
from model.rates.heat import NAMED, Heating
from model.scenario.choices import ZoneMode
from model.scenario.entities import Scenario
from model.scenario.records.rooms import Bays
from reports.book.style import CellKind
from reports.book.words import amount, unit_price
from reports.book.writing import figure
from reports.study import column
from reports.study.study import Chart, Figure, Input, Section, Study
from scenarios.cells.faults import Refused, meant, shown

FILE = "heated_bays.toml"
MONTHS = 12
COLDEST, WARMEST = -80.0, 150.0
"""Temperatures outside this range are taken for a slip of the pen, in either measure."""


@dataclass(frozen=True, slots=True)
class Month:
    """A month of the plan: its first day there, and the mean temperature outside."""

    first: date
    outdoor: float


def heat_study(
    scenario: Scenario,
    *,
    zone: str,
    outdoor: str,
    heating: Heating,
    slots_per_bay: float | None = None,
    parent: str | None = None,
    progress: Say = silent,
) -> Study:
    """Cost of a bay-week in each month, and a variant with these rows in the table ``bays``.

    ``outdoor``: mean temperatures from January to December, as text. ``slots_per_bay``: None for those of the
    table ``bays``, else for all slots of the zone. ``parent``: as for ``rates_study``. Raises Refused where
    the zone is no pool of the scenario, or the temperatures are not twelve.
    """
    progress("heat")
    slots = _slots(scenario, zone) if slots_per_bay is None else slots_per_bay
    means = _means(outdoor)
    months = [Month(first, means[first.month - 1]) for first in _months(scenario)]
    rows = [_row(scenario, zone, slots, heating, month, n == 0) for n, month in enumerate(months)]
    return Study(
        "Heat",
        scenario,
        _answer(scenario, zone, slots, heating, months),
        _figures(scenario, heating, months),
        [_section(scenario, heating, months)],
        [("Zone", zone), ("Slots of a bay", slots), ("Measures", heating.measures.value)],
        _inputs(scenario, heating),
        files=[] if parent is None else [(FILE, _variant(scenario, zone, slots, rows, parent))],
    )


def _slots(scenario: Scenario, name: str) -> float:
    """Slots of a bay: those of the table ``bays``, else all slots of the zone."""
    zones = {zone.zone: zone for zone in scenario.zones if zone.mode is ZoneMode.POOL}
    if name not in zones:
        remedy = meant(name, zones, f"the pools are {', '.join(zones)}")
        raise Refused(f"the scenario has no pool {shown(name)}: {remedy}")
    own = [row.slots_per_bay for row in scenario.bays if row.zone == name and row.slots_per_bay]
    return own[0] if own else zones[name].slots or 0.0


def _means(text: str) -> list[float]:
    """Twelve temperatures, written with points as decimals and commas or blanks between."""
    try:
        means = [float(part) for part in text.replace(",", " ").replace(";", " ").split()]
    except ValueError:
        means = []
    if len(means) != MONTHS or not all(COLDEST <= mean <= WARMEST for mean in means):
        raise Refused(
            f"--outdoor {shown(text)}: write the mean temperatures outside of the months from January on, "
            "such as --outdoor=-3,-1,4,9,14,18,20,19,15,9,4,-1"
        )
    return means


def _months(scenario: Scenario) -> list[date]:
    """The first day of the plan, and the first day of each month that begins in it."""
    day, last = scenario.nursery.first_day, scenario.nursery.last_day
    found = [day]
    while (day := date(day.year + day.month // 12, day.month % 12 + 1, 1)) <= last:
        found.append(day)
    return found


def _row(scenario: Scenario, zone: str, slots: float, heating: Heating, month: Month, first: bool) -> Bays:
    cost = round(heating.week_cost(month.outdoor), 4)
    words = f"U {heating.u_value:g}, set point {heating.set_point:g}, outside {month.outdoor:g}"
    return Bays(zone, month.first, slots if first else None, cost, words)


def _variant(scenario: Scenario, zone: str, slots: float, rows: Sequence[Bays], parent: str) -> str:
    """The variant's file: the zone's rows of ``bays`` give way to these."""
    lines = [
        'name = "heated bays"',
        f"parent = {_text(parent)}",
        f"note = {_text(f'Cost of a bay of {zone} by month, from its cover, the set point and the fuel.')}",
    ]
    new = {row.from_day: row for row in rows}
    old = {row.from_day for row in scenario.bays if row.zone == zone}
    for first in sorted(old - new.keys()):
        lines += ["", "[[remove]]", 'table = "bays"', f"row = {{ zone = {_text(zone)}, from_day = {first} }}"]
    for first, row in new.items():
        cells = {"cost_per_bay_week": repr(row.cost_per_bay_week), "note": _text(row.note or "")}
        if row.slots_per_bay is not None or first in old:
            cells["slots_per_bay"] = repr(row.slots_per_bay or slots)
        if first not in old:
            lines += ["", "[[add]]", 'table = "bays"', "[add.values]"]
            lines += [f"zone = {_text(zone)}", f"from_day = {first}"]
            lines += [f"{name} = {value}" for name, value in cells.items()]
            continue
        for name, value in cells.items():
            lines += ["", "[[change]]", 'table = "bays"']
            lines += [f"row = {{ zone = {_text(zone)}, from_day = {first} }}"]
            lines += [f'column = "{name}"', f"value = {value}"]
    return "\n".join([*lines, ""])


def _text(value: str) -> str:
    return json.dumps(value, ensure_ascii=False)


def _answer(
    scenario: Scenario, zone: str, slots: float, heating: Heating, months: Sequence[Month]
) -> list[str]:
    money = scenario.nursery.currency
    costs = [(heating.week_cost(month.outdoor), month.first) for month in months]
    (most, cold), (least, warm) = max(costs), min(costs)
    found = [
        f"A bay of {figure(slots)} slots of {zone} costs {amount(most, money)} a week in {cold:%B %Y}"
        + (f" and {amount(least, money)} in {warm:%B %Y}" if least < most else "")
        + ", in fuel alone."
    ]
    if slots:
        dear, cheap = (unit_price(cost / slots / 7, money) for cost in (most, least))
        between = dear if least == most else f"{dear} and {cheap}"
        found.append(f"With all its slots in use, that is {between} a slot-day.")
    found.append(
        f"The variant {FILE} has these costs in the table bays; plan it to see when to open the house. Where "
        "the cost of a slot-day has the fuel in it already, take it out there."
    )
    return found


def _figures(scenario: Scenario, heating: Heating, months: Sequence[Month]) -> list[Figure]:
    money, costs = scenario.nursery.currency, [heating.week_cost(month.outdoor) for month in months]
    return [
        Figure(f"Dearest week of a bay ({money})", max(costs), CellKind.MONEY),
        Figure(f"Cheapest week of a bay ({money})", min(costs), CellKind.MONEY),
    ]


def _inputs(scenario: Scenario, heating: Heating) -> list[Input]:
    money = scenario.nursery.currency
    area, degree, u_value, heat = NAMED[heating.measures]
    return [
        Input(f"U ({u_value})", heating.u_value, CellKind.FACTOR, "U_value"),
        Input(f"Cover of a bay ({area})", heating.area, CellKind.DECIMAL, "Cover"),
        Input(f"Set point ({degree})", heating.set_point, CellKind.DECIMAL, "Set_point"),
        Input(f"Price of a unit of fuel ({money})", heating.fuel_price, CellKind.PRICE, "Fuel_price"),
        Input(f"Heat of a unit of fuel ({heat})", heating.fuel_heat, CellKind.FACTOR, "Fuel_heat"),
        Input("Efficiency, heat given over heat in fuel", heating.efficiency, CellKind.FACTOR, "Efficiency"),
    ]


def _section(scenario: Scenario, heating: Heating, months: Sequence[Month]) -> Section:
    money = scenario.nursery.currency
    area, degree, _, heat = NAMED[heating.measures]
    return column.section(
        "Months",
        "What a bay costs a week in each month.",
        [
            "Degree-days of a week: 7 days times set point less mean temperature outside, but not below 0. "
            f"Heat: 24 hours times U times the cover ({area}) times degree-days. Fuel: heat over efficiency "
            "and heat of a unit.",
            "Q = U A dT; U of a single cover 1.0-1.2, of a double one 0.6-0.7 Btu/(h ft2 F), 5.678 times as "
            "many W/(m2 K) (Purdue University, Controlled environment agriculture; eXtension). Sun, wind, "
            "leaks and curtains are not in it: compare a month with your own bill.",
        ],
        months,
        [
            column.day("first", "From day", lambda month: month.first),
            column.decimal("outdoor", f"Mean outside ({degree})", lambda month: month.outdoor, change=True),
            column.decimal(
                "days",
                "Degree-days a week",
                lambda month: heating.degree_days(month.outdoor),
                "=7*MAX(0,Set_point-{outdoor})",
            ),
            column.decimal(
                "heat",
                f"Heat a week ({heat})",
                lambda month: heating.heat(month.outdoor),
                "=24*U_value*Cover*{days}/1000",
            ),
            column.decimal(
                "fuel",
                "Fuel a week (units)",
                lambda month: heating.fuel(month.outdoor),
                "={heat}/(Efficiency*Fuel_heat)",
            ),
            column.money(
                "cost",
                f"A bay a week ({money})",
                lambda month: heating.week_cost(month.outdoor),
                "={fuel}*Fuel_price",
            ),
        ],
        Chart(
            "columns",
            "Cost of a bay a week",
            "Columns: cost of a bay a week, by month.",
            "first",
            ("cost",),
            money,
        ),
    )

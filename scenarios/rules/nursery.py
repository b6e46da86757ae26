"""Rules of the nursery, its orders, zones, crews, offers and modules."""

from __future__ import annotations

from collections.abc import Iterator

from model.currencies import CODES
from model.program.cost_terms import NURSERY as SUM
from model.scenario.calendar import WEEKDAYS
from model.scenario.choices import Decline, PayBasis, ZoneMode
from model.scenario.lateness import weeks_begun
from reports.book.writing import NoLocale, writing_of
from scenarios.cells.draft import Draft, DraftRow, Rule, names
from scenarios.cells.faults import Fault, meant

LONGEST_HORIZON = 1096
"""Days of the longest horizon: three years."""


def _one_nursery(draft: Draft) -> Iterator[Fault]:
    for row in draft.tables["nursery"][1:]:
        yield row.fault("name", "is a second row of settings", "keep one row; a scenario is one nursery")


def _origin(draft: Draft) -> Iterator[Fault]:
    for row in draft.rows("nursery", "country_of_origin"):
        code = row["country_of_origin"]
        if code is not None and not (len(code) == 2 and code.isascii() and code.isalpha() and code.isupper()):
            remedy = "write two capital letters, as NL or US"
            yield row.fault("country_of_origin", "is no code of two letters", remedy)


def _currency(draft: Draft) -> Iterator[Fault]:
    for row in draft.rows("nursery", "currency"):
        if row["currency"] not in CODES:
            code = row["currency"].upper()
            remedy = f"write {code}" if code in CODES else "write three capitals, such as USD, EUR or JPY"
            yield row.fault("currency", "is not a currency of ISO 4217", remedy)


def _locale(draft: Draft) -> Iterator[Fault]:
    for row in draft.rows("nursery", "locale"):
        try:
            writing_of(row["locale"], "")
        except NoLocale as wrong:
            yield row.fault("locale", *wrong.args)


def _horizon(draft: Draft) -> Iterator[Fault]:
    for row in draft.rows("nursery", "first_day", "last_day"):
        days = (row["last_day"] - row["first_day"]).days + 1
        if days < 1:
            wrong = f"is before first_day ({row['first_day']})"
            yield draft.spoiled(row, "last_day", wrong, "write a later day")
        elif days > LONGEST_HORIZON:
            remedy = f"plan at most {LONGEST_HORIZON:,} days"
            yield draft.spoiled(row, "last_day", f"makes a plan of {days:,} days", remedy)


def _due_in_horizon(draft: Draft) -> Iterator[Fault]:
    for row in draft.rows("orders", "due_day"):
        yield from outside(draft, row, "due_day")


def outside(draft: Draft, row: DraftRow, column: str, late: str = "") -> Iterator[Fault]:
    """The fault of a day before or after the horizon; ``late``: further remedy for a day after it."""
    first, last = draft.first_day, draft.last_day
    if first is not None and row[column] < first:
        yield draft.spoiled(row, column, f"is before first_day ({first})", f"write a day from {first} on")
    elif last is not None and row[column] > last:
        yield draft.spoiled(row, column, f"is after last_day ({last})", f"write a day up to {last}{late}")


_POOL, _UNITS = ("slots",), ("units", "unit_slots", "load_days")


def _zone_columns(draft: Draft) -> Iterator[Fault]:
    """A zone fills the columns that its mode needs, and leaves the others blank."""
    for row in draft.rows("zones", "mode"):
        pool, run = row["mode"] is ZoneMode.POOL, f"a zone run as {row['mode'].value}"
        for column in _POOL + _UNITS:
            blank = f"is blank in {run}", f"write how many {column}"
            given = f"does not belong to {run}", "clear it, or change the mode"
            yield from draft.misfilled(row, column, (column in _POOL) == pool, blank, given)


def _new_figures(draft: Draft) -> Iterator[Fault]:
    for table, name, figures in (
        ("zone_days", "zone", ("slots", "units", "cost_per_slot_day")),
        ("crew_days", "crew", ("heads", "pay_per_hour", "temp_pay_per_hour", "temp_overtime_pay_per_hour")),
    ):
        for row in draft.rows(table, name, *figures):
            if all(row[figure] is None for figure in figures):
                remedy = f"fill in {', '.join(figures[:-1])} or {figures[-1]}"
                yield row.fault(name, "has no new figure", remedy)


def _zone_days(draft: Draft) -> Iterator[Fault]:
    changes = draft.rows("zone_days", "zone", "slots", "units", "cost_per_slot_day")
    for row, zone in draft.targets(changes, "zone", "mode"):
        right, wrong = ("slots", "units") if zone["mode"] is ZoneMode.POOL else ("units", "slots")
        if row[wrong] is not None:
            about = f"does not belong to a zone run as {zone['mode'].value}"
            yield row.fault(wrong, about, f"use the column {right}")


def _room(draft: Draft) -> Iterator[Fault]:
    """Faults of zones that have no slots on any day."""
    if not (draft.sure("zone_days", "zone", "slots", "units") and draft.sure("modules", "zone")):
        return
    growing = {
        row["zone"]
        for row in draft.rows("zone_days", "zone")
        if (row["slots"] or 0) + (row["units"] or 0) > 0
    } | names(draft.rows("modules", "zone"), "zone")
    for row in draft.rows("zones", "zone", "mode", "slots", "units"):
        column = "slots" if row["mode"] is ZoneMode.POOL else "units"
        if row[column] == 0 and row["zone"] not in growing:
            wrong = f"leaves the zone '{row['zone']}' without slots on any day"
            yield row.fault(column, wrong, "write more than 0")


def _crew_hours(draft: Draft) -> Iterator[Fault]:
    for column in ("overtime_hours_per_head_day", "temp_overtime_hours_per_head_day"):
        for row in draft.rows("crews", "hours_per_head_day", column):
            hours = row["hours_per_head_day"] + row[column]
            if hours > 24:
                remedy = f"write at most {24 - row['hours_per_head_day']:g}"
                yield row.fault(column, f"makes a day of {hours:g} hours", remedy)


def _guaranteed_hours(draft: Draft) -> Iterator[Fault]:
    """Guaranteed hours are of a crew paid as used, and no more than a hand can work."""
    column = "guaranteed_hours_per_head_week"
    for row in draft.rows("crews", "crew", column, "pay_basis", "hours_per_head_day"):
        if row[column] is None:
            continue
        most = _week_hours(draft, row)
        if row["pay_basis"] is PayBasis.COMMITTED:
            wrong = "does not belong here: a committed crew is paid for all its hours"
            yield row.fault(column, wrong, "clear it")
        elif most is not None and row[column] > most:
            yield row.fault(
                column, f"is above the {most:g} regular hours of a week", f"write at most {most:g}"
            )


def _week_hours(draft: Draft, crew: DraftRow) -> float | None:
    """Regular hours of a hand of a crew in a week; None where its weekdays or shifts are not sound."""
    hours = weekday_hours(draft, crew)
    return None if hours is None else sum(hours.values())


def weekday_hours(draft: Draft, crew: DraftRow) -> dict[str, float] | None:
    """Regular hours of a hand of a crew by weekday; None where its weekdays or shifts are not sound."""
    if not draft.sure("shifts", "crew", "weekdays", "hours_per_head_day"):
        return None
    for nursery in draft.rows("nursery", "working_weekdays"):
        hours = dict.fromkeys(nursery["working_weekdays"], crew["hours_per_head_day"])
        for row in draft.rows("shifts", "crew", "weekdays", "hours_per_head_day"):
            if row["crew"] == crew["crew"]:
                hours |= dict.fromkeys(row["weekdays"], row["hours_per_head_day"])
        return hours
    return None


def _shifts(draft: Draft) -> Iterator[Fault]:
    """A weekday has one shift of a crew, and a day with overtime of any hand is no longer than a day."""
    told: dict[tuple[str, str], DraftRow] = {}
    rows = draft.rows("shifts", "crew", "weekdays", "hours_per_head_day")
    longest = ("overtime_hours_per_head_day", "temp_overtime_hours_per_head_day")
    for row, crew in draft.targets(rows, "crew", *longest):
        twice = [name for name in row["weekdays"] if (row["crew"], name) in told]
        if twice:
            before = told[row["crew"], twice[0]]
            wrong = f"has {twice[0]} of '{row['crew']}' again, after {before.place}"
            yield row.fault("weekdays", wrong, "give each weekday of a crew one row")
        told |= {(row["crew"], name): row for name in row["weekdays"]}
        overtime = max(crew[column] for column in longest)
        if row["hours_per_head_day"] > 0 and row["hours_per_head_day"] + overtime > 24:
            hours = row["hours_per_head_day"] + overtime
            wrong = f"makes a day of {hours:g} hours with the crew's overtime"
            yield row.fault("hours_per_head_day", wrong, f"write at most {24 - overtime:g}")


def _skills(draft: Draft) -> Iterator[Fault]:
    """Faults of skills that no crew has, once for each skill."""
    if not draft.sure("crews", "skills"):
        return
    known = {skill for row in draft.rows("crews", "skills") for skill in row["skills"]}
    told: set[str] = set()
    columns = [(table, "skill") for table in ("labour_standards", "own_tasks", "skill_limits")]
    columns += [("crews", "attendant_skill"), ("supplies", "wash_skill"), ("nursery", "change_over_skill")]
    for table, column in columns:
        for row in draft.rows(table, column):
            if row[column] not in (None, *known, *told):
                told.add(row[column])
                remedy = meant(row[column], known, "give it to a crew, in the column skills of table crews")
                yield row.fault(column, "is a skill that no crew has", remedy)


def _piece_rates(draft: Draft) -> Iterator[Fault]:
    """Pieces are of tasks that take time, and that the crew can do; a skill of no crew is told already."""
    known = {skill for row in draft.rows("crews", "skills") for skill in row["skills"]}
    rows = draft.rows("piece_rates", "crew", "task", "method", "format", "role")
    columns = ("task", "skill", "method", "format", "role", "seconds")
    timed = [s for s in draft.rows("labour_standards", *columns) if s["seconds"] > 0]
    for row, crew in draft.targets(rows, "crew", "skills"):
        task = row["task"]
        fits = [s for s in timed if s["task"] is task and _may_be_of(s, row)]
        if not fits and draft.sure("labour_standards", *columns):
            remedy = "add a row to labour_standards: pieces are counted by their seconds"
            yield row.fault("task", f"takes no time: {task.value} has no labour standard that fits", remedy)
        elif fits and not any(s["skill"] in crew["skills"] or s["skill"] not in known for s in fits):
            wrong = f"needs the skill {fits[0]['skill']}, which '{row['crew']}' has not"
            yield row.fault("task", wrong, "name another crew, or add the skill in table crews")
    for row in draft.rows("piece_rates", "task", "method"):
        if row["task"].value == "sow" and row["method"] is not None:
            wrong = "is given for sowing, which comes before the choice of a method"
            yield row.fault("method", wrong, "clear it, or name a format")


def _may_be_of(standard: DraftRow, row: DraftRow) -> bool:
    """Whether some method and format fit both rows, and the rate is for the standard's role or for all."""
    fits = all(
        None in (standard[name], row[name]) or standard[name] == row[name] for name in ("method", "format")
    )
    return fits and row["role"] in (None, standard["role"])


def _attendants(draft: Draft) -> Iterator[Fault]:
    """A machine with attendants names their skill, which is that of hands: no machine has it."""
    column = "attendant_skill"
    rows = draft.rows("crews", "crew", "skills", "attendants", column)
    machines = [row for row in rows if row["attendants"] > 0]
    of = {skill: row["crew"] for row in machines for skill in row["skills"]}
    for row in rows:
        skill = row[column]
        if row["attendants"] == 0 and skill is not None:
            remedy = "write how many each machine needs into attendants, or clear it"
            yield row.fault(column, "is named, but there are no attendants", remedy)
        elif row["attendants"] > 0 and skill is None:
            wrong = "is blank although the machine has attendants"
            yield row.fault(column, wrong, "write the skill of its attendants, or 0 in attendants")
        elif skill in of:
            wrong = f"is a skill of '{of[skill]}', which has attendants itself"
            yield row.fault(column, wrong, "name a skill that only crews of hands have")


def _hourly_supplies(draft: Draft) -> Iterator[Fault]:
    """A supply used by the hour needs a quantity, and a quantity a supply."""
    for row in draft.rows("crews", "supply", "supply_per_hour"):
        if row["supply"] is None and row["supply_per_hour"] > 0:
            yield row.fault("supply", "is blank although a quantity is used", "name a supply, or write 0")
        elif row["supply"] is not None and row["supply_per_hour"] == 0:
            remedy = "write a quantity, or clear supply"
            yield row.fault("supply_per_hour", "is 0 although a supply is named", remedy)


def _changing_over(draft: Draft) -> Iterator[Fault]:
    """Changing over needs a skill where it takes time."""
    for row in draft.rows("nursery", "change_over_seconds", "change_over_skill"):
        if row["change_over_seconds"] > 0 and row["change_over_skill"] is None:
            wrong, remedy = "is blank although changing over takes time", "write a skill, or 0 seconds"
            yield row.fault("change_over_skill", wrong, remedy)


def _coming_back(draft: Draft) -> Iterator[Fault]:
    """What comes back needs days and, where washing takes time, a skill; by the hour nothing comes back."""
    for row in draft.rows("supplies", "return_share", "return_days"):
        if row["return_share"] > 0 and row["return_days"] == 0:
            remedy = "write the days from use until they are back, or 0 in return_share"
            yield row.fault("return_days", "is 0 although units come back", remedy)
    for row in draft.rows("supplies", "wash_seconds", "wash_skill"):
        if row["wash_seconds"] > 0 and row["wash_skill"] is None:
            remedy = "write a skill, or 0 seconds"
            yield row.fault("wash_skill", "is blank although washing takes time", remedy)
    for row in draft.rows("supplies", "return_share", "wash_seconds"):
        if row["return_share"] == 0 and row["wash_seconds"] > 0:
            remedy = "write the share that comes back, or 0 seconds"
            yield row.fault("return_share", "is 0 although washing takes time", remedy)
    rows = [row for row in draft.rows("crews", "supply") if row["supply"] is not None]
    for row, supply in draft.targets(rows, "supply", "return_share"):
        if supply["return_share"] > 0:
            wrong = f"names '{row['supply']}', of which units come back; what is used by the hour does not"
            remedy = "give what is used by the hour a row of its own in table supplies"
            yield row.fault("supply", wrong, remedy)


def _limited_skills(draft: Draft) -> Iterator[Fault]:
    """A limit for one crew is on a skill of that crew; a skill that no crew has is told already."""
    known = {skill for row in draft.rows("crews", "skills") for skill in row["skills"]}
    rows = [row for row in draft.rows("skill_limits", "skill", "crew") if row["skill"] in known]
    for row, crew in draft.targets(rows, "crew", "skills"):
        if row["skill"] not in crew["skills"]:
            wrong = f"is no skill of crew '{row['crew']}'"
            yield row.fault("skill", wrong, f"write {' or '.join(crew['skills'])}, or clear crew")


def _sowing_standards(draft: Draft) -> Iterator[Fault]:
    for row in draft.rows("labour_standards", "task", "method"):
        if row["task"].value == "sow" and row["method"] is not None:
            wrong = "is given for sowing, which comes before the choice of a method"
            yield row.fault("method", wrong, "clear it, or name a format")


def _offers(draft: Draft) -> Iterator[Fault]:
    working = {day for row in draft.rows("nursery", "working_weekdays") for day in row["working_weekdays"]}
    for row in draft.rows("buy_in_offers"):
        first, last = row.values.get("from_day"), row.values.get("to_day")
        if first is not None and last is not None and last < first:
            yield row.fault("to_day", f"is before from_day ({first})", f"write a day from {first} on")
        most, least = row.values.get("most_per_delivery"), row.values.get("least_quantity")
        if most is not None and least is not None and least > most:
            yield row.fault("least_quantity", f"is above most_per_delivery ({most})", f"write at most {most}")
        days = row.values.get("delivery_weekdays")
        if days is not None and working and not working.intersection(days):
            remedy = f"add one of {', '.join(sorted(working, key=WEEKDAYS.index))}"
            yield row.fault("delivery_weekdays", "includes no working weekday", remedy)


def _module_columns(draft: Draft) -> Iterator[Fault]:
    """A module is of a zone, with slots, or of a crew, without any."""
    for row in draft.rows("modules", "zone", "crew"):
        if row["zone"] is None and row["crew"] is None:
            remedy = "name the zone that it enlarges, or in the column crew the crew that gets it"
            yield draft.spoiled(row, "zone", "is blank, and so is crew", remedy)
        elif row["zone"] is not None and row["crew"] is not None:
            wrong = "is given beside a zone: a module is of one of them"
            yield draft.spoiled(row, "crew", wrong, "clear the zone or the crew")
        else:
            blank = "is blank in a module of a zone", "write the slots of one module"
            given = "does not belong to a machine or hand of a crew", "clear it"
            yield from draft.misfilled(row, "slots", row["crew"] is None, blank, given)


def _modules(draft: Draft) -> Iterator[Fault]:
    for row, zone in draft.targets(draft.rows("modules", "zone", "slots"), "zone", "mode", "unit_slots"):
        each = None if zone["mode"] is ZoneMode.POOL else zone["unit_slots"]
        if each is not None and row["slots"] != each:
            wrong = "differs from the zone's unit_slots: a module is one unit"
            yield row.fault("slots", wrong, f"write {each:g}")


def _overheads(draft: Draft) -> Iterator[Fault]:
    for row in draft.rows("overheads", "overhead"):
        if row["overhead"] == SUM:
            wrong = "is the name of the overhead in the table nursery"
            yield row.fault("overhead", wrong, "write what it is paid for")


def _late(draft: Draft) -> Iterator[Fault]:
    """An order that may come late has a price, and a discount that never takes more than the price."""
    settings = draft.rows("nursery", "late_days_most", "late_discount")
    if len(settings) != 1:
        return
    nursery = settings[0]
    for row in draft.rows("orders", "late_days_most", "late_discount", "price"):
        own, usual = row["late_days_most"], nursery["late_days_most"]
        days = usual if own is None else own
        share = nursery["late_discount"] if row["late_discount"] is None else row["late_discount"]
        if not days:
            continue
        if row["price"] is None and not _listed(draft, row):
            wrong = f"is blank, but the order may come up to {days} days late at a share of its price"
            yield row.fault("price", wrong, "write the price, or 0 in late_days_most")
        if share is None:
            wrong = "is blank here and in table nursery, but the order may come late"
            yield row.fault("late_discount", wrong, "write the discount a week, 0 if lateness costs nothing")
        elif share * weeks_begun(days) > 1:
            wrong = f"of {share:g} a week takes more than the whole price within {days} days"
            most = 1 / weeks_begun(days)
            yield row.fault("late_discount", wrong, f"write at most {most:.4g}, or fewer days")


def _declinable(draft: Draft) -> Iterator[Fault]:
    for row in draft.rows("orders", "decline", "price"):
        if row["decline"] is not Decline.NO and row["price"] is None and not _listed(draft, row):
            wrong = "needs a price, and the order has none"
            yield row.fault("decline", wrong, "write the order's price, or no here")


def _placed(draft: Draft) -> Iterator[Fault]:
    for row in draft.rows("orders", "ordered_day", "due_day"):
        if row["ordered_day"] is not None and row["ordered_day"] > row["due_day"]:
            wrong = f"is after the order's due_day ({row['due_day']})"
            yield row.fault("ordered_day", wrong, "write the day on which it was placed, or leave it blank")


def _listed(draft: Draft, order: DraftRow) -> bool:
    """Whether the list has a price for the order; where a cell that decides is faulty, it may have one.

    It has none for plants held for inquiries.
    """
    if order.values.get("held"):
        return False
    told = [order.values.get(name) for name in ("product", "quantity", "due_day")]
    rows = list(draft.rows("list_prices", "product", "from_quantity", "from_day"))
    if None in told or len(rows) < len(draft.tables["list_prices"]):
        return True
    product, quantity, due = told
    return any(
        row["product"] == product
        and row["from_quantity"] <= quantity
        and (row["from_day"] is None or row["from_day"] <= due)
        for row in rows
    )


def _billed(draft: Draft) -> Iterator[Fault]:
    for row in draft.rows("tray_formats", "cells", "billed"):
        if row["billed"] is not None and row["billed"] > row["cells"]:
            wrong = f"is more than the {row['cells']:,} cells of the tray"
            yield row.fault("billed", wrong, "write the plants billed of a full tray, or leave it blank")


NURSERY = (
    Rule("a scenario is one nursery", _one_nursery),
    Rule("the currency is in ISO 4217", _currency),
    Rule("the locale is in the Unicode CLDR", _locale),
    Rule("the country of origin is a code of two letters", _origin),
    Rule("the last day is not before the first, nor too long after it", _horizon),
    Rule("orders are due within the horizon", _due_in_horizon),
    Rule("no more plants are billed than a tray has", _billed),
    Rule("an order is placed before its plants leave", _placed),
    Rule("an order that may be declined has a price", _declinable),
    Rule("an order that may come late has a price and a discount", _late),
    Rule("a zone has the columns of its mode", _zone_columns),
    Rule("a row of zone_days or crew_days changes a figure", _new_figures),
    Rule("a row of zone_days changes a figure that the zone's mode has", _zone_days),
    Rule("a zone has slots on some day", _room),
    Rule("a crew's day has at most 24 hours", _crew_hours),
    Rule("guaranteed hours can be worked", _guaranteed_hours),
    Rule("a weekday has one shift of a crew", _shifts),
    Rule("some crew has every skill that work needs", _skills),
    Rule("a crew's limit is on a skill that it has", _limited_skills),
    Rule("a piece rate is of a task that the crew can do", _piece_rates),
    Rule("a machine's attendants are hands", _attendants),
    Rule("a supply used by the hour has a quantity", _hourly_supplies),
    Rule("supplies that come back are whole", _coming_back),
    Rule("changing over has a skill", _changing_over),
    Rule("sowing has no method", _sowing_standards),
    Rule("offers can deliver on some day", _offers),
    Rule("a module is of a zone or of a crew", _module_columns),
    Rule("a module of a zone run in units is one unit", _modules),
    Rule("an overhead has a name of its own", _overheads),
)

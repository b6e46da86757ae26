"""The log of counts: seeds up, seedlings kept and matched, joins healed, hours of a crew; read and checked.

A log may cover several seasons. It is not part of a scenario, but names a scenario's lots, methods and crews.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Annotated

from model.rates.estimates import Counted, Record
from model.scenario import schema as column
from model.scenario.about_cells import Remark
from model.scenario.capacity import TimedRole, roles_of
from model.scenario.choices import MatchFrom, MethodKind, Task
from model.scenario.entities import Scenario
from model.scenario.schema import table_of
from scenarios.cells.draft import Draft, DraftRow, draft_of, names, repeated
from scenarios.cells.faults import BadInput, Fault, bounded_nearest, suggested
from scenarios.cells.grid import TableSource
from scenarios.cells.parse import plain
from scenarios.files.read_scenario import in_order, read_table
from scenarios.formats.read_tables import read_table_file

OLDEST = 10
"""A count from more than this many years before the scenario's first day is taken for a typing error."""

NEEDS: Mapping[Counted, tuple[str, ...]] = {
    Counted.GERMINATION: ("lot", "succeeded"),
    Counted.GRADING: ("lot", "succeeded"),
    Counted.MATCH: ("method", "succeeded"),
    Counted.TAKE: ("method", "succeeded"),
    Counted.PACE: ("method", "crew", "hours"),
}
"""Columns that a count of each kind fills besides day and tried."""

MAY_HAVE: Mapping[Counted, tuple[str, ...]] = {
    Counted.GERMINATION: ("zone",),
    Counted.GRADING: ("zone", "crew"),
    Counted.MATCH: ("zone", "crew"),
    Counted.TAKE: ("zone", "crew"),
    Counted.PACE: ("zone",),
}
"""Columns that a count of each kind may fill; the others of ``EITHER`` are blank."""

EITHER = ("lot", "method", "crew", "succeeded", "hours", "zone")


OF_LOTS = (Counted.GERMINATION, Counted.GRADING)
"""What is counted of seed lots; the rest is counted of methods."""


@dataclass(frozen=True, slots=True)
class Count:
    """The log: one count a row."""

    day: Annotated[date, "Day on which the seeds were sown, or the joins made."]
    counted: Annotated[
        Counted,
        "germination: seeds that came up. grading: seedlings kept. match: seedlings that found a partner. "
        "take: joins that healed. pace: hours that joins took.",
    ]
    lot: Annotated[str | None, "Seed lot (germination, grading).", column.ref(("seed_lots", "lot"))]
    method: Annotated[str | None, "Method (match, take, pace).", column.ref(("methods", "method"))]
    crew: Annotated[str | None, "Crew that did the work.", column.ref(("crews", "crew"))]
    tried: Annotated[
        int, "Seeds sown, seedlings graded or brought to the bench, joins made.", column.whole("", low=1)
    ]
    succeeded: Annotated[
        int | None,
        "Of these, how many came up, were kept, found a partner or healed; blank for pace.",
        column.whole(""),
    ]
    hours: Annotated[
        float | None,
        "Hours of all hands together at the joining bench (pace).",
        column.number("h", above_low=True),
    ]
    zone: Annotated[str | None, "Zone in which the plants stood.", column.ref(("zones", "zone"))] = None
    note: Annotated[str | None, column.NOTE] = None

    @property
    def record(self) -> Record:
        """The count in the form that ``model.rates.estimates`` takes."""
        name = self.lot if self.counted in OF_LOTS else self.method
        return Record(
            self.counted, name or "", self.day, self.tried, self.succeeded, crew=self.crew, hours=self.hours
        )


COUNTS = table_of("counts", Count, required=True)


def read_counts(path: Path, scenario: Scenario) -> tuple[Count, ...]:
    """The counts in a file with the columns of ``COUNTS``, checked against the scenario, in file order.

    Raises ``BadInput`` with every fault.
    """
    return read_log(path, scenario)[0]


def read_log(path: Path, scenario: Scenario) -> tuple[tuple[Count, ...], list[Remark]]:
    """The counts as ``read_counts`` returns them, and remarks on how their file was read."""
    source, draft = TableSource(), draft_of(scenario)
    read_table_file(COUNTS, path, source)
    faults = list(source.faults)
    if COUNTS.name in source.grids:
        draft.unsure.update(source.unread)
        faults += read_table(COUNTS, source, draft)
        for rule in (_references, _needs, _shares, _days, _joins, _twice):
            faults += rule(draft, scenario)
    if faults:
        raise BadInput(in_order(faults, (COUNTS,)))
    return tuple(Count(**row.values) for row in draft.tables[COUNTS.name]), source.told()


def standards(scenario: Scenario) -> dict[str, list[tuple[TimedRole, ...]]]:
    """The roles of a join by method that grafts, once for each tray format of its products."""
    roles = roles_of(scenario.labour_standards)
    found = {}
    for method in scenario.methods:
        if method.kind is not MethodKind.OWN_ROOT:
            made = [product for product in scenario.products if product.method == method.method]
            formats: list[str | None] = [*sorted({product.final_format for product in made})]
            matching = [roles(Task.GRAFT, method.method, name) for name in formats or [None]]
            found[method.method] = [timed for timed in matching if timed]
    return found


def seconds_of_a_join(roles: Iterable[TimedRole]) -> float:
    """Seconds that all roles together take for a join."""
    return sum(of.seconds for of in roles)


def _references(draft: Draft, scenario: Scenario) -> Iterator[Fault]:
    near = bounded_nearest()
    for asked in COUNTS.columns:
        for table, key in asked.references:
            known = frozenset(names(draft.rows(table, key), key))
            for row in draft.rows(COUNTS.name, asked.name):
                if row[asked.name] is not None and row[asked.name] not in known:
                    otherwise = f"write a name from {table}, or add it there"
                    remedy = suggested(near(row[asked.name], known), otherwise)
                    yield draft.spoiled(row, asked.name, f"is not in table {table}", remedy)


def _needs(draft: Draft, scenario: Scenario) -> Iterator[Fault]:
    """Each kind of count fills its own columns."""
    for row in draft.rows(COUNTS.name, "counted"):
        counted = row["counted"]
        for name in EITHER:
            if name not in row.values:
                continue
            if name in NEEDS[counted] and row[name] is None:
                needed = " and ".join(NEEDS[counted])
                yield row.fault(name, f"is blank in a count of {counted}", f"it needs {needed}")
            elif name not in (*NEEDS[counted], *MAY_HAVE[counted]) and row[name] is not None:
                yield row.fault(name, f"does not belong to a count of {counted}", "clear it")


def _shares(draft: Draft, scenario: Scenario) -> Iterator[Fault]:
    for row in draft.rows(COUNTS.name, "tried", "succeeded"):
        if row["succeeded"] is not None and row["succeeded"] > row["tried"]:
            wrong = f"is more than the {plain(row['tried'])} tried"
            yield row.fault("succeeded", wrong, "write how many of those succeeded")


def _days(draft: Draft, scenario: Scenario) -> Iterator[Fault]:
    first, last = scenario.nursery.first_day, scenario.nursery.last_day
    for row in draft.rows(COUNTS.name, "day"):
        if row["day"] > last:
            yield row.fault("day", f"lies after the plan's last day, {last}", "write the day of the count")
        elif row["day"].year < first.year - OLDEST:
            wrong = f"lies more than {OLDEST} years before the plan's first day, {first}"
            yield row.fault("day", wrong, "write the day of the count, or leave out a count so old")


def _joins(draft: Draft, scenario: Scenario) -> Iterator[Fault]:
    """Joins need a method that grafts; a pace also needs one standard and a crew with the skill."""
    standard = standards(scenario)
    skills = {crew.crew: crew.skills for crew in scenario.crews}
    match_from = {method.method: method.match_from for method in scenario.methods}
    for row in draft.rows(COUNTS.name, "counted", "method"):
        method = row["method"]
        if row["counted"] in OF_LOTS or method is None:
            continue
        if method not in standard:
            yield row.fault("method", "is own-root, so it has no joins", "name a method that grafts")
        elif row["counted"] is Counted.MATCH and match_from[method] is not MatchFrom.NUMBER:
            wrong = f"takes its match from {match_from[method]}, which depends on the seedlings' ages"
            yield row.fault("method", wrong, "log the match of methods that have it as a number")
        elif row["counted"] is Counted.PACE:
            yield from _standard(row, sorted({seconds_of_a_join(roles) for roles in standard[method]}))
            crew = row.values.get("crew")
            wanted = {of.skill for roles in standard[method] for of in roles}
            lacking = set() if crew is None else wanted.difference(skills[crew])
            if lacking:
                wrong = f"lacks the skill '{min(lacking)}', which joining by '{method}' needs"
                yield row.fault("crew", wrong, "name the crew that made the joins")


def _standard(row: DraftRow, seconds: list[float]) -> Iterator[Fault]:
    if not seconds:
        remedy = "write a row of the task graft into labour_standards"
        yield row.fault("method", "has no standard time of a join to compare the pace with", remedy)
    elif len(seconds) > 1:
        wrong = f"has standard times of {' and '.join(map(plain, seconds))} s, by tray format"
        yield row.fault("method", wrong, "log the pace of methods with one standard time")


def _twice(draft: Draft, scenario: Scenario) -> Iterator[Fault]:
    for row, other in repeated(draft.rows(COUNTS.name, *COUNTS.by_name), list(COUNTS.by_name)):
        remedy = "keep one of the two, or say in the notes which is which"
        yield row.fault("day", f"is the same count as row {other.number}", remedy)

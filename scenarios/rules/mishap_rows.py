"""Rules of mishaps: each names what it strikes, and nothing else."""

from __future__ import annotations

from collections.abc import Iterator

from model.scenario.choices import MethodKind, Strikes, ZoneUse
from scenarios.cells.draft import Draft, Rule
from scenarios.cells.faults import Fault

NAMES = {Strikes.GERMINATION: "lot", Strikes.GRAFT_DAY: "method", Strikes.ZONE: "zone"}
"""Column that names what a mishap strikes; the other two are blank."""

STRUCK = (ZoneUse.HEALING, ZoneUse.FINISHING, ZoneUse.BENCH)
"""Uses of zones in which flows stand after the graft day."""


def _columns(draft: Draft) -> Iterator[Fault]:
    for row in draft.rows("mishaps", "strikes"):
        strikes = row["strikes"]
        for column in NAMES.values():
            if column != NAMES[strikes] and row.values.get(column) is not None:
                yield row.fault(column, f"does not belong to a mishap of a {strikes.value}", "clear it")
        if strikes is Strikes.ZONE and "zone" in row.values and row["zone"] is None:
            yield row.fault("zone", "is blank, and the mishap strikes a zone", "name the zone")


def _zones(draft: Draft) -> Iterator[Fault]:
    for row, zone in draft.targets(draft.rows("mishaps", "zone"), "zone", "use"):
        if zone["use"] not in STRUCK:
            fit = " or ".join(sorted(use.value for use in STRUCK))
            wrong = f"is a zone for {zone['use'].value}, where no joined or potted-on plants stand"
            yield row.fault("zone", wrong, f"name a zone whose use is {fit}")


def _methods(draft: Draft) -> Iterator[Fault]:
    for row, method in draft.targets(draft.rows("mishaps", "method"), "method", "kind"):
        if method["kind"] is MethodKind.OWN_ROOT:
            yield row.fault("method", "is own-root, so it has no graft days", "name a method that grafts")


MISHAPS = (
    Rule("a mishap names what it strikes", _columns),
    Rule("a zone that is struck holds plants after the graft day", _zones),
    Rule("a graft day that is struck belongs to a method that grafts", _methods),
)

"""Zones to choose from for a stage, holding or germination, and bays of zones that are opened whole."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Annotated

from model.scenario.choices import ZoneUse
from model.scenario.ranges import LEAST_SHARE, SLOTS
from model.scenario.schema import NOTE, amount, days, number, ref, share


@dataclass(frozen=True, slots=True)
class StageZone:
    """Further zones for a stage or for holding. The plan shares a graft day among them as costs least."""

    method: Annotated[str, "Method that the stage belongs to.", ref(("methods", "method"))]
    stage: Annotated[
        str,
        "Name of the stage in table stages, or holding: a zone in which ready plants may wait instead of the "
        "method's holding_zone. Plants bought in wait in holding_zone alone.",
    ]
    zone: Annotated[
        str, "Zone in which the plants may stand instead of the stage's own.", ref(("zones", "zone"))
    ]
    days: Annotated[
        int | None, "Days in the stage there; blank: those of the stage. Always blank for holding.", days()
    ] = None
    take: Annotated[
        float | None,
        "Take with this zone, for stages of healing; takes by age change by the same factor. Blank: the "
        "method's take.",
        share(low=LEAST_SHARE),
    ] = None
    care: Annotated[
        float,
        "Time of care or tending there, as a multiple of the labour standard.",
        number("", high=100),
    ] = 1.0
    cost_per_tray: Annotated[
        float,
        "Cost of a tray that passes the stage there, or waits there for its due day, besides slots and work: "
        "lamps, film, carting. A small cost puts the zones in an order of preference.",
        amount("tray"),
    ] = 0.0
    note: Annotated[str | None, NOTE] = None

    @property
    def of(self) -> str:
        """Whose stage it is."""
        return self.method


@dataclass(frozen=True, slots=True)
class GerminationZone:
    """Further zones in which trays of a seed lot may germinate. The plan shares each sowing among them.

    Trays on hand on the first day, and those sown for practice, stand in the lot's own zone.
    """

    lot: Annotated[str, "Seed lot.", ref(("seed_lots", "lot"))]
    zone: Annotated[
        str,
        "Zone in which its trays may germinate instead of the lot's germination_zone.",
        ref(("zones", "zone")),
    ]
    days: Annotated[
        int | None,
        "Days to the bench there; blank: germination_days of the lot. Where it is shorter, trays wait on the "
        "bench, and are grafted no earlier. Where it is longer, only sowings whose trays are on the bench by "
        "their first possible graft day may germinate there.",
        days(low=1),
    ] = None
    care: Annotated[
        float, "Time of tending there, as a multiple of the labour standard.", number("", high=100)
    ] = 1.0
    cost_per_tray: Annotated[
        float,
        "Cost of a tray that germinates there, besides slots and work: heat mats, film, carting. A small "
        "cost puts the zones in an order of preference.",
        amount("tray"),
    ] = 0.0
    note: Annotated[str | None, NOTE] = None

    @property
    def of(self) -> str:
        """Whose stage it is."""
        return self.lot

    @property
    def stage(self) -> str:
        """The stage, as own tasks name it."""
        return ZoneUse.GERMINATION.value


@dataclass(frozen=True, slots=True)
class Bays:
    """Zones whose bays are opened whole: a bay open in a week is heated all week, full or not.

    The plan decides how many bays of a zone are open in each week.
    """

    zone: Annotated[str, "Zone that is divided into bays; a pool.", ref(("zones", "zone"))]
    from_day: Annotated[
        date, "First day of these figures. The first row of a zone starts on the plan's first day or before."
    ]
    slots_per_bay: Annotated[
        float | None,
        "Slots of a bay; the last bay of a zone may be smaller. Blank: as before.",
        number("slots", above_low=True, high=SLOTS),
    ] = None
    cost_per_bay_week: Annotated[
        float | None,
        "Heat and light of an open bay for seven days, besides the cost of slots in use. Blank: as before.",
        amount("bay-week"),
    ] = None
    note: Annotated[str | None, NOTE] = None

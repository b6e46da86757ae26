"""Zones to choose from: further zones in which a stage may pass, besides its own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from model.scenario.ranges import LEAST_SHARE
from model.scenario.schema import NOTE, amount, days, number, ref, share


@dataclass(frozen=True, slots=True)
class StageZone:
    """Further zones for a stage. The plan shares the joins of a graft day among the zones as costs least."""

    method: Annotated[str, "Method that the stage belongs to.", ref(("methods", "method"))]
    stage: Annotated[str, "Name of the stage in table stages."]
    zone: Annotated[
        str, "Zone in which the plants may stand instead of the stage's own.", ref(("zones", "zone"))
    ]
    days: Annotated[int | None, "Days in the stage there; blank: those of the stage.", days()] = None
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
        "Cost of a tray that passes the stage there, besides slots and work: lamps, film, carting. A small "
        "cost puts the zones in an order of preference.",
        amount("tray"),
    ] = 0.0
    note: Annotated[str | None, NOTE] = None

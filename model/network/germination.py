"""Places to germinate: further zones in which the trays of a wave may stand before they come to the bench."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from typing import NamedTuple

from model.network.as_counted import sown_key
from model.network.types import Network
from model.scenario.records.rooms import GerminationZone


class SownInto(NamedTuple):
    """Index of X: a wave, a further zone for its trays, and the day on which they come from it to the bench.

    ``recorded``: trays that progress says were sown into it; None where that is still open.
    """

    wave: int
    row: GerminationZone
    bench: int
    recorded: float | None


def further_places(network: Network, first_draw: Callable[[int], int]) -> list[SownInto]:
    """Index list of X: waves sown from the first day on, with the further zones that are open to them.

    A zone is open where its trays are on the bench by the first day on which the wave may be drawn on. What
    progress records happened; such trays came to the bench by that day.
    """
    rows: dict[str, list[GerminationZone]] = defaultdict(list)
    for row in network.scenario.germination_zones:
        rows[row.lot].append(row)
    past, found = network.past, []
    for w, wave in enumerate(network.waves if rows else ()):
        for row in () if wave.on_hand else rows[wave.lot.lot]:
            days = wave.lot.germination_days if row.days is None else row.days
            bench, drawn = network.calendar.next_working(wave.sow + days), first_draw(w)
            if wave.sow < past.today:
                trays = past.sown_into.get((sown_key(wave), row.zone), 0.0)
                found.append(SownInto(w, row, drawn if bench is None else min(bench, drawn), trays))
            elif bench is not None and bench <= drawn:
                found.append(SownInto(w, row, bench, None))
    return found

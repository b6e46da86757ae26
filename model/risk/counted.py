"""What is known of the past: counted or recorded before today, it is the same in every season."""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from math import floor

import numpy as np

from model.network.expansion import counted_past
from model.network.past import FlowKey as PastFlow
from model.network.past import SownKey
from model.planned.plan_tables import Plan, rows_of
from model.planned.tables.declared import FLOW, FlowKey, flow_key
from model.risk.batches import Counts, Floats
from model.scenario.calendar import Calendar
from model.scenario.entities import Scenario

Label = tuple[str, str, date]
"""A wave: lot, tray format, sowing day."""

WHOLE = 1e-6
"""A number of the plan this little above or below a whole number counts as whole: the solver's tolerance."""


class Known:
    """Seedlings, joins and plants of the past, by the names that a plan gives to waves and flows.

    A wave not counted yet, joins that have not healed yet and plants that are not ready yet still vary.
    """

    def __init__(self, scenario: Scenario, plan: Plan) -> None:
        calendar = Calendar(scenario.nursery, scenario.days_off)
        past, at = counted_past(scenario, calendar), calendar.date

        def wave(key: SownKey) -> Label:
            return key.lot, key.format, at(key.sow)

        def flow(key: PastFlow) -> FlowKey:
            return key.product, at(key.graft), key.in_zones

        self.today = scenario.nursery.today or scenario.nursery.first_day
        named = {row[1:]: row[0] for row in rows_of(plan.waves, "wave", "lot", "format", "sow_day")}
        self._seedlings = {
            wave(key): round(amount.counted)
            for key, amount in past.sown.items()
            if amount.counted is not None and amount.number > 0
        }
        self._healed = {
            (flow(key.flow), tuple(named.get(wave(one)) for one in (key.rootstock, key.scion) if one)): round(
                amount.counted
            )
            for key, amount in past.grafted.items()
            if amount.counted is not None
        }
        self._finished = {flow(key): plants for key, plants in past.finished.items()}
        # Of plants on hand there are those that the plan keeps; all that it keeps have healed.
        stood = {flow(key) for key in past.plants}
        self._healed = {key: healed for key, healed in self._healed.items() if key[0] not in stood}
        for *cells, finished in rows_of(plan.flows, *FLOW, "finished"):
            if flow_key(cells) in stood & self._finished.keys():
                self._finished[flow_key(cells)] = finished
        self._delivered: dict[FlowKey, float] = defaultdict(float)
        for (_, key), plants in past.delivered.items():
            self._delivered[flow(key)] += plants

    def seedlings(self, wave: Label) -> int | None:
        """Usable seedlings counted of a wave; None where they are not counted yet."""
        return self._seedlings.get(wave)

    def brought(self, graft_day: date, wanted: int, match: float) -> int | None:
        """Seedlings of each wave that recorded joins have used; None where the graft day is still to come."""
        return floor(wanted / match + WHOLE) if graft_day < self.today else None

    def healed(self, flow: FlowKey, waves: tuple[str, ...], drawn: Counts) -> Counts:
        """Joins of a flow from these waves that have healed, as counted or else as drawn."""
        counted = self._healed.get((flow, waves))
        return drawn if counted is None else np.full_like(drawn, counted)

    def finished(self, flow: FlowKey, drawn: Floats) -> Floats:
        """Plants of a flow that are ready, as counted or else as drawn; those delivered were ready."""
        counted = self._finished.get(flow)
        there = drawn if counted is None else np.full_like(drawn, counted)
        return np.maximum(there, self._delivered.get(flow, 0.0))

"""What holding is worth on the demo: a busiest week with fewer hours.

Published: holding young plants cool took 31 to 50 % off the peak week's labour, and hardly changed the
average (Kubota et al. 2017, PLoS ONE 12(2):e0170614, known by its abstract). That is another nursery's
figure: here only the direction is asked for. So that nothing else limits the plan, there are hands and room
for ten such nurseries and nothing is bought in. A day of holding is needed for all due days to be reached
at all.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from model.questions.near_best import Quantity, near_best
from model.scenario.entities import Scenario
from model.solve import plan_of, solve
from scenarios.variants.by_name import read

WITHIN = 0.01
TIMES = 10


def with_holding(days: int) -> Scenario:
    """The demo with ample hands and room, plants held at most so many days, and never longer than there."""
    demo = read("hollow_ash")
    return replace(
        demo,
        methods=tuple(replace(m, holding_limit_days=min(days, m.holding_limit_days)) for m in demo.methods),
        crews=tuple(replace(c, heads=TIMES * c.heads, week_hours_per_head=None) for c in demo.crews),
        zones=tuple(replace(z, slots=None if z.slots is None else TIMES * z.slots) for z in demo.zones),
        crew_days=(),
        zone_days=(),
        buy_in_offers=(),
    )


def test_holding_takes_hours_off_the_busiest_week_and_hardly_changes_the_work() -> None:
    peaks, hours = [], []
    for days in (1, 7):
        solved = solve(with_holding(days), whole=False)
        made = plan_of(solved)
        assert made.short == pytest.approx(0, abs=1e-6)
        peaks.append(near_best(solved, Quantity.PEAK_WEEK, WITHIN).least)
        hours.append(float(made.hours["hours"].sum()))
    assert peaks[1] < 0.9 * peaks[0]
    assert hours[1] == pytest.approx(hours[0], rel=0.05)

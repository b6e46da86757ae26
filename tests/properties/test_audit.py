"""The audit on random scenarios: sound plans pass, broken ones fail, and no hole makes it stumble."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from math import inf, nan
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.planned.plan_tables import PLAN_TABLES
from model.proof.audit import audit
from model.proof.world import matched_share
from model.rates.yields import match_share
from model.scenario.entities import Scenario
from model.solve import plan
from tests.by_hand import BY_HAND
from tests.depth import deep
from tests.mutations import MUTATIONS, rows_of, with_table
from tests.strategies import small_scenarios

HOLES: list[Any] = [None, nan, inf, -7.5, 0, "", "Nobody", date(1999, 1, 1), date.max, True, [], 1e300]


@given(
    small_scenarios(), st.booleans(), st.sets(st.sampled_from(sorted(MUTATIONS)), min_size=12, max_size=24)
)
@settings(max_examples=deep(10))
def test_sound_plans_pass_and_broken_ones_fail(scenario: Scenario, whole: bool, names: set[str]) -> None:
    sound = plan(scenario, whole=whole)
    assert [check for check in audit(scenario, sound) if not check.passed] == []
    for name in sorted(names):
        broken = MUTATIONS[name].change(sound)
        if broken is not None:
            assert not all(check.passed for check in audit(scenario, broken)), name


@pytest.mark.parametrize("name", BY_HAND)
@given(st.data())
@settings(max_examples=deep(150))
def test_holes_fail_and_never_raise(name: str, data: st.DataObject) -> None:
    scenario, sound = BY_HAND[name]
    filled = [table for table in PLAN_TABLES if len(sound.table(table))]
    table = data.draw(st.sampled_from(filled))
    rows = rows_of(sound, table)
    n = data.draw(st.integers(0, len(rows) - 1))
    column = data.draw(st.sampled_from(PLAN_TABLES[table].names))
    before, rows[n][column] = rows[n][column], data.draw(st.sampled_from(HOLES))
    told = audit(scenario, with_table(sound, table, rows))
    odd = type(rows[n][column]) in (list, type(None)) or rows[n][column] == inf
    if odd and rows[n][column] is not before and (table, column) not in MAY_BE_BLANK:
        assert not all(check.passed for check in told)


MAY_BE_BLANK = {
    ("joins", "rootstock_wave"),
    ("joins", "rootstock_age"),
    ("deliveries", "offer"),
    ("orders", "short_because"),
}


@given(st.data())
@settings(max_examples=deep(100))
def test_rows_lost_never_raise(data: st.DataObject) -> None:
    scenario, sound = BY_HAND[data.draw(st.sampled_from(list(BY_HAND)))]
    broken = sound
    for table in data.draw(st.lists(st.sampled_from(list(PLAN_TABLES)), max_size=4, unique=True)):
        kept = data.draw(st.lists(st.booleans(), min_size=len(sound.table(table)), max_size=200))
        rows = [row for row, keep in zip(rows_of(sound, table), kept, strict=False) if keep]
        broken = with_table(broken, table, rows)
    columns = data.draw(st.sets(st.sampled_from(PLAN_TABLES["joins"].names)))
    broken = replace(broken, joins=broken.joins.drop(columns=list(columns)))
    told = audit(scenario, broken)
    assert all(check.passed for check in told) <= (not columns)


@given(
    st.floats(1.0, 4.0), st.floats(0.02, 0.6), st.floats(1.0, 4.0), st.floats(0.02, 0.6), st.floats(0.05, 1.0)
)
@settings(max_examples=deep(60))
def test_stem_match_by_suprema_is_that_of_pairing(
    mean_a: float, sd_a: float, mean_b: float, sd_b: float, tolerance: float
) -> None:
    paired = float(match_share(mean_a, sd_a, mean_b, sd_b, tolerance))
    share = matched_share((mean_a, sd_a), (mean_b, sd_b), tolerance)
    assert np.isclose(share, paired, rtol=0, atol=2e-3)

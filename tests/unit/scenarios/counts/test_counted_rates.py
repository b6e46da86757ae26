"""Rates from counts beside the scenario's: estimates, verdicts, and a variant that reads back and plans."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from random import Random

import pytest

from model.proof.audit import audit
from model.rates.estimates import Counted, Pool, mean_rate, pace
from model.scenario.choices import MatchFrom
from model.scenario.entities import Scenario
from model.scenario.records.methods import AgeEffect
from model.solve import plan
from reports.book.parts import value_of
from reports.study.study import Section, Study
from scenarios.counts.counted_rates import FILE, Rate, changed_cells, counted_rates
from scenarios.counts.log import Count, read_counts
from scenarios.files.write_scenario import write_folder
from scenarios.studies.rates import rates_study
from scenarios.variants.by_name import path_of, read
from scenarios.variants.variants import read_variant
from tests.places import ROOT
from tests.scenario_parts import WORK, lot
from tests.specimens import HANDS
from tests.strategies import base_scenario, with_rows
from tests.study_rows import section

DAY = date(2026, 3, 2)


def sown(name: str, tried: int, up: int, after: int = 0) -> Count:
    return Count(DAY + timedelta(after), Counted.GERMINATION, name, None, None, tried, up, None)


def joined(tried: int, up: int, after: int = 0, method: str = "splice") -> Count:
    return Count(DAY + timedelta(after), Counted.TAKE, None, method, None, tried, up, None)


def worked(tried: int, hours: float, after: int = 0) -> Count:
    return Count(DAY + timedelta(after), Counted.PACE, None, "splice", "Grafters", tried, None, hours)


LOG = (
    sown("Red A", 200, 181),
    sown("Red A", 100, 93, 14),
    sown("Stout A", 400, 300),
    joined(500, 350),
    joined(100, 70),
    joined(600, 440, 7),
    joined(550, 390, 14),
    worked(100, 5.0),
    worked(110, 5.6, 7),
    worked(90, 4.4, 14),
)


def working(**changes: object) -> Scenario:
    return base_scenario(labour_standards=WORK, crews=HANDS, **changes)


def rate_of(rates: list[Rate], kind: Counted) -> Rate:
    return next(rate for rate in rates if rate.counted is kind)


@pytest.mark.parametrize("seed", range(5))
def test_a_log_in_another_order_gives_the_same_rates_to_the_last_digit(seed: int) -> None:
    log = [*LOG, worked(97, 4.7), worked(91, 4.1), worked(99, 5.3), joined(101, 71), joined(103, 67)]
    turned = log.copy()
    Random(seed).shuffle(turned)
    assert turned != log
    assert counted_rates(working(), turned) == counted_rates(working(), log)


def column(part: Section, key: str) -> list[object]:
    at = [column.key for column in part.columns].index(key)
    return [value_of(row[at]) for row in part.rows]


def variant(study: Study, scenario: Scenario, folder: Path) -> Path:
    write_folder(scenario, folder / "base")
    ((name, text),) = study.files
    (folder / name).write_text(text, encoding="utf-8")
    return folder / name


def test_rates_are_those_of_the_model() -> None:
    rates = counted_rates(working(), LOG)
    assert [rate.name for rate in rates] == ["Red A", "Stout A", "Grafters", "splice"]
    red, stout, hands, take = rates
    pool = Pool.of([300, 400], [274, 300])
    assert (red.rate, red.low, red.high) == pytest.approx(pool.of_lot(300, 274))
    assert stout.correlation == pytest.approx(pool.lot(400, 300).correlation)
    assert (take.rate, take.low, take.high) == pytest.approx(mean_rate([600, 600, 550], [420, 440, 390]))
    standard = [100 * 200 / 3600, 110 * 200 / 3600, 90 * 200 / 3600]
    assert (hands.rate, hands.low, hands.high) == pytest.approx(pace(standard, [5.0, 5.6, 4.4]))
    assert (red.now, take.now, hands.now) == (0.9, 0.8, 1.2)


def test_verdicts_say_where_the_scenario_stands() -> None:
    red, stout, hands, take = counted_rates(working(), LOG)
    assert (red.verdict, stout.verdict, take.verdict) == ("within", "above", "above")
    slow = counted_rates(with_rows(working(), "crews", lambda crew: replace(crew, pace=0.5)), LOG)
    assert rate_of(slow, Counted.PACE).verdict == "below"
    assert hands.outside
    (alone,) = counted_rates(working(), [joined(100, 80)])
    assert (alone.verdict, alone.outside) == ("no interval", False)


def test_the_answer_names_what_is_outside_furthest_first() -> None:
    study = rates_study(working(), LOG, parent="base")
    assert study.answer[0] == (
        "10 counts from 2026-03-02 to 2026-03-16: germination of 2 seed lots, take of 1 method, "
        "pace of 1 crew."
    )
    assert "3 of 4 figures" in study.answer[1]
    assert [text.split(":")[0] for text in study.answer[2:5]] == [
        "Germination of Stout A",
        "Take of splice",
        "Pace of Grafters",
    ]


def test_one_count_is_told_as_one() -> None:
    study = rates_study(working(), [sown("Red A", 200, 150)], parent="base")
    assert study.answer[0] == "1 count on 2026-03-02: germination of 1 seed lot."
    assert "Germination, mean of the lots" not in [figure.label for figure in study.figures]


@pytest.mark.parametrize(("written", "beyond"), [(0.0, 1), (None, 1), (0.2, 0)])
def test_a_poor_graft_day_is_named_and_does_not_excuse_itself(written: float | None, beyond: int) -> None:
    """92, 76 and 94 % healed: days may differ as much as the scenario says, not as these days do."""
    takes = [joined(610, 560), joined(500, 380, 1), joined(500, 470, 2)]
    of = with_rows(working(), "methods", lambda row: replace(row, take_correlation=written))
    named = [text for text in rates_study(of, takes).answer if text.startswith("Take of splice on")]
    assert len(named) == beyond
    assert all("on 2026-03-03: 18.0 points from the count of 2026-03-04" in text for text in named)


def test_sheets_hold_the_record_beside_the_estimate() -> None:
    study = rates_study(working(), LOG, parent="base")
    germination, days = section(study, "Germination"), section(study, "Take splice")
    assert column(germination, "raw") == pytest.approx([274 / 300, 0.75])
    assert column(germination, "now") == [0.9, 0.9]
    assert column(days, "tried") == [600, 600, 550]
    assert column(days, "raw") == pytest.approx([0.7, 440 / 600, 390 / 550])
    assert column(section(study, "Pace Grafters"), "raw") == pytest.approx(
        [n * 200 / 3600 / h for n, h in ((100, 5.0), (110, 5.6), (90, 4.4))]
    )
    for part in (germination, days, section(study, "Pace Grafters")):
        (chart,) = part.charts
        assert {*chart.y, *chart.lines} == {"raw", "rate", "low", "high", "now"}
    assert len(section(study, "Counts").rows) == len(LOG)


def test_what_was_not_counted_has_no_sheet_and_no_cell() -> None:
    study = rates_study(working(), LOG[:2], parent="base")
    assert [part.name for part in study.sections] == ["Germination", "Cells changed", "Counts"]
    changed = tomllib.loads(study.files[0][1])["change"]
    assert {(change["row"]["lot"], change["column"]) for change in changed} == {
        ("Red A", "germination"),
        ("Red A", "germination_correlation"),
    }


def test_one_graft_day_changes_nothing() -> None:
    study = rates_study(working(), [joined(100, 60), worked(100, 5.0)], parent="base")
    assert study.files == []
    assert study.answer[-1] == "The counts change no cell of the scenario."


def test_the_variant_reads_back_with_the_rates_and_plans(tmp_path: Path) -> None:
    scenario = working()
    study = rates_study(scenario, LOG, parent="base")
    case = read_variant(variant(study, scenario, tmp_path))
    made, by_kind = case.scenario, counted_rates(scenario, LOG)
    assert made.seed_lots[1].germination == pytest.approx(by_kind[1].rate, abs=5e-5)
    assert made.seed_lots[1].germination_correlation == pytest.approx(by_kind[1].correlation, abs=5e-5)
    assert made.methods[0].take == pytest.approx(by_kind[3].rate, abs=5e-5)
    assert made.methods[0].take_correlation == pytest.approx(by_kind[3].correlation, abs=5e-5)
    assert [crew.pace for crew in made.crews] == [1.0, pytest.approx(by_kind[2].rate, abs=5e-5)]
    cells = [(change.table, change.row, change.column, change.after) for change in case.changes]
    told = section(study, "Cells changed")
    assert cells == [tuple(value_of(cell) for cell in (*row[:3], row[4])) for row in told.rows]
    assert all(check.passed for check in audit(made, plan(made)))
    again = rates_study(made, LOG, parent="base")
    assert again.files == []
    assert not [rate for rate in counted_rates(made, LOG) if rate.outside]


NAMES = ['"quoted"', "back\\slash", "*", "{ lot = 1 }", "a # b", "''' \"\"\"", "Ω 🌱", "1", "true"]


@pytest.mark.parametrize("name", NAMES)
def test_a_name_is_data_in_the_variant(name: str, tmp_path: Path) -> None:
    scenario = base_scenario(
        seed_lots=(lot(name, "Red"), lot("Red Z", "Red"), lot("Stout A", "Stout")), packs=()
    )
    case = read_variant(
        variant(rates_study(scenario, [sown(name, 200, 150)], parent="base"), scenario, tmp_path)
    )
    assert {change.row for change in case.changes} == {name}
    assert case.scenario.seed_lots[0].germination == pytest.approx(0.75, abs=0.03)
    assert case.scenario.seed_lots[1:] == scenario.seed_lots[1:]


def test_takes_by_age_move_with_the_take(tmp_path: Path) -> None:
    """By 0.7 / 0.8; what would rise above 1 is 1, and a blank stays blank."""
    effects = (
        AgeEffect("splice", 4, 3, 0.9, 0.84),
        AgeEffect("splice", 4, 4, 0.9, 0.72),
        AgeEffect("splice", 5, 3, 0.9, None),
        AgeEffect("splice", 5, 4, 0.9, 0.76),
    )
    base = with_rows(working(), "methods", lambda m: replace(m, match_from=MatchFrom.AGES, match=None))
    scenario = replace(base, age_effects=effects)
    counts = [joined(500, 352), joined(500, 348, 7)]
    study = rates_study(scenario, counts, parent="base")
    made = read_variant(variant(study, scenario, tmp_path)).scenario
    assert [effect.take for effect in made.age_effects] == [0.735, 0.63, None, 0.665]
    assert any("takes by age for splice" in note for note in section(study, "Take").notes)
    better = [joined(500, 499), joined(500, 500, 7)]
    high = {cell.key: cell.after for cell in changed_cells(scenario, counted_rates(scenario, better))}
    assert max(high.values()) == 1.0


def test_no_join_that_ever_healed_is_no_take(tmp_path: Path) -> None:
    """A take must be above 0: the cell stays as it is, and the variant valid."""
    scenario = working()
    study = rates_study(scenario, [joined(100, 0), joined(100, 0, 7), sown("Red A", 100, 50)], parent="base")
    assert read_variant(variant(study, scenario, tmp_path)).scenario.methods[0].take == 0.8


def test_the_same_counts_in_another_order_give_the_same_variant() -> None:
    one, two = (rates_study(working(), log, parent="base").files for log in (LOG, LOG[::-1]))
    assert one == two
    assert one[0][0] == FILE


def test_the_demos_log_gives_the_figures_in_the_docs() -> None:
    demo = read("hollow_ash")
    counts = read_counts(path_of("hollow_ash/records/counts.csv"), demo)
    text = (ROOT / "docs" / "records.md").read_text(encoding="utf-8")
    rates = counted_rates(demo, counts)
    takes = {rate.name: rate.correlation for rate in rates if rate.counted is Counted.TAKE}
    written = {row.method: row.take_correlation for row in demo.methods if row.method in takes}
    assert takes == {name: pytest.approx(alike, abs=5e-5) for name, alike in written.items()}
    outside = [rate for rate in rates if rate.outside]
    assert f"has {len(counts)} counts" in text
    assert f"Of {len(rates)} figures of the scenario, {len(outside)} lie outside" in text
    for rate in outside:
        share = "{:.2f}" if rate.counted is Counted.PACE else "{:.1%}"
        rate_, low, high, now = (
            share.format(value).replace("%", " %") for value in (rate.rate, rate.low, rate.high, rate.now)
        )
        assert f"| {rate_} | {low.removesuffix(' %')} to {high} | {now} |" in text, rate.name

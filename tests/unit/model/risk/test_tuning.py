"""Steps of tuning by hand and by scipy, plans with no room for a margin, and the study's words and tables."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.stats import binom, binomtest, norm

from model.planned.plan_tables import Plan
from model.rates.overseeding import lot_margin
from model.rehearsal.rehearsed import Rehearsal
from model.risk.batches import Seasons
from model.risk.simulation import simulate
from model.risk.tuning import bands_of, least_chance, margins_of, order_levels, step, tune, with_margins
from model.scenario.choices import Decline, MarginPolicy, MethodKind, ZoneUse
from model.scenario.entities import Scenario
from model.scenario.records.trade import BuyInOffer
from model.solve import plan, plan_of, solve
from reports.book.parts import value_of
from reports.book.words import digits
from reports.study.study import Study
from scenarios.files.write_scenario import write_folder
from scenarios.rehearsing.season_costs import SeasonCosts
from scenarios.studies.margins import FILE, margins_study
from scenarios.variants.variants import read_variant
from tests.scenario_parts import WEEK, method, order
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, with_nursery, with_rows

BAND = (0.95, 0.96, 0.97)


def table(study: Study, name: str) -> list[dict[str, Any]]:
    """Rows of a section by key."""
    found = next(section for section in study.sections if section.name == name)
    return [dict(zip([c.key for c in found.columns], row, strict=True)) for row in found.rows]


def sure_seed(level: float = 0.9) -> Scenario:
    """One order of 100 plants whose only risk is take: every seed gives a seedling, every match is made."""
    take = method("splice", MethodKind.ON_TRAY, match=1.0, take=0.9, finish_survival=1.0)
    made = with_nursery(base_scenario(methods=(take,)), margin_policy="level", service_level=level)
    return with_rows(made, "seed_lots", lambda row: replace(row, germination=1.0, grade_out=0.0))


@pytest.mark.parametrize("seasons", [200, 1000])
@pytest.mark.parametrize("level", [0.5, 0.9, 0.95])
def test_the_least_chance_is_the_first_whose_interval_by_scipy_lies_at_the_level(
    level: float, seasons: int
) -> None:
    def low(times: int) -> float:
        return binomtest(times, seasons).proportion_ci(0.95, method="wilson").low

    times = round(least_chance(level, seasons) * seasons)
    assert low(times) >= level > low(times - 1)


def test_a_level_that_seasons_cannot_show_wants_all_of_them() -> None:
    assert least_chance(0.999, 100) == 1.0


def test_bands_lie_one_interval_above_the_other() -> None:
    bands = bands_of([0.95], 10_000)
    found = [float(at[0]) for at in (bands.enough, bands.aim, bands.much)]
    assert 0.95 < found[0] < found[1] < found[2] < 0.97
    assert found[1] == least_chance(found[0], 10_000)
    with pytest.raises(ValueError, match="at least 1"):
        bands_of([0.95], 0)


def test_a_step_up_brings_the_plants_that_were_missing() -> None:
    short = np.array([0.0] * 80 + [1.0] * 10 + [2.0] * 5 + [7.0] * 5)
    assert step(0.8, short, 3.0, (0.85, 0.95, 0.97), lower=True) == 2
    assert step(0.8, short, 3.0, (0.85, 0.96, 0.97), lower=False) == 7
    assert step(0.8, short, 3.0, (0.85, 0.9, 0.97), lower=False) == 1


def test_a_step_down_takes_part_of_what_is_over_and_only_where_it_may() -> None:
    none = np.zeros(1000)
    over = 3.0 * (norm.ppf(0.99) - norm.ppf(0.96))
    down = step(0.99, none, 3.0, BAND, lower=True)
    assert -over < down < -over / 2
    assert step(0.99, none, 3.0, BAND, lower=False) == 0
    assert step(0.965, none, 3.0, BAND, lower=True) == 0
    assert np.isfinite(step(1.0, none, 3.0, BAND, lower=True))


def test_margins_set_are_the_margins_found() -> None:
    scenario = SPECIMENS["level"]
    found = margins_of(scenario)
    again = margins_of(with_margins(scenario, found))
    assert again.graft.tolist() == found.graft.tolist()
    assert again.sowing.tolist() == found.sowing.tolist()
    assert order_levels(scenario).tolist() == [0.99, 0.95]


def test_one_order_reaches_its_level_by_the_exact_chance_and_exceeds_it_by_little() -> None:
    tuned = tune(sure_seed(), seasons=4000, seed=3)
    joins = round(float(np.ceil(tuned.chosen.plan.joins["joins"].sum() - 1e-6)))
    # One join less, or sampling error twice over, is what lies between the level and the chance.
    exact = float(binom.sf(99, joins, 0.9))
    assert exact >= 0.9
    assert float(binom.sf(99, joins - 2, 0.9)) < tuned.bands.much[0]
    assert tuned.remarks() == [""]


def test_the_same_seed_gives_the_same_margins() -> None:
    one, two = (tune(SPECIMENS["level"], seasons=500, seed=8) for _ in range(2))
    assert one.chosen.margins.graft.tolist() == two.chosen.margins.graft.tolist()
    assert one.chosen.margins.sowing.tolist() == two.chosen.margins.sowing.tolist()
    assert len(one.rounds) == len(two.rounds)


def test_of_the_best_rounds_the_one_best_when_planned_again_is_the_answer() -> None:
    """Three rounds are tried: fewest orders below their level come first, then the least cost."""
    tried: list[Plan] = []

    def again(_: Scenario, made: Plan) -> tuple[int, float]:
        tried.append(made)
        return {1: (0, 7.0), 2: (0, 5.0)}.get(len(tried), (1, 1.0))

    found = tune(sure_seed(), seasons=300, seed=3, again=again)
    best = sorted(found.rounds, key=lambda made: made.rank)
    assert len(best) > 1
    assert all(one is made.plan for one, made in zip(tried, best[:3], strict=True))
    assert found.chosen is best[1]


@pytest.mark.parametrize("levels", [(0.5, 0.999), (0.999, 0.5), (0.5, 0.5)])
def test_a_lot_is_sown_for_the_highest_level_of_the_orders_that_draw_on_it(
    levels: tuple[float, float],
) -> None:
    """Sown anew after the first plan for its usual wave, rounded up to five places; others keep theirs."""
    orders = tuple(
        order(f"O-{level}-{n}", "Red on Stout", 60, 15 + n, service_level=level)
        for n, level in enumerate(levels)
    )
    spare = replace(base_scenario().seed_lots[0], lot="Blue A", variety="Blue", sowing_margin=0.07)
    made = with_nursery(SPECIMENS["level"], margin_policy=MarginPolicy.LEVEL)
    made = replace(made, orders=orders, seed_lots=(*made.seed_lots, spare))
    first, second = tune(made, seasons=200, seed=1).rounds[:2]
    for lot, margin in zip(made.seed_lots[:2], second.margins.sowing.tolist()[:2], strict=True):
        drawn = first.plan.waves.loc[first.plan.waves["lot"] == lot.lot, "drawn"].tolist()
        # One of at most two waves holds half of what is drawn: the largest.
        assert len(drawn) <= 2
        right = lot_margin(lot, round(max(drawn)), max(levels))
        assert right <= margin < right + 1.0001e-5
    assert second.margins.sowing[2] == 0.07


def cramped(slots: float) -> Scenario:
    """The one order with so many slots in the chamber."""
    return with_rows(
        sure_seed(0.99),
        "zones",
        lambda zone: replace(zone, slots=slots) if zone.use is ZoneUse.HEALING else zone,
    )


def test_a_margin_grows_to_what_there_is_room_for() -> None:
    """6 trays of ten on two graft days are room for 120 joins, 108 plants: a chance of 0.99 wants more."""
    scenario = with_rows(cramped(6), "orders", lambda row: replace(row, graft_margin=0.02))
    tuned = tune(scenario, seasons=2000, seed=3)
    assert any(made.plan.short > 0 for made in tuned.rounds)
    assert tuned.most[0] == pytest.approx(0.08, abs=0.02)
    assert tuned.chosen.margins.graft[0] > 0.02
    assert tuned.chosen.rank == min(made.rank for made in tuned.rounds)
    assert tuned.chosen.risk.orders["chance"].iloc[0] > tuned.before.risk.orders["chance"].iloc[0]
    assert tuned.chosen.below == 1


def test_an_order_short_in_the_plan_gives_up_its_margin_and_is_named() -> None:
    tuned = tune(cramped(3), seasons=500, seed=3)
    assert tuned.rounds[0].margins.graft[0] > 0
    assert [float(made.margins.graft[0]) for made in tuned.rounds[1:]] == [0.0] * (len(tuned.rounds) - 1)
    assert tuned.rounds[1].plan.short < tuned.before.plan.short
    assert tuned.remarks() == ["short in the plan, which no margin can change"]


def test_orders_bought_in_or_declined_need_no_margin() -> None:
    base = sure_seed()
    declined = order("O-9", "Red on Stout", 500, 16, price=0.01, decline=Decline.WHOLE)
    offer = BuyInOffer("cheap", "Red on Stout", 0.01, 0, WEEK, None, None, 0, None)
    assert tune(replace(base, orders=(declined,)), seasons=100, seed=1).remarks() == ["declined in the plan"]
    assert tune(replace(base, buy_in_offers=(offer,)), seasons=1000, seed=1).remarks() == ["all bought in"]


def test_fixed_margins_aim_at_the_nurserys_level_and_priced_ones_at_the_critical_ratio() -> None:
    fixed = with_nursery(sure_seed(), margin_policy=MarginPolicy.FIXED)
    assert order_levels(fixed).tolist() == [0.9]
    assert tune(fixed, seasons=2000, seed=2).chosen.reached.all()
    priced = with_nursery(sure_seed(), margin_policy=MarginPolicy.PRICED, plant_cost=10.0)
    assert order_levels(priced).tolist() == pytest.approx([0.8])


def test_the_study_compares_with_the_rule_of_thumb_and_its_variant_reads_back(tmp_path: Path) -> None:
    scenario = with_nursery(base_scenario(), margin_policy=MarginPolicy.FIXED)
    write_folder(scenario, tmp_path / "season")
    said: list[str] = []
    study = margins_study(scenario, seasons=2000, seed=4, parent="season", progress=said.append)
    assert "20 % over: 2,000 other seasons" in said
    assert said[-1] == "traced costs"
    assert study.answer[1].startswith("With the scenario's margins 0 of 1 orders reach their service level")
    assert "with tuned margins 1 does" in study.answer[1]
    assert "by the rule of thumb, 20 % over every order" in study.answer[3]
    (row,) = table(study, "Orders")
    assert row["chance_before"] < row["level"] <= row["low"] <= row["chance"]
    assert row["plants"] == pytest.approx(row["margin"] * row["own"])
    for drawn, told in (("missed_before", "chance_before"), ("missed", "chance"), ("allowed", "level")):
        assert value_of(row[drawn]) == pytest.approx(1 - row[told])
    cases = table(study, "Comparison")
    assert [case["below"] for case in cases[:2]] == [1, 0]
    assert cases[2]["margin"] == pytest.approx(20)
    assert [case["case"] for case in cases] == ["before tuning", "tuned", "20 % over", cases[3]["case"]]
    assert cases[3]["case"].startswith("plain margin of ")
    for case in cases:
        assert case["saved"] == pytest.approx(case["cost"] - cases[1]["cost"])
    assert cases[0]["cost"] < cases[1]["cost"]
    lots = table(study, "Seed lots")
    waves = table(study, "Waves")
    assert sum(lot["seeds"] for lot in lots) == sum(wave["seeds"] for wave in waves)
    assert [row["chosen"] for row in table(study, "Rounds")].count("chosen") == 1
    ((name, text),) = study.files
    (tmp_path / name).write_text(text, encoding="utf-8")
    assert name == FILE
    variant = read_variant(tmp_path / name)
    assert len(variant.changes) == 3
    assert plan(variant.scenario).cost == pytest.approx(cases[1]["cost"])


def test_the_cost_of_a_margin_is_its_part_of_what_growing_costs() -> None:
    """Nothing costs but seed in the base, so that a margin costs its part of the plan."""
    scenario = with_nursery(sure_seed(), margin_policy=MarginPolicy.LEVEL)
    study = margins_study(scenario, seasons=1000, seed=4)
    (row,) = table(study, "Orders")
    cost = table(study, "Comparison")[1]["cost"]
    assert row["cost"] == pytest.approx(cost * row["plants"] / (row["own"] + row["plants"]))
    assert study.files == []


def test_the_answer_says_which_orders_no_margin_can_help() -> None:
    study = margins_study(cramped(3), seasons=500, seed=3)
    assert study.answer[1].startswith("With the scenario's margins 0 of 1 orders reach")
    assert study.answer[2] == "Not reached by O-1: short in the plan, which no margin can change."
    assert study.answer[-1].startswith("The scenario's margins are the best found")


@pytest.mark.parametrize(
    ("policy", "said"), [(MarginPolicy.LEVEL, "--rehearse 100"), (MarginPolicy.FIXED, "keeps no level")]
)
def test_a_hedge_among_choices_that_are_not_rehearsed_is_told_for_what_it_is(
    policy: MarginPolicy, said: str
) -> None:
    scenario = with_nursery(base_scenario(), margin_policy=policy)
    with_hedge = margins_study(scenario, seasons=20, seed=4, hedge=4).answer
    assert any("hedged plan" in text and said in text for text in with_hedge)
    assert not any("hedged plan" in text for text in margins_study(scenario, seasons=20, seed=4).answer)


def test_choices_of_margins_are_told_by_the_same_other_seasons_rehearsed_too() -> None:
    """One unseen draw for all: what each choice costs there is what its plan costs there on its own."""
    scenario = with_nursery(base_scenario(), margin_policy=MarginPolicy.LEVEL, graft_margin=0.05)
    study = margins_study(scenario, seasons=40, seed=4, hedge=20, rehearse=20)
    cases = table(study, "Comparison")
    assert [case["case"] for case in cases][4] == "hedged"
    best = next(case for case in cases if case["case"] == cases[3]["case"])
    size = float(str(best["case"]).removeprefix("plain margin of ").removesuffix("%")) / 100
    alone = with_rows(scenario, "orders", lambda row: replace(row, graft_margin=size))
    solved = solve(alone)
    made = plan_of(solved)
    risk = simulate(alone, made, seasons=40, seed=5)
    assert best["season"] == pytest.approx(risk.totals["cost"].mean())
    drawn = Seasons(40, 5)
    again = Rehearsal(solved.program, solved.compiled, solved.solution.columns, made, drawn).seasons(
        range(20)
    )
    assert best["again"] == pytest.approx(again.totals["cost"].mean())
    assert best["short_again"] == pytest.approx(again.short.sum(axis=0).mean())
    costs = risk.totals["cost"].to_numpy(float), again.totals["cost"].to_numpy(float)
    assert best["lasting"] == pytest.approx(SeasonCosts(*costs).mean)
    least = min(cases, key=lambda case: (case["below_again"], case["lasting"]))
    assert least["dearer"] == 0
    (said,) = [text for text in study.answer if text.startswith("Rehearsed in 20 other seasons")]
    assert f"the best is: {least['case']}. It leaves" in said
    assert digits(float(str(least["lasting"])), "USD") in said
    assert digits(float(str(least["lasting"])) - float(str(least["lasting_penal"])), "USD") in said

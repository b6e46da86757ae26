"""Rounds of tuning, each worked out again from the one before, and what is said of orders, case by case."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise
from math import ceil, floor
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binomtest, norm

from model.planned.plan_tables import Plan
from model.rates.overseeding import lot_margin
from model.risk.simulation import Risk, simulate
from model.risk.tuning import (
    Bands,
    Margins,
    Round,
    Tuned,
    bands_of,
    least_chance,
    margins_of,
    order_levels,
    step,
    tune,
    with_margins,
)
from model.scenario.choices import Decline, MarginPolicy, MethodKind, ZoneUse
from model.scenario.entities import Scenario
from model.solve import plan
from tests.scenario_parts import method, order
from tests.specimens import SPECIMENS
from tests.strategies import base_scenario, with_nursery, with_rows

BAND = (0.95, 0.96, 0.97)


def written(margin: float) -> float:
    """A margin rounded up to five places."""
    return ceil(round(margin * 1e5, 5)) / 1e5


def take_only(level: float = 0.9, **methods: Any) -> Scenario:
    """One order of 100 plants whose only risk is take."""
    take = method(
        "splice", MethodKind.ON_TRAY, **{"match": 1.0, "take": 0.9, "finish_survival": 1.0} | methods
    )
    made = with_nursery(base_scenario(methods=(take,)), margin_policy=MarginPolicy.LEVEL, service_level=level)
    return with_rows(made, "seed_lots", lambda row: replace(row, germination=1.0, grade_out=0.0))


def four_orders() -> Scenario:
    """Orders of four days without holding, at levels of their own, with seed that may fail."""
    firm = method("splice", MethodKind.ON_TRAY, holding_limit_days=0, rootstock_age_max=4, scion_age_max=3)
    orders = tuple(
        order(f"O-{n}", "Red on Stout", quantity, 13 + n, service_level=level, graft_margin=margin)
        for n, (quantity, level, margin) in enumerate(
            ((35, 0.9, None), (10, 0.6, 0.5), (30, 0.95, None), (25, 0.8, None))
        )
    )
    return with_nursery(base_scenario(orders=orders, methods=(firm,)), margin_policy=MarginPolicy.LEVEL)


def two_scions() -> Scenario:
    """Orders of 60 and 15 plants of unlike scions on one rootstock, so that the lots' waves are unlike."""
    base = take_only()
    green = replace(base.products[0], product="Green on Stout", scion="Green")
    orders = (order("O-1", "Red on Stout", 60, 16), order("O-2", "Green on Stout", 15, 16))
    red, stout = (replace(lot, germination=0.9) for lot in base.seed_lots)
    lots = (red, stout, replace(red, lot="Green A", variety="Green"))
    packs = (*base.packs, replace(base.packs[0], item="Green A"))
    return replace(base, orders=orders, products=(*base.products, green), seed_lots=lots, packs=packs)


def chamber(of: Scenario, slots: float) -> Scenario:
    return with_rows(of, "zones", lambda z: replace(z, slots=slots) if z.use is ZoneUse.HEALING else z)


BOOKS = {
    "one": take_only(),
    "four": four_orders(),
    "shared": with_rows(four_orders(), "methods", lambda row: replace(row, holding_limit_days=2)),
    "large": with_rows(take_only(), "orders", lambda row: replace(row, graft_margin=1.0)),
    "two flows": chamber(take_only(), 10.0),
    "short": chamber(take_only(), 3.0),
    "two scions": two_scions(),
}


def tuned(name: str) -> Tuned:
    """The margins of a book tuned on 300 seasons."""
    return tune(BOOKS[name], seasons=300, seed=5)


def spread(made: Round) -> list[float]:
    """Standard deviation of the plants of each order, its part of each flow being that of the plan."""
    deliveries = made.plan.deliveries[made.plan.deliveries["source"] == "own"]
    flows = list(zip(made.plan.flows["product"], made.plan.flows["graft_day"], strict=True))
    found = []
    for asked in made.scenario.orders:
        plants = np.zeros(made.risk.seasons)
        for row in deliveries[deliveries["order"] == asked.order].to_dict("records"):
            f = flows.index((row["product"], row["graft_day"]))
            part = (row["plants"] + row["margin_plants"]) / made.plan.flows["finished"].iloc[f]
            plants = plants + made.risk.finished[f] * part
        found.append(float(np.sqrt(np.mean((plants - plants.mean()) ** 2))))
    return found


def room(rounds: list[Round]) -> list[float]:
    """The largest margin of each order that fits, where a round has left it short in the plan."""
    most = [float("inf")] * len(rounds[0].margins.graft)
    for made in rounds:
        for o, margin in enumerate(made.margins.graft.tolist()):
            row = made.plan.orders.iloc[o]
            if row["own"] > 1e-6 and row["short"] > 1e-6:
                fits = max(0.0, (1 + margin) * row["own"] / (row["own"] + row["short"]) - 1)
                most[o] = min(most[o], floor(fits * 1e5) / 1e5)
    return most


def next_graft(rounds: list[Round], bands: Bands, lower: bool) -> list[float]:
    """Graft margins of the round after these."""
    made, most = rounds[-1], room(rounds)
    found = []
    for o, (margin, wide) in enumerate(zip(made.margins.graft.tolist(), spread(made), strict=True)):
        row, band = made.plan.orders.iloc[o], (bands.enough[o], bands.aim[o], bands.much[o])
        chance = float(made.risk.orders["chance"].iloc[o])
        plants = step(chance, made.risk.short[o], wide, band, lower=lower)
        moves = row["own"] > 1e-6 and row["short"] <= 1e-6
        found.append(min(most[o], written(max(0.0, margin + plants / row["own"])) if moves else margin))
    return found


def next_sowing(of: Scenario, made: Round) -> list[float]:
    """Sowing margins of the next round: for the wave that brings the seedlings drawn to half."""
    found = []
    for lot in of.seed_lots:
        drawn = sorted(made.plan.waves.loc[made.plan.waves["lot"] == lot.lot, "drawn"].tolist())
        usual = next(size for n, size in enumerate(drawn) if sum(drawn[: n + 1]) >= sum(drawn) / 2)
        found.append(written(lot_margin(lot, round(usual), max(order_levels(of)))))
    return found


@pytest.mark.parametrize("name", BOOKS)
def test_each_round_follows_from_the_one_before_and_is_planned_and_simulated(name: str) -> None:
    of, found = BOOKS[name], tuned(name)
    assert found.rounds[0].margins.graft.tolist() == margins_of(of).graft.tolist()
    assert found.rounds[0].margins.sowing.tolist() == margins_of(of).sowing.tolist()
    for n, (made, after) in enumerate(pairwise(found.rounds), 1):
        assert after.margins.graft.tolist() == pytest.approx(
            next_graft(list(found.rounds[:n]), found.bands, n <= 5), abs=1.1e-5
        )
        sowing = next_sowing(of, made) if n <= 2 else made.margins.sowing.tolist()
        assert after.margins.sowing.tolist() == pytest.approx(sowing, abs=1e-9)
    last, n = found.rounds[-1], len(found.rounds)
    assert n == 12 or next_graft(list(found.rounds), found.bands, n <= 5) == pytest.approx(
        last.margins.graft.tolist(), abs=1e-9
    )
    assert found.levels.tolist() == order_levels(of).tolist()
    assert found.before is found.rounds[0]
    for made in found.rounds[1:3]:
        assert made.scenario == with_margins(of, made.margins)
        again = simulate(made.scenario, made.plan, seasons=300, seed=5)
        assert made.risk.orders.equals(again.orders)
        assert made.plan.cost == pytest.approx(plan(made.scenario).cost)
        assert made.reached.tolist() == (again.orders["chance"] >= found.bands.enough).tolist()
        assert made.below == made.reached.tolist().count(False)
    ranks = [(made.below, made.risk.totals["cost"].mean()) for made in found.rounds]
    assert [made.rank for made in found.rounds] == ranks
    assert found.chosen is found.rounds[ranks.index(min(ranks))]


def test_rounds_lower_and_raise_margins_and_sow_for_the_usual_wave() -> None:
    """The books above take the roads that they are to check."""
    of, found = BOOKS["four"], tuned("four")
    made = found.rounds[0]
    drawn = sorted(made.plan.waves.loc[made.plan.waves["lot"] == "Stout A", "drawn"].tolist())
    # The third of four waves brings the seedlings to half, the second to a third of them.
    sizes = [written(lot_margin(of.seed_lots[1], round(size), 0.95)) for size in drawn]
    assert next_sowing(of, made)[1] == sizes[2]
    assert len(set(sizes)) == 4
    own = plan(BOOKS["two flows"]).deliveries
    assert own["order"].tolist() == ["O-1", "O-1"]
    moves = [b.margins.graft - a.margins.graft for a, b in pairwise(found.rounds)]
    assert min(float(move.min()) for move in moves) < 0 < max(float(move.max()) for move in moves)
    large = tuned("large").rounds
    assert len(large) > 3
    assert large[1].margins.graft[0] < 1.0


def test_priced_margins_are_ranked_by_cost_alone() -> None:
    of = with_nursery(take_only(), margin_policy=MarginPolicy.PRICED, plant_cost=0.5)
    made = tune(of, seasons=100, seed=1).chosen
    assert made.rank == (0, made.risk.totals["cost"].mean())


@pytest.mark.parametrize("name", ["level", "priced", "own margins", "on-tray"])
def test_margins_of_a_scenario_are_those_of_its_plan(name: str) -> None:
    found = margins_of(SPECIMENS[name])
    made = plan(SPECIMENS[name])
    assert found.graft.tolist() == made.orders["margin"].tolist()
    cells = {"ten": 10, "twenty": 20}
    for lot, margin in zip(SPECIMENS[name].seed_lots, found.sowing.tolist(), strict=True):
        waves = made.waves[made.waves["lot"] == lot.lot]
        share = (1 - (1 - lot.germination) ** lot.seeds_per_cell) * (1 - lot.grade_out)
        wave, spare = waves.iloc[0], made.spare_seedlings
        fixed = cells[wave["format"]] * share / wave["usable_per_tray"] - 1
        kept = spare.loc[spare["wave"].isin(waves["wave"]), "seedlings"].sum() / waves["drawn"].sum()
        assert fixed + kept == pytest.approx(margin, rel=0.01)
        assert min(fixed, kept) == pytest.approx(0)


def test_levels_are_the_orders_own_the_nurserys_or_the_critical_ratio() -> None:
    """A plant short costs 50, a plant over 10, a fifth of it."""
    assert order_levels(four_orders()).tolist() == [0.9, 0.6, 0.95, 0.8]
    assert order_levels(take_only(0.7)).tolist() == [0.7]
    priced = with_nursery(take_only(), margin_policy=MarginPolicy.PRICED, plant_cost=10.0)
    assert order_levels(priced).tolist() == pytest.approx([(50 - 10) / 50])


def test_an_order_filled_in_every_season_is_reached_whatever_its_level() -> None:
    """Of 50 seasons all must fill it for a level of .99, and all do."""
    found = tune(take_only(0.99, take=1.0), seasons=50, seed=5)
    assert found.bands.enough.tolist() == [1.0]
    assert found.chosen.reached.tolist() == [True]
    assert found.chosen.margins.graft.tolist() == [0.0]


def test_rounds_are_told_as_they_begin() -> None:
    said: list[str] = []
    found = tune(take_only(), seasons=50, seed=5, progress=said.append)
    rounds = [text for text in said if ":" not in text]
    assert rounds == [f"margins, round {n} of at most 12" for n in range(1, len(found.rounds) + 1)]
    assert "margins, round 1 of at most 12: 50 seasons: graft day 1 of 1" in said
    assert any(text.startswith("margins, round 1 of at most 12: whole trays") for text in said)


def test_there_are_so_many_rounds_and_no_more(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("model.risk.tuning.ROUNDS", 2)
    said: list[str] = []
    assert len(tune(BOOKS["large"], seasons=300, seed=5, progress=said.append).rounds) == 2
    assert [text for text in said if ":" not in text][-1] == "margins, round 2 of at most 2"


@pytest.mark.parametrize("seasons", [1, 2, 7, 30, 31])
def test_the_least_chance_by_trying_all(seasons: int) -> None:
    for level in (0.1, 0.5, 0.8, 0.95):
        lows = [binomtest(k, seasons).proportion_ci(0.95, "wilson").low for k in range(seasons + 1)]
        right = next((k / seasons for k, low in enumerate(lows) if low >= level), 1.0)
        assert least_chance(level, seasons) == right


def test_bands_of_several_orders_and_of_one_season() -> None:
    bands = bands_of([0.5, 0.9], 1000)
    for o, level in enumerate((0.5, 0.9)):
        enough = least_chance(level, 1000)
        aim = least_chance(enough, 1000)
        found = (bands.enough[o], bands.aim[o], bands.much[o])
        assert found == (enough, aim, least_chance(aim, 1000))
    assert bands_of([0.5], 1).much.tolist() == [1.0]
    with pytest.raises(ValueError, match=r"^seasons must be at least 1$"):
        bands_of([0.5], 0)


def test_steps_to_the_last_figure() -> None:
    none = np.zeros(1000)
    down = -0.8 * 3.0 * (norm.ppf(0.99) - norm.ppf(0.96))
    assert step(0.99, none, 3.0, BAND, lower=True) == pytest.approx(down)
    # Never short: half a season's chance is left.
    sure = -0.8 * 3.0 * (norm.ppf(1 - 0.5 / 1000) - norm.ppf(0.96))
    assert step(1.0, none, 3.0, BAND, lower=True) == pytest.approx(sure)
    assert step(1.0, none, 3.0, (0.98, 1.0, 0.999), lower=True) == pytest.approx(0.0)
    # At the edges of the band nothing moves; below it a fifth of a plant at least is added.
    assert step(0.95, none, 3.0, BAND, lower=True) == 0
    assert step(0.97, none, 3.0, BAND, lower=True) == 0
    assert step(0.949, none, 3.0, BAND, lower=True) == 0.2
    assert step(0.949, none + 0.1, 3.0, BAND, lower=False) == 0.2
    assert step(0.949, none + 0.3, 3.0, BAND, lower=True) == 0.3
    # Of four seasons, three are the first that are more than 0.6 of them: no plants between 1 and 2.
    assert step(0.5, np.array([3.0, 0.0, 2.0, 1.0]), 3.0, (0.55, 0.6, 0.7), lower=True) == 2.0


def test_no_margin_grows_beyond_what_tables_allow_and_hopeless_seed_keeps_its_own() -> None:
    """A plant short of an order of one raises its margin by 1; no number of seeds of Red A is ever enough.

    Blue A is not used. Both stand before Stout A, which is sown anew.
    """
    of = with_rows(take_only(0.95), "orders", lambda row: replace(row, quantity=1, graft_margin=8.9))
    red, stout = of.seed_lots
    red = replace(red, germination=0.5, germination_correlation=0.9)
    of = replace(
        of, seed_lots=(replace(red, lot="Blue A", variety="Blue"), red, replace(stout, germination=0.7))
    )
    first, second = tune(of, seasons=100, seed=2).rounds[:2]
    assert first.below == 1
    assert second.margins.graft.tolist() == [9.0]
    drawn = first.plan.waves.loc[first.plan.waves["lot"] == "Stout A", "drawn"].tolist()
    kept = margins_of(of).sowing.tolist()
    assert second.margins.sowing.tolist() == [
        *kept[:2],
        written(lot_margin(of.seed_lots[2], round(drawn[0]), 0.95)),
    ]
    assert second.margins.sowing[2] != kept[2]


def test_margins_are_written_into_orders_and_lots() -> None:
    of = with_margins(four_orders(), Margins(np.array([0.1, 0.2, 0.3, 0.4]), np.array([0.5, 0.6])))
    assert [row.graft_margin for row in of.orders] == [0.1, 0.2, 0.3, 0.4]
    assert [row.sowing_margin for row in of.seed_lots] == [0.5, 0.6]
    assert of == replace(four_orders(), orders=of.orders, seed_lots=of.seed_lots)


CASES: dict[str, tuple[dict[str, float], str]] = {
    "well": ({}, ""),
    "at the top of its band": ({"chance": 0.97}, ""),
    "above without a margin": ({"chance": 0.98, "margin": 0.0}, "above its level without any margin"),
    "above with a margin": (
        {"chance": 0.98},
        "also filled by whole trays, or by plants over from other orders",
    ),
    "above, bought": ({"chance": 0.98, "own": 0.0, "margin": 0.0}, "all bought in"),
    "declined": ({"chance": 1.0, "own": 0.0, "declined": 100}, "declined in the plan"),
    "declined in part": (
        {"chance": 0.98, "declined": 99},
        "also filled by whole trays, or by plants over from other orders",
    ),
    "short": ({"chance": 0.0, "short": 1.0, "high": 0.1}, "short in the plan, which no margin can change"),
    "within the error": ({"chance": 0.94, "high": 0.95}, "at its level within the seasons' error"),
    "below": ({"chance": 0.9, "high": 0.949}, "not reached in 2 rounds"),
}
"""What is said of an order at a level of .95 and the band of BAND."""


@cache
def base_plan() -> Plan:
    return plan(base_scenario())


@pytest.mark.parametrize("full", [False, True])
def test_what_is_said_of_each_order(full: bool) -> None:
    usual = {
        "chance": 0.955,
        "high": 0.99,
        "own": 100.0,
        "short": 0.0,
        "declined": 0,
        "margin": 0.1,
        "quantity": 100,
    }
    orders = pd.DataFrame([usual | changes for changes, _ in CASES.values()])
    made = replace(base_plan(), orders=orders)
    few = len(orders)
    risk = Risk(1, 1, orders, orders, np.zeros((few, 1)), np.zeros((1, 1)))
    reached = (orders["chance"] >= BAND[0]).to_numpy()
    margins = Margins(orders["margin"].to_numpy(), np.zeros(1))
    one = Round(margins, base_scenario(), made, risk, reached)
    bands = Bands(*(np.full(few, at) for at in BAND))
    most = margins.graft if full else np.full(few, np.inf)
    found = Tuned(np.full(few, 0.95), bands, (one, one), one, most).remarks()
    right = [text for _, text in CASES.values()]
    if full:
        right[-1] = "larger margins leave more plants short in the plan, because room or hands bind"
    assert found == right
    assert one.below == 3
    less = replace(one, margins=Margins(margins.graft - 0.05, margins.sowing), reached=reached | True)
    elsewhere = Tuned(np.full(few, 0.95), bands, (less, one), one, np.full(few, np.inf)).remarks()
    assert elsewhere[-1] == "reached in a round that was not chosen"
    assert elsewhere[3] == "reached with a smaller margin in a round that was not chosen"


def test_an_order_declined_entirely_is_reached_and_one_declined_in_part_is_not() -> None:
    """The plan declines O-9, which pays less than its seed costs, and leaves O-8, due too early, short."""
    early = order("O-8", "Red on Stout", 40, 2)
    of = replace(
        take_only(), orders=(order("O-9", "Red on Stout", 50, 16, price=0.01, decline=Decline.WHOLE), early)
    )
    found = tune(of, seasons=50, seed=1)
    assert found.chosen.reached.tolist() == [True, False]
    assert found.remarks() == ["declined in the plan", "short in the plan, which no margin can change"]
    # Neither has plants of its own whose margin could move.
    assert len(found.rounds) <= 2
    assert found.chosen.margins.graft.tolist() == pytest.approx(margins_of(of).graft.tolist(), abs=1e-5)

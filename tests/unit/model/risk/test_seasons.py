"""Seasons drawn through plans written by hand: who shares luck, who shares seedlings, what is reported."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from model.planned.plan_tables import Plan
from model.risk.batches import varying_share
from model.risk.recourse import recourse
from model.risk.simulation import simulate, wilson_interval
from model.scenario.choices import MarginPolicy, MethodKind
from model.scenario.entities import Product, Scenario
from model.scenario.records.trade import BuyInOffer
from model.solve import plan
from tests.by_hand import by_place
from tests.scenario_parts import WEEK, day, lot, method, order
from tests.strategies import base_scenario, with_nursery, with_rows

SEASONS = 4000
Floats = NDArray[np.float64]


def scenario(**methods: Any) -> Scenario:
    """Two grafted products of a method and one own-root product; every seed and join gives a plant."""
    sure = {"match": 1.0, "take": 1.0, "finish_survival": 1.0} | methods
    other = {"match": None, "take": None}
    made = base_scenario(
        methods=(
            method("splice", MethodKind.ON_TRAY, **sure),
            method("cleft", MethodKind.ON_TRAY, **sure),
            method("plain", MethodKind.OWN_ROOT, **sure | other),
        ),
        seed_lots=tuple(lot(f"{name} A", name) for name in ("Red", "Blue", "Stout")),
    )
    products = (
        Product("Red on Stout", "tomato", "Red", "Stout", "splice", "ten", ("twenty",)),
        Product("Blue on Stout", "tomato", "Blue", "Stout", "splice", "ten", ("twenty",)),
        Product("cleft Red", "tomato", "Red", "Stout", "cleft", "ten", ("twenty",)),
        Product("Red plain", "tomato", "Red", None, "plain", "ten"),
    )
    made = replace(made, products=products)
    return with_rows(made, "seed_lots", lambda row: replace(row, germination=1.0, grade_out=0.0))


@cache
def base_plan() -> Plan:
    return plan(base_scenario())


METHOD = {
    "Red on Stout": "splice",
    "Blue on Stout": "splice",
    "cleft Red": "cleft",
    "Red plain": "plain",
}

Joins = tuple[str, int, str | None, str, float, float, float]
"""Product, graft day, rootstock wave, scion wave, joins, match and take."""


def written(waves: dict[str, tuple[str, float]], *joins: Joins) -> Plan:
    """A plan of waves (lot and trays of ten by name) and joins; its flows follow, in order of the joins."""
    sown = [
        (name, of, of.split()[0], "ten", day(0), day(2), trays, trays * 10, 10.0, 0.0, day(9))
        for name, (of, trays) in waves.items()
    ]
    rows = [
        (p, day(t), root, scion, t, t, n, match, take, n / match)
        for p, t, root, scion, n, match, take in joins
    ]
    flows = [
        (p, day(t), METHOD[p], 0.0, 1.0, 0.0, 1.0, 0.0, day(t + 5), 0.0, 0.0, 0.0)
        for p, t in dict.fromkeys(row[:2] for row in joins)
    ]
    tables = {"waves": sown, "joins": rows, "flows": flows, "deliveries": []}
    return replace(base_plan(), **{name: by_place(name, rows) for name, rows in tables.items()})


def finished(of: Scenario, made: Plan, seasons: int = SEASONS, seed: int = 1) -> Floats:
    return simulate(of, made, seasons=seasons, seed=seed).finished


def mean_is(numbers: Floats, mean: float) -> None:
    """The mean lies within four and a half standard errors of what it should be."""
    assert abs(numbers.mean() - mean) <= 4.5 * numbers.std() / len(numbers) ** 0.5 + 1e-9


PLENTY = {"S": ("Stout A", 1000.0), "R": ("Red A", 1000.0), "B": ("Blue A", 1000.0)}


def own_root(trays: float, **lots: Any) -> Floats:
    """Plants of all seedlings of one wave of so many trays of ten."""
    of = with_rows(scenario(), "seed_lots", lambda row: replace(row, **lots))
    return finished(of, written({"W": ("Red A", trays)}, ("Red plain", 4, None, "W", 9999.0, 1.0, 1.0)))[0]


@pytest.mark.parametrize("trays, cells", [(5.0, 50), (5.04, 51), (5.00000001, 50), (0.0, 0), (0.01, 1)])
def test_parts_of_a_tray_are_sown_in_whole_cells(trays: float, cells: int) -> None:
    assert set(own_root(trays)) == {cells}


def test_seedlings_come_up_cell_by_cell() -> None:
    """500 cells of two seeds that germinate at .6, of whose seedlings a tenth is graded out."""
    up = own_root(50.0, germination=0.6, grade_out=0.1, seeds_per_cell=2)
    share = (1 - 0.4**2) * 0.9
    mean_is(up, 500 * share)
    assert up.var() == pytest.approx(500 * share * (1 - share), rel=0.1)


def two_waves(one: str, other: str) -> Floats:
    """Plants of two waves of lots that germinate at .8 and vary much from season to season."""
    of = with_rows(
        scenario(), "seed_lots", lambda row: replace(row, germination=0.8, germination_correlation=0.1)
    )
    waves = {"V": (one, 100.0), "W": (other, 100.0)}
    joins = [("Red plain", t, None, wave, 9999.0, 1.0, 1.0) for t, wave in ((4, "V"), (5, "W"))]
    return finished(of, written(waves, *joins))


def test_waves_of_a_lot_share_its_germination_and_lots_do_not() -> None:
    assert np.corrcoef(two_waves("Red A", "Red A"))[0, 1] > 0.95
    assert abs(np.corrcoef(two_waves("Red A", "Blue A"))[0, 1]) < 0.1


@pytest.mark.parametrize(
    "product, t, shared",
    [("Red on Stout", 5, False), ("Blue on Stout", 4, True), ("cleft Red", 4, False)],
)
def test_joins_of_a_method_and_day_share_their_luck(product: str, t: int, shared: bool) -> None:
    """Against joins of red on day 4: of another day or method, takes are high or low on their own."""
    of = scenario(take=0.8, take_correlation=0.1)
    made = written(
        PLENTY, ("Red on Stout", 4, "S", "R", 900.0, 1.0, 0.8), (product, t, "S", "B", 900.0, 1.0, 0.8)
    )
    plants = finished(of, made)
    mean_is(plants[0], 720)
    mean_is(plants[1], 720)
    found = np.corrcoef(plants)[0, 1]
    assert found > 0.95 if shared else abs(found) < 0.1


def test_each_row_has_the_take_of_its_ages() -> None:
    """Two rows of a flow, 300 joins at .9 and 200 at .5, of which .8 are finished."""
    made = written(
        PLENTY, ("Red on Stout", 4, "S", "R", 300.0, 1.0, 0.9), ("Red on Stout", 4, "S", "B", 200.0, 1.0, 0.5)
    )
    plants = finished(scenario(finish_survival=0.8), made)
    assert plants.shape == (1, SEASONS)
    mean_is(plants[0], 0.8 * (300 * 0.9 + 200 * 0.5))
    right = sum(n * p * (1 - p) for n, p in ((300, 0.9 * 0.8), (200, 0.5 * 0.8)))
    assert plants[0].var() == pytest.approx(right, rel=0.1)


def test_rows_of_a_flow_are_rounded_to_whole_joins_with_its_sum() -> None:
    """10.4 and 10.4 are 21 joins, three times 0.2 is one join, and a row of nothing makes none."""
    rows = [("Red on Stout", 4, "S", "R", 10.4, 1.0, 1.0), ("Red on Stout", 4, "S", "B", 10.4, 1.0, 1.0)]
    assert set(finished(scenario(), written(PLENTY, *rows), 3)[0]) == {21}
    thirds = [("Red on Stout", 4, root, "R", 0.2, 1.0, 1.0) for root in ("S", "S2", "S3")]
    waves = PLENTY | {"S2": ("Stout A", 1.0), "S3": ("Stout A", 1.0)}
    assert set(finished(scenario(), written(waves, *thirds), 3)[0]) == {1}
    none = [("Red on Stout", 4, "S", "R", 1e-9, 1.0, 1.0)]
    assert set(finished(scenario(), written(PLENTY, *none), 3)[0]) == {0}


def test_rows_share_seedlings_in_proportion_to_what_they_were_to_draw() -> None:
    """30 rootstocks for 40 and 20 joins: 20 and 10 are made, of 60 scions each.

    The 40 and 50 scions over are there for plants without a rootstock on the days after.
    """
    made = written(
        {"S": ("Stout A", 3.0), "R": ("Red A", 6.0), "B": ("Blue A", 6.0)},
        ("Red on Stout", 4, "S", "R", 40.0, 1.0, 1.0),
        ("Blue on Stout", 4, "S", "B", 20.0, 1.0, 1.0),
        ("Red plain", 5, None, "R", 99.0, 1.0, 1.0),
        ("Red plain", 6, None, "B", 99.0, 1.0, 1.0),
    )
    assert finished(scenario(), made, 1)[:, 0].tolist() == [20, 10, 40, 50]


@pytest.mark.parametrize("red, blue, right", [(4, 5, [30, 10]), (5, 4, [20, 20]), (4, 4, [24, 16])])
def test_earlier_graft_days_draw_first_whatever_the_product(red: int, blue: int, right: list[int]) -> None:
    """40 rootstocks for 30 red and 20 blue plants; on one day both have four fifths of theirs."""
    made = written(
        PLENTY | {"S": ("Stout A", 4.0)},
        ("Red on Stout", red, "S", "R", 30.0, 1.0, 1.0),
        ("Blue on Stout", blue, "S", "B", 20.0, 1.0, 1.0),
    )
    assert finished(scenario(), made, 1)[:, 0].tolist() == right


def test_expected_seedlings_are_joins_by_their_match() -> None:
    """Of 90 rootstocks a row of 30 joins at a match of .5 is to draw 60, one of 60 at 1 as many: 45 each.

    More than 30 matches among 45 are never needed; fewer are not, since they are few enough here.
    """
    made = written(
        {"S": ("Stout A", 9.0), "R": ("Red A", 99.0), "B": ("Blue A", 99.0)},
        ("Red on Stout", 4, "S", "R", 30.0, 0.5, 1.0),
        ("Blue on Stout", 4, "S", "B", 60.0, 1.0, 1.0),
    )
    plants = finished(scenario(), made)
    assert set(plants[1]) == {45}
    made_of_45 = np.minimum(np.arange(46), 30) @ stats.binom.pmf(np.arange(46), 45, 0.5)
    mean_is(plants[0], float(made_of_45))


@pytest.mark.parametrize("wanted, there, match", [(20, 30, 0.5), (20, 60, 0.5), (5, 60, 0.1), (1, 10, 0.3)])
def test_seedlings_are_brought_until_the_joins_are_made(wanted: int, there: int, match: float) -> None:
    """Joins made are the matches among the seedlings, at most those wanted; what is over is there next day.

    Seedlings brought are wanted + NegativeBinomial(wanted, match), at most those that are there.
    """
    made = written(
        {"S": ("Stout A", there / 10), "R": ("Red A", 99.0)},
        ("Red on Stout", 4, "S", "R", float(wanted), match, 1.0),
        ("Red on Stout", 5, "S", "R", 999.0, 1.0, 1.0),
    )
    plants = finished(scenario(), made)
    number = np.arange(there + 1)
    joins = np.minimum(number, wanted) @ stats.binom.pmf(number, there, match)
    mean_is(plants[0], float(joins))
    failures = np.arange(5000)
    brought = np.minimum(wanted + failures, there) @ stats.nbinom.pmf(failures, wanted, match)
    mean_is(plants[1], there - float(brought))
    assert (plants[0] <= wanted).all()
    # Where seedlings are over, the joins are all made.
    assert (plants[0][plants[1] > 0] == wanted).all()


@pytest.mark.parametrize("mean", [0.0, 1.0])
def test_a_share_of_none_or_all_does_not_vary(mean: float) -> None:
    luck = np.linspace(0.01, 0.99, 7)
    assert varying_share(mean, 0.2, luck).tolist() == [mean] * 7
    assert varying_share(0.4, 0.0, luck).tolist() == [0.4] * 7
    right = stats.beta.ppf(luck, 0.4 * 4, 0.6 * 4)
    assert varying_share(0.4, 0.2, luck) == pytest.approx(right)


@pytest.mark.parametrize("confidence", [0.8, 0.95, 0.99])
@pytest.mark.parametrize("successes, trials", [(0, 10), (10, 10), (3, 10), (997, 1000), (1, 1), (0, 1)])
def test_the_interval_by_scipy(successes: int, trials: int, confidence: float) -> None:
    known = stats.binomtest(successes, trials).proportion_ci(confidence, "wilson")
    assert wilson_interval(successes, trials, confidence) == pytest.approx((known.low, known.high), abs=1e-12)
    if confidence == 0.95:
        assert wilson_interval(successes, trials) == pytest.approx((known.low, known.high), abs=1e-12)


@cache
def two_orders() -> tuple[Scenario, Plan]:
    """Two orders of unlike penalties, margins and levels, with an offer, salvage, and a plant short."""
    offer = BuyInOffer("neighbour", "Red on Stout", 3.0, 0, WEEK, day(13), day(15), 0, 6)
    orders = (
        order("O-2", "Red on Stout", 60, 17, price=2.5, shortfall_penalty=9.0, graft_margin=0.1),
        order("O-1", "Red on Stout", 40, 15, price=1.5, graft_margin=0.02, service_level=0.7),
    )
    of = base_scenario(orders=orders, buy_in_offers=(offer,))
    of = with_rows(of, "products", lambda row: replace(row, salvage_price=0.2, salvage_most=5))
    return of, plan(of)


def test_what_is_said_of_each_order() -> None:
    of, made = two_orders()
    risk = simulate(of, made, seasons=500, seed=3)
    after = recourse(of, made, risk.finished)
    assert risk.short.tolist() == after.short.tolist()
    rows = risk.orders.to_dict("records")
    for o, (asked, row) in enumerate(zip(of.orders, rows, strict=True)):
        short = after.short[o]
        filled = int((short < 1e-5).sum())
        interval = stats.binomtest(filled, 500).proportion_ci(0.95, "wilson")
        assert (row["order"], row["product"], row["due_day"], row["quantity"]) == (
            asked.order,
            asked.product,
            asked.due_day,
            asked.quantity,
        )
        assert row["margin"] == asked.graft_margin
        assert np.isnan(row["promised"])
        assert row["chance"] == filled / 500
        assert (row["low"], row["high"]) == pytest.approx((interval.low, interval.high))
        assert row["chance_grown"] == (after.missing[o] < 1e-5).mean()
        assert row["mean_short"] == pytest.approx(short.mean())
        # No more are short in 475 of the 500 seasons.
        assert row["worst_short"] == np.sort(short)[474]
    assert len({row["chance"] for row in rows} | {row["chance_grown"] for row in rows}) == 4
    assert list(risk.orders.columns)[-3:] == ["chance_grown", "mean_short", "worst_short"]
    assert (risk.seasons, risk.seed) == (500, 3)


def test_levels_are_promised_by_all_policies_but_fixed_margins() -> None:
    of, made = two_orders()
    level = with_nursery(of, margin_policy=MarginPolicy.LEVEL, service_level=0.8)
    assert simulate(level, made, seasons=1, seed=3).orders["promised"].tolist() == [0.8, 0.7]


def test_totals_of_a_season_add_up_to_the_cost() -> None:
    """What the plan costs but for its own shortfall and salvage, and the season's in their place.

    Its result is its sales less what is paid: neither penalties nor the price of plants declined.
    """
    of, made = two_orders()
    risk = simulate(of, made, seasons=500, seed=3)
    short_plan = replace(
        made,
        costs=by_place(
            "costs",
            [
                ("seed", "Red A", 100.0),
                ("shortfall", "O-1", 30.0),
                ("declined", "O-1", 4.0),
                ("salvage", "Red on Stout", -7.0),
                ("slots", "House", 11.0),
            ],
        ),
    )
    after = recourse(of, made, risk.finished)
    totals = simulate(of, short_plan, seasons=500, seed=3).totals
    assert list(totals.columns) == [
        "finished",
        "bought",
        "delivered",
        "surplus",
        "short",
        "buy_in_cost",
        "penalties",
        "cost",
        "result",
    ]
    assert totals["penalties"].to_numpy() == pytest.approx(9.0 * after.short[0] + 50.0 * after.short[1])
    cost = 115.0 + 9.0 * after.short[0] + 50.0 * after.short[1] + 3.0 * after.bought
    over = np.minimum(risk.finished.sum(axis=0) - (after.delivered - after.bought), 5)
    assert totals["cost"].to_numpy() == pytest.approx(cost - 0.2 * over)
    sales = 2.5 * (60 - after.short[0]) + 1.5 * (40 - after.short[1])
    paid = 111.0 + 3.0 * after.bought - 0.2 * over
    assert totals["result"].to_numpy() == pytest.approx(sales - paid)
    assert totals["buy_in_cost"].to_numpy() == pytest.approx(3.0 * after.bought)
    assert totals["short"].to_numpy() == pytest.approx(after.short.sum(axis=0))
    assert totals["finished"].to_numpy() == pytest.approx(risk.finished.sum(axis=0))
    assert totals["delivered"].to_numpy() == pytest.approx(100 - after.short.sum(axis=0))
    surplus = totals["finished"] + totals["bought"] - totals["delivered"]
    assert totals["surplus"].to_numpy() == pytest.approx(surplus.to_numpy())
    for column in totals:
        assert totals[column].nunique() > 1, column


def test_one_season_is_enough_and_none_is_refused() -> None:
    of, made = two_orders()
    assert len(simulate(of, made, seasons=1, seed=3).totals) == 1
    with pytest.raises(ValueError, match=r"^seasons must be at least 1$"):
        simulate(of, made, seasons=0, seed=3)


def test_progress_counts_graft_days_and_seasons() -> None:
    said: list[str] = []
    made = written(PLENTY, *(("Red on Stout", t, "S", "R", 5.0, 1.0, 1.0) for t in (4, 5, 6)))
    simulate(scenario(), made, seasons=1000, seed=1, progress=said.append)
    assert said == [f"1,000 seasons: graft day {n} of 3" for n in (1, 2, 3)]

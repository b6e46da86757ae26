"""The hedged plan beside plans of least cost, with margins as they are and plain: all in the same seasons."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from typing import NamedTuple

import numpy as np
from scipy.special import ndtri

from model.hedging.hedged_plan import Hedged, Rule
from model.network.charges import with_charges
from model.phases import Say, silent
from model.planned.plan_tables import Plan, rows_of
from model.planned.results import has_prices
from model.risk.batches import Floats
from model.risk.simulation import INTERVAL, promised_levels
from model.scenario.about_cells import CellChange
from model.scenario.calendar import Calendar
from model.scenario.choices import MarginPolicy
from model.scenario.entities import Scenario
from reports.book.batch_words import batch_words
from reports.book.style import CellKind
from reports.book.words import PENALTIES, amount, counted, digits, with_penalties
from reports.book.writing import grouped
from reports.study import column
from reports.study.study import Figure, Section, Study, run_facts
from scenarios.rehearsing.drawn_seasons import MADE, RECOURSE, drawn_facts
from scenarios.rehearsing.lived_plans import LivedPlan, OtherSeasons, lived, plain_at_its_best

UNSEEN = 1000
"""Other seasons in which the plans are compared."""

INSIDE = (
    "Inside: the mean over the seasons that the plan was made for. A plan mostly looks better there than in "
    "others, and the more so the fewer they are. Outside: the mean over other seasons, drawn for all plans "
    "alike. From, to: 95 % interval of that mean, since the seasons are a sample."
)
WHICH = (
    "The hedged plan grows plants to spare, sows in more waves and joins on more days where that costs less "
    "than the plants short that it saves. Where margins are at a level, an order is filled in the seasons "
    "the plan was made for, as far as there is room, but in as many as its level lets go: those in which it "
    "was shortest, mostly for a mishap. In the other seasons nobody plans again, and fewer levels are kept. "
    "Of the plain margins, the one shown keeps most levels, and of those costs least."
)


def over(plan: Plan) -> float:
    """Plants that a plan grows for no order, or as an order's margin."""
    return float(plan.flows["margin_plants"].sum() + plan.flows["surplus"].sum())


class _Mean(NamedTuple):
    """The mean of a sample, and half the width of its interval."""

    mean: float
    half: float


def mean_of(values: Floats) -> _Mean:
    """Mean and half the width of its 95 % interval (normal)."""
    z = float(ndtri((1 + INTERVAL) / 2))
    spread = float(values.std(ddof=1)) if len(values) > 1 else 0.0
    return _Mean(float(values.mean()), z * spread / len(values) ** 0.5)


def hedge_study(
    scenario: Scenario, found: Hedged, made: Plan, *, seasons: int, seed: int, progress: Say = silent
) -> Study:
    """The plan ``made`` of ``found`` beside plans of least cost of ``scenario``: as it is, and plain.

    All live ``UNSEEN`` other seasons. Raises SolveError where HiGHS reaches no optimum.
    """
    seasons_lived = OtherSeasons(UNSEEN, seed + 1, promised_levels(scenario))
    outside = lived("hedged", found.scenario, seasons_lived, plan=made, progress=progress)
    hedged = replace(outside, inside=float(found.inside.mean()))
    least = lived("least cost", scenario, seasons_lived, progress=progress)
    best = plain_at_its_best(scenario, seasons_lived, progress)
    cases = [hedged, least, best]
    money = scenario.nursery.currency
    return Study(
        "Hedged plan",
        scenario,
        [
            batch_words(scenario),
            *_answer(money, cases, seasons, seed),
            *_rare(scenario, seasons),
            *_levels(scenario, cases),
            *_again(money, found),
        ],
        list(_figures(money, cases)),
        [_costs(money, cases), _spread(cases), _orders(scenario, cases), *_sown_again(scenario, found.rules)],
        [
            ("Seasons the plan was made for", seasons),
            ("Joins it could choose from: waves, product and graft day", found.joins),
            (
                f"Mean cost, with penalties, of the best plan with fractional trays, inside ({money})",
                found.least,
            ),
            *drawn_facts(UNSEEN, seed + 1),
            *run_facts(made.facts, money),
        ],
    )


def changes_of(scenario: Scenario, without: Scenario) -> list[CellChange]:
    """The cells of margins that a hedged plan leaves out, as changes of the scenario."""
    found = []
    for table, key in (("nursery", "name"), ("orders", "order"), ("seed_lots", "lot")):
        before, after = getattr(scenario, table), getattr(without, table)
        pairs = [(before, after)] if table == "nursery" else zip(before, after, strict=True)
        for old, new in pairs:
            for name in ("margin_policy", "graft_margin", "sowing_policy", "sowing_margin"):
                was, now = getattr(old, name, None), getattr(new, name, None)
                if was != now:
                    found.append(CellChange(table, getattr(old, key), name, was, now, "--seasons"))
    return found


def _answer(money: str, cases: Sequence[LivedPlan], seasons: int, seed: int) -> Iterator[str]:
    hedged, least, plain = cases
    outside = mean_of(hedged.costs)
    yield (
        f"The plan is the best on average over {counted(seasons, 'sampled season')} (seed {seed}): it sows "
        f"{counted(len(hedged.plan.waves), 'wave')} and has {counted(len(hedged.plan.flows), 'graft day')} "
        f"of its products, against {grouped(len(least.plan.waves))} and {grouped(len(least.plan.flows))} in "
        "the plan of least cost."
    )
    if has_prices(hedged.plan.orders):
        left, as_is, other = (amount(case.mean("result"), money) for case in cases)
        yield (
            f"In {grouped(UNSEEN)} other seasons, a season leaves a result of {left} on average; with the "
            f"plan of least cost {as_is}, with a {plain.name} {other}. No penalty is in it."
        )
    yield (
        f"In {grouped(UNSEEN)} other seasons, a season costs "
        f"{with_penalties(outside.mean, hedged.mean('penalties'), money)} on average, give or take "
        f"{digits(outside.half, money)}. {_against(money, hedged, least, 'with the plan of least cost')} "
        f"{_against(money, hedged, plain, f'with a {plain.name}, the best of those tried,')}"
    )
    if hedged.inside is not None:
        yield (
            f"In the seasons that it was made for, a season costs {amount(hedged.inside, money)} on average, "
            "penalties counted: no figure to count on, since the plan knows them."
        )


def _against(money: str, hedged: LivedPlan, other: LivedPlan, name: str) -> str:
    """What a season costs with another plan, and the mean saving by hedging where it exceeds its error.

    Penalties are counted in the saving: the hedge weighs them.
    """
    saved = mean_of(other.costs - hedged.costs)
    cost = with_penalties(other.mean("cost"), other.mean("penalties"), money)
    told = f"In the same seasons, {name} it costs {cost}:"
    if abs(saved.mean) <= saved.half:
        return f"{told} the difference is within its error."
    verb, more = ("saves", "") if saved.mean > 0 else ("costs", " more")
    much = f"{amount(abs(saved.mean), money)}{more}, give or take {digits(saved.half, money)}"
    return f"{told} hedging {verb} {much}, penalties counted."


def _rare(scenario: Scenario, seasons: int) -> Iterator[str]:
    """The mishaps that are rarer than one of the sampled seasons, in words."""
    rare = [mishap for mishap in scenario.mishaps if mishap.chance * seasons < 1]
    if rare:
        named = ", ".join(f"'{mishap.mishap}' (1 in {grouped(1 / mishap.chance)})" for mishap in rare)
        yield (
            f"Rarer than 1 in {grouped(seasons)}: {named}. So the sampled seasons strike some batches and "
            "not others, and the plan shuns those struck. More seasons treat all batches alike."
        )


def _levels(scenario: Scenario, cases: Sequence[LivedPlan]) -> Iterator[str]:
    """Orders below their level where nobody plans again, and what to do about it, in words."""
    hedged, least, plain = cases
    if any(case.below for case in cases):
        told = (
            f"Nobody plans again in these seasons: {counted(hedged.below, 'order')} "
            f"{'falls' if hedged.below == 1 else 'fall'} below the level promised, against "
            f"{grouped(least.below)} in the plan of least cost and {grouped(plain.below)} with the "
            f"{plain.name}."
        )
        if scenario.nursery.margin_policy is MarginPolicy.LEVEL:
            yield (
                f"{told} The hedged plan counts on a grower who plans again after each count: margins "
                "--hedge with --rehearse shows which levels it keeps then. Where nobody will, take the "
                "margins that margins finds."
            )
        else:
            yield f"{told} The hedged plan weighs penalties, and keeps no level (margin_policy = level does)."


def _again(money: str, found: Hedged) -> Iterator[str]:
    if found.rules:
        trays = sum(rule.mean for rule in found.rules)
        yield (
            f"Where a wave comes up thin, others can be sown again: {counted(len(found.rules), 'rule')}, "
            f"{grouped(trays, 1)} trays in the mean season, save {amount(found.saved, money)} a season in "
            "those that the plan was made for. That is in no cost here, and not in the plan: its rooms and "
            "hours are not held free for it."
        )


def _sown_again(scenario: Scenario, rules: Sequence[Rule]) -> Iterator[Section]:
    if not rules:
        return
    at = Calendar(scenario.nursery, scenario.days_off).date
    yield column.section(
        "Sown again",
        "What to sow where a count lacks seedlings: so many trays for each tenth of those expected.",
        [
            "A count that lacks a fifth asks for twice as many trays; one that lacks nothing asks for none. "
            "Where several rules name one sowing, their trays add up.",
            "Made for the sampled seasons: on the day of a count, plan again with what was counted.",
        ],
        sorted(rules, key=lambda rule: (rule.sown.sow, rule.counted.sow)),
        [
            column.text("counted", "Seed lot counted", lambda rule: rule.counted.lot.lot),
            column.text("counted_format", "Tray format", lambda rule: rule.counted.tray.format),
            column.day("counted_sown", "Sown", lambda rule: at(rule.counted.sow)),
            column.day("count_day", "Day of the count", lambda rule: at(rule.counted.bench)),
            column.text("sown", "Seed lot to sow", lambda rule: rule.sown.lot.lot),
            column.text("format", "In tray format", lambda rule: rule.sown.tray.format),
            column.day("sow_day", "Sow on", lambda rule: at(rule.sown.sow)),
            column.decimal("trays", "Trays for each tenth that lacks", lambda rule: rule.trays / 10),
            column.decimal("mean", "Trays in the mean season", lambda rule: rule.mean, total=True),
        ],
    )


def _figures(money: str, cases: Sequence[LivedPlan]) -> Iterator[Figure]:
    hedged, *others = cases
    for case in cases:
        if has_prices(case.plan.orders):
            label = f"Result of a season, outside, mean, {case.name} ({money})"
            yield Figure(label, case.mean("result"), CellKind.MONEY)
    if hedged.inside is not None:
        label = f"Cost of a season, inside, with penalties, mean ({money})"
        yield Figure(label, hedged.inside, CellKind.MONEY)
    for case in cases:
        label = f"Cost of a season, outside, with penalties, mean, {case.name} ({money})"
        yield Figure(label, float(case.costs.mean()), CellKind.MONEY)
    for case in others:
        saved = mean_of(case.costs - hedged.costs)
        yield Figure(
            f"Saved a season against {case.name}, with penalties ({money})", saved.mean, CellKind.MONEY
        )
        yield Figure(f"Give or take ({money})", saved.half, CellKind.MONEY)
    for case in cases:
        yield Figure(f"Plants short, mean, {case.name}", case.mean("short"), CellKind.DECIMAL)


def _costs(money: str, cases: Sequence[LivedPlan]) -> Section:
    def low(case: LivedPlan) -> float:
        return mean_of(case.costs).mean - mean_of(case.costs).half

    def high(case: LivedPlan) -> float:
        return mean_of(case.costs).mean + mean_of(case.costs).half

    results: list[column.Column[LivedPlan]] = []
    if has_prices(cases[0].plan.orders):
        results = [
            column.money("result", f"Result, outside, mean ({money})", lambda case: case.mean("result"))
        ]
    return column.section(
        "Cost",
        "What a season costs with each plan, penalties counted, inside and outside the seasons it was made "
        "for.",
        [INSIDE, WHICH, MADE, RECOURSE],
        cases,
        [
            column.text("plan", "Plan", lambda case: case.name),
            *results,
            column.money("expected", f"Cost of the expected season ({money})", lambda case: case.plan.cost),
            column.money("inside", f"Inside, mean ({money})", lambda case: case.inside),
            column.money("outside", f"Outside, mean ({money})", lambda case: float(case.costs.mean())),
            column.money("low", f"Outside, from ({money})", low),
            column.money("high", f"Outside, to ({money})", high),
            column.money(
                "worst", f"Outside, 95 % ({money})", lambda case: float(np.quantile(case.costs, 0.95))
            ),
            column.money(
                "penalties", f"Of the mean {PENALTIES} ({money})", lambda case: case.mean("penalties")
            ),
            column.decimal("short", "Plants short, mean", lambda case: case.mean("short")),
            column.decimal("over", "Plants grown to spare, in the plan", lambda case: over(case.plan)),
            column.count("below", "Orders below their level", lambda case: case.below),
        ],
    )


class _Days(NamedTuple):
    """A product's graft days and largest day, as a share of its joins, in each plan."""

    product: str
    days: list[int]
    largest: list[float | None]


def _spread(cases: Sequence[LivedPlan]) -> Section:
    joins: list[dict[str, dict[date, float]]] = []
    for case in cases:
        by_product: dict[str, dict[date, float]] = {}
        for product, day, made in rows_of(case.plan.flows, "product", "graft_day", "joins"):
            by_product.setdefault(product, {})[day] = made
        joins.append(by_product)
    rows = [
        _Days(
            name,
            [len(of.get(name, {})) for of in joins],
            [max(of[name].values()) / sum(of[name].values()) if name in of else None for of in joins],
        )
        for name in sorted({name for of in joins for name in of})
    ]
    return column.section(
        "Graft days",
        "On how many days each product is grafted, and how much on the largest.",
        ["Own-root products: the days on which seedlings are moved on."],
        rows,
        [
            column.text("product", "Product", lambda row: row.product),
            column.count("hedged", "Graft days, hedged", lambda row: row.days[0], total=True),
            column.count("least", "Graft days, least cost", lambda row: row.days[1], total=True),
            column.share("hedged_most", "Largest day, hedged", lambda row: row.largest[0]),
            column.share("least_most", "Largest day, least cost", lambda row: row.largest[1]),
        ],
    )


def _orders(scenario: Scenario, cases: Sequence[LivedPlan]) -> Section:
    hedged, least, _ = (case.risk.orders for case in cases)
    said, orders = cases[0].said, with_charges(scenario).orders
    return column.section(
        "Orders",
        "The chance to fill each order with each plan, in the other seasons.",
        [
            f"{grouped(UNSEEN)} seasons. Against the level: where the interval of the hedged plan's chance "
            "lies."
        ],
        range(len(orders)),
        [
            column.text("order", "Order", lambda n: orders[n].order),
            column.text("product", "Product", lambda n: orders[n].product),
            column.day("due_day", "Due day", lambda n: orders[n].due_day),
            column.count("quantity", "Quantity (plants)", lambda n: orders[n].quantity, total=True),
            column.share("chance", "Chance to fill, hedged", lambda n: float(hedged["chance"].iloc[n])),
            column.share("other", "Chance to fill, least cost", lambda n: float(least["chance"].iloc[n])),
            column.decimal("short", "Short, mean, hedged", lambda n: float(hedged["mean_short"].iloc[n])),
            column.decimal("less", "Short, mean, least cost", lambda n: float(least["mean_short"].iloc[n])),
            column.text("said", "Hedged, against the level", lambda n: said[n]),
        ],
    )

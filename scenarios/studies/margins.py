"""Overseeding margins tuned until orders reach their service levels, and what the margins cost or save."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

import numpy as np
import pandas as pd

from model.currencies import least_sum
from model.hedging.hedged_plan import hedged
from model.phases import Say, part_of, silent
from model.planned.plan_tables import TINY, Plan, rows_of
from model.planned.results import has_prices
from model.questions.traced_costs import TRACED_LINES, traced_costs
from model.rates.yields import stand
from model.risk.tuning import REHEARSED, Again, Margins, Tuned, order_levels, tune, with_margins
from model.scenario.choices import MarginPolicy
from model.scenario.entities import Scenario
from model.solve import plan_of, solve
from reports.book.batch_words import batch_words
from reports.book.parts import Cell, Formula, SheetColumn
from reports.book.style import CellKind
from reports.book.words import PENALTIES, amount, counted, more_or_less, percent
from reports.book.writing import grouped, written_as
from reports.plan.figures import joins_made, waves_sown
from reports.study import column
from reports.study.study import Chart, Figure, Section, Study, run_facts
from scenarios.rehearsing.best_choice import CARRIED, HEDGED, about_the_hedge, best_of, rehearsed_columns
from scenarios.rehearsing.drawn_seasons import MADE, RECOURSE, check_seasons, drawn_facts
from scenarios.rehearsing.lived_plans import PLAIN, LivedPlan, OtherSeasons, lived, plain_at_its_best
from scenarios.variants.new_variant import NewVariant
from scenarios.variants.toml_write import NewCell

FILE = "tuned_margins.toml"

RULE_OF_THUMB = 0.2
"""Graft at least 20 % more than needed (watermelon): Washington State University Extension, FS100E."""

OVER = "20 %"
"""``RULE_OF_THUMB`` in words."""

NOT_GROWING = ("packing", "freight", "buy-in", "shortfall", "declined", "overhead")
"""Traced lines that a plant of the margin does not cause."""

CHANCE = "reached only in the seasons that margins are tuned on"
"""Why an order misses its level in other seasons and not in those."""

MOST_NAMED = 5
"""Orders that the answer names for one reason; the sheet has them all."""

AIMED = (
    "Margins are tuned in rounds. Each round makes a plan in whole trays and simulates seasons through it. "
    "It then raises an order's margin by the plants missing in its short seasons, or lowers the margin by "
    "the plants left over. An order reaches its level if the whole 95 % interval (Wilson) of its chance "
    "lies at the level or above, so that it should reach the level in other seasons too. The rounds aim one "
    "width of the interval higher, because each new plan meets newly drawn seasons."
)
OWN_TOO = (
    "Margins given for single orders and seed lots are tuned as well. A margin is a share of the plants "
    "grown for the order, not of those bought in."
)
NO_POLICY = (
    "Fixed margins promise no level. Tuning then aims at the order's service_level, or else the nursery's."
)
MARGIN_COST = (
    "Cost of the margin: the traced cost of growing the order's plants, times the share of them that is "
    "margin. Packing, purchase, penalties and overhead are left out."
)
SOWN = (
    "The tuned sowing margin serves the highest level among the orders that use the lot. It suits the size "
    "of the waves that hold half of the lot's seedlings. Smaller waves would need more, but they lack few "
    "plants; whole trays or graft margins supply these at less cost than more seed in every wave."
)


def margins_study(
    scenario: Scenario,
    *,
    seasons: int,
    seed: int,
    hedge: int | None = None,
    rehearse: int | None = None,
    workers: int = 1,
    parent: str | None = None,
    progress: Say = silent,
) -> Study:
    """Margins of every order and seed lot, tuned on ``seasons`` seasons from ``seed``, beside others.

    All choices of margins live as many other seasons. ``hedge``: the plan that is best on average over so
    many sampled seasons is among them. ``rehearse``: so many of the other seasons are rehearsed too, in
    ``workers`` processes, and as many of the first seasons choose among the best rounds of tuning.
    ``parent``: path of the scenario as the variant ``tuned_margins.toml`` gives it, relative to the folder of
    that file; None leaves the variant out. Raises SolveError where HiGHS reaches no optimum, ValueError where
    ``seasons`` is below 1.
    """
    check_seasons(scenario, seasons)
    again = None if rehearse is None else _again(scenario, rehearse, seed, workers, progress)
    tuned = tune(scenario, seasons=seasons, seed=seed, again=again, progress=progress)
    others = OtherSeasons(seasons, seed + 1, tuned.levels.tolist(), rehearse or 0, workers)
    cases = [
        lived("before tuning", tuned.before.scenario, others, plan=tuned.before.plan, progress=progress),
        lived("tuned", tuned.chosen.scenario, others, plan=tuned.chosen.plan, progress=progress),
        lived(f"{OVER} over", _rule_of_thumb(scenario, tuned), others, progress=progress),
        plain_at_its_best(scenario, others, progress),
        *([] if hedge is None else [_hedged(scenario, others, hedge, seed, progress)]),
    ]
    progress("traced costs")
    cells = _cells(scenario, tuned)
    with written_as(None):  # a file that the program reads
        note = f"Margins tuned on {grouped(seasons)} seasons from seed {seed}."
    variant = NewVariant(FILE, "tuned margins", note, cells)
    money = scenario.nursery.currency
    return Study(
        "Margins",
        scenario,
        [
            *_results(money, cases),
            batch_words(scenario),
            *_reach(tuned, cases),
            *_cost(money, cases),
            best_of(money, cases),
            *about_the_hedge(scenario, cases),
            _variant(cells),
        ],
        list(_figures(money, cases)),
        [
            _order_section(scenario, tuned, cases),
            _lot_section(scenario, tuned),
            _wave_section(scenario, tuned),
            _comparison(scenario, cases),
            _round_section(money, tuned, rehearse),
            *variant.sheets(),
        ],
        [*drawn_facts(seasons, seed), *run_facts(tuned.chosen.plan.facts, money)],
        files=variant.files(parent),
    )


def _again(scenario: Scenario, count: int, seed: int, workers: int, progress: Say) -> Again:
    """Rehearses a round of tuning in ``count`` seasons from ``seed``, which are not those that judge."""
    seasons = OtherSeasons(count, seed, order_levels(scenario).tolist(), count, workers)

    def again(changed: Scenario, made: Plan) -> tuple[int, float]:
        return lived("a round of tuning", changed, seasons, plan=made, progress=progress).rank

    return again


def _rule_of_thumb(scenario: Scenario, tuned: Tuned) -> Scenario:
    """The scenario with 20 % over every order, and its own sowing margins."""
    graft = np.full(len(scenario.orders), RULE_OF_THUMB)
    return with_margins(scenario, Margins(graft, tuned.before.margins.sowing))


def _hedged(scenario: Scenario, seasons: OtherSeasons, hedge: int, seed: int, progress: Say) -> LivedPlan:
    """The plan that is best on average over ``hedge`` seasons from ``seed``, in the other seasons."""
    found = hedged(scenario, seasons=hedge, seed=seed, progress=part_of("hedged", progress))
    made = plan_of(found.solved, progress=progress)
    return lived(HEDGED, found.scenario, seasons, plan=made, solved=found.solved, progress=progress)


def _cells(scenario: Scenario, tuned: Tuned) -> list[NewCell]:
    """The changed margins as cells of the variant; none where tuning found nothing better."""
    if tuned.chosen is tuned.before:
        return []
    margins = tuned.chosen.margins
    orders = [
        NewCell("orders", (("order", order.order),), "graft_margin", order.graft_margin, margin)
        for order, margin in zip(scenario.orders, margins.graft.tolist(), strict=True)
        if margin != order.graft_margin
    ]
    lots = [
        NewCell("seed_lots", (("lot", lot.lot),), "sowing_margin", lot.sowing_margin, margin)
        for lot, margin in zip(scenario.seed_lots, margins.sowing.tolist(), strict=True)
        if margin != lot.sowing_margin
    ]
    return [*orders, *lots]


def _reach(tuned: Tuned, cases: Sequence[LivedPlan]) -> list[str]:
    before, after = cases[:2]
    seasons, orders = after.risk.seasons, len(tuned.levels)
    said = [
        f"With the scenario's margins {orders - before.below} of {orders} orders reach their service level, "
        f"as far as {grouped(seasons)} seasons can tell; with tuned margins "
        f"{_all_of(orders - after.below, orders)}."
    ]
    missed: dict[str, list[str]] = defaultdict(list)
    names, highs = after.plan.orders["order"], after.risk.orders["high"]
    first = tuned.chosen.reached | (tuned.chosen.risk.orders["high"].to_numpy() >= tuned.levels)
    rows = zip(names, tuned.remarks(), first.tolist(), highs, tuned.levels, strict=True)
    for name, remark, reached, high, level in rows:
        if high < level:
            missed[CHANCE if reached else remark].append(name)
    for remark, missing in missed.items():
        more = f" and {len(missing) - MOST_NAMED} more" if len(missing) > MOST_NAMED else ""
        said.append(f"Not reached by {', '.join(missing[:MOST_NAMED])}{more}: {remark}.")
    return said


def _all_of(number: int, orders: int) -> str:
    return f"all {orders} do" if number == orders > 1 else f"{number} {'does' if number == 1 else 'do'}"


def _cost(money: str, cases: Sequence[LivedPlan]) -> list[str]:
    before, after, thumb = cases[:3]
    short = thumb.plan.short
    gone = f", and {grouped(short)} plants are short in the plan, at their penalties" if short > TINY else ""
    fall = f"{thumb.below or 'no'} order{' falls' if thumb.below == 1 else 's fall'}"
    return [
        f"The tuned plan costs {_against(money, after, before)} the plan with the scenario's margins. A "
        f"season costs {after.season(money)} on average, instead of {before.season(money)}.",
        f"The tuned plan costs {_against(money, after, thumb)} the plan by the rule of thumb, {OVER} over "
        f"every order. With the rule of thumb {fall} below the level{gone}.",
    ]


def _results(money: str, cases: Sequence[LivedPlan]) -> list[str]:
    """The mean result of a season with each choice of margins, where orders have prices."""
    if not has_prices(cases[0].plan.orders):
        return []
    before, after, thumb = (amount(case.mean("result"), money) for case in cases[:3])
    return [
        f"With tuned margins a season leaves a result of {after} on average; with the scenario's margins "
        f"{before}, by the rule of thumb {thumb}."
    ]


def _against(money: str, case: LivedPlan, other: LivedPlan) -> str:
    more = case.plan.cost - other.plan.cost
    if abs(more) < least_sum(money):
        return "the same as"
    return f"{more_or_less(more, case.plan.penalties - other.plan.penalties, money)} than"


def _variant(cells: Sequence[NewCell]) -> str:
    if not cells:
        return "The scenario's margins are the best found; there is nothing to change."
    return f"The variant {FILE} sets {counted(len(cells), 'margin')}: plan it in place of the scenario."


def _figures(money: str, cases: Sequence[LivedPlan]) -> Iterator[Figure]:
    for case in cases:
        yield Figure(f"Orders below their level, {case.name}", case.below, CellKind.COUNT)
        if has_prices(case.plan.orders):
            yield Figure(
                f"Result of a season, mean, {case.name} ({money})", case.mean("result"), CellKind.MONEY
            )
        paid, mean = case.plan.cost - case.plan.penalties, case.mean("cost") - case.mean("penalties")
        yield Figure(f"Cost of the plan, without penalties, {case.name} ({money})", paid, CellKind.MONEY)
        yield Figure(
            f"Cost of a season, mean, without penalties, {case.name} ({money})", mean, CellKind.MONEY
        )
        yield Figure(
            f"{PENALTIES.capitalize()}, mean, {case.name} ({money})", case.mean("penalties"), CellKind.MONEY
        )


def _margin_plants(plan: Plan) -> list[float]:
    """Plants of each order that are margin."""
    sums = plan.deliveries.groupby("order")["margin_plants"].sum()
    return [float(sums.get(order, 0.0)) for order in plan.orders["order"]]


def _growing_costs(scenario: Scenario) -> dict[str, float]:
    """Traced cost of growing each order's plants, margin and waste included, in currency."""
    traced = traced_costs(solve(scenario))
    growing = traced[traced["line"].isin([line for line in TRACED_LINES if line not in NOT_GROWING])]
    sums: pd.Series[float] = growing.groupby("order")["amount"].sum()
    return {str(order): float(amount) for order, amount in sums.items()}


def _order_section(scenario: Scenario, tuned: Tuned, cases: Sequence[LivedPlan]) -> Section:
    money, before, after = scenario.nursery.currency, tuned.before, tuned.chosen
    growing = _growing_costs(after.scenario)
    names = ("order", "product", "quantity", "own", "bought")
    planned = [dict(zip(names, row, strict=True)) for row in rows_of(after.plan.orders, *names)]
    then, now = (list(rows_of(case.risk.orders, "chance", "low", "high")) for case in cases[:2])
    plants_then, plants = _margin_plants(before.plan), _margin_plants(after.plan)
    said, remarks = cases[1].said, tuned.remarks()

    def cost(n: int) -> float:
        own = planned[n]["own"]
        return growing.get(planned[n]["order"], 0.0) * plants[n] / (own + plants[n]) if own > TINY else 0.0

    notes = [AIMED, OWN_TOO, MADE, RECOURSE, MARGIN_COST]
    if scenario.nursery.margin_policy is MarginPolicy.FIXED:
        notes.insert(0, NO_POLICY)
    shows = (
        "Columns: chance that an order is not filled, before tuning and tuned; line: the most by its level."
    )
    keys = ("missed_before", "missed")
    return column.section(
        "Orders",
        "Margins and chances of each order, before tuning and tuned.",
        notes,
        range(len(planned)),
        [
            column.text("order", "Order", lambda n: planned[n]["order"]),
            column.text("product", "Product", lambda n: planned[n]["product"]),
            column.count("quantity", "Quantity (plants)", lambda n: planned[n]["quantity"], total=True),
            column.count("own", "Grown (plants)", lambda n: planned[n]["own"], total=True),
            column.count("bought", "Bought in (plants)", lambda n: planned[n]["bought"], total=True),
            column.share("level", "Level", lambda n: float(tuned.levels[n])),
            column.share(
                "margin_before", "Graft margin before tuning", lambda n: float(before.margins.graft[n])
            ),
            column.share("margin", "Graft margin tuned", lambda n: float(after.margins.graft[n])),
            column.decimal(
                "plants_before", "Margin before tuning (plants)", lambda n: plants_then[n], total=True
            ),
            column.decimal("plants", "Margin tuned (plants)", lambda n: plants[n], total=True),
            column.money("cost", f"Cost of the tuned margin ({money})", cost, total=True),
            column.share("chance_before", "Chance before tuning", lambda n: then[n][0]),
            column.share("low_before", "From", lambda n: then[n][1]),
            column.share("high_before", "To", lambda n: then[n][2]),
            column.share("chance", "Chance tuned", lambda n: now[n][0]),
            column.share("low", "Tuned, from", lambda n: now[n][1]),
            column.share("high", "Tuned, to", lambda n: now[n][2]),
            column.share(
                "missed_before", "Not filled, before", lambda n: 1 - then[n][0], "=1-{chance_before}"
            ),
            column.share("missed", "Not filled, tuned", lambda n: 1 - now[n][0], "=1-{chance}"),
            column.share(
                "allowed", "Most not filled, by the level", lambda n: 1 - float(tuned.levels[n]), "=1-{level}"
            ),
            column.text("verdict", "Against the level", lambda n: said[n]),
            column.text("remark", "Remark", lambda n: remarks[n], widest=40),
        ],
        Chart(
            "columns",
            "Chance not to fill each order",
            shows,
            "order",
            keys,
            "chance not to fill",
            ("allowed",),
        ),
    )


def _seed_prices(plan: Plan) -> dict[str, float]:
    """Price of a seed of each lot: money paid for packs over all seeds used; seed on hand is free."""
    paid = plan.purchases.groupby("item")["amount"].sum()
    used = zip(plan.items["item"], plan.items["used"], strict=True)
    return {str(item): float(paid.get(item, 0.0)) / n if n > TINY else 0.0 for item, n in used}


def _seeds_over(scenario: Scenario, plan: Plan) -> list[float]:
    """Seeds of each wave beyond those needed, in expectation, for the seedlings drawn from it."""
    lots = {lot.lot: lot for lot in scenario.seed_lots}
    return [
        float(seeds) - float(drawn) * lots[name].seeds_per_cell / stand(lots[name])
        for name, seeds, drawn in rows_of(waves_sown(plan), "lot", "seeds", "drawn")
    ]


def _lot_section(scenario: Scenario, tuned: Tuned) -> Section:
    money, before, after = scenario.nursery.currency, tuned.before, tuned.chosen
    prices = _seed_prices(after.plan)
    sown = [_by_lot(scenario, made.plan) for made in (before, after)]
    rows: list[list[Cell]] = []
    for n, lot in enumerate(scenario.seed_lots):
        then, now = (found.get(lot.lot, (0.0, 0.0, 0.0)) for found in sown)
        margins = float(before.margins.sowing[n]), float(after.margins.sowing[n])
        price = prices.get(lot.lot, 0.0)
        cost = Formula("={over}*{price}", now[2] * price)
        rows.append([lot.lot, lot.variety, *margins, then[0], *now, then[2], price, cost])
    return Section(
        "Seed lots",
        "Sowing margins of each lot, seeds sown over expectation, and their cost.",
        [
            SOWN,
            "Seeds over: seeds sown beyond those needed, in expectation, for the seedlings drawn. The margin "
            "and whole trays cause them. Price of a seed: money paid for packs over all seeds used; seed on "
            "hand is free.",
        ],
        [
            SheetColumn("lot", "Seed lot"),
            SheetColumn("variety", "Variety"),
            SheetColumn("margin_before", "Sowing margin before tuning", CellKind.SHARE),
            SheetColumn("margin", "Sowing margin tuned", CellKind.SHARE),
            SheetColumn("seeds_before", "Seeds before tuning", CellKind.COUNT, total=True),
            SheetColumn("seeds", "Seeds tuned", CellKind.COUNT, total=True),
            SheetColumn("drawn", "Seedlings drawn, tuned", CellKind.COUNT, total=True),
            SheetColumn("over", "Seeds over, tuned", CellKind.COUNT, total=True),
            SheetColumn("over_before", "Seeds over before tuning", CellKind.COUNT, total=True),
            SheetColumn("price", f"Price of a seed ({money})", CellKind.PRICE),
            SheetColumn("cost", f"Cost of seeds over, tuned ({money})", CellKind.MONEY, total=True),
        ],
        rows,
    )


def _by_lot(scenario: Scenario, plan: Plan) -> dict[str, tuple[float, float, float]]:
    """Seeds, seedlings drawn and seeds over of each lot sown."""
    table = waves_sown(plan)[["lot", "seeds", "drawn"]].assign(over=_seeds_over(scenario, plan))
    sums = table.groupby("lot")[["seeds", "drawn", "over"]].sum()
    return {str(lot): (float(s), float(d), float(o)) for lot, s, d, o in sums.itertuples()}


def _wave_section(scenario: Scenario, tuned: Tuned) -> Section:
    money, plan = scenario.nursery.currency, tuned.chosen.plan
    prices = _seed_prices(plan)
    margins = {
        lot.lot: float(margin)
        for lot, margin in zip(scenario.seed_lots, tuned.chosen.margins.sowing, strict=True)
    }
    columns = ("wave", "lot", "sow_day", "trays", "seeds", "drawn")
    rows: list[list[Cell]] = []
    for (wave, lot, *rest), over in zip(
        rows_of(waves_sown(plan), *columns), _seeds_over(scenario, plan), strict=True
    ):
        cost = Formula("={over}*{price}", over * prices[lot])
        rows.append([wave, lot, *rest, margins[lot], over, prices[lot], cost])
    return Section(
        "Waves",
        "Each wave of the tuned plan: seeds sown, seedlings drawn, seeds over expectation.",
        ["If a wave has far more seeds over than its margin says, whole trays are the cause."],
        [
            SheetColumn("wave", "Wave"),
            SheetColumn("lot", "Seed lot"),
            SheetColumn("sow_day", "Sown on", CellKind.DAY),
            SheetColumn("trays", "Trays", CellKind.COUNT, total=True),
            SheetColumn("seeds", "Seeds", CellKind.COUNT, total=True),
            SheetColumn("drawn", "Seedlings drawn", CellKind.COUNT, total=True),
            SheetColumn("margin", "Sowing margin", CellKind.SHARE),
            SheetColumn("over", "Seeds over", CellKind.COUNT, total=True),
            SheetColumn("price", f"Price of a seed ({money})", CellKind.PRICE),
            SheetColumn("cost", f"Cost of seeds over ({money})", CellKind.MONEY, total=True),
        ],
        rows,
        prints=False,
    )


def _comparison(scenario: Scenario, cases: Sequence[LivedPlan]) -> Section:
    money = scenario.nursery.currency
    shows = "Columns: cost of the plan and mean cost of a season before tuning, tuned, and with 20 % over."
    return column.section(
        "Comparison",
        "The plan before tuning, tuned, by the rule of thumb, with a plain margin, and hedged where asked.",
        [
            f"Rule of thumb: a graft margin of {OVER} on every order, with the scenario's sowing margins "
            "(graft at least 20 % more than needed: Washington State University Extension, FS100E, for "
            "watermelon).",
            "All live the same other seasons, drawn from the next seed. Plain margin: one graft margin for "
            f"all orders, the best of {', '.join(percent(size) for size in PLAIN)} in these seasons, so that "
            "chance is on its side.",
            "Orders below their level: the whole interval of the chance lies below the level. The cost of a "
            "season counts shortfall at its penalty and sells plants over at the salvage price.",
            "Saved by tuning: cost of the plan less cost of the tuned plan.",
            *([CARRIED] if cases[0].rehearsed is not None else []),
        ],
        cases,
        [
            column.text("case", "Margins", lambda c: c.name),
            column.count("below", "Orders below their level", lambda c: c.below),
            column.count("short", "Short in the plan (plants)", lambda c: c.plan.short),
            column.decimal("mean_short", "Short, mean of seasons (plants)", lambda c: c.mean("short")),
            column.decimal("over", "Over, mean of seasons (plants)", lambda c: c.mean("surplus")),
            column.count("seeds", "Seeds sown", lambda c: float(c.plan.waves["seeds"].sum())),
            column.count("joins", "Joins", lambda c: joins_made(scenario, c.plan)),
            column.decimal("margin", "Margin (plants)", lambda c: sum(_margin_plants(c.plan))),
            *_result_column(money, cases),
            column.money("cost", f"Cost of the plan, with penalties ({money})", lambda c: c.plan.cost),
            column.money("penal", f"Of it {PENALTIES} ({money})", lambda c: c.plan.penalties),
            column.money(
                "season", f"Cost of a season, with penalties, mean ({money})", lambda c: c.mean("cost")
            ),
            column.money("season_penal", f"Of it {PENALTIES}, mean ({money})", lambda c: c.mean("penalties")),
            *rehearsed_columns(money, cases),
            column.money(
                "saved",
                f"Saved by tuning, with penalties ({money})",
                lambda c: c.plan.cost - cases[1].plan.cost,
            ),
        ],
        Chart("columns", "Cost of plan and season", shows, "case", ("cost", "season"), f"cost ({money})"),
    )


def _result_column(money: str, cases: Sequence[LivedPlan]) -> list[column.Column[LivedPlan]]:
    """The mean result of a season, where orders have prices."""
    heading = f"Result of a season, mean ({money})"
    priced = has_prices(cases[0].plan.orders)
    return [column.money("result", heading, lambda c: c.mean("result"))] if priced else []


def _chosen_by(tuned: Tuned, rehearse: int | None) -> str:
    """In words, which round is chosen."""
    priced = tuned.before.scenario.nursery.margin_policy is MarginPolicy.PRICED
    least = "the least mean cost of a season"
    by = f"{least}, since margins are priced" if priced else f"the fewest orders below, then {least}"
    if rehearse is None:
        return f"The chosen round has {by}."
    return (
        f"Of the {REHEARSED} best rounds, or of all if there are fewer, the chosen one has {by}, in "
        f"{counted(rehearse, 'season')} in which the rest is planned again after counts."
    )


def _round_section(money: str, tuned: Tuned, rehearse: int | None) -> Section:
    def season(n: int) -> float:
        return float(rounds[n].risk.totals["cost"].mean())

    def chosen(n: int) -> str | None:
        return "chosen" if rounds[n] is tuned.chosen else None

    rounds = tuned.rounds
    return column.section(
        "Rounds",
        "The plans made while tuning.",
        [
            "Round 0 has the scenario's margins. An order counts as below if part of the 95 % "
            f"interval of its chance lies below the level. {_chosen_by(tuned, rehearse)} Where a round "
            "leaves an order short in the plan, its margin is lowered to what there is room for."
        ],
        range(len(rounds)),
        [
            column.count("round", "Round", int),
            column.count(
                "below", "Orders with part of the interval below their level", lambda n: rounds[n].below
            ),
            column.count("short", "Short in the plan (plants)", lambda n: rounds[n].plan.short),
            column.decimal("margin", "Margin (plants)", lambda n: sum(_margin_plants(rounds[n].plan))),
            column.count("seeds", "Seeds sown", lambda n: float(rounds[n].plan.waves["seeds"].sum())),
            column.money(
                "cost", f"Cost of the plan, with penalties ({money})", lambda n: rounds[n].plan.cost
            ),
            column.money("season", f"Cost of a season, with penalties, mean ({money})", season),
            column.text("chosen", "Chosen", chosen),
        ],
        prints=False,
    )

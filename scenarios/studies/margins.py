"""Overseeding margins tuned until orders reach their service levels, and what the margins cost or save."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from model.phases import Say, part_of, silent
from model.planned.plan_tables import TINY, Plan, rows_of
from model.questions.traced_costs import TRACED_LINES, traced_costs
from model.rates.yields import stand
from model.risk.simulation import Risk, simulate
from model.risk.tuning import Margins, Round, Tuned, tune, with_margins
from model.scenario.choices import MarginPolicy
from model.scenario.entities import Scenario
from model.solve import plan as plan_for
from model.solve import solve
from reports.book.parts import Cell, Formula, SheetColumn
from reports.book.style import CellKind
from reports.study.study import Chart, Figure, Section, Study, changes_section, run_facts
from scenarios.studies.risk import BELOW, MADE, RECOURSE, check_seasons, verdict
from scenarios.variants.toml_write import NewCell, variant_text

FILE = "tuned_margins.toml"

RULE_OF_THUMB = 0.2
"""Graft at least 20 % more than needed (watermelon): Washington State University Extension, FS100E."""

OVER = "20 %"
"""``RULE_OF_THUMB`` in words."""

CENT = 0.005
"""Amounts below this, in currency, count as zero."""

NOT_GROWING = ("packing", "buy-in", "shortfall", "declined", "overhead")
"""Traced lines that a plant of the margin does not cause."""

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


@dataclass(frozen=True, slots=True)
class _Case:
    """One choice of margins, the plan made with them, and the seasons simulated through that plan."""

    name: str
    margins: Margins
    plan: Plan
    risk: Risk
    below: int


def margins_study(
    scenario: Scenario,
    *,
    seasons: int,
    seed: int,
    parent: str | None = None,
    progress: Say = silent,
) -> Study:
    """Margins of every order and seed lot, tuned on ``seasons`` seasons from ``seed``; compared with 20 %.

    ``parent``: path of the scenario as the variant ``tuned_margins.toml`` gives it, relative to the folder of
    that file; None leaves the variant out. Raises SolveError where HiGHS reaches no optimum, ValueError where
    ``seasons`` is below 1.
    """
    check_seasons(scenario, seasons)
    tuned = tune(scenario, seasons=seasons, seed=seed, progress=progress)
    progress("rule of thumb")
    cases = [
        _case("before tuning", tuned, tuned.before),
        _case("tuned", tuned, tuned.chosen),
        _rule_of_thumb(scenario, tuned, seasons, seed, part_of("rule of thumb", progress)),
    ]
    progress("traced costs")
    cells = _cells(scenario, tuned)
    note = f"Margins tuned on {seasons:,} seasons from seed {seed}."
    files = (
        [] if parent is None or not cells else [(FILE, variant_text("tuned margins", note, parent, cells))]
    )
    money = scenario.nursery.currency
    return Study(
        "Margins",
        scenario,
        [*_reach(tuned, cases), *_cost(money, cases), _variant(cells)],
        _figures(money, cases),
        [
            _order_section(scenario, tuned),
            _lot_section(scenario, tuned),
            _wave_section(scenario, tuned),
            _comparison(money, cases),
            _round_section(money, tuned),
            *_changes(cells),
        ],
        [
            ("Seasons", seasons),
            ("Seed of the random numbers (PCG64)", seed),
            *run_facts(tuned.chosen.plan.facts),
        ],
        files=files,
    )


def _verdicts(plan: Plan, risk: Risk, levels: Sequence[float]) -> list[str]:
    """Each order's chance against its level, in words."""
    said = []
    planned = rows_of(plan.orders, "quantity", "declined", "short")
    shares = rows_of(risk.orders, "low", "high")
    for (quantity, declined, short), (low, high), level in zip(planned, shares, levels, strict=True):
        if quantity - declined <= TINY:
            said.append("declined in the plan")
        else:
            said.append("below: short in the plan" if short > TINY else verdict(level, low, high))
    return said


def _case(name: str, tuned: Tuned, made: Round) -> _Case:
    return _measured(name, tuned, made.margins, made.plan, made.risk)


def _measured(name: str, tuned: Tuned, margins: Margins, plan: Plan, risk: Risk) -> _Case:
    below = sum(said.startswith(BELOW) for said in _verdicts(plan, risk, tuned.levels.tolist()))
    return _Case(name, margins, plan, risk, below)


def _rule_of_thumb(scenario: Scenario, tuned: Tuned, seasons: int, seed: int, progress: Say) -> _Case:
    """The case of 20 % over every order, with the scenario's sowing margins."""
    graft = np.full(len(scenario.orders), RULE_OF_THUMB)
    margins = Margins(graft, tuned.before.margins.sowing)
    changed = with_margins(scenario, margins)
    plan = plan_for(changed, progress=progress)
    risk = simulate(changed, plan, seasons=seasons, seed=seed, progress=progress)
    return _measured(f"{OVER} over", tuned, margins, plan, risk)


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


def _reach(tuned: Tuned, cases: Sequence[_Case]) -> list[str]:
    before, after, _ = cases
    seasons, orders = after.risk.seasons, len(tuned.levels)
    said = [
        f"With the scenario's margins {orders - before.below} of {orders} orders reach their service level, "
        f"as far as {seasons:,} seasons can tell; with tuned margins {_all_of(orders - after.below, orders)}."
    ]
    missed: dict[str, list[str]] = defaultdict(list)
    names, highs = after.plan.orders["order"], after.risk.orders["high"]
    for name, remark, high, level in zip(names, tuned.remarks(), highs, tuned.levels, strict=True):
        if remark and high < level:
            missed[remark].append(name)
    for remark, orders_missed in missed.items():
        more = len(orders_missed) - MOST_NAMED
        rest = f" and {more} more" if more > 0 else ""
        said.append(f"Not reached by {', '.join(orders_missed[:MOST_NAMED])}{rest}: {remark}.")
    return said


def _all_of(number: int, orders: int) -> str:
    return f"all {orders} do" if number == orders > 1 else f"{number} {'does' if number == 1 else 'do'}"


def _cost(money: str, cases: Sequence[_Case]) -> list[str]:
    before, after, thumb = cases
    short = thumb.plan.short
    gone = f", and {short:,.0f} plants are short in the plan, at their penalties" if short > TINY else ""
    fall = f"{thumb.below or 'no'} order{' falls' if thumb.below == 1 else 's fall'}"
    return [
        f"The tuned plan costs {_against(money, after, before)} the plan with the scenario's margins. A "
        f"season costs {after.risk.totals['cost'].mean():,.2f} {money} on average, instead of "
        f"{before.risk.totals['cost'].mean():,.2f}.",
        f"The tuned plan costs {_against(money, after, thumb)} the plan by the rule of thumb, {OVER} over "
        f"every order. With the rule of thumb {fall} below the level{gone}.",
    ]


def _against(money: str, case: _Case, other: _Case) -> str:
    more = case.plan.cost - other.plan.cost
    if abs(more) < CENT:
        return "the same as"
    return f"{abs(more):,.2f} {money} {'more' if more > 0 else 'less'} than"


def _variant(cells: Sequence[NewCell]) -> str:
    if not cells:
        return "The scenario's margins are the best found; there is nothing to change."
    margins = "1 margin" if len(cells) == 1 else f"{len(cells)} margins"
    return f"The variant {FILE} sets {margins}: plan it in place of the scenario."


def _figures(money: str, cases: Sequence[_Case]) -> list[Figure]:
    return [
        figure
        for case in cases
        for figure in (
            Figure(f"Orders below their level, {case.name}", float(case.below), CellKind.COUNT),
            Figure(f"Cost of the plan, {case.name} ({money})", case.plan.cost, CellKind.MONEY),
            Figure(
                f"Cost of a season, mean, {case.name} ({money})",
                float(case.risk.totals["cost"].mean()),
                CellKind.MONEY,
            ),
        )
    ]


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


def _order_section(scenario: Scenario, tuned: Tuned) -> Section:
    money, before, after = scenario.nursery.currency, tuned.before, tuned.chosen
    growing = _growing_costs(after.scenario)
    said = _verdicts(after.plan, after.risk, tuned.levels.tolist())
    columns = [
        SheetColumn("order", "Order"),
        SheetColumn("product", "Product"),
        SheetColumn("quantity", "Quantity (plants)", CellKind.COUNT, total=True),
        SheetColumn("own", "Grown (plants)", CellKind.COUNT, total=True),
        SheetColumn("bought", "Bought in (plants)", CellKind.COUNT, total=True),
        SheetColumn("level", "Level", CellKind.SHARE),
        SheetColumn("margin_before", "Graft margin before tuning", CellKind.SHARE),
        SheetColumn("margin", "Graft margin tuned", CellKind.SHARE),
        SheetColumn("plants_before", "Margin before tuning (plants)", CellKind.DECIMAL, total=True),
        SheetColumn("plants", "Margin tuned (plants)", CellKind.DECIMAL, total=True),
        SheetColumn("cost", f"Cost of the tuned margin ({money})", CellKind.MONEY, total=True),
        SheetColumn("chance_before", "Chance before tuning", CellKind.SHARE),
        SheetColumn("low_before", "From", CellKind.SHARE),
        SheetColumn("high_before", "To", CellKind.SHARE),
        SheetColumn("chance", "Chance tuned", CellKind.SHARE),
        SheetColumn("low", "Tuned, from", CellKind.SHARE),
        SheetColumn("high", "Tuned, to", CellKind.SHARE),
        SheetColumn("verdict", "Against the level"),
        SheetColumn("remark", "Remark", widest=40),
    ]
    planned = rows_of(after.plan.orders, "order", "product", "quantity", "own", "bought")
    chances = ("chance", "low", "high")
    rows: list[list[Cell]] = []
    for (order, product, quantity, own, bought), *rest, then, now in zip(
        planned,
        tuned.levels.tolist(),
        before.margins.graft.tolist(),
        after.margins.graft.tolist(),
        _margin_plants(before.plan),
        _margin_plants(after.plan),
        said,
        tuned.remarks(),
        rows_of(before.risk.orders, *chances),
        rows_of(after.risk.orders, *chances),
        strict=True,
    ):
        level, margin_before, margin, plants_before, plants, verdict_, remark = rest
        cost = growing.get(order, 0.0) * plants / (own + plants) if own > TINY else 0.0
        head: list[Cell] = [order, product, quantity, own, bought, level, margin_before, margin]
        rows.append([*head, plants_before, plants, cost, *then, *now, verdict_, remark])
    notes = [AIMED, OWN_TOO, MADE, RECOURSE, MARGIN_COST]
    if scenario.nursery.margin_policy is MarginPolicy.FIXED:
        notes.insert(0, NO_POLICY)
    return Section(
        "Orders",
        "Margins and chances of each order, before tuning and tuned.",
        notes,
        columns,
        rows,
        [
            Chart(
                "points",
                "Chance to fill each order",
                "Points: chance of each order before tuning and tuned; line: its level. Numbers "
                "in the table above.",
                "order",
                ("chance_before", "chance"),
                "order",
                "chance to fill",
                ("level",),
            )
        ],
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
        for name, seeds, drawn in rows_of(plan.waves, "lot", "seeds", "drawn")
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
    table = plan.waves[["lot", "seeds", "drawn"]].assign(over=_seeds_over(scenario, plan))
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
        rows_of(plan.waves, *columns), _seeds_over(scenario, plan), strict=True
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
    )


def _comparison(money: str, cases: Sequence[_Case]) -> Section:
    tuned = cases[1]
    rows: list[list[Cell]] = []
    for case in cases:
        totals = case.risk.totals
        joins = case.plan.joins
        rows.append(
            [
                case.name,
                case.below,
                case.plan.short,
                float(totals["short"].mean()),
                float(totals["surplus"].mean()),
                float(case.plan.waves["seeds"].sum()),
                float(joins.loc[joins["rootstock_wave"].notna(), "joins"].sum()),
                sum(_margin_plants(case.plan)),
                case.plan.cost,
                float(totals["cost"].mean()),
                case.plan.cost - tuned.plan.cost,
            ]
        )
    return Section(
        "Comparison",
        "The plan before tuning, tuned, and by the rule of thumb.",
        [
            f"Rule of thumb: a graft margin of {OVER} on every order, with the scenario's sowing margins "
            "(graft at least 20 % more than needed: Washington State University Extension, FS100E, for "
            "watermelon).",
            "Orders below their level: the whole interval of the chance lies below the level, or the plan "
            "leaves the order short. The cost of a season counts shortfall at its penalty and sells plants "
            "over at the salvage price.",
            "Saved by tuning: cost of the plan less cost of the tuned plan.",
        ],
        [
            SheetColumn("case", "Margins"),
            SheetColumn("below", "Orders below their level", CellKind.COUNT),
            SheetColumn("short", "Short in the plan (plants)", CellKind.COUNT),
            SheetColumn("mean_short", "Short, mean of seasons (plants)", CellKind.DECIMAL),
            SheetColumn("over", "Over, mean of seasons (plants)", CellKind.DECIMAL),
            SheetColumn("seeds", "Seeds sown", CellKind.COUNT),
            SheetColumn("joins", "Joins", CellKind.COUNT),
            SheetColumn("margin", "Margin (plants)", CellKind.DECIMAL),
            SheetColumn("cost", f"Cost of the plan ({money})", CellKind.MONEY),
            SheetColumn("season", f"Cost of a season, mean ({money})", CellKind.MONEY),
            SheetColumn("saved", f"Saved by tuning ({money})", CellKind.MONEY),
        ],
        rows,
        [
            Chart(
                "columns",
                "Cost of plan and season",
                "Columns: cost of the plan and mean cost of a season before tuning, tuned, and with 20 % "
                "over. Numbers in the table above.",
                "case",
                ("cost", "season"),
                "margins",
                f"cost ({money})",
            )
        ],
    )


def _round_section(money: str, tuned: Tuned) -> Section:
    rows: list[list[Cell]] = [
        [
            n,
            made.below,
            made.plan.short,
            sum(_margin_plants(made.plan)),
            float(made.plan.waves["seeds"].sum()),
            made.plan.cost,
            float(made.risk.totals["cost"].mean()),
            "chosen" if made is tuned.chosen else None,
        ]
        for n, made in enumerate(tuned.rounds)
    ]
    return Section(
        "Rounds",
        "The plans made while tuning.",
        [
            "Round 0 has the scenario's margins. An order counts as below if part of the 95 % "
            "interval of its chance lies below the level. The chosen round has the fewest plants short in "
            "the plan, then the fewest orders below, then the least cost. If a round leaves more plants "
            "short than round 0, the next round goes back halfway."
        ],
        [
            SheetColumn("round", "Round", CellKind.COUNT),
            SheetColumn("below", "Orders with part of the interval below their level", CellKind.COUNT),
            SheetColumn("short", "Short in the plan (plants)", CellKind.COUNT),
            SheetColumn("margin", "Margin (plants)", CellKind.DECIMAL),
            SheetColumn("seeds", "Seeds sown", CellKind.COUNT),
            SheetColumn("cost", f"Cost of the plan ({money})", CellKind.MONEY),
            SheetColumn("season", f"Cost of a season, mean ({money})", CellKind.MONEY),
            SheetColumn("chosen", "Chosen"),
        ],
        rows,
    )


def _changes(cells: Sequence[NewCell]) -> list[Section]:
    """The cells that the variant changes, where it changes any."""
    if not cells:
        return []
    told = changes_section([cell.told(FILE) for cell in cells])
    return [replace(told, name="Cells changed", about=f"What the variant {FILE} changes.", notes=())]

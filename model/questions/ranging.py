"""How far each price may fall or rise before the plan changes: ranging of the cost vector.

A price changes many costs together (a wage, those of every day), so each price has a direction in the space
of costs. The basis of the priced program stays optimal as long as no reduced cost changes sign along that
direction. The plan may stay optimal beyond its basis, so the true range is at least this wide.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any, NamedTuple

import highspy
import numpy as np
import pandas as pd

from model.network.charges import billed_share
from model.network.expansion import order_terms
from model.program.amounts import Amounts
from model.program.cost_terms import costs, late_plants, trays_in_zones, zone_detail
from model.program.index_sets import Coefs
from model.program.program import Program
from model.program.room import bay_costs
from model.scenario.choices import Decline
from model.scenario.entities import Scenario
from model.solve import Solved
from model.solver.compiled import Compiled, Floats, Solution, run, solver

TINY = 1e-9
"""Changes of a reduced cost below this count as zero."""


class Price(NamedTuple):
    """A price of the scenario, and the rise of each variable's cost when the price rises by 1.

    ``detail``: the pack's size, else blank. ``unit``: the unit that the price is paid for.
    """

    kind: str
    name: str
    detail: str
    unit: str
    value: float
    direction: Coefs


COLUMNS = ["kind", "name", "detail", "unit", "value", "effect", "low", "high"]


def price_ranges(solved: Solved) -> pd.DataFrame:
    """A row for each price: the range in which it may move alone before the basis changes.

    Columns: kind, name, detail, unit, value (currency a unit), effect (currency by which the least cost rises
    when the price rises by 1, within the range), low and high (ends of the range, in currency a unit; low is
    at least 0, high is NaN where there is no end). Where a crew's pay or a zone's cost differs by date, the
    range supposes the same change on all days, and is shown for the first figure. Penalties are listed only
    for orders that are short. Raises SolveError where HiGHS reaches no optimum.
    """
    compiled = solved.priced_in
    # Solved without a start: in a basis left from before hands were held, they would limit the ranges.
    highs = solver(compiled, presolve="off")
    solution = run(highs, start=run(solver(compiled)))
    short = compiled.values(solution.columns)["short"] > 1e-6
    rows = []
    for price in prices(solved.program):
        if price.kind == "penalty" and not short[next(iter(price.direction))[1]]:
            continue
        vector = compiled.vector(price.direction)
        if not vector.any():
            continue
        fall, rise = _steps(compiled, solution, highs, vector)
        low, high = max(price.value - fall, 0.0), price.value + rise
        effect = float(vector @ solution.columns)
        rows.append((*price[:5], effect, low, high if np.isfinite(high) else np.nan))
    return pd.DataFrame(rows, columns=COLUMNS)


def prices(program: Program) -> list[Price]:
    """All prices of the program's scenario that some cost depends on, with their directions.

    Costs are linear in prices: a direction is the cost with that price raised by 1, less the present cost.
    """
    network = program.network
    raised = _raised(network.scenario)
    terms = order_terms(raised, network.calendar)
    dearer = replace(network, scenario=raised, orders=terms, offers=list(raised.buy_in_offers))
    changes: dict[tuple[str, str], Coefs] = {}
    for now, then in zip(costs(program), costs(Program(dearer, Amounts(dearer))), strict=True):
        rises = {key: coef - now.coefs[key] for key, coef in then.coefs.items()}
        changes[now.line, now.detail] = {key: rise for key, rise in rises.items() if abs(rise) > TINY}
    found = [*_labour(program, changes), *_growing(program, changes), *_trade(program, changes)]
    return [price for price in found if price.direction]


def _raised(scenario: Scenario) -> Scenario:
    """The scenario with every price raised by 1, but prices of orders, which no cost has unless declined."""

    def more(value: float | None) -> float | None:
        return None if value is None else value + 1

    return replace(
        scenario,
        nursery=replace(scenario.nursery, shortfall_penalty=scenario.nursery.shortfall_penalty + 1),
        orders=tuple(replace(o, shortfall_penalty=more(o.shortfall_penalty)) for o in scenario.orders),
        products=tuple(
            replace(p, salvage_price=p.salvage_price + (p.salvage_price > 0)) for p in scenario.products
        ),
        packs=tuple(replace(pack, price=pack.price + 1) for pack in scenario.packs),
        zones=tuple(replace(z, cost_per_slot_day=z.cost_per_slot_day + 1) for z in scenario.zones),
        zone_days=tuple(replace(z, cost_per_slot_day=more(z.cost_per_slot_day)) for z in scenario.zone_days),
        bays=tuple(
            replace(row, cost_per_bay_week=_where_it_costs(row.cost_per_bay_week)) for row in scenario.bays
        ),
        crews=tuple(
            replace(
                crew,
                pay_per_hour=crew.pay_per_hour + 1,
                overtime_pay_per_hour=more(crew.overtime_pay_per_hour),
                temp_pay_per_hour=crew.temp_pay_per_hour + 1,
                temp_overtime_pay_per_hour=more(crew.temp_overtime_pay_per_hour),
            )
            for crew in scenario.crews
        ),
        crew_days=tuple(
            replace(
                change,
                pay_per_hour=more(change.pay_per_hour),
                temp_pay_per_hour=more(change.temp_pay_per_hour),
                temp_overtime_pay_per_hour=more(change.temp_overtime_pay_per_hour),
            )
            for change in scenario.crew_days
        ),
        buy_in_offers=tuple(replace(offer, price=offer.price + 1) for offer in scenario.buy_in_offers),
        runs=tuple(replace(run, fixed_cost=run.fixed_cost + 1) for run in scenario.runs),
    )


def _where_it_costs(value: float | None) -> float | None:
    """The cost of a bay raised by 1; a bay that costs nothing needs no decision, and stays so."""
    return value + 1 if value else value


def _labour(program: Program, changes: dict[tuple[str, str], Coefs]) -> Iterator[Price]:
    """Pay of crews, overtime and temporary hands; overtime without its own rate moves with regular pay."""
    scenario = program.network.scenario
    apart = {
        ("temporary_overtime", n)
        for n, at in enumerate(program.temporary_overtime_days)
        if program.amounts.crews[at.crew].temporary_overtime_apart(program.weeks[program.week_of[at.day]])
    }
    for crew in scenario.crews:
        name, rate = crew.crew, crew.overtime_pay_per_hour
        if any(row.crew == name for row in scenario.piece_rates):
            continue  # what pieces pay beyond the hour is not linear in the pay
        regular = changes["labour", name] | changes.get(("guaranteed hours", name), {})
        overtime = changes["overtime", name]
        yield Price(
            "pay", name, "", "hour", crew.pay_per_hour, regular if rate is not None else regular | overtime
        )
        if rate is not None:
            yield Price("overtime pay", name, "", "hour", rate, overtime)
        temporary = changes["temporary hands", name]
        hired = {key: rise for key, rise in temporary.items() if key not in apart}
        yield Price("temporary pay", name, "", "hour", crew.temp_pay_per_hour, hired)
        longer = {key: rise for key, rise in temporary.items() if key in apart}
        if (rate := crew.temp_overtime_pay_per_hour) is not None:
            yield Price("temporary overtime pay", name, "", "hour", rate, longer)


def _growing(program: Program, changes: dict[tuple[str, str], Coefs]) -> Iterator[Price]:
    """Prices of packs of seed and supplies, and of slots."""
    for n, pack in enumerate(program.packs):
        yield Price("pack", pack.item, f"{pack.size:g}", "pack", pack.price, {("packs_bought", n): 1.0})
    for zone in program.network.scenario.zones:
        direction = changes["slots", zone.zone]
        yield Price("slots", zone.zone, "", "slot-day", zone.cost_per_slot_day, direction)
    for zone_name, _ in bay_costs(program):
        rows = [row for row in program.network.scenario.bays if row.zone == zone_name]
        cost = next(row.cost_per_bay_week for row in rows if row.cost_per_bay_week)
        yield Price("bays", zone_name, "", "bay-week", cost, changes["bays", zone_name])
    for row, trays in trays_in_zones(program):
        yield Price("zones chosen", zone_detail(row), "", "tray", row.cost_per_tray, trays)


def _trade(program: Program, changes: dict[tuple[str, str], Coefs]) -> Iterator[Price]:
    """Prices of plants bought in, short, declined and sold as surplus."""
    terms = program.network.orders
    for offer in program.network.offers:
        yield Price("buy-in", offer.offer, "", "plant", offer.price, changes["buy-in", offer.offer])
    for row in program.network.scenario.runs:
        direction = changes.get(("freight", row.run), {})
        yield Price("run", row.run, "", "vehicle", row.fixed_cost, direction)
    for term in terms:
        name = term.order.order
        value = term.penalty - (0.0 if term.order.decline is Decline.NO else term.price)
        yield Price("penalty", name, "", "plant", value, changes["shortfall", name])
    moved: dict[int, Coefs] = {}
    for key, o, plants in program.declined:
        moved[o] = {key: plants, ("short", o): 1.0}
    for o, late in late_plants(program).items():
        if terms[o].price > 0:
            given_up = terms[o].late_cost / terms[o].price
            moved.setdefault(o, {}).update({key: given_up * weeks for key, weeks in late.items()})
    for o, direction in sorted(moved.items()):
        order, of_billed = terms[o].order, billed_share(terms[o].order)
        per_billed = {key: change * of_billed for key, change in direction.items()}
        yield Price("order price", order.order, "", "plant", terms[o].price / of_billed, per_billed)
    for product, _ in program.salvaged:
        direction = changes["salvage", product.product]
        yield Price("salvage", product.product, "", "plant", product.salvage_price, direction)


def _steps(compiled: Compiled, solution: Solution, highs: Any, vector: Floats) -> tuple[float, float]:
    """How far the costs may move along the direction, down and up, before a reduced cost changes sign.

    With B the basic columns, Δduals = B⁻ᵀ g_B and Δ reduced costs = g − Aᵀ Δduals for each step along g.
    ``highs`` stands at the solution.
    """
    basic = np.array(highs.getBasicVariables()[1])
    costs_of_basic = np.where(basic >= 0, vector[np.maximum(basic, 0)], 0.0)
    duals = np.array(highs.getBasisTransposeSolve(costs_of_basic)[1])
    reduced = vector - compiled.matrix.T @ duals
    fall, rise = np.inf, np.inf
    for now, change, lower, upper, status in (
        (solution.column_dual, reduced, compiled.lower, compiled.upper, solution.basis.col_status),
        (solution.row_dual, duals, compiled.row_lower, compiled.row_upper, solution.basis.row_status),
    ):
        sign = _signs(status, lower, upper)
        room, moved = np.maximum(now * sign, 0.0), change * sign
        for n in np.flatnonzero((sign != 0) & (np.abs(moved) > TINY)).tolist():
            step = float(room[n] / abs(moved[n]))
            fall, rise = (min(fall, step), rise) if moved[n] > 0 else (fall, min(rise, step))
    return fall, rise


def _signs(status: list[Any], lower: Floats, upper: Floats) -> Floats:
    """1 where a reduced cost must not be negative, -1 where it must not be positive, 0 where it is free."""
    of = {highspy.HighsBasisStatus.kLower: 1.0, highspy.HighsBasisStatus.kUpper: -1.0}
    signs = np.array([of.get(one, 0.0) for one in status])
    return np.where(lower == upper, 0.0, signs)

"""What an investment is worth: net present value, payback, value left.

Yearly flows are in currency; the flow of year 0 is paid now, that of year t at the end of year t. Sources:
Blank, Tarquin, Engineering Economy, chapters 5 and 13 (net present value, payback with and without
interest).
"""

from __future__ import annotations

from collections.abc import Sequence


def net_present_value(rate: float, flows: Sequence[float]) -> float:
    """Σ flow[t] / (1 + rate)^t, in currency."""
    return sum(flow / (1 + rate) ** year for year, flow in enumerate(flows))


def payback_years(flows: Sequence[float], rate: float = 0.0) -> float | None:
    """Years until the flows, discounted at ``rate``, have paid back; None where they never do.

    Within a year money is taken to come evenly.
    """
    left = 0.0
    for year, flow in enumerate(flows):
        now = flow / (1 + rate) ** year
        if left < 0 <= left + now:
            return year - 1 + -left / now
        left += now
    return 0.0 if flows and all(flow >= 0 for flow in flows) else None


def worth_left(first_cost: float, salvage_value: float, life_years: int, age: int) -> float:
    """Value of a thing after ``age`` years of its life, by straight-line depreciation, in currency."""
    return first_cost - (first_cost - salvage_value) * min(age, life_years) / life_years


def own_flows(first_cost: float, salvage_value: float, life_years: int, years: int) -> list[float]:
    """What owning one thing for ``years`` years costs and brings by year, in currency.

    It is bought now, replaced at the end of its life, and sold at the end for its value left.
    """
    flows = [0.0] * (years + 1)
    flows[0] -= first_cost
    for year in range(life_years, years, life_years):
        flows[year] += salvage_value - first_cost
    flows[years] += worth_left(first_cost, salvage_value, life_years, (years - 1) % life_years + 1)
    return flows

"""What it costs to keep a bay warm: heat lost through its cover, by degree-days.

Source: Q = U · A · ΔT, with U of 1.0 to 1.2 for a single cover and 0.6 to 0.7 for a double one in
Btu/(h · ft² · °F), which are 5.678 times as many W/(m² · K) (Purdue University, Controlled environment
agriculture; eXtension). A mean over a month gives a mean: sun, wind, leaks and curtains are not in it.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

HOURS = 24
WEEK = 7


class Measures(StrEnum):
    """Units of area, temperature, U and heat."""

    METRIC = "metric"
    US = "us"


THOUSAND = 1000
"""U · A · ΔT gives W·h or Btu an hour; heat is told in kWh or 1,000 Btu."""

NAMED = {
    Measures.METRIC: ("m²", "°C", "W/(m²·K)", "kWh"),
    Measures.US: ("ft²", "°F", "Btu/(h·ft²·°F)", "1,000 Btu"),
}
"""Names of the units of area, temperature, U and heat."""


@dataclass(frozen=True, slots=True)
class Heating:
    """How a bay is heated. Area of its cover, U and temperatures in the same measures.

    ``efficiency``: heat given over heat in the fuel. ``fuel_price``: currency for a unit of fuel;
    ``fuel_heat``: heat of a unit of fuel, in kWh or 1,000 Btu.
    """

    measures: Measures
    u_value: float
    area: float
    set_point: float
    fuel_price: float
    fuel_heat: float
    efficiency: float

    def degree_days(self, outdoor: float) -> float:
        """Degree-days of a week at a mean outdoor temperature: 7 · max(0, set point − outdoor)."""
        return WEEK * max(0.0, self.set_point - outdoor)

    def heat(self, outdoor: float) -> float:
        """Heat lost in a week, in kWh or 1,000 Btu: 24 · U · A · degree-days / 1000."""
        return HOURS * self.u_value * self.area * self.degree_days(outdoor) / THOUSAND

    def fuel(self, outdoor: float) -> float:
        """Units of fuel burnt in a week: heat / (efficiency · heat of a unit)."""
        return self.heat(outdoor) / (self.efficiency * self.fuel_heat)

    def week_cost(self, outdoor: float) -> float:
        """Cost of the fuel of a week, in currency."""
        return self.fuel(outdoor) * self.fuel_price

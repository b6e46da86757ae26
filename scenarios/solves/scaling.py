"""A scenario at other pay or other prices of orders."""

from __future__ import annotations

from dataclasses import replace

from model.scenario.entities import Scenario


def times(value: float | None, factor: float) -> float | None:
    """A value times the factor; blank stays blank."""
    return None if value is None else value * factor


def at_pay(scenario: Scenario, factor: float) -> Scenario:
    """The scenario with all pay times a factor: by the hour, at any date, and by the piece."""
    crews = tuple(
        replace(
            crew,
            pay_per_hour=crew.pay_per_hour * factor,
            overtime_pay_per_hour=times(crew.overtime_pay_per_hour, factor),
            temp_pay_per_hour=crew.temp_pay_per_hour * factor,
            temp_overtime_pay_per_hour=times(crew.temp_overtime_pay_per_hour, factor),
        )
        for crew in scenario.crews
    )
    days = tuple(
        replace(
            row,
            pay_per_hour=times(row.pay_per_hour, factor),
            temp_pay_per_hour=times(row.temp_pay_per_hour, factor),
            temp_overtime_pay_per_hour=times(row.temp_overtime_pay_per_hour, factor),
        )
        for row in scenario.crew_days
    )
    pieces = tuple(replace(row, pay_per_piece=row.pay_per_piece * factor) for row in scenario.piece_rates)
    return replace(scenario, crews=crews, crew_days=days, piece_rates=pieces)


def at_prices(scenario: Scenario, factor: float) -> Scenario:
    """The scenario with what orders are charged times a factor: agreed prices and the price list."""
    nursery = replace(
        scenario.nursery,
        least_charge=scenario.nursery.least_charge * factor,
        part_tray_charge=scenario.nursery.part_tray_charge * factor,
    )
    return replace(
        scenario,
        nursery=nursery,
        orders=tuple(replace(order, price=times(order.price, factor)) for order in scenario.orders),
        list_prices=tuple(replace(row, price=row.price * factor) for row in scenario.list_prices),
    )

"""Records of people and their work: crews, their changes by date, labour standards."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Annotated

from model.scenario.choices import (
    PayBasis,
    Task,
)
from model.scenario.ranges import (
    AMOUNT,
    HEADS,
    PACES,
    TASK,
    UNIT_PRICE,
)
from model.scenario.schema import (
    choice,
    choices,
    day,
    note,
    number,
    ref,
    text,
    whole,
)

PER_HOUR = "currency/h"

_METHOD = ("methods", "method")
_FORMAT = ("tray_formats", "format")


@dataclass(frozen=True, slots=True)
class LabourStandard:
    """Seconds for each task at the standard pace. If several rows fit, the most specific counts."""

    task: Annotated[
        Task,
        choice(
            "The task, and what its seconds are for. sow, move, consolidate: a tray. tend "
            "(outside healing), care (during healing): a tray and day. graft, stick: a join. "
            "grade: a finished plant. pack: a plant delivered."
        ),
    ]
    skill: Annotated[str, text("Skill that the task needs.")]
    method: Annotated[str | None, ref("Method that the row is for; blank for all.", _METHOD)]
    format: Annotated[str | None, ref("Tray format that the row is for; blank for all.", _FORMAT)]
    seconds: Annotated[float, number("Time at the standard pace.", "s", high=TASK)]
    note: Annotated[str | None, note()] = None


@dataclass(frozen=True, slots=True)
class Crew:
    """Crews: hands with the same skills, pay and calendar. Check the pay rules yourself."""

    crew: Annotated[str, text("Name of the crew.")]
    skills: Annotated[tuple[str, ...], choices("Skills of every hand in the crew, separated by ';'.")]
    heads: Annotated[float, number("Number of hands.", "heads", high=HEADS)]
    hours_per_head_day: Annotated[float, number("Regular hours of one hand on a working day.", "h", high=24)]
    pay_per_hour: Annotated[
        float, number("Pay for a regular hour, with all employer's costs on top.", PER_HOUR, high=UNIT_PRICE)
    ]
    pay_basis: Annotated[
        PayBasis,
        choice(
            "used: the crew is paid for the regular hours it works. committed: the crew is paid "
            "for all regular hours of its calendar.",
            default=PayBasis.USED,
        ),
    ]
    pace: Annotated[
        float,
        number(
            "Pace relative to the labour standards; at 2 a task takes half the standard time.",
            "ratio",
            1.0,
            low=PACES[0],
            high=PACES[1],
        ),
    ]
    overtime_hours_per_head_day: Annotated[
        float, number("Most overtime of one hand on a working day.", "h", 0.0, high=24)
    ]
    overtime_pay_per_hour: Annotated[
        float | None,
        number(
            "Pay for an hour of overtime or on a day off; blank: the regular pay.", PER_HOUR, high=UNIT_PRICE
        ),
    ]
    day_off_hours_per_head: Annotated[
        float, number("Most hours of one hand on a day off, for daily care.", "h", 0.0, high=24)
    ]
    week_hours_per_head: Annotated[
        float | None,
        number("Most hours of one hand in a week, overtime included; blank: no limit.", "h", high=168),
    ]
    temp_heads_most: Annotated[int, whole("Most temporary hands at one time.", "heads", 0, high=HEADS)]
    temp_pay_per_hour: Annotated[
        float, number("Pay for an hour of a temporary hand.", PER_HOUR, 0.0, high=UNIT_PRICE)
    ]
    temp_pace: Annotated[
        float,
        number(
            "Pace of temporary hands, relative to the labour standards.",
            "ratio",
            1.0,
            low=PACES[0],
            high=PACES[1],
        ),
    ]
    temp_training_days: Annotated[
        int, whole("Working days for which a temporary hand is trained before working.", "days", 0, high=7)
    ]
    temp_training_cost: Annotated[
        float,
        number("Cost of training one temporary hand, besides the pay.", "currency/head", 0.0, high=AMOUNT),
    ]
    note: Annotated[str | None, note()] = None


@dataclass(frozen=True, slots=True)
class CrewDay:
    """Changes of a crew from a date on. A blank cell leaves the figure as it was."""

    crew: Annotated[str, ref("Crew that changes.", ("crews", "crew"))]
    from_day: Annotated[date, day("First day of the new figures.")]
    heads: Annotated[float | None, number("Number of hands from that day on.", "heads", high=HEADS)] = None
    pay_per_hour: Annotated[
        float | None, number("Regular pay from that day on.", PER_HOUR, high=UNIT_PRICE)
    ] = None

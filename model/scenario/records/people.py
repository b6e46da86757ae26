"""Records of people and their work: crews, their changes by date, labour standards."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Annotated

from model.scenario.choices import PayBasis, Task, TaskPer
from model.scenario.ranges import ATTENDANTS, HEADS, PACES, TASK, USED
from model.scenario.schema import NOTE, amount, blank, choices, days, number, price, ref, weekdays, whole

_METHOD = ("methods", "method")
_FORMAT = ("tray_formats", "format")


@dataclass(frozen=True, slots=True)
class LabourStandard:
    """Seconds for each task at the standard pace. If several rows fit, the most specific counts.

    Where hands of several roles do a task side by side, each role has a row with its skill and seconds, alike
    in task, method and format. Hours and hands of the roles then stand in the ratio of their seconds.
    """

    task: Annotated[
        Task,
        "The task, and what its seconds are for. sow, move, consolidate: a tray. tend (outside healing), "
        "care (during healing): a tray and day. graft, stick: a join. grade: a finished plant. pack: a plant "
        "delivered.",
    ]
    skill: Annotated[str, "Skill that the task needs."]
    method: Annotated[str | None, "Method that the row is for; blank for all.", ref(_METHOD)]
    format: Annotated[str | None, "Tray format that the row is for; blank for all.", ref(_FORMAT)]
    seconds: Annotated[float, "Time at the standard pace.", number("s", high=TASK)]
    role: Annotated[
        str | None,
        "Role that the row is for, such as cutter, joiner or clipper: each join, tray or plant takes the "
        "seconds of every role. Blank: one hand does the whole task.",
    ] = None
    note: Annotated[str | None, NOTE] = None


@dataclass(frozen=True, slots=True)
class OwnTask:
    """The nursery's own tasks in a stage: pinching, spraying, labels. Every row that fits is done."""

    task: Annotated[str, "Name of the task, as lists and budgets show it."]
    stage: Annotated[
        str,
        "Stage in which it is done: germination, bench, holding, or the name of a stage in table stages.",
    ]
    per: Annotated[
        TaskPer,
        "What the seconds and the quantity are for. tray: a tray that stands there. join: a join made. "
        "plant: on the bench a usable seedling, in healing a join, later a healed plant, in holding a plant.",
    ]
    day: Annotated[
        int | None,
        "Day of the stage for which it is due, 1 for the first; on a day off it waits for the next working "
        "day. Blank: every day of the stage, days off too.",
        days(low=1),
    ] = None
    method: Annotated[
        str | None, "Method that the row is for; blank for all. Blank for seedlings.", ref(_METHOD)
    ] = None
    product: Annotated[
        str | None,
        "Product that the row is for; blank for all. Blank for seedlings.",
        ref(("products", "product")),
    ] = None
    lot: Annotated[
        str | None,
        "Seed lot that the row is for; blank for all. Only for germination and bench.",
        ref(("seed_lots", "lot")),
    ] = None
    format: Annotated[str | None, "Tray format that the row is for; blank for all.", ref(_FORMAT)] = None
    skill: Annotated[str | None, "Skill that the task needs; needed where it takes time."] = None
    seconds: Annotated[float, "Time at the standard pace.", number("s", 0.0, high=TASK)] = 0.0
    supply: Annotated[str | None, "Supply that it uses.", ref(("supplies", "supply"))] = None
    quantity: Annotated[float, "Units of the supply used.", number("units", 0.0, high=USED)] = 0.0
    note: Annotated[str | None, NOTE] = None


@dataclass(frozen=True, slots=True)
class SkillLimit:
    """Most hours that a hand spends at a skill in a day. If two rows fit, the one that names a crew counts.

    Joining more than six hours a day is tied to strain of the cutting hand (Colantoni et al. 2012, read in
    the abstract). Local law and a doctor's advice come first.
    """

    skill: Annotated[str, "Skill that is limited."]
    crew: Annotated[str | None, "Crew that the row is for; blank for all.", ref(("crews", "crew"))]
    hours_per_head_day: Annotated[
        float, "Most hours of one hand at the skill on a day, temporary hands too.", number("h", high=24)
    ]
    note: Annotated[str | None, NOTE] = None


@dataclass(frozen=True, slots=True)
class PieceRate:
    """Pay by the piece. If several rows fit, the most specific counts, as for labour standards.

    An hour at such a task never pays less than the crew's pay_per_hour, whatever the pieces. Temporary hands
    are paid by the hour. Check local law: it rules on piece rates, and on the least pay of an hour.
    """

    crew: Annotated[str, "Crew whose own hands are paid so.", ref(("crews", "crew"))]
    task: Annotated[Task, "The task. A piece is what the seconds of labour_standards are for."]
    method: Annotated[str | None, "Method that the row is for; blank for all.", ref(_METHOD)]
    format: Annotated[str | None, "Tray format that the row is for; blank for all.", ref(_FORMAT)]
    pay_per_piece: Annotated[float, "Pay for a piece: a join, tray or plant.", price("piece")]
    role: Annotated[
        str | None,
        "Role of labour_standards that the row is for; it counts before rows without one. Blank: for all; "
        "each role is then paid the share of a piece that its seconds are of those of all roles.",
    ] = None
    note: Annotated[str | None, NOTE] = None


@dataclass(frozen=True, slots=True)
class Crew:
    """Crews: hands with the same skills, pay and calendar. Check the pay rules yourself.

    Machines of one kind are a crew too. heads says how many there are (crew_days from when),
    hours_per_head_day how long each runs, pay_per_hour what an hour of it costs, attendants how many hands it
    needs. Where other crews have its skill too, the plan chooses between hands and machine; pace says how
    fast it is. A machine with a rate of its own for a method or tray format has a skill of its own, with rows
    of labour_standards. One with a take of its own has a method of its own besides: one more way to make the
    product.
    """

    crew: Annotated[str, "Name of the crew."]
    skills: Annotated[tuple[str, ...], "Skills of every hand in the crew, separated by ';'.", choices()]
    heads: Annotated[float, "Number of hands.", number("heads", high=HEADS)]
    hours_per_head_day: Annotated[float, "Regular hours of one hand on a working day.", number("h", high=24)]
    pay_per_hour: Annotated[float, "Pay for a regular hour, with all employer's costs on top.", price("h")]
    pay_basis: Annotated[
        PayBasis,
        "used: the crew is paid for the regular hours it works. committed: the crew is paid for all regular "
        "hours of its calendar.",
        blank(PayBasis.USED),
    ]
    pace: Annotated[
        float,
        "Pace relative to the labour standards; at 2 a task takes half the standard time.",
        number("ratio", 1.0, low=PACES[0], high=PACES[1]),
    ]
    overtime_hours_per_head_day: Annotated[
        float, "Most overtime of one hand on a working day.", number("h", 0.0, high=24)
    ]
    overtime_pay_per_hour: Annotated[
        float | None, "Pay for an hour of overtime or on a day off; blank: the regular pay.", price("h")
    ]
    day_off_hours_per_head: Annotated[
        float, "Most hours of one hand on a day off, for daily care.", number("h", 0.0, high=24)
    ]
    week_hours_per_head: Annotated[
        float | None,
        "Most hours of one hand in a week, overtime included; blank: no limit. Temporary hands hired by the "
        "week work all its shifts, and overtime only up to this.",
        number("h", high=168),
    ]
    temp_heads_most: Annotated[int, "Most temporary hands at one time.", whole("heads", 0, high=HEADS)]
    temp_pay_per_hour: Annotated[float, "Pay for an hour of a temporary hand.", price("h", 0.0)]
    temp_pace: Annotated[
        float,
        "Pace of temporary hands, relative to the labour standards.",
        number("ratio", 1.0, low=PACES[0], high=PACES[1]),
    ]
    temp_training_days: Annotated[
        int, "Working days for which a temporary hand is trained before working.", whole("days", 0, high=7)
    ]
    temp_training_cost: Annotated[
        float, "Cost of training one temporary hand, besides the pay.", amount("head", 0.0)
    ]
    temp_trainer_hours: Annotated[
        float,
        "Hours that the crew's own hands spend with each new temporary hand on each day of its training.",
        number("h", 0.0, high=24),
    ] = 0.0
    temp_overtime_hours_per_head_day: Annotated[
        float,
        "Most overtime of a temporary hand on a day on which it works. Check local law on overtime.",
        number("h", 0.0, high=24),
    ] = 0.0
    temp_overtime_pay_per_hour: Annotated[
        float | None, "Pay for an hour of overtime of a temporary hand; blank: its regular pay.", price("h")
    ] = None
    temp_days_least: Annotated[
        int | None,
        "Of temporary hands hired by the day: least days for which each is paid in a week in which it is on "
        "the list, training included; 0: none, it may stay on the list without pay. Blank: hands are hired "
        "by the week, and paid for all its shifts. Check local law on work on call.",
        whole("days", high=7),
    ] = None
    guaranteed_hours_per_head_week: Annotated[
        float | None,
        "Hours a week for which each hand of a crew paid as used is paid at least, worked or not. A week of "
        "fewer working days counts for its share of them. Blank: none.",
        number("h", high=168),
    ] = None
    attendants: Annotated[
        float,
        "Of a machine: hands of other crews that each machine needs for every hour that it runs, at the "
        "standard pace.",
        number("heads", 0.0, high=ATTENDANTS),
    ] = 0.0
    attendant_skill: Annotated[
        str | None, "Skill of the attendants of a machine; needed where it has any."
    ] = None
    supply: Annotated[
        str | None,
        "Supply that each hand or machine of the crew uses up by the hour of work, such as a reel of clips.",
        ref(("supplies", "supply")),
    ] = None
    supply_per_hour: Annotated[
        float, "Units of the supply used in an hour.", number("units", 0.0, high=USED)
    ] = 0.0
    note: Annotated[str | None, NOTE] = None


@dataclass(frozen=True, slots=True)
class Practice:
    """What each new temporary hand of a crew practises on in its training, and of which nothing is sold.

    Rootstocks and scions for practice joins are sown in time, stand among the other trays until the training
    ends, and are thrown away then; clips, blades and the like are used on their day. The joins are made in
    the paid days of the training. A hand cannot be hired before what it practises on has grown. Leave these
    sowings out of the table progress: what should have been sown before today is taken as sown.
    """

    crew: Annotated[str, "Crew whose new temporary hands practise so.", ref(("crews", "crew"))]
    item: Annotated[
        str, "Seed lot sown, or supply used, for it.", ref(("seed_lots", "lot"), ("supplies", "supply"))
    ]
    format: Annotated[str | None, "Tray format in which the lot is sown; blank for a supply.", ref(_FORMAT)]
    quantity: Annotated[
        float,
        "For each new hand: trays of the lot, or units of the supply; parts of a tray are shared by hands.",
        number("trays or units", high=USED),
    ]
    days_before: Annotated[
        int,
        "Days from sowing to the first day of the training: the age at which they are grafted; on a day off "
        "they are sown on the working day before. For a supply: days before it on which it is used.",
        days(),
    ]
    note: Annotated[str | None, NOTE] = None


@dataclass(frozen=True, slots=True)
class WeekPace:
    """Pace of a crew's temporary hands by week since they were hired, from the nursery's own counts.

    No published learning curve for grafting was found. A share is at least that of the week before; weeks
    beyond the last row have a share of 1. Where there are rows, overtime is worked by hands whose weeks in
    this table are over.
    """

    crew: Annotated[str, "Crew whose temporary hands the row is for.", ref(("crews", "crew"))]
    week: Annotated[
        int, "Week of the stay: 1 for the week in which a hand is new.", whole("weeks", low=1, high=104)
    ]
    share: Annotated[
        float, "Share of temp_pace at which a hand works in that week.", number("share", low=PACES[0], high=1)
    ]
    note: Annotated[str | None, NOTE] = None


@dataclass(frozen=True, slots=True)
class Shift:
    """Hours of a crew on some weekdays, where they differ: part-time hands, weekend hands, short Fridays.

    Weekdays without a row have the crew's own hours. Nobody has a shift on a day off of table days_off. Check
    local law on part-time, Sunday and night work.
    """

    crew: Annotated[str, "Crew whose own and temporary hands work so.", ref(("crews", "crew"))]
    weekdays: Annotated[tuple[str, ...], "Weekdays of the shift, separated by ';'.", weekdays()]
    hours_per_head_day: Annotated[
        float,
        "Regular hours of one hand on each of these weekdays, also where the nursery does not work: weekend "
        "hands then look after the plants. 0: the crew is off.",
        number("h", high=24),
    ]
    note: Annotated[str | None, NOTE] = None


@dataclass(frozen=True, slots=True)
class CrewDay:
    """Changes of a crew from a date on. A blank cell leaves the figure as it was."""

    crew: Annotated[str, "Crew that changes.", ref(("crews", "crew"))]
    from_day: Annotated[date, "First day of the new figures."]
    heads: Annotated[float | None, "Number of hands from that day on.", number("heads", high=HEADS)] = None
    pay_per_hour: Annotated[float | None, "Regular pay from that day on.", price("h")] = None
    temp_pay_per_hour: Annotated[
        float | None,
        "Pay of temporary hands from that day on; a week has the pay of its first day.",
        price("h"),
    ] = None
    temp_overtime_pay_per_hour: Annotated[
        float | None,
        "Pay for overtime of temporary hands from that day on; a week has the pay of its first day.",
        price("h"),
    ] = None

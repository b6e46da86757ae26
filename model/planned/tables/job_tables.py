"""The plan tables of what crews do: the jobs of each day, which crew does which part, work by the piece."""

from __future__ import annotations

from enum import StrEnum

from model.planned.tables.plan_schema import choice, day, money, number, ref, share, table, text
from model.scenario.choices import GroupBy, Task


class Step(StrEnum):
    """The steps of a day's work, in the order in which they are done.

    Goods are received first, and supplies that have come back are washed. Trays leave the benches before
    grafters need the space. Plants go out last.
    """

    ORDER = "order"
    RECEIVE = "receive"
    WASH = "wash"
    ATTEND = "attend"
    SOW = "sow"
    MOVE_TO_BENCH = "move to bench"
    CONSOLIDATE = "consolidate"
    MOVE_ON = "move on"
    CHANGE_OVER = "change over"
    GRAFT = "graft"
    STICK = "stick"
    MOVE_TO_HEALING = "move to healing"
    CARE = "care"
    TEND = "tend"
    OWN_TASK = "own task"
    GRADE = "grade"
    MOVE_TO_HOLDING = "move to holding"
    PACK = "pack"
    DELIVER = "deliver"

    @property
    def position(self) -> int:
        """Position in the order of work, from 0."""
        return POSITIONS[self]

    @property
    def is_work(self) -> bool:
        """Whether the step is work on plants; ordering, receiving and delivering are not."""
        return self in TASKS or self in (Step.OWN_TASK, Step.ATTEND, Step.WASH, Step.CHANGE_OVER)

    @property
    def task(self) -> str:
        """Name of the task: that of its labour standard, or of the step if it has none."""
        standard = TASKS.get(self)
        return self.value if standard is None else standard.value


POSITIONS = {step: n for n, step in enumerate(Step)}

TASKS: dict[Step, Task] = {
    Step.SOW: Task.SOW,
    Step.MOVE_TO_BENCH: Task.MOVE,
    Step.CONSOLIDATE: Task.CONSOLIDATE,
    Step.MOVE_ON: Task.MOVE,
    Step.GRAFT: Task.GRAFT,
    Step.STICK: Task.STICK,
    Step.MOVE_TO_HEALING: Task.MOVE,
    Step.CARE: Task.CARE,
    Step.TEND: Task.TEND,
    Step.GRADE: Task.GRADE,
    Step.MOVE_TO_HOLDING: Task.MOVE,
    Step.PACK: Task.PACK,
}
"""The labour standard of each step. Of goods, washing, attending, changing over and own tasks none."""

JOBS = table(
    "jobs",
    "The jobs of each day, in the order of work.",
    ("job",),
    text("job", "Job", "number of the job, in the order of work"),
    day("day", "Day", "day of the job"),
    choice("step", "Step", "step of the day's work", [step.value for step in Step]),
    text("own_task", "Own task", "name of the nursery's own task; blank for other steps", blank=True),
    text("role", "Role", "role of the labour standard; blank if it names none", blank=True),
    text("series", "Series", "words that name the job whatever its day and amount, as a JSON list"),
    text("name", "What", "the lot, product, order, zone, offer, item or machine that the job is about"),
    text("detail", "Lots and details", "lots, orders or packs of the job", blank=True),
    text("from_zone", "From", "zones that the trays come from; blank for the work area", blank=True),
    text("to_zone", "To", "zone that the trays go to; blank for the work area", blank=True),
    ref("format", "Tray format", "tray format", ("tray_formats", "format"), blank=True),
    number("trays", "Trays", "trays; may be fractional", "trays", blank=True),
    number("count", "Number", "expected number, in the unit of the next column", "units", blank=True),
    text("unit", "Unit", "what the number counts: joins, plants, or the unit of the item", blank=True),
    number("seeds", "Seeds", "seeds sown", "seeds", blank=True),
    text("skill", "Skill", "skill of the labour standard; blank if the step has no standard", blank=True),
    number("hours", "Hours", "hours at the standard pace", "h"),
)

JOB_CREWS = table(
    "job_crews",
    "Which crew does which part of each job.",
    ("job", "starts"),
    ref("job", "Job", "number of the job", ("jobs", "job")),
    ref(
        "crew",
        "Crew",
        "crew; blank if no crew's hours are planned for the job",
        ("crews", "crew"),
        blank=True,
    ),
    share("starts", "Starts at", "share of the job that is done when this crew begins"),
    share("ends", "Ends at", "share of the job that is done when this crew ends"),
    number("own", "Own hands", "hours of the crew's own hands, by the clock", "h"),
    number("temporary", "Temporary hands", "hours of the crew's temporary hands, by the clock", "h"),
)

PIECES = table(
    "pieces",
    "Work that a crew's own hands are paid for by the piece.",
    ("crew", "day", "skill", "task", "method", "format"),
    ref("crew", "Crew", "crew", ("crews", "crew")),
    day("day", "Day", "day"),
    text("skill", "Skill", "skill"),
    text("task", "Task", "task with a piece rate; of one in roles, task: role"),
    ref("method", "Method", "method; blank for work on seedlings", ("methods", "method"), blank=True),
    ref("format", "Tray format", "tray format", ("tray_formats", "format")),
    number("hours", "Worked", "hours worked, by the clock", "h"),
    number("pieces", "Pieces", "trays, joins or plants, as the labour standard counts", "pieces"),
    number("rate", "Rate", "pay for a piece", "currency/piece"),
    money("amount", "Beyond the hour", "what the pieces pay beyond the pay by the hour"),
)

CHANGE_OVERS = table(
    "change_overs",
    "Seed lots for which blades and grafting table are changed over on a graft day, where that takes time.",
    ("day", "lot"),
    day("day", "Day", "graft day"),
    ref("lot", "Seed lot", "seed lot at the grafting table", ("seed_lots", "lot")),
    number("number", "Change-overs", "change-overs: 1, or a part of one in a plan in parts", "change-overs"),
)

PLANTS, CLEANING = "plants", "cleaning"
"""What a row of table ``kept_apart`` is about: plants of a group, or cleaning after them."""

KEPT_APART = table(
    "kept_apart",
    "Where groups that are kept apart are on which days, and the days of cleaning between them.",
    ("zone", "what", "by", "group", "from_day"),
    ref("zone", "Zone", "zone; blank for the grafting table", ("zones", "zone"), blank=True),
    choice(
        "what",
        "What",
        "plants of the group, or cleaning after them, before the other group comes",
        (PLANTS, CLEANING),
    ),
    choice("by", "Group by", "what makes the group", [by.value for by in GroupBy]),
    text("group", "Group", "lot, crop, customer or state of health"),
    day("from_day", "From", "first day"),
    day("to_day", "Until", "day after the last", end=True),
)

"""Plain words that several reports share: prices of limits, and the cautions of the trade."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from model.currencies import decimals, least_sum
from model.network.charges import extra_plants, filling_plants
from model.planned.tables.job_tables import TASKS, Step
from model.scenario.choices import OverheadRule, Task
from model.scenario.entities import Order, Scenario
from reports.book.style import FINER
from reports.book.writing import GAP, grouped, money, shown_day, shown_share

TO_MIND = {
    "blades": (
        "Blades cut. Cut away from hands and body, keep blades covered and replace them often. Put used "
        "blades into a hard box."
    ),
    "disease": (
        "Tools carry disease from one seedling to all after it. Clean blades and hands between trays, take "
        "a fresh or sanitised blade for each lot, and never mix lots at one bench."
    ),
    "chemicals": (
        "Use sanitising chemicals as their label says, with gloves and fresh air. Never mix one with another."
    ),
    "heat": "Heat and humidity tire people. Plan breaks, shade and water into the day.",
    "wet rooms": (
        "Electricity near water, humidifiers and misting needs residual-current protection (RCD, GFCI). Let "
        "a licensed electrician install it. Floors are slippery. Local codes decide."
    ),
    "machines": (
        "Moving parts catch fingers, hair and sleeves. Keep guards on, and switch the machine off before you "
        "clear or clean it. Its maker's manual and local codes decide who may run it."
    ),
    "lifting": "Wet trays are heavy. Lift with two hands, from benches rather than from the floor.",
    "pay": (
        "Local law rules on hours, breaks, overtime and the pay of temporary hands. This plan does not know "
        "that law: ask a local adviser."
    ),
    "variety rights": (
        "Seed of protected varieties may be sown and grafted only under its breeder's licence. The nursery "
        "checks variety rights itself."
    ),
    "planting": (
        "At planting, the union and any roots grown on the scion stay above the soil. Otherwise the "
        "rootstock is bypassed."
    ),
}
"""Cautions of the trade, by subject.

Tools that cut infected seedlings infect later grafts: Japanese J. Phytopathology 69(1). Some tomato viruses
stay on greenhouse surfaces for days to months: Viruses 2023, 15(10):2076. Both are known by their abstracts.
The rest is common practice, no source.
"""

TASK_CAUTIONS: dict[Task, tuple[str, ...]] = {
    Task.SOW: ("chemicals", "variety rights"),
    Task.MOVE: ("lifting",),
    Task.TEND: ("wet rooms", "heat"),
    Task.GRAFT: ("blades", "disease", "chemicals", "heat"),
    Task.STICK: ("disease", "heat"),
    Task.CARE: ("wet rooms", "heat"),
    Task.CONSOLIDATE: ("disease", "lifting"),
    Task.GRADE: ("disease",),
    Task.PACK: ("lifting", "planting"),
}
"""Cautions at each task: keys of ``TO_MIND``."""


def to_mind(step: Step) -> tuple[str, ...]:
    """Keys of the cautions that belong to a step of the work."""
    if step is Step.OWN_TASK:
        return ("blades", "disease", "chemicals", "heat", "lifting")
    if step is Step.ATTEND:
        return ("machines", "disease")
    if step is Step.WASH:
        return ("disease", "chemicals")
    if step is Step.CHANGE_OVER:
        return ("blades", "disease", "chemicals")
    return TASK_CAUTIONS[TASKS[step]] if step in TASKS else ()


CAUTIONS = {
    "sowing": (TO_MIND["chemicals"], TO_MIND["variety rights"]),
    "grafting": (TO_MIND["blades"], TO_MIND["disease"], TO_MIND["heat"]),
    "chamber": (TO_MIND["wet rooms"], TO_MIND["heat"]),
    "lifting": (TO_MIND["lifting"],),
    "pay": (TO_MIND["pay"],),
    "planting": (TO_MIND["planting"],),
}
"""Cautions by the kind of sheet of the plan workbook."""


def one_more(limit: str, name: str, day: date | None) -> str:
    """One more of a limit, as the subject of a sentence."""
    shown = "" if day is None else shown_day(day)
    on = f" on {shown}" if shown else ""
    return {
        "order": f"One more plant on order {name}",
        "slots": f"One more slot in {name}{on}",
        "units": f"One more unit of {name}{on}",
        "regular hours": f"One more regular hour of {name}{on}",
        "overtime hours": f"One more hour of overtime of {name}{on}",
        "week hours": f"One more hour that {name} may work in the week{on.replace(' on ', ' from ')}",
        "skill hours": f"One more hour of {name}{on}",
        "one graft day": f"One more plant of order {name} from the graft day {shown}",
        "share of a lot": f"One more plant of order {name}",
        "share of a unit": f"One more plant of order {name}, opened{on}",
        "stock": f"One more unit of {name} on hand",
        "buy-in": f"One more plant from {name}{on}",
    }[limit]


AS_PLANNED = (
    "temporary hands, waves with a fixed cost, days with a least batch, deliveries bought in, vehicles and "
    "orders declined whole stay as in this plan"
)
"""Where the prices of limits that a plan tells hold."""

FIRST_PART = (
    "Each is what one more would save if all of it saved as much as its first small part, while "
    f"{AS_PLANNED}. A whole one may save less, or nothing."
)
"""What is meant by the savings that a plan tells of the limits that bind."""


def price_of_limit(limit: str, name: str, day: date | None, value: float, currency: str) -> str:
    """The price of a limit, as one sentence."""
    verb = "costs" if value > 0 else "saves"
    return f"{one_more(limit, name, day)} {verb} {small_price(abs(value), currency)}"


def held_range(low: float, high: float | None, unit: str) -> str:
    """The range of the limit in which a price is proved to hold, in words; ``high`` None: no end."""
    plural = {"unit": "units", "plant": "plants", "slot": "slots", "hour": "hours"}[unit]
    if high is None:
        return f"at least from {number(low)} {plural} on"
    return f"at least from {number(low)} to {number(high)} {plural}"


def digits(value: float, currency: str, finer: int = 0) -> str:
    """A sum without its currency, which the sentence has named; ``finer``: decimals beyond the currency's."""
    places = decimals(currency) + finer
    return grouped(round(value, places) + 0.0, places)  # + 0.0: no "-0.00"


def amount(value: float, currency: str) -> str:
    """A sum of money with the decimals of its currency, such as "1,234.50 EUR" or "1,235 JPY"."""
    return money(round(value, decimals(currency)) + 0.0, currency)


PENALTIES = "penalties for plants short"
"""What the part of a cost is called that nobody pays: it only says how much a shortfall is to be avoided."""


def with_penalties(cost: float, penalties: float, currency: str) -> str:
    """A cost without its penalties, and what it is with them; ``cost`` holds the ``penalties``."""
    if abs(penalties) < least_sum(currency):
        return amount(cost, currency)
    return f"{amount(cost - penalties, currency)} ({digits(cost, currency)} with {PENALTIES})"


def more_or_less(difference: float, penalties: float, currency: str) -> str:
    """A difference of costs without penalties in words, and with them where the penalties differ.

    ``penalties``: the part of the difference that they are.
    """
    told = _more_or_less(difference - penalties, currency)
    if abs(penalties) < least_sum(currency):
        return _more_or_less(difference, currency)
    return f"{told} ({_more_or_less(difference, currency)} with {PENALTIES})"


def saves_or_costs(saved: float, penalties: float, currency: str) -> str:
    """What is saved in words, without penalties, and with them where they differ; less than 0 is a cost.

    ``penalties``: the part of ``saved`` that they are.
    """
    if abs(penalties) < least_sum(currency):
        return _saves_or_costs(saved, currency)
    told = _saves_or_costs(saved - penalties, currency)
    return f"{told} ({_saves_or_costs(saved, currency)} with {PENALTIES})"


def _saves_or_costs(saved: float, currency: str) -> str:
    if abs(saved) < least_sum(currency):
        return "saves nothing"
    return f"saves {amount(saved, currency)}" if saved >= 0 else f"costs {amount(-saved, currency)} more"


def _more_or_less(difference: float, currency: str) -> str:
    return f"{amount(abs(difference), currency)} {'more' if difference >= 0 else 'less'}"


SHARED_BY = {
    OverheadRule.SLOT_DAYS: "by slot-days",
    OverheadRule.PLANTS: "by plants delivered",
    OverheadRule.HOURS: "by hours of work",
}
"""What overhead is shared by, where orders bear it."""


def overhead_rule(scenario: Scenario) -> str:
    """How the orders bear overhead, in a sentence or two."""
    rule = scenario.nursery.overhead_by
    told = "go to no order" if rule is OverheadRule.NONE else f"are shared {SHARED_BY[rule]}"
    own: dict[OverheadRule, list[str]] = {}
    for row in scenario.overheads:
        if row.shared_by not in (None, rule):
            own.setdefault(row.shared_by or rule, []).append(row.overhead)
    others = "; ".join(f"{', '.join(names)} {SHARED_BY.get(by, 'to no order')}" for by, names in own.items())
    return f"Overhead, and paid hours without work, {told}{f'; but {others}' if others else ''}."


def unit_digits(value: float, currency: str) -> str:
    """The cost or price of one plant, without its currency."""
    return digits(value, currency, FINER)


def unit_price(value: float, currency: str) -> str:
    """The cost or price of one plant, with two more decimals than a sum: "1.2345 EUR" or "152.37 JPY"."""
    return money(round(value, decimals(currency) + FINER) + 0.0, currency, FINER)


def small_price(value: float, currency: str) -> str:
    """What one more of a limit is worth: as a sum, but with finer decimals where a sum has one digit left."""
    small = value < 10.0 ** (1 - decimals(currency))
    return unit_price(value, currency) if small else amount(value, currency)


def number(value: float) -> str:
    """A number with at most one place."""
    return grouped(value, 0 if f"{value:.1f}".endswith(".0") else 1)


def counted(number: int, thing: str) -> str:
    """A number of things, such as "1 order" or "3 orders"; ``thing``: one of them."""
    return f"{grouped(number)} {thing}{'' if number == 1 else 's'}"


SEVERAL = frozenset({"trays", "joins", "plants", "packs", "hands", "seeds", "change-overs"})
"""Units of jobs."""


def with_unit(number: str, units: str) -> str:
    """A number as shown with the units of a job, such as "1 tray" or "3 trays"; a user's own units stay."""
    return f"{number} {units[:-1] if number == '1' and units in SEVERAL else units}"


def plants_told(order: Order) -> str:
    """Plants of an order in words: those billed, how many of them fill its last tray, and the extra ones."""
    extra = extra_plants(order)
    return plants_in_words(order.quantity - extra, filling_plants(order), extra)


def plants_in_words(billed: float, filling: float, extra: float) -> str:
    """Plants billed, of them those that fill last trays, and extra ones, as far as there are any."""
    told = grouped(billed)
    if filling:
        told += f" ({grouped(filling)} to fill last trays)"
    return f"{told} and {grouped(extra)} extra" if extra else told


def percent(share: float) -> str:
    """A share as a percentage."""
    return shown_share(share)


def printable(text: str) -> str:
    """A text on one line, without characters that control a terminal; spaces inside numbers stay."""
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() or c == GAP else " " for c in text)


def told_apart(names: Sequence[str], most: int) -> list[str]:
    """The names in at most ``most`` characters, with an ellipsis inside; different names stay different.

    Both ends stay, since names of a kind often begin alike. Where two still look alike, a number follows.
    """
    short: dict[str, str] = {}
    for name in names:
        if name in short:
            continue
        told, number = _shortened(name, most, ""), 2
        while told in short.values():
            told, number = _shortened(name, most, f" ({number})"), number + 1
        short[name] = told
    return [short[name] for name in names]


def _shortened(name: str, most: int, mark: str) -> str:
    room = most - len(mark)
    if len(name) <= room:
        return name + mark
    end = room // 3
    return f"{name[: room - end - 1].rstrip()}…{name[-end:].lstrip()}{mark}"

"""How much chamber to own: cost against modules, one more slot by date, what a module may cost a year."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise

from model.currencies import as_shown, least_sum
from model.phases import Say, silent
from model.planned.results import has_prices, result_of
from model.program.cost_terms import yearly_cost
from model.questions.trials import Limit, Trials
from model.scenario.entities import Scenario
from model.scenario.records.trade import Module
from model.solve import Solved, facts_of, plan_of, solve
from reports.book.style import CellKind
from reports.book.words import PENALTIES, amount, counted, digits, saves_or_costs, with_penalties
from reports.book.writing import figure
from reports.plan.result_words import better_or_worse
from reports.study import column
from reports.study.study import (
    Chart,
    Figure,
    Input,
    Section,
    Study,
    run_facts,
)
from scenarios.cells.faults import Refused, meant
from scenarios.solves.parallel import run_all


@dataclass(frozen=True, slots=True)
class Sized:
    """The plan in whole trays with a number of modules.

    ``cost`` and its proved ``bound`` in currency, without the modules' own; ``short`` in plants, and
    the ``penalties`` for them, a part of the cost.
    """

    modules: int
    cost: float
    bound: float
    short: float
    penalties: float
    result: float | None
    """Without the cost of the modules; None where no order has a price."""


def in_order(sizes: Sequence[Sized]) -> list[Sized]:
    """The sizes with no cost above that of fewer modules: a plan fits where there is more room, too."""
    found: list[Sized] = []
    for size in sizes:
        fewer = found[-1] if found else size
        found.append(
            replace(fewer, modules=size.modules, bound=size.bound) if fewer.cost < size.cost else size
        )
    return found


def chamber_study(
    scenario: Scenario, *, module: str | None, most: int, workers: int, progress: Say = silent
) -> Study:
    """Cost of the book with 0 to ``most`` modules added, and what each module is worth a year.

    ``module`` None means the scenario's only module. Raises Refused where the scenario has no such module, or
    has several and none is named.
    """
    chosen = _module(scenario, module)
    progress("slots by date")
    plain = with_modules(scenario, chosen.module, 0)
    solved = solve(plain, whole=False)
    costs = cost_by_modules(solved, chosen, most)
    days = _days(solved, chosen)
    numbers = [(scenario, chosen.module, n) for n in range(most + 1)]
    sizes = in_order(run_all(_sized, numbers, workers, "whole plans by number of modules", progress))
    money, yearly = scenario.nursery.currency, yearly_cost(scenario.nursery, chosen)
    best = recommended([size.cost for size in sizes], yearly, money)
    first = sizes[0].cost - sizes[1].cost if most else 0.0
    counted = ", with penalties" if any(size.penalties for size in sizes[:2]) else ""
    return Study(
        "Chamber",
        scenario,
        _answer(money, chosen, sizes, days, yearly),
        [
            Figure("Modules to own", best, CellKind.COUNT),
            Figure(f"Yearly cost of a module ({money})", yearly, CellKind.MONEY),
            Figure(f"The first module saves{counted} ({money})", first, CellKind.MONEY),
            Figure("Days on which one more slot saves", len(days), CellKind.COUNT),
        ],
        [_modules_section(money, chosen, costs, sizes, yearly), _days_section(money, chosen, days)],
        run_facts(facts_of(solved), money),
        [
            Input(f"First cost of a module ({money})", chosen.first_cost, CellKind.MONEY, "First_cost"),
            Input(
                f"Its worth at the end ({money})", chosen.salvage_value, CellKind.MONEY, "Worth_at_the_end"
            ),
            Input("Years of life", chosen.life_years, CellKind.COUNT, "Years_of_life"),
            Input("Interest a year", scenario.nursery.interest_rate, CellKind.SHARE, "Interest"),
            Input("Seasons like this one in a year", 1.0, CellKind.DECIMAL, "Seasons_a_year"),
        ],
    )


def _module(scenario: Scenario, name: str | None) -> Module:
    modules = {module.module: module for module in scenario.zone_modules}
    if not modules:
        raise Refused("the scenario has no modules of a zone: describe one in the table modules")
    crews = {module.module: module.crew for module in scenario.modules if module.crew is not None}
    if name in crews:
        raise Refused(f"'{name}' adds to the crew {crews[name]}, not to a zone: ask invest about it")
    if name is None and len(modules) > 1:
        raise Refused(f"name a module with --module: {', '.join(modules)}")
    chosen = next(iter(modules)) if name is None else name
    if chosen not in modules:
        remedy = meant(chosen, modules, f"the modules are {', '.join(modules)}")
        raise Refused(f"there is no module '{chosen}'; {remedy}")
    return modules[chosen]


def with_modules(scenario: Scenario, module: str, added: int) -> Scenario:
    """The scenario with ``added`` of the module."""
    rows = tuple(replace(row, added=added) if row.module == module else row for row in scenario.modules)
    return replace(scenario, modules=rows)


def cost_by_modules(solved: Solved, module: Module, most: int) -> list[float]:
    """Least cost of the continuous program with 0 to ``most`` modules, without the cost of the modules."""
    trials = Trials(solved)
    rows = _rows(solved, module)
    each = (module.slots or 0.0) if _in_pool(solved, module) else 1.0
    return [trials.cost({row: trials.limit(row) + n * each for row in rows}) for n in range(most + 1)]


def _in_pool(solved: Solved, module: Module) -> bool:
    return module.zone is not None and solved.program.amounts.zones[module.zone].pool


def _rows(solved: Solved, module: Module) -> list[Limit]:
    """The limits that a module raises, day by day."""
    group = "slots" if _in_pool(solved, module) else "units_busy"
    return [(group, label) for label in solved.compiled.rows.get(group, {}) if label[0] == module.zone]


@dataclass(frozen=True, slots=True)
class SlotDay:
    """A day on which one more slot (or unit) saves money: by its shadow price, and solved again with it."""

    day: date
    there: float
    dual: float
    saving: float


def _days(solved: Solved, module: Module) -> list[SlotDay]:
    """Days on which one more slot (or unit) saves money in the program without modules."""
    trials, least = Trials(solved), least_sum(solved.program.network.scenario.nursery.currency)
    found = []
    for row in _rows(solved, module):
        dual = -float(trials.solution.row_dual[solved.compiled.rows[row[0]][row[1]]])
        if dual >= least:
            there = trials.limit(row)
            saving = trials.base - trials.cost({row: there + 1})
            found.append(SlotDay(date.fromisoformat(row[1][1]), there, dual, saving))
    return found


def _sized(item: tuple[Scenario, str, int]) -> Sized:
    scenario, module, added = item
    sized = with_modules(scenario, module, added)
    made = plan_of(solve(sized))
    chosen = next(row for row in sized.modules if row.module == module)
    own = added * yearly_cost(sized.nursery, chosen)
    left = result_of(made).result + own if has_prices(made.orders) else None
    return Sized(added, made.cost - own, made.facts.bound - own, made.short, made.penalties, left)


def recommended(costs: list[float], yearly: float, money: str) -> int:
    """The number of modules for which cost plus yearly cost is least; the fewest where several tie."""
    totals = [cost + n * yearly for n, cost in enumerate(costs)]
    return min(range(len(totals)), key=lambda n: (as_shown(totals[n], money), n))


def _answer(money: str, module: Module, sizes: list[Sized], days: list[SlotDay], yearly: float) -> list[str]:
    costs = [size.cost for size in sizes]
    best, most = recommended(costs, yearly, money), len(costs) - 1
    answer = [
        f"Own {counted(best, 'module') if best else 'no module'} of {module.module} (zone {module.zone}). "
        f"A module costs {amount(yearly, money)} a year, interest included"
        + (f"; the first {_saved(sizes[0], sizes[1], money)}." if most else "."),
        f"The scenario has {module.added}. With {best} the book and the modules cost "
        f"{with_penalties(costs[best] + best * yearly, sizes[best].penalties, money)}. With none the book "
        f"costs {with_penalties(costs[0], sizes[0].penalties, money)}.",
    ]
    for n in sorted({best, best + 1} & set(range(1, most + 1)), reverse=True):
        least, up_to = _surely(sizes[n - 1], sizes[n])
        if least < yearly < up_to:
            answer.insert(
                0,
                f"The gaps of the plans leave open whether module {n} pays: it "
                f"{_saved(sizes[n - 1], sizes[n], money)}.",
            )
    left = [size.result for size in sizes]
    with_best, with_none = left[best], left[0]
    if with_best is not None and with_none is not None:
        with_best -= best * yearly
        than = f", {better_or_worse(with_best - with_none, money)} than with none" if best else ""
        answer.insert(
            0,
            f"With {counted(best, 'module')} the season leaves a result of {amount(with_best, money)}{than}.",
        )
    if best == most and most > 0:
        answer.append(f"{most} is the most that was tried: try more.")
    if not days:
        answer.append(f"{module.zone} has room enough on every day: one more slot saves nothing.")
    return answer


def _surely(fewer: Sized, more: Sized) -> tuple[float, float]:
    """Least and most that the larger number of modules saves, in currency, by the bounds of both plans."""
    return max(0.0, fewer.bound - more.cost), fewer.cost - more.bound


def _saved(fewer: Sized, more: Sized, money: str) -> str:
    """What the larger number of modules saves, in words, with and without penalties."""
    least, most = _surely(fewer, more)
    penalties = fewer.penalties - more.penalties
    counted = "" if abs(penalties) < least_sum(money) else "with them "
    return (
        f"{saves_or_costs(fewer.cost - more.cost, penalties, money)}, {counted}surely between "
        f"{digits(least, money)} and {digits(most, money)}"
    )


YEARLY = (
    "IF(Interest=0,(First_cost-Worth_at_the_end)/Years_of_life,"
    "-PMT(Interest,Years_of_life,First_cost-Worth_at_the_end)+Worth_at_the_end*Interest)"
)
"""The yearly cost of a module by capital recovery, as a workbook formula of the inputs."""


def _modules_section(
    money: str, module: Module, costs: list[float], sizes: list[Sized], yearly: float
) -> Section:
    pairs = [None, *pairwise(sizes)]

    def of_pair(value: Callable[[Sized, Sized], float]) -> Callable[[int], float | None]:
        return lambda n: value(*pair) if (pair := pairs[n]) is not None else None

    saved = of_pair(lambda fewer, more: fewer.cost - more.cost)
    continuous = [None, *(before - after for before, after in pairwise(costs))]
    shows = "Lines: cost of the book, and cost of book and modules together, by number of modules."
    return column.section(
        "Modules",
        "Cost against the number of modules, and what each may cost a year.",
        [
            f"A module adds {figure(module.slots or 0.0)} slots to {module.zone}. It may cost a year what it "
            "saves in "
            "a season, times the seasons like this one in a year. Own modules as long as the next saves more "
            "than it costs. Costs are those of plans in whole trays, packs and hands. Each may "
            "miss the least cost by its gap: so a "
            "module surely saves no less than the one and no more than the other figure beside it. "
            "Continuous: where trays, packs and hands may be fractional.",
            "Yearly cost (in textbooks: capital recovery): (first cost - worth at the end) spread "
            "over the years at "
            "interest, plus interest on the worth at the end.",
        ],
        range(len(costs)),
        [
            column.count("n", "Modules", int),
            *_result_columns(money, sizes, yearly),
            column.money(
                "paid",
                f"Cost of the book, without penalties ({money})",
                lambda n: sizes[n].cost - sizes[n].penalties,
            ),
            column.money("penalties", f"{PENALTIES.capitalize()} ({money})", lambda n: sizes[n].penalties),
            column.money("cost", f"Cost of the book, with penalties ({money})", lambda n: sizes[n].cost),
            column.money(
                "yearly", f"Yearly cost of the modules ({money})", lambda n: n * yearly, f"={{n}}*{YEARLY}"
            ),
            column.money(
                "total",
                f"Book with penalties and modules, a year ({money})",
                lambda n: sizes[n].cost + n * yearly,
                "={cost}*Seasons_a_year+{yearly}",
            ),
            column.money("saved", f"Saved by the last module, with penalties ({money})", saved),
            column.money(
                "least",
                f"Surely no less than ({money})",
                of_pair(lambda fewer, more: _surely(fewer, more)[0]),
            ),
            column.money(
                "most", f"Surely no more than ({money})", of_pair(lambda fewer, more: _surely(fewer, more)[1])
            ),
            column.money(
                "worth", f"It may cost a year, penalties counted ({money})", saved, "={saved}*Seasons_a_year"
            ),
            column.money(
                "fractional", f"Continuous: cost of the book, with penalties ({money})", lambda n: costs[n]
            ),
            column.money(
                "fractional_saved", f"Continuous: saved, with penalties ({money})", lambda n: continuous[n]
            ),
            column.count("short", "Plants short", lambda n: sizes[n].short),
        ],
        Chart("line", f"Cost against modules of {module.module}", shows, "n", ("cost", "total"), money),
    )


def _result_columns(money: str, sizes: list[Sized], yearly: float) -> list[column.Column[int]]:
    """The result with each number of modules, their yearly cost taken off, where orders have prices."""

    def left(n: int) -> float | None:
        result = sizes[n].result
        return None if result is None else result - n * yearly

    if sizes[0].result is None:
        return []
    return [column.money("result", f"Result, modules paid ({money})", left)]


def _days_section(money: str, module: Module, days: list[SlotDay]) -> Section:
    shows = (
        "Columns: what one more slot on each day saves, if all of it saved as much as its first small part, "
        "and solved again."
    )
    return column.section(
        "Slots by date",
        "What one more slot on a day is worth: if all of it saved as much as its first small part, and "
        "solved again with it.",
        [
            f"The saving from one more slot (or unit) in {module.zone} on that day alone, without any "
            "module. The first figure is what it would save if all of it saved as much as its first small "
            "part (in textbooks: its shadow price, or dual). "
            "The second figure comes from solving again with one slot more; it is never higher, and "
            "often 0. A tray stays for several days, so a slot on one day alone may be of no use; the "
            "first figures share the worth of a run of days among those days. A module adds its slots on "
            "all days at once: see Modules. Penalties for plants short are counted."
        ],
        days,
        [
            column.day("day", "Day", lambda d: d.day),
            column.decimal("there", "Slots or units", lambda d: d.there),
            column.each("dual", f"Worth of one more, at first ({money})", lambda d: d.dual, total=True),
            column.each("saving", f"Saved, solved again ({money})", lambda d: d.saving, total=True),
        ],
        Chart("columns", f"Worth of one more slot in {module.zone}", shows, "day", ("dual", "saving"), money),
    )

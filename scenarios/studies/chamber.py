"""How much chamber to own: cost against modules, one more slot by date, what a module may cost a year."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from model.phases import Say, silent
from model.planned.plan_tables import Facts, Plan
from model.program.cost_terms import yearly_cost
from model.questions.trials import Limit, Trials
from model.scenario.entities import Module, Scenario
from model.solve import Solved, plan_of, solve
from reports.book.parts import Cell, Formula, SheetColumn
from reports.book.style import CellKind
from reports.study.study import CONTINUOUS_COSTS, Chart, Figure, Input, Section, Study, run_facts
from scenarios.cells.faults import Refused, meant
from scenarios.studies.parallel import run_all

SAVED = 0.005
"""Savings below this, in currency, count as none."""


@dataclass(frozen=True, slots=True)
class Sized:
    """The plan in whole trays with a number of modules.

    ``cost`` in currency, without the modules' own; ``short`` in plants; ``gap`` a share of the cost.
    """

    modules: int
    cost: float
    short: float
    gap: float


def chamber_study(
    scenario: Scenario,
    *,
    module: str | None,
    most: int,
    workers: int,
    progress: Say = silent,
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
    sizes = run_all(
        _sized,
        [(scenario, chosen.module, n) for n in range(most + 1)],
        workers=workers,
        about="whole plans by number of modules",
        progress=progress,
    )
    return _study(scenario, chosen, costs, days, sizes, plan_of(solved).facts)


def _module(scenario: Scenario, name: str | None) -> Module:
    modules = {module.module: module for module in scenario.modules}
    if not modules:
        raise Refused("the scenario has no modules: describe one in the table modules")
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
    each = module.slots if solved.program.amounts.zones[module.zone].pool else 1.0
    return [trials.cost({row: trials.limit(row) + n * each for row in rows}) for n in range(most + 1)]


def _rows(solved: Solved, module: Module) -> list[Limit]:
    """The limits that a module raises, day by day."""
    group = "slots" if solved.program.amounts.zones[module.zone].pool else "units_busy"
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
    trials = Trials(solved)
    found = []
    for row in _rows(solved, module):
        dual = -float(trials.solution.row_dual[solved.compiled.rows[row[0]][row[1]]])
        if dual > SAVED:
            there = trials.limit(row)
            saving = trials.base - trials.cost({row: there + 1})
            found.append(SlotDay(date.fromisoformat(row[1][1]), there, dual, saving))
    return found


def _sized(item: tuple[Scenario, str, int]) -> Sized:
    scenario, module, added = item
    sized = with_modules(scenario, module, added)
    made: Plan = plan_of(solve(sized))
    chosen = next(row for row in sized.modules if row.module == module)
    return Sized(added, made.cost - added * yearly_cost(sized.nursery, chosen), made.short, made.facts.gap)


def recommended(costs: list[float], yearly: float) -> int:
    """The number of modules for which cost plus yearly cost is least; the fewest where several tie."""
    totals = [cost + n * yearly for n, cost in enumerate(costs)]
    return min(range(len(totals)), key=lambda n: (round(totals[n], 2), n))


def _study(
    scenario: Scenario,
    module: Module,
    costs: list[float],
    days: list[SlotDay],
    sizes: list[Sized],
    facts: Facts,
) -> Study:
    money, yearly = scenario.nursery.currency, yearly_cost(scenario.nursery, module)
    best, most = recommended(costs, yearly), len(costs) - 1
    first = costs[0] - costs[1] if most else 0.0
    named = "no module" if best == 0 else f"{best} module{'s' if best > 1 else ''}"
    answer = [
        f"Own {named} of {module.module} (zone {module.zone}). A module costs {yearly:,.2f} {money} a year "
        f"by capital recovery; the first saves {first:,.2f} {money}.",
        f"The scenario has {module.added}. With {best} the book and the modules cost "
        f"{costs[best] + best * yearly:,.2f} {money}; with none the book costs {costs[0]:,.2f} {money}.",
    ]
    if best == most and most > 0:
        answer.append(f"{most} is the most that was tried: try more.")
    if not days:
        answer.append(f"{module.zone} has room enough on every day: one more slot saves nothing.")
    return Study(
        "Chamber",
        scenario,
        answer,
        [
            Figure("Modules to own", float(best), CellKind.COUNT),
            Figure(f"Yearly cost of a module ({money})", yearly, CellKind.MONEY),
            Figure(f"The first module saves ({money})", first, CellKind.MONEY),
            Figure("Days on which one more slot saves", float(len(days)), CellKind.COUNT),
        ],
        [_modules_section(scenario, module, costs, sizes, yearly), _days_section(scenario, module, days)],
        run_facts(facts),
        [
            Input("First_cost", f"First cost of a module ({money})", module.first_cost, CellKind.MONEY),
            Input(
                "Worth_at_the_end", f"Its worth at the end ({money})", module.salvage_value, CellKind.MONEY
            ),
            Input("Years_of_life", "Years of life", float(module.life_years), CellKind.COUNT),
            Input("Interest", "Interest a year", scenario.nursery.interest_rate, CellKind.SHARE),
            Input("Seasons_a_year", "Seasons like this one in a year", 1.0, CellKind.DECIMAL),
        ],
    )


YEARLY = (
    "IF(Interest=0,(First_cost-Worth_at_the_end)/Years_of_life,"
    "-PMT(Interest,Years_of_life,First_cost-Worth_at_the_end)+Worth_at_the_end*Interest)"
)
"""The yearly cost of a module by capital recovery, as a workbook formula of the inputs."""


def _modules_section(
    scenario: Scenario, module: Module, costs: list[float], sizes: list[Sized], yearly: float
) -> Section:
    money = scenario.nursery.currency
    rows: list[list[Cell]] = []
    for n, (cost, sized) in enumerate(zip(costs, sizes, strict=True)):
        saved = costs[n - 1] - cost if n else None
        rows.append(
            [
                n,
                cost,
                Formula(f"={{n}}*{YEARLY}", n * yearly),
                Formula("={cost}*Seasons_a_year+{yearly}", cost + n * yearly),
                saved,
                None if saved is None else Formula("={saved}*Seasons_a_year", saved),
                sized.cost,
                sized.short,
                sized.gap,
            ]
        )
    return Section(
        "Modules",
        "Cost against the number of modules, and what each may cost a year.",
        [
            f"A module adds {module.slots:g} slots to {module.zone}. It may cost a year what it saves in a "
            "season, times the seasons like this one in a year. Own modules as long as the next saves more "
            f"than it costs. {CONTINUOUS_COSTS}",
            "Yearly cost by capital recovery: (first cost - worth at the end) spread over the years at "
            "interest, plus interest on the worth at the end.",
        ],
        [
            SheetColumn("n", "Modules", CellKind.COUNT),
            SheetColumn("cost", f"Cost of the book ({money})", CellKind.MONEY),
            SheetColumn("yearly", f"Yearly cost of the modules ({money})", CellKind.MONEY),
            SheetColumn("total", f"Both, a year ({money})", CellKind.MONEY),
            SheetColumn("saved", f"Saved by the last module ({money})", CellKind.MONEY),
            SheetColumn("worth", f"It may cost a year ({money})", CellKind.MONEY),
            SheetColumn("whole", f"Cost of the book in whole trays ({money})", CellKind.MONEY),
            SheetColumn("short", "Plants short", CellKind.COUNT),
            SheetColumn("gap", "Gap: at most above least cost", CellKind.SHARE),
        ],
        rows,
        [
            Chart(
                "line",
                f"Cost against modules of {module.module}",
                "Lines: cost of the book, and cost of book and modules together, by number of modules. "
                "Numbers in the table above.",
                "n",
                ("cost", "total"),
                "modules",
                money,
            )
        ],
    )


def _days_section(scenario: Scenario, module: Module, days: list[SlotDay]) -> Section:
    money = scenario.nursery.currency
    return Section(
        "Slots by date",
        "What one more slot on a day is worth: by its shadow price (dual), and solved again with it.",
        [
            f"The saving from one more slot (or unit) in {module.zone} on that day alone, without any "
            "module. The shadow price (dual) is the saving at the rate of the first small part of a slot. "
            "The second figure comes from solving again with one whole slot more; it is never higher, and "
            "often 0. A tray stays for several days, so a slot on one day alone may be of no use; the "
            "shadow prices share the worth of a run of days among those days. A module adds its slots on "
            "all days at once: see Modules."
        ],
        [
            SheetColumn("day", "Day", CellKind.DAY),
            SheetColumn("there", "Slots or units", CellKind.DECIMAL),
            SheetColumn("dual", f"Worth of one more, dual ({money})", CellKind.EACH, total=True),
            SheetColumn("saving", f"Saved, solved again ({money})", CellKind.EACH, total=True),
        ],
        [[d.day, d.there, d.dual, d.saving] for d in days],
        [
            Chart(
                "columns",
                f"Worth of one more slot in {module.zone}",
                "Columns: what one more slot on each day saves, by its shadow price (dual) and solved again. "
                "Numbers in the table above.",
                "day",
                ("dual", "saving"),
                "day",
                money,
            )
        ],
    )

"""Variants side by side: their plans in whole trays, and each difference of cost from the base by cause."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from model.currencies import as_shown, least_sum
from model.phases import Say, silent
from model.planned.plan_tables import Facts, Plan
from model.planned.results import Result, has_prices, result_of
from model.program.cost_terms import COST_LINES
from model.proof.audit import audit
from model.scenario.choices import ZoneUse
from model.scenario.entities import Scenario
from model.shortage.why_short import cannot
from model.solve import plan
from model.solver.compiled import SolveError
from reports.book.changes import ABOUT, CHANGES, COLUMNS, NOTE, change_cells
from reports.book.parts import Cell, OfKind, SheetColumn
from reports.book.retold import retelling
from reports.book.style import CellKind
from reports.book.words import (
    PENALTIES,
    amount,
    counted,
    digits,
    more_or_less,
    number,
    with_penalties,
    with_unit,
)
from reports.book.writing import grouped, shown_share
from reports.plan.figures import joins_made
from reports.plan.result_words import better_or_worse
from reports.study.study import Chart, Figure, Section, Study
from scenarios.cells.faults import Refused
from scenarios.solves.parallel import run_all
from scenarios.variants.variants import Variant

SAME, CLEAR, WITHIN = "the same", "clear", "within rounding"
TOTAL = "total with penalties"
DELIVERED, SHORT, BOUGHT = ("Delivered", "plants"), ("Short", "plants"), ("Bought in", "plants")
"""Figures of a plan by name and unit."""

NAMED = 2
"""Orders that the answer names for each variant that cannot deliver."""

IN_WHOLE = (
    "Plans are in whole trays, packs and hands. Each costs at most its gap more than the least possible. A "
    "difference larger than the gap of the dearer plan comes from the variants, not from rounding: it is "
    "clear."
)


@dataclass(frozen=True, slots=True)
class OrderKept:
    """How a variant's plan fills an order, in plants."""

    order: str
    product: str
    due_day: date
    quantity: int
    short: float
    bought: float
    why: str | None
    """Why it is short; None where it is not."""


@dataclass(frozen=True, slots=True)
class Measured:
    """A plan in whole trays in few numbers: cost by ``lines`` in currency, ``figures`` in their units.

    ``result``: in currency; None where no order has a price.
    """

    facts: Facts
    lines: dict[str, float]
    orders: tuple[OrderKept, ...]
    figures: dict[tuple[str, str], float]
    """By name and unit, for the sheet Side by side."""
    result: Result | None
    kept_apart: float | None = None
    """What keeping groups apart and orders of one lot add to the cost, in currency; None where nothing is."""

    @property
    def cost(self) -> float:
        """Cost of the plan."""
        return sum(self.lines.values())

    @property
    def penalties(self) -> float:
        """Penalties for plants short, a part of the cost."""
        return self.lines["shortfall"]

    @property
    def cost_per_plant(self) -> float | None:
        """Cost a plant delivered, without what nobody pays; None where no plant is delivered."""
        delivered = self.figures[DELIVERED]
        paid = self.cost - self.penalties - self.lines["declined"]
        return paid / delivered if delivered > 0 else None

    @property
    def missing(self) -> list[OrderKept]:
        """Orders that cannot be delivered whole, those with the most plants short first."""
        found = [kept for kept in self.orders if kept.short > 0 and cannot(kept.why)]
        return sorted(found, key=lambda kept: (-kept.short, kept.order))

    @property
    def gap(self) -> float:
        """The most by which the plan may cost more than the least possible."""
        return max(self.cost - self.facts.bound, 0.0)


def measured(scenario: Scenario) -> Measured:
    """The scenario's plan in whole trays, in few numbers; raises SolveError where it fails its audit."""
    made = plan(scenario)
    failed = [check for check in audit(scenario, made) if not check.passed]
    if failed:
        raise SolveError(f"the plan fails its audit: {failed[0].name}: {failed[0].detail}")
    found = measures(scenario, made)
    if not keeps_apart(scenario):
        return found
    # A plan that keeps all apart is a plan of the free book too: a dearer one of that book is never needed.
    return replace(found, kept_apart=max(found.cost - plan(with_nothing_apart(scenario)).cost, 0.0))


def keeps_apart(scenario: Scenario) -> bool:
    """Whether groups are kept apart, or an order is of one lot by its own cell or the nursery's."""
    return bool(scenario.apart) or any(order.of_one_lot(scenario.nursery) for order in scenario.orders)


def with_nothing_apart(scenario: Scenario) -> Scenario:
    """The scenario in which all plants may be together, and any order may come from several lots."""
    return replace(
        scenario, apart=(), orders=tuple(replace(order, one_lot=False) for order in scenario.orders)
    )


def measures(scenario: Scenario, made: Plan) -> Measured:
    """A plan of the scenario in few numbers."""
    lines = dict.fromkeys(COST_LINES, 0.0)
    for line, cost in zip(made.costs["line"], made.costs["amount"], strict=True):
        lines[line] += float(cost)
    orders, retell = made.orders, retelling(scenario)
    columns = ("order", "product", "due_day", "quantity", "short", "bought", "short_because")
    told = (OrderKept(*cells) for cells in zip(*(orders[name].tolist() for name in columns), strict=True))
    kept = tuple(replace(order, why=order.why and retell(order.why)) for order in told)
    figures = {
        ("Ordered", "plants"): orders["quantity"].sum(),
        DELIVERED: orders["own"].sum() + orders["bought"].sum(),
        SHORT: orders["short"].sum(),
        ("Declined", "plants"): orders["declined"].sum(),
        BOUGHT: orders["bought"].sum(),
        ("Seeds sown", "seeds"): made.waves["seeds"].sum(),
        ("Joins", "joins"): joins_made(scenario, made),
        ("Own hands, regular", "h"): made.crew_days["regular"].sum(),
        ("Own hands, overtime", "h"): made.crew_days["overtime"].sum(),
        ("Temporary hands", "h"): made.crew_days["temporary"].sum(),
        ("Healing slots in use, at the peak", "%"): 100 * _peak(scenario, made),
    }
    plain = {key: float(value) for key, value in figures.items()}
    return Measured(made.facts, lines, kept, plain, result_of(made) if has_prices(orders) else None)


def _peak(scenario: Scenario, made: Plan) -> float:
    healing = [zone.zone for zone in scenario.zones if zone.use is ZoneUse.HEALING]
    slots = made.slots[made.slots["zone"].isin(healing) & (made.slots["available"] > 0)]
    return float((slots["used"] / slots["available"]).max()) if len(slots) else 0.0


def compare_study(variants: Sequence[Variant], *, workers: int, progress: Say = silent) -> Study:
    """The variants' plans in whole trays side by side, and their differences from the first by cause.

    The first variant is the base. Raises Refused for fewer than two variants or for different currencies;
    SolveError where HiGHS reaches no optimum or a plan fails its audit.
    """
    if len(variants) < 2:
        raise Refused("name a base and at least one variant of it")
    currencies = sorted({variant.scenario.nursery.currency for variant in variants})
    if len(currencies) > 1:
        raise Refused(f"costs in {' and '.join(currencies)} cannot be compared")
    scenarios = [variant.scenario for variant in variants]
    return compared(variants, run_all(measured, scenarios, workers, "plans", progress))


def compared(variants: Sequence[Variant], found: Sequence[Measured]) -> Study:
    """The comparison of plans that are made already."""
    names, money = _names(variants), variants[0].scenario.nursery.currency
    return Study(
        "Compare",
        variants[0].scenario,
        _answer(names, found, money),
        [figure for name, m in zip(names, found, strict=True) for figure in _costs_of(name, m, money)],
        [
            _side_by_side(names, found, money),
            _causes(names, found, money),
            _cost_lines(names, found, money),
            _orders(names, found),
            _variants(names, variants),
            _changes(names, variants),
        ],
        _facts(names, variants, found),
    )


def _names(variants: Sequence[Variant]) -> list[str]:
    """The variants' names; a repeated name gets a number."""
    names: list[str] = []
    for variant in variants:
        name, number = variant.name, 2
        while name in names:
            name, number = f"{variant.name} ({number})", number + 1
        names.append(name)
    return names


def differences(base: Measured, other: Measured) -> dict[str, float]:
    """Cost of the other plan less that of the base, by cost line, in currency; the lines sum to the total."""
    return {line: other.lines[line] - base.lines[line] for line in COST_LINES}


def verdict(difference: float, base: Measured, other: Measured, money: str) -> str:
    """Whether a difference of cost exceeds the gap of the dearer plan.

    Then even the least that the dearer variant may cost is more than what the plan of the other costs.
    """
    if abs(difference) < least_sum(money):
        return SAME
    return CLEAR if abs(difference) > _dearer(base, other).gap else WITHIN


def _dearer(base: Measured, other: Measured) -> Measured:
    return other if other.cost > base.cost else base


def _costs_of(name: str, m: Measured, money: str) -> list[Figure]:
    """The result and the cost of a variant; where it has penalties, the cost without and with them."""
    told = [(f"Result: {name}", m.result.result)] if m.result else []
    told += [(f"Cost without penalties: {name}", m.cost - m.penalties)] if m.penalties else []
    told += [(f"Cost{' with penalties' if m.penalties else ''}: {name}", m.cost)]
    return [Figure(f"{label} ({money})", value, CellKind.MONEY) for label, value in told]


def _answer(names: Sequence[str], found: Sequence[Measured], money: str) -> list[str]:
    return [*_greatest(names, found, money), *_told_by_cost(names, found, money)]


def _greatest(names: Sequence[str], found: Sequence[Measured], money: str) -> list[str]:
    """Which variant leaves the greatest result, and by how much more than the base."""
    left = [m.result.result for m in found if m.result]
    if len(left) < len(found):
        return []
    best = max(range(len(left)), key=lambda n: (as_shown(left[n], money), -n))
    told = f"{names[best]} leaves the greatest result, {amount(left[best], money)}"
    if best:
        return [f"{told}: {better_or_worse(left[best] - left[0], money)} than {names[0]}."]
    second = max(range(1, len(left)), key=lambda n: (as_shown(left[n], money), -n))
    return [f"{told}; the next, {names[second]}, {better_or_worse(left[second] - left[0], money)}."]


def _told_by_cost(names: Sequence[str], found: Sequence[Measured], money: str) -> list[str]:
    whole = [n for n, m in enumerate(found) if not m.missing]
    missing = [_missing(name, m) for name, m in zip(names, found, strict=True) if m.missing]
    if not whole or len(whole) == len(found):
        return [*_least(names, found, money), *missing]
    if 0 in whole and len(whole) > 1:
        rest = _least([names[n] for n in whole], [found[n] for n in whole], money)
        return ["Of the variants that can deliver every order:", *rest, *missing]
    best = min(whole, key=lambda n: (as_shown(found[n].cost, money), n))
    only = "the only one" if len(whole) == 1 else "costs least of those"
    that = "that can deliver every order"
    told = f"{names[best]} {'is ' if len(whole) == 1 else ''}{only} {that}: it costs "
    return [f"{told}{with_penalties(found[best].cost, found[best].penalties, money)}.", *missing]


def _missing(name: str, m: Measured) -> str:
    """What a variant cannot deliver, with the reason of its largest shortfalls."""
    orders = m.missing
    reasons = " ".join(f"{kept.order}, {number(kept.short)} short: {kept.why}." for kept in orders[:NAMED])
    left = len(orders) - NAMED
    more = f" {counted(left, 'more order')}: see the sheet Orders." if left > 0 else ""
    plants = with_unit(number(sum(kept.short for kept in orders)), "plants")
    return f"{name} cannot deliver every order: {plants} short. {reasons}{more}"


def _least(names: Sequence[str], found: Sequence[Measured], money: str) -> list[str]:
    """Which variant costs least, by how much against the base, the first, and mainly why."""
    order = sorted(range(len(found)), key=lambda n: (as_shown(found[n].cost, money), n))
    best = order[0]
    base, other = found[0], found[best] if best else found[order[1]]
    split = differences(base, other)
    difference = sum(split.values())
    name = names[best] if best else names[order[1]]
    apart = more_or_less(difference, split["shortfall"], money)
    penalties = [m.penalties for m in found]
    ranking = f" with {PENALTIES} counted" if max(penalties) - min(penalties) >= least_sum(money) else ""
    counting = ranking if abs(split["shortfall"]) >= least_sum(money) else ""
    if best:
        first = (
            f"{name} costs least{ranking}, {with_penalties(other.cost, other.penalties, money)}: {apart} "
            f"than {names[0]}{_mainly(split, -1, money)}."
        )
    else:
        first = (
            f"No variant is cheaper{ranking} than {names[0]}, which costs "
            f"{with_penalties(base.cost, base.penalties, money)}. The next, {name}, costs "
            f"{apart}{_mainly(split, 1, money)}."
        )
    sentences = [first]
    if base.gap + other.gap >= 2 * least_sum(money):
        least, most = other.facts.bound - base.cost, other.cost - base.facts.bound
        surely = f"surely between {digits(least, money)} and {amount(most, money)}"
        surely += counting
        sentences.append(f"The difference of {name} from {names[0]} is {surely}.")
    if verdict(difference, base, other, money) == WITHIN:
        sentences.insert(
            0,
            f"{name} and {names[0]} differ by no more than the gap of the dearer plan "
            f"({amount(_dearer(base, other).gap, money)}): the difference may come from rounding to whole "
            "trays, packs and hands alone.",
        )
    left = [(name, m.figures[SHORT]) for name, m in zip(names, found, strict=True) if not m.missing]
    short = [f"{name} ({grouped(plants)})" for name, plants in left if plants > 0]
    if short:
        sentences.append(f"Plants are left short to save money in: {', '.join(short)}.")
    return sentences


def _mainly(split: dict[str, float], sign: int, money: str) -> str:
    """In words: the cost line that adds most to the difference, and the line that offsets it most."""
    along = max(split, key=lambda line: sign * split[line])
    against = min(split, key=lambda line: sign * split[line])
    if sign * split[along] < least_sum(money):
        return ""
    told = f", mainly {along} ({_signed(split[along], money)})"
    if -sign * split[against] >= least_sum(money):
        told += f", against {against} ({_signed(split[against], money)})"
    return told


def _signed(value: float, money: str) -> str:
    return ("+" if value >= 0 else "") + digits(value, money)


def _side_by_side(names: Sequence[str], found: Sequence[Measured], money: str) -> Section:
    base = found[0]
    rows: dict[tuple[str, str], list[float | None]] = {
        **_results(found, money),
        ("Cost without penalties", money): [m.cost - m.penalties for m in found],
        ("Cost without penalties less the base's", money): [
            m.cost - m.penalties - base.cost + base.penalties for m in found
        ],
        (PENALTIES.capitalize(), money): [m.penalties for m in found],
        ("Cost with penalties", money): [m.cost for m in found],
        ("Cost with penalties less the base's", money): [m.cost - base.cost for m in found],
        ("Cost per plant delivered", f"{money}/plant"): [m.cost_per_plant for m in found],
        **_kept_apart(found, money),
        **{key: [m.figures[key] for m in found] for key in base.figures},
        ("Least cost possible, with penalties (bound)", money): [m.facts.bound for m in found],
        ("Gap: at most above least cost", money): [m.gap for m in found],
    }
    return Section(
        "Side by side",
        "Each variant's plan in few numbers.",
        [f"The first, {names[0]}, is the base. {IN_WHOLE}"],
        [
            SheetColumn("what", "What"),
            SheetColumn("unit", "Unit"),
            *(SheetColumn(f"v{n}", name, CellKind.DECIMAL) for n, name in enumerate(names)),
        ],
        [
            [what, unit, *(_of_unit(value, unit, money) for value in values)]
            for (what, unit), values in rows.items()
        ],
    )


def _kept_apart(found: Sequence[Measured], money: str) -> dict[tuple[str, str], list[float | None]]:
    """What keeping apart costs: each plan less one in which nothing is kept apart, where something is."""
    if all(m.kept_apart is None for m in found):
        return {}
    return {("Cost of keeping apart, with penalties", money): [m.kept_apart for m in found]}


def _results(found: Sequence[Measured], money: str) -> dict[tuple[str, str], list[float | None]]:
    """Sales and results side by side, where orders have prices; blank for a variant without prices."""
    results = [m.result for m in found]
    if not any(results):
        return {}

    def each(of: Callable[[Result], float | None]) -> list[float | None]:
        return [None if result is None else of(result) for result in results]

    base = results[0]
    return {
        ("Sales", money): each(lambda r: r.sales),
        ("Cash cost", money): each(lambda r: r.cash),
        ("Result before overhead and interest", money): each(lambda r: r.before),
        ("Overhead", money): each(lambda r: r.overhead),
        ("Interest and depreciation", money): each(lambda r: r.capital),
        ("Result", money): each(lambda r: r.result),
        ("Result less the base's", money): each(lambda r: r.result - base.result if base else None),
        ("Result a plant delivered", f"{money}/plant"): each(lambda r: r.per_plant),
    }


def _of_unit(value: float | None, unit: str, money: str) -> OfKind:
    """A cell in the format of its unit."""
    kinds = {money: CellKind.MONEY, f"{money}/plant": CellKind.EACH}
    return OfKind(value, kinds.get(unit, CellKind.DECIMAL))


def _causes(names: Sequence[str], found: Sequence[Measured], money: str) -> Section:
    base = found[0]
    rows: list[list[Cell]] = []
    for name, other in zip(names[1:], found[1:], strict=True):
        split = differences(base, other)
        causes: list[tuple[str, float, float, float]] = [
            (line, base.lines[line], other.lines[line], split[line])
            for line in COST_LINES
            if base.lines[line] or other.lines[line]
        ]
        causes.append((TOTAL, base.cost, other.cost, sum(split.values())))
        rows += [[name, *cause, verdict(cause[-1], base, other, money)] for cause in causes]
    return Section(
        "Causes",
        "Each variant's difference of cost from the base, by cost line.",
        [
            "The lines of a variant add up to its total, which is the difference of cost. A saving is "
            f"negative. {IN_WHOLE}",
            "Two plans of nearly the same cost may divide it among the lines in different ways. Trust the "
            "total more than a single line.",
        ],
        [
            SheetColumn("variant", "Variant"),
            SheetColumn("cause", "Cause (cost line)"),
            SheetColumn("base", f"{names[0]} ({money})", CellKind.MONEY),
            SheetColumn("other", f"Variant ({money})", CellKind.MONEY),
            SheetColumn("difference", f"Difference ({money})", CellKind.MONEY),
            SheetColumn("verdict", "Against the gap"),
        ],
        rows,
    )


def _cost_lines(names: Sequence[str], found: Sequence[Measured], money: str) -> Section:
    used = [line for line in COST_LINES if any(m.lines[line] for m in found)]
    keys = {line: line.replace(" ", "_").replace("-", "_") for line in used}
    shows = "Stacked columns: the cost lines of each variant."
    return Section(
        "Cost lines",
        "Each variant's cost by line, with a picture.",
        ["Salvage is income, so it is negative."],
        [
            SheetColumn("variant", "Variant"),
            *(SheetColumn(keys[line], f"{line} ({money})", CellKind.MONEY) for line in used),
            SheetColumn("cost", f"Cost with penalties ({money})", CellKind.MONEY),
        ],
        [[name, *(m.lines[line] for line in used), m.cost] for name, m in zip(names, found, strict=True)],
        [Chart("stacked", "Cost by line", shows, "variant", tuple(keys.values()), money)],
    )


def _orders(names: Sequence[str], found: Sequence[Measured]) -> Section:
    told: dict[str, OrderKept] = {}
    for m in found:
        for kept in m.orders:
            told.setdefault(kept.order, kept)
    by_order = [{kept.order: kept for kept in m.orders} for m in found]
    kinds = (("short", SHORT), ("bought", BOUGHT))
    wanted = [(n, what) for n, m in enumerate(found) for what, figure in kinds if m.figures[figure] > 0]
    rows: list[list[Cell]] = [
        [
            order,
            first.product,
            first.due_day,
            first.quantity,
            *(getattr(by_order[n][order], what) if order in by_order[n] else None for n, what in wanted),
        ]
        for order, first in told.items()
    ]
    return Section(
        "Orders",
        "Plants short and bought in, by order and variant.",
        [
            "A variant with no plants short has no column for them; likewise for plants bought in. A cell "
            "is blank where the variant lacks the order. Product, day and quantity are those of the first "
            "variant that has the order."
        ],
        [
            SheetColumn("order", "Order"),
            SheetColumn("product", "Product"),
            SheetColumn("due", "Due day", CellKind.DAY),
            SheetColumn("quantity", "Ordered (plants)", CellKind.COUNT),
            *(
                SheetColumn(f"{what}{n}", f"{names[n]}: {what} (plants)", CellKind.COUNT, total=True)
                for n, what in wanted
            ),
        ],
        rows,
    )


def _variants(names: Sequence[str], variants: Sequence[Variant]) -> Section:
    return Section(
        "Variants",
        "What is compared.",
        ["The first is the base."],
        [
            SheetColumn("variant", "Variant"),
            SheetColumn("note", "Note", widest=70),
            SheetColumn("file", "File"),
            SheetColumn("changes", "Cells changed", CellKind.COUNT),
        ],
        [
            [name, variant.note or None, variant.path.name, len(variant.changes)]
            for name, variant in zip(names, variants, strict=True)
        ],
        prints=False,
    )


def _changes(names: Sequence[str], variants: Sequence[Variant]) -> Section:
    return Section(
        CHANGES,
        ABOUT,
        [NOTE],
        [SheetColumn("variant", "Variant"), *COLUMNS],
        [
            [name, *change_cells(change)]
            for name, variant in zip(names, variants, strict=True)
            for change in variant.changes
        ],
        prints=False,
    )


def _facts(
    names: Sequence[str], variants: Sequence[Variant], found: Sequence[Measured]
) -> list[tuple[str, Cell]]:
    facts: list[tuple[str, Cell]] = []
    for name, variant, m in zip(names, variants, found, strict=True):
        size = f"{m.facts.columns}, {m.facts.rows}, {m.facts.nonzeros}"
        facts += [
            (f"{name}: file", variant.path.name),
            (f"{name}: columns, rows, non-zeros", size),
            (f"{name}: gap", shown_share(m.facts.gap, 4)),
            (f"{name}: hash of the inputs", m.facts.input_hash),
        ]
    return facts + [(f"Version of {name}", text) for name, text in found[0].facts.versions.items()]

"""Rates from the nursery's own counts: germination, take and pace, compared with the scenario."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import replace
from datetime import date
from hashlib import sha256
from typing import TypeVar

from model.phases import Say, silent
from model.rates.estimates import Counted, fit_by_likelihood
from model.rates.overseeding import Beta
from model.scenario.entities import Scenario
from reports.book.parts import Cell, Formula, SheetColumn
from reports.book.style import CellKind
from reports.book.words import percent
from reports.study.study import Chart, Figure, Section, Study, changes_section, sheet_names
from scenarios.cells.draft import text_of
from scenarios.counts.counted_rates import (
    FILE,
    Rate,
    changed_cells,
    counted_rates,
    seconds_of,
)
from scenarios.counts.log import COUNTS, Count
from scenarios.variants.toml_write import NewCell, variant_text

Key = TypeVar("Key", bound=Hashable)

MOST_NAMED = 5
"""Figures outside their intervals that the answer names; the sheets have them all."""

THINGS = {Counted.GERMINATION: "seed lot", Counted.TAKE: "method", Counted.PACE: "crew"}
"""What each rate belongs to."""

SAMPLE = (
    "From, to: the 95 % interval; over many logs, 95 of 100 such intervals hold the true rate. The "
    "scenario's figure lies below, within or above the interval."
)
POOLING = (
    "Estimate: the lot's own share, drawn towards the mean of all lots counted (partial pooling, "
    "beta-binomial). The pull is stronger where the lot has fewer seeds counted and where the lots are more "
    "alike. Spread left: an intra-lot correlation that says how uncertain the lot's rate still is; it goes "
    "into germination_correlation."
)
OVER_DAYS = (
    "Estimate: healed joins over joins made, on all graft days. All counts of one method on one day make one "
    "graft day, because its joins share their luck. The interval comes from leaving out one day at a time "
    "(jackknife). Spread: the intra-lot correlation between graft days of greatest likelihood; it goes into "
    "take_correlation."
)
BY_AGE = (
    "The scenario has takes by age for {methods}, in age_effects. The log has no ages, so the variant "
    "multiplies these takes by the same factor as the method's take, up to 1."
)
STANDARD = (
    "Estimate: hours for the joins at the labour standards, over the hours that all hands at the bench took. "
    "The interval comes from leaving out one count at a time (jackknife)."
)
ALONE = "A single graft day or a single count gives no interval, and the variant changes no cell for it."


def rates_study(
    scenario: Scenario,
    counts: Sequence[Count],
    *,
    parent: str | None = None,
    progress: Say = silent,
) -> Study:
    """Germination by lot, take by method and pace by crew from the counts, compared with the scenario.

    ``counts``: at least one, as for ``counted_rates``. ``parent``: path of the scenario as the variant
    ``counted_rates.toml`` gives it, relative to the folder of that file; None leaves the variant out. The
    variant changes only cells for which the counts give an interval.
    """
    progress("rates")
    rates = counted_rates(scenario, counts)
    cells = changed_cells(scenario, rates)
    days = sorted(count.day for count in counts)
    span = f"{len(counts):,} count{'' if len(counts) == 1 else 's'} {_between(days[0], days[-1])}"
    files = [] if parent is None or not cells else [(FILE, _file(parent, span, cells))]
    return Study(
        "Rates",
        scenario,
        [_counted(span, rates), *_against(rates), _variant(len(cells))],
        [
            Figure("Counts", float(len(counts)), CellKind.COUNT),
            *_pool_figures(counts),
            Figure("Figures of the scenario that were counted", float(len(rates)), CellKind.COUNT),
            Figure("Of these, outside their 95 % interval", float(len(_outside(rates))), CellKind.COUNT),
            Figure("Cells that the variant changes", float(len(cells)), CellKind.COUNT),
        ],
        [
            *_germination(scenario, rates, counts),
            *_take(scenario, rates, counts),
            *_pace(scenario, rates, counts),
            *_changes(cells),
            _log(counts),
        ],
        [
            ("First day counted", days[0]),
            ("Last day counted", days[-1]),
            ("Hash of scenario and counts", sha256(repr((scenario, tuple(counts))).encode()).hexdigest()),
        ],
        files=files,
    )


def _file(parent: str, span: str, cells: Sequence[NewCell]) -> str:
    return variant_text("counted rates", f"Rates from the log: {span}.", parent, cells)


def pool_of(counts: Sequence[Count]) -> Beta | None:
    """How germination varies between the lots counted; None for a single lot or for one seed from each."""
    sums = _sums(counts, Counted.GERMINATION, lambda count: count.lot)
    tried = [n for n, _ in sums.values()]
    if len(tried) < 2 or max(tried) < 2:
        return None
    return fit_by_likelihood(tried, [x for _, x in sums.values()])


def _between(first: date, last: date) -> str:
    return f"on {first}" if first == last else f"from {first} to {last}"


def _counted(span: str, rates: Sequence[Rate]) -> str:
    kinds = [rate.counted for rate in rates]
    parts = [
        f"{kind} of {number} {thing}{'' if number == 1 else 's'}"
        for kind, thing in THINGS.items()
        if (number := kinds.count(kind))
    ]
    return f"{span}: {', '.join(parts)}."


def _outside(rates: Sequence[Rate]) -> list[Rate]:
    """The rates whose figure in the scenario lies outside the counted interval, furthest off first."""
    return sorted(
        (r for r in rates if r.outside), key=lambda r: (-abs(r.rate / r.now - 1), r.counted, r.name)
    )


def _against(rates: Sequence[Rate]) -> Iterator[str]:
    outside, sure = _outside(rates), sum(rate.low is not None for rate in rates)
    yield f"{len(outside)} of {sure} figures of the scenario lie outside the 95 % interval of the counts."
    for rate in outside[:MOST_NAMED]:
        found, low, high, now = (_words(rate, v) for v in (rate.rate, rate.low, rate.high, rate.now))
        what = str(rate.counted).capitalize()
        yield f"{what} of {rate.name}: the counts give {found} ({low} to {high}), the scenario says {now}."
    if len(outside) > MOST_NAMED:
        yield f"The sheets show {len(outside) - MOST_NAMED} more."


def _words(rate: Rate, value: float | None) -> str:
    if value is None:
        return ""
    return f"{value:.2f}" if rate.counted is Counted.PACE else percent(value)


def _variant(changed: int) -> str:
    if not changed:
        return "The counts change no cell of the scenario."
    cells = "1 cell" if changed == 1 else f"{changed} cells"
    return f"The variant {FILE} sets {cells} to the counted rates: compare it with the scenario."


def _pool_figures(counts: Sequence[Count]) -> list[Figure]:
    pool = pool_of(counts)
    if pool is None:
        return []
    return [
        Figure("Germination, mean of the lots", pool.mean, CellKind.SHARE),
        Figure("Spread between the lots (intra-lot correlation)", pool.correlation, CellKind.EACH),
    ]


def _sums(counts: Sequence[Count], kind: Counted, key: Callable[[Count], Key]) -> dict[Key, tuple[int, int]]:
    """Sums of tried and succeeded over the counts of a kind, by key."""
    sums: dict[Key, tuple[int, int]] = {}
    for count in counts:
        if count.counted is kind:
            tried, succeeded = sums.get(key(count), (0, 0))
            sums[key(count)] = tried + count.tried, succeeded + (count.succeeded or 0)
    return sums


def _of(rates: Sequence[Rate], kind: Counted) -> list[Rate]:
    return [rate for rate in rates if rate.counted is kind]


def _beside_columns(kind: CellKind) -> list[SheetColumn]:
    """Columns of the estimate and the scenario's figure."""
    return [
        SheetColumn("rate", "Estimate", kind),
        SheetColumn("low", "From", kind),
        SheetColumn("high", "To", kind),
        SheetColumn("now", "In the scenario", kind),
    ]


def _beside(rate: Rate) -> list[Cell]:
    return [rate.rate, rate.low, rate.high, rate.now]


def _verdict_columns(kind: CellKind) -> list[SheetColumn]:
    return [
        SheetColumn("change", "Estimate less scenario", kind),
        SheetColumn("verdict", "Scenario's figure"),
    ]


def _verdict(rate: Rate) -> list[Cell]:
    return [Formula("={rate}-{now}", rate.rate - rate.now), rate.verdict]


def _spread_columns(heading: str) -> list[SheetColumn]:
    return [
        SheetColumn("spread", heading, CellKind.EACH),
        SheetColumn("now_spread", "Spread in the scenario", CellKind.EACH),
    ]


def _spread(rate: Rate) -> list[Cell]:
    return [rate.correlation, rate.now_correlation]


def _chart(what: str, x: str, titles: tuple[str, str], beside: tuple[str, ...] = ()) -> Chart:
    """A chart with points for the counts and the columns ``beside``, and lines for the other columns."""
    lines = tuple(key for key in ("rate", "low", "high", "now") if key not in beside)
    alt = f"Points: {what}, with the 95 % interval and the scenario's figure. Numbers in the table above."
    return Chart("points", f"{what[0].upper()}{what[1:]}", alt, x, ("raw", *beside), *titles, lines)


def _germination(scenario: Scenario, rates: Sequence[Rate], counts: Sequence[Count]) -> Iterator[Section]:
    chosen = _of(rates, Counted.GERMINATION)
    if not chosen:
        return
    varieties = {lot.lot: lot.variety for lot in scenario.seed_lots}
    sums = _sums(counts, Counted.GERMINATION, lambda count: count.lot)
    rows: list[list[Cell]] = []
    for rate in chosen:
        tried, up = sums[rate.name]
        head: list[Cell] = [rate.name, varieties[rate.name], rate.records, tried, up]
        rows.append(
            [*head, Formula("={up}/{tried}", up / tried), *_beside(rate), *_verdict(rate), *_spread(rate)]
        )
    what = "what came up of each lot, and the estimate"
    yield Section(
        "Germination",
        "Seed lots: what came up, the estimate, and the scenario's germination.",
        [POOLING, SAMPLE],
        [
            SheetColumn("lot", "Seed lot"),
            SheetColumn("variety", "Variety"),
            SheetColumn("records", "Counts", CellKind.COUNT, total=True),
            SheetColumn("tried", "Seeds sown", CellKind.COUNT, total=True),
            SheetColumn("up", "Came up", CellKind.COUNT, total=True),
            SheetColumn("raw", "Share counted", CellKind.SHARE),
            *_beside_columns(CellKind.SHARE),
            *_verdict_columns(CellKind.SHARE),
            *_spread_columns("Spread left"),
        ],
        rows,
        [_chart(what, "lot", ("seed lot", "share of the seeds"), ("rate", "now"))],
    )


def _take(scenario: Scenario, rates: Sequence[Rate], counts: Sequence[Count]) -> Iterator[Section]:
    chosen = _of(rates, Counted.TAKE)
    if not chosen:
        return
    aged = {effect.method for effect in scenario.age_effects if effect.take is not None}
    moved = [rate.name for rate in chosen if rate.name in aged]
    sums = _sums(counts, Counted.TAKE, lambda count: (count.method, count.day))
    rows: list[list[Cell]] = []
    details = []
    for name, rate in zip(sheet_names("Take", [rate.name for rate in chosen]), chosen, strict=True):
        days = sorted((day, tried, up) for (method, day), (tried, up) in sums.items() if method == rate.name)
        healed = sum(up for _, _, up in days)
        head: list[Cell] = [rate.name, len(days), rate.records, rate.tried, healed]
        rows.append([*head, *_beside(rate), *_verdict(rate), *_spread(rate)])
        details.append(
            Section(
                name,
                f"Graft days of {rate.name}, beside the estimate.",
                [],
                [
                    SheetColumn("day", "Graft day", CellKind.DAY),
                    SheetColumn("tried", "Joins", CellKind.COUNT, total=True),
                    SheetColumn("up", "Healed", CellKind.COUNT, total=True),
                    SheetColumn("raw", "Share counted", CellKind.SHARE),
                    *_beside_columns(CellKind.SHARE),
                ],
                [[day, n, up, Formula("={up}/{tried}", up / n), *_beside(rate)] for day, n, up in days],
                [
                    _chart(
                        f"take of {rate.name}, and the estimate", "day", ("graft day", "share of the joins")
                    )
                ],
            )
        )
    yield Section(
        "Take",
        "Methods: joins that healed, the estimate, and the scenario's take.",
        [OVER_DAYS, SAMPLE, ALONE, *([BY_AGE.format(methods=", ".join(moved))] if moved else [])],
        [
            SheetColumn("method", "Method"),
            SheetColumn("days", "Graft days", CellKind.COUNT),
            SheetColumn("records", "Counts", CellKind.COUNT, total=True),
            SheetColumn("tried", "Joins", CellKind.COUNT, total=True),
            SheetColumn("up", "Healed", CellKind.COUNT, total=True),
            *_beside_columns(CellKind.SHARE),
            *_verdict_columns(CellKind.SHARE),
            *_spread_columns("Spread between days"),
        ],
        rows,
    )
    yield from details


def _pace(scenario: Scenario, rates: Sequence[Rate], counts: Sequence[Count]) -> Iterator[Section]:
    chosen = _of(rates, Counted.PACE)
    if not chosen:
        return
    seconds = seconds_of(scenario)
    work = [
        SheetColumn("tried", "Joins", CellKind.COUNT, total=True),
        SheetColumn("standard", "Hours at the standards", CellKind.DECIMAL, total=True),
        SheetColumn("hours", "Hours taken", CellKind.DECIMAL, total=True),
    ]
    rows: list[list[Cell]] = []
    details = []
    for name, rate in zip(sheet_names("Pace", [rate.name for rate in chosen]), chosen, strict=True):
        lines: list[list[Cell]] = []
        total = taken = 0.0
        crew = [count for count in counts if count.counted is Counted.PACE and count.crew == rate.name]
        for count in sorted(crew, key=lambda count: count.day):
            standard, hours = count.tried * seconds[count.method or ""] / 3600, count.hours or 0.0
            total, taken = total + standard, taken + hours
            raw = Formula("={standard}/{hours}", standard / hours)
            lines.append([count.day, count.method, count.tried, standard, hours, raw, *_beside(rate)])
        rows.append([rate.name, rate.records, rate.tried, total, taken, *_beside(rate), *_verdict(rate)])
        details.append(
            Section(
                name,
                f"Counts of {rate.name}, beside the estimate.",
                [],
                [
                    SheetColumn("day", "Day", CellKind.DAY),
                    SheetColumn("method", "Method"),
                    *work,
                    SheetColumn("raw", "Pace counted", CellKind.EACH),
                    *_beside_columns(CellKind.EACH),
                ],
                lines,
                [_chart(f"pace of {rate.name}, and the estimate", "day", ("day", "pace"))],
            )
        )
    yield Section(
        "Pace",
        "Crews: hours for their joins at the standards, hours taken, the estimate and the scenario's pace.",
        [STANDARD, SAMPLE, ALONE],
        [
            SheetColumn("crew", "Crew"),
            SheetColumn("records", "Counts", CellKind.COUNT, total=True),
            *work,
            *_beside_columns(CellKind.EACH),
            *_verdict_columns(CellKind.EACH),
        ],
        rows,
    )
    yield from details


def _changes(cells: Sequence[NewCell]) -> list[Section]:
    """The cells that the variant changes, where it changes any."""
    if not cells:
        return []
    told = changes_section([cell.told(FILE) for cell in cells])
    return [replace(told, name="Cells changed", about=f"What the variant {FILE} changes.", notes=())]


def _log(counts: Sequence[Count]) -> Section:
    kinds = {
        "day": CellKind.DAY,
        "tried": CellKind.COUNT,
        "succeeded": CellKind.COUNT,
        "hours": CellKind.DECIMAL,
    }
    headings = [column.heading.replace("[", "(").replace("]", ")") for column in COUNTS.columns]
    columns = [
        SheetColumn(column.name, heading.capitalize(), kinds.get(column.name, CellKind.TEXT))
        for column, heading in zip(COUNTS.columns, headings, strict=True)
    ]
    rows: list[list[Cell]] = []
    for count in counts:
        values = {column.key: getattr(count, column.key) for column in columns}
        rows.append([v if key in kinds else text_of(v) or None for key, v in values.items()])
    return Section("Counts", "The log, as it was read.", [], columns, rows)

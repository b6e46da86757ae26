"""Rates from the nursery's own counts, germination to pace, compared with the scenario."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterator, Sequence
from datetime import date
from hashlib import sha256
from typing import NamedTuple, TypeVar

from model.phases import Say, silent
from model.rates.estimates import Counted, fit_by_likelihood
from model.rates.overseeding import Beta
from model.rates.tolerance import beyond_tolerance
from model.scenario.entities import Scenario
from reports.book.style import CellKind
from reports.book.words import counted, percent
from reports.book.writing import grouped, shown_day, written_as
from reports.study import column
from reports.study.study import Chart, Figure, Section, Study, sheet_names
from scenarios.cells.draft import text_of
from scenarios.counts.counted_rates import (
    FILE,
    Rate,
    changed_cells,
    counted_rates,
    seconds_of,
)
from scenarios.counts.log import COUNTS, Count
from scenarios.variants.new_variant import NewVariant

Record = TypeVar("Record")
Key = TypeVar("Key", bound=Hashable)

MOST_NAMED = 5
"""Figures outside their intervals that the answer names; the sheets have them all."""

THINGS = {
    Counted.GERMINATION: "seed lot",
    Counted.GRADING: "seed lot",
    Counted.MATCH: "method",
    Counted.TAKE: "method",
    Counted.PACE: "crew",
}
"""What each rate belongs to."""

SAMPLE = (
    "From, to: the 95 % interval; over many logs, 95 of 100 such intervals hold the true rate. The "
    "scenario's figure lies below, within or above the interval."
)
POOLING = (
    "Estimate: the lot's own share, drawn towards the mean of all lots counted (partial pooling, "
    "beta-binomial). The pull is stronger where the lot has fewer seeds counted and where the lots are more "
    "alike. Spread left: an intra-lot correlation that says how uncertain the lot's rate still is; it goes "
    "into germination_correlation. Spread between sowings: how much sowings of one lot differ, one figure "
    "for all lots (analysis of variance); it goes into sowing_correlation. Where sowings differ, many seeds "
    "of one sowing count for fewer."
)
OVER_DAYS = (
    "Estimate: healed joins over joins made, on all graft days. All counts of one method on one day make one "
    "graft day, because its joins share their luck. The interval comes from leaving out one day at a time "
    "(jackknife). Spread: the intra-lot correlation between graft days of greatest likelihood; it goes into "
    "take_correlation."
)
BY_DAYS = (
    "Estimate: share over all counts. The interval comes from leaving out one day at a time (jackknife)."
)
TOLERANCE = (
    "Beyond the tolerance: the count lies further from another count of the same lot or method than "
    "q * sqrt(p * (1 - p) / n), with q from Student's range (da Silva 2020); takes may also differ by graft "
    "day, as much as the scenario's take_correlation says. Look into such a count before you rely on the "
    "rate: a slip of the pen, a tray of another lot, or a mishap. The estimates use it all the same."
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
    scenario: Scenario, counts: Sequence[Count], *, parent: str | None = None, progress: Say = silent
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
    span = _span(days)
    apart = apart_counts(rates, counts)
    with written_as(None):  # a file that the program reads
        variant = NewVariant(FILE, "counted rates", f"Rates from the log: {_span(days)}.", cells)
    return Study(
        "Rates",
        scenario,
        [_counted(span, rates), *_apart(apart, counts), *_against(rates), _variant(len(cells))],
        [
            Figure("Counts", len(counts), CellKind.COUNT),
            *_pool_figures(rates, counts),
            Figure("Figures of the scenario that were counted", len(rates), CellKind.COUNT),
            Figure("Of these, outside their 95 % interval", len(_outside(rates)), CellKind.COUNT),
            Figure("Counts beyond the tolerance", len(apart), CellKind.COUNT),
            Figure("Cells that the variant changes", len(cells), CellKind.COUNT),
        ],
        [
            *_germination(scenario, rates, counts),
            *_shares(Counted.GRADING, "Grading", "Seed lots: seedlings kept in grading.", rates),
            *_shares(Counted.MATCH, "Match", "Methods: seedlings that found a partner.", rates),
            *_take(scenario, rates, counts),
            *_pace(scenario, rates, counts),
            *_places(counts),
            *variant.sheets(),
            _log(counts, apart),
        ],
        [
            ("First day counted", days[0]),
            ("Last day counted", days[-1]),
            ("Hash of scenario and counts", sha256(repr((scenario, tuple(counts))).encode()).hexdigest()),
        ],
        files=variant.files(parent),
    )


def pool_of(counts: Sequence[Count]) -> Beta | None:
    """How germination varies between the lots counted; None for a single lot or for one seed from each."""
    sums = _sums(counts, Counted.GERMINATION, lambda count: count.lot)
    tried = [n for n, _ in sums.values()]
    if len(tried) < 2 or max(tried) < 2:
        return None
    return fit_by_likelihood(tried, [x for _, x in sums.values()])


def _span(days: Sequence[date]) -> str:
    """How many counts there are, and from when; ``days``: in order."""
    first, last = shown_day(days[0]), shown_day(days[-1])
    between = f"on {first}" if first == last else f"from {first} to {last}"
    return f"{counted(len(days), 'count')} {between}"


def _counted(span: str, rates: Sequence[Rate]) -> str:
    kinds = [rate.counted for rate in rates]
    parts = [
        f"{kind} of {counted(number, thing)}"
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
    return grouped(value, 2) if rate.counted is Counted.PACE else percent(value)


def _variant(changed: int) -> str:
    if not changed:
        return "The counts change no cell of the scenario."
    cells = counted(changed, "cell")
    return f"The variant {FILE} sets {cells} to the counted rates: compare it with the scenario."


def _pool_figures(rates: Sequence[Rate], counts: Sequence[Count]) -> Iterator[Figure]:
    pool = pool_of(counts)
    if pool is not None:
        yield Figure("Germination, mean of the lots", pool.mean, CellKind.SHARE)
        yield Figure("Spread between the lots (intra-lot correlation)", pool.correlation, CellKind.FACTOR)
    for sowings in {rate.sowings for rate in rates if rate.sowings is not None}:
        label = "Spread between sowings of one lot (intra-lot correlation)"
        yield Figure(label, sowings, CellKind.FACTOR)


def _group(count: Count) -> tuple[Counted, str]:
    """The kind of a count, and its lot or method."""
    return count.counted, count.record.name


def apart_counts(rates: Sequence[Rate], counts: Sequence[Count]) -> dict[int, str]:
    """By position, the counts beyond the tolerance for their size, each with what it differs from.

    Counts of one kind and one lot or method belong together. Takes may differ by graft day, as much as the
    scenario says: a spread fitted to these counts would hold the poor day itself, and excuse it.
    """
    days = {(rate.counted, rate.name): rate.now_correlation or 0.0 for rate in rates}
    groups: dict[tuple[Counted, str], list[int]] = defaultdict(list)
    for n, count in enumerate(counts):
        if count.succeeded is not None:
            groups[_group(count)].append(n)
    found = {}
    for (kind, name), rows in groups.items():
        alike = days[kind, name] if kind is Counted.TAKE else 0.0
        tried = [counts[n].tried for n in rows]
        for beyond in beyond_tolerance(tried, [counts[n].succeeded or 0 for n in rows], alike):
            points, other = grouped(100 * beyond.apart, 1), shown_day(counts[rows[beyond.other]].day)
            found[rows[beyond.count]] = (
                f"{points} points from the count of {other}; tolerance {grouped(100 * beyond.tolerance, 1)}"
            )
    return dict(sorted(found.items()))


def _apart(apart: dict[int, str], counts: Sequence[Count]) -> Iterator[str]:
    """The counts beyond their tolerance, in words."""
    if apart:
        lie = "lies" if len(apart) == 1 else "lie"
        yield f"{counted(len(apart), 'count')} {lie} beyond the tolerance for the size: look there first."
    for n, words in list(apart.items())[:MOST_NAMED]:
        kind, name = _group(counts[n])
        yield f"{str(kind).capitalize()} of {name} on {shown_day(counts[n].day)}: {words}."


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


def _beside(kind: column.Kind, rate: Callable[[Record], Rate]) -> list[column.Column[Record]]:
    """The estimate beside the scenario's figure; ``rate``: which rate it is, of a row."""
    return [
        kind("rate", "Estimate", lambda row: rate(row).rate),
        kind("low", "From", lambda row: rate(row).low),
        kind("high", "To", lambda row: rate(row).high),
        kind("now", "In the scenario", lambda row: rate(row).now),
    ]


def _compared(kind: column.Kind, spread: str | None = None) -> list[column.Column[Rate]]:
    """The estimate beside the scenario's figure and against it; ``spread``: heading of its spread, if any."""
    columns: list[column.Column[Rate]] = [
        *_beside(kind, lambda rate: rate),
        kind("change", "Estimate less scenario", lambda rate: rate.rate - rate.now, "={rate}-{now}"),
        column.text("verdict", "Scenario's figure", lambda rate: rate.verdict),
    ]
    if spread is not None:
        columns += [
            column.factor("spread", spread, lambda rate: rate.correlation),
            column.factor("now_spread", "Spread in the scenario", lambda rate: rate.now_correlation),
        ]
    return columns


def _chart(what: str, x: str, y_title: str, beside: tuple[str, ...] = ()) -> Chart:
    """A chart with points for the counts and the columns ``beside``, and lines for the other columns."""
    lines = tuple(key for key in ("rate", "low", "high", "now") if key not in beside)
    shows = f"Points: {what}, with the 95 % interval and the scenario's figure."
    return Chart("points", f"{what[0].upper()}{what[1:]}", shows, x, ("raw", *beside), y_title, lines)


def _germination(scenario: Scenario, rates: Sequence[Rate], counts: Sequence[Count]) -> Iterator[Section]:
    chosen = _of(rates, Counted.GERMINATION)
    if not chosen:
        return
    varieties = {lot.lot: lot.variety for lot in scenario.seed_lots}
    sums = _sums(counts, Counted.GERMINATION, lambda count: count.lot)

    def raw(rate: Rate) -> float:
        tried, up = sums[rate.name]
        return up / tried

    what = "what came up of each lot, and the estimate"
    yield column.section(
        "Germination",
        "Seed lots: what came up, the estimate, and the scenario's germination.",
        [POOLING, SAMPLE],
        chosen,
        [
            column.text("lot", "Seed lot", lambda rate: rate.name),
            column.text("variety", "Variety", lambda rate: varieties[rate.name]),
            column.count("records", "Counts", lambda rate: rate.records, total=True),
            column.count("tried", "Seeds sown", lambda rate: sums[rate.name][0], total=True),
            column.count("up", "Came up", lambda rate: sums[rate.name][1], total=True),
            column.share("raw", "Share counted", raw, "={up}/{tried}"),
            *_compared(column.share, "Spread left"),
            column.factor("sowings", "Spread between sowings", lambda rate: rate.sowings),
            column.factor("now_sowings", "Sowings in the scenario", lambda rate: rate.now_sowings),
        ],
        _chart(what, "lot", "share of the seeds", ("rate", "now")),
    )


def _shares(kind: Counted, name: str, about: str, rates: Sequence[Rate]) -> Iterator[Section]:
    """A kind of count with one share for each lot or method."""
    chosen = _of(rates, kind)
    if chosen:
        yield column.section(
            name,
            about,
            [BY_DAYS, SAMPLE, ALONE],
            chosen,
            [
                column.text("name", THINGS[kind].capitalize(), lambda rate: rate.name),
                column.count("records", "Counts", lambda rate: rate.records, total=True),
                column.count("tried", "Seedlings", lambda rate: rate.tried, total=True),
                *_compared(column.share),
            ],
        )


class Place(NamedTuple):
    """Counts of a kind and a lot or method in one zone or by one crew."""

    kind: Counted
    name: str
    zone: str | None
    crew: str | None
    tried: int
    up: int


def _places(counts: Sequence[Count]) -> Iterator[Section]:
    """What was counted by zone and crew, where the log names them."""
    sums: dict[tuple[Counted, str, str, str], tuple[int, int]] = {}
    for count in counts:
        if count.succeeded is not None and (count.zone or count.crew):
            key = (*_group(count), count.zone or "", count.crew or "")
            tried, up = sums.get(key, (0, 0))
            sums[key] = tried + count.tried, up + count.succeeded
    rows = [
        Place(kind, name, zone or None, crew or None, *n)
        for (kind, name, zone, crew), n in sorted(sums.items())
    ]
    if rows:
        yield column.section(
            "Zones and crews",
            "What was counted in each zone and by each crew, where the log names them.",
            ["Zones and crews are compared here only; the estimates pool them."],
            rows,
            [
                column.text("kind", "Counted", lambda row: str(row.kind)),
                column.text("name", "Lot or method", lambda row: row.name),
                column.text("zone", "Zone", lambda row: row.zone),
                column.text("crew", "Crew", lambda row: row.crew),
                column.count("tried", "Tried", lambda row: row.tried, total=True),
                column.count("up", "Succeeded", lambda row: row.up, total=True),
                column.share("raw", "Share counted", lambda row: row.up / row.tried, "={up}/{tried}"),
            ],
        )


class GraftDay(NamedTuple):
    """Joins made on a day, and how many of them healed."""

    day: date
    tried: int
    up: int


def _take(scenario: Scenario, rates: Sequence[Rate], counts: Sequence[Count]) -> Iterator[Section]:
    chosen = _of(rates, Counted.TAKE)
    if not chosen:
        return
    aged = {effect.method for effect in scenario.age_effects if effect.take is not None}
    moved = [rate.name for rate in chosen if rate.name in aged]
    days: dict[str, list[GraftDay]] = {rate.name: [] for rate in chosen}
    for (method, day), sums in _sums(counts, Counted.TAKE, lambda count: (count.method, count.day)).items():
        days[method or ""].append(GraftDay(day, *sums))
    yield column.section(
        "Take",
        "Methods: joins that healed, the estimate, and the scenario's take.",
        [OVER_DAYS, SAMPLE, ALONE, *([BY_AGE.format(methods=", ".join(moved))] if moved else [])],
        chosen,
        [
            column.text("method", "Method", lambda rate: rate.name),
            column.count("days", "Graft days", lambda rate: len(days[rate.name])),
            column.count("records", "Counts", lambda rate: rate.records, total=True),
            column.count("tried", "Joins", lambda rate: rate.tried, total=True),
            column.count("up", "Healed", lambda rate: sum(day.up for day in days[rate.name]), total=True),
            *_compared(column.share, "Spread between days"),
        ],
    )
    for name, rate in zip(sheet_names("Take", [rate.name for rate in chosen]), chosen, strict=True):
        yield _graft_days(name, rate, sorted(days[rate.name]))


def _graft_days(name: str, rate: Rate, days: Sequence[GraftDay]) -> Section:
    return column.section(
        name,
        f"Graft days of {rate.name}, beside the estimate.",
        [],
        days,
        [
            column.day("day", "Graft day", lambda day: day.day),
            column.count("tried", "Joins", lambda day: day.tried, total=True),
            column.count("up", "Healed", lambda day: day.up, total=True),
            column.share("raw", "Share counted", lambda day: day.up / day.tried, "={up}/{tried}"),
            *_beside(column.share, lambda _: rate),
        ],
        _chart(f"take of {rate.name}, and the estimate", "day", "share of the joins"),
    )


class PaceCount(NamedTuple):
    """A count of a crew's pace: joins, hours that they take at the standards, and hours taken."""

    day: date
    method: str | None
    tried: int
    standard: float
    hours: float


def _pace(scenario: Scenario, rates: Sequence[Rate], counts: Sequence[Count]) -> Iterator[Section]:
    chosen = _of(rates, Counted.PACE)
    if not chosen:
        return
    seconds = seconds_of(scenario)
    crews: dict[str, list[PaceCount]] = {rate.name: [] for rate in chosen}
    for c in sorted(counts, key=lambda count: count.day):
        if c.counted is Counted.PACE:
            standard = c.tried * seconds[c.method or ""] / 3600
            crews[c.crew or ""].append(PaceCount(c.day, c.method, c.tried, standard, c.hours or 0.0))
    work: list[column.Column[Rate]] = _work(lambda rate: crews[rate.name])
    yield column.section(
        "Pace",
        "Crews: hours for their joins at the standards, hours taken, the estimate and the scenario's pace.",
        [STANDARD, SAMPLE, ALONE],
        chosen,
        [
            column.text("crew", "Crew", lambda rate: rate.name),
            column.count("records", "Counts", lambda rate: rate.records, total=True),
            *work,
            *_compared(column.factor),
        ],
    )
    for name, rate in zip(sheet_names("Pace", [rate.name for rate in chosen]), chosen, strict=True):
        yield _pace_counts(name, rate, crews[rate.name])


def _work(counts: Callable[[Record], Sequence[PaceCount]]) -> list[column.Column[Record]]:
    """Joins and hours of the ``counts`` of a row."""
    return [
        column.count("tried", "Joins", lambda row: sum(c.tried for c in counts(row)), total=True),
        column.decimal(
            "standard", "Hours at the standards", lambda row: sum(c.standard for c in counts(row)), total=True
        ),
        column.decimal("hours", "Hours taken", lambda row: sum(c.hours for c in counts(row)), total=True),
    ]


def _pace_counts(name: str, rate: Rate, counts: Sequence[PaceCount]) -> Section:
    work: list[column.Column[PaceCount]] = _work(lambda c: [c])
    return column.section(
        name,
        f"Counts of {rate.name}, beside the estimate.",
        [],
        counts,
        [
            column.day("day", "Day", lambda c: c.day),
            column.text("method", "Method", lambda c: c.method),
            *work,
            column.factor("raw", "Pace counted", lambda c: c.standard / c.hours, "={standard}/{hours}"),
            *_beside(column.factor, lambda _: rate),
        ],
        _chart(f"pace of {rate.name}, and the estimate", "day", "pace"),
    )


def _log(counts: Sequence[Count], apart: dict[int, str]) -> Section:
    kinds = {"day": column.day, "tried": column.count, "succeeded": column.count, "hours": column.decimal}
    columns = [_log_column(counts, each.name, each.heading, kinds.get(each.name)) for each in COUNTS.columns]
    columns.append(column.text("apart", "Beyond the tolerance", apart.get, widest=40))
    log = range(len(counts))
    return column.section("Counts", "The log, as it was read.", [TOLERANCE], log, columns, prints=False)


def _log_column(
    counts: Sequence[Count], name: str, heading: str, kind: column.Kind | None
) -> column.Column[int]:
    heading = heading.replace("[", "(").replace("]", ")").capitalize()
    if kind is None:
        return column.text(name, heading, lambda n: text_of(getattr(counts[n], name)) or None)
    return kind(name, heading, lambda n: getattr(counts[n], name))

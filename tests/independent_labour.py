"""The part of the second statement about hands: crews, temporary hands, what limits them, what is paid."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from datetime import date
from math import inf
from typing import Any

from model.scenario.choices import PayBasis, Per, Task
from model.scenario.entities import TrayFormat
from model.scenario.records.people import Crew, LabourStandard, Practice
from tests.independent_parts import Builder, Coefs, Days, plus, times
from tests.independent_rates import Rates

Kind = tuple[str, str | None, str | None, str | None]
"""Task, role, method and format."""


class Labour(Rates):
    """Hands of one scenario; ``hours`` holds the hours wanted by skill and day."""

    days: Days
    builder: Builder
    hours: dict[tuple[str, int], Coefs]
    used: dict[str, list[tuple[int, Coefs]]]
    back: dict[str, list[tuple[int, Coefs]]]
    kinds: dict[tuple[str, int], dict[Kind, Coefs]]
    by_piece: list[tuple[Crew, str, int, int, float]]
    spent: dict[tuple[str, int], Coefs]
    closest: Callable[[list[Any], str | None, str | None], Any]
    formats: dict[str, TrayFormat]
    new_hands: dict[tuple[str, int], int]
    work: Callable[..., None]
    place: Callable[..., None]
    use_supplies: Callable[..., None]

    def need(self, skill: str, t: int, kind: Kind, hours: Coefs) -> None:
        """Hours wanted of a skill on a day for a kind of work."""
        self.hours[skill, t] = plus(self.hours[skill, t], hours)
        kinds = self.kinds[skill, t]
        kinds[kind] = plus(kinds.get(kind, {}), hours)

    def by_role(
        self, standards: list[LabourStandard], method: str | None, format_: str | None
    ) -> list[LabourStandard]:
        """The rows of a task that fit best: one, or one for each role."""
        best = self.closest(standards, method, format_)
        return [row for row in standards if best and (row.method, row.format) == (best.method, best.format)]

    def changed(self, start: float, changes: Iterable[tuple[date, float | None]], t: int) -> float:
        """A figure on day t, after the changes up to then."""
        value = start
        for when, new in sorted(changes, key=lambda change: change[0]):
            if new is not None and when <= self.days.at(t):
                value = new
        return value

    def state_labour(self) -> None:
        """Hours wanted of each skill, and those that crews and temporary hands give."""
        given: dict[tuple[str, int], Coefs] = defaultdict(dict)
        for crew in self.scenario.crews:
            worked = self.state_crew(crew, given)
            if crew.temp_heads_most > 0:
                self.state_temporary(crew, given)
            for t, hours in worked.items():
                self.builder.equal(self.spent[crew.crew, t], hours)
        for key, wanted in self.hours.items():
            self.builder.at_most(wanted, given[key])
        self.state_pieces()

    def shift(self, crew: Crew, t: int) -> float | None:
        """Regular hours of a hand on a day; None without a shift."""
        day = self.days.at(t)
        name = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")[day.weekday()]
        if day in {off.day for off in self.scenario.days_off}:
            return None
        for row in self.scenario.shifts:
            if row.crew == crew.crew and name in row.weekdays:
                return row.hours_per_head_day if row.hours_per_head_day > 0 else None
        return crew.hours_per_head_day if name in self.scenario.nursery.working_weekdays else None

    def state_crew(self, crew: Crew, given: dict[tuple[str, int], Coefs]) -> dict[int, Coefs]:
        """A crew's own hands; their paid hours by day."""
        rows = [row for row in self.scenario.crew_days if row.crew == crew.crew]
        more = sum(row.added for row in self.scenario.modules if row.crew == crew.crew)
        changes = [(r.from_day, r.heads) for r in rows]
        heads = [self.changed(crew.heads, changes, t) + more for t in range(self.days.count)]
        worked: dict[int, Coefs] = {}
        regulars: dict[int, tuple[int, float]] = {}
        for t in range(self.days.count):
            pay = self.changed(crew.pay_per_hour, [(r.from_day, r.pay_per_hour) for r in rows], t)
            extra = pay if crew.overtime_pay_per_hour is None else crew.overtime_pay_per_hour
            shift = self.shift(crew, t)
            regular_most = heads[t] * (shift or 0.0)
            extra_most = heads[t] * (
                crew.day_off_hours_per_head if shift is None else crew.overtime_hours_per_head_day
            )
            if crew.pay_basis is PayBasis.COMMITTED:
                self.builder.constant += pay * regular_most
                pay = 0.0
            regular = self.builder.add_var(f"reg {crew.crew} {t}", pay, upper=regular_most)
            overtime = self.builder.add_var(f"ot {crew.crew} {t}", extra, upper=extra_most)
            by_skill = {}
            for skill in crew.skills:
                most = self.hours_at(crew, skill)
                upper = inf if most is None else most * heads[t]
                hours = self.builder.add_var(f"h {crew.crew} {skill} {t}", upper=upper)
                by_skill[hours] = 1.0
                given[skill, t][hours] = crew.pace
                if any(row.crew == crew.crew for row in self.scenario.piece_rates):
                    paid = self.changed(crew.pay_per_hour, [(r.from_day, r.pay_per_hour) for r in rows], t)
                    self.by_piece.append((crew, skill, t, hours, paid))
            self.attend(crew, t, by_skill)
            worked[t] = {regular: 1.0, overtime: 1.0}
            regulars[t] = regular, pay
            self.spent[crew.crew, t] = by_skill
        if crew.guaranteed_hours_per_head_week is not None:
            self.state_guaranteed(crew, heads, regulars)
        if crew.week_hours_per_head is not None:
            for week in self.days.weeks():
                total: Coefs = {}
                for t in week:
                    total |= worked[t]
                self.builder.at_most(total, {}, max(heads[t] for t in week) * crew.week_hours_per_head)
        return worked

    def state_guaranteed(
        self, crew: Crew, heads: list[float], regulars: dict[int, tuple[int, float]]
    ) -> None:
        """Hours without work that are paid, as far as the week's work falls short of the guarantee."""
        names = dict.fromkeys(self.scenario.nursery.working_weekdays, 1.0)
        for row in self.scenario.shifts:
            if row.crew == crew.crew:
                names |= dict.fromkeys(row.weekdays, row.hours_per_head_day)
        on = sum(hours > 0 for hours in names.values())
        for week in self.days.weeks():
            days = [t for t in week if self.shift(crew, t) is not None]
            if days:
                each = (crew.guaranteed_hours_per_head_week or 0.0) / on
                idle = self.builder.add_var(f"I {crew.crew} {days[0]}", regulars[days[0]][1])
                paid: Coefs = {idle: 1.0} | {regulars[t][0]: 1.0 for t in days}
                self.builder.at_most({}, paid, -sum(heads[t] * each for t in days))

    def state_pieces(self) -> None:
        """Hours of crews paid by the piece, by kind of work: what they pay beyond the hour, and how many."""
        taken: dict[tuple[str, int, Kind], Coefs] = defaultdict(dict)
        for crew, skill, t, hours, paid in self.by_piece:
            rows = [row for row in self.scenario.piece_rates if row.crew == crew.crew]
            beyond = {}
            for kind in self.kinds[skill, t]:
                task, role, method, format_ = kind
                at_task = [row for row in rows if row.task == task]
                standards = [row for row in self.scenario.labour_standards if row.task == task]
                seconds = {row.role: row.seconds for row in self.by_role(standards, method, format_)}
                rate = self.closest([row for row in at_task if row.role == role], method, format_)
                if rate is not None:
                    an_hour = rate.pay_per_piece * 3600 / seconds[role]
                else:
                    rate = self.closest([row for row in at_task if row.role is None], method, format_)
                    an_hour = 0.0 if rate is None else rate.pay_per_piece * 3600 / sum(seconds.values())
                if rate is not None:
                    beyond[kind] = max(an_hour * crew.pace - paid, 0.0)
            parts: Coefs = {}
            for kind in self.kinds[skill, t] if beyond else ():
                here = self.builder.add_var(f"piece {crew.crew} {kind} {t}", beyond.get(kind, 0.0))
                parts[here] = 1.0
                taken[skill, t, kind][here] = crew.pace
            if beyond:
                self.builder.equal({hours: 1.0}, parts)
        for (skill, t, kind), done in taken.items():
            self.builder.at_most(done, self.kinds[skill, t][kind])

    def attend(self, crew: Crew, t: int, running: Coefs) -> None:
        """Hands beside a machine for as long as it runs, and what it uses up."""
        if crew.attendant_skill is not None:
            self.need(crew.attendant_skill, t, ("attend", None, None, None), times(running, crew.attendants))
        if crew.supply is not None:
            self.used[crew.supply].append((t, times(running, crew.supply_per_hour)))

    def hours_at(self, crew: Crew, skill: str) -> float | None:
        """Most hours a day of a hand at a skill: the crew's own row, else the one for all."""
        for name in (crew.crew, None):
            for row in self.scenario.skill_limits:
                if (row.skill, row.crew) == (skill, name):
                    return row.hours_per_head_day
        return None

    def hire(self) -> None:
        """New temporary hands by crew and week, and what they practise on."""
        for crew in self.scenario.crews:
            for week in self.days.weeks() if crew.temp_heads_most > 0 else ():
                on = [t for t in week if self.shift(crew, t) is not None]
                training = on[: crew.temp_training_days]
                rows = [row for row in self.scenario.practice if row.crew == crew.crew and training]
                starts = [self.days.prev(training[0] - row.days_before) for row in rows]
                most = crew.temp_heads_most if on and None not in starts else 0
                name = crew.crew, week[0]
                changes = [r for r in self.scenario.crew_days if r.crew == crew.crew]
                pay = [(r.from_day, r.temp_pay_per_hour) for r in changes]
                rate = self.changed(crew.temp_pay_per_hour, pay, week[0])
                paid = (
                    0.0 if crew.temp_days_least is None else sum(self.shift(crew, t) or 0.0 for t in training)
                )
                cost = crew.temp_training_cost + rate * paid
                new = self.builder.add_var("A", cost, lumpy=True, upper=most)
                self.new_hands[name] = new
                for row, start in zip(rows, starts, strict=True) if most else ():
                    assert start is not None
                    self.practise(row, start, training[-1] + 1, {new: row.quantity})

    def practise(self, row: Practice, start: int, out: int, amount: Coefs) -> None:
        """Seed, supplies, work and room of what a new hand practises on."""
        lots = [lot for lot in self.scenario.seed_lots if lot.lot == row.item]
        if not lots:
            self.used[row.item].append((start, amount))
            return
        (lot,), tray = lots, self.formats[row.format or ""]
        self.used[lot.lot].append((start, times(amount, tray.cells * lot.seeds_per_cell)))
        self.use_supplies(Per.TRAY_SOWN, None, tray.format, start, amount)
        self.work(Task.SOW, None, tray.format, start, amount)
        bench = self.days.next(start + lot.germination_days) if lot.germination_days else start
        bench = out if bench is None else min(bench, out)
        self.place(amount, tray, lot.germination_zone, start, bench, None, Task.TEND)
        self.place(amount, tray, lot.bench_zone, bench, out, None, Task.TEND)
        if start < bench < out and lot.germination_zone != lot.bench_zone:
            self.work(Task.MOVE, None, tray.format, bench, amount)

    def wash_supplies(self) -> None:
        """Supplies that come back, and hours to wash them; hands use none of these up."""
        for row in self.scenario.supplies:
            for day, amount in self.used[row.supply] if row.return_share > 0 else ():
                back = self.days.next(day + row.return_days)
                if back is not None:
                    kept = times(amount, row.return_share)
                    self.back[row.supply].append((back, kept))
                    if row.wash_skill is not None:
                        hours = times(kept, row.wash_seconds / 3600)
                        self.need(row.wash_skill, back, ("wash", None, None, None), hours)

    def state_temporary(self, crew: Crew, given: dict[tuple[str, int], Coefs]) -> None:
        """Temporary hands beside a crew, by the week."""
        before: Coefs = {}
        paces = sorted((row.week, row.share) for row in self.scenario.pace_by_week if row.crew == crew.crew)
        shares = [share for _, share in paces if share < 1]
        in_week_before: list[int] = []
        for week in self.days.weeks():
            work_days = [t for t in week if self.shift(crew, t) is not None]
            rows = [row for row in self.scenario.crew_days if row.crew == crew.crew]
            changes = [(row.from_day, row.temp_pay_per_hour) for row in rows]
            rate = self.changed(crew.temp_pay_per_hour, changes, week[0])
            longer_from = [(row.from_day, row.temp_overtime_pay_per_hour) for row in rows]
            own_rate = crew.temp_overtime_pay_per_hour
            long_rate = self.changed(rate if own_rate is None else own_rate, longer_from, week[0])
            by_day = crew.temp_days_least is not None
            shifts = sum(self.shift(crew, t) or 0.0 for t in work_days)
            learning = sum(self.shift(crew, t) or 0.0 for t in work_days[: crew.temp_training_days])
            pay = 0.0 if by_day else rate * shifts
            here = self.builder.add_var("M", pay, lumpy=True, upper=crew.temp_heads_most)
            new = self.new_hands[crew.crew, week[0]]
            self.builder.at_most({here: 1.0}, plus(before, {new: 1.0}))
            before = {here: 1.0}
            in_week = [self.builder.add_var("n") for _ in (*shares, 1.0)]
            self.builder.at_most({here: 1.0}, dict.fromkeys(in_week, 1.0))
            self.builder.at_most(dict.fromkeys(in_week, 1.0), {here: 1.0})
            for n, hands in enumerate(in_week[1:], start=1):
                from_last = in_week_before[n - 1 :] if hands == in_week[-1] else in_week_before[n - 1 : n]
                self.builder.at_most({hands: 1.0}, dict.fromkeys(from_last, 1.0))
            in_week_before = in_week
            at_pace: Coefs = dict(zip(in_week, (*shares, 1.0), strict=True))
            paid: Coefs = {new: learning} if by_day else {here: shifts}
            days: Coefs = {
                new: float(min(len(work_days), crew.temp_training_days, crew.temp_days_least or 0))
            }
            for n, t in enumerate(work_days):
                by_skill = {}
                for skill in crew.skills:
                    hours = self.builder.add_var(f"h' {crew.crew} {skill} {t}")
                    by_skill[hours] = 1.0
                    given[skill, t][hours] = crew.temp_pace
                self.attend(crew, t, by_skill)
                able = at_pace | ({new: -at_pace[in_week[0]]} if n < crew.temp_training_days else {})
                shift = self.shift(crew, t) or 0.0
                if by_day:
                    called = self.builder.add_var(f"M' {crew.crew} {t}", rate * shift, lumpy=True)
                    self.builder.at_most({called: 1.0}, able)
                    able = {called: 1.0}
                    paid[called], days[called] = shift, 1.0
                longer = self.builder.add_var(f"ot' {crew.crew} {t}", long_rate)
                may = {in_week[-1]: 1.0} if shares else able
                self.builder.at_most({longer: 1.0}, times(may, crew.temp_overtime_hours_per_head_day))
                self.builder.at_most(by_skill, plus(times(able, shift), {longer: 1.0}))
                paid[longer] = 1.0
                if n < crew.temp_training_days:
                    self.spent[crew.crew, t] |= {new: crew.temp_trainer_hours}
                for skill, hours in zip(crew.skills, by_skill, strict=True):
                    most = self.hours_at(crew, skill)
                    if most is not None:
                        self.builder.at_most({hours: 1.0}, times(able, most))
            if by_day:
                least = float(min(crew.temp_days_least or 0, len(work_days)))
                self.builder.at_most({here: least}, days)
            if crew.week_hours_per_head is not None:
                most = crew.week_hours_per_head
                self.builder.at_most(paid, {here: most if by_day else max(most, shifts)})
                if shares:
                    overtime = {key: 1.0 for key in paid if key != here}
                    self.builder.at_most(overtime, {in_week[-1]: max(0.0, most - shifts)})

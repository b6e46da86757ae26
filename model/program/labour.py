"""Constraint groups of labour: hours by skill, crew and week; temporary hands."""

from __future__ import annotations

from collections import defaultdict

from model.program.amounts import Key
from model.program.index_sets import Coefs, CrewInWeek, CrewOnDay, Row, Rows, StayedInWeek
from model.program.program import Program


def skill_hours(p: Program) -> Rows:
    """The hours worked at a skill, at their pace, cover its tasks on the day and the machines attended.

    Σ_{tasks of skill k on t} seconds / 3600 · amount + Σ_{c,k′} attendants[c,k] · (h[c,k′,t] + h′[c,k′,t])
        ≤ Σ_c pace[c] · h[c,k,t] + temporary pace[c] · h′[c,k,t]
    for each skill k, day t without recorded hours
    """
    crews, told = p.amounts.crews, p.network.past.worked_days
    rows: dict[tuple[str, int], Coefs] = {key: dict(coefs) for key, coefs in p.needs.items()}
    for n, i in enumerate(p.crew_skill_days):
        rows[i.skill, i.day]["worked", n] = -crews[i.crew].crew.pace
    for n, i in enumerate(p.temporary_skill_days):
        rows[i.skill, i.day]["temporary_worked", n] = -crews[i.crew].crew.temp_pace
    return {(k, p.iso(t)): Row(coefs, None, 0.0) for (k, t), coefs in rows.items() if t not in told}


def crew_hours(p: Program) -> Rows:
    """A crew's hours at all skills, and with new hands, equal its regular hours plus overtime.

    Σ_k h[c,k,t] + trainer hours[c] · A[c,q] · [t is one of the first training days of q] = reg[c,t] + ot[c,t]
    for each day t of week q without recorded hours
    reg[c,t] ≤ heads[c,t] · hours per head[t],  0 without a shift
    ot[c,t] ≤ heads[c,t] · overtime hours per head,  without a shift heads[c,t] · day-off hours per head
    """
    rows: dict[CrewOnDay, Coefs] = {
        index: {("regular", n): -1.0, ("overtime", n): -1.0} for n, index in enumerate(p.crew_days)
    }
    for n, i in enumerate(p.crew_skill_days):
        rows[CrewOnDay(i.crew, i.day)]["worked", n] = 1.0
    for n, week in enumerate(p.crew_weeks):
        limits = p.amounts.crews[week.crew]
        for t in limits.training_days(p.weeks[week.week]) if limits.crew.temp_trainer_hours else ():
            rows[CrewOnDay(week.crew, t)]["new_hands", n] = limits.crew.temp_trainer_hours
    told = p.network.past.worked_days
    return {(c, p.iso(t)): Row(coefs, 0.0, 0.0) for (c, t), coefs in rows.items() if t not in told}


def week_hours(p: Program) -> Rows:
    """A crew's hours in a week stay within its weekly limit, if it has one.

    Σ_{t in q} reg[c,t] + ot[c,t] ≤ most heads[c] in q · week hours per head      where given
    for each week q that ends today or later; the limit is never below the recorded hours
    """
    past = p.network.past
    coefs: dict[CrewInWeek, Coefs] = defaultdict(dict)
    for n, i in enumerate(p.crew_days):
        coefs[CrewInWeek(i.crew, p.week_of[i.day])] |= {("regular", n): 1.0, ("overtime", n): 1.0}
    rows: Rows = {}
    for key in sorted(coefs):
        days = p.weeks[key.week].days
        limit = p.amounts.crews[key.crew].week_hours(p.weeks[key.week])
        if limit is not None and days[-1] >= past.today:
            told = sum(past.worked.get((key.crew, t), 0.0) for t in days)
            rows[key.crew, p.iso(days[0])] = Row(coefs[key], None, max(limit, told))
    return rows


def temporary_new(p: Program) -> Rows:
    """Temporary hands beyond the number of the week before are new.

    A[c,q] ≥ M[c,q] − M[c,q−1]
    """
    rows: Rows = {}
    for n, index in enumerate(p.crew_weeks):
        coefs: Coefs = {("temporary_hands", n): 1.0, ("new_hands", n): -1.0}
        if index.week > 0:
            coefs["temporary_hands", n - 1] = -1.0
        rows[p.labels["new_hands"][n]] = Row(coefs, None, 0.0)
    return rows


def temporary_stayed(p: Program) -> Rows:
    """Hands that have been there for k weeks are there in the week, and had been for k − 1 weeks in the last.

    S[c,k,q] ≤ S[c,k−1,q],  S[c,k,q] ≤ S[c,k−1,q−1],  S[c,0,q] = M[c,q]
    for each week k of the crew's pace by week with a share below 1, k = 1 to K
    """
    hands: dict[StayedInWeek, Key] = {
        StayedInWeek(*i, 0): ("temporary_hands", n) for n, i in enumerate(p.crew_weeks)
    }
    hands |= {i: ("stayed_hands", n) for i, n in p.stayed_hands.items()}
    rows: Rows = {}
    for i, n in p.stayed_hands.items():
        for q in (i.week, i.week - 1):
            least = hands[StayedInWeek(i.crew, q, i.weeks - 1)]
            label = (*p.labels["stayed_hands"][n], p.iso(p.weeks[q].days[0]))
            rows[label] = Row({("stayed_hands", n): 1.0, least: -1.0}, None, 0.0)
    return rows


def temporary_hours(p: Program) -> Rows:
    """Temporary hands at work work no longer than their daily hours and overtime; none works during training.

    Σ_k h′[c,k,t] ≤ hours per head[t] · M″[c,t] + ot′[c,t]
    for each day t on which the crew has a shift; with pace by week, in hours at the full pace and
    M″[c,t] = share[c,1] · (M[c,q] − A[c,q] · [t is one of the first training days of q])
        + Σ_{k=1..K} (share[c,k+1] − share[c,k]) · S[c,k,q],  share[c,K+1] = 1
    """
    worked: dict[CrewOnDay, Coefs] = defaultdict(dict)
    for n, i in enumerate(p.temporary_skill_days):
        worked[CrewOnDay(i.crew, i.day)]["temporary_worked", n] = 1.0
    overtime = {at: n for n, at in enumerate(p.temporary_overtime_days)}
    rows: Rows = {}
    for at, heads in p.temporary_at_work.items():
        limits, coefs = p.amounts.crews[at.crew], worked.get(at)
        if coefs is not None:
            coefs |= {key: -limits.hours[at.day] * each for key, each in heads.items()}
            if at in overtime:
                coefs["temporary_overtime", overtime[at]] = -1.0
            rows[at.crew, p.iso(at.day)] = Row(coefs, None, 0.0)
    return rows


def temporary_longer(p: Program, at: CrewOnDay) -> Coefs:
    """Temporary hands that may work overtime on a day with a shift."""
    if not p.amounts.crews[at.crew].shares:
        return p.temporary_at_work[at]
    return _learned(p, CrewInWeek(at.crew, p.week_of[at.day]))


def _learned(p: Program, index: CrewInWeek) -> Coefs:
    """Temporary hands of a crew with pace by week whose weeks of learning are over."""
    at = StayedInWeek(*index, len(p.amounts.crews[index.crew].shares))
    return {("stayed_hands", p.stayed_hands[at]): 1.0} if at in p.stayed_hands else {}


def temporary_overtime_most(p: Program) -> Rows:
    """Overtime of temporary hands stays within what each of them may work on a day.

    ot′[c,t] ≤ overtime hours per temporary head[c] · M″[c,t]      for each day t from today
    with pace by week of K weeks: of S[c,K,q] in place of M″[c,t]
    """
    rows: Rows = {}
    for n, at in enumerate(p.temporary_overtime_days):
        if at.day >= p.network.past.today:
            most = p.amounts.crews[at.crew].crew.temp_overtime_hours_per_head_day
            heads = {key: -most * each for key, each in temporary_longer(p, at).items()}
            rows[p.labels["temporary_overtime"][n]] = Row({("temporary_overtime", n): 1.0} | heads, None, 0.0)
    return rows


def temporary_week_hours(p: Program) -> Rows:
    """Temporary hands hired by the day, and overtime of all, stay within the weekly limit, if there is one.

    Σ_{t in q} hours per head[t] · M′[c,t] + training hours · A[c,q] + Σ_{t in q} ot′[c,t]
        ≤ week hours per head[c] · M[c,q]      for hands hired by the day
    Σ_{t in q} ot′[c,t] ≤ max(0, week hours per head[c] − Σ_{t in q} hours per head[t]) · M[c,q]
    with pace by week of K weeks: S[c,K,q] in place of M[c,q]
    for each week q that ends today or later; the limit is never below the recorded hours
    """
    past, coefs = p.network.past, defaultdict[CrewInWeek, Coefs](dict)
    for n, at in enumerate(p.called_days):
        hours = p.amounts.crews[at.crew].hours[at.day]
        coefs[CrewInWeek(at.crew, p.week_of[at.day])]["called_hands", n] = hours
    for n, at in enumerate(p.temporary_overtime_days):
        coefs[CrewInWeek(at.crew, p.week_of[at.day])]["temporary_overtime", n] = 1.0
    rows: Rows = {}
    for n, index in enumerate(p.crew_weeks):
        limits, week = p.amounts.crews[index.crew], p.weeks[index.week]
        most, found = limits.crew.week_hours_per_head, coefs.get(index)
        if most is not None and found is not None and week.days[-1] >= past.today:
            left = most if limits.by_day else max(0.0, most - limits.temporary_week_hours(week))
            _, told = _told(p, index)
            hands: Coefs = _learned(p, index) if limits.shares else {("temporary_hands", n): 1.0}
            found |= dict.fromkeys(hands, -left)
            found["new_hands", n] = limits.training_hours(week)
            weeks = range(index.week - len(limits.shares), index.week + 1)
            learned = min(past.hired.get((index.crew, q), 0.0) for q in weeks)
            rows[p.labels["temporary_hands"][n]] = Row(found, None, max(0.0, told - left * learned))
    return rows


def _told(p: Program, index: CrewInWeek) -> tuple[float, float]:
    """Temporary hands recorded in a week, and their hours: of training, called and overtime."""
    past, limits, week = p.network.past, p.amounts.crews[index.crew], p.weeks[index.week]
    hired, before = (past.hired.get((index.crew, q), 0.0) for q in (index.week, index.week - 1))
    hours = limits.training_hours(week) * max(0.0, hired - before)
    for t in week.days:
        hours += limits.hours[t] * past.called.get((index.crew, t), 0.0)
        hours += past.overtime.get((index.crew, t), 0.0)
    return hired, hours


def called_most(p: Program) -> Rows:
    """Hands called on a day are on the list, and trained.

    M′[c,t] ≤ M[c,q] − A[c,q] · [t is one of the first training days of q]      for each day t of q from today
    """
    weeks = {index: n for n, index in enumerate(p.crew_weeks)}
    rows: Rows = {}
    for n, at in enumerate(p.called_days):
        if at.day >= p.network.past.today:
            q = p.week_of[at.day]
            hands = weeks[CrewInWeek(at.crew, q)]
            coefs: Coefs = {("called_hands", n): 1.0, ("temporary_hands", hands): -1.0}
            if at.day in p.amounts.crews[at.crew].training_days(p.weeks[q]):
                coefs["new_hands", hands] = 1.0
            rows[p.labels["called_hands"][n]] = Row(coefs, None, 0.0)
    return rows


def called_least(p: Program) -> Rows:
    """Hands on the list are paid for a least number of days in each of their weeks, training included.

    Σ_{t in q} M′[c,t] + min(training days, d) · A[c,q] ≥ d · M[c,q],  d = min(least days[c], shifts in q)
    for each week q that ends today or later; of one begun before, no more than the days left allow
    """
    days: dict[CrewInWeek, Coefs] = defaultdict(dict)
    for n, at in enumerate(p.called_days):
        days[CrewInWeek(at.crew, p.week_of[at.day])]["called_hands", n] = 1.0
    begun = p.settled.get("new_hands", {})
    rows: Rows = {}
    for n, index in enumerate(p.crew_weeks):
        limits, week = p.amounts.crews[index.crew], p.weeks[index.week]
        least = float(min(limits.crew.temp_days_least or 0, len(limits.working(week))))
        if least > 0 and week.days[-1] >= p.network.past.today:
            trained = min(least, float(len(limits.training_days(week))))
            coefs = days[index] | {("temporary_hands", n): -least, ("new_hands", n): trained}
            lower = 0.0
            if n in begun:
                hired, _ = _told(p, index)
                lower = min(0.0, _days_most(p, index, begun[n]) + trained * begun[n] - least * hired)
            rows[p.labels["temporary_hands"][n]] = Row(coefs, lower, None)
    return rows


def _days_most(p: Program, index: CrewInWeek, new: float) -> float:
    """The most days on which hands can be called in a week begun before today, those recorded among them."""
    past, limits, week = p.network.past, p.amounts.crews[index.crew], p.weeks[index.week]
    hired, hours = _told(p, index)
    most = limits.crew.week_hours_per_head
    room = None if most is None else max(0.0, most * hired - hours)
    days = sum(past.called.get((index.crew, t), 0.0) for t in week.days)
    left = [t for t in limits.working(week) if t >= past.today]
    for t in sorted(left, key=limits.hours.__getitem__):
        hands, shift = hired - new * (t in limits.training_days(week)), limits.hours[t]
        if room is not None and shift > 0:
            hands = min(hands, room // shift)
            room -= hands * shift
        days += hands
    return days


def guaranteed_hours(p: Program) -> Rows:
    """A crew with guaranteed hours is paid for them in every week, worked or not.

    Σ_{t in q} reg[c,t] + I[c,q] ≥ Σ_{t in q with a shift} heads[c,t] · guaranteed hours[c] / its weekdays
    """
    regular: dict[CrewInWeek, Coefs] = defaultdict(dict)
    for n, i in enumerate(p.crew_days):
        regular[CrewInWeek(i.crew, p.week_of[i.day])]["regular", n] = 1.0
    rows: Rows = {}
    for n, index in enumerate(p.guaranteed_weeks):
        hours = p.amounts.crews[index.crew].guaranteed_hours(p.weeks[index.week])
        rows[p.labels["idle"][n]] = Row(regular[index] | {("idle", n): 1.0}, hours, None)
    return rows


def skill_limits(p: Program) -> Rows:
    """A crew's own hands spend no more hours a day at a limited skill than its heads allow.

    h[c,k,t] ≤ most hours[c,k] · heads[c,t]      for each limited skill k, day t without recorded hours

    Before today the limit is never below the work that is settled.
    """
    past = p.network.past
    rows: Rows = {}
    for n, i in enumerate(p.crew_skill_days):
        limits = p.amounts.crews[i.crew]
        if i.skill in limits.skill_hours and i.day not in past.worked_days:
            most = limits.skill_hours[i.skill] * limits.heads[i.day]
            if i.day < past.today:
                needs = p.needs[i.skill, i.day]
                if any(key not in p.decided for key in needs):
                    continue
                most = max(most, p.settled_part(needs) / limits.crew.pace)
            rows[i.crew, p.iso(i.day), i.skill] = Row({("worked", n): 1.0}, None, most)
    return rows


def temporary_skill_limits(p: Program) -> Rows:
    """Temporary hands spend no more hours a day at a limited skill than those who work there allow.

    h′[c,k,t] ≤ most hours[c,k] · M″[c,t]
    for each limited skill k, day t with a shift and without recorded hours
    """
    rows: Rows = {}
    for n, i in enumerate(p.temporary_skill_days):
        limits = p.amounts.crews[i.crew]
        if i.skill in limits.skill_hours and i.day not in p.network.past.worked_days:
            hours, heads = limits.skill_hours[i.skill], p.temporary_at_work[CrewOnDay(i.crew, i.day)]
            coefs: Coefs = {("temporary_worked", n): 1.0}
            coefs |= {key: -hours * each for key, each in heads.items()}
            rows[i.crew, p.iso(i.day), i.skill] = Row(coefs, None, 0.0)
    return rows


def piece_hours(p: Program) -> Rows:
    """The hours of a crew paid by the piece at a skill are those at its kinds of work.

    Σ_{kinds j of skill k on t} h″[c,j,t] = h[c,k,t]
    for each crew c, skill k and day t of which some work is paid by the piece
    """
    rows: dict[tuple[str, str, int], Coefs] = defaultdict(dict)
    for n, i in enumerate(p.crew_tasks):
        rows[i.crew, i.kind.skill, i.kind.day]["worked_at_task", n] = 1.0
    position = {tuple(i): n for n, i in enumerate(p.crew_skill_days)}
    for at, coefs in rows.items():
        coefs["worked", position[at]] = -1.0
    return {(c, p.iso(t), k): Row(coefs, 0.0, 0.0) for (c, k, t), coefs in rows.items()}


def piece_work(p: Program) -> Rows:
    """Crews paid by the piece do no more of a kind of work than there is.

    Σ_c pace[c] · h″[c,j,t] ≤ Σ_{tasks of kind j on t} seconds / 3600 · amount      for each kind j
    """
    rows: Rows = {}
    for n, i in enumerate(p.crew_tasks):
        kind = i.kind
        label = kind.skill, p.iso(kind.day), kind.task, kind.method, kind.format
        if label not in rows:
            rows[label] = Row({key: -hours for key, hours in p.kinds[kind].items()}, None, 0.0)
        rows[label].coefs["worked_at_task", n] = p.amounts.crews[i.crew].crew.pace
    return rows


GROUPS = (
    skill_hours,
    crew_hours,
    week_hours,
    temporary_new,
    temporary_stayed,
    temporary_hours,
    temporary_overtime_most,
    temporary_week_hours,
    called_most,
    called_least,
    guaranteed_hours,
    skill_limits,
    temporary_skill_limits,
    piece_hours,
    piece_work,
)

"""Constraint groups of labour: hours by skill, crew and week; temporary hands."""

from __future__ import annotations

from collections import defaultdict

from model.program.index_sets import Coefs, CrewInWeek, CrewOnDay, Row, Rows
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


def temporary_hours(p: Program) -> Rows:
    """Temporary hands work no longer than their daily hours, and not at all during training.

    Σ_k h′[c,k,t] ≤ hours per head[t] · (M[c,q] − A[c,q] · [t is one of the first training days of q])
    for each day t of week q on which the crew has a shift
    """
    worked: dict[CrewOnDay, Coefs] = defaultdict(dict)
    for n, i in enumerate(p.temporary_skill_days):
        worked[CrewOnDay(i.crew, i.day)]["temporary_worked", n] = 1.0
    rows: Rows = {}
    for n, index in enumerate(p.crew_weeks):
        limits, week = p.amounts.crews[index.crew], p.weeks[index.week]
        training = limits.training_days(week)
        for t in limits.working(week):
            coefs = worked.get(CrewOnDay(index.crew, t))
            if coefs is not None:
                coefs["temporary_hands", n] = -limits.hours[t]
                if t in training:
                    coefs["new_hands", n] = limits.hours[t]
                rows[index.crew, p.iso(t)] = Row(coefs, None, 0.0)
    return rows


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

    h′[c,k,t] ≤ most hours[c,k] · (M[c,q] − A[c,q] · [t is one of the first training days of q])
    for each limited skill k, day t of week q with a shift and without recorded hours
    """
    weeks = {index: n for n, index in enumerate(p.crew_weeks)}
    rows: Rows = {}
    for n, i in enumerate(p.temporary_skill_days):
        limits = p.amounts.crews[i.crew]
        if i.skill in limits.skill_hours and i.day not in p.network.past.worked_days:
            hours, q = limits.skill_hours[i.skill], p.week_of[i.day]
            hands = weeks[CrewInWeek(i.crew, q)]
            coefs: Coefs = {("temporary_worked", n): 1.0, ("temporary_hands", hands): -hours}
            if i.day in limits.training_days(p.weeks[q]):
                coefs["new_hands", hands] = hours
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
    temporary_hours,
    guaranteed_hours,
    skill_limits,
    temporary_skill_limits,
    piece_hours,
    piece_work,
)

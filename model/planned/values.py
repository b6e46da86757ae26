"""The values of a program's variables, with costless slack removed."""

from __future__ import annotations

from collections import defaultdict
from functools import cached_property
from math import ceil

import numpy as np
from numpy.typing import NDArray

from model.network.germination import SownInto
from model.program.amounts import Key, Left
from model.program.index_sets import Coefs, CrewInWeek, CrewOnDay, Kind
from model.program.needless import (
    TINY,
    free_units_soonest,
    leave_out_change_overs,
    leave_out_packs,
    leave_out_plants,
    leave_out_vehicles,
)
from model.program.program import Program

Floats = NDArray[np.float64]


class Values:
    """Values of all variables, with costless slack removed.

    If trays or hours cost nothing, the optimum may contain more of them than needed. Without this step a
    work list would ask a crew to carry trays that do not exist.
    """

    def __init__(
        self, program: Program, values: dict[str, Floats], *, whole: bool, all_needed: bool = True
    ) -> None:
        """``whole``: trays are. ``all_needed``: also leave out trays, joins and packs that nobody uses."""
        self.program = program
        self.by_variable: dict[str, list[float]] = {
            variable: np.where(np.abs(v) < TINY, 0.0, v).tolist() for variable, v in values.items()
        }
        leave_out_plants(program, self.by_variable, all_jobs=all_needed, whole=whole)
        leave_out_change_overs(program, self.by_variable)
        free_units_soonest(program, self.by_variable)
        self._tighten_listed_hands()
        self._tighten_new_hands()
        self._tighten_stayed_hands()
        self._tighten_hours()
        self._tighten_temporary_overtime()
        self._tighten_tasks()
        self._tighten_idle()
        self._tighten_spare()
        if all_needed:
            leave_out_packs(program, self.by_variable)
            leave_out_vehicles(program, self.by_variable)

    def __getitem__(self, key: Key) -> float:
        return self.by_variable[key[0]][key[1]]

    def total(self, coefs: Coefs) -> float:
        """Σ coefficient · value."""
        values = self.by_variable
        return sum([coef * values[variable][i] for (variable, i), coef in coefs.items()])

    def bench_spans(self, w: int) -> list[tuple[int, int, float]]:
        """Spans (first day, day after the last, trays) of wave w on the bench."""
        wave, first = self.program.network.waves[w], self.program.amounts.first_draw(w)
        come = [(place.bench, trays) for place, trays in self.elsewhere[w]]
        own = self["sown", w] - sum(trays for _, trays in come)
        there = 0.0
        spans: list[tuple[int, int, float]] = []
        for start, trays in sorted([*come, (max(wave.bench, 0), own)]):
            spans = [(a, min(b, start), n) for a, b, n in spans]
            there += trays
            spans.append((start, first, there))
        for k, left in self._left_of[w]:
            spans.append((max(left.start, 0), left.end, self["left", k]))
        joined: list[tuple[int, int, float]] = []
        for start, end, trays in spans:
            if end <= start or trays <= TINY:
                continue
            if joined and joined[-1][1] == start and joined[-1][2] == trays:
                joined[-1] = (joined[-1][0], end, trays)
            else:
                joined.append((start, end, trays))
        return joined

    @cached_property
    def _left_of(self) -> dict[int, list[tuple[int, Left]]]:
        """Decisions ``left`` of each wave, with their indices."""
        found: dict[int, list[tuple[int, Left]]] = defaultdict(list)
        for k, left in enumerate(self.program.amounts.left):
            found[left.wave].append((k, left))
        return found

    @cached_property
    def elsewhere(self) -> dict[int, list[tuple[SownInto, float]]]:
        """Trays of each wave that germinate in further zones."""
        found: dict[int, list[tuple[SownInto, float]]] = defaultdict(list)
        for n, place in enumerate(self.program.amounts.sown_into):
            if self["sown_into", n] > TINY:
                found[place.wave].append((place, self["sown_into", n]))
        return found

    def _tighten_hours(self) -> None:
        p, crews = self.program, self.program.amounts.crews
        offered: dict[tuple[str, int], float] = defaultdict(float)
        indices = [("worked", n, i) for n, i in enumerate(p.crew_skill_days)]
        indices += [("temporary_worked", n, i) for n, i in enumerate(p.temporary_skill_days)]
        for variable, n, i in indices:
            crew = crews[i.crew].crew
            offered[i.skill, i.day] += self[variable, n] * (
                crew.pace if variable == "worked" else crew.temp_pace
            )
        told = p.network.past.worked_days
        for attends in (False, True):  # what machines do says what their attendants do
            needed = {
                at: self.total(p.needs[at])
                for at, supply in offered.items()
                if supply > 0 and at[1] not in told and (at[0] in p.attendant_skills) is attends
            }
            for variable, n, i in indices:
                if (i.skill, i.day) in needed:
                    share = needed[i.skill, i.day] / offered[i.skill, i.day]
                    self.by_variable[variable][n] *= min(1.0, share)
        worked: dict[CrewOnDay, float] = defaultdict(float)
        for variable, n, i in indices:
            if variable == "worked":
                worked[CrewOnDay(i.crew, i.day)] += self[variable, n]
        for n, at in enumerate(p.crew_weeks):
            limits = crews[at.crew]
            for t in limits.training_days(p.weeks[at.week]):
                worked[CrewOnDay(at.crew, t)] += limits.crew.temp_trainer_hours * self["new_hands", n]
        for n, index in enumerate(p.crew_days):
            if index.day in told:
                continue
            spare = max(self["regular", n] + self["overtime", n] - worked[index], 0.0)
            from_overtime = min(spare, self["overtime", n])
            self.by_variable["overtime"][n] -= from_overtime
            self.by_variable["regular"][n] -= spare - from_overtime

    def _tighten_tasks(self) -> None:
        """Hours at kinds of work follow those at their skill, in proportion to the work if that is less."""
        p, crews = self.program, self.program.amounts.crews
        hours = {tuple(i): self["worked", n] for n, i in enumerate(p.crew_skill_days)}
        at_tasks: dict[tuple[str, str, int], float] = defaultdict(float)
        for n, i in enumerate(p.crew_tasks):
            at_tasks[i.crew, i.kind.skill, i.kind.day] += self["worked_at_task", n]
        done: dict[Kind, float] = defaultdict(float)
        for n, i in enumerate(p.crew_tasks):
            at = i.crew, i.kind.skill, i.kind.day
            share = hours[at] / at_tasks[at] if at_tasks[at] > 0 else 0.0
            self.by_variable["worked_at_task"][n] *= share
            done[i.kind] += self["worked_at_task", n] * crews[i.crew].crew.pace
        work = {kind: self.total(p.kinds[kind]) for kind in done}
        over = {(k.skill, k.day) for k, given in done.items() if given > work[k] + TINY}
        over |= {at[1:] for at, given in at_tasks.items() if given <= 0 < hours[at]}
        for n, i in enumerate(p.crew_tasks):
            at = i.crew, i.kind.skill, i.kind.day
            if at[1:] in over:
                share = work[i.kind] / self.total(p.needs[at[1:]])
                self.by_variable["worked_at_task"][n] = hours[at] * share

    def _tighten_idle(self) -> None:
        """Hours that were only paid, not needed, become guaranteed hours without work: at the same cost."""
        worked: dict[CrewInWeek, float] = defaultdict(float)
        p = self.program
        for n, i in enumerate(p.crew_days):
            worked[CrewInWeek(i.crew, p.week_of[i.day])] += self["regular", n]
        for n, index in enumerate(p.guaranteed_weeks):
            hours = p.amounts.crews[index.crew].guaranteed_hours(p.weeks[index.week])
            self.by_variable["idle"][n] = max(0.0, hours - worked[index])

    def _tighten_listed_hands(self) -> None:
        """Hands hired by the day leave the list after the last week in which they are needed on it."""
        p = self.program
        settled, later = p.settled.get("temporary_hands", {}), dict[str, float]()
        called: dict[CrewInWeek, list[tuple[int, float]]] = defaultdict(list)
        for n, at in enumerate(p.called_days):
            called[CrewInWeek(at.crew, p.week_of[at.day])].append((at.day, self["called_hands", n]))
        for n, index in reversed([*enumerate(p.crew_weeks)]):
            limits, week = p.amounts.crews[index.crew], p.weeks[index.week]
            if limits.by_day:
                hands, new = self["temporary_hands", n], self["new_hands", n]
                if n not in settled:
                    training, most = limits.training_days(week), limits.crew.week_hours_per_head
                    needed = [new * (t in training) + heads for t, heads in called[index]]
                    if most:
                        hours = sum(limits.hours[t] * heads for t, heads in called[index])
                        least = (hours + new * limits.training_hours(week)) / most
                        needed.append(ceil(least - TINY) if hands % 1.0 < TINY else least)
                    hands = min(hands, max([*needed, later.get(index.crew, 0.0), 0.0]))
                    self.by_variable["temporary_hands"][n] = hands
                later[index.crew] = hands - new

    def _tighten_temporary_overtime(self) -> None:
        """Overtime of temporary hands is no more than what their hours exceed their shifts by."""
        p = self.program
        worked: dict[CrewOnDay, float] = defaultdict(float)
        for n, i in enumerate(p.temporary_skill_days):
            worked[CrewOnDay(i.crew, i.day)] += self["temporary_worked", n]
        settled = p.settled.get("temporary_overtime", {})
        for n, at in enumerate(p.temporary_overtime_days):
            if n not in settled:
                shifts = p.amounts.crews[at.crew].hours[at.day] * self.total(p.temporary_at_work[at])
                over = min(self["temporary_overtime", n], worked[at] - shifts)
                self.by_variable["temporary_overtime"][n] = over if over > TINY else 0.0

    def _tighten_new_hands(self) -> None:
        for n, index in enumerate(self.program.crew_weeks):
            before = self["temporary_hands", n - 1] if index.week > 0 else 0.0
            self.by_variable["new_hands"][n] = max(0.0, self["temporary_hands", n] - before)

    def _tighten_stayed_hands(self) -> None:
        """As many hands have stayed for k weeks as were there in each of them."""
        at = {index: n for n, index in enumerate(self.program.crew_weeks)}
        for i, n in self.program.stayed_hands.items():
            weeks = range(i.week - i.weeks, i.week + 1)
            stayed = min(self["temporary_hands", at[CrewInWeek(i.crew, q)]] for q in weeks)
            self.by_variable["stayed_hands"][n] = stayed

    def _tighten_spare(self) -> None:
        p = self.program
        for n, index in enumerate(p.spare_days):
            if n not in p.settled.get("spare_bought", {}):
                plants = sum(self["bought", i] for i in index.buy_ins)
                taken = self["offer_taken", p.offer_days.index(index)]
                lacking = p.network.offers[index.offer].least_quantity * taken - plants
                spare = min(self["spare_bought", n], lacking) if plants > TINY else 0.0
                self.by_variable["spare_bought"][n] = max(0.0, spare)

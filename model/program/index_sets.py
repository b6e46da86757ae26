"""Index sets of the program: the meaning of each index of a variable or row. Symbols as in docs/maths.md."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, cached_property
from itertools import groupby
from typing import Any, NamedTuple

from model.network.batch_days import BatchDay, batch_days
from model.network.groups import named
from model.network.riding import Riding, RunDay, riding, run_days
from model.network.types import Network, OrderTerms
from model.program.amounts import CHANGING_OVER, Amounts, Key, Use, Work
from model.program.apart_sets import ApartSets
from model.scenario.calendar import Week
from model.scenario.capacity import TimedRole
from model.scenario.choices import Decline, Shared
from model.scenario.entities import Product
from model.scenario.records.trade import Pack

Coefs = dict[Key, float]
Label = tuple[Any, ...]
"""Label of a variable or row: names from the scenario, days as ISO dates, sizes of packs."""


class Row(NamedTuple):
    """lower ≤ Σ coefficient · variable ≤ upper; None for no bound."""

    coefs: Coefs
    lower: float | None
    upper: float | None


Rows = dict[Label, Row]


class CrewDaySkill(NamedTuple):
    """Index of h and h′: hours of a crew at a skill on a day."""

    crew: str
    skill: str
    day: int


ATTENDING = "attend"
"""Task of the attendants of machines."""


class Attendance(NamedTuple):
    """Hours of attendants, at the standard pace, that one hour of a machine takes on a day."""

    key: Key
    served: str
    """Skill that the machine works at."""
    skill: str
    """Skill of the attendants."""
    day: int
    hours: float


class Kind(NamedTuple):
    """Work of a skill on a day that is paid alike; ``of``: None where no pieces are counted."""

    skill: str
    task: str
    method: str | None
    format: str | None
    day: int
    of: TimedRole | None


class CrewAtTask(NamedTuple):
    """Index of h″: a crew paid by the piece, and a kind of work."""

    crew: str
    kind: Kind


class CrewOnDay(NamedTuple):
    """Index of reg and ot."""

    crew: str
    day: int


class CrewInWeek(NamedTuple):
    """Index of M and A; ``week`` numbers the calendar's weeks."""

    crew: str
    week: int


class StayedInWeek(NamedTuple):
    """Index of S: hands of a crew in a week that have been there for ``weeks`` weeks before it."""

    crew: str
    week: int
    weeks: int


class BaysInWeek(NamedTuple):
    """Index of G: bays of a zone in a week; ``week`` numbers the calendar's weeks."""

    zone: str
    week: int


class LotPart(NamedTuple):
    """Index of Q: a delivery to an order spread over lots, and the lots joined; own-root: no rootstock."""

    delivery: int
    rootstock: str | None
    scion: str


class UnitPart(NamedTuple):
    """Index of U: a delivery to an order spread over units, and a load that may hold its plants."""

    delivery: int
    load: int


class OfferDay(NamedTuple):
    """Index of B: a delivery of an offer on a day, with the buy-ins that it may include."""

    offer: int
    day: int
    buy_ins: tuple[int, ...]


@dataclass
class IndexSets:
    """Index sets of the program of one network."""

    network: Network
    amounts: Amounts

    @cached_property
    def iso(self) -> Callable[[int], str]:
        """ISO date of a day."""
        at = self.network.calendar.date
        return cache(lambda day: at(day).isoformat())

    @cached_property
    def wave_labels(self) -> list[tuple[str, str, str]]:
        """Seed lot, format and sowing day of each wave."""
        return [(w.lot.lot, w.tray.format, self.iso(w.sow)) for w in self.network.waves]

    def flow_label(self, product: str, graft: str, in_zones: str | None) -> Label:
        """Label of a flow; ``graft`` as an ISO date. Zones stand in it where some stage has several."""
        chosen = in_zones is not None or self.network.scenario.stage_zones
        return (product, graft, in_zones) if chosen else (product, graft)

    @cached_property
    def flow_labels(self) -> list[Label]:
        """Product and graft day of each flow, and the zones chosen where some stage has several."""
        flows = self.network.flows
        return [
            self.flow_label(flow.product.product, self.iso(flow.graft), flow.key.in_zones) for flow in flows
        ]

    def batch_label(self, zone: str, opened: str, shut: str, not_for: str | None) -> Label:
        """Label of units opened on a day and free again on ``shut``, both as ISO dates.

        It says who may not be in them where groups may not share a unit.
        """
        return (zone, opened, shut, not_for) if self.parted_units else (zone, opened, shut)

    @property
    def parted_units(self) -> bool:
        """Whether there are groups that may not share a unit."""
        return any(rule.share is Shared.UNIT for rule in self.network.scenario.apart)

    @cached_property
    def batch_labels(self) -> list[Label]:
        """Label of each batch of units opened."""
        batches = self.amounts.batches
        return [
            self.batch_label(b.zone, self.iso(b.open), self.iso(b.shut), named(b.not_for)) for b in batches
        ]

    @cached_property
    def stay_labels(self) -> list[Label]:
        """Flow, zone and first day of each stay in a zone run in units."""
        stays = self.amounts.load_stays
        return [(*self.flow_labels[s.flow], s.stay.zone, self.iso(s.stay.start)) for s in stays]

    @cached_property
    def opened_waves(self) -> list[int]:
        """Index list of O: all waves if waves have a fixed cost, else none."""
        return list(range(len(self.network.waves))) if self.network.scenario.nursery.wave_cost > 0 else []

    @cached_property
    def batch_days(self) -> list[BatchDay]:
        """Index list of Y: graft days from today of methods with a least batch."""
        return batch_days(self.network)

    @cached_property
    def apart(self) -> ApartSets:
        """Index lists of F, E and Z: groups kept apart, and orders of one lot."""
        return ApartSets(self.network, self.amounts)

    @cached_property
    def joins_of_lots(self) -> dict[int, dict[tuple[str | None, str], list[int]]]:
        """For each flow with a part in ``lot_parts`` its joins by the lots of rootstock and scion."""
        network = self.network
        found: dict[int, dict[tuple[str | None, str], list[int]]] = {}
        for i in self._spread_over(lambda term: term.of_one_lot):
            f = network.deliveries[i].flow
            if f not in found:
                by_lots: dict[tuple[str | None, str], list[int]] = defaultdict(list)
                for j in network.flow_joins[f]:
                    join = network.joins[j]
                    root = None if join.rootstock is None else network.waves[join.rootstock].lot.lot
                    by_lots[root, network.waves[join.scion].lot.lot].append(j)
                found[f] = dict(sorted(by_lots.items(), key=lambda item: (item[0][0] or "", item[0][1])))
        return found

    @cached_property
    def lot_parts(self) -> list[LotPart]:
        """Index list of Q."""
        return [
            LotPart(i, *lots)
            for i in self._spread_over(lambda term: term.of_one_lot)
            for lots in self.joins_of_lots[self.network.deliveries[i].flow]
        ]

    @cached_property
    def unit_parts(self) -> list[UnitPart]:
        """Index list of U."""
        spread = self._spread_over(lambda term: term.of_one_unit)
        if not spread:
            return []
        loads: dict[int, list[int]] = defaultdict(list)
        for n, load in enumerate(self.amounts.loads):
            loads[self.amounts.load_stays[load.stay].flow].append(n)
        return [UnitPart(i, n) for i in spread for n in loads[self.network.deliveries[i].flow]]

    def _spread_over(self, most: Callable[[OrderTerms], float | None]) -> list[int]:
        """Deliveries from flows grafted from today on to the orders that have such a most."""
        network = self.network
        return [
            i
            for i, delivery in enumerate(network.deliveries)
            if most(network.orders[delivery.order]) is not None
            and network.flows[delivery.flow].graft >= network.past.today
        ]

    @cached_property
    def serves(self) -> list[list[int]]:
        """For each flow the indices of its deliveries."""
        found: list[list[int]] = [[] for _ in self.network.flows]
        for i, delivery in enumerate(self.network.deliveries):
            found[delivery.flow].append(i)
        return found

    @cached_property
    def largest_margins(self) -> dict[int, float]:
        """For each wave the largest sowing margin ε₁ of the flows that may keep spare seedlings of it."""
        margins: dict[int, float] = defaultdict(float)
        for reserve in self.network.reserves:
            for i in reserve.spares:
                w = self.network.spares[i].wave
                margins[w] = max(margins[w], reserve.most)
        return margins

    @cached_property
    def weeks(self) -> list[Week]:
        """Weeks of the calendar."""
        return self.network.calendar.weeks

    @cached_property
    def week_of(self) -> dict[int, int]:
        """Number of the week of each day."""
        return {t: q for q, week in enumerate(self.weeks) for t in week.days}

    @cached_property
    def work(self) -> list[Work]:
        """All work that decisions cause, changing over at the grafting table included."""
        nursery, found = self.network.scenario.nursery, list(self.amounts.work)
        if nursery.change_over_skill is not None:
            hours, skill = nursery.change_over_seconds / 3600, nursery.change_over_skill
            for n, at in enumerate(self.apart.admitted):
                if at in self.apart.changed_over:
                    found.append(Work(("admitted", n), hours, CHANGING_OVER, skill, at.day))
        return found

    @cached_property
    def needs(self) -> dict[tuple[str, int], Coefs]:
        """Coefficients of the hours needed, by skill and day; those of attendants included."""
        needs: dict[tuple[str, int], Coefs] = defaultdict(lambda: defaultdict(float))
        for work in self.work:
            needs[work.skill, work.day][work.key] += work.hours
        for attends in self.attendance:
            needs[attends.skill, attends.day][attends.key] += attends.hours
        return dict(sorted(needs.items()))

    @cached_property
    def attendant_skills(self) -> set[str]:
        """Skills of the attendants of machines."""
        crews = [limits.crew for limits in self.amounts.crews.values()]
        return {crew.attendant_skill for crew in crews if crew.attendants > 0 and crew.attendant_skill}

    @cached_property
    def attendance(self) -> list[Attendance]:
        """What hours of machines take of their attendants."""
        found = []
        for variable, indices in (
            ("worked", self.crew_skill_days),
            ("temporary_worked", self.temporary_skill_days),
        ):
            for n, i in enumerate(indices):
                crew = self.amounts.crews[i.crew].crew
                if crew.attendants > 0 and crew.attendant_skill is not None:
                    skill, key = crew.attendant_skill, (variable, n)
                    found.append(Attendance(key, i.skill, skill, i.day, crew.attendants))
        return found

    @cached_property
    def uses(self) -> list[Use]:
        """All seed and supplies used: by what is grown, and by hands and machines for each hour."""
        found = list(self.amounts.uses)
        for variable, indices in (
            ("worked", self.crew_skill_days),
            ("temporary_worked", self.temporary_skill_days),
        ):
            for n, i in enumerate(indices):
                crew = self.amounts.crews[i.crew].crew
                if crew.supply is not None and crew.supply_per_hour > 0:
                    found.append(Use((variable, n), crew.supply, crew.supply_per_hour, i.day))
        return found

    @cached_property
    def in_and_out(self) -> dict[str, list[Use]]:
        """What is used of each item, and what comes back of it, as units below 0; items in order."""
        found: dict[str, list[Use]] = defaultdict(list)
        for use in self.uses:
            found[use.item].append(use)
        for back in self.amounts.returns:
            found[back.item].append(back._replace(units=-back.units))
        return dict(sorted(found.items()))

    def days_back(self, item: str) -> list[int]:
        """Days on which units of an item come back, in order.

        Between two of them the units out only become more, so they are most just before one, or at the end.
        """
        return sorted({use.day for use in self.in_and_out.get(item, ()) if use.units < 0})

    @cached_property
    def skill_days(self) -> list[tuple[str, int]]:
        """Skills and days with work, that of attendants included."""
        days = {(work.skill, work.day) for work in self.work}
        attended = {
            (crew.attendant_skill, day)
            for crew in (limits.crew for limits in self.amounts.crews.values())
            if crew.attendants > 0 and crew.attendant_skill is not None
            for skill, day in days
            if skill in crew.skills
        }
        return sorted(days | attended)

    @cached_property
    def crew_skill_days(self) -> list[CrewDaySkill]:
        """Index list of h."""
        return [
            CrewDaySkill(name, skill, day)
            for name, limits in self.amounts.crews.items()
            for skill, day in self.skill_days
            if skill in limits.crew.skills
        ]

    @cached_property
    def kinds(self) -> dict[Kind, Coefs]:
        """Hours needed by kind of work, on days without recorded hours; none if no pay is by the piece."""
        if not any(limits.by_piece for limits in self.amounts.crews.values()):
            return {}
        told = self.network.past.worked_days
        needs: dict[Kind, Coefs] = defaultdict(lambda: defaultdict(float))
        for w in self.work:
            if w.day not in told:
                needs[Kind(w.skill, w.task, w.method, w.format, w.day, w.of)][w.key] += w.hours
        for a in self.attendance:
            if a.day not in told:
                needs[Kind(a.skill, ATTENDING, None, None, a.day, None)][a.key] += a.hours
        return dict(
            sorted(needs.items(), key=lambda item: tuple(part or "" for part in item[0][:4]) + item[0][4:])
        )

    def piece_rate(self, index: CrewAtTask) -> float | None:
        """Pay for a piece, in currency; None if the work is paid by the hour."""
        kind, limits = index.kind, self.amounts.crews[index.crew]
        return None if kind.of is None else limits.piece_rate(kind.of, kind.method, kind.format)

    def beyond_the_hour(self, index: CrewAtTask) -> float:
        """What an hour of pieces pays beyond the pay by the hour, in currency; 0 for work by the hour."""
        rate, kind = self.piece_rate(index), index.kind
        if rate is None or kind.of is None:
            return 0.0
        return self.amounts.crews[index.crew].beyond_the_hour(rate, kind.of.hours, kind.day)

    @cached_property
    def crew_tasks(self) -> list[CrewAtTask]:
        """Index list of h″: all kinds of work of a skill and day of which some is paid by the piece."""
        found: list[CrewAtTask] = []
        for name, limits in self.amounts.crews.items():
            if limits.by_piece:
                own = [CrewAtTask(name, kind) for kind in self.kinds if kind.skill in limits.crew.skills]
                paid = {(i.kind.skill, i.kind.day) for i in own if self.piece_rate(i) is not None}
                found += [i for i in own if (i.kind.skill, i.kind.day) in paid]
        return found

    @cached_property
    def temporary_skill_days(self) -> list[CrewDaySkill]:
        """Index list of h′."""
        crews = self.amounts.crews
        return [
            index
            for index in self.crew_skill_days
            if crews[index.crew].on_duty[index.day] and crews[index.crew].crew.temp_heads_most > 0
        ]

    @cached_property
    def crew_days(self) -> list[CrewOnDay]:
        """Index list of reg and ot."""
        found = {CrewOnDay(i.crew, i.day) for i in self.crew_skill_days}
        found |= {CrewOnDay(*key) for key in self.network.past.worked}
        for name, limits in self.amounts.crews.items():
            if limits.crew.temp_heads_most > 0 and limits.crew.temp_trainer_hours > 0:
                found |= {CrewOnDay(name, t) for week in self.weeks for t in limits.training_days(week)}
        return sorted(found)

    @cached_property
    def crew_weeks(self) -> list[CrewInWeek]:
        """Index list of M and A."""
        return [CrewInWeek(*at) for at in self.amounts.crew_weeks]

    @cached_property
    def stayed_hands(self) -> dict[StayedInWeek, int]:
        """Index list of S, and the position of each: one for each week of a crew's pace by week."""
        at = [(i, len(self.amounts.crews[i.crew].shares)) for i in self.crew_weeks]
        found = [StayedInWeek(*i, k) for i, weeks in at for k in range(1, min(i.week, weeks) + 1)]
        return {index: n for n, index in enumerate(found)}

    @cached_property
    def called_days(self) -> list[CrewOnDay]:
        """Index list of M′: days with a shift of crews whose temporary hands are hired by the day."""
        return [
            CrewOnDay(index.crew, t)
            for index in self.crew_weeks
            if (limits := self.amounts.crews[index.crew]).by_day
            for t in limits.working(self.weeks[index.week])
        ]

    @cached_property
    def temporary_overtime_days(self) -> list[CrewOnDay]:
        """Index list of ot′: days with a shift of crews whose temporary hands may work overtime."""
        return [
            CrewOnDay(index.crew, t)
            for index in self.crew_weeks
            if (limits := self.amounts.crews[index.crew]).crew.temp_overtime_hours_per_head_day > 0
            for t in limits.working(self.weeks[index.week])
        ]

    @cached_property
    def temporary_at_work(self) -> dict[CrewOnDay, Coefs]:
        """Trained temporary hands at work, each as its share of the pace, by crew and day with a shift."""
        called = {index: n for n, index in enumerate(self.called_days)}
        found: dict[CrewOnDay, Coefs] = {}
        for n, index in enumerate(self.crew_weeks):
            limits, week = self.amounts.crews[index.crew], self.weeks[index.week]
            training, steps = limits.training_days(week), limits.pace_steps
            for t in limits.working(week):
                at = CrewOnDay(index.crew, t)
                if limits.by_day:
                    found[at] = {("called_hands", called[at]): 1.0}
                else:
                    found[at] = {("temporary_hands", n): steps[0]}
                    found[at] |= {("new_hands", n): -steps[0]} if t in training else {}
                    for k in range(1, min(index.week + 1, len(steps))):
                        found[at]["stayed_hands", self.stayed_hands[StayedInWeek(*index, k)]] = steps[k]
        return found

    @cached_property
    def guaranteed_weeks(self) -> list[CrewInWeek]:
        """Index list of I: weeks with shifts of crews with guaranteed hours."""
        return [
            CrewInWeek(name, q)
            for name, limits in self.amounts.crews.items()
            if limits.crew.guaranteed_hours_per_head_week
            for q, week in enumerate(self.weeks)
            if limits.working(week)
        ]

    @cached_property
    def in_bays(self) -> dict[tuple[BaysInWeek, int], Coefs]:
        """Slots that decisions take on each day in zones with bays, in weeks in which a bay costs."""
        week_of, weeks, bays = self.week_of, self.weeks, self.amounts.bays
        costs = {zone: [limits.week_cost(week) for week in weeks] for zone, limits in bays.items()}
        found: dict[tuple[BaysInWeek, int], Coefs] = defaultdict(lambda: defaultdict(float))
        for s in self.amounts.standing:
            for t in range(s.start, s.end) if s.zone in bays else ():
                if costs[s.zone][week_of[t]] > 0:
                    found[BaysInWeek(s.zone, week_of[t]), t][s.key] += s.trays * s.slots
        return dict(sorted(found.items()))

    @cached_property
    def bay_weeks(self) -> list[BaysInWeek]:
        """Index list of G."""
        return list(dict.fromkeys(index for index, _ in self.in_bays))

    @cached_property
    def packs(self) -> list[Pack]:
        """Index list of P."""
        return list(self.network.scenario.packs)

    @cached_property
    def items(self) -> dict[str, tuple[float, int]]:
        """Stock and lead days of every seed lot and supply."""
        scenario = self.network.scenario
        items = {lot.lot: (float(lot.stock), lot.lead_days) for lot in scenario.seed_lots}
        return items | {s.supply: (s.stock, s.lead_days) for s in scenario.supplies}

    @cached_property
    def offer_days(self) -> list[OfferDay]:
        """Index list of B: deliveries with a least or a most quantity."""
        found = []
        buy_ins = list(enumerate(self.network.buy_ins))
        for (f, day), group in groupby(buy_ins, key=lambda item: (item[1].offer, item[1].day)):
            offer = self.network.offers[f]
            if offer.least_quantity > 0 or offer.most_per_delivery is not None:
                found.append(OfferDay(f, day, tuple(i for i, _ in group)))
        return found

    @cached_property
    def spare_days(self) -> list[OfferDay]:
        """Index list of v: deliveries with a least quantity."""
        return [index for index in self.offer_days if self.network.offers[index.offer].least_quantity > 0]

    @cached_property
    def run_days(self) -> list[RunDay]:
        """Index list of V: runs on days on which plants may leave with them."""
        return run_days(self.network)

    @cached_property
    def riding(self) -> list[Riding]:
        """Index list of R: orders that leave in whole trays, on days of runs."""
        return riding(self.network, self.run_days)

    @cached_property
    def rides(self) -> list[Coefs]:
        """For each run day the trays of each decision: plants that ride, or whole trays of an order."""
        found: list[Coefs] = [dict(on.trays) for on in self.run_days]
        for k, ride in enumerate(self.riding):
            for key in ride.trays:
                del found[ride.on][key]
            found[ride.on]["riding", k] = 1.0
        return found

    def declinable(self, how: Decline) -> list[int]:
        """Index list of D (orders that may be declined in part) or of W (whole), as indices of orders."""
        orders = self.network.orders
        return [o for o, term in enumerate(orders) if term.order.decline is how]

    @cached_property
    def declined(self) -> list[tuple[Key, int, float]]:
        """Keys of D and W, each with the index of its order and the plants declined per unit."""
        orders = self.network.orders
        open_ = enumerate(self.declinable(Decline.PART))
        parts = [(("declined", n), o, float(orders[o].declined_at_once)) for n, o in open_]
        whole = enumerate(self.declinable(Decline.WHOLE))
        return parts + [(("declined_whole", n), o, float(orders[o].order.quantity)) for n, o in whole]

    @cached_property
    def salvaged(self) -> list[tuple[Product, list[int]]]:
        """Index list of z: products with a salvage price, and the flows sold as them."""
        flows: dict[str, list[int]] = defaultdict(list)
        for f, flow in enumerate(self.network.flows):
            flows[flow.sold_as.product].append(f)
        return [
            (product, flows[product.product])
            for product in self.network.scenario.products
            if product.salvage_price > 0 and product.salvage_most > 0 and flows[product.product]
        ]

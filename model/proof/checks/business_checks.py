"""Checks of hands, plants bought in, stock, money and the bound."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date
from itertools import pairwise
from typing import Any

from model.proof.checks.growing_checks import slots_used
from model.proof.problems import ABSOLUTE, CENT, Problem, differs, exceeds, more, unless, wrong
from model.proof.replay import Replay
from model.proof.world import ONE_DAY
from model.scenario.choices import Happened, Part, PayBasis, Source
from model.scenario.entities import Nursery
from model.scenario.records.overheads import Overhead


def hands_do_the_work(r: Replay) -> Iterator[Problem]:
    """The hours of each skill, task and day equal those that the day's work and machines take."""
    given: dict[tuple[str, str, date], float] = defaultdict(float)
    for row in r.rows["hours"]:
        crew = r.world.crews[row["crew"]]
        place = f"{row['crew']} on {row['day']}"
        yield from wrong(f"{place}: the crew lacks the skill {row['skill']}", row["skill"] in crew.skills)
        pace = crew.pace if row["hands"] == "own" else crew.temp_pace
        given[row["skill"], row["task"], row["day"]] += row["hours"] * pace
    recorded = r.world.record.worked_days
    for key in {key for key in (*r.needed, *given) if key[2] not in recorded}:
        skill, task, day = key
        place = f"{task} ({skill}) on {day}, hours at the standard pace"
        yield from differs(place, given[key], r.needed[key])


def crews_keep_their_hours(r: Replay) -> Iterator[Problem]:
    """Regular hours, overtime, hours on days off and weekly hours stay within the crew's limits."""
    worked: dict[tuple[str, str, date], float] = defaultdict(float)
    for row in r.rows["hours"]:
        worked[row["crew"], row["hands"], row["day"]] += row["hours"]
    yield from _skill_hours(r)
    weeks: dict[tuple[str, date], float] = defaultdict(float)
    for row in r.rows["crew_days"]:
        crew, day = r.world.crews[row["crew"]], row["day"]
        heads, pay, overtime_pay = r.world.crew_day(row["crew"], day)
        place, shift = f"{row['crew']} on {day}", r.world.shift(row["crew"], day)
        regular = heads * (shift or 0.0)
        more = crew.day_off_hours_per_head if shift is None else crew.overtime_hours_per_head_day
        yield from exceeds(f"{place}, regular hours", row["regular"], regular)
        if day >= r.world.record.today:
            yield from exceeds(f"{place}, overtime", row["overtime"], heads * more)
        yield from differs(f"{place}, regular hours available", row["regular_available"], regular)
        yield from differs(f"{place}, overtime available", row["overtime_available"], heads * more)
        own = worked.pop((row["crew"], "own", day), 0.0)
        if day not in r.world.record.worked_days:
            yield from differs(f"{place}, own hours", row["regular"] + row["overtime"], own + row["training"])
        temporary = worked.pop((row["crew"], "temporary", day), 0.0)
        yield from differs(f"{place}, temporary hours", row["temporary"], temporary)
        paid = regular if crew.pay_basis is PayBasis.COMMITTED else row["regular"]
        yield from differs(f"{place}, pay", row["amount"], paid * pay + row["overtime"] * overtime_pay, CENT)
        weeks[row["crew"], r.world.week(day)] += row["regular"] + row["overtime"]
    for (name, monday), hours in weeks.items():
        per_head, days = r.world.crews[name].week_hours_per_head, r.world.week_days(monday)
        if per_head is not None and days[-1] >= r.world.record.today:
            heads = max(r.world.crew_day(name, day)[0] for day in days)
            recorded = sum(r.world.record.recorded(Happened.WORKED, name, day) for day in days)
            yield from exceeds(f"{name}, week of {monday}, hours", hours, max(heads * per_head, recorded))
    for key, hours in worked.items():
        yield f"{key[0]} on {key[2]}: table crew_days lacks this crew and day", hours


def _skill_hours(r: Replay) -> Iterator[Problem]:
    """Hours at a skill stay within those that its limit allows each hand who works that day."""
    limits = r.world.scenario.skill_limits
    at_skill: dict[tuple[str, str, str, date], float] = defaultdict(float)
    for row in r.rows["hours"] if limits else ():
        if row["day"] >= r.world.record.today:
            at_skill[row["crew"], row["hands"], row["skill"], row["day"]] += row["hours"]
    temporary = _TemporaryHands(r)
    at_work = {(row["crew"], row["day"]): temporary.at_work(row) for row in r.rows["crew_days"]}
    for (name, hands, skill, day), hours in at_skill.items():
        fitting = {row.crew: row.hours_per_head_day for row in limits if row.skill == skill}
        most = fitting.get(name, fitting.get(None))
        if most is not None:
            heads = r.world.crew_day(name, day)[0]
            if hands == "temporary":
                heads = at_work.get((name, day), 0.0)
            yield from exceeds(f"{name} ({hands} hands) on {day}, hours at {skill}", hours, heads * most)


def piece_rates_are_paid(r: Replay) -> Iterator[Problem]:
    """Pieces are as many as the hours give, no more than there are, and paid at their rate or by the hour."""
    done: dict[tuple[str, str, str | None, str | None, date], float] = defaultdict(float)
    at_task: dict[tuple[str, str, str, date], float] = defaultdict(float)
    for row in r.rows["pieces"]:
        crew, task, kind, day = (
            r.world.crews[row["crew"]],
            row["task"],
            (row["method"], row["format"]),
            row["day"],
        )
        place = f"{row['crew']} on {day}, {task}"
        paid = r.world.piece_rate(row["crew"], task, *kind)
        yield from wrong(f"{place}: is not paid by the piece", paid is not None)
        if paid is None:
            continue
        rate, seconds = paid
        yield from differs(f"{place}, pay for a piece", row["rate"], rate, CENT)
        pieces = row["hours"] * crew.pace * 3600 / seconds
        yield from differs(f"{place}, pieces", row["pieces"], pieces)
        by_the_hour = row["hours"] * r.world.crew_day(row["crew"], day)[1]
        beyond = max(0.0, pieces * rate - by_the_hour)
        yield from differs(f"{place}, pay beyond the hour", row["amount"], beyond, CENT)
        done[row["skill"], task, *kind, day] += row["hours"] * crew.pace
        at_task[row["crew"], row["skill"], task, day] += row["hours"]
    for (skill, task, method, format_, day), hours in done.items():
        place = f"{task} ({skill}) by the piece on {day}, hours at the standard pace"
        yield from exceeds(place, hours, r.by_kind[skill, task, method, format_, day])
    crews = {row.crew for row in r.world.scenario.piece_rates}
    for row in r.rows["hours"] if crews else ():
        if row["crew"] in crews and row["hands"] == "own":
            by_piece = at_task.pop((row["crew"], row["skill"], row["task"], row["day"]), 0.0)
            place = f"{row['crew']} on {row['day']}, hours at {row['task']}"
            yield from exceeds(f"{place} by the piece", by_piece, row["hours"])
            others = _by_the_hour(r, row["crew"], row["skill"], row["task"], row["day"])
            rest = (row["hours"] - by_piece) * r.world.crews[row["crew"]].pace
            yield from exceeds(f"{place} paid by the hour, at the standard pace", rest, others)
    for name, skill, task, day in at_task:
        yield from wrong(f"{name} on {day}: pieces of {task} ({skill}) without hours", False)


def _by_the_hour(r: Replay, crew: str, skill: str, task: str, day: date) -> float:
    """Hours of a task on a day that the crew would not be paid for by the piece, at the standard pace."""
    kinds = {at: hours for at, hours in r.by_kind.items() if (at[0], at[1], at[4]) == (skill, task, day)}
    paid = sum(h for at, h in kinds.items() if r.world.piece_rate(crew, task, at[2], at[3]) is not None)
    return r.needed[skill, task, day] - paid


def guaranteed_hours_are_paid(r: Replay) -> Iterator[Problem]:
    """In each week a crew is paid for its guaranteed hours, worked or not."""
    regular: dict[tuple[str, date], float] = defaultdict(float)
    for row in r.rows["crew_days"]:
        regular[row["crew"], r.world.week(row["day"])] += row["regular"]
    told = {(row["crew"], r.world.week(row["week_day"])): row for row in r.rows["guaranteed"]}
    for crew in r.world.crews.values():
        for monday in sorted({r.world.week(day) for day in r.world.days}):
            days = r.world.shifts(crew.crew, monday)
            row = told.pop((crew.crew, monday), {"guaranteed": None, "idle": 0.0, "amount": 0.0})
            hours = crew.guaranteed_hours_per_head_week
            if hours is None or not days:
                yield from differs(f"{crew.crew}, week of {monday}, hours without work", row["idle"], 0.0)
                continue
            heads = sum(r.world.crew_day(crew.crew, day)[0] for day in days)
            right = hours * heads / r.world.weekdays_with_a_shift(crew.crew)
            idle = max(0.0, right - regular[crew.crew, monday])
            place = f"{crew.crew}, week of {monday}"
            if row["guaranteed"] is not None:
                yield from differs(f"{place}, guaranteed hours", row["guaranteed"], right)
            yield from differs(f"{place}, hours without work", row["idle"], idle)
            pay = idle * r.world.crew_day(crew.crew, days[0])[1]
            yield from differs(f"{place}, pay of hours without work", row["amount"], pay, CENT)
    for name, monday in told:
        yield from wrong(f"{name}, week of {monday}: no such week", False)


class _TemporaryHands:
    """Temporary hands of the plan on each day."""

    def __init__(self, r: Replay) -> None:
        self._world = r.world
        self.hired = {(row["crew"], r.world.week(row["week_day"])): row for row in r.rows["temporary"]}
        """Rows of the temporary hands by crew and Monday."""
        self._shares: dict[str, list[float]] = defaultdict(list)
        for of in sorted(r.world.scenario.pace_by_week, key=lambda of: of.week):
            if of.share < 1:
                self._shares[of.crew].append(of.share)

    def in_training(self, row: dict[str, Any]) -> float:
        """New hands that are in training on the day of a row of the crews' days."""
        name, monday = row["crew"], self._world.week(row["day"])
        week = self.hired.get((name, monday))
        if week is None:
            return 0.0
        days = self._world.shifts(name, monday)[: self._world.crews[name].temp_training_days]
        return float(week["new"]) if row["day"] in days else 0.0

    def longer(self, row: dict[str, Any]) -> float:
        """Hands that may work overtime on the day of a row of the crews' days: those that have learned."""
        name, day = row["crew"], row["day"]
        if not self._shares[name]:
            return self.at_work(row)
        return self.learned(name, day) if self._world.shift(name, day) is not None else 0.0

    def learned(self, name: str, day: date) -> float:
        """Hands of a crew in the week of a day whose weeks of pace by week are over."""
        return self._stayed(name, day, len(self._shares[name]))

    def _stayed(self, name: str, day: date, weeks: int) -> float:
        """Hands of a crew that were there in the week of a day and for so many weeks before it."""
        monday = self._world.week(day)
        found = [self.hired.get((name, monday - 7 * k * ONE_DAY)) for k in range(weeks + 1)]
        return min(0.0 if week is None else float(week["heads"]) for week in found)

    def at_work(self, row: dict[str, Any]) -> float:
        """Trained hands at work on the day of a row of the crews' days, each as its share of the pace."""
        if self._world.crews[row["crew"]].temp_days_least is not None:
            return float(row["called"])
        week = self.hired.get((row["crew"], self._world.week(row["day"])))
        there = self._world.shift(row["crew"], row["day"]) is not None
        if not week or not there:
            return 0.0
        here, shares = float(week["heads"]) - self.in_training(row), self._shares[row["crew"]]
        if not shares:
            return here
        stayed = [self._stayed(row["crew"], row["day"], k) for k in range(1, len(shares) + 1)]
        in_week = [before - after for before, after in pairwise((here, *stayed, 0.0))]
        return sum(share * heads for share, heads in zip((*shares, 1.0), in_week, strict=True))


def temporary_hands_are_trained(r: Replay) -> Iterator[Problem]:
    """Temporary hands are no more than allowed, trained before they work, and paid by the week or the day."""
    temporary = _TemporaryHands(r)
    hired = temporary.hired
    days_of: dict[tuple[str, date], list[dict[str, Any]]] = defaultdict(list)
    for row in r.rows["crew_days"]:
        days_of[row["crew"], r.world.week(row["day"])].append(row)
    for (name, monday), row in hired.items():
        crew, place = r.world.crews[name], f"temporary hands of {name}, week of {monday}"
        days = r.world.shifts(name, monday)
        before = hired.get((name, monday - 7 * ONE_DAY))
        came = row["heads"] - (before["heads"] if before else 0.0)
        if row["week_day"] >= r.world.record.today:
            yield from exceeds(f"{place}, heads", row["heads"], crew.temp_heads_most)
        yield from exceeds(f"{place}, hands beyond the week before, against new hands", came, row["new"])
        by_day, overtime = crew.temp_days_least is not None, 0.0
        hours = 0.0 if by_day else row["heads"] * sum(r.world.shift(name, day) or 0.0 for day in days)
        for day_row in days_of[name, monday]:
            shift = r.world.shift(name, day_row["day"]) or 0.0
            overtime += day_row["temporary_overtime"]
            if by_day:
                hours += shift * (day_row["called"] + temporary.in_training(day_row))
        yield from differs(f"{place}, hours paid", row["paid_hours"], hours)
        yield from differs(f"{place}, overtime paid", row["overtime_hours"], overtime)
        rate, longer = r.world.temporary_pay(name, row["week_day"])
        amount = hours * rate + overtime * longer + row["new"] * crew.temp_training_cost
        yield from differs(f"{place}, pay", row["amount"], amount, CENT)
        yield from _temporary_week(r, temporary, row, hours + overtime, days_of[name, monday])
    for new, practice, sown, _ in r.practised:
        place = f"new hands of {new['crew']}, week of {new['week_day']}"
        in_time = sown is not None or new["week_day"] < r.world.record.today
        yield from wrong(f"{place}: too early for {practice.item} to practise on", in_time)
    for row in r.rows["crew_days"]:
        crew, idle, heads = r.world.crews[row["crew"]], temporary.in_training(row), temporary.at_work(row)
        shift = r.world.shift(row["crew"], row["day"]) or 0.0
        longer = temporary.longer(row)
        there = shift * heads + crew.temp_overtime_hours_per_head_day * longer
        place = f"temporary hands of {row['crew']} on {row['day']}, hours"
        yield from exceeds(place, row["temporary"], shift * heads + row["temporary_overtime"])
        if row["day"] >= r.world.record.today:
            longest = longer * crew.temp_overtime_hours_per_head_day
            yield from exceeds(f"{place} of overtime", row["temporary_overtime"], longest)
            week = hired.get((row["crew"], r.world.week(row["day"])), {"heads": 0.0})
            listed = f"temporary hands of {row['crew']} called on {row['day']}, against those on the list"
            yield from exceeds(listed, row["called"], max(0.0, week["heads"] - idle))
        yield from differs(f"{place} available", row["temporary_available"], there)
        with_them = f"{row['crew']} on {row['day']}, own hours with new hands"
        yield from differs(with_them, row["training"], idle * crew.temp_trainer_hours)


def _temporary_week(
    r: Replay, temporary: _TemporaryHands, row: dict[str, Any], paid: float, days: list[dict[str, Any]]
) -> Iterator[Problem]:
    """Temporary hands keep to the crew's weekly limit, and those on the list have their least days."""
    crew, monday = r.world.crews[row["crew"]], r.world.week(row["week_day"])
    place, today = f"temporary hands of {row['crew']}, week of {monday}", r.world.record.today
    most, by_day = crew.week_hours_per_head, crew.temp_days_least is not None
    overtime = sum(day["temporary_overtime"] for day in days)
    if most is not None and (by_day or overtime > 0) and row["week_day"] >= today:
        shifts = 0.0 if by_day else sum(r.world.shift(row["crew"], day["day"]) or 0.0 for day in days)
        over, heads = (paid, row["heads"]) if by_day else (overtime, temporary.learned(row["crew"], monday))
        yield from exceeds(f"{place}, hours against the limit", over, heads * max(0.0, most - shifts))
    if by_day and any(day["day"] >= today for day in days):
        due, there = _days_paid(r, row, days)
        yield from exceeds(f"{place}, least days", due, there)


def _days_paid(r: Replay, row: dict[str, Any], days: list[dict[str, Any]]) -> tuple[float, float]:
    """Days for which hands on the list must be paid in a week, as far as is still possible; those planned."""
    crew, monday, today = r.world.crews[row["crew"]], r.world.week(row["week_day"]), r.world.record.today
    hours = {day: r.world.shift(crew.crew, day) or 0.0 for day in r.world.shifts(crew.crew, monday)}
    training, least = [*hours][: crew.temp_training_days], min(crew.temp_days_least or 0, len(hours))
    trained = row["new"] * min(least, len(training))
    due, planned = row["heads"] * least, trained + sum(day["called"] for day in days)
    if row["week_day"] >= today:
        return due, planned
    told = [day for day in days if day["day"] < today]
    most = trained + sum(day["called"] for day in told)
    spent = sum(row["new"] * hours[day] for day in training)
    spent += sum(day["called"] * hours.get(day["day"], 0.0) + day["temporary_overtime"] for day in told)
    for shift, able in sorted(
        (shift, row["heads"] - row["new"] * (day in training)) for day, shift in hours.items() if day >= today
    ):
        if crew.week_hours_per_head is not None and shift > 0:
            able = min(able, max(0.0, row["heads"] * crew.week_hours_per_head - spent) // shift)
            spent += able * shift
        most += able
    return min(due, most), planned


def bought_plants_arrive(r: Replay) -> Iterator[Problem]:
    """Plants bought in arrive on the offer's days, in its quantities, and go to their orders."""
    loads: dict[tuple[str, date], float] = defaultdict(float)
    spare: dict[tuple[str, date], float] = defaultdict(float)
    for row in r.rows["buy_in"]:
        offer, day = r.world.offers[row["offer"]], row["arrival_day"]
        place = f"offer {row['offer']} on {day}"
        loads[row["offer"], day] += row["plants"]
        spare[row["offer"], day] += row["spare"]
        by = day - offer.lead_days * ONE_DAY
        if by >= r.world.record.today and not r.world.record.comes(row["offer"], day):
            rights = {
                "arrives on a day off": r.world.works(day),
                f"the offer does not deliver on {day:%a}": f"{day:%a}" in offer.delivery_weekdays,
                "before the offer's first day": offer.from_day is None or day >= offer.from_day,
                "after the offer's last day": offer.to_day is None or day <= offer.to_day,
            }
            yield from unless(place, rights)
        product = r.world.orders[row["order"]].product
        for_one = product == offer.product == row["product"]
        rights = {
            f"must be ordered by {by}, not {row['order_by']}": row["order_by"] == by,
            f"the offer and the order {row['order']} are not for one product": for_one,
            f"{product} must not be bought in": r.world.products[product].source is not Source.GROW,
        }
        yield from unless(place, rights)
        yield from differs(f"{place}, price", row["price"], offer.price, CENT)
        cost = (row["plants"] + row["spare"]) * offer.price
        yield from differs(f"{place}, cost", row["amount"], cost, CENT)
    for (name, day), plants in loads.items():
        offer, place = r.world.offers[name], f"offer {name} on {day}, plants"
        ordered = r.world.record.comes(name, day)
        lacking = max(offer.least_quantity - plants, 0.0)
        yield from exceeds(f"{place} spare, against those lacking to its least", spare[name, day], lacking)
        if ordered or day - offer.lead_days * ONE_DAY < r.world.record.today:
            continue
        if r.plan.facts.whole:
            least = f"{place}, the offer's least quantity against plants bought"
            yield from exceeds(least, offer.least_quantity, plants + spare[name, day])
        if offer.most_per_delivery is not None:
            yield from exceeds(place, plants, offer.most_per_delivery)
    for row in r.rows["deliveries"]:
        if row["source"] == "buy-in":
            loads[row["offer"], row["ready_day"]] -= row["plants"]
    for (name, day), left in loads.items():
        yield from differs(f"offer {name} on {day}, plants bought less plants delivered", left, 0.0)


def stock_never_runs_out(r: Replay) -> Iterator[Problem]:
    """Seed and supplies are there on the day of use: from stock, packs ordered in time, or come back."""
    record, bought = r.world.record, defaultdict[str, float](float)
    sold = {(pack.item, pack.size, pack.price) for pack in r.world.scenario.packs}
    for row in r.rows["purchases"]:
        place = f"{row['item']}: the scenario has no pack of {row['size']:g} at {row['price']:,.2f}"
        yield from wrong(place, (row["item"], row["size"], row["price"]) in sold)
        bought[row["item"]] += row["packs"] * row["size"]
        yield from differs(f"{row['item']}, cost", row["amount"], row["packs"] * row["price"], CENT)
    items = {lot.lot: (float(lot.stock), lot.lead_days) for lot in r.world.lots.values()}
    items |= {supply.supply: (supply.stock, supply.lead_days) for supply in r.world.supplies.values()}
    for item, (stock, lead) in items.items():
        arrives = record.today + lead * ONE_DAY
        needed, newly = None, 0.0
        for day, out in r.out(item).items():
            newly += r.used[item].get(day, 0.0) if day >= record.today else 0.0
            there = stock + (bought[item] if day >= arrives else record.arrived(item, day))
            if newly > ABSOLUTE:
                yield from exceeds(f"{item} on {day}, used", out, there)
            wanted = more(0.0, stock - out + record.ordered(item))
            needed = day if needed is None and wanted else needed
        for row in r.rows["purchases"]:
            if row["item"] == item:
                by = None if needed is None else needed - lead * ONE_DAY
                rights = {
                    f"needed on {needed}, not {row['needed_day']}": row["needed_day"] == needed,
                    f"must be ordered by {by}, not {row['order_by']}": row["order_by"] == by,
                }
                yield from unless(item, rights)
    for row in r.rows["items"]:
        used, back = (sum(by_day[row["item"]].values()) for by_day in (r.used, r.back))
        stock, lead = items[row["item"]]
        yield from differs(f"{row['item']}, stock", row["stock"], stock)
        yield from differs(f"{row['item']}, lead days", row["lead_days"], lead)
        yield from differs(f"{row['item']}, used", row["used"], used)
        yield from differs(f"{row['item']}, bought", row["bought"], bought[row["item"]])
        yield from differs(f"{row['item']}, come back", row["back"], back)
        left = row["stock"] + bought[row["item"]] + back - used
        yield from differs(f"{row['item']}, left", row["left"], left)
    for item in {item for item, by_day in r.used.items() if sum(by_day.values()) > ABSOLUTE}:
        there = any(row["item"] == item for row in r.rows["items"])
        yield from wrong(f"{item}: used, but not in table items", there)
    for column, moved in (("used", r.used), ("back", r.back)):
        listed = {(row["item"], row["day"]): row[column] for row in r.rows["item_uses"]}
        replayed = {(item, day): units for item, by_day in moved.items() for day, units in by_day.items()}
        for item, day in {*listed, *replayed}:
            planned, right = listed.get((item, day), 0.0), replayed.get((item, day), 0.0)
            yield from differs(f"{item} on {day}, {column}", planned, right)


def money_adds_up(r: Replay) -> Iterator[Problem]:
    """Every cost line equals the replayed cost, and the lines add up to the objective."""
    planned: dict[str, float] = defaultdict(float)
    for row in r.rows["costs"]:
        planned[row["line"]] += row["amount"]
    right = _costs(r)
    for line in {*planned, *right}:
        yield from differs(f"cost of {line}", planned[line], right.get(line, 0.0), CENT)
    yield from differs("objective", r.plan.facts.objective, sum(right.values()), CENT)


def _costs(r: Replay) -> dict[str, float]:
    world, nursery = r.world, r.world.scenario.nursery
    costs: dict[str, float] = defaultdict(float)
    for row in r.rows["purchases"]:
        line = "seed" if row["item"] in world.lots else "supplies"
        costs[line] += row["packs"] * row["price"]
    for row in r.rows["crew_days"]:
        _, pay, overtime_pay = world.crew_day(row["crew"], row["day"])
        if world.crews[row["crew"]].pay_basis is not PayBasis.COMMITTED:
            costs["labour"] += row["regular"] * pay
        costs["overtime"] += row["overtime"] * overtime_pay
    costs["labour"] += sum(world.payroll(crew) for crew in world.crews.values())
    if any(crew.guaranteed_hours_per_head_week for crew in world.crews.values()):
        costs["guaranteed hours"] = sum(row["amount"] for row in r.rows["guaranteed"])
    if world.scenario.piece_rates:
        costs["piece rates"] = sum(row["amount"] for row in r.rows["pieces"])
    costs["temporary hands"] = sum(row["amount"] for row in r.rows["temporary"])
    for (zone, day), slots in slots_used(r).items():
        costs["slots"] += slots * world.zone_day(zone, day)[1]
    costs["bays"] = sum(row["amount"] for row in r.rows["bays"])
    for row in (row for row in r.rows["flows"] if row["graft_day"] >= world.first):
        in_trays = world.rooms.costs(row["method"], row["in_zones"])
        for stage, cost in zip(world.rooms.stages(row["method"], row["in_zones"]), in_trays, strict=True):
            healing = stage.part is Part.HEALING
            costs["zones chosen"] += cost * row["trays_loaded" if healing else "trays_finishing"]
    costs["zones chosen"] += _held_costs(r) + _germination_costs(r)
    for row in r.rows["buy_in"]:
        costs["buy-in"] += (row["plants"] + row["spare"]) * world.offers[row["offer"]].price
    for row in r.rows["orders"]:
        order = world.orders[row["order"]]
        costs["shortfall"] += row["short"] * world.penalty(order)
        costs["declined"] += row["declined"] * (order.price or 0.0)
    for row in r.rows["deliveries"]:
        order = world.orders[row["order"]]
        days = world.days_late(order, row["ready_day"])
        costs["late"] += row["plants"] * world.late_discount(order, days)
    for row in r.rows["runs"]:
        run = world.runs[row["run"]]
        costs["freight"] += row["vehicles"] * run.fixed_cost + row["trays"] * run.cost_per_tray
    for row in r.rows["salvage"]:
        costs["salvage"] -= row["sold"] * world.products[row["product"]].salvage_price
    if nursery.wave_cost:
        costs["waves"] = _wave_costs(r)
    for module in world.scenario.modules:
        rate, years = nursery.interest_rate, module.life_years
        annuity = (1 - (1 + rate) ** -years) / rate if rate else float(years)
        lost = module.first_cost - module.salvage_value
        costs["modules"] += module.added * (lost / annuity + module.salvage_value * rate)
    costs["overhead"] = nursery.overhead
    for overhead in world.scenario.overheads:
        costs[overhead.kind.value] += _of_the_season(overhead, nursery)
    return costs


def _germination_costs(r: Replay) -> float:
    """What trays cost in further zones to germinate in."""
    total = 0.0
    for row in r.rows["germination"]:
        rule = r.world.further.get((r.waves[row["wave"]]["lot"], row["zone"]))
        total += 0.0 if rule is None else rule.cost_per_tray * row["trays"]
    return total


def _held_costs(r: Replay) -> float:
    """What trays cost in the zones chosen to wait in; plants ready before the first day have paid."""
    cost = 0.0
    for row in r.rows["deliveries"]:
        product, ready = r.world.products[row["product"]], row["ready_day"]
        waits = row["due_day"] + row["days_late"] * ONE_DAY > ready >= r.world.first
        if row["source"] == "own" and waits:
            trays = (row["plants"] + row["margin_plants"]) / r.world.formats[product.final_format].cells
            cost += trays * r.world.rooms.held(product.method, row["in_zones"])[2]
    return cost


def _of_the_season(overhead: Overhead, nursery: Nursery) -> float:
    """What an overhead costs over the days of the plan."""
    days = nursery.last_day.toordinal() - nursery.first_day.toordinal() + 1
    a_day = {"year": 1 / 365, "month": 12 / 365, "week": 1 / 7}
    return overhead.amount * (days * a_day[overhead.period] if overhead.period != "season" else 1)


def _wave_costs(r: Replay) -> float:
    """Fixed cost of waves: of each wave sown in the horizon; in a continuous plan, as its line says."""
    if r.plan.facts.whole:
        sown = [wave for wave in r.waves.values() if wave["sow_day"] >= r.world.first]
        return r.world.scenario.nursery.wave_cost * len(sown)
    return sum(float(row["amount"]) for row in r.rows["costs"] if row["line"] == "waves")


def salvage_is_surplus(r: Replay) -> Iterator[Problem]:
    """Plants sold at the salvage price are at most the surplus and at most ``salvage_most``."""
    surplus: dict[str, float] = defaultdict(float)
    for row in r.rows["flows"]:
        surplus[r.world.products[row["product"]].ordered_as] += row["surplus"]
    for row in r.rows["salvage"]:
        name, sold, product = row["product"], row["sold"], r.world.products[row["product"]]
        yield from differs(f"{name}, surplus", row["surplus"], surplus[name])
        yield from exceeds(f"{name}, plants sold against surplus", sold, row["surplus"])
        yield from exceeds(f"{name}, plants sold against salvage_most", sold, product.salvage_most)
        yield from differs(f"{name}, salvage price", row["price"], product.salvage_price, CENT)
        yield from differs(f"{name}, income", row["amount"], sold * product.salvage_price, CENT)


WHOLE_COLUMNS = (
    ("waves", "trays"),
    ("purchases", "packs"),
    ("temporary", "heads"),
    ("temporary", "new"),
    ("unit_batches", "units"),
    ("bays", "bays"),
    ("buy_in", "plants"),
    ("runs", "vehicles"),
    ("orders", "short"),
    ("orders", "declined"),
)


def counts_are_whole(r: Replay) -> Iterator[Problem]:
    """In a plan of whole trays, trays, packs, hands, units, bays and plants not grown are whole."""
    if not r.plan.facts.whole:
        return
    for table, column in WHOLE_COLUMNS:
        for n, row in enumerate(r.rows[table]):
            part = abs(row[column] - round(row[column]))
            if part > ABSOLUTE:
                yield f"{table}, row {n + 1}, {column}: {row[column]} is not a whole number", part


def bound_holds(r: Replay) -> Iterator[Problem]:
    """Primal and dual objective of the continuous program agree; the plan costs at least its lower bound."""
    facts = r.plan.facts
    least, cost = facts.continuous_objective, facts.objective
    yield from differs("dual objective", facts.dual_objective, least, CENT)
    yield from exceeds("lower bound against the plan's cost", facts.bound, cost)
    yield from exceeds("continuous optimum against the lower bound", least, facts.bound + CENT)
    yield from exceeds("continuous optimum against the plan's cost", least, cost + CENT)
    gap = (cost - facts.bound) / abs(facts.bound) if facts.bound else 0.0
    yield from differs("gap", facts.gap, gap, 1e-6)

"""The plan's rows, and their daily effects: trays standing, hours needed, seed and supplies used."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from datetime import date

from model.planned.plan_tables import Plan
from model.planned.tables.declared import FlowKey
from model.proof.own_work import own_work
from model.proof.plan_rows import Row, Rows
from model.proof.problems import ABSOLUTE
from model.proof.world import ONE_DAY, World, days_from
from model.scenario.choices import MethodKind, Part
from model.scenario.entities import Scenario
from model.scenario.records.people import Practice


def flow_of(row: Row) -> FlowKey:
    """What names the flow of a row."""
    return row["product"], row["graft_day"], row["in_zones"]


def _always(care: float) -> Callable[[date], float]:
    return lambda day: care


class Replay:
    """The plan's rows, with the trays, hours, seed and supplies that follow from them day by day."""

    def __init__(self, scenario: Scenario, plan: Plan) -> None:
        self.plan, self.world = plan, World(scenario)
        self.read = Rows(self.world, plan)
        self.rows = self.read.tables
        self.waves = {row["wave"]: row for row in self.rows["waves"]}
        self.elsewhere: dict[str, list[Row]] = defaultdict(list)
        """Rows of trays that germinate in further zones, by wave."""
        for row in self.rows["germination"]:
            self.elsewhere[row["wave"]].append(row)
        self.drawn: dict[str, dict[date, float]] = defaultdict(lambda: defaultdict(float))
        self.joins_of: dict[FlowKey, list[Row]] = defaultdict(list)
        for row in self.rows["joins"]:
            self.joins_of[flow_of(row)].append(row)
            for wave in (row["rootstock_wave"], row["scion_wave"]):
                if wave is not None:
                    self.drawn[wave][row["graft_day"]] += row["joins"] / row["match"]
        self.spare: dict[str, dict[date, float]] = defaultdict(lambda: defaultdict(float))
        """Spare seedlings by wave and graft day."""
        for row in self.rows["spare_seedlings"]:
            self.spare[row["wave"]][row["graft_day"]] += row["seedlings"]
        self.served: dict[FlowKey, list[Row]] = defaultdict(list)
        self.by_order: dict[str, dict[str, float]] = defaultdict(lambda: defaultdict(float))
        for row in self.rows["deliveries"]:
            self.by_order[row["order"]][row["source"]] += row["plants"]
            if row["source"] == "own":
                self.served[flow_of(row)].append(row)
        self.standing: dict[tuple[str, date], float] = defaultdict(float)
        self.newly: dict[tuple[str, date], float] = defaultdict(float)
        """Slots of trays that stand there because of decisions that are still open."""
        self.needed: dict[tuple[str, str, date], float] = defaultdict(float)
        self.by_kind: dict[tuple[str, str, str | None, str | None, date], float] = defaultdict(float)
        """Hours needed by skill, task, method, format and day; own tasks, washing, attending have none."""
        self.used: dict[str, dict[date, float]] = defaultdict(lambda: defaultdict(float))
        self.back: dict[str, dict[date, float]] = defaultdict(lambda: defaultdict(float))
        """Units of supplies that come back, by the day from which they can be used again."""
        self.washed: list[tuple[date, str, float]] = []
        """Day, supply and units of each washing, one for each day of use."""
        self.stands: list[
            tuple[str, tuple[date, date], float, str | None, str, str, Callable[[date], float]]
        ] = []
        """Zone, span of days, trays, method, tray format, task and care of a day of all standing trays."""
        self._replay_waves()
        self._replay_flows()
        self._replay_deliveries()
        self._replay_own_tasks()
        self._replay_change_overs()
        self._replay_practice()
        self._replay_returns()
        self._replay_hours()

    def expected_match(self, row: Row) -> float:
        """Stem match of a row of joins by the scenario; 1 if it has none for their ages."""
        rule = self.world.methods[self.world.products[row["product"]].method]
        root, scion = self.waves.get(row["rootstock_wave"] or ""), self.waves[row["scion_wave"]]
        lots = None if root is None else root["lot"], scion["lot"]
        return self.world.match(rule.method, *lots, row["rootstock_age"], row["scion_age"]) or 1.0

    def _work(self, day: date, task: str, method: str | None, format_: str, amount: float) -> None:
        for role in self.world.roles(task, method, format_):
            hours = amount * role.seconds / 3600
            if hours > 0 and day >= self.world.first:
                self.needed[role.skill, role.name, day] += hours
                self.by_kind[role.skill, role.name, method, format_, day] += hours

    def _use(self, day: date, per: str, method: str | None, format_: str, amount: float) -> None:
        for supply in self.world.supplies:
            units = amount * self.world.supply_used(supply, per, method, format_)
            if units > 0 and day >= self.world.first:
                self.used[supply][day] += units

    def _stand(
        self,
        zone: str,
        span: tuple[date, date],
        trays: float,
        method: str | None,
        format_: str,
        task: str,
        new: bool,
        care: Callable[[date], float] = lambda day: 1.0,
    ) -> None:
        span = max(span[0], self.world.first), span[1]
        slots = trays * self.world.formats[format_].slots
        self.stands.append((zone, span, trays, method, format_, task, care))
        for day in days_from(*span):
            self.standing[zone, day] += slots
            self.newly[zone, day] += slots if new else 0.0
            self._work(day, task, method, format_, trays * care(day))

    def _care(self, row: Row, stay: int) -> Callable[[date], float]:
        """Multiple of care or tending on each day of a stay of a flow: that of the stage of the day."""
        name, chosen = row["method"], row["in_zones"]
        stays = self.world.way(name, row["graft_day"], chosen)[0]
        stages = list(
            zip(self.world.rooms.stages(name, chosen), self.world.rooms.care(name, chosen), strict=True)
        )
        for zone, part, start, _ in stays[: stay + 1]:
            run = []
            while stages and (stages[0][0].zone, stages[0][0].part) == (zone, part):
                run.append(stages.pop(0))
            first = start

        def on(day: date) -> float:
            left = (day - first).days
            for stage, care in run[:-1]:
                if left < stage.days:
                    return care
                left -= stage.days
            return run[-1][1]

        return on

    def _replay_waves(self) -> None:
        for row in self.rows["waves"]:
            lot, format_, trays = self.world.lots[row["lot"]], row["format"], row["trays"]
            first = self.world.first
            if row["sow_day"] >= first:
                self._work(row["sow_day"], "sow", None, format_, trays)
                self._use(row["sow_day"], "tray sown", None, format_, trays)
                self.used[row["lot"]][row["sow_day"]] += row["seeds"]
            new = row["sow_day"] >= self.world.record.today
            for zone, there, out, care in self.germinating(row):
                span = max(row["sow_day"], first), out
                self._stand(zone, span, there, None, format_, "tend", new, _always(care))
                if out > row["sow_day"] and out >= first and zone != lot.bench_zone:
                    self._work(out, "move", None, format_, there)
        for row in self.rows["bench_trays"]:
            wave = self.waves[row["wave"]]
            zone = self.world.lots[wave["lot"]].bench_zone
            new, span = wave["sow_day"] >= self.world.record.today, (row["from_day"], row["to_day"])
            self._stand(zone, span, row["trays"], None, wave["format"], "tend", new)

    def germinating(self, wave: Row) -> Iterator[tuple[str, float, date, float]]:
        """Zone, trays, day to the bench and care of trays of a wave in germination; the own zone first."""
        lot, further = self.world.lots[wave["lot"]], self.elsewhere.get(wave["wave"], [])
        left = wave["trays"] - sum(row["trays"] for row in further)
        if left > ABSOLUTE or not further:
            yield lot.germination_zone, left, wave["bench_day"], 1.0
        for row in further:
            rule = self.world.further.get((lot.lot, row["zone"]))
            yield row["zone"], row["trays"], row["bench_day"], 1.0 if rule is None else rule.care

    def _replay_flows(self) -> None:
        for row in self.rows["flows"]:
            product = self.world.products[row["product"]]
            rule, format_ = self.world.methods[row["method"]], product.final_format
            name, graft = rule.method, row["graft_day"]
            stays, ready = self.world.way(name, graft, row["in_zones"])
            grafted = rule.kind is not MethodKind.OWN_ROOT
            if grafted:
                self._work(graft, "graft", name, format_, row["joins"])
                self._use(graft, "join", name, format_, row["joins"])
            if rule.kind is MethodKind.ROOT_CUT:
                self._work(graft, "stick", name, format_, row["joins"])
                self._use(graft, "tray stuck", name, format_, row["trays_loaded"])
            if grafted or (stays and stays[0][0] != self._bench_of(row)):
                self._work(graft, "move", name, format_, row["trays_loaded"])
            healed_on = None
            for n, (zone, part, start, out) in enumerate(stays):
                healing = part is Part.HEALING
                trays = row["trays_loaded"] if healing else row["trays_finishing"]
                new, task = graft >= self.world.record.today, "care" if healing else "tend"
                self._stand(zone, (start, out), trays, name, format_, task, new, self._care(row, n))
                if n > 0 and stays[n - 1][0] != zone:
                    self._work(start, "move", name, format_, trays)
                healed_on = out if healing else healed_on
            if rule.consolidate and healed_on is not None:
                cells = self.world.formats[format_].cells
                self._work(healed_on, "consolidate", name, format_, row["healed"] / cells)
            if ready is not None:
                self._work(ready, "grade", name, format_, row["finished"])

    def _bench_of(self, flow: Row) -> str | None:
        joins = self.joins_of[flow_of(flow)]
        waves = [self.waves[row["scion_wave"]] for row in joins if row["scion_wave"] in self.waves]
        return self.world.lots[waves[0]["lot"]].bench_zone if waves else None

    def _replay_deliveries(self) -> None:
        for row in self.rows["deliveries"]:
            product = self.world.products[row["product"]]
            rule, format_ = self.world.methods[product.method], product.final_format
            trays = (row["plants"] + row["margin_plants"]) / self.world.formats[format_].cells
            ready, pack = row["ready_day"], row["pack_day"]
            due = row["due_day"] + row["days_late"] * ONE_DAY
            new = pack >= self.world.record.today
            zone, care, _ = self.world.rooms.held(rule.method, row["in_zones"])
            span, kind = (ready, due), (rule.method, format_)
            self._stand(zone, span, trays, *kind, "tend", new, _always(care))
            if row["source"] == "own" and due > ready:
                stays, _ = self.world.way(rule.method, row["graft_day"], row["in_zones"])
                if not stays or stays[-1][0] != zone:
                    self._work(ready, "move", rule.method, format_, trays)
            self._work(pack, "pack", rule.method, format_, row["plants"])
            self._use(pack, "plant delivered", rule.method, format_, row["plants"])

    def _replay_own_tasks(self) -> None:
        self.own_tasks = list(own_work(self.world, self.rows))
        for done in self.own_tasks:
            task = done.task
            if task.skill is not None and task.seconds > 0 and done.number > 0:
                self.needed[task.skill, task.task, done.day] += done.number * task.seconds / 3600
            if task.supply is not None and task.quantity > 0 and done.number > 0:
                self.used[task.supply][done.day] += done.number * task.quantity

    def _replay_change_overs(self) -> None:
        """Changing over at the grafting table."""
        nursery = self.world.scenario.nursery
        skill, each = nursery.change_over_skill, nursery.change_over_seconds / 3600
        for row in self.rows["change_overs"]:
            if skill is not None and row["number"] * each > 0:
                self.needed[skill, "change over", row["day"]] += row["number"] * each

    def _replay_practice(self) -> None:
        """What new hands practise on: sown in time, thrown away after the training."""
        self.practised: list[tuple[Row, Practice, date | None, date | None]] = []
        """Row of temporary hands, of practice, day of sowing or use (None: too late for it), day to bench."""
        rows = self.world.scenario.practice
        for hired in self.rows["temporary"] if rows else ():
            crew, monday = hired["crew"], self.world.week(hired["week_day"])
            days = self.world.shifts(crew, monday)[: self.world.crews[crew].temp_training_days]
            for row in rows:
                if row.crew == crew and hired["new"] > 0 and days:
                    self._practise(hired, row, days)

    def _practise(self, hired: Row, row: Practice, training: Sequence[date]) -> None:
        day = self.world.previous_working(training[0] - row.days_before * ONE_DAY)
        amount, out = hired["new"] * row.quantity, training[-1] + ONE_DAY
        bench, new = None, hired["week_day"] >= self.world.record.today
        if day is not None and row.item in self.world.lots and row.format is not None:
            lot, tray = self.world.lots[row.item], self.world.formats[row.format]
            self.used[lot.lot][day] += amount * tray.cells * lot.seeds_per_cell
            self._use(day, "tray sown", None, row.format, amount)
            self._work(day, "sow", None, row.format, amount)
            bench = day
            if lot.germination_days > 0:
                bench = self.world.next_working(day + lot.germination_days * ONE_DAY)
            bench = out if bench is None else min(bench, out)
            self._stand(lot.germination_zone, (day, bench), amount, None, row.format, "tend", new)
            self._stand(lot.bench_zone, (bench, out), amount, None, row.format, "tend", new)
            if day < bench < out and lot.germination_zone != lot.bench_zone:
                self._work(bench, "move", None, row.format, amount)
            else:
                bench = None
        elif day is not None and amount > 0:
            self.used[row.item][day] += amount
        self.practised.append((hired, row, day, bench))

    def _replay_returns(self) -> None:
        """Supplies that come back after a number of days, and their washing on the next working day."""
        for name, supply in self.world.supplies.items():
            for day, units in self.used[name].items() if supply.return_share > 0 else ():
                back = self.world.next_working(day + supply.return_days * ONE_DAY)
                if back is not None:
                    number = units * supply.return_share
                    self.back[name][back] += number
                    self.washed.append((back, name, number))
                    if supply.wash_skill is not None and supply.wash_seconds > 0:
                        self.needed[supply.wash_skill, "wash", back] += number * supply.wash_seconds / 3600

    def out(self, item: str) -> dict[date, float]:
        """Units of an item used and not back yet, at the end of each day on which that changes."""
        out, found = 0.0, dict[date, float]()
        for day in sorted({*self.used[item], *self.back[item]}):
            out += self.used[item].get(day, 0.0) - self.back[item].get(day, 0.0)
            found[day] = out
        return found

    def _replay_hours(self) -> None:
        """Attendants of machines, and what hands and machines use up by the hour."""
        for row in self.rows["hours"]:
            crew = self.world.crews[row["crew"]]
            if crew.attendants > 0 and crew.attendant_skill is not None and row["hours"] > 0:
                self.needed[crew.attendant_skill, "attend", row["day"]] += crew.attendants * row["hours"]
            if crew.supply is not None and crew.supply_per_hour > 0 and row["hours"] > 0:
                self.used[crew.supply][row["day"]] += crew.supply_per_hour * row["hours"]

"""Rows drawn at random for small scenarios: packs, match and take by age, own tasks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from hypothesis import strategies as st

from model.scenario.choices import MatchFrom, MethodKind, Part, Source, TaskPer
from model.scenario.entities import AgeEffect, Method, Product, Stage
from model.scenario.people import OwnTask
from model.scenario.rooms import StageZone
from model.scenario.trade import Pack

Draw = Callable[[st.SearchStrategy[Any]], Any]


def drawn_packs(draw: Draw, items: list[str]) -> list[Pack]:
    """Clips, and packs of some sizes of each item, or none."""
    rows = [Pack("Clips", 50.0, 5.0)]
    for item in items:
        sizes = draw(st.sampled_from([(1.0,), (100.0,), (50.0, 250.0), (20.0,), (40.0, 90.0, 300.0), ()]))
        rows += [Pack(item, size, 0.2 * size**0.9) for size in sizes]
    return rows


def drawn_effects(draw: Draw, methods: list[Method]) -> list[AgeEffect]:
    """Takes by age of some methods, and matches of those that have them by age."""
    rows = []
    for m in methods:
        if m.kind is MethodKind.OWN_ROOT or (m.match_from is not MatchFrom.AGES and draw(st.booleans())):
            continue
        assert m.rootstock_age_min is not None
        assert m.rootstock_age_max is not None
        by_ages = m.match_from is MatchFrom.AGES
        pairs = [
            (r, s)
            for r in range(m.rootstock_age_min, m.rootstock_age_max + 1)
            for s in range(m.scion_age_min, m.scion_age_max + 1)
        ]
        for n, (r, s) in enumerate(pairs):
            if n == 0 or draw(st.booleans()):
                take = draw(st.sampled_from([None, 0.6, 0.95])) if by_ages else 0.75
                rows.append(
                    AgeEffect(m.method, r, s, draw(st.sampled_from([0.7, 0.9])) if by_ages else None, take)
                )
    return rows


def drawn_stage_zones(draw: Draw, methods: list[Method], stages: list[Stage]) -> list[StageZone]:
    """Further zones of some stages of one method: a tunnel for healing, the bench or the house for others."""
    rows = []
    chosen = draw(st.sampled_from([None, None, *methods]))
    for stage in stages:
        if chosen is None or stage.method != chosen.method or not draw(st.booleans()):
            continue
        healing = stage.part is Part.HEALING
        zone = "Tunnel" if healing else draw(st.sampled_from(sorted({"Bench", "House"} - {stage.zone})))
        take = draw(st.sampled_from([None, 0.6, 0.9])) if healing else None
        days = draw(st.sampled_from([None, None, 1, 2]))
        care, cost = draw(st.sampled_from([1.0, 0.0, 1.5])), draw(st.sampled_from([0.0, 0.3]))
        rows.append(StageZone(stage.method, stage.stage, zone, days, take, care, cost))
    return rows


def drawn_own_tasks(
    draw: Draw, stages: list[Stage], products: list[Product], lots: list[str], hands: bool
) -> list[OwnTask]:
    """Up to three own tasks, each in a stage that some plants go through; time only where there are hands."""
    rows = []
    for n in range(draw(st.sampled_from([0, 0, 1, 3]))):
        stage = draw(st.sampled_from(["germination", "bench", "holding", *(s.stage for s in stages)]))
        having = [s for s in stages if s.stage == stage]
        days = st.integers(1, max((s.days for s in having), default=3) or 1)
        pers = [TaskPer.TRAY] if stage == "germination" else [TaskPer.TRAY, TaskPer.PLANT]
        if having and all(s.part.value == "healing" for s in having):
            pers.append(TaskPer.JOIN)
        seedlings, only = stage in ("germination", "bench"), draw(st.booleans())
        methods = {s.method for s in having}
        fitting = [p.product for p in products if not having or p.method in methods]
        rows.append(
            OwnTask(
                f"own task {n}",
                stage,
                draw(st.sampled_from(pers)),
                draw(st.one_of(st.none(), days)),
                product=draw(st.sampled_from(fitting)) if fitting and only and not seedlings else None,
                lot=draw(st.sampled_from(lots)) if only and seedlings else None,
                format=draw(st.sampled_from([None, None, "ten"])),
                skill="general" if hands else None,
                seconds=draw(st.sampled_from([0.0, 20.0, 90.0])) if hands else 0.0,
                supply=(used := draw(st.sampled_from([None, "Clips"]))),
                quantity=2.0 if used else 0.0,
            )
        )
    return rows


def drawn_ways(draw: Draw, products: list[Product]) -> list[Product]:
    """The products, some of them another way to make the first of their kind."""
    found: list[Product] = []
    for product in products:
        alike = [
            p for p in found if p.sold_as is None and (p.rootstock is None) == (product.rootstock is None)
        ]
        if alike and draw(st.booleans()):
            way = {"sold_as": alike[0].product, "scion": alike[0].scion, "source": Source.EITHER}
            product = replace(product, **way, salvage_price=0.0, salvage_most=0)
        found.append(product)
    return found

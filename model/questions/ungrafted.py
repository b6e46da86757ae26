"""The same plants own-root: a scenario without grafting, to find the extra cost of grafting."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import replace

from model.scenario.choices import MatchFrom, MethodKind, Part, Task, TaskPer
from model.scenario.entities import Product, Scenario
from model.scenario.own_tasks import HOLDING
from model.scenario.records.methods import Method, Stage
from model.scenario.records.people import OwnTask

GRAFTED_ONLY = {Task.GRAFT, Task.STICK, Task.CARE, Task.CONSOLIDATE}
"""Tasks that plants on their own roots do not need."""

SPLIT: dict[str, tuple[str, ...]] = {
    "seed": ("rootstock seed", "scion seed"),
    "direct grafting": ("clips and stakes", "graft labour", "chamber"),
}
"""Parts of the extra cost of grafting, as lines of traced cost; all other lines are indirect."""


def ungrafted(scenario: Scenario) -> Scenario:
    """The scenario with every grafted product raised on its own roots, for the same orders.

    The scion is sown in the final tray format, leaves the bench at the ages at which it would be grafted, and
    goes straight to the finishing stages of its method; finish survival and holding stay. Offers of grafted
    plants, all progress, and ways to make a product of which no plants are on hand are left out: the whole
    season is own-root. The methods made for this get new
    names.
    """
    methods = {method.method: method for method in scenario.methods}
    grafted = [p for p in scenario.products if methods[p.method].kind is not MethodKind.OWN_ROOT]
    used = dict.fromkeys(product.method for product in grafted)
    names: dict[str, str] = {}
    for name in used:
        names[name] = _free_name(f"{name} ungrafted", {*methods, *names.values()})
    changed = {product.product for product in grafted}
    standing = {row.product for row in scenario.plants_on_hand}
    kept_ways = [p for p in scenario.products if p.sold_as is None or p.product in standing]
    products = [_own_root(p, names[p.method]) if p.product in changed else p for p in kept_ways]
    stages, zones = list(scenario.stages), list(scenario.stage_zones)
    for name in used:
        finishing = [s for s in scenario.stages if s.method == name and s.part is Part.FINISHING]
        finishing.sort(key=lambda stage: stage.step)
        stages += [replace(s, method=names[name], step=step) for step, s in enumerate(finishing, 1)]
        kept = {HOLDING, *(stage.stage for stage in finishing)}
        zones += [
            replace(row, method=names[name])
            for row in scenario.stage_zones
            if row.method == name and row.stage in kept and row.take is None
        ]
    labour = [
        replace(row, method=names[row.method])
        for row in scenario.labour_standards
        if row.method in names and row.task not in GRAFTED_ONLY
    ]
    rates = [
        replace(row, method=names[row.method])
        for row in scenario.piece_rates
        if row.method in names and row.task not in GRAFTED_ONLY
    ]
    by_name = {p.product: names[p.method] for p in scenario.products if p.product in changed}
    own = [_own_task(row, names, by_name, stages) for row in scenario.own_tasks]
    uses = [replace(row, method=names[row.method]) for row in scenario.supply_uses if row.method in names]
    return replace(
        scenario,
        products=tuple(products),
        methods=(*scenario.methods, *(_own_root_method(methods[name], names[name]) for name in used)),
        stages=tuple(stages),
        stage_zones=tuple(zones),
        labour_standards=(*scenario.labour_standards, *labour),
        piece_rates=(*scenario.piece_rates, *rates),
        own_tasks=tuple(row for rows in own for row in rows),
        supply_uses=(*scenario.supply_uses, *uses),
        buy_in_offers=tuple(offer for offer in scenario.buy_in_offers if offer.product not in changed),
        nursery=replace(scenario.nursery, today=None),
        plants_on_hand=tuple(
            replace(row, rootstock_lot=None, rootstock_sow_day=None, in_zones=None)
            if row.product in changed
            else row
            for row in scenario.plants_on_hand
        ),
        progress=(),
    )


def _own_task(
    row: OwnTask, names: Mapping[str, str], products: Mapping[str, str], stages: Collection[Stage]
) -> Iterator[OwnTask]:
    """The task, on ungrafted plants too where they have its stage; they have no joins.

    ``names`` and ``products``: the new method of each grafted method and product.
    """
    if row.product not in products:
        yield row
    method = products.get(row.product or "") or names.get(row.method or "")
    kept = row.stage == HOLDING or any((s.method, s.stage) == (method, row.stage) for s in stages)
    if method is not None and kept and row.per is not TaskPer.JOIN:
        yield replace(row, method=method)


def _free_name(name: str, taken: Collection[str]) -> str:
    while name in taken:
        name += "*"
    return name


def _own_root(product: Product, method: str) -> Product:
    formats = (product.final_format,)
    return replace(product, rootstock=None, method=method, scion_formats=formats, rootstock_formats=())


def _own_root_method(method: Method, name: str) -> Method:
    return replace(
        method,
        method=name,
        kind=MethodKind.OWN_ROOT,
        rootstock_age_min=None,
        rootstock_age_max=None,
        match_from=MatchFrom.NUMBER,
        match=None,
        stem_tolerance_mm=None,
        take=None,
        consolidate=False,
        open_cuts_most=None,
        least_batch=None,
    )

"""What happened before the first day that can still be planned."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Annotated

from model.scenario.choices import (
    Happened,
)
from model.scenario.ranges import UNITS
from model.scenario.schema import NOTE, number, ref, whole

_PRODUCT = ("products", "product")
_SUPPLY = ("supplies", "supply")
_FORMAT = ("tray_formats", "format")
_ZONE = ("zones", "zone")
_LOT = ("seed_lots", "lot")


@dataclass(frozen=True, slots=True)
class TraysOnHand:
    """Trays of seedlings that stand in the nursery on the first day, sown before it.

    The plan keeps those that it has use for; the others can be cleared.
    """

    lot: Annotated[str, "Seed lot of the trays.", ref(_LOT)]
    format: Annotated[str, "Tray format.", ref(_FORMAT)]
    sow_day: Annotated[
        date, "Day on which they were sown, before first_day; the seedlings' age counts from it."
    ]
    trays: Annotated[int, "Trays that stand there.", whole("trays", low=1, high=UNITS)]
    seedlings: Annotated[
        int | None,
        "Usable seedlings counted in all the trays; blank: not counted yet.",
        whole("seedlings", low=1, high=UNITS),
    ] = None
    note: Annotated[str | None, NOTE] = None


@dataclass(frozen=True, slots=True)
class PlantsOnHand:
    """Healed and finished plants that stand in the nursery on the first day, grafted before it.

    Healing must be over by then. Plants that are not ready yet finish on their days, like others. What they
    cost and who grafted them lies before the plan. Own-root plants: those that have left the seedling bench.
    """

    product: Annotated[str, "Product of the plants.", ref(_PRODUCT)]
    graft_day: Annotated[
        date,
        "Day on which they were grafted, or own-root plants left the seedling bench, before first_day; the "
        "day on which they are ready, and how long they may be held, count from it.",
    ]
    plants: Annotated[
        int,
        "Plants counted on the first day, without blanks and failed joins: healed ones, or, if they are "
        "ready by then, those that can be sold.",
        whole("plants", low=1, high=UNITS),
    ]
    lot: Annotated[str, "Seed lot of the scions, or of own-root plants.", ref(_LOT)]
    sow_day: Annotated[date, "Day on which that seed was sown."]
    rootstock_lot: Annotated[str | None, "Seed lot of the rootstocks; blank for own-root.", ref(_LOT)] = None
    rootstock_sow_day: Annotated[date | None, "Day on which that seed was sown; blank for own-root."] = None
    in_zones: Annotated[
        str | None,
        "The zones chosen for the plants, as the plan names them, where stages of their method, or "
        "holding, have several; blank: each stage in its own zone.",
    ] = None
    note: Annotated[str | None, NOTE] = None


@dataclass(frozen=True, slots=True)
class Progress:
    """What happened before 'today': a row for each sowing, graft, count, delivery or purchase."""

    day: Annotated[date, "Day on which it happened. Packs, bought in: day of the order."]
    what: Annotated[
        Happened,
        "sown: trays of a lot. grafted: joins of a product from two waves (own-root: seedlings moved on). "
        "finished: plants counted as ready. delivered: plants delivered to an order. bought in: plants "
        "ordered from another nursery. packs: packs ordered. hired: temporary hands for a week, or on the "
        "list in it. called: temporary hands of a crew that calls them by the day, those in training left "
        "out. temporary overtime: hours of a crew's temporary hands beyond their shifts. worked: hours of a "
        "crew on a day. standing: trays counted in a zone.",
    ]
    number: Annotated[float, "Number of trays, joins, plants, packs, hands or hours.", number("", high=UNITS)]
    counted: Annotated[
        float | None,
        "Sown: usable seedlings in all the trays, including those already joined. Grafted: joins that "
        "healed. Blank: not counted yet.",
        number("", high=UNITS),
    ] = None
    lot: Annotated[str | None, "Sown: the seed lot. Grafted: the scion's seed lot.", ref(_LOT)] = None
    format: Annotated[
        str | None, "Sown: the tray format. Grafted: the scion's tray format.", ref(_FORMAT)
    ] = None
    sow_day: Annotated[date | None, "Grafted: day on which the scion was sown."] = None
    rootstock_lot: Annotated[str | None, "Grafted: the rootstock's seed lot.", ref(_LOT)] = None
    rootstock_format: Annotated[str | None, "Grafted: the rootstock's tray format.", ref(_FORMAT)] = None
    rootstock_sow_day: Annotated[date | None, "Grafted: day on which the rootstock was sown."] = None
    product: Annotated[str | None, "Grafted, finished, delivered: the product.", ref(_PRODUCT)] = None
    graft_day: Annotated[date | None, "Finished, delivered: graft day of the plants."] = None
    order: Annotated[str | None, "Delivered, bought in: the order served.", ref(("orders", "order"))] = None
    offer: Annotated[str | None, "Bought in: the offer used.", ref(("buy_in_offers", "offer"))] = None
    item: Annotated[str | None, "Packs: the seed lot or supply.", ref(_LOT, _SUPPLY)] = None
    size: Annotated[float | None, "Packs: seeds or units in one pack.", number("", low=0.001, high=UNITS)] = (
        None
    )
    arrival_day: Annotated[date | None, "Packs, bought in: day on which they arrived or will arrive."] = None
    crew: Annotated[
        str | None, "Hired, called, temporary overtime, worked: the crew.", ref(("crews", "crew"))
    ] = None
    zone: Annotated[str | None, "Standing: the zone.", ref(_ZONE)] = None
    in_zones: Annotated[
        str | None,
        "Grafted, finished, delivered: the zones chosen for the plants, as the plan names them, where stages "
        "of their method, or holding, have several; blank: each stage in its own zone. Sown: the zone in "
        "which these trays germinate; blank: germination_zone of the lot.",
    ] = None
    note: Annotated[str | None, NOTE] = None

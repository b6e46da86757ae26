"""The schema of the table of what has happened before today."""

from __future__ import annotations

from model.scenario.entities import Happened, Progress
from model.scenario.ranges import UNITS
from model.scenario.schema import Table, choice, day, note, number, ref

_LOT = ("seed_lots", "lot")
_FORMAT = ("tray_formats", "format")
_ZONE = ("zones", "zone")

PROGRESS = Table(
    "progress",
    Progress,
    (),
    "What has happened before 'today': a row for each sowing, graft, count, delivery, purchase.",
    (
        day("day", "Day on which it happened (packs, plants bought in: on which they were ordered)."),
        choice(
            "what",
            "sown: trays of a lot. grafted: joins of a product from two waves (own-root: seedlings moved "
            "on). finished: plants counted ready. delivered: plants to an order. bought in: plants "
            "ordered elsewhere. packs: ordered. hired: temporary hands of a week. worked: hours of a "
            "crew on a day. standing: trays counted in a zone.",
            Happened,
        ),
        number("number", "How many trays, joins, plants, packs, hands or hours.", "", high=UNITS),
        number(
            "counted",
            "Sown: usable seedlings in all the trays, joins already made too. Grafted: joins healed. "
            "Blank: not counted yet.",
            "",
            required=False,
            high=UNITS,
        ),
        ref("lot", "Sown: the lot. Grafted: the scion's.", _LOT, required=False),
        ref("format", "Sown: the trays. Grafted: the scion's.", _FORMAT, required=False),
        day("sow_day", "Grafted: day on which the scion was sown.", False),
        ref("rootstock_lot", "Grafted: the rootstock's lot.", _LOT, required=False),
        ref("rootstock_format", "Grafted: the rootstock's trays.", _FORMAT, required=False),
        day("rootstock_sow_day", "Grafted: day on which the rootstock was sown.", False),
        ref("product", "Grafted, finished, delivered: the product.", ("products", "product"), required=False),
        day("graft_day", "Finished, delivered: graft day of the plants.", False),
        ref("order", "Delivered, bought in: for which order.", ("orders", "order"), required=False),
        ref("offer", "Bought in: by which offer.", ("buy_in_offers", "offer"), required=False),
        ref("item", "Packs: of which seed lot or supply.", _LOT, ("supplies", "supply"), required=False),
        number("size", "Packs: seeds or units in one.", "", required=False, low=0.001, high=UNITS),
        day("arrival_day", "Packs, bought in: day on which they came or will come.", False),
        ref("crew", "Hired, worked: which crew.", ("crews", "crew"), required=False),
        ref("zone", "Standing: in which zone.", _ZONE, required=False),
        note(),
    ),
)

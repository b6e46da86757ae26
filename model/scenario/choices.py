"""The words that a cell of a scenario may hold where it offers a choice."""

from __future__ import annotations

from enum import StrEnum


class MarginPolicy(StrEnum):
    """How the overseeding margin of an order is found."""

    FIXED = "fixed"
    LEVEL = "level"
    PRICED = "priced"


class SowingPolicy(StrEnum):
    """How the sowing margin of a seed lot is found."""

    FIXED = "fixed"
    LEVEL = "level"


class MethodKind(StrEnum):
    """What a method does with the rootstock."""

    ON_TRAY = "on-tray"
    ROOT_CUT = "root-cut"
    OWN_ROOT = "own-root"


class MatchFrom(StrEnum):
    """Where a method's stem match comes from."""

    NUMBER = "number"
    AGES = "ages"
    DIAMETERS = "diameters"


class Part(StrEnum):
    """The part of a plant's way that a stage belongs to; take shows when healing ends."""

    HEALING = "healing"
    FINISHING = "finishing"


class Task(StrEnum):
    """Work with a labour standard; ``PER`` in ``model.scenario.tables`` says per what."""

    SOW = "sow"
    MOVE = "move"
    TEND = "tend"
    GRAFT = "graft"
    STICK = "stick"
    CARE = "care"
    CONSOLIDATE = "consolidate"
    GRADE = "grade"
    PACK = "pack"


class Per(StrEnum):
    """What a supply is used per."""

    TRAY_SOWN = "tray sown"
    JOIN = "join"
    TRAY_STUCK = "tray stuck"
    PLANT_DELIVERED = "plant delivered"


class Decline(StrEnum):
    """Whether an order may be declined, where it has a price."""

    NO = "no"
    PART = "in part"
    WHOLE = "whole"


class Source(StrEnum):
    """Where a product's plants may come from."""

    EITHER = "either"
    GROW = "grow"
    BUY = "buy"


class ZoneUse(StrEnum):
    """What a zone is for."""

    GERMINATION = "germination"
    BENCH = "bench"
    HEALING = "healing"
    FINISHING = "finishing"
    HOLDING = "holding"


class ZoneMode(StrEnum):
    """A zone's slots are one pool, or units run all-in all-out."""

    POOL = "pool"
    UNITS = "units"


class Happened(StrEnum):
    """What a row of progress tells."""

    SOWN = "sown"
    GRAFTED = "grafted"
    FINISHED = "finished"
    DELIVERED = "delivered"
    BOUGHT_IN = "bought in"
    PACKS = "packs"
    HIRED = "hired"
    WORKED = "worked"
    STANDING = "standing"


class PayBasis(StrEnum):
    """A crew is paid for the hours used, or for its whole calendar."""

    USED = "used"
    COMMITTED = "committed"

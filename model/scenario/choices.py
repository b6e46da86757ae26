"""The words that a cell of a scenario may hold where its column is a choice."""

from __future__ import annotations

from enum import StrEnum


class MarginPolicy(StrEnum):
    """How the overseeding margin of an order is set."""

    FIXED = "fixed"
    LEVEL = "level"
    PRICED = "priced"


class SowingPolicy(StrEnum):
    """How the sowing margin of a seed lot is set."""

    FIXED = "fixed"
    LEVEL = "level"


class OverheadRule(StrEnum):
    """What an order's share of overhead is measured by."""

    SLOT_DAYS = "slot-days"
    PLANTS = "plants"
    HOURS = "hours"
    NONE = "none"


class PriceOf(StrEnum):
    """What a list price is for."""

    PLANT = "plant"
    TRAY = "tray"


class OverheadKind(StrEnum):
    """What an overhead is in the result."""

    OVERHEAD = "overhead"
    INTEREST = "interest"
    DEPRECIATION = "depreciation"


class Period(StrEnum):
    """What the amount of an overhead is for."""

    SEASON = "season"
    YEAR = "year"
    MONTH = "month"
    WEEK = "week"


class Health(StrEnum):
    """What is known of the health of a seed lot."""

    UNTESTED = "untested"
    TESTED = "tested"
    CUSTOMERS_OWN = "customer's own"


class TraceabilityCode(StrEnum):
    """What leads from a delivery back to its lots."""

    LOTS = "lots"
    OWN = "own"


class GroupBy(StrEnum):
    """What makes plants a group that may be kept apart from another."""

    LOT = "seed lot"
    CROP = "crop"
    CUSTOMER = "customer"
    HEALTH = "health"


class Shared(StrEnum):
    """What two groups may not share."""

    ZONE = "zone"
    UNIT = "unit"
    GRAFT_DAY = "graft day"


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
    """Whether a stage belongs to healing or to finishing; take is counted when healing ends."""

    HEALING = "healing"
    FINISHING = "finishing"


class Strikes(StrEnum):
    """What a mishap strikes."""

    GERMINATION = "germination"
    GRAFT_DAY = "graft day"
    ZONE = "zone"


class Task(StrEnum):
    """Work that may have a labour standard."""

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
    """What each quantity of a supply is used for."""

    TRAY_SOWN = "tray sown"
    JOIN = "join"
    TRAY_STUCK = "tray stuck"
    PLANT_DELIVERED = "plant delivered"


class TaskPer(StrEnum):
    """What the time and the supply of a nursery's own task are for."""

    TRAY = "tray"
    JOIN = "join"
    PLANT = "plant"


class Decline(StrEnum):
    """Whether an order with a price may be declined."""

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
    """Whether a zone's slots are one pool, or units run all-in all-out."""

    POOL = "pool"
    UNITS = "units"


class Happened(StrEnum):
    """What a row of progress records."""

    SOWN = "sown"
    GRAFTED = "grafted"
    FINISHED = "finished"
    DELIVERED = "delivered"
    BOUGHT_IN = "bought in"
    PACKS = "packs"
    HIRED = "hired"
    CALLED = "called"
    OVERTIME = "temporary overtime"
    WORKED = "worked"
    STANDING = "standing"


class PayBasis(StrEnum):
    """Whether a crew is paid for the hours it works, or for its whole calendar."""

    USED = "used"
    COMMITTED = "committed"

"""How batches differ: mishaps, and intra-lot correlations where a scenario does not say.

At a correlation ρ the rate of a batch has the standard deviation √(p·(1 − p)·ρ) about its mean p. Published
trials of grafting print mean takes only. Counts of seeds printed by plate (Crowder 1978, Applied Statistics
27:34-37: 21 plates of a wild parasite's seeds) give about 0.012 within a treatment; seed of crops is more
uniform.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from model.scenario.choices import Strikes
from model.scenario.schema import NOTE, ref, share

LOT = 0.002
"""Between seed lots: at a germination of 90 %, 1.3 points either way. Common practice, no source."""

SOWING = 0.003
"""Between sowings of one lot: at a germination of 90 %, 1.6 points either way. Common practice, no source."""

GRAFT_DAY = 0.008
"""Between graft days of one method: at a take of 90 %, 2.7 points either way. Common practice, no source."""


def together(*correlations: float) -> float:
    """Correlation within a batch whose rate varies at several levels, each about that of the level above.

    1 − Π(1 − ρ): each level leaves the share 1 − ρ of the variance p·(1 − p) to the levels below.
    """
    left = 1.0
    for correlation in correlations:
        left *= 1 - correlation
    return 1 - left


@dataclass(frozen=True, slots=True)
class Mishap:
    """Mishaps that seasons are drawn with: what they strike, how likely, and what they take."""

    mishap: Annotated[str, "Name of the mishap: fogger fails, blades not clean, lot does not come up ..."]
    strikes: Annotated[
        Strikes,
        "germination: a seed lot, once a season, in all its sowings. graft day: the joins of a method on one "
        "day. zone: the plants in it after the graft day, by day; of a zone run in units, a load of a unit.",
    ]
    chance: Annotated[float, "Chance that it strikes one lot, graft day, day or load.", share(above_low=True)]
    share_lost: Annotated[float, "Share of the plants struck that is lost.", share(above_low=True)]
    lot: Annotated[
        str | None, "Germination: the seed lot; blank: each lot by itself.", ref(("seed_lots", "lot"))
    ] = None
    method: Annotated[
        str | None, "Graft day: the method; blank: each grafted method by itself.", ref(("methods", "method"))
    ] = None
    zone: Annotated[str | None, "Zone: the zone, for healing or finishing.", ref(("zones", "zone"))] = None
    note: Annotated[str | None, NOTE] = None

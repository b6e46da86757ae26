"""How much batches differ where a scenario does not say: sizes of intra-lot correlations.

At a correlation ρ the rate of a batch has the standard deviation √(p·(1 − p)·ρ) about its mean p. Published
trials of grafting print mean takes only. Counts of seeds printed by plate (Crowder 1978, Applied Statistics
27:34-37: 21 plates of a wild parasite's seeds) give about 0.012 within a treatment; seed of crops is more
uniform.
"""

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

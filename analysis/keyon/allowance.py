"""What the car may add at a later key-on: the measured allowance, and how many key-ons it needs."""

import math

import numpy as np

from analysis.keyon.results import MoreCycles
from analysis.recording import Array
from analysis.wishes import Wishes

# Fewer key-ons than this say too little of how one differs from the next (common practice).
LEAST_CYCLES = 3
_COVERAGES = (0.90, 0.95, 0.99)


def lift_bound(lifts: Array, wishes: Wishes) -> tuple[float, str]:
    """Return the bound on the largest lift of the wishes' later key-ons, volts, and its ground.

    lifts: shape (cycles,), furthest reading towards pressed above the rest before, per key-on.
    Normal prediction bound for the largest of m further values (Bonferroni; Hahn & Meeker,
    Statistical Intervals, ch. 4); never below what was seen. NaN below three key-ons.
    """
    from scipy.special import stdtrit

    values = lifts[np.isfinite(lifts)]
    if values.size < LEAST_CYCLES:
        seen = f"; the largest seen was {values.max() * 1e3:.1f} mV" if values.size else ""
        return float("nan"), (f"{values.size} key-ons with a rest before them cannot carry a "
                              f"bound; log at least {LEAST_CYCLES}{seen}")
    tail = (1.0 - wishes.confidence) / wishes.key_ons
    factor = float(stdtrit(values.size - 1, 1.0 - tail)) * math.sqrt(1.0 + 1.0 / values.size)
    bound = float(values.mean() + factor * values.std(ddof=1))
    bound = max(bound, float(values.max()), 0.0)
    return bound, (f"largest lift of {values.size} key-ons {values.max() * 1e3:.1f} mV; bound for "
                   f"the next {wishes.key_ons} at {wishes.confidence:.0%} confidence")


def more_cycles(logged: int, wishes: Wishes) -> tuple[MoreCycles, ...]:
    """Return how many key-ons a promise without any distribution needs (Wilks 1941).

    The largest of n lifts is an upper bound for a share p of all later ones with confidence
    1 - p^n. The shares are 90, 95 and 99 %, and the one that the wishes' key_ons ask for.
    """
    shares = [*_COVERAGES]
    asked = 1.0 - 1.0 / wishes.key_ons
    if asked > _COVERAGES[-1]:
        shares.append(asked)
    return tuple(MoreCycles(p, wishes.confidence,
                            math.ceil(math.log(1.0 - wishes.confidence) / math.log(p)), logged)
                 for p in shares)

"""One key-on in many that lifts: told from ordinary scatter, and how often such ones may come.

A bound from mean and scatter speaks of key-ons that are all of one kind. Where one stands apart
there are two kinds, and what is known of the second is how often it came: k of n.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from math import comb

import numpy as np

from analysis.key_on.blocks import Bools
from analysis.model.finding import Finding, KeyOnCode, Reason
from analysis.model.recording import Array
from analysis.parameters import Parameters
from analysis.statistics import bounds

CODE: KeyOnCode = "one key-on lifts"
# Two tracks, two measures each: a healthy log is accused in less than a hundredth of cases.
_SIGNIFICANCE = 0.0015
# At most a quarter are strays of the others; more are a kind of their own.
_LARGEST_SHARE = 0.25
_LEAST_CYCLES = 4
# What stands out by less than this changes no dead band (common practice, no source).
_LEAST_VOLTS = 0.003


@dataclass(frozen=True)
class Strays:
    """Hold the key-ons of one track that lift unlike the others.

    numbers: of the key-ons, from 1. lifts: their volts towards pressed. usual_volts: the largest
    of the others. count: key-ons with a lift known. share: upper bound on the share of such
    key-ons at `confidence` (Clopper-Pearson, one-sided). chance: that one of the key-ons to come
    is such, were the share at its bound.
    """

    column: str
    numbers: tuple[int, ...]
    lifts: tuple[float, ...]
    usual_volts: float
    count: int
    share: float
    confidence: float
    chance: float


def share_bound(found: int, among: int, confidence: float) -> float:
    """Return the upper bound on a share of which `found` of `among` were seen.

    Clopper & Pearson (1934), one-sided: the confidence quantile of a beta(k + 1, n - k).
    """
    from scipy.special import betaincinv

    if found >= among:
        return 1.0
    return float(betaincinv(found + 1, among - found, confidence))


def stray_rows(values: Array, floor: float, extremes: bool) -> Bools:
    """Return, shape (n,), True where a value stands apart above the others; NaN never does.

    The k largest are strays when each lies beyond the prediction limit for one more value of the
    population of the other n - k, at a risk shared over all ways to choose k of n (Bonferroni).
    extremes: they are the largest of many readings each, so the population is Gumbel's; else
    normal. floor: their standard deviation is taken for no less.
    """
    strays: Bools = np.zeros(values.shape, dtype=bool)
    known = np.flatnonzero(np.isfinite(values))
    count = known.size
    if count < _LEAST_CYCLES:
        return strays
    order = known[np.argsort(values[known])]
    for k in range(max(1, int(_LARGEST_SHARE * count)), 0, -1):
        others, top = values[order[:-k]], values[order[-k:]]
        spread = max(float(others.std(ddof=1)), floor)
        factor = _factor(others.size, _SIGNIFICANCE / comb(count, k), extremes)
        limit = max(float(others.mean()) + factor * spread, float(others.max()) + _LEAST_VOLTS)
        if float(top.min()) > limit:
            strays[order[-k:]] = True
            break
    return strays


@lru_cache(maxsize=256)
def _factor(readings: int, risk: float, extremes: bool) -> float:
    """Return K: one more value passes mean + K s of so many with that risk.

    Normal: Student's t (Hahn & Meeker, Statistical Intervals). Gumbel: its own quantile in
    standard deviations, sqrt(6)/pi (-ln risk) - 0.45, widened as Student's t widens the normal
    one; in simulation that keeps the risk (docs/method_keyon.md).
    """
    from scipy.special import ndtri, stdtrit

    student = -float(stdtrit(readings - 1, risk)) * float(np.sqrt(1.0 + 1.0 / readings))
    if not extremes:
        return student
    gumbel = np.sqrt(6.0) / np.pi * (-np.log(risk) - np.euler_gamma)
    return float(gumbel * student / -float(ndtri(risk)))


def find_strays(column: str, furthest: Array, settled: Array, noise_volts: float,
                step_volts: float, parameters: Parameters,
                returned: Array | None = None) -> Strays | None:
    """Return the key-ons of a track that lift unlike the others, None without any.

    furthest, settled: shape (cycles,), volts towards pressed above the rest before, as
    `lift_bound` has them. noise_volts: rms of the settled noise, NaN unknown. returned: shape
    (cycles,), volts by which a return of the pedal within that key-on may have moved its rest, 0
    where nobody pressed; so much more than the others is the pedal's doing and no stray.
    """
    hidden = bounds.quantisation_noise(step_volts)
    noise = noise_volts if np.isfinite(noise_volts) else 0.0
    # The furthest of many readings scatters by about a third of their noise (Gumbel's scale
    # sigma / sqrt(2 ln n) for some thousand readings, and 1.28 times that).
    apart = (stray_rows(furthest, max(hidden, 0.3 * noise), extremes=True)
             | stray_rows(settled, hidden, extremes=False))
    apart &= np.isfinite(furthest)
    if returned is not None and apart.any() and not apart.all():
        # Of the others' furthest; a key-on with a press in it is no measure of the car alone.
        apart &= furthest > float(furthest[np.isfinite(furthest) & ~apart].max()) + returned
    if not apart.any():
        return None
    known = np.isfinite(furthest)
    count, found = int(known.sum()), int(apart.sum())
    share = share_bound(found, count, parameters.confidence)
    return Strays(column, tuple(int(i) + 1 for i in np.flatnonzero(apart)),
                  tuple(float(v) for v in furthest[apart]), float(furthest[known & ~apart].max()),
                  count, share, parameters.confidence, 1.0 - (1.0 - share) ** parameters.key_ons)


def withdrawn(found: Strays, parameters: Parameters) -> Reason:
    """Return why no bound is stated for a track with such key-ons."""
    return Reason("key-ons of two kinds", {
        "unlike": len(found.numbers), "of": found.count, "furthest_volts": max(found.lifts),
        "usual_volts": found.usual_volts, "share_bound": found.share,
        "key_ons": parameters.key_ons})


def stray_findings(strays: Mapping[str, Strays], parameters: Parameters) -> tuple[Finding, ...]:
    """Return a finding for each track with key-ons that lift unlike the others."""
    result = []
    for column, found in strays.items():
        # The share and the chance each hold at the confidence; both must fit the allowed risk.
        too_many = found.chance > 1.0 - parameters.confidence
        result.append(Finding(
            CODE, 2 if too_many else 1, "track", channel=column, values={
                "times": float(len(found.numbers)), "of": float(found.count),
                "first_key_on": float(found.numbers[0]), "furthest_volts": max(found.lifts),
                "usual_volts": found.usual_volts, "share_bound": found.share,
                "chance_bound": found.chance, "numbers": found.numbers,
                "share_confidence": found.confidence, "key_ons": parameters.key_ons,
                "promised": parameters.confidence, "withdrawn": too_many}))
    return tuple(result)

"""Bounds: how far the next reading may stray, judged from the few that were seen.

Formulas, symbols and sources: docs/method_deadband.md. scipy.special is imported inside the
functions because it costs a third of a second that other verbs need not pay.
"""

from collections.abc import Callable
from functools import lru_cache

import numpy as np

from analysis.model.errors import BadParameter
from analysis.model.recording import Array

SECONDS_PER_HOUR = 3600.0
# Nodes of the trapezoidal rules in the prediction integrals. Their integrands die away at both
# ends, where the trapezoidal rule converges faster than any power; doubling the nodes moves no
# factor by more than 1e-6.
NORMAL_NODES = 81
CHI_NODES = 240
# (mean - least)/s of normal samples of n: the 20 % quantile, by Grubbs' recursion.
_LEAN_LIMITS = ((5, 6, 8, 10, 12, 15, 20, 30, 50, 100),
                (1.000, 1.076, 1.198, 1.293, 1.369, 1.461, 1.579, 1.741, 1.938, 2.194))


def tolerance_factor(readings: int, coverage: float, confidence: float) -> float:
    """Return k: mean + k s covers `coverage` of a normal population with that confidence.

    readings: number behind mean and s, at least 2 (fewer: inf). Exact, from the noncentral t
    distribution (NIST/SEMATECH e-Handbook 7.2.6.3; ISO 16269-6). Raises BadParameter
    outside (0, 1).
    """
    from scipy.special import nctdtrit, ndtri

    _check_share("coverage", coverage)
    _check_share("confidence", confidence)
    if readings < 2:
        return float("inf")
    root = np.sqrt(readings)
    return float(nctdtrit(readings - 1, root * ndtri(coverage), confidence) / root)


@lru_cache(maxsize=256)
def prediction_factor(readings: int, future: int, confidence: float,
                      degrees: int | None = None, mean_known: bool = False) -> float:
    """Return K: all of `future` later readings lie below mean + K s with that confidence.

    The exact one-sided simultaneous prediction limit of a normal population (Hahn 1970; Hahn &
    Meeker, Statistical Intervals): the root of
    integral Phi(z/sqrt(n) + K w)^m phi(z) f(w) dz dw = confidence,
    with w^2 = chi-square/degrees. readings: n behind the mean; degrees: of freedom behind s,
    n - 1 unless stated; mean_known leaves out what the mean itself may be wrong by.
    Fewer than 1 degree: inf. Raises BadParameter on a share outside (0, 1) or future below 1.
    """
    _check_share("confidence", confidence)
    if future < 1:
        raise BadParameter("future readings below 1", future=future)
    freedom = readings - 1 if degrees is None else degrees
    if readings < 1 or freedom < 1:
        return float("inf")
    spread, weights = chi_nodes(freedom)
    if mean_known:
        shift, shift_weights = np.zeros(1), np.ones(1)
    else:
        node = np.linspace(-9.0, 9.0, NORMAL_NODES)
        shift = node / np.sqrt(readings)
        shift_weights = (node[1] - node[0]) * np.exp(-node**2 / 2.0) / np.sqrt(2.0 * np.pi)

    def reached(factor: float) -> float:
        from scipy.special import log_ndtr

        inside = np.exp(future * log_ndtr(shift[:, None] + factor * spread[None, :]))
        return float(shift_weights @ inside @ weights)

    high = bonferroni_factor(readings, future, confidence, freedom, mean_known)
    return _root(reached, confidence, -50.0, high)


@lru_cache(maxsize=64)
def one_sided_prediction_factor(readings: int, future: int, confidence: float) -> float:
    """Return K: all of `future` later readings lie below least + K theta with that confidence.

    For an exponential population above an unknown end, as returns of a pedal that sticks have;
    least: the smallest of n readings, theta = n (mean - least)/(n - 1). The root of
    E[(1 - exp(-(X/n + K G)))^m] = confidence, X exponential, G = chi-square(2n - 2)/(2n - 2)
    (pivots of the two-parameter exponential distribution: Lawless, Statistical Models and
    Methods for Lifetime Data). Fewer than 2 readings: inf.
    """
    _check_share("confidence", confidence)
    if future < 1:
        raise BadParameter("future readings below 1", future=future)
    if readings < 2:
        return float("inf")
    # An exponential variable is half a chi-square with two degrees of freedom.
    end, end_weights = chi_nodes(2)
    size, size_weights = chi_nodes(2 * (readings - 1))

    def reached(factor: float) -> float:
        reach = end[:, None] ** 2 / readings + factor * size[None, :] ** 2
        return float(end_weights @ np.exp(future * np.log1p(-np.exp(-reach))) @ size_weights)

    high = 10.0
    while reached(high) < confidence:
        high *= 4.0
    return _root(reached, confidence, 0.0, high)


def leans(levels: Array) -> bool:
    """Return whether readings crowd at their low end, as normal ones do in one case of five.

    levels: shape (n,), 5 or more. (mean - least)/s below its 20 % quantile for normal samples
    (the statistic of Shapiro & Wilk 1972 for exponential samples, and Grubbs' of 1950, whose
    recursion gives the quantiles: tests/analysis/statistics/test_bounds.py). Readings all alike
    do not lean.
    """
    if levels.size < 5 or np.ptp(levels) <= 0:
        return False
    spread = float(np.std(levels, ddof=1))
    counts, limits = _LEAN_LIMITS
    limit = float(np.interp(np.log(levels.size), np.log(counts), limits))
    return float(levels.mean() - levels.min()) < limit * spread


def bonferroni_factor(readings: int, future: int, confidence: float,
                      degrees: int | None = None, mean_known: bool = False) -> float:
    """Return the upper bound of `prediction_factor` that shares the risk out evenly.

    t(degrees, 1 - (1 - confidence)/future) sqrt(1 + 1/readings); exact for future = 1.
    """
    from scipy.special import stdtrit

    freedom = readings - 1 if degrees is None else degrees
    if readings < 1 or freedom < 1:
        return float("inf")
    # From the small tail, where 1 - 1e-12 would lose its digits.
    quantile = -stdtrit(freedom, (1.0 - confidence) / future)
    return float(quantile * (1.0 if mean_known else np.sqrt(1.0 + 1.0 / readings)))


def readings_needed(coverage: float, confidence: float) -> int:
    """Return how many readings make the largest of them a bound of that coverage (Wilks 1941)."""
    _check_share("coverage", coverage)
    _check_share("confidence", confidence)
    count = np.log1p(-confidence) / np.log(coverage)
    # A hair below, so that an exact whole number is not pushed up by rounding.
    return int(np.ceil(count - 1e-9))


def upcrossings_per_second(level: float, sigma: float, slope: float) -> float:
    """Return how often per second a normal signal rises through mean + level (Rice 1945).

    (slope / 2 pi) exp(-level^2 / 2 sigma^2). level, sigma in one unit, slope = standard
    deviation of the rate of change over sigma, 1/s. sigma 0 gives 0 for any level but 0.
    """
    if level == 0:
        return slope / (2.0 * np.pi)
    if sigma <= 0:
        return 0.0
    return float(slope / (2.0 * np.pi) * np.exp(-0.5 * (level / sigma) ** 2))


def expected_crossings(level: float, sigma: float, slope: float, hours: float) -> float:
    """Return the expected number of crossings of mean + level in so many hours."""
    return upcrossings_per_second(level, sigma, slope) * hours * SECONDS_PER_HOUR


def crossing_level(sigma: float, slope: float, hours: float, allowed: float) -> float:
    """Return the level above the mean that is crossed `allowed` times in so many hours.

    The inverse of `expected_crossings`: sigma sqrt(2 ln(slope T / 2 pi allowed)), 0 when even
    the mean itself is crossed less often. The chance of one crossing or more is at most `allowed`
    (Markov's inequality).
    """
    if allowed <= 0:
        raise BadParameter("crossings not above 0", allowed=allowed)
    often = expected_crossings(0.0, sigma, slope, hours) / allowed
    return float(sigma * np.sqrt(2.0 * np.log(max(often, 1.0))))


def quantisation_noise(step: float) -> float:
    """Return the noise of ideal rounding to steps, step / sqrt(12) (IEEE Std 1241)."""
    return float(step / np.sqrt(12.0))


def noise_behind_steps(rms: float, step: float) -> float:
    """Return the largest normal noise that could have shown as `rms` after rounding to steps.

    Rounding adds its own noise, and hides most where the level sits in the middle of a step;
    there the rms seen is step sqrt(sum (2k - 1) 2 Phi(-(k - 1/2) step / sigma)), k = 1, 2, ...
    This is solved for sigma, so rounding is not counted twice and noise too small to show is
    still allowed for: below step/sqrt(12), where little can be seen, step/sqrt(12) is returned.
    """
    if not np.isfinite(rms) or step <= 0:
        return rms
    seen = rms / step
    if seen > 3.0:
        # Sheppard's correction; the sum above agrees to 1e-9 here.
        return float(step * np.sqrt(seen**2 - quantisation_noise(1.0) ** 2))
    return step * max(_sigma_shown_as(float(seen)), quantisation_noise(1.0))


def sd_upper(sd: float, degrees: float, confidence: float) -> float:
    """Return the upper confidence bound of a standard deviation; inf below 1 degree of freedom.

    sd sqrt(degrees / chi-square(1 - confidence, degrees)) (NIST/SEMATECH e-Handbook 7.2.3.1).
    """
    from scipy.special import chdtri

    _check_share("confidence", confidence)
    if degrees < 1 or not np.isfinite(sd):
        return float("inf")
    # chdtri takes the upper tail's probability.
    return float(sd * np.sqrt(degrees / chdtri(degrees, confidence)))


def outlier_limit(readings: int, significance: float) -> float:
    """Return how many standard deviations the largest of n normal readings may lie off, one side.

    Grubbs' test (ISO 5725-2; NIST/SEMATECH e-Handbook 1.3.5.17); inf below 3 readings.
    """
    from scipy.special import stdtrit

    if readings < 3:
        return float("inf")
    t = stdtrit(readings - 2, significance / readings)
    return float((readings - 1) / np.sqrt(readings)
                 * np.sqrt(t**2 / (readings - 2 + t**2)))


@lru_cache(maxsize=256)
def _sigma_shown_as(rms: float) -> float:
    """Return the noise that shows as this rms in mid-step, both in steps.

    Kept: each change of a parameter asks for that of the same tracks again.
    """
    return _root(_rms_shown, rms, 0.0, rms)


def _rms_shown(sigma: float) -> float:
    """Return the rms after rounding of normal noise in mid-step, up to 3 steps; both in steps."""
    from scipy.special import ndtr

    k = np.arange(1, 60)
    return float(np.sqrt(np.sum((2 * k - 1) * 2.0 * ndtr(-(k - 0.5) / sigma))))


def chi_nodes(freedom: int) -> tuple[Array, Array]:
    """Return nodes and weights over w = sqrt(chi-square/freedom), weights times density.

    Even steps in log w, between the quantiles that leave out 1e-13 at either end.
    """
    from scipy.special import chdtri, gammaln

    ends = np.log(np.sqrt(chdtri(freedom, np.array([1.0 - 1e-13, 1e-13])) / freedom))
    log_w = np.linspace(ends[0], ends[1], CHI_NODES)
    half = freedom / 2.0
    log_density = (np.log(2.0) + half * np.log(half) - gammaln(half)
                   + freedom * log_w - half * np.exp(2.0 * log_w))
    return np.exp(log_w), (log_w[1] - log_w[0]) * np.exp(log_density)


def _root(reached: Callable[[float], float], goal: float, low: float, high: float) -> float:
    """Return where a rising function reaches the goal between low and high, by halving."""
    while high - low > 1e-8 * max(1.0, abs(high)):
        middle = (low + high) / 2.0
        if reached(middle) < goal:
            low = middle
        else:
            high = middle
    return float(high)


def _check_share(name: str, value: float) -> None:
    if not 0.0 < value < 1.0:
        raise BadParameter("share not between 0 and 1", share=name, value=value)

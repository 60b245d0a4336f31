"""The mean of a channel while it is steady, and the refusal while it drifts.

Noise remembers: neighbouring readings are alike, so n readings are worth fewer than n. The
integrated autocorrelation time (initial positive sequence, Geyer 1992) says how many.
"""

from dataclasses import dataclass

import numpy as np

from analysis.model.errors import NoCalibration
from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.signal.quantisation import mean_error

LEAST_READINGS = 8
# A drift is refused when it is larger than both of these allow.
_DRIFT_STEPS = 2.0
_DRIFT_NOISES = 1.0
# White noise makes a "drift" of sqrt(12) standard errors; three times that is not chance.
_DRIFT_SIGMAS = 3.0
# Fewer independent readings than this are no noise but a level that still moves.
_LEAST_WORTH = 10.0
# Blocks of the window, and how far one may lie from the others before it is a jump.
_BLOCKS = 20
_JUMP_SIGMAS = 6.0


@dataclass(frozen=True)
class Steady:
    """Hold the mean over a window, in the unit of the readings.

    uncertainty: standard uncertainty of the mean: noise with its memory, the converter's step,
        and the drift left inside the window. noise: standard deviation around the drift.
    drift: from the first to the last reading, by a straight line. drift_limit: what is allowed.
    jump: how far the part of the window that lies furthest off is from the others, jump_limit:
        what is allowed. worth: number of independent readings the window is worth. steady:
        False when refused.
    """

    mean: float
    uncertainty: float
    noise: float
    drift: float
    drift_limit: float
    readings: int
    worth: float
    duration_s: float
    jump: float
    jump_limit: float
    steady: bool

    def told(self, unit: str = "V") -> Reason:
        """Return the mean, or by how much it jumps or drifts, in the unit of the readings."""
        if self.steady:
            return Reason("steady", {"mean": self.mean, "uncertainty": self.uncertainty,
                                     "unit": unit, "readings": self.readings, "worth": self.worth})
        if abs(self.drift) <= self.drift_limit:
            return Reason("jumps", {"jump": self.jump, "limit": self.jump_limit, "unit": unit,
                                    "seconds": self.duration_s})
        return Reason("drifts", {"drift": self.drift, "limit": self.drift_limit, "unit": unit,
                                 "seconds": self.duration_s})


def average(time_s: Array, readings: Array, step: float = 0.0,
            drift_limit: float | None = None) -> Steady:
    """Return the mean of one window of readings and whether it was steady.

    time_s, readings: shape (n,), s and any unit; NaN readings are left out. step: one converter
    step in the same unit (0: none). drift_limit: largest drift over the window; None: two steps
    or one standard deviation of the noise, whichever is more, and never so little that noise
    alone would pass for drift, provided it is noise: a level that still settles is worth few
    independent readings, or jumps. Raises NoCalibration with fewer than 8 readings.
    """
    good = np.isfinite(readings) & np.isfinite(time_s)
    t, y = time_s[good], readings[good]
    n = y.size
    if n < LEAST_READINGS:
        raise NoCalibration("too few readings", readings=n, least=LEAST_READINGS)
    duration = float(t[-1] - t[0])
    centred = t - t.mean() if duration > 0 else np.arange(n) - 0.5 * (n - 1)
    slope = float(centred @ (y - y.mean()) / (centred @ centred))
    drift = slope * float(centred[-1] - centred[0])
    rest = y - y.mean() - slope * centred
    noise = float(np.sqrt(rest @ rest / (n - 2)))
    worth = independent_readings(rest)
    white = float(1.4826 / np.sqrt(2.0) * np.median(np.abs(np.diff(y))))
    chance_error = noise / np.sqrt(worth)
    allowed = max(_DRIFT_STEPS * step, _DRIFT_NOISES * white) if drift_limit is None \
        else drift_limit
    chance = _DRIFT_SIGMAS * np.sqrt(12.0) * chance_error if worth >= _LEAST_WORTH else 0.0
    rounding = 0.0
    if step > 0.0:
        # The mean is not corrected for what rounding is expected to leave, so all of it counts.
        rounding = step * float(np.hypot(*mean_error((y - y[0]) / step, noise / step)))
    limit = float(max(allowed, chance)) if drift_limit is None else float(allowed)
    uncertainty = np.sqrt(chance_error**2 + rounding**2 + drift**2 / 12.0)
    jump, usual = _jump(y)
    jump_limit = max(limit if drift_limit is not None else allowed, _JUMP_SIGMAS * usual)
    return Steady(float(y.mean()), float(uncertainty), noise, drift, limit, n, worth, duration,
                  jump, jump_limit, bool(abs(drift) <= limit and abs(jump) <= jump_limit))


def _jump(readings: Array) -> tuple[float, float]:
    """Return how far the oddest block of the window lies off, and the blocks' usual scatter."""
    size = max(2, -(-readings.size // _BLOCKS))
    count = readings.size // size
    means = readings[: count * size].reshape(count, size).mean(axis=1)
    off = means - np.median(means)
    usual = float(1.4826 * np.median(np.abs(off)))
    return float(off[np.argmax(np.abs(off))]), usual


def independent_readings(residuals: Array) -> float:
    """Return how many independent readings these are worth, between 2 and n; shape (n,).

    n over 1 + 2 sum of autocorrelations, summed in pairs while the pairs stay positive and
    falling (Geyer 1992, "Practical Markov chain Monte Carlo").
    """
    n = residuals.size
    centred = residuals - residuals.mean()
    power = float(centred @ centred)
    if power == 0.0:
        return float(n)
    size = 1 << int(2 * n - 1).bit_length()
    spectrum = np.fft.rfft(centred, size)
    correlation = np.fft.irfft(np.abs(spectrum) ** 2, size)[: n // 2] / power
    pairs = correlation[: correlation.size // 2 * 2].reshape(-1, 2).sum(axis=1)
    negative = np.flatnonzero(pairs <= 0.0)
    pairs = np.minimum.accumulate(pairs[: negative[0]] if negative.size else pairs)
    time = max(1.0, 2.0 * float(pairs.sum()) - 1.0)
    # The mean of the window was taken out, which hides part of the memory (Priestley 1981, 5.3).
    time = min(time / max(1.0 - time / n, 0.25), n / 2.0)
    return float(n / time)

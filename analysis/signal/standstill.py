"""How long an input can repeat one reading in spite of its noise: longer, and it was not read."""

import math

import numpy as np

from analysis.model.recording import Array, Channel

# Rows of one look at the noise, and how many such looks are needed to know it.
_WINDOW, _LEAST_LOOKS = 30, 5
# So many codes apart within most looks: at the edge of a step even no noise at all shows one.
_LEAST_CODES = 2
_SURE = 0.95


def codes_of(channel: Channel) -> Array:
    """Return the readings in converter steps; NaN throughout where its step is not known."""
    step = 1.0 if channel.unit == "counts" else channel.step_volts / abs(channel.scale)
    return channel.readings / (step if step > 0 else math.nan)


def repeats_at_best(codes: Array) -> float:
    """Return how often a row repeats the one before it at most; 1 where noise is too small to say.

    Looks in which nothing moves are the standstill itself and say nothing of the noise.
    """
    looks = codes[: codes.size // _WINDOW * _WINDOW].reshape(-1, _WINDOW)
    looks = looks[np.isfinite(looks).all(axis=1)]
    looks = looks[np.ptp(looks, axis=1) > 0] if looks.size else looks
    if len(looks) < _LEAST_LOOKS or float(np.median(np.ptp(looks, axis=1))) < _LEAST_CODES:
        return 1.0
    steps = np.diff(looks, axis=1)
    # White part only, less what rounding adds (step / sqrt(12)).
    variance = float(np.median(np.mean(steps**2, axis=1))) / 2.0 - 1.0 / 12.0
    if variance <= 0.0:
        return 1.0
    held = math.erf(0.5 / math.sqrt(2.0 * variance))
    return max(held, float(np.quantile(np.mean(steps == 0, axis=1), _SURE)))


def least_rows(usual: float, rows: int, chance: float) -> float:
    """Return from how many repeated rows on chance gives such a run less often than `chance`.

    usual: how often a row repeats the one before it at most, of `repeats_at_best`; infinite where
    that tells nothing. rows: of the whole recording.
    """
    return math.log(chance / rows) / math.log(usual) if 0.0 < usual < 1.0 else math.inf

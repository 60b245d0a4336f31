"""What a converter's step leaves in the mean of many readings, told from their codes.

Averaging does not remove it while the noise is small against a step, and the rms of the readings
does not tell how small the noise is: at the edge of a step even no noise at all shows half a step
rms. How the codes share out tells more. For noise of a given size and shape about a level the mean
code follows (Widrow & Kollar, Quantization Noise, ch. 4-5); every size and shape that explains the
codes leaves another level behind the same mean, and how far those lie off is the answer. Shapes
tried: normal, Student's t (bursts), a tone, and even (a level that creeps).
"""

from functools import cache

import numpy as np

from analysis.model.recording import Array

# Trial scales of the noise in steps, each as likely beforehand.
_SCALES = np.linspace(0.03, 1.2, 40)
_DITHERED = 0.6
# Neighbouring readings are alike, so a log is not worth all its readings.
_MOST_READINGS = 2000.0
_REACH = 2
_SHAPES = 4
_CODES = np.arange(-5.0, 6.0)


def converter_bias(step_volts: float, noise_volts: float) -> float:
    """Return the rms error that a converter of this step leaves in the mean of many readings.

    Noise of sigma dithers the step: the mean's error is periodic in the level with first
    harmonic step/pi * exp(-2 pi^2 sigma^2 / step^2) (Widrow & Kollar, Quantization Noise,
    ch. 4-5); without noise it is step/sqrt(12), the uniform distribution.
    """
    if step_volts <= 0.0:
        return 0.0
    sigma = noise_volts / step_volts
    harmonic = np.arange(1, 200)
    # Parseval over the harmonics of a sawtooth: sum of (1/(pi k))^2 / 2 = 1/12 at sigma = 0.
    power = 0.5 * np.sum((np.exp(-2.0 * (np.pi * harmonic * sigma) ** 2) / (np.pi * harmonic))**2)
    return float(step_volts * np.sqrt(power))


def rounding_left(codes: Array) -> tuple[float, float]:
    """Return what rounding left in the mean: its expectation and standard uncertainty, in steps.

    codes: shape (n,), whole numbers, n >= 1. With one code only: 0 and the uniform distribution's
    1/sqrt(12). Mean of the codes less the expectation is the better value.
    """
    # A code that occurs: half way between two levels there may be none.
    middle = np.partition(codes, codes.size // 2)[codes.size // 2]
    near = codes[np.abs(codes - middle) <= _REACH] - middle
    variance = float(np.var(near))
    if variance > _DITHERED:
        return 0.0, converter_bias(1.0, float(np.sqrt(variance - 1.0 / 12.0)))
    if variance == 0.0:
        return 0.0, float(1.0 / np.sqrt(12.0))
    places = np.arange(-_REACH, _REACH + 1.0)
    counts = np.array([np.count_nonzero(near == k) for k in places], dtype=float)
    mean = float(near.mean())
    level = _level_behind(mean)
    weight = min(1.0, _MOST_READINGS / near.size)
    likelihood = weight * (np.log(np.maximum(_chances(places, level), 1e-12)) @ counts)
    belief = np.exp(likelihood - likelihood.max())
    belief /= belief.sum()
    error = mean - level
    expected = float(np.sum(belief * error))
    return expected, float(np.sqrt(np.sum(belief * (error - expected) ** 2)))


def _chances(places: Array, level: Array) -> Array:
    """Return the chance of each code for each trial noise at its level, (shapes, scales, codes)."""
    from scipy.special import ndtr

    edges = np.append(places - 0.5, places[-1] + 0.5)
    x = (edges - level[:, :, None]) / _SCALES[:, None]
    below = np.empty_like(x)
    ndtr(x[0], out=below[0])
    # Student's t of 4 degrees in closed form; the general one takes most of the time.
    tail = x[1] / np.sqrt(1.0 + x[1] ** 2 / 4.0)
    below[1] = 0.5 + 0.375 * tail * (1.0 - tail**2 / 12.0)
    below[2] = 0.5 + np.arcsin(np.minimum(np.maximum(x[2] / np.sqrt(2.0), -1.0), 1.0)) / np.pi
    below[3] = np.minimum(np.maximum(0.5 + x[3] / np.sqrt(12.0), 0.0), 1.0)
    result: Array = below[:, :, 1:] - below[:, :, :-1]
    return result


def _level_behind(mean: float) -> Array:
    """Return for each trial noise the level whose codes have that mean, (shapes, scales)."""
    whole = np.round(mean)
    part = mean - whole
    levels, means = _mean_codes()
    below = np.clip(np.sum(means <= part, axis=2) - 1, 0, levels.size - 2)
    low, high = levels[below], levels[below + 1]
    for _ in range(15):  # a tone asks for as much as that
        middle = 0.5 * (low + high)
        above = _chances(_CODES, middle) @ _CODES > part
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    result: Array = whole + 0.5 * (low + high)
    return result


@cache
def _mean_codes() -> tuple[Array, Array]:
    """Return levels (l,) within a step of 0, and the mean code of each trial noise, (.., l)."""
    levels = np.linspace(-1.0, 1.0, 201)
    means = [_chances(_CODES, np.full((_SHAPES, _SCALES.size), level)) @ _CODES
             for level in levels]
    return levels, np.stack(means, axis=2)


def mean_error(codes: Array, noise_steps: float) -> tuple[float, float]:
    """Return the same for readings that may hold NaN or no whole codes; noise_steps: their rms."""
    codes = codes[np.isfinite(codes)]
    if not codes.size or float(np.max(np.abs(codes - np.round(codes)))) > 1e-6:
        # Averaged on the board: no codes to look at.
        return 0.0, converter_bias(1.0, noise_steps)
    return rounding_left(np.round(codes))

"""What noise is made of: its spectrum, and the tones in it.

Spectrum: mean of squared Fourier amplitudes over Hann-windowed pieces (Welch 1967), one-sided,
in V^2/Hz. A line is called a tone when it stands 10 times (10 dB) above the median of its
neighbours; with 64 pieces or more chance alone does that less than once in a million bins.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from analysis.model.finding import Reason
from analysis.model.recording import Array

PIECE_S = 2.0
LEAST_READINGS = 64
_ABOVE = 10.0
_MOST_TONES = 8
# Frequencies that the trade knows by name; common practice, no source. Tolerance in Hz.
_MAINS_HZ, _MAINS_WITHIN_HZ = (50.0, 60.0), 0.6
_RECTIFIED_HZ, _RECTIFIED_WITHIN_HZ = (100.0, 120.0), 1.0
_SWITCHING_HZ = (2000.0, 20000.0)


@dataclass(frozen=True)
class Tone:
    """Hold one line in the spectrum of the noise.

    amplitude_volts: peak of the sine. before: the tone was there with the key off as well.
    source: what the trade finds at that frequency; aliases_hz: true frequencies that a log at
    this rate shows in the same place, lowest first.
    """

    hertz: float
    amplitude_volts: float
    before: bool
    source: Reason
    aliases_hz: tuple[float, ...]


@dataclass(frozen=True)
class Spectrum:
    """Hold amplitude density with the key off and on; shapes (m,), V/sqrt(Hz), NaN if absent."""

    hertz: Array
    before: Array
    after: Array


def piece_size(longest: int, step_s: float) -> int:
    """Return how many readings a piece has: 2 s, 64 where those last longer, no more than longest.

    A length with small factors keeps the transform fast; a few samples less cost nothing.
    """
    size = min(max(LEAST_READINGS, round(PIECE_S / step_s)), longest)
    return size - (size % 20 if size >= 400 else size % 2)


def frequencies(size: int, step_s: float) -> Array:
    """Return the frequencies of a density of pieces of that size, Hz, without 0."""
    result: Array = np.fft.rfftfreq(size, step_s)[1:].astype(np.float64)
    return result


def density(pieces: Iterable[Array], size: int, step_s: float) -> Array:
    """Return the amplitude density of pieces of `size` readings, V/sqrt(Hz); NaN without any.

    Each piece less its mean and its slope; a piece with a missing reading is left out.
    """
    window = np.hanning(size + 1)[:-1]
    ramp = np.arange(size) - 0.5 * (size - 1)
    ramp /= np.sqrt(np.sum(ramp**2))
    total = np.zeros(size // 2 + 1)
    used = 0
    for piece in pieces:
        if np.isnan(piece).any():
            continue
        values = piece - piece.mean()
        values -= ramp * (ramp @ values)
        total += np.abs(np.fft.rfft(values * window)) ** 2
        used += 1
    if not used:
        missing: Array = np.full(size // 2, np.nan)
        return missing
    # One-sided: what lies below 0 is counted above it; the last line has no other side.
    total[:-1] *= 2.0
    result: Array = np.sqrt(total[1:] / used * step_s / np.sum(window**2))
    return result


def find_tones(found: Spectrum, rate_hz: float) -> tuple[Tone, ...]:
    """Return the tones of the noise after key-on, strongest first, at most eight."""
    if found.hertz.size < 20 or not np.isfinite(found.after).any():
        return ()
    power = found.after**2
    width = found.hertz[1] - found.hertz[0]
    tones = []
    peaks = _peaks(power)
    for peak in peaks:
        near = slice(max(0, peak - 2), peak + 3)
        level = _background(power, peak)
        energy = float(np.sum(power[near] - level)) * width
        weight = np.maximum(power[near] - level, 0.0)
        hertz = float(np.sum(weight * found.hertz[near]) / np.sum(weight))
        before = bool(np.isfinite(found.before[peak])
                      and found.before[peak] ** 2 > _ABOVE * _background(found.before**2, peak)
                      and found.before[peak] ** 2 > 0.1 * power[peak])
        tones.append((hertz, float(np.sqrt(2.0 * energy)), before))
    tones.sort(key=lambda t: -t[1])
    tones = tones[:_MOST_TONES]
    return tuple(Tone(h, a, b, _source(h, [t[0] for t in tones], rate_hz), aliases(h, rate_hz))
                 for h, a, b in tones)


def aliases(hertz: float, rate_hz: float, highest_hz: float = 20_000.0) -> tuple[float, ...]:
    """Return true frequencies that sampling at rate_hz shows at `hertz`: |k rate +- hertz|.

    (Nyquist; any text on sampling.) Only the first six beyond half the rate are listed.
    """
    result: list[float] = []
    k = 1
    while len(result) < 6 and k * rate_hz - hertz <= highest_hz:
        result += [k * rate_hz - hertz, k * rate_hz + hertz]
        k += 1
    return tuple(result[:6])


def _source(hertz: float, all_hertz: list[float], rate_hz: float) -> Reason:
    for centre in _MAINS_HZ:
        if abs(hertz - centre) <= _MAINS_WITHIN_HZ:
            return Reason("mains", {"mains_hz": centre})
    for centre in _RECTIFIED_HZ:
        if abs(hertz - centre) <= _RECTIFIED_WITHIN_HZ:
            return Reason("rectified mains", {"mains_hz": centre})
    strongest = all_hertz[0]
    times = round(hertz / strongest)
    # As near as the strongest is known; a share of the ratio would take any high tone for one.
    if times > 1 and abs(hertz - times * strongest) < times * min(0.2, 0.01 * strongest):
        return Reason("multiple of a tone", {"times": times, "strongest_hz": strongest})
    low, high = _SWITCHING_HZ
    if low <= hertz <= high:
        return Reason("switching of a converter")
    return Reason("switching or ripple", {"rate_hz": rate_hz, "tone_hz": hertz})


def _peaks(power: Array) -> list[int]:
    # The last as well: mains of 50 Hz logged at 100 Hz stand at the very end.
    inner = np.arange(1, power.size)
    local = inner[(power[inner] >= power[inner - 1]) & (power[inner] > np.append(power[2:], -1.0))]
    return [int(i) for i in local if power[i] > _ABOVE * _background(power, int(i))]


def _background(power: Array, at: int) -> float:
    reach = max(15, at // 10)
    near = np.concatenate([power[max(0, at - reach):max(0, at - 3)], power[at + 4:at + reach]])
    return float(np.median(near)) if near.size else float("inf")

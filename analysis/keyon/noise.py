"""What the noise is made of: its spectrum with the key off and on, and the tones in it.

Spectrum: mean of squared Fourier amplitudes over Hann-windowed pieces (Welch 1967), one-sided,
in V^2/Hz. A line is called a tone when it stands 10 times (10 dB) above the median of its
neighbours; with 64 pieces or more chance alone does that less than once in a million bins.
"""

from itertools import pairwise

import numpy as np

from analysis.keyon.cycles import Span
from analysis.keyon.results import Spectrum, Tone
from analysis.keyon.rows import Blocks, Bools, Ints, runs, stated_of
from analysis.recording import Array, Channel, Recording

_PIECE_S = 2.0
_LEAST_READINGS = 64
_MOST_PIECES = 200
_ABOVE = 10.0
_MOST_TONES = 8
# Frequencies that the trade knows by name; common practice, no source. Tolerance in Hz.
_NAMES = (
    (50.0, 0.6, "mains 50 Hz (a charger or an instrument fed from the mains)"),
    (60.0, 0.6, "mains 60 Hz (a charger or an instrument fed from the mains)"),
    (100.0, 1.0, "rectified mains, 100 Hz (a charger)"),
    (120.0, 1.0, "rectified mains, 120 Hz (a charger)"),
)
_SWITCHING_HZ = (2000.0, 20000.0)


def spectrum(recording: Recording, channel: Channel, blocks: Blocks, free: Bools,
             spans: tuple[Span, ...], gaps: Ints, waits_s: tuple[float, ...]) -> Spectrum:
    """Return the spectrum before and after key-on; NaN arrays where there is too little.

    waits_s: per span, seconds after key-on that still settle. Pieces last 2 s (64 readings
    when those last longer), shorter when no undisturbed stretch is that long.
    """
    before = [(s.before_row, s.on_row) for s in spans]
    after = [(s.on_row + round(w / blocks.step_s), s.off_row)
             for s, w in zip(spans, waits_s, strict=True)]
    stretches = [_undisturbed(blocks, free, group, gaps) for group in (before, after)]
    longest = [max((b - a for a, b in group), default=0) for group in stretches]
    wanted = max(_LEAST_READINGS, round(_PIECE_S / blocks.step_s))
    useful = [length for length in longest if length >= _LEAST_READINGS]
    if not useful:
        nothing = np.full(1, np.nan)
        return Spectrum(np.zeros(1), nothing, nothing)
    size = min([wanted, *useful])
    # A length with small factors keeps the transform fast; a few samples less cost nothing.
    size -= size % 20 if size >= 400 else size % 2
    hertz: Array = np.fft.rfftfreq(size, blocks.step_s)[1:].astype(np.float64)
    densities = [_density(recording, channel, group, size, blocks.step_s)
                 for group in stretches]
    return Spectrum(hertz, densities[0], densities[1])


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
    return tuple(Tone(h, a, b, _name(h, [t[0] for t in tones], rate_hz), aliases(h, rate_hz))
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


def _name(hertz: float, all_hertz: list[float], rate_hz: float) -> str:
    for centre, tolerance, text in _NAMES:
        if abs(hertz - centre) <= tolerance:
            return text
    strongest = all_hertz[0]
    times = round(hertz / strongest)
    # As near as the strongest is known; a share of the ratio would take any high tone for one.
    if times > 1 and abs(hertz - times * strongest) < times * min(0.2, 0.01 * strongest):
        return f"{times} times the tone at {strongest:.1f} Hz"
    low, high = _SWITCHING_HZ
    if low <= hertz <= high:
        return "switching of a motor controller or converter"
    return (f"switching or ripple; sampling at {rate_hz:g} Hz folds k x {rate_hz:g} +- "
            f"{hertz:.1f} Hz down to here")


def _peaks(power: Array) -> list[int]:
    inner = np.arange(1, power.size - 1)
    local = inner[(power[inner] >= power[inner - 1]) & (power[inner] > power[inner + 1])]
    return [int(i) for i in local if power[i] > _ABOVE * _background(power, int(i))]


def _background(power: Array, at: int) -> float:
    reach = max(15, at // 10)
    near = np.concatenate([power[max(0, at - reach):max(0, at - 3)], power[at + 4:at + reach]])
    return float(np.median(near)) if near.size else float("inf")


def _undisturbed(blocks: Blocks, free: Bools, rows: list[tuple[int, int]],
                 gaps: Ints) -> list[tuple[int, int]]:
    """Return row stretches without foot and without gap."""
    result = []
    for start, stop in rows:
        piece = blocks.between(start, stop)
        for a, b in runs(free[piece]):
            first = int(blocks.first_row[piece.start + a])
            last = min((piece.start + b) * blocks.size, stop)
            cuts = gaps[(gaps > first) & (gaps < last)].tolist()
            edges = [first, *cuts, last]
            result += [(x, y) for x, y in pairwise(edges) if y > x]
    return result


def _density(recording: Recording, channel: Channel, stretches: list[tuple[int, int]], size: int,
             step_s: float) -> Array:
    starts = [s for a, b in stretches for s in range(a, b - size + 1, max(1, size // 2))]
    empty: Array = np.full(size // 2, np.nan)
    if not starts:
        return empty
    if len(starts) > _MOST_PIECES:
        starts = [starts[i] for i in np.linspace(0, len(starts) - 1, _MOST_PIECES).astype(int)]
    window = np.hanning(size + 1)[:-1]
    ramp = np.arange(size) - 0.5 * (size - 1)
    ramp /= np.sqrt(np.sum(ramp**2))
    total = np.zeros(size // 2 + 1)
    used = 0
    for start in starts:
        values = stated_of(recording, channel, start, start + size)
        if np.isnan(values).any():
            continue
        values -= values.mean()
        values -= ramp * (ramp @ values)
        total += np.abs(np.fft.rfft(values * window)) ** 2
        used += 1
    if not used:
        return empty
    power = 2.0 * total[1:] / used * step_s / np.sum(window**2)
    result: Array = np.sqrt(power)
    return result

"""Two inputs that read the same wiper: a pair in name only, for nothing checks the pedal.

Two potentiometers never bend alike: what is left of one track over the best straight line on the
other changes along the travel, by some 0.05 % of travel even between good ones. Two inputs on one
wiper leave nothing but their converters' own noise and rounding, at rest and on the move alike.
Figures measured on both generators: docs/method.md, "Two inputs on one wiper".
"""

from collections.abc import Mapping

import numpy as np

from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.pedal.faults.fault import Fault
from analysis.pedal.tracks import TrackFindings
from analysis.signal.noise import slow_rows
from analysis.signal.segments import Segment
from analysis.signal.smoothing import Mask, bin_means

# Dividers of 1 % parts before the inputs shift gain and offset of one wiper by no more than this.
MOST_GAIN, MOST_OFFSET = 0.03, 0.01
EDGES = np.arange(-2.0, 103.0, 2.0)
LEAST_BINS, LEAST_ROWS = 40, 20
# What is left along the travel, root mean square over the bins: so many standard errors and a
# share of a step are chance; this share of travel (%) is what no two potentiometers stay below.
ERRORS, STEPS, MOST_BEND = 2.0, 0.05, 0.03
# Below this standard error (% of travel) a bend of two potentiometers would have been seen.
SURE = 0.02
# Moving adds nothing to the difference of two inputs on one wiper.
MOVING = 1.3
# Their noise is alike within this factor, and common: this share of it cancels in the difference,
# or all that is left is rounding and the noise of a sound converter, in steps.
ALIKE, COMMON, ROUNDING = 1.3, 0.1, 1.5
MOST_ROWS = 200_000
# A step coarser than this share of the span, twice what two good potentiometers differ by, tells
# little of them: the evidence is weak then.
COARSE = 0.001


def copy_faults(tracks: Mapping[str, TrackFindings], volts: Mapping[str, Array],
                trusted: Mapping[str, Mask], pedal: Array, segments: tuple[Segment, ...],
                times: Array) -> list[Fault]:
    """Return one fault when the first two tracks are copies of each other, else none.

    volts, trusted: by track, shape (n,); pedal: shape (n,), travel in %; times: shape (n,), s.
    """
    if len(tracks) < 2:
        return []
    a, b = list(tracks)[:2]
    first, second = tracks[a], tracks[b]
    good = trusted[a] & trusted[b] & np.isfinite(volts[a]) & np.isfinite(volts[b])
    rows = slow_rows(segments, good)
    rows = rows[:: rows.size // MOST_ROWS + 1]
    if rows.size < LEAST_BINS * LEAST_ROWS:
        return []
    x, y = volts[a][rows], volts[b][rows]
    centred = x - x.mean()
    power = float(centred @ centred)
    gain = float(centred @ (y - y.mean())) / power if power > 0 else 0.0
    offset = float(y.mean() - gain * x.mean())
    if (abs(gain - 1.0) > MOST_GAIN
            or abs(offset + (gain - 1.0) * first.rest.value) > MOST_OFFSET * first.nominal_volts):
        return []
    left = y - gain * x - offset
    step = max(first.step_volts, second.step_volts)
    if not _straight(pedal[rows], left, step, first.span.value):
        return []
    own, other, apart = _at_rest(volts[a], volts[b], gain, good, segments)
    if not np.isfinite(apart):
        return []
    if float(np.std(left)) > MOVING * np.hypot(apart, step / np.sqrt(6.0)):
        return []
    if max(own, other) > ALIKE * max(min(own, other), step / np.sqrt(12.0)):
        return []
    together = own**2 + other**2
    common = 1.0 - apart**2 / together if together > 0 else 1.0
    if common < COMMON and apart > ROUNDING * step:
        return []
    if step > COARSE * first.span.value:
        return [Fault(
            "same wiper", None, float(times[0]), float(times[-1]), float("nan"), 1,
            Reason("alike within a step", {"first": a, "second": b, "step_volts": step}))]
    if common < COMMON:
        # Their noise is not common: each input's own covers it, or these are two fine elements.
        return [Fault(
            "same wiper", None, float(times[0]), float(times[-1]), float("nan"), 1,
            Reason("bend alike", {"first": a, "second": b}))]
    return [Fault(
        "same wiper", None, float(times[0]), float(times[-1]), float("nan"), 2,
        Reason("copies", {"first": a, "second": b, "rms_volts": float(np.std(left))}))]


def _straight(pedal: Array, left: Array, step: float, span: float) -> bool:
    """Return whether nothing is left along the travel that two potentiometers would leave."""
    mean, spread, number = bin_means(pedal, left, EDGES)
    seen = number >= LEAST_ROWS
    if seen.sum() < LEAST_BINS:
        return False
    bend = float(np.sqrt(np.mean(mean[seen] ** 2)))
    error = float(np.sqrt(np.mean(spread[seen] ** 2 / number[seen])))
    chance = float(np.hypot(ERRORS * error, STEPS * step))
    return (error <= SURE / 100.0 * span and bend <= chance and bend <= MOST_BEND / 100.0 * span)


def _at_rest(first: Array, second: Array, gain: float, good: Mask,
             segments: tuple[Segment, ...]) -> tuple[float, float, float]:
    """Return the rms of both tracks and of their difference within the rests; NaN without any."""
    squares, rows = np.zeros(3), 0
    for segment in segments:
        length = segment.stop - segment.start
        core = slice(segment.start + length // 4, segment.stop - length // 4)
        mask = good[core]
        if segment.kind != "rest" or mask.sum() < LEAST_ROWS:
            continue
        x, y = gain * first[core][mask], second[core][mask]
        squares += [float(np.var(v)) * x.size for v in (x, y, y - x)]
        rows += x.size
    if not rows:
        return float("nan"), float("nan"), float("nan")
    own, other, apart = np.sqrt(squares / rows)
    return float(own), float(other), float(apart)

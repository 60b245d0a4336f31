"""Two inputs that read the same wiper: a pair in name only, for nothing checks the pedal.

Two potentiometers never bend alike: what is left of one track over the best straight line on the
other changes along the travel, by some 0.05 % of travel even between good ones. Two inputs on one
wiper leave nothing but their converters' own noise and rounding, at rest and on the move alike.
Figures measured on both generators: docs/method.md, "Two inputs on one wiper".
"""

from itertools import combinations

import numpy as np

from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.pedal.faults.fault import Fault
from analysis.pedal.faults.swept import Swept
from analysis.pedal.tracks import TrackFindings
from analysis.signal.noise import slow_rows
from analysis.signal.segments import Segment
from analysis.signal.smoothing import Mask, bin_means

# Dividers of 1 % parts before the inputs shift gain and offset of one wiper by no more than this.
MOST_GAIN, MOST_OFFSET = 0.03, 0.01
# One wiper passes through nothing: two inputs of one kind differ by less than this share of the
# supply and so many steps (common practice, no source; stated offsets of converters are below).
OWN_OFFSET, OWN_STEPS = 0.001, 2.0
EDGES = np.arange(-4.0, 105.0, 4.0)
LEAST_BINS, LEAST_ROWS = 18, 8
# What is left along the travel, root mean square over the bins: so many standard errors and a
# share of a step are chance. Two films leave three errors and more, one wiper 1.5 and a sixth of a
# step (tests/studies/one_wiper.py).
ERRORS, STEPS = 2.0, 0.2
# Above this standard error (% of travel) nothing can be said of a bend.
SURE = 0.06
# Copies for sure: this share of travel (%) is what no two potentiometers stay below, known so well.
MOST_BEND, WELL_KNOWN = 0.03, 0.02
# Moving adds nothing to the difference of two inputs on one wiper.
MOVING = 1.3
# Their noise is alike within this factor, and common: this share of it cancels in the difference.
ALIKE, COMMON = 1.3, 0.1
MOST_ROWS = 200_000
# A step coarser than this share of the span (%), twice what two good potentiometers differ by,
# tells little of them: the evidence is weak then.
COARSE = 0.1


def detect(swept: Swept) -> list[Fault]:
    """Return one fault for each two tracks that may be copies of each other."""
    tracks, volts, trusted = swept.measured.tracks, swept.reading.volts, swept.look.trusted
    pedal, segments, times = swept.look.pedal, swept.segments, swept.times
    found: list[Fault] = []
    for a, b in combinations(tracks, 2):
        good = trusted[a] & trusted[b] & np.isfinite(volts[a]) & np.isfinite(volts[b])
        why = _one_wiper((tracks[a], tracks[b]), (volts[a], volts[b]), good, pedal, segments)
        if why is not None:
            found.append(Fault(
                "same wiper", None, float(times[0]), float(times[-1]), float("nan"),
                2 if why.code == "copies" else 1,
                Reason(why.code, {"first": a, "second": b, **why.values})))
    return found


def _one_wiper(pair: tuple[TrackFindings, TrackFindings], volts: tuple[Array, Array], good: Mask,
               pedal: Array, segments: tuple[Segment, ...]) -> Reason | None:
    """Return why two inputs may read one wiper; None when they do not, or too little was read."""
    first, second = pair
    rows = slow_rows(segments, good)
    rows = rows[:: rows.size // MOST_ROWS + 1]
    if rows.size < LEAST_BINS * LEAST_ROWS:
        return None
    x, y = volts[0][rows], volts[1][rows]
    centred = x - x.mean()
    power = float(centred @ centred)
    gain = float(centred @ (y - y.mean())) / power if power > 0 else 0.0
    offset = float(y.mean() - gain * x.mean())
    if (abs(gain - 1.0) > MOST_GAIN
            or abs(offset + (gain - 1.0) * first.rest.value) > MOST_OFFSET * first.nominal_volts):
        return None
    left, step = y - gain * x - offset, max(first.step_volts, second.step_volts)
    bend, error = _bend(pedal[rows], left, first.span.value)
    step_percent = 100.0 * step / first.span.value
    if not (error <= SURE and bend <= np.hypot(ERRORS * error, STEPS * step_percent)):
        return None
    own, other, apart = _at_rest(*volts, gain, good, segments)
    # Moving adds nothing where there is one wiper; without a rest nobody knows.
    if not float(np.std(left)) <= MOVING * np.hypot(apart, step / np.sqrt(6.0)):
        return None
    together = own**2 + other**2
    common = 1.0 - apart**2 / together if together > 0 else 1.0
    alike = max(own, other) <= ALIKE * max(min(own, other), step / np.sqrt(12.0))
    if (alike and common >= COMMON and step_percent <= COARSE and bend <= MOST_BEND
            and error <= WELL_KNOWN):
        return Reason("copies", {"rms_volts": float(np.std(left))})
    # Each input's own noise may cover the wiper's: nothing here shows two elements.
    if abs(offset) > OWN_OFFSET * first.nominal_volts + OWN_STEPS * step:
        return None
    return (Reason("alike within a step", {"step_volts": step}) if step_percent > COARSE
            else Reason("bend alike"))


def _bend(pedal: Array, left: Array, span: float) -> tuple[float, float]:
    """Return what is left along the travel and its standard error, rms in % of travel, or NaN."""
    mean, spread, number = bin_means(pedal, left, EDGES)
    seen = number >= LEAST_ROWS
    if seen.sum() < LEAST_BINS:
        return float("nan"), float("nan")
    share = 100.0 / span
    return (share * float(np.sqrt(np.mean(mean[seen] ** 2))),
            share * float(np.sqrt(np.mean(spread[seen] ** 2 / number[seen]))))


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

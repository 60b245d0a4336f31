"""A pedal that creeps back: its rests still fall at their end, or none reaches the first one.

A level that had not settled is no rest: what is measured from it is too high, and any limit about
it as well. Two signs, either of which is enough:
- of every rest the last part is set against the part before it; all rests falling alike is no
  noise (Student's t on the differences, one-sided);
- the rest before the first press, which had all the time it needed, lies below all later ones by
  more than they scatter.
"""

import numpy as np

from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.pedal.faults.fault import Fault
from analysis.signal.segments import Segment
from analysis.signal.smoothing import median, robust_spread

# A rest must last so long to be looked at, its first part left out while the pedal arrives.
LEAST_S, ARRIVES_S = 0.8, 0.4
# Falls by less than this share of travel within a quarter of a rest are a bush that settles
# (common practice, no source); so are first rests nearer than this to the later ones.
FALLS_PERCENT, FIRST_PERCENT = 0.06, 0.7
# One-sided Student's t of the mean fall; 4.5 is passed by chance once in a thousand sweeps of seven
# rests, once in some thousands of twelve.
SIGNIFICANT_T = 4.5
LEAST_RESTS = 3


def settling_faults(segments: tuple[Segment, ...], pedal: Array, times: Array) -> list[Fault]:
    """Return that rests had not settled, one fault for the pedal; empty when they had.

    pedal: shape (n,), travel in %; times: shape (n,), seconds.
    """
    rests = [s for k, s in enumerate(segments)
             if s.kind == "rest" and s.end_s - s.start_s >= LEAST_S]
    after = [s for s in rests if s is not segments[0]]
    if len(after) < LEAST_RESTS:
        return []
    falls = np.array([_fall(s, pedal, times) for s in after])
    falls = falls[np.isfinite(falls)]
    levels = np.array([median(pedal[_late(s, times): s.stop]) for s in after])
    if falls.size >= LEAST_RESTS:
        mean, spread = float(falls.mean()), float(falls.std(ddof=1))
        t = mean / max(spread / np.sqrt(falls.size), 1e-9)
        if mean >= FALLS_PERCENT and t >= SIGNIFICANT_T and np.mean(falls > 0) >= 0.8:
            return [_fault(after, "still falls", mean)]
    first = segments[0]
    if first.kind == "rest" and first.end_s - first.start_s >= LEAST_S:
        level = median(pedal[first.start: max(first.start + 1, (first.start + first.stop) // 2)])
        rise = float(np.median(levels)) - level
        if rise >= max(FIRST_PERCENT, 5.0 * robust_spread(levels)) and levels.min() > level:
            return [_fault(after, "rests above", rise)]
    return []


def _fault(rests: list[Segment], how: str, percent: float) -> Fault:
    return Fault(
        "not settled", None, rests[0].start_s, rests[-1].end_s, percent, 3,
        Reason("creeps back", {"how": how, "percent": percent}))


def _late(rest: Segment, times: Array) -> int:
    """Return the first row of the last quarter of a rest."""
    return min(int(np.searchsorted(times, rest.end_s - 0.25 * (rest.end_s - rest.start_s))),
               rest.stop - 1)


def _fall(rest: Segment, pedal: Array, times: Array) -> float:
    """Return by how much the last third lies below the one before it, % of travel; NaN: unknown."""
    begin = rest.start_s + ARRIVES_S
    third = (rest.end_s - begin) / 3.0
    rows = [int(np.searchsorted(times, begin + k * third)) for k in range(4)]
    middle, last = pedal[rows[1]: rows[2]], pedal[rows[2]: max(rows[3], rows[2])]
    if middle.size < 3 or last.size < 3:
        return float("nan")
    return median(middle) - median(last)

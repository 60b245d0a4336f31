"""The pedal does not come back to rest, or comes back slowly."""

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.parameters import Parameters
from analysis.pedal.faults.fault import Fault
from analysis.pedal.tracks import came_back
from analysis.signal.segments import Segment
from analysis.signal.smoothing import median

if TYPE_CHECKING:
    # It holds the return times of this module.
    from analysis.pedal.faults.swept import Swept

# The pedal counts as back at rest within this share of travel.
BACK_PERCENT = 3.0
# The last rest of a recording must be so long to be held against the pedal.
LAST_S = 0.5
# Of a rest or a return at least this share must have been read.
LEAST_READ = 0.7


@dataclass(frozen=True)
class ReturnTime:
    """Hold one release: when it began and how long until the pedal was back at rest.

    seconds: NaN when the pedal was not back before the next press or the end.
    """

    start_s: float
    seconds: float
    quick: bool


def return_limit(parameters: Parameters) -> float:
    """Return the time to return to idle in seconds after release.

    49 CFR 571.124 S5.3 (from memory): 1 s up to 4536 kg, 2 s above, 3 s at -18 to -40 C.
    """
    if parameters.cold:
        return 3.0
    return 2.0 if parameters.heavy_vehicle else 1.0


def return_times(segments: tuple[Segment, ...], pedal: Array, times: Array) -> tuple[
        ReturnTime, ...]:
    """Return the return time of every release.

    pedal: shape (n,), travel in %; times: shape (n,), seconds.
    """
    result = []
    for k, segment in enumerate(segments):
        if segment.kind != "release":
            continue
        later = itertools.islice(segments, k + 1, None)
        stop = next((s.start for s in later if s.kind == "press"), pedal.size)
        part = pedal[segment.start: stop]
        back = np.flatnonzero(part <= BACK_PERCENT)
        seconds = (float(times[segment.start + int(back[0])]) - segment.start_s
                   if back.size else float("nan"))
        result.append(ReturnTime(segment.start_s, seconds, segment.quick))
    return tuple(result)


def detect(swept: "Swept") -> list[Fault]:
    """Return where the pedal stayed away from rest, and which lift-offs took too long."""
    segments, pedal, times = swept.segments, swept.look.pedal, swept.times
    limit = return_limit(swept.parameters)
    # Where no track tells the travel, nothing is said.
    read = np.logical_or.reduce(list(swept.look.trusted.values()))
    result = []
    # A recording that ends on the way back says nothing of that return.
    rests = [s for s in segments if s.kind == "rest" and s.stop - s.start >= 3
             and not (s is segments[-1] and s.end_s - s.start_s < LAST_S)
             and read[s.start: s.stop].mean() >= LEAST_READ]
    levels = np.array([median(pedal[(s.start + s.stop) // 2: s.stop]) for s in rests])
    came = came_back(levels, 100.0, 0.0)
    # Away in the first rests only, and never again: a foot that was not off yet, before a spring.
    away = np.flatnonzero(~came & (levels > 0))
    foot = bool(away.size) and away.size < levels.size / 2 and bool(
        np.array_equal(away, np.arange(away.size)))
    for segment, level, back in zip(rests, levels, came, strict=True):
        if not back and level > 0 and foot:
            result.append(Fault(
                "foot at rest", None, segment.start_s, segment.end_s, float(level), 2,
                Reason("foot at rest", {"travel_percent": float(level),
                                        "time_s": segment.start_s, "end_s": segment.end_s})))
        elif not back and level > 0:
            result.append(Fault(
                "no return", None, segment.start_s, segment.end_s, float(level), 3,
                Reason("stays pressed", {"travel_percent": float(level),
                                         "time_s": segment.start_s, "end_s": segment.end_s})))
    for back_time in swept.measured.returns:
        if not (back_time.quick and back_time.seconds > limit):
            continue
        rows = slice(*np.searchsorted(times, [back_time.start_s,
                                              back_time.start_s + back_time.seconds]))
        if read[rows].mean() >= LEAST_READ:
            result.append(Fault(
                "slow return", None, back_time.start_s, back_time.start_s + back_time.seconds,
                BACK_PERCENT, 3,
                Reason("slow return", {"time_s": back_time.start_s, "limit_s": limit,
                                       "seconds": back_time.seconds})))
    return result

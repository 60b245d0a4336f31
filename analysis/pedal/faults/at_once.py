"""What all inputs do at once and no pedal does: repeat one reading, or jump between two rows.

Rows were lost then, or what the tracks share (their plug, supply or ground) let go. Nobody knows
where the pedal was, so contact is not seen over the whole travel.
"""

import numpy as np

from analysis.model.finding import Reason
from analysis.model.recording import Channel
from analysis.pedal.faults.fault import Fault
from analysis.pedal.faults.swept import Swept
from analysis.signal.smoothing import Mask, runs
from analysis.signal.standstill import codes_of, least_rows, repeats_at_best

# A controller is not asked to act on less (Formula SAE rules T.4.2).
ACTS_S = 0.1
# Chance gives such a run less often than this in a sweep.
CHANCE = 1e-9
# A foot needs some 0.1 s for the travel and a spring some 0.05 s back: an edge of so much travel
# that is over from one reading to the next within this was no pedal (common practice, no source).
EDGE_S, EDGE_PERCENT = 0.011, 25.0
# So many readings before and after such an edge stand still, by a share of it.
AROUND, STILL = 3, 0.2


def detect(swept: Swept) -> list[Fault]:
    """Return where all tracks repeat one reading, and where all of them jump at once."""
    return [*_repeated(swept), *_jumps(swept)]


def _repeated(swept: Swept) -> list[Fault]:
    recording = swept.recording
    inputs = [c for c in recording.channels if c.role in ("track", "supply")]
    still = np.zeros(recording.rows, dtype=bool)
    for segment in swept.segments:
        if segment.kind in ("rest", "hold"):
            still[segment.start:segment.stop] = True
    same: Mask = np.ones(max(recording.rows - 1, 0), dtype=bool)
    for channel in inputs:
        same &= channel.readings[1:] == channel.readings[:-1]
    starts, stops = runs(same)
    long = (stops - starts) * recording.step_s > ACTS_S
    if not long.any():
        return []
    least = min(_least(channel, still) for channel in inputs)
    found = [(int(a), int(b)) for a, b in zip(starts[long], stops[long], strict=True)
             if b - a > least]
    if not found:
        return []
    times = swept.times
    longest = max(found, key=lambda each: each[1] - each[0])
    return [Fault("gap", None, float(times[longest[0]]), float(times[longest[1]]), float("nan"), 1,
                  Reason("all inputs repeat", {
                      "seconds": float(times[longest[1]] - times[longest[0]]),
                      "time_s": float(times[longest[0]]), "times": len(found)}))]


def _least(channel: Channel, still: Mask) -> float:
    """Return how many repeated rows are more than chance; the noise is that of a pedal at rest."""
    codes = codes_of(channel)
    return least_rows(repeats_at_best(codes[still]), codes.size, CHANCE)


def _jumps(swept: Swept) -> list[Fault]:
    by_track, times = list(swept.look.by_track.values())[:2], swept.times
    if len(by_track) < 2 or not swept.recording.step_s <= EDGE_S:
        return []
    rows = np.arange(AROUND, times.size - AROUND)
    jump = np.ones(max(rows.size, 0), dtype=bool)
    for percent in by_track:
        edge = percent[rows] - percent[rows - 1]
        with np.errstate(invalid="ignore"):
            jump &= np.abs(edge) > EDGE_PERCENT
        if not jump.any():
            return []
    found = []
    for row in rows[jump].tolist():
        # A hole in the times is told as such.
        if times[row] - times[row - 1] < 2.0 * EDGE_S and all(
                _is_edge(p, row) for p in by_track):
            found.append(row)
    if not found:
        return []
    first = found[0]
    return [Fault("gap", None, float(times[first - 1]), float(times[first]), float("nan"), 1,
                  Reason("all tracks jump", {
                      "percent": float(abs(by_track[0][first] - by_track[0][first - 1])),
                      "seconds": float(times[first] - times[first - 1]),
                      "time_s": float(times[first]), "times": len(found)}))]


def _is_edge(percent: np.ndarray, row: int) -> bool:
    """Return whether the readings before and after this row stand still, and it parts them."""
    before, after = percent[row - AROUND: row], percent[row: row + AROUND]
    height = abs(float(after.mean() - before.mean()))
    return bool(height > EDGE_PERCENT
                and max(np.ptp(before), np.ptp(after)) < STILL * height)

"""Whether the log could have shown anything at all: tracks that are missing, dead or stuck.

A wire that is broken already loses no contact when it is shaken, and a stuck reading does not drift
with warmth: both would pass for sound.
"""

import numpy as np

from analysis.model.recording import Recording
from analysis.proof.limits import Limits, volts_in_the_log
from analysis.proof.steps import steps_of

# The pedal alone stands within this of its rest, percent of travel (common practice, no source).
NEAR_REST = 15.0


def tracks_unseen(recording: Recording, limits: Limits, kinds: tuple[str, ...],
                  at_rest: bool) -> tuple[str, ...]:
    """Return the tracks of the sweep of which the steps of these kinds can show nothing.

    Missing in the log; one and the same reading from its first row to its last; or, where the
    pedal is to be alone (at_rest), usually further from its rest than NEAR_REST.
    """
    rows = np.zeros(recording.rows, dtype=bool)
    for step in steps_of(recording):
        if step.kind in kinds:
            rows[step.start: step.stop] = True
    have = {c.column: c for c in recording.with_role("track")}
    return tuple(name for name in limits.tracks if name not in have or _unseen(
        recording, limits, name, rows, at_rest))


def _unseen(recording: Recording, limits: Limits, name: str, rows: np.ndarray,
            at_rest: bool) -> bool:
    channel = recording.channel(name)
    known = channel.readings[np.isfinite(channel.readings)]
    if not known.size or np.ptp(known) == 0:
        return True
    if not at_rest:
        return False
    travel = limits.tracks[name].travel(volts_in_the_log(recording, channel))[rows]
    travel = travel[np.isfinite(travel)]
    return not travel.size or abs(float(np.median(travel))) > NEAR_REST

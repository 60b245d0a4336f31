"""Whether the rest of a track moved during the sweep, by a straight line through its returns."""

import numpy as np

from analysis.pedal.levels import wider_for_few
from analysis.pedal.tracks import TrackFindings

# A drift counts when a steady pedal would show it once in a hundred sweeps.
DRIFT_SIGNIFICANCE = 0.01


def drift_seen(track: TrackFindings, sign: float) -> float:
    """Return how far rest moved during the sweep, volts towards pressed; 0 when within chance.

    sign: +1 for a track that rises as the pedal is pressed, -1 for one that falls. NaN and fewer
    than 5 returns: 0.
    """
    from scipy.special import stdtrit

    count = int(track.rest_levels.size)
    drift = track.drift_volts_per_minute
    if count < 5 or not np.isfinite(drift.value) or not np.isfinite(drift.uncertainty):
        return 0.0
    # Student's t counts by itself that the returns are few.
    error = drift.uncertainty / wider_for_few(count - 2)
    limit = float(stdtrit(count - 2, 1.0 - DRIFT_SIGNIFICANCE / 2.0)) * error
    moved = drift.value * float(np.ptp(track.rest_times_s)) / 60.0
    # Less than a step is what rounding makes of a level near the edge of a step.
    return sign * moved if (
        abs(drift.value) > limit and abs(moved) > track.step_volts) else 0.0

"""One track made by hand, for tests of what is decided from it."""

import numpy as np

from analysis.model.estimate import Estimate
from analysis.pedal.tracks import TrackFindings


def track_by_hand(levels, full=4.2, direction="rising", noise=0.001, slope=900.0,
                  step=5.0 / 4096, seconds=30.0, supply_recorded=True, full_levels=None,
                  lowest=None, highest=None, clipped=False, drift=None):
    """Return findings of a track with those rest levels, volts; else as a sound pedal's."""
    levels = np.asarray(levels, dtype=float)
    rest = float(np.median(levels))
    full_levels = np.full(5, full) if full_levels is None else np.asarray(full_levels)
    times = 6.0 * np.arange(levels.size)
    spread = float(np.std(levels, ddof=1)) if levels.size > 1 else float("nan")
    return TrackFindings(
        column="a", direction=direction, rest=Estimate(rest, 0.001), rest_levels=levels,
        rest_times_s=times, rest_scatter=Estimate(spread, spread / 4), noise_volts=noise,
        crossing_slope=slope, drift_volts_per_minute=drift or Estimate(0.0, 0.01),
        full=Estimate(full, 0.001), full_levels=full_levels,
        span=Estimate(abs(full - rest), 0.002),
        lowest_volts=min(rest, full) - 0.02 if lowest is None else lowest,
        highest_volts=max(rest, full) + 0.02 if highest is None else highest,
        step_volts=step, nominal_volts=5.0, supply_recorded=supply_recorded, clipped=clipped,
        noise_map_percent=np.zeros(0), noise_map_volts=np.zeros(0),
        linearity_percent=float("nan"), rest_seconds=seconds)


TEN_LEVELS = 0.8 + 0.002 * np.array([0.3, -1.2, 0.8, 1.5, -0.4, -0.9, 0.1, 0.6, -1.6, 0.8])

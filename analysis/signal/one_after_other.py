"""Tracks that the board reads one after the other, put back to one time.

A converter with one input at a time reads the second track later than the first: with 16
conversions of 110 us each by 1.76 ms, in which a pedal let go falls by 8.8 % of travel in 20 ms.
Held against each other the tracks then seem to part. The board says how far its inputs are apart.
"""

from collections.abc import Mapping

import numpy as np

from analysis.model.recording import Array, Recording
from analysis.signal.smoothing import Mask, filled, running_mean

# All of a usual track (70 % of supply) in a third of a second: faster, the slope of many rows is
# not that of a row, and a straight line from row to row is taken.
FAST_PER_S = 2.0
# The slope of slow moves is a mean of so many thinned points.
POINTS = 5
# A row further from the one before it has no neighbour to draw a line from, in usual steps.
NEAR_STEPS = 1.5


def delays_s(recording: Recording) -> dict[str, float]:
    """Return how much later than the first track each other one is read, seconds, by column.

    From `channel_us` of the board (microseconds from one column to the next); empty where it says
    none, or more than fits between two rows.
    """
    board = recording.extra.get("board")
    said = board.get("channel_us") if isinstance(board, Mapping) else None
    if isinstance(said, bool) or not isinstance(said, int | float) or not 0 < said < 1e6 \
            or len(recording.with_role("track")) < 2:
        return {}
    columns = [c.column for c in recording.channels]
    tracks = [c.column for c in recording.with_role("track")]
    late = {t: 1e-6 * said * (columns.index(t) - columns.index(tracks[0])) for t in tracks}
    return {t: d for t, d in late.items() if d > 0} if max(late.values()) < recording.step_s else {}


def in_step(recording: Recording, volts: Mapping[str, Array], times: Array,
            thinned: Mapping[str, Array]) -> dict[str, Array]:
    """Return the tracks as they were when the first of them was read, shape (n,) each.

    volts: by track, shape (n,), at nominal supply, NaN where missing. times, thinned: shape (m,),
    the same tracks without short jumps. Slow moves are put back by their slope, which leaves noise
    as it is; quick ones, in which all tracks move, by a straight line from row to row. A lost
    contact is of one track and stays as it was read.
    """
    delays = {n: d for n, d in delays_s(recording).items() if n in volts and n in thinned}
    # Rows of one time, from a clock that stood still, have no slope among themselves.
    later = np.diff(times, prepend=-np.inf) > 0
    times = times[later]
    if not delays or times.size < 2:
        return dict(volts)
    nominal = recording.nominal_volts
    slopes = {n: running_mean(np.gradient(filled(v)[later], times), POINTS)
              for n, v in thinned.items()}
    fast = np.logical_and.reduce([_about(np.abs(s) > FAST_PER_S * nominal)
                                  for s in slopes.values()])
    quick = np.interp(recording.time_s, times, fast) > 0
    result = dict(volts)
    for name, late in delays.items():
        slow = np.clip(slopes[name], -FAST_PER_S * nominal, FAST_PER_S * nominal)
        by_slope = volts[name] - late * np.interp(recording.time_s, times, slow)
        by_row = _a_little_before(recording, volts[name], late)
        result[name] = np.where(quick, by_row, by_slope)
    return result


def _about(mask: Mask) -> Mask:
    """Return the mask with the points beside it that the mean of a slope reaches."""
    wide: Mask = running_mean(mask.astype(float), 2 * POINTS + 1) > 1e-9
    return wide


def _a_little_before(recording: Recording, volts: Array, late: float) -> Array:
    """Return a track `late` seconds before each of its readings, on the line to the one before."""
    step = np.diff(recording.time_s, prepend=recording.time_s[:1])
    share = np.zeros_like(step)
    near = (step > 0) & (step < NEAR_STEPS * recording.step_s)
    share[near] = np.minimum(late / step[near], 1.0)
    before = np.concatenate([volts[:1], volts[:-1]])
    moved = volts - share * (volts - before)
    result: Array = np.where(np.isfinite(moved), moved, volts)
    return result

"""The switch that chooses forward or reverse: what it says on each press, and what it must not do.

Two lines, of the roles "forward" and "reverse"; neither closed is neutral. Whether a closed line
reads low (a switch to ground with a pull-up) or high (one to 12 V through a divider) is stated.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.model.recording import Array, Channel, Recording
from analysis.pedal.switch import BOUNCE_S
from analysis.signal.segments import Segment
from analysis.signal.smoothing import Mask

FORWARD, REVERSE, NEUTRAL, BOTH = "forward", "reverse", "neutral", "both"
NAMES = (NEUTRAL, FORWARD, REVERSE, BOTH)
ROLES = (FORWARD, REVERSE)
# The pedal counts as pressed beyond this % of travel (common practice, no source).
PRESSED = 5.0
# Both lines closed for this long is no reading between two inputs of one board.
LEAST_BOTH_S = 0.003


@dataclass(frozen=True)
class DirectionFindings:
    """Hold what the direction switch did.

    on_press: its state by press, of FORWARD, REVERSE, NEUTRAL and BOTH. changes: how often it was
    moved; while_pressed: how many of these with the pedal pressed, the first at pressed_at_s (NaN
    none). bounce_s: the longest time between the first and the last change of one move. both_s:
    how long both were closed at once in all, both_times how often, the first at both_at_s.
    """

    on_press: tuple[str, ...]
    changes: int
    while_pressed: int
    pressed_at_s: float
    bounce_s: float
    both_s: float
    both_times: int
    both_at_s: float


def measure_direction(recording: Recording, pedal: Array | None, segments: tuple[Segment, ...],
                      closed: str) -> DirectionFindings | None:
    """Return what the direction switch did; None without a line of either role.

    pedal: % of travel, shape (n,), None where it is not known. closed: a closed line reads "low" or
    "high".
    """
    if not any(recording.with_role(role) for role in ROLES):
        return None
    state = _states(recording, closed)
    time_s = recording.time_s
    rows = np.flatnonzero(np.diff(state)) + 1
    moves = [m for m in np.split(rows, np.flatnonzero(np.diff(time_s[rows]) > BOUNCE_S) + 1)
             if m.size]
    pressed = [] if pedal is None else [m for m in moves if pedal[m[0]] > PRESSED]
    both = _runs(state == NAMES.index(BOTH), time_s, recording.step_s)
    return DirectionFindings(
        tuple(_named(state[s.start:s.stop]) for s in segments if s.kind == "press"),
        len(moves), len(pressed), float(time_s[pressed[0][0]]) if pressed else float("nan"),
        max((float(time_s[m[-1]] - time_s[m[0]]) for m in moves), default=0.0),
        sum(b - a for a, b in both), len(both), both[0][0] if both else float("nan"))


def states_at(recording: Recording, rows: Sequence[int], closed: str) -> tuple[str, ...]:
    """Return which direction is chosen at each of these rows; closed: as `measure_direction`."""
    return tuple(NAMES[int(k)] for k in _states(recording, closed)[list(rows)])


def _states(recording: Recording, closed: str) -> Array:
    """Return 0 neutral, 1 forward, 2 reverse, 3 both, shape (n,)."""
    forward, reverse = (
        _closed(line[0], recording.nominal_volts, closed == "low")
        if (line := recording.with_role(role)) else np.zeros(recording.rows, dtype=bool)
        for role in ROLES)
    result: Array = 1.0 * forward + 2.0 * reverse
    return result


def _closed(channel: Channel, nominal: float, low: bool) -> Mask:
    """Return where a line is closed; one that moves between two levels is split half way.

    Between two of its readings it is closed where both are: nobody saw when it changed.
    """
    volts = channel.volts()
    read = np.flatnonzero(np.isfinite(volts))
    if not read.size:
        return np.zeros(volts.size, dtype=bool)
    known = volts[read]
    least, most = float(known.min()), float(known.max())
    half = (least + most) / 2.0 if most - least > 0.25 * nominal else nominal / 2.0
    result: Mask = known < half if low else known > half
    if read.size == volts.size:
        return result
    rows = np.arange(volts.size)
    after = np.minimum(np.searchsorted(read, rows), read.size - 1)
    before = np.maximum(np.searchsorted(read, rows, side="right") - 1, 0)
    return result[before] & result[after]


def _named(state: Array) -> str:
    """Return the state that most of some rows have."""
    counts = np.bincount(np.asarray(state, dtype=np.int64), minlength=4)
    return NAMES[int(np.argmax(counts))]


def _runs(flags: Mask, time_s: Array, step_s: float) -> list[tuple[float, float]]:
    """Return (start, end) in seconds of every stretch long enough to be meant."""
    edges = np.flatnonzero(np.diff(flags.astype(np.int8), prepend=0, append=0))
    found = [(float(time_s[a]), float(time_s[b - 1]) + step_s)
             for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a >= 2]
    return [(a, b) for a, b in found if b - a >= LEAST_BOTH_S]

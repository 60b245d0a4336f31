"""A switch on the pedal: where it makes on each press, how it bounces, and is start beyond it.

An idle switch says that the foot is off. A controller that believes it refuses power before it
has changed, so the start of travel must lie beyond where it changes on every press.
"""

from dataclasses import dataclass

import numpy as np

from analysis.model.recording import Array, Channel, Recording
from analysis.signal.segments import Segment
from analysis.signal.smoothing import Mask

# Below this share of all rows at its rarer level a switch was not seen to change; of a line that
# is no switch this share lies between its two levels (common practice, no source).
LEAST_SHARE, MOST_BETWEEN = 0.002, 0.05
# Changes that follow one another within this belong to one make (common practice, no source).
BOUNCE_S = 0.1
# The travel at a change is that of a parabola through so long on either side: a foot that sets off
# has no speed yet.
BESIDE_S = 0.04


@dataclass(frozen=True)
class SwitchFindings:
    """Hold what one switch does, travel in % of the pedal's.

    press_percent: shape (presses,), where it changed as the pedal was pressed, by press.
    release_percent: shape (returns,), where it changed back. bounce_s: the longest time between the
    first and the last change of one make. closed_at_rest: it reads its lower level at rest. missed:
    presses on which it never changed.
    """

    column: str
    press_percent: Array
    release_percent: Array
    bounce_s: float
    closed_at_rest: bool
    missed: int

    @property
    def make_percent(self) -> float:
        """Return where it changes on a usual press; NaN when it never did."""
        return float(np.median(self.press_percent)) if self.press_percent.size else float("nan")

    @property
    def latest_percent(self) -> float:
        """Return where it changed latest on any press; NaN when it never did."""
        return float(self.press_percent.max()) if self.press_percent.size else float("nan")


def measure_switches(recording: Recording, pedal: Array,
                     segments: tuple[Segment, ...]) -> dict[str, SwitchFindings]:
    """Return what each channel of role "switch" does. pedal: shape (n,), % of travel."""
    return {c.column: _measure(c, recording.time_s, pedal, segments)
            for c in recording.with_role("switch")}


def two_levels(volts: Array) -> Mask | None:
    """Return where a line is at its upper level, shape (n,); None where it knows no two levels.

    The levels are the furthest ones that hold some rows; a line that spends its time between them
    is no switch.
    """
    known = volts[np.isfinite(volts)]
    if known.size < 10:
        return None
    low, high = (float(v) for v in np.quantile(known, (LEAST_SHARE / 2, 1.0 - LEAST_SHARE / 2)))
    if not high > low:
        return None
    share = (known - low) / (high - low)
    between = float(np.mean((share > 0.25) & (share < 0.75)))
    rarer = min(float(np.mean(share > 0.5)), float(np.mean(share < 0.5)))
    if between > MOST_BETWEEN or rarer < LEAST_SHARE or between > rarer:
        return None
    # A missing reading keeps the state of the last one.
    upper = np.where(np.isfinite(volts), volts > (low + high) / 2, np.nan)
    place = np.maximum.accumulate(np.where(np.isfinite(upper), np.arange(upper.size), 0))
    result: Mask = np.nan_to_num(upper[place]) > 0.5
    return result


def _measure(channel: Channel, time_s: Array, pedal: Array,
             segments: tuple[Segment, ...]) -> SwitchFindings:
    upper = two_levels(channel.volts())
    if upper is None:
        nothing = np.zeros(0)
        return SwitchFindings(channel.column, nothing, nothing, 0.0, False, 0)
    rests = np.zeros(upper.size, dtype=bool)
    for segment in segments:
        if segment.kind == "rest":
            rests[segment.start:segment.stop] = True
    at_rest_upper = bool(np.mean(upper[rests]) > 0.5) if rests.any() else bool(upper[0])
    away = upper != at_rest_upper
    changes = np.flatnonzero(away[1:] != away[:-1]) + 1
    makes: dict[str, list[float]] = {"press": [], "release": []}
    bounce, missed = 0.0, 0
    for kind, start, stop in _moves(segments):
        rows = changes[(changes >= start) & (changes < stop)]
        if not rows.size:
            missed += kind == "press"
            continue
        # What bounces has touched at its first change.
        bursts = np.split(rows, np.flatnonzero(np.diff(time_s[rows]) > BOUNCE_S) + 1)
        bounce = max(bounce, *(float(time_s[b[-1]] - time_s[b[0]]) for b in bursts))
        row = int(bursts[0][0] if kind == "press" else bursts[-1][0])
        makes[kind].append(_travel_at(row, time_s, pedal))
    return SwitchFindings(channel.column, np.array(makes["press"]), np.array(makes["release"]),
                          bounce, not at_rest_upper, missed)


def _moves(segments: tuple[Segment, ...]) -> list[tuple[str, int, int]]:
    """Return (kind, first row, stop) of every slow press and return, half a neighbour with it."""
    result = []
    for before, each, after in zip((None, *segments[:-1]), segments, (*segments[1:], None),
                                   strict=True):
        if each.kind in ("press", "release") and not each.quick:
            start = each.start if before is None else (before.start + before.stop) // 2
            stop = each.stop if after is None else (after.start + after.stop) // 2
            result.append((each.kind, start, stop))
    return result


def _travel_at(row: int, time_s: Array, pedal: Array) -> float:
    """Return the travel half way between the readings before and at a change, in %."""
    moment = float(time_s[row - 1] + time_s[row]) / 2.0
    first, last = np.searchsorted(time_s, (moment - BESIDE_S, moment + BESIDE_S))
    first, last = min(int(first), row - 2), max(int(last), row + 2)
    near = slice(max(first, 0), min(last, time_s.size))
    x, y = time_s[near] - moment, pedal[near]
    good = np.isfinite(y)
    if good.sum() < 2:
        return float("nan")
    # Centred and scaled, so that the fit is as well behaved as its data.
    scale = float(np.abs(x[good]).max()) or 1.0
    powers = np.vander(x[good] / scale, min(3, int(good.sum())), increasing=True)
    return float(np.linalg.lstsq(powers, y[good], rcond=None)[0][0])

"""Bursts: a track unsteady for a while that is quiet there the rest of the time.

A map of noise along travel is made from what is usual at each place, so that lost contact at one
place does not hide what the others do; a wiper or a lead that is unsteady once, for a tenth of a
second and more, is found here, whatever the place.
"""

import numpy as np

from analysis.model.finding import Reason, Value
from analysis.model.recording import Array
from analysis.pedal.faults.fault import Fault
from analysis.pedal.faults.wear import FLAT_REACH
from analysis.pedal.sweep_course import Look
from analysis.signal.noise import NOISE_BIN_PERCENT, SLOW_PERCENT, ripple, slow_rows
from analysis.signal.segments import Segment
from analysis.signal.smoothing import Mask, filled, runs

# Looked at together: a tenth of a second, and enough readings that chance makes no burst.
BLOCK_S, BLOCK_ROWS = 0.1, 10
# A burst is so many times the noise usual at that travel, and this much more in % of travel.
TIMES_USUAL, ABOVE_USUAL = 4.0, 0.25
# Noise of two tracks at one time, so many times as much on one of them, is of that one.
PLAINLY = 1.6
# Two tracks follow each other within this time, s, without a word.
LATE_S = 0.01
# Bursts no further apart than this are one.
ONE_S = 1.0
# What is told at so many seconds around is not told again.
NEAR_S = 0.3


def burst_faults(look: Look, times: Array, segments: tuple[Segment, ...],
                 step_s: float) -> list[Fault]:
    """Return one fault per while in which a track was unsteady, the pair's where none is plain.

    look: the last look at the sweep; times: shape (n,), s.
    With one track only its rests are looked at: elsewhere nothing tells it from the foot.
    """
    names = list(look.by_track)[:2]
    trusted = np.logical_and.reduce([look.trusted[n] for n in names])
    rows = slow_rows(segments, trusted)
    if len(names) == 1:
        inside = np.zeros(times.size, dtype=bool)
        for s in segments:
            if s.kind == "rest":
                quarter = (s.stop - s.start) // 4
                inside[s.start + quarter: s.stop - quarter] = True
        rows = rows[inside[rows]]
    length = max(BLOCK_ROWS, round(BLOCK_S / step_s))
    # Whole blocks of rows that follow each other without a hole.
    starts = rows[: rows.size - length + 1: length] if rows.size >= length else rows[:0]
    stops = rows[length - 1:: length][: starts.size]
    whole = stops - starts == length - 1
    starts = starts[whole]
    if starts.size < 5 or not np.isfinite(look.noise).any():
        return []
    at = starts[:, None] + np.arange(length)
    away, usual = ripple(look.away, trusted, step_s), filled(look.noise)
    middles = look.pedal[starts + length // 2]
    place = np.clip((middles / NOISE_BIN_PERCENT).astype(np.intp), 0, usual.size - 1)
    squares = np.concatenate([[0.0], np.cumsum(away * away)])
    size = np.sqrt(np.maximum(squares[starts + length] - squares[starts], 0.0) / length)
    limit = np.maximum(TIMES_USUAL * usual[place], usual[place] + ABOVE_USUAL)
    # A track read or following a little late leaves each change of speed in the difference; the
    # bends of one that moves fast are in its ripple.
    half, last = length // 2, look.pedal.size - 1
    before, middle, after = (look.pedal[np.clip(starts + k, 0, last)]
                             for k in (-half, half, length + half))
    limit += LATE_S / (length * step_s) * np.abs(after - 2.0 * middle + before)
    moved = np.abs(look.pedal[at[:, -1]] - look.pedal[at[:, 0]])
    loud = (size > limit) & (moved <= SLOW_PERCENT)
    result = []
    for first, last in _joined(loud, times[starts]):
        low, high = float(times[at[first, 0]]), float(times[at[last - 1, -1]])
        block = at[first:last].ravel()
        name = _whose(look, names, slice(at[first, 0], at[last - 1, -1] + 1), step_s)
        percent = float(np.sqrt(np.mean(away[block] ** 2)))
        travel = float(look.pedal[at[first + int(np.argmax(size[first:last]))]].mean())
        values: dict[str, Value] = {"track": name or "", "time_s": low, "seconds": high - low,
                  "noise_percent": percent, "travel_percent": travel}
        result.append(Fault("noise", name, low, high, travel, 2,
                            Reason("unsteady once" if name else "either unsteady once", values)))
    return result


def _joined(loud: Mask, starts_s: Array) -> list[tuple[int, int]]:
    """Return the loud stretches of blocks [first, last), those with little between them as one."""
    joined: list[tuple[int, int]] = []
    for first, last in zip(*(edge.tolist() for edge in runs(loud)), strict=True):
        if joined and starts_s[first] - starts_s[joined[-1][1] - 1] <= ONE_S:
            first = joined.pop()[0]
        joined.append((first, last))
    return joined


def without_told(bursts: list[Fault], known: list[Fault]) -> list[Fault]:
    """Return the bursts that no other fault tells, by its time or by its place of travel.

    By its time of whichever track: the end of what one does is in the difference of both. Where
    one stands still the foot's trembling is left in that, so what is seen near is of no track.
    """
    places = [k.travel_percent for k in known if k.kind in ("noise", "flat spot", "clipping")]
    return [b for b in bursts
            if not any(abs(p - b.travel_percent) < FLAT_REACH for p in places) and not any(
                k.time_s - NEAR_S <= b.end_s and b.time_s <= k.end_s + NEAR_S for k in known)]


def _whose(look: Look, names: list[str], rows: slice, step_s: float) -> str | None:
    """Return the track that a burst is of; None where both have much of it."""
    if len(names) == 1:
        return names[0]
    trusted = look.trusted[names[0]][rows] & look.trusted[names[1]][rows]
    first, second, away = (ripple(v[rows], trusted, step_s) for v in (
        look.by_track[names[0]], look.by_track[names[1]], look.away))
    # The foot's trembling is in both and not in their difference: as in `own_noise`.
    a, b = np.sqrt(np.maximum([np.mean(first * away), -np.mean(second * away)], 0.0))
    return names[0] if a >= PLAINLY * b else names[1] if b >= PLAINLY * a else None

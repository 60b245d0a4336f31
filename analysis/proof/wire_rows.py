"""The rows of a log of opened wires: the key, which tracks are off and from when, their levels."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analysis.model.recording import Array, Recording
from analysis.proof.limits import Limits, beyond, volts_in_the_log
from analysis.proof.steps import Step, tracks_behind

# Readings at the turn of the key are not judged for so long; a controller starts in that time
# (common practice, no source).
STARTING_S = 0.3
# A fault counts from where it lasts this long: a wire that is being switched bounces.
LASTS_S = 0.01
# A track is off that leaves the pedal's travel by so much, or stands still within STILL while the
# other one is pressed by MOVES (percent of travel).
OUTSIDE, STILL, MOVES = 8.0, 3.0, 15.0


@dataclass(frozen=True)
class WireRows:
    """Hold the log's rows in the units of this room. All arrays have shape (n,).

    keyed: a key line shows the key on, and off at other times.
    """

    recording: Recording
    limits: Limits
    volts: Mapping[str, Array]
    travel: Mapping[str, Array]
    key: np.ndarray
    beyond: np.ndarray
    readings: Array | None
    lost: np.ndarray
    keyed: bool


def wire_rows(recording: Recording, limits: Limits, readings: Array | None) -> WireRows:
    """Return the rows of a log; limits: of the tracks to judge; readings: of power, volts, (n,)."""
    names = [c.column for c in recording.with_role("track") if c.column in limits.tracks]
    volts = {n: volts_in_the_log(recording, recording.channel(n)) for n in names}
    travel = {n: limits.tracks[n].travel(volts[n]) for n in names}
    keys = recording.with_role("key")
    key = np.ones(recording.rows, dtype=bool)
    if keys:
        line = keys[0].volts()
        key = line > 0.5 * max(float(np.nanmax(line)) if np.isfinite(line).any() else 0.0, 1.0)
    lost = np.zeros(recording.rows, dtype=bool)
    for mark in recording.marks:
        if mark.lost_samples and mark.row < recording.rows:
            lost[mark.row] = True
    steps = np.diff(recording.time_s, prepend=recording.time_s[:1])
    lost |= steps > max(0.5 * limits.allowed_s, 3.0 * recording.step_s)
    return WireRows(recording, limits, volts, travel, key, beyond(travel, volts, limits), readings,
                lost, bool(keys) and bool(key.any()) and not bool(key.all()))


def key_on_rows(log: WireRows, step: Step) -> np.ndarray:
    """Return the rows of a step with the key on for STARTING_S or more, as indices."""
    key = log.key[step.start: step.stop]
    rows = np.arange(step.start, step.stop)
    turned = np.flatnonzero(key & ~np.concatenate([[step.start == 0], key[:-1]]))
    ready = key.copy()
    for row in turned:
        if row == 0 and step.start and log.key[step.start - 1]:
            continue  # the key was on already when the step began
        begin = float(log.recording.time_s[step.start + row])
        ready &= ~((log.recording.time_s[rows] >= begin)
                   & (log.recording.time_s[rows] < begin + STARTING_S))
    found: np.ndarray = rows[ready]
    return found


def beyond_start(log: WireRows, name: str) -> np.ndarray:
    """Return where that track reads beyond its start of travel, shape (n,)."""
    track = log.limits.tracks[name]
    away: np.ndarray = track.sign * (log.volts[name] - track.start_volts) > 0
    return away


def wrong_wire(log: WireRows, step: Step, off: tuple[str, ...]) -> bool:
    """Return whether the tracks that are off cannot be those of the wire that was asked for."""
    names = tuple(log.travel)
    hang = {t for lead in step.leads for t in tracks_behind(lead, names)}
    if step.kind == "short":
        own = {lead for lead in step.leads if lead in names}
        return not set(off) <= (own or hang)
    return set(off) != hang


def tracks_off(log: WireRows, rows: np.ndarray) -> tuple[str, ...]:
    """Return the tracks that do not read a sound pedal at these rows."""
    travel = {n: t[rows] for n, t in log.travel.items()}
    found = []
    for name, own in travel.items():
        outside = (own < -OUTSIDE) | (own > 100.0 + OUTSIDE)
        outside |= ~np.isfinite(own)
        outside |= ((log.volts[name][rows] < log.limits.tracks[name].fault_low_volts)
                    | (log.volts[name][rows] > log.limits.tracks[name].fault_high_volts))
        if np.mean(outside) > 0.1 or _longest_run(outside) * log.recording.step_s > 0.2:
            found.append(name)
    if found or len(travel) < 2:
        return tuple(found)
    # Neither is out of its travel: the one that stands still while the other is pressed.
    moved = {n: float(np.nanquantile(t, 0.98) - np.nanquantile(t, 0.02)) for n, t in travel.items()}
    return tuple(n for n, m in moved.items() if m < STILL and max(moved.values()) > MOVES)


def _longest_run(mask: np.ndarray) -> int:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    return int(np.max(edges[1::2] - edges[::2])) if edges.size else 0


def first_lasting(log: WireRows, rows: np.ndarray, mask: np.ndarray) -> int | None:
    """Return the first of the rows from which the mask holds for LASTS_S, None for never."""
    lasts = max(3, round(LASTS_S / log.recording.step_s))
    hold = mask[rows]
    if hold.size < lasts:
        return None
    whole = np.convolve(hold, np.ones(lasts, dtype=int))[lasts - 1: hold.size] == lasts
    return int(rows[int(np.argmax(whole))]) if whole.any() else None


def longest_s(log: WireRows, rows: np.ndarray, mask: np.ndarray) -> float:
    """Return for how long in seconds the mask holds at most, at rows that follow each other."""
    return _longest_run(mask[rows]) * log.recording.step_s


def usual_levels(log: WireRows, rows: np.ndarray) -> dict[str, float]:
    """Return each track's usual volts while the readings are beyond the limits, else over all."""
    beyond_rows = rows[log.beyond[rows]]
    chosen = beyond_rows if beyond_rows.size else rows
    return {n: float(np.nanmedian(v[chosen])) if np.isfinite(v[chosen]).any() else float("nan")
            for n, v in log.volts.items()}

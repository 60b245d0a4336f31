"""The first drive: presses, lift-offs, and how soon the power was gone after each of them.

Method: a press begins where a track passes its start of travel, towards pressed, and ends where all
tracks are back below it. From that end the clock runs to power off: the channel back within its
idle band and staying there. The idle band is taken from the log's own rest with the key on, before
the first press: without that rest nothing is known of it, and nothing is claimed.
"""

from dataclasses import dataclass

import numpy as np

from analysis.model.recording import Array, Channel, Recording
from analysis.proof.limits import Limits, beyond, volts_in_the_log
from analysis.proof.power import SIGMAS, STAYS_OFF_S, power_channel, stops_at
from analysis.proof.steps import steps_of
from analysis.signal.smoothing import runs

# Shorter than this above start of travel is noise, not a press (common practice, no source).
LEAST_PRESS_S = 0.1
IDLE_S = 2.0
# A key that stays on for less was not turned on to drive (common practice, no source).
KEY_S = 2.0
# Power counts as seen when a press brings it this far out of the idle band, in bands.
PLAINLY = 3.0


@dataclass(frozen=True)
class LiftOff:
    """Hold one press and its lift-off: seconds of the log, percent of travel.

    gone_s: from the lift-off to power off; NaN where no power was seen, or it was not awaited: the
    next press, or the end of the log, came first. waited_s: how long it could be awaited.
    """

    start_s: float
    end_s: float
    travel_percent: float
    gone_s: float
    waited_s: float
    powered: bool


@dataclass(frozen=True)
class Drive:
    """Hold what a first drive showed.

    state: "holds", "passes" (power outlasted a lift-off beyond the time allowed, or a reading
    passed a limit), or "not seen". slowest_s: of all lift-offs that were awaited. resolution_s: two
    rows. beyond_s: longest time beyond a fault or mismatch limit. power: the column, None without.
    key_ons: how often the key was turned on within the log, None without a key line;
    key_ons_at_rest: those at which no track passed its start of travel for KEY_S.
    """

    state: str
    lift_offs: tuple[LiftOff, ...]
    slowest_s: float
    resolution_s: float
    beyond_s: float
    beyond_at_s: float
    power: str | None
    allowed_s: float
    key_ons: int | None = None
    key_ons_at_rest: int = 0


def judge_drive(recording: Recording, limits: Limits, allowed_s: float = 0.5,
                power: str | None = None) -> Drive:
    """Return what the log's `drive` steps show, or the whole log where it has no such mark.

    allowed_s: from lift-off to power off, the user's own limit.
    """
    channel = power_channel(recording, power)
    names = [c.column for c in recording.with_role("track") if c.column in limits.tracks]
    volts = {n: volts_in_the_log(recording, recording.channel(n)) for n in names}
    travel = {n: limits.tracks[n].travel(volts[n]) for n in names}
    key = _key_on(recording)
    driven = _driven(recording, key)
    past = beyond(travel, volts, limits) & driven
    longest, at = _longest(recording, past)
    pressed = np.zeros(recording.rows, dtype=bool)
    for name in names:
        level = limits.tracks[name]
        pressed |= level.sign * (volts[name] - level.start_volts) > 0
    turned, at_rest = _key_ons(recording, key, pressed)
    lifts = _lift_offs(recording, pressed & driven, travel, channel)
    resolution = 2.0 * recording.step_s
    known = [x.gone_s for x in lifts if np.isfinite(x.gone_s)]
    slowest = max(known, default=float("nan"))
    unended = [x for x in lifts if x.powered and not np.isfinite(x.gone_s)
               and x.waited_s > allowed_s]
    if longest > limits.allowed_s or slowest > allowed_s + resolution or unended:
        state = "passes"
    elif not known or _rows_lost(recording, driven):
        state = "not seen"
    else:
        state = "holds"
    return Drive(state, lifts, slowest, resolution, longest, at,
                 None if channel is None else channel.column, allowed_s, turned, at_rest)


def _driven(recording: Recording, key: np.ndarray | None) -> np.ndarray:
    """Return the rows that are judged, shape (n,): with the key on, of `drive` where it stands."""
    driven = np.zeros(recording.rows, dtype=bool)
    for step in [s for s in steps_of(recording) if s.kind == "drive"]:
        driven[step.start: step.stop] = True
    if not driven.any():
        driven[:] = True
    return driven if key is None else driven & key


def _key_on(recording: Recording) -> np.ndarray | None:
    """Return where the key is on, shape (n,); None without a key line."""
    keys = recording.with_role("key")
    if not keys:
        return None
    line = keys[0].volts()
    known = line[np.isfinite(line)]
    result: np.ndarray = line > 0.5 * max(float(known.max()) if known.size else 0.0, 1.0)
    return result


def _key_ons(recording: Recording, key: np.ndarray | None,
             pressed: np.ndarray) -> tuple[int | None, int]:
    """Return how often the key was turned on, and at how many of these the pedal stayed at rest."""
    if key is None:
        return None, 0
    starts, stops = runs(key)
    time = recording.time_s
    turned = [(int(a), int(b)) for a, b in zip(starts, stops, strict=True)
              if a > 0 and time[b - 1] - time[a] >= KEY_S]
    quiet = sum(not pressed[a: int(np.searchsorted(time, time[a] + KEY_S))].any()
                for a, _ in turned)
    return len(turned), quiet


def _lift_offs(recording: Recording, pressed: np.ndarray, travel: dict[str, Array],
               channel: Channel | None) -> tuple[LiftOff, ...]:
    """Return the presses in order, each with what became of its power."""
    starts, stops = runs(pressed)
    time = recording.time_s
    long = [(int(a), int(b)) for a, b in zip(starts, stops, strict=True)
            if time[b - 1] - time[a] >= LEAST_PRESS_S]
    if not long:
        return ()
    on = _powered(recording, channel, long[0][0])
    stays = max(2, round(STAYS_OFF_S / recording.step_s))
    result = []
    for number, (a, b) in enumerate(long):
        end = long[number + 1][0] if number + 1 < len(long) else recording.rows
        peak = float(np.nanmax([np.nanmax(t[a:b]) for t in travel.values()]))
        waited = float(time[end - 1] - time[min(b, end - 1)])
        gone, powered = float("nan"), False
        if on is not None:
            powered = bool(np.convolve(on[a:b], np.ones(stays), mode="valid").max() >= stays
                           ) if b - a >= stays else False
            off = stops_at(on[:end], b, stays) if powered and b < end else None
            if off is not None and off + stays <= end:
                gone = float(time[off] - time[b])
        result.append(LiftOff(float(time[a]), float(time[min(b, recording.rows - 1)]), peak, gone,
                              waited, powered))
    return tuple(result)


def _powered(recording: Recording, channel: Channel | None, first_press: int) -> np.ndarray | None:
    """Return where power is on, shape (n,); None where the log shows no idle level of it."""
    if channel is None:
        return None
    readings = channel.volts()
    begin = int(np.searchsorted(recording.time_s, recording.time_s[first_press] - IDLE_S))
    idle = readings[begin:first_press]
    idle = idle[np.isfinite(idle)]
    if idle.size < 10 or recording.time_s[first_press] - recording.time_s[0] < IDLE_S:
        return None
    level = float(np.median(idle))
    spread = 1.4826 * float(np.median(np.abs(idle - level)))
    far = np.nanquantile(np.abs(readings - level), 0.98)
    bound = max(SIGMAS * spread, 2.0 * channel.step_volts, 0.03 * float(far))
    if far < PLAINLY * bound:
        return None
    result: np.ndarray = np.abs(readings - level) > bound
    return result


def _longest(recording: Recording, mask: np.ndarray) -> tuple[float, float]:
    starts, stops = runs(mask)
    if not starts.size:
        return 0.0, float("nan")
    most = int(np.argmax(stops - starts))
    return (float((stops[most] - starts[most]) * recording.step_s),
            float(recording.time_s[starts[most]]))


def _rows_lost(recording: Recording, driven: np.ndarray) -> bool:
    gaps = np.diff(recording.time_s)
    return bool(np.any(gaps[driven[1:]] > max(0.05, 5.0 * recording.step_s)))

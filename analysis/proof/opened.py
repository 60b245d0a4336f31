"""One wire opened, or two joined: did power stop, how soon, and was the wire the one asked for?

Method, for each step of the log (docs/proof.md):
1. The control (`as wired`) must show the key on, a press that both tracks follow within their
   limits, and power with it. Without that nothing was proved, whatever the others show.
2. Which tracks are off: beyond their fault limits, beyond the pedal's own travel, or standing still
   while the other one is pressed. Those must be the ones that hang on the wire that was asked for.
3. From the first row of the key on at which the readings stay beyond the limits: was power on then
   or later, and when did it go off and stay off? The time is known to two rows of the log.
   Power that comes once the fault has stood for longer than allowed is a fail however short it is.
4. Power that never came is a pass only if it was asked for: a press on a track that still reads, or
   a key on for long enough where no track can show a press any more. And only where a key line that
   moves shows the key on: with the key off no power ever comes.
5. A person's word alone can tell that power stayed on. When it stopped it tells only where the
   fault came in mid-press: otherwise power may never have come at all.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from analysis.model.recording import Array, Channel, Recording
from analysis.proof.limits import Limits, beyond, volts_in_the_log
from analysis.proof.power import (
    ALIKE,
    LEAST_PRESS,
    REDUCED,
    STAYS_OFF_S,
    PowerSeen,
    power_as_wired,
    power_channel,
    stops_at,
)
from analysis.proof.steps import POWER_ON, POWER_STOPPED, Step, steps_of, tracks_behind

Verdict = Literal["pass", "fail", "not seen"]
WireCode = Literal[
    "works as wired", "power never came", "stopped in time", "stopped late", "no action", "reduced",
    "not beyond the limits", "key not turned on", "not pressed", "not held long enough",
    "let go too soon", "power came all the same", "no power as wired", "not as wired",
    "another wire", "nothing changed", "rows lost", "key not seen",
    "too close to tell", "stopped by hand clock", "nobody said"]
# Readings at the turn of the key are not judged for so long; a controller starts in that time
# (common practice, no source).
STARTING_S = 0.3
# A fault counts from where it lasts this long: a wire that is being switched bounces.
LASTS_S = 0.01
# Where no track can show a press, the key must be on for so long with the readings beyond limits.
HELD_S = 2.0
# A track is off that leaves the pedal's travel by so much, or stands still within STILL while the
# other one is pressed by MOVES (percent of travel).
OUTSIDE, STILL, MOVES = 8.0, 3.0, 15.0
# Power too weak to stand out row by row is looked for in pieces of these lengths.
PIECES_S = (STAYS_OFF_S, 0.2, 0.8)
# A hand needs so long to say what it saw (common practice, no source).
HAND_S = 0.5


@dataclass(frozen=True)
class WireStep:
    """Hold what one step showed.

    levels: by track, the usual volts while the fault stood (key on, the pedal alone or not).
    off: the tracks that were off. beyond_s: longest time beyond the limits. fault_s: when that
    began, seconds of the log; NaN where it never did. stopped_after_s: to power off from there, or
    from the press (where no track shows it: from when power was seen) if that came later; NaN where
    it did not stop or never came. resolution_s: two
    rows. power_share: of the power as wired, while it was on.
    """

    step: Step
    verdict: Verdict
    code: WireCode
    levels: Mapping[str, float] = field(default_factory=dict)
    off: tuple[str, ...] = ()
    beyond_s: float = 0.0
    fault_s: float = float("nan")
    stopped_after_s: float = float("nan")
    resolution_s: float = float("nan")
    power_share: float = 0.0


@dataclass(frozen=True)
class WireLog:
    """Hold all steps of a log of opened wires; power: the column that showed it, None without."""

    steps: tuple[WireStep, ...]
    power: str | None
    allowed_s: float

    @property
    def control(self) -> WireStep | None:
        """Return the control, None where the log has none."""
        return next((s for s in self.steps if s.step.kind == "as wired"), None)


@dataclass(frozen=True)
class _Log:
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


def judge_wires(recording: Recording, limits: Limits, power: str | None = None) -> WireLog:
    """Return what a log of opened wires shows; raise BadRecording for a channel that is not there.

    limits: of every track of the log that is to be judged. power: the column that shows power.
    """
    channel = power_channel(recording, power)
    log = _opened(recording, limits, None if channel is None else channel.volts())
    steps = [s for s in steps_of(recording) if s.kind in ("as wired", "open", "short")]
    controls = [s for s in steps if s.kind == "as wired"]
    seen = None
    control = WireStep(controls[0], "not seen", "no power as wired") if controls else None
    for step in controls:
        control, seen = _control(log, step, channel)
        if control.verdict == "pass":
            break
    result = []
    for step in steps:
        if control is not None and step is control.step:
            result.append(control)
        elif step.kind == "as wired":
            result.append(_control(log, step, channel)[0])
        else:
            result.append(_judge(log, step, seen, channel is not None, control))
    return WireLog(tuple(result), None if channel is None else channel.column, limits.allowed_s)


def _opened(recording: Recording, limits: Limits, readings: Array | None) -> _Log:
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
    return _Log(recording, limits, volts, travel, key, beyond(travel, volts, limits), readings,
                lost, bool(keys) and bool(key.any()) and not bool(key.all()))


def _key_on_rows(log: _Log, step: Step) -> np.ndarray:
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


def _control(log: _Log, step: Step,
             channel: Channel | None) -> tuple[WireStep, PowerSeen | None]:
    """Return what the control showed, and what tells power on from off."""
    rows = _key_on_rows(log, step)
    if not rows.size:
        return WireStep(step, "not seen", "key not turned on"), None
    levels = _levels(log, rows)
    if log.lost[step.start + 1: step.stop].any():
        return WireStep(step, "not seen", "rows lost", levels), None
    travel = np.nanmedian([t[rows] for t in log.travel.values()], axis=0)
    if not np.nanmax(travel) >= LEAST_PRESS:
        return WireStep(step, "not seen", "not pressed", levels), None
    off = _off(log, rows)
    lasting = _first_lasting(log, rows, log.beyond)
    if off or lasting is not None:
        return WireStep(step, "not seen", "not as wired", levels, off,
                        _longest_s(log, rows, log.beyond)), None
    if channel is None:
        return WireStep(step, "pass", "works as wired", levels), None
    pressed = np.zeros(log.recording.rows, dtype=bool)
    alone = pressed.copy()
    pressed[rows] = travel >= LEAST_PRESS
    alone[rows] = travel < 0.3 * LEAST_PRESS
    seen = power_as_wired(channel, alone, pressed, log.recording.step_s)
    if seen is None:
        return WireStep(step, "not seen", "no power as wired", levels), None
    return WireStep(step, "pass", "works as wired", levels, power_share=1.0), seen


def _judge(log: _Log, step: Step, seen: PowerSeen | None, wired: bool,
           control: WireStep | None) -> WireStep:
    """Return what one changed wire showed."""
    if control is None or control.verdict != "pass":
        return WireStep(step, "not seen", "no power as wired" if control is None else (
            control.code if control.code == "no power as wired" else "not as wired"))
    rows = _key_on_rows(log, step)
    if not rows.size:
        return WireStep(step, "not seen", "key not turned on")
    if log.lost[step.start + 1: step.stop].any():
        return WireStep(step, "not seen", "rows lost", _levels(log, rows))
    off = _off(log, rows)
    start = _first_lasting(log, rows, log.beyond)
    base = WireStep(step, "not seen", "nothing changed", _levels(log, rows), off,
                    _longest_s(log, rows, log.beyond), resolution_s=2.0 * log.recording.step_s)
    wrong = _wrong_wire(log, step, off)
    if wrong and off:
        return _with(base, "not seen", "another wire")
    if start is None and not off:
        return _with(base, "not seen", "nothing changed")
    if start is None:
        return _unlimited(log, base, rows, seen)
    fault_s = float(log.recording.time_s[start])
    base = _with(base, base.verdict, base.code, fault_s=fault_s)
    if seen is None:
        return _by_hand(log, base, fault_s) if not wired else _with(
            base, "not seen", "no power as wired")
    return _by_power(log, base, rows, start, seen)


def _by_power(log: _Log, base: WireStep, rows: np.ndarray, start: int,
              seen: PowerSeen) -> WireStep:
    """Return the verdict of a step whose fault began at row `start`, by the power channel."""
    assert log.readings is not None
    step = base.step
    on = seen.on(log.readings[: step.stop])
    stays = max(2, round(STAYS_OFF_S / log.recording.step_s))
    came = _power_from(on, start, stays)
    if came is None:
        return _never_came(log, base, rows, start, seen)
    resolution = 2.0 * log.recording.step_s
    stood_s = float(log.recording.time_s[came] - log.recording.time_s[start])
    end = stops_at(on, came, stays)
    last = step.stop if end is None else end
    began = _pressed_at(log, base, start, came)
    share = seen.share(log.readings[came: last])
    if end is None:
        code: WireCode = "no action" if share > REDUCED else "reduced"
        return _with(base, "fail", code, power_share=share)
    took = float(log.recording.time_s[end] - log.recording.time_s[began])
    if _let_go(log, base, came, end):
        late = took > log.limits.allowed_s + resolution
        return _with(base, "fail" if late else "not seen",
                     ("no action" if share > REDUCED else "reduced") if late else "let go too soon",
                     power_share=share)
    resolution += seen.hidden_rows(log.readings[began: end], end - began) * log.recording.step_s
    base = _with(base, base.verdict, base.code, stopped_after_s=took, power_share=share,
                 resolution_s=resolution)
    if stood_s > log.limits.allowed_s + resolution:
        return _with(base, "fail", "power came all the same")
    left = _left_over(log, rows[rows >= end], end, seen)
    if left:
        return _with(base, "fail", "reduced", power_share=left)
    if abs(took - log.limits.allowed_s) <= resolution:
        return _with(base, "not seen", "too close to tell")
    if took > log.limits.allowed_s:
        return _with(base, "fail", "stopped late")
    # A controller that stopped must not come back while the fault stands.
    again = np.flatnonzero(on[end:])
    still = log.beyond[end: step.stop]
    if any(still[k] and on[end + k: end + k + stays].all() for k in again):
        return _with(base, "fail", "no action")
    return _with(base, "pass", "stopped in time")


def _power_from(on: np.ndarray, start: int, stays: int) -> int | None:
    """Return the row from which power is on: `start` where it was on already, None for never.

    Later it counts from where it holds for as long as a stop must.
    """
    if np.mean(on[max(0, start - stays): start + 1]) > 0.5:
        return start
    ahead = np.flatnonzero(on[start:])
    return next((int(start + k) for k in ahead if on[start + k: start + k + stays].all()), None)


def _pressed_at(log: _Log, base: WireStep, start: int, came: int) -> int:
    """Return the row from which the clock runs: power that comes later hides in its own noise.

    Where a track still reads, from where it passed its start of travel with the fault standing.
    """
    if came <= start + 1:
        return start
    rows = [start + int(np.argmax(passed)) for name in log.travel if name not in base.off
            if (passed := _beyond_start(log, name)[start: came + 1]).any()]
    return min(rows, default=came)


def _beyond_start(log: _Log, name: str) -> np.ndarray:
    track = log.limits.tracks[name]
    away: np.ndarray = track.sign * (log.volts[name] - track.start_volts) > 0
    return away


def _let_go(log: _Log, base: WireStep, came: int, end: int) -> bool:
    """Return whether a track that still reads shows that the foot took the power away."""
    reading = [t for name, t in log.travel.items() if name not in base.off]
    if not reading:
        return False
    before = max(came - 1, 0)
    return bool(np.nanmax([t[end] for t in reading])
                < 0.5 * np.nanmax([np.nanmax(t[before: end]) for t in reading]))


def _never_came(log: _Log, base: WireStep, rows: np.ndarray, start: int,
                seen: PowerSeen) -> WireStep:
    """Return the verdict where power never stood out row by row."""
    assert log.readings is not None
    after = rows[rows >= start]
    left = _left_over(log, after, start, seen)
    if left:
        return _with(base, "fail", "reduced", power_share=left)
    if not log.keyed:
        return _with(base, "not seen", "key not seen")
    reading = [t[after] for name, t in log.travel.items() if name not in base.off]
    if reading:
        pressed = np.nanmax(np.array(reading), axis=0) >= LEAST_PRESS
        if not np.any(pressed & log.beyond[after]):
            return _with(base, "not seen", "not pressed")
        return _with(base, "pass", "power never came")
    if base.beyond_s < HELD_S:
        return _with(base, "not seen", "not held long enough")
    return _with(base, "pass", "power never came")


def _left_over(log: _Log, rows: np.ndarray, start: int, seen: PowerSeen) -> float:
    """Return the share of power left over in the mean once it had to be off; 0 for none.

    In pieces: a press lasts shorter than the step, and its power would be lost in the whole.
    """
    assert log.readings is not None
    late = rows[log.recording.time_s[rows] > log.recording.time_s[start] + log.limits.allowed_s]
    left = log.readings[late]
    pieces = {max(ALIKE, round(seconds / log.recording.step_s)) for seconds in PIECES_S}
    return max((seen.share(left[k: k + size]) for size in pieces
                for k in range(0, left.size, size) if seen.left(left[k: k + size])), default=0.0)


def _unlimited(log: _Log, base: WireStep, rows: np.ndarray, seen: PowerSeen | None) -> WireStep:
    """Return the verdict where a track was off, but nothing passed a limit."""
    if seen is None or log.readings is None:
        return _with(base, "not seen", "not beyond the limits")
    power = seen.on(log.readings[rows]).any()
    return _with(base, "fail" if power else "not seen", "not beyond the limits")


def _by_hand(log: _Log, base: WireStep, fault_s: float) -> WireStep:
    """Return the verdict where no channel shows power, by what the person said."""
    said = [(m.row, m.text.strip().lower()) for m in log.recording.marks
            if base.step.start <= m.row < base.step.stop]
    if any(text == POWER_ON for _, text in said):
        return _with(base, "fail", "no action", power_share=float("nan"))
    stops = [row for row, text in said if text == POWER_STOPPED]
    if not stops:
        return _with(base, "not seen", "nobody said", power_share=float("nan"))
    took = max(0.0, float(log.recording.time_s[stops[0]]) - fault_s)
    # Opened with the key off, power may never have come: then the word does not time a stop.
    begun = int(np.searchsorted(log.recording.time_s, fault_s))
    row = max(base.step.start, begun - 1)
    in_press = not log.beyond[row] and any(t[row] >= LEAST_PRESS for t in log.travel.values())
    late = in_press and took - HAND_S > log.limits.allowed_s
    return _with(base, "fail" if late else "not seen",
                 "stopped late" if late else "stopped by hand clock", stopped_after_s=took,
                 resolution_s=HAND_S, power_share=float("nan"))


def _with(seen: WireStep, verdict: Verdict, code: WireCode, **values: float) -> WireStep:
    return replace(seen, verdict=verdict, code=code, **values)  # type: ignore[arg-type]


def _wrong_wire(log: _Log, step: Step, off: tuple[str, ...]) -> bool:
    """Return whether the tracks that are off cannot be those of the wire that was asked for."""
    names = tuple(log.travel)
    hang = {t for lead in step.leads for t in tracks_behind(lead, names)}
    if step.kind == "short":
        own = {lead for lead in step.leads if lead in names}
        return not set(off) <= (own or hang)
    return set(off) != hang


def _off(log: _Log, rows: np.ndarray) -> tuple[str, ...]:
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


def _first_lasting(log: _Log, rows: np.ndarray, mask: np.ndarray) -> int | None:
    """Return the first of the rows from which the mask holds for LASTS_S, None for never."""
    lasts = max(3, round(LASTS_S / log.recording.step_s))
    hold = mask[rows]
    if hold.size < lasts:
        return None
    whole = np.convolve(hold, np.ones(lasts, dtype=int))[lasts - 1: hold.size] == lasts
    return int(rows[int(np.argmax(whole))]) if whole.any() else None


def _longest_s(log: _Log, rows: np.ndarray, mask: np.ndarray) -> float:
    return _longest_run(mask[rows]) * log.recording.step_s


def _levels(log: _Log, rows: np.ndarray) -> dict[str, float]:
    """Return each track's usual volts while the readings are beyond the limits, else over all."""
    beyond_rows = rows[log.beyond[rows]]
    chosen = beyond_rows if beyond_rows.size else rows
    return {n: float(np.nanmedian(v[chosen])) if np.isfinite(v[chosen]).any() else float("nan")
            for n, v in log.volts.items()}

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

from analysis.model.recording import Channel, Recording
from analysis.proof.limits import Limits
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
from analysis.proof.steps import POWER_ON, POWER_STOPPED, Step, steps_of
from analysis.proof.wire_rows import (
    WireRows,
    beyond_start,
    first_lasting,
    key_on_rows,
    longest_s,
    tracks_off,
    usual_levels,
    wire_rows,
    wrong_wire,
)

Verdict = Literal["pass", "fail", "not seen"]
WireCode = Literal[
    "works as wired", "power never came", "stopped in time", "stopped late", "no action", "reduced",
    "not beyond the limits", "key not turned on", "not pressed", "not held long enough",
    "let go too soon", "power came all the same", "no power as wired", "not as wired",
    "another wire", "nothing changed", "rows lost", "key not seen",
    "too close to tell", "stopped by hand clock", "nobody said"]
# Where no track can show a press, the key must be on for so long with the readings beyond limits.
HELD_S = 2.0
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


def judge_wires(recording: Recording, limits: Limits, power: str | None = None) -> WireLog:
    """Return what a log of opened wires shows; raise BadRecording for a channel that is not there.

    limits: of every track of the log that is to be judged. power: the column that shows power.
    """
    channel = power_channel(recording, power)
    log = wire_rows(recording, limits, None if channel is None else channel.volts())
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


def _control(log: WireRows, step: Step,
             channel: Channel | None) -> tuple[WireStep, PowerSeen | None]:
    """Return what the control showed, and what tells power on from off."""
    rows = key_on_rows(log, step)
    if not rows.size:
        return WireStep(step, "not seen", "key not turned on"), None
    levels = usual_levels(log, rows)
    if log.lost[step.start + 1: step.stop].any():
        return WireStep(step, "not seen", "rows lost", levels), None
    travel = np.nanmedian([t[rows] for t in log.travel.values()], axis=0)
    if not np.nanmax(travel) >= LEAST_PRESS:
        return WireStep(step, "not seen", "not pressed", levels), None
    off = tracks_off(log, rows)
    lasting = first_lasting(log, rows, log.beyond)
    if off or lasting is not None:
        return WireStep(step, "not seen", "not as wired", levels, off,
                        longest_s(log, rows, log.beyond)), None
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


def _judge(log: WireRows, step: Step, seen: PowerSeen | None, wired: bool,
           control: WireStep | None) -> WireStep:
    """Return what one changed wire showed."""
    if control is None or control.verdict != "pass":
        return WireStep(step, "not seen", "no power as wired" if control is None else (
            control.code if control.code == "no power as wired" else "not as wired"))
    rows = key_on_rows(log, step)
    if not rows.size:
        return WireStep(step, "not seen", "key not turned on")
    if log.lost[step.start + 1: step.stop].any():
        return WireStep(step, "not seen", "rows lost", usual_levels(log, rows))
    off = tracks_off(log, rows)
    start = first_lasting(log, rows, log.beyond)
    base = WireStep(step, "not seen", "nothing changed", usual_levels(log, rows), off,
                    longest_s(log, rows, log.beyond), resolution_s=2.0 * log.recording.step_s)
    wrong = wrong_wire(log, step, off)
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


def _by_power(log: WireRows, base: WireStep, rows: np.ndarray, start: int,
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


def _pressed_at(log: WireRows, base: WireStep, start: int, came: int) -> int:
    """Return the row from which the clock runs: power that comes later hides in its own noise.

    Where a track still reads, from where it passed its start of travel with the fault standing.
    """
    if came <= start + 1:
        return start
    rows = [start + int(np.argmax(passed)) for name in log.travel if name not in base.off
            if (passed := beyond_start(log, name)[start: came + 1]).any()]
    return min(rows, default=came)


def _let_go(log: WireRows, base: WireStep, came: int, end: int) -> bool:
    """Return whether a track that still reads shows that the foot took the power away."""
    reading = [t for name, t in log.travel.items() if name not in base.off]
    if not reading:
        return False
    before = max(came - 1, 0)
    return bool(np.nanmax([t[end] for t in reading])
                < 0.5 * np.nanmax([np.nanmax(t[before: end]) for t in reading]))


def _never_came(log: WireRows, base: WireStep, rows: np.ndarray, start: int,
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


def _left_over(log: WireRows, rows: np.ndarray, start: int, seen: PowerSeen) -> float:
    """Return the share of power left over in the mean once it had to be off; 0 for none.

    In pieces: a press lasts shorter than the step, and its power would be lost in the whole.
    """
    assert log.readings is not None
    late = rows[log.recording.time_s[rows] > log.recording.time_s[start] + log.limits.allowed_s]
    left = log.readings[late]
    pieces = {max(ALIKE, round(seconds / log.recording.step_s)) for seconds in PIECES_S}
    return max((seen.share(left[k: k + size]) for size in pieces
                for k in range(0, left.size, size) if seen.left(left[k: k + size])), default=0.0)


def _unlimited(log: WireRows, base: WireStep, rows: np.ndarray, seen: PowerSeen | None) -> WireStep:
    """Return the verdict where a track was off, but nothing passed a limit."""
    if seen is None or log.readings is None:
        return _with(base, "not seen", "not beyond the limits")
    power = seen.on(log.readings[rows]).any()
    return _with(base, "fail" if power else "not seen", "not beyond the limits")


def _by_hand(log: WireRows, base: WireStep, fault_s: float) -> WireStep:
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

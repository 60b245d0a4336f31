"""Sweep sound pedals with feet that do not do as they are told; is everything still right?

    python tests/studies/odd_feet.py               20 pedals per foot
    python tests/studies/odd_feet.py --foot taps   one foot, with what went wrong

A foot is a list of (seconds, travel in % to reach by then). Presses, rest, relation and
directions are held against the truth; no fault may be reported where there is none. Giving
no settings at all, because which end is rest is in doubt, counts as right and is shown.
"""

import argparse
import sys
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
from random_pedals import BOARDS, random_pedal

from analysis.model.errors import AnalysisError
from analysis.model.recording import Channel, Mark, Recording
from analysis.pedal.findings import Findings, analyse
from analysis.simulation import Pedal, supply_volts, track_ratio, wiper_noise
from bench.wording.face import TERMINAL
from bench.wording.faults import fault_words

Way = list[tuple[float, float]]


@dataclass(frozen=True)
class Foot:
    """Hold one odd foot: its way, the presses it makes, and what is odd about it."""

    name: str
    way: Callable[[np.random.Generator], Way]
    presses: int
    marks: tuple[tuple[float, str], ...] = ()
    rate_hz: float | None = None
    starts_pressed: bool = False
    may_report: tuple[str, ...] = ()
    spoil: Callable[[Recording, np.random.Generator], Recording] = field(
        default=lambda recording, rng: recording)


def way_of(*parts: tuple[float, float], start: float = 0.0) -> Way:
    """Return a way from (duration, travel at its end) parts."""
    way, now = [(0.0, start)], 0.0
    for seconds, travel in parts:
        now += seconds
        way.append((now, travel))
    return way


def press(slow: float = 1.5, hold: float = 1.0, back: float = 1.5, rest: float = 1.5,
          peak: float = 100.0, low: float = 0.0) -> list[tuple[float, float]]:
    """Return the four parts of one press."""
    return [(slow, peak), (hold, peak), (back, low), (rest, low)]


def several(count: int, **how: float) -> list[tuple[float, float]]:
    """Return the parts of `count` presses."""
    return [part for _ in range(count) for part in press(**how)]


def _jittered(recording: Recording, rng: np.random.Generator) -> Recording:
    """Return the recording with clock jitter and a fifth of its rows missing at random."""
    keep = rng.random(recording.rows) > 0.2
    time_s = recording.time_s + rng.uniform(0, 0.4, recording.rows) * recording.step_s
    return replace(recording, time_s=time_s[keep], marks=(), channels=tuple(
        replace(c, readings=c.readings[keep]) for c in recording.channels))


def _holes(recording: Recording, rng: np.random.Generator) -> Recording:
    """Return the recording with empty cells strewn in, one in fifty."""
    return replace(recording, channels=tuple(
        replace(c, readings=np.where(rng.random(recording.rows) < 0.02, np.nan, c.readings))
        for c in recording.channels))


FEET = (
    Foot("as told", lambda rng: way_of((2, 0), *several(6)), 6),
    Foot("starts pressed", lambda rng: way_of(
        (2, 100), (1.5, 0), (2, 0), *several(5), start=100.0), 5, starts_pressed=True),
    Foot("ends pressed", lambda rng: way_of((2, 0), *several(5), (1.5, 100), (1.0, 100)), 6),
    Foot("some half presses", lambda rng: way_of(
        (2, 0), *several(4), *several(2, peak=60.0), *several(2)), 8),
    Foot("eases back to half and on", lambda rng: way_of(
        (2, 0), *several(3), (1, 100), (0.5, 100), (0.6, 80), (0.6, 100), (0.5, 100), (1.5, 0),
        (1.5, 0), *several(2)), 6),
    Foot("taps", lambda rng: way_of(
        (2, 0), *several(4), *several(15, slow=0.15, hold=0.1, back=0.15, rest=0.15), (2, 0)), 19),
    Foot("hasty", lambda rng: way_of(
        (1, 0), *several(10, slow=0.5, hold=0.2, back=0.5, rest=0.4), (0.6, 0)), 10),
    Foot("rests its weight", lambda rng: way_of(
        (2, 0), *several(3), *several(2, low=4.0), (0.3, 0), (1.5, 0), *several(2)), 7,
         # A foot that weighs on the pedal cannot be told from a pedal that does not come back.
         may_report=("no return",)),
    Foot("very slow", lambda rng: way_of((3, 0), *several(3, slow=25, hold=5, back=25, rest=5)), 3),
    Foot("holds for a minute", lambda rng: way_of((2, 0), *several(2), *several(1, hold=60.0),
                                                  *several(2)), 5),
    Foot("waits five minutes first", lambda rng: way_of((300, 0), *several(5)), 5),
    Foot("rests for two minutes between", lambda rng: way_of(
        (2, 0), *several(3), (120, 0), *several(3)), 6),
    Foot("one press only", lambda rng: way_of((2, 0), *several(1)), 1),
    Foot("two presses only", lambda rng: way_of((2, 0), *several(2)), 2),
    Foot("hardly rests", lambda rng: way_of((1, 0), *several(6, hold=4.0, rest=0.5), (0.5, 0)), 6),
    Foot("ten seconds late", lambda rng: way_of((12, 0), *several(6)), 6, tuple(
        (2.0 + 5.5 * k + at, text) for k in range(6)
        for at, text in ((0.0, "press"), (1.5, "hold"), (2.5, "release"), (4.0, "rest")))),
    Foot("20 rows a second", lambda rng: way_of((2, 0), *several(6)), 6, rate_hz=20.0),
    Foot("50 rows a second", lambda rng: way_of((2, 0), *several(6)), 6, rate_hz=50.0),
    Foot("5000 rows a second", lambda rng: way_of((2, 0), *several(4)), 4, rate_hz=5000.0),
    Foot("a fifth of the rows missing", lambda rng: way_of((2, 0), *several(6)), 6,
         spoil=_jittered),
    Foot("one cell in fifty empty", lambda rng: way_of((2, 0), *several(6)), 6, spoil=_holes),
)


def travel_of(way: Way, time_s: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Return travel as a share along a way, each part a smooth step, peaks a little uneven."""
    times, goals = np.array(way).T
    goals = np.where(goals == 100, 100 - np.abs(rng.normal(0, 0.15, goals.size)), goals)
    for k in range(1, goals.size):
        if way[k][1] == way[k - 1][1]:
            goals[k] = goals[k - 1]
    part = np.clip(np.searchsorted(times, time_s, "right"), 1, times.size - 1)
    share = np.clip((time_s - times[part - 1]) / (times[part] - times[part - 1]), 0, 1)
    smooth = 0.4 * share + 0.6 * share**2 * (3 - 2 * share)
    return (goals[part - 1] + (goals[part] - goals[part - 1]) * smooth) / 100.0


def record(foot: Foot, seed: int) -> tuple[Recording, Pedal, np.ndarray]:
    """Return the recording of a random sound pedal under that foot, the pedal, true levels."""
    rng = np.random.default_rng([901, seed])
    pedal, bench = random_pedal(rng, board=seed % len(BOARDS))
    pedal = replace(pedal, return_scatter_percent=0.0)
    rate = foot.rate_hz or bench.rate_hz
    way = foot.way(rng)
    time_s = np.arange(int(way[-1][0] * rate)) / rate
    travel = travel_of(way, time_s, rng)
    supply = supply_volts(pedal, time_s, rng)
    channels, levels = [], []
    for k in range(2):
        ratio = track_ratio(pedal, k, time_s, travel)
        lowest = np.abs(travel) < 1e-9
        levels.append(5.0 * float(np.median(ratio[lowest])))
        volts = ratio * supply + wiper_noise(pedal, k, travel, rate, rng)
        channels.append(Channel(
            "ab"[k], "track", bench.converter.read(volts, bench.converter.track_scale, rng),
            "counts", bench.converter.full_scale, bench.converter.reference_volts,
            bench.converter.track_scale))
    channels.append(Channel(
        "supply", "supply", bench.converter.read(supply, bench.converter.supply_scale, rng),
        "counts", bench.converter.full_scale, bench.converter.reference_volts,
        bench.converter.supply_scale, nominal_volts=5.0))
    marks = tuple(Mark(int(t * rate), text) for t, text in foot.marks)
    recording = Recording(time_s, tuple(channels), marks, rate_hz=rate)
    return foot.spoil(recording, rng), pedal, np.array(levels)


def withheld(found: Findings) -> bool:
    """Return whether no track is given a start of travel."""
    return not any(np.isfinite(s.value) for s in found.settings if s.name == "start_of_travel")


def wrong(foot: Foot, seed: int) -> list[str]:
    """Return what is wrong with the findings of one pedal under that foot, one line each."""
    recording, pedal, levels = record(foot, seed)
    label = f"{foot.name}, pedal {seed} ({recording.rate_hz:g} Hz)"
    try:
        found = analyse(recording)
    except AnalysisError as error:
        return [f"{label}: refused: {error}"]
    lines = []
    if foot.starts_pressed and withheld(found):
        return []
    presses = sum(s.kind == "press" for s in found.segments)
    allowed = {foot.presses, foot.presses + 1} if foot.starts_pressed else {foot.presses}
    if presses not in allowed:
        lines.append(f"{label}: presses {presses}, true {foot.presses}")
    if found.pair is None or found.pair.relation != pedal.relation:
        lines.append(f"{label}: relation {found.pair and found.pair.relation}, "
                     f"true {pedal.relation}")
    for k, track in enumerate(pedal.tracks):
        seen = found.tracks.get("ab"[k])
        if seen is None:
            lines.append(f"{label}: track {'ab'[k]} not found")
            continue
        rising = track.full_ratio > track.rest_ratio
        if seen.direction != ("rising" if rising else "falling"):
            lines.append(f"{label}: direction {seen.direction} of {seen.column} is wrong")
        span = 5.0 * abs(track.full_ratio - track.rest_ratio)
        # The bar of the random pedals: 0.5 LSB or 0.1 % of span.
        off = abs(seen.rest.value - levels[k]) / max(0.5 * seen.step_volts, 0.001 * span)
        if not off <= 1:
            lines.append(f"{label}: rest of {seen.column} off by {off:.1f} of what is allowed")
    lines += [f"{label}: false {f.kind} on {f.channel} at {f.time_s:.2f} s: "
              f"{fault_words(f.why, TERMINAL)}"
              for f in found.faults if f.kind not in foot.may_report]
    return lines


def main() -> int:
    """Measure and print; return 1 when anything is wrong."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--pedals", type=int, default=20)
    parser.add_argument("--foot", choices=[f.name for f in FEET])
    call = parser.parse_args()
    status = 0
    for foot in FEET:
        if call.foot not in (None, foot.name):
            continue
        all_lines = [wrong(foot, seed) for seed in range(call.pedals)]
        good = sum(not lines for lines in all_lines)
        held = sum(withheld(analyse(record(foot, seed)[0]))
                   for seed in range(call.pedals)) if foot.starts_pressed else 0
        status |= good < call.pedals
        print(f"{foot.name:32s} {good:3d} of {call.pedals} all right"
              f"{f', {held} by giving no settings' if held else ''}")
        shown = [line for lines in all_lines for line in lines]
        for line in shown[: 200 if call.foot else 3]:
            print(f"    {line[:170]}")
    return int(status)


if __name__ == "__main__":
    sys.exit(main())

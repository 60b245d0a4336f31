"""The guided sweep: what to ask of the person at the pedal, when, and what cannot be used.

Pure: no clock, no port. Times are seconds of the recording, so that a pulled cable or a board
faster than real time changes nothing.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from analysis.model.recording import Channel, Recording
from analysis.signal.reference import clipped_doubt
from bench.errors import BadCall
from bench.wording.doubts import bench_supply_clipped
from bench.wording.face import TERMINAL

WORDS = {
    "rest": "leave the pedal alone",
    "press": "press slowly, all the way down",
    "hold": "hold it down",
    "release": "let it come back slowly",
}
SHALLOW_WORDS = {"press": "press about half way down", "hold": "hold it there"}
# Of the slow presses every third goes half way, of the quick ones every second: a pedal may rest
# elsewhere after a press that did not reach the stop, and a foot in traffic seldom reaches it.
SLOW_SHALLOW, QUICK_SHALLOW = 3, 2
QUICK_WORDS = {
    "rest": "leave the pedal alone",
    "press": "press it down",
    "hold": "hold it down",
    "release": "let go: slip your foot off",
}
# With a hand throttle in place of a pedal.
HAND_WORDS = {
    "rest": "leave the throttle alone",
    "press": "turn it slowly, all the way",
    "hold": "hold it there",
    "release": "let it come back slowly",
}
SHALLOW_HAND_WORDS = {**SHALLOW_WORDS, "press": "turn it about half way"}
QUICK_HAND_WORDS = {**HAND_WORDS, "press": "turn it all the way",
                    "release": "let go: open your hand"}

# A track that moves by less than this share of its range, or by less volts, did not move.
STILL_PERCENT = 2.0
STILL_VOLTS = 0.1
# One track moves this many times more than the other: the other one stands still.
ONE_SIDED = 20.0
# A wiper that loses contact reads a rail for moments; held there this long, and for this share
# of the sweep, the input's range is too small.
CLIPPED_S = 0.3
CLIPPED_SHARE = 0.03
MISSING_SUPPLY = 0.5


@dataclass(frozen=True)
class Prompt:
    """Hold one prompt: when it is shown, its kind (rest, press, hold, release), its words."""

    start_s: float
    kind: str
    quick: bool = False
    shallow: bool = False
    by_hand: bool = False

    @property
    def words(self) -> str:
        """Return what the person is asked to do."""
        shallow, quick, slow = ((SHALLOW_HAND_WORDS, QUICK_HAND_WORDS, HAND_WORDS) if self.by_hand
                                else (SHALLOW_WORDS, QUICK_WORDS, WORDS))
        if self.shallow and self.kind in shallow:
            return shallow[self.kind]
        return (quick if self.quick else slow)[self.kind]


@dataclass(frozen=True)
class Plan:
    """Hold the prompts in order, and when the sweep is over."""

    prompts: tuple[Prompt, ...]
    end_s: float

    def due(self, after_s: float, until_s: float) -> tuple[Prompt, ...]:
        """Return the prompts with after_s < start_s <= until_s."""
        return tuple(p for p in self.prompts if after_s < p.start_s <= until_s)

    def next_after(self, time_s: float) -> Prompt | None:
        """Return the first prompt later than that."""
        return next((p for p in self.prompts if p.start_s > time_s), None)


def guided_plan(cycles: int = 8, quick: int = 4, press_s: float = 2.2, hold_s: float = 1.3,
                release_s: float = 2.2, rest_s: float = 2.0, first_rest_s: float = 3.0,
                alone: bool = False) -> Plan:
    """Return the usual sweep: slow cycles, then quick lift-offs; by default 12 returns in 85 s.

    Some presses go half way only (SLOW_SHALLOW, QUICK_SHALLOW); the first never. alone: no slow
    ones, lift-offs to be added to a sweep. cycles 1 to 100 (0 when alone), quick 0 to 100, times
    0.5 to 60 s; raise BadCall outside.
    """
    for name, value, low, high in (
            ("--presses", cycles, 0 if alone else 1, 100), ("--quick", quick, 0, 100),
            ("--press-s", press_s, 0.5, 60), ("--hold-s", hold_s, 0.5, 60),
            ("--release-s", release_s, 0.5, 60),
            ("--rest-s", rest_s, 0.5, 60), ("first rest", first_rest_s, 0.5, 60)):
        if not low <= value <= high:
            raise BadCall(f"{name} is {value:g}; use {low:g} to {high:g}")
    prompts = [Prompt(0.0, "rest")]
    now = first_rest_s
    for cycle in range(cycles + quick):
        fast = cycle >= cycles
        shallow = ((cycle - cycles) % QUICK_SHALLOW == 1 if fast else
                   cycle % SLOW_SHALLOW == SLOW_SHALLOW - 1)
        lengths = (1.2, 1.0, 0.6, rest_s) if fast else (press_s, hold_s, release_s, rest_s)
        for kind, seconds in zip(("press", "hold", "release", "rest"), lengths, strict=True):
            prompts.append(Prompt(round(now, 3), kind, fast, shallow))
            now += seconds
    return Plan(tuple(prompts), round(now + 1.0, 3))


def by_hand(plan: Plan) -> Plan:
    """Return the plan in the words of a hand throttle."""
    return replace(plan, prompts=tuple(replace(p, by_hand=True) for p in plan.prompts))


def plan_of(prompts: Iterable[tuple[float, str]], cycles: int, end_s: float) -> Plan:
    """Return a plan from (time_s, kind); presses after the first `cycles` are quick."""
    found: list[Prompt] = []
    presses = 0
    for time_s, kind in prompts:
        presses += kind == "press"
        found.append(Prompt(time_s, kind, presses > cycles))
    return Plan(tuple(found), end_s)


def refusals(recording: Recording) -> tuple[str, ...]:
    """Return why a sweep cannot be used, one sentence each with what to do; () for a good one."""
    tracks = recording.with_role("track")
    if not tracks:
        return ("no channel is a track; name them, for example --role a=track --role b=track",)
    if recording.rows < 10:
        return (f"only {recording.rows} rows were recorded; check the board and sweep again",)
    if missing := _supply(recording):
        return (missing,)
    if clipped := clipped_doubt(recording):
        return (bench_supply_clipped(clipped.values, TERMINAL),)
    moved = {c.column: _moved(c) for c in tracks}
    most = max(moved.values())
    still = [c for c in tracks if _is_still(c, moved[c.column], most)]
    if len(still) == len(tracks):
        return (f"no motion seen: {_listed(still)}; sweep again and move it all the way, or check "
                "which inputs the tracks are on",)
    if still:
        return (f"only one track moves: {_listed(still)}; check that track's three wires and its "
                "supply, then sweep again",)
    return tuple(text for c in tracks if (text := _clipped(recording, c)))


def _supply(recording: Recording) -> str | None:
    supply = recording.supply_volts()
    if supply is None:
        return None
    seen = supply[np.isfinite(supply)]
    level = float(np.median(seen)) if seen.size else 0.0
    if level >= MISSING_SUPPLY * recording.nominal_volts:
        return None
    return (f"the pedal's supply is missing: it reads {level:.2f} V where "
            f"{recording.nominal_volts:g} V belong; switch the bench supply on, or check its input")


def _moved(channel: Channel) -> float:
    """Return how far a channel moved in volts, leaving out its rarest 2 % on either side."""
    volts = channel.volts()[np.isfinite(channel.readings)]
    if not volts.size:
        return 0.0
    low, high = np.percentile(volts, [2.0, 98.0])
    return float(high - low)


def _is_still(channel: Channel, moved: float, most: float) -> bool:
    full = channel.step_volts * (channel.full_scale or 0.0)
    return moved < max(STILL_VOLTS, STILL_PERCENT / 100.0 * full) or moved * ONE_SIDED < most


def _listed(channels: list[Channel]) -> str:
    levels = [f"{c.column} stays at {float(np.nanmedian(c.volts())):.3f} V"
              if np.isfinite(c.readings).any() else f"{c.column} has no readings"
              for c in channels]
    return ", ".join(levels)


def _clipped(recording: Recording, channel: Channel) -> str | None:
    """Return words when a channel is held at the end of its converter's range."""
    if channel.unit != "counts" or channel.full_scale is None:
        return None
    codes, read = channel.codes, channel.readings
    for at_end, value, hint in (
            (codes.at_high(read), codes.most, "put a divider in front of it and give --scale"),
            (codes.at_low(read), codes.least, "check its ground and its polarity")):
        longest = _longest_s(at_end, recording)
        if longest > CLIPPED_S and np.mean(at_end) > CLIPPED_SHARE:
            return (f"track {channel.column} is cut off at {value:g} counts, the end of the "
                    f"input's range, for {longest:.1f} s at a time; {hint}, then sweep again")
    return None


def _longest_s(mask: np.ndarray, recording: Recording) -> float:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    if not edges.size:
        return 0.0
    starts, stops = edges[::2], edges[1::2] - 1
    return float(np.max(recording.time_s[stops] - recording.time_s[starts]))

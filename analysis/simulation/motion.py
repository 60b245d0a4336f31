"""How a foot moves the pedal: prompts, lateness, unsteady ramps, quick lift-offs.

Travel here is a share: 0 at the rest stop, 1 at the full stop.
"""

from dataclasses import dataclass

import numpy as np

from analysis.model.recording import Array

# A spring throws a released pedal against its stop within about this time
# (common practice, no source).
LIFT_OFF_S = 0.12


@dataclass(frozen=True)
class Motion:
    """Hold how a person follows the prompts of a guided sweep; times in seconds.

    cycles: slow presses led back by the foot; quick: lift-offs, where the foot slips off.
    unevenness: relative spread of every duration. late_s: usual delay behind a prompt, each
    time between half and one and a half times that. tremor_percent: of the foot, in % of
    travel. peak_percent: how far a press goes; peak_scatter_percent: its spread between
    presses. quick_press_s: the way down before a quick lift-off. marks: write the prompts down.
    """

    cycles: int = 8
    quick: int = 4
    first_rest_s: float = 3.0
    press_s: float = 2.0
    hold_s: float = 1.2
    release_s: float = 2.0
    rest_s: float = 2.0
    quick_press_s: float = 0.9
    quick_hold_s: float = 0.8
    unevenness: float = 0.12
    late_s: float = 0.35
    tremor_percent: float = 0.3
    peak_percent: float = 100.0
    peak_scatter_percent: float = 0.15
    last_rest_s: float = 1.0
    marks: bool = True


@dataclass(frozen=True)
class Part:
    """Hold one part of a motion: kind rest, press, hold or release; seconds; cycle number."""

    kind: str
    start_s: float
    end_s: float
    cycle: int
    quick: bool
    prompt_s: float


@dataclass(frozen=True)
class Course:
    """Hold a motion carried out: times (n,) in s, travel (n,) as a share, and its parts."""

    time_s: Array
    travel: Array
    parts: tuple[Part, ...]


def lay_out(motion: Motion, rng: np.random.Generator) -> tuple[Part, ...]:
    """Return the parts of a motion, one after the other from 0 s, each with its prompt."""
    parts: list[Part] = []
    now = prompt = 0.0

    def add(kind: str, seconds: float, cycle: int, quick: bool) -> None:
        nonlocal now, prompt
        seconds *= float(np.exp(motion.unevenness * np.clip(rng.standard_normal(), -2.5, 2.5)))
        parts.append(Part(kind, now, now + seconds, cycle, quick, max(0.0, prompt)))
        now += seconds
        prompt = now - motion.late_s * float(rng.uniform(0.5, 1.5))

    add("rest", motion.first_rest_s, -1, False)
    for cycle in range(motion.cycles + motion.quick):
        quick = cycle >= motion.cycles
        add("press", motion.quick_press_s if quick else motion.press_s, cycle, quick)
        add("hold", motion.quick_hold_s if quick else motion.hold_s, cycle, quick)
        add("release", LIFT_OFF_S if quick else motion.release_s, cycle, quick)
        add("rest", motion.rest_s, cycle, quick)
    if motion.last_rest_s:
        last = parts.pop()
        parts.append(Part("rest", last.start_s, last.end_s + motion.last_rest_s, last.cycle,
                          last.quick, last.prompt_s))
    return tuple(parts)


def carry_out(
    motion: Motion, rate_hz: float, rng: np.random.Generator, return_scatter: float = 0.0,
    stuck: dict[int, float] | None = None, slow_return_s: float | None = None,
) -> Course:
    """Return the course of a motion sampled at `rate_hz`.

    return_scatter: standard deviation of where the pedal comes to rest, as a share of travel.
    stuck: cycle -> share of travel at which that return stays until the next press.
    slow_return_s: time a quick lift-off takes instead of a spring's snap.
    """
    stuck = stuck or {}
    parts = list(lay_out(motion, rng))
    if slow_return_s is not None:
        parts = _slowed(parts, slow_return_s)
    count = max(2, int(np.ceil(parts[-1].end_s * rate_hz)))
    time_s = np.arange(count) / rate_hz
    travel = np.zeros(count)
    level = float(rng.normal(0.0, return_scatter)) if return_scatter else 0.0
    for part in parts:
        start = int(np.ceil(part.start_s * rate_hz))
        stop = min(count, int(np.ceil(part.end_s * rate_hz)))
        if part.kind in ("rest", "hold"):
            travel[start:stop] = level
            continue
        if part.kind == "press":
            aim = motion.peak_percent / 100.0 - abs(
                float(rng.normal(0.0, motion.peak_scatter_percent / 100.0)))
        else:
            aim = float(rng.normal(0.0, return_scatter)) if return_scatter else 0.0
            aim = stuck.get(part.cycle, aim)
        share = (time_s[start:stop] - part.start_s) / (part.end_s - part.start_s)
        if part.kind == "release" and part.quick:
            way = _creep(share) if slow_return_s is not None else share * share
        else:
            way = _led(share, rng)
        way = level + (aim - level) * way
        if not (part.kind == "release" and part.quick) and motion.tremor_percent:
            shake = _tremor(share.size, rate_hz, rng) * motion.tremor_percent / 100.0
            # A foot shakes the pedal where it floats, not against a stop.
            inside = np.minimum(1.0, 6.0 * np.minimum(share, 1.0 - share))
            way = way + shake * inside * np.clip(6 * way, 0, 1)
        travel[start:stop] = np.clip(way, min(level, aim), max(level, aim))
        level = aim
    return Course(time_s, travel, tuple(parts))


def _slowed(parts: list[Part], seconds: float) -> list[Part]:
    """Return the parts with every quick release lasting `seconds`, the rest moved back."""
    result: list[Part] = []
    shift = 0.0
    for part in parts:
        start = part.start_s + shift
        if part.kind == "release" and part.quick:
            shift += seconds - (part.end_s - part.start_s)
        result.append(Part(part.kind, start, part.end_s + shift, part.cycle, part.quick,
                           part.prompt_s + shift))
    return result


def _led(share: Array, rng: np.random.Generator) -> Array:
    """Return a foot's unsteady way from 0 to 1: a smooth ramp whose speed wavers."""
    a, b, p, q = rng.normal(0, 0.035), rng.normal(0, 0.02), *rng.uniform(0, np.pi, 2)
    warped = share + share * (1 - share) * (
        4 * a * np.sin(2 * np.pi * share + p) + 4 * b * np.sin(5 * np.pi * share + q))
    warped = np.clip(warped, 0.0, 1.0)
    # Between a straight ramp and a smooth step: feet start and stop gently.
    result: Array = 0.4 * warped + 0.6 * warped * warped * (3 - 2 * warped)
    return result


def _creep(share: Array) -> Array:
    """Return the way of a sluggish return: fast at first, creeping at the end."""
    result: Array = (1 - np.exp(-4 * share)) / (1 - np.exp(-4.0))
    return result


def _tremor(count: int, rate_hz: float, rng: np.random.Generator) -> Array:
    """Return unit noise between 1 and 8 Hz, shape (count,)."""
    size = 1 << max(4, int(np.ceil(np.log2(max(count, 2)))))
    spectrum = np.fft.rfft(rng.standard_normal(size))
    hertz = np.fft.rfftfreq(size, 1.0 / rate_hz)
    spectrum[(hertz < 1.0) | (hertz > 8.0)] = 0.0
    shake: Array = np.fft.irfft(spectrum, size)[:count]
    spread = float(np.std(shake)) if count else 0.0
    return shake / spread if spread > 0 else shake

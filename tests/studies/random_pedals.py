"""Random pedals over all relations and three boards, for measuring the analysis at large."""

from dataclasses import dataclass, replace

import numpy as np

from analysis.simulation.converter import Converter
from analysis.simulation.motion import Motion
from analysis.simulation.pedal import Dropout, Pedal, Supply, Track

NOISE_COLOURS = ("white", "smoothed", "1/f")
RELATIONS = ("same slope", "half slope", "opposed slopes", "same slope with offset", "other")
# (converter, samples per second): a 5 V board, a 3.3 V board behind dividers, a 16-bit one.
BOARDS = (
    (Converter(10, 5.0, 1.0, 2.0, 0.2), 200.0),
    (Converter(12, 3.3, 1.6, 1.6, 0.5), 1000.0),
    (Converter(16, 6.144, 1.0, 1.0, 1.0), 500.0),
)


@dataclass(frozen=True)
class BenchSettings:
    """Hold what goes with a random pedal: board, rate, motion."""

    converter: Converter
    rate_hz: float
    motion: Motion


def random_pedal(
    rng: np.random.Generator, relation: str | None = None, board: int | None = None,
    dropouts: bool = False,
) -> tuple[Pedal, BenchSettings]:
    """Return a pedal that is worn but sound, and a bench to sweep it on.

    relation, board: one of RELATIONS, index into BOARDS; None draws them. dropouts: with one
    to three lost contacts of at least two samples and at least 5 % of travel (by level).
    """
    relation = relation or str(rng.choice(RELATIONS))
    converter, rate_hz = BOARDS[int(rng.integers(len(BOARDS))) if board is None else board]
    first, second = _levels(relation, rng)
    if rng.random() < 0.5 and relation in ("half slope", "other"):
        first, second = second, first
    if rng.random() < 0.25:
        # Either track may be wired the other way up.
        turned = (1 - first[0], 1 - first[1]), (1 - second[0], 1 - second[1])
        if Pedal((Track(*turned[0]), Track(*turned[1]))).relation == relation:
            first, second = turned
    scatter = float(rng.uniform(0.0002, 0.0015))
    tracks = tuple(
        Track(rest, full,
              tuple(float(b) for b in rng.normal(0, [0.6, 0.4, 0.25])),
              float(rng.choice([0.0, 0.3])), scatter,
              float(rng.uniform(0.0003, 0.0030)), str(rng.choice(NOISE_COLOURS)))
        for rest, full in (first, second))
    volts = float(rng.uniform(4.85, 5.10))
    supply = Supply(
        volts, 5.0, 0.0005, float(rng.choice([0.0, 0.004])), float(rng.choice([50.0, 100.0])),
        float(rng.uniform(-0.02, 0.02)))
    motion = Motion(
        cycles=int(rng.integers(5, 10)), quick=int(rng.integers(2, 5)),
        press_s=float(rng.uniform(1.2, 3.0)), release_s=float(rng.uniform(1.2, 3.0)),
        hold_s=float(rng.uniform(0.8, 2.0)), rest_s=float(rng.uniform(1.2, 3.0)),
        unevenness=float(rng.uniform(0.05, 0.2)), late_s=float(rng.uniform(0.1, 2.0)),
        tremor_percent=float(rng.uniform(0.0, 0.6)))
    lost = _random_dropouts(rng, rate_hz) if dropouts else ()
    pedal = Pedal(
        tracks, f"random {relation}",
        float(rng.uniform(0.0, 0.15)), float(rng.choice([0.0, 0.0, 0.4])),
        supply=supply, dropouts=lost)
    return pedal, BenchSettings(converter, rate_hz, replace(motion, marks=bool(rng.random() < 0.5)))


def _levels(
    relation: str, rng: np.random.Generator,
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return rest and full ratio of both tracks, well inside the relation's limits."""
    rest, full = float(rng.uniform(0.08, 0.22)), float(rng.uniform(0.74, 0.90))
    span = full - rest
    if relation == "same slope":
        gain, offset = rng.uniform(0.94, 1.06), rng.uniform(-0.03, 0.03)
    elif relation == "half slope":
        gain, offset = rng.uniform(0.47, 0.53), rng.uniform(0.015, 0.06)
    elif relation == "opposed slopes":
        gain = rng.uniform(-1.06, -0.94)
        offset = rng.uniform(0.05, max(0.06, 0.95 + gain * span)) - gain * full
    elif relation == "same slope with offset":
        rest = float(rng.uniform(0.06, 0.12))
        span = float(rng.uniform(0.55, 0.70))
        full = rest + span
        gain = rng.uniform(0.94, 1.06)
        offset = rng.uniform(0.08, max(0.10, min(0.20, 0.96 - gain * full)))
    elif relation == "other":
        gain = rng.uniform(0.62, 0.80) * rng.choice([1.0, -1.0])
        offset = 0.04 if gain > 0 else rng.uniform(0.05, 0.2) - gain * full
    else:
        raise ValueError(f"relation {relation!r}; use one of {', '.join(RELATIONS)}")
    return (rest, full), (float(gain * rest + offset), float(gain * full + offset))


def _random_dropouts(rng: np.random.Generator, rate_hz: float) -> tuple[Dropout, ...]:
    return tuple(
        Dropout(int(rng.integers(2)), float(rng.uniform(2.2 / rate_hz, max(0.06, 3 / rate_hz))),
                float(rng.uniform(8.0, 92.0)), None,
                str(rng.choice(["low", "low", "high", "floating"])), 0.4)
        for _ in range(int(rng.integers(1, 4))))

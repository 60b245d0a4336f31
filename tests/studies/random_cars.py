"""Random cars with known truth, for measuring the judgement of key-on logs at large."""

import numpy as np

from analysis.simulation import Converter
from analysis.simulation.car import Car, CarNoise, CarTrack


def random_car(seed: int) -> Car:
    """Return a random car: board, pedal, cause of the shift, noise, number of key-ons."""
    rng = np.random.default_rng([2026, seed])
    bits = int(rng.choice([10, 12, 12, 16]))
    steps = {10: (0.2, 0.6), 12: (0.3, 1.0), 16: (1.0, 8.0)}[bits]
    converter = Converter(bits, 5.0, 1.0, 2.0, float(rng.uniform(*steps)))
    rest = float(rng.uniform(0.5, 1.0))
    kind = int(rng.integers(3))
    second = {0: (rest + rng.uniform(-0.1, 0.2), 4.2), 1: (0.5 * rest, 2.1),
              2: (5.0 - rest, 0.8)}[kind]
    cause = str(rng.choice(["nothing", "ground", "one track", "both"]))
    size = float(rng.choice([-1.0, 1.0]) * 10 ** rng.uniform(-2.3, -1.0))
    scatter = float(10 ** rng.uniform(-4.0, -2.4))
    shift = size if cause in ("one track", "both") else 0.0
    lifted = int(rng.integers(2))
    pair = ((rest, 4.2), second)
    tracks = tuple(
        CarTrack(name, float(pair[i][0]), float(pair[i][1]), shift if lifted == i else 0.0,
                 float(10 ** rng.uniform(-4.0, -2.7)))
        for i, name in enumerate("ab"))
    noise = CarNoise(
        white=float(10 ** rng.uniform(-3.7, -2.6)),
        white_on=float(rng.choice([0.0, 1.0]) * 10 ** rng.uniform(-3.3, -2.2)),
        slow_on=float(rng.choice([0.0, 1.0]) * 10 ** rng.uniform(-4.0, -2.7)),
        slow_s=float(10 ** rng.uniform(-2.0, -0.3)),
        flicker=float(rng.choice([0.0, 1.0]) * 10 ** rng.uniform(-4.0, -3.0)),
        burst_per_minute=float(rng.choice([0.0, 1.0]) * rng.uniform(2.0, 60.0)),
        burst_volts=float(10 ** rng.uniform(-2.5, -1.7)),
        burst_s=float(10 ** rng.uniform(-2.0, -0.7)),
        tones=((float(rng.uniform(60.0, 9000.0)), float(10 ** rng.uniform(-3.5, -2.3))),)
        if rng.random() < 0.4 else ())
    cycles, on_s = int(rng.integers(2, 8)), float(rng.uniform(12.0, 30.0))
    presses = tuple((c, float(rng.uniform(4.0, on_s - 4.0)), float(rng.uniform(0.8, 2.0)),
                     float(rng.uniform(20.0, 100.0)))
                    for c in range(cycles) if rng.random() < 0.2)
    return Car(
        tracks, cycles, float(rng.uniform(4.0, 10.0)), on_s, 1000.0,
        size if cause in ("ground", "both") else 0.0, scatter,
        float(10 ** rng.uniform(-2.0, -0.5)), float(rng.uniform(-1.0, 1.0)),
        sag=float(rng.choice([0.0, 0.0, 0.02, 0.05])),
        drift_volts_per_minute=float(rng.choice([0.0, 1.0]) * rng.normal(0.0, 0.004)),
        noise=noise, presses=presses,
        converter=converter, with_supply=bool(rng.random() < 0.7),
        with_key=bool(rng.random() < 0.8), marked=True, title=f"random car {seed}", seed=seed)

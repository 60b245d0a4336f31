"""A third pedal: converters of every shape, and pedals that warm by every law.

Shares no code with the other two or with the analysis, but for the containers Recording and
Channel. A foot goes in raised cosines; the arm returns normally or one-sided (a pivot that
sticks). One multiplexed converter, by a table of its transition levels, reads both tracks and
the supply: a sine of any period and phase, an S, a parabola, or a random walk of its step
widths, scaled so that the line is missed by `inl` steps at the worst code; its codes are cut
down, rounded, or lie anywhere between. Warmth moves the films evenly, ever more slowly, late,
in a jump, or up and down again.

    draw(rng, world) -> Sample: recording, and the true levels of both tracks over the sweep
"""

from dataclasses import dataclass

import numpy as np

from analysis.model.recording import Channel, Recording

NOMINAL = 5.0
SHAPES = ("sine", "S", "parabola", "walk")
LAWS = ("even", "slower", "late", "jump", "up and down")


@dataclass(frozen=True)
class World:
    """Hold what is drawn: bits; how far the converter bends, and whether always so far.

    offset: "down", "nearest" or "any". tolerance: of a supply that is not recorded, 0 recorded.
    warm_share: the furthest that warmth moves a film, as a share of the supply.
    """

    bits: int = 10
    inl: float = 0.8
    worst: bool = True
    offset: str = "down"
    tolerance: float = 0.0
    warm_share: float = 0.0
    shape: str | None = None
    law: str | None = None


@dataclass(frozen=True)
class Sample:
    """Hold a recording and, by track, the true rest and full level at each row, in volts."""

    recording: Recording
    rest: dict[str, np.ndarray]
    full: dict[str, np.ndarray]


def transitions(rng: np.random.Generator, world: World) -> np.ndarray:
    """Return the levels, in ideal steps, at which the code changes to 1, 2, ..."""
    count = 2**world.bits
    at = np.arange(1, count) / count
    shape = world.shape or str(rng.choice(SHAPES))
    if shape == "sine":
        bend = np.sin(2 * np.pi * (rng.uniform(0.4, 5.0) * at + rng.random()))
    elif shape == "S":
        middle = rng.uniform(0.35, 0.65)
        bend = (at - middle) * ((at - middle) ** 2 - rng.uniform(0.08, 0.25))
    elif shape == "parabola":
        bend = at * (1 - at) * rng.choice([-1.0, 1.0])
    else:
        walk = np.cumsum(rng.standard_normal(at.size))
        bend = walk - np.interp(at, [at[0], at[-1]], [walk[0], walk[-1]])
    bend = bend * rng.choice([-1.0, 1.0]) / np.max(np.abs(bend))
    size = world.inl if world.worst else rng.uniform(0.0, world.inl)
    half = {"down": 0.0, "nearest": 0.5, "any": rng.uniform(0.0, 0.5)}[world.offset]
    return np.sort(np.arange(1, count) - half + size * bend)


def warmth(rng: np.random.Generator, world: World, u: np.ndarray) -> np.ndarray:
    """Return how far warmth has moved a film, from 0 at the start; u: 0 to 1 over the sweep."""
    law = world.law or str(rng.choice(LAWS))
    size = rng.uniform(-world.warm_share, world.warm_share)
    if law == "even":
        return size * u
    if law == "slower":
        tau = rng.uniform(0.15, 0.6)
        return size * -np.expm1(-u / tau) / -np.expm1(-1 / tau)
    if law == "late":
        start = rng.uniform(0.2, 0.6)
        return size * np.clip((u - start) / (1 - start), 0, 1)
    if law == "jump":
        at, width = rng.uniform(0.3, 0.7), rng.uniform(0.02, 0.1)
        return size * 0.5 * (1 + np.tanh((u - at) / width))
    return size * np.sin(np.pi * u)


def _foot(rng: np.random.Generator, rate: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the travel at each row, 0 at rest, and the number of the rest it is in or left."""
    pieces, count = [np.zeros(int(rng.uniform(2.2, 3.5) * rate))], [0]
    for _ in range(int(rng.integers(8, 15))):
        down = int(rng.uniform(0.4, 1.5) * rate)
        up = int(rng.uniform(0.1, 0.4) * rate)
        ramp = 0.5 - 0.5 * np.cos(np.pi * np.arange(down) / down)
        back = 0.5 + 0.5 * np.cos(np.pi * np.arange(up) / up)
        pieces += [ramp, np.ones(int(rng.uniform(0.9, 2.0) * rate)), back,
                   np.zeros(int(rng.uniform(1.7, 3.0) * rate))]
        count += [0, 0, 0, 1]
    which = np.cumsum(np.repeat(count, [p.size for p in pieces])
                      * np.concatenate([np.arange(p.size) == 0 for p in pieces]))
    return np.concatenate(pieces), which


def draw(rng: np.random.Generator, world: World) -> Sample:
    """Return one sweep and its truth."""
    rate = float(rng.choice([100.0, 200.0]))
    travel, which = _foot(rng, rate)
    time = np.arange(travel.size) / rate
    u = time / time[-1]
    scatter = rng.uniform(0.0002, 0.0012)
    draws = rng.standard_normal(which[-1] + 1)
    if rng.random() < 0.3:
        draws = rng.exponential(1.0, which[-1] + 1) - np.log(2.0)
    arm = travel + (1 - travel) * scatter * draws[which]
    arm = arm + travel * 0.0003 * rng.standard_normal(which[-1] + 1)[which]
    low, high = rng.uniform(0.08, 0.2), rng.uniform(0.7, 0.88)
    second = [(low + 0.03, high + 0.03), (low / 2, high / 2), (1 - low, 1 - high),
              (low + 0.001, high - 0.002)][int(rng.integers(4))]
    supply = NOMINAL * (1 + rng.uniform(-1, 1) * (world.tolerance or 0.02)) * np.ones(time.size)
    # The converter's range ends 3 to 20 % above the highest supply.
    scale = rng.uniform(1.05, 1.2) * NOMINAL / 4.096
    edges, codes = transitions(rng, world), 2.0**world.bits
    noise = rng.uniform(0.15, 0.6)

    def read(volts: np.ndarray) -> np.ndarray:
        steps = volts / scale / 4.096 * codes + noise * rng.standard_normal(volts.size)
        return np.searchsorted(edges, steps, side="right").astype(float)

    channels, rests, fulls = [], {}, {}
    for name, (at_rest, at_full) in zip("ab", ((low, high), second), strict=True):
        moved = warmth(rng, world, u)
        channels.append(Channel(name, "track", read((at_rest + (at_full - at_rest) * arm + moved)
                                                    * supply), "counts", codes, 4.096, scale))
        rests[name] = NOMINAL * (at_rest + moved)
        fulls[name] = NOMINAL * (at_full + moved)
    if not world.tolerance:
        channels.append(Channel("supply", "supply", read(supply), "counts", codes, 4.096, scale,
                                0.0, NOMINAL))
    return Sample(Recording(time, tuple(channels), (), "", "sweep", rate_hz=rate), rests, fulls)

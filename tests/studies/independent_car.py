"""A car round an independent_pedal: key, contactor, grounds, supply, spikes, warmth, a logger.

A log is a schedule of key-ons; to each track volts are added at the wiper (a lift of the level
that the controller sees, stated at nominal supply). Truth: `peak_volts`, by track, is how far
beyond its rest key off the stated level ever goes with the key on and nobody's foot there.
"""

from dataclasses import dataclass, field, replace

import numpy as np
from studies.independent_pedal import NOMINAL, Board, Pedal, Shot, record

from analysis.model.recording import Channel, Mark, Recording


@dataclass
class Car:
    """Hold a schedule and what happens in it; arrays are per row, volts per track.

    on: key really on; lift: volts at nominal towards pressed, by track (same row count);
    foot: travel by a foot; supply: volts.
    """

    board: Board
    time_s: np.ndarray
    on: np.ndarray
    on_s: list[float]
    off_s: list[float]
    lift: list[np.ndarray]
    foot: np.ndarray
    supply: np.ndarray
    rest_travel: float = 0.0
    marks: list[tuple[float, str]] = field(default_factory=list)
    key_line: np.ndarray | None = None
    wires: frozenset[str] = frozenset({"key", "supply"})

    def during(self, start: float, stop: float) -> np.ndarray:
        """Return True in the rows from start to stop, seconds."""
        return (self.time_s >= start) & (self.time_s < stop)


def draw_car(rng: np.random.Generator, board: Board, cycles: int = 6, off: float = 6.0,
             on: float = 12.0) -> Car:
    """Return a quiet car: a contactor, small grounds, a ripple, a little sag."""
    starts, stops, now = [], [], 0.0
    for _ in range(cycles):
        now += off * rng.uniform(0.9, 1.2)
        starts.append(now)
        now += on * rng.uniform(0.9, 1.2)
        stops.append(now)
    total = now + rng.uniform(2.0, 4.0)
    n = int(total * board.rate)
    times = np.arange(n) / board.rate + rng.uniform(-0.5, 0.5, n) * board.jitter / board.rate
    times = np.maximum.accumulate(np.maximum(times, 0.0))
    inside = np.zeros(n, bool)
    for a, b in zip(starts, stops, strict=True):
        inside |= (times >= a) & (times < b)
    sag = rng.uniform(0.0, 0.03) * inside
    supply = board.supply_volts * (1 - sag) + rng.normal(0, 0.0005, n)
    ripple = rng.uniform(0.0002, 0.001)
    lift = [rng.uniform(-0.002, 0.004) * inside
            + ripple * inside * np.sin(2 * np.pi * rng.uniform(0.1, 0.4) * board.rate * times)
            for _ in range(2)]
    return Car(board, times, inside, starts, stops, lift, np.zeros(n), supply)


def drive(rng: np.random.Generator, pedal: Pedal, car: Car,
          title: str = "") -> tuple[Recording, list[float]]:
    """Return the log, and by track the furthest true level towards pressed, volts stated.

    The furthest is of the rows with the key really on and no foot, whatever was recorded.
    """
    n = car.time_s.size
    travel = car.rest_travel + car.foot
    bare = np.full(n, car.rest_travel)
    shares, furthest = [], []
    free = car.on & (car.foot < 0.004)
    for track, lift in zip(pedal.tracks, car.lift, strict=True):
        shares.append(track.share(travel) + track.sign * lift / NOMINAL)
        level = NOMINAL * track.share(bare) * track.sign + lift
        furthest.append(float(track.sign * np.max(level[free], initial=-9.0)))
    board = replace(car.board, with_supply="supply" in car.wires)
    recording = record(rng, pedal, board, Shot(car.time_s, travel, shares), "key-on", title,
                       supply=car.supply)
    channels = list(recording.channels)
    if "key" in car.wires:
        line = 12.3 * car.on if car.key_line is None else car.key_line
        channels.append(Channel("key", "key", np.round(line + rng.normal(0, 0.03, n), 2), "V"))
    rows = [(int(min(np.searchsorted(car.time_s, max(s, 0.0)), n - 1)), t) for s, t in car.marks]
    marks = tuple(Mark(r, t) for r, t in sorted(rows))
    return replace(recording, channels=tuple(channels), marks=marks,
                   extra={"contactor": "closed"}), furthest


def key_marks(car: Car, late_on: float = 0.0, late_off: float = 0.0) -> None:
    """Mark the key-ons by hand, so many seconds late, and leave the key wire away."""
    car.marks += [(s + late_on, "key on") for s in car.on_s]
    car.marks += [(s + late_off, "key off") for s in car.off_s]
    car.wires = car.wires - {"key"}


def pulse(times: np.ndarray, start: float, length: float, edge: float = 0.0) -> np.ndarray:
    """Return 0..1: a block from start for `length` seconds with edges of `edge` seconds."""
    if edge <= 0:
        return ((times >= start) & (times < start + length)).astype(float)
    up = np.clip((times - start) / edge, 0, 1)
    down = np.clip((start + length - times) / edge, 0, 1)
    return np.minimum(up, down)

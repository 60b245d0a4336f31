"""Sweeps under the integrated arm with one harm, to judge claims by pedals of another make.

The foot and arm are those of `second_arm.py`, the films those of `second_pedal.py`; what is done to
a track, the clock, the noise and the converter are made here. Nothing of `independent_pedal.py`
is used.

    ride(seed, rate) -> Ride; lose_contact, bare_film, stand_still, follow_late harm it;
    read(ride) -> Recording
"""

import sys
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from analysis.model.recording import Channel, Mark, Recording

sys.path.insert(0, str(Path(__file__).parent))

from second_arm import STEP_S, Arm, Task, arms_of, foot_task
from second_pedal import KINDS, Film, backlash, films

BLOCK = 32
NOMINAL = 5.0
# bits, reference, divider of tracks and supply
INPUTS = ((10, 5.0, 1.1), (10, 3.3, 1.8), (12, 3.3, 1.68), (12, 5.0, 1.2), (16, 4.096, 1.5))
LOSSES = ("run", "run", "ghost", "bounce", "resistive", "freeze")


@dataclass(frozen=True)
class Ride:
    """Hold one sweep before it is read: what is true at each reading of each track.

    time_s: shape (n,); places: wiper places 0..1, shares: of the supply, one of each per track.
    """

    seed: int
    kind: str
    rate: float
    time_s: np.ndarray
    places: list[np.ndarray]
    shares: list[np.ndarray]
    pair: tuple[Film, Film]
    marks: tuple[Mark, ...]
    with_supply: bool
    what: str = ""
    harmed: str = ""
    from_s: float = 0.0
    to_s: float = 0.0
    depth: float = 1.0


@lru_cache(maxsize=2)
def _arms(block: int) -> tuple[list[Task], list[Arm]]:
    rng = np.random.default_rng([91, block])
    tasks = [foot_task(rng) for _ in range(BLOCK)]
    return tasks, arms_of(tasks, rng, False, None)


def ride(seed: int, rate: float) -> Ride:
    """Return one sound sweep at `rate` readings a second."""
    tasks, arms = _arms(seed // BLOCK)
    task = tasks[seed % BLOCK]
    travel = arms[seed % BLOCK].travel
    rng = np.random.default_rng([92, seed])
    kind = KINDS[int(rng.integers(len(KINDS)))]
    pair = films(kind, rng)
    fine = np.arange(travel.size) * STEP_S
    n = int(task.seconds * rate)
    clock = np.arange(n) / rate
    taken = clock + rng.uniform(-0.03, 0.03, n) / rate
    play, skew = float(rng.choice([0.0, 0.0, 0.003])), rng.uniform(2e-5, 3e-4)
    places = [np.interp(taken + k * skew, fine, backlash(travel, (film.trail + k * play) / 2))
              for k, film in enumerate(pair)]
    marks = tuple({m.row: m for m in (Mark(int(np.clip(t * rate, 0, n - 1)), text)
                                      for t, text in task.asked)}.values())
    return Ride(seed, kind, rate, clock, places,
                [film.ratio(place) for film, place in zip(pair, places, strict=True)], pair,
                marks if rng.random() < 0.5 else (), bool(rng.random() < 0.7))


def _with(shot: Ride, number: int, share: np.ndarray, what: str, start: int, stop: int,
          depth: float = 1.0) -> Ride:
    slack = 3.0 / shot.rate
    return replace(shot, shares=[share if k == number else s for k, s in enumerate(shot.shares)],
                   what=what, harmed="ab"[number], from_s=shot.time_s[start] - slack,
                   to_s=shot.time_s[min(stop, shot.time_s.size - 1)] + slack, depth=depth)


def lose_contact(rng: np.random.Generator, shot: Ride) -> Ride:
    """Lift one wiper for 1 to 5 readings, at least a tenth of the span deep."""
    number, rows = int(rng.integers(2)), int(rng.integers(1, 6))
    film, was = shot.pair[number], shot.shares[number]
    other = shot.shares[1 - number]
    span = float(np.ptp(was))
    speed = np.abs(np.gradient(shot.places[number])) * shot.rate
    moving = np.flatnonzero((speed > 0.2) & (np.arange(was.size) > 8)
                            & (np.arange(was.size) < was.size - 12))
    for attempt in range(2000):
        way = str(rng.choice(LOSSES)) if attempt < 200 else "bounce"
        at = int(rng.choice(moving)) if rng.random() < 0.65 else int(
            rng.uniform(0.05, 0.93) * was.size)
        part = slice(at, at + rows)
        pull = 1.0 if film.pull_up else 0.0
        fade = np.exp(-(np.arange(rows) + rng.uniform(0.1, 1.0)) / shot.rate / film.open_s)
        level = {"run": pull + (was[at] - pull) * fade,
                 "ghost": other[part] if number else np.full(rows, 0.999),
                 "bounce": np.where(np.arange(rows) % 2 == 0, pull, was[part]),
                 "resistive": was[part] + (pull - was[part]) * rng.uniform(0.1, 0.7, rows),
                 "freeze": np.full(rows, was[at - 1])}[way]
        depth = float(np.max(np.abs(level - was[part]))) / span
        if depth > 0.1:
            break
    share = was.copy()
    share[part] = level
    return _with(shot, number, share, f"{way} {rows} rows {100 * depth:.0f} % deep at "
                 f"{100 * shot.places[number][at]:.0f} %, {100 * speed[at]:.0f} %/s", at,
                 at + rows, depth)


def bare_film(rng: np.random.Generator, shot: Ride) -> Ride:
    """Bridge or bare 5 to 8 % of one film: it stands still there and jumps at the edge."""
    number, wide = int(rng.integers(2)), rng.uniform(0.05, 0.08)
    film, place = shot.pair[number], shot.places[number]
    low = rng.uniform(0.15, 0.75)
    high = low + wide
    inside = (place > low) & (place < high)
    way = str(rng.choice(["bridge", "bare", "bare"]))
    stuck = place.copy()
    if way == "bridge":
        stuck[inside] = (low + high) / 2
    else:
        # The input's capacitor holds what it had when the wiper left the film.
        entered, last = np.flatnonzero(np.diff(np.r_[False, inside].astype(int)) == 1), place.size
        for row in entered:
            over = row + int(np.argmin(np.r_[inside[row:], False]))
            stuck[row:min(over, last)] = low if place[max(row - 1, 0)] <= low else high
    return _with(shot, number, film.ratio(stuck),
                 f"{way} from {100 * low:.0f} % for {100 * wide:.1f} %", 0, place.size - 1)


def stand_still(rng: np.random.Generator, shot: Ride, share_of_press: float) -> Ride:
    """Hold one track from somewhere in a press (or release) for that share of the way."""
    number, place = int(rng.integers(2)), shot.places[0]
    down = np.flatnonzero((place[:-1] < 0.15) & (place[1:] >= 0.15))
    rows = []
    for row in down:
        top = row + int(np.argmax(np.r_[place[row:] > 0.93, True]))
        if top - row > 0.2 * shot.rate and top < place.size:
            rows.append((int(row), int(top)))
    start, top = rows[int(rng.integers(1, len(rows)))]
    begin = start + int(np.argmax(place[start:] > rng.uniform(0.15, 0.9 - share_of_press)))
    stop = begin + int(np.argmax(place[begin:] > place[begin] + share_of_press))
    share = shot.shares[number].copy()
    share[begin:stop] = share[begin]
    return _with(shot, number, share, f"still for {100 * share_of_press:.0f} % of a press from "
                 f"{shot.time_s[begin]:.1f} s, {(stop - begin) / shot.rate:.2f} s", begin, stop)


def follow_late(rng: np.random.Generator, shot: Ride, late_s: float) -> Ride:
    """Let one track follow late, from somewhere in the sweep on or all along."""
    number, n = int(rng.integers(2)), shot.time_s.size
    begin = 0 if rng.random() < 0.5 else int(rng.uniform(0.2, 0.6) * n)
    back = round(late_s * shot.rate)
    late = np.r_[np.full(back, shot.shares[number][0]), shot.shares[number][:-back]]
    share = np.where(np.arange(n) >= begin, late, shot.shares[number])
    return _with(shot, number, share, f"follows {late_s:.1f} s late from "
                 f"{shot.time_s[begin]:.1f} s", begin, n - 1)


def read(shot: Ride) -> Recording:
    """Return what an uneven converter of its own reads of it, rounded to the nearest code."""
    rng = np.random.default_rng([93, shot.seed])
    bits, reference, divider = INPUTS[int(rng.integers(len(INPUTS)))]
    n, codes = shot.time_s.size, 1 << bits
    supply = rng.uniform(4.85, 5.1) + rng.normal(0, 4e-4, n) + rng.uniform(0, 0.003) * np.sin(
        2 * np.pi * 100.0 * shot.time_s)
    uneven = rng.uniform(-0.15, 0.15, codes + 1)

    def convert(volts: np.ndarray) -> np.ndarray:
        raw = volts / divider / reference * codes + rng.normal(0, 0.25, n)
        raw = raw + uneven[np.clip(raw, 0, codes).astype(int)]
        return np.clip(np.floor(raw + 0.5), 0, codes - 1)

    columns = []
    for name, share in zip("ab", shot.shares, strict=True):
        slow = np.cumsum(rng.normal(0, 1, n))
        noise = rng.normal(0, rng.uniform(2e-4, 1.5e-3), n) + 3e-4 * slow / np.abs(slow).max()
        columns.append(Channel(name, "track", convert(share * supply + noise), "counts",
                               float(codes), reference, divider))
    if shot.with_supply:
        columns.append(Channel("supply", "supply", convert(supply), "counts", float(codes),
                               reference, divider, 0.0, NOMINAL))
    return Recording(shot.time_s, tuple(columns), shot.marks, f"second harms, {shot.kind}",
                     rate_hz=shot.rate)

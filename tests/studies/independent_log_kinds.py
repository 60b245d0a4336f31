"""The kinds of key-on log that claims_key_on.py judges, each a small function with known truth.

power: would power have been applied with the foot off (None: too near to say, or not known);
seen: was all of the key-on time seen, in range, against the supply; sound: a log that must give
"would not" and nothing else.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from studies.independent_car import Car, draw_car, drive, key_marks, pulse
from studies.independent_pedal import Pedal, draw_board, without_rows

from analysis.model.recording import Recording
from analysis.pedal.findings import Findings


@dataclass(frozen=True)
class Bench:
    """Hold a pedal, its sweep's findings, and the start of travel issued for each track."""

    pedal: Pedal
    found: Findings
    starts: tuple[float, ...]


@dataclass(frozen=True)
class Log:
    """Hold a log and its truth.

    cycles: how many key-ons there were; moved: a track stood 10 mV off for half a second, key on.
    """

    recording: Recording
    power: bool | None
    seen: bool
    sound: bool
    cycles: int = 0
    moved: bool = False


Kind = Callable[[np.random.Generator, Bench], Log]
KINDS: dict[str, Kind] = {}
# relation and bits of the bench that a kind wants
WANTS: dict[str, tuple[str | None, int | None]] = {}


def kind(relation: str | None = None, bits: int | None = None) -> Callable[[Kind], Kind]:
    """Register a kind under its function's name."""
    def put(make: Kind) -> Kind:
        KINDS[make.__name__] = make
        WANTS[make.__name__] = (relation, bits)
        return make
    return put


def car_of(rng: np.random.Generator, bench: Bench, rate: float | None = None,
           bits: int | None = None, cycles: int = 6, **times: float) -> Car:
    """Return a quiet car round the bench's pedal, which rests as it may."""
    board = draw_board(rng, rate or float(rng.choice([100.0, 200.0, 500.0])), bits)
    car = draw_car(rng, board, cycles, **times)
    car.rest_travel = rng.normal(0, 0.5 * bench.pedal.scatter)
    return car


def margin(bench: Bench, number: int = 0) -> float:
    """Return volts from the sweep's rest to the start of travel of a track."""
    found = bench.found.tracks["ab"[number]]
    return abs(bench.starts[number] - found.rest.value)


def done(rng: np.random.Generator, bench: Bench, car: Car, seen: bool = True,
         sound: bool = False, change: Callable[[Recording], Recording] | None = None) -> Log:
    """Return the log with its truth: power where the true level passes a start of travel."""
    recording, furthest = drive(rng, bench.pedal, car)
    power: bool | None = False
    for track, top, start, name in zip(bench.pedal.tracks, furthest, bench.starts, "ab",
                                       strict=True):
        beyond = track.sign * (top - start)
        near = 6 * track.noise * 5 + 2.5 * recording.channel(name).step_volts + 0.004
        if beyond > near:
            power = True
        elif beyond > -near and power is False:
            power = None
    if change is not None:
        recording = change(recording)
    off = [np.sum((np.abs(x) > 0.01) & car.on) / car.board.rate for x in car.lift]
    return Log(recording, power, seen, sound and power is False, len(car.on_s), max(off) > 0.5)


def lift(rng: np.random.Generator, bench: Bench, car: Car, times: float, length: float,
         after: float | None = None, track: int | None = None, only: int | None = None,
         edge: float = 0.0) -> tuple[int, list[tuple[float, float]]]:
    """Lift one track to `times` its margin, so long, so late after each key-on; return what."""
    n = int(rng.integers(2)) if track is None else track
    spans = []
    for number, (on, off) in enumerate(zip(car.on_s, car.off_s, strict=True)):
        if only is not None and number != only:
            continue
        wait = rng.uniform(1.5, off - on - length - 1.0) if after is None else after
        car.lift[n] = car.lift[n] + times * margin(bench, n) * pulse(
            car.time_s, on + wait, length, edge)
        spans.append((on + wait, on + wait + length))
    return n, spans


# --- sound and quiet
def _quiet(relation: str | None, rate: float | None = None, bits: int | None = None) -> Kind:
    def make(rng: np.random.Generator, bench: Bench) -> Log:
        return done(rng, bench, car_of(rng, bench, rate, bits), sound=True)
    return make


for _name, _relation, _rate, _bits in (
        ("quiet_rising", "same", None, 12), ("quiet_falling", "falling", None, None),
        ("quiet_opposed", "opposed", None, None), ("quiet_half", "half", None, None),
        ("quiet_10bit_100", None, 100.0, 10), ("quiet_16bit_1000", None, 1000.0, 16),
        ("quiet_50hz", None, 50.0, None)):
    KINDS[_name], WANTS[_name] = _quiet(_relation, _rate, _bits), (_relation, None)


@kind()
def quiet_single_lost_rows(rng: np.random.Generator, bench: Bench) -> Log:
    """Lose a single row in a thousand."""
    marked = "gap" if rng.random() < 0.5 else None

    def lose(log: Recording) -> Recording:
        lost = rng.random(log.rows) < 0.001
        lost[1:] &= ~lost[:-1]
        lost[0] = lost[-1] = False
        return without_rows(log, lost, marked)
    return done(rng, bench, car_of(rng, bench, rng.choice([200.0, 500.0, 1000.0])), True, True,
                lose)


@kind()
def quiet_ground(rng: np.random.Generator, bench: Bench) -> Log:
    """Offset the grounds at key-on by a part of the margin."""
    car = car_of(rng, bench)
    for n in range(2):
        car.lift[n] = car.lift[n] + car.on * rng.uniform(0.1, 0.6) * margin(bench, n)
    return done(rng, bench, car, sound=True)


@kind()
def quiet_sag_logged(rng: np.random.Generator, bench: Bench) -> Log:
    """Sag by 6 %, logged."""
    car = car_of(rng, bench)
    car.supply = car.supply * (1 - 0.06 * car.on)
    return done(rng, bench, car, sound=True)


@kind()
def quiet_warming(rng: np.random.Generator, bench: Bench) -> Log:
    """Creep by a few millivolts while the key stays on."""
    car = car_of(rng, bench)
    for on in car.on_s:
        creep = np.clip(car.time_s - on, 0, None) * car.on * rng.uniform(-1e-4, 3e-4)
        car.lift[0] = car.lift[0] + creep * (car.time_s < on + 30)
    return done(rng, bench, car, sound=True)


@kind()
def quiet_spikes(rng: np.random.Generator, bench: Bench) -> Log:
    """Spike up to half the margin, some milliseconds long."""
    car = car_of(rng, bench, 1000.0)
    for _ in range(10):
        at = rng.choice(car.on_s) + rng.uniform(0, 10)
        n = int(rng.integers(2))
        car.lift[n] = car.lift[n] + rng.uniform(-0.5, 0.5) * margin(bench, n) * pulse(
            car.time_s, at, rng.uniform(0.001, 0.01))
    return done(rng, bench, car, sound=True)


@kind()
def quiet_marks(rng: np.random.Generator, bench: Bench) -> Log:
    """Mark the keys by hand within a second, no wire."""
    car = car_of(rng, bench)
    key_marks(car, rng.uniform(-0.3, 0.9), rng.uniform(-0.3, 0.9))
    return done(rng, bench, car, sound=True)


@kind()
def quiet_key_bounce(rng: np.random.Generator, bench: Bench) -> Log:
    """Bounce the key's contact for 20 to 300 ms at each turn."""
    car = car_of(rng, bench, 500.0)
    line = 12.3 * car.on.astype(float)
    for at in car.on_s + car.off_s:
        near = car.during(at, at + rng.uniform(0.02, 0.3))
        line[near] = 12.3 * (rng.random(int(near.sum())) < 0.6)
    car.key_line = line
    return done(rng, bench, car, sound=True)


@kind()
def quiet_key_dips(rng: np.random.Generator, bench: Bench) -> Log:
    """Dip the key line for 0.1 to 0.4 s in mid key-on (a starter, a bad contact)."""
    car = car_of(rng, bench)
    line = 12.3 * car.on.astype(float)
    for on in car.on_s:
        line[car.during(on + 4, on + 4 + rng.uniform(0.1, 0.4))] = rng.uniform(0, 3)
    car.key_line = line
    return done(rng, bench, car, sound=True)


@kind()
def lift_nearly(rng: np.random.Generator, bench: Bench) -> Log:
    """Lift to 0.8 of the margin, plainly seen."""
    car = car_of(rng, bench)
    lift(rng, bench, car, 0.8, rng.uniform(0.1, 3.0))
    return done(rng, bench, car, sound=True)


# --- lifts that pass, all seen
@kind()
def lift_contactor(rng: np.random.Generator, bench: Bench) -> Log:
    """Lift one track from key-on to key-off."""
    car = car_of(rng, bench)
    n = int(rng.integers(2))
    car.lift[n] = car.lift[n] + car.on * rng.uniform(1.4, 4.0) * margin(bench, n)
    return done(rng, bench, car)


@kind()
def lift_both_all_on(rng: np.random.Generator, bench: Bench) -> Log:
    """Lift both tracks by the same volts for the whole key-on."""
    car = car_of(rng, bench)
    volts = rng.uniform(1.5, 6.0) * max(margin(bench, 0), margin(bench, 1))
    car.lift = [x + car.on * volts for x in car.lift]
    return done(rng, bench, car)


@kind()
def lift_short(rng: np.random.Generator, bench: Bench) -> Log:
    """Lift one track for 3 to 20 samples."""
    car = car_of(rng, bench)
    lift(rng, bench, car, rng.uniform(1.5, 5), rng.uniform(3, 20) / car.board.rate)
    return done(rng, bench, car)


@kind()
def lift_just_passes(rng: np.random.Generator, bench: Bench) -> Log:
    """Lift to 1.25 of the margin for a second."""
    car = car_of(rng, bench)
    lift(rng, bench, car, 1.25, 1.0, edge=0.1)
    return done(rng, bench, car)


@kind()
def lift_one_in_twenty(rng: np.random.Generator, bench: Bench) -> Log:
    """Lift at one of twenty key-ons, some way short of the start or beyond it."""
    car = car_of(rng, bench, 100.0, cycles=20, off=4.0, on=6.0)
    lift(rng, bench, car, rng.choice([0.7, 2.0]), 1.0, only=int(rng.integers(20)))
    return done(rng, bench, car)


@kind()
def lift_ramp(rng: np.random.Generator, bench: Bench) -> Log:
    """Creep past the start of travel late in a key-on."""
    car = car_of(rng, bench)
    n = int(rng.integers(2))
    on, off = car.on_s[2], car.off_s[2]
    car.lift[n] = car.lift[n] + 2 * margin(bench, n) * np.clip(
        (car.time_s - on) / (off - on), 0, 1) ** 2 * car.during(on, off)
    return done(rng, bench, car)


@kind()
def lift_electrical_like_foot(rng: np.random.Generator, bench: Bench) -> Log:
    """Lift both by equal volts, within a row, at the same delay of each key-on (0.3 to 2 s)."""
    car = car_of(rng, bench)
    span = max(abs(t.span.value) for t in bench.found.tracks.values())
    volts, wait, length = rng.uniform(0.09, 0.3) * span, rng.uniform(0.3, 3), rng.uniform(0.3, 2)
    for on in car.on_s:
        car.lift = [x + volts * pulse(car.time_s, on + wait, length) for x in car.lift]
    return done(rng, bench, car)


@kind()
def lift_on_all_along(rng: np.random.Generator, bench: Bench) -> Log:
    """Log with the key on from the first row to the last, one track lifted."""
    car = car_of(rng, bench, cycles=1, off=0.001, on=40.0)
    n = int(rng.integers(2))
    car.on = np.ones_like(car.on)
    car.lift[n] = car.lift[n] + rng.uniform(1.5, 3) * margin(bench, n)
    return done(rng, bench, car)


@kind()
def lift_tone(rng: np.random.Generator, bench: Bench) -> Log:
    """Shake one track by a tone that lies close to a multiple of the sampling rate."""
    car = car_of(rng, bench)
    n = int(rng.integers(2))
    hertz = car.board.rate * rng.integers(1, 3) + rng.uniform(0.3, 1.5)
    car.lift[n] = car.lift[n] + car.on * 1.6 * margin(bench, n) * np.sin(
        2 * np.pi * hertz * np.arange(car.time_s.size) / car.board.rate)
    # Its level does not move.
    return replace(done(rng, bench, car), moved=False)

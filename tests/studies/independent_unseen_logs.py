"""Kinds of key-on log in which something was not seen; others: independent_log_kinds.py."""

from dataclasses import replace

import numpy as np
from studies.independent_car import Car, drive, key_marks, pulse
from studies.independent_log_kinds import (
    KINDS,
    WANTS,
    Bench,
    Kind,
    Log,
    car_of,
    done,
    kind,
    lift,
    margin,
)
from studies.independent_pedal import with_readings, without_rows

from analysis.model.recording import Channel, Recording


def _rows_lost(marked: str | None, blank: bool) -> Kind:
    def make(rng: np.random.Generator, bench: Bench) -> Log:
        car = car_of(rng, bench)
        wait, length = rng.uniform(0.2, 5.0), rng.uniform(0.2, 1.5)
        if rng.random() < 0.6:
            lift(rng, bench, car, rng.uniform(1.5, 4), 0.8 * length, after=wait + 0.1 * length)

        def lose(log: Recording) -> Recording:
            lost = np.zeros(log.rows, bool)
            for on in car.on_s:
                lost |= car.during(on + wait, on + wait + length)
            if not blank:
                return without_rows(log, lost, marked)
            for name in ("a", "b") if rng.random() < 0.5 else (rng.choice(["a", "b"]),):
                log = with_readings(log, str(name), np.where(
                    lost, np.nan, log.channel(str(name)).readings))
            return log
        return done(rng, bench, car, seen=False, change=lose)
    return make


for _name, _marked, _blank in (("lost_gap_mark", "gap", False), ("lost_no_mark", None, False),
                               ("lost_blank_cells", None, True)):
    KINDS[_name], WANTS[_name] = _rows_lost(_marked, _blank), (None, None)


@kind()
def lost_one_short_hole(rng: np.random.Generator, bench: Bench) -> Log:
    """Lose 0.15 to 0.5 s in one key-on of six, with a lift in it."""
    car = car_of(rng, bench)
    length, number = rng.uniform(0.15, 0.5), int(rng.integers(6))
    _, spans = lift(rng, bench, car, 2.5, 0.8 * length, only=number)
    marked = "gap" if rng.random() < 0.5 else None
    start = spans[0][0] - 0.1 * length
    return done(rng, bench, car, False, change=lambda log: without_rows(
        log, car.during(start, start + length), marked))


@kind()
def lost_key_on_itself(rng: np.random.Generator, bench: Bench) -> Log:
    """Lose the rows from before the key-on until after the contactor."""
    car = car_of(rng, bench)
    lift(rng, bench, car, 2.0, 0.6, after=0.1)

    def lose(log: Recording) -> Recording:
        lost = np.zeros(log.rows, bool)
        for on in car.on_s:
            lost |= car.during(on - 0.5, on + 1.0)
        return without_rows(log, lost, "gap")
    return done(rng, bench, car, False, change=lose)


@kind()
def lost_every_other_stretch(rng: np.random.Generator, bench: Bench) -> Log:
    """Write 0.3 s and lose 0.3 s all along, as a logger with a slow card does."""
    car = car_of(rng, bench)
    lift(rng, bench, car, 2.0, 0.2)
    lost = (car.time_s % 0.6) > 0.3
    for n in range(2):
        car.lift[n] = np.where(lost, car.lift[n], np.minimum(car.lift[n], 0.004))
    return done(rng, bench, car, False, change=lambda log: without_rows(log, lost, None))


@kind()
def lost_gap_of_unknown_length(rng: np.random.Generator, bench: Bench) -> Log:
    """Unplug the board: the clock starts again after the loss, and no mark tells how many."""
    car = car_of(rng, bench)
    number, length = int(rng.integers(6)), rng.uniform(1.0, 4.0)
    _, spans = lift(rng, bench, car, 2.0, 0.5 * length, only=number)

    def lose(log: Recording) -> Recording:
        lost = car.during(spans[0][0] - 0.2 * length, spans[0][1] + 0.2 * length)
        return without_rows(log, lost, None)
    return done(rng, bench, car, False, change=lose)


def clipped_supply_falling(rng: np.random.Generator, bench: Bench) -> Log:
    """Do the same with falling tracks, where a ratio too high hides a lift."""
    return clipped_supply(rng, bench)


KINDS["clipped_supply_falling"] = clipped_supply_falling
WANTS["clipped_supply_falling"] = ("falling", None)


@kind()
def clipped_supply(rng: np.random.Generator, bench: Bench) -> Log:
    """Read a 5.00 V car with a board that stands at 4.70 V; a lift hides in the wrong ratio."""
    car = car_of(rng, bench, bits=10)
    car.board = replace(car.board, reference=rng.uniform(4.65, 4.8), scale=1.0)
    car.supply = np.full(car.time_s.size, rng.uniform(4.95, 5.05)) * (1 - 0.002 * car.on)
    if rng.random() < 0.7:
        lift(rng, bench, car, rng.uniform(1.2, 3), 1.0)
    return done(rng, bench, car, False)


@kind("opposed")
def clipped_track(rng: np.random.Generator, bench: Bench) -> Log:
    """Clip the falling track at the top of the converter, as its rest lies above it."""
    car = car_of(rng, bench, bits=12)
    car.board = replace(car.board, reference=3.3, scale=1.0 / 0.8 * rng.uniform(0.85, 0.95))
    car.supply = np.full(car.time_s.size, 5.0)
    car.wires = car.wires - {"supply"}
    lift(rng, bench, car, 0.5, 1.0, track=1)
    return done(rng, bench, car, False)


@kind()
def sag_hides_lift(rng: np.random.Generator, bench: Bench) -> Log:
    """Sag by as much as hides a lift of the ratio; the supply is not logged."""
    car = car_of(rng, bench)
    car.wires = car.wires - {"supply"}
    car.supply = car.board.supply_volts * np.ones(car.time_s.size)
    length, sag = rng.uniform(0.5, 4), rng.uniform(0.04, 0.12)
    _, spans = lift(rng, bench, car, 1.5, length)
    for a, b in spans:
        car.supply = car.supply * (1 - sag * pulse(car.time_s, a, b - a))
    return done(rng, bench, car, False)


@kind()
def marks_late(rng: np.random.Generator, bench: Bench) -> Log:
    """Mark the keys 2 to 4 s late; the contactor lifts a track before the mark."""
    car = car_of(rng, bench)
    late = rng.uniform(2.0, 4.0)
    lift(rng, bench, car, 2.5, 0.6 * late, after=0.2)
    key_marks(car, late, late)
    return done(rng, bench, car, False)


@kind()
def marks_early(rng: np.random.Generator, bench: Bench) -> Log:
    """Mark the key-offs 2 to 3 s early; a track is lifted before the real one."""
    car = car_of(rng, bench)
    early = rng.uniform(2.0, 3.0)
    for on, off in zip(car.on_s, car.off_s, strict=True):
        lift(rng, bench, car, 2.5, 0.5 * early, after=off - on - 0.7 * early, track=0,
             only=car.on_s.index(on))
    key_marks(car, 0.0, -early)
    return done(rng, bench, car, False)


@kind()
def key_wire_low(rng: np.random.Generator, bench: Bench) -> Log:
    """Never move the key wire (it hangs at 0 V); the car lifts a track at the true key-ons."""
    car = car_of(rng, bench)
    car.key_line = np.zeros(car.time_s.size)
    lift(rng, bench, car, 2.0, rng.uniform(0.3, 6), after=rng.uniform(0, 2))
    return done(rng, bench, car, False)


@kind()
def key_wire_high(rng: np.random.Generator, bench: Bench) -> Log:
    """Hold the key wire at 12 V for ever; the car lifts a track at the true key-ons."""
    car = car_of(rng, bench)
    car.key_line = np.full(car.time_s.size, 12.3)
    lift(rng, bench, car, 2.0, rng.uniform(0.3, 6), after=rng.uniform(0, 2))
    return done(rng, bench, car, False)


def _lead(broken: bool) -> Kind:
    def make(rng: np.random.Generator, bench: Bench) -> Log:
        car = car_of(rng, bench)
        number, length = int(rng.integers(6)), rng.uniform(0.5, 5)
        name = str(rng.choice(["a", "b"]))
        at = car.on_s[number] + rng.uniform(0.5, 5)

        def cut(log: Recording) -> Recording:
            channel = log.channel(name)
            full = channel.full_scale or 1.0
            at_supply = log.channel("supply").readings - rng.integers(0, 3, log.rows)
            level = np.floor(np.abs(rng.normal(0, 1, log.rows))) if broken else at_supply
            gone = car.during(at, at + length)
            return with_readings(log, name, np.where(gone, np.clip(level, 0, full - 1),
                                                     channel.readings))
        return done(rng, bench, car, False, change=cut)
    return make


for _name, _broken in (("lead_broken", True), ("lead_shorted", False)):
    KINDS[_name], WANTS[_name] = _lead(_broken), (None, None)


@kind()
def foot_unstated(rng: np.random.Generator, bench: Bench) -> Log:
    """Press the pedal in some key-ons, told by nothing."""
    car = car_of(rng, bench)
    _feet(rng, car)
    return done(rng, bench, car, False)


def _feet(rng: np.random.Generator, car: Car) -> list[tuple[float, float]]:
    spans = []
    for on in car.on_s[::2]:
        at, length = on + rng.uniform(2, 4), rng.uniform(1.0, 3.0)
        car.foot = np.maximum(car.foot, rng.uniform(0.15, 0.9) * pulse(
            car.time_s, at, length, rng.uniform(0.2, 0.4)))
        spans.append((at, at + length))
    return spans


@kind()
def quiet_foot_marked(rng: np.random.Generator, bench: Bench) -> Log:
    """Press the pedal with a mark "foot" at each press: stated, so the rest was seen."""
    car = car_of(rng, bench)
    car.marks += [(a + rng.uniform(-0.3, 0.3), "foot") for a, _ in _feet(rng, car)]
    return done(rng, bench, car, sound=True)


@kind()
def quiet_foot_by_switch(rng: np.random.Generator, bench: Bench) -> Log:
    """Press the pedal with a pedal switch logged."""
    car = car_of(rng, bench)
    spans = _feet(rng, car)
    line = np.zeros(car.time_s.size)
    for a, b in spans:
        line[car.during(a + 0.05, b - 0.05)] = 12.0
    return done(rng, bench, car, sound=True, change=lambda log: replace(log, channels=(
        *log.channels, Channel("switch", "brake", line, "V"))))


@kind()
def lift_beside_marked_foot(rng: np.random.Generator, bench: Bench) -> Log:
    """Press with marks, and lift a track by the car in another key-on."""
    car = car_of(rng, bench)
    car.marks += [(a, "foot") for a, _ in _feet(rng, car)]
    lift(rng, bench, car, 2.0, 1.0, only=1)
    return done(rng, bench, car)


@kind()
def foot_all_along(rng: np.random.Generator, bench: Bench) -> Log:
    """Rest a foot on the pedal from the first row to the last, 4 to 15 % down."""
    car = car_of(rng, bench)
    car.foot = np.full(car.time_s.size, rng.uniform(0.04, 0.15)) * (
        1 + 0.03 * np.sin(2 * np.pi * 0.4 * car.time_s))
    log = done(rng, bench, replace(car, foot=np.zeros(car.time_s.size)), False)
    recording, _ = drive(rng, bench.pedal, car)
    return replace(log, recording=recording, power=None)


@kind()
def rest_not_the_sweeps(rng: np.random.Generator, bench: Bench) -> Log:
    """Rest 1.5 to 4 % of travel further towards pressed than in the sweep, key off too."""
    car = car_of(rng, bench)
    car.rest_travel = rng.uniform(0.015, 0.04)
    return done(rng, bench, car, False)


@kind()
def slow_board(rng: np.random.Generator, bench: Bench) -> Log:
    """Read 3 to 6 times a second; a lift of 0.1 s falls between the rows of each key-on."""
    car = car_of(rng, bench, float(rng.uniform(3, 6)), cycles=10)
    return done(rng, bench, car, False)


@kind()
def supply_slower(rng: np.random.Generator, bench: Bench) -> Log:
    """Read the supply once a second only; a sag of 0.4 s hides a lift in between."""
    car = car_of(rng, bench)
    rate = car.board.rate
    for on in car.on_s:
        at = np.ceil(on + rng.uniform(1, 6)) + 0.3
        n = int(rng.integers(2))
        block = pulse(car.time_s, at, 0.4)
        car.lift[n] = car.lift[n] + 1.5 * margin(bench, n) * block
        car.supply = car.supply * (1 - 0.15 * block)

    def thin(log: Recording) -> Recording:
        kept = np.arange(log.rows) % round(rate) == 0
        return with_readings(log, "supply", np.where(kept, log.channel("supply").readings, np.nan))
    return done(rng, bench, car, False, change=thin)

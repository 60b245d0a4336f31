"""More kinds of key-on log that hide something: odd holes, clipping, leads, marks, feet, clocks."""

from dataclasses import replace

import numpy as np
from studies.independent_car import Car, key_marks, pulse
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


def _any(car: Car, spans: list[tuple[float, float]], wider: float = 0.02) -> np.ndarray:
    return np.logical_or.reduce([car.during(a - wider, b + wider) for a, b in spans])


@kind()
def hole_150ms_blank_both(rng: np.random.Generator, bench: Bench) -> Log:
    """Leave both tracks' cells blank for 0.18 s, a lift inside."""
    car = car_of(rng, bench, 200.0)
    _, spans = lift(rng, bench, car, 2.5, 0.14)
    lost = _any(car, spans)

    def blank(log: Recording) -> Recording:
        for name in "ab":
            log = with_readings(log, name, np.where(lost, np.nan, log.channel(name).readings))
        return log
    return done(rng, bench, car, False, change=blank)


@kind()
def supply_blank_1s(rng: np.random.Generator, bench: Bench) -> Log:
    """Leave the supply's cells blank while it sags and a track is lifted."""
    car = car_of(rng, bench)
    _, spans = lift(rng, bench, car, 2.5, 1.0)
    for a, b in spans:
        car.supply = car.supply * (1 - 0.1 * pulse(car.time_s, a, b - a))
    return done(rng, bench, car, False, change=lambda log: with_readings(
        log, "supply", np.where(_any(car, spans), np.nan, log.channel("supply").readings)))


@kind()
def most_rows_lost_for_2s(rng: np.random.Generator, bench: Bench) -> Log:
    """Lose 18 of 20 rows for two seconds of each key-on: no one hole is long, most is unseen."""
    car = car_of(rng, bench, 100.0)
    lost = np.zeros(car.time_s.size, bool)
    for on in car.on_s:
        rows = np.flatnonzero(car.during(on + 2, on + 4))
        lost[rows] = np.arange(rows.size) % 20 > 1
    marked = "gap" if rng.random() < 0.5 else None
    return done(rng, bench, car, False, change=lambda log: without_rows(log, lost, marked))


@kind()
def frozen_logger(rng: np.random.Generator, bench: Bench) -> Log:
    """Repeat the last row of all columns for 1.2 s, as a logger with a stuck buffer does."""
    car = car_of(rng, bench)
    _, spans = lift(rng, bench, car, 2.5, 1.0)

    def freeze(log: Recording) -> Recording:
        for channel in log.channels:
            readings = channel.readings.copy()
            for a, b in spans:
                rows = np.flatnonzero(car.during(a - 0.1, b + 0.1))
                readings[rows] = readings[rows[0]]
            log = with_readings(log, channel.column, readings)
        return log
    return done(rng, bench, car, False, change=freeze)


@kind("same")
def clipped_at_zero(rng: np.random.Generator, bench: Bench) -> Log:
    """Rest at the first code of the converter through an offset of the input: a lift is hidden."""
    car = car_of(rng, bench, bits=12)
    lift(rng, bench, car, 1.5, 1.0, track=0)

    def shift(log: Recording) -> Recording:
        channel = log.channel("a")
        by = np.median(channel.readings) + rng.uniform(0.02, 0.1) / channel.step_volts
        return with_readings(log, "a", np.clip(channel.readings - np.round(by), 0, None))
    return done(rng, bench, car, False, change=shift)


@kind("falling")
def clipped_supply_key_on_only(rng: np.random.Generator, bench: Bench) -> Log:
    """Feed 5.15 to 5.4 V with the key on: the supply stands at full scale then."""
    car = car_of(rng, bench, bits=10)
    car.board = replace(car.board, reference=5.0, scale=1.0)
    car.supply = np.where(car.on, rng.uniform(5.15, 5.4), 4.95)
    lift(rng, bench, car, 1.4, 1.0)
    return done(rng, bench, car, False)


@kind()
def marks_late_5s(rng: np.random.Generator, bench: Bench) -> Log:
    """Mark the key-ons 5 s late, with a lift half a second after the true one."""
    car = car_of(rng, bench, off=9.0)
    lift(rng, bench, car, 2.0, 1.0, after=0.5)
    key_marks(car, 5.0, 2.0)
    return done(rng, bench, car, False)


@kind()
def marks_at_random(rng: np.random.Generator, bench: Bench) -> Log:
    """Mark each key-on 1 to 3 s late; the supply's sag shows the true ones."""
    car = car_of(rng, bench, off=9.0)
    lift(rng, bench, car, 2.0, 0.5, after=0.1)
    car.supply = car.supply * (1 - 0.02 * car.on)
    car.marks += [(s + rng.uniform(1, 3), "key on") for s in car.on_s]
    car.marks += [(s + rng.uniform(-1, 2), "key off") for s in car.off_s]
    car.wires = car.wires - {"key"}
    return done(rng, bench, car, False)


@kind()
def supply_by_key(rng: np.random.Generator, bench: Bench) -> Log:
    """Let the key switch the pedal's feed, without a key wire; nothing is lifted."""
    car = car_of(rng, bench)
    car.wires = car.wires - {"key"}
    car.supply = np.where(car.on, car.supply, 0.002)
    return done(rng, bench, car, sound=True)


@kind("same")
def electrical_soft_edges(rng: np.random.Generator, bench: Bench) -> Log:
    """Lift both by equal volts for 0.3 to 2 s with edges of 50 ms, each time at another delay."""
    car = car_of(rng, bench)
    volts = rng.uniform(0.1, 0.3) * bench.found.tracks["a"].span.value
    for on in car.on_s:
        block = pulse(car.time_s, on + rng.uniform(0.5, 4), rng.uniform(0.3, 2), 0.05)
        car.lift = [x + volts * block for x in car.lift]
    return done(rng, bench, car, False)


def _lead(to: str, shortest: float, longest: float) -> Kind:
    def make(rng: np.random.Generator, bench: Bench) -> Log:
        car = car_of(rng, bench)
        name, gone = str(rng.choice(["a", "b"])), np.zeros(car.time_s.size, bool)
        for on in car.on_s[::2]:
            at = on + rng.uniform(1, 4)
            gone |= car.during(at, at + rng.uniform(shortest, longest))

        def cut(log: Recording) -> Recording:
            channel = log.channel(name)
            full = channel.full_scale or 1.0
            usual = float(np.median(channel.readings))
            level = {"zero": np.abs(rng.normal(0, 1, log.rows)),
                     "float": rng.uniform(0.3, 0.7) * full / 1.3 + rng.normal(0, 20, log.rows),
                     "run down": usual * np.exp(-(car.time_s % 3.0))}[to]
            return with_readings(log, name, np.where(gone, np.clip(np.floor(level), 0, full - 1),
                                                     channel.readings))
        return done(rng, bench, car, False, change=cut)
    return make


for _name, _to, _short, _long in (("lead_zero_200ms", "zero", 0.2, 0.25),
                                  ("lead_floats", "float", 1.0, 3.0),
                                  ("lead_runs_down", "run down", 1.0, 3.0)):
    KINDS[_name], WANTS[_name] = _lead(_to, _short, _long), (None, None)


@kind()
def slow_board_1_to_9_hz(rng: np.random.Generator, bench: Bench) -> Log:
    """Read 1 to 9 times a second."""
    return done(rng, bench, car_of(rng, bench, float(rng.integers(1, 10)), cycles=8), False)


@kind()
def one_track_logged(rng: np.random.Generator, bench: Bench) -> Log:
    """Log track a alone of the pair that was swept; the other is lifted."""
    car = car_of(rng, bench)
    lift(rng, bench, car, 2.0, 1.0, track=1)
    return done(rng, bench, car, False, change=lambda log: replace(log, channels=tuple(
        c for c in log.channels if c.column != "b")))


@kind()
def rest_lower_than_swept(rng: np.random.Generator, bench: Bench) -> Log:
    """Rest 2 to 5 % of travel further from pressed than in the sweep: another pedal, or moved."""
    car = car_of(rng, bench)
    car.rest_travel = -rng.uniform(0.02, 0.05)
    return done(rng, bench, car)


@kind()
def foot_whole_key_on(rng: np.random.Generator, bench: Bench) -> Log:
    """Hold the foot down through every other key-on, from before it until after it."""
    car = car_of(rng, bench)
    for on, off in list(zip(car.on_s, car.off_s, strict=True))[::2]:
        car.foot = np.maximum(car.foot, rng.uniform(0.15, 0.5) * pulse(
            car.time_s, on - 0.5, off - on + 1.0, 0.3))
    return done(rng, bench, car, False)


@kind()
def supply_of_another_rail(rng: np.random.Generator, bench: Bench) -> Log:
    """Log a steady 5 V that is not the tracks' feed, which sags and hides a lift."""
    car = car_of(rng, bench)
    n, spans = lift(rng, bench, car, 1.0, 2.0)
    for a, b in spans:
        block = pulse(car.time_s, a, b - a)
        car.lift[n] = car.lift[n] + 0.5 * margin(bench, n) * block
        car.supply = car.supply * (1 - 0.08 * block)
    # Nothing in the log tells it, so only the truth of the log itself is asked for.
    return replace(done(rng, bench, car), power=None)


# --- sound all the same
@kind()
def quiet_foot_key_off(rng: np.random.Generator, bench: Bench) -> Log:
    """Press the pedal between key-ons, with the key off."""
    car = car_of(rng, bench, off=8.0)
    for off in car.off_s[:-1]:
        car.foot = np.maximum(car.foot, rng.uniform(0.2, 1.0) * pulse(
            car.time_s, off + 1.5, rng.uniform(1.0, 2.0), 0.3))
    return done(rng, bench, car, sound=True)


@kind()
def quiet_20_key_ons(rng: np.random.Generator, bench: Bench) -> Log:
    """Turn the key twenty times."""
    return done(rng, bench, car_of(rng, bench, 100.0, cycles=20, off=4.0, on=6.0), sound=True)


@kind()
def quiet_contactor_spike(rng: np.random.Generator, bench: Bench) -> Log:
    """Spike both tracks alike for 2 to 10 ms when the contactor closes, half way to the start."""
    car = car_of(rng, bench, 1000.0)
    volts, wait = 0.5 * min(margin(bench, 0), margin(bench, 1)), rng.uniform(0.05, 1.0)
    for on in car.on_s:
        block = pulse(car.time_s, on + wait, rng.uniform(0.002, 0.01))
        car.lift = [x + volts * block for x in car.lift]
    return done(rng, bench, car, sound=True)


@kind()
def quiet_shaky_clock(rng: np.random.Generator, bench: Bench) -> Log:
    """Stamp the rows up to 0.4 of a row early or late, and round to a millisecond."""
    car = car_of(rng, bench, 200.0)
    times = car.time_s + rng.uniform(-0.4, 0.4, car.time_s.size) / 200.0
    car.time_s = np.maximum.accumulate(np.maximum(np.round(times, 3), 0.0))
    return done(rng, bench, car, sound=True)


@kind()
def supply_every_other_row(rng: np.random.Generator, bench: Bench) -> Log:
    """Read the supply in every other row, the tracks in all."""
    car = car_of(rng, bench, 500.0)
    return done(rng, bench, car, change=lambda log: with_readings(log, "supply", np.where(
        np.arange(log.rows) % 2 == 0, log.channel("supply").readings, np.nan)))


# --- found last, and not yet mended
@kind("same")
def late_lead_floats_away(rng: np.random.Generator, bench: Bench) -> Log:
    """Let a broken lead float to half its rest, further from pressed, in every other key-on."""
    car = car_of(rng, bench)
    gone = _any(car, [(on + 2, on + 4) for on in car.on_s[::2]], 0.0)
    return done(rng, bench, car, False, change=lambda log: with_readings(log, "a", np.where(
        gone, np.floor(0.45 * log.channel("a").readings), log.channel("a").readings)))


@kind("same")
def late_electrical_under_brake(rng: np.random.Generator, bench: Bench) -> Log:
    """Lift both by equal volts within a row, at one delay of each key-on, the brake pressed."""
    car = car_of(rng, bench)
    volts = 0.2 * bench.found.tracks["a"].span.value
    wait, lasts = rng.uniform(1, 3), rng.uniform(0.5, 2)
    line = np.zeros(car.time_s.size)
    for on in car.on_s:
        car.lift = [x + volts * pulse(car.time_s, on + wait, lasts) for x in car.lift]
        line[car.during(on + wait - 0.5, on + wait + lasts + 0.5)] = 12.0
    return done(rng, bench, car, change=lambda log: replace(log, channels=(
        *log.channels, Channel("brake", "brake", line, "V"))))

"""Cars with known truth: what key-on does to a pedal's rest readings, sample by sample.

Everything is made here from a seed; the analysis never imports this module. The car's own
noise is made in the frequency domain, on purpose unlike the model that the analysis fits.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.model.recording import Array, Channel, Mark, Recording
from analysis.simulation.converter import Converter

NOMINAL_VOLTS = 5.0

Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class CarTrack:
    """Hold one track: rest and full volts at nominal supply, and what key-on does to it alone.

    own_shift_volts: mean lift by the field or its wiring (signed); own_scatter_volts: its
    standard deviation from key-on to key-on.
    """

    column: str
    rest_volts: float
    full_volts: float
    own_shift_volts: float = 0.0
    own_scatter_volts: float = 0.0

    @property
    def sign(self) -> float:
        """Return +1 for a rising and -1 for a falling track."""
        return 1.0 if self.full_volts > self.rest_volts else -1.0


@dataclass(frozen=True)
class CarNoise:
    """Hold noise in volts rms: always there, and added while the key is on.

    slow_*: noise remembered for slow_s seconds; flicker_*: 1/f over the whole log.
    bursts: per minute while on, each burst_s long on average, of burst_volts rms.
    tones: (Hz, peak volts) while on; a frequency above half the rate folds down by itself.
    """

    white: float = 0.001
    white_on: float = 0.0
    slow_on: float = 0.0
    slow_s: float = 0.05
    flicker: float = 0.0
    burst_per_minute: float = 0.0
    burst_volts: float = 0.0
    burst_s: float = 0.05
    tones: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class Car:
    """Hold a car. Seconds, volts; counts per cycle; see CarTrack and CarNoise.

    ground_volts: shift of both tracks' volts when the contactor closes; ground_scatter_volts
    from key-on to key-on. settle_s: time constant; overshoot: 1 = twice the shift at first,
    -1 = comes up from zero. sag: relative fall of the supply at key-on; sag_wander: how much of
    it comes and goes every 4 s; ratiometric: whether the tracks are fed from that supply.
    drift_volts_per_minute: of both tracks while on.
    presses: (cycle from 0, seconds after key-on, seconds long, percent of travel).
    """

    tracks: tuple[CarTrack, ...] = (CarTrack("a", 0.70, 4.20), CarTrack("b", 0.80, 4.10))
    cycles: int = 3
    off_s: float = 8.0
    on_s: float = 20.0
    rate_hz: float = 1000.0
    ground_volts: float = 0.0
    ground_scatter_volts: float = 0.0
    settle_s: float = 0.15
    overshoot: float = 0.5
    sag: float = 0.0
    sag_wander: float = 0.0
    ratiometric: bool = True
    drift_volts_per_minute: float = 0.0
    noise: CarNoise = field(default_factory=CarNoise)
    presses: tuple[tuple[int, float, float, float], ...] = ()
    brakes: tuple[tuple[int, float, float], ...] = ()
    warming_kelvin: float = 0.0
    volts_per_kelvin: float = 0.0
    converter: Converter = field(default_factory=lambda: Converter(12, 5.0, 1.0, 2.0, 0.3))
    with_supply: bool = True
    with_key: bool = True
    marked: bool = False
    title: str = "simulated car"
    seed: int = 1


@dataclass(frozen=True)
class CarTruth:
    """Hold what is true of a simulated log.

    shifts: by track, true step of each key-on, volts at nominal supply, shape (cycles,).
    Without a supply channel volts are as measured, as in `Recording.stated_volts`.
    mean_shift: by track, the mean of the car, of which the cycles are draws.
    peaks: by track, furthest true reading towards pressed while on and without a foot, signed
    volts at nominal supply, before the board's converter; shape (cycles,).
    """

    key_on_s: Array
    key_off_s: Array
    shifts: Mapping[str, Array]
    mean_shift: Mapping[str, float]
    peaks: Mapping[str, Array]
    press_s: tuple[tuple[float, float], ...]


def drive(car: Car) -> tuple[Recording, CarTruth]:
    """Return the log of a car, counts as a board would give them, and the truth about it."""
    rng = np.random.default_rng(car.seed)
    time, on, since, cycle = _key(car)
    n = time.size
    foot, press_s = _foot(car, time)
    ground = rng.normal(car.ground_volts, car.ground_scatter_volts, car.cycles)
    own = {t.column: rng.normal(t.own_shift_volts, t.own_scatter_volts, car.cycles)
           for t in car.tracks}
    shape = on * (1.0 + car.overshoot * np.exp(-since / car.settle_s))
    supply = NOMINAL_VOLTS * (1.0 - car.sag * on * (1.0 - np.exp(-since / (2 * car.settle_s))))
    supply -= NOMINAL_VOLTS * car.sag * car.sag_wander * on * np.sin(0.5 * np.pi * since)
    warmth = car.warming_kelvin * time / max(float(time[-1]), 1.0)
    channels = []
    peaks, shifts, means = {}, {}, {}
    awake = foot == 0.0
    for track in car.tracks:
        feed = supply if car.ratiometric else NOMINAL_VOLTS
        travel = track.rest_volts + foot / 100.0 * (track.full_volts - track.rest_volts)
        lift = shape * (ground + own[track.column])[cycle]
        lift += on * car.drift_volts_per_minute * since / 60.0
        lift += car.volts_per_kelvin * warmth
        true = travel / NOMINAL_VOLTS * feed + lift + _noise(car, time, on, rng)
        stated = true * NOMINAL_VOLTS / supply if car.with_supply else true
        directed = np.where(awake & on, track.sign * stated, -np.inf)
        peaks[track.column] = track.sign * np.array(
            [directed[cycle == c].max() for c in range(car.cycles)])
        shifts[track.column], means[track.column] = _steps(
            car, track, ground + own[track.column])
        counts = car.converter.read(true, car.converter.track_scale, rng)
        channels.append(_channel(track.column, "track", counts, car.converter.track_scale, car))
    if car.with_supply:
        scale = car.converter.supply_scale
        counts = car.converter.read(supply + rng.normal(0, 2e-4, n), scale, rng)
        channels.append(_channel("supply", "supply", counts, scale, car, NOMINAL_VOLTS))
    if car.with_key:
        # A 12 V key line behind a 1:5 divider, with a bounce of 4 ms when it closes.
        volts = 12.4 * (on & ~((since > 0.002) & (since < 0.006)))
        counts = car.converter.read(volts + rng.normal(0, 0.02, n), 5.0, rng)
        channels.append(_channel("key", "key", counts, 5.0, car))
    if car.brakes:
        channels.append(_channel("brake", "brake", car.converter.read(
            _brake(car, time), 5.0, rng), 5.0, car))
    if car.warming_kelvin:
        # 10 mV per kelvin, as a plain silicon sensor gives it; scaled to degrees Celsius.
        counts = car.converter.read(0.2 + 0.01 * warmth, 1.0, rng)
        channels.append(_channel("temperature", "temperature", counts, 100.0, car))
    starts = [float(time[np.argmax(on & (cycle == c))]) for c in range(car.cycles)]
    stops = [float(time[on & (cycle == c)][-1]) for c in range(car.cycles)]
    marks = [Mark(int(np.searchsorted(time, t)), text) for group, text in
             ((starts, "key on"), (stops, "key off")) for t in group] if car.marked else []
    recording = Recording(
        time, tuple(channels), tuple(sorted(marks, key=lambda m: m.row)), car.title, "key-on",
        "2026-01-01T10:00:00+00:00", car.rate_hz, True, f"simulated {car.converter.bits}-bit board")
    truth = CarTruth(np.array(starts), np.array(stops), shifts, means, peaks, press_s)
    return recording, truth


def without(car: Car, **changes: Any) -> Car:
    """Return the car with some of its fields changed."""
    return replace(car, **changes)


def coloured(rng: np.random.Generator, shape: Array) -> Array:
    """Return noise of unit rms whose amplitude spectrum is `shape` (rfft bins), 2 (m - 1) long."""
    m = shape.size
    spectrum = (rng.standard_normal(m) + 1j * rng.standard_normal(m)) * shape
    spectrum[0] = 0.0
    noise: Array = np.fft.irfft(spectrum)
    # Expected, not realised, power: a log's own rms is left to chance.
    power = 2.0 * np.sum(shape[1:-1] ** 2) * 2.0 + 2.0 * shape[-1] ** 2
    result: Array = noise * (noise.size / np.sqrt(power))
    return result


def _key(car: Car) -> tuple[Array, Bools, Array, Ints]:
    off, on = round(car.off_s * car.rate_hz), round(car.on_s * car.rate_hz)
    n = car.cycles * (off + on)
    row = np.arange(n, dtype=np.int64)
    time = row / car.rate_hz
    cycle, within = row // (off + on), row % (off + on)
    is_on = within >= off
    since = np.where(is_on, (within - off) / car.rate_hz, 0.0)
    return time, is_on, since, cycle


def _foot(car: Car, time: Array) -> tuple[Array, tuple[tuple[float, float], ...]]:
    travel = np.zeros(time.size)
    found = []
    for cycle, after_s, length_s, percent in car.presses:
        start = cycle * (car.off_s + car.on_s) + car.off_s + after_s
        ramp = min(0.3, 0.4 * length_s)
        inside = (time >= start) & (time <= start + length_s)
        edge = np.minimum(time[inside] - start, start + length_s - time[inside]) / ramp
        travel[inside] = percent * 0.5 * (1.0 - np.cos(np.pi * np.clip(edge, 0.0, 1.0)))
        found.append((start, start + length_s))
    return travel, tuple(found)


def _brake(car: Car, time: Array) -> Array:
    volts = np.zeros(time.size)
    for cycle, after_s, length_s in car.brakes:
        start = cycle * (car.off_s + car.on_s) + car.off_s + after_s
        volts[(time >= start) & (time <= start + length_s)] = 12.0
    return volts


def _steps(car: Car, track: CarTrack, lifts: Array) -> tuple[Array, float]:
    """Return the true step of each cycle in volts at nominal supply, and their expectation."""
    settled = NOMINAL_VOLTS * (1.0 - car.sag)
    carried = track.rest_volts * (settled / NOMINAL_VOLTS if car.ratiometric else 1.0)
    base = (carried * NOMINAL_VOLTS / settled if car.with_supply else carried) - track.rest_volts
    gain = NOMINAL_VOLTS / settled if car.with_supply else 1.0
    return base + gain * lifts, base + gain * (car.ground_volts + track.own_shift_volts)


def _noise(car: Car, time: Array, on: Bools, rng: np.random.Generator) -> Array:
    noise, n = car.noise, time.size
    total = rng.normal(0.0, noise.white, n) if noise.white else np.zeros(n)
    half = 1 << int(np.ceil(np.log2(max(n, 16))))
    hertz = np.fft.rfftfreq(2 * half, 1.0 / car.rate_hz)
    if noise.white_on:
        total += on * rng.normal(0.0, noise.white_on, n)
    if noise.slow_on:
        shape = 1.0 / np.sqrt(1.0 + (2.0 * np.pi * hertz * noise.slow_s) ** 2)
        total += on * noise.slow_on * coloured(rng, shape)[:n]
    if noise.flicker:
        shape = 1.0 / np.sqrt(np.maximum(hertz, hertz[1]))
        total += noise.flicker * coloured(rng, shape)[:n]
    if noise.burst_per_minute:
        total += on * _bursts(noise, n, car.rate_hz, rng)
    for tone_hz, volts in noise.tones:
        total += on * volts * np.sin(2.0 * np.pi * tone_hz * time + rng.uniform(0.0, 2 * np.pi))
    return total


def _bursts(noise: CarNoise, n: int, rate_hz: float, rng: np.random.Generator) -> Array:
    envelope = np.zeros(n)
    count = rng.poisson(noise.burst_per_minute * n / rate_hz / 60.0)
    for start in rng.integers(0, n, count):
        length = max(2, round(float(rng.exponential(noise.burst_s)) * rate_hz))
        envelope[start:start + length] = 1.0
    result: Array = envelope * rng.normal(0.0, noise.burst_volts, n)
    return result


def _channel(column: str, role: str, counts: Array, scale: float, car: Car,
             nominal: float | None = None) -> Channel:
    board = car.converter
    return Channel(column, role, counts, "counts", board.full_scale, board.reference_volts,
                   scale, 0.0, nominal)

"""A simulated car for the proofs: wires opened, leads shaken, warmth, loads and a first drive.

Two rising tracks behind one plug, a controller that stops power after `stops_s` and a current
sensor with its zero at half its supply. Everything is made here from a seed; the analysis never
imports this module.
"""

from dataclasses import dataclass, replace

import numpy as np

from analysis.model.recording import Array, Channel, Mark, Recording

_NOMINAL = 5.0
_NOISE = 0.0012
_ZERO, _VOLTS_AT_FULL = 2.5, 1.4
# Key-ons of a drive, standing: so many, each off for half of so long.
_KEY_ONS, _KEY_ON_S, _RETURN_VOLTS = 5, 8.0, 0.001


@dataclass(frozen=True)
class ProofCar:
    """Hold a car. rest, full: of track a and b, volts. loose: a lead, "" for none.

    stops_s: from a fault to power off; inf: never.
    sag_volts: of the supply with any load on. volts_per_kelvin: of both tracks' rest.
    """

    stops_s: float = 0.045
    rest: tuple[float, float] = (0.75, 0.76)
    full: tuple[float, float] = (4.23, 4.235)
    loose: str = ""
    sag_volts: float = 0.06
    volts_per_kelvin: float = 0.00008
    rate_hz: float = 500.0
    seed: int = 1


def proof_log(car: ProofCar, task: str, steps: tuple[tuple[str, float | None], ...]) -> Recording:
    """Return the log of a proof: its steps as (mark, seconds; None: as long as it takes).

    task: "wires", "shake", "warm", "loads" or "drive"; raise KeyError on another.
    """
    if task == "warm":
        # Minutes of it; nothing is quick.
        car = replace(car, rate_hz=min(car.rate_hz, 20.0))
    usual = {"wires": 13.0, "shake": 6.0, "warm": 240.0, "loads": 8.0, "drive": 40.0}[task]
    made = [(mark, seconds or (4.0 if mark == "done" else _KEY_ON_S * _KEY_ONS
                               if mark.startswith("key-ons") else usual))
            for mark, seconds in steps]
    rng = np.random.default_rng(car.seed)
    pieces, marks, rows = [], [], 0
    for mark, seconds in made:
        piece = _piece(car, task, mark, seconds, rng)
        marks.append(Mark(rows, mark))
        rows += piece.shape[1]
        pieces.append(piece)
    volts = np.concatenate(pieces, axis=1)
    if task == "warm":
        volts[:2] += car.volts_per_kelvin * (volts[5] - 20.0)
    time = np.arange(rows) / car.rate_hz
    channels = []
    for name, role, values, full in (
            ("a", "track", volts[0], 5.6), ("b", "track", volts[1], 5.6),
            ("supply", "supply", volts[2], 5.6), ("key", "key", volts[3], 16.0),
            ("current", "current", volts[4], 5.6), ("box", "temperature", volts[5] / 100, 5.6)):
        if (task == "warm") != (name == "box") and name in ("box",):
            continue
        codes = np.clip(np.floor(values / full * 4096 + rng.normal(0, 0.2, rows)), 0, 4095)
        channels.append(Channel(name, role, codes, "counts", 4096.0, 5.6,
                                {"key": 16.0 / 5.6, "box": 100.0}.get(name, 1.0), 0.0,
                                _NOMINAL if role == "supply" else None))
    return Recording(time, tuple(channels), tuple(marks), f"simulated car: {task}", "proof",
                     "2026-01-01T10:00:00+00:00", car.rate_hz, True, "simulated 12-bit board")


def _piece(car: ProofCar, task: str, mark: str, seconds: float,
           rng: np.random.Generator) -> Array:
    """Return a, b, supply, key, current and temperature of one step, shape (6, n)."""
    n = round(seconds * car.rate_hz)
    t = np.arange(n) / car.rate_hz
    key = np.ones(n)
    if task == "wires":
        key = ((t >= 2.0) & (t < seconds - 1.0) & (mark != "done")).astype(float)
    driving = task == "drive" and mark == "drive"
    foot, lies = _foot(t, task, mark, seconds, rng), np.zeros(n)
    if mark.startswith("key-ons"):
        key = (t % _KEY_ON_S >= 0.5 * _KEY_ON_S).astype(float)
        for begin in np.arange(0.0, seconds - 1.0, _KEY_ON_S):
            foot = np.maximum(foot, _press(t, begin + 0.2, begin + 1.7, 0.3))
            lies[t >= begin + 1.0] = rng.normal(0, _RETURN_VOLTS)
    a, b = (r + foot * (f - r) + lies for r, f in zip(car.rest, car.full, strict=True))
    supply = np.full(n, _NOMINAL)
    if mark.startswith("load") and mark.endswith(" on"):
        late = t >= 1.2
        ripple = 0.012 * np.sin(2 * np.pi * 92.0 * t)
        supply = supply - late * (car.sag_volts - ripple)
        a, b = a * supply / _NOMINAL, b * supply / _NOMINAL
    a, b, changed = _changed(car, mark, a, b)
    if mark.startswith("shake ") and car.loose and f" {car.loose} at the plug" in mark:
        a, b = _loose(car, t, a, b, rng)
    power = np.clip(foot - 0.03, 0.0, 1.0) * key
    if changed is not None and np.isfinite(car.stops_s):
        power = np.where(changed, 0.0, power)
    if driving and np.isfinite(car.stops_s):
        power = np.concatenate([np.zeros(round(car.stops_s * car.rate_hz)), power])[:n]
    rows = np.stack([a, b, supply, 12.4 * key, _ZERO + _VOLTS_AT_FULL * power,
                     _celsius(t, mark, seconds)])
    rows[:5] += rng.normal(0, _NOISE, (5, n))
    rows[5] += rng.normal(0, 0.03, n)
    return rows


def _foot(t: Array, task: str, mark: str, seconds: float, rng: np.random.Generator) -> Array:
    """Return how far the foot has pressed at each time, from 0 to 1."""
    if task == "wires":
        return np.zeros(t.size) if mark == "done" else _press(t, 5.0, 9.0, 0.35)
    if mark == "press sideways":
        return _press(t, 1.0, 5.0, 0.3)
    foot = np.zeros(t.size)
    if task == "drive" and mark == "drive":
        for start in np.arange(3.0, seconds - 5.0, 7.0):
            foot = np.maximum(foot, _press(t, start, start + 4.0, rng.uniform(0.2, 0.7)))
    return foot


def _celsius(t: Array, mark: str, seconds: float) -> Array:
    """Return the temperature at the pedal: warmed by a blower, then left to cool."""
    heat = np.full(t.size, 20.0)
    if mark == "warm":
        heat += 22.0 * (1 - np.exp(-t / 90.0))
    elif mark == "cool":
        heat += 22.0 * (1 - np.exp(-seconds / 90.0)) * np.exp(-t / 90)
    return heat


def _press(t: Array, start: float, end: float, depth: float) -> Array:
    result: Array = depth * np.clip(np.minimum((t - start) / 0.5, (end - t) / 0.4), 0.0, 1.0)
    return result


def _changed(car: ProofCar, mark: str, a: Array, b: Array,
             ) -> tuple[Array, Array, np.ndarray | None]:
    """Return both tracks with a wire opened or joined, and where a controller sees it."""
    kind, _, rest = mark.partition(" ")
    low: Array = np.zeros(a.size)
    high: Array = np.full(a.size, _NOMINAL)
    if kind == "open":
        a, b = {"a": (low, b), "b": (a, low), "supply": (low, low), "ground": (high, high)}.get(
            rest, (a, b))
    elif kind == "short" and rest.endswith("supply"):
        # About what a resistor of some kilohms does to a track of some kilohms near its ground.
        a, b = (0.8 * a + 1.0, b) if rest.startswith("a") else (a, 0.8 * b + 1.0)
    elif kind == "short":
        a = b = 0.5 * (a + b)
    else:
        return a, b, None
    travel = [100 * (v - r) / (f - r) for v, r, f in zip((a, b), car.rest, car.full, strict=True)]
    seen = np.zeros(a.size, dtype=bool)
    for v, ends in ((a, (car.rest[0], car.full[0])), (b, (car.rest[1], car.full[1]))):
        # Half way between what the pedal reads and what a broken wire reads.
        seen |= (v < 0.5 * min(ends)) | (v > 0.5 * (max(ends) + _NOMINAL))
    return a, b, seen | (np.abs(travel[0] - travel[1]) > 10.0)


def _loose(car: ProofCar, t: Array, a: Array, b: Array,
           rng: np.random.Generator) -> tuple[Array, Array]:
    """Return both tracks with the loose lead letting go a few times."""
    a, b = a.copy(), b.copy()
    for at in rng.uniform(0.5, t[-1] - 0.5, 5):
        rows = (t >= at) & (t < at + max(0.012, 1.5 / car.rate_hz))
        to = _NOMINAL if car.loose == "ground" else 0.0
        if car.loose != "b":
            a[rows] = to
        if car.loose != "a":
            b[rows] = to
    return a, b

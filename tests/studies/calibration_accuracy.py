"""Measure calibrations against a meter on many random senders, each figure beside its bar.

    python tests/studies/calibration_accuracy.py                 1000 of each
    python tests/studies/calibration_accuracy.py --cases 200     quick
    python tests/studies/calibration_accuracy.py --only 17  one calibration, everything about it
    python tests/studies/calibration_accuracy.py --worlds  bent senders, hysteresis, other meters

The truth is drawn here and reaches the analysis only as readings of a converter with noise that
remembers, and as what a rounding meter shows whose scale and zero are off somewhere inside its
leaflet's limits. Exit status 1 when a bar is missed.
"""

import argparse
import sys
from dataclasses import dataclass, field

import numpy as np

from analysis.model.errors import AnalysisError
from analysis.senders import Divider, Sender, Shunt
from analysis.senders.calibration import MeterSpec, average, calibrate, points_from
from analysis.senders.divider import COMMON_RATIOS
from analysis.senders.shunt import RATED_AMPS, RATED_MILLIVOLTS
from bench.wording.reasons import in_words
from bench.wording.senders.verdict import meter_text

WORLDS = ("line", "meter off anew at every point", "meter off by half its limits, always high",
          "bent by 3 % of span", "kinked by 5 % of span", "hysteresis of 1 % of span")
METERS = ((0.5, 2.0), (0.8, 3.0), (0.1, 1.0), (1.0, 2.0), (0.5, 0.0), (0.0, 3.0), (0.0, 0.0))


@dataclass
class Tally:
    """Gather what was right and wrong."""

    inside: int = 0
    cases: int = 0
    refused: list[str] = field(default_factory=list)
    forms: dict[str, int] = field(default_factory=dict)
    slope_inside: int = 0
    outside: list[str] = field(default_factory=list)


@dataclass
class Named:
    """Gather which settings were named right."""

    right: int = 0
    cases: int = 0
    wrong: list[str] = field(default_factory=list)


def converter_readings(rng: np.random.Generator, volts: float, noise: float, memory: float,
                       step: float, count: int) -> np.ndarray:
    """Return `count` readings in volts of a steady input: AR(1) noise, then the converter."""
    white = rng.normal(size=count).tolist()
    fresh = float(np.sqrt(1.0 - memory**2))
    error = [white[0]]
    # Numbers of a list: one by one they take a fifth of the time of an array's.
    for new in white[1:]:
        error.append(memory * error[-1] + fresh * new)
    return np.round((volts + noise * np.array(error)) / step) * step


class Meter:
    """A real meter inside its leaflet's limits: one scale error, one zero error, rounding."""

    def __init__(self, rng: np.random.Generator, spec: MeterSpec) -> None:
        self.spec = spec
        self.scale = 1.0 + rng.uniform(-1, 1) * spec.scale_limit
        self.zero = rng.uniform(-1, 1) * spec.zero_limit

    def shows(self, true: float) -> float:
        """Return what it shows for a true value."""
        shown = self.scale * true + self.zero
        return float(np.round(shown / self.spec.resolution) * self.spec.resolution)


def random_meter(rng: np.random.Generator, span: float) -> Meter:
    """Return a meter of a usual class whose last place fits the span (2000 to 20000 counts)."""
    percent, digits = METERS[rng.integers(len(METERS))]
    resolution = 10.0 ** (np.ceil(np.log10(span)) - rng.integers(3, 5))
    return Meter(rng, MeterSpec(percent, digits, float(resolution)))


def departure(world: str, share: np.ndarray, up: np.ndarray, span: float) -> np.ndarray:
    """Return how far a sender departs from its line at `share` (0 to 1) of its range."""
    if world.startswith("bent"):
        return 0.03 * span * 4.0 * share * (1.0 - share)
    if world.startswith("kinked"):
        return 0.05 * span * np.maximum(0.0, share - 0.6) / 0.4
    if world.startswith("hysteresis"):
        return np.where(up, -0.005, 0.005) * span
    return np.zeros(share.shape)


def one_calibration(seed: int, tally: Tally, tell: bool = False, world: str = WORLDS[0]) -> None:
    """Calibrate one random sender; look whether a true value lies in the interval."""
    rng = np.random.default_rng([20261125, 8, seed])
    span = 10.0 ** rng.uniform(0, 2.7)
    slope, offset = span / rng.uniform(2.0, 4.5), rng.normal(0, 0.02 * span)
    meter = random_meter(rng, span)
    step = 5.0 / rng.choice([1024, 4096])
    noise, memory = step * rng.uniform(0.2, 3.0), rng.choice([0.0, 0.5, 0.9])
    count = int(rng.integers(200, 800))
    n = int(rng.integers(5, 16))
    levels = np.sort(rng.uniform(0.1, 4.8, n))
    if rng.random() < 0.4:
        levels = np.concatenate([levels, levels[::-1]])
    if world.startswith("hysteresis"):
        levels = np.concatenate([np.sort(levels[:n]), np.sort(levels[:n])[::-1]] * 3)
    up = np.arange(levels.size) // n % 2 == 0
    quantity = offset + slope * levels + departure(world, levels / 5.0, up, span)
    if world.startswith("meter off by half"):
        meter.scale, meter.zero = 1 + 0.5 * meter.spec.scale_limit, 0.5 * meter.spec.zero_limit
    readings, errors, shown = [], [], []
    for volts, true in zip(levels, quantity, strict=True):
        if world.startswith("meter off anew"):
            meter = Meter(rng, meter.spec)
        got = converter_readings(rng, volts, noise, memory, step, count)
        steady = average(np.arange(count) * 0.004, got, step)
        readings.append(steady.mean)
        errors.append(steady.uncertainty)
        shown.append(meter.shows(true))
    points = points_from(readings, shown, errors)
    sender = Sender()
    tally.cases += 1
    try:
        found = calibrate(points, sender.shown(points.volts), points.volts_uncertainty, meter.spec)
    except AnalysisError as error:
        tally.refused.append(f"--only {seed}: {error}")
        return
    form = found.curve.form
    tally.forms[form] = tally.forms.get(form, 0) + 1
    at = float(rng.uniform(levels.min(), levels.max()))
    way = np.array(rng.random() < 0.5)
    true = float(offset + slope * at + departure(world, np.array(at / 5.0), way, span))
    predicted = found.predict(at)
    inside = predicted.low <= true <= predicted.high
    tally.inside += inside
    line = (f"--only {seed}: {form}, n {points.count}, meter {meter_text(meter.spec)}: "
            f"true {true:.6g}, "
            f"stated {predicted.low:.6g} to {predicted.high:.6g}; {in_words(found.reason)}")
    if not inside:
        tally.outside.append(line)
    if tell:
        print(line)
        print(found)


def _points_for(rng: np.random.Generator, pin: np.ndarray, quantity: np.ndarray,
                percent: float, span: float):
    spec = MeterSpec(percent, 2.0, float(10.0 ** (np.ceil(np.log10(span)) - 4)))
    meter = Meter(rng, spec)
    step = 5.0 / rng.choice([1024, 4096])
    readings, errors = [], []
    for volts in pin:
        got = converter_readings(rng, volts, step * rng.uniform(0.3, 2), 0.5, step, 300)
        steady = average(np.arange(300) * 0.004, got, step)
        readings.append(steady.mean)
        errors.append(steady.uncertainty)
    return points_from(readings, [meter.shows(q) for q in quantity], errors), spec


def _first(sender: Sender, points, spec):
    x = sender.shown(points.volts)
    found = calibrate(points, x, sender.shown_uncertainty(points.volts, points.volts_uncertainty),
                      spec, sender.unit, sender.shown_unit)
    return sender.diagnose(found)


def one_divider(seed: int, named: Named) -> None:
    """Set a divider for one ratio while it has another; look whether the other is named."""
    rng = np.random.default_rng([20261125, 81, seed])
    stated, true = rng.choice(COMMON_RATIOS[1:], 2, replace=rng.random() < 0.1)
    bottom = 10.0 ** rng.uniform(3, 4)
    parts = 1.0 + rng.uniform(-0.01, 0.01, 2)
    real = 1.0 + (true - 1.0) * parts[0] / parts[1]
    pin = np.linspace(0.4, 4.6, int(rng.integers(4, 9)))
    points, spec = _points_for(rng, pin, pin * real, 0.5, 4.6 * real)
    sender = Divider(top_ohms=bottom * (stated - 1.0), bottom_ohms=bottom,
                     highest_volts=4.9 * stated)
    found = _first(sender, points, spec)
    wanted = "as stated" if stated == true else "wrong tap"
    _count(named, found, wanted, true, f"divider {seed}: 1:{true:g} set for 1:{stated:g}")


def one_shunt(seed: int, named: Named) -> None:
    """Set a shunt for one rating while it is another; look whether its resistance is named."""
    rng = np.random.default_rng([20261125, 82, seed])

    def draw() -> tuple[float, float]:
        return float(rng.choice(RATED_AMPS)), float(rng.choice(RATED_MILLIVOLTS))

    stated = draw()
    true = stated if rng.random() < 0.1 else draw()
    gain = float(rng.choice([20.0, 50.0]))
    ohms = true[1] * 1e-3 / true[0] * (1.0 + rng.uniform(-0.005, 0.005))
    real_gain = gain * (1.0 + rng.uniform(-0.005, 0.005))
    amps = np.linspace(-0.4, 0.4, int(rng.integers(5, 10))) * true[0]
    pin = 2.5 + amps * ohms * real_gain
    points, spec = _points_for(rng, pin, amps, 0.5, true[0])
    sender = Shunt(rated_amps=stated[0], rated_millivolts=stated[1], gain=gain, zero_volts=2.5,
                   highest_amps=0.3 * stated[0], pin_limit_volts=5.0)
    same = abs(true[1] / true[0] / (stated[1] / stated[0]) - 1.0) < 1e-9
    _count(named, _first(sender, points, spec), "as stated" if same else "other shunt",
           true[1] * 1e-3 / true[0],
           f"shunt {seed}: {true[0]:g} A/{true[1]:g} mV set for {stated[0]:g} A/{stated[1]:g} mV")


def _count(named: Named, found, wanted: str, value: float, label: str) -> None:
    named.cases += 1
    first = found[0]
    right = first.name == wanted and (
        wanted == "as stated" or abs(first.value / value - 1.0) < 1e-6)
    named.right += right
    if not right:
        named.wrong.append(f"{label}: {first.name}: {in_words(first.reason)}")


def measure(cases: int, first: int = 0) -> tuple[Tally, Named, Named]:
    """Return the tallies of `cases` calibrations, dividers and shunts."""
    tally, dividers, shunts = Tally(), Named(), Named()
    for seed in range(first, first + cases):
        one_calibration(seed, tally)
        one_divider(seed, dividers)
        one_shunt(seed, shunts)
    return tally, dividers, shunts


def main() -> int:
    """Measure and print; return 1 when a bar is missed."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--cases", type=int, default=1000)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--only", type=int)
    parser.add_argument("--worlds", action="store_true",
                        help="worlds the bar does not speak of: what the interval does there")
    parser.add_argument("--details", type=int, default=6)
    call = parser.parse_args()
    if call.only is not None:
        one_calibration(call.only, Tally(), tell=True)
        return 0
    if call.worlds:
        for world in WORLDS[1:]:
            other = Tally()
            for seed in range(call.first, call.first + call.cases):
                one_calibration(seed, other, world=world)
            print(f"{world + ':':44s}{100.0 * other.inside / other.cases:6.2f} % inside, "
                  f"{other.cases} calibrations, "
                  + ", ".join(f"{k} {v}" for k, v in sorted(other.forms.items()))
                  + f", refused {len(other.refused)}")
        return 0
    tally, dividers, shunts = measure(call.cases, call.first)
    inside = 100.0 * tally.inside / tally.cases
    met = [93.0 <= inside <= 97.0]
    print(f"true value inside the stated 95 % interval  {inside:6.2f} %  93 to 97 %  "
          f"{tally.cases} calibrations  {'met' if met[0] else 'MISSED'}")
    for name, named in (("divider", dividers), ("shunt", shunts)):
        share = 100.0 * named.right / named.cases
        met.append(share >= 99.0)
        print(f"{name + ' settings named right':43s} {share:6.2f} %  >= 99 %     "
              f"{named.cases} settings  {'met' if met[-1] else 'MISSED'}")
    print("forms:", ", ".join(f"{k} {v}" for k, v in sorted(tally.forms.items())),
          f"; refused {len(tally.refused)}")
    for line in (tally.refused[:call.details] + tally.outside[:call.details]
                 + dividers.wrong[:call.details] + shunts.wrong[:call.details]):
        print(" ", line)
    return 0 if all(met) else 1


if __name__ == "__main__":
    sys.exit(main())

"""Hold every number that `meter` prints against senders, meters and boards made here.

    python tests/studies/sender_printed_numbers.py            1200 calibrations: 4 noises x 4 worlds
    python tests/studies/sender_printed_numbers.py --quick    64 calibrations

Worlds: a straight line, hysteresis, a thermistor (made by its own law, Steinhart and Hart 1968),
a supply that warms between the points. Noise white, pink, mains hum, or below a step. 10, 12, 16
bits. What calibration_accuracy.py measures (named settings, kinks) is not repeated. Exit status 1
when a bar is broken.
"""

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from error_table import Figures, run

from analysis.model.errors import AnalysisError
from analysis.senders import Sender, Thermistor
from analysis.senders.calibration import MeterSpec, average, calibrate, points_from
from analysis.senders.calibration.verdict import judge_as_calibrated, judge_as_found

NOISES = ("white", "pink", "hum", "below a step")
WORLDS = ("line", "hysteresis", "thermistor", "warming supply")
BITS = (10, 12, 16)
RATE, COUNT = 250.0, 500


def noise(kind: str, size: float, dice: np.random.Generator) -> np.ndarray:
    """Return a window of noise, volts; its mean is left to chance as on a board."""
    white = dice.standard_normal(COUNT)
    t = np.arange(COUNT) / RATE
    if kind == "hum":
        return size * (0.6 * white + 0.8 * np.sqrt(2) * np.sin(
            2 * np.pi * 50.3 * t + dice.uniform(0, 6.28)))
    if kind == "pink":
        spectrum = np.fft.rfft(dice.standard_normal(4 * COUNT))
        hertz = np.fft.rfftfreq(4 * COUNT, 1 / RATE)
        shape = np.where(hertz > 0, 1 / np.sqrt(np.maximum(hertz, 0.5)), 0.0)
        long = np.fft.irfft(spectrum * shape)
        return size * long[:COUNT] / np.sqrt(np.mean(shape**2))
    return size * white


def one(kind: str, world: str, seed: int, figures: Figures) -> None:
    """Calibrate one random sender and add every number."""
    dice = np.random.default_rng([51, seed])
    step = 5.0 / 2 ** BITS[seed % 3]
    size = step * dice.uniform(0.1, 0.25) if kind == "below a step" else max(
        float(np.exp(dice.uniform(np.log(3e-4), np.log(3e-3)))), 0.6 * step)
    spec = MeterSpec(float(dice.choice([0.1, 0.5])), float(dice.choice([1.0, 2.0])),
                     0.1 if world == "thermistor" else 0.01)
    scale = 1 + dice.uniform(-1, 1) * spec.scale_limit
    zero = dice.uniform(-1, 1) * spec.zero_limit
    levels = np.linspace(0.5, 4.5, int(dice.integers(6, 12)))
    gap = 0.0
    sender: Sender = Sender()
    if world == "hysteresis":
        gap = dice.uniform(0.05, 0.5)
        levels = np.tile(np.concatenate([levels, levels[::-1]]), 3)
    slope, offset = dice.uniform(3.0, 10.0), dice.uniform(-1.0, 1.0)
    if world == "thermistor":
        sender = Thermistor(known_ohms=10e3, supply_volts=5.0)
        celsius = np.linspace(5.0, 85.0, levels.size)
        # 1/T = A + B ln R + C (ln R)^3 turned round by bisection, common 10 kohm constants.
        ohms = steinhart_ohms(celsius)
        levels, quantity = 5.0 * ohms / (ohms + 10e3), celsius
    else:
        up = np.arange(levels.size) // (levels.size // 6) % 2 == 0 if gap else True
        quantity = offset + slope * levels + np.where(up, -gap / 2, gap / 2) * bool(gap)
    # A supply that warms moves what a ratio sensor shows by up to 200 ppm from point to point.
    warm = 1 + (dice.uniform(-2e-4, 2e-4, levels.size) if world == "warming supply" else 0.0)
    means, errors = [], []
    for volts in levels * warm:
        read = step * np.round((volts + noise(kind, size, dice)) / step)
        steady = average(np.arange(COUNT) / RATE, read, step)
        means.append(steady.mean)
        errors.append(steady.uncertainty)
        figures.add(f"meter: at input, {kind}", "steps", steady.mean / step, volts / step,
                    steady.uncertainty / step)
        figures.promise("meter: steady said rightly", steady.steady, 99.0)
        worth = float(np.hypot(size, step / np.sqrt(12)))
        if kind in ("white", "hum"):
            figures.add("meter: noise", "relative", steady.noise / worth, 1.0)
    shown = spec.resolution * np.round((scale * quantity + zero) / spec.resolution)
    points = points_from(means, shown, errors)
    x = sender.shown(points.volts)
    try:
        doubt = sender.shown_uncertainty(points.volts, points.volts_uncertainty)
        found = calibrate(points, x, doubt, spec, sender.unit, sender.shown_unit,
                          getattr(sender, "forms", ("line", "polynomial", "table")))
    except AnalysisError as error:
        figures.promise(f"meter: {world} answered", False, 99.0)
        print(error)
        return
    figures.promise(f"meter: {world} answered", True, 99.0)
    span = float(np.ptp(quantity))
    at = float(dice.uniform(levels.min(), levels.max()))
    if world == "thermistor":
        ohms_at = 10e3 * at / (5.0 - at)
        true, place = steinhart_celsius(ohms_at), ohms_at
    else:
        way = dice.choice([-0.5, 0.5]) * gap
        true, place = offset + slope * at + way, at
    told = found.predict(place)
    figures.add(f"meter: quantity, {world}", "% span", 100 * told.value / span, 100 * true / span,
                limits=(100 * told.low / span, 100 * told.high / span))
    if world == "line":
        if found.curve.form == "line":
            matrix = found.full_covariance()
            # The meter's scale and zero are uniform: 95 % of a uniform lies within 1.65 u.
            for k, (name, value) in enumerate((("offset", offset), ("slope", slope))):
                figures.add(f"meter: {name} of the line", "relative",
                            float(found.curve.coefficients[k]) / slope, value / slope,
                            float(np.sqrt(matrix[k, k])) / slope)
        figures.promise("meter: form is the line it is", found.curve.form == "line", 93.0)
        back = found.inverse(offset + slope * 2.5)
        figures.add("meter: reading for a quantity", "mV", 1e3 * back.value, 2500.0,
                    limits=(1e3 * back.low, 1e3 * back.high))
        tolerance = 0.02 * span
        verdict = judge_as_calibrated(found, tolerance)
        off = max(abs(float(found.predict(float(v)).value) - (offset + slope * v))
                  for v in levels)
        if verdict.result != "cannot tell":
            figures.promise("meter: as calibrated, pass or fail rightly",
                            (verdict.result == "pass") == (off <= tolerance), 95.0)
        first = judge_as_found(found, tolerance)
        worst = max(abs(v - (offset + slope * v)) for v in levels)
        if first.result != "cannot tell":
            figures.promise("meter: as found, pass or fail rightly",
                            (first.result == "pass") == (worst <= tolerance), 95.0)
    if gap:
        figures.add("meter: hysteresis", "% span", found.spread.hysteresis_percent,
                    100 * gap / span)
        figures.add("meter: repeatability", "% span", found.spread.repeatability_percent, 0.0)


COEFFICIENTS = (1.125e-3, 2.347e-4, 0.855e-7)


def steinhart_celsius(ohms: float) -> float:
    """Return the temperature of a 10 kohm thermistor (Steinhart and Hart 1968)."""
    a, b, c = COEFFICIENTS
    log = np.log(ohms)
    return float(1 / (a + b * log + c * log**3) - 273.15)


def steinhart_ohms(celsius: np.ndarray) -> np.ndarray:
    """Return its resistance at each temperature, by bisection."""
    low, high = np.full(celsius.size, 10.0), np.full(celsius.size, 1e6)
    for _ in range(80):
        middle = np.sqrt(low * high)
        hotter = np.array([steinhart_celsius(r) for r in middle]) > celsius
        low, high = np.where(hotter, middle, low), np.where(hotter, high, middle)
    return np.sqrt(low * high)


def measure(cases: int, figures: Figures, first: int = 0) -> None:
    """Add so many calibrations of each noise and world."""
    for seed in range(first, first + cases):
        for k, kind in enumerate(NOISES):
            for j, world in enumerate(WORLDS):
                figures.seeds += 1
                one(kind, world, seed * 16 + 4 * k + j, figures)


if __name__ == "__main__":
    sys.exit(run("meter", __doc__, cases="cases", usual=75, quick=4, measure=measure))

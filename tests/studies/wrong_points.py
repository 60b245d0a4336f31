"""Mistype points of a calibration in seven ways; see how many are named, and who is accused.

    python tests/studies/wrong_points.py                 400 of each kind
    python tests/studies/wrong_points.py --cases 60      quick
    python tests/studies/wrong_points.py --only 17 --kind "digits exchanged"

Senders and meters are drawn here, apart from the other scripts: lines, senders bent by 1 to 4 %
of their span and thermistors, read at levels as a person sets them; the meter is off by one scale
and one zero error inside its limits, and rounds. A wrong point is off by 3 or more of the meter's
limits there. A point counts as named when it, and no other, is the one that is named. Intervals
are measured on sound calibrations by four kinds of sender. Exit status 1 when a bar is missed.
"""

import argparse
import sys

import numpy as np

from analysis.model.errors import AnalysisError
from analysis.senders.calibration import MeterSpec, calibrate, outlying_points, points_from

KINDS = ("decimal point", "digits exchanged", "one unit more", "anywhere", "at an end",
         "one of five", "two exchanged")
SOUND = ("line", "bent", "thermistor", "kinked", "hysteresis")
LEAFLETS = ((0.5, 2.0), (0.8, 3.0), (0.1, 1.0), (1.0, 2.0), (0.05, 3.0), (0.0, 5.0))


class Case:
    """Hold one calibration as it reached the person: readings, their errors, what was typed."""

    def __init__(self, rng, world, count, ways=1):
        """Draw a sender, a meter and `count` levels."""
        self.rng, self.world = rng, world
        share = (np.arange(count) + rng.uniform(-0.3, 0.3, count)) / (count - 1)
        share = np.clip(share, 0.0, 1.0)
        share = np.concatenate([share if k % 2 == 0 else share[::-1] for k in range(ways)])
        up = np.arange(share.size) // count % 2 == 0
        if world == "thermistor":
            celsius = 5.0 + 90.0 * share
            self.span, self.resolution = 90.0, 0.1
            self.true = celsius
            beta, ohms = rng.uniform(3300, 4200), rng.choice([2e3, 1e4, 5e4])
            self.law = lambda c: ohms * np.exp(beta * (1 / (c + 273.15) - 1 / 298.15))
            x = self.law(celsius)
            self.ux = 0.0005 * x
            self.forms = ("beta", "steinhart-hart", "table")
        else:
            self.span = float(rng.choice([5.0, 14.0, 48.0, 150.0, 400.0]))
            self.resolution = float(10.0 ** (np.ceil(np.log10(self.span)) - rng.integers(3, 5)))
            low = rng.uniform(0.0, 0.25) * self.span
            self.start, self.bend = low, rng.uniform(0.01, 0.04) * rng.choice([-1, 1])
            x = low + (self.span - low) * share
            self.true = self.departed(x, up)
            self.ux = np.full(x.size, 3e-5 * self.span * rng.uniform(0.5, 2.0))
            self.forms = ("line", "polynomial", "table")
        self.meter = MeterSpec(*LEAFLETS[rng.integers(len(LEAFLETS))], self.resolution)
        self.scale = 1.0 + rng.uniform(-1, 1) * self.meter.scale_limit
        self.zero = rng.uniform(-1, 1) * self.meter.zero_limit
        self.x = x + rng.normal(size=x.size) * self.ux
        self.ux = np.broadcast_to(self.ux, x.shape)
        self.typed = np.round((self.scale * self.true + self.zero) / self.resolution) \
            * self.resolution
        self.allowed = self.meter.limit(self.typed) + 0.5 * self.resolution

    def departed(self, x, up=True):
        """Return the true quantity where the sender shows x."""
        s = (x - self.start) / (self.span - self.start)
        if self.world == "bent":
            return x + self.bend * self.span * 4.0 * s * (1.0 - s)
        if self.world == "kinked":
            return x + 0.05 * self.span * np.maximum(0.0, s - 0.55) / 0.45
        if self.world == "hysteresis":
            return x + np.where(up, -0.005, 0.005) * self.span
        return x

    def found(self):
        """Return who is named."""
        points = points_from(self.x, self.typed, self.ux)
        return outlying_points(points, self.x, self.ux, self.meter, self.forms)

    def wrong(self, kind):
        """Mistype a point; return the places that are wrong now, or None when none can be."""
        rng, y = self.rng, self.typed
        n = y.size
        order = np.argsort(self.x)
        place = int(rng.choice(order[[0, -1]] if kind == "at an end" else order))
        new = y[place]
        if kind == "two exchanged":
            other = int(rng.integers(n))
            if abs(y[place] - y[other]) < 3.0 * max(self.allowed[[place, other]]):
                return None
            y[[place, other]] = y[[other, place]]
            return {place, other}
        if kind == "decimal point":
            new = y[place] * 10.0 ** rng.choice([-2, -1, 1, 2])
        elif kind == "digits exchanged":
            digits = f"{y[place] / self.resolution:.0f}"
            k = int(rng.integers(max(1, len(digits) - 1)))
            new = float(digits[:k] + digits[k: k + 2][::-1] + digits[k + 2:]) * self.resolution
        elif kind == "one unit more":
            new = y[place] + rng.choice([-1, 1]) * 10.0 ** rng.choice([0, 1])
        else:
            new = y[place] + rng.choice([-1, 1]) * rng.uniform(3, 12) * self.allowed[place]
        if abs(new - y[place]) < 3.0 * self.allowed[place]:
            return None
        y[place] = new
        return {place}


def named(kind, seed, tell=False):
    """Return whether the wrong point is named, None when no such mistake was possible."""
    rng = np.random.default_rng([4711, KINDS.index(kind), seed])
    world = "line" if kind == "one of five" else str(rng.choice(["line", "line", "bent",
                                                                 "thermistor"]))
    count = 5 if kind == "one of five" else int(rng.integers({"line": 5, "thermistor": 6,
                                                              "bent": 8}[world], 15))
    case = Case(rng, world, count, 1 if count < 8 or rng.random() < 0.6 else 2)
    places = case.wrong(kind)
    if places is None:
        return None
    found = case.found()
    if tell:
        print(world, case.meter, case.x, case.typed, places, found, sep="\n")
    return {p for f in found for p in f.places} == places


def accused(world, seed, tell=False):
    """Return "" for nobody, "asked" for one alone at its end, or "accused" of a sound point."""
    rng = np.random.default_rng([4712, SOUND.index(world), seed])
    case = Case(rng, world, int(rng.integers(5, 15)), int(rng.choice([1, 1, 2])))
    found = case.found()
    if tell:
        print(world, case.meter, case.x, case.typed, found, sep="\n")
    return "" if not found else "asked" if found[0].kind == "end" else "accused"


def inside(world, seed):
    """Return whether the true value lies in the stated interval, None when there is no curve."""
    rng = np.random.default_rng([4713, SOUND.index(world), seed])
    ways = 6 if world == "hysteresis" else int(rng.choice([1, 2]))
    case = Case(rng, world, int(rng.integers(5, 13)), ways)
    try:
        found = calibrate(points_from(case.x, case.typed, case.ux), case.x, case.ux, case.meter,
                          forms=case.forms)
    except AnalysisError:
        return None
    share = rng.random()
    if world == "thermistor":
        true = float(np.min(case.true) + share * np.ptp(case.true))
        at = float(case.law(true))
    else:
        at = float(np.min(case.x) + share * np.ptp(case.x))
        true = float(case.departed(np.array(at), np.array(rng.random() < 0.5)))
    said = found.predict(at)
    return bool(said.low <= true <= said.high)


def main():
    """Measure and print; return 1 when a bar is missed."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--cases", type=int, default=400)
    parser.add_argument("--only", type=int)
    parser.add_argument("--kind")
    call = parser.parse_args()
    if call.only is not None:
        (named if call.kind in KINDS else accused)(call.kind or KINDS[0], call.only, tell=True)
        return 0
    missed = False
    for kind in KINDS:
        results = {k: r for k in range(call.cases) if (r := named(kind, k)) is not None}
        share = 100.0 * np.mean(list(results.values()))
        missed |= share < 98.0
        print(f"named: {kind:18s} {share:6.1f} %  >= 98 %  of {len(results)}; not: "
              f"{[k for k, r in results.items() if not r][:8]}")
    for world in SOUND:
        results = [accused(world, k) for k in range(call.cases)]
        share = 100.0 * results.count("accused") / len(results)
        asked = 100.0 * results.count("asked") / len(results)
        missed |= share > 1.0
        print(f"accused though sound: {world:12s} {share:6.2f} %  <= 1 %  of {len(results)}; "
              f"{[k for k, r in enumerate(results) if r == 'accused'][:8]}; one alone at its end "
              f"asked about {asked:.2f} %")
    for world in SOUND:
        results = [r for k in range(call.cases) if (r := inside(world, k)) is not None]
        share = 100.0 * np.mean(results)
        missed |= not 93.0 <= share <= 97.0
        print(f"inside 95 % interval: {world:12s} {share:6.1f} %  93 to 97 %  of {len(results)}")
    return int(missed)


if __name__ == "__main__":
    sys.exit(main())

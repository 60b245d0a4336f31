"""Hold the dead band against families of returns that are not normal: is the promise kept or taken
back, and what does it cost?

`python tests/studies/dead_band_families.py` (two minutes; `--pedals`, `--families`, `--laws`,
`--others`, `--third`). Each pedal is one draw of returns, judged by
analysis.pedal.dead_band.dead_band; then 20 times 100 later key-ons of the same pedal, every assumed
line at its limit. Nothing of the project makes a pedal.
"""

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np
from dead_band_other_families import OTHERS
from dead_band_third_families import THIRD
from scipy import stats

from analysis.model.estimate import Estimate
from analysis.parameters import Parameters
from analysis.pedal.dead_band import DeadBand, dead_band
from analysis.pedal.levels import wider_for_few
from analysis.pedal.tracks import TrackFindings

LATER, TIMES = 100, 20
STEP = 5.0 / 4096
SPAN, REST = 3.0, 0.8
# Of the returns of a guided sweep, the first eight after slow full presses, the last after quick.
USUAL = 13


@dataclass(frozen=True)
class Family:
    """Hold how a pedal returns: draw(dice, returns, later) gives lifts in units of its scatter,
    shapes (returns,) and (TIMES, later), the later ones those of the same pedal afterwards."""

    name: str
    draw: object
    returns: int = USUAL
    untold: bool = False


def law(shape):
    return lambda dice, n, m: (shape.rvs(size=n, random_state=dice),
                               shape.rvs(size=(TIMES, m), random_state=dice))


def follows(dice, n, m, rho=0.9):
    """Return a first-order sequence; the later key-ons each begin afresh far from the sweep."""
    def run(count):
        x = np.empty(count)
        x[0] = dice.standard_normal()
        for k in range(1, count):
            x[k] = rho * x[k - 1] + np.sqrt(1 - rho**2) * dice.standard_normal()
        return x
    return run(n), np.array([run(m) for _ in range(TIMES)])


def pink(dice, n, m):
    def run(count):
        size = 1024
        spectrum = np.fft.rfft(dice.standard_normal(size))
        spectrum[1:] /= np.sqrt(np.arange(1, spectrum.size))
        spectrum[0] = 0.0
        x = np.fft.irfft(spectrum, size)
        return (x / x.std())[:count]
    return run(n), np.array([run(m) for _ in range(TIMES)])


def catches(share):
    def draw(dice, n, m):
        height = dice.uniform(3.0, 20.0)

        def run(size):
            caught = dice.random(size) < share
            return dice.standard_normal(size) + caught * height * dice.uniform(0.8, 1.2, size)
        return run(n), run((TIMES, m))
    return draw


def creeps(dice, n, m):
    slope = dice.uniform(0.5, 2.0)
    return (slope * np.arange(n) + dice.standard_normal(n),
            slope * (n + np.arange(m)) + dice.standard_normal((TIMES, m)))


def creeps_later(dice, n, m):
    slope = dice.uniform(0.2, 1.0)
    return (dice.standard_normal(n),
            slope * np.arange(m) + dice.standard_normal((TIMES, m)))


def warms(dice, n, m):
    """Rest rises with warmth; the sweep sees a part of it, and as much again comes later."""
    rise = dice.uniform(1.0, 6.0)
    return (rise * np.linspace(0, 1, n) + dice.standard_normal(n),
            rise * (1 + dice.random((TIMES, 1))) + dice.standard_normal((TIMES, m)))


def shallow(seen):
    """After shallow presses the pedal rests higher; one press of three is shallow in the car."""
    def draw(dice, n, m):
        higher = dice.uniform(1.0, 6.0)
        low = np.zeros(n)
        if seen:
            low[2::3] = 1.0
        return (dice.standard_normal(n) + higher * low,
                dice.standard_normal((TIMES, m)) + higher * (dice.random((TIMES, m)) < 1 / 3))
    return draw


FAMILIES = tuple(Family(*each) for each in (
    ("normal", law(stats.norm())),
    ("normal, 20 returns", law(stats.norm()), 20),
    ("normal, 30 returns", law(stats.norm()), 30),
    ("uniform", law(stats.uniform())),
    ("pink noise", pink),
    ("Student 5", law(stats.t(5))),
    ("Student 5, 59 returns", law(stats.t(5)), 59),
    ("gamma 2", law(stats.gamma(2))),
    ("exponential", law(stats.expon())),
    ("exponential, 5 returns", law(stats.expon()), 5),
    ("correlated 0.9", follows),
    ("shallow presses in the sweep", shallow(True)),
    ("shallow presses not in the sweep", shallow(False), USUAL, True),
    ("warming", warms),
    ("creep in the sweep", creeps),
    ("catch 1 in 5", catches(0.2)),
    ("catch 1 in 10, 30 returns", catches(0.1), 30),
    ("Student 3", law(stats.t(3))),
    ("lognormal", law(stats.lognorm(1.0))),
    ("Weibull 0.7", law(stats.weibull_min(0.7))),
    ("catch 1 in 30, 30 returns", catches(1 / 30), 30, True),
    ("catch 1 in 100, 30 returns", catches(0.01), 30, True),
    ("creep that begins later", creeps_later, USUAL, True)))


SETS = {"usual": FAMILIES, "others": tuple(Family(*each) for each in OTHERS),
        "third": tuple(Family(*each) for each in THIRD)}


def track(levels: np.ndarray, sign: float) -> TrackFindings:
    """Return a quiet track with those rest levels, 12 bit, the supply recorded."""
    count = levels.size
    times = 6.0 * np.arange(count)
    x = (times - times.mean()) / 60.0
    slope = x @ levels / (x @ x)
    left = levels - levels.mean() - slope * x
    error = np.sqrt(left @ left / (count - 2) / (x @ x)) * wider_for_few(count - 2)
    spread = float(np.std(levels, ddof=1))
    rest = REST if sign > 0 else 5.0 - REST
    nothing = np.zeros(0)
    return TrackFindings(
        column="a", direction="rising" if sign > 0 else "falling",
        rest=Estimate(float(np.median(levels)), 0.001), rest_levels=levels, rest_times_s=times,
        rest_scatter=Estimate(spread, spread / 4), noise_volts=0.0008, crossing_slope=900.0,
        drift_volts_per_minute=Estimate(float(slope), float(error)),
        full=Estimate(rest + sign * SPAN, 0.001), full_levels=np.full(8, rest + sign * SPAN),
        span=Estimate(SPAN, 0.002), lowest_volts=0.7, highest_volts=4.3, step_volts=STEP,
        nominal_volts=5.0, supply_recorded=True, clipped=False, noise_map_percent=nothing,
        noise_map_volts=nothing, linearity_percent=float("nan"), rest_seconds=30.0)


def oracle(shape_sd: float) -> float:
    """Return how far normal scatter reaches in LATER key-ons with a risk of 5 %."""
    return shape_sd * float(stats.norm.isf(-np.expm1(np.log(0.95) / LATER)))


def one(job) -> tuple:
    """Return (withdrawn code or None, share of the promises kept, scatter ratio, whole ratio)."""
    which, place, number, laws, seed = job
    family = SETS[which][place]
    dice = np.random.default_rng([seed, place, number])
    sign = 1.0 if dice.random() < 0.6 else -1.0
    scatter = SPAN * np.exp(dice.uniform(np.log(0.0003), np.log(0.002)))
    seen, later = family.draw(dice, family.returns, LATER)
    rest = REST if sign > 0 else 5.0 - REST
    levels = rest + sign * scatter * seen + dice.normal(0, 2e-5, seen.size)
    parameters = Parameters(key_ons=LATER, returns=laws)
    band: DeadBand = dead_band(track(levels, sign), parameters)
    items = {i.name: i.volts for i in band.items}
    chance = sum(items[n] for n in ("scatter of returns", "rest itself", "drift"))
    # Every other line is at its limit, and so leaves its own volts and no more.
    reach = band.rest_volts + sign * chance
    top = rest + sign * scatter * later.max(axis=1)
    kept = float(np.mean(sign * (reach - top) >= 0))
    ideal = oracle(scatter)
    others = band.total_volts - chance
    return (band.weak_code if band.weak else None, kept, chance / ideal,
            (chance + others) / (ideal + others))


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pedals", type=int, default=200)
    parser.add_argument("--seed", type=int, default=16)
    parser.add_argument("--laws", choices=("even", "stick", "wide"), default="stick")
    parser.add_argument("--families", default="", help="part of their name")
    parser.add_argument("--others", action="store_true", help="those of dead_band_other_families")
    parser.add_argument("--third", action="store_true", help="those of dead_band_third_families")
    args = parser.parse_args(argv)
    which = "others" if args.others else "third" if args.third else "usual"
    with ProcessPoolExecutor(2) as pool:
        for place, family in enumerate(SETS[which]):
            if args.families not in family.name:
                continue
            jobs = [(which, place, k, args.laws, args.seed) for k in range(args.pedals)]
            found = list(pool.map(one, jobs, chunksize=20))
            kept = [f[1] for f in found if f[0] is None]
            gone = [f[0] for f in found if f[0] is not None]
            said = ", ".join(f"{c} {gone.count(c)}" for c in sorted(set(gone)))
            print(f"{family.name:34s} kept {100 * np.mean(kept) if kept else float('nan'):5.1f} % "
                  f"of {len(kept)}, withdrawn {100 * len(gone) / len(found):5.1f} % ({said}); "
                  f"over the oracle: scatter {np.median([f[2] for f in found]):.2f}, whole "
                  f"{np.median([f[3] for f in found]):.2f}"
                  f"{'  [named as not covered]' if family.untold else ''}", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

"""Judge stated uncertainties and bounds on pedals and cars of a generator of their own.

    python tests/studies/claims_uncertainties.py --cases 100

Sweeps: rest and full travel within two standard uncertainties of the truth (bar 93 to 98 %): a
10-bit converter that floors and bows by 0.8 step; no supply recorded; a pedal that warms. Logs:
the shift's 95 % interval where marks are late by seconds; one key-on in twenty that lifts: how
many later key-ons pass the start of travel that is issued, and how often it is issued as measured.
"""

import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from studies.claims_judge import arguments, finish, percent
from studies.claims_key_on import bench
from studies.independent_car import draw_car, drive, key_marks
from studies.independent_pedal import NOMINAL, draw_board, draw_pedal, record, runner, sweep

from analysis.key_on import analyse_key_on
from analysis.model.errors import AnalysisError
from analysis.pedal.findings import analyse


@dataclass(frozen=True)
class Held:
    """Hold, by the name of a figure, whether the truth was held each time."""

    figures: tuple[tuple[str, bool], ...]


def _sweep(name: str, seed: int) -> Held:
    rng = np.random.default_rng([31, seed])
    pedal = draw_pedal(rng)
    board = draw_board(rng, float(rng.choice([100.0, 200.0, 500.0])), 10)
    if name == "bowed":
        board = replace(board, bow_steps=float(rng.choice([-0.8, 0.8])))
    board = replace(board, with_supply=name != "no supply")
    if name == "no supply":
        # What a supply of 2 % may be: anything within (rectangular, JCGM 100:2008, 4.3.7).
        board = replace(board, supply_volts=rng.uniform(4.9, 5.1))
    shot = sweep(rng, pedal, board, 10)
    middle = 0.0
    if name == "warms":
        # Rest and full rise together by up to 10 mV while the sweep lasts.
        by = rng.uniform(-0.002, 0.002)
        drift = by * shot.time_s / shot.time_s[-1]
        middle = 0.5 * by
        shot = replace(shot, shares=[s + drift for s in shot.shares])
    found = analyse(record(rng, pedal, board, shot))
    held = []
    for column, track in zip("ab", pedal.tracks, strict=True):
        for what, at in (("rest", 0.0), ("full", 1.0)):
            true = NOMINAL * (float(track.share(np.array([at]))[0]) + middle)
            seen = getattr(found.tracks[column], what)
            held.append((f"{name}: {what} within 2 u",
                         bool(abs(seen.value - true) <= 2 * seen.uncertainty)))
    return Held(tuple(held))


def _marks(seed: int) -> Held:
    """Return whether the pooled shift holds its truth where marks are late by seconds."""
    base = bench(seed % 25, None, None)
    rng = np.random.default_rng([32, seed])
    car = draw_car(rng, draw_board(rng, float(rng.choice([100.0, 200.0]))), 6, off=9.0)
    steps = [float(rng.choice([0.0, rng.uniform(0.003, 0.03)])) for _ in range(2)]
    true = []
    for n, track in enumerate(base.pedal.tracks):
        ripple = car.lift[n] - float(np.mean(car.lift[n][car.on])) * car.on
        car.lift[n] = ripple + steps[n] * car.on
        true.append(track.sign * steps[n])
    key_marks(car, rng.uniform(0.0, 4.0), rng.uniform(-1.0, 2.0))
    try:
        found = analyse_key_on(drive(rng, base.pedal, car)[0], sweep=base.found)
    except AnalysisError:
        return Held(())
    return Held(tuple(
        ("marks late: shift in its 95 % interval",
         bool(found.tracks[c].shift.low <= t <= found.tracks[c].shift.high))
        for c, t in zip("ab", true, strict=True)))


def _stray(seed: int) -> Held:
    """Return whether a later stray key-on would pass the start issued from a log with strays."""
    base = bench(seed % 25, None, None)
    rng = np.random.default_rng([33, seed])
    share = float(rng.choice([0.05, 0.1]))
    size, spread = rng.uniform(0.010, 0.040), rng.uniform(0.05, 0.4)
    car = draw_car(rng, draw_board(rng, 100.0), 20, off=4.0, on=6.0)
    n = int(rng.integers(2))
    lifted = 0
    for on in car.on_s:
        if rng.random() < share:
            lifted += 1
            volts = size * (1 + spread * rng.standard_normal())
            car.lift[n] = car.lift[n] + volts * car.during(on + 1.0, on + 2.0)
    if not lifted:
        return Held(())
    found = analyse_key_on(drive(rng, base.pedal, car)[0], sweep=base.found, contactor="closed")
    name = "ab"[n]
    addition = found.car.get(name)
    if addition is None:
        return Held((("strays: no bound issued", True),))
    ahead = found.dead_bands[name].total_volts if name in found.dead_bands else addition.volts
    later = size * (1 + spread * rng.standard_normal(2000))
    # Of the next 100 key-ons, the chance that one passes; stray at `share` of the key-ons.
    passes = 1.0 - (1.0 - share * float(np.mean(later > addition.volts))) ** 100
    beyond = 1.0 - (1.0 - share * float(np.mean(later > ahead))) ** 100
    return Held((("strays: bound passed by one of 100 later key-ons, in over 5 % of cases",
                  addition.basis == "measured" and passes > 0.05),
                 ("strays: start of travel passed so (all of the budget)", beyond > 0.05)))


def judge(job: tuple[str, int]) -> Held:
    """Return what was held in one case."""
    name, seed = job
    work: Callable[[int], Held] = {"marks": _marks, "strays": _stray}.get(
        name, lambda s: _sweep(name, s))
    return work(seed)


def main() -> int:
    """Print the figures and their bars."""
    asked = arguments(__doc__, 100)
    jobs = [(n, s) for s in range(asked.first, asked.first + asked.cases)
            for n in ("bowed", "no supply", "warms", "marks", "strays")]
    held: list[Held] = runner(jobs, judge, asked.workers)  # type: ignore[assignment]
    shares: dict[str, list[bool]] = {}
    for one in held:
        for name, value in one.figures:
            shares.setdefault(name, []).append(value)
    bars = []
    for name, values in sorted(shares.items()):
        share = percent(values)
        # Three standard errors either way of the bar are chance.
        chance = 300.0 * float(np.sqrt(0.05 * 0.95 / len(values)))
        if "within" in name or "interval" in name:
            bars.append((f"{name} ({len(values)}), %", share, "93 to 98",
                         93.0 - chance <= share))
        else:
            bars.append((f"{name} ({len(values)}), %", share, "none set", True))
    return finish(bars)


if __name__ == "__main__":
    sys.exit(main())

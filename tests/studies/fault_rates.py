"""Measure how often each fault is found, against how bad it is, and what else is reported.

    python tests/studies/fault_rates.py               30 pedals in each cell
    python tests/studies/fault_rates.py --pedals 5    quick
    python tests/studies/fault_rates.py --kind noise  one kind, with what went wrong
    python tests/studies/fault_rates.py --generator second   the other, differently built generator

A random sound pedal (analysis.simulation) is given one fault. "found" is the share of pedals in
which that fault was reported, of its kind, on its channel, at its time and travel. "others" is
the number of reports per pedal that name something else. Severity 0 shows false alarms.
"""

import argparse
import sys
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from random_pedals import random_pedal

from analysis.model.errors import AnalysisError
from analysis.pedal.findings import Findings, analyse
from analysis.simulation import (
    Dropout,
    FlatSpot,
    Pedal,
    Slip,
    StuckReturn,
    Truth,
    WornSpot,
    simulate_sweep,
)
from bench.wording.face import TERMINAL
from bench.wording.faults import fault_words

sys.path.insert(0, str(Path(__file__).parent))

# How far a report may lie from the truth: seconds, and % of travel.
NEAR_S, NEAR_PERCENT = 0.1, 4.0


@dataclass(frozen=True)
class Kind:
    """Hold one kind of fault: its severities in a unit, and how a pedal is given it."""

    name: str
    unit: str
    severities: tuple[float, ...]
    give: Callable[[Pedal, float, np.random.Generator], Pedal]


def _track(rng: np.random.Generator) -> int:
    return int(rng.integers(2))


def _slipped(pedal: Pedal, size: float, rng: np.random.Generator) -> Pedal:
    sign = float(rng.choice([-1.0, 1.0]))
    return replace(pedal, slips=(Slip(_track(rng), float(rng.uniform(15, 35)), sign * size),))


def _sagging(pedal: Pedal, size: float, rng: np.random.Generator) -> Pedal:
    return replace(pedal, supply=replace(
        pedal.supply, sag_volts=size, sag_at_s=float(rng.uniform(10, 25)), sag_seconds=4.0))


KINDS = (
    Kind("dropout", "samples, to a rail or floating", (0, 1, 2, 3, 5, 10),
         lambda p, n, rng: replace(p, dropouts=(Dropout(
             _track(rng), n, float(rng.uniform(10, 90)), None,
             str(rng.choice(["low", "high", "floating"])), 0.5),))),
    Kind("noise", "mV rms over 4 % of travel", (0, 3, 6, 12, 25, 50),
         lambda p, mv, rng: replace(p, worn_spots=(
             WornSpot(_track(rng), float(rng.uniform(6, 90)), 4.0, mv / 1000),))),
    Kind("flat spot", "% of travel", (0, 1, 2, 3, 5, 8),
         lambda p, width, rng: replace(p, flat_spots=(
             FlatSpot(_track(rng), float(rng.uniform(10, 85)), width),))),
    Kind("step", "% of travel", (0, 1, 2, 3, 5, 10), _slipped),
    Kind("no return", "% of travel", (0, 1.5, 3, 5, 10, 30),
         lambda p, at, rng: replace(p, stuck_returns=(StuckReturn(int(rng.integers(1, 4)), at),))),
    Kind("slow return", "s", (0.3, 0.8, 1.3, 1.6, 2.5, 4.0),
         lambda p, seconds, rng: replace(p, slow_return_s=seconds)),
    Kind("supply sag", "V for 4 s", (0, 0.1, 0.2, 0.4, 0.8, 1.5), _sagging),
)


# What the second generator can do to a pedal; severities as above.
SECOND = ("noise", "flat spot", "step", "no return", "slow return")


def applied(kind: Kind, size: float, seed: int, second: bool = False) -> tuple[
        Findings | None, Truth, str]:
    """Return findings (None when refused), truth and a label of one pedal with one fault."""
    if second:
        from second_pedal import Harm, random_sweep

        recording, truth = random_sweep(seed, harm=Harm(kind.name, size) if size > 0 else None)
        label = f"{kind.name} {size:g}, second {seed} ({recording.board_name})"
        try:
            return analyse(recording), truth, label
        except AnalysisError as error:
            return None, truth, f"{label}: refused, {error}"
    rng = np.random.default_rng([4711, seed])
    pedal, bench = random_pedal(rng)
    if size > 0 or kind.name == "slow return":
        amount = (size + 0.3) / bench.rate_hz if kind.name == "dropout" else size
        pedal = kind.give(pedal, amount, rng)
    made = simulate_sweep(pedal, bench.rate_hz, motion=bench.motion, converter=bench.converter,
                          seed=seed)
    label = f"{kind.name} {size:g}, pedal {seed} ({bench.converter.bits} bit)"
    try:
        return analyse(made.recording), made.truth, label
    except AnalysisError as error:
        return None, made.truth, f"{label}: refused, {error}"


def matches(report: object, true: object, kind: str) -> bool:
    """Return whether a report names this true fault."""
    if report.kind != kind or report.channel not in (true.channel, None):
        return False
    if kind in ("noise", "flat spot"):
        return abs(report.travel_percent - true.travel_percent) <= NEAR_PERCENT
    return report.time_s <= true.end_s + NEAR_S and report.end_s >= true.time_s - NEAR_S


def cell(
    kind: Kind, size: float, pedals: int, first: int, second: bool = False,
) -> tuple[float, float, list[str]]:
    """Return share found (%), other reports per pedal, and a line on each of them."""
    found = cases = others = 0
    lines: list[str] = []
    for seed in range(first, first + pedals):
        findings, truth, label = applied(kind, size, seed, second)
        true = [t for t in truth.faults if t.kind == kind.name and np.isfinite(t.time_s)]
        cases += len(true)
        reports = () if findings is None else findings.faults
        if findings is None:
            lines.append(label)
        for one in true:
            if any(matches(r, one, kind.name) for r in reports):
                found += 1
            elif size > 0:
                lines.append(f"{label}: missed on {one.channel} at {one.time_s:.2f} s, "
                             f"{one.travel_percent:.1f} %")
        for report in reports:
            if not any(matches(report, t, t.kind) for t in truth.faults):
                others += 1
                lines.append(f"{label}: also {report.kind} on {report.channel} at "
                             f"{report.time_s:.2f} s, {report.travel_percent:.1f} %: "
                             f"{fault_words(report.why, TERMINAL)}")
    return (100.0 * found / cases if cases else float("nan")), others / pedals, lines


def main() -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--pedals", type=int, default=30)
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--kind", choices=[k.name for k in KINDS])
    parser.add_argument("--generator", choices=["first", "second"], default="first")
    parser.add_argument("--details", type=int, default=12)
    call = parser.parse_args()
    print(f"{'fault':12s} {'severity':38s} {'found':>7s} {'others per pedal':>17s}")
    for kind in KINDS:
        second = call.generator == "second"
        if call.kind not in (None, kind.name) or (second and kind.name not in SECOND):
            continue
        wrong: list[str] = []
        for size in kind.severities:
            share, others, lines = cell(kind, size, call.pedals, call.first_seed, second)
            print(f"{kind.name:12s} {f'{size:g} {kind.unit}':38s} {share:6.1f}% {others:17.2f}")
            wrong += lines
        if call.kind:
            tally = Counter(line.split(": ", 1)[1].split(" at ")[0] for line in wrong)
            print("\n".join(f"  {n:4d} x {what}" for what, n in tally.most_common()))
            print("\n".join(f"  {line}" for line in wrong[:call.details]))
    return 0


if __name__ == "__main__":
    sys.exit(main())

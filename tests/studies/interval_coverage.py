"""Measure how far every number of the findings is off, and whether its uncertainty is honest.

    python tests/studies/interval_coverage.py  500 pedals of the first generator
    python tests/studies/interval_coverage.py --generator second

"within 2 u" is the share of pedals in which the truth lies within two standard uncertainties:
95 % when the uncertainty is honest (JCGM 100:2008, G.3, normal), more when it is cautious.
"""

import argparse
import sys
from collections import defaultdict
from pathlib import Path
from typing import Any

import numpy as np

from analysis.model.estimate import Estimate
from analysis.pedal.findings import Findings, analyse

sys.path.insert(0, str(Path(__file__).parent))

from pedal_accuracy import GENERATORS

Rows = dict[str, list[tuple[float, float]]]


def add(rows: Rows, name: str, estimate: Estimate | float, true: float, unit: float = 1.0) -> None:
    """Add one error and its uncertainty (NaN where none is stated), both over `unit`."""
    if not np.isfinite(true):
        return
    if isinstance(estimate, Estimate):
        rows[name].append(((estimate.value - true) / unit, estimate.uncertainty / unit))
    else:
        rows[name].append(((estimate - true) / unit, float("nan")))


def compare(found: Findings, truth: Any, rows: Rows) -> None:
    """Add every number of one pedal."""
    for column, true in truth.tracks.items():
        track = found.tracks[column]
        percent = true.span_volts / 100.0
        add(rows, "rest against these returns, % of span", track.rest, true.rest_volts, percent)
        usual = getattr(true, "usual_rest_volts", None)
        if usual is not None:
            add(rows, "rest against endless returns, % of span", track.rest, usual, percent)
            add(rows, "scatter of returns, relative", track.rest_scatter,
                true.rest_scatter_volts, true.rest_scatter_volts)
            add(rows, "noise at rest, relative", track.noise_volts, true.noise_volts,
                true.noise_volts)
            add(rows, "drift of rest, % of span a minute", track.drift_volts_per_minute, 0.0,
                percent)
        add(rows, "full travel, % of span", track.full, true.full_volts, percent)
        add(rows, "span, % of span", Estimate(abs(track.span.value), track.span.uncertainty),
            true.span_volts, percent)
    pair = found.pair
    if pair is None:
        return
    second = list(truth.tracks.values())[1]
    # Of bent elements the line is not the one between the ends.
    gain, offset = getattr(truth, "line", (truth.gain, truth.offset_volts))
    add(rows, "gain of the line, %", pair.gain, gain, abs(gain) / 100.0)
    add(rows, "offset of the line, % of second span", pair.offset_volts, offset,
        second.span_volts / 100.0)
    add(rows, "worst mismatch, % of travel", pair.mismatch_max_percent,
        truth.mismatch_max_percent)
    play = getattr(truth, "play_percent", None)
    if play is not None:
        add(rows, "play, % of travel", pair.play_percent, play)


def table(rows: Rows) -> str:
    """Return error and coverage of every number as text."""
    lines = [f"{'number':42s} {'cases':>6s} {'mean':>8s} {'median|e|':>9s} {'95 %|e|':>8s} "
             f"{'largest':>8s} {'median u':>8s} {'within 2 u':>10s}"]
    for name, pairs in rows.items():
        error, u = np.array(pairs).T
        known = np.isfinite(u)
        inside = 100 * np.mean(np.abs(error[known]) <= 2 * u[known]) if known.any() else np.nan
        size = np.abs(error)
        lines.append(
            f"{name:42s} {size.size:6d} {np.mean(error):+8.3f} {np.median(size):9.3f} "
            f"{np.quantile(size, 0.95):8.3f} {size.max():8.3f} "
            f"{np.median(u[known]) if known.any() else np.nan:8.3f} {inside:9.1f}%")
    return "\n".join(lines)


def main() -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--pedals", type=int, default=500)
    parser.add_argument("--generator", choices=sorted(GENERATORS), default="first")
    parser.add_argument("--lost", action="store_true", help="with lost contacts")
    call = parser.parse_args()
    rows: Rows = defaultdict(list)
    for seed in range(call.pedals):
        recording, truth = GENERATORS[call.generator](seed, call.lost)
        compare(analyse(recording), truth, rows)
    print(table(rows))
    return 0


if __name__ == "__main__":
    sys.exit(main())

"""Check predicted rates of noise crossings against long simulations, and print both.

    python tests/studies/key_on_crossing_rates.py  # 3 kinds x 20 logs of 10 min, 20 h observed
"""

import argparse
import sys

import numpy as np

from analysis.key_on import analyse_key_on
from analysis.key_on.results import Proof
from analysis.model.recording import Channel, Recording
from analysis.pedal.settings import Setting

RATE_HZ = 1000.0
REST = 0.7
SIGMA = 0.002
# (kind, level in sigmas): 10 to a few hundred crossings per hour, so that hours suffice.
KINDS = {"Gaussian": 4.5, "coloured": 4.2, "bursts": 9.0}


def noise(kind: str, seconds: float, rng: np.random.Generator) -> np.ndarray:
    """Return noise in volts: white, remembered for 20 ms, or with bursts five times as strong.

    Bursts come 6 times a minute (Poisson), last 50 ms on average (exponential) and fade
    linearly, so no share of them is one Gaussian.
    """
    n = round(seconds * RATE_HZ)
    if kind == "coloured":
        from scipy.signal import lfilter

        keep = np.exp(-1.0 / (0.02 * RATE_HZ))
        drive = rng.normal(0.0, SIGMA * np.sqrt(1.0 - keep**2), n)
        return lfilter([1.0], [1.0, -keep], drive)
    values = rng.normal(0.0, SIGMA, n)
    if kind == "bursts":
        for start in rng.integers(0, n, rng.poisson(0.1 * seconds)):
            length = max(2, round(float(rng.exponential(0.05)) * RATE_HZ))
            piece = values[start:start + length]
            piece += rng.normal(0.0, 5.0 * SIGMA, piece.size) * np.linspace(
                1.0, 0.3, length)[:piece.size]
    return values


def proof_of(kind: str, seconds: float, seed: int, sigmas: float | None = None) -> Proof:
    """Return the proof from one log of that kind, one key-on after five seconds of rest."""
    rng = np.random.default_rng([11, seed])
    values = REST + noise(kind, seconds + 5.0, rng)
    n = values.size
    times = np.arange(n) / RATE_HZ
    key = np.where(times >= 5.0, 12.0, 0.0)
    recording = Recording(
        times, (Channel("a", "track", values, "V"), Channel("key", "key", key, "V")),
        purpose="key-on", rate_hz=RATE_HZ)
    level = REST + SIGMA * (KINDS[kind] if sigmas is None else sigmas)
    found = analyse_key_on(recording, settings=[Setting("start_of_travel", "a", level, "V", "")])
    return found.proofs["a"]


def observed(kind: str, hours: float, seed: int) -> tuple[float, float, int]:
    """Return upward crossings and events (a second apart) per 1000 h of that many hours, and

    the number of crossings counted.
    """
    rng = np.random.default_rng([13, seed])
    level = SIGMA * KINDS[kind]
    count, events, done = 0, 0, 0.0
    while done < hours - 1e-9:
        piece = min(0.5, hours - done)
        values = noise(kind, piece * 3600.0, rng)
        above = values >= level
        rows = np.flatnonzero(above[1:] & ~above[:-1])
        count += rows.size
        events += int(rows.size > 0) + int(np.count_nonzero(np.diff(rows) > RATE_HZ))
        done += piece
    return 1000.0 * count / hours, 1000.0 * events / hours, count


def main() -> int:
    """Print predicted and observed rates; exit status 1 when too few intervals hold the rate."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--logs", type=int, default=20)
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--hours", type=float, default=20.0)
    arguments = parser.parse_args()
    missed = False
    for kind in KINDS:
        rate, events, count = observed(kind, arguments.hours, 1)
        proofs = [proof_of(kind, 60.0 * arguments.minutes, s) for s in range(arguments.logs)]
        told = [p for p in proofs if p.enough]
        inside = sum(p.rate.low <= rate <= p.rate.high for p in told)
        bounded = sum(events <= p.free_bound_per_1000_h for p in proofs)
        middle = [float(np.median([getattr(p.rate, n) for p in told]))
                  for n in ("low", "value", "high")]
        print(f"{kind}: {count} crossings in {arguments.hours:g} h = {rate:.0f} per 1000 h, "
              f"{events:.0f} events; predicted (medians) {middle[1]:.0f} "
              f"({middle[0]:.0f} to {middle[2]:.0f}); observed within the interval of {inside} of "
              f"{len(told)} logs ({len(proofs)} made), events below the free bound of {bounded}")
        missed |= len(told) < 0.9 * len(proofs) or inside < 0.85 * len(told)
    return int(missed)


if __name__ == "__main__":
    sys.exit(main())

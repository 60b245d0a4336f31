"""Simulate the factors of the bound that does not lean on normal scatter, and write their table.

`python tests/studies/make_bound_table.py` rewrites analysis/statistics/bound_table.py (about a
minute). For each law, sample sizes n: c such that max + c S holds all of m later values but for a
risk r; the risk of one sample, 1 - F(bound)^m, is exact, so only the sample is drawn. S is the root
mean fourth power of the distances d from the median, times sqrt(U/L), U and L the root sums of the
squares of those above and below it, U/L at most 2. Each set of laws keeps the worst of its laws.
"""

import argparse
import sys
from pathlib import Path

import numpy as np
from scipy import stats

RETURNS = (3, 4, 5, 6, 7, 8, 10, 12, 15, 20, 25, 30, 40, 60, 100, 200)
LATER = (1, 10, 30, 100, 300, 1000, 10_000, 1_000_000)
RISKS = (0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.0005, 0.0001)
LAWS = {"stick": {"normal": stats.norm(), "Student 5": stats.t(5), "gamma 2": stats.gamma(2),
                  "exponential": stats.expon()},
        "wide": {"Student 3": stats.t(3), "lognormal": stats.lognorm(1.0),
                 "Weibull 0.7": stats.weibull_min(0.7)}}
FACTORS = np.geomspace(0.004, 3e6, 260)
OUT = Path(__file__).parents[2] / "analysis" / "statistics" / "bound_table.py"


def ends(law, returns: int, samples: int, dice: np.random.Generator) -> tuple:
    """Return largest and S of so many samples, each shape (samples,)."""
    tops, scales = [], []
    for _ in range(10):
        drawn = law.rvs(size=(samples // 10, returns), random_state=dice)
        off = drawn - np.median(drawn, axis=1)[:, None]
        above = np.sum(np.where(off > 0, off, 0) ** 2, axis=1)
        below = np.sum(np.where(off < 0, off, 0) ** 2, axis=1)
        tops.append(drawn.max(axis=1))
        scales.append(np.mean(off**4, axis=1) ** 0.25 * np.minimum(above / below, 4.0) ** 0.25)
    return np.concatenate(tops), np.concatenate(scales)


def tail_of(law):
    """Return the logarithm of the law's upper tail as a quick function, by a fine grid."""
    logs = -np.concatenate([np.linspace(1e-9, 2, 400), np.geomspace(2.001, 600, 4000)])
    x = law.isf(np.exp(logs))
    good = np.isfinite(x)
    return lambda at: np.interp(at, x[good], logs[good], left=0.0)


def risks(law, returns: int, samples: int, dice: np.random.Generator) -> np.ndarray:
    """Return the risk, shape (len(LATER), len(FACTORS))."""
    top, scale = ends(law, returns, samples, dice)
    tail = tail_of(law)
    result = np.empty((len(LATER), FACTORS.size))
    for k, factor in enumerate(FACTORS):
        beyond = np.exp(tail(top + factor * scale))
        inside = np.log1p(-np.minimum(beyond, 1 - 1e-12))
        for j, later in enumerate(LATER):
            result[j, k] = -np.mean(np.expm1(later * inside))
    return result


def factor_at(risk: np.ndarray, goal: float) -> float:
    """Return the factor at which a falling risk meets the goal; 0 when it always does."""
    if risk[0] <= goal:
        return 0.0
    return float(np.exp(np.interp(-np.log(goal), -np.log(np.maximum(risk, 1e-300)),
                                  np.log(FACTORS))))


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--samples", type=int, default=40_000)
    args = parser.parse_args(argv)
    worst: dict[str, np.ndarray] = {}
    before = np.zeros((len(RETURNS), len(LATER), len(RISKS)))
    for name, laws in LAWS.items():
        table = before.copy()
        for i, returns in enumerate(RETURNS):
            for number, law in enumerate(laws.values()):
                dice = np.random.default_rng([16, returns, number])
                risk = risks(law, returns, args.samples, dice)
                for j in range(len(LATER)):
                    for k, goal in enumerate(RISKS):
                        table[i, j, k] = max(table[i, j, k], factor_at(risk[j], goal))
        worst[name] = before = table
    OUT.write_text(as_module(worst), encoding="utf-8")
    return 0


def as_module(worst: dict[str, np.ndarray]) -> str:
    lines = ['"""Factors of the bound that does not lean on normal scatter: written, not typed.',
             "", "Rewrite with `python tests/studies/make_bound_table.py`, which says how they are "
             "made. By set of", 'laws: RETURNS x LATER rows of RISKS.', '"""', "",
             f"RETURNS = {RETURNS}", f"LATER = {LATER}", f"RISKS = {RISKS}"]
    for name, table in worst.items():
        lines += [f"{name.upper()} = ("]
        for block in table:
            lines += ["    (" + ", ".join(f"{v:.4g}" for v in block[0]) + ","]
            lines += ["     " + ", ".join(f"{v:.4g}" for v in row) + "," for row in block[1:]]
            lines[-1] = lines[-1][:-1] + "),"
        lines += [")"]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

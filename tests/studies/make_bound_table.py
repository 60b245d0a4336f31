"""Simulate the factors of the bound that does not lean on normal scatter, and write their table.

`python tests/studies/make_bound_table.py` rewrites analysis/statistics/bound_table.py (about two
minutes). For each law and sample size n: c such that max + c S holds all of m later values but for
a risk r; the risk of one sample, 1 - F(bound)^m, is exact, so only the sample is drawn. With d the
distances from the median, M2 and M4 the roots of the means of their squares and fourth powers, s
the standard deviation, S = M4 sqrt(M4/M2) (s/(mean - least))^0.7. Each set of laws keeps the worst
of its laws. _REACH is the same for a tolerance bound: c such that max + c S lies above the 95 %
quantile of the law with so much confidence, 0 where the largest does so by itself.
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
COVERAGE = 0.95
SURE = (0.5, 0.8, 0.9, 0.95, 0.98, 0.99, 0.995, 0.998, 0.9995)
FACTORS = np.geomspace(0.004, 3e6, 260)
OUT = Path(__file__).parents[2] / "analysis" / "statistics" / "bound_table.py"


def ends(law, returns: int, samples: int, dice: np.random.Generator) -> tuple:
    """Return largest and S of so many samples, each shape (samples,)."""
    tops, scales = [], []
    for _ in range(10):
        drawn = law.rvs(size=(samples // 10, returns), random_state=dice)
        off = drawn - np.median(drawn, axis=1)[:, None]
        square, fourth = np.mean(off**2, axis=1) ** 0.5, np.mean(off**4, axis=1) ** 0.25
        lean = drawn.std(axis=1, ddof=1) / (drawn.mean(axis=1) - drawn.min(axis=1))
        tops.append(drawn.max(axis=1))
        scales.append(fourth * np.sqrt(fourth / square) * lean**0.7)
    return np.concatenate(tops), np.concatenate(scales)


def tail_of(law):
    """Return the logarithm of the law's upper tail as a quick function, by a fine grid."""
    logs = -np.concatenate([np.linspace(1e-9, 2, 400), np.geomspace(2.001, 600, 4000)])
    x = law.isf(np.exp(logs))
    good = np.isfinite(x)
    return lambda at: np.interp(at, x[good], logs[good], left=0.0)


def risks(law, top: np.ndarray, scale: np.ndarray) -> np.ndarray:
    """Return the risk, shape (len(LATER), len(FACTORS))."""
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
    reach: dict[str, np.ndarray] = {}
    before = np.zeros((len(RETURNS), len(LATER), len(RISKS)))
    reach_before = np.zeros((len(RETURNS), len(SURE)))
    for name, laws in LAWS.items():
        table, covers = before.copy(), reach_before.copy()
        for i, returns in enumerate(RETURNS):
            for number, law in enumerate(laws.values()):
                top, scale = ends(law, returns, args.samples,
                                  np.random.default_rng([16, returns, number]))
                risk = risks(law, top, scale)
                for j in range(len(LATER)):
                    for k, goal in enumerate(RISKS):
                        table[i, j, k] = max(table[i, j, k], factor_at(risk[j], goal))
                covers[i] = np.maximum(covers[i], np.quantile(
                    (law.ppf(COVERAGE) - top) / scale, SURE))
        worst[name] = before = table
        reach[name] = reach_before = covers
    OUT.write_text(as_module(worst, reach), encoding="utf-8")
    return 0


def as_module(worst: dict[str, np.ndarray], reach: dict[str, np.ndarray]) -> str:
    lines = ['"""Factors of the bound that does not lean on normal scatter: written, not typed.',
             "", "Rewrite with `python tests/studies/make_bound_table.py`, which says how they are "
             "made. By set of", "laws: RETURNS x LATER rows of RISKS; _REACH: RETURNS rows of "
             "SURE.", '"""', "", f"RETURNS = {RETURNS}", f"LATER = {LATER}", f"RISKS = {RISKS}",
             f"SURE = {SURE}"]
    for name, table in worst.items():
        lines += [f"{name.upper()} = ("]
        for block in table:
            lines += ["    (" + ", ".join(f"{v:.4g}" for v in block[0]) + ","]
            lines += ["     " + ", ".join(f"{v:.4g}" for v in row) + "," for row in block[1:]]
            lines[-1] = lines[-1][:-1] + "),"
        lines += [")", f"{name.upper()}_REACH = ("]
        lines += ["    (" + ", ".join(f"{v:.4g}" for v in row) + ")," for row in reach[name]]
        lines += [")"]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

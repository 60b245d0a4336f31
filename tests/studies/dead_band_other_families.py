"""Other ways in which a pedal may return, for dead_band_families.py --others.

No limit of the analysis was chosen on these. Same form as there: draw(dice, returns, later) gives
lifts in units of the pedal's scatter, shapes (returns,) and (TIMES, later).
"""

import numpy as np

TIMES = 20


def first_order(low, high):
    """Return sequences of one correlation each, drawn between the two; later ones begin afresh."""
    def draw(dice, n, m):
        rho = dice.uniform(low, high)

        def run(count):
            x = dice.standard_normal(count) * np.sqrt(1.0 - rho * rho)
            x[0] /= np.sqrt(1.0 - rho * rho)
            for k in range(1, count):
                x[k] += rho * x[k - 1]
            return x
        return run(n), np.array([run(m) for _ in range(TIMES)])
    return draw


def moving_average(length):
    """Return sums of so many neighbouring normal values."""
    def draw(dice, n, m):
        def run(count):
            return np.convolve(dice.standard_normal(count + length - 1),
                               np.full(length, length**-0.5), "valid")
        return run(n), np.array([run(m) for _ in range(TIMES)])
    return draw


def stays_caught(share, low=2.0, high=30.0, base="normal"):
    """Return catches at one place of `low` to `high` scatters, each as often as `share`."""
    def draw(dice, n, m):
        height = np.exp(dice.uniform(np.log(low), np.log(high)))
        spread = dice.uniform(0.2, 2.0)

        def run(size):
            caught = dice.random(size) < share
            usual = (dice.standard_normal(size) if base == "normal" else
                     dice.uniform(-1.7, 1.7, size) if base == "flat" else
                     dice.standard_gamma(4.0, size) / 2.0)
            return np.where(caught, height + spread * dice.standard_normal(size), usual)
        return run(n), run((TIMES, m))
    return draw


def two_catches(share):
    """Return catches at two places, the nearer one twice as often."""
    def draw(dice, n, m):
        near = dice.uniform(4.0, 12.0)
        far = near * dice.uniform(1.5, 3.0)

        def run(size):
            which = dice.random(size)
            at = np.where(which < share / 3, far, np.where(which < share, near, 0.0))
            return at + dice.standard_normal(size)
        return run(n), run((TIMES, m))
    return draw


def half_stuck(dice, n, m):
    """Return normal scatter with the size of friction on one side: a folded normal."""
    return np.abs(dice.standard_normal(n)), np.abs(dice.standard_normal((TIMES, m)))


def law_of(draw_one):
    return lambda dice, n, m: (draw_one(dice, n), draw_one(dice, (TIMES, m)))


def creeps_off(dice, n, m):
    """Return a rest that rises ever slower, as warming does, and goes on doing so."""
    rise, pace = dice.uniform(3.0, 15.0), dice.uniform(10.0, 60.0)
    k = np.arange(n + m)
    path = rise * (1.0 - np.exp(-k / pace))
    return path[:n] + dice.standard_normal(n), path[n:] + dice.standard_normal((TIMES, m))


OTHERS = (
    ("correlated 0.5 to 0.7", first_order(0.5, 0.7)),
    ("correlated 0.7 to 0.9", first_order(0.7, 0.9)),
    ("correlated 0.9 to 0.95", first_order(0.9, 0.95)),
    ("correlated 0.7 to 0.95, 30 returns", first_order(0.7, 0.95), 30),
    ("mean of 3 neighbours", moving_average(3)),
    ("mean of 8 neighbours", moving_average(8)),
    ("catch 1 in 5, 2 to 30", stays_caught(0.2)),
    ("catch 1 in 5, 5 to 30", stays_caught(0.2, 5.0)),
    ("catch 1 in 3, 2 to 30", stays_caught(1 / 3)),
    ("catch 1 in 10, 2 to 30, 30 returns", stays_caught(0.1), 30),
    ("catch 1 in 5, flat scatter", stays_caught(0.2, 5.0, 30.0, "flat")),
    ("catch 1 in 5, gamma 4 scatter", stays_caught(0.2, 5.0, 30.0, "gamma")),
    ("two catches, 1 in 4", two_catches(0.25)),
    ("folded normal", half_stuck),
    ("gamma 4", law_of(lambda d, s: d.standard_gamma(4.0, s))),
    ("Student 8", law_of(lambda d, s: d.standard_t(8.0, s))),
    ("Laplace", law_of(lambda d, s: d.laplace(size=s))),
    ("logistic", law_of(lambda d, s: d.logistic(size=s))),
    ("Gumbel", law_of(lambda d, s: d.gumbel(size=s))),
    ("lognormal 0.5", law_of(lambda d, s: d.lognormal(0.0, 0.5, s))),
    ("rest that rises ever slower", creeps_off),
)

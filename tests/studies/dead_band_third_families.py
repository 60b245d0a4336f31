"""A third kind of world for dead_band_families.py --third: friction, springs and a mat.

Held back: no limit of the analysis was chosen on these; they were run once, when it was done. The
pedal is a spring against friction and what is caught in it, not a law: where it stops is worked out
from forces. Same form as there: draw(dice, returns, later) gives lifts in units of the pedal's
scatter (that of its quiet returns, measured on 400 of them), shapes (returns,) and (TIMES, later).
"""

import numpy as np

TIMES = 20


def scaled(world):
    """Return draws of a world's returns over the scatter of its own quiet ones."""
    def draw(dice, n, m):
        pedal = world(dice)
        quiet = pedal(dice, 400, True)
        unit = max(float(np.std(quiet)), 1e-9)
        return (pedal(dice, n, False) / unit,
                np.array([pedal(dice, m, False) for _ in range(TIMES)]) / unit)
    return draw


def spring(dice, count, grip, wear):
    """Return where a spring lets go: it slides until its pull is below friction, which varies with
    the spot it stops on and with how fast it came."""
    speed = np.exp(0.15 * dice.standard_normal(count))
    friction = grip * (1.0 + wear * dice.uniform(-1.0, 1.0, count)) / speed
    return friction + 0.15 * grip * dice.standard_normal(count)


def plain(dice):
    grip, wear = 1.0, dice.uniform(0.1, 0.4)
    return lambda d, count, quiet: spring(d, count, grip, wear)


def sticky(dice):
    """Grease that thickens: friction is a product of several small causes, most returns low."""
    causes = int(dice.integers(2, 5))
    return lambda d, count, quiet: np.prod(
        d.uniform(0.4, 1.6, (causes, count)), axis=0) + 0.1 * d.standard_normal(count)


def one_sided(dice):
    """The pedal rests on its stop; only now and then, and by little, does it stay off it."""
    return lambda d, count, quiet: np.maximum(
        0.0, d.standard_normal(count)) + 0.15 * d.standard_normal(count)


def tired(dice):
    """Wear that wanders slowly: friction follows a walk that is drawn back to its middle."""
    back = dice.uniform(0.05, 0.3)

    def pedal(d, count, quiet):
        at, path = d.standard_normal() / np.sqrt(1 - (1 - back) ** 2), []
        for _ in range(count):
            at = (1 - back) * at + d.standard_normal()
            path.append(at)
        return np.array(path) + 0.3 * d.standard_normal(count)
    return pedal


def mat(share, least, most, seen_together):
    """The edge of a mat holds the lever off by a height of its own; it may do so in runs."""
    def world(dice):
        height = dice.uniform(least, most)

        def pedal(d, count, quiet):
            base = spring(d, count, 1.0, 0.25)
            if quiet:
                return base
            caught = d.random(count) < share
            if seen_together:
                # Once under the lever it stays there for the next press half of the times.
                state, caught = d.random() < share, np.zeros(count, bool)
                for k in range(count):
                    state = d.random() < (0.5 if state else share * 0.5 / (1 - share))
                    caught[k] = state
            unit = 0.25 * 0.6 + 0.15
            return base + caught * unit * height * (1 + 0.1 * d.standard_normal(count))
        return pedal
    return world


def warms_up(dice):
    """Rest rises towards a warm level as 1 - exp, seen from cold, and goes on to the same level."""
    def draw(d, n, m):
        rise, pace = d.uniform(2.0, 10.0), d.uniform(3.0, 10.0)
        k = np.arange(n)
        return (rise * (1 - np.exp(-k / pace)) + d.standard_normal(n),
                rise * d.uniform(0.0, 1.0, (TIMES, m)) + d.standard_normal((TIMES, m)))
    return draw


def creeping(dice, n, m):
    """Each press leaves the stop a little further out, by steps of its own size."""
    step = dice.uniform(0.5, 2.0)
    path = np.cumsum(step * dice.uniform(0.0, 2.0, n + m))
    return path[:n] + dice.standard_normal(n), path[n:] + dice.standard_normal((TIMES, m))


THIRD = (
    ("spring and friction", scaled(plain)),
    ("spring and friction, 20 returns", scaled(plain), 20),
    ("thick grease", scaled(sticky)),
    ("thick grease, 5 returns", scaled(sticky), 5),
    ("rests on its stop", scaled(one_sided)),
    ("friction that wanders", scaled(tired)),
    ("mat 1 in 5, 4 to 25 scatters", scaled(mat(0.2, 4.0, 25.0, False))),
    ("mat 1 in 5, in runs", scaled(mat(0.2, 4.0, 25.0, True))),
    ("mat 1 in 10, 30 returns", scaled(mat(0.1, 4.0, 25.0, False)), 30),
    ("warms up from cold", warms_up(None)),
    ("creeps by steps of its own", creeping),
)

"""Tell catches from pedals that only stick: how often 13 returns show one, and 31 still do.

    python tests/studies/catch_or_sticking.py    (half a minute)

Of each kind of pedal, the share in which a catch is found among 13 returns, and of those the share
in which one is still found when 18 more are added.
"""

import argparse
import sys

import numpy as np

from analysis.statistics.resting_places import find_catch


def caught(share, low, high):
    def draw(dice, count):
        height = dice.uniform(low, high)
        return dice.standard_normal(count) + height * (dice.random(count) < share)
    return draw


KINDS = {
    "normal": lambda dice, n: dice.standard_normal(n),
    "Student 5": lambda dice, n: dice.standard_t(5, n),
    "gamma 2": lambda dice, n: dice.gamma(2.0, size=n),
    "exponential": lambda dice, n: dice.exponential(size=n),
    "catch 1 in 5, 3 to 20 scatters": caught(0.2, 3.0, 20.0),
    "catch 1 in 10, 3 to 20 scatters": caught(0.1, 3.0, 20.0),
}


def main(argv):
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pedals", type=int, default=2000)
    args = parser.parse_args(argv)
    for name, draw in KINDS.items():
        dice, few, many = np.random.default_rng(21), 0, 0
        for _ in range(args.pedals):
            x = draw(dice, 31)
            if find_catch(x[:13]) is not None:
                few += 1
                many += find_catch(x) is not None
        print(f"{name:34s} at 13: {100 * few / args.pedals:5.1f} %, of those still at 31: "
              f"{100 * many / max(few, 1):5.1f} %", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

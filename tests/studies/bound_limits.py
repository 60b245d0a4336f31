"""How low a bound on later returns can go that holds four laws, and what two looks do to its risk.

    python tests/studies/bound_limits.py --returns 20 --samples 600    (one to two minutes)

Costs are medians over the oracle of the law, 100 later returns, the worst law at 4.9 %. The least
cost for a normal pedal of any bound that follows place and scale is Neyman and Pearson's: by
sample, the level at which what it costs under the normal law outweighs what it saves in risk under
the others, each sample weighed by its likelihood with place and scale integrated out.
"""

import argparse
import sys

import numpy as np
from scipy import stats

from analysis.statistics.returns_bound import returns_factor

LATER, RISK = 100, 0.049
LAWS = {"normal": stats.norm(), "Student 5": stats.t(5), "gamma 2": stats.gamma(2),
        "exponential": stats.expon()}
GRID = np.linspace(-12.0, 60.0, 20_001)
SCALES = np.exp(np.linspace(np.log(0.3), np.log(4.0), 26))


def scale(x):
    d = x - np.median(x, axis=1)[:, None]
    square, fourth = np.mean(d**2, axis=1) ** 0.5, np.mean(d**4, axis=1) ** 0.25
    lean = x.std(axis=1, ddof=1) / (x.mean(axis=1) - x.min(axis=1))
    return fourth * np.sqrt(fourth / square) * lean**0.7


def risk(law, bound):
    return -np.expm1(LATER * np.log1p(-np.minimum(law.sf(bound), 1 - 1e-12)))


def over_oracle(law, bound):
    middle = law.median()
    ideal = law.isf(-np.expm1(np.log(0.95) / LATER)) - middle
    return (np.median(bound) - middle) / ideal


def simple(samples):
    """Print what bounds of the form max + c scale cost, c the worst of the laws."""
    scales = {"max - median": lambda x: x.max(axis=1) - np.median(x, axis=1),
              "standard deviation": lambda x: x.std(axis=1, ddof=1), "S": scale}
    for name, of in scales.items():
        low, high = 1e-3, 1e3
        for _ in range(40):
            c = np.sqrt(low * high)
            worst = max(np.mean(risk(law, x.max(axis=1) + c * of(x)))
                        for law, x in zip(LAWS.values(), samples, strict=True))
            low, high = (c, high) if worst > RISK else (low, c)
        costs = [over_oracle(law, x.max(axis=1) + high * of(x))
                 for law, x in zip(LAWS.values(), samples, strict=True)]
        print(f"{name:20s} c {high:6.2f}  " + "  ".join(
            f"{law} {cost:.2f}" for law, cost in zip(LAWS, costs, strict=True)), flush=True)


def look_up(table, z):
    return table[np.clip(((z + 12.0) / 72.0 * 20_000).astype(int), 0, 20_000)]


def weigh(y, number, levels):
    """Return log likelihood, risk at the levels and mean 1/scale of a sample y under a law."""
    if number < 2:  # Symmetric: places about the median.
        places = np.tile(np.linspace(-1.4, 1.4, 25), (SCALES.size, 1))
        steps = np.full(places.shape, 2.8 / 24)
    else:  # With an end below the least value, more finely near it.
        first = (0.02, 0.8, 0.9) if number == 2 else (0.002, 0.3, 0.35)
        below = np.concatenate([np.linspace(*first[:2], 14), np.linspace(first[2], 3.0, 10)])
        places = y[0] - below[None, :] * SCALES[:, None]
        steps = np.gradient(below)[None, :] * SCALES[:, None]
    z = (y[None, None, :] - places[:, :, None]) / SCALES[:, None, None]
    logs = look_up(LOGS[number], z).sum(axis=-1) - y.size * np.log(SCALES)[:, None] + np.log(steps)
    weight = np.exp(logs - logs.max())
    whole = weight.sum()
    passed = np.array([(weight * look_up(PASSED[number], (b - places) / SCALES[:, None])).sum()
                       for b in levels]) / whole
    return np.log(whole) + logs.max(), passed, (weight / SCALES[:, None]).sum() / whole


with np.errstate(divide="ignore"):
    LOGS = [law.logpdf(GRID) for law in LAWS.values()]
PASSED = [1.0 - law.cdf(GRID) ** LATER for law in LAWS.values()]


def least(samples):
    """Print what the least bound for a normal pedal costs it."""
    rows = []
    for number, x in enumerate(samples):
        for one in np.sort(x, axis=1):
            middle = np.median(one)
            size = np.mean(np.abs(one - middle))
            levels = (one[-1] - middle) / size + np.geomspace(0.25, 40.0, 56) - 0.25
            found = [weigh((one - middle) / size, k, levels) for k in range(4)]
            rows.append((number, middle, size, levels, [f[0] for f in found],
                         [f[1] for f in found], found[0][2]))
    number, middle, size, levels, logs, passed, inverse = map(np.array, zip(*rows, strict=True))
    belief = np.exp(logs - logs.max(axis=1, keepdims=True))
    price = np.array([0.0, 20.0, 20.0, 20.0])
    for _ in range(300):
        loss = levels * (belief[:, 0] * inverse)[:, None] + np.einsum(
            "k,ik,ikb->ib", price, belief, passed)
        bound = middle + size * levels[np.arange(len(loss)), loss.argmin(axis=1)]
        risks = np.array([np.mean(risk(law, bound[number == k]))
                          for k, law in enumerate(LAWS.values())])
        price[1:] *= np.exp(np.clip(0.5 * np.log(np.maximum(risks[1:], 1e-4) / RISK), -0.3, 0.3))
        price = np.maximum(price, [0.0, 1e-3, 1e-3, 1e-3])
    print(f"{'least of all bounds':20s} normal "
          f"{over_oracle(LAWS['normal'], bound[number == 0]):.2f}, risks {np.round(risks, 3)}")


def looks(few, many, samples, dice):
    """Print the risk of whoever stops after `few` where that is cheap, at the worst place."""
    for shares in ((1.0, 1.0), (1.0, 0.5), (0.5, 0.5)):
        told = []
        for name, law in LAWS.items():
            x = law.rvs(size=(samples, many), random_state=dice)
            first, second = (
                s.max(axis=1) + returns_factor(s.shape[1], LATER, 1 - share * RISK, "stick")
                * scale(s) for s, share in zip((x[:, :few], x), shares, strict=True))
            cost = first - np.median(x[:, :few], axis=1)
            worst = max(np.mean(np.where(cost <= at, risk(law, first), risk(law, second)))
                        for at in np.quantile(cost, np.linspace(0, 1, 41)))
            told.append(f"{name} {100 * worst:.2f} %")
        print(f"{few} then {many} returns, risk r times {shares}: {', '.join(told)}", flush=True)


def main(argv):
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--returns", type=int, default=20)
    parser.add_argument("--samples", type=int, default=600)
    args = parser.parse_args(argv)
    dice = np.random.default_rng(3)
    samples = [law.rvs(size=(args.samples, args.returns), random_state=dice)
               for law in LAWS.values()]
    simple(samples)
    least(samples)
    looks(13, 31, 20_000, dice)
    looks(5, 23, 20_000, dice)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

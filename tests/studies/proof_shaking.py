"""How often is the loose lead named, and a sound one accused? Pedals made with numpy alone.

    python tests/studies/proof_shaking.py [--pedals 300] [--seed 1]

Half of the pedals have one loose joint: in its signal, supply or ground lead, that lets go
for 1 to 60 ms when it is shaken, now and then when its neighbour is, at one of three places. All
pedals are jogged a little while they are shaken, hum, drift, and are read at 100 to 1000 Hz.
Printed: loose leads named (asked >= 98 %), sound leads accused (asked <= 1 %).
"""

import argparse

import numpy as np

from analysis.model.recording import Channel, Mark, Recording
from analysis.proof.shaken import judge_shaking

LEADS = ("a", "b", "supply", "ground")
PLACES = ("the box", "the plug", "the controller")


def pedal(seed: int) -> tuple[Recording, str | None, str]:
    """Return the log of a pedal that was shaken, its loose lead (None: all hold), and its place."""
    rng = np.random.default_rng(seed)
    rate = float(rng.choice([100, 200, 500, 1000]))
    loose = str(rng.choice(LEADS)) if rng.random() < 0.5 else None
    place = str(rng.choice(PLACES))
    rest = np.array([rng.uniform(0.4, 1.0), rng.uniform(0.5, 1.2)])
    if rng.random() < 0.25:
        rest[1] = 5.0 - rest[1]
    steps = [(lead, where) for lead in LEADS for where in PLACES]
    length = rng.uniform(4.0, 7.0)
    n = int((len(steps) + 0.5) * length * rate)
    t = np.arange(n) / rate
    drift = 0.004 * np.cumsum(rng.normal(0, 1, n)) / np.sqrt(n)
    hum = rng.uniform(0, 0.004) * np.sin(2 * np.pi * 50.3 * t)
    sign = np.array([1.0, -1.0 if rest[1] > 2.5 else 1.0])
    volts = rest[:, None] + drift + hum + rng.normal(0, rng.uniform(0.0005, 0.003), (2, n))
    for _ in range(int(rng.integers(3, 15))):
        at, wide = rng.uniform(1, t[-1] - 1), rng.uniform(0.08, 0.3)
        bump = rng.uniform(0.005, 0.12) * np.exp(-0.5 * ((t - at) / (wide / 3)) ** 2)
        volts += sign[:, None] * bump
    supply = 5.0 + rng.normal(0, 0.001, n)
    if loose is not None:
        events = []
        for number, (lead, where) in enumerate(steps):
            start = number * length + 0.6
            if lead == loose:
                count = rng.integers(3, 9) if where == place else rng.integers(0, 2)
            else:
                count = int(rng.random() < 0.06)
            events += [start + rng.uniform(0, length - 1.2) for _ in range(count)]
        for at in events:
            seconds = max(float(rng.exponential(0.012)), 1.05 / rate)
            rows = (t >= at) & (t < at + min(seconds, 0.06))
            depth = rng.uniform(0.4, 1.0) if rng.random() < 0.3 else 1.0
            for k in range(2):
                if loose in ("a", "b") and loose != "ab"[k]:
                    continue
                to = {"supply": 0.0, "ground": 5.0}.get(loose, float(rng.choice([0.0, 5.0])))
                volts[k, rows] += depth * (to - volts[k, rows])
    codes = np.clip(np.floor(np.vstack([volts, supply]) / 5.5 * 4096), 0, 4095)
    channels = tuple(Channel(name, role, c, "counts", 4096.0, 5.5) for name, role, c in zip(
        ("a", "b", "supply"), ("track", "track", "supply"), codes, strict=True))
    marks = tuple(Mark(int(k * length * rate), f"shake {lead} at {where}")
                  for k, (lead, where) in enumerate(steps))
    return Recording(t, channels, marks, "", "proof", "", rate), loose, place


def main() -> None:
    """Print how many loose leads were named and sound ones accused."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pedals", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    loose, named, placed, accused, sound = 0, 0, 0, 0, 0
    for seed in range(arguments.seed, arguments.seed + arguments.pedals):
        recording, truth, place = pedal(seed)
        found = judge_shaking(recording)
        blamed = [x for x in found.leads if x.state == "loose"]
        loose += truth is not None
        hit = [x for x in blamed if x.lead == truth]
        named += bool(hit)
        placed += bool(hit and hit[0].places and hit[0].places[0] == place)
        wrong = [x for x in blamed if x.lead != truth]
        accused += len(wrong)
        sound += len(LEADS) - (truth is not None)
        if wrong or (truth is not None and not hit):
            print(seed, truth, [(x.lead, x.losses, x.here) for x in blamed],
                  recording.rate_hz, found.unexplained)
    print(f"{loose} loose leads: {named} named ({100 * named / max(loose, 1):.1f} %), place right "
          f"in {100 * placed / max(loose, 1):.1f} %; {accused} of {sound} sound leads accused "
          f"({100 * accused / sound:.2f} %)")


if __name__ == "__main__":
    main()

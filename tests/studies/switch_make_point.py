"""Random pedals, networks and idle switches: how far off is the make point that a sweep tells?

    python tests/studies/switch_make_point.py [--worlds 24] [--seed 1]

Truth is made here with numpy alone: eased presses of a random foot, two straight tracks (or Hall
outputs, or a rheostat's ohms) read through a board's load, white noise, a converter that floors,
and a line that changes where the pedal's own travel passes a place. Told: the largest distance of
any press's make point from that place, in % of travel, by kind of pedal, with or without a load.
"""

import argparse

import numpy as np

from analysis.model.recording import Channel, Recording
from analysis.pedal.findings import analyse

# The pedal is fed a little below the reference that the converter divides.
RATE, SUPPLY, FEED, STEPS = 500.0, 5.0, 4.95, 4096
KINDS = ("potentiometer", "hall", "rheostat")


def eased(share):
    """Return a move from 0 to 1 that sets off and ends softly."""
    return 0.5 - 0.5 * np.cos(np.pi * np.clip(share, 0.0, 1.0))


def travel_of(dice):
    """Return travel, 0 to 1 by row, of eight slow presses and four lift-offs."""
    parts = [np.zeros(int(3 * RATE))]
    for press in range(12):
        down, held = dice.uniform(1.6, 2.6), dice.uniform(0.8, 1.4)
        back = dice.uniform(1.6, 2.6) if press < 8 else 0.12
        for seconds, way in ((down, 1), (held, 0), (back, -1), (2.0, None)):
            n = int(seconds * RATE)
            share = eased(np.arange(n) / n)
            parts.append(share if way == 1 else np.ones(n) if way == 0 else
                         1.0 - share if way == -1 else np.zeros(n))
    return np.concatenate(parts)


def read(dice, volts):
    """Return counts of a 12-bit converter on the supply."""
    noisy = volts + dice.normal(0.0, 6e-4, volts.size)
    return np.clip(np.floor(noisy / SUPPLY * STEPS), 0, STEPS - 1)


def loaded(share, track, load):
    """Return the volts of a wiper under a load to ground: Thevenin's theorem."""
    return FEED * share / (1.0 + track * share * (1.0 - share) / load)


def world(dice, kind, with_load):
    """Return a recording and the travel in % at which its switch changes."""
    travel, place = travel_of(dice), float(np.exp(dice.uniform(np.log(0.6), np.log(40.0))))
    track = float(dice.choice([1e3, 5e3, 10e3]))
    load = float(dice.uniform(90e3, 430e3)) if with_load else np.inf
    if kind == "rheostat":
        rest, full = float(dice.uniform(50, 300)), float(dice.uniform(4000, 5000))
        ohms = rest + (full - rest) * travel
        columns = {"r": FEED * ohms / (ohms + 4700.0)}
    else:
        columns = {}
        for name in "ab":
            rest, full = float(dice.uniform(0.10, 0.22)), float(dice.uniform(0.75, 0.9))
            if name == "b" and dice.random() < 0.3:
                rest, full = full, rest
            share = rest + (full - rest) * travel
            columns[name] = (loaded(share, track, load) if kind == "potentiometer" else
                             FEED * share)
    line = np.where(100.0 * travel > place, 4.98, 0.03) + dice.normal(0.0, 0.005, travel.size)
    channels = [Channel(n, "track", read(dice, v), "counts", STEPS, SUPPLY)
                for n, v in columns.items()]
    channels.append(Channel("supply", "supply", read(dice, np.full(travel.size, FEED)), "counts",
                            STEPS, SUPPLY, nominal_volts=SUPPLY))
    channels.append(Channel("idle", "switch", line, "V", reading_step=0.005))
    return Recording(np.arange(travel.size) / RATE, tuple(channels), purpose="sweep",
                     extra={"pedal_kind": kind}), place


def worst_of(worlds, seed, kind, with_load):
    """Return the largest error of a make point over so many worlds, % of travel."""
    dice, worst = np.random.default_rng(seed), 0.0
    for _ in range(worlds):
        recording, place = world(dice, kind, with_load)
        made = analyse(recording).switches["idle"].press_percent
        assert made.size >= 8, (kind, made.size)
        worst = max(worst, float(np.max(np.abs(made - place))))
    return worst


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--worlds", type=int, default=24)
    asked.add_argument("--seed", type=int, default=1)
    options = asked.parse_args()
    for kind in KINDS:
        for with_load in (False, True) if kind == "potentiometer" else (False,):
            worst = worst_of(options.worlds, options.seed, kind, with_load)
            print(f"{kind}{', loaded with 90 to 430 kohm' if with_load else ''}: worst of "
                  f"{options.worlds} worlds {worst:.2f} % of travel")


if __name__ == "__main__":
    main()

"""Solve random pedals, leads and inputs with ngspice and with the model; print how far they part.

    python tests/studies/circuit_networks.py [--networks 200] [--seed 1]

The netlist is written here from a list of its own; only the drawn values are handed to the model.
Needs `ngspice` (Debian has it).
"""

import argparse
import re
import shutil
import subprocess

import numpy as np

from analysis.circuit.front_end import FrontEnd, Input, Track, readings


def drawn(rng):
    """Return one random network as plain numbers."""
    tracks = int(rng.integers(1, 4))
    some = lambda low, high: float(np.exp(rng.uniform(np.log(low), np.log(high))))  # noqa: E731
    maybe = lambda chance, value, other: value if rng.random() < chance else other  # noqa: E731
    return {
        "supply": float(rng.uniform(3.0, 12.0)),
        "lead": maybe(0.7, some(0.05, 50.0), 0.0),
        "shared": bool(rng.random() < 0.5),
        "tracks": [
            {
                "ohms": some(500.0, 50e3),
                "wiper": float(rng.uniform(0.01, 0.99)),
                "up": maybe(0.5, some(10.0, 10e3), 0.0),
                "down": maybe(0.5, some(10.0, 10e3), 0.0),
                "inputs": [
                    {
                        "ground": maybe(0.8, some(2e3, 10e6), np.inf),
                        "pull": maybe(0.5, some(1e3, 1e6), np.inf),
                        "volts": maybe(0.5, 0.0, float(rng.uniform(3.0, 12.0))),
                        "series": maybe(0.5, some(10.0, 50e3), 0.0),
                    }
                    for _ in range(int(rng.integers(1, 3)))
                ],
            }
            for _ in range(tracks)
        ],
    }


def netlist(world):
    """Return the network as SPICE text and the names of its pins, by track and input."""
    lines, pins, count = ["random pedal", f"V0 s 0 DC {world['supply']!r}"], [], 0

    def resistor(one, other, ohms):
        nonlocal count
        count += 1
        if ohms == 0.0:
            # A wire, as ngspice has it: a source of 0 V.
            lines.append(f"Vw{count} {one} {other} DC 0")
        elif np.isfinite(ohms):
            lines.append(f"R{count} {one} {other} {ohms!r}")

    for n, track in enumerate(world["tracks"]):
        leg = 0 if world["shared"] else n
        if leg == n:
            resistor("s", f"s{n}", world["lead"])
            resistor(f"s{n}", f"t{n}", track["up"])
            resistor(f"b{n}", f"g{n}", track["down"])
            resistor(f"g{n}", "0", world["lead"])
        resistor(f"t{leg}", f"w{n}", track["ohms"] * (1 - track["wiper"]))
        resistor(f"w{n}", f"b{leg}", track["ohms"] * track["wiper"])
        resistor(f"w{n}", f"x{n}", world["lead"])
        pins.append([])
        for k, each in enumerate(track["inputs"]):
            if np.isfinite(each["pull"]):
                lines.append(f"V{n}x{k} u{n}x{k} 0 DC {each['volts']!r}")
            resistor(f"x{n}", f"u{n}x{k}", each["pull"])
            resistor(f"x{n}", f"p{n}x{k}", each["series"])
            resistor(f"p{n}x{k}", "0", each["ground"])
            pins[-1].append(f"p{n}x{k}")
    return lines, pins


def by_ngspice(world):
    """Return the volts of every pin as ngspice has them, by track and input."""
    lines, pins = netlist(world)
    names = [name for each in pins for name in each]
    control = [
        ".options gmin=1e-18 reltol=1e-9",
        ".control",
        "set numdgt=15",
        "op",
        *(f"print v({name})" for name in names),
        "quit",
        ".endc",
        ".end",
    ]
    text = subprocess.run(
        ["ngspice", "-b", "/dev/stdin"],
        input="\n".join(lines + control) + "\n",
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    ).stdout
    found = {m[1]: float(m[2]) for m in re.finditer(r"v\((\w+)\) = (\S+)", text)}
    return [[found[name] for name in each] for each in pins]


def by_model(world):
    """Return the same from the model."""
    tracks = tuple(
        Track(
            t["ohms"],
            t["wiper"],
            tuple(Input(i["ground"], i["pull"], i["volts"], i["series"]) for i in t["inputs"]),
            t["up"],
            t["down"],
        )
        for t in world["tracks"]
    )
    return [
        [float(v) for v in each]
        for each in readings(FrontEnd(tracks, world["supply"], world["lead"], world["shared"]))
    ]


def furthest(networks, seed):
    """Return the largest difference of any pin of so many networks, volts."""
    rng = np.random.default_rng(seed)
    worst = 0.0
    for _ in range(networks):
        world = drawn(rng)
        for ours, theirs in zip(by_model(world), by_ngspice(world), strict=True):
            worst = max(worst, *np.abs(np.subtract(ours, theirs)))
    return worst


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--networks", type=int, default=200)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    if shutil.which("ngspice") is None:
        raise SystemExit("ngspice is not installed; on Debian: apt install ngspice")
    print(
        f"{given.networks} networks, largest difference of any pin "
        f"{furthest(given.networks, given.seed):.2g} V"
    )


if __name__ == "__main__":
    main()

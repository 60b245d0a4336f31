"""Sweep random pedals through boards that read inputs in turn; print what parts the tracks.

    python tests/studies/inputs_in_turn.py [--pedals 60] [--seed 1]

Each pedal is read three times: all inputs at once; in turn, the board saying nothing; in turn, the
board saying how far they are apart. A third of them lose a contact of one track, for 10 to 60 ms.
The generator moves both tracks together and shares no code with the analysis or its simulator.
"""

import argparse

import numpy as np

from analysis.model.recording import Channel, Recording
from analysis.pedal.findings import analyse


def moved(time_s, presses):
    """Return travel, 0 to 1; presses: start, seconds down, held and up, and height of each."""
    travel = np.zeros_like(time_s)
    for start, down, held, up, height in presses:
        s = np.clip((time_s - start) / down, 0, 1)
        # A foot begins and ends softly; a pedal let go falls on its spring, ever faster.
        e = np.clip((time_s - start - down - held) / up, 0, 1)
        travel += height * (s * s * (3 - 2 * s) - (e * e if up < 0.3 else e * e * (3 - 2 * e)))
    return travel


def world(rng):
    """Return one pedal, its foot and its board, as plain numbers."""
    late = float(rng.choice([110e-6, 440e-6, 1.5e-3, 1.76e-3]))
    channels = int(rng.integers(2, 4))
    rate = float(min(rng.choice([100, 200, 250, 400, 500]), 0.95 / (late * channels + 60e-6)))
    at, presses = 2.0, []
    for quick in [False] * 5 + [True] * 6:
        down, held = (0.9, 0.8) if quick else (float(rng.uniform(1.2, 3.0)), 1.0)
        up = float(rng.uniform(0.015, 0.08)) if quick else float(rng.uniform(1.2, 3.0))
        presses.append((at, down, held, up, float(rng.uniform(0.985, 1.0))))
        at += down + held + up + 1.6
    rest, full = rng.uniform(0.5, 1.0, 2), rng.uniform(3.6, 4.4, 2)
    turned = rng.random() < 0.4
    levels = [(rest[0], full[0]), (full[1], rest[1]) if turned else (rest[1], full[1])]
    lost = None
    if rng.random() < 1 / 3:
        start, down = presses[int(rng.integers(0, 5))][:2]
        lost = (start + float(rng.uniform(0.3, 0.7)) * down, float(rng.uniform(0.01, 0.06)),
                int(rng.integers(0, 2)))
    return {"late": late, "rate": rate, "channels": channels, "levels": levels, "lost": lost,
            "presses": presses, "end": at + 1.0, "noise": float(rng.uniform(0.5e-3, 4e-3)),
            "bits": int(rng.choice([1024, 4096]))}


def recorded(w, seed, late, said):
    """Return the recording of a world, its inputs read so far apart."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(0.0, w["end"], 1.0 / w["rate"])
    columns = []
    for k, (rest, full) in enumerate(w["levels"]):
        at = time_s + k * late
        volts = rest + (full - rest) * moved(at, w["presses"])
        volts = volts + w["noise"] * rng.standard_normal(time_s.size)
        if w["lost"] and w["lost"][2] == k:
            start, seconds, _ = w["lost"]
            volts[(at >= start) & (at < start + seconds)] = 0.0
        columns.append(volts)
    if w["channels"] == 3:
        columns.append(4.8 + w["noise"] * rng.standard_normal(time_s.size))
    channels = tuple(Channel(
        ("a", "b", "supply")[k], ("track", "track", "supply")[k],
        np.clip(np.rint(v / 5.0 * w["bits"]), 0, w["bits"] - 1), full_scale=w["bits"],
        reference_volts=5.0, nominal_volts=4.8 if k == 2 else None)
        for k, v in enumerate(columns))
    return Recording(time_s, channels, rate_hz=w["rate"],
                     extra={"board": {"channel_us": 1e6 * late}} if said else {})


def main():
    """Print the three ways side by side."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--pedals", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    wanted = parser.parse_args()
    rng = np.random.default_rng(wanted.seed)
    sums = {name: [0, 0, 0, 0, []] for name in ("at once", "in turn, unsaid", "in turn, said")}
    lost = 0
    for number in range(wanted.pedals):
        w = world(rng)
        lost += w["lost"] is not None
        for name, late, said in (("at once", 0.0, False), ("in turn, unsaid", w["late"], False),
                                 ("in turn, said", w["late"], True)):
            found = analyse(recorded(w, [wanted.seed, number], late, said))
            drops = [f for f in found.faults if f.kind == "dropout"]
            true = [f for f in drops if w["lost"] and abs(f.time_s - w["lost"][0]) < 0.05]
            s = sums[name]
            s[0] += len(drops) - len(true)
            s[1] += bool(drops) and not w["lost"]
            s[2] += bool(true)
            s[3] += len([f for f in found.faults if f.kind != "dropout"])
            s[4].append(found.pair.mismatch_max_percent.value)
    print(f"{wanted.pedals} pedals, {lost} of them lose a contact")
    print(f"{'':18}contacts lost that were not  pedals  true ones found  other faults  "
          "mismatch median, worst")
    for name, (false, pedals, true, other, apart) in sums.items():
        print(f"{name:18}{false:28d}  {pedals:6d}  {true:15d}  {other:12d}  "
              f"{np.median(apart):.3f} %, {np.max(apart):.3f} %")


if __name__ == "__main__":
    main()

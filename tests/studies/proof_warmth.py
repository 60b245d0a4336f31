"""How often does a track's interval per degree hold the truth? Boxes made with numpy alone.

    python tests/studies/proof_warmth.py [--boxes 200] [--seed 1]

Each box is warmed by 12 to 35 K in 4 to 8 minutes and left to cool; its tracks move by -60 to 60
ppm of the supply per kelvin, with white noise, 1/f noise or a slow drift of their own; the
thermometer lags by 0 to 20 s. Printed: intervals that hold the truth (asked 93 to 97 %).
"""

import argparse

import numpy as np

from analysis.model.recording import Channel, Mark, Recording
from analysis.proof.limits import Limits, TrackLimits
from analysis.proof.warmed import judge_warmth


def box(seed: int) -> tuple[Recording, tuple[float, float]]:
    """Return the log of a box that was warmed and cooled, and its volts per kelvin."""
    rng = np.random.default_rng(seed)
    rate = float(rng.choice([20, 50, 100]))
    warm_s, cool_s = rng.uniform(240, 480), rng.uniform(240, 480)
    t = np.arange(int((warm_s + cool_s) * rate)) / rate
    rise, slow = rng.uniform(12, 35), rng.uniform(100, 250)
    top = rise * (1 - np.exp(-warm_s / slow))
    heat = np.where(t < warm_s, rise * (1 - np.exp(-t / slow)),
                    top * np.exp(-(t - warm_s) / slow))
    lag = rng.uniform(0, 20)
    keep = np.exp(-1 / (rate * max(lag, 1e-6)))
    shown = np.empty_like(heat)
    last = heat[0]
    for k, x in enumerate(heat):
        last = keep * last + (1 - keep) * x
        shown[k] = last
    truth = tuple(5.0 * 1e-6 * x for x in rng.uniform(-60, 60, 2))
    volts = []
    for rest, slope in zip((0.7, 0.9), truth, strict=True):
        kind = rng.integers(3)
        noise = rng.normal(0, rng.uniform(0.0005, 0.003), t.size)
        if kind == 1:
            spectrum = rng.normal(size=t.size // 2 + 1) + 1j * rng.normal(size=t.size // 2 + 1)
            spectrum[1:] /= np.sqrt(np.arange(1, spectrum.size))
            spectrum[0] = 0
            pink = np.fft.irfft(spectrum, t.size)
            noise += rng.uniform(0.0003, 0.001) * pink / pink.std()
        elif kind == 2:
            walk = np.cumsum(rng.normal(size=t.size))
            noise += rng.uniform(0.0001, 0.0005) * walk / np.abs(walk).max()
        volts.append(rest + slope * heat + noise)
    columns = [np.clip(np.floor(v / 5.5 * 4096 + rng.uniform(-0.3, 0.3)), 0, 4095) for v in volts]
    channels = (
        Channel("a", "track", columns[0], "counts", 4096.0, 5.5),
        Channel("b", "track", columns[1], "counts", 4096.0, 5.5),
        Channel("box", "temperature", np.round(21.0 + shown + rng.normal(0, 0.05, t.size), 2), "V"))
    marks = (Mark(0, "warm"), Mark(int(np.searchsorted(t, warm_s)), "cool"))
    return Recording(t, channels, marks, "", "proof", "", rate), truth  # type: ignore[return-value]


def main() -> None:
    """Print how many intervals hold the truth."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--boxes", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    limits = Limits({"a": TrackLimits(0.7, 4.2, 0.76, 0.3, 4.6),
                     "b": TrackLimits(0.9, 4.3, 0.96, 0.4, 4.7)})
    held, total, widths = 0, 0, []
    for seed in range(arguments.seed, arguments.seed + arguments.boxes):
        recording, truth = box(seed)
        for seen, value in zip(judge_warmth(recording, limits), truth, strict=True):
            if seen.volts_per_kelvin is None:
                continue
            total += 1
            held += seen.volts_per_kelvin.low <= value <= seen.volts_per_kelvin.high
            widths.append(seen.volts_per_kelvin.high - seen.volts_per_kelvin.low)
    print(f"{held} of {total} intervals hold the truth ({100 * held / total:.1f} %); usual width "
          f"{1e6 * np.median(widths) / 5:.1f} ppm/K")


if __name__ == "__main__":
    main()

"""Hold every number that `watch` prints against key-ons whose truth was written.

    python tests/studies/key_on_printed_numbers.py            240 logs: 4 noises x 3 boards
    python tests/studies/key_on_printed_numbers.py --quick    12 logs

Made here, not by analysis.simulation.car: a rest with a step at key-on that settles, drift, warmth,
a sagging supply, noise white, pink, hum, or too small to even out the converter's steps; one lift
that passes start of travel, of known height and length. Exit status 1 when a bar is broken.
"""

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from error_table import Figures, run

from analysis.key_on import KeyOnFindings, analyse_key_on
from analysis.model.recording import Channel, Recording
from analysis.pedal.settings import Setting

NOMINAL, OFF_S, ON_S = 5.0, 8.0, 16.0
NOISES = ("white", "pink", "hum", "below a step")
BOARDS = ((10, 200.0), (12, 1000.0), (16, 500.0))


@dataclass(frozen=True)
class Drive:
    """Hold the truth of one log; volts at nominal supply, first index track, second key-on."""

    on_s: np.ndarray
    shifts: np.ndarray
    means: tuple[float, float]
    settle_s: float
    noise: float
    drift: float
    per_degree: float
    tone_volts: float
    sag: float
    starts: tuple[float, float]
    rests: tuple[float, float]
    lift: tuple[float, float, float]
    peaks: np.ndarray
    later: np.ndarray


def drive(noise: str, seed: int) -> tuple[Recording, Drive, tuple[Setting, ...]]:
    """Return log, truth, and the starts of travel that are judged."""
    dice = np.random.default_rng([41, seed])
    bits, rate = BOARDS[seed % 3]
    cycles = int(dice.integers(3, 7))
    n = int(cycles * (OFF_S + ON_S) * rate)
    t = np.arange(n) / rate
    cycle = np.minimum((t // (OFF_S + ON_S)).astype(int), cycles - 1)
    since = t - cycle * (OFF_S + ON_S) - OFF_S
    on = since >= -1e-9
    step = NOMINAL / 2**bits
    size = (dice.uniform(0.1, 0.25) * step if noise == "below a step"
            else max(float(np.exp(dice.uniform(np.log(4e-4), np.log(2.5e-3)))), 0.6 * step))
    rests = (dice.uniform(0.6, 0.9), dice.uniform(0.6, 0.9))
    means = (dice.uniform(-0.03, 0.05), dice.uniform(-0.03, 0.05))
    spread = dice.uniform(2e-4, 2e-3)
    shifts = np.array([dice.normal(m, spread, cycles) for m in means])
    settle = dice.uniform(0.03, 0.2)
    drift = dice.choice([0.0, dice.uniform(-0.006, 0.006)])
    warmth = 6.0 * t / t[-1]
    per_degree = dice.uniform(-4e-4, 4e-4)
    sag = dice.choice([0.0, 0.03])
    feed = NOMINAL * (1 - sag * (on & (since > 0.0)))
    hertz = 50.02
    # One lift of the first track, flat on top, in the second key-on; known height and length.
    lift_at, lift_for = OFF_S + (OFF_S + ON_S) + dice.uniform(6.0, 10.0), dice.uniform(0.05, 0.5)
    lift = 0.12
    values, peaks = [], []
    for k in range(2):
        law = shifts[k][cycle] * (1 - np.exp(-np.maximum(since, 0) / settle)) * on
        law = law + on * drift * np.maximum(since, 0) / 60.0 + per_degree * warmth
        if k == 0:
            law = law + lift * ((t >= lift_at) & (t < lift_at + lift_for))
        white = dice.standard_normal(n)
        own = size * white
        if noise == "pink":
            spectrum = np.fft.rfft(white)
            f = np.fft.rfftfreq(n, 1 / rate)
            shape = np.where(f > 0.3, 1 / np.sqrt(np.maximum(f, 0.3)), 0.0)
            own = size * np.fft.irfft(spectrum * shape, n) / np.sqrt(np.mean(shape**2))
        if noise == "hum":
            own = size * (0.6 * white + 0.8 * np.sqrt(2) * np.sin(2 * np.pi * hertz * t + k))
        stated = rests[k] + law + own
        peaks.append([float(stated[(cycle == c) & on].max()) for c in range(cycles)])
        values.append(stated * feed / NOMINAL)
    starts = (rests[0] + max(means[0], 0.0) + lift - 0.04, rests[1] + 0.3)
    names = {"a": values[0], "b": values[1]}
    channels = [Channel(c, "track", np.floor(v / step + 0.5), "counts", float(2**bits), NOMINAL)
                for c, v in names.items()]
    channels.append(Channel("supply", "supply", np.floor(
        (feed + 3e-3 * dice.standard_normal(n)) / 2 / step + 0.5), "counts", float(2**bits),
        NOMINAL, 2.0, nominal_volts=NOMINAL))
    channels.append(Channel("key", "key", np.where(on, 12.0, 0.0), "V"))
    channels.append(Channel("warm", "temperature", 20.0 + warmth + 0.02 * dice.standard_normal(n),
                            "V"))
    settings = tuple(Setting("start_of_travel", c, v, "V", "drawn")
                     for c, v in zip("ab", starts, strict=True))
    settings += tuple(Setting("full_travel", c, 4.2, "V", "drawn") for c in "ab")
    # What a hundred later key-ons lift track b: settled shift, and noise at its quantile.
    later = dice.normal(means[1], spread, 100) + size * 4.0
    truth = Drive(
        (OFF_S + ON_S) * np.arange(cycles) + OFF_S, shifts, means, settle, size, drift,
        per_degree, 0.8 * np.sqrt(2) * size if noise == "hum" else float("nan"), sag, starts,
        rests, (lift_at, lift_for, rests[0] + lift), np.array(peaks), later)
    return Recording(t, tuple(channels), purpose="key-on", rate_hz=rate), truth, settings


def numbers(found: KeyOnFindings, truth: Drive, figures: Figures, noise: str) -> None:
    """Add every number of one log."""
    figures.promise("watch: key-ons counted right", len(found.cycles) == truth.on_s.size, 99.0)
    if len(found.cycles) != truth.on_s.size:
        return
    tag = " (noise below a step)" if noise == "below a step" else ""
    for cycle, at in zip(found.cycles, truth.on_s, strict=True):
        figures.add("watch: time of key-on", "s", cycle.on_s, at)
        figures.add("watch: time with the key on", "s", cycle.off_s - cycle.on_s, ON_S)
        figures.add("watch: supply before", "V", cycle.supply_before_volts, NOMINAL)
        figures.add("watch: supply after", "V", cycle.supply_after_volts,
                    NOMINAL * (1 - truth.sag))
    for k, column in enumerate("ab"):
        track = found.tracks[column]
        rms = float(np.hypot(truth.noise, track.step_volts / np.sqrt(12)))
        # Warmth between the middle of a rest and of what follows is drift, and in the fit.
        for c, cycle in enumerate(found.cycles):
            seen = cycle.tracks[column]
            if k == 0 and c == 1:
                # The lift that passes start of travel; what it does to the shift is not judged.
                continue
            figures.add(f"watch: shift at one key-on{tag}", "mV", 1e3 * seen.shift.value,
                        1e3 * truth.shifts[k, c], limits=(1e3 * seen.shift.low,
                                                          1e3 * seen.shift.high))
            true = truth.peaks[k, c] - truth.rests[k]
            figures.add("watch: furthest", "mV", 1e3 * seen.excursion_volts, 1e3 * true)
            if abs(truth.shifts[k, c]) > 0.01:
                # Until within 5 % of the deviation for good, or within the noise of 10 ms means.
                figures.add("watch: settled", "s", seen.settling_s, 3.0 * truth.settle_s)
        verdict = found.verdict.tracks[column]
        closest = max(truth.peaks[k])
        figures.add("watch: closest reading", "mV", 1e3 * verdict.closest_volts, 1e3 * closest)
        figures.add("watch: margin", "mV", 1e3 * verdict.margin_volts,
                    1e3 * (truth.starts[k] - closest))
        figures.add("watch: margin, % of travel", "% travel", verdict.margin_percent,
                    100 * (truth.starts[k] - closest) / (4.2 - truth.rests[k]))
        if k == 0:
            # The lift is in all that follows; the other track has none.
            continue
        figures.add(f"watch: shift over all{tag}", "mV", 1e3 * track.shift.value,
                    1e3 * truth.means[k], limits=(1e3 * track.shift.low, 1e3 * track.shift.high))
        if not tag:
            figures.add("watch: noise off", "relative", track.noise_before_volts / rms, 1.0)
            figures.add("watch: noise on", "relative", track.noise_after_volts / rms, 1.0)
        creep = truth.drift + truth.per_degree * 6.0 / (
            (OFF_S + ON_S) * truth.on_s.size) * 60.0
        low_high = track.drift_volts_per_minute
        figures.add(f"watch: drift{tag}", "mV/min", 1e3 * low_high.value, 1e3 * creep,
                    limits=(1e3 * low_high.low, 1e3 * low_high.high))
        if track.per_degree is not None and truth.drift == 0.0:
            warm = track.per_degree
            figures.add(f"watch: per degree{tag}", "mV/K", 1e3 * warm.value,
                        1e3 * truth.per_degree, limits=(1e3 * warm.low, 1e3 * warm.high))
        if np.isfinite(truth.tone_volts):
            near = [tone for tone in track.tones if abs(tone.hertz - 50.0) < 1.0]
            figures.promise("watch: hum found", bool(near), 99.0)
            if near:
                figures.add("watch: frequency of hum", "Hz", near[0].hertz, 50.02)
                figures.add("watch: amplitude of hum", "relative",
                            near[0].amplitude_volts / truth.tone_volts, 1.0)
        elif not tag:
            figures.promise("watch: no tone where there is none", not track.tones, 95.0)
        if truth.sag:
            figures.promise("watch: follows the supply, said rightly",
                            track.follows in ("ratiometric", "cannot say"), 99.0)
    figures.promise("watch: power said rightly", found.verdict.applied is True, 99.0)
    at, length, _ = truth.lift
    events = [a for a in found.verdict.applications
              if a.column == "a" and abs(a.start_s - at) < 0.05]
    figures.promise("watch: power found at its time", bool(events), 99.0)
    figures.promise("watch: no power elsewhere",
                    all(at - 0.1 < a.start_s < at + length + 0.1
                        for a in found.verdict.applications), 99.0)
    if events:
        figures.add("watch: power from", "s", events[0].start_s, at)
        figures.add("watch: power for", "s", found.verdict.tracks["a"].applied_s, length)
    bound = found.tracks["b"].lift_bound_volts
    figures.promise("watch: may add, outlasts 100 key-ons", float(truth.later.max()) <= bound, 97.5,
                    1e3 * (bound - float(truth.later.max())), "mV")
    for more in found.more_cycles:
        # Wilks 1941: the least n with 1 - p^n >= confidence.
        n = next(n for n in range(1, 10_000) if 1 - more.coverage**n >= more.confidence)
        figures.promise("watch: key-ons needed", more.needed == n, 100.0)
    proof = found.proofs["b"]
    if proof.enough:
        figures.promise("watch: free bound holds no event", proof.events == 0, 99.0)


def measure(seeds: int, figures: Figures, first: int = 0) -> None:
    """Add so many logs of each noise."""
    for seed in range(first, first + seeds):
        for k, noise in enumerate(NOISES):
            recording, truth, settings = drive(noise, seed * len(NOISES) + k)
            figures.seeds += 1
            numbers(analyse_key_on(recording, settings=settings), truth, figures, noise)


if __name__ == "__main__":
    sys.exit(run("watch", __doc__, cases="seeds", usual=60, quick=3, measure=measure))

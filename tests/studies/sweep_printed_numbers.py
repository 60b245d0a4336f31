"""Hold every number that `findings` and `settings` print against a pedal whose truth was written.

    python tests/studies/sweep_printed_numbers.py  1080 pedals: 3 noise colours x 4 oddities
    python tests/studies/sweep_printed_numbers.py --quick    36 pedals
    python tests/studies/sweep_printed_numbers.py --by       the same, condition by condition

The pedals come from plain_pedal.py: all relations, 10, 12 and 16 bits, white, pink and hum noise,
play, a sticking pivot, a track and supply that warm. Exit status 1 when a bar is broken.
"""

import argparse
import sys
from pathlib import Path

import numpy as np
from scipy.special import ndtr

sys.path.insert(0, str(Path(__file__).parent))

from error_table import Figures, report
from plain_pedal import COLOURS, NOMINAL, ODDS, Condition, Plain, PlainTrack, sweep

from analysis.parameters import Parameters
from analysis.pedal.findings import Findings, analyse
from analysis.pedal.remedies import loaded, trim_legs

KEY_ONS, WORLDS = 100, 200


def findings_numbers(found: Findings, plain: Plain, figures: Figures) -> None:
    """Add every number of the findings."""
    presses = sum(s.kind == "press" for s in found.segments)
    quick = sum(s.quick for s in found.segments if s.kind == "release")
    figures.promise("findings: presses counted right", presses == plain.presses, 99.5)
    figures.promise("findings: quick lift-offs counted right", quick == len(plain.return_s), 95.0)
    figures.promise("findings: no false fault", not found.faults, 99.0)
    pair = found.pair
    figures.promise("findings: relation right", pair.relation == plain.relation, 100.0)
    for track, true in zip(found.tracks.values(), plain.tracks, strict=True):
        percent = true.span / 100.0
        warm = true.drift_per_minute != 0.0
        sd = true.scatter
        if warm:
            # Drift scatters the returns too: evenly over the time they cover.
            sd = float(np.hypot(sd, true.drift_per_minute * np.std(track.rest_times_s) / 60.0))
        figures.add("findings: rest", "% span", track.rest.value / percent, true.rest / percent,
                    track.rest.uncertainty / percent)
        figures.add("findings: scatter of returns", "relative", track.rest_scatter.value / sd, 1.0,
                    track.rest_scatter.uncertainty / sd)
        figures.add("findings: drift of rest", "mV/min", 1e3 * track.drift_volts_per_minute.value,
                    1e3 * true.drift_per_minute, 1e3 * track.drift_volts_per_minute.uncertainty)
        figures.add("findings: noise rms", "relative", track.noise_volts / true.noise, 1.0)
        figures.add("findings: full travel", "% span", track.full.value / percent,
                    true.full / percent, track.full.uncertainty / percent)
        figures.add("findings: span", "% span", track.span.value / percent, 100.0,
                    track.span.uncertainty / percent)
        figures.add("findings: one step", "relative", track.step_volts / plain.step
                    * found.recording.usual_supply_volts / NOMINAL, 1.0)
        if not plain.one_sided:
            figures.add("findings: linearity", "% supply", track.linearity_percent,
                        true.linearity_percent)
        figures.promise("findings: direction right",
                        (track.direction == "rising") == (true.sign > 0), 100.0)
        figures.promise("findings: clipped said rightly", not track.clipped, 100.0)
    scale = abs(plain.gain) / 100.0
    figures.add("findings: gain", "%", pair.gain.value / scale, plain.gain / scale,
                pair.gain.uncertainty / scale)
    percent = plain.tracks[1].span / 100.0
    figures.add("findings: offset", "% span", pair.offset_volts.value / percent,
                plain.offset / percent, pair.offset_volts.uncertainty / percent)
    worst = pair.mismatch_max_percent
    figures.add("findings: worst mismatch", "% travel", worst.value, plain.mismatch,
                worst.uncertainty)
    figures.add("findings: play", "% travel", pair.play_percent.value, plain.play,
                pair.play_percent.uncertainty)
    seen = [r.seconds for r in found.return_times if r.quick]
    if len(seen) == len(plain.return_s):
        for stated, true_s in zip(seen, plain.return_s, strict=True):
            figures.add("findings: return after lift-off", "s", stated, true_s)


def later_lifts(true: PlainTrack, plain: Plain, parameters: Parameters,
                dice: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Return the highest level and reading of 100 later key-ons in so many lives, above rest.

    Shape (lives,). The stated limits (car, temperature, converter) are taken in full.
    """
    shape = (WORLDS, KEY_ONS)
    draw = (dice.exponential(1.0, shape) - np.log(2.0) if plain.one_sided
            else dice.standard_normal(shape))
    limits = (
        parameters.car_allowance_volts
        + parameters.converter_error_steps * plain.step
        + parameters.track_ppm_per_kelvin * 1e-6 * parameters.temperature_span_kelvin * NOMINAL
    )
    level = true.scatter * draw + limits + abs(true.drift_per_minute) * 1.5 * 1.5
    # Largest of ten hours' readings at 1 kHz: normal parts by their quantile, hum by its peak.
    count = parameters.key_on_hours / KEY_ONS * 3.6e6
    normal = true.noise * (0.6 if true.hum_peak else 1.0)
    from scipy.special import ndtri

    peak = -normal * ndtri(-np.expm1(np.log(dice.random(shape)) / count)) + true.hum_peak
    return level.max(axis=1), (level + peak).max(axis=1)


def settings_numbers(found: Findings, plain: Plain, parameters: Parameters, figures: Figures,
                     dice: np.random.Generator) -> None:
    """Add every number of the settings and of the dead band they come from."""
    value = {(s.name, s.channel): s.value for s in found.settings}
    for (name, track), true in zip(found.tracks.items(), plain.tracks, strict=True):
        band = found.dead_bands[name]
        figures.add("settings: rest", "mV", 1e3 * value["rest", name], 1e3 * true.rest)
        start = true.sign * (value["start_of_travel", name] - true.rest)
        release = true.sign * (value["release", name] - true.rest)
        if np.isfinite(start):
            levels, readings = later_lifts(true, plain, parameters, dice)
            # Told as a share of lives; a pedal's own share is its chance.
            figures.promise("settings: start of travel outlasts 100 key-ons",
                            float(readings[0]) <= start, 95.0)
            figures.promise("settings: release above every level",
                            float(levels[0]) <= release, 95.0)
            oracle = float(np.quantile(readings, 0.95))
            figures.add("settings: start of travel over an oracle's", "of it", start / oracle, 1.0)
            figures.add("settings: lost travel", "% travel", band.lost_travel_percent,
                        100 * start / true.span)
        full = value["full_travel", name]
        if np.isfinite(full):
            reach = true.sign * (true.full - full)
            figures.promise("settings: full travel reached by 95 % of presses",
                            float(ndtr(reach / true.full_scatter)) >= 0.95, 95.0,
                            100 * reach / true.span, "% span")
        ends = (min(true.rest, true.full), max(true.rest, true.full))
        furthest = 6.0 * true.noise + 4.0 * true.scatter + parameters.car_allowance_volts
        for limit, sound, wire, side in (("fault_low", ends[0] - furthest, 0.0, 1),
                                         ("fault_high", ends[1] + furthest, NOMINAL, -1)):
            volts = value[limit, name]
            if np.isfinite(volts):
                kept = side * (sound - volts) > 0 and side * (volts - wire) > 0.02
                figures.promise(f"settings: {limit} between pedal and wire", kept, 100.0)
        remedies_numbers(track, true, figures)
    limit = value["mismatch_limit", None]
    need = found.pair.mismatch_max_percent
    figures.promise("settings: mismatch at most what is said",
                    plain.mismatch <= need.value + 2 * need.uncertainty, 95.0)
    figures.promise("settings: mismatch limit above the mismatch", limit >= plain.mismatch, 100.0)


def remedies_numbers(track, true: PlainTrack, figures: Figures) -> None:
    """Add what the trim resistors bring, against the network solved by its node equations."""
    target = 0.9 * track.rest.value / NOMINAL
    ohms, load = 5000.0, 1e5
    supply, ground, why = trim_legs(track.rest.value / NOMINAL, track.full.value / NOMINAL, target,
                                    None, ohms)
    if why or not (np.isfinite(supply) and np.isfinite(ground)):
        return
    at = true.rest / NOMINAL

    def node(load_ohms: float) -> float:
        # Kirchhoff at the wiper: both sides of the track, and the load.
        up, down = 1 / (supply + (1 - at) * ohms), 1 / (ground + at * ohms)
        return NOMINAL * up / (up + down + 1 / load_ohms)

    figures.add("findings: rest behind a trim resistor", "mV", 1e3 * NOMINAL * target,
                1e3 * node(1e15))
    figures.add("findings: sag by an input of 100 kohm", "mV",
                1e3 * NOMINAL * loaded(track.rest.value / NOMINAL, ohms, load, supply, ground),
                1e3 * node(load))


def measure(conditions: list[Condition], seeds: int, figures: Figures, first: int = 0) -> None:
    """Add so many pedals of each condition."""
    parameters = Parameters(key_ons=KEY_ONS)
    for seed in range(first, first + seeds):
        for k, condition in enumerate(conditions):
            number = seed * len(COLOURS) * len(ODDS) + k
            # 15 combinations of relation and board by turns, another turn in each condition.
            recording, plain = sweep(condition, number + k)
            found = analyse(recording, parameters)
            figures.seeds += 1
            findings_numbers(found, plain, figures)
            settings_numbers(found, plain, parameters, figures, np.random.default_rng([32, number]))


def main() -> int:
    """Measure and print; return 1 when a bar is broken."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=90, help="pedals of each condition")
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--by", action="store_true", help="condition by condition")
    call = parser.parse_args()
    seeds = 3 if call.quick else call.seeds
    conditions = [Condition(c, o) for c in COLOURS for o in ODDS]
    status = 0
    for group in [[c] for c in conditions] if call.by else [conditions]:
        figures = Figures()
        measure(group, seeds, figures, call.first)
        name = f"{group[0].colour}, {group[0].odd}" if call.by else "findings and settings"
        status |= report(name, figures)
    return status


if __name__ == "__main__":
    sys.exit(main())

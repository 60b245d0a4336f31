"""Recommended values, each with its reason, and their conversion for the controller's input.

Why each level lies where it does: docs/method_deadband.md, "Settings".
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from analysis.model.recording import Array
from analysis.parameters import Parameters
from analysis.pedal.dead_band import DeadBand, noise_of, sign_of, supply_error
from analysis.pedal.pair import PairFindings
from analysis.pedal.tracks import TrackFindings
from analysis.statistics import bounds
from analysis.statistics.returns_bound import LAWS

NAN = float("nan")
# A stop is met alike each time; presses that end with more scatter than this, as a share of the
# span, did not all reach it (common practice, no source).
STOP_SCATTER = 0.01
# Share of all full presses that must reach the full travel level.
FULL_COVERAGE = 0.95
# A fault limit keeps this share of the supply, or the noise and converter error if larger, from
# what a sound pedal reads and from what a broken wire reads (common practice, no source).
LEAST_FAULT_GAP = 0.01
# Coverage factor for a mismatch's uncertainty: about 95 % (JCGM 100:2008, 6.2).
COVERAGE_FACTOR = 2.0
RULE_LIMIT_PERCENT, RULE_TIME_S = 10.0, 0.1
# No chance is stated without it: the largest part of a dead band is often an assumption.
CONDITION = "with these readings and assumptions"


@dataclass(frozen=True)
class Setting:
    """Hold one recommended value.

    name: "rest", "start_of_travel", "release", "full_travel", "fault_low", "fault_high" per
        track; "mismatch_limit" (% travel) and "mismatch_time" (s) for the pair (channel None).
    value: NaN when the data do not suffice; `why` then says what is missing.
    safe_side: which way the value may be rounded: "up", "down" or "nearest".
    """

    name: str
    channel: str | None
    value: float
    unit: str
    why: str
    safe_side: str = "nearest"


def recommend(tracks: Mapping[str, TrackFindings], pair: PairFindings | None,
              dead_bands: Mapping[str, DeadBand], parameters: Parameters) -> tuple[Setting, ...]:
    """Return the recommended values of all tracks, then of the pair, each with its reason.

    Volts at the sensor at nominal supply. A dead band is needed for each track.
    """
    result: list[Setting] = []
    for name, track in tracks.items():
        band = dead_bands[name]
        result += [_rest(track), *_start_and_release(track, band),
                   _full_travel(track, band, parameters), *_fault_limits(track, band, parameters)]
    if pair is not None:
        result += _mismatch(pair, parameters)
    nominal = {name: track.nominal_volts for name, track in tracks.items()}
    return tuple(_between_rails(s, nominal) for s in result)


def reachable(band: DeadBand, track: TrackFindings) -> DeadBand:
    """Return the dead band, without levels where the pedal could not pass them, or no reading.

    A start of travel at or beyond full travel, or a rail, is no value to enter: the levels are
    then NaN, and `weak` says why and what to do. (It never lies beyond an issued fault limit:
    those lie outside rest and full travel by the whole dead band.)
    """
    sign, start = sign_of(track), band.start_of_travel_volts
    if not np.isfinite(start):
        return band
    ends = [(f"its full travel of {track.full.value:.3f} V", track.full.value)] if np.isfinite(
        track.full.value) else []
    rail = track.nominal_volts if sign > 0 else 0.0
    ends.append((f"the end of its supply at {rail:g} V", rail))
    passed = [words for words, volts in ends if sign * (start - volts) >= 0]
    if not passed:
        return band
    largest = max(band.items, key=lambda i: i.volts)
    why = (f"what may lift the rest comes to {1000 * band.total_volts:.0f} mV, and a start of "
           f"travel of {start:.3f} V would lie at or beyond {' and '.join(passed)}, so there is "
           f"none to enter; the largest part is {largest.name} with {1000 * largest.volts:.0f} mV: "
           "find what causes it, mend it and measure again")
    return replace(band, weak=why, release_volts=NAN, start_of_travel_volts=NAN,
                   lost_travel_percent=NAN)


def _between_rails(setting: Setting, nominal: Mapping[str, float]) -> Setting:
    """Return the setting, without its value where no reading can be: past 0 V or the supply."""
    supply = nominal.get(setting.channel or "", NAN)
    if setting.unit != "V" or not (setting.value < 0.0 or setting.value > supply):
        return setting
    return replace(setting, value=NAN, why=(
        f"it would be {setting.value:.3f} V, outside 0 V to the supply of {supply:g} V, where no "
        "sound reading can be: check the input's range, its scale and what the car adds, and "
        f"measure again ({setting.why})"))


def _rest(track: TrackFindings) -> Setting:
    count = int(track.rest_levels.size)
    why = f"the median of {count} {'return' if count == 1 else 'returns'} to rest"
    if np.isfinite(track.rest.uncertainty):
        why += f", known to {1000 * track.rest.uncertainty:.1f} mV (one standard uncertainty)"
    return Setting("rest", track.column, track.rest.value, "V", why)


def _start_and_release(track: TrackFindings, band: DeadBand) -> tuple[Setting, Setting]:
    away = "up" if sign_of(track) > 0 else "down"
    if not np.isfinite(band.start_of_travel_volts):
        why = band.weak or "the data do not suffice for a dead band"
        return (Setting("start_of_travel", track.column, NAN, "V", why, away),
                Setting("release", track.column, NAN, "V", why, away))
    parts = sorted((i for i in band.items if i.volts > 0), key=lambda i: -i.volts)[:3]
    largest = ", ".join(f"{i.name} {1000 * i.volts:.1f} mV ({i.ground})" for i in parts)
    doubt = f"NOT PROVEN: {band.weak}; " if band.weak else ""
    promise = "" if band.weak else (
        f"{CONDITION}, the chance that any of {band.key_ons} later key-ons reads more is at most "
        f"{100 * band.risk:.3g} % with {LAWS[band.law]}, while no unseen catch or creep comes; ")
    ends = ("switch power on and off" if band.weak else
            f"switch power on and off; every rest level lies {'below' if away == 'up' else 'above'}"
            " it, noise left out, so power ends")
    hysteresis = abs(band.start_of_travel_volts - band.release_volts)
    return (
        Setting("start_of_travel", track.column, band.start_of_travel_volts, "V",
                f"{doubt}rest and {1000 * abs(band.start_of_travel_volts - band.rest_volts):.1f} "
                f"mV that may lift it, of which {largest}; {promise}"
                f"{band.lost_travel_percent:.2f} % of travel is lost", away),
        Setting("release", track.column, band.release_volts, "V",
                f"{doubt}{1000 * hysteresis:.1f} mV before start of travel, so that noise does "
                f"not {ends}", away))


def short_of_stop(track: TrackFindings) -> str | None:
    """Return why the full presses cannot all have reached the pedal's stop, or None."""
    if track.full_levels.size < 3:
        return None
    spread = float(np.std(track.full_levels, ddof=1))
    if spread <= STOP_SCATTER * track.span.value:
        return None
    low, high = float(track.full_levels.min()), float(track.full_levels.max())
    return (f"the held presses ended between {low:.3f} and {high:.3f} V, and a stop is met alike "
            "each time: they did not all reach it, and full travel is no more than what was "
            "reached; press right down to the stop and sweep again")


def _full_travel(track: TrackFindings, band: DeadBand, parameters: Parameters) -> Setting:
    """Return the level that full presses reach: a lower tolerance bound less the errors."""
    sign = sign_of(track)
    side = "down" if sign > 0 else "up"
    levels: Array = sign * track.full_levels
    count = int(levels.size)

    def unknown(why: str) -> Setting:
        return Setting("full_travel", track.column, NAN, "V", why, side)

    if count < 3:
        seen = ("no held full press was" if count == 0 else "only one held full press was"
                if count == 1 else f"only {count} held full presses were")
        return unknown(f"{seen} seen; press right down and hold for a second at least 3 times, "
                       "better 10")
    short = short_of_stop(track)
    if short is not None:
        return unknown(short)
    noise = noise_of(track)
    if not np.isfinite(noise.sigma):
        return unknown("too little rest was seen to know the noise; leave the pedal alone longer")
    spread = max(float(np.std(levels, ddof=1)), bounds.quantisation_noise(track.step_volts))
    factor = bounds.tolerance_factor(count, FULL_COVERAGE, parameters.confidence)
    errors = (3.0 * noise.sigma + parameters.converter_error_steps * track.step_volts
              + supply_error(track, parameters, track.full.value)[0])
    level = min(float(levels.mean()) - factor * spread, float(levels.min())) - errors
    start = sign * band.start_of_travel_volts
    if np.isfinite(start) and level <= start:
        return unknown(
            f"full presses scatter so much ({1000 * spread:.0f} mV) that the level all of them "
            "reach lies within the dead band; press right down each time and sweep again")
    return Setting(
        "full_travel", track.column, sign * level, "V",
        f"{100 * FULL_COVERAGE:g} % of presses reach it with {100 * parameters.confidence:g} % "
        f"confidence: {count} full presses scatter by {1000 * spread:.1f} mV, and noise, "
        f"converter and supply may take {1000 * errors:.1f} mV", side)


def _fault_limits(track: TrackFindings, band: DeadBand,
                  parameters: Parameters) -> tuple[Setting, Setting]:
    """Return both fault limits, half way between what a sound pedal and a broken wire read."""
    noise = noise_of(track)
    nominal = track.nominal_volts
    if not np.isfinite(noise.sigma) or not np.isfinite(band.total_volts):
        why = band.weak or "the data do not suffice to know how far a sound pedal reads"
        return (Setting("fault_low", track.column, NAN, "V", why, "up"),
                Setting("fault_high", track.column, NAN, "V", why, "down"))
    wobble = (noise.level(parameters.key_on_hours, 1.0 - parameters.confidence)
              + parameters.converter_error_steps * track.step_volts)
    gap = max(LEAST_FAULT_GAP * nominal, wobble)
    # What lifts rest towards pressed may as well pull it the other way, and full travel too.
    low = min(track.lowest_volts, track.rest.value, track.full.value) - band.total_volts
    high = max(track.highest_volts, track.rest.value, track.full.value) + band.total_volts
    return (
        _fault_limit("fault_low", track, low, 0.0, gap, "up"),
        _fault_limit("fault_high", track, high, nominal, gap, "down"))


def _fault_limit(name: str, track: TrackFindings, extreme: float, rail: float, gap: float,
                 side: str) -> Setting:
    room = abs(extreme - rail) if (extreme > rail) == (name == "fault_low") else 0.0
    wire = "0 V" if rail == 0.0 else f"{rail:g} V"
    if track.clipped and room < 2.0 * gap:
        why = (f"the track is clipped at the end of the input's range, so a broken wire at {wire} "
               "looks like a sound pedal; scale the input so that the whole travel is seen")
        return Setting(name, track.column, NAN, "V", why, side)
    if not room >= 2.0 * gap:
        why = (f"a sound pedal may read {extreme:.3f} V, too near to the {wire} of a broken wire "
               f"or a short (twice {1000 * gap:.0f} mV are needed between them); move the track "
               "away from that end or rely on the other track")
        return Setting(name, track.column, NAN, "V", why, side)
    value = (extreme + rail) / 2.0
    return Setting(
        name, track.column, value, "V",
        f"half way between {extreme:.3f} V, the furthest a sound pedal reads, and the {wire} of "
        f"a broken wire or a short: {1000 * room / 2:.0f} mV from both", side)


def _mismatch(pair: PairFindings, parameters: Parameters) -> tuple[Setting, Setting]:
    seen, doubt = pair.mismatch_max_percent.value, pair.mismatch_max_percent.uncertainty
    limit = parameters.mismatch_limit_percent
    rule = f"the Formula SAE rules T.4.2 allow {RULE_LIMIT_PERCENT:g} % for at most " \
           f"{1000 * RULE_TIME_S:g} ms"
    if not np.isfinite(seen):
        level = Setting("mismatch_limit", None, NAN, "%",
                        "the mismatch of the tracks could not be measured; sweep the whole "
                        "travel slowly, both ways", "nearest")
    else:
        need = seen + (COVERAGE_FACTOR * doubt if np.isfinite(doubt) else 0.0)
        ground = (f"the tracks differ by at most {seen:.1f} % of travel as measured, {need:.1f} % "
                  "with twice its standard uncertainty" if np.isfinite(doubt) else
                  f"the tracks differ by at most {seen:.1f} % of travel as measured, its "
                  "uncertainty unknown")
        if need <= limit:
            level = Setting("mismatch_limit", None, limit, "%",
                            f"{ground}, which leaves {limit - need:.1f} % to the limit "
                            f"asked for; {rule}", "nearest")
        else:
            value = math.ceil(10.0 * need) / 10.0
            level = Setting("mismatch_limit", None, value, "%",
                            f"{ground}, more than the {limit:g} % asked for: mend the "
                            f"pair before driving rather than widen the limit; {rule}", "nearest")
    time_s = parameters.mismatch_time_s
    allowed = ("as the Formula SAE rules T.4.2 ask" if time_s == RULE_TIME_S else
               f"asked for; the Formula SAE rules T.4.2 allow at most {1000 * RULE_TIME_S:g} ms")
    return level, Setting(
        "mismatch_time", None, time_s, "s",
        f"power must stop when the mismatch lasts {1000 * time_s:g} ms, {allowed}", "nearest")

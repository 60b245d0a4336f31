"""Recommended values, each with its reason, and their conversion for the controller's input.

Why each level lies where it does: docs/method_deadband.md, "Settings".
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.parameters import Parameters
from analysis.pedal.at_controller import InputReach
from analysis.pedal.dead_band import DeadBand, noise_of, sign_of, supply_error
from analysis.pedal.pair import PairFindings
from analysis.pedal.tracks import TrackFindings
from analysis.statistics import bounds
from analysis.statistics.returns_bound import lean_scale, reach_factor

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


@dataclass(frozen=True)
class Setting:
    """Hold one recommended value.

    name: "rest", "start_of_travel", "release", "full_travel", "fault_low", "fault_high" per
        track; "mismatch_limit" (% travel) and "mismatch_time" (s) for the pair (channel None).
    value: NaN when the data do not suffice; `why` is then what is missing.
    safe_side: which way the value may be rounded: "up", "down" or "nearest".
    """

    name: str
    channel: str | None
    value: float
    unit: str
    why: Reason
    safe_side: str = "nearest"


def recommend(tracks: Mapping[str, TrackFindings], pair: PairFindings | None,
              dead_bands: Mapping[str, DeadBand], parameters: Parameters,
              reaches: Mapping[str, InputReach] | None = None) -> tuple[Setting, ...]:
    """Return the recommended values of all tracks, then of the pair, each with its reason.

    Volts at nominal supply, where the tracks are stated: at the controller's input (`reaches`: what
    may be off there). A dead band is needed for each track.
    """
    result: list[Setting] = []
    for name, track in tracks.items():
        band, reach = dead_bands[name], (reaches or {}).get(name)
        result += [_rest(track), *_start_and_release(track, band),
                   _full_travel(track, band, parameters, reach),
                   *_fault_limits(track, band, parameters, reach)]
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
    rail = track.nominal_volts if sign > 0 else 0.0
    past_full = bool(sign * (start - track.full.value) >= 0)
    past_rail = bool(sign * (start - rail) >= 0)
    if not past_full and not past_rail:
        return band
    largest = max(band.items, key=lambda i: i.volts)
    why = Reason("start beyond full travel", {
        "total_volts": band.total_volts, "start_of_travel_volts": start,
        "full_volts": track.full.value if past_full else None,
        "rail_volts": rail if past_rail else None,
        "largest": largest.name, "largest_volts": largest.volts})
    return replace(band, weak=why, release_volts=NAN, start_of_travel_volts=NAN,
                   lost_travel_percent=NAN)


def _between_rails(setting: Setting, nominal: Mapping[str, float]) -> Setting:
    """Return the setting, without its value where no reading can be: past 0 V or the supply."""
    supply = nominal.get(setting.channel or "", NAN)
    if setting.unit != "V" or not (setting.value < 0.0 or setting.value > supply):
        return setting
    return replace(setting, value=NAN, why=Reason("outside the supply", {
        "volts": setting.value, "supply_volts": supply, "why": setting.why}))


def _rest(track: TrackFindings) -> Setting:
    count = int(track.rest_levels.size)
    return Setting("rest", track.column, track.rest.value, "V", Reason("median of returns", {
        "returns": count, "uncertainty_volts": track.rest.uncertainty}))


def _start_and_release(track: TrackFindings, band: DeadBand) -> tuple[Setting, Setting]:
    away = "up" if sign_of(track) > 0 else "down"
    if not np.isfinite(band.start_of_travel_volts):
        why = band.weak or Reason("no data for a dead band")
        return (Setting("start_of_travel", track.column, NAN, "V", why, away),
                Setting("release", track.column, NAN, "V", why, away))
    parts = sorted((i for i in band.items if i.volts > 0), key=lambda i: -i.volts)[:3]
    largest = tuple(Reason("part", {
        "name": i.name, "volts": i.volts, "basis": i.basis, "key_ons": i.key_ons}) for i in parts)
    return (
        Setting("start_of_travel", track.column, band.start_of_travel_volts, "V",
                Reason("rest and its lift", {
                    "weak": band.weak, "parts": largest, "key_ons": band.key_ons,
                    "lift_volts": abs(band.start_of_travel_volts - band.rest_volts),
                    "risk": band.risk, "law": band.law,
                    "lost_travel_percent": band.lost_travel_percent}), away),
        Setting("release", track.column, band.release_volts, "V", Reason("hysteresis", {
            "weak": band.weak, "rises": away == "up",
            "volts": abs(band.start_of_travel_volts - band.release_volts)}), away))


def short_of_stop(track: TrackFindings) -> Reason | None:
    """Return why the full presses cannot all have reached the pedal's stop, or None."""
    if track.full_levels.size < 3:
        return None
    spread = float(np.std(track.full_levels, ddof=1))
    if spread <= STOP_SCATTER * track.span.value:
        return None
    return Reason("short of the stop", {"lowest_volts": float(track.full_levels.min()),
                                        "highest_volts": float(track.full_levels.max())})


def _full_travel(track: TrackFindings, band: DeadBand, parameters: Parameters,
                 reach: InputReach | None) -> Setting:
    """Return the level that full presses reach: a lower tolerance bound less the errors."""
    sign = sign_of(track)
    side = "down" if sign > 0 else "up"
    levels: Array = sign * track.full_levels
    count = int(levels.size)

    def unknown(why: Reason) -> Setting:
        return Setting("full_travel", track.column, NAN, "V", why, side)

    if count < 3:
        return unknown(Reason("few full presses", {"presses": count}))
    short = short_of_stop(track)
    if short is not None:
        return unknown(short)
    noise = noise_of(track)
    if not np.isfinite(noise.sigma):
        return unknown(Reason("too little rest"))
    spread = max(float(np.std(levels, ddof=1)), bounds.quantisation_noise(track.step_volts))
    errors = (3.0 * noise.sigma + parameters.converter_error_steps * track.step_volts
              + supply_error(track, parameters, track.full.value)[0]
              + (0.0 if reach is None else reach.takes(1.0)))
    level = _reached(levels, spread, track.step_volts, parameters) - errors
    start = sign * band.start_of_travel_volts
    if np.isfinite(start) and level <= start:
        return unknown(Reason("presses scatter", {"scatter_volts": spread}))
    return Setting("full_travel", track.column, sign * level, "V", Reason("full presses", {
        "coverage": FULL_COVERAGE, "confidence": parameters.confidence, "presses": count,
        "scatter_volts": spread, "errors_volts": errors, "law": parameters.returns}), side)


def _reached(levels: Array, spread: float, step: float, parameters: Parameters) -> float:
    """Return what FULL_COVERAGE of presses reach under the law that returns are taken to follow.

    levels: full ones, pressed positive. Presses may stick short of the stop as returns do short of
    rest, so the same laws hold for them; never above the bound of normal ones, nor the lowest seen.
    """
    count = int(levels.size)
    factor = bounds.tolerance_factor(count, FULL_COVERAGE, parameters.confidence)
    normal = min(float(levels.mean()) - factor * spread, float(levels.min()))
    if parameters.returns == "even":
        return normal
    scale = lean_scale(-levels, bounds.quantisation_noise(step))
    return min(normal, float(levels.min()) - scale * reach_factor(
        count, parameters.confidence, parameters.returns))


def _fault_limits(track: TrackFindings, band: DeadBand, parameters: Parameters,
                  reach: InputReach | None) -> tuple[Setting, Setting]:
    """Return both fault limits, half way between what a sound pedal and a broken wire read."""
    noise = noise_of(track)
    nominal = track.nominal_volts
    if not np.isfinite(noise.sigma) or not np.isfinite(band.total_volts):
        why = band.weak or Reason("no data for fault limits")
        return (Setting("fault_low", track.column, NAN, "V", why, "up"),
                Setting("fault_high", track.column, NAN, "V", why, "down"))
    wobble = (noise.level(parameters.key_on_hours, 1.0 - parameters.confidence)
              + parameters.converter_error_steps * track.step_volts)
    gap = max(LEAST_FAULT_GAP * nominal, wobble)
    # What lifts rest towards pressed may as well pull it the other way, and full travel too; there
    # the supply moves more volts.
    low = min(track.lowest_volts, track.rest.value, track.full.value)
    high = max(track.highest_volts, track.rest.value, track.full.value)
    at_rest = supply_error(track, parameters, track.rest.value)[0]
    more = max(0.0, supply_error(track, parameters, high)[0] - at_rest)
    low, high = low - band.total_volts, high + band.total_volts + more
    if reach is not None:
        # Beyond rest the input may move a reading away from pressed, beyond full towards it.
        ends = reach.takes(0.0), reach.puts(1.0)
        low -= ends[0] if sign_of(track) > 0 else ends[1]
        high += ends[1] if sign_of(track) > 0 else ends[0]
    return (
        _fault_limit("fault_low", track, low, 0.0, gap, "up"),
        _fault_limit("fault_high", track, high, nominal, gap, "down"))


def _fault_limit(name: str, track: TrackFindings, extreme: float, rail: float, gap: float,
                 side: str) -> Setting:
    room = abs(extreme - rail) if (extreme > rail) == (name == "fault_low") else 0.0
    if track.clipped and room < 2.0 * gap:
        return Setting(name, track.column, NAN, "V",
                       Reason("clipped at the rail", {"rail_volts": rail}), side)
    if not room >= 2.0 * gap:
        return Setting(name, track.column, NAN, "V", Reason("too near the rail", {
            "furthest_volts": extreme, "rail_volts": rail, "gap_volts": gap}), side)
    return Setting(name, track.column, (extreme + rail) / 2.0, "V", Reason("half way to the rail", {
        "furthest_volts": extreme, "rail_volts": rail, "room_volts": room / 2}), side)


def _mismatch(pair: PairFindings, parameters: Parameters) -> tuple[Setting, Setting]:
    seen, doubt = pair.mismatch_max_percent.value, pair.mismatch_max_percent.uncertainty
    limit = parameters.mismatch_limit_percent
    if not np.isfinite(seen):
        level = Setting("mismatch_limit", None, NAN, "%", Reason("mismatch not measured"))
    else:
        need = seen + (COVERAGE_FACTOR * doubt if np.isfinite(doubt) else 0.0)
        value = limit if need <= limit else math.ceil(10.0 * need) / 10.0
        level = Setting("mismatch_limit", None, value, "%", Reason("mismatch limit", {
            "seen_percent": seen, "need_percent": need, "limit_percent": limit,
            "uncertainty_percent": doubt, "rule_percent": RULE_LIMIT_PERCENT,
            "rule_s": RULE_TIME_S}))
    return level, Setting("mismatch_time", None, parameters.mismatch_time_s, "s", Reason(
        "mismatch time", {"seconds": parameters.mismatch_time_s, "rule_s": RULE_TIME_S}))

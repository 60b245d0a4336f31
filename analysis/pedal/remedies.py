"""Turn the potentiometer, trim it with a resistor, or live with the dead band: side by side.

The potentiometer is taken with three terminals, an optional resistor in the supply leg and one
in the ground leg, read by the stated controller; equations: docs/method_deadband.md, "Remedies".
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from analysis.model.finding import Reason, Value
from analysis.parameters import Parameters
from analysis.pedal.dead_band import DeadBand, sign_of, stated
from analysis.pedal.preferred_values import nearest_value
from analysis.pedal.tracks import TrackFindings
from analysis.pedal.trim import Bench, Moved, Trim, divided, loaded, trim_legs

if TYPE_CHECKING:
    from analysis.pedal.findings import Findings

__all__ = ["Moved", "Remedy", "bench_level", "divided", "loaded", "remedies", "trim_legs"]

NAN = float("nan")
# A trim that leaves less than this share of the span wastes too much resolution to be offered
# (common practice, no source).
LEAST_SPAN_LEFT = 0.5
# A target nearer than this share of the supply is met already.
MET = 0.001
# A rest nearer to a rail than this share of the supply looks like a broken wire (common practice,
# no source).
RAIL_ROOM = 0.05


@dataclass(frozen=True)
class Remedy:
    """Hold one way to put right a rest that is off, with what it costs.

    kind: "turn", "trim resistor" or "dead band". amount, unit: degrees, ohms or volts; amount
        and lost_travel_percent are NaN when the way is closed, and `why` is then the cause.
    rest_volts, full_volts, lost_travel_percent: what is to be expected afterwards, volts as the
        controller reads them. others: where it puts the other tracks.
    """

    kind: str
    column: str
    amount: float
    unit: str
    rest_volts: float
    full_volts: float
    lost_travel_percent: float
    why: Reason
    others: tuple[Moved, ...] = ()


def remedies(track: TrackFindings, dead_band: DeadBand, parameters: Parameters,
             beside: TrackFindings | None = None, asked: bool = True,
             tracks: Mapping[str, TrackFindings] | None = None) -> tuple[Remedy, ...]:
    """Return the three ways side by side; a trim may need one resistor in each leg.

    track, tracks: as the controller reads them; all of the pedal, None for this one alone.
    beside: the like track that it is to agree with, if any; a way that puts the two further apart
    at full travel than the mismatch limit is closed, unless the user asked for that target.
    Turning and trimming bring rest to the user's target; without a target they have no aim, and
    neither lessens what lifts the reading from one return to the next. While rest is not proven
    both are closed. Nothing at all is returned when rest and span are unknown.
    """
    if not (np.isfinite(track.rest.value) and track.span.value > 0):
        return ()
    target = parameters.target_rest_volts.get(track.column)
    if dead_band.weak is not None:
        why = Reason("this first", {"why": dead_band.weak})
        return (_closed("turn", track, "degrees", why),
                _closed("trim resistor", track, "ohms", why),
                _live_with_it(track, dead_band, target))
    if parameters.pedal_kind.startswith("hall"):
        why = Reason("no element to move")
        return (_closed("turn", track, "degrees", why),
                _closed("trim resistor", track, "ohms", why),
                _live_with_it(track, dead_band, target))
    if target is None:
        why = Reason("no target")
        return (_closed("turn", track, "degrees", why),
                _closed("trim resistor", track, "ohms", why),
                _live_with_it(track, dead_band, None))
    if abs(target - track.rest.value) <= MET * track.nominal_volts:
        why = Reason("at the target", {"target_volts": target})
        return (_closed("turn", track, "degrees", why),
                _closed("trim resistor", track, "ohms", why),
                _live_with_it(track, dead_band, target))
    if parameters.pedal_kind == "rheostat":
        return (*of_rheostat(track, dead_band, parameters, target),
                _live_with_it(track, dead_band, target))
    full_target = parameters.target_full_volts.get(track.column)
    tracks = tracks or {track.column: track}
    moved = (_turn(track, dead_band, parameters, target, tracks),
             *_trim(track, dead_band, parameters, (target, full_target), tracks))
    if beside is not None:
        moved = tuple(_against(r, track, beside, parameters, asked) for r in moved)
    return (*moved, _live_with_it(track, dead_band, target))


def _against(remedy: Remedy, track: TrackFindings, beside: TrackFindings, parameters: Parameters,
             asked: bool) -> Remedy:
    """Return the remedy with how far it puts the like tracks apart at full travel."""
    if not np.isfinite(remedy.amount):
        return remedy
    there = next((m for m in remedy.others if m.column == beside.column),
                 Moved(beside.column, beside.rest.value, beside.full.value))
    if remedy.kind == "turn":
        # A second housing stays where it is; one housing turns both, and closes no gap between.
        there = Moved(beside.column, beside.rest.value, beside.full.value)
    apart = abs(remedy.full_volts - there.full_volts)
    percent = 100.0 * apart / abs(there.full_volts - there.rest_volts)
    beyond: dict[str, Value] = {
        "beside": beside.column, "apart_volts": apart, "apart_percent": percent}
    limit = parameters.mismatch_limit_percent
    if percent > limit and not asked:
        return _closed(remedy.kind, track, remedy.unit,
                       Reason("too far apart", {**beyond, "limit_percent": limit}))
    return replace(remedy, why=Reason(remedy.why.code, {**remedy.why.values, **beyond}))


def _turn(track: TrackFindings, band: DeadBand, parameters: Parameters, target: float,
          tracks: Mapping[str, TrackFindings]) -> Remedy:
    nominal = track.nominal_volts
    shift = target - track.rest.value
    bench = Bench(tracks, parameters, parameters.pedal_leads == "joined")
    share, full = bench.turned(track.column, target)
    if not 0.0 < target < nominal or not 0.0 < full < nominal:
        return _closed("turn", track, "degrees", Reason("off the element", {
            "target_volts": target, "full_volts": track.full.value + shift,
            "nominal_volts": nominal}))
    degrees = abs(share) * parameters.electrical_angle_degrees
    lost = _lost(band, track.span.value)
    # In one housing all wipers turn by the same angle: each by its own volts a degree.
    others = tuple(_turned(t, shift / (sign_of(track) * track.span.value))
                   for n, t in tracks.items() if n != track.column)
    return Remedy("turn", track.column, degrees, "degrees", target, full, lost, Reason("turn", {
        "degrees": degrees, "shift_volts": shift, "target_volts": target, "full_volts": full,
        "electrical_angle_degrees": parameters.electrical_angle_degrees,
        "lost_travel_percent": lost, "near_rail": _near_rail(target, nominal),
        "bench_volts": bench.on_the_bench(track.column, share), "others": _told(others)}), others)


def _turned(track: TrackFindings, share: float) -> Moved:
    """Return where a track reads when its wiper turns by a share of the pedal's own travel."""
    shift = sign_of(track) * share * track.span.value
    return Moved(track.column, track.rest.value + shift, track.full.value + shift)


def _told(moved: tuple[Moved, ...]) -> tuple[Value, ...]:
    """Return (track, rest, full) of each, volts."""
    return tuple((m.column, m.rest_volts, m.full_volts) for m in moved)


def _near_rail(target: float, nominal: float) -> bool:
    return min(target, nominal - target) < RAIL_ROOM * nominal


def _trim(track: TrackFindings, band: DeadBand, parameters: Parameters,
          targets: tuple[float, float | None],
          tracks: Mapping[str, TrackFindings]) -> tuple[Remedy, ...]:
    """Return the resistor of each leg that brings rest, or both ends, to their targets."""
    target, ohms = targets[0], parameters.track_ohms
    joined = parameters.pedal_leads == "joined"
    found, why, left = _trimmed(track, parameters, targets, tracks, joined)
    if why is not None:
        return (_closed("trim resistor", track, "ohms", why),)
    nominal = track.nominal_volts
    lost = _lost(band, abs(found.own.full_volts - found.own.rest_volts))
    middle = (track.rest.value + track.full.value) / 2.0 / nominal
    legs = (found.supply_ohms, found.ground_ohms)
    load = parameters.controller_input_ohms
    sag = nominal * (divided(middle, ohms, *legs) - loaded(middle, ohms, load, *legs))
    said: Mapping[str, Value] = {
        "rest_volts": found.own.rest_volts, "full_volts": found.own.full_volts, "left": left,
        "track_ohms": ohms, "lost_travel_percent": lost, "input_ohms": load, "sag_volts": sag,
        "target_volts": target, "near_rail": _near_rail(target, nominal),
        "joined": joined, "others": _told(found.others),
        "if_joined": _if_joined(track, parameters, targets, tracks)}
    return tuple(
        Remedy("trim resistor", track.column, value, "ohms", found.own.rest_volts,
               found.own.full_volts, lost, Reason("trim resistor", {
                   **said, "leg": leg, "ohms": value,
                   "other_leg": other[0][0] if other else None,
                   "other_ohms": other[0][1] if other else None}), found.others)
        for leg, value in found.legs
        for other in ([entry for entry in found.legs if entry[0] != leg],))


def _trimmed(track: TrackFindings, parameters: Parameters, targets: tuple[float, float | None],
             tracks: Mapping[str, TrackFindings],
             joined: bool) -> tuple[Trim, Reason | None, float]:
    """Return a trim, why it is not offered (None: it is), and the share of the span it leaves."""
    found = Bench(tracks, parameters, joined).trim(track.column, *targets)
    left = abs(found.own.full_volts - found.own.rest_volts) / track.span.value
    if found.why_not is None and left < LEAST_SPAN_LEFT:
        return found, Reason("little span left", {"share": left}), left
    return found, found.why_not, left


def _if_joined(track: TrackFindings, parameters: Parameters, targets: tuple[float, float | None],
               tracks: Mapping[str, TrackFindings]) -> Reason | None:
    """Return what the trim is where the tracks share their leads; None where that is known."""
    if parameters.pedal_leads != "unknown" or len(tracks) < 2:
        return None
    found, why, _ = _trimmed(track, parameters, targets, tracks, True)
    if why is not None:
        return Reason("no joined trim", {"why": why})
    return Reason("joined trim", {
        "legs": tuple((leg, ohms) for leg, ohms in found.legs),
        "rest_volts": found.own.rest_volts, "full_volts": found.own.full_volts,
        "others": _told(found.others)})


def of_rheostat(track: TrackFindings, band: DeadBand, parameters: Parameters,
                target: float) -> tuple[Remedy, Remedy]:
    """Return turn and trim of a two-wire rheostat, whose volts stand for ohms.

    A resistor in series adds its ohms everywhere; one across it lowers them: R R_p / (R + R_p).
    """
    nominal, full_ohms = track.nominal_volts, parameters.track_ohms
    scale = 2.0 * full_ohms / nominal
    rest, full, goal = (scale * v for v in (track.rest.value, track.full.value, target))
    turned = full + goal - rest
    lost = _lost(band, track.span.value)
    if 0.0 <= goal <= full_ohms and 0.0 <= turned <= full_ohms:
        degrees = abs(goal - rest) / full_ohms * parameters.electrical_angle_degrees
        turn = Remedy("turn", track.column, degrees, "degrees", target, turned / scale, lost,
                      Reason("rheostat turn", {
                          "degrees": degrees, "rest_ohms": rest, "target_ohms": goal,
                          "full_ohms": turned, "lost_travel_percent": lost}))
    else:
        turn = _closed("turn", track, "degrees", Reason("off the rheostat", {
            "target_ohms": goal, "full_ohms": turned, "rheostat_ohms": full_ohms}))
    if goal > rest:
        value = nearest_value(goal - rest)
        then = tuple(v + value for v in (rest, full))
    elif goal > 0.0:
        value = nearest_value(rest * goal / (rest - goal))
        then = tuple(v * value / (v + value) for v in (rest, full))
    else:
        return turn, _closed("trim resistor", track, "ohms", Reason("target at a rail"))
    left = abs(then[1] - then[0]) / abs(full - rest)
    if left < LEAST_SPAN_LEFT:
        return turn, _closed("trim resistor", track, "ohms", Reason("little span left", {
            "share": left}))
    lost = _lost(band, abs(then[1] - then[0]) / scale)
    return turn, Remedy(
        "trim resistor", track.column, value, "ohms", then[0] / scale, then[1] / scale, lost,
        Reason("rheostat trim", {"ohms": value, "in_series": goal > rest, "rest_ohms": then[0],
                                 "full_ohms": then[1], "left": left, "target_ohms": goal,
                                 "lost_travel_percent": lost}))


def _live_with_it(track: TrackFindings, band: DeadBand, target: float | None) -> Remedy:
    """Return the third way; a controller set to the target must also span rest's distance."""
    if band.weak is not None:
        return _closed("dead band", track, "V", Reason("promises nothing", {"why": band.weak}))
    width = abs(band.start_of_travel_volts - band.rest_volts)
    lost = _lost(band, track.span.value)
    off = 0.0 if target is None else sign_of(track) * (track.rest.value - target)
    if abs(off) <= MET * track.nominal_volts:
        off = 0.0
    return Remedy("dead band", track.column, width, "V", track.rest.value, track.full.value, lost,
                  Reason("leave as it is", {
                      "start_of_travel_volts": stated(band)[1], "width_volts": width,
                      "lost_travel_percent": lost, "target_volts": target, "off_volts": off,
                      "off_percent": 100 * off / track.span.value}))


def _lost(band: DeadBand, span: float) -> float:
    """Return the dead band in % of a span, its volts kept: what lifts rest is not trimmed."""
    return 100.0 * abs(band.start_of_travel_volts - band.rest_volts) / span


def _closed(kind: str, track: TrackFindings, unit: str, why: Reason) -> Remedy:
    return Remedy(kind, track.column, NAN, unit, track.rest.value, track.full.value, NAN,
                  Reason("not offered", {"why": why}))


def bench_level(findings: "Findings", column: str) -> float | None:
    """Return what the bench reads with a track turned to its target; None: what the target says.

    The two part where the stated controller bends the reading.
    """
    for remedy in findings.remedies.get(column, ()):
        level = remedy.why.values.get("bench_volts")
        if remedy.kind == "turn" and isinstance(level, float):
            return level
    return None

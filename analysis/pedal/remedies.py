"""Turn the potentiometer, trim it with a resistor, or live with the dead band: side by side.

The potentiometer is taken with three terminals, an optional resistor in the supply leg and one
in the ground leg; equations: docs/method_deadband.md, "Remedies".
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from analysis.model.finding import Reason, Value
from analysis.parameters import Parameters
from analysis.pedal.dead_band import DeadBand, sign_of, stated
from analysis.pedal.preferred_values import nearest_value
from analysis.pedal.tracks import TrackFindings

NAN = float("nan")
# A trim that leaves less than this share of the span wastes too much resolution to be offered
# (common practice, no source).
LEAST_SPAN_LEFT = 0.5
# The coarser series is kept while its value misses the target by no more than this share of
# the supply; then E96.
CLOSE_ENOUGH = 0.001
# A target nearer than this share of the supply is met already.
MET = 0.001
# A rest nearer to a rail than this share of the supply looks like a broken wire (common practice,
# no source).
RAIL_ROOM = 0.05
# An everyday load of a reading input, for the remark on loading (common practice, no source).
INPUT_OHMS = 100e3


@dataclass(frozen=True)
class Remedy:
    """Hold one way to put right a rest that is off, with what it costs.

    kind: "turn", "trim resistor" or "dead band". amount, unit: degrees, ohms or volts; amount
        and lost_travel_percent are NaN when the way is closed, and `why` is then the cause.
    rest_volts, full_volts, lost_travel_percent: what is to be expected afterwards.
    """

    kind: str
    column: str
    amount: float
    unit: str
    rest_volts: float
    full_volts: float
    lost_travel_percent: float
    why: Reason


def remedies(track: TrackFindings, dead_band: DeadBand, parameters: Parameters,
             beside: TrackFindings | None = None, asked: bool = True) -> tuple[Remedy, ...]:
    """Return the three ways side by side; a trim may need one resistor in each leg.

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
    full_target = parameters.target_full_volts.get(track.column)
    moved = (_turn(track, dead_band, parameters, target),
             *_trim(track, dead_band, parameters, target, full_target))
    if beside is not None:
        moved = tuple(_against(r, track, beside, parameters, asked) for r in moved)
    return (*moved, _live_with_it(track, dead_band, target))


def _against(remedy: Remedy, track: TrackFindings, beside: TrackFindings, parameters: Parameters,
             asked: bool) -> Remedy:
    """Return the remedy with how far it puts the like tracks apart at full travel."""
    if not np.isfinite(remedy.amount):
        return remedy
    apart = abs(remedy.full_volts - beside.full.value)
    percent = 100.0 * apart / beside.span.value
    beyond: dict[str, Value] = {
        "beside": beside.column, "apart_volts": apart, "apart_percent": percent}
    limit = parameters.mismatch_limit_percent
    if percent > limit and not asked:
        return _closed(remedy.kind, track, remedy.unit,
                       Reason("too far apart", {**beyond, "limit_percent": limit}))
    return replace(remedy, why=Reason(remedy.why.code, {**remedy.why.values, **beyond}))


def divided(ratio: float, track_ohms: float, supply_leg_ohms: float,
            ground_leg_ohms: float) -> float:
    """Return the wiper's share of the supply with a resistor in either leg, no load.

    (ground + ratio * track) / (supply + track + ground); ratio: the wiper's share without them.
    """
    whole = supply_leg_ohms + track_ohms + ground_leg_ohms
    return (ground_leg_ohms + ratio * track_ohms) / whole


def loaded(ratio: float, track_ohms: float, load_ohms: float, supply_leg_ohms: float = 0.0,
           ground_leg_ohms: float = 0.0) -> float:
    """Return the wiper's share of the supply with a load from wiper to ground.

    Thevenin: the unloaded share times load / (load + upper * lower / whole).
    """
    lower = ground_leg_ohms + ratio * track_ohms
    whole = supply_leg_ohms + track_ohms + ground_leg_ohms
    source = lower * (whole - lower) / whole
    return lower / whole * load_ohms / (load_ohms + source)


def trim_legs(rest_ratio: float, full_ratio: float, target_rest: float,
              target_full: float | None,
              track_ohms: float) -> tuple[float, float, Reason | None]:
    """Return the resistors in the supply and ground leg, ohms, and why not (None when possible).

    Ratios are shares of the supply. With one target one leg suffices; with both, span shrinks
    to a = (target_full - target_rest) / (full - rest), whole = track / a, ground =
    target_rest * whole - rest * track, supply = whole - track - ground. When impossible both
    are NaN.
    """
    if not 0.0 < target_rest < 1.0 or (target_full is not None and not 0.0 < target_full < 1.0):
        return NAN, NAN, Reason("target at a rail")
    if target_full is None:
        if target_rest < rest_ratio:
            return track_ohms * (rest_ratio / target_rest - 1.0), 0.0, None
        return 0.0, track_ohms * ((1.0 - rest_ratio) / (1.0 - target_rest) - 1.0), None
    share = (target_full - target_rest) / (full_ratio - rest_ratio)
    if share <= 0:
        return NAN, NAN, Reason("targets turned round")
    if share > 1.0 + 1e-9:
        return NAN, NAN, Reason("span would grow", {"share": share})
    whole = track_ohms / share
    ground = target_rest * whole - rest_ratio * track_ohms
    supply = whole - track_ohms - ground
    # A leg of less than 0.02 % of the track cannot be told from a wire.
    ground, supply = (0.0 if abs(r) < 2e-4 * track_ohms else r for r in (ground, supply))
    if ground < 0 or supply < 0:
        return NAN, NAN, Reason("leg below nothing", {"leg": "ground" if ground < 0 else "supply"})
    return supply, ground, None


def _turn(track: TrackFindings, band: DeadBand, parameters: Parameters, target: float) -> Remedy:
    nominal = track.nominal_volts
    shift = target - track.rest.value
    full = track.full.value + shift
    if not 0.0 < target < nominal or not 0.0 < full < nominal:
        return _closed("turn", track, "degrees", Reason("off the element", {
            "target_volts": target, "full_volts": full, "nominal_volts": nominal}))
    degrees = abs(shift) / nominal * parameters.electrical_angle_degrees
    lost = _lost(band, track.span.value)
    return Remedy("turn", track.column, degrees, "degrees", target, full, lost, Reason("turn", {
        "degrees": degrees, "shift_volts": shift, "target_volts": target, "full_volts": full,
        "electrical_angle_degrees": parameters.electrical_angle_degrees,
        "lost_travel_percent": lost, "near_rail": _near_rail(target, nominal)}))


def _near_rail(target: float, nominal: float) -> bool:
    return min(target, nominal - target) < RAIL_ROOM * nominal


def _trim(track: TrackFindings, band: DeadBand, parameters: Parameters, target: float,
          full_target: float | None) -> tuple[Remedy, ...]:
    nominal, ohms = track.nominal_volts, parameters.track_ohms
    rest, full = track.rest.value / nominal, track.full.value / nominal
    supply, ground, why = trim_legs(
        rest, full, target / nominal, None if full_target is None else full_target / nominal,
        ohms)
    if why is None:
        supply, ground = _preferred(supply, ground, rest, target / nominal, ohms)
        left = ohms / (supply + ohms + ground)
        if left < LEAST_SPAN_LEFT:
            why = Reason("little span left", {"share": left})
    if why is not None:
        return (_closed("trim resistor", track, "ohms", why),)
    new_rest = nominal * divided(rest, ohms, supply, ground)
    new_full = nominal * divided(full, ohms, supply, ground)
    lost = _lost(band, abs(new_full - new_rest))
    middle = (rest + full) / 2.0
    sag = nominal * (divided(middle, ohms, supply, ground)
                     - loaded(middle, ohms, INPUT_OHMS, supply, ground))
    legs = [(name, value) for name, value in (("supply", supply), ("ground", ground)) if value]
    said: Mapping[str, Value] = {
        "rest_volts": new_rest, "full_volts": new_full, "left": left, "track_ohms": ohms,
        "lost_travel_percent": lost, "input_ohms": INPUT_OHMS, "sag_volts": sag,
        "target_volts": target, "near_rail": _near_rail(target, nominal)}
    return tuple(
        Remedy("trim resistor", track.column, value, "ohms", new_rest, new_full, lost,
               Reason("trim resistor", {
                   **said, "leg": leg, "ohms": value,
                   "other_leg": other[0][0] if other else None,
                   "other_ohms": other[0][1] if other else None}))
        for leg, value in legs
        for other in ([entry for entry in legs if entry[0] != leg],))


def _preferred(supply: float, ground: float, rest: float, target: float,
               ohms: float) -> tuple[float, float]:
    """Return the legs in E24 values, in E96 when E24 misses the target rest by too much."""
    chosen = supply, ground
    for series in ("E24", "E96"):
        chosen = (nearest_value(supply, series) if supply else 0.0,
                  nearest_value(ground, series) if ground else 0.0)
        if abs(divided(rest, ohms, *chosen) - target) <= CLOSE_ENOUGH:
            break
    return chosen


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

"""The ways to put right a rest that is off, in words: what to do, what it costs, why not."""

import math

from bench.wording.face import Face, Values, Words, mv, volts, volts_of
from bench.wording.reasons import in_words


def _turn(v: Values, face: Face) -> str:
    lost = v["lost_travel_percent"]
    costs = f" of {lost:.1f} %" if math.isfinite(lost) else ", which is not known"
    way = "falls" if v["shift_volts"] < 0 else "rises"
    return ("with the pedal unplugged from the car, turn the potentiometer by about "
            f"{v['degrees']:.1f} degrees, until the reading at rest {way} by "
            f"{volts_of(v, abs(v['shift_volts']))} to {volts(v, 'target_volts')}{_on_bench(v)} "
            "(go by the reading: the "
            f"angle holds for an element of {v['electrical_angle_degrees']:g} degrees across the "
            f"whole supply); full travel moves along to {volts(v, 'full_volts')}, the span stays; "
            f"costs no travel beyond the dead band{costs}; a second track on the same shaft turns "
            f"too{_others(v, ' in the same housing', ': ')}; sweep again after locking it"
            f"{_near_rail(v)}{_beside(v)}")


def _others(v: Values, where: str, lead: str) -> str:
    """Return where the other tracks then read, or ""."""
    told = [f"track {track}{where} then rests at {rest:.3f} V, full travel {full:.3f} V"
            for track, rest, full in v["others"]]
    return f"{lead}{' and '.join(told)}" if told else ""


def _joined_trim(v: Values, face: Face) -> str:
    legs = " and ".join(f"{ohms:g} ohm in the {leg} leg" for leg, ohms in v["legs"])
    return (f"where the tracks share their supply and ground leads it takes {legs}: rest "
            f"{volts(v, 'rest_volts')}, full travel {volts(v, 'full_volts')}"
            f"{_others(v, '', ', and ')}")


def _on_bench(v: Values) -> str:
    """Return what the bench reads there, where the controller's input bends the reading."""
    return "" if v["bench_volts"] is None else (
        f" at the controller, which is {volts(v, 'bench_volts')} on the bench")


def _near_rail(v: Values) -> str:
    return (f"; a rest of {volts(v, 'target_volts')} is so near to a rail that a controller cannot "
            "tell it from a broken wire: choose another target" if v["near_rail"] else "")


def _beside(v: Values) -> str:
    return f"; {_apart(v)}" if "beside" in v else ""


def _apart(v: Values) -> str:
    return (f"at full travel it and track {v['beside']} are then {mv(v, 'apart_volts')} "
            f"apart, {v['apart_percent']:.1f} % of travel")


def _trim(v: Values, face: Face) -> str:
    lost = v["lost_travel_percent"]
    also = "" if v["other_leg"] is None else (
        f", together with {v['other_ohms']:g} ohm in the {v['other_leg']} leg")
    costs = f" costs {lost:.1f} % of it; " if math.isfinite(lost) else " is not known; "
    return (f"with the pedal unplugged from the car, put {v['ohms']:g} ohm into the {v['leg']} leg "
            f"of {'all tracks' if v['joined'] else 'the track'}{also}: rest becomes "
            f"{volts(v, 'rest_volts')}, full travel {volts(v, 'full_volts')}, "
            f"{100 * v['left']:.1f} % of the span is left and the dead band{costs}holds for a "
            f"track of {v['track_ohms']:g} ohm end to end, so measure that first; the resistor has "
            "a temperature coefficient of its own; an input of "
            f"{v['input_ohms'] / 1000:g} kohm lowers mid-travel by {mv(v, 'sag_volts')}; a "
            f"resistor at the wiper would move nothing{_others(v, '', '; ')}{_if_joined(v, face)}; "
            f"sweep again after it is in{_near_rail(v)}{_beside(v)}")


def _if_joined(v: Values, face: Face) -> str:
    if v["if_joined"] is None:
        return ""
    return (f"; this holds for a track with leads of its own, so power off, measure whether the "
            f"tracks' supply leads are joined at the pedal: {in_words(v['if_joined'], face)}")


def _leave(v: Values, face: Face) -> str:
    text = (f"leave the track as it is and start travel at {volts(v, 'start_of_travel_volts')}, "
            f"{volts(v, 'width_volts')} from rest; costs {v['lost_travel_percent']:.1f} % of "
            "travel")
    target, off = v["target_volts"], v["off_volts"]
    if target is not None and off > 0:
        text += (f"; a controller that counts from the target of {volts_of(v, target)} needs "
                 f"{volts_of(v, off)} more, {volts_of(v, v['width_volts'] + off)} in all")
    if target is not None and off < 0:
        text += (f"; a controller that counts from the target of {volts_of(v, target)} loses "
                 f"another {-v['off_percent']:.1f} % until the reading gets there")
    return text


WORDS: dict[str, Words] = {
    "turn": _turn,
    "trim resistor": _trim,
    "rheostat turn": lambda v, face: (
        "with the pedal unplugged from the car, turn the rheostat by about "
        f"{v['degrees']:.1f} degrees, until it reads {v['target_ohms']:.0f} ohm at rest in place "
        f"of {v['rest_ohms']:.0f}; full travel moves along to {v['full_ohms']:.0f} ohm; costs no "
        f"travel beyond the dead band of {v['lost_travel_percent']:.1f} %; sweep again after "
        "locking it"),
    "rheostat trim": lambda v, face: (
        f"with the pedal unplugged from the car, put {v['ohms']:g} ohm "
        f"{'in series with' if v['in_series'] else 'across'} the rheostat: rest becomes "
        f"{v['rest_ohms']:.0f} ohm, full travel {v['full_ohms']:.0f} ohm, {100 * v['left']:.0f} % "
        f"of the span is left and the dead band costs {v['lost_travel_percent']:.1f} % of it; "
        "sweep again after it is in"),
    "off the rheostat": lambda v, face: (
        f"rest at {v['target_ohms']:.0f} ohm would put full travel at {v['full_ohms']:.0f} ohm, "
        f"outside 0 to {v['rheostat_ohms']:g} ohm"),
    "joined trim": _joined_trim,
    "no joined trim": lambda v, face: (
        f"where the tracks share them no trim is offered, as {in_words(v['why'], face)}"),
    "leave as it is": _leave,
    "not offered": lambda v, face: f"not offered: {in_words(v['why'], face)}",
    "this first": lambda v, face: f"this comes first: {in_words(v['why'], face)}",
    "no target": lambda v, face: (
        "no target rest is given; it would move rest but not lessen what lifts the reading from "
        "one return to the next"),
    "no element to move": lambda v, face: (
        "a Hall sensor has no track to turn or to feed through a resistor, and a lower supply only "
        "takes it out of its range; set the controller to this rest, or have the sensor's own "
        "calibration or magnet seen to"),
    "at the target": lambda v, face: (
        f"rest already lies at the target of {volts(v, 'target_volts')}"),
    "too far apart": lambda v, face: (
        f"{_apart(v)}, more than the {v['limit_percent']:g} % that a controller is to tolerate "
        "between them"),
    "target at a rail": lambda v, face: (
        "a resistor cannot bring a level to a rail or beyond it"),
    "targets turned round": lambda v, face: (
        "the targets turn the track's direction round; swap its outer wires"),
    "span would grow": lambda v, face: (
        f"the targets ask for {100 * v['share']:.0f} % of the present span, and resistors can only "
        "shrink it"),
    "leg below nothing": lambda v, face: (
        f"the {v['leg']} leg would need less than no resistance; turn the potentiometer instead, "
        "or give up one of the two targets"),
    "off the element": lambda v, face: (
        f"rest at {volts(v, 'target_volts')} would put full travel at {volts(v, 'full_volts')}, "
        f"off the end of the element (0 to {v['nominal_volts']:g} V)"),
    "little span left": lambda v, face: (
        f"it would leave {100 * v['share']:.0f} % of the span, because a resistor shrinks the "
        "whole track to move its rest; turn the potentiometer instead"),
    "promises nothing": lambda v, face: (
        f"it would promise nothing: {in_words(v['why'], face)}"),
}

"""Speed from pulses of a wheel or of a motor's shaft."""

from collections.abc import Mapping
from typing import cast

from analysis.model.finding import Reason
from analysis.model.number_format import rounded_pair
from bench.wording.face import Face, Values, Words
from bench.wording.reasons import in_words
from bench.wording.senders.fields import stated_name

TITLE = "speed pulses of a wheel or a motor"
EQUATION = ("shaft rpm = 60 Hz / pulses_per_turn; km/h = 3.6 Hz / (pulses_per_turn gear_ratio) x "
            "metres a turn of the wheel")
WIRING = ("sensor's supply and ground from the board's own; output -> board's input (an open "
          "collector needs a resistor to the board's supply); a coil swings below ground: never "
          "straight to an input")
# What its stated values are called in the window.
LABELS = {
    "pulses_per_turn": "Pulses for one turn of the shaft",
    "gear_ratio": "Turns of that shaft for one turn of the wheel",
    "tyre": "Tyre, as on its side (185/65R15)",
    "circumference_metres": "Way of one turn of the wheel, m (in place of the tyre)",
    "channel_holds": "What the channel holds: pulses, hertz or count",
    "count_size": "Where a count starts again from 0 (0: never)",
    "meter_shows": "Speed that your meter or receiver showed (0: none)",
}


def _speed(v: Values, face: Face) -> str:
    said = f"{v['value']:.4g} {v['unit']}"
    if "tyre_percent" in v:
        said = f"{v['value']:.3g} {v['unit']} (± {v['tyre_percent']:.0f} % for the tyre's size)"
    elif "half_width" in v:
        shown, doubt = rounded_pair(v["value"], v["half_width"])
        said = f"{shown} {v['unit']} ± {doubt}"
    if "shaft_rpm" in v:
        said += f", {v['shaft_rpm']:.4g} turns a minute of the shaft"
    return f"{said}, {v['hertz']:.4g} Hz"


def _said(value: object, face: Face) -> str:
    return in_words(cast(Reason, value), face)


def _gear(ratio: float, face: Face) -> str:
    return face.of(f"gear_ratio={ratio:.4g}",
                   f"{stated_name('gear_ratio', face)} as {ratio:.4g}")


WORDS: Mapping[str, str | Words] = {
    "speed of so many hertz": _speed,
    "fastest of the stretches": lambda v, face: (
        f"{_said(v['speed'], face)} at the fastest of {v['steady']} steady stretches of "
        f"{v['stretches']}"),
    "of a stretch": lambda v, face: f"from {v['start_s']:.1f} s: {_said(v['what'], face)}",
    "no speed seen": lambda v, face: (
        f"no speed was seen: {_said(v['why'], face) or 'it lasts less than a second'}"),
    "speed does not follow the meter":
        "the speed does not follow the meter: wrong channel, or noise counted as pulses",
    "speed as stated":
        "the meter shows {times:.3f} times the speed by the stated values: as stated",
    "speed is another": lambda v, face: (
        f"the meter shows {v['times']:.3g} times the speed by the stated values: "
        + ", or ".join(_said(why, face) for why in cast(tuple[Reason, ...], v["whys"]))),
    "no common ratio of a speed":
        "{pulses:.3g} pulses a turn would fit, or another gear: count the teeth or magnets",
    "another way of one turn":
        "one turn of the wheel would be {metres:.3f} m, not {stated:.3f}: measure it on the ground "
        "over a few turns",
    "miles an hour": "it shows miles an hour: multiply by 1.609",
    "sensor on the wheel's side": lambda v, face: (
        "the sensor sits on the wheel's side of the gear: state " + _gear(1, face)),
    "gear the other way round": lambda v, face: (
        "the gear is the other way round: state " + _gear(v["gear_ratio"], face)),
    "another number of pulses": "it gives {pulses} pulses a turn, not {stated:g}",
    "tyre rolls":
        "{width_mm}/{aspect_percent} R{rim_inches}: {rim_mm} + 2 × {height_mm} = {diameter_mm} mm "
        "across, {rolling_share} × that = {metres:.3f} m a turn",
    "worth of ten hertz": lambda v, face: (
        f"10 Hz is {v['value']:.4g} {v['unit']}"
        + (" of the shaft that is sensed" if v["shaft_rpm"] is None else
           f", {v['shaft_rpm']:.4g} turns a minute of the shaft that is sensed")),
    "fast pulses look slow":
        "pulses faster than half the readings a second look like slow ones, and one recording "
        "cannot show that: where it matters, record again at another rate; both must agree",
    "speedometer shows too much":
        "a car's own speedometer may read a tenth and 4 km/h high and never low (UN "
        "Regulation 39): compare with a satellite receiver",
}

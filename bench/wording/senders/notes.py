"""What is said beside a calibration: what was taken for granted or left out, by code."""

from collections.abc import Mapping
from typing import cast

from analysis.model.finding import Reason
from bench.wording.face import Face, Values, Words
from bench.wording.reasons import in_words


def _point(v: Values, face: Face) -> str:
    return f"point {v['point']} (meter {v['meter']}, at {v['time_s']:.1f} s) left out: "


def _why(v: Values, face: Face) -> str:
    return in_words(cast(Reason | str, v["why"]), face)


WORDS: Mapping[str, str | Words] = {
    "resolution from the typed values":
        "the meter's resolution was taken as {resolution:g} from the values typed: state it if "
        "that is wrong",
    "meter taken for exact":
        "the meter's limits are not stated, so it counts as exact but for its rounding: state them "
        "as on its leaflet",
    "limits of the meter not stated":
        "how far off the meter may be is not stated: state its limits as on its leaflet",
    "points in degrees Fahrenheit":
        "not enough: the points are in degrees Fahrenheit; give them in Celsius first",
    "look at the doubted point first": lambda v, face: (
        "not enough: look at the point that does not fit first; take it again, leave it out"
        + face.of(" (--leave-out N), or say that it is right (--keep-point N)",
                  ", or say that it is right")),
    "points left out as told": lambda v, face: "left out as told: point " + ", ".join(
        f"{number} ({meter:g})" for number, meter in v["points"]),
    "point left out": lambda v, face: f"{_point(v, face)}{_why(v, face)}",
    "point not steady": lambda v, face: f"{_point(v, face)}it {_why(v, face)}",
    "points without a value left out": lambda v, face: (
        f"{len(v['volts'])} {'point' if len(v['volts']) == 1 else 'points'} left out: "
        + ", ".join(f"{volts:.3g} {v['unit']}" for volts in v["volts"])
        + f" at the input is no value of a {v['kind']}"),
    "check values and wiring": "check the stated values and the wiring",
    "read beyond the input's limit":
        "{volts:.3g} V was read at the input, whose limit is {limit_volts:g} V",
    "stated values not checked": lambda v, face: (
        f"the stated values were not checked: {_why(v, face)}"),
    "not compared with an older calibration": lambda v, face: (
        f"not compared with the calibration of {v['date']}: {_why(v, face)}"),
}

"""What is said of several kinds of sender, by code."""

from collections.abc import Mapping
from typing import cast

from analysis.model.finding import Reason
from analysis.model.number_format import rounded_pair
from bench.wording.face import Face, Values, Words
from bench.wording.reasons import in_words

_CAUSES = {True: "a broken lead or plug, or no sender",
           False: "leads that touch, or water in the plug"}


def off_text(volts: float) -> str:
    """Return by how much a zero is off: in mV, from a volt on in V."""
    return f"{volts:+.3g} V" if abs(volts) >= 1.0 else f"{1e3 * volts:+.3g} mV"


def _zero(v: Values, face: Face) -> str:
    shows, doubt = rounded_pair(v["shown"], v["half_width"], signed=True)
    return (f"it shows {shows} {v['unit']} (± {doubt}) where there is nothing: "
            f"{in_words(cast(Reason, v['cause']), face)}")


WORDS: Mapping[str, str | Words] = {
    "reading does not follow the meter":
        "the reading does not follow the meter: wrong channel, a broken lead, or points too close "
        "together",
    "shows something where there is nothing": _zero,
    "meter shows Fahrenheit":
        "the meter shows degrees Fahrenheit: switch it to Celsius, or type (F - 32) / 1.8; "
        "{fahrenheit:g} is {celsius:.1f} C",
    "reads as open or short": lambda v, face: (
        f"the {v['kind']} reads {'open' if v['open'] else 'short'} ({v['volts']:.3g} V of "
        f"{v['supply_volts']:g} V): {_CAUSES[v['open']]}"),
    "shows the meter's ohms": "it shows the ohms that the meter shows",
}

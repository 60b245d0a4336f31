"""What a meter's leaflet promises: +-(percent of reading + digits), and its resolution.

How the promise is shared out (GUM 4.3.7: limits without more knowledge = uniform between them):
- percent of reading: one unknown scale error, the same for every point of a calibration;
- digits times resolution, and an absolute limit: one unknown zero error, the same for every point;
- the display rounds: every point by itself, uniform within half a digit.
The first two do not show in the scatter of the points, and no number of points removes them.
"""

import re
from dataclasses import dataclass

import numpy as np

from analysis.model.errors import BadParameter
from analysis.model.recording import Array

_PART = re.compile(
    r"(?P<number>\d+(?:[.,]\d+)?)(?:"
    r"(?P<percent>(?:%|percent|pct)(?:of)?(?:the)?(?:reading|rdg|r|value|mv)?)"
    r"|(?P<digits>digits?|dgts?|dig|counts?|lsd|d)"
    r"|(?P<absolute>(?:°|deg(?:rees?)?)?(?:c|f|celsius|fahrenheit)|k|kelvin|°|m?v|(?:milli)?volts?|"
    r"m?a|(?:milli)?amps?|k?ohms?)|(?P<bare>))")
# A difference of one degree Fahrenheit, in kelvin.
_FAHRENHEIT = 5.0 / 9.0


@dataclass(frozen=True)
class MeterSpec:
    """Hold a meter's limits of error.

    percent: of the reading. digits: of the last place. resolution: one step of the last place,
    in the unit shown (0: not rounded). name: what the user calls the meter. absolute: further
    limit in the unit shown, as thermometers have it.
    """

    percent: float = 0.0
    digits: float = 0.0
    resolution: float = 0.0
    name: str = ""
    absolute: float = 0.0

    def __post_init__(self) -> None:
        for name, most in (("percent", 100.0), ("digits", 10_000.0), ("resolution", 1e9),
                           ("absolute", 1e9)):
            value = getattr(self, name)
            if not 0.0 <= value <= most:
                raise BadParameter("limit of the meter out of reason", limit=name, value=value,
                                   most=most)
        if self.digits and not self.resolution:
            raise BadParameter("resolution of the meter not known", digits=self.digits)

    @property
    def scale_limit(self) -> float:
        """Return the largest relative scale error."""
        return self.percent / 100.0

    @property
    def zero_limit(self) -> float:
        """Return the largest zero error, in the unit shown."""
        return self.digits * self.resolution + self.absolute

    @property
    def rounding_uncertainty(self) -> float:
        """Return the standard uncertainty of rounding: resolution / sqrt(12) (GUM F.2.2.1)."""
        return float(self.resolution / np.sqrt(12.0))

    def limit(self, shown: Array) -> Array:
        """Return the largest error promised at what the meter shows, same shape."""
        result: Array = self.scale_limit * np.abs(shown) + self.zero_limit
        return result



def parse_meter_spec(text: str, resolution: float = 0.0, name: str = "") -> MeterSpec:
    """Return the limits from words such as "0.5% + 2 digits", "±0.5 °C", "1 C + 0.3 %".

    A number with a unit is an absolute limit in the unit that the meter shows (degrees Fahrenheit
    are turned into kelvin, mV and mA into V and A, kohm into ohm); a number alone counts as digits
    behind a percentage. Raises BadParameter when the words are not understood, or when a kind of
    limit stands twice.
    """
    plain = re.sub(r"\s+", "", text.lower())
    plain = re.sub(r"^\(?(?:accuracy:?)?", "", plain).replace("+/-", "±").replace("+-", "±")
    parts = [p for p in re.split(r"[+±()]", plain) if p]
    found: dict[str, float] = {}
    for part in parts:
        match = _PART.fullmatch(part)
        kinds = ("percent", "digits", "absolute", "bare")
        kind = "" if match is None else next(k for k in kinds if match[k] is not None)
        # A number alone is digits where a percentage stands before it, and else unclear.
        kind = "digits" if kind == "bare" and "percent" in found else kind
        if match is None or kind in found or kind == "bare":
            found = {}
            break
        number = float(match["number"].replace(",", "."))
        found[kind] = number * _in_the_unit_shown(match["absolute"])
    if not found:
        raise BadParameter("limits of the meter not understood", text=text)
    return MeterSpec(found.get("percent", 0.0), found.get("digits", 0.0), resolution, name,
                     found.get("absolute", 0.0))


def _in_the_unit_shown(unit: str | None) -> float:
    """Return what one of this unit is in degrees, volts, amperes or ohms, 1 without a unit."""
    if unit in ("f", "°f", "degf", "fahrenheit"):
        return _FAHRENHEIT
    if unit is not None and (unit.startswith("milli") or unit in ("mv", "ma")):
        return 1e-3
    return 1e3 if unit is not None and unit.startswith("kohm") else 1.0


def resolution_of(typed: list[str]) -> float:
    """Return one step of the last place of numbers as they were typed: "12.30" gives 0.01."""
    places = 0
    for text in typed:
        mantissa, _, exponent = text.strip().lower().partition("e")
        decimals = len(mantissa.partition(".")[2]) - int(exponent or 0)
        places = max(places, decimals)
    return float(10.0 ** -places)

"""One setting in the unit a controller asks for, rounded to its safe side at any decimals.

A table says what may be converted into what. Counts of n bits are stated for a full scale of
2**n at the supply (volts = counts * supply / 2**n), the scale FORMATS and most converters use.
"""

import math
import re
from dataclasses import dataclass, replace

from analysis.model.safe_rounding import safely_rounded
from analysis.pedal.settings import Setting
from bench.errors import BadCall
from bench.files.exports.export_document import Sheet
from bench.wording.reasons import in_words

MOST_BITS = 32

_DIRECTION = {"up": 1, "down": -1, "nearest": 0}

# unit of the setting -> {asked unit: (factor, usual decimals)}; volts are handled below.
_PLAIN = {
    "%": {"percent": (1.0, 1), "permille": (10.0, 0)},
    "s": {"seconds": (1.0, 3), "milliseconds": (1000.0, 0)},
}
# Power starts at one level and ends at or below another. Counts next to each other are no
# hysteresis at all: a reading between two codes shows both. One code at least lies between.
_APART_COUNTS = 2
# A rheostat's levels: what volts they make is its controller's own affair.
_OHMS = ("ohms", "ohms_from_top", "percent_of_supply")
_VOLTS = ("volts", "millivolts", "percent_of_supply", "countsN", "ohms", "ohms_from_top")


@dataclass(frozen=True)
class Converted:
    """Hold a value in the unit asked for, before rounding.

    decimals: usual number of them. direction: +1 may only be rounded up, -1 only down, 0 to
    the nearest. lowest, highest: what can be entered at all, for counts. beyond: of start of
    travel in counts, the release that it must stay apart from.
    """

    value: float
    decimals: int
    direction: int
    lowest: float = -math.inf
    highest: float = math.inf
    beyond: "Converted | None" = None

    def rounded(self, decimals: int | None = None) -> float:
        """Return the value with so many decimals, rounded to the safe side."""
        places = self.decimals if decimals is None else decimals
        side = {1: "up", -1: "down", 0: "nearest"}[self.direction]
        value = safely_rounded(self.value, places, side)
        whole = round(value * 10.0 ** places)
        if self.beyond is not None:
            release = round(self.beyond.rounded(places) * 10.0 ** places)
            least = release + self.direction * _APART_COUNTS
            whole = max(whole, least) if self.direction > 0 else min(whole, least)
        value = whole if places == 0 else whole / 10.0 ** places
        return min(max(value, self.lowest), self.highest)


def units_of(setting: Setting) -> tuple[str, ...]:
    """Return the names of the units a setting can be asked in."""
    if setting.unit == "ohm":
        return _OHMS
    return _VOLTS if setting.unit == "V" else tuple(_PLAIN.get(setting.unit, ()))


def convert(setting: Setting, unit: str, sheet: Sheet) -> Converted:
    """Return a setting in `unit`, "" for its own.

    In counts start of travel is kept apart from the release of its track on the sheet. Raises
    BadCall on a unit that does not apply and on a value the data did not suffice for.
    """
    made = _convert(setting, unit, sheet)
    if setting.name != "start_of_travel" or not unit.startswith("counts"):
        return made
    for other in sheet.settings:
        if (other.name == "release" and other.channel == setting.channel
                and other.unit == setting.unit and math.isfinite(other.value)):
            return replace(made, beyond=_convert(other, unit, sheet))
    return made


def _convert(setting: Setting, unit: str, sheet: Sheet) -> Converted:
    who = f"{setting.name} of {setting.channel!r}" if setting.channel else setting.name
    if not math.isfinite(setting.value):
        raise BadCall(f"{who} could not be determined ({in_words(setting.why)}); leave it out or "
                      "record the sweep again")
    direction = _DIRECTION[setting.safe_side]
    if setting.unit == "ohm":
        return _of_rheostat(setting, unit or "ohms", sheet, who)
    if setting.unit != "V":
        table = _PLAIN.get(setting.unit, {})
        if unit == "" and table:
            unit = next(iter(table))
        if unit not in table:
            raise BadCall(f"{who} is in {setting.unit} and cannot be stated in {unit!r}; use "
                          f"{' or '.join(table) or 'its own unit'}")
        factor, decimals = table[unit]
        return Converted(setting.value * factor, decimals, direction)
    ratio = setting.value / sheet.nominal_volts
    if unit in ("", "volts"):
        return Converted(setting.value, 3, direction)
    if unit == "millivolts":
        return Converted(setting.value * 1000.0, 0, direction)
    if unit == "percent_of_supply":
        return Converted(ratio * 100.0, 1, direction)
    if unit == "ohms":
        return Converted(ratio * sheet.track_ohms, 0, direction)
    if unit == "ohms_from_top":
        return Converted((1.0 - ratio) * sheet.track_ohms, 0, -direction)
    bits = re.fullmatch(r"counts([0-9]{1,2})", unit)
    if bits and 1 <= int(bits[1]) <= MOST_BITS:
        full = 2 ** int(bits[1])
        # A reading must be able to pass a limit: none is above the last code or below the first.
        lowest = 1 if setting.name == "fault_low" else 0
        highest = full - 2 if setting.name == "fault_high" and full > 2 else full - 1
        return Converted(ratio * full, 0, direction, lowest, highest)
    raise BadCall(f"{who} cannot be stated in {unit!r}; use volts, millivolts, "
                  f"percent_of_supply, counts1 to counts{MOST_BITS}, ohms or ohms_from_top")


def _of_rheostat(setting: Setting, unit: str, sheet: Sheet, who: str) -> Converted:
    """Return a level of a rheostat in ohms from either end, or in % of all its ohms."""
    direction = _DIRECTION[setting.safe_side]
    if unit == "ohms":
        return Converted(setting.value, 0, direction)
    if unit == "ohms_from_top":
        return Converted(sheet.track_ohms - setting.value, 0, -direction)
    if unit == "percent_of_supply":
        return Converted(100.0 * setting.value / sheet.track_ohms, 1, direction)
    raise BadCall(f"{who} is in ohms of a rheostat and cannot be stated in {unit!r}: its volts are "
                  f"its controller's own; use {', '.join(_OHMS)}")

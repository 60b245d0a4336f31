"""Hold what the controller shows against what is issued: each value in the controller's own unit.

A value on the unsafe side of the issued one (a start of travel nearer to rest, a full travel that
is reached earlier) would move the car sooner than the sweep allows; on the safe side it costs
travel.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from analysis.pedal.findings import Findings
from bench.errors import BadCall
from bench.files.job_standing import TypedBack

UNITS = ("volts", "percent", "counts")
NAMES = ("start_of_travel", "full_travel")
# A value typed back is the one issued within this, on its safe side (common practice, no source).
ALIKE_VOLTS = 0.01
# What rounding to the millivolt leaves.
ROUNDED_VOLTS = 0.0005
_MOST_BITS = 32


@dataclass(frozen=True)
class ShownUnit:
    """Hold the unit in which a controller shows its values, and how many volts one of it is.

    step_volts: what its rounding may hide; 0 where it shows decimals.
    """

    name: str
    volts_each: float
    step_volts: float = 0.0

    def shown(self, volts: float) -> str:
        """Return volts as the controller would show them, rounded to what a person types."""
        value = volts / self.volts_each
        return f"{value:.{ {'volts': 3, 'percent': 2}.get(self.name, 0)}f}"


def shown_unit(name: str, bits: int | None, nominal_volts: float) -> ShownUnit:
    """Return the unit a controller shows its values in; nominal_volts: of its supply.

    Raise BadCall on counts of an input whose width is not known.
    """
    if name != "counts":
        return ShownUnit(name, nominal_volts / 100.0 if name == "percent" else 1.0)
    if bits is None or not 1 <= bits <= _MOST_BITS:
        raise BadCall("--shown-unit counts needs the width of the input; add for example --bits 10")
    return ShownUnit(name, nominal_volts / 2**bits, nominal_volts / 2**bits)


def volts_of_text(text: str, unit: ShownUnit) -> float:
    """Return the volts of a typed number, NaN for what is none; a decimal comma is one too."""
    try:
        value = float(text.strip().replace(",", "."))
    except ValueError:
        return math.nan
    return value * unit.volts_each if math.isfinite(value) else math.nan


def typed_back(findings: Findings, volts: Mapping[str, object],
               step_volts: float = 0.0) -> tuple[TypedBack, ...]:
    """Return each value of the controller's, as issued by a sweep and as typed back.

    volts: by TRACK.NAME. step_volts: what the controller's own rounding may hide.
    """
    result = []
    for setting in findings.settings:
        if setting.name not in NAMES or setting.channel is None:
            continue
        name = f"{setting.channel}.{setting.name}"
        typed = volts.get(name)
        shown = float(typed) if isinstance(typed, int | float) else math.nan
        result.append(TypedBack(name, setting.value, shown, _state(
            setting.value, shown, {"up": 1.0, "down": -1.0}.get(setting.safe_side, 0.0),
            step_volts)))
    return tuple(result)


def _state(issued: float, typed: float, side: float, step_volts: float) -> str:
    """Return where a typed value stands; side: +1 where more is safe, -1 where less is."""
    if not math.isfinite(issued):
        return "none issued"
    if not math.isfinite(typed):
        return "not typed"
    slack, off = max(step_volts, ROUNDED_VOLTS), typed - issued
    if side * off < -ROUNDED_VOLTS or (not side and abs(off) > max(slack, ALIKE_VOLTS)):
        return "unsafe side"
    return "safe side" if abs(off) > max(4 * slack, ALIKE_VOLTS) else "as issued"


__all__ = ["UNITS", "ShownUnit", "TypedBack", "shown_unit", "typed_back", "volts_of_text"]

"""What every kind of sender offers, and the codes of what was found wrong.

A sender turns volts at the board's input into what its stated values make of them ("shown"),
and back. Calibration then fits meter = curve(shown): a slope of 1 and an offset of 0 say that
the stated values are right, and a slope that is off says what was mistaken for what. What a person
reads of a kind stands in bench/wording/senders.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any, ClassVar

import numpy as np

from analysis.model.errors import BadParameter
from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.senders.calibration import USUAL_FORMS, Calibration, Steady, average

# DC above this is not touch-safe (ISO 6469-3, voltage class B).
TOUCH_VOLTS = 60.0
# A slope of meter over shown below these is none.
_NO_SLOPE_SIGMAS = 3.0
_NO_SLOPE = 1e-6
# The name of the diagnosis that the reading does not follow the meter.
NO_RELATION = "no relation"
# Codes of cautions that more than one kind has.
PACK_CAUTION = "pack is not safe to touch"
ISOLATION_CAUTION = "pack is isolated from the car"


@dataclass(frozen=True)
class Diagnosis:
    """Hold one thing that was recognised.

    name: "as stated", "wrong tap", "loaded", "other shunt", "zero offset", "sign swapped", ...
    reason: what, by how much, what to do, as a code with values. value: what the mistaken setting
    really is (a ratio, ohms, kelvin, ...), NaN if none. wrong: whether something is to be put
    right.
    """

    name: str
    reason: Reason
    value: float = float("nan")
    wrong: bool = True


@dataclass(frozen=True)
class Sender:
    """Hold the stated values of a sender; every kind adds its own.

    pin_limit_volts: most that the board's input may get. Class attributes: `kind`, `unit` of the
    quantity, `shown_unit` of x, `input_unit` of what is read, `forms` of curve to try, `always`
    (codes of cautions whatever is stated), `must_state` (values without a usable default).
    """

    kind = "other"
    unit = "V"
    shown_unit = "V"
    input_unit = "V"
    forms: ClassVar[Sequence[str]] = USUAL_FORMS
    always: ClassVar[tuple[str, ...]] = ()
    must_state: ClassVar[tuple[str, ...]] = ()

    pin_limit_volts: float = 5.0

    def __post_init__(self) -> None:
        if not (np.isfinite(self.pin_limit_volts) and self.pin_limit_volts > 0):
            raise BadParameter("limit of the input not above 0", limit_volts=self.pin_limit_volts)

    def shown(self, volts: Array) -> Array:
        """Return what the stated values make of volts at the input, same shape."""
        return np.asarray(volts, dtype=float)

    @property
    def reads_volts(self) -> bool:
        """Return whether the channel's readings are volts at the input."""
        return True

    def level(self, time_s: Array, readings: Array, step: float = 0.0) -> Steady:
        """Return what a window of readings, shape (n,), stands at, in `input_unit`.

        step: one converter step. Raises NoCalibration where it can not be told.
        """
        return average(time_s, readings, step)

    def by_row(self, time_s: Array, readings: Array) -> Array:
        """Return what `shown` takes for every row of a recording, shape (n,) as both."""
        return readings

    def seen(self, time_s: Array, readings: Array) -> tuple[Diagnosis, ...]:
        """Return what a recording of it shows without a meter, the main thing first; () for none.

        time_s, readings: shape (n,), seconds rising and what the channel holds, in its own unit.
        """
        return ()

    def seen_notes(self) -> tuple[Reason, ...]:
        """Return what to know beside what `seen` or `typed` say."""
        return self.notes()

    def typed(self) -> tuple[Diagnosis, ...]:
        """Return what the person's own meter's values among the stated ones say; () for none."""
        return ()

    def quantity(self, x: Array) -> Array:
        """Return what the stated values make of x as the quantity itself, same shape."""
        return np.asarray(x, dtype=float)

    def shown_uncertainty(self, volts: Array, uncertainty: Array) -> Array:
        """Return the standard uncertainty of `shown` from that of the volts, same shape."""
        step = 1e-5 * np.maximum(np.abs(volts), 1e-3)
        with np.errstate(invalid="ignore", divide="ignore"):
            here = self.shown(volts)
            ahead, behind = self.shown(volts + step) - here, here - self.shown(volts - step)
        # At the end of what the sender can show only one side has a slope.
        slope = np.where(np.isfinite(ahead) & np.isfinite(behind), 0.5 * (ahead + behind),
                         np.where(np.isfinite(ahead), ahead, behind)) / step
        result: Array = np.abs(slope) * uncertainty
        return result

    def cautions(self) -> tuple[str, ...]:
        """Return the codes of what to mind for one's safety with these stated values."""
        return self.always

    def notes(self) -> tuple[Reason, ...]:
        """Return what the stated values mean for the wiring."""
        return ()

    def faults(self, volts: Array) -> tuple[Diagnosis, ...]:
        """Return what readings say of the sender by themselves, such as "open" or "short"."""
        return ()

    def hint(self, volts: Array, meter: Array) -> Reason | None:
        """Return what may be wrong when `shown` can make nothing of the volts, or None."""
        return None

    def diagnose(self, calibration: Calibration) -> tuple[Diagnosis, ...]:
        """Return what the calibration shows about the stated values."""
        slope, error, *_ = straight(calibration)
        if not abs(slope) > max(_NO_SLOPE_SIGMAS * error, _NO_SLOPE):
            return (Diagnosis(NO_RELATION, Reason("reading does not follow the meter"), slope),)
        return self._mistakes(calibration)

    def _mistakes(self, calibration: Calibration) -> tuple[Diagnosis, ...]:
        """Return what a slope and an offset, both sure to be there, say of the stated values."""
        return ()

    def stated(self) -> dict[str, Any]:
        """Return the stated values by name; they make the same sender again."""
        return {f.name: getattr(self, f.name) for f in fields(self)}


def positive(sender: Sender, *names: str, most: float = 1e12) -> None:
    """Raise BadParameter when one of these stated values is not above 0."""
    for name in names:
        value = getattr(sender, name)
        if not (np.isfinite(value) and 0 < value <= most):
            raise BadParameter("stated value not above 0", kind=sender.kind, stated=name,
                               value=value)


def refuse_pin(sender: Sender, pin_volts: float, **values: float) -> None:
    """Raise BadParameter when the input would get `pin_volts`, more than its limit or below ground.

    values: what the sentence of that kind says of how it came to it.
    """
    limit = sender.pin_limit_volts
    if pin_volts > limit:
        raise BadParameter("input beyond its limit", kind=sender.kind, pin_volts=pin_volts,
                           limit_volts=limit, **values)
    if pin_volts < -0.3:
        # Inputs clamp a diode drop below ground (common practice, no source).
        raise BadParameter("input below ground", kind=sender.kind, pin_volts=pin_volts, **values)


def both_or_none(sender: Sender, first: str, second: str) -> None:
    """Raise BadParameter when only one of two stated resistors is above 0, or one below."""
    values = getattr(sender, first), getattr(sender, second)
    if min(values) < 0 or (values[0] > 0) != (values[1] > 0):
        raise BadParameter("both or none", kind=sender.kind, first=first, second=second)


def swapped(slope: float, reason: Reason) -> tuple[Diagnosis, ...]:
    """Return "sign swapped" when the meter falls as the reading rises.

    slope: of meter over shown. reason: what turns it round.
    """
    return (Diagnosis("sign swapped", reason, slope),) if slope < 0 else ()


def deviates(value: float, target: float, tolerance: float, uncertainty: float) -> bool:
    """Return whether a ratio is off its target by more than tolerance and 95 % uncertainty."""
    return abs(value - target) > tolerance * abs(target) + 1.96 * uncertainty


def straight(calibration: Calibration) -> tuple[float, float, float, float]:
    """Return slope, its uncertainty, offset and its uncertainty of meter over shown.

    A curve that is not a line is replaced by the line through its points.
    """
    from analysis.statistics.straight_line import fit_line

    curve = calibration.curve
    if curve.form == "line":
        matrix = calibration.full_covariance()
        offset, slope = curve.coefficients
        any_reading = float(np.hypot(curve.scatter, curve.shift))
        return (float(slope), float(np.sqrt(matrix[1, 1])), float(offset),
                float(np.hypot(np.sqrt(matrix[0, 0]), any_reading)))
    line = fit_line(calibration.x, calibration.points.meter)
    meter = calibration.meter
    return (line.slope.value,
            float(np.hypot(line.slope.uncertainty, line.slope.value * meter.scale_limit / 3**.5)),
            line.intercept.value,
            float(np.hypot(line.intercept.uncertainty, meter.zero_limit / 3**.5)))


def offset_diagnosis(calibration: Calibration, unit: str, allowance: float,
                     cause: Reason) -> tuple[Diagnosis, ...]:
    """Return "zero offset" when the line does not go through zero, else nothing.

    allowance: offset that is not worth a word, in the quantity's unit. cause: what makes it.
    """
    slope, _, offset, uncertainty = straight(calibration)
    if abs(offset) <= allowance + 1.96 * uncertainty:
        return ()
    return (Diagnosis("zero offset", Reason("shows something where there is nothing", {
        "shown": -offset / (slope or 1.0), "half_width": 1.96 * uncertainty, "unit": unit,
        "cause": cause}), offset),)


def fahrenheit_diagnosis(shown: Array, meter: Array) -> tuple[Diagnosis, ...]:
    """Return "Fahrenheit" when the meter's values are those of the sender in that scale.

    shown: degrees Celsius by the stated values, shape (n,). F = 1.8 C + 32, exact by definition.
    """
    good = np.isfinite(shown) & np.isfinite(meter)
    if good.sum() < 2 or np.ptp(shown[good]) < 5.0:
        return ()
    as_celsius = float(np.median(np.abs(meter[good] - shown[good])))
    turned = (meter[good] - 32.0) / 1.8
    as_fahrenheit = float(np.median(np.abs(turned - shown[good])))
    slope = float(np.polyfit(shown[good], meter[good], 1)[0])
    if as_fahrenheit < 4.0 and as_celsius > 4.0 * as_fahrenheit and 1.5 < slope < 2.1:
        return (Diagnosis("Fahrenheit", Reason("meter shows Fahrenheit", {
            "fahrenheit": float(meter[good][0]), "celsius": float(turned[0])})),)
    return ()

"""What was recorded, checked once: counts -> volts at the pin -> volts at the sensor -> ratio.

Raw readings are kept as they came; every conversion returns a new array.
"""

import re
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from analysis.model.converter import CodeRange
from analysis.model.errors import BadRecording
from analysis.model.pedal_kind import PedalKind, RheostatInput, kind_of, rheostat_of
from analysis.model.step_estimate import grid_step

Array = NDArray[np.float64]

ROLES = (
    "track", "supply", "key", "brake", "position", "temperature", "voltage", "current", "switch",
    "forward", "reverse", "other",
)
PURPOSES = ("sweep", "key-on", "meter", "proof")
# What a key-on log may state in `extra` of the contactor at its key-ons.
CONTACTOR = ("open", "closed")
DEFAULT_NOMINAL_VOLTS = 5.0
# Far beyond any count, volt or second of a pedal, far within what sums and squares can bear.
MOST = 1e12
_GAP = re.compile(r"\s*gap\s+([0-9]{1,15})\s*\Z")


@dataclass(frozen=True)
class Mark:
    """Hold one text written beside a row: a prompt, `gap N`, `key on`, or the user's own."""

    row: int
    text: str

    @property
    def lost_samples(self) -> int:
        """Return how many samples a `gap N` mark says were lost before its row, else 0."""
        found = _GAP.match(self.text)
        return int(found[1]) if found else 0


@dataclass(frozen=True)
class Channel:
    """Hold one column of raw readings and what turns them into volts.

    readings: shape (n,), raw counts or volts as they came; NaN where a cell was empty.
    full_scale, reference_volts: only for unit "counts"; volts at the pin =
        counts * reference_volts / full_scale.
    scale, offset_volts: volts at the sensor = scale * volts at the pin + offset_volts.
    nominal_volts: for role "supply", the voltage at which track volts are stated.
    usable_low, usable_high: raw limits inside which the converter can be believed, if stated.
    reading_step: only for unit "V": one step of the converter, in the reading's volts, if stated.
    """

    column: str
    role: str
    readings: Array
    unit: str = "counts"
    full_scale: float | None = None
    reference_volts: float | None = None
    scale: float = 1.0
    offset_volts: float = 0.0
    nominal_volts: float | None = None
    usable_low: float | None = None
    usable_high: float | None = None
    reading_step: float | None = None

    def __post_init__(self) -> None:
        if self.role not in ROLES:
            raise BadRecording("unknown role", column=self.column, role=self.role, roles=ROLES)
        if self.unit not in ("counts", "V"):
            raise BadRecording("unknown unit", column=self.column, unit=self.unit)
        if self.unit == "counts":
            for name in ("full_scale", "reference_volts"):
                value = getattr(self, name)
                if value is None or not 1.0 / MOST <= value <= MOST:
                    raise BadRecording(
                        "counts without size", column=self.column, name=name, value=value)
        if not (1.0 / MOST <= abs(self.scale) <= MOST and abs(self.offset_volts) <= MOST):
            raise BadRecording(
                "scale out of reason", column=self.column, scale=self.scale,
                offset_volts=self.offset_volts, most=MOST)
        if self.nominal_volts is not None and not 1.0 / MOST <= self.nominal_volts <= MOST:
            raise BadRecording(
                "nominal volts out of reason", column=self.column, nominal_volts=self.nominal_volts)

        if self.reading_step is not None and not 1.0 / MOST <= self.reading_step <= MOST:
            raise BadRecording(
                "reading step out of reason", column=self.column, reading_step=self.reading_step)

    @property
    def pin_volts_per_reading(self) -> float:
        """Return volts at the pin per unit of the raw reading (1 for readings in volts)."""
        if self.unit == "V":
            return 1.0
        assert self.reference_volts is not None
        assert self.full_scale is not None
        return self.reference_volts / self.full_scale

    @cached_property
    def step_volts(self) -> float:
        """Return the size of one converter step (LSB) in volts at the sensor; 0 when not known.

        For readings in volts as stated, or estimated from the grid they lie on.
        """
        if self.unit == "counts":
            return abs(self.scale) * self.pin_volts_per_reading
        step = grid_step(self.readings) if self.reading_step is None else self.reading_step
        return abs(self.scale) * step if np.isfinite(step) else 0.0

    @cached_property
    def codes(self) -> CodeRange:
        """Return the range of the raw readings: as stated, else what the converter can give.

        A channel with readings below 0 is taken for one that reads both ways from 0.
        """
        with np.errstate(invalid="ignore"):
            below_zero = self.unit == "counts" and bool(np.any(self.readings < 0.0))
        return CodeRange(self.full_scale if self.unit == "counts" else None,
                         self.usable_low, self.usable_high, below_zero)

    @property
    def step_estimated(self) -> bool:
        """Return whether step_volts rests on the readings' own grid and on no statement."""
        return self.unit == "V" and self.reading_step is None and self.step_volts > 0

    def volts(self) -> Array:
        """Return volts at the sensor, shape (n,); NaN where the reading is missing."""
        result: Array = self.readings * (self.pin_volts_per_reading * self.scale)
        result += self.offset_volts
        return result


@dataclass(frozen=True)
class Recording:
    """Hold a whole recording: one time per row, channels of the same length, and marks.

    time_s: shape (n,), seconds, never decreasing.
    complete: False when the file had been cut short (no trailer).
    """

    time_s: Array
    channels: tuple[Channel, ...]
    marks: tuple[Mark, ...] = ()
    title: str = ""
    purpose: str = "sweep"
    started: str = ""
    rate_hz: float | None = None
    complete: bool = True
    board_name: str = ""
    extra: dict[str, object] = field(default_factory=dict)

    def __post_init__(self) -> None:
        names = [c.column for c in self.channels]
        if len(set(names)) != len(names):
            raise BadRecording("two channels of one name", channels=tuple(names))
        for channel in self.channels:
            if channel.readings.shape != self.time_s.shape:
                raise BadRecording(
                    "readings without times", column=channel.column,
                    readings=channel.readings.size, times=self.time_s.size)
        if self.time_s.size:
            if not np.all(np.isfinite(self.time_s)):
                raise BadRecording("row without time")
            farthest = float(max(abs(self.time_s[0]), abs(self.time_s[-1])))
            if farthest > MOST:
                raise BadRecording("time out of reason", time_s=farthest, most_s=MOST)
            backwards = np.flatnonzero(self.time_s[1:] < self.time_s[:-1])
            if backwards.size:
                row = int(backwards[0]) + 1
                raise BadRecording(
                    "time runs backwards", row=row + 1, time_s=float(self.time_s[row]),
                    before_s=float(self.time_s[row - 1]))

    @property
    def rows(self) -> int:
        """Return the number of rows."""
        return int(self.time_s.size)

    @cached_property
    def step_s(self) -> float:
        """Return the usual time between rows in seconds; NaN with fewer than 2 rows.

        The median; rows that arrived in bursts under one time stamp have the mean instead.
        """
        if self.rows < 2:
            return float("nan")
        usual = float(np.median(np.diff(self.time_s), overwrite_input=True))
        return usual or float(self.time_s[-1] - self.time_s[0]) / (self.rows - 1)

    @property
    def lost_samples(self) -> int:
        """Return how many samples the `gap N` marks say were lost."""
        return sum(mark.lost_samples for mark in self.marks)

    def channel(self, column: str) -> Channel:
        """Return the channel of that column name; raise BadRecording when there is none."""
        for channel in self.channels:
            if channel.column == column:
                return channel
        raise BadRecording(
            "no such channel", column=column, channels=tuple(c.column for c in self.channels))

    def with_role(self, role: str) -> tuple[Channel, ...]:
        """Return the channels of that role, in column order."""
        return tuple(c for c in self.channels if c.role == role)

    @cached_property
    def pedal(self) -> PedalKind:
        """Return what kind of pedal its header states."""
        return kind_of(self.extra)

    @property
    def rheostat(self) -> RheostatInput | None:
        """Return how the pedal's rheostat is read; None for another kind of pedal."""
        return rheostat_of(self.extra)

    @property
    def ohms_per_volt(self) -> float | None:
        """Return the ohms that one volt of a rheostat's stated volts is; None of another pedal."""
        rheostat = self.rheostat
        return None if rheostat is None else rheostat.span_ohms / self.nominal_volts

    def step_stated(self, channel: Channel) -> float:
        """Return one step of a track's converter in volts as `stated_volts` has them."""
        supply = self.usual_supply_volts if self.supply is not None else self.nominal_volts
        if self.rheostat is not None:
            return self.rheostat.step_volts(channel.step_volts, supply, self.nominal_volts)
        if self.supply is None or not self.pedal.ratiometric:
            return channel.step_volts
        return channel.step_volts * self.nominal_volts / supply

    @cached_property
    def supply(self) -> Channel | None:
        """Return the supply channel, or None."""
        found = self.with_role("supply")
        return found[0] if found else None

    @cached_property
    def nominal_volts(self) -> float:
        """Return the supply voltage at which track volts are stated.

        The supply channel's nominal_volts; without one, that of the first track, else 5 V.
        """
        for channel in (*self.with_role("supply"), *self.with_role("track")):
            if channel.nominal_volts is not None:
                return channel.nominal_volts
        return DEFAULT_NOMINAL_VOLTS

    def supply_volts(self) -> Array | None:
        """Return the supply in volts, shape (n,), NaN where missing; None without the channel."""
        supply = self.supply
        return None if supply is None else supply.volts()

    @cached_property
    def usual_supply_volts(self) -> float:
        """Return the median supply in volts; NaN without a supply channel or readings of it."""
        volts = self.supply_volts()
        if volts is None:
            return float("nan")
        read = np.isfinite(volts)
        if not read.all():
            volts = volts[read]
        return float(np.median(volts, overwrite_input=True)) if volts.size else float("nan")

    def stated_volts(self, channel: Channel) -> Array:
        """Return a track's volts at the sensor, stated at nominal supply, shape (n,).

        With a supply channel this is volts / supply * nominal (a potentiometer is ratiometric);
        where the supply reads below a tenth of nominal the ratio means nothing and is NaN.
        Of a rheostat it is its ohms on a scale of their own (`RheostatInput`). Without a supply
        channel, and of a sensor with a reference of its own, the volts are returned as measured,
        NaN where such a sensor is not fed.
        """
        return self.stated_by(channel.volts(), self.supply_volts())

    def stated_by(self, volts: Array, supply: Array | None) -> Array:
        """Return a track's volts, fed by those of the supply, as `stated_volts` has them.

        volts, supply: shape (n,), as measured; without a supply as if it were nominal. volts may
        be changed in place.
        """
        nominal = self.nominal_volts
        if self.rheostat is not None:
            return self.rheostat.stated_volts(volts, nominal if supply is None else supply, nominal)
        if supply is None:
            return volts
        if not supply.min(initial=np.inf) > 0.1 * nominal:  # also True when a NaN is among them
            supply = np.where(supply > 0.1 * nominal, supply, np.nan)
        if not self.pedal.ratiometric:
            # A sensor that is not fed says nothing of the pedal.
            volts[~np.isfinite(supply)] = np.nan
            return volts
        volts *= nominal
        volts /= supply
        return volts


def looks_at(recording: Recording) -> int:
    """Return how many times dead bands were read off this sweep as it grew, 1 or more.

    Each time lift-offs are added (`sweep --more`) somebody has looked at what came before.
    """
    joined = recording.extra.get("joined")
    if not isinstance(joined, dict):
        return 1
    looks = joined.get("looks", 2)
    return looks if isinstance(looks, int) and 2 <= looks <= 1000 else 2

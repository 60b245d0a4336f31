"""Speed from pulses of a wheel or of a motor's shaft: hertz in, km/h or turns a minute out.

turns/s = hertz / pulses a turn; wheel = shaft / gear ratio; km/h = 3.6 * wheel turns/s * way of one
turn. What a board sends may be the pulses themselves, sampled, hertz, or a count that runs on.
"""

from dataclasses import dataclass

import numpy as np

from analysis.model.errors import BadParameter, NoCalibration
from analysis.model.finding import Reason, Value
from analysis.model.recording import Array
from analysis.senders.calibration import Calibration, Steady
from analysis.senders.sender import (
    NO_RELATION,
    Diagnosis,
    Sender,
    deviates,
    positive,
    straight,
)
from analysis.senders.tyre import tyre_of
from analysis.signal.pulses import Pulses, pulses_of

CHANNEL_HOLDS = ("pulses", "hertz", "count")
# A tyre's size, its wear, pressure and load, and a satellite receiver or tachometer, together
# (common practice, no source).
_TYRE_TOLERANCE, _TURN_TOLERANCE = 0.05, 0.02
KM_PER_MILE = 1.609344


@dataclass(frozen=True)
class Speed(Sender):
    """Hold a pulse sender: pulses a turn of its shaft, gear_ratio turns of that per wheel turn.

    tyre (as on its side) or circumference_metres make km/h; without either the shaft's turns a
    minute are shown. channel_holds: "pulses" (volts or counts of a fast input), "hertz", or
    "count" (pulses so far). count_size: where such a count starts again from 0; 0: it never does.
    hertz, meter_shows: what the person's meter and speedometer or satellite receiver show, 0: none.
    """

    kind = "speed"
    unit = "rpm"
    shown_unit = "rpm"
    input_unit = "Hz"
    always = ("wheel driven off the ground",)
    must_state = ("pulses_per_turn",)

    pulses_per_turn: float = 0.0
    gear_ratio: float = 1.0
    tyre: str = ""
    circumference_metres: float = 0.0
    channel_holds: str = "pulses"
    count_size: float = 0.0
    hertz: float = 0.0
    meter_shows: float = 0.0

    def __post_init__(self) -> None:
        super().__post_init__()
        positive(self, *self.must_state, "gear_ratio", most=1e5)
        if self.channel_holds not in CHANNEL_HOLDS:
            raise BadParameter("channel holds nothing known", holds=self.channel_holds,
                               known=CHANNEL_HOLDS)
        if not (np.isfinite(self.count_size) and (self.count_size == 0 or self.count_size >= 2)):
            raise BadParameter("size of the count out of reason", count_size=self.count_size)
        if not (self.circumference_metres == 0 or 0.2 <= self.circumference_metres <= 5):
            raise BadParameter("circumference out of reason",
                               circumference_metres=self.circumference_metres)
        for name in ("hertz", "meter_shows"):
            value = getattr(self, name)
            if not 0 <= value <= 1e7:
                raise BadParameter("shown value out of reason", kind=self.kind, stated=name,
                                   value=value)
        if self.tyre and self.circumference_metres:
            raise BadParameter("tyre and circumference stated")
        if self.metres_per_turn:
            object.__setattr__(self, "unit", "km/h")
            object.__setattr__(self, "shown_unit", "km/h")

    @property
    def reads_volts(self) -> bool:
        """Return whether the channel's readings are volts at the input."""
        return self.channel_holds == "pulses"

    @property
    def metres_per_turn(self) -> float:
        """Return the way of one turn of the wheel, m; 0 where nothing was stated."""
        return tyre_of(self.tyre).circumference_metres if self.tyre else self.circumference_metres

    def shaft_rpm(self, hertz: float) -> float:
        """Return turns a minute of the shaft that is sensed."""
        return 60.0 * hertz / self.pulses_per_turn

    def shown(self, volts: Array) -> Array:
        """Return km/h, or turns a minute of the shaft, for hertz."""
        turns = np.asarray(volts, dtype=float) / self.pulses_per_turn
        way = self.metres_per_turn
        result: Array = turns * (3.6 * way / self.gear_ratio if way else 60.0)
        return result

    def level(self, time_s: Array, readings: Array, step: float = 0.0) -> Steady:
        """Return the pulses' frequency in a window, Hz, and whether it stood still.

        Raises NoCalibration where there is none to tell, with the reason.
        """
        if self.channel_holds == "hertz":
            return super().level(time_s, readings, step)
        if self.channel_holds == "count":
            return counted_level(time_s, readings, self.count_size)
        return pulse_level(time_s, readings)

    def by_row(self, time_s: Array, readings: Array) -> Array:
        """Return hertz for every row, by stretches of two seconds; NaN where none can be told."""
        if self.channel_holds == "hertz":
            return readings
        result: Array = np.full(readings.shape, np.nan)
        for part, level in self.stretches(time_s, readings):
            if isinstance(level, Steady) and level.steady:
                result[part] = level.mean
        return result

    def stretches(self, time_s: Array, readings: Array,
                  seconds: float = 2.0) -> list[tuple[slice, Steady | Reason]]:
        """Return the rows of each stretch of so many seconds, and its level or why it has none."""
        found: list[tuple[slice, Steady | Reason]] = []
        if time_s.size == 0:
            return found
        edges = np.arange(time_s[0], time_s[-1] + seconds, seconds)
        places = np.searchsorted(time_s, edges)
        for first, last in zip(places[:-1], [*places[1:-1], time_s.size], strict=True):
            part = slice(int(first), int(last))
            here = time_s[part]
            # The rest at the end, and a gap, are no stretch of their own.
            if here.size < 2 or here[-1] - here[0] < 0.5 * seconds:
                continue
            try:
                found.append((part, self.level(here, readings[part])))
            except NoCalibration as error:
                found.append((part, error.reason))
        return found

    def seen(self, time_s: Array, readings: Array) -> tuple[Diagnosis, ...]:
        """Return the speed of each stretch of a recording; the fastest, and plausibility, first."""
        parts = self.stretches(time_s, readings)
        first: Reason | None = None
        rows: list[Diagnosis] = []
        steady: list[Steady] = []
        for part, level in parts:
            start_s = float(time_s[part.start])
            if isinstance(level, Steady) and level.steady:
                steady.append(level)
                rows.append(Diagnosis("speed", _from(start_s, self._told(
                    level.mean, level.uncertainty)),
                                      float(self.shown(np.array(level.mean))), wrong=False))
            else:
                why = level if isinstance(level, Reason) else level.told(self.input_unit)
                first = first or why
                rows.append(Diagnosis("open", _from(start_s, why)))
        if not steady:
            return (Diagnosis("open", Reason("no speed seen", {"why": first})), *rows[1:])
        best = max(steady, key=lambda level: level.mean)
        head = Diagnosis("fastest", Reason("fastest of the stretches", {
            "speed": self._told(best.mean, best.uncertainty), "steady": len(steady),
            "stretches": len(parts)}), float(self.shown(np.array(best.mean))), wrong=False)
        middle = sorted(steady, key=lambda level: level.mean)[len(steady) // 2]
        return (head, *self._plausible(middle.mean, middle.uncertainty), *rows)

    def typed(self) -> tuple[Diagnosis, ...]:
        """Return the speed of the typed frequency, and whether the meter's speed goes with it."""
        if self.hertz == 0.0:
            return ()
        return (Diagnosis("speed", self._told(self.hertz, 0.0),
                          float(self.shown(np.array(self.hertz))), wrong=False),
                *self._plausible(self.hertz, 0.0))

    def _told(self, hertz: float, uncertainty: float) -> Reason:
        value = float(self.shown(np.array(hertz)))
        told: dict[str, Value] = {"value": value, "unit": self.unit, "hertz": hertz}
        if self.tyre:
            # Beside the tyre's own uncertainty that of the pulses is nothing.
            told["tyre_percent"] = 100 * _TYRE_TOLERANCE
        elif uncertainty:
            told["half_width"] = max(2.0 * uncertainty / hertz, 5e-4) * value
        if self.metres_per_turn:
            told["shaft_rpm"] = self.shaft_rpm(hertz)
        return Reason("speed of so many hertz", told)

    def _plausible(self, hertz: float, uncertainty: float) -> tuple[Diagnosis, ...]:
        if self.meter_shows == 0.0:
            return ()
        slope = self.meter_shows / float(self.shown(np.array(hertz)))
        return (self.against(slope, slope * uncertainty / hertz),)

    def notes(self) -> tuple[Reason, ...]:
        """Return the tyre's arithmetic, what an hertz is worth, and what aliasing does."""
        notes = [tyre_of(self.tyre).arithmetic()] if self.tyre else []
        notes.append(Reason("worth of ten hertz", {
            "value": float(self.shown(np.array(10.0))), "unit": self.unit,
            "shaft_rpm": self.shaft_rpm(10.0) if self.metres_per_turn else None}))
        if self.reads_volts:
            notes.append(Reason("fast pulses look slow"))
        if self.metres_per_turn:
            notes.append(Reason("speedometer shows too much"))
        return tuple(notes)

    def against(self, slope: float, error: float) -> Diagnosis:
        """Return what a ratio of the meter's speed to the shown one says of the stated values.

        slope: meter over shown; error: its standard uncertainty.
        """
        room = _TYRE_TOLERANCE if self.metres_per_turn else _TURN_TOLERANCE
        if not slope > 0:
            return Diagnosis(NO_RELATION, Reason("speed does not follow the meter"), slope)
        if not deviates(slope, 1.0, room, error):
            return Diagnosis("as stated", Reason("speed as stated", {"times": slope}), slope,
                             wrong=False)

        found = [*self._ratios(slope, error, room), *self._pulses(slope, error, room)]
        if not found and self.metres_per_turn and 0.75 <= slope <= 1.33:
            way = self.metres_per_turn * slope
            found = [Diagnosis("circumference", Reason("another way of one turn", {
                "metres": way, "stated": self.metres_per_turn}), way)]
        if not found:
            real = self.pulses_per_turn / slope
            return Diagnosis("unknown ratio", Reason("speed is another", {
                "times": slope, "whys": (Reason("no common ratio of a speed", {"pulses": real}),)}),
                             real)
        # Two slips of the hand may make the same ratio; then both are told.
        return Diagnosis(found[0].name if len(found) == 1 else "several causes",
                         Reason("speed is another", {"times": slope,
                                                     "whys": tuple(d.reason for d in found)}),
                         found[0].value)

    def _ratios(self, slope: float, error: float, room: float) -> list[Diagnosis]:
        """Return miles, and the gear taken the wrong way, where the ratio fits them."""
        if not self.metres_per_turn:
            return []
        gear = self.gear_ratio
        known = [(1.0 / KM_PER_MILE, "miles", Reason("miles an hour"))]
        if abs(gear - 1.0) > 2.0 * room:
            known += [(gear, "gear", Reason("sensor on the wheel's side")),
                      (gear**2, "gear", Reason("gear the other way round", {
                          "gear_ratio": 1.0 / gear}))]
        return [Diagnosis(name, reason, ratio) for ratio, name, reason in known
                if not deviates(slope, ratio, room, error)]

    def _pulses(self, slope: float, error: float, room: float) -> list[Diagnosis]:
        """Return another whole number of pulses a turn, where there is one to name."""
        real = self.pulses_per_turn / slope
        whole = round(real)
        # Above that, whole numbers lie too close together to name one.
        if not 1 <= whole <= 0.5 / room or whole == self.pulses_per_turn or deviates(
                real, whole, room, error * real / slope):
            return []
        return [Diagnosis("other pulses", Reason("another number of pulses", {
            "pulses": whole, "stated": self.pulses_per_turn}), whole)]

    def _mistakes(self, calibration: Calibration) -> tuple[Diagnosis, ...]:
        """Return what the slope says of pulses, gear and tyre."""
        slope, error, *_ = straight(calibration)
        return (self.against(slope, error),)


def pulse_level(time_s: Array, volts: Array) -> Steady:
    """Return the frequency of sampled pulses over a window; raise NoCalibration with the reason."""
    found = pulses_of(time_s, volts)
    if found.state != "seen":
        raise _unseen(found)
    half = time_s[time_s.size // 2]
    parts = [pulses_of(time_s[part], volts[part]) for part in (time_s < half, time_s >= half)]
    drift, limit = 0.0, 0.0
    if all(p.state == "seen" for p in parts):
        drift = 2.0 * (parts[1].hertz.value - parts[0].hertz.value)
        # Half of the edges and half of the time each: eight times u by the period's law, for both.
        limit = max(0.02 * found.hertz.value,
                    6.0 * float(np.hypot(parts[0].hertz.standard, parts[1].hertz.standard)))
    u = float(np.hypot(found.hertz.standard, drift / 12.0**0.5))
    return _steady(found.hertz.value, u, drift, limit, time_s, found.count)


def counted_level(time_s: Array, count: Array, size: float = 0.0) -> Steady:
    """Return hertz from a count of pulses that runs on; raise NoCalibration where it does not.

    size: where the count starts again from 0; 0: never. Both ends of the window are unsure by one
    pulse (a rectangle each: JCGM 100:2008, 4.3.7).
    """
    good = np.isfinite(count)
    t, n = time_s[good], count[good]
    if t.size < 3 or not t[-1] > t[0]:
        raise NoCalibration("too few readings", readings=int(t.size), least=3)
    steps = np.diff(n)
    if size:
        steps = np.where(steps < 0, steps + size, steps)
    if np.any(steps < 0):
        raise NoCalibration("count went back")
    run = np.concatenate([[0.0], np.cumsum(steps)])
    seconds = float(t[-1] - t[0])
    if run[-1] < 2:
        raise NoCalibration("too few pulses counted", pulses=float(run[-1]), seconds=seconds)
    middle = float(np.interp(t[0] + 0.5 * seconds, t, run))
    drift = 2.0 * (run[-1] - 2.0 * middle) / (0.5 * seconds)
    hertz = run[-1] / seconds
    u = float(np.hypot(1.0 / (6.0**0.5 * seconds), drift / 12.0**0.5))
    return _steady(hertz, u, drift, max(0.02 * hertz, 12.0 / seconds), t, int(run[-1]))


def _unseen(found: Pulses) -> NoCalibration:
    """Return why no frequency can be told."""
    if found.state == "no pulses":
        return NoCalibration("no pulses")
    if found.state == "too few":
        return NoCalibration("too few pulses", pulses=found.count)
    if found.state == "too fast":
        return NoCalibration("pulses too fast", most_hertz=found.most_hertz)
    return NoCalibration("pulses uneven")


def _from(start_s: float, what: Reason) -> Reason:
    return Reason("of a stretch", {"start_s": start_s, "what": what})


def _steady(hertz: float, u: float, drift: float, limit: float, time_s: Array,
            pulses: int) -> Steady:
    return Steady(hertz, u, 0.0, drift, limit, int(time_s.size), float(pulses),
                  float(time_s[-1] - time_s[0]), 0.0, float("inf"), bool(abs(drift) <= limit))

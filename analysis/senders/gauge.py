"""A resistive sender whose dashboard gauge stays connected and feeds it, read at their junction.

Kirchhoff at the junction at V volts, all to ground but the gauge and a pull-up, where there is one:

    (gauge_volts - V) / gauge_ohms + (supply - V) / known = V / R + V / (top + bottom)

A divider to the board's input (top, bottom) keeps the gauge's supply off it.
"""

from dataclasses import dataclass

import numpy as np

from analysis.model.errors import BadParameter
from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.senders.calibration import Calibration
from analysis.senders.sender import (
    Diagnosis,
    Sender,
    both_or_none,
    deviates,
    positive,
    refuse_pin,
    straight,
    swapped,
)

# Gauges and their supply, warm and cold (common practice, no source).
_TOLERANCE = 0.05
# Nearer than this share to an open line's volts there is no resistance to tell.
_OPEN_SHARE = 0.02


@dataclass(frozen=True)
class Gauge(Sender):
    """Hold a sender to ground, its gauge in line to gauge_volts, and how the board reads them.

    top_ohms, bottom_ohms: the divider from the junction to the input, both 0 for none. known_ohms:
    a pull-up of one's own from the junction to supply_volts, 0 for none. lead_ohms: of the
    sender's leads together, taken off.
    """

    kind = "gauge"
    unit = "ohm"
    shown_unit = "ohm"
    must_state = ("gauge_ohms", "gauge_volts")
    always = ("sender in a fuel tank",)

    gauge_ohms: float = 0.0
    gauge_volts: float = 0.0
    top_ohms: float = 0.0
    bottom_ohms: float = 0.0
    known_ohms: float = 0.0
    supply_volts: float = 5.0
    lead_ohms: float = 0.0

    def __post_init__(self) -> None:
        super().__post_init__()
        positive(self, "gauge_ohms", "gauge_volts", "supply_volts")
        for name in ("top_ohms", "bottom_ohms", "known_ohms", "lead_ohms"):
            if not 0 <= getattr(self, name) <= 1e9:
                raise BadParameter("stated value below 0", kind=self.kind, stated=name,
                                   value=getattr(self, name))
        both_or_none(self, "top_ohms", "bottom_ohms")
        open_volts = self.open_volts
        least = self.bottom_ohms * (open_volts / self.pin_limit_volts - 1.0)
        refuse_pin(self, open_volts / self._ratio, least_ohms=least)

    @property
    def _ratio(self) -> float:
        return (self.top_ohms + self.bottom_ohms) / self.bottom_ohms if self.bottom_ohms else 1.0

    @property
    def _feeds(self) -> tuple[float, float]:
        """Return amperes into the junction at 0 V, and the siemens of all but the sender."""
        pull = 1.0 / self.known_ohms if self.known_ohms else 0.0
        load = 1.0 / (self.top_ohms + self.bottom_ohms) if self.bottom_ohms else 0.0
        return (self.gauge_volts / self.gauge_ohms + self.supply_volts * pull,
                1.0 / self.gauge_ohms + pull + load)

    @property
    def open_volts(self) -> float:
        """Return volts at the junction with no sender."""
        amps, siemens = self._feeds
        return amps / siemens

    def volts(self, ohms: Array) -> Array:
        """Return volts at the input for a resistance, same shape."""
        amps, siemens = self._feeds
        total = np.asarray(ohms, dtype=float) + self.lead_ohms
        result: Array = amps * total / (1.0 + siemens * total) / self._ratio
        return result

    def shown(self, volts: Array) -> Array:
        """Return the sender's ohms; NaN where it is open or below ground."""
        amps, siemens = self._feeds
        at = np.asarray(volts, dtype=float) * self._ratio
        rest = amps - siemens * at
        result: Array = np.full(at.shape, np.nan)
        np.divide(at, rest, out=result, where=(at >= 0) & (rest > 0))
        return result - self.lead_ohms

    def notes(self) -> tuple[Reason, ...]:
        """Return what an open lead shows, and what the gauge's supply does to the reading."""
        at = float(self.volts(np.array(100.0)))
        more = Gauge(**{**self.stated(), "gauge_volts": 1.1 * self.gauge_volts,
                        "pin_limit_volts": 1e3})
        off = float(more.volts(np.array(100.0))) / at - 1.0
        return (Reason("open lead of a gauge", {
            "open_volts": self.open_volts, "open_pin_volts": self.open_volts / self._ratio,
            "pin_volts": at}), Reason("supply of the gauge moves it", {"percent": 100 * off}))

    def faults(self, volts: Array) -> tuple[Diagnosis, ...]:
        """Return "open" or "short" when readings say so."""
        at = np.asarray(volts, dtype=float) * self._ratio
        found = []
        if np.any(at > (1.0 - _OPEN_SHARE) * self.open_volts):
            found.append(Diagnosis("open", Reason("lead stands as with no sender", {
                "volts": float(np.max(at))})))
        if np.any(at < 0.002 * self.open_volts):
            found.append(Diagnosis("short", Reason("lead stands at ground")))
        return tuple(found)

    def _mistakes(self, calibration: Calibration) -> tuple[Diagnosis, ...]:
        """Return a gauge or a supply of it that is not as stated, the leads, or as stated."""
        slope, error, offset, offset_error = straight(calibration)
        if turned := swapped(slope, Reason("another lead of the gauge")):
            return turned
        if deviates(slope, 1.0, _TOLERANCE, error):
            ohms, volts = self.gauge_ohms * slope, self.gauge_volts / slope
            return (Diagnosis("gauge", Reason("another gauge or supply", {
                "one_ohm_shows": 1 / slope, "gauge_ohms": ohms, "stated_ohms": self.gauge_ohms,
                "gauge_volts": volts, "stated_volts": self.gauge_volts}), ohms),)
        span = float(np.max(np.abs(calibration.points.meter)))
        if abs(offset) > 0.01 * span + 1.96 * offset_error:
            return (Diagnosis("lead resistance", Reason("ohms too many or few at a gauge", {
                "too_many_ohms": -offset}), -offset),)
        return (Diagnosis("as stated", Reason("shows the meter's ohms"), slope, wrong=False),)

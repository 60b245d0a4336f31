"""A divider of two resistors on a pack or a 12 V line."""

from dataclasses import dataclass

import numpy as np

from analysis.model.errors import BadParameter
from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.senders.calibration import Calibration
from analysis.senders.sender import (
    ISOLATION_CAUTION,
    PACK_CAUTION,
    TOUCH_VOLTS,
    Diagnosis,
    Sender,
    deviates,
    offset_diagnosis,
    positive,
    refuse_pin,
    straight,
    swapped,
)

# Ratios that dividers and divider modules come with (common practice, no source).
COMMON_RATIOS = (1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 11.0, 16.0, 20.0, 25.0, 30.0, 40.0,
                 50.0, 80.0, 100.0, 200.0, 500.0, 1000.0)
# Two 1 % resistors make a ratio that is off by up to 2 %.
RATIO_TOLERANCE = 0.02
# A small leaded or chip resistor stands about this many volts (common practice, no source).
RESISTOR_VOLTS = 200.0
_LEAST_INPUT_OHMS = 1e3


@dataclass(frozen=True)
class Divider(Sender):
    """Hold a divider: top from the line to the input, bottom from the input to ground.

    highest_volts: the most the line will ever carry. input_ohms: of the board's input, in
    parallel to the bottom; infinite when not stated. other_ratios: further taps there are.
    """

    kind = "divider"
    unit = "V"
    shown_unit = "V"
    must_state = ("top_ohms", "bottom_ohms", "highest_volts")

    top_ohms: float = 0.0
    bottom_ohms: float = 0.0
    highest_volts: float = 0.0
    input_ohms: float = float("inf")
    other_ratios: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        super().__post_init__()
        positive(self, *self.must_state)
        if not self.input_ohms > 0:
            raise BadParameter("stated value not above 0", kind=self.kind, stated="input_ohms",
                               value=self.input_ohms)
        if not all(r >= 1 for r in self.other_ratios):
            raise BadParameter("tap ratio below 1", ratios=self.other_ratios)
        least = self.bottom_ohms * (self.highest_volts / self.pin_limit_volts - 1.0)
        refuse_pin(self, self.highest_volts / self.ratio, highest_volts=self.highest_volts,
                   ratio=self.ratio, least_ohms=least)

    @property
    def ratio(self) -> float:
        """Return line volts per volt at the input, the board's input counted."""
        bottom = 1.0 / (1.0 / self.bottom_ohms + 1.0 / self.input_ohms)
        return (self.top_ohms + bottom) / bottom

    @property
    def source_ohms(self) -> float:
        """Return what the input sees: top and bottom in parallel."""
        return self.top_ohms * self.bottom_ohms / (self.top_ohms + self.bottom_ohms)

    def shown(self, volts: Array) -> Array:
        """Return volts on the line."""
        result: Array = np.asarray(volts, dtype=float) * self.ratio
        return result

    def cautions(self) -> tuple[str, ...]:
        """Return the codes of the touch-safety cautions above 60 V."""
        if self.highest_volts > TOUCH_VOLTS:
            return (PACK_CAUTION, ISOLATION_CAUTION)
        return ()

    def notes(self) -> tuple[Reason, ...]:
        """Return ratio, current, power and volts on the top resistor."""
        current = self.highest_volts / (self.top_ohms + self.bottom_ohms)
        power = current**2 * self.top_ohms
        notes = [Reason("divider at its most", {
            "ratio": self.ratio, "highest_volts": self.highest_volts,
            "pin_volts": self.highest_volts / self.ratio, "milliamps": 1e3 * current,
            "watts": power})]
        across = current * self.top_ohms
        if across > RESISTOR_VOLTS:
            count = int(np.ceil(across / RESISTOR_VOLTS))
            notes.append(Reason("top resistor of several in series", {
                "volts": across, "count": count, "each_volts": RESISTOR_VOLTS}))
        if self.source_ohms > 1e4:
            notes.append(Reason("input needs a capacitor", {"source_ohms": self.source_ohms}))
        return tuple(notes)

    def _mistakes(self, calibration: Calibration) -> tuple[Diagnosis, ...]:
        """Return whether the ratio is as stated, or which tap or load explains it."""
        slope, error, *_ = straight(calibration)
        found = [*self._ratio(slope, error)]
        found += offset_diagnosis(
            calibration, "V", 0.005 * float(np.max(np.abs(calibration.points.meter))),
            Reason("grounds differ or a diode"))
        return tuple(found)

    def _ratio(self, slope: float, error: float) -> tuple[Diagnosis, ...]:
        if turned := swapped(slope, Reason("leads of divider or meter turned round")):
            return turned
        real = slope * self.ratio
        if not deviates(slope, 1.0, RATIO_TOLERANCE, error):
            return (Diagnosis("as stated", Reason("ratio as stated", {
                "ratio": real, "half_width": 1.96 * error * self.ratio, "stated": self.ratio}),
                              self.ratio, wrong=False),)
        other_way = 1.0 + self.bottom_ohms / self.top_ohms
        exchanged = ("resistors exchanged", other_way)
        taps = [("wrong tap", r) for r in self.other_ratios]
        common = [("wrong tap", r) for r in COMMON_RATIOS]
        # The user's own taps and the exchanged pair come before what is common elsewhere.
        for group in ([*taps, exchanged], common):
            fits = [c for c in group if abs(c[1] / self.ratio - 1.0) > RATIO_TOLERANCE
                    and not deviates(real, c[1], RATIO_TOLERANCE, error * self.ratio)]
            if fits:
                name, ratio = min(fits, key=lambda c: abs(c[1] - real))
                return (Diagnosis(name, Reason("divides by another ratio", {
                    "ratio": real, "as_ratio": ratio, "stated": self.ratio,
                    "exchanged": name == "resistors exchanged"}), ratio),)
        if slope > 1.0:
            # top / ratio is top || bottom || input: a stated input loads it already.
            load = self.top_ohms / self.ratio / (slope - 1.0)
            if load >= _LEAST_INPUT_OHMS:
                return (Diagnosis("loaded", Reason("divider is loaded", {
                    "ratio": real, "stated": self.ratio, "load_ohms": load}), load),)
        return (Diagnosis("unknown ratio", Reason("divides by no common ratio", {
            "ratio": real, "stated": self.ratio}), real),)

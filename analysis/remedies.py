"""Turn the potentiometer, trim it with a resistor, or live with the dead band: side by side."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Remedy:
    """Hold one way to mend a rest that is off, with what it costs.

    kind: "turn", "trim resistor" or "dead band". amount, unit: degrees, ohms or volts.
    rest_volts, full_volts, lost_travel_percent: what is to be expected afterwards.
    """

    kind: str
    column: str
    amount: float
    unit: str
    rest_volts: float
    full_volts: float
    lost_travel_percent: float
    text: str

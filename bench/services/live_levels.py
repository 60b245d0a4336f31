"""What inputs read now, in the unit that a person can use: volts, a rheostat's track in ohms."""

from collections.abc import Mapping, Sequence

import numpy as np

from analysis.model.pedal_kind import rheostat_of
from analysis.model.recording import DEFAULT_NOMINAL_VOLTS, Array, Channel
from analysis.pedal.direction import ROLES

OHM, VOLT = "ohm", "V"


def live_levels(channels: Sequence[Channel], volts: Sequence[float] | Array,
                said: Mapping[str, object]) -> tuple[tuple[float, str], ...]:
    """Return the level and unit of each channel, in their order.

    volts: at the sensors. said: of the pedal, by key of the header. A rheostat is taken to be fed
    by the supply channel, without one by nominal volts; inf is an open lead.
    """
    rheostat = rheostat_of(said)
    if rheostat is None:
        return tuple((float(v), VOLT) for v in volts)
    nominal = _nominal(channels)
    supply = next((float(v) for c, v in zip(channels, volts, strict=True) if c.role == "supply"),
                  nominal)

    def ohms(read: float) -> float:
        if not supply > 0.1 * nominal:
            return float("nan")
        whole = rheostat.known_ohms * read / (supply - read) if read < supply else np.inf
        # Beyond its scale nothing is told from an open lead.
        level = max(whole - rheostat.series_ohms, 0.0)
        return float(level) if level < rheostat.span_ohms else float("inf")

    return tuple((ohms(float(v)), OHM) if c.role == "track" else (float(v), VOLT)
                 for c, v in zip(channels, volts, strict=True))


def _nominal(channels: Sequence[Channel]) -> float:
    return next((c.nominal_volts for role in ("supply", "track") for c in channels
                 if c.role == role and c.nominal_volts is not None), DEFAULT_NOMINAL_VOLTS)


def closed_lines(channels: Sequence[Channel], volts: Sequence[float] | Array,
                 closed: str) -> dict[str, bool]:
    """Return by role of a direction switch's line whether it is closed now.

    closed: what a closed line reads, "low" or "high": below or above half of nominal.
    """
    half = _nominal(channels) / 2.0
    return {c.role: (float(v) < half) == (closed == "low")
            for c, v in zip(channels, volts, strict=True) if c.role in ROLES}

"""Which way to correct the rest is to be tried first, where one can be named."""

from dataclasses import dataclass

import numpy as np

from analysis.pedal.findings import Findings

# From here on a pedal is repaired before anything is decided.
GRAVEST = 3


@dataclass(frozen=True)
class Recommended:
    """Hold the way: "turn", "trim resistor" or "dead band"; column: the track, None for all."""

    kind: str
    column: str | None


def recommended(findings: Findings) -> Recommended | None:
    """Return the way to try first, None where none of them answers what is wrong.

    A track that rests off the other, or off the user's target, is turned where turning is
    offered, else trimmed: both bring it back, turning without giving span away. Where nothing is
    off and the dead band costs no more travel than is accepted, it is left as it is, for nothing
    that is not done can be done wrong. A pedal that may not be driven is repaired first, and one
    whose dead band costs too much is to be freed of what scatters: no way of the three does that.
    """
    bands = findings.dead_bands
    if not bands or findings.doubt is not None or findings.gravest >= GRAVEST or any(
            band.weak is not None for band in bands.values()):
        return None
    off = next((f for f in findings.graded if f.code == "off at rest"), None)
    if off is not None and off.values.get("cure") not in ("turn or trim", "own values"):
        return None
    asked = [off.channel] if off is not None and off.channel else list(
        findings.parameters.target_rest_volts)
    for kind in ("turn", "trim resistor"):
        for column in asked:
            if any(r.kind == kind and np.isfinite(r.amount)
                   for r in findings.remedies.get(column, ())):
                return Recommended(kind, column)
    limit = findings.parameters.allowed_lost_travel_percent
    if all(band.lost_travel_percent <= limit for band in bands.values()):
        return Recommended("dead band", None)
    return None

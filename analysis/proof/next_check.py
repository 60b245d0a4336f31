"""When to look again: by how fast the rest was seen to move from sweep to sweep.

The rest of each sweep against its date, a straight line with its uncertainty; the fastest rate that
is still likely (95 %) must not use up half of what lies between rest and start of travel. With one
sweep, or none that differ in date, nothing is known of drift: then the usual interval stands.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.statistics.straight_line import fit_line

# A year, as a vehicle's usual inspection; never sooner than a month (common practice, no source).
USUAL_DAYS, LEAST_DAYS = 365.0, 30.0
SHARE = 0.5
_DAY_S = 86400.0


@dataclass(frozen=True)
class NextCheck:
    """Hold in how many days to look again, and the drift behind it in volts a day; NaN: unknown.

    track: the one whose drift decides, "" where the usual interval does.
    """

    days: float
    volts_per_day: float = float("nan")
    track: str = ""


def next_check(rests: Mapping[str, Sequence[tuple[float, float, float]]],
               room_volts: Mapping[str, float]) -> NextCheck:
    """Return when to look again.

    rests: by track, (seconds, volts, standard uncertainty) of each sweep. room_volts: by track,
    from rest to start of travel.
    """
    found = NextCheck(USUAL_DAYS)
    for track, points in rests.items():
        room = room_volts.get(track, float("nan"))
        when = np.array([p[0] for p in points]) / _DAY_S
        if len(points) < 2 or np.ptp(when) < 1.0 or not np.isfinite(room) or room <= 0:
            continue
        line = fit_line(when, [p[1] for p in points], [max(p[2], 1e-6) for p in points])
        fastest = abs(line.slope.value) + 2.0 * line.slope.uncertainty
        days = min(max(SHARE * room / fastest, LEAST_DAYS), USUAL_DAYS)
        if days < found.days:
            found = NextCheck(float(days), float(line.slope.value), track)
    return found

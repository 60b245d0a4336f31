"""What the car does along the pedal's travel once the values are entered: demand against travel.

The controller is taken to count from start of travel (no demand) to full travel (all of it), along
a straight line or the points of a map, and to end power at release. Method: docs/method_circuit.md,
"Response".
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.model.demand_map import map_points, points_of
from analysis.model.recording import Array
from analysis.parameters import Parameters
from analysis.pedal.at_controller import volts_along
from analysis.pedal.dead_band import DeadBand
from analysis.pedal.settings import Setting
from analysis.pedal.tracks import TrackFindings

# Places of travel, %, at which the response is worked out: far finer than a foot, exact on a
# straight line.
TRAVEL = np.linspace(0.0, 100.0, 1001)
NAN = float("nan")


@dataclass(frozen=True)
class Response:
    """Hold the demand of one track along the pedal's travel, 0 % at rest and 100 % at full travel.

    travel_percent, volts, demand_percent: shape (n,), pressing; volts as the controller reads them.
    begins_percent: travel at which the car begins to pull. ends_percent: at which power ends when
    the pedal comes back. full_percent: from which on demand is all; NaN where it never is.
    lost_percent: of travel that changes nothing, at both ends.
    """

    column: str
    travel_percent: Array
    volts: Array
    demand_percent: Array
    begins_percent: float
    ends_percent: float
    full_percent: float
    lost_percent: float

    def demand_at(self, travel_percent: float) -> float:
        """Return the demand in % at a travel in %."""
        return float(np.interp(travel_percent, self.travel_percent, self.demand_percent))


def responses(tracks: Mapping[str, TrackFindings], settings: Sequence[Setting],
              parameters: Parameters) -> dict[str, Response]:
    """Return the response of each track whose start and full travel are known.

    tracks: as the bench read them. settings: for the controller, volts at nominal supply. The
    demand follows the parameters' map, else their point in the middle.
    """
    known = {(s.name, s.channel): s.value for s in settings}
    volts = volts_along(tracks, TRAVEL / 100.0, parameters)
    shape = np.array(points_of(parameters.demand_map) or map_points(
        ((50.0, parameters.demand_at_half_percent),)))
    result = {}
    for name, read in volts.items():
        start, full = known.get(("start_of_travel", name), NAN), known.get(
            ("full_travel", name), NAN)
        if not np.isfinite(start) or not np.isfinite(full) or start == full:
            continue
        release = known.get(("release", name), NAN)
        share = np.clip((read - start) / (full - start), 0.0, 1.0)
        begins, ends, whole = (_travel_of(level, read) for level in (start, release, full))
        last = whole if np.isfinite(whole) else 100.0
        result[name] = Response(
            name, TRAVEL, read, np.interp(100.0 * share, *shape.T), begins, ends, whole,
            begins + 100.0 - last)
    return result


def begins(tracks: Mapping[str, TrackFindings], bands: Mapping[str, DeadBand],
           parameters: Parameters) -> dict[str, float]:
    """Return by track the travel in % at which its start of travel lies; NaN where none is known.

    tracks: as the bench read them; bands: of these as the controller reads them.
    """
    return {n: _travel_of(bands[n].start_of_travel_volts, volts)
            for n, volts in volts_along(tracks, TRAVEL / 100.0, parameters).items()}


def _travel_of(level: float, volts: Array) -> float:
    """Return the travel in % at which a track reads a level; NaN where it never does."""
    if volts[-1] < volts[0]:
        level, volts = -level, -volts
    if not volts[0] <= level <= volts[-1]:
        return NAN
    return float(np.interp(level, volts, TRAVEL))

"""What stands under the crosshair: the reading of every track and the travel at one place.

Rule: only what was read is told. Between two readings the nearer one counts; where a figure has a
value of its own for a place (mismatch, noise), it is told beside them.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from analysis.pedal.findings import Findings
from bench.plots.along_travel import own_travel, pedal_travel
from bench.plots.catalogue import FIGURES
from bench.plots.ranges import Array, drawable


@dataclass(frozen=True)
class Reading:
    """Hold one place of a figure and what was read there.

    x, y: of the place in the plot; y NaN where the place is a whole upright line. time_s: of the
    nearest row, NaN for none. volts, travel_percent: of each track, NaN where it has no reading.
    values: by name, what the figure itself shows there: mismatch or play in % of travel, noise in
    mV. number: of the return, 0 where the figure does not count returns.
    """

    x: float
    y: float
    time_s: float = float("nan")
    volts: Mapping[str, float] = field(default_factory=dict)
    travel_percent: Mapping[str, float] = field(default_factory=dict)
    values: Mapping[str, float] = field(default_factory=dict)
    number: int = 0


class Readout:
    """Look readings up in the findings of one sweep; nothing is worked out before it is asked."""

    def __init__(self, findings: Findings) -> None:
        self._findings = findings

    @cached_property
    def _volts(self) -> dict[str, Array]:
        recording = self._findings.recording
        return {n: drawable(recording.stated_volts(recording.channel(n)))
                for n in self._findings.tracks}

    @cached_property
    def _travel(self) -> dict[str, Array]:
        return own_travel(self._findings)

    @cached_property
    def _pedal(self) -> Array:
        return pedal_travel(self._findings)

    def at(self, name: str, x: float, y: float = float("nan"), *, column: str | None = None,
           scale: tuple[float, float] = (1.0, 1.0)) -> Reading | None:
        """Return what was read nearest to a place of a figure, None where nothing was.

        y: NaN takes the nearest in x alone. scale: of a unit of x and of y in pixels, for what is
        near to the eye.
        """
        if not np.isfinite(x) or self._findings.recording.rows == 0:
            return None
        if name == "rest" and column is not None:
            return self._of_return(x, column)
        if name == "pair":
            return self._of_pair(x, y, scale)
        if FIGURES[name].x_axis == "time_s":
            time_s = self._findings.recording.time_s
            after = int(np.clip(np.searchsorted(time_s, x), 1, max(time_s.size - 1, 1)))
            row = after - int(x - time_s[after - 1] < time_s[min(after, time_s.size - 1)] - x)
            return self._of_row(row, float(time_s[row]))
        apart = np.abs(self._pedal - x)
        if not np.isfinite(apart).any():
            return None
        return self._of_row(int(np.nanargmin(apart)), x, values=self._shown(name, x))

    def _of_row(self, row: int, x: float, y: float = float("nan"),
                values: Mapping[str, float] | None = None) -> Reading:
        return Reading(x, y, float(self._findings.recording.time_s[row]),
                       {n: float(v[row]) for n, v in self._volts.items()},
                       {n: float(v[row]) for n, v in self._travel.items()}, values or {})

    def _of_return(self, x: float, column: str) -> Reading | None:
        tracks = self._findings.tracks
        levels = tracks[column].rest_levels
        if not levels.size:
            return None
        place = int(np.clip(round(x) - 1, 0, levels.size - 1))
        when = tracks[column].rest_times_s[place]
        volts = {}
        for each, track in tracks.items():
            # Another track may lack a rest: what belongs together lies at one time.
            if track.rest_times_s.size:
                near = int(np.argmin(np.abs(track.rest_times_s - when)))
                if each == column or abs(track.rest_times_s[near] - when) < 0.5:
                    volts[each] = float(track.rest_levels[near])
        return Reading(place + 1.0, float(levels[place]), float(when), volts, number=place + 1)

    def _of_pair(self, x: float, y: float, scale: tuple[float, float]) -> Reading | None:
        pair = self._findings.pair
        if pair is None:
            return None
        first, second = self._volts[pair.first], self._volts[pair.second]
        far = ((first - x) * scale[0]) ** 2
        if np.isfinite(y):
            far = far + ((second - y) * scale[1]) ** 2
        far = np.where(np.isfinite(second), far, np.nan)
        if not np.isfinite(far).any():
            return None
        row = int(np.nanargmin(far))
        return self._of_row(row, float(first[row]), float(second[row]))

    def _shown(self, name: str, x: float) -> dict[str, float]:
        """Return what the figure itself shows at a travel."""
        pair, tracks = self._findings.pair, self._findings.tracks
        if name == "noise":
            return {f"noise {n}": 1000.0 * _near(t.noise_map_percent, t.noise_map_volts, x)
                    for n, t in tracks.items()}
        if pair is None or name not in ("mismatch", "play"):
            return {}
        if name == "mismatch":
            return {"mismatch": _near(pair.travel_percent, pair.mismatch_percent, x)}
        return {"play": _near(pair.travel_percent,
                              pair.mismatch_press_percent - pair.mismatch_release_percent, x)}


def _near(at: Array, values: Array, x: float) -> float:
    """Return the value of the nearest place that has one, NaN beyond one step of it."""
    known = np.flatnonzero(np.isfinite(values) & np.isfinite(at))
    if not known.size:
        return float("nan")
    place = known[np.argmin(np.abs(at[known] - x))]
    step = float(np.median(np.diff(at))) if at.size > 1 else 1.0
    return float(values[place]) if abs(at[place] - x) <= max(step, 0.5) else float("nan")

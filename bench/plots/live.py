"""What the last seconds of a recording look like, kept at constant cost however long it runs.

The least and greatest reading of each narrow bin of time are kept, and the stretches in which no
reading came: those are drawn as what they are, never bridged.
"""

import collections
import itertools

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
BINS = 600
# No reading for so long is shown as a gap; and for so many usual intervals, where rows come slowly.
GAP_S, GAP_ROWS = 0.1, 4.0
_MOST_GAPS = 200


class Trail:
    """The last `seconds` of some channels, in bins, with the gaps between their rows.

    now_s: time of the newest row, NaN before the first.
    """

    def __init__(self, channels: int, seconds: float, rate_hz: float | None = None) -> None:
        self._bin_s = seconds / BINS
        self._low = np.full((channels, BINS), np.nan)
        self._high = np.full((channels, BINS), np.nan)
        self._newest = -1
        self.gap_s = max(GAP_S, GAP_ROWS / rate_hz) if rate_hz else 2.0 * GAP_S
        self.now_s = float("nan")
        self._gaps: collections.deque[tuple[float, float]] = collections.deque(maxlen=_MOST_GAPS)

    def add(self, time_s: Array, volts: Array) -> None:
        """Take in rows. time_s: shape (n,), never decreasing; volts: shape (n, channels)."""
        if not time_s.size:
            return
        before = self.now_s if np.isfinite(self.now_s) else float(time_s[0])
        steps = np.diff(time_s, prepend=before)
        for row in np.flatnonzero(steps > self.gap_s):
            self._gaps.append((float(time_s[row] - steps[row]), float(time_s[row])))
        self.now_s = float(time_s[-1])
        bins = np.floor(time_s / self._bin_s).astype(np.int64)
        # Only what will still be seen; a long silence would otherwise be filled bin by bin.
        keep = bins > bins[-1] - BINS
        bins, volts = bins[keep], volts[keep]
        entered = np.arange(max(self._newest + 1, bins[-1] - BINS + 1), bins[-1] + 1) % BINS
        self._low[:, entered] = np.nan
        self._high[:, entered] = np.nan
        self._newest = max(self._newest, int(bins[-1]))
        starts = np.flatnonzero(np.concatenate(([True], bins[1:] != bins[:-1])))
        at = bins[starts] % BINS
        self._low[:, at] = np.fmin(self._low[:, at], np.fmin.reduceat(volts, starts, axis=0).T)
        self._high[:, at] = np.fmax(self._high[:, at], np.fmax.reduceat(volts, starts, axis=0).T)

    def lines(self) -> tuple[Array, Array, Array]:
        """Return what was seen, oldest first: time (n,), least and greatest (n, channels)."""
        if self._newest < 0:
            empty = np.empty((0, self._low.shape[0]))
            return np.empty(0), empty, empty
        order = np.arange(self._newest + 1 - BINS, self._newest + 1)
        seen = order[(order >= 0) & np.isfinite(self._low[0, order % BINS])]
        return ((seen + 0.5) * self._bin_s, self._low[:, seen % BINS].T,
                self._high[:, seen % BINS].T)

    def pieces(self, time_s: Array) -> list[slice]:
        """Return the stretches of such times that lie between two gaps."""
        cuts = np.searchsorted(time_s, [0.5 * (a + b) for a, b in self._gaps])
        edges = [0, *sorted({int(c) for c in cuts}), time_s.size]
        return [slice(a, b) for a, b in itertools.pairwise(edges) if b > a]

    def gaps(self, until_s: float) -> tuple[tuple[float, float], ...]:
        """Return from when to when no row came; until_s: now, which may be in one."""
        open_now = ((self.now_s, until_s),) if until_s - self.now_s > self.gap_s else ()
        return (*self._gaps, *open_now)

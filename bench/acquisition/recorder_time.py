"""The time of a recording: the board's clock, and the host's where the board was away."""

import collections
import time

import numpy as np
from numpy.typing import NDArray

from analysis.model.recording import Array
from bench.acquisition.wire import Batch

# Rows without any time of their own that stay away longer than this were lost.
MOST_SILENT_S = 2.0
# A column that only rises, and evenly, for so many rows is a clock rather than a pedal.
RISING = 40
_FEWEST_RISING = 8
# After so long by the host's clock the board's time is held against it.
_COMPARED_S = 5.0
# Rows counted at a stated rate: no crystal is so far off (from memory). A clock of the board
# in another unit is off a thousand times; a simulated one may run fast.
_COUNTED = (0.8, 1.25)
# A clock that begins anew so many times within so many seconds was not plugged in again and again.
_ANEW, _ANEW_S = 10, 10.0
_CLOCKED = (0.5, 300.0)


def host_clock() -> float:
    """Return seconds that go on while the computer sleeps, where the system has such a clock."""
    clock = getattr(time, "CLOCK_BOOTTIME", None)
    return time.clock_gettime(clock) if clock is not None else time.monotonic()


def first_rising(readings: NDArray[np.int64]) -> tuple[int, str]:
    """Return the first column that only rises, and evenly, and how; "" when there is none.

    readings: (n, channels); of fewer than eight rows nothing is said.
    """
    steps = np.diff(readings, axis=0)
    if len(steps) < _FEWEST_RISING:
        return 0, ""
    usual = np.median(steps, axis=0)
    even = ((steps > 0) & (steps >= 0.5 * usual) & (steps <= 2.0 * usual)).all(axis=0)
    if not even.any():
        return 0, ""
    k = int(np.argmax(even))
    return k, f"only rises, {usual[k]:g} each row, from {readings[0, k]} to {readings[-1, k]}"


class RecordedTime:
    """Put the rows of all batches on one time that never runs backwards.

    Where the decoder says that an unknown time passed, the time of arrival tells how long it
    was, and time x rate how many samples it cost.
    """

    def __init__(self) -> None:
        self.rate_hz: float | None = None
        self._first = 0.0
        self._origin: float | None = None
        self._shift = 0.0
        self._last = 0.0
        self._arrived = 0.0
        self._rows = 0
        self._doubted = False
        self._anew: collections.deque[float] = collections.deque(maxlen=_ANEW)
        self._passed = [0.0, 0.0]  # by the board and by the host, where both know it

    def place(self, batch: Batch, now: float, has_clock: bool = True,
              ) -> tuple[Array, NDArray[np.int64]]:
        """Return time_s (n,) in whole microseconds and lost_before (n,).

        now: when the batch arrived, by the host's clock. has_clock: its times are the board's;
        False when they only count rows, which knows nothing of a computer that slept.
        """
        if not self._rows:
            self._first = self._arrived = now
        lost = batch.lost_before.copy()
        if not self._rows:
            # What was lost before the first row is no loss of this recording.
            lost[0] = 0
        if np.isnan(batch.time_s).any():
            time_s = self._stamp(batch.rows, lost, 0 in batch.restarts, now)
        else:
            if self._origin is None:
                self._origin = float(batch.time_s[0])
            time_s = batch.time_s - self._origin + self._shift
            slept = not has_clock and now - self._arrived > MOST_SILENT_S
            if 0 in batch.restarts or slept:
                self._bridge(time_s, lost, now)
        time_s = np.maximum.accumulate(np.maximum(np.round(time_s, 6), self._last))
        if self._rows and not batch.restarts and 0 <= now - self._arrived <= MOST_SILENT_S:
            self._passed[0] += float(time_s[-1]) - self._last
            self._passed[1] += now - self._arrived
        self._anew.extend([now] * len(batch.restarts))
        self._last = float(time_s[-1])
        self._arrived = now
        self._rows += batch.rows
        return time_s, lost

    def doubt(self, has_clock: bool = True) -> str:
        """Return, once, why the time of this recording is none, and what to do; "" where it is.

        It is held against the host's, and that only when some seconds have passed.
        """
        if not self._doubted and len(self._anew) == _ANEW \
                and self._anew[-1] - self._anew[0] < _ANEW_S:
            self._doubted = True
            return (f"its clock began anew {_ANEW} times within {_ANEW_S:g} s: it restarts again "
                    "and again, or two boards speak on one line; nothing of this recording can be "
                    "believed; look at its supply and what else is on its line, and record again")
        board, host = self._passed
        low, high = _CLOCKED if has_clock else _COUNTED
        if self._doubted or host < _COMPARED_S or low <= board / host <= high:
            return ""
        self._doubted = True
        words, mend = ("its clock", "the unit of its clock (time=us or time=ms in its hello, or "
                       "--clock)") if has_clock else ("its rows at the rate it states", "rate_hz "
                                                      "in its hello, or let it send its clock,")
        return (f"{host:.1f} s passed here, and {board:.4g} s by {words}: no time of this "
                f"recording can be believed; correct {mend} and record again")

    def _usual_rate(self) -> float:
        """Return the stated rate, or that of the rows so far; 0 when there were hardly any."""
        if self.rate_hz:
            return self.rate_hz
        return (self._rows - 1) / self._last if self._rows > 1 and self._last > 0 else 0.0

    def _bridge(self, time_s: Array, lost: NDArray[np.int64], now: float) -> None:
        """Put the first row at the time that really passed, not one row after the last."""
        came = now - self._arrived - float(time_s[-1] - time_s[0])
        extra = self._last + came - float(time_s[0])
        if extra > 0:
            self._shift += extra
            time_s += extra
            lost[0] += round(extra * self._usual_rate())

    def _stamp(self, rows: int, lost: NDArray[np.int64], restarted: bool, now: float) -> Array:
        """Return times of arrival: a piece's rows came evenly since the piece before."""
        rate = self._usual_rate()
        end = max(now - self._first, self._last)
        took = rows / rate if rate else 0.0
        passed = end - self._last
        if restarted or passed > took + MOST_SILENT_S:
            begin = max(self._last, end - took)
            lost[0] += round((begin - self._last) * rate)
        else:
            begin = self._last
        stamped: Array = np.linspace(begin, end, rows + 1)[1:]
        return stamped

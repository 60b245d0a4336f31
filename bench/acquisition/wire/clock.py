"""Board time and sequence numbers -> seconds that never run backwards, and samples lost.

The board's clock has 32 bits: in microseconds it rolls over every 71.6 minutes. The sequence
number has 24 bits: at 1 kHz it rolls over every 4.7 hours. Each settles the other's roll-over.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Integers = NDArray[np.int64]

CLOCK_SPAN = 1 << 32
SEQUENCE_SPAN = 1 << 24
# A longer hole than this many samples is taken for a restart of the counter.
_LONGEST_HOLE = SEQUENCE_SPAN // 2
_ENOUGH_STEPS = 8
# A text board's clock that goes back rolled over when no longer than this passed, else restarted.
_ROLL_OVER_US = 10e6
_ROLL_OVER_STEPS = 20
_FOR_PERIOD = 1024  # steps a period is the median of
_FEW = 33  # the latest of these where pieces are short
_LONGEST_BURST = 64  # rows behind a hole that are waited for before it is called one


@dataclass(frozen=True)
class Placed:
    """Hold where rows lie: time_s (n,), lost_before (n,), rows before which the clock restarted."""

    time_s: NDArray[np.float64]
    lost_before: Integers
    restarts: tuple[int, ...]


class StreamClock:
    """Place the rows of one stream in time; it outlives resets and changes of format."""

    def __init__(self) -> None:
        self._elapsed_us: float | int | None = None
        self._sequence: int | None = None  # None: the last row had none
        self._ticks = 0
        self._period_us: float | None = None
        self._latest: NDArray[Any] = np.empty(0)
        self._broken = False

    def break_here(self) -> None:
        """Note that an unknown length of time passes before the next row."""
        self._broken = self._elapsed_us is not None

    def place_frames(self, sequence: Integers, time_us: Integers, rate_hz: float | None) -> Placed:
        """Place rows with sequence numbers and a 32-bit clock in microseconds, both (n,)."""
        known = self._sequence is not None
        steps = _steps(sequence, self._sequence or 0, SEQUENCE_SPAN)
        spans = _steps(time_us, self._ticks, CLOCK_SPAN)
        first = self._elapsed_us is None
        if first or self._broken:
            spans[0] = 0
        if first or self._broken or not known:
            steps[0] = 1  # nobody knows how many are missing
        latest = slice(_FOR_PERIOD)
        usual = spans[latest][(steps[latest] == 1) & (spans[latest] < CLOCK_SPAN // 2)]
        if usual.size > first + self._broken:
            self._period_us = float(np.median(usual[int(first or self._broken):]))
        period = self._period_us or (1e6 / rate_hz if rate_hz else None)
        lost = steps
        lost -= 1
        restarted: list[int] = []
        odd = np.flatnonzero((lost != 0) | (spans >= CLOCK_SPAN // 2))
        if odd.size:
            step, span = lost[odd] + 1, spans[odd]
            doubtful = (step == 0) | (step > _LONGEST_HOLE)
            if period is not None:
                expected = step * period
                span = span + CLOCK_SPAN * np.maximum(
                    0, np.rint((expected - span) / CLOCK_SPAN)).astype(np.int64)
                # Half a span either way for a jittery board, which evens out in a long hole.
                # Beyond half the clock's range only a close match tells one from a restart.
                # In doubt it is a restart, for then the time of arrival says as much; a restart
                # taken for a hole would invent minutes or hours.
                allowed = np.where(expected < CLOCK_SPAN // 2, np.minimum(
                    0.5 * expected + 10 * period, 1e6 + 0.01 * expected), 0.001 * expected)
                doubtful |= np.abs(span - expected) > allowed
            spans[odd] = span
            restarted = odd[doubtful].tolist()
        if self._broken and restarted[:1] != [0]:
            restarted.insert(0, 0)
        lost[restarted] = 0
        spans[restarted] = round(period or 0)
        if first:
            spans[0] = 0
        spans[0] += int(self._elapsed_us or 0)
        elapsed = np.cumsum(spans, out=spans)
        self._elapsed_us = int(elapsed[-1])
        self._sequence, self._ticks = int(sequence[-1]), int(time_us[-1])
        self._broken = False
        return Placed(np.multiply(elapsed, 1e-6, dtype=np.float64), lost, tuple(restarted))

    def place_lines(self, ticks: Integers | None, tick_us: int, refused: Integers,
                    rate_hz: float | None, more: bool = False) -> Placed:
        """Place text rows: ticks (n,) of the board's clock or None, refused (n,) lines before each.

        Without a clock a refused line counts as one lost sample. With a clock only a hole in the
        board's time does: any, where the rate is stated; else as many as lines were refused there.

        more: others follow. Then the latest rows, from a hole on that these may still explain,
        are not placed; they are to be given again in front of the others.

        A line has no check sum, so a digit of its clock may be damaged or missing: a tick that its
        neighbours contradict, which agree with each other, is put between them and is no hole.
        """
        first, broken = self._elapsed_us is None, self._broken
        if broken and more and ticks is not None and ticks.size < 3:
            # What lies behind the first of them tells whether its clock is whole.
            return Placed(np.empty(0), refused[:0], ())
        lost = refused.copy()
        restarted = np.zeros(refused.size, bool)
        if first or broken:
            lost[0] = 0
            restarted[0] = broken
        start = 0.0 if first else float(self._elapsed_us or 0)
        self._broken, self._sequence = False, None
        if ticks is None:
            rows = np.cumsum(lost + 1) - int(first)
            step = 1e6 / rate_hz if rate_hz else np.nan
            elapsed: NDArray[np.float64] = start + rows.astype(np.float64) * step
            self._elapsed_us = float(elapsed[-1]) if rate_hz else start
        else:
            ticks, waits = self._mended(ticks, tick_us, first, broken)
            spans = self._line_spans(ticks, tick_us, restarted, first or broken)
            clean = np.arange(spans.size) >= int(first or broken)
            clean &= ~restarted
            if (clean & (refused == 0)).any() or spans.size <= _ENOUGH_STEPS:
                clean &= refused == 0  # but for a board that says something before each row
            self._learn(spans[clean])
            lost, sure, period = self._lines_lost(lost, spans, restarted, rate_hz, more)
            sure = min(sure, ticks.size - waits) if more else sure
            self._learn(spans[:sure][clean[:sure]], few=True)
            if more:
                ticks, lost = ticks[:sure], lost[:sure]
                spans, restarted = spans[:sure], restarted[:sure]
            lost[restarted] = 0
            spans = np.where(restarted, period, spans)
            if first:
                spans[0], lost[0] = 0, 0
            elapsed = start + np.cumsum(spans, dtype=np.float64)
            if elapsed.size:
                self._elapsed_us = float(elapsed[-1])
                self._ticks = int(ticks[-1])
        return Placed(elapsed * 1e-6, lost, tuple(np.flatnonzero(restarted).tolist()))

    def _mended(self, ticks: Integers, tick_us: int, first: bool, broken: bool,
                ) -> tuple[Integers, bool]:
        """Return the ticks, (n,), without single wild ones, and whether the last may be one.

        A row lies between its neighbours; what is lost there still shows as a hole behind it. After
        a break nothing is known before the first row: it is wild when the second is far from it and
        a usual step from the third. How much passed is told by the time of arrival then.
        """
        anew = first or broken
        around = ticks if anew else np.append(self._ticks, ticks)
        usual = (self._period_us or 0.0) / tick_us
        if not usual and ticks.size > _ENOUGH_STEPS:
            usual = float(np.median(np.diff(ticks)))
        if usual <= 0 or around.size < 2:
            return ticks, False
        steps = np.diff(around) % CLOCK_SPAN
        pairs = (around[2:] - around[:-2]) % CLOCK_SPAN
        outside = (steps[:-1] > pairs) & (pairs <= _ROLL_OVER_STEPS * usual + 1)
        wild = outside.copy()
        # Of two beside each other nobody knows which is whole.
        wild[1:] &= ~outside[:-1]
        wild[:-1] &= ~outside[1:]
        at = np.flatnonzero(wild)
        mended = around.copy()
        mended[at + 1] = around[at] + np.minimum(round(usual), pairs[at] // 2)
        if broken and steps.size > 1 and steps[0] > _ROLL_OVER_STEPS * usual + 1 \
                and abs(steps[1] - usual) <= 0.5 * usual + 1:
            mended[0] = around[1] - round(usual)
        return mended[0 if anew else 1:], bool(steps[-1] > 1.5 * usual + 1)

    def _line_spans(self, ticks: Integers, tick_us: int, restarted: NDArray[np.bool_],
                    anew: bool) -> Integers:
        """Return the microseconds before each row, (n,); mark in `restarted` where none is known.

        No sequence number tells a roll-over from a restart: across one hardly any time passes.
        After a restart the time of arrival says how much really did.
        """
        spans = np.diff(ticks, prepend=self._ticks)
        if anew:
            spans[0] = 0
        longest = max(_ROLL_OVER_US, _ROLL_OVER_STEPS * (self._period_us or 0.0)) / tick_us
        restarted |= (spans < 0) & (spans % CLOCK_SPAN > longest)
        restarted |= spans >= CLOCK_SPAN // 2
        spans %= CLOCK_SPAN
        return spans * tick_us

    def _lines_lost(self, told: Integers, spans: Integers, restarted: NDArray[np.bool_],
                    rate_hz: float | None, more: bool) -> tuple[Integers, int, float]:
        """Return rows lost before each, (n,), how many of them are sure, and the usual step in us.

        told: lines refused before each row; without a stated rate no more than these are missing.
        """
        lost, sure, period = told, told.size, self._period_us
        if told.any() and period is None and more:
            # Nobody knows yet how long a row takes, so not whether one is missing.
            sure = int(np.flatnonzero(told)[0])
        elif told.any():
            guess = period or (1e6 / rate_hz if rate_hz else 0.0)
            if guess:
                alone, sure = _holes(np.where(restarted, guess, spans), guess)
                lost = np.minimum(told, alone)
        if rate_hz and period is not None:
            # A sketch that was held up sends what is due in a burst of short steps.
            period = max(period, 1e6 / rate_hz)
            missing, sure = _holes(np.where(restarted, period, spans), period)
            lost = np.maximum(lost, missing)
        return lost, sure if more else lost.size, period or 0.0

    def _learn(self, spans: NDArray[Any], few: bool = False) -> None:
        """Take the usual step: of a large piece, or at first, by itself; of few as they add up."""
        if few and 0 < spans.size < _ENOUGH_STEPS:
            self._latest = np.append(self._latest, spans)[-_FEW:]
            self._period_us = float(np.median(self._latest))
        elif not few and (spans.size >= _ENOUGH_STEPS or (spans.size and self._period_us is None)):
            self._latest = spans[:_FOR_PERIOD] if spans.size >= _ENOUGH_STEPS else self._latest
            self._period_us = float(np.median(spans[:_FOR_PERIOD]))


def _holes(spans_us: NDArray[np.float64], period_us: float) -> tuple[Integers, int]:
    """Return how many rows are missing before each; rows that came late, in a burst, are not.

    A sketch that was held up and keeps its timing sends the rows that were due right behind the
    hole: each of them in less than half a period. Second, how many rows lie before a hole whose
    burst may not have come yet.
    """
    steps = spans_us / period_us
    missing = np.maximum(np.rint(steps).astype(np.int64) - 1, 0)
    sure = missing.size
    for hole in np.flatnonzero(missing).tolist():
        behind = steps[hole + 1: hole + 1 + int(missing[hole])]
        burst = np.argmax(np.append(behind, 1.0) >= 0.5)
        if burst == behind.size < min(int(missing[hole]), _LONGEST_BURST):
            sure = min(sure, hole)
        late = burst - behind[:burst].sum()
        missing[hole] = max(0, round(float(steps[hole]) - 1.0 - float(late)))
    return missing, sure


def _steps(values: Integers, before: int, span: int) -> Integers:
    """Return the steps of a counter that rolls over at `span`, the first one from `before`."""
    steps = np.empty_like(values)
    steps[0] = values[0] - before
    np.subtract(values[1:], values[:-1], out=steps[1:])
    steps &= span - 1
    return steps

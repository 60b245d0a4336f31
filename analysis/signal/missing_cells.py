"""Which blank cells of a column are readings lost, and which are its logger's own rate.

A merged log has a row for every reading of any of its columns, so a slower column is blank between
its own. Method and limits: docs/method.md, "Other faults", "no reading".
"""

import numpy as np

from analysis.model.recording import Array
from analysis.signal.smoothing import Mask

# Own readings looked at together to tell a column's rate. Common practice, no source.
TOGETHER = 10
# A logger that rounds a slower rate to its rows is off by one row at most.
REGULAR_ROWS = 1.25
# So much longer than usual (in rows) a reading is late by a whole row, jitter of times allowed.
LATE_ROWS = 0.75
# Rows this even in time (spread over usual step) are ticks of one clock; others were merged.
EVEN_ROWS = 0.25
# Blanks rarer than this share of rows are no other column's rows, whatever the times do.
FEW_BLANKS = 0.05
# Times that jitter spread the intervals; none is wider than its usual by this many spreads (the
# middle 80 %: 2.6 standard deviations of a normal interval).
JITTERS = 2.0
# Without a rate: a stretch this many usual intervals long, and its spread, is lost; where most
# of the blanks would be lost so, nothing is known. Common practice, no source.
MANY_INTERVALS, MOST_LOST = 2.5, 1.0 / 3.0
# How many intervals of chance may be longer in a column than what counts as its longest.
EXPECTED = 0.001


def lost_rows(known: Mask, times: Array, step_s: float) -> Mask:
    """Return the rows in which a reading is missing that its column would have had, shape (n,).

    known: shape (n,), where there is a reading; times: shape (n,), seconds; step_s: the usual time
    between rows, s.
    A merged log leaves a slower column blank between its readings (every second row, or every
    row of another clock): those come at a rate of their own, and only what is later than rate
    and jitter explain is lost. In rows of one clock blanks without any rate are all lost; in
    rows of several, those much longer than usual are, and none where that would be most.
    """
    return judge_blanks(known, times, step_s)[0]


def judge_blanks(known: Mask, times: Array, step_s: float) -> tuple[Mask, bool]:
    """Return the lost rows, and whether blanks cannot be told from losses (then none is).

    known, times, step_s: as for `lost_rows`.
    """
    lost: Mask = ~known
    if not lost.any() or not step_s > 0:
        return lost, False
    rows = np.flatnonzero(known)
    if rows.size <= 3 * TOGETHER:
        return lost, False
    apart = np.diff(times[rows])
    sums = times[rows][TOGETHER:] - times[rows][:-TOGETHER]
    low, usual, high = np.quantile(sums, [0.1, 0.5, 0.9])
    usual /= TOGETHER
    spread = _spread(apart)
    merged = _spread(np.diff(times)) > EVEN_ROWS * step_s
    few = rows.size >= (1.0 - FEW_BLANKS) * known.size
    # Jitter of times does not add up over intervals; blanks by chance do.
    regular = high - low <= max(REGULAR_ROWS * step_s, 1.5 * spread if merged else 0.0)
    if not regular and (few or not merged):
        return lost, False
    if not regular:
        limit = max(MANY_INTERVALS * float(np.median(apart)) + spread, _longest(apart))
    elif merged and not few:
        limit = usual + max(LATE_ROWS * step_s, JITTERS * spread)
    else:
        limit = usual + LATE_ROWS * step_s
    # Of every row: is the way from the reading before it to the next one too long?
    place = np.searchsorted(rows, np.arange(known.size), side="right")
    ways = np.r_[times[rows[0]] - times[0], apart, times[-1] - times[rows[-1]]]
    result: Mask = lost & (ways >= limit)[place]
    if not regular and result.sum() > MOST_LOST * lost.sum():
        return np.zeros(known.size, dtype=bool), True
    return result, False


def _longest(apart: Array) -> float:
    """Return an interval longer than chance is expected to give in the whole column, s.

    Its tail is taken for exponential, as of a logger that polls when it has time: of the usual
    ones the slowest to fall off, from 0.5 to 0.1 over ln 5 of its constants.
    """
    middle, high = np.quantile(apart, [0.5, 0.9])
    constant = (high - middle) / np.log(5.0)
    return float(high + constant * np.log(max(0.1 * apart.size / EXPECTED, 1.0)))


def _spread(values: Array) -> float:
    """Return the width of the middle 80 % of the values."""
    low, high = np.quantile(values, [0.1, 0.9])
    return float(high - low)

"""What a figure may show: drawable numbers, ranges that can be set, axes that read well.

Rule: findings may hold NaN and infinities, and every figure stands them. What cannot be drawn is
left out; a range that cannot be set is left to what is drawn.
"""

import math
from collections.abc import Sequence

import numpy as np
import pyqtgraph as pg
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
# Beyond this pyqtgraph's transforms lose their precision, and nothing measured lies there.
MOST = 1e9
# Of the range on either side of what is drawn.
ROOM = 0.04
# Nearer to zero than this is zero, and a range narrower than this is none.
LEAST = 1e-12
# Pixels that a number under an axis needs, and beside one.
WIDE_LABEL, HIGH_LABEL = 44.0, 22.0
DIGIT_WIDTH = 6.5
MOST_DECADES = 40
_PIECE = 1 << 15


def drawable(values: ArrayLike) -> Array:
    """Return the values as floats, NaN in place of what no plot can hold."""
    made = np.array(values, dtype=np.float64)
    flat = made.reshape(-1)
    # Most often there is nothing to mend, and the array may be long: a piece at a time stays in
    # the processor's cache.
    for at in range(0, flat.size, _PIECE):
        piece = flat[at: at + _PIECE]
        size = np.abs(piece)
        for wrong, instead in ((~(size <= MOST), np.nan), (size < LEAST, 0.0)):
            if wrong.any():
                piece[wrong] = instead
    return made


def known(*values: float) -> list[float]:
    """Return those of the values that can be drawn."""
    return [float(v) for v in values if math.isfinite(v) and abs(v) <= MOST]


def show_x(plot: pg.PlotItem, low: float, high: float, padding: float = 0.0) -> None:
    """Set the range in x, unless there is none."""
    if len(known(low, high)) == 2 and high - low > LEAST:
        plot.setXRange(low, high, padding=padding)


def show_y(plot: pg.PlotItem, low: float, high: float, padding: float = 0.0) -> None:
    """Set the range in y, unless there is none."""
    if len(known(low, high)) == 2 and high - low > LEAST:
        plot.setYRange(low, high, padding=padding)


def keep_range(plot: pg.PlotItem) -> None:
    """Set both ranges to what is drawn now, with some room.

    Left to pyqtgraph they depend on the plot's size, and what is long is painted anew with each
    step of a page that is being laid out.
    """
    for bounds, show in zip(plot.getViewBox().childrenBounds(), (show_x, show_y), strict=True):
        if bounds is not None and None not in bounds:
            show(plot, bounds[0], bounds[1], padding=ROOM)


def plain_axes(plot: pg.PlotItem) -> None:
    """Give both axes the usual marks again, whatever figure stood there before."""
    for side in ("bottom", "left"):
        axis = plot.getAxis(side)
        axis.setTicks(None)
        for name in ("tickSpacing", "logTickValues", "logTickStrings"):
            axis.__dict__.pop(name, None)


def whole_numbers(axis: pg.AxisItem) -> None:
    """Mark an axis that counts with whole numbers only."""
    def spacing(low: float, high: float, size: float) -> list[tuple[float, float]]:
        digits = len(f"{max(high, 1.0):.0f}")
        room = max(size / (DIGIT_WIDTH * (digits + 1)), 1.0)
        step = next((s * 10.0**p for p in range(12) for s in (1, 2, 5)
                     if (high - low) / (s * 10.0**p) <= room), 1e12)
        return [(step, 0.0)]

    axis.tickSpacing = spacing


def readable_decades(axis: pg.AxisItem, room: float) -> None:
    """Mark a logarithmic axis with plain numbers that never touch each other.

    room: pixels a number needs along the axis. Every 1, 2 and 5 of a decade where they fit, else
    the 1 and 3, else the decades, else every so many of them; even steps where those show
    more than the one or two of these in view.
    """
    def marks(low: float, high: float, size: float,
              _usual: object) -> list[tuple[float | None, Sequence[float]]]:
        decades = max(high - low, 1e-9)
        within: list[float] = []
        for steps, closest in (((1, 2, 5), math.log10(2.0)), ((1, 3), math.log10(3.0)),
                               ((1,), 1.0)):
            if closest * size / decades < room and steps != (1,):
                continue
            every = max(math.ceil(room * decades / size), 1) if steps == (1,) and size > 0 else 1
            powers = range(math.floor(low), min(math.ceil(high), math.floor(low) + MOST_DECADES))
            within = [p + math.log10(s) for p in powers if p % every == 0 for s in steps]
            break
        seen = [v for v in within if low <= v <= high]
        if len(seen) < 3:
            seen = max(seen, _even_marks(low, high, size / room), key=len)
        return [(None, seen)]

    def texts(values: Sequence[float], _scale: float, _spacing: float) -> list[str]:
        return [plain_number(10.0**v) for v in values]

    axis.logTickValues = marks
    axis.logTickStrings = texts


def _even_marks(low: float, high: float, most: float) -> list[float]:
    """Return logarithms of even steps between 10**low and 10**high that stand well apart.

    most: how many numbers have room side by side.
    """
    first, last = 10.0**low, 10.0**high
    start = math.floor(math.log10(max(last - first, 1e-300))) - 1
    for step in (s * 10.0**p for p in range(start, start + 3) for s in (1, 2, 5)):
        values = [k * step for k in range(math.ceil(first / step), math.floor(last / step) + 1)]
        # The last two stand closest to each other.
        if len(values) < 2 or math.log10(values[-1] / values[-2]) * most >= high - low:
            return [math.log10(v) for v in values]
    return []


def plain_number(value: float) -> str:
    """Return a mark of a logarithmic axis as a person writes it: 0.5, 20, 1000, 10 000."""
    if 1e-4 <= value < 1e6:
        return f"{value:,.10g}".replace(",", " ") if value >= 1e4 else f"{value:.4g}"
    return f"{value:.0e}"

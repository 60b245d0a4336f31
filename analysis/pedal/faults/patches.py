"""A place of travel where a track stands still and then jumps: bare or bridged film.

All passes of one way are laid over one another, the quick ones too. Over a few percent of the other
track's travel a sound track moves as much, and one on a bare patch does not move at all; a straight
line through the readings there tells the two apart as soon as its slope is known well enough. Only
where the other track was seen on its way across is anything said: where it jumped as well, it may
be the one. Method: docs/method.md, "Flat spots".
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial

import numpy as np

from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.pedal.faults.fault import Fault
from analysis.signal.segments import Segment
from analysis.signal.side_by_side import in_blocks, side_by_side
from analysis.signal.smoothing import Mask, Rows, runs

# Stretches of the other track's travel (%) that are looked at, every STEP, and the ends left out,
# where the input may be clipped and play is taken up.
WIDTHS, STEP, ENDS = (3.0, 4.5, 6.0), 0.5, 3.0
# Still: the slope lies below this with ERRORS of its standard errors, and below that of a sound
# track (1) by SURE of them.
STILL, ERRORS, SURE = 0.35, 2.0, 7.0
# Whichever pass is left out the slope stays below this: one press in which the other track stood
# still is no place of travel.
STILL_WITHOUT_ONE = 0.5
# At least so many readings from so many passes, spread over this share of the stretch, without a
# hole of more than that share of it.
LEAST_ROWS, LEAST_PASSES, SPREAD, HOLE = 4, 3, 0.6, 0.5
# The readings of a pass that moves by more than this (% of travel) from one to the next tell little
# of a place.
MOST_MOVE = 8.0
# Where the tracks part by more than this (% of travel), and so many readings around, the wiper let
# go: a lost contact and no bare place of the widths looked for.
MOST_APART, AROUND = 12.0, 4
MOST_ROWS = 200_000
WAYS = (("press", "pressing"), ("release", "releasing"))


@dataclass(frozen=True)
class Patch:
    """Hold one stretch of travel (low to high, %) over which a track stood still, going one way."""

    column: str
    beside: str
    low: float
    high: float
    way: str


def patch_faults(travel: Mapping[str, Array], good: Mapping[str, Mask], times: Array,
                 segments: tuple[Segment, ...]) -> list[Fault]:
    """Return one fault per place where one of two tracks stands still while the other moves.

    travel: of two tracks, shape (n,), %; good: by track, shape (n,), where it was read.
    """
    known: Mask | None = None
    looks: list[Callable[[], list[Patch]]] = []
    for kind, words in WAYS:
        passes = [s for s in segments if s.kind == kind]
        if len(passes) < LEAST_PASSES:
            continue
        if known is None:
            known = _known(travel, good)
        rows, number = _rows(passes, known)
        for name, other in (tuple(travel), tuple(travel)[::-1]):
            looks.append(partial(_look, travel, (name, other), words, rows, number))
    found = [p for each in side_by_side(times.size, *looks) for p in each]
    return [_fault(group, travel, times, segments) for group in _together(found)]


def _look(travel: Mapping[str, Array], pair: tuple[str, str], way: str, rows: Rows,
          number: Rows) -> list[Patch]:
    """Return the patches of the first of the pair, in these rows, each of the pass of that number.
    """
    name, other = pair
    return [Patch(name, other, low, high, way)
            for low, high in _still(travel[other][rows], travel[name][rows], number)]


def _known(travel: Mapping[str, Array], good: Mapping[str, Mask]) -> Mask:
    """Return the rows in which both tracks are read, and lie where they usually do."""
    first, second = travel.values()
    apart, known = np.empty(first.size), np.empty(first.size, dtype=bool)

    def work(rows: slice) -> None:
        # With a neighbour on either side, a block has the gradient of the whole.
        near = slice(max(rows.start - 1, 0), min(rows.stop + 1, first.size))
        move = np.abs(np.gradient((first[near] + second[near]) / 2.0))
        own = known[rows]
        np.less_equal(move[rows.start - near.start:][: own.size], MOST_MOVE, out=own)
        for read in good.values():
            own &= read[rows]
        np.subtract(first[rows], second[rows], out=apart[rows])

    in_blocks(first.size, work)
    usual = float(np.median(apart))
    gone = np.flatnonzero(known & (np.abs(apart - usual) > MOST_APART))
    for by in range(-AROUND, AROUND + 1):
        known[np.clip(gone + by, 0, known.size - 1)] = False
    return known


def _rows(passes: list[Segment], known: Mask) -> tuple[Rows, Rows]:
    """Return the rows of these passes that are known, thinned, and the pass of each."""
    rows, number = [], []
    for k, segment in enumerate(passes):
        own = segment.start + np.flatnonzero(known[segment.start: segment.stop])
        rows.append(own)
        number.append(np.full(own.size, k))
    all_rows, all_numbers = np.concatenate(rows), np.concatenate(number)
    thin = all_rows.size // MOST_ROWS + 1
    return all_rows[::thin], all_numbers[::thin]


def _still(other: Array, own: Array, number: Rows) -> list[tuple[float, float]]:
    """Return the stretches of the other track's travel over which this one stands still.

    other, own: shape (k,), travel in %; number: shape (k,), the pass that each reading is of.
    """
    order = np.argsort(other, kind="stable")
    x, y, number = other[order], own[order] - other[order], number[order]
    marked = np.zeros(round(100.0 / STEP), dtype=bool)
    sums = [np.r_[0.0, np.cumsum(v)] for v in (np.ones_like(x), x, y, x * x, x * y, y * y)]
    for width in WIDTHS:
        lows = np.arange(ENDS, 100.0 - ENDS - width + STEP / 2, STEP)
        start, stop = np.searchsorted(x, lows), np.searchsorted(x, lows + width)
        n, sx, sy, sxx, sxy, syy = (s[stop] - s[start] for s in sums)
        enough = n >= LEAST_ROWS
        n = np.maximum(n, 3.0)
        vx = np.maximum(sxx - sx * sx / n, 1e-9)
        # The slope of the difference of the two: 0 of a sound track, -1 of one that stands still.
        slope = (sxy - sx * sy / n) / vx
        left = np.sqrt(np.maximum(syy - sy * sy / n - slope**2 * vx, 0.0) / (n - 2.0))
        usual = float(np.median(left[enough])) if enough.any() else 0.0
        error = np.maximum(left, usual) / np.sqrt(vx)
        still = (enough & (1.0 + slope + ERRORS * error < STILL) & (-slope > SURE * error)
                 & (slope > -1.0 - STILL))
        for k in np.flatnonzero(still):
            part = slice(int(start[k]), int(stop[k]))
            if _crossed(x[part], width) and _every_pass(x[part], y[part], number[part]):
                first = round(lows[k] / STEP)
                marked[first: first + round(width / STEP)] = True
    return [(float(a * STEP), float(b * STEP)) for a, b in zip(*runs(marked), strict=True)]


def _crossed(x: Array, width: float) -> bool:
    """Return whether the other track was seen all over the stretch and did not jump across it."""
    return bool(x[-1] - x[0] >= SPREAD * width and np.diff(x).max() <= HOLE * width)


def _every_pass(x: Array, y: Array, number: Rows) -> bool:
    """Return whether enough passes were seen, and none of them alone makes the track stand still.

    x: the other track's travel, y: the difference of the two, shape (k,); number: their passes.
    """
    passes = np.unique(number)
    if passes.size < LEAST_PASSES:
        return False
    for one in passes:
        rest = number != one
        dx = x[rest] - x[rest].mean()
        power = float(dx @ dx)
        if power > 0.0 and not 1.0 + float(dx @ y[rest]) / power < STILL_WITHOUT_ONE:
            return False
    return True


def _together(found: list[Patch]) -> list[list[Patch]]:
    """Return the patches of one track at one place together, both ways."""
    groups: list[list[Patch]] = []
    for patch in sorted(found, key=lambda p: (p.column, p.low)):
        last = groups[-1][-1] if groups else None
        if last is not None and last.column == patch.column and patch.low <= last.high + WIDTHS[0]:
            groups[-1].append(patch)
        else:
            groups.append([patch])
    return groups


def _fault(group: list[Patch], travel: Mapping[str, Array], times: Array,
           segments: tuple[Segment, ...]) -> Fault:
    low, high = min(p.low for p in group), max(p.high for p in group)
    column, other = group[0].column, group[0].beside
    ways = {p.way for p in group}
    place = (low + high) / 2.0
    first = next((s.start + int(np.argmax(travel[other][s.start: s.stop] >= place))
                  for s in segments if s.kind == "press"), 0)
    return Fault(
        "flat spot", column, float(times[first]), float(times[first]), place, 2,
        Reason("flat spot", {
            "track": column, "other": other, "lowest_percent": low, "highest_percent": high,
            "way": ways.pop() if len(ways) == 1 else None}))

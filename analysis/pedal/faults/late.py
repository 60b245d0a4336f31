"""A track that follows late: the other's movement comes again in it, some time after.

No sensor can foresee what a foot will do, so of two tracks that tell the same story the later one
is at fault: its input hangs on a slow filter, a leak, or a logger that lags. Where neither is the
other made late, nothing is said here.
"""

from dataclasses import dataclass

import numpy as np

from analysis.model.recording import Array
from analysis.pedal.faults.dead import Dead
from analysis.pedal.travel import Thinned
from analysis.signal.smoothing import running_median

# Delays (s) that are tried: steps of COARSE_S first, then every point around the best. A shorter
# one is a matter of when the two are read.
SHORTEST_S, LONGEST_S, COARSE_S = 0.1, 4.0, 0.05
# Time constants (s) of a track that follows sluggishly.
SLUGGISH_S = (0.1, 0.15, 0.22, 0.33, 0.5, 0.75, 1.1, 1.6, 2.4)
# The tracks part where they lie further from one another than this share of their range, for at
# least that share of the time; before that they agree.
PART, LEAST_PARTED, PARTS_S = 0.12, 0.02, 0.15
# The later track is explained when this share of its range is left at most, and that share of what
# the other explains as it stands, or as the earlier of the two (common practice, no source).
LEFT, OF_BEFORE, OF_REVERSED = 0.06, 0.25, 0.6
# Either must have moved so often through its middle to be recognised: a dead one has not.
LEAST_MOVES = 3


@dataclass(frozen=True)
class _Fit:
    """Hold how well one track is the other made late: share of its range left, and by how much."""

    left: float
    seconds: float
    sluggish: bool


def find_late(points: Thinned, names: tuple[str, ...]) -> tuple[Dead, ...]:
    """Return the stretch in which one of the first two tracks follows the other late, if any.

    From where the tracks part to where they last do; `late_s` is the delay, or the time constant.
    """
    if len(names) < 2 or points.times.size < 100:
        return ()
    step = float(np.median(np.diff(points.times)))
    if not step > 0.0:
        return ()
    unit = {n: _unit(points.volts[n]) for n in names[:2]}
    first, second = unit.values()
    for start, stop in _partings(first, second, step):
        fits = {}
        for late, early in (tuple(unit), tuple(unit)[::-1]):
            if min(_moves(unit[n][start:stop]) for n in unit) >= LEAST_MOVES:
                fits[late] = _best(unit[early], unit[late], start, stop, step)
        if not fits:
            continue
        late = min(fits, key=lambda n: fits[n].left)
        early = next(n for n in unit if n != late)
        best = fits[late]
        as_is = _left(unit[early][start:stop], unit[late][start:stop])
        reversed_ = fits[early].left if early in fits else 1.0
        if best.left <= min(LEFT, OF_BEFORE * as_is, OF_REVERSED * reversed_):
            aside = round(2 * PARTS_S / step)
            # With no whole press before it, or after it, nothing of the track there is of use.
            begin = 0 if _moves(unit[early][:start]) < 2 else max(0, start - aside)
            end = first.size if _moves(unit[early][stop:]) < 2 else min(first.size, stop + aside)
            return (Dead(late, begin, end, float("nan"), early, 1.0, best.seconds,
                         best.sluggish),)
    return ()


def late_all_along(late: tuple[Dead, ...], points: Thinned) -> frozenset[str]:
    """Return the tracks that follow late from the first reading to the last."""
    return frozenset(d.column for d in late
                     if d.late_s and d.start == 0 and d.stop == points.times.size)


def _unit(values: Array) -> Array:
    low, high = np.quantile(values, [0.005, 0.995])
    result: Array = (values - low) / max(float(high - low), 1e-12)
    return result


def _partings(first: Array, second: Array, step: float) -> list[tuple[int, int]]:
    """Return between which points the tracks part, by whether they run alike or opposed."""
    result = []
    width = max(1, round(PARTS_S / step)) | 1
    for other in (second, 1.0 - second):
        apart = running_median((np.abs(first - other) > PART).astype(np.float64), width) > 0.5
        if float(apart.mean()) < LEAST_PARTED:
            return []  # One of the two ways they agree all along.
        where = np.flatnonzero(apart)
        result.append((int(where[0]), int(where[-1]) + 1))
    # The shorter first: the wrong way round they part all along.
    return sorted(result, key=lambda r: r[1] - r[0])


def _moves(values: Array) -> int:
    """Return how often a track passes the middle of its range."""
    side = values[(values < 0.3) | (values > 0.7)] > 0.5
    return int(np.count_nonzero(side[1:] != side[:-1]))


def _best(early: Array, late: Array, start: int, stop: int, step: float) -> _Fit:
    """Return the delay or the sluggishness that explains the later track best in [start, stop)."""
    least, most = max(1, round(SHORTEST_S / step)), round(LONGEST_S / step)
    stride = max(1, round(COARSE_S / step))
    early, late = early[:stop], late[:stop]
    coarse = {k: _delayed(early, late, start, k) for k in range(least, most + 1, stride)}
    near = min(coarse, key=lambda k: coarse[k])
    fine = {k: _delayed(early, late, start, k)
            for k in range(max(least, near - stride + 1), near + stride)}
    best = min(fine, key=lambda k: fine[k])
    found = _Fit(fine[best], best * step, False)
    for tau in SLUGGISH_S:
        left = _left(_sluggish(early, tau / step)[start:], late[start:])
        if left < found.left:
            found = _Fit(left, tau, True)
    return found


def _delayed(early: Array, late: Array, start: int, by: int) -> float:
    # What was read late before the delay is over belongs to an earlier time than the parting.
    begin = start + by
    if late.size - begin < 50:
        return 1.0
    return _left(early[begin - by: late.size - by], late[begin:])


def _sluggish(values: Array, points: float) -> Array:
    """Return the values behind a first-order low pass of that many points."""
    from scipy.signal import lfilter

    share = 1.0 - np.exp(-1.0 / points)
    result: Array = lfilter([share], [1.0, share - 1.0], values,
                            zi=[(1.0 - share) * values[0]])[0]
    return result


def _left(x: Array, y: Array) -> float:
    """Return what is left of y over its best straight line on x, rms; both as shares of a range."""
    dx, dy = x - x.mean(), y - y.mean()
    power = float(dx @ dx)
    if power <= 0.0:
        return 1.0
    left = dy - float(dx @ dy) / power * dx
    return float(np.sqrt(np.mean(left**2)))

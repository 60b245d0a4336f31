"""Whether the supply sags at key-on, whether the tracks follow it, and where a shift comes from."""

import math
from collections.abc import Mapping, Sequence

import numpy as np

from analysis.key_on.blocks import Blocks, Bools, Ints, Readings
from analysis.key_on.presses import TrackFacts
from analysis.key_on.rests import Rests, Settled
from analysis.key_on.results import UNKNOWN, CommonMode, Interval, KeyCycle
from analysis.model.finding import Reason
from analysis.model.recording import Array
from analysis.statistics.correlated import student_interval

# 95 % of chi-squared with one degree of freedom: 1.96 squared.
_FITS = 1.959964**2
# Shifts smaller than this are not worth a name (common practice: below a 10-bit step).
_WORTH_VOLTS = 0.001
# The furthest of a million block means lies within so many rms of their scatter.
_FURTHEST = 5.5
# Tracks that differ by less share their shift, however surely they differ (common practice, no
# source).
_ALIKE_VOLTS = 0.0003


def supply_levels(blocks: Blocks, supply: str, span: Rests, wait_s: float) -> tuple[float, ...]:
    """Return the supply before and after key-on and its lowest reading after, volts."""
    mean = blocks.measured[supply]
    before = mean[blocks.between(span.before_row, span.before_stop)]
    after = blocks.between(span.on_row + round(wait_s / blocks.step_s), span.off_row)
    lowest = blocks.supply_lowest
    seen = (mean if lowest is None else lowest)[blocks.between(span.on_row, span.off_row)]
    seen = seen[np.isfinite(seen)]
    return _mean(before), _mean(mean[after]), float(seen.min()) if seen.size else float("nan")


def follow(log: Readings, columns: Sequence[str], supply: str, settled: Settled,
           confidence: float) -> dict[str, tuple[Interval, str]]:
    """Return by track how far the measured volts follow the supply, and that in words.

    A lift of its own that just makes up for the sag looks like a track fed from elsewhere. So
    what the step at key-on alone says of one track counts only when it says it of all.
    """
    found = {c: _follow(log, c, supply, settled, confidence) for c in columns}
    alone = any(word != "does not follow" for _, word, _ in found.values())
    return {c: (UNKNOWN, "cannot say")
            if alone and at_key_on and word == "does not follow" else (share, word)
            for c, (share, word, at_key_on) in found.items()}


def _follow(log: Readings, column: str, supply: str, settled: Settled,
            confidence: float) -> tuple[Interval, str, bool]:
    """Return how far one track follows, that in words, and whether the step at key-on says so.

    First by the relative change from key-off to key-on: a ratiometric track changes as much as
    the supply (1), one fed from elsewhere not at all (0). A lift of the track's own hides that;
    then by how the track moves with the supply while the key stays on, if the supply moves.
    Told only when the supply moves plainly (0.5 % at key-on, 0.2 % rms later).
    """
    blocks, free = log.blocks, log.free
    ratios, sags = [], []
    for span, rows in zip(settled.spans, settled.rows(blocks.step_s), strict=True):
        before = _quiet(blocks, free, span.before_row, span.before_stop)
        after = _quiet(blocks, free, *rows)
        feed, track = blocks.measured[supply], blocks.measured[column]
        s0, s1 = _mean(feed[before]), _mean(feed[after])
        v0, v1 = _mean(track[before]), _mean(track[after])
        if not (np.isfinite(s0) and np.isfinite(s1) and s0 > 0.5 and abs(v0) > 0.02):
            continue
        sags.append(s1 / s0 - 1.0)
        ratios.append((v1 / v0 - 1.0) / (s1 / s0 - 1.0) if s1 != s0 else np.nan)
    values = np.array(ratios)
    plain = bool(sags) and abs(float(np.median(sags))) >= 0.005
    at_key_on = plain and _near_0_or_1(float(np.mean(values)))
    if not at_key_on:
        values = _moving_together(log, column, supply, settled)
    if not values.size:
        return UNKNOWN, "cannot say", False
    if values.size > 1:
        mean, low, high = student_interval(values, confidence)
        result = Interval(mean, low, high, confidence)
    else:
        result = Interval(float(values[0]), float("nan"), float("nan"), confidence)
    if abs(result.value - 1.0) < 0.2:
        return result, "ratiometric", at_key_on
    if abs(result.value) < 0.2:
        return result, "does not follow", at_key_on
    return result, "partly", at_key_on


def _near_0_or_1(value: float) -> bool:
    return abs(value) < 0.2 or abs(value - 1.0) < 0.2


def _moving_together(log: Readings, column: str, supply: str, settled: Settled) -> Array:
    """Return per cycle the slope of relative track against relative supply, settled key-on."""
    blocks = log.blocks
    slopes = []
    group = max(1, round(0.25 / (blocks.size * blocks.step_s)))
    for rows in settled.rows(blocks.step_s):
        index = _quiet(blocks, log.free, *rows)
        index = index[:index.size // group * group].reshape(-1, group)
        if index.shape[0] < 20:
            continue
        feed = blocks.measured[supply][index].mean(axis=1)
        track = blocks.measured[column][index].mean(axis=1)
        if not (np.isfinite(feed).all() and np.isfinite(track).all() and feed.mean() > 0.5
                and abs(track.mean()) > 0.02):
            continue
        feed, track = feed / feed.mean() - 1.0, track / track.mean() - 1.0
        if np.std(feed) >= 0.002:
            slopes.append(float(feed @ track / (feed @ feed)))
    return np.array(slopes)


def common_mode(facts: tuple[TrackFacts, ...], shifts: Mapping[str, Array],
                biases: Mapping[str, float], gain: float, confidence: float) -> CommonMode:
    """Return whether both tracks share the shift (ground) or one moved alone.

    shifts: per track the measured volts' shift of each cycle, shape (cycles,), same order.
    gain: second track's slope per volt of the first (NaN unknown): a pedal that itself moved
    shifts the tracks in that ratio, a ground offset shifts both volts alike.
    """
    names = [f.column for f in facts][:2]
    if len(names) < 2:
        return CommonMode("one track only", None, UNKNOWN, {},
                          Reason("one track in the log"))
    a, b = (shifts[n] for n in names)
    good = np.isfinite(a) & np.isfinite(b)
    a, b = a[good], b[good]
    if not a.size:
        return CommonMode("cannot tell", None, UNKNOWN, {},
                          Reason("no shift on both tracks"))
    mean = np.array([a.mean(), b.mean()])
    floor = np.diag([max(biases[n], 2e-5) ** 2 for n in names])
    spread = _spread(a, b) + floor
    size = np.sqrt(np.diag(spread))
    if np.all(np.abs(mean) < np.maximum(1.96 * size, _WORTH_VOLTS)):
        return CommonMode("none", None, _shared(a, b, confidence), dict.fromkeys(names, 0.0),
                          Reason("neither track shifts"))
    alike = bool(np.isfinite(gain) and abs(gain - 1.0) < 0.15)
    fitting = _fitting(mean, spread, names, math.nan if alike else gain)
    common = _shared(a, b, confidence)
    pair = tuple((n, float(v)) for n, v in zip(names, mean, strict=True))
    own = {n: float(m - common.value) for n, m in zip(names, mean, strict=True)}
    if len(fitting) > 1 and fitting[1][0] < fitting[0][0] + 2.0:
        return CommonMode("cannot tell", None, common, own,
                          Reason("shifts fit several", {
                              "shifts": pair, "kinds": tuple(f[1:] for f in fitting)}))
    if not fitting:
        smaller = float(np.min(np.abs(mean))) if np.prod(np.sign(mean)) > 0 else 0.0
        shared = float(np.sign(mean[0]) * smaller)
        left = {n: float(m - shared) for n, m in zip(names, mean, strict=True)}
        return CommonMode("mixed", None, Interval(shared, float("nan"), float("nan")), left,
                          Reason("shift unequally", {"shifts": pair, "shared_volts": shared}))
    _, kind, column = fitting[0]
    if kind == "ground offset":
        return CommonMode(kind, None, common, own, Reason("shift alike", {
            "shifts": pair, "equal_slopes": alike}))
    if kind == "one track":
        return CommonMode(kind, column, Interval(0.0, 0.0, 0.0), dict(zip(names, map(float, mean),
                                                                          strict=True)),
                          Reason("one track shifts", {"track": column, "shifts": pair}))
    return CommonMode(kind, None, Interval(0.0, 0.0, 0.0),
                      dict(zip(names, map(float, mean), strict=True)),
                      Reason("pedal itself moved", {"shifts": pair}))


def _fitting(mean: Array, spread: Array, names: Sequence[str], gain: float,
             ) -> list[tuple[float, str, str | None]]:
    """Return (misfit, kind, its track) of each cause that explains both mean shifts, best first.

    mean: volts, shape (2,); spread: their covariance, V^2. gain: NaN where a pedal that moved
    looks like a ground offset.
    """
    causes: list[tuple[str, str | None, Array]] = [
        ("ground offset", None, np.array([1.0, 1.0])),
        ("one track", names[0], np.array([1.0, 0.0])),
        ("one track", names[1], np.array([0.0, 1.0]))]
    if np.isfinite(gain):
        causes.append(("pedal moved", None, np.array([1.0, gain])))
    fits = sorted(((_misfit(mean, direction, spread), kind, column)
                   for kind, column, direction in causes), key=lambda f: f[0])
    fitting = [f for f in fits if f[0] < _FITS]
    if not fitting and abs(mean[0] - mean[1]) < _ALIKE_VOLTS:
        return [f for f in fits if f[1] == "ground offset"]
    return fitting


def none_moves(blocks: Blocks, free: Bools, cycles: Sequence[KeyCycle], broken: bool) -> Reason:
    """Return what holds where the tracks share no shift: that neither moves only if none did.

    Every key-on is asked, and every reading of it: a track may move and come back, or move one
    way at one key-on and the other way at the next. broken: a track stood at a rail.
    """
    # How a block's mean scatters, by its usual distance from the middle: a lift that lasts for
    # less than half of a key-on makes it no larger, nor does one in one key-on of many.
    usual = {c: _middle([_scatter(blocks, c, _quiet(blocks, free, y.on_row, y.off_row))
                         for y in cycles]) for c in (cycles[0].tracks if cycles else ())}
    hidden = {c: _FURTHEST * (u if np.isfinite(u) else 0.0) + _WORTH_VOLTS
              for c, u in usual.items()}
    rest = {c: _middle([y.tracks[c].before_volts for y in cycles]) for c in usual}
    moved = []
    for cycle in cycles:
        for track in cycle.tracks.values():
            before = track.before_volts
            before = before if np.isfinite(before) else rest[track.column]
            shift = abs(track.shift.value) if track.shift.excludes_zero else 0.0
            index = _quiet(blocks, free, cycle.on_row, cycle.off_row)
            away = np.abs(blocks.stated[track.column].mean[index] - before)
            away = away[np.isfinite(away)]
            lift = float(away.max()) if away.size else 0.0
            swing = lift if lift > hidden[track.column] else 0.0
            if max(shift, swing) > _WORTH_VOLTS:
                moved.append((max(shift, swing), track.column, cycle.number))
    if broken:
        return Reason("no shift, at a rail")
    seen = [np.isfinite(t.excursion_volts) for c in cycles for t in c.tracks.values()]
    if moved:
        furthest, column, number = max(moved)
        return Reason("one key-on moved it", {
            "key_on": number, "track": column, "volts": furthest})
    most = np.ceil(1e4 * max(hidden.values(), default=_WORTH_VOLTS)) / 10.0
    return Reason("neither track moves", {"most_mv": float(most), "all_seen": all(seen)})


def _scatter(blocks: Blocks, column: str, index: Ints) -> float:
    """Return the robust standard deviation of a track's block means, at least what its step hides.

    NaN without any.
    """
    stats = blocks.stated[column]
    mean = stats.mean[index]
    mean = mean[np.isfinite(mean)]
    if not mean.size:
        return float("nan")
    inside = stats.variance[index]
    floor = float(np.sqrt(np.nanmedian(inside) / blocks.size))
    return max(1.4826 * float(np.median(np.abs(mean - np.median(mean)))), floor)


def _spread(a: Array, b: Array) -> Array:
    """Return the covariance of the mean shifts; with few cycles Student's width is put in."""
    from scipy.special import stdtrit

    if a.size < 2:
        # One cycle tells no scatter: a fifth of the shift, or 1 mV, must stand in for it.
        return np.diag(np.maximum(0.1 * np.abs([a[0], b[0]]), 0.001) ** 2)
    widening = (float(stdtrit(a.size - 1, 0.975)) / 1.959964) ** 2
    result: Array = np.cov(a, b) / a.size * widening
    return result


def _shared(a: Array, b: Array, confidence: float) -> Interval:
    both = 0.5 * (a + b)
    if both.size < 2:
        return Interval(float(both[0]), float("nan"), float("nan"), confidence)
    return Interval(*student_interval(both, confidence), confidence)


def _misfit(mean: Array, direction: Array, spread: Array) -> float:
    """Return the squared distance of the shifts from that direction, in its own uncertainty."""
    across = np.array([-direction[1], direction[0]])
    return float((across @ mean) ** 2 / (across @ spread @ across))


def _quiet(blocks: Blocks, free: Bools, start: int, stop: int) -> Ints:
    piece = blocks.between(start, stop)
    index = np.arange(piece.start, piece.stop)
    return index[free[index]]


def _middle(values: Sequence[float]) -> float:
    finite = [v for v in values if np.isfinite(v)]
    return float(np.median(finite)) if finite else float("nan")


def _mean(values: Array) -> float:
    finite = values[np.isfinite(values)]
    return float(finite.mean()) if finite.size else float("nan")

"""How far key-on moves a track's rest, how long it takes to settle, how far it swings meanwhile.

Shift = the step, at the moment of key-on, between the level before and the straight line
through the settled readings after (so a slow warm-up counts as drift, not as shift). Each
cycle's interval allows for noise that remembers (analysis.statistics.correlated) and for the
converter's step; over several cycles the interval is Student's t on the cycles' shifts, so
what differs from key-on to key-on is in it.
"""

from dataclasses import dataclass

import numpy as np

from analysis.key_on.blocks import Blocks, Bools, Ints, Readings, stated_of
from analysis.key_on.rests import Rests
from analysis.key_on.results import UNKNOWN, Interval
from analysis.model.recording import Array, Channel, Recording
from analysis.signal.quantisation import mean_error
from analysis.statistics.correlated import fit_coefficient, student_interval

_LONGEST_S = 20.0
_BINS = 64
_SETTLE_LOOK_S = 10.0
_FINE_S = 0.01
_LEAST_GROUP = 20
# After three times the settling time an exponential is within the cube of its 5 % band.
_LEAST_WAIT_S = 1.0
_MINUTE = 60.0
# Of a fit whose columns can hardly be told apart; a usual log has some 30.
_WORST_CONDITION = 1e6


@dataclass(frozen=True)
class Doubt:
    """Hold what averaging does not remove from a shift: its expectation and uncertainty, volts."""

    expected: float = 0.0
    uncertainty: float = 0.0

    def __add__(self, other: "Doubt") -> "Doubt":
        """Return both together, the uncertainties independent."""
        return Doubt(self.expected + other.expected,
                     float(np.hypot(self.uncertainty, other.uncertainty)))


@dataclass(frozen=True)
class Levels:
    """Hold one cycle's levels of one track; step is the shift with its interval.

    rounding: what the converters' steps left in the shift; it is within the interval.
    """

    before: float
    after: float
    step: Interval
    rounding: Doubt = Doubt()


def settling_time(log: Readings, channel: Channel, span: Rests) -> float:
    """Return seconds from key-on until the reading stays at its settled level, NaN if never.

    Settled: 10 ms means stay within the larger of four times their own scatter, half a
    converter step, 0.5 mV and 5 % of the largest deviation (5 % band: common in control).
    """
    recording, blocks, free = log.recording, log.blocks, log.free
    first, last = blocks.index(span.on_row), blocks.index(span.off_row)
    reach = round(30.0 / (blocks.size * blocks.step_s))
    chosen = slice(min(first + 1, last), min(last, first + reach))
    level = blocks.stated[channel.column].mean[chosen]
    time = blocks.time_s[chosen] - recording.time_s[span.on_row]
    good = free[chosen] & np.isfinite(level)
    level, time = level[good], time[good]
    if level.size < 8:
        return float("nan")
    late = slice(level.size // 2, None)
    if not np.ptp(time[late]) > 1e-6 * np.abs(time[late]).max():
        return float("nan")  # a clock that stood still, or leapt: nothing has a time
    slope, settled = np.polyfit(time[late], level[late], 1)
    stop = min(span.off_row, span.on_row + round(_SETTLE_LOOK_S / blocks.step_s))
    fine = max(1, round(_FINE_S / blocks.step_s))
    values = stated_of(recording, channel, span.on_row, stop)
    count = values.size // fine
    if count < 8:
        return float("nan")
    means = values[:count * fine].reshape(count, fine).mean(axis=1)
    at = (np.arange(count) + 0.5) * fine * blocks.step_s
    beyond = means - settled - slope * at
    off = np.abs(beyond)
    here = np.minimum(blocks.index(span.on_row)
                      + (np.arange(count) * fine) // blocks.size, blocks.count - 1)
    usable = free[here] & np.isfinite(off)
    off[~usable] = 0.0
    tail = np.flatnonzero(usable[count // 2:]) + count // 2
    tail = tail if tail.size else np.flatnonzero(usable)
    # About their own line: what still creeps there is no scatter, and must not pass for it.
    creep = np.polyval(np.polyfit(at[tail], beyond[tail], 1), at[tail]) if tail.size > 20 else 0.0
    scatter = 1.4826 * float(np.median(np.abs(beyond[tail] - creep))) if tail.size else 0.0
    band = max(4.0 * scatter, 0.5 * channel.step_volts, 0.0005, 0.05 * float(off.max()))
    outside = np.flatnonzero(off > band)
    # Single 10 ms means beyond four sigma are bursts, not settling: two in a row count.
    pairs = outside[:-1][np.diff(outside) == 1] if outside.size > 1 else outside[:0]
    if not pairs.size:
        return 0.0
    # A later burst is not settling either: stop at the first half second of calm.
    calm = round(0.5 / (fine * blocks.step_s))
    breaks = np.flatnonzero(np.diff(pairs) > calm)
    if pairs[0] > calm:
        return 0.0
    end = int(pairs[breaks[0]] if breaks.size else pairs[-1]) + 2
    if end >= count:
        return float("nan")
    return float(end * fine * blocks.step_s)


def cycle_levels(log: Readings, channel: Channel, span: Rests, settling_s: float,
                 noise_volts: float, feed: Doubt, confidence: float) -> Levels:
    """Return the levels of one cycle and the shift between them; UNKNOWN without a rest before.

    noise_volts: rms of the readings. feed: what the step of the supply's converter leaves.
    """
    blocks, free = log.blocks, log.free
    on_s = float(log.recording.time_s[min(span.on_row, log.recording.rows - 1)])
    block_s = blocks.size * blocks.step_s
    level = blocks.stated[channel.column].mean
    usable = free & np.isfinite(level)
    wait = max(_LEAST_WAIT_S, 3.0 * settling_s if np.isfinite(settling_s) else _SETTLE_LOOK_S)
    guard = round(span.guard_s / blocks.step_s)
    # What the last key-off left behind dies away like what key-on brings.
    calm = round(_LEAST_WAIT_S / blocks.step_s) if span.before_row else 0
    calm = min(calm, max(0, (span.before_stop - span.before_row) // 2))
    before = blocks.between(span.before_row + calm, span.before_stop)
    after = blocks.between(span.on_row + guard, span.off_row)
    first_s = on_s + span.guard_s + wait
    after_i = np.arange(after.start, after.stop)
    after_i = after_i[usable[after_i] & (blocks.time_s[after_i] >= first_s)]
    if after_i.size:
        after_i = after_i[blocks.time_s[after_i] <= blocks.time_s[after_i[0]] + _LONGEST_S]
    before_i = np.arange(before.start, before.stop)
    before_i = before_i[usable[before_i]]
    if before_i.size:
        before_i = before_i[blocks.time_s[before_i] >= blocks.time_s[before_i[-1]] - _LONGEST_S]
    rest = float(level[before_i].mean()) if before_i.size else float("nan")
    settled = float(level[after_i].mean()) if after_i.size else float("nan")
    width = max(1, -(-(before_i.size + after_i.size) // _BINS)) * block_s
    bins = [_binned(i, level, blocks.time_s, width) for i in (before_i, after_i)]
    (before_t, before_y, before_n), (after_t, after_y, after_n) = bins
    if before_t.size < 4 or after_t.size < 4:
        return Levels(rest, settled, UNKNOWN)
    y = np.concatenate([before_y, after_y])
    time = np.concatenate([before_t, after_t])
    is_after = np.concatenate([np.zeros(before_t.size), np.ones(after_t.size)])
    design = np.column_stack([np.ones(y.size), is_after, is_after * (time - on_s)])
    # Times that stand still or leap leave nothing to part the step from the drift after it.
    if not np.linalg.cond(design) < _WORST_CONDITION:
        return Levels(rest, settled, UNKNOWN)
    white = np.concatenate([_roughness(before_y) / before_n, _roughness(after_y) / after_n])
    white /= white.mean()
    white = np.clip(white, 0.02, None)
    fit = fit_coefficient(y, design, time, white, 1, confidence)
    doubt = feed + rounding_doubt(log.recording, channel, blocks, before_i, after_i, noise_volts)
    step = widened(Interval(fit.value, fit.low, fit.high, confidence), doubt)
    return Levels(rest, rest + fit.value, step, doubt)


def rounding_doubt(recording: Recording, channel: Channel, blocks: Blocks, before: Ints,
                   after: Ints, noise_volts: float) -> Doubt:
    """Return what the converter's step left in the difference of two means, volts at the sensor.

    before, after: the blocks whose readings were averaged. 0 without a step.
    """
    step = channel.step_volts
    if step <= 0.0 or not before.size or not after.size:
        return Doubt()
    noise = noise_volts / step if np.isfinite(noise_volts) else 0.0
    errors = []
    for index in (before, after):
        rows = (blocks.first_row[index][:, None] + np.arange(blocks.size)).ravel()
        errors.append(mean_error(channel.readings[rows[rows < recording.rows]], noise))
    (first, first_u), (second, second_u) = errors
    way = 1.0 if channel.scale >= 0 else -1.0
    return Doubt(way * step * (second - first), step * float(np.hypot(first_u, second_u)))


def widened(interval: Interval, doubt: Doubt) -> Interval:
    """Return the interval with what no averaging removes.

    Its uncertainty in quadrature; its expectation, which the value is not corrected for, on the
    side where it puts the truth (JCGM 100:2008, F.2.4.5).
    """
    from scipy.special import ndtri

    extra = float(ndtri(0.5 + 0.5 * interval.confidence)) * doubt.uncertainty
    return Interval(
        interval.value,
        interval.value - float(np.hypot(interval.value - interval.low, extra))
        - max(doubt.expected, 0.0),
        interval.value + float(np.hypot(interval.high - interval.value, extra))
        + max(-doubt.expected, 0.0),
        interval.confidence)


def mean_doubt(doubts: list[Doubt]) -> Doubt:
    """Return the doubt of a mean over all cycles.

    Alike from one key-on to the next, so their number does not lessen it.
    """
    if not doubts:
        return Doubt()
    return Doubt(float(np.mean([d.expected for d in doubts])),
                 float(np.sqrt(np.mean([d.uncertainty**2 for d in doubts]))))


def pooled(steps: list[Interval], doubt: Doubt, confidence: float) -> tuple[Interval, float]:
    """Return the shift over all cycles and its standard deviation between them."""
    values = np.array([s.value for s in steps if np.isfinite(s.value)])
    if values.size == 0:
        return UNKNOWN, float("nan")
    if values.size == 1:
        return next(s for s in steps if np.isfinite(s.value)), float("nan")
    mean, low, high = student_interval(values, confidence)
    # Few key-ons may agree by chance better than each of them is known.
    singly = np.array([0.5 * (s.high - s.low) for s in steps if np.isfinite(s.value)])
    singly = singly[np.isfinite(singly)]
    least = float(np.sqrt(np.mean(singly**2) / values.size)) if singly.size else 0.0
    half = max(0.5 * (high - low), least)
    return (widened(Interval(mean, mean - half, mean + half, confidence), doubt),
            float(np.std(values, ddof=1)))


def slope_doubt(recording: Recording, channel: Channel, blocks: Blocks, index: Ints,
                weights: Array, noise_volts: float) -> Doubt:
    """Return what the converter's step left in a slope, sum(weights * levels), in its unit.

    index, weights: shape (m,), the blocks and what each one's level counts; the weights sum to 0.
    The blocks that count against the slope and those that count for it each have one error.
    """
    found = rounding_doubt(recording, channel, blocks, index[weights < 0.0],
                           index[weights > 0.0], noise_volts)
    share = float(weights[weights > 0.0].sum())
    return Doubt(share * found.expected, share * found.uncertainty)


def drift(log: Readings, channel: Channel, span: Rests, from_s: float, noise_volts: float,
          confidence: float) -> tuple[Interval, Doubt]:
    """Return the slope of the settled rest in volts per minute, UNKNOWN below 5 s of it.

    With it what the converter's step left in it, which is within the interval.
    """
    blocks, free = log.blocks, log.free
    level = blocks.stated[channel.column].mean
    piece = blocks.between(span.on_row, span.off_row)
    index = np.arange(piece.start, piece.stop)
    index = index[free[index] & np.isfinite(level[index]) & (blocks.time_s[index] >= from_s)]
    if index.size < 8 or np.ptp(blocks.time_s[index]) < 5.0:
        return UNKNOWN, Doubt()
    width = max(blocks.size * blocks.step_s, float(np.ptp(blocks.time_s[index])) / _BINS)
    time, y, count = _binned(index, level, blocks.time_s, width)
    if time.size < 5:
        return UNKNOWN, Doubt()
    design = np.column_stack([np.ones(y.size), time - time.mean()])
    white = count.mean() / count
    fit = fit_coefficient(y, design, time, white, 1, confidence)
    slope = Interval(_MINUTE * fit.value, _MINUTE * fit.low, _MINUTE * fit.high, confidence)
    since = blocks.time_s[index] - blocks.time_s[index].mean()
    doubt = slope_doubt(log.recording, channel, blocks, index, _MINUTE * since / (since @ since),
                        noise_volts)
    return widened(slope, doubt), doubt


def noise_of(channel: Channel, blocks: Blocks, free: Bools, start: int, stop: int) -> float:
    """Return the rms of the readings about the level of each second (of 20 blocks where a second
    holds fewer), volts; NaN without any.
    """
    stats = blocks.stated[channel.column]
    piece = blocks.between(start, stop)
    good = free[piece] & np.isfinite(stats.mean[piece])
    mean, variance = stats.mean[piece][good], stats.variance[piece][good]
    if not mean.size:
        return float("nan")
    # A second holds few readings of a slow logger, whose mean would hide much of their noise.
    group = max(_LEAST_GROUP, round(1.0 / (blocks.size * blocks.step_s)))
    whole = mean.size // group * group
    if not whole:
        return float(np.sqrt(np.mean(variance) + np.var(mean)))
    grouped = mean[:whole].reshape(-1, group)
    return float(np.sqrt(np.mean(variance) + np.mean(np.var(grouped, axis=1))))


def _binned(index: Ints, level: Array, time_s: Array,
            width: float) -> tuple[Array, Array, Array]:
    """Return mean time, mean level and count of the blocks in bins of `width` seconds."""
    if not index.size:
        empty = np.empty(0)
        return empty, empty, empty
    place = ((time_s[index] - time_s[index[0]]) / width + 1e-9).astype(np.int64)
    count = np.bincount(place)
    kept = count >= max(1, int(float(np.median(count[count > 0]))) // 2)
    with np.errstate(invalid="ignore", divide="ignore"):
        time = np.bincount(place, time_s[index]) / count
        mean = np.bincount(place, level[index]) / count
    return time[kept], mean[kept], count[kept].astype(float)


def _roughness(values: Array) -> float:
    """Return the variance of values without what is slow: half the mean square of differences."""
    return max(0.5 * float(np.mean(np.diff(values) ** 2)), 1e-16)

"""One track: rest, full travel, span, direction, noise, clipping, linearity.

Method and formulas: docs/method.md, "One track".
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.model.estimate import Estimate
from analysis.model.recording import Array, Channel, Recording, looks_at
from analysis.pedal.levels import (
    Series,
    drift_of,
    input_of,
    level_estimate,
    repeats,
    span_estimate,
)
from analysis.pedal.travel import Ends
from analysis.signal.hum import hum_of
from analysis.signal.noise import BIN_MIDDLES
from analysis.signal.segments import Segment
from analysis.signal.smoothing import Mask, median, robust_spread, runs
from analysis.signal.spectrum import Tone
from analysis.statistics.bounds import leans

# A press counts as full when it reaches this share of the usual full press.
FULL_PRESS = 93.0
# A return further than this from the others (and than 6 of their spreads) did not come back.
NO_RETURN_PERCENT = 2.5
# Below this share of the span known before, rest and full are not told apart.
LEAST_RISE = 0.2
# Readings in the middle half of one rest, below which they say nothing of the noise.
LEAST_NOISE_ROWS = 20
# Rows used for the middle of one plateau (its level is the mean of all rows near that middle);
# more change nothing but the time it takes.
PLATEAU_ROWS = 1000


@dataclass(frozen=True)
class TrackFindings:
    """Hold what one track does. All volts are at the sensor, at nominal supply.

    rest_levels, full_levels: one level per return and per full press, in order of time;
        returns that did not come back are left out of rest_levels and named as faults.
    rest_times_s: middle time of each rest, same length as rest_levels.
    rest_scatter: standard deviation between returns.
    noise_volts: root mean square of the reading about its own level within one rest, never
        below the quantisation noise, step / sqrt(12) (IEEE Std 1241).
    crossing_slope: standard deviation of the noise's rate of change over that of the noise,
        in 1/s, from its lag-one correlation rho as arccos(rho) / step (Rice 1945, the cosine
        formula); NaN when the noise is below 0.3 converter steps.
    drift_volts_per_minute: slope of the rest levels against time.
    span: |full - rest|.
    lowest_volts, highest_volts: extremes ever read, dropouts left out.
    step_volts: one converter step at the sensor, at nominal supply.
    nominal_volts: the supply at which the volts are stated; supply_recorded says whether the
        ratio to it was measured.
    noise_map_percent, noise_map_volts: noise (one standard deviation) in bins of travel
        (NaN: bin not visited).
    linearity_percent: independent linearity, % of nominal supply, against the other track's
        travel (NaN with one track).
    rest_seconds: how long the track was seen at rest, all rests together; rests with too few
        readings for the noise (least_rest_s) do not count.
    step_s: usual time between the track's own readings in seconds; NaN when not known.
    hum: the tone that makes up most of its noise at rest, None without one.
    rest_repeats, full_repeats: how well both levels repeat on one board (standard uncertainty).
    looks: how many times somebody read a dead band off this sweep as it grew (`looks_at`).
    rest_furthest_volts, rest_furthest_s: the one reading furthest towards pressed within the
        middle half of any rest that came back, and its time; NaN without one.
    """

    column: str
    direction: str
    rest: Estimate
    rest_levels: Array
    rest_times_s: Array
    rest_scatter: Estimate
    noise_volts: float
    crossing_slope: float
    drift_volts_per_minute: Estimate
    full: Estimate
    full_levels: Array
    span: Estimate
    lowest_volts: float
    highest_volts: float
    step_volts: float
    nominal_volts: float
    supply_recorded: bool
    clipped: bool
    noise_map_percent: Array
    noise_map_volts: Array
    linearity_percent: float
    rest_seconds: float = 0.0
    step_s: float = float("nan")
    hum: Tone | None = None
    rest_repeats: float = float("nan")
    full_repeats: float = float("nan")
    looks: int = 1
    rest_furthest_volts: float = float("nan")
    rest_furthest_s: float = float("nan")

    @property
    def least_rest_s(self) -> float:
        """Return how long a rest must be for its readings to tell the noise; NaN: not known."""
        return 2 * LEAST_NOISE_ROWS * self.step_s


@dataclass(frozen=True)
class Plateau:
    """Hold one level: of which segment, how many rows it rests on, where its core lies."""

    segment: Segment
    volts: float
    rows: int
    core: slice


def plateaus(kind: str, segments: tuple[Segment, ...], volts: Array, trusted: Mask,
             step_s: float, step_volts: float) -> tuple[Plateau, ...]:
    """Return the level of every rest or hold: the mean of the readings near its median.

    The first fifth (at least 0.15 s) after arriving is left out, as the pedal settles there.
    """
    result = []
    for segment in segments:
        if segment.kind != kind:
            continue
        length = segment.stop - segment.start
        after = min(length // 2, max(length // 5, int(0.15 / step_s)))
        before = min(length // 5, max(length // 20, int(0.05 / step_s)))
        core = slice(segment.start + after, segment.stop - before)
        values = _of(volts, trusted, core)
        if values.size < 3:
            core = slice(segment.start, segment.stop)
            values = _of(volts, trusted, core)
        if values.size < 3 or values.size * step_s < 0.05:
            continue
        few = values[:: values.size // PLATEAU_ROWS + 1]
        middle = median(few)
        reach = max(3.0 * robust_spread(few), 1.5 * step_volts)
        near = np.abs(values - middle) <= reach
        level = float((values if near.all() else values[near]).mean())
        result.append(Plateau(segment, level, int(values.size), core))
    return tuple(result)


def _of(values: Array, trusted: Mask, rows: slice) -> Array:
    """Return the trusted values of these rows; not copied where all are."""
    keep = trusted[rows]
    return values[rows] if keep.all() else values[rows][keep]


def full_presses(segments: tuple[Segment, ...]) -> tuple[Segment, ...]:
    """Return the holds that belong to a full press."""
    holds = [s for s in segments if s.kind == "hold"]
    if not holds:
        return ()
    peaks = np.array([s.peak_percent for s in holds])
    usual = float(np.median(peaks[peaks >= 0.8 * abs(peaks.max())])) if peaks.max() > 0 else 100.0
    return tuple(s for s in holds if s.peak_percent >= FULL_PRESS / 100.0 * usual)


def came_back(levels: Array, span: float, noise: float) -> Mask:
    """Return which returns came back to where most do."""
    if levels.size < 2:
        return np.ones(levels.size, dtype=bool)
    middle = float(np.median(levels))
    limit = max(NO_RETURN_PERCENT / 100.0 * abs(span), 6.0 * robust_spread(levels), 6.0 * noise)
    return np.abs(levels - middle) <= limit


def own_step_s(recording: Recording, channel: Channel) -> float:
    """Return the usual time between the readings of one channel, s; NaN with fewer than two.

    More than the recording's where the channel was recorded less often.
    """
    read = np.isfinite(channel.readings)
    if read.all():
        return recording.step_s
    own = recording.time_s[read]
    return max(recording.step_s, median(np.diff(own))) if own.size > 1 else float("nan")


def clipped_rows(channel: Channel) -> Mask:
    """Return where raw readings sit at the end of the converter or outside its usable range."""
    raw = channel.readings
    if channel.unit != "counts":
        return np.zeros(raw.shape, dtype=bool)
    return channel.codes.at_low(raw) | channel.codes.at_high(raw)


@dataclass(frozen=True)
class Plateaus:
    """Hold the plateaus of one track, every rest and full hold, and its noise at rest."""

    rests: tuple[Plateau, ...]
    holds: tuple[Plateau, ...]
    noise_volts: float
    crossing_slope: float
    rest_seconds: float
    step_volts: float


@dataclass(frozen=True)
class Levels(Plateaus):
    """Hold the plateaus of one track, judged: which rests came back."""

    back: Mask

    def ends(self, otherwise: Ends) -> Ends:
        """Return the median rest and full level; `otherwise` where there is no plateau."""
        rests = [p.volts for p, good in zip(self.rests, self.back, strict=True) if good]
        holds = [p.volts for p in self.holds]
        return Ends(float(np.median(rests)) if rests else otherwise.rest,
                    float(np.median(holds)) if holds else otherwise.full)


def find_plateaus(recording: Recording, channel: Channel, volts: Array, trusted: Mask,
                  segments: tuple[Segment, ...]) -> Plateaus:
    """Return the plateaus of one track.

    volts: shape (n,), at nominal supply; trusted: shape (n,).
    """
    step_s = recording.step_s
    step_volts = recording.step_stated(channel)
    rests = plateaus("rest", segments, volts, trusted, step_s, step_volts)
    noise, slope, seconds = _noise(rests, volts, trusted, step_s, step_volts)
    noise = max(noise, step_volts / np.sqrt(12.0)) if np.isfinite(noise) else noise
    holds = plateaus("hold", full_presses(segments), volts, trusted, step_s, step_volts)
    return Plateaus(rests, holds, noise, slope if noise > 0.3 * step_volts else float("nan"),
                    seconds, step_volts)


def judge_levels(found: Plateaus, ends: Ends) -> Levels:
    """Return the plateaus of one track, and which rests came back by the levels known so far."""
    rests, holds, noise = found.rests, found.holds, found.noise_volts
    back = came_back(np.array([p.volts for p in rests]), ends.span,
                     noise if np.isfinite(noise) else 0.0)
    low = [p.volts for p, good in zip(rests, back, strict=True) if good] or [ends.rest]
    high = [p.volts for p in holds] or [ends.full]
    if float(np.median(high) - np.median(low)) / ends.span < LEAST_RISE:
        # Plateaus that do not differ are no rest and no full travel: keep what was known.
        rests, back, holds = (), np.zeros(0, dtype=bool), ()
    return Levels(rests, holds, noise, found.crossing_slope, found.rest_seconds, found.step_volts,
                  back)


def measure_track(recording: Recording, channel: Channel, volts: Array, trusted: Mask,
                  along_travel: Array, ends: Ends, found: Levels,
                  supply_tolerance: float = 0.0) -> TrackFindings:
    """Return what one track does.

    volts: shape (n,), at nominal supply; trusted: shape (n,); along_travel: its noise in bins of
    travel (BIN_MIDDLES), volts; ends: its rest and full level; found: its plateaus.
    supply_tolerance: relative, of a supply that was not recorded: volts at nominal are as unsure.
    """
    noise, step_volts = found.noise_volts, found.step_volts
    by = input_of(recording, channel, step_volts, supply_tolerance)
    kept = [p for p, good in zip(found.rests, found.back, strict=True) if good]
    rests = _series(kept, noise)
    fulls = _series(found.holds, noise)
    rest = level_estimate(rests, by, ends.rest)
    full = level_estimate(fulls, by, ends.full)
    scatter = _scatter(rests.levels if ends.span > 0 else -rests.levels)
    good = volts[trusted]
    starts, stops = runs(clipped_rows(channel) & trusted)
    long_enough = max(3, int(0.02 / recording.step_s))
    furthest = _furthest(kept, volts, trusted, ends.span)
    return TrackFindings(
        column=channel.column,
        direction="rising" if ends.span > 0 else "falling",
        rest=rest, rest_levels=rests.levels, rest_times_s=rests.times_s, rest_scatter=scatter,
        noise_volts=noise, crossing_slope=found.crossing_slope,
        drift_volts_per_minute=drift_of(rests.times_s, rests.levels),
        full=full, full_levels=fulls.levels,
        span=span_estimate(rests, fulls, (rest.value, full.value), by),
        lowest_volts=float(good.min()) if good.size else float("nan"),
        highest_volts=float(good.max()) if good.size else float("nan"),
        step_volts=step_volts, nominal_volts=recording.nominal_volts,
        supply_recorded=recording.supply is not None,
        clipped=bool(np.any(stops - starts >= long_enough)),
        noise_map_percent=BIN_MIDDLES.copy(),
        noise_map_volts=np.maximum(along_travel, step_volts / np.sqrt(12.0)),
        linearity_percent=float("nan"), rest_seconds=found.rest_seconds,
        step_s=own_step_s(recording, channel),
        rest_repeats=repeats(rests, step_volts), full_repeats=repeats(fulls, step_volts),
        hum=hum_of(volts, trusted, (p.core for p in found.rests), recording.step_s, noise,
                   step_volts),
        looks=looks_at(recording),
        rest_furthest_volts=float(volts[furthest]) if furthest is not None else float("nan"),
        rest_furthest_s=(float(recording.time_s[furthest]) if furthest is not None
                         else float("nan")))


def _furthest(rests: Sequence[Plateau], volts: Array, trusted: Mask, span: float) -> int | None:
    """Return the row of the trusted reading furthest towards pressed, None without one.

    In the middle half of each rest, as of the noise: at its edges the pedal still moves.
    """
    best: int | None = None
    for plateau in rests:
        core = _middle_half(plateau.segment)
        rows = core.start + np.flatnonzero(trusted[core])
        if rows.size:
            row = int(rows[np.argmax(np.sign(span) * volts[rows])])
            if best is None or np.sign(span) * (volts[row] - volts[best]) > 0:
                best = row
    return best


def _middle_half(segment: Segment) -> slice:
    quarter = (segment.stop - segment.start) // 4
    return slice(segment.start + quarter, segment.stop - quarter)


def _series(kept: Sequence[Plateau], noise: float) -> Series:
    """Return the levels of plateaus."""
    return Series(
        np.array([p.volts for p in kept]),
        np.array([(p.segment.start_s + p.segment.end_s) / 2 for p in kept]),
        sum(p.rows for p in kept), noise)


def _scatter(lifts: Array) -> Estimate:
    """Return the standard deviation of levels, positive towards pressed, and how well it is known.

    One-sided scatter, as of a pivot that sticks, is known half as well: the variance of s^2 is
    (kurtosis - 1) sigma^4 / n, and an exponential's kurtosis is 9 where a normal's is 3.
    """
    if lifts.size < 2:
        return Estimate(float("nan"), float("nan"))
    spread = float(np.std(lifts, ddof=1))
    share = _share_of_spread(lifts.size - 1)
    return Estimate(spread, spread * (2.0 * share if leans(lifts) else share))


def _share_of_spread(degrees: int) -> float:
    """Return the standard uncertainty of a standard deviation, as a share of it.

    sqrt(f/(f-2) - f/2 (Gamma((f-1)/2) / Gamma(f/2))^2), what is known of sigma from a normal
    sample without other knowledge (f s^2 / sigma^2 is chi-squared); for many levels it becomes
    the usual 1 / sqrt(2 f), which for few is too small. Below 3 degrees it has no end: 1.
    """
    if degrees < 1:
        return float("nan")
    if degrees < 3:
        return 1.0
    ratio = math.exp(math.lgamma((degrees - 1) / 2) - math.lgamma(degrees / 2))
    return math.sqrt(max(degrees / (degrees - 2) - degrees / 2 * ratio**2, 0.0))


def _noise(rests: tuple[Plateau, ...], volts: Array, trusted: Mask,
           step_s: float, step_volts: float) -> tuple[float, float, float]:
    """Return pooled noise in volts, its crossing slope in 1/s, and the seconds seen at rest."""
    found: list[tuple[float, float, int]] = []
    quick: list[float] = []
    for plateau in rests:
        # The middle half: a foot that starts or ends gently still moves at the edges of a rest.
        core = _middle_half(plateau.segment)
        mask = trusted[core]
        size = int(np.count_nonzero(mask))
        if size * step_s < 0.2 or size < LEAST_NOISE_ROWS:
            continue
        whole = size == mask.size
        x = np.arange(size, dtype=np.float64) if whole else np.flatnonzero(mask).astype(np.float64)
        y = volts[core] if whole else volts[core][mask]
        x -= x.mean()
        y = y - y.mean()
        y -= x * (x @ y) / (x @ x)
        found.append((float(y @ y), float(y[1:] @ y[:-1]), size))
        steps = y[1:] - y[:-1]
        quick.append(float((steps * steps).mean()) / 2.0)
    count = sum(size for _, _, size in found)
    if count < LEAST_NOISE_ROWS:
        return float("nan"), float("nan"), count * step_s
    variances = np.array([square / (size - 2) for square, _, size in found])
    # A rest in which the track slipped or was touched says nothing about its noise.
    quiet = variances <= 9.0 * np.median(variances)
    squares = sum(f[0] for f, q in zip(found, quiet, strict=True) if q)
    products = sum(f[1] for f, q in zip(found, quiet, strict=True) if q)
    degrees = sum(f[2] - 2 for f, q in zip(found, quiet, strict=True) if q)
    noise = float(np.sqrt(squares / degrees))
    # One whose successive readings differ so much more was neither slipped nor touched: its noise
    # comes and goes. Half their mean square is its variance, and a slip hardly adds to it.
    loudest = max(quick)
    if loudest > max(9.0 * float(np.median(quick)), step_volts**2):
        noise = max(noise, float(np.sqrt(loudest)))
    rho = products / squares if squares > 0 else 0.0
    return noise, float(np.arccos(np.clip(rho, -1, 1))) / step_s, count * step_s

"""How often will noise alone lift a reading past start of travel? Predicted, with an interval.

The noise of the settled rest with the key on is described by up to three Gaussian parts (quiet
and bursts), each with its own share of time, size and speed. For one part, readings that follow
each other with correlation rho pass the level h (in sigmas) upwards with a chance per reading of

    P(x_i < h <= x_i+1) = 2 T(h, sqrt((1 - rho) / (1 + rho)))       T: Owen's function (1956)

which is arccos(rho) / 2 pi at h = 0 (half the cosine formula, Rice 1945) and goes over into
Rice's (1/2 pi)(sigma'/sigma) exp(-h^2/2) per second when readings are close together. The limits
come from drawing stretches of the log anew (block bootstrap, Kuensch 1989), which keeps bursts
and memory whole. Beside it stands a bound that assumes no distribution: with k events in T
hours the rate is below chi-squared(2k + 2) / 2T (Garwood 1936; "rule of three" for k = 0).

Only what was logged can be predicted: a disturbance that never came is not in it. What happens
once per key-on (the contactor closing) is a matter of key-ons, not of hours: see MoreCycles.
"""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from analysis.key_on.blocks import Blocks, Bools, Readings, runs, stated_of
from analysis.key_on.presses import TrackFacts
from analysis.key_on.rests import Settled
from analysis.key_on.results import Interval, Proof
from analysis.key_on.verdict import Limits, passings
from analysis.model.finding import Reason
from analysis.model.recording import Array, Channel, Recording
from analysis.parameters import Parameters
from analysis.pedal.dead_band import NOISE_SHARE

_LEAST_S = 60.0
_LEAST_ROWS = 20
_LEAST_STRETCHES = 8
_CELLS = 401
_SIGMAS = 25.0
_REDRAWN = 200
_ROUNDS = 60
_LEAST_SHARE = 1e-6
_MOST_MISFIT = 2.0
# Below this noise (in converter steps) the reading stands still and its tail cannot be seen.
_LEAST_STEPS = 0.3
_PER_1000_H = 1000.0 * 3600.0


@dataclass(frozen=True)
class _Tally:
    """Hold what one pass over the noise counts, per stretch: shapes (stretches, cells)."""

    cells: Array
    counts: Array
    jumps: Array
    upward: Array
    levels: Array
    seconds: float
    furthest: float


@dataclass(frozen=True)
class _Mixture:
    """Hold Gaussian parts, each array of shape (draws, parts)."""

    share: Array
    mean: Array
    sigma: Array
    rho: Array


def prove(log: Readings, channel: Channel, fact: TrackFacts, settled: Settled,
          start_volts: float, noise_volts: float, parameters: Parameters) -> Proof:
    """Return the predicted rate of crossings of start of travel, or why there is none.

    start_volts: NaN when no start of travel is known; then only the reach of the noise is told.
    """
    confidence, nan = parameters.confidence, float("nan")
    recording, blocks = log.recording, log.blocks
    whole_s, rest = _stretches(blocks, log.free, settled)
    stretches = [(a, b) for a, b in rest
                 if not np.isnan(stated_of(recording, channel, a, b)).any()]
    seconds = sum(b - a for a, b in stretches) * blocks.step_s
    limits = Limits(start_volts, start_volts)
    crossings = [p for a, b in stretches for p in passings(
        log, channel, fact.sign, a, b, limits)]
    events = _events(crossings, round(1.0 / blocks.step_s))
    hours = seconds / 3600.0
    bound = free_bound(events, hours, confidence) if np.isfinite(start_volts) else nan
    blank = Proof(channel.column, start_volts, Interval(nan, nan, nan, confidence), bound,
                  len(crossings), events, hours, noise_volts, nan, (), nan, False,
                  Reason("no start to pass"))
    at_rest_s = sum(b - a for a, b in rest) * blocks.step_s
    # Rest that gaps or a foot cut to pieces too short is rest all the same.
    if whole_s >= _LEAST_S and len(rest) < _LEAST_STRETCHES:
        at_rest_s = whole_s
    doubt = _too_little(at_rest_s, noise_volts, channel.step_volts)
    if doubt is not None:
        return replace(blank, why=doubt)
    tally = _count(recording, channel, fact.sign, blocks, stretches, noise_volts)
    if tally.levels.size < _LEAST_STRETCHES:
        return replace(blank, why=Reason("few stretches", {
            "stretches": int(tally.levels.size), "least": _LEAST_STRETCHES}))
    parts = _parts(tally)
    once = np.ones((1, tally.levels.size))
    whole = _fitted(tally, once, parts)
    misfit = _misfit(tally, whole, channel.step_volts)
    if misfit > _MOST_MISFIT:
        return replace(blank, why=Reason("noise fits nothing", {"tail_off": float(misfit)}))
    level = fact.sign * start_volts
    known = replace(
        blank, level_sigmas=(level - float(tally.levels.mean())) / noise_volts,
        fit_parts=tuple(zip(whole.sigma[0].tolist(), whole.share[0].tolist(), strict=True)),
        reach_volts=_reach(whole, tally, parameters, blocks.step_s))
    if not np.isfinite(start_volts):
        return known
    if np.any(tally.levels >= level):
        beyond = float(np.mean(tally.levels >= level))
        return replace(known, why=Reason("rest beyond start", {"share": beyond}))
    rng = np.random.default_rng(20261)
    draws = rng.multinomial(tally.levels.size, np.full(tally.levels.size, 1 / tally.levels.size),
                            size=_REDRAWN).astype(float)
    value = float(_rates(whole, level - tally.levels, once)[0])
    spread = _rates(_fitted(tally, draws, parts), level - tally.levels, draws)
    low, high = _limits(value, spread, tally, confidence)
    per_hours = _PER_1000_H / blocks.step_s
    return replace(
        known, enough=True,
        rate=Interval(value * per_hours, low * per_hours, high * per_hours, confidence),
        why=Reason("noise fitted", {
            "parts": parts, "seconds": seconds, "furthest_sigmas": tally.furthest / noise_volts,
            "level_sigmas": known.level_sigmas}))


def _too_little(seconds: float, noise_volts: float, step_volts: float) -> Reason | None:
    """Return why the noise cannot be known, or nothing."""
    if seconds < _LEAST_S:
        return Reason("little settled rest", {"seconds": float(seconds), "least_s": _LEAST_S})
    if not noise_volts > _LEAST_STEPS * step_volts:
        return Reason("noise below a step", {
            "noise_volts": float(noise_volts), "step_volts": step_volts})
    return None


def _events(crossings: list[tuple[int, int]], apart: int) -> int:
    """Return how many crossings lie further than `apart` rows after the one before."""
    return sum(1 for i, p in enumerate(crossings) if not i or p[0] - crossings[i - 1][1] > apart)


def free_bound(events: int, hours: float, confidence: float) -> float:
    """Return the upper bound of a Poisson rate per 1000 h from a count; infinite without hours."""
    from scipy.special import gammaincinv

    if hours <= 0.0:
        return float("inf")
    return float(gammaincinv(events + 1, confidence)) / hours * 1000.0


def upcrossing_chance(sigmas: Array, rho: Array) -> Array:
    """Return the chance per reading to pass the level upwards; sigmas and rho broadcast."""
    from scipy.special import owens_t

    result: Array = 2.0 * owens_t(np.abs(sigmas), np.sqrt((1.0 - rho) / (1.0 + rho)))
    return result


def _stretches(blocks: Blocks, free: Bools,
               settled: Settled) -> tuple[float, list[tuple[int, int]]]:
    """Return undisturbed settled rows in stretches of equal length: 2 to 20 s, 20 rows or more.

    Before them the seconds of settled rest in all, whatever interrupts it.
    """
    whole, gaps = [], settled.gaps
    for start, stop in settled.rows(blocks.step_s):
        piece = blocks.between(start, stop)
        for a, b in runs(free[piece]):
            first = int(blocks.first_row[piece.start + a])
            last = min((piece.start + b) * blocks.size, stop)
            edges = [first, *gaps[(gaps > first) & (gaps < last)].tolist(), last]
            whole += list(pairwise(edges))
    total = float(sum(b - a for a, b in whole) * blocks.step_s)
    length = max(_LEAST_ROWS, round(float(np.clip(total / 128.0, 2.0, 20.0)) / blocks.step_s))
    result = []
    for a, b in whole:
        pieces = (b - a) // length
        result += [(a + i * length, a + (i + 1) * length) for i in range(pieces)]
    return total, result


def _count(recording: Recording, channel: Channel, sign: float, blocks: Blocks,
           stretches: list[tuple[int, int]], noise: float) -> _Tally:
    width = 2.0 * _SIGMAS * noise / (_CELLS - 1)
    middle = _CELLS // 2
    counts, jumps, upward, levels = [], [], [], []
    seconds, far = 0.0, 0.0
    for a, b in stretches:
        values = stated_of(recording, channel, a, b)
        if np.isnan(values).any():
            continue
        values *= sign
        level = float(values.mean())
        values -= level
        far = max(far, float(values.max()))
        step = np.diff(values)
        values /= width
        values += middle + 0.5
        place = np.clip(values, 0, _CELLS - 1).astype(np.int64)
        counts.append(np.bincount(place, minlength=_CELLS))
        jumps.append(np.bincount(place[:-1], step * step, _CELLS))
        rising = place[1:] > place[:-1]
        starts = np.bincount(place[:-1][rising], minlength=_CELLS)
        ends = np.bincount(place[1:][rising], minlength=_CELLS)
        # upward[c]: how often the lower edge of cell c was passed upwards.
        upward.append(np.concatenate([[0], np.cumsum(starts - ends)[:-1]]))
        levels.append(level)
        seconds += (b - a) * blocks.step_s
    cells: Array = (np.arange(_CELLS) - middle) * np.float64(width)
    shape = (len(levels), _CELLS)
    return _Tally(cells, np.array(counts, dtype=float).reshape(shape),
                  np.array(jumps, dtype=float).reshape(shape),
                  np.array(upward, dtype=float).reshape(shape),
                  np.array(levels, dtype=float), seconds, far)


def _parts(tally: _Tally) -> int:
    """Return how many Gaussian parts the noise needs (BIC; readings counted as independent)."""
    total = tally.counts.sum(axis=0)
    variance = float(total @ tally.cells**2 / total.sum())
    speed = float(tally.jumps.sum() / max(total.sum(), 1.0))
    rho = float(np.clip(1.0 - speed / (2.0 * variance), 0.0, 0.9999))
    effective = (1.0 - rho) / (1.0 + rho)
    best, chosen = np.inf, 1
    for parts in (1, 2, 3):
        fit = _fitted(tally, np.ones((1, tally.levels.size)), parts)
        density = np.sum(_densities(fit, tally.cells), axis=2)[0]
        logs = float(total @ np.log(np.maximum(density, 1e-300))) * effective
        score = -2.0 * logs + (3 * parts - 1) * np.log(max(total.sum() * effective, 2.0))
        if score < best - 6.0:
            best, chosen = score, parts
    return chosen


def _densities(mixture: _Mixture, cells: Array) -> Array:
    """Return share times density of each part at the cells, shape (draws, cells, parts)."""
    z = (cells[None, :, None] - mixture.mean[:, None, :]) / mixture.sigma[:, None, :]
    result: Array = (mixture.share / mixture.sigma)[:, None, :] * np.exp(-0.5 * z * z)
    return result


def _fitted(tally: _Tally, draws: Array, parts: int) -> _Mixture:
    """Return the mixture fitted to each row of draws (how often each stretch counts)."""
    counts = draws @ tally.counts
    jumps = draws @ tally.jumps
    total = counts.sum(axis=1, keepdims=True)
    cells = tally.cells
    width = cells[1] - cells[0]
    sigma0 = np.sqrt(counts @ cells**2 / total[:, 0])[:, None]
    spread = {1: [1.0], 2: [0.8, 3.0], 3: [0.7, 2.0, 5.0]}[parts]
    share = np.tile({1: [1.0], 2: [0.95, 0.05], 3: [0.93, 0.05, 0.02]}[parts], (len(counts), 1))
    fit = _Mixture(share, np.zeros_like(share), sigma0 * np.array(spread), np.zeros_like(share))
    occupied = counts.sum(axis=0) > 0
    seen, some = cells[occupied], counts[:, occupied]
    for _ in range(_ROUNDS if parts > 1 else 2):
        density = _densities(fit, seen)
        belief = density / np.maximum(density.sum(axis=2, keepdims=True), 1e-300)
        weight = belief * some[:, :, None]
        mass = np.maximum(weight.sum(axis=1), 1e-9)
        mean = np.einsum("dcp,c->dp", weight, seen) / mass
        second = np.einsum("dcp,c->dp", weight, seen**2) / mass
        # Sheppard's correction: cells are width wide, which adds width^2 / 12 to a variance.
        variance = np.maximum(second - mean**2 - width**2 / 12.0, (0.2 * width) ** 2)
        fit = _Mixture(np.maximum(mass / total, _LEAST_SHARE), mean, np.sqrt(variance), fit.rho)
    density = _densities(fit, seen)
    belief = density / np.maximum(density.sum(axis=2, keepdims=True), 1e-300)
    mass = np.maximum(np.einsum("dcp,dc->dp", belief, some), 1e-9)
    speed = np.einsum("dcp,dc->dp", belief, jumps[:, occupied]) / mass
    rho = np.clip(1.0 - speed / (2.0 * fit.sigma**2), -0.5, 1.0 - 1e-9)
    return _Mixture(fit.share, fit.mean, fit.sigma, rho)


def _rates(mixture: _Mixture, heights: Array, draws: Array) -> Array:
    """Return the chance per reading of an upcrossing, shape (draws,).

    heights: level minus the level of each stretch, (stretches,); draws weighs the stretches.
    """
    result = np.zeros(mixture.share.shape[0])
    weight = draws / draws.sum(axis=1, keepdims=True)
    for part in range(mixture.share.shape[1]):
        sigmas = ((heights[None, :] - mixture.mean[:, part, None])
                  / mixture.sigma[:, part, None])
        chance = upcrossing_chance(sigmas, mixture.rho[:, part, None])
        result += mixture.share[:, part] * np.sum(weight * chance, axis=1)
    return result


def _limits(value: float, spread: Array, tally: _Tally, confidence: float) -> tuple[float, float]:
    """Return limits from the redrawn rates: Student's t on their logarithms."""
    from scipy.special import stdtrit

    logs = np.log(np.maximum(spread, 1e-300))
    middle = float(np.log(max(value, 1e-300)))
    factor = float(stdtrit(max(tally.levels.size - 1, 1), 0.5 + 0.5 * confidence))
    # Scatter about the fit itself, so that a lopsided redraw widens its own side only.
    below, above = logs[logs <= middle], logs[logs >= middle]
    down = float(np.sqrt(np.mean((below - middle) ** 2))) if below.size else 0.0
    up = float(np.sqrt(np.mean((above - middle) ** 2))) if above.size else 0.0
    return float(np.exp(middle - factor * down)), float(np.exp(min(middle + factor * up, 0.0)))


def _reach(mixture: _Mixture, tally: _Tally, parameters: Parameters, step_s: float) -> float:
    """Return the volts above the settled rest that noise passes too rarely to matter.

    Passed NOISE_SHARE (1 - confidence) times in the parameters' key-on hours, as in the dead band's
    own item for noise.
    """
    allowed = (
        NOISE_SHARE * (1.0 - parameters.confidence) / (parameters.key_on_hours * 3600.0 / step_s)
    )
    # About its mean level: how the level differs between key-ons is the shifts' matter.
    within = tally.levels - tally.levels.mean()
    low, high = 0.0, 60.0 * float(mixture.sigma.max())
    for _ in range(50):
        middle = 0.5 * (low + high)
        rate = float(_rates(mixture, middle - within, np.ones((1, within.size)))[0])
        low, high = (middle, high) if rate > allowed else (low, middle)
    return high


def _misfit(tally: _Tally, mixture: _Mixture, step_volts: float) -> float:
    """Return how many times off the fit is where some 30 upcrossings were seen far out.

    A level inside a converter step is passed when the step is, so half a step either way counts
    as a fit. 1 when it fits, or when so few were seen that nothing can be said.
    """
    seen = tally.upward.sum(axis=0)
    width = tally.cells[1] - tally.cells[0]
    out = np.flatnonzero((seen >= 30) & (tally.cells > 0))
    if not out.size:
        return 1.0
    cell = int(out[-1])
    edge = float(tally.cells[cell] - 0.5 * width)
    readings = float(tally.counts.sum())
    most, least = (readings * float(_rates(mixture, np.array([at]), np.ones((1, 1)))[0])
                   for at in (edge - 0.5 * step_volts, edge + 0.5 * step_volts))
    count = float(seen[cell])
    return max(count / max(most, 1e-12), least / count, 1.0)

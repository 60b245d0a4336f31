"""How far a track moves per degree. Method: docs/method_keyon.md, "Per degree"."""

from collections.abc import Callable

import numpy as np

from analysis.key_on.blocks import Ints, Readings
from analysis.key_on.rests import Settled
from analysis.key_on.results import Interval
from analysis.key_on.shift import Doubt, slope_doubt, widened
from analysis.model.recording import Array, Channel
from analysis.statistics.correlated import fit_coefficient

# Below one degree the slope says more about the thermometer than about the track; within the
# key-ons half of that must pass, or they are compared with one another.
_LEAST_DEGREES, _LEAST_WITHIN = 1.0, 0.5
_LEAST_STRETCHES, _LEAST_KEY_ONS = 8, 4
_STRETCH_S, _MOST_STRETCHES = 5.0, 256


def warmth_of(log: Readings, channel: Channel, settled: Settled, noise_volts: float,
              confidence: float) -> Interval | None:
    """Return a track's volts per degree with the key on; None without a temperature or warmth.

    noise_volts: rms of the readings.
    """
    recording, blocks, free = log.recording, log.blocks, log.free
    warm = recording.with_role("temperature")
    if not warm:
        return None
    size = max(1, round(_STRETCH_S / (blocks.size * blocks.step_s)))
    first, key_on = [], []
    for k, rows in enumerate(settled.rows(blocks.step_s)):
        piece = blocks.between(*rows)
        for start in range(piece.start, piece.stop - size + 1, size):
            if free[start: start + size].all():
                first.append(start)
                key_on.append(k)
    if len(first) > _MOST_STRETCHES:
        picks = np.linspace(0, len(first) - 1, _MOST_STRETCHES).astype(int).tolist()
        first, key_on = [first[p] for p in picks], [key_on[p] for p in picks]
    if not first:
        return None
    stretches = np.array(first)[:, None] + np.arange(size)
    within = np.array(key_on)

    def rounding(weights: Array) -> Doubt:
        """Return what rounding leaves in the slope; alike from one key-on to the next."""
        found = [slope_doubt(recording, channel, blocks, stretches[within == k].ravel(),
                             np.repeat(weights[within == k] / size, size), noise_volts)
                 for k in np.unique(within)]
        return Doubt(sum(d.expected for d in found), sum(d.uncertainty for d in found))

    return per_degree(blocks.stated[channel.column].mean[stretches].mean(axis=1),
                      blocks.measured[warm[0].column][stretches].mean(axis=1), within, confidence,
                      rounding)


def per_degree(levels: Array, degrees: Array, key_on: Ints, confidence: float,
               rounding: Callable[[Array], Doubt] = lambda _: Doubt()) -> Interval | None:
    """Return volts per degree over settled stretches; None when too little warmed.

    levels, degrees, key_on: shape (m,), in order of time; key_on: in which of them a stretch lies.
    rounding: what the converter's step leaves in a sum of levels, by their weights (m,).
    Key-ons differ from one another without any warmth, so each has a level of its own; only when
    all warmth lies between them are their means set against one another (Student's t).
    """
    good = np.isfinite(levels) & np.isfinite(degrees)
    levels, degrees, key_on = levels[good], degrees[good], key_on[good]
    if levels.size < _LEAST_STRETCHES or np.ptp(degrees) < _LEAST_DEGREES:
        return None
    own = (key_on[:, None] == np.unique(key_on)).astype(float)
    usual = own.T @ degrees / own.sum(axis=0)
    within = degrees - own @ usual
    if np.ptp(within) >= _LEAST_WITHIN and levels.size >= own.shape[1] + 3:
        fit = fit_coefficient(levels, np.column_stack([own, within]),
                              np.arange(levels.size, dtype=float), np.ones(levels.size),
                              own.shape[1], confidence)
        weights = np.zeros(good.size)
        weights[good] = within / (within @ within)
        return widened(Interval(fit.value, fit.low, fit.high, confidence), rounding(weights))
    if usual.size < _LEAST_KEY_ONS or np.ptp(usual) < _LEAST_DEGREES:
        return None
    return _between(own.T @ levels / own.sum(axis=0), usual, confidence)


def _between(levels: Array, degrees: Array, confidence: float) -> Interval:
    """Return the least-squares slope of the key-ons' means, shape (k,), by Student's t."""
    from scipy.special import stdtrit

    x, y = degrees - degrees.mean(), levels - levels.mean()
    slope = float(x @ y / (x @ x))
    left = y - slope * x
    error = float(np.sqrt(left @ left / (x.size - 2) / (x @ x)))
    half = float(stdtrit(x.size - 2, 0.5 + 0.5 * confidence)) * error
    return Interval(slope, slope - half, slope + half, confidence)

"""How far a track moves per degree. Method: docs/method_keyon.md, "Per degree"."""

from collections.abc import Callable

import numpy as np

from analysis.keyon.correlated import fit_coefficient
from analysis.keyon.results import Interval
from analysis.keyon.rows import Ints
from analysis.keyon.shift import Doubt, widened
from analysis.recording import Array

# Below one degree the slope says more about the thermometer than about the track; within the
# key-ons half of that must pass, or they are compared with one another.
_LEAST_DEGREES, _LEAST_WITHIN = 1.0, 0.5
_LEAST_STRETCHES, _LEAST_KEY_ONS = 8, 4


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

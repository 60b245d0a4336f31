"""An input that is no pedal at all: an open lead wanders on its own while the pedal moves."""

from collections.abc import Mapping

import numpy as np

from analysis.model.recording import Array
from analysis.signal.smoothing import bin_means

# Of a track's variance the other's travel explains most, be it worn, bent or late; of an open
# input next to nothing (docs/method.md, "Travel").
EXPLAINED = 0.5
# A pedal stands still between presses; an open input hardly ever. Still: less than this share of
# the range within STILL_S.
STILL, STILL_S = 0.02, 0.3
LEAST_STILL, MUCH_LESS = 0.1, 0.25


def floating_inputs(volts: Mapping[str, Array], times: Array) -> frozenset[str]:
    """Return the names of inputs that move, but neither with another track nor like a pedal.

    volts: thinned, by track, shape (m,); times: shape (m,), seconds. Empty with one track, and
    when it cannot be told which of two is the pedal.
    """
    if len(volts) < 2:
        return frozenset()
    still = {name: _still(values, times) for name, values in volts.items()}
    most = max(still.values())
    if most < LEAST_STILL:
        return frozenset()
    return frozenset(
        name for name, values in volts.items()
        if still[name] < MUCH_LESS * most
        and all(_explained(values, other) < EXPLAINED
                for n, other in volts.items() if n != name))


def _still(values: Array, times: Array) -> float:
    """Return the share of time in which the input stands still."""
    reach = float(np.quantile(values, 0.98) - np.quantile(values, 0.02))
    points = max(1, round(STILL_S / max(float(np.median(np.diff(times))), 1e-9)))
    if reach <= 0 or values.size <= points:
        return 1.0
    return float(np.mean(np.abs(values[points:] - values[:-points]) < STILL * reach))


def _explained(values: Array, other: Array) -> float:
    """Return the share of the variance of one input that the other's level explains, 0 to 1."""
    low, high = float(other.min()), float(other.max())
    total = float(np.var(values))
    if total <= 0 or high <= low:
        return 1.0
    place = 100.0 * (other - low) / (high - low)
    mean, _, number = bin_means(place, values, np.arange(0.0, 105.0, 5.0))
    seen = number > 0
    spread = number[seen] * (mean[seen] - float(values.mean())) ** 2
    return float(np.sum(spread) / (number.sum() * total))

"""Independent linearity: the straight line from which the readings depart least."""

import numpy as np

from analysis.model.recording import Array


def minimax_line(x: Array, y: Array) -> tuple[float, float, float]:
    """Return slope, intercept and largest deviation of the line closest to all points.

    x, y: shape (n,), n >= 2, finite, not all x alike. The line makes the largest
    |y - slope * x - intercept| as small as can be ("independent linearity", VRCI-P-100A). The
    height of the strip between two parallel lines that hold all points is a convex function of
    their slope, so a search by thirds finds its lowest place.
    """
    centre, width = float(np.mean(x)), float(np.ptp(x))
    u = (x - centre) / width

    def height(slope: float) -> float:
        return float(np.ptp(y - slope * u))

    # No strip is lowest at a slope steeper than the steepest step between neighbours.
    order = np.argsort(u)
    steps = np.diff(u[order])
    rises = np.diff(y[order])[steps > 0] / steps[steps > 0]
    low, high = float(rises.min()), float(rises.max())
    while (third := (high - low) / 3) > 1e-13 * max(1.0, abs(low), abs(high)):
        if height(low + third) <= height(high - third):
            high -= third
        else:
            low += third
    slope = (low + high) / 2
    rest = y - slope * u
    intercept = float(rest.max() + rest.min()) / 2
    return slope / width, intercept - slope * centre / width, float(np.ptp(rest)) / 2

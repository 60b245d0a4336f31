"""The points of a controller's map: what it asks of the motor for what it reads of the pedal."""

from collections.abc import Sequence

import numpy as np

from analysis.model.errors import BadParameter

Points = tuple[tuple[float, float], ...]


def points_of(text: str) -> Points:
    """Return the points of "0:0,30:10,100:100", () of an empty text.

    Raise ValueError on what is no such list, BadParameter as `map_points`.
    """
    if not text.strip():
        return ()
    return map_points([(float(x), float(y)) for x, y in (
        each.split(":") for each in text.split(","))])


def map_points(points: Sequence[tuple[float, float]]) -> Points:
    """Return the points of a map (input %, demand %) with both ends; raise BadParameter.

    The input counts from start of travel to full travel. Points rise in both; 0:0 and 100:100 are
    put in where they are missing.
    """
    listed = sorted(points)
    if not listed or listed[0][0] > 0.0:
        listed.insert(0, (0.0, 0.0))
    if listed[-1][0] < 100.0:
        listed.append((100.0, 100.0))
    x, y = np.array(listed).T
    inside = bool(np.all((x >= 0) & (x <= 100) & (y >= 0) & (y <= 100)))
    if not inside or np.any(np.diff(x) <= 0) or np.any(np.diff(y) < 0):
        raise BadParameter("map does not rise", points=tuple(points))
    return tuple((float(a), float(b)) for a, b in listed)

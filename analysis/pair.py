"""Two tracks: their relation, the fitted line, the mismatch along travel, the play between them."""

from dataclasses import dataclass

from analysis.estimate import Estimate
from analysis.recording import Array


@dataclass(frozen=True)
class PairFindings:
    """Hold how track `second` relates to track `first`: second = gain * first + offset.

    relation: "same slope", "half slope", "opposed slopes", "same slope with offset", "other".
    travel_percent: bin middles, shape (m,); mismatch arrays of the same shape, signed
        (first minus second), % of travel, NaN where a bin was not visited.
    play_percent: largest difference between pressing and releasing at one travel.
    mismatch_at_rest_percent: on the target rest and span, None without targets.
    """

    first: str
    second: str
    relation: str
    gain: Estimate
    offset_volts: Estimate
    travel_percent: Array
    mismatch_percent: Array
    mismatch_press_percent: Array
    mismatch_release_percent: Array
    mismatch_max_percent: Estimate
    mismatch_at_travel_percent: float
    mismatch_at_rest_percent: float | None
    play_percent: Estimate
    play_at_travel_percent: float

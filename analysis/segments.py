"""Rest, press, hold, release, found from the signal; marks are not needed."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Segment:
    """Hold one stretch of the recording: rows [start, stop), times in seconds.

    kind: "rest", "press", "hold" or "release". quick: True for a release that was let go
    rather than led back. peak_percent: for press, hold and release, the travel of its peak.
    """

    kind: str
    start: int
    stop: int
    start_s: float
    end_s: float
    quick: bool = False
    peak_percent: float = float("nan")

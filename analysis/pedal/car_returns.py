"""Returns of the pedal as installed, from a key-on log, and when they stand for the bench's."""

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.pedal.tracks import TrackFindings

# Fewer returns in the car never stand for those of the bench (common practice, no source).
ADVISED_CAR_RETURNS = 10


@dataclass(frozen=True)
class CarReturns:
    """Hold the rest of one track before each key-on that follows a press: returns as installed.

    levels: volts at nominal supply, in order of time; times_s: as many, seconds. step_volts: of the
    log's converter.
    """

    levels: tuple[float, ...]
    times_s: tuple[float, ...]
    step_volts: float


def enough_in_the_car(track: TrackFindings) -> int:
    """Return how many returns in the car take the place of the bench's: as many, 10 or more."""
    return max(ADVISED_CAR_RETURNS, int(track.rest_levels.size))


def installed(track: TrackFindings, here: CarReturns | None) -> CarReturns | None:
    """Return the returns in the car where they take the place of the bench's, else None.

    The pedal as installed, warm and shaken, is the one that the promise is of.
    """
    enough = here is not None and len(here.levels) >= enough_in_the_car(track)
    return here if enough else None


def joined(parts: Sequence[tuple[CarReturns, float]]) -> CarReturns:
    """Return the returns of several logs of the same track as one, in order of time.

    parts: each log's, with the seconds at which its time begins, on one clock.
    """
    both = sorted((begins + at, level) for part, begins in parts
                  for at, level in zip(part.times_s, part.levels, strict=True))
    return CarReturns(tuple(level for _, level in both), tuple(at for at, _ in both),
                      max((part.step_volts for part, _ in parts), default=0.0))

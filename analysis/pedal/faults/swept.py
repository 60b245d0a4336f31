"""All that a detector of faults may look at: the sweep as it was read, and what was measured."""

from collections.abc import Mapping
from dataclasses import dataclass

from analysis.model.recording import Array, Recording
from analysis.parameters import Parameters
from analysis.pedal.faults.returns import ReturnTime
from analysis.pedal.pair import PairFindings, Way
from analysis.pedal.sweep_course import Look, Reading, Seen
from analysis.pedal.tracks import TrackFindings
from analysis.signal.segments import Segment


@dataclass(frozen=True)
class Measured:
    """Hold what was measured: travel in % by track, shape (m,), and which way it went there.

    third: each further track beside the first and beside the second.
    """

    tracks: Mapping[str, TrackFindings]
    pair: PairFindings | None
    travel: Mapping[str, Array]
    way: Way
    returns: tuple[ReturnTime, ...]
    third: tuple[PairFindings, ...] = ()


@dataclass(frozen=True)
class Swept:
    """Hold a sweep that was followed and measured, and what the user asks of it."""

    seen: Seen
    measured: Measured
    parameters: Parameters

    @property
    def recording(self) -> Recording:
        """Return the recording, stated as its header and the user have it."""
        return self.seen.reading.recording

    @property
    def times(self) -> Array:
        """Return the time of each row in seconds, shape (n,)."""
        return self.recording.time_s

    @property
    def reading(self) -> Reading:
        """Return the tracks as they were read, at nominal supply."""
        return self.seen.reading

    @property
    def look(self) -> Look:
        """Return the last look: travel in % by track and of the pedal, shape (n,), what to trust.
        """
        return self.seen.look

    @property
    def segments(self) -> tuple[Segment, ...]:
        """Return the rests, presses, holds and releases in order of time."""
        return self.seen.course.segments

"""Everything a sweep shows, in one frozen result; `analyse` orders the steps."""

from collections.abc import Mapping
from dataclasses import dataclass

from analysis.deadband import DeadBand
from analysis.faults import Fault
from analysis.pair import PairFindings
from analysis.recording import Array, Recording
from analysis.remedies import Remedy
from analysis.segments import Segment
from analysis.settings import Setting
from analysis.tracks import TrackFindings
from analysis.wishes import Wishes


@dataclass(frozen=True)
class Travel:
    """Hold travel in percent, shape (n,): of the pedal, and by each track on its own.

    trusted: by track, shape (n,), False inside a dropout or where the reading is missing.
    """

    pedal_percent: Array
    by_track_percent: Mapping[str, Array]
    trusted: Mapping[str, Array]


@dataclass(frozen=True)
class ReturnTime:
    """Hold one lift-off: when it was let go and how long until the pedal was back at rest."""

    start_s: float
    seconds: float
    quick: bool


@dataclass(frozen=True)
class Findings:
    """Hold what one sweep shows, for faces, reports and exports to read.

    return_limit_s: the limit of 49 CFR 571.124 S5.3 that the wishes chose.
    notes: what is missing or weak, one sentence each. verdict: plain sentences, gravest first.
    """

    recording: Recording
    wishes: Wishes
    segments: tuple[Segment, ...]
    travel: Travel
    tracks: Mapping[str, TrackFindings]
    pair: PairFindings | None
    faults: tuple[Fault, ...]
    return_times: tuple[ReturnTime, ...]
    return_limit_s: float
    dead_bands: Mapping[str, DeadBand]
    remedies: Mapping[str, tuple[Remedy, ...]]
    settings: tuple[Setting, ...]
    notes: tuple[str, ...]
    verdict: tuple[str, ...]


def analyse(recording: Recording, wishes: Wishes | None = None) -> Findings:
    """Return the findings of a sweep recording; raise AnalysisError when there are none."""
    raise NotImplementedError

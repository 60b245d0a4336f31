"""What a fault is."""

from dataclasses import dataclass

from analysis.model.finding import Reason


@dataclass(frozen=True)
class Fault:
    """Hold one fault. channel is None when it concerns the pedal or the recording as a whole.

    kind: "dropout", "no reading", "step", "flat spot", "noise", "clipping", "open or short", "gap",
        "no return", "slow return", "hangs on its way", "not settled", "foot at rest", "dead track",
        "late track", "supply sag", "supply lost", "mismatch", "same wiper".
    gravity: 3 do not drive, 2 repair before driving, 1 know of it.
    """

    kind: str
    channel: str | None
    time_s: float
    end_s: float
    travel_percent: float
    gravity: int
    why: Reason

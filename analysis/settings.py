"""Recommended values, each with its reason."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Setting:
    """Hold one recommended value.

    name: "rest", "start_of_travel", "release", "full_travel", "fault_low", "fault_high" per
        track; "mismatch_limit" (% travel) and "mismatch_time" (s) for the pair (channel None).
    value: NaN when the data do not suffice; `why` then says what is missing.
    """

    name: str
    channel: str | None
    value: float
    unit: str
    why: str

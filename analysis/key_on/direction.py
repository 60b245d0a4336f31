"""What a key-on log shows of the switch that chooses forward or reverse."""

from collections import Counter
from collections.abc import Sequence

from analysis.key_on.results import KeyCycle
from analysis.model.finding import Finding, Reason
from analysis.model.recording import Recording
from analysis.pedal.direction import DirectionFindings, states_at


def both_closed(direction: DirectionFindings | None) -> tuple[Finding, ...]:
    """Return that forward and reverse were closed at once in the log."""
    if direction is None or not direction.both_times:
        return ()
    return (Finding("both directions closed", 2, "log", time_s=direction.both_at_s, values={
        "seconds": direction.both_s, "times": direction.both_times,
        "at_s": direction.both_at_s}),)


def direction_notes(direction: DirectionFindings | None, recording: Recording,
                    cycles: Sequence[KeyCycle], closed: str) -> list[Reason]:
    """Return which direction stood at the key-ons, and how often it was moved; [] unlogged."""
    if direction is None:
        return []
    states = Counter(states_at(recording, [cycle.on_row for cycle in cycles], closed))
    return [Reason("direction in the log", {
        "states": tuple(states.items()), "changes": direction.changes})]

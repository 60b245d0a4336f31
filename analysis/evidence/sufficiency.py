"""Whether a sweep holds enough to state any value at all, and how much more it needs."""

from collections.abc import Mapping

from analysis.pedal.tracks import TrackFindings, full_presses
from analysis.signal.segments import Segment

# The least that values are stated from; the dead band asks for more (deadband.ADVISED_RETURNS).
LEAST_PRESSES, LEAST_RETURNS = 3, 4
# What a good sweep has; asked for when anything is missing.
GOOD_PRESSES, GOOD_LIFT_OFFS = 8, 4


def not_enough(segments: tuple[Segment, ...], tracks: Mapping[str, TrackFindings]) -> str | None:
    """Return how much more must be swept before any value can be stated, None when enough was.

    Counted are full presses and returns to rest that came back, the first rest among them; with
    fewer than LEAST_PRESSES and LEAST_RETURNS nothing says how far one return lies from the next.
    """
    presses = len(full_presses(segments))
    returns = min((t.rest_levels.size for t in tracks.values()), default=0)
    came = sum(s.kind == "release" for s in segments)
    if presses >= LEAST_PRESSES and (returns >= LEAST_RETURNS or came >= LEAST_RETURNS):
        return None
    quick = sum(s.quick for s in segments)
    more = [f"{GOOD_PRESSES - presses} more full presses" if presses < GOOD_PRESSES else "",
            f"{GOOD_LIFT_OFFS - quick} more quick lift-offs" if quick < GOOD_LIFT_OFFS else ""]
    return (f"Not enough yet: {presses} full press{'es' * (presses != 1)} and {returns} "
            f"return{'s' * (returns != 1)} to rest were seen, and no value is stated from fewer "
            f"than {LEAST_PRESSES} and {LEAST_RETURNS}. Sweep again: "
            f"{' and '.join(m for m in more if m) or 'press right down each time'}.")

"""Whether a sweep holds enough to state any value at all, and how much more it needs."""

from collections.abc import Mapping

from analysis.model.finding import Reason
from analysis.pedal.tracks import TrackFindings, full_presses
from analysis.signal.segments import Segment

# The least that values are stated from; the dead band asks for more (ADVISED_RETURNS of
# analysis.pedal.dead_band_weak).
LEAST_PRESSES, LEAST_RETURNS = 3, 4
# What a good sweep has; asked for when anything is missing.
GOOD_PRESSES, GOOD_LIFT_OFFS = 8, 4


def not_enough(segments: tuple[Segment, ...], tracks: Mapping[str, TrackFindings]) -> Reason | None:
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
    return Reason("not enough", {
        "presses": presses, "returns": returns, "least_presses": LEAST_PRESSES,
        "least_returns": LEAST_RETURNS, "more_presses": max(GOOD_PRESSES - presses, 0),
        "more_lift_offs": max(GOOD_LIFT_OFFS - quick, 0)})

"""A pedal let go that stands still on its way and then goes on: caught by a hand, or hanging.

Nothing tells a hand from a pivot that hangs until it is tapped, so such a lift-off proves no
return, and it is asked about.
"""

import numpy as np

from analysis.model.finding import Reason
from analysis.pedal.faults.fault import Fault
from analysis.pedal.faults.swept import Swept
from analysis.signal.smoothing import median


def detect(swept: Swept) -> list[Fault]:
    """Return one fault for all lift-offs that stood still on their way."""
    hung = [s for s in swept.segments if s.hung]
    if not hung:
        return []
    first = hung[0]
    way = swept.look.pedal[first.start: first.stop]
    # Most of the time was spent where it stood.
    middle = way[(way > np.nanmin(way) + 10.0) & (way < np.nanmax(way) - 10.0)]
    level = median(middle) if middle.size else float("nan")
    return [Fault("hangs on its way", None, first.start_s, first.end_s, level, 1,
                  Reason("hangs on its way", {
                      "times": len(hung), "travel_percent": level, "time_s": first.start_s}))]

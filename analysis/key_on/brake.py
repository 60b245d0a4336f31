"""Brake and pedal together: Formula SAE rules, EV.4.7.

With the brake on and the pedal beyond 25 % of travel the motor's power is to stop, and to stay
off until the pedal is below 5 %, whatever the brake does meanwhile.
"""

import numpy as np

from analysis.key_on.blocks import Blocks, runs
from analysis.key_on.presses import TrackFacts
from analysis.key_on.results import BrakeEvent

_ON_PERCENT = 25.0
_OFF_PERCENT = 5.0


def brake_events(blocks: Blocks, brake: str, fact: TrackFacts) -> tuple[BrakeEvent, ...] | None:
    """Return every time brake and pedal met, None when travel or brake cannot be told.

    The brake counts as on above the middle of what its line showed, if that is 0.5 V or more.
    """
    line = blocks.measured[brake]
    finite = line[np.isfinite(line)]
    if not finite.size or np.ptp(finite) < 0.5 or not np.isfinite(fact.span_volts):
        return None
    rest = fact.bench_rest_volts
    level = blocks.stated[fact.column].mean
    seen = level[np.isfinite(level)]
    if not seen.size:
        return None
    if not np.isfinite(rest):
        rest = float(np.median(seen))
    # What is missing (NaN) neither begins an event nor shows that the pedal came back.
    travel = 100.0 * fact.sign * (level - rest) / abs(fact.span_volts)
    braking = line > 0.5 * (finite.min() + finite.max())
    events = []
    until = 0
    for start, _ in runs(braking & (travel > _ON_PERCENT)):
        if start < until:
            continue
        back = np.flatnonzero(travel[start:] < _OFF_PERCENT)
        until = start + int(back[0]) if back.size else blocks.count
        events.append(BrakeEvent(
            float(blocks.time_s[start]), float(blocks.time_s[min(until, blocks.count - 1)]),
            float(np.nanmax(travel[start:until]))))
    return tuple(events)

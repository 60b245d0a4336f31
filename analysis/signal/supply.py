"""Whether the recorded supply can be the one that is meant; every level is a ratio to it."""

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from analysis.model.errors import SupplyMissing
from analysis.model.finding import Reason
from analysis.model.recording import Recording
from analysis.signal.missing_cells import lost_rows
from analysis.signal.reference import clipped_doubt
from analysis.signal.smoothing import filled

# A supply further from nominal than this (relative) is another supply, or a wrong scale.
OFF = 0.10
# Further than this, rails and limits are judged against the wrong supply too: nothing else that
# is found then says anything.
FAR_OFF = 0.25
# The supplies that pedals are fed from. Common practice, no source.
USUAL_VOLTS = (3.3, 5.0, 8.0, 10.0, 12.0, 15.0)
CLOSE = 0.05


def check_supply(recording: Recording) -> None:
    """Raise SupplyMissing when the supply channel reads next to nothing."""
    supply = recording.supply
    if supply is None or not recording.rows:
        return
    usual = recording.usual_supply_volts
    if not usual > 0.1 * recording.nominal_volts:
        raise SupplyMissing(
            "supply reads next to nothing", column=supply.column, volts=usual,
            nominal_volts=recording.nominal_volts)


def supply_doubt(recording: Recording) -> Reason | None:
    """Return why the ratio to the supply cannot be believed, or None."""
    if recording.supply is None:
        return None
    usual, nominal = recording.usual_supply_volts, recording.nominal_volts
    if abs(usual / nominal - 1.0) <= OFF:
        return clipped_doubt(recording)
    other = next((v for v in USUAL_VOLTS if abs(usual / v - 1.0) <= CLOSE), None)
    return Reason("supply is another", {
        "volts": usual, "nominal_volts": nominal, "usual_volts": other,
        "lead_off": other is None and usual < nominal * (1.0 - FAR_OFF)})


def far_off(recording: Recording) -> bool:
    """Return whether the supply is so far off that nothing else can be judged."""
    ratio = recording.usual_supply_volts / recording.nominal_volts
    return recording.supply is not None and abs(ratio - 1.0) > FAR_OFF


def with_supply_between(recording: Recording) -> Recording:
    """Return the recording with a slower supply drawn straight between its own readings.

    A track is read there, and what it does is not to be passed over for want of a ratio. Where
    the supply's own reading was lost it stays so.
    """
    feed = recording.supply
    if feed is None:
        return recording
    known = np.isfinite(feed.readings)
    if known.all():
        return recording
    between = ~known & ~lost_rows(known, recording.time_s, recording.step_s)
    if not between.any():
        return recording
    drawn = replace(feed, readings=np.where(between, filled(feed.readings), feed.readings))
    return replace(recording, channels=tuple(
        drawn if c is feed else c for c in recording.channels))


def fed_share(recording: Recording, columns: Iterable[str]) -> float:
    """Return the share of these tracks' readings that have one of the supply in their row."""
    if recording.supply is None:
        return 1.0
    fed = np.isfinite(recording.supply.readings)
    if fed.all():
        return 1.0
    read = [np.isfinite(recording.channel(c).readings) for c in columns]
    count = sum(int(r.sum()) for r in read)
    return sum(int((r & fed).sum()) for r in read) / count if count else 1.0

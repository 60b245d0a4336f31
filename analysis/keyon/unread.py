"""When a track was not read with the key on: nothing is known of it then."""

from collections.abc import Iterable, Mapping

import numpy as np

from analysis.keyon.cycles import Span
from analysis.keyon.results import Unread
from analysis.keyon.rows import Blocks, Bools, stated_of
from analysis.recording import Channel, Recording
from analysis.smoothing import runs

# An input logged less often than the others is late from so many of its usual pauses on; one read
# in every row, as soon as one is missing.
_LATE, _MISSING = 2.5, 1.5
# A supply that the key switches comes up, and goes down, within this (common practice, no source).
_COMES_UP_S = 0.5


def unread_of(recording: Recording, channel: Channel, blocks: Blocks, free: Bools,
              spans: Iterable[Span]) -> Unread | None:
    """Return for how long, key on and foot off, no level of the track was known; None: never.

    Where it has no reading, or the supply that it is stated by has none or reads next to nothing.
    """
    supply = recording.supply
    if not np.isnan(channel.readings).any() and (
            supply is None or bool(np.all(supply.volts() > 0.1 * recording.nominal_volts))):
        return None
    read = np.flatnonzero(np.isfinite(channel.readings))
    usual = float(np.median(np.diff(read))) if read.size > 1 else 1.0
    late = _LATE * usual if usual > 1.0 else _MISSING
    count, own, first = 0, 0, None
    for span in spans:
        rows = slice(span.on_row, span.off_row)
        missing = np.isnan(stated_of(recording, channel, rows.start, rows.stop))
        for a, b in zip(*runs(missing), strict=True):
            if b - a + 1 <= late:
                continue
            lost = np.arange(span.on_row + a, span.on_row + b)
            at_an_end = a == 0 or b == missing.size
            if at_an_end and (b - a) * blocks.step_s <= _COMES_UP_S and not np.isnan(
                    channel.readings[lost]).any():
                continue
            lost = lost[free[np.minimum(lost // blocks.size, free.size - 1)]]
            if not lost.size:
                continue
            first = int(lost[0]) if first is None else first
            count += int(lost.size)
            own += int(np.isnan(channel.readings[lost]).sum())
    if first is None:
        return None
    by_supply = own < count * (1.0 - 1.0 / usual) + 0.5 * count / usual
    return Unread(count * blocks.step_s, float(recording.time_s[first]), by_supply)


def unread_text(unread: Mapping[str, Unread]) -> str:
    """Return what was not read, when first and what to do, as one part of a sentence."""
    own = {c: u for c, u in unread.items() if not u.by_supply}
    other = {c: u for c, u in unread.items() if u.by_supply}
    parts = [f"track {c} gave no reading for {seconds_text(u.seconds)} in all (first at "
             f"{u.first_s:.3f} s)" for c, u in own.items()]
    does = []
    if other:
        worst = max(other.values(), key=lambda u: u.seconds)
        parts.append(f"the supply gave none, or next to nothing, for {seconds_text(worst.seconds)} "
                     f"in all (first at {min(u.first_s for u in other.values()):.3f} s)")
        does.append("log the supply as often as the tracks, on a firm lead")
    if own:
        does.insert(0, "find the loose contact, or the range that was left")
    return f"{', and '.join(parts)}; {' and '.join(does)}, and log again"


def seconds_text(value: float) -> str:
    """Return a length of time as text: to the millisecond only where that is most of it."""
    return f"{value:.3f} s" if value < 0.95 else f"{value:.1f} s"

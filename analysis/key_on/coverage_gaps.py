"""When a track was not read with the key on: nothing is known of it then."""

from collections.abc import Iterable, Mapping

import numpy as np

from analysis.evidence.claim import Finding
from analysis.key_on.blocks import Blocks, Bools, Ints, stated_of
from analysis.key_on.cycles import Span
from analysis.key_on.results import Unread
from analysis.key_on.seen import brief_holes, matters
from analysis.model.recording import Channel, Recording
from analysis.signal.missing_cells import lost_rows
from analysis.signal.smoothing import runs

# A supply that the key switches comes up, and goes down, within this (common practice, no source).
_COMES_UP_S = 0.5


def unread_of(recording: Recording, channel: Channel, blocks: Blocks, free: Bools,
              spans: Iterable[Span]) -> Unread | None:
    """Return for how long, key on and foot off, no level of the track was known; None: never.

    Where it has no reading, or the supply that it is stated by has none or reads next to nothing.
    Too short or too seldom to leave a verdict open (analysis.key_on.seen): `brief` is True.
    """
    known, supply = np.isfinite(channel.readings), recording.supply
    if known.all() and (supply is None or bool(
            np.all(supply.volts() > 0.1 * recording.nominal_volts))):
        return None
    own = lost_rows(known, recording.time_s, recording.step_s)
    found: list[Ints] = []
    spans = tuple(spans)
    for span in spans:
        part = slice(span.on_row, span.off_row)
        unfed = np.isnan(stated_of(recording, channel, part.start, part.stop))
        unfed &= known[part]
        for a, b in zip(*runs(unfed), strict=True):
            # One that stood before the key was turned falls away: it does not come up.
            switched = (a == 0 and _unfed(recording, channel, part.start - 1)) or (
                b == unfed.size and _unfed(recording, channel, part.stop))
            if switched and (b - a) * blocks.step_s <= _COMES_UP_S:
                unfed[a:b] = False
        rows = span.on_row + np.flatnonzero(unfed | own[part])
        found.append(rows[free[rows // blocks.size]])
    lost = np.concatenate(found)
    if not lost.size:
        return None
    groups = np.split(lost, np.flatnonzero(np.diff(lost) > 1) + 1)
    on_s = sum(s.off_row - s.on_row for s in spans) * blocks.step_s
    lengths = np.array([g.size for g in groups]) * blocks.step_s
    return Unread(lost.size * blocks.step_s, float(recording.time_s[lost[0]]),
                  2 * int(own[lost].sum()) < lost.size, not matters(lengths, on_s),
                  int(lengths.size), float(lengths.max()))


def _unfed(recording: Recording, channel: Channel, row: int) -> bool:
    """Return whether the track has no supply to state it by at this row; True beyond the log."""
    return not 0 <= row < recording.rows or bool(
        np.isnan(stated_of(recording, channel, row, row + 1)).any())


def brief_findings(unread: Mapping[str, Unread], step_s: float) -> tuple[Finding, ...]:
    """Return what was not read too briefly to open a verdict; a cell or two are not worth it."""
    return tuple(brief_holes("supply" if u.by_supply else "track", c, u.places, u.longest_s)
                 for c, u in unread.items() if u.brief and u.longest_s > 1.5 * step_s)

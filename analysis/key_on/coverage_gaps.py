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
            if (a == 0 or b == unfed.size) and (b - a) * blocks.step_s <= _COMES_UP_S:
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


def brief_findings(unread: Mapping[str, Unread], step_s: float) -> tuple[Finding, ...]:
    """Return what was not read too briefly to open a verdict; a cell or two are not worth it."""
    return tuple(brief_holes(f"Track {c} gave no reading" if not u.by_supply else
                             f"The supply of track {c} gave no reading", u.places, u.longest_s)
                 for c, u in unread.items() if u.brief and u.longest_s > 1.5 * step_s)


def unread_text(unread: Mapping[str, Unread]) -> str:
    """Return what was not read, when first and what to do, as one part of a sentence."""
    own, other = _by_cause(unread)
    parts = [f"track {c} gave no reading for {seconds_text(u.seconds)} in all (first at "
             f"{u.first_s:.3f} s)" for c, u in own.items()]
    if other:
        worst = max(other.values(), key=lambda u: u.seconds)
        parts.append(f"the supply gave none, or next to nothing, for {seconds_text(worst.seconds)} "
                     f"in all (first at {min(u.first_s for u in other.values()):.3f} s)")
    return f"{', and '.join(parts)}; {unread_remedy(unread)}"


def unread_remedy(unread: Mapping[str, Unread]) -> str:
    """Return what to do about what was not read, as one part of a sentence."""
    own, other = _by_cause(unread)
    does = ["find the loose contact, or the range that was left"] * bool(own) + [
        "log the supply as often as the tracks, on a firm lead"] * bool(other)
    return f"{' and '.join(does)}, and log again"


def _by_cause(unread: Mapping[str, Unread]) -> tuple[dict[str, Unread], dict[str, Unread]]:
    """Return the tracks that gave no reading themselves, and those without their supply."""
    return ({c: u for c, u in unread.items() if not u.by_supply},
            {c: u for c, u in unread.items() if u.by_supply})


def seconds_text(value: float) -> str:
    """Return a length of time as text: to the millisecond only where that is most of it."""
    return f"{value:.3f} s" if value < 0.95 else f"{value:.1f} s"

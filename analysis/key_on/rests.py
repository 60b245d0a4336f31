"""Which rows of a log surely are rest or key-on, and which may be: times of switching are unsure.

Levels are taken from rows that surely are what they seem; power is looked for in all that may be.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from analysis.key_on.blocks import Blocks, Ints
from analysis.key_on.cycles import MARK_FAR_S, KeyTimes, Span
from analysis.key_on.opening import REST_MOVED
from analysis.key_on.results import TrackKeyOn
from analysis.model.finding import Finding
from analysis.model.recording import Recording

# So much of a rest, and twice as much of a key-on, is left for a level to be taken from.
_LEAST_LEFT_S = 3.0


@dataclass(frozen=True)
class Rests:
    """Hold the rows of one key-on that surely are what they seem, whatever its times are off by.

    Rest before: [before_row, before_stop). Key on: from on_row and guard_s seconds to off_row.
    """

    before_row: int
    before_stop: int
    on_row: int
    off_row: int
    guard_s: float


@dataclass(frozen=True)
class Settled:
    """Hold where the key-ons of a log have settled.

    waits_s: per key-on, seconds after its time that still settle. gaps: rows before which samples
    are missing.
    """

    spans: tuple[Rests, ...]
    waits_s: tuple[float, ...]
    gaps: Ints

    def rows(self, step_s: float) -> list[tuple[int, int]]:
        """Return the first row and the one after the last of what settled, for each key-on."""
        return [(span.on_row + round(wait / step_s), span.off_row)
                for span, wait in zip(self.spans, self.waits_s, strict=True)]


def sure_rests(times: KeyTimes, step_s: float) -> tuple[Rests, ...]:
    """Return the rows of each key-on that its levels may be taken from.

    What lies nearer to the switching than its time is unsure is left out. Marks that no step of the
    readings confirms may be off by more than a hand's usual delay: then as much is left out as
    leaves _LEAST_LEFT_S of rest before, and as much settled key-on.
    """
    result = []
    for span in times.spans:
        guard_s = times.unsure_s
        before_s, on_s = ((b - a) * step_s for a, b in (
            (span.before_row, span.on_row), (span.on_row, span.off_row)))
        if times.found_by == "mark" and not times.confirmed:
            # The log's own start is no switching, so only one end of that rest is unsure.
            ends = 2.0 if span.before_row else 1.0
            room = min((before_s - _LEAST_LEFT_S) / ends, (on_s - 2.0 * _LEAST_LEFT_S) / 2.0)
            guard_s = min(max(guard_s, room), MARK_FAR_S)
        guard = round(guard_s / step_s)
        first = span.before_row + (min(guard, (span.on_row - span.before_row) // 3)
                                   if span.before_row else 0)
        result.append(Rests(first, max(first, span.on_row - guard), span.on_row,
                            max(span.on_row, span.off_row - guard), guard_s))
    return tuple(result)


def judged_spans(recording: Recording, blocks: Blocks, times: KeyTimes) -> tuple[Span, ...]:
    """Return the spans that readings are judged in: around a mark the seconds it is unsure by too.

    Not where a track leaves the middle of the supply there, as when the key feeds the pedal; a
    reading that is missing while the supply stands is no such thing.
    """
    if times.found_by != "mark":
        return times.spans
    reach = round(MARK_FAR_S / blocks.step_s)
    nominal, feed = recording.nominal_volts, recording.supply
    tracks = [blocks.stated[c.column] for c in recording.with_role("track")]

    def inside(start: int, stop: int) -> bool:
        piece = blocks.between(start, stop)
        fed = feed is None or not (blocks.measured[feed.column][piece] < 0.1 * nominal).any()
        return fed and not any(bool((t.lowest[piece] < 0.03 * nominal).any()
                                    or (t.highest[piece] > 0.97 * nominal).any()) for t in tracks)

    result = []
    last = 0
    for k, span in enumerate(times.spans):
        following = times.spans[k + 1].on_row if k + 1 < len(times.spans) else recording.rows
        start = max(last, span.on_row - reach)
        stop = min((span.off_row + following) // 2 if following < recording.rows else following,
                   span.off_row + reach)
        start = start if inside(start, span.on_row) else span.on_row
        stop = stop if stop > span.off_row and inside(span.off_row, stop) else span.off_row
        last = max(stop, span.off_row)
        result.append(Span(span.before_row, start, stop))
    return tuple(result)


def moved_findings(tracks: Mapping[str, TrackKeyOn],
                   by_mark: bool = False) -> tuple[Finding, ...]:
    """Return a finding for each track that rests elsewhere than in the sweep with the key off.

    by_mark: that the key was off is known by marks only, which may be off by seconds.
    """
    return tuple(Finding(REST_MOVED, 2, "track", channel=track.column, values={
        "rest_moved_volts": track.rest_moved_volts, "by_mark": by_mark})
        for track in tracks.values() if abs(track.rest_moved_volts) > 0)

"""Would the pedal have applied power with nobody's foot on it? When, for how long, how close?

Power is applied when a reading reaches start of travel and ends when it falls back to release
(the falling edge). Each single reading counts: what a controller's own filter would swallow is
not known here, so nothing is smoothed. Readings under a foot are left out, and that is said.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from analysis.evidence.claim import Finding
from analysis.key_on.blocks import Readings, stated_of, switchings
from analysis.key_on.cycles import Span
from analysis.key_on.opening import opening
from analysis.key_on.presses import TrackFacts
from analysis.key_on.results import Application, TrackKeyOn, TrackVerdict, Unread, Verdict
from analysis.model.recording import Array, Channel
from analysis.pedal.settings import Setting

_CHUNK_BLOCKS = 10_000
_MOST_LISTED = 200


@dataclass(frozen=True)
class Limits:
    """Hold where power starts and where it ends again, volts at nominal supply."""

    start: float
    release: float


@dataclass(frozen=True)
class Furthest:
    """Hold the furthest reading towards pressed: signed volts turned so, and its row."""

    directed: float
    row: int


def directed(log: Readings, channel: Channel, sign: float, start: int, stop: int) -> Array:
    """Return stated volts turned towards pressed for the rows, NaN under a foot."""
    blocks, free = log.blocks, log.free
    values = stated_of(log.recording, channel, start, stop)
    values *= sign
    first, last = start // blocks.size, -(-stop // blocks.size)
    if not free[first:last].all():
        foot = np.repeat(~free[first:last], blocks.size)
        values[foot[start - first * blocks.size:][:values.size]] = np.nan
    return values


def furthest(log: Readings, channel: Channel, sign: float, start: int,
             stop: int) -> Furthest | None:
    """Return the furthest free reading in rows start to stop, None when there is none."""
    blocks, free = log.blocks, log.free
    stats = blocks.stated[channel.column]
    top = stats.highest if sign > 0 else -stats.lowest
    piece = blocks.between(start, stop)
    edges = {start // blocks.size, max(start, stop - 1) // blocks.size}
    inner = np.where(free[piece], top[piece], np.nan)
    if np.isfinite(inner).any():
        edges.add(piece.start + int(np.nanargmax(inner)))
    best: Furthest | None = None
    for block in edges:
        a = max(start, block * blocks.size)
        b = min(stop, (block + 1) * blocks.size, blocks.rows)
        values = directed(log, channel, sign, a, b)
        if np.isnan(values).all():
            continue
        at = int(np.nanargmax(values))
        if best is None or values[at] > best.directed:
            best = Furthest(float(values[at]), a + at)
    return best


def stays_beyond(log: Readings, channel: Channel, sign: float, span: Span, row: int,
                 level: float) -> float:
    """Return for how long the readings around `row` stay beyond `level` (directed), seconds.

    Looks at most a minute to either side, within the key-on.
    """
    step_s = log.blocks.step_s
    reach = round(60.0 / step_s)
    a, b = max(span.on_row, row - reach), min(span.off_row, row + reach)
    values = directed(log, channel, sign, a, b)
    below = ~(values > level)
    here = row - a
    before, after = np.flatnonzero(below[:here]), np.flatnonzero(below[here:])
    first = int(before[-1]) + 1 if before.size else 0
    last = here + int(after[0]) if after.size else values.size
    return max(0.0, (last - first) * step_s)


def passings(log: Readings, channel: Channel, sign: float, start: int, stop: int,
             limits: Limits) -> list[tuple[int, int]]:
    """Return (row of start, row of end) of every time power is asked for in these rows."""
    blocks, free = log.blocks, log.free
    stats = blocks.stated[channel.column]
    top = stats.highest if sign > 0 else -stats.lowest
    first, last = start // blocks.size, min(-(-stop // blocks.size), blocks.count)
    high, low = sign * limits.start, sign * limits.release
    low = np.nextafter(high, -np.inf) if low >= high else low
    if not np.any(top[first:last] >= high):
        return []
    first += int(np.argmax(top[first:last] >= high))
    result: list[tuple[int, int]] = []
    state: bool | None = False
    begun = -1
    for block in range(first, last, _CHUNK_BLOCKS):
        a = max(start, block * blocks.size)
        b = min(stop, (block + _CHUNK_BLOCKS) * blocks.size)
        values = directed(log, channel, sign, a, b)
        if not free[block:block + _CHUNK_BLOCKS].all():
            # A foot takes over here: whatever the car asked for ends with it.
            values[np.isnan(values)] = -np.inf
        at, states, state = switchings(values, high, low, state)
        for i, turned_on in zip(at, states, strict=True):
            if turned_on:
                begun = a + i
            else:
                result.append((begun, a + i))
                begun = -1
    if begun >= 0:
        result.append((begun, stop))
    return result


def judge(log: Readings, spans: tuple[Span, ...], facts: tuple[TrackFacts, ...],
          limits: Mapping[str, Limits],
          unread: Mapping[str, Unread], known: Iterable[Finding] = ()) -> Verdict:
    """Return the verdict over all key-ons for the tracks that have a start of travel.

    One track that asked for power is enough for power; that none would have come is said only
    when every track of the log was judged all the time.
    unread: the tracks that were not read all the time.
    known: what was found in the log; some of it leaves the verdict open (analysis.key_on.opening).
    """
    opened = opening(known)
    blocks, free = log.blocks, log.free
    watched = unchecked = 0.0
    for span in spans:
        inside = free[blocks.index(span.on_row):blocks.index(span.off_row)]
        watched += float(np.sum(inside)) * blocks.size * blocks.step_s
        unchecked += float(np.sum(~inside)) * blocks.size * blocks.step_s
    tracks: dict[str, TrackVerdict] = {}
    found: list[Application] = []
    for fact in facts:
        limit = limits.get(fact.column)
        if limit is None:
            continue
        track, events = _judge_track(log, spans, fact, limit)
        tracks[fact.column] = track
        found += events
    found.sort(key=lambda e: e.start_s)
    found = [replace(e, both=_overlaps(e, found)) for e in found[:_MOST_LISTED]]
    read = [t for t in tracks.values() if np.isfinite(t.margin_volts)]
    applied = True if any(t.applications for t in read) else None
    if applied is None and len(read) == len(facts) and not unread and not opened:
        applied = False
    return Verdict(applied, tracks, tuple(found), watched, unchecked)


def passed(settings: Iterable[Setting], verdict: Verdict,
           tracks: Mapping[str, TrackKeyOn]) -> tuple[str, ...]:
    """Return the tracks whose furthest reading in the log reached these starts of travel."""
    result = []
    for setting in settings:
        judged = verdict.tracks.get(setting.channel or "")
        if setting.name != "start_of_travel" or judged is None:
            continue
        sign = 1.0 if tracks[judged.column].direction == "rising" else -1.0
        if sign * (judged.closest_volts - setting.value) >= 0:
            result.append(judged.column)
    return tuple(result)


def _judge_track(log: Readings, spans: tuple[Span, ...], fact: TrackFacts,
                 limit: Limits) -> tuple[TrackVerdict, list[Application]]:
    recording = log.recording
    channel = recording.channel(fact.column)
    closest: Furthest | None = None
    events: list[Application] = []
    count, seconds = 0, 0.0
    for number, span in enumerate(spans, start=1):
        best = furthest(log, channel, fact.sign, span.on_row, span.off_row)
        if best is not None and (closest is None or best.directed > closest.directed):
            closest = best
        for a, b in passings(log, channel, fact.sign, span.on_row, span.off_row, limit):
            count += 1
            ends = min(b, recording.rows - 1)
            lasted = float(recording.time_s[ends] - recording.time_s[a])
            seconds += lasted
            if len(events) < _MOST_LISTED:
                peak = furthest(log, channel, fact.sign, a, max(b, a + 1))
                volts = fact.sign * peak.directed if peak else limit.start
                events.append(Application(fact.column, number, float(recording.time_s[a]),
                                          float(recording.time_s[ends]), volts, False))
    nan = float("nan")
    if closest is None:
        return TrackVerdict(fact.column, limit.start, limit.release, nan, nan, nan, nan, 0,
                            0.0), []
    margin = fact.sign * limit.start - closest.directed
    span_volts = abs(fact.span_volts)
    percent = 100.0 * margin / span_volts if np.isfinite(span_volts) and span_volts else nan
    return TrackVerdict(
        fact.column, limit.start, limit.release, fact.sign * closest.directed,
        float(recording.time_s[closest.row]), margin, percent, count, seconds), events


def _overlaps(event: Application, others: list[Application]) -> bool:
    return any(o.column != event.column and o.start_s <= event.end_s and o.end_s >= event.start_s
               for o in others)

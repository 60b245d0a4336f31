"""What of the key-on time was not seen, as findings: lost rows, ends of the range, no supply.

Rule: what lasts no longer than ACTS_S may pass unseen. The Formula SAE rules T.4.2 let a throttle
be wrong for 100 ms before the motor's power must stop: a controller is not asked to act on less;
anything longer between two readings, or more than SHARE of the key-on time in short holes, leaves
the verdict open. A lift shorter than the time between two readings is never seen at all: with
readings further apart than ACTS_S nothing is claimed.
"""

from collections.abc import Iterable

import numpy as np

from analysis.evidence.claim import Finding
from analysis.key_on.blocks import Blocks, Ints, volts_of
from analysis.key_on.cycles import Span
from analysis.key_on.opening import HOLES, REFERENCE, REFERENCE_SHARED
from analysis.key_on.standstill import standstill_findings
from analysis.model.recording import Array, Channel, Recording
from analysis.parameters import Parameters
from analysis.signal.reference import reference_contradicted
from analysis.signal.smoothing import Mask, runs

ACTS_S = 0.1
SHARE = 0.01
# Rows that come regularly: nine in ten intervals below this many usual ones. Only then is a longer
# interval a loss; a logger that polls when it has time has them without losing any.
_REGULAR, _HOLE = 1.3, 2.5
# Repeated rows count as a standstill when chance gives such a run less often than this in the log.
CHANCE = 1e-9
# So far from rest away from pressed, as a share of the span, is more than a ground or a supply
# moves it by (common practice, no source).
AWAY = 0.08
AROUND = 60
# The supply's own tolerance, where the user did not state one, is a guess and proves nothing.
_USUAL_TOLERANCE = Parameters().supply_tolerance


def unseen_findings(recording: Recording, blocks: Blocks, gaps: Ints, spans: tuple[Span, ...],
                    broken: frozenset[str] = frozenset()) -> tuple[Finding, ...]:
    """Return what leaves the verdict of a key-on log open because it was not seen.

    gaps: rows before which the time makes a jump, as of `gap_rows`. broken: tracks whose lead is
    told to be broken already.
    """
    return (*_lost(recording, blocks, gaps, spans), *_slow(blocks),
            *(_frozen(recording, blocks, spans)
              or (f for f in standstill_findings(recording, blocks.step_s, spans, ACTS_S, CHANCE)
                  if f.channel not in broken)),
            *(f for f in _clipped(recording, blocks, spans) if f.channel not in broken))


def matters(lengths_s: Array, key_on_s: float) -> bool:
    """Return whether holes of these lengths leave a verdict open: one too long, or too many."""
    return bool(lengths_s.size) and bool(
        lengths_s.max() > ACTS_S or lengths_s.sum() > SHARE * key_on_s)


def brief_holes(what: str, track: str | None, places: int, longest_s: float) -> Finding:
    """Return that something was not seen which is too short to open the verdict.

    what: "rows" are missing, a "track" gave no reading, or its "supply" gave none; track: which.
    """
    return Finding(HOLES, 1, "log", values={
        "what": what, "track": track, "longest_s": longest_s, "places": float(places),
        "harmless_s": ACTS_S})


def reference_findings(recording: Recording, of_the_sweep: bool = False) -> tuple[Finding, ...]:
    """Return that the board measured another supply of its own than the reference stated.

    A supply that is logged is read against the same reference, which leaves the tracks' share of
    it, and all that is judged by that share, as it is. of_the_sweep: the recording is the
    sweep that the log is judged by.
    """
    board = recording.extra.get("board")
    told = reference_contradicted(
        board.get("supply_mv") if isinstance(board, dict) else None,
        next((c.reference_volts for c in recording.with_role("track")), None))
    if told is None:
        return ()
    logged = recording.supply is not None
    return (Finding(REFERENCE_SHARED if logged else REFERENCE, 1 if logged else 2, "supply",
                    values={**told.values, "of_the_sweep": of_the_sweep}),)


def _lost(recording: Recording, blocks: Blocks, gaps: Ints,
          spans: tuple[Span, ...]) -> tuple[Finding, ...]:
    step, times = blocks.step_s, recording.time_s
    holes = gaps[_within(gaps, spans)]
    lengths = times[holes] - times[holes - 1] if holes.size else np.empty(0)
    marked_rows, samples = _told_gaps(recording, spans)
    told = samples * step
    # A mark "gap" without a number, or of none: how much is missing nobody knows.
    unknown = int(np.sum(samples == 0))
    on_s = sum(_seconds(times, span) for span in spans)
    regular = lengths[lengths > _HOLE * step] if _comes_regularly(times, step) else np.empty(0)
    long = lengths[lengths > ACTS_S]
    if not (long.size or matters(regular - step, on_s) or matters(told, on_s) or unknown):
        # A row or two lost is as good as a slower board; more is told beside the verdict.
        brief = [*regular.tolist(), *(told[told >= _HOLE * step] + step).tolist()]
        return (brief_holes("rows", None, max(regular.size, sum(told >= _HOLE * step)),
                            max(brief)),) if brief else ()
    longest = float(max(lengths.max(initial=0.0), told.max(initial=0.0)))
    first = float(times[min(
        [*(int(h) - 1 for h in holes[lengths >= min(longest, ACTS_S)][:1]),
         *(int(r) for r in marked_rows[:1])], default=0)])
    places = int(max(long.size, told.size, unknown) or regular.size)
    return (Finding("rows lost", 2, "log", time_s=first, values={
        "longest_s": longest, "places": float(places),
        "length_unknown": bool(unknown) and longest <= ACTS_S}),)


def _told_gaps(recording: Recording, spans: tuple[Span, ...]) -> tuple[Ints, Array]:
    """Return the rows of the marks "gap" within the spans, and the samples that each says lost."""
    marks = [m for m in recording.marks if m.text.strip().lower().startswith("gap")]
    rows = np.array([m.row for m in marks], dtype=np.int64)
    inside = _within(rows, spans)
    return rows[inside], np.array([float(m.lost_samples) for m in marks])[inside]


def _frozen(recording: Recording, blocks: Blocks,
            spans: tuple[Span, ...]) -> tuple[Finding, ...]:
    """Return that all readings stood still longer than chance lets them: a logger that repeats."""
    channels = [c for c in recording.channels if c.role in ("track", "supply")]
    found: list[tuple[int, int]] = []
    for span in spans:
        same = np.ones(max(span.off_row - span.on_row - 1, 0), dtype=bool)
        for channel in channels:
            part = channel.readings[span.on_row: span.off_row]
            same &= part[1:] == part[:-1]
        if recording.supply is not None:
            # A pedal that is not fed yet reads nothing but zeros; that is told as unread.
            feed = volts_of(recording.supply, span.on_row, span.off_row)[1:]
            same &= ~(feed < 0.1 * recording.nominal_volts)
        starts, stops = runs(same)
        long = (stops - starts) * blocks.step_s > ACTS_S
        for a, b in zip(starts[long], stops[long], strict=True):
            # How often a row repeats the one before it by chance, told by the rows around this run:
            # where a quiet level lies in the middle of a step, often.
            around = np.concatenate([same[max(0, a - AROUND): a], same[b: b + AROUND]])
            usual = (around.sum() + 2.0) / (around.size + 2.0)
            if usual < 1.0 and same.size * usual ** float(b - a) < CHANCE:
                found.append((span.on_row + int(a), int(b - a)))
    if not found:
        return ()
    seconds, at = max(n for _, n in found) * blocks.step_s, found[0][0]
    return (Finding("readings repeat", 2, "log", time_s=float(recording.time_s[at]),
                    values={"longest_s": seconds}),)


def away_findings(recording: Recording, blocks: Blocks, spans: tuple[Span, ...],
                  tracks: Iterable[tuple[str, float, float]]) -> tuple[Finding, ...]:
    """Return the tracks that read far from rest on the side away from pressed: no pedal does that.

    tracks: of each its column, +1 rising or -1 falling, and its span in volts, NaN unknown.
    """
    result = []
    for column, sign, span_volts in tracks:
        mean = sign * blocks.stated[column].mean
        seen = mean[np.isfinite(mean)]
        if not seen.size:
            continue
        span = abs(span_volts) if np.isfinite(span_volts) else 0.5 * recording.nominal_volts
        limit = float(np.median(seen)) - AWAY * span
        for part in spans:
            piece = blocks.between(part.on_row, part.off_row)
            starts, stops = runs(mean[piece] < limit)
            long = (stops - starts) * blocks.size * blocks.step_s > ACTS_S
            if not long.any():
                continue
            at = piece.start + int(starts[long][0])
            off = float(np.median(seen) - np.nanmin(mean[piece]))
            result.append(Finding("away from rest", 3, "track", channel=column,
                                  time_s=float(blocks.time_s[at]), values={"off_volts": off}))
            break
    return tuple(result)


def unlogged_tracks(recording: Recording, swept: Iterable[str]) -> tuple[Finding, ...]:
    """Return the tracks of the sweep that this log does not hold."""
    there = {c.column for c in recording.with_role("track")}
    return tuple(Finding("track not logged", 2, "track", channel=name)
                 for name in swept if name not in there)


def _slow(blocks: Blocks) -> tuple[Finding, ...]:
    if not blocks.step_s > ACTS_S:
        return ()
    return (Finding("rate too low", 2, "log", values={
        "step_s": blocks.step_s, "least_rate_hz": 1.0 / ACTS_S}),)


def _clipped(recording: Recording, blocks: Blocks,
             spans: tuple[Span, ...]) -> tuple[Finding, ...]:
    """Return the channels that stand at the end of their converter's range with the key on."""
    found = []
    on_rows = sum(s.off_row - s.on_row for s in spans)
    feed = recording.supply
    for channel in (*((feed,) if feed is not None else ()), *recording.with_role("track")):
        is_feed = channel is feed
        first, count, longest = -1, 0, 0
        for span in spans:
            at_end = _at_end(channel, span.on_row, span.off_row, is_feed)
            if not at_end.any():
                continue
            starts, stops = runs(at_end)
            first = span.on_row + int(starts[0]) if first < 0 else first
            count += int(at_end.sum())
            longest = max(longest, int((stops - starts).max()))
        if first < 0 or not (longest * blocks.step_s > ACTS_S or count > SHARE * on_rows):
            continue
        seconds = count * blocks.step_s
        found.append(Finding(
            "supply clipped" if is_feed else "track clipped", 2, "supply" if is_feed else "track",
            channel=channel.column, time_s=float(recording.time_s[first]),
            values={"seconds": seconds}))
    return tuple(found)


def supply_findings(recording: Recording, blocks: Blocks, spans: tuple[Span, ...],
                    starts: dict[str, tuple[float, float]], parameters: Parameters,
                    ) -> tuple[Finding, ...]:
    """Return that the supply was not logged, where that hides a lift.

    starts: by track, (start of travel in volts, +1 rising or -1 falling). With a stated tolerance
    the supply may have lain anywhere within it, and only a reading that might then pass leaves the
    verdict open; without one nothing bounds a sag. A controller that does not measure against the
    supply sees the volts as they were logged.
    """
    if recording.supply is not None or not parameters.ratiometric_controller:
        return ()
    stated = parameters.supply_stated or parameters.supply_tolerance != _USUAL_TOLERANCE
    nearest: tuple[float, str] | None = None
    for column, (start, sign) in starts.items():
        stats = blocks.stated[column]
        worst = float("nan")
        for span in spans:
            piece = blocks.between(span.on_row, span.off_row)
            series = stats.highest[piece] if sign > 0 else stats.lowest[piece]
            seen = series[np.isfinite(series)]
            if seen.size:
                level = float(seen.max() if sign > 0 else seen.min())
                worst = level if worst != worst else (max if sign > 0 else min)(worst, level)
        tolerance = parameters.supply_tolerance
        ratio = worst / (1.0 - tolerance) if sign > 0 else worst / (1.0 + tolerance)
        room = sign * (start - ratio)
        if worst == worst and (nearest is None or room < nearest[0]):
            nearest = (room, column)
    if stated and (nearest is None or nearest[0] > 0):
        return ()
    return (Finding("supply not logged", 2, "supply", values={
        "tolerance_percent": 100 * parameters.supply_tolerance,
        "track": nearest[1] if stated and nearest else None}),)


def _at_end(channel: Channel, start: int, stop: int, only_high: bool) -> Mask:
    """Return where raw readings are the first or last that the converter can give."""
    raw = channel.readings[start:stop]
    high = channel.codes.at_high(raw)
    return high if only_high else high | channel.codes.at_low(raw)


def _within(rows: Ints, spans: Iterable[Span]) -> Mask:
    """Return which rows, each with the one before it, touch a time with the key on."""
    inside: Mask = np.zeros(rows.shape, dtype=bool)
    for span in spans:
        inside |= (rows >= span.on_row) & (rows <= span.off_row)
    return inside


def _comes_regularly(times: Array, step: float) -> bool:
    if times.size < 10:
        return False
    picks = np.linspace(0, times.size - 2, min(times.size - 1, 100_000)).astype(np.int64)
    return float(np.quantile(times[picks + 1] - times[picks], 0.9)) < _REGULAR * step


def _seconds(times: Array, span: Span) -> float:
    return float(times[min(span.off_row, times.size - 1)] - times[span.on_row])

"""When the key was turned: from the key line, marks, the supply appearing, or the signal itself.

The first of these that shows at least one key-on is believed, in that order: a wire tells the
time better than a hand, and a hand better than a guess from noise.
"""

from dataclasses import dataclass, replace

import numpy as np

from analysis.evidence.claim import Finding
from analysis.key_on.blocks import Blocks, Bools, switchings, volts_of
from analysis.key_on.opening import KEY_UNCLEAR
from analysis.model.errors import NoKeyOn
from analysis.model.recording import Array, Channel, Recording

# Contact bounce and noise on the key line: shorter states are not the key (common practice).
_DEBOUNCE_S = 0.03
# A key is not turned off and on again in less: such a dip is the starter's, or a bad contact's
# (common practice, no source).
_DIP_S = 0.5
# A switched line that a capacitor slows is half way for a second in ten at most (common practice,
# no source); a sine is within these 30 % of its swing for 19 % of the time, noise longer.
_MOST_BETWEEN = 0.12
# A line that never moves by this was not wired or not switched (volts; common practice).
_LEAST_SWING = 0.5
# A hand that marks is so late or early (common practice, no source); a step of the signal further
# off than that, and within the second, contradicts it.
MARK_UNSURE_S, MARK_FAR_S = 1.5, 6.0
_CHUNK = 500_000
# A signal edge must stand this far out of the usual change from second to second. 12 robust
# standard deviations: noise with bursts stays below 8 in simulation (analysis.simulation.car).
_EDGE_SCORE = 12.0


@dataclass(frozen=True)
class Span:
    """Hold the rows of one key cycle: rest before [before_row, on_row), key on to off_row."""

    before_row: int
    on_row: int
    off_row: int


@dataclass(frozen=True)
class KeyTimes:
    """Hold the spans, how they were found, and how unsure the times are (seconds, one side).

    still: the key line that never moved in the log, None when it did or there is none. off_s: by
    how much marks were off what the signal plainly shows, and its time was taken instead.
    confirmed: at least half of the key-ons have a plain step within what they are unsure by.
    unclear: a key line that moves, but stands at no two levels.
    """

    spans: tuple[Span, ...]
    found_by: str
    unsure_s: float
    still: str | None = None
    off_s: tuple[float, ...] = ()
    confirmed: bool = True
    unclear: str | None = None


def _two_levels(mean: Array) -> bool:
    """Return whether a line stands at one or two levels nearly all the time, as a key switch does.

    A wire that hangs in the air picks up hum, which spends a fifth of its time half way.
    """
    finite = mean[np.isfinite(mean)]
    if not finite.size or not np.ptp(finite) >= _LEAST_SWING:
        return True
    bottom, top = float(finite.min()), float(finite.max())
    between = (finite > bottom + 0.35 * (top - bottom)) & (finite < bottom + 0.65 * (top - bottom))
    return float(np.mean(between)) < _MOST_BETWEEN


def find_cycles(recording: Recording, blocks: Blocks, free: Bools) -> KeyTimes:
    """Return the key cycles of a log; raise NoKeyOn when nothing shows one.

    free: shape (blocks,), False where a foot seems to be on the pedal; only used when the time
    of key-on has to be found from the tracks themselves.
    """
    still = unclear = None
    stands_on = False
    for channel in recording.with_role("key"):
        if not _two_levels(blocks.measured[channel.column]):
            unclear = unclear or channel.column
            continue
        edges = _level_edges(recording, channel, blocks)
        if edges is not None and (edges[1] or edges[2]):
            return KeyTimes(_spans(edges, recording.rows), "key channel", 0.0)
        if still is None and np.isfinite(blocks.measured[channel.column]).any():
            still = channel.column
        stands_on |= edges is not None and edges[0]
    try:
        found = _without_wire(recording, blocks, free, stands_on)
    except NoKeyOn:
        if unclear is None:
            raise
        raise NoKeyOn("no key-on, key line unclear", column=unclear, rows=recording.rows) from None
    return replace(found, still=still, unclear=unclear)


def _without_wire(recording: Recording, blocks: Blocks, free: Bools, stands_on: bool) -> KeyTimes:
    """Return the key cycles by anything but a key line; stands_on: one that is on all along."""
    marked = _mark_edges(recording)
    if marked[1]:
        steps = _signal_edges(recording, blocks, free, True)
        seen, off_s = _by_signal(marked, steps, blocks.step_s)
        near = [any(abs(row - s) * blocks.step_s <= MARK_UNSURE_S for s in (*steps[1], *steps[2]))
                for row in seen[1]]
        return KeyTimes(_spans(seen, recording.rows), "mark", MARK_UNSURE_S, None, off_s,
                        2 * sum(near) >= len(near))
    if stands_on:
        return KeyTimes(_spans((True, [], []), recording.rows), "key channel", 0.0)
    if recording.supply is not None:
        found = _level_edges(recording, recording.supply, blocks,
                             0.3 * recording.nominal_volts, 0.6 * recording.nominal_volts)
        if found is not None and found[1]:
            return KeyTimes(_spans(found, recording.rows), "supply", 0.0)
    edges = _signal_edges(recording, blocks, free)
    if edges[1]:
        return KeyTimes(_spans(edges, recording.rows), "signal", 0.2)
    if marked[0]:
        return KeyTimes(_spans(marked, recording.rows), "mark", 1.5)
    raise NoKeyOn("no key-on", rows=recording.rows)


def _by_signal(marked: "_Edges", signal: "_Edges",
               step_s: float) -> tuple["_Edges", tuple[float, ...]]:
    """Return the marked edges, moved to the steps that most of them plainly missed, and how far.

    Only when at least half of the key-ons, two or more, have a step beyond what a hand is unsure by
    on the same side: one step beside one mark may be anything.
    """
    steps = sorted([*signal[1], *signal[2]])

    def moved(rows: list[int]) -> list[int]:
        near = [min(steps, key=lambda s: abs(s - row)) if steps else row for row in rows]
        offs = [(row - s) * step_s for row, s in zip(rows, near, strict=True)]
        far = [o for o in offs if MARK_UNSURE_S < abs(o) <= MARK_FAR_S]
        late = [o for o in far if o > 0]
        side = late if 2 * len(late) >= len(far) else [o for o in far if o < 0]
        if len(side) < 2 or 2 * len(side) < len(rows):
            return rows
        sign = 1.0 if side[0] > 0 else -1.0
        taken.extend(o for o in offs if sign * o > MARK_UNSURE_S and abs(o) <= MARK_FAR_S)
        return [s if sign * o > MARK_UNSURE_S and abs(o) <= MARK_FAR_S else row
                for row, s, o in zip(rows, near, offs, strict=True)]

    taken: list[float] = []
    return (marked[0], moved(marked[1]), moved(marked[2])), tuple(taken)


def mark_finding(times: KeyTimes) -> tuple[Finding, ...]:
    """Return that the signal contradicts the marks, whose times are not used then."""
    if not times.off_s:
        return ()
    most = max(times.off_s, key=abs)
    return (Finding("marks contradicted", 2, "log", values={
        "off_s": most, "marks": len(times.off_s)}),)


def still_finding(recording: Recording, times: KeyTimes) -> tuple[Finding, ...]:
    """Return that a key line never moved or stood at no two levels; empty for one that did."""
    if times.unclear is not None:
        volts = volts_of(recording.channel(times.unclear), 0, min(recording.rows, _CHUNK))
        low, high = (float(np.nanquantile(volts, q)) for q in (0.01, 0.99))
        return (Finding(KEY_UNCLEAR, 2, "log", channel=times.unclear, values={
            "low_volts": low, "high_volts": high, "found_by": times.found_by}),)
    if times.still is None:
        return ()
    channel = recording.channel(times.still)
    volts = volts_of(channel, 0, min(recording.rows, _CHUNK))
    level = float(np.nanmedian(volts)) if np.isfinite(volts).any() else float("nan")
    return (Finding("key line still", 2, "log", channel=times.still, values={
        "level_volts": level, "found_by": times.found_by}),)


# edges: (on at the first row?, rows of key-on, rows of key-off)
_Edges = tuple[bool, list[int], list[int]]


def _spans(edges: _Edges, rows: int) -> tuple[Span, ...]:
    on_at_start, ons, offs = edges
    starts = ([0] if on_at_start else []) + ons
    spans = []
    previous_off = 0
    for number, on in enumerate(starts):
        following = starts[number + 1] if number + 1 < len(starts) else rows
        off = next((o for o in offs if o > on), rows)
        off = min(off, following)
        spans.append(Span(min(previous_off, on), on, off))
        previous_off = off
    return tuple(spans)


def _level_edges(recording: Recording, channel: Channel, blocks: Blocks,
                 low: float | None = None, high: float | None = None) -> _Edges | None:
    """Return the edges of a two-level line; None when it cannot be read as one."""
    mean = blocks.measured[channel.column]
    finite = mean[np.isfinite(mean)]
    if not finite.size:
        return None
    if low is None or high is None:
        bottom, top = float(finite.min()), float(finite.max())
        if top - bottom < _LEAST_SWING:
            return (True, [], []) if bottom > 2.0 else None
        low, high = bottom + 0.35 * (top - bottom), bottom + 0.65 * (top - bottom)
    shortest = max(1, round(_DEBOUNCE_S / blocks.step_s))
    rows: list[int] = []
    states: list[bool] = []
    state: bool | None = None
    for begin in range(0, recording.rows, _CHUNK):
        volts = volts_of(channel, begin, begin + _CHUNK)
        at, turned, state = switchings(volts, high, low, state)
        rows += [begin + i for i in at]
        states += turned
    if not rows:
        return None
    return _undipped(_debounced(rows, states, recording.rows, shortest),
                     round(_DIP_S / blocks.step_s))


def _undipped(edges: _Edges, shortest: int) -> _Edges:
    """Return the edges without the times off that are shorter than so many rows."""
    on_at_start, ons, offs = edges
    dips = [(off, on) for off in offs
            if (on := next((o for o in ons if o > off), None)) is not None
            and on - off < shortest]
    gone_off, gone_on = {a for a, _ in dips}, {b for _, b in dips}
    return (on_at_start, [o for o in ons if o not in gone_on],
            [o for o in offs if o not in gone_off])


def _debounced(rows: list[int], states: list[bool], total: int, shortest: int) -> _Edges:
    kept_rows, kept_states = [0], [states[0]]
    bounced_from: int | None = None
    for number, (row, state) in enumerate(zip(rows, states, strict=True)):
        until = rows[number + 1] if number + 1 < len(rows) else total
        first = row if bounced_from is None else bounced_from
        # A bouncing contact: the first touch is the time of the switching.
        bounced_from = first if until - row < shortest else None
        if bounced_from is not None or state == kept_states[-1]:
            continue
        kept_rows.append(first)
        kept_states.append(state)
    pairs = list(zip(kept_rows, kept_states, strict=True))[1:]
    return (kept_states[0], [r for r, s in pairs if s], [r for r, s in pairs if not s])


def _mark_edges(recording: Recording) -> _Edges:
    # Twice at one row is one mark; after the last row there is nothing that it could tell.
    ons, offs = (sorted({m.row for m in recording.marks if m.text.strip().lower() == text
                         and m.row < recording.rows}) for text in ("key on", "key off"))
    on_at_start = bool(offs) and (not ons or offs[0] < ons[0])
    # A log that begins with a mark "key on" at its first row was on all along.
    if ons and ons[0] == 0:
        on_at_start, ons = True, ons[1:]
    return on_at_start and offs[0] > 0 if offs else on_at_start, ons, offs


def _signal_edges(recording: Recording, blocks: Blocks, free: Bools,
                  with_supply: bool = False) -> _Edges:
    """Return edges where level or noise of a track changes and stays changed for a second.

    with_supply: or where the level of the supply does.
    """
    width = max(4, round(1.0 / (blocks.size * blocks.step_s)))
    if blocks.count < 4 * width:
        return False, [], []
    scores, jumps = [], []
    for channel in recording.with_role("track"):
        stats = blocks.stated[channel.column]
        floor = max(channel.step_volts**2 / 12.0, 1e-12)
        for series in (stats.mean, np.log(np.maximum(stats.variance, floor))):
            jump = _step_size(np.where(free, series, np.nan), width)
            seen = jump[np.isfinite(jump)]
            if not seen.size:
                continue
            usual = 1.4826 * float(np.median(np.abs(seen - np.median(seen))))
            usual = max(usual, 0.1 * channel.step_volts, 1e-6)
            jumps.append(jump / usual)
            scores.append(np.abs(np.nan_to_num(jump / usual)))
    if with_supply and recording.supply is not None:
        jump = _step_size(blocks.measured[recording.supply.column], width)
        seen = jump[np.isfinite(jump)]
        if seen.size:
            usual = max(1.4826 * float(np.median(np.abs(seen - np.median(seen)))),
                        0.1 * recording.supply.step_volts, 1e-6)
            jumps.append(jump / usual)
            scores.append(np.abs(np.nan_to_num(jump / usual)))
    if not scores:
        return False, [], []
    score = np.max(scores, axis=0)
    # The ramp of a press is a change too: none within a second of a foot counts.
    footed = np.convolve(~free, np.ones(2 * width + 1), mode="same") > 0.5
    score[footed] = 0.0
    vectors = np.nan_to_num(np.array(jumps))
    ons: list[int] = []
    offs: list[int] = []
    first: Array | None = None
    while True:
        peak = int(np.argmax(score))
        if score[peak] < _EDGE_SCORE:
            break
        ons.append(peak)
        score[max(0, peak - 2 * width):peak + 2 * width] = 0.0
    peaks, ons = sorted(ons), []
    for peak in peaks:
        vector = vectors[:, peak]
        if first is None:
            first = vector
        row = int(blocks.first_row[peak])
        (ons if float(vector @ first) > 0.0 else offs).append(row)
    return False, ons, offs


def _step_size(series: Array, width: int) -> Array:
    """Return mean of the `width` blocks from i on minus that of those before i, shape (n,)."""
    good = np.isfinite(series)
    total = np.concatenate([[0.0], np.cumsum(np.where(good, series, 0.0))])
    count = np.concatenate([[0], np.cumsum(good)])
    n = series.size
    result: Array = np.full(n, np.nan)
    i = np.arange(width, n - width + 1)
    after, before = count[i + width] - count[i], count[i] - count[i - width]
    enough = (after >= width // 2) & (before >= width // 2)
    i, after, before = i[enough], after[enough], before[enough]
    result[i] = (total[i + width] - total[i]) / after - (total[i] - total[i - width]) / before
    return result

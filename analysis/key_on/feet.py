"""Which movements of both tracks a user stated to be a foot, and which no foot can make.

A movement that is neither stays left out, but nobody knows what it was: the verdict stays open.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from analysis.key_on.blocks import Blocks, Bools, stated_of
from analysis.key_on.cycles import KeyTimes, Span
from analysis.key_on.opening import FOOT_NOT_STATED
from analysis.key_on.presses import NOT_DRIVEN, Driven, TrackFacts
from analysis.key_on.rests import judged_spans
from analysis.key_on.results import Press
from analysis.model.finding import Finding, KeyOnCode
from analysis.model.recording import Array, Recording

ELECTRICAL: KeyOnCode = "electrical, not a foot"
# A mark by hand may come so much sooner or later than the foot (common practice, no source).
_MARK_REACH_S = 3.0
_FOOT_WORDS = frozenset({"foot", "press", "pressed", "pedal"})
_SWITCHES = ("foot", "pedal", "switch")
# A foot needs some 0.1 s for the travel and a spring some 0.05 s back: an edge that is over from
# one reading to the next within this was no mechanism (common practice, no source).
_EDGE_S = 0.011
# Nobody presses at the same delay after the key, time and again, to so many seconds: a person's
# reaction alone scatters by more than 20 ms (common practice, no source).
_SAME_DELAY_S = 0.02
_LEAST_ALIKE = 3
# Volts this equal on both tracks, where the pedal would move them by volts so much unequal.
_EQUAL, _UNEQUAL = 0.03, 0.15


@dataclass(frozen=True)
class _Shape:
    """Hold one movement: row of its rise, both edges in rows (the slower track), volts by track."""

    row: int
    rise_rows: float
    fall_rows: float
    volts: tuple[float, ...]


def sort_presses(recording: Recording, blocks: Blocks, free: Bools, facts: tuple[TrackFacts, ...],
                 times: KeyTimes, presses: tuple[Press, ...], gain: float,
                 driven: Driven = NOT_DRIVEN,
                 ) -> tuple[tuple[Press, ...], Bools, tuple[Finding, ...]]:
    """Return the movements that stay left out, where no foot is, and what was found.

    gain: volts of the second track per volt of the first as the pedal moves them, NaN unknown.
    driven: where a foot was asked for.
    What a foot cannot have made is taken back into `free` (shape (blocks,)), to be judged.
    """
    if not presses:
        return presses, free, ()
    presses = tuple(replace(p, stated=driven.states(_row(recording, p)) or _stated(
        recording, blocks, p)) for p in presses)
    shapes = {p.start_s: _shape(recording, blocks, facts, p) for p in presses}
    known = {s: shape for s, shape in shapes.items() if shape is not None}
    delays = _delays(known, times, blocks.step_s)
    same = _same_delay(delays, times, blocks.step_s)
    equal = _equal_volts(known, facts, gain)
    kept, electrical, signs = [], [], set()
    for press in presses:
        shape = known.get(press.start_s)
        found = set() if shape is None else {
            sign for sign, shows in (("edge", _is_edge(shape, blocks.step_s)),
                                     ("delay", press.start_s in same),
                                     ("volts", press.start_s in equal)) if shows}
        # A brake pressed meanwhile states a foot, and two signs that none did it outweigh that.
        if len(found) > int(press.stated):
            electrical.append(replace(press, stated=False))
            signs |= found
        else:
            kept.append(press)
    free = free.copy()
    for press in electrical:
        free[(blocks.time_s >= press.start_s) & (blocks.time_s <= press.end_s)] = True
    found_here = []
    if electrical:
        delay = [delays[p.start_s] for p in electrical if p.start_s in delays]
        found_here.append(_electrical(electrical, signs, delay, known))
    judged = judged_spans(recording, blocks, times)
    unstated = [p for p in kept if not p.stated and _with_key(p, blocks, judged)]
    if unstated:
        found_here.append(_not_stated(unstated))
    return tuple(kept), free, tuple(found_here)


def _row(recording: Recording, press: Press) -> int:
    """Return the row in the middle of a movement: its padding may reach beyond what was asked."""
    return int(np.searchsorted(recording.time_s, 0.5 * (press.start_s + press.end_s)))


def _is_edge(shape: _Shape, step_s: float) -> bool:
    """Return whether it rose and fell from one row to the next, quicker than any foot."""
    rows = max(shape.rise_rows, shape.fall_rows)
    return rows <= 1 and step_s * max(1.0, rows) <= _EDGE_S


def _stated(recording: Recording, blocks: Blocks, press: Press) -> bool:
    """Return whether a mark or a switch says that a foot was there."""
    for mark in recording.marks:
        if not mark.row < recording.rows:
            continue
        words = mark.text.strip().lower().split()
        at = float(recording.time_s[mark.row])
        if (words and words[0] in _FOOT_WORDS and not {"off", "no", "not", "up"} & set(words)
                and press.start_s - _MARK_REACH_S <= at <= press.end_s + _MARK_REACH_S):
            return True
    inside = (blocks.time_s >= press.start_s) & (blocks.time_s <= press.end_s)
    lines = [*recording.with_role("brake"), *recording.with_role("switch"), *(
        c for c in recording.with_role("other") if c.column.lower().startswith(_SWITCHES))]
    for line in lines:
        volts = blocks.measured[line.column]
        finite = np.isfinite(volts)
        if not finite.any() or np.ptp(volts[finite]) < 0.5:
            continue
        high = volts > 0.5 * (volts[finite].min() + volts[finite].max())
        usual = bool(np.mean(high[finite & ~inside]) > 0.5) if (finite & ~inside).any() else False
        if np.any(high[inside & finite] != usual):
            return True
    return False


def _shape(recording: Recording, blocks: Blocks, facts: tuple[TrackFacts, ...],
           press: Press) -> _Shape | None:
    """Return the movement read row by row; None where its edges are not all in the log."""
    first = int(np.searchsorted(blocks.time_s, press.start_s))
    last = int(np.searchsorted(blocks.time_s, press.end_s, side="right"))
    a = int(blocks.first_row[max(first - 2, 0)])
    b = min(int(blocks.first_row[last - 1]) + blocks.size, recording.rows)
    rises, falls, rows, volts = [], [], [], []
    for fact in facts:
        level = fact.sign * stated_of(recording, recording.channel(fact.column), a, b)
        edges = _edges(level)
        if edges is None:
            return None
        rise, fall, row, height = edges
        rises.append(rise)
        falls.append(fall)
        rows.append(row)
        volts.append(fact.sign * height)
    return _Shape(a + min(rows), max(rises), max(falls), tuple(volts))


def _edges(level: Array) -> tuple[int, int, int, float] | None:
    """Return rows of the rise and of the fall, the row of the rise, and the height of a block.

    0 or 1: from one reading to the next.
    """
    finite = np.flatnonzero(np.isfinite(level))
    values = level[finite]
    if values.size < 8:
        return None
    base = float(np.median(np.concatenate([values[:3], values[-3:]])))
    far = values - base
    top = float(np.max(far))
    beyond = np.flatnonzero(far > 0.5 * top)
    if not top > 0 or beyond[0] == 0 or beyond[-1] == far.size - 1:
        return None
    height = float(np.median(far[beyond]))
    high, low = 0.8 * height, 0.15 * height
    start, stop = int(beyond[0]), int(beyond[-1])
    before = np.flatnonzero(far[:start] < low)
    up = np.flatnonzero(far[start:] > high)
    after = np.flatnonzero(far[stop:] < low)
    down = np.flatnonzero(far[:stop + 1] > high)
    if not (before.size and up.size and after.size and down.size):
        return None
    rise = start + int(up[0]) - int(before[-1])
    fall = stop + int(after[0]) - int(down[-1])
    return rise, fall, int(finite[start]), height


def _delays(known: dict[float, _Shape], times: KeyTimes, step_s: float) -> dict[float, float]:
    """Return for each movement the seconds since its key-on; empty when that time is unsure."""
    if times.unsure_s > 0:
        return {}
    result = {}
    for at, shape in known.items():
        for span in times.spans:
            if span.on_row <= shape.row < span.off_row:
                result[at] = (shape.row - span.on_row) * step_s
    return result


def _same_delay(delays: dict[float, float], times: KeyTimes, step_s: float) -> set[float]:
    """Return the movements that come at every key-on after the same delay."""
    reach = max(_SAME_DELAY_S, 1.5 * step_s)
    if len(times.spans) < _LEAST_ALIKE or len(delays) < len(times.spans):
        return set()
    values = np.array(list(delays.values()))
    for middle in values:
        alike = {at for at, delay in delays.items() if abs(delay - middle) <= reach}
        if len(alike) >= len(times.spans):
            return alike
    return set()


def _equal_volts(known: dict[float, _Shape], facts: tuple[TrackFacts, ...],
                 gain: float) -> set[float]:
    """Return the movements of equal volts where the pedal's own would not be equal."""
    if len(facts) != 2 or not np.isfinite(gain) or abs(gain - 1.0) < _UNEQUAL:
        return set()
    return {at for at, shape in known.items()
            if abs(shape.volts[1] - shape.volts[0]) < _EQUAL * abs(shape.volts[0])}


def _with_key(press: Press, blocks: Blocks, judged: tuple[Span, ...]) -> bool:
    at = [(float(blocks.time_s[min(blocks.index(s.on_row), blocks.count - 1)]),
           float(blocks.time_s[min(blocks.index(s.off_row), blocks.count - 1)]))
          for s in judged]
    return any(press.start_s <= off and press.end_s >= on for on, off in at)


def _electrical(found: list[Press], signs: set[str], delays: list[float],
                known: dict[float, _Shape]) -> Finding:
    volts = max(abs(v) for p in found for v in known[p.start_s].volts)
    return Finding(ELECTRICAL, 3, "log", time_s=found[0].start_s, values={
        "times": float(len(found)), "furthest_volts": volts,
        "signs": tuple(s for s in ("delay", "volts", "edge") if s in signs),
        "delay_s": float(np.median(delays)) if delays else float("nan")})


def _not_stated(found: Iterable[Press]) -> Finding:
    listed = list(found)
    return Finding(FOOT_NOT_STATED, 2, "log", time_s=listed[0].start_s, values={
        "times": float(len(listed)), "first_at_s": tuple(p.start_s for p in listed[:5])})

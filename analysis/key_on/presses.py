"""The foot on the pedal during a key-on log: found, left out of everything else, and told.

A foot moves both tracks, each towards pressed, and comes and goes while the key stays as it is.
A car that lifts one track, or both from key-on until key-off, is not a foot and stays in.
"""

from dataclasses import dataclass

import numpy as np

from analysis.key_on.blocks import Blocks, Bools, runs
from analysis.key_on.cycles import Span
from analysis.key_on.results import Press
from analysis.model.recording import Array

# Without a known span a foot is what moves the stronger track by this share of the supply:
# 6 % of 5 V is 0.3 V, about 8 % of the usual 3.5 V of travel (common practice, no source).
_PRESS_SHARE = 0.06
_PRESS_PERCENT = 8.0
# The pedal needs this long to come back to rest after the foot has left it (common practice).
_PADDING_S = 0.6
_SHORTEST_S = 0.1


@dataclass(frozen=True)
class TrackFacts:
    """Hold what is known of a track beforehand: sign +1 rising, -1 falling, and its span.

    guessed: the sign is taken from where the track rests, which nothing stated.
    """

    column: str
    sign: float
    why: str
    span_volts: float
    bench_rest_volts: float
    guessed: bool = False


@dataclass(frozen=True)
class Driven:
    """Hold what is known of the foot in a log that was driven; rows [start, stop).

    pressed: a foot was asked for, so a movement like a foot's is stated. moving: the wheels turn:
    with the key on the foot may be anywhere, and nothing there is judged as rest.
    """

    pressed: tuple[tuple[int, int], ...] = ()
    moving: tuple[tuple[int, int], ...] = ()

    def states(self, row: int) -> bool:
        """Return whether a foot was asked for at this row."""
        return any(start <= row < stop for start, stop in self.pressed)

    def out_of(self, free: Bools, blocks: Blocks, spans: tuple[Span, ...]) -> Bools:
        """Return `free` without what was driven with the key on; shape (blocks,)."""
        result = free.copy()
        for start, stop in self.moving:
            for span in spans:
                first, last = max(start, span.on_row), min(stop, span.off_row)
                if first < last:
                    result[blocks.index(first): blocks.index(last - 1) + 1] = False
        return result


NOT_DRIVEN = Driven()


def find_presses(blocks: Blocks, facts: tuple[TrackFacts, ...], spans: tuple[Span, ...],
                 nominal_volts: float) -> tuple[tuple[Press, ...], Bools]:
    """Return the presses and, shape (blocks,), True where no foot is on the pedal.

    spans may be empty when key-on is not known yet. Readings that are missing count as free.
    """
    free: Bools = np.ones(blocks.count, dtype=bool)
    limits = [_limit(fact, facts, nominal_volts) for fact in facts]
    moved = _movements(blocks, facts, spans, limits)
    pressed = np.ones(blocks.count, dtype=bool)
    for movement, limit in zip(moved, limits, strict=True):
        pressed &= movement > limit
    shortest = max(2, round(_SHORTEST_S / (blocks.size * blocks.step_s)))
    padding = max(1, round(_PADDING_S / (blocks.size * blocks.step_s)))
    edges = [blocks.index(row) for span in spans for row in (span.on_row, span.off_row)]
    # While key-on is not known the rest is that of the key off; the car's lift is no foot.
    still = 0.1 if spans else 0.5
    presses = []
    last_stop = 0
    for start, stop in runs(pressed):
        if stop - start < shortest or stop <= last_stop or _is_the_car(start, stop, spans, blocks):
            continue
        quiet = [movement < still * limit + 0.01
                 for movement, limit in zip(moved, limits, strict=True)]
        resting = np.logical_and.reduce(quiet)
        before = np.flatnonzero(resting[last_stop:start])
        after = np.flatnonzero(resting[stop:])
        begin = last_stop + int(before[-1]) + 1 if before.size else last_stop
        end = stop + int(after[0]) if after.size else blocks.count
        # The rest before key-on and the rest after it stay apart even when the foot was near.
        begin = max([begin - padding // 2] + [e for e in edges if begin - padding // 2 < e <= begin]
                    + [0])
        end = min(end + padding, blocks.count)
        free[begin:end] = False
        last_stop = end
        peak = int(np.nanargmax(moved[0][start:stop])) + start
        presses.append(Press(float(blocks.time_s[begin]), float(blocks.time_s[end - 1]),
                             float(facts[0].sign * moved[0][peak])))
    return tuple(presses), free


def _limit(fact: TrackFacts, facts: tuple[TrackFacts, ...], nominal: float) -> float:
    if np.isfinite(fact.span_volts):
        return _PRESS_PERCENT / 100.0 * abs(fact.span_volts)
    # The weaker of two unknown tracks may have half the slope, so ask less of it.
    share = _PRESS_SHARE if len(facts) == 1 or fact is facts[0] else 0.5 * _PRESS_SHARE
    return share * nominal


def _movements(blocks: Blocks, facts: tuple[TrackFacts, ...], spans: tuple[Span, ...],
               limits: list[float]) -> list[Array]:
    """Return how far each track stands towards pressed from the rest of its own stretch.

    A stretch in which every track rests a press away from the rest of the log may be all foot;
    it is measured from the log's rest. One track alone that far away is lifted by the car.
    """
    levels = [fact.sign * blocks.stated[fact.column].mean for fact in facts]
    overall = [_rest(level) for level in levels]
    bases = [np.full(level.shape, rest) for level, rest in zip(levels, overall, strict=True)]
    for span in spans:
        for first, last in ((span.before_row, span.on_row), (span.on_row, span.off_row)):
            piece = slice(blocks.index(first), blocks.index(last))
            own = [_rest(level[piece]) for level in levels]
            if all(abs(o - r) >= limit for o, r, limit in zip(own, overall, limits, strict=True)):
                continue
            for base, rest in zip(bases, own, strict=True):
                if np.isfinite(rest):
                    base[piece] = rest
    return [np.nan_to_num(level - base) for level, base in zip(levels, bases, strict=True)]


def _rest(directed: Array) -> float:
    # A fifth from the released end: a foot that is on the pedal more often than not must not
    # pass for the rest.
    finite = directed[np.isfinite(directed)]
    return float(np.quantile(finite, 0.2)) if finite.size else float("nan")


def _is_the_car(start: int, stop: int, spans: tuple[Span, ...], blocks: Blocks) -> bool:
    """Return True for what begins with the key and stays until the key goes off."""
    near = max(2, round(0.15 / (blocks.size * blocks.step_s)))
    for span in spans:
        on, off = blocks.index(span.on_row), blocks.index(span.off_row)
        if abs(start - on) <= near and (stop >= off - near):
            return True
    return False

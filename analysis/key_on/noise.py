"""The spectrum of the noise with the key off and on, from readings that nothing disturbs."""

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from analysis.key_on.blocks import Blocks, Bools, Ints, Readings, runs, stated_of
from analysis.key_on.rests import Settled
from analysis.model.recording import Array, Channel, Recording
from analysis.signal.spectrum import LEAST_READINGS, Spectrum, density, frequencies, piece_size

_MOST_PIECES = 200


def spectrum(log: Readings, channel: Channel, settled: Settled) -> Spectrum:
    """Return the spectrum before and after key-on; NaN arrays where there is too little.

    Pieces last 2 s (64 readings when those last longer), shorter when no undisturbed stretch is
    that long.
    """
    blocks = log.blocks
    before = [(s.before_row, s.before_stop) for s in settled.spans]
    stretches = [_undisturbed(blocks, log.free, group, settled.gaps)
                 for group in (before, settled.rows(blocks.step_s))]
    longest = [max((b - a for a, b in group), default=0) for group in stretches]
    useful = [length for length in longest if length >= LEAST_READINGS]
    if not useful:
        nothing = np.full(1, np.nan)
        return Spectrum(np.zeros(1), nothing, nothing)
    size = piece_size(min(useful), blocks.step_s)
    densities = [density(_pieces(log.recording, channel, group, size), size, blocks.step_s)
                 for group in stretches]
    return Spectrum(frequencies(size, blocks.step_s), densities[0], densities[1])


def _undisturbed(blocks: Blocks, free: Bools, rows: list[tuple[int, int]],
                 gaps: Ints) -> list[tuple[int, int]]:
    """Return row stretches without foot and without gap."""
    result = []
    for start, stop in rows:
        piece = blocks.between(start, stop)
        for a, b in runs(free[piece]):
            first = int(blocks.first_row[piece.start + a])
            last = min((piece.start + b) * blocks.size, stop)
            cuts = gaps[(gaps > first) & (gaps < last)].tolist()
            edges = [first, *cuts, last]
            result += [(x, y) for x, y in pairwise(edges) if y > x]
    return result


def _pieces(recording: Recording, channel: Channel, stretches: list[tuple[int, int]],
            size: int) -> Iterator[Array]:
    starts = [s for a, b in stretches for s in range(a, b - size + 1, max(1, size // 2))]
    if len(starts) > _MOST_PIECES:
        starts = [starts[i] for i in np.linspace(0, len(starts) - 1, _MOST_PIECES).astype(int)]
    return (stated_of(recording, channel, start, start + size) for start in starts)

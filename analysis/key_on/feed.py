"""What the step of the supply's own converter leaves in the shift of a track that it states."""

import numpy as np

from analysis.key_on import supply
from analysis.key_on.blocks import Readings, volts_of
from analysis.key_on.rests import Rests
from analysis.key_on.shift import Doubt, rounding_doubt


class FeedDoubt:
    """Hold what is found of the supply once for all tracks of a log."""

    def __init__(self, log: Readings, spans: tuple[Rests, ...],
                 waits_s: tuple[float, ...]) -> None:
        self._log, self._spans, self._waits_s = log, spans, waits_s
        self._noise = _noise(log)
        self._found: dict[int, Doubt] = {}

    def of(self, column: str, number: int) -> Doubt:
        """Return what it leaves in the shift of a track at one key-on (from 0), volts."""
        recording, blocks, free = self._log.recording, self._log.blocks, self._log.free
        feed, span = recording.supply, self._spans[number]
        if feed is None:
            return Doubt()
        row = span.on_row + round(self._waits_s[number] / blocks.step_s)
        volts, _, _ = supply.supply_levels(blocks, feed.column, span, self._waits_s[number])
        stated = blocks.stated[column].mean
        stated = stated[np.isfinite(stated)]
        if not volts > 0.1 * recording.nominal_volts or not stated.size:
            return Doubt()
        if number not in self._found:
            pieces = [np.arange(blocks.count)[blocks.between(*rows)]
                      for rows in ((span.before_row, span.before_stop), (row, span.off_row))]
            pieces = [piece[free[piece]] for piece in pieces]
            self._found[number] = rounding_doubt(recording, feed, blocks, pieces[0], pieces[1],
                                                 self._noise)
        found = self._found[number]
        # A supply read too high states the track too low.
        share = float(np.median(stated)) / volts
        return Doubt(-share * found.expected, abs(share) * found.uncertainty)


def _noise(log: Readings) -> float:
    """Return the rms of the supply's readings about their level: median over 16 places."""
    feed, rows = log.recording.supply, log.recording.rows
    if feed is None:
        return 0.0
    length = min(rows, 20 * log.blocks.size)
    places = np.linspace(0, rows - length, 16).astype(int)
    spread = [float(np.std(volts_of(feed, p, p + length))) for p in places]
    finite = [s for s in spread if np.isfinite(s)]
    return float(np.median(finite)) if finite else 0.0

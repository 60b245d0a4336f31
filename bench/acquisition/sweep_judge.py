"""What a guided sweep has shown so far, press by press: the judge that both faces ask.

Pure: volts and plan time in, answers out. It only counts and hints; what the sweep is worth is for
the analysis to say.
"""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.model.recording import Array, Channel

# The level now: the middle of so long, so that a contact lost for half of it is no press; and of at
# least so many rows, at most so many where nobody says how fast they come.
LEVEL_S, _LEAST_ROWS, _USUAL_ROWS = 0.15, 5, 15
# A press moves a track by this share of its range, or by so many volts, before it is known how
# far a full one goes (as in the guided plan's own refusals).
LEAST_SHARE, LEAST_VOLTS = 0.02, 0.1
# After the first press: this share of the furthest so far is a press, and this one a full press.
PRESS_SHARE, FULL_SHARE = 0.25, 0.9
# Back at rest: within this share of the furthest, of where a track rested first.
BACK_SHARE = 0.06
# One track moves this many times more than the other, in shares of its range.
ONE_SIDED = 20.0
# How far a full press goes, as a share of the range, until the first one has shown it.
GUESSED_SHARE = 0.45
# A hole this long in a press, or of so many rows where they come slowly, is no press seen whole.
TORN_S, TORN_ROWS = 0.1, 5.0


@dataclass(frozen=True)
class Cycle:
    """Hold one press and return: how far each track went (volts), and whether all came back.

    quick: it ended in a lift-off. whole: no readings are missing in it.
    """

    peak_volts: tuple[float, ...]
    shallow: bool
    back: bool
    quick: bool = False
    whole: bool = True


@dataclass(frozen=True)
class Tally:
    """Hold what counts of a sweep so far, by its signal: slow presses, lift-offs, rests.

    tried: for each press seen, whether it was a lift-off, and "counts" or why it does not: "short"
    of the stop, "not back" afterwards, "torn" by missing readings.
    """

    presses: int = 0
    lift_offs: int = 0
    rests: int = 0
    tried: tuple[tuple[bool, str], ...] = ()


class SweepJudge:
    """Watch the tracks of a guided sweep; positions are volts away from the first rest.

    rate_hz: rows a second, None unknown.
    """

    def __init__(self, tracks: Sequence[Channel], rate_hz: float | None = None) -> None:
        self.columns = tuple(c.column for c in tracks)
        self._least = np.array([max(LEAST_VOLTS, LEAST_SHARE * _range(c)) for c in tracks])
        self._first: list[Array] = []
        self._rest: Array | None = None
        rows = _USUAL_ROWS if rate_hz is None else max(_LEAST_ROWS, round(LEVEL_S * rate_hz))
        self._last: deque[Array] = deque(maxlen=rows)
        self._peak = self._furthest = self._away = np.zeros(len(tracks))
        self._range = np.array([_range(c) for c in tracks])
        self._way = np.ones(len(tracks))
        self._known_stop = self._torn = False
        self._longest_s = max(TORN_S, TORN_ROWS / (rate_hz or TORN_ROWS / 0.5))
        self.cycles: list[Cycle] = []

    def take(self, volts: Array, resting: bool) -> None:
        """Take rows of track volts, shape (n, tracks); resting: still in the first rest."""
        if not volts.size:
            return
        if resting and self._rest is None:
            self._first.append(volts)
        elif self._rest is None:
            self._rest = np.nanmedian(np.concatenate(self._first or [volts]), axis=0)
        self._last.extend(volts)
        if self._rest is not None:
            with np.errstate(all="ignore"):
                self._away = np.median(np.array(self._last), axis=0) - self._rest
            away = self._away
            far = np.abs(away)
            self._way = np.where(far > self._furthest, np.sign(away), self._way)
            self._peak = np.fmax(self._peak, far)
            self._furthest = np.fmax(self._furthest, self._peak)
            moved = self._furthest >= self._least
            # On its way back from the first press: how far down goes is known.
            self._known_stop |= bool(moved.any() and np.all(far[moved] < 0.5
                                                            * self._furthest[moved]))

    def passed(self, longest_s: float) -> None:
        """Note the longest time between two rows that came: a press is not whole over a hole."""
        self._torn |= longest_s > self._longest_s

    def travel(self, volts: Array) -> Array:
        """Return how far down the pedal is by each track; volts of rows, shape (n, tracks).

        0 where it rested first, 1 where it went furthest so far; until the first press is on its
        way back nobody knows how far that is, and a share of the input's range stands for it.
        """
        rest = self._rest
        if rest is None:
            first = list(self._first)
            rest = np.nanmedian(np.concatenate(first or [volts]), axis=0)
        far = np.maximum(self._furthest, self._least)
        if not self._known_stop:
            far = np.maximum(far, GUESSED_SHARE * self._range)
        shares: Array = self._way * (volts - rest) / far
        return shares

    @property
    def away(self) -> Array:
        """Return how far each track stands from its first rest, in volts; NaN unread."""
        return self._away

    def begin_press(self) -> None:
        """Forget the last press: another is asked for now."""
        self._peak = np.abs(self.away)
        self._torn = False

    @property
    def pressed(self) -> bool:
        """Return whether a press was seen since one was asked for."""
        known = np.maximum(self._least, PRESS_SHARE * self._furthest)
        return bool(np.any(self._peak >= known))

    @property
    def back(self) -> bool:
        """Return whether every track that moves is back where it rested first."""
        return not np.any(np.abs(self.away) > np.maximum(self._least, BACK_SHARE * self._furthest))

    @property
    def still(self) -> tuple[str, ...]:
        """Return the tracks that stand still while another moves; () while nothing moved."""
        share = self._furthest / (self._least / LEAST_SHARE)
        if not np.any(self._furthest >= self._least):
            return ()
        return tuple(c for c, far, s in zip(self.columns, self._furthest >= self._least, share,
                                            strict=True)
                     if not far or s * ONE_SIDED < share.max())

    def end_cycle(self, shallow: bool, quick: bool = False) -> None:
        """Write down the press and return that are over now."""
        if self.pressed:
            self.cycles.append(Cycle(tuple(map(float, self._peak)), shallow, self.back, quick,
                                     not self._torn))

    @property
    def accepted(self) -> int:
        """Return how many presses and returns count: far enough, back, and seen whole."""
        return sum(self._counts(c) == "counts" for c in self.cycles)

    @property
    def tally(self) -> Tally:
        """Return what counts so far; the first rest counts once it is over."""
        cycles = tuple(self.cycles)
        tried = tuple((c.quick, self._counts(c)) for c in cycles)
        return Tally(tried.count((False, "counts")), tried.count((True, "counts")),
                     int(self._rest is not None) + sum(c.back and c.whole for c in cycles), tried)

    def _counts(self, cycle: Cycle) -> str:
        if not cycle.whole:
            return "torn"
        return "not back" if not cycle.back else "counts" if self._full(cycle) else "short"

    @property
    def short(self) -> int:
        """Return how many presses did not go as far as the furthest, where they were to."""
        return sum(not self._full(c) for c in self.cycles if c.whole)

    @property
    def torn(self) -> int:
        """Return in how many presses readings are missing."""
        return sum(not c.whole for c in self.cycles)

    @property
    def left_pressed(self) -> int:
        """Return after how many presses the pedal was not back when the next was asked for."""
        return sum(not c.back for c in self.cycles)

    def _full(self, cycle: Cycle) -> bool:
        if cycle.shallow:
            return True
        moving = self._furthest >= self._least
        return bool(np.any(moving & (np.array(cycle.peak_volts) >= FULL_SHARE * self._furthest)))


def _range(channel: Channel) -> float:
    """Return the volts at the sensor that a channel's input spans; 5 V where nobody said."""
    if channel.full_scale is None:
        return 5.0 * abs(channel.scale)
    return abs(channel.pin_volts_per_reading * channel.full_scale * channel.scale)

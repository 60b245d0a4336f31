"""The log in the car while it runs: how near every track came, and what of it was not seen.

Rules: only what the readings carry is claimed. One reading at start of travel with the key on is
"passed", at once and for good. That none was is "below" only while every track was read, against
its supply, all the time with the key on; anything unseen makes it "open", and open never becomes
better while the log runs. Whether power would have been applied is for the log's own verdict.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analysis.key_on.allowance import rest_moved, returns_reach
from analysis.key_on.seen import ACTS_S, SHARE
from analysis.model.recording import Array, Channel, Recording
from analysis.pedal.dead_band import sign_of
from analysis.pedal.findings import Findings
from bench.acquisition.key_on_logger import Switch, switch_of
from bench.acquisition.listener import Listener, Rows, Source
from bench.services.findings import assuming

State = Literal["waiting", "below", "open", "passed"]
# Ratios to a supply below this share of nominal mean nothing (Recording.stated_volts).
_LEAST_SUPPLY = 0.1
# A supply that the key switches comes up within this (common practice, no source).
_COMES_UP_S = 0.5
# Intervals longer than so many usual ones are holes where rows come regularly.
_HOLE = 2.5
# Short holes are summed over so much key-on time at least: at the beginning one is a large share.
_LEAST_ON_S = 10.0
# A rest is told by the readings of so long, which must agree in so many pieces.
_REST_S, _STEADY_PIECES = 0.8, 4


@dataclass(frozen=True)
class TrackLine:
    """Hold what one track is judged by: rest and start of travel (NaN unknown), volts.

    sign: +1 for a track that rises as the pedal is pressed, -1 for one that falls.
    """

    column: str
    rest_volts: float
    start_volts: float
    sign: float


@dataclass(frozen=True)
class TrackNow:
    """Hold where one track stands; volts at nominal supply, NaN where not known.

    worst_volts: the reading nearest to start of travel with the key on; left_volts: what was left
    then, negative when it was passed.
    """

    line: TrackLine
    level_volts: float = float("nan")
    worst_volts: float = float("nan")
    left_volts: float = float("nan")

    @property
    def passed(self) -> bool:
        """Return whether start of travel was reached."""
        return self.left_volts <= 0.0


@dataclass(frozen=True)
class CarNow:
    """Hold how the log stands.

    why: codes of what leaves it open, with the values of each. key_on: None where no line tells.
    since_s: seconds since the key was turned last, NaN before. first_passed: the key-on in which
    start of travel was reached first, 0 for none.
    """

    state: State
    tracks: tuple[TrackNow, ...]
    why: tuple[tuple[str, Mapping[str, object]], ...] = ()
    key_on: bool | None = None
    since_s: float = float("nan")
    key_ons: int = 0
    first_passed: int = 0


def lines_of(swept: Findings | None, columns: Sequence[str]) -> tuple[TrackLine, ...]:
    """Return what tracks of these names are judged by: the values that the sweep alone gives."""
    nan = float("nan")
    if swept is not None and swept.car:
        swept = assuming(swept, swept.parameters)
    found = []
    for column in columns:
        track = None if swept is None else swept.tracks.get(column)
        if track is None or swept is None:
            found.append(TrackLine(column, nan, nan, 1.0))
            continue
        start = next((s.value for s in swept.settings
                      if (s.name, s.channel) == ("start_of_travel", column)), nan)
        found.append(TrackLine(column, track.rest.value, start, sign_of(track)))
    return tuple(found)


@dataclass(frozen=True)
class RestNow:
    """Hold one track's rest now beside the sweep's, volts at nominal supply.

    off_volts: towards pressed; allowed_volts: what the pedal's own returns may differ by.
    """

    column: str
    swept_volts: float
    now_volts: float
    off_volts: float
    allowed_volts: float
    same: bool


@dataclass(frozen=True)
class SamePedal:
    """Hold whether the readings are those of the sweep's pedal, by where they rest.

    answer: "yes", "no", or why it cannot be told: "no sweep", "sweep too thin", "no board",
    "other tracks" (those in `missing`), "no supply", "key on", "moving".
    """

    answer: str
    rests: tuple[RestNow, ...] = ()
    missing: tuple[str, ...] = ()


def same_pedal(swept: Findings | None, channels: Sequence[Channel], time_s: Array,
               readings: NDArray[np.int64] | Array, key_volts: float = 2.0) -> SamePedal:
    """Return whether the pedal rests where the sweep's does, by its readings of the last second.

    channels: as connected; time_s: shape (n,); readings: shape (n, channels). What the car adds
    with the key on is no answer: above key_volts on a key line none is given.
    """
    if swept is None:
        return SamePedal("no sweep")
    if not time_s.size or time_s[-1] - time_s[0] < _REST_S:
        return SamePedal("no board")
    live = Recording(time_s, tuple(_holding(c, readings[:, k]) for k, c in enumerate(channels)))
    missing = tuple(c for c in swept.tracks if c not in {t.column for t in live.with_role("track")})
    if missing:
        return SamePedal("other tracks", (), missing)
    if any(np.median(c.volts()) > key_volts for c in live.with_role("key")):
        return SamePedal("key on")
    rests = []
    for column, track in swept.tracks.items():
        channel = live.channel(column)
        volts = live.stated_volts(channel)
        if not np.isfinite(volts).all():
            return SamePedal("no supply")
        allowed = (returns_reach(track, swept.parameters) + swept.parameters.converter_error_steps
                   * (track.step_volts + channel.step_volts))
        if not np.isfinite([allowed, track.rest.value]).all():
            # Too few returns to say how far apart two of one pedal may lie: any rest would do.
            return SamePedal("sweep too thin")
        levels = np.array([np.median(p) for p in np.array_split(volts, _STEADY_PIECES)])
        if np.ptp(levels) > max(allowed, 4.0 * channel.step_volts):
            return SamePedal("moving")
        level = float(np.median(volts))
        off = sign_of(track) * (level - track.rest.value)
        moved = rest_moved(np.array([level]), track, swept.parameters, channel.step_volts)
        rests.append(RestNow(column, track.rest.value, level, off, allowed, moved == 0.0))
    return SamePedal("yes" if all(r.same for r in rests) else "no", tuple(rests))


def _holding(channel: Channel, readings: NDArray[np.int64] | Array) -> Channel:
    return replace(channel, readings=readings.astype(float))


@dataclass
class _Track:
    """What is kept of one track while the log runs."""

    line: TrackLine
    index: int
    worst: float = float("-inf")
    level: float = float("nan")
    unread_s: float = 0.0


@dataclass
class _Seen:
    """What of the key-on time was not seen so far."""

    on_s: float = 0.0
    holes_s: float = 0.0
    longest_s: float = 0.0
    codes: dict[str, Mapping[str, object]] = field(default_factory=dict)


class CarWatch(Listener):
    """Judge every row of a log as it comes; `now` may be asked from any thread.

    swept: the sweep whose values it is judged by; other_pedal: that its rest is another's.
    """

    def __init__(self, swept: Findings | None, key_volts: float,
                 other_pedal: bool = False) -> None:
        self._swept, self._key_volts = swept, key_volts
        self._tracks: list[_Track] = []
        self._seen = _Seen()
        if other_pedal:
            self._seen.codes["other pedal"] = {}
        self._switch: Switch | None = None
        self._supply: int | None = None
        self._nominal = 5.0
        self._factor = self._offset = self._low = self._high = np.empty(0)
        self._step_s = 0.0
        self._was_on = False
        self._last_s = float("nan")
        self._turned_s = float("nan")
        self._key_ons = self._first_passed = 0
        self.now = CarNow("waiting", ())

    def started(self, source: Source) -> None:
        """Learn what the columns are, and what of them is missing from the outset."""
        channels = source.channels
        recording = Recording(np.empty(0), channels)
        self._nominal = recording.nominal_volts
        self._supply = next((k for k, c in enumerate(channels) if c.role == "supply"), None)
        self._switch = switch_of(channels, self._key_volts)
        self._factor = np.array([c.pin_volts_per_reading * c.scale for c in channels])
        self._offset = np.array([c.offset_volts for c in channels])
        self._low = np.array([c.codes.least for c in channels])
        self._high = np.array([c.codes.most for c in channels])
        self._step_s = 1.0 / source.rate_hz if source.rate_hz else 0.0
        columns = [(k, c.column) for k, c in enumerate(channels) if c.role == "track"]
        lines = lines_of(self._swept, [c for _, c in columns])
        self._tracks = [_Track(line, k) for line, (k, _) in zip(lines, columns, strict=True)]
        self._note_missing([c for _, c in columns])
        self.now = self._shown()

    def _note_missing(self, columns: list[str]) -> None:
        """Note what is missing from the outset, so that the car cannot be judged by it."""
        blind = tuple(t.line.column for t in self._tracks if not np.isfinite(t.line.start_volts))
        swept = () if self._swept is None else tuple(self._swept.tracks)
        absent = tuple(c for c in swept if c not in columns)
        for code, tracks in (("no start of travel", blind), ("track not logged", absent)):
            if tracks:
                self._seen.codes[code] = {"tracks": tracks}
        # A controller that does not measure against the supply sees the volts as they are logged.
        if self._supply is None and (self._swept is None
                                     or self._swept.parameters.ratiometric_controller):
            self._seen.codes["supply not logged"] = {}
        if self._switch is None:
            self._seen.codes["key not logged"] = {}
        if self._step_s > ACTS_S:
            self._seen.codes["rate too low"] = {"step_s": self._step_s}

    def rows(self, rows: Rows) -> None:
        """Judge these rows."""
        on = self._key(rows)
        self._note_holes(rows, on)
        volts = rows.readings * self._factor + self._offset
        if self._supply is not None:
            supply = volts[:, self._supply]
            scale = np.where(supply > _LEAST_SUPPLY * self._nominal, supply, np.nan) / self._nominal
        else:
            scale = np.ones(rows.time_s.size)
        for track in self._tracks:
            self._judge(track, volts[:, track.index] / scale, on, rows)
        if on.any():
            self._note_ends(rows.readings[on])
        self._last_s = float(rows.time_s[-1])
        self.now = self._shown()

    def _key(self, rows: Rows) -> NDArray[np.bool_]:
        """Return in which rows the key is on; without a line that tells, in all of them."""
        size = rows.time_s.size
        if self._switch is None:
            return np.ones(size, dtype=bool)
        state = self._switch.state
        edges = self._switch.edges(rows.time_s, rows.readings)
        if state is None:
            # The first state ever seen; no turn led to it, but a key that is on is a key-on.
            state = bool(self._switch.state) if not edges else not edges[0][1]
            self._key_ons += state
        on = np.full(size, bool(state))
        for row, turned_on in edges:
            on[row:] = turned_on
            self._key_ons += turned_on
            self._turned_s = float(rows.time_s[row])
        return on

    def _note_holes(self, rows: Rows, on: NDArray[np.bool_]) -> None:
        """Note rows that are missing while the key is on."""
        first = self._last_s if np.isfinite(self._last_s) else float(rows.time_s[0])
        steps = np.diff(rows.time_s, prepend=first)
        if not self._step_s and steps.size > 1:
            self._step_s = float(np.median(steps[1:]))
        seen = self._seen
        seen.on_s += float(steps[on].sum())
        lost = np.maximum(steps, rows.lost_before * self._step_s)
        # A hole counts that begins or ends with the key on.
        touched = on | np.concatenate([[self._was_on], on[:-1]])
        self._was_on = bool(on[-1])
        holes = lost[touched & (lost > max(_HOLE * self._step_s, 1e-9))]
        if holes.size and self._step_s:
            seen.holes_s += float((holes - self._step_s).sum())
            seen.longest_s = max(seen.longest_s, float(holes.max()))
        if seen.longest_s > ACTS_S or seen.holes_s > SHARE * max(seen.on_s, _LEAST_ON_S):
            seen.codes["rows lost"] = {"longest_s": seen.longest_s}

    def _judge(self, track: _Track, stated: Array, on: NDArray[np.bool_], rows: Rows) -> None:
        seen = np.isfinite(stated)
        track.level = float(stated[seen].mean()) if seen.any() else float("nan")
        counted = stated[seen & on]
        if counted.size:
            track.worst = max(track.worst, float((track.line.sign * counted).max()))
            track.unread_s = 0.0
        elif on.any():
            track.unread_s += float(rows.time_s[-1]) - (
                self._last_s if np.isfinite(self._last_s) else float(rows.time_s[0]))
            if track.unread_s > _COMES_UP_S:
                self._seen.codes["no reading"] = {"tracks": (track.line.column,)}
        if track.worst >= track.line.sign * track.line.start_volts and not self._first_passed:
            self._first_passed = max(self._key_ons, 1)

    def _note_ends(self, readings: NDArray[np.int64] | Array) -> None:
        """Note tracks and a supply that read an end of their converter's range."""
        top = np.any(readings >= self._high, axis=0)
        at_end = np.logical_or(top, np.any(readings <= self._low, axis=0))
        clipped = tuple(t.line.column for t in self._tracks if at_end[t.index])
        if clipped:
            before = self._seen.codes.get("track clipped", {}).get("tracks", ())
            assert isinstance(before, tuple)
            self._seen.codes["track clipped"] = {
                "tracks": tuple(dict.fromkeys((*before, *clipped)))}
        if self._supply is not None and top[self._supply]:
            self._seen.codes["supply clipped"] = {}

    def _shown(self) -> CarNow:
        tracks = []
        for track in self._tracks:
            line, sign = track.line, track.line.sign
            worst = sign * track.worst if np.isfinite(track.worst) else float("nan")
            tracks.append(TrackNow(line, track.level, worst,
                                   sign * line.start_volts - track.worst
                                   if np.isfinite(track.worst) else float("nan")))
        codes = tuple(self._seen.codes.items())
        judged = any(np.isfinite(t.worst_volts) for t in tracks)
        state: State = ("passed" if any(t.passed for t in tracks) else
                        "waiting" if not judged and not codes else
                        "open" if codes or not tracks else "below")
        key = None if self._switch is None else self._switch.state
        return CarNow(state, tuple(tracks), codes, key, self._last_s - self._turned_s,
                      self._key_ons, self._first_passed)

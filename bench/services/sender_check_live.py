"""The guided check: points typed while the board is read, every reading kept in a recording."""

import collections
import datetime
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from analysis.model.errors import AnalysisError, NoCalibration
from analysis.model.recording import Array, Channel, Recording
from analysis.senders.calibration import Steady, points_from
from bench.acquisition.boards.board import Board
from bench.acquisition.boards.channels import ChannelOptions
from bench.acquisition.listener import Listener, Rows, Source
from bench.acquisition.recorder import Recorder
from bench.acquisition.recorder_file import FileListener
from bench.errors import BadCall, BoardTrouble
from bench.files.calibration_store import MeterResult, pin_volts
from bench.files.exports.calibration import equation_text, residual_text
from bench.files.recording_file import free_path
from bench.services.record import Order
from bench.services.sender_check import UNDO, SenderCheckOptions, Taken, calibrate_taken
from bench.wording.reasons import in_words
from bench.wording.refusals import refused

WAIT_FOR_BOARD_S = 15.0
WAIT_FOR_ROWS_S = 2.0


class LiveReadings(Listener):
    """Keep the last seconds of readings, for a mean whenever one is asked for."""

    def __init__(self, keep_s: float, tell: Callable[[str], None]) -> None:
        self._keep_s = keep_s
        self._tell = tell
        self._lock = threading.Lock()
        self._rows: collections.deque[Rows] = collections.deque()
        self.source: Source | None = None
        self.ready = threading.Event()
        self.error: str | None = None

    def started(self, source: Source) -> None:
        """Note what the board is."""
        self.source = source

    def rows(self, rows: Rows) -> None:
        """Keep rows, let go of those that are too old."""
        with self._lock:
            self._rows.append(rows)
            newest = rows.time_s[-1]
            while newest - self._rows[0].time_s[-1] > self._keep_s:
                self._rows.popleft()
        self.ready.set()

    def told(self, kind: str, text: str) -> None:
        """Pass on what the recorder says."""
        self._tell(text)

    def ended(self, error: str | None) -> None:
        """Note why nothing more comes."""
        self.error = error or "the board sends nothing more"
        self.ready.set()

    @property
    def newest_s(self) -> float:
        """Return the time of the newest row, seconds since the first; 0 before that."""
        with self._lock:
            return float(self._rows[-1].time_s[-1]) if self._rows else 0.0

    def last(self, seconds: float) -> Recording:
        """Return the last seconds as a recording; raise NoCalibration when there are none."""
        with self._lock:
            kept = list(self._rows)
        if self.source is None or not kept:
            raise NoCalibration("no readings came yet")
        time_s = np.concatenate([r.time_s for r in kept])
        values = np.concatenate([r.readings for r in kept]).astype(float)
        window = time_s >= time_s[-1] - seconds
        channels = tuple(replace(c, readings=values[window, k])
                         for k, c in enumerate(self.source.channels))
        return Recording(time_s[window], channels)


class MeterSession:
    """Take points one after the other from a board; use as a context manager.

    keep: the new recording's path (made free when taken). tell: shows a line to the user. order:
    what the board is told and how it is read, or only what its channels are.
    """

    def __init__(self, board: Board, options: SenderCheckOptions, keep: str | Path,
                 tell: Callable[[str], None], order: Order | ChannelOptions | None = None,
                 ) -> None:
        self.options = options
        self.live = LiveReadings(max(30.0, 2.0 * options.window_s), tell)
        self.points: list[tuple[Steady, float]] = []
        self._typed: list[str] = []
        self._file = FileListener(
            free_path(keep), "meter", f"{options.channel or 'channel'} against a meter",
            number=True)
        if not isinstance(order, Order):
            order = Order("meter", channels=order or ChannelOptions())
        self._recorder = Recorder(board, [self._file, self.live], order.channels, order.decoder(),
                                  order.commands(), retry_s=60.0)
        self._file.recorder = self._recorder
        self._channel = ""
        self._last_point_s = 0.0

    @property
    def path(self) -> Path:
        """Return where every reading is kept."""
        return self._file.path

    def __enter__(self) -> "MeterSession":
        self._recorder.start()
        try:
            if not self.live.ready.wait(WAIT_FOR_BOARD_S) or self.live.source is None:
                self._recorder.stop()
                self._recorder.join()
                raise BoardTrouble("no readings came from the board; check its cable and sketch")
            self._channel = self._choose()
            self._keep_within_reference()
        except BaseException:
            self.close()
            raise
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Stop reading; the recording is closed properly."""
        self._recorder.stop()
        self._recorder.wait(5.0)

    @property
    def channel(self) -> Channel:
        """Return the channel that is calibrated, readings of shape (0,)."""
        assert self.live.source is not None
        return next(c for c in self.live.source.channels if c.column == self._channel)

    def now(self) -> Steady:
        """Return the mean over the window that ends now, and whether it is steady.

        Waits until the window is full of readings that came after the last point.
        """
        wanted = self._last_point_s + self.options.window_s
        patience = time.monotonic() + self.options.window_s + WAIT_FOR_ROWS_S
        while self.live.newest_s < wanted and self.live.error is None \
                and time.monotonic() < patience:
            time.sleep(0.02)
        time_s, volts = self._window()
        channel = self.channel
        step = channel.pin_volts_per_reading if channel.unit == "counts" else 0.0
        if time_s[-1] - time_s[0] < 0.9 * self.options.window_s:
            raise NoCalibration("window not full", seconds=float(time_s[-1] - time_s[0]),
                                window_s=self.options.window_s)
        return self.options.sender.level(time_s, volts, step)

    def now_shown(self) -> Steady:
        """Return what the last window stands at, waiting for nothing; raise NoCalibration."""
        return self.options.sender.level(*self._window())

    def add(self, typed: str) -> Steady:
        """Take a point for what the meter shows; it is kept only when the channel is steady.

        Raises BadCall when the text is no number, BoardTrouble when the board is gone.
        """
        if self.live.error is not None:
            raise BoardTrouble(f"{self.live.error}; {len(self.points)} points were taken")
        try:
            value = float(typed.replace(",", "."))
            if not np.isfinite(value):
                raise ValueError
        except ValueError:
            raise BadCall(f"{typed!r} is no number; type what the meter shows, such as 12.34"
                          ) from None
        steady = self.now()
        if steady.steady:
            self._last_point_s = self.live.newest_s
            self._recorder.mark(f"meter {typed}")
            self.points.append((steady, value))
            self._typed.append(typed)
        return steady

    def undo(self) -> None:
        """Take the last point back; in the recording it stays, followed by a mark that says so."""
        if self.points:
            self.points.pop()
            self._typed.pop()
            self._recorder.mark(f"meter {UNDO}")

    def answer(self, numbers: Sequence[int], right: bool) -> None:
        """Let points (numbers from 1) count as looked at again and right, or leave them out."""
        if right:
            known = {*self.options.confirmed, *numbers}
            self.options = replace(self.options, confirmed=tuple(sorted(known)))
        else:
            known = {*self.options.left_out, *numbers}
            self.options = replace(self.options, left_out=tuple(sorted(known)))

    def taken(self) -> Taken:
        """Return the points so far."""
        if not self.points:
            raise NoCalibration("no points")
        points = points_from([s.mean for s, _ in self.points], [v for _, v in self.points],
                             [s.uncertainty for s, _ in self.points])
        assert self.live.source is not None
        return Taken(points, tuple(self._typed), self.options.channel or self._channel, _now(),
                     self.live.source.board_name, self.path.name)

    def result(self, folder: str | Path | None = None) -> MeterResult:
        """Return the calibration of the points so far."""
        return calibrate_taken(self.taken(), self.options, folder)

    def progress(self) -> str:
        """Return one line: the line so far, the last residual, and whether points suffice."""
        if len(self.points) < 3:
            many = "1 point" if len(self.points) == 1 else f"{len(self.points)} points"
            return f"{many}; a line needs 3 to be tested"
        try:
            result = self.result()
        except AnalysisError as error:
            return f"{len(self.points)} points; no curve yet: {refused(error)}"
        found = result.stored.calibration
        return (f"{equation_text(found)}; this point lies off the curve by "
                f"{residual_text(found, float(found.residuals[-1]))} "
                f"{found.unit}; {in_words(result.enough.reason)}")

    def _window(self) -> tuple[Array, Array]:
        recording = self.live.last(self.options.window_s)
        return recording.time_s, pin_volts(
            recording, recording.channel(self._channel), self.options.sender)

    def _keep_within_reference(self) -> None:
        """Hold the sender to what this board's input can read, unless the user said otherwise."""
        limit = self.channel.reference_volts
        sender = self.options.sender
        if limit is not None and limit < sender.pin_limit_volts and \
                not self.options.pin_limit_stated:
            self.options = replace(self.options, sender=replace(sender, pin_limit_volts=limit))

    def _choose(self) -> str:
        assert self.live.source is not None
        columns = self.live.source.columns
        if self.options.channel in columns:
            return self.options.channel
        usable = [c.column for c in self.live.source.channels if c.role != "supply"]
        if self.options.channel:
            raise BadCall(
                f"the board sends no channel {self.options.channel!r}; give --channel one "
                f"of {', '.join(columns)}"
            )
        if len(usable) != 1:
            raise BadCall(f"the board sends {', '.join(columns)}; say with --channel which one to "
                          "calibrate")
        return usable[0]


def _now() -> str:
    return datetime.datetime.now().astimezone().isoformat(timespec="milliseconds")



"""The board as the window sees it: one recorder at a time, and what it last said.

Rules: the recorder's thread only puts rows into a bounded queue and sends signals; pages take
the rows out on a timer. If the window is late, old rows are dropped from the display, never from
the file: the file's writer is a listener of its own.
"""

import collections
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QObject, Signal

from analysis.model.recording import Array, Channel
from bench.errors import BenchError
from bench.services.boards import Board
from bench.services.key_on import Capture
from bench.services.record import (
    FileListener,
    Guide,
    Listener,
    Order,
    Plan,
    Prompt,
    ProofGuide,
    Recorder,
    Rows,
    Source,
)
from bench.window.worker import Progress, Worker
from bench.wording.face import WINDOW

# Pieces of about 20 ms: more than half a minute may wait before the display loses any.
MOST_PIECES = 2000
CLOSE_S = 8.0


def volts_of(channels: Sequence[Channel], readings: NDArray[np.int64] | Array) -> Array:
    """Return volts at the sensors, shape (n, channels), of readings of that shape."""
    by = np.array([c.pin_volts_per_reading * c.scale for c in channels])
    return readings * by + np.array([c.offset_volts for c in channels])


@dataclass(frozen=True)
class Taken:
    """Hold what a recording came to; error: what ended it early, None for a plain end."""

    purpose: str
    file: FileListener
    error: str | None
    discarded: bool


@dataclass(frozen=True)
class _Recording:
    """Hold what makes a look at a board a recording: what leads it, what writes it, who else hears.

    lead: what leads through a proof on that board; None where a plan does.
    """

    plan: Callable[[Board], Plan | None]
    file: Callable[[], FileListener]
    also: tuple[Listener, ...] = ()
    lead: Callable[[Board], ProofGuide] | None = None


@dataclass(frozen=True)
class _Opened:
    """Hold what runs once a board was opened; None for what is not wanted."""

    recorder: Recorder
    file: FileListener | None
    guide: Guide | None
    lead: ProofGuide | None


class _Opening:
    """Hold what a thread is opening, so that it can be let go of at any moment, and whole.

    Between the recorder's first row and the window's turn to take it over a good while may pass:
    whoever goes on to something else in between must not leave it running, with the port in its
    hands.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._dropped = False
        self.recorder: Recorder | None = None

    def start(self, recorder: Recorder) -> None:
        """Start the recorder; it is stopped again at once where nobody wants it any more."""
        recorder.start()
        with self._lock:
            self.recorder = recorder
            dropped = self._dropped
        if dropped:
            recorder.stop()

    def drop(self) -> None:
        """Stop what was started, or will be."""
        with self._lock:
            self._dropped = True
        if self.recorder is not None:
            self.recorder.stop()

    def wait(self, seconds: float) -> None:
        """Wait until what was started has let go of its board, and closed its file."""
        if self.recorder is not None:
            self.recorder.wait(seconds)


class _Tap(Listener):
    """Hand rows to a bounded queue and everything else to signals."""

    def __init__(self, link: "LiveLink", number: int) -> None:
        self._link, self._number = link, number
        self.pieces: collections.deque[Rows] = collections.deque(maxlen=MOST_PIECES)
        self.latest_at: float | None = None

    def started(self, source: Source) -> None:
        self._link._started.emit(self._number, source)

    def rows(self, rows: Rows) -> None:
        self.pieces.append(rows)
        self.latest_at = time.monotonic()

    def told(self, kind: str, text: str) -> None:
        self._link._notified.emit(self._number, kind, text)

    def ended(self, error: str | None) -> None:
        self._link._ended.emit(self._number, error)


class LiveLink(QObject):
    """Hold the connection to one board.

    state: "idle", "opening", "live", "recording". lost: the cable is out. source: what the
    board said, None until then. failed(error): it could not be opened, or ended early. Signals
    come in the window's thread.
    """

    changed = Signal()
    notified = Signal(str, str)
    prompted = Signal(object)
    taken = Signal(object)
    failed = Signal(object)
    _started = Signal(int, object)
    _notified = Signal(int, str, str)
    _ended = Signal(int, object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.state, self.lost, self.board_name, self.purpose = "idle", False, "", ""
        self.paused = False
        # How often a board was connected by the user: each may be another pedal.
        self.connections = 0
        self.source: Source | None = None
        self.guide: Guide | None = None
        # What leads through the proof that is being recorded.
        self.lead: ProofGuide | None = None
        self.file: FileListener | None = None
        self._make: Callable[[], Board] | None = None
        self._order = Order()
        self._loop = False
        self.recorder: Recorder | None = None
        self._opening: _Opening | None = None
        self.tap: _Tap | None = None
        self._number = 0
        self._discard = False
        self._opener = Worker(self)
        self._opener.failed.connect(self._not_opened)
        self._started.connect(self._on_started)
        self._notified.connect(self._on_notified)
        self._ended.connect(self._on_ended)

    @property
    def log(self) -> Capture | None:
        """Return what writes the key-on log that is being recorded, None for anything else."""
        return self.file if isinstance(self.file, Capture) else None

    @property
    def latest_at(self) -> float | None:
        """Return when the last row came, by the monotonic clock; None when none has."""
        return self.tap.latest_at if self.tap is not None else None

    @property
    def connected(self) -> bool:
        """Return whether there is a board to look at, now or after what is recorded."""
        return self._make is not None

    def prepare(self, name: str, make: Callable[[], Board], order: Order, loop: bool) -> None:
        """Keep a board for the next look, without opening it now."""
        self.board_name, self._make, self._order, self._loop = name, make, order, loop

    def connect_board(self, name: str, make: Callable[[], Board], order: Order,
                      loop: bool = False) -> None:
        """Open a board for looking at; loop: begin again when a simulated one has ended."""
        self.prepare(name, make, order, loop)
        self.connections += 1
        self._begin(make, order)

    def record(self, make: Callable[[], Board], order: Order,
               plan: Callable[[Board], Plan | None],
               file: Callable[[], FileListener] | None = None,
               also: tuple[Listener, ...] = (),
               lead: Callable[[Board], ProofGuide] | None = None) -> None:
        """Record from the board into a file, led through the plan that `plan(board)` returns.

        file: what writes it, when not the usual listener; called beside the window. also: who else
        hears every row. lead: makes what leads through a proof, in place of a plan.
        """
        self.purpose = order.purpose
        self._begin(make, order, _Recording(plan, file or (
            lambda: FileListener(order.place(), order.purpose, order.title, order.said,
                                 order.numbered)), also, lead))

    def look_again(self) -> None:
        """Go back to looking at the board that was connected, after a recording."""
        if self._make is not None and self.state == "idle" and not self.paused:
            self._begin(self._make, self._order)

    def pause(self) -> None:
        """Let go of the board for somebody else, until `paused` is set back."""
        self.paused = True
        self._let_go()
        self._set("idle")

    def disconnect_board(self) -> None:
        """Let go of the board."""
        self._make = None
        self._let_go()
        self._set("idle")

    def stop(self, discard: bool = False) -> None:
        """End the recording; `taken` follows."""
        if self.recorder is not None:
            self._discard = discard
            self.recorder.stop()

    def take(self) -> list[Rows]:
        """Return the rows that came since the last call."""
        tap, pieces = self.tap, []
        while tap is not None and tap.pieces:
            pieces.append(tap.pieces.popleft())
        return pieces

    def shut(self) -> None:
        """End everything and wait until the file is closed."""
        self._make = None
        self._let_go()

    def _let_go(self) -> None:
        self._opener.cancel()
        opening, self._opening, self.recorder = self._opening, None, None
        self._number += 1
        if opening is not None:
            opening.drop()
            self._opener.wait(CLOSE_S)
            opening.wait(CLOSE_S)
        self.source, self.tap, self.lost = None, None, False

    def _begin(self, make: Callable[[], Board], order: Order,
               recording: "_Recording | None" = None) -> None:
        self._let_go()
        self._discard = False
        self.file = self.guide = self.lead = None
        self._set("opening")
        tap = _Tap(self, self._number)
        opening = self._opening = _Opening()

        def open_it(progress: Progress) -> _Opened:
            board = make()
            listeners: list[Listener] = [tap]
            file = guide = lead = None
            if recording is not None:
                plan = recording.plan(board)
                file = recording.file()
                guide = (None if plan is None else
                         Guide(plan, self.prompted.emit, board.needs_care, WINDOW))
                lead = recording.lead(board) if recording.lead is not None else None
                listeners = [file, *([guide] if guide else []), *([lead] if lead else []),
                             *recording.also, tap]
            recorder = Recorder(board, listeners, order.channels, order.decoder(),
                                order.commands(), order.retry_s)
            for follower in (file, guide, lead):
                if follower is not None:
                    follower.recorder = recorder
            progress(0.0, "")  # raises when the user has changed his mind
            opening.start(recorder)
            return _Opened(recorder, file, guide, lead)

        def opened(result: _Opened) -> None:
            self.recorder, self.file = result.recorder, result.file
            self.guide, self.lead = result.guide, result.lead
            self.tap = tap
            self._set("live" if recording is None else "recording")

        self._opener.run("Opening the board", open_it, opened)

    def _not_opened(self, text: str) -> None:
        self._set("idle")
        self.failed.emit(self._opener.error or BenchError(text))

    def _set(self, state: str) -> None:
        self.state = state
        self.changed.emit()

    def _on_started(self, number: int, source: Source) -> None:
        if number == self._number:
            self.source = source
            self.changed.emit()

    def _on_notified(self, number: int, kind: str, text: str) -> None:
        if number != self._number:
            return
        self.lost = kind == "lost" or (self.lost and kind != "back")
        self.notified.emit(kind, text)
        self.changed.emit()

    def _on_ended(self, number: int, error: str | None) -> None:
        if number != self._number:
            return
        file, was, recorder = self.file, self.state, self.recorder
        self.recorder, self.file = None, None
        self.lost = False
        self.source = None if was != "recording" else self.source
        self._set("idle")
        if was == "recording" and file is not None:
            self.taken.emit(Taken(self.purpose, file, error, self._discard))
        elif error is not None:
            self.failed.emit((recorder.error if recorder is not None else None)
                             or BenchError(error))
        elif self._loop:
            self.look_again()


__all__ = ["LiveLink", "Prompt", "Taken", "volts_of"]

"""One thread: board -> decoder -> listeners. The file writer is a listener like any other.

Rules:
- the first rows are held back until the board has said what it is, so that none is lost;
- time never runs backwards: it is the board's clock, and over a pulled cable the host's;
- what passed while nobody listened is stated as samples lost before the next row;
- a listener's error is reported and that listener is dropped; only a `vital` one (the file)
  ends the recording.
"""

import collections
import contextlib
import threading
from collections.abc import Callable, Sequence

import numpy as np

from analysis.model.errors import AnalysisError
from analysis.signal.reference import reference_contradicted
from bench.acquisition.boards.board import Board, Unplugged
from bench.acquisition.boards.channels import ChannelOptions, channels_of
from bench.acquisition.listener import Listener, Rows, Source
from bench.acquisition.recorder_time import RISING, RecordedTime, first_rising, host_clock
from bench.acquisition.wire import Batch, Decoder, command
from bench.errors import BenchError, BoardTrouble, SilentBoard
from bench.wording.reasons import in_words
from bench.wording.refusals import refused

# A board that resets when its port opens sits in its loader for up to two seconds.
SILENT_S = 6.0
# Rows came but no hello with it, or only a line that is no line of ours.
UNCLEAR_S = 4.0
ASK_AGAIN_S = 1.0
RETRY_S = 0.3
# A bad cable damages hundreds of frames a second; the user needs to hear of it, not of each.
TELL_AGAIN_S = 3.0
# A sketch that cannot be asked says about once a second what it is.
HELLO_S = 1.5
# One such line is a damaged one; so many in a row are no reading at all.
BEYOND = 20


class Recorder:
    """Read a board until `stop`, its end, or a vital listener's failure.

    commands: sent whenever the board was opened. retry_s: how long a pulled cable is waited for.
    error: what ended the recording, None for a stop or the board's end.
    """

    def __init__(self, board: Board, listeners: Sequence[Listener],
                 options: ChannelOptions | None = None, decoder: Decoder | None = None,
                 commands: Sequence[bytes] = (), retry_s: float = float("inf"),
                 clock: Callable[[], float] = host_clock) -> None:
        self.board = board
        self.error: BenchError | AnalysisError | None = None
        self.source: Source | None = None
        self._listeners = list(listeners)
        self._options = options or ChannelOptions()
        self._decoder = decoder or Decoder()
        self._commands = (*commands, command("?"), command("start"))
        self._retry_s = retry_s
        self._clock = clock
        self._stopped = threading.Event()
        self._done = threading.Event()
        self._thread: threading.Thread | None = None
        self._marks: collections.deque[str] = collections.deque()
        self._held: list[tuple[float, Batch]] = []
        self._misfit: int | None = None  # width of rows that did not fit what the board says
        self._opened = 0.0
        self._tell_again = float("-inf")
        self._untold = 0
        self._time = RecordedTime()

    def start(self) -> None:
        """Open the board, then go on in a thread; raise BoardTrouble when it does not open."""
        self._open()
        self._thread = threading.Thread(target=self._run, name="recorder", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """End the recording soon; safe from any thread."""
        self._stopped.set()
        self.board.stop()

    def wait(self, seconds: float | None = None) -> bool:
        """Return whether the recording ended within that time."""
        return self._done.wait(seconds)

    def join(self) -> None:
        """Wait for the end; raise what ended the recording if it was no plain end."""
        if self._thread is not None:
            self._thread.join()
        if self.error is not None:
            raise self.error

    def mark(self, text: str) -> None:
        """Write a text beside the next row; safe from any thread."""
        self._marks.append(text)

    def tell(self, text: str) -> None:
        """Tell the user something through every listener; for listeners, from their calls."""
        self._each("told", "note", text)

    @property
    def problems(self) -> int:
        """Return how many lines or frames were refused so far."""
        return self._decoder.bad

    def _open(self) -> None:
        self.board.open()
        self._opened = self._clock()
        for line in self._commands:
            self.board.write(line)

    def _run(self) -> None:
        try:
            self._read()
            self._take_rest()
        except (BenchError, AnalysisError) as error:
            self.error = error
        except Exception as bug:  # the file must be closed whatever happens
            self.error = BenchError(f"something went wrong inside the recorder "
                                    f"({type(bug).__name__}: {bug}); the recording so far is kept")
        finally:
            with contextlib.suppress(BenchError):
                if self._commands and not self.board.ended:
                    self.board.write(command("stop"))
            self.board.close()
            if self.error is None and self.source is None and not self._stopped.is_set():
                self.error = BoardTrouble(f"{self.board.name} ended without a single row")
            self._each("ended", None if self.error is None else refused(self.error))
            self._done.set()

    def _read(self) -> None:
        asked = heard = self._clock()
        seen = 0
        while not self._stopped.is_set() and not self.board.ended:
            try:
                data = self.board.read()
            except Unplugged as error:
                self._replug(error)
                asked = heard = self._clock()
                seen = 0
                continue
            now = self._clock()
            seen += len(data)
            if self._feed(data):
                heard = now
                if self.source is None:
                    self._judge_silence(now - self._opened, seen)
                continue
            self._each("quiet")
            if now - heard > ASK_AGAIN_S and now - asked > ASK_AGAIN_S:
                asked = now
                self._ask_again()
            if self.source is None:
                self._judge_silence(now - self._opened, seen)
            elif now - heard > SILENT_S:
                heard = now
                self.tell(f"nothing readable from {self.board.name} for {SILENT_S:g} s; "
                          "check its cable and its power, the recording goes on")

    def _ask_again(self) -> None:
        with contextlib.suppress(Unplugged):
            for line in self._commands:
                self.board.write(line)

    def _judge_silence(self, waited: float, seen: int) -> None:
        """Raise BoardTrouble when the board has been given its chance to say something."""
        if seen == 0 and waited > SILENT_S:
            raise SilentBoard(f"not a byte from {self.board.name} in {SILENT_S:g} s; check that "
                              "the board is powered, runs its sketch, and is on this port")
        if self._held and waited > UNCLEAR_S:
            self._begin()
        elif self._misfit is not None and self._decoder.hello and waited > UNCLEAR_S:
            raise BoardTrouble(f"{self.board.name} names {len(self._decoder.hello.columns)} "
                               f"channels and sends {self._misfit} numbers; correct its sketch")
        elif seen and waited > UNCLEAR_S:
            baud = self.board.baud
            at = f" at {baud} baud" if baud else ""
            raise BoardTrouble(
                f"{seen} bytes from {self.board.name}{at} but no valid line or frame: "
                f"{self._decoder.why_unread}")

    def _replug(self, error: Unplugged) -> None:
        """Wait for the board to come back; raise when it does not in time."""
        if self.source is None:
            raise error
        self._take_rest()
        self._each("told", "lost", f"{error}; the recording is kept and waits")
        self.board.close()
        gone = self._clock()
        while not self._stopped.wait(RETRY_S):
            if self._clock() - gone > self._retry_s:
                raise BoardTrouble(f"{self.board.name} did not come back within "
                                   f"{self._retry_s:g} s; the recording so far is kept")
            with contextlib.suppress(BoardTrouble):
                self._open()
                self._decoder.reset()
                self._each("told", "back", f"{self.board.name} is back; the gap is marked")
                return
            self._each("quiet")

    def _take_rest(self) -> None:
        """Take what is decoded but not handed on; an unfinished line may be torn and is not."""
        self._decoder.let_go()
        while self._decoder.pending:
            self._take(self._decoder.feed(b""))
        if self._held and self.source is None:
            self._begin()

    def _feed(self, data: bytes) -> bool:
        """Decode bytes and hand the rows on; return whether there were any."""
        batch = self._decoder.feed(data)
        found = self._take(batch)
        while self._decoder.pending:
            found = self._take(self._decoder.feed(b"")) or found
        return found

    def _tell_problems(self, problems: tuple[str, ...]) -> None:
        """Tell the first of them, and how many were not told since the last time."""
        now = self._clock()
        self._untold += len(problems)
        if now < self._tell_again:
            return
        more = f" ({self._untold - 1} more like it)" if self._untold > 1 else ""
        self._tell_again, self._untold = now + TELL_AGAIN_S, 0
        self.tell(f"{self.board.name}: {problems[0]}{more}")

    def _take(self, batch: Batch) -> bool:
        lines, words = self._decoder.beyond_scale
        if lines >= BEYOND:
            raise BoardTrouble(
                f"column {words} ({lines} lines in a row): the scale is another, or it is no "
                "reading but the board's clock; correct --full-scale, or say --clock ms or us; "
                "what was recorded before is kept")
        if batch.problems:
            self._tell_problems(batch.problems)
        if self.source is None:
            if batch.hello is not None:
                self._drop_misfits(len(batch.hello.columns))
            if batch.rows:
                self._held.append((self._clock(), batch))
            if self._held and self._knows_enough():
                self._begin()
            return batch.rows > 0
        if batch.hello is not None:
            self._check_same(batch)
        if batch.rows:
            self._give(batch, self._clock())
        return batch.rows > 0

    def _drop_misfits(self, channels: int) -> None:
        """Drop held rows of another width: before the board says so, a time looks like a reading.

        Their width is kept, for a sketch that really sends other rows than it names.
        """
        widths = [b.readings.shape[1] for _, b in self._held]
        self._misfit = next((w for w in reversed(widths) if w != channels), self._misfit)
        self._held = [held for held, w in zip(self._held, widths, strict=True) if w == channels]

    def _knows_enough(self) -> bool:
        """Say whether the channels are settled, or have had their time to be."""
        hello = self._decoder.hello
        if hello is None or not hello.columns:
            return False
        if self._may_be_clock and self._clock() - self._opened < HELLO_S \
                and sum(b.rows for _, b in self._held) < RISING:
            return False
        if hello.full_scale is not None or self.board.known is not None:
            return True
        if hello.volts:
            return self._clock() - self._opened > HELLO_S
        options = self._options
        told = options.full_scale is not None and options.reference_volts is not None
        return told and self._clock() - self._opened > HELLO_S

    @property
    def _may_be_clock(self) -> bool:
        """Say whether a column of these lines could be a clock that nobody announced."""
        return (self._decoder.format == "text" and not self._decoder.has_clock
                and self._decoder.clock_stated is None and self.board.known is None)

    def _refuse_rising(self, columns: Sequence[str]) -> None:
        """Raise BoardTrouble when a column only rises, and evenly, as a clock does."""
        k, words = first_rising(np.concatenate([b.readings for _, b in self._held]))
        if words:
            where = "add --clock ms or --clock us" if k == 0 else \
                "leave it out of the sketch, or print it first"
            raise BoardTrouble(f"column {columns[k]} {words}: if that is the board's clock, "
                               f"{where}; if it really is a reading, add --clock none; nothing "
                               "was recorded")

    def _begin(self) -> None:
        hello = self._decoder.hello
        if hello is None:
            raise BoardTrouble(f"{self.board.name} sends frames but never says what it is; "
                               "its sketch must send a hello (docs/wire.md)")
        self._drop_misfits(len(hello.columns))
        held, self._held = self._held, []
        if not held:
            return
        channels = channels_of(hello, self.board.known, self._options)
        if self._may_be_clock:
            self._held = held
            self._refuse_rising([c.column for c in channels])
            self._held = []
        self.source = Source(channels, hello.rate_hz, hello.name or self.board.name,
                             self._decoder.board_says)
        self._time.rate_hz = hello.rate_hz
        self._each("started", self.source)
        contradicted = reference_contradicted(self.source.board_says.get("supply_mv"),
                                              channels[0].reference_volts)
        if contradicted is not None:
            self.tell(f"{self.source.board_name}: {in_words(contradicted)}")
        for now, batch in held:
            self._give(batch, now)

    def _check_same(self, batch: Batch) -> None:
        """Raise BoardTrouble when a new hello makes the readings mean something else."""
        assert batch.hello is not None
        assert self.source is not None
        now = channels_of(batch.hello, self.board.known, self._options) if \
            len(batch.hello.columns) == len(self.source.channels) else ()
        before = [(c.column, c.full_scale, c.reference_volts) for c in self.source.channels]
        if [(c.column, c.full_scale, c.reference_volts) for c in now] != before:
            raise BoardTrouble(f"{self.board.name} changed its channels or its scale while "
                               "recording; the recording so far is kept, start a new one")
        self._time.rate_hz = batch.hello.rate_hz or self._time.rate_hz

    def _give(self, batch: Batch, arrived: float) -> None:
        assert self.source is not None
        if batch.readings.shape[1] != len(self.source.channels):
            raise BoardTrouble(f"{self.board.name} now sends {batch.readings.shape[1]} channels "
                               f"instead of {len(self.source.channels)}; the recording so far is "
                               "kept, start a new one")
        time_s, lost = self._time.place(batch, arrived, self._decoder.has_clock)
        doubt = self._time.doubt(self._decoder.has_clock) if self.board.real_time else ""
        if doubt:
            self.tell(f"{self.board.name}: {doubt}")
        while self._marks:
            self._each("marked", self._marks.popleft())
        self._each("rows", Rows(time_s, batch.readings, lost))

    def _each(self, call: str, *values: object) -> None:
        """Call every listener; drop one that fails, end the recording when it was vital."""
        failed: BenchError | AnalysisError | None = None
        for listener in tuple(self._listeners):
            try:
                getattr(listener, call)(*values)
            except Exception as error:
                self._listeners.remove(listener)
                if listener.vital:
                    failed = error if isinstance(error, BenchError | AnalysisError) else \
                        BenchError(f"cannot record ({type(error).__name__}: {error})")
                elif call != "told":
                    self.tell(f"a display stopped ({type(error).__name__}: {error}); "
                              "the recording goes on")
        if failed is not None and call != "ended":
            raise failed
        if failed is not None and self.error is None:
            self.error = failed

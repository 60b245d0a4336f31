"""Boards with damaged clocks, pulled out in the middle of a row: every row and every loss is true.

    python tests/stress/hostile_boards.py           2000 recordings
    python tests/stress/hostile_boards.py --quick   21

Text with and without a clock, and frames, in pieces of any size. In text a digit of the clock is
now and then missing, doubled or another (no check sum tells). The cable is pulled at any byte and
comes back in the middle of a row; what passed meanwhile is known. The computer's clock is the
script's, so it costs no time. Each recording is written to its file and read back.
"""

import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from bench.acquisition import recorder as recorder_module
from bench.acquisition.boards.board import Unplugged
from bench.acquisition.recorder import Recorder
from bench.acquisition.recorder_file import FileListener
from bench.acquisition.wire import Hello, encode_frames, encode_hello
from bench.files.recording_file import read_recording

sys.path.insert(0, str(Path(__file__).parents[1] / "helpers"))
sys.path.insert(0, str(Path(__file__).parent))

from scripted_board import DeafBoard
from stress_common import Report, run

SAYS = Hello("one", ("a", "b"), 1024, 5.0, 1000.0)
HEAD = b"# full_scale=1024 reference_volts=5.0 columns=a,b rate_hz=1000"
Piece = tuple[float, bytes | None]


class TimedBoard(DeafBoard):
    """Give out pieces, each after so many seconds of the script's clock; None: the cable is out."""

    known = None

    def __init__(self, pieces: list[Piece]) -> None:
        self.name, self.pieces, self.now = "timed", pieces, 0.0

    def open(self) -> None:
        """Nothing is to be opened."""

    def read(self) -> bytes:
        """Return the next piece."""
        seconds, data = self.pieces.pop(0)
        self.now += seconds
        if data is None:
            raise Unplugged("the cable is out")
        return data

    @property
    def ended(self) -> bool:
        """Say whether all was given out."""
        return not self.pieces


def readings(number: np.ndarray) -> np.ndarray:
    """Return two readings that tell the row's number, and look like no clock."""
    return np.column_stack([number * 389 % 1024, 100 + number // 1024])


def numbers(found: np.ndarray) -> np.ndarray:
    """Return the row's number of readings."""
    return (found[:, 0] * pow(389, -1, 1024)) % 1024 + 1024 * (found[:, 1] - 100)


def hurt(tick: int, rng: np.random.Generator) -> bytes:
    """Return a number with one digit missing, doubled or another."""
    text, at = b"%d" % tick, int(rng.integers(len(b"%d" % tick)))
    put = (b"", text[at:at + 1] * 2, b"%d" % rng.integers(10))[int(rng.integers(3))]
    return (text[:at] + put + text[at + 1:]) or b"0"


class Stream:
    """Make what one board sends: its pieces, and which rows went out whole."""

    def __init__(self, rng: np.random.Generator, form: str) -> None:
        self.rng, self.form = rng, form
        self.count = int(rng.integers(600, 1500))
        self.begun = int(rng.integers(1 << 32))
        self.head = (encode_hello(SAYS) if form == "frames" else
                     HEAD + (b" time=us" if form == "clock" else b"") + b"\n")
        self.whole = np.zeros(self.count, bool)
        self.pulled = self.damaged = 0
        self.pieces: list[Piece] = list(self._made())

    def rows(self, first: int, stop: int) -> list[bytes]:
        """Return rows as they go out."""
        number = np.arange(first, stop)
        ticks = (self.begun + 1000 * number) % (1 << 32)
        values = readings(number)
        if self.form == "frames":
            data = encode_frames(first, ticks, values)
            size = len(data) // len(number)
            return [data[k:k + size] for k in range(0, len(data), size)]
        if self.form == "bare":
            return [b"%d,%d\n" % tuple(v) for v in values]
        said = [b"%d" % t for t in ticks]
        # Of two damaged clocks beside each other nobody could say which is whole.
        if len(said) > 8 and self.rng.integers(6) == 0:
            at = int(self.rng.integers(3, len(said) - 3))
            said[at] = hurt(int(ticks[at]), self.rng)
            self.damaged += 1
        return [b"%s,%d,%d\n" % (t, *v) for t, v in zip(said, values, strict=True)]

    def _made(self) -> Iterator[Piece]:
        yield 0.0, self.head
        at = 0
        while at < self.count:
            stop = min(self.count, at + int(self.rng.integers(1, 60)))
            rows = self.rows(at, stop)
            data = b"".join(rows)
            if not (at > 100 and stop < self.count - 200 and self.rng.integers(12) == 0):
                yield (stop - at) / 1000, data
                self.whole[at:stop] = True
                at = stop
                continue
            cut = int(self.rng.integers(1, len(data)))
            ends = np.cumsum([len(row) for row in rows])
            self.whole[at:stop] = ends <= cut
            sent = (stop - at) * cut / len(data) / 1000
            yield sent, data[:cut]
            yield 0.0, None
            again = min(stop + int(self.rng.integers(20, 3000)), self.count - 100)
            torn = self.rows(again, again + 1)[0]
            # A torn row behind a hello cannot be told without a clock; a board sends none.
            hello = self.form == "clock" and self.rng.integers(2)
            yield ((again + 1 - at) / 1000 - sent,
                   (self.head if hello else b"") + torn[int(self.rng.integers(1, len(torn))):])
            self.pulled += 1
            at = again + 1


def judged(stream: Stream, folder: Path) -> dict[str, int]:
    """Record a stream; return how often what went wrong."""
    board, file = TimedBoard(stream.pieces), FileListener(folder / "r.csv", "sweep")
    recorder = Recorder(board, (file,), clock=lambda: board.now)
    recorder.start()
    recorder.join()
    recording = read_recording(file.path)
    file.path.unlink()
    number = numbers(np.column_stack([c.readings for c in recording.channels]).astype(np.int64))
    span = int(number[-1] - number[0]) + 1
    late = np.abs(recording.time_s - (number - number[0]) / 1000).max()
    # Behind a pulled cable the first row may be torn; its time is that of its arrival.
    return {
        "rows that were never sent": int(np.setdiff1d(number, np.arange(stream.count)).size),
        "rows out of order": int((np.diff(number) <= 0).sum()),
        "whole rows missing": max(0, int(np.setdiff1d(
            np.flatnonzero(stream.whole), number).size) - stream.pulled),
        "losses invented": max(0, recording.lost_samples - (span - number.size)
                               - 3 * stream.pulled),
        "losses hidden": max(0, span - number.size - recording.lost_samples - 3 * stream.pulled),
        "times off by more than 0.1 s": int(late > 0.1)}


def measure(quick: bool, report: Report) -> None:
    """Record many, and add up."""
    count = 21 if quick else 2000
    rng = np.random.default_rng(77)
    wrong: dict[str, int] = {}
    pulled = damaged = 0
    former, recorder_module.RETRY_S = recorder_module.RETRY_S, 0.001
    try:
        with tempfile.TemporaryDirectory() as name:
            for turn in range(count):
                stream = Stream(rng, ("frames", "clock", "bare")[turn % 3])
                for what, times in judged(stream, Path(name)).items():
                    wrong[what] = wrong.get(what, 0) + times
                pulled, damaged = pulled + stream.pulled, damaged + stream.damaged
    finally:
        recorder_module.RETRY_S = former
    report.figure("recordings, cables pulled in a row, clocks damaged",
                  f"{count}, {pulled}, {damaged}")
    for what, times in wrong.items():
        report.promise(what, times == 0, times)


if __name__ == "__main__":
    sys.exit(run(__doc__, measure))

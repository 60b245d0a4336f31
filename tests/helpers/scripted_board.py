"""A board that gives out what a test says, and a listener that writes everything down."""

import time

import numpy as np

from analysis.model.recording import Channel, Recording
from bench.acquisition.boards.board import Board
from bench.acquisition.listener import Listener, Rows, Source
from bench.acquisition.recorder import Recorder
from bench.acquisition.wire import Hello

HELLO = Hello("test board", ("a", "b"), 4096, 5.0, 1000.0, roles=("track", "track"))


def counting(rows: int, rate: float = 1000.0) -> Recording:
    counts = np.arange(rows, dtype=float)
    return Recording(np.arange(rows) / rate, tuple(
        Channel(c, "track", (counts * k) % 4096, full_scale=4096.0, reference_volts=5.0)
        for k, c in enumerate("ab", start=1)), rate_hz=rate, board_name="counter")


class DeafBoard(Board):
    """Hear no command; nothing of it waits or is open."""

    def write(self, data: bytes) -> None:
        pass

    def stop(self) -> None:
        pass

    def close(self) -> None:
        pass


class Scripted(DeafBoard):
    """Give out pieces one by one: bytes, an exception to raise, a time to wait, or what to do."""

    def __init__(self, *pieces: object) -> None:
        self.name = "scripted"
        self.pieces = list(pieces)
        self.written = b""
        self.opened = 0

    def open(self) -> None:
        self.opened += 1

    def read(self) -> bytes:
        piece = self.pieces.pop(0) if self.pieces else b""
        if isinstance(piece, Exception):
            raise piece
        if callable(piece):
            piece()
            return b""
        if isinstance(piece, float):
            time.sleep(piece)
            return b""
        if not piece:
            time.sleep(0.005)
        return piece

    def write(self, data: bytes) -> None:
        self.written += data

    @property
    def ended(self) -> bool:
        return not self.pieces


class Ears(Listener):
    """Write down everything that is heard."""

    def __init__(self) -> None:
        self.heard: list[tuple[str, object]] = []
        self.batches: list[Rows] = []
        self.source: Source | None = None

    def started(self, source: Source) -> None:
        self.source = source

    def rows(self, rows: Rows) -> None:
        self.batches.append(rows)

    def told(self, kind: str, text: str) -> None:
        self.heard.append((kind, text))

    def ended(self, error: str | None) -> None:
        self.heard.append(("ended", error))

    @property
    def readings(self) -> np.ndarray:
        return np.concatenate([r.readings for r in self.batches])

    @property
    def time_s(self) -> np.ndarray:
        return np.concatenate([r.time_s for r in self.batches])

    @property
    def lost(self) -> np.ndarray:
        return np.concatenate([r.lost_before for r in self.batches])


def run(board: Board, *listeners: Listener, **more: object) -> Recorder:
    recorder = Recorder(board, listeners, **more)  # type: ignore[arg-type]
    recorder.start()
    assert recorder.wait(20.0)
    recorder.join()
    return recorder

"""A board with a simulated sender on its first input, to learn the meter check without wires."""

import threading
import time

import numpy as np

from bench.acquisition.boards.board import WAIT_S, Board
from bench.acquisition.wire import Hello, encode_frames, encode_hello
from bench.errors import BoardTrouble

RATE_HZ = 200.0
_PIECE_S = 0.02
# The simulated value settles like a slow sender, so that a point taken too soon drifts.
SETTLE_S = 0.2
_FULL_SCALE = 4096
_NOISE_COUNTS = 1.5


class SimulatedSenderBoard(Board):
    """Hold the input at one volt level after another; `go_to` sets the next.

    speed: seconds of the board per second. true_volts is where the input settles.
    """

    def __init__(self, volts: float, speed: float = 1.0, seed: int = 1,
                 reference_volts: float = 5.0) -> None:
        self.name = "simulated"
        self.true_volts = volts
        self._from = volts
        self._speed = speed
        self._reference = reference_volts
        self._random = np.random.default_rng(seed)
        self._wake = threading.Event()
        self._lock = threading.Lock()
        self._open = False
        self._opened = 0.0
        self._sent = 0
        self._moved_at = -np.inf
        self._said = b""

    def go_to(self, volts: float) -> None:
        """Let the input move to another level; it takes a few tenths of a second."""
        with self._lock:
            self._from = float(self._level(np.array([self._sent / RATE_HZ]))[0])
            self.true_volts = volts
            self._moved_at = self._sent / RATE_HZ

    def open(self) -> None:
        """Start the clock."""
        self._open, self._opened, self._sent = True, time.monotonic(), 0
        self._wake.clear()
        self._said = self._hello()

    def read(self) -> bytes:
        """Return the frames that are due."""
        if not self._open:
            raise BoardTrouble(f"{self.name} is not open; open it first")
        said, self._said = self._said, b""
        if said:
            return said
        if self._wake.is_set():
            return b""
        due = int((time.monotonic() - self._opened) * self._speed * RATE_HZ)
        # A row at a time costs far more than rows together; many times faster than real time there
        # would always be one.
        if due - self._sent < max(1, int(self._speed * RATE_HZ * _PIECE_S / 2.0)):
            self._wake.wait(min(WAIT_S, _PIECE_S))
            return b""
        with self._lock:
            rows = np.arange(self._sent, due)
            volts = self._level(rows / RATE_HZ)
            counts = np.rint(volts / self._reference * _FULL_SCALE
                             + self._random.normal(0, _NOISE_COUNTS, rows.size))
            values = np.clip(counts, 0, _FULL_SCALE - 1).astype(np.int64)[:, None]
            ticks = np.rint(rows / RATE_HZ * 1e6).astype(np.int64) % (1 << 32)
            data = encode_frames(self._sent, ticks, values)
            self._sent = due
        return data

    def write(self, data: bytes) -> None:
        """Answer `?` with a hello."""
        if b"?" in data:
            self._said = self._hello()

    def stop(self) -> None:
        """Wake a waiting read."""
        self._wake.set()

    def close(self) -> None:
        """Stop the clock."""
        self._open = False

    def _hello(self) -> bytes:
        return encode_hello(Hello("simulated sender", ("sender",), _FULL_SCALE, self._reference,
                                  RATE_HZ, None, None, ("other",)))

    def _level(self, at_s: np.ndarray) -> np.ndarray:
        settle = np.exp(-np.maximum(at_s - self._moved_at, 0.0) / SETTLE_S)
        return self.true_volts + (self._from - self.true_volts) * settle

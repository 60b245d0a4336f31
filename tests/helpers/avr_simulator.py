"""The built image of the AVR board, running in a simulator of the chip behind a pty.

`simulator` is a fixture-like context: it builds image and host once per test session.
"""

import atexit
import shutil
import subprocess
import tempfile
import threading
import time
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from queue import Empty, Queue

import pytest
from places import ROOT

FIRMWARE = ROOT / "bench" / "firmware" / "avr"
HOST = ROOT / "tests/firmware/avr_host" / "pedal_sim.c"
PACKAGES = "gcc libc6-dev make gcc-avr avr-libc binutils-avr libsimavr-dev libelf-dev"


@cache
def build() -> tuple[Path, Path, str]:
    """Return the image, the simulating host, and what avr-size says; skip without the tools."""
    missing = [name for name in ("cc", "make", "avr-gcc", "avr-size") if not shutil.which(name)]
    if not Path("/usr/include/simavr/sim_avr.h").exists():
        missing.append("simavr/sim_avr.h")
    if missing:
        pytest.skip(f"{', '.join(missing)} missing: apt-get install {PACKAGES}")
    place = Path(tempfile.mkdtemp(prefix="pedal-board-"))
    atexit.register(shutil.rmtree, place, ignore_errors=True)
    made = subprocess.run(["make", "-C", str(FIRMWARE), f"BUILD={place}"], check=True,
                          capture_output=True, text=True, timeout=120)
    assert "warning" not in made.stderr, made.stderr
    host = place / "pedal_sim"
    subprocess.run(["cc", "-O2", "-Wall", "-Wextra", "-Werror", "-o", str(host), str(HOST),
                    "-lsimavr", "-lelf", "-lutil", "-lm"], check=True, timeout=120)
    return place / "pedal_board.elf", host, made.stdout


class Simulated:
    """A running board: `port` is where to open it; `say` gives the host a line."""

    def __init__(self, speed: float, seed: int, image: Path | None = None) -> None:
        own, host, _ = build()
        image = image or own
        self.process = subprocess.Popen(
            [str(host), str(image), "--speed", str(speed), "--seed", str(seed)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        self._lines: Queue[str] = Queue()
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()
        self.port = self.expect("port ")

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self._lines.put(line.strip())

    def say(self, line: str) -> None:
        """Give the host one line."""
        assert self.process.stdin is not None
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()

    def expect(self, start: str, seconds: float = 20.0) -> str:
        """Wait for a line with that start and return the rest of it."""
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            try:
                line = self._lines.get(timeout=0.1)
            except Empty:
                assert self.process.poll() is None, "the simulator ended by itself"
                continue
            assert not line.startswith("error"), line
            if line.startswith(start):
                return line[len(start):]
        raise AssertionError(f"the simulator never said {start!r}")

    def status(self) -> dict[str, float]:
        """Return seconds simulated, bytes sent, bytes damaged, the board's baud."""
        self.say("status")
        words = self.expect("status ").split()
        return {key: float(value) for key, value in (word.split("=") for word in words)}

    def close(self) -> None:
        """End the simulator."""
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait(timeout=10)
        self._reader.join(timeout=10)
        for stream in (self.process.stdin, self.process.stdout):
            assert stream is not None
            stream.close()


@contextmanager
def simulator(speed: float = 1.0, seed: int = 1, image: Path | None = None):
    """Run the board; the tests' voltages, cable and damage are under their control.

    image: in place of our own firmware.
    """
    board = Simulated(speed, seed, image)
    try:
        yield board
    finally:
        board.close()

"""The recorder and its file in any order of events.

Connect, rows, losses, garbage, hellos, unplug, a full disk, a deleted file, kill, stop, end.
"""

import errno
import os
import tempfile
from pathlib import Path

import numpy as np
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule
from scripted_board import HELLO, Ears, Scripted

from bench.acquisition.boards.board import Unplugged
from bench.acquisition.recorder import Recorder
from bench.acquisition.recorder_file import FileListener
from bench.acquisition.wire import encode_frames, encode_hello
from bench.files.recording_file import RecordingWriter, read_recording

# A row's own number stands in its two readings, so every row of the file is known again.
SPAN = 4096


def rows(first, count):
    number = np.arange(first, first + count)
    return encode_frames(first & 0xFFFFFF, number * 1000,
                         np.stack([number % SPAN, number // SPAN], 1))


class RecorderStates(RuleBasedStateMachine):
    """Script what a board does, then record it; how it ended decides what must be in the file."""

    def __init__(self):
        super().__init__()
        self.pieces = [encode_hello(HELLO)]
        self.sent: list[int] = []
        self.number = 0
        self.lost = 0
        self.full_at = None
        self.deleted = False
        self.stopped_after = None  # rows sent when it was stopped
        self.killed = []  # rows sent, and what the system held of the file then
        self.path = self.recorder = None

    @rule(count=st.integers(1, 300))
    def send(self, count):
        self.pieces.append(rows(self.number, count))
        self.sent += range(self.number, self.number + count)
        self.number += count

    @precondition(lambda self: self.sent)
    @rule(count=st.integers(1, 40))
    def lose(self, count):
        self.number += count
        self.lost += count

    @rule(noise=st.binary(max_size=60).filter(lambda b: b"\xa5" not in b))
    def garbage(self, noise):
        self.pieces.append(noise)

    @rule()
    def hello_again(self):
        self.pieces.append(encode_hello(HELLO))

    @precondition(lambda self: self.sent)
    @rule(torn=st.integers(1, 12))
    def unplug(self, torn):
        self.pieces += [rows(self.number, 1)[:torn], Unplugged("scripted was unplugged")]
        self.number += 1

    @rule()
    def mark(self):
        self.pieces.append(0.0)

    @rule()
    def kill(self):
        """A killed program leaves what the system was given: look at that, and go on."""
        sent = len(self.sent)

        def look():
            found = self.file.path if self.file.writer is not None else self.path
            self.killed.append((sent, found.read_bytes() if found.exists() else None))

        self.pieces.append(look)

    @precondition(lambda self: self.stopped_after is None)
    @rule()
    def stop(self):
        self.stopped_after = len(self.sent)
        self.pieces.append(lambda: self.recorder.stop())

    @precondition(lambda self: self.full_at is None and self.sent and os.name == "posix")
    @rule()
    def delete_the_file(self):
        self.deleted = True
        self.pieces.append(lambda: self.path.unlink(missing_ok=True))

    @precondition(lambda self: self.full_at is None and not self.deleted)
    @rule(size=st.integers(600, 20_000))
    def fill_the_disk(self, size):
        self.full_at = size

    @invariant()
    def nothing_yet(self):
        assert self.number >= len(self.sent)

    def teardown(self):
        with tempfile.TemporaryDirectory() as name:
            self.check(Path(name) / "r.csv")

    def check(self, path):
        unplugged = any(isinstance(p, Unplugged) for p in self.pieces)
        ears, file = Ears(), FileListener(path, "sweep")
        self.path, self.file = path, file
        # What comes after a stop is no part of the recording.
        sent = self.sent[:self.stopped_after]
        limit = self.full_at

        class Disk(RecordingWriter):
            def _write(self, data):
                if limit is not None and self._end + len(data) > limit:
                    real = os.write
                    try:
                        os.write = lambda f, d: (_ for _ in ()).throw(
                            OSError(errno.ENOSPC, "No space left on device"))
                        return super()._write(data)
                    finally:
                        os.write = real
                return super()._write(data)

        import bench.acquisition.recorder_file as room

        room.RecordingWriter = Disk
        try:
            recorder = Recorder(Scripted(*self.pieces, 0.01), [file, ears], retry_s=5.0)
            self.recorder = recorder
            file.recorder = recorder
            recorder.start()
            assert recorder.wait(30)
        finally:
            room.RecordingWriter = RecordingWriter
        self.check_kills(limit)
        if not path.exists():
            assert not sent or limit is not None
            return
        found = read_recording(path)
        kept = (found.channels[0].readings + SPAN * found.channels[1].readings).astype(int)
        # No row lost that was said to be kept; only the end may be missing, on a full disk.
        assert file.writer.rows == kept.size
        if limit is None:
            assert kept.tolist() == sent
        else:
            assert kept.tolist() == sent[:kept.size]
        assert np.all(np.diff(found.time_s) >= 0)
        told = found.lost_samples
        if not unplugged:
            really = int(np.sum(np.diff(kept) - 1)) if kept.size else 0
            assert told == really

    def check_kills(self, limit):
        """Every row that came before the kill is in the file, and the file opens."""
        for sent, data in self.killed:
            if data is None:
                assert sent == 0 or limit is not None or self.deleted
                continue
            copy = self.path.with_name("killed.csv")
            copy.write_bytes(data)
            found = read_recording(copy)
            kept = (found.channels[0].readings + SPAN * found.channels[1].readings).astype(int)
            assert kept.tolist() == self.sent[:kept.size]
            assert kept.size == sent or limit is not None or self.deleted


RecorderStates.TestCase.settings = settings(
    max_examples=40, stateful_step_count=12, deadline=None,
    suppress_health_check=list(HealthCheck))
TestRecorderStates = RecorderStates.TestCase

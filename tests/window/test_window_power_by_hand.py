"""The power buttons of a proof without a power channel: a recorded car behind a real serial port.

The rows are those of the sample's log of opened wires (sample_sweeps/JOB.md: a right car), played
step by step as the person does what the prompt asks; the board's current sensor is left out.
"""

import queue
import shutil
from dataclasses import replace

import numpy as np
import pytest
from places import ROOT
from PySide6.QtCore import Qt
from window_driver import PATIENCE_MS, connect, open_window, press

from bench.acquisition.boards.pty_server import PtyServer, can_serve
from bench.acquisition.boards.streamed import StreamedBoard
from bench.acquisition.wire import encode_frames
from bench.files.job_record import read_job
from bench.files.recording_file import read_recording

pytestmark = pytest.mark.skipif(not can_serve(), reason="needs pseudo terminals")
SAMPLE = ROOT / "sample_sweeps" / "job_with_a_loose_plug"
FASTER = 25.0
PIECE = 20


class SteppedCar(StreamedBoard):
    """Send the rows of a recorded step when it is played, those of its key-off rest until then."""

    def __init__(self):
        whole = read_recording(SAMPLE / "wires.csv")
        super().__init__("recorded car", replace(whole, channels=tuple(
            c for c in whole.channels if c.role != "current")), FASTER)
        ends = [m.row for m in whole.marks[1:]] + [whole.rows]
        self.steps = {m.text: slice(m.row, end)
                      for m, end in zip(whole.marks, ends, strict=True)}
        self.asked = queue.SimpleQueue()
        self.playing = True

    def open(self):
        super().open()
        self._pieces = self._live()
        self._next = next(self._pieces)

    def _live(self):
        values = np.stack([c.readings for c in self.recording.channels], axis=1).astype(np.int64)
        step_s, row, at, todo = self.recording.step_s, 0, 0, values[self.steps["done"]]
        while True:
            if at + PIECE > len(todo):
                at = 0
                self.playing = not self.asked.empty()
                todo = values[self.steps[self.asked.get() if self.playing else "done"]]
                todo = todo if self.playing else todo[:10 * PIECE]
            ticks = np.rint((row + np.arange(PIECE)) * step_s * 1e6).astype(np.int64) % (1 << 32)
            yield (row + PIECE) * step_s, encode_frames(row & 0xFFFF, ticks, todo[at: at + PIECE])
            row, at = row + PIECE, at + PIECE

    def play(self, mark):
        self.playing = True
        self.asked.put(mark)


def test_the_power_buttons_on_a_recorded_car(qtbot, tmp_path):
    """Said to have stopped leaves a wire open, said to stay on fails it, unsaid claims nothing."""
    job = tmp_path / "job"
    job.mkdir()
    shutil.copy(SAMPLE / "sweep.csv", job)
    window = open_window(qtbot, tmp_path)
    car = SteppedCar()
    with PtyServer(car) as server:
        connect(qtbot, window, server.port)
        bench = window.session.bench
        window.go_to("proof")
        page = window.page
        page.bar.field.setText(str(job))
        qtbot.keyClick(page.bar.field, Qt.Key.Key_Return)
        qtbot.waitUntil(lambda: page.proofs is not None and not page.desk.busy,
                        timeout=PATIENCE_MS)
        press(qtbot, page.bar.take_in)
        qtbot.waitUntil(lambda: page.proofs.of("sweep").state == "proved" and not page.desk.busy,
                        timeout=PATIENCE_MS)
        page.pick("wires")
        page.detail.setup.join.setChecked(False)
        for tick in page.detail.cautions.ticks:
            tick.box.setChecked(True)
        press(qtbot, window.step_bar.action)
        qtbot.waitUntil(lambda: page.prompt is not None, timeout=PATIENCE_MS)
        assert page.live.by_hand.isVisible()
        while page.prompt is not None and bench.link.state == "recording":
            prompt = page.prompt
            if prompt.code in ("as wired", "try it"):
                car.play(prompt.mark)
                qtbot.waitUntil(lambda: not car.playing, timeout=PATIENCE_MS)
            if prompt.code == "try it":
                said = page.live.stays if prompt.leads == ("supply",) else page.live.stopped
                if prompt.leads != ("b",):
                    press(qtbot, said)
                    assert "Noted in the log" in page.live.noted.text()
            press(qtbot, window.step_bar.action)
            qtbot.waitUntil(lambda prompt=prompt: page.prompt is not prompt
                            or bench.link.state != "recording", timeout=PATIENCE_MS)
        qtbot.waitUntil(lambda: read_job(job).last("wires") is not None and not page.desk.busy
                        and page.proofs.of("wires").entry is not None, timeout=PATIENCE_MS)
    found = page.proofs.of("wires")
    told = {s.step.mark: (s.verdict, s.code) for s in found.outcome.wires.steps}
    assert told == {
        "as wired": ("pass", "works as wired"),
        "open a": ("not seen", "stopped by hand clock"), "open b": ("not seen", "nobody said"),
        "open supply": ("fail", "no action"), "open ground": ("not seen", "stopped by hand clock")}
    assert (found.state, found.because) == ("failed", ("open supply",))
    assert "supply lead open: power must stop" in window.step_bar.more.text()

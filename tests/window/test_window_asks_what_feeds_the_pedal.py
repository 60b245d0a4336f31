"""What `sweep --fed-by` says on the command line is said in the window too, before and after.

No outside source: the promise is the project's own.
"""

from dataclasses import replace

import numpy as np
import pytest
from recorded_sweeps import swept
from window_driver import (
    PATIENCE_MS,
    connect,
    open_window,
    press,
    served_pedal,
    start_sweep,
    wait_opened,
    wait_told,
)

from analysis.evidence.sweep import SUPPLY
from bench.files.recording_file import read_recording, write_recording


@pytest.fixture
def clipped(tmp_path):
    """Return the file of a sweep whose supply stands at the last code of its converter."""
    recording = swept("healthy").recording
    channels = tuple(
        replace(c, readings=np.full_like(c.readings, c.full_scale - 1), scale=1.0,
                offset_volts=0.0) if c.role == "supply" else c for c in recording.channels)
    path = tmp_path / "clipped.csv"
    write_recording(path, replace(recording, channels=channels))
    return path


@pytest.mark.parametrize(("answer", "said", "state"), [
    ("The board", "board", "sound"), ("A bench supply", "bench supply", "bad")])
def test_a_sweep_whose_supply_reads_the_end_is_asked_about(qtbot, tmp_path, clipped, answer, said,
                                                           state):
    """The answer goes into a copy, which is opened; the recording itself stays as it was."""
    window = open_window(qtbot, tmp_path)
    before = clipped.read_bytes()
    window.session.open(clipped)
    told = wait_told(qtbot, window, "What feeds the pedal?")
    assert "100 % of the sweep" in told
    press(qtbot, next(b for b in window.notice.answers if b.text() == answer))
    copy = tmp_path / f"clipped-fed-by-{said.split()[0]}.csv"
    wait_opened(qtbot, window, copy)
    assert read_recording(copy).extra["fed_by"] == said
    assert clipped.read_bytes() == before
    claims = {c.claim: c.state for c in window.session.findings.claims}
    assert claims[SUPPLY] == state
    assert not window.notice.isVisible()


def test_what_feeds_the_pedal_is_said_before_the_sweep(qtbot, tmp_path):
    """Beside the board; the simulated pedal has its own and is not asked."""
    window = open_window(qtbot, tmp_path)
    page = window.pages["wire_up"]
    window.go_to("wire_up")
    assert not page.fed_by.isVisible()
    with served_pedal("healthy") as server:
        connect(qtbot, window, server.port)
        assert page.fed_by.isVisible()
        assert window.session.bench.said_feed is None
        page.fed_by.setCurrentText("A bench supply")
        path = start_sweep(qtbot, window, cycles=1)
        link = window.session.bench.link
        link.stop()
        qtbot.waitUntil(lambda: link.state != "recording", timeout=PATIENCE_MS)
    assert read_recording(path).extra["fed_by"] == "bench supply"

"""In the window a log whose noise would pass the values, or that lacks the supply, earns no tick.

Truth: what is put into the simulated cars here.
"""

from dataclasses import replace
from pathlib import Path

import pytest
from places import ROOT
from PySide6.QtCore import Qt
from said import as_text
from window_driver import PATIENCE_MS, cleared, open_file, press

from analysis.simulation.car import Car, CarNoise, CarTrack, drive
from bench.files.recording_file import write_recording
from bench.window.finding_view import doubt_of

SWEEP = ROOT / "sample_sweeps" / "synthetic_healthy_pair.csv"


@pytest.fixture
def window(window):
    """The one window of this file, cleared of what the test before put on it."""
    return cleared(window)


def opened(qtbot, window, folder: Path, change) -> tuple:
    """Return a window and its page with the log of a quiet car, changed, contactor closed."""
    open_file(qtbot, window, SWEEP)
    tracks = tuple(CarTrack(n, t.rest.value, t.full.value)
                   for n, t in window.session.findings.tracks.items())
    made = drive(change(Car(cycles=4, rate_hz=200.0, tracks=tracks)))[0]
    path = folder / "log.csv"
    write_recording(path, replace(made, extra={**made.extra, "contactor": "closed"}))
    window.session.open(path)
    qtbot.waitUntil(lambda: window.session.key_on_path == path
                    and not window.session.work.busy, timeout=PATIENCE_MS)
    return window, window.pages["in_car"]


def test_noise_that_would_pass_the_values_stands_first(qtbot, window, tmp_path):
    window, page = opened(qtbot, window, tmp_path, lambda car: replace(
        car, noise=CarNoise(white=0.010)))
    assert page.status() == ("noise passes the values", False)
    assert page.next_step().text.startswith("Do not keep the start of travel judged here")
    assert page.sentences.item(0).data(Qt.ItemDataRole.UserRole).gravity == 2
    assert window.pages["decide"].status() == ("noise passes the values", False)
    assert doubt_of(window.session.findings, window.session.key_on,
                    "a").startswith("the noise in the car would pass it")
    before = window.session.findings.dead_bands
    press(qtbot, page.use)
    after = window.session.findings.dead_bands
    # Issued anew with this log's noise the values lie beyond it, and nothing is held against them.
    assert all(after[n].start_of_travel_volts > before[n].start_of_travel_volts for n in before)
    assert doubt_of(window.session.findings, window.session.key_on, "a") == ""
    assert sum("the noise would pass the start of travel of the sweep alone" in as_text(s)
               for s in window.session.findings.graded) == 1


def test_a_log_without_the_supply_earns_no_tick(qtbot, window, tmp_path):
    _, page = opened(qtbot, window, tmp_path, lambda car: replace(car, with_supply=False))
    assert page.status() == ("supply not logged", False)
    assert "Log the supply on a third input" in page.next_step().text

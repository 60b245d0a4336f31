"""A sweep of any kind gives the same sheets in the window and on the command line, word for word.

No outside source: the promise is the project's own. What each recording is was put into it here.
"""

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtWidgets import QApplication
from window_driver import open_file

from analysis.model.recording import Channel
from analysis.simulation import pedal_named, simulate_sweep
from bench.command_line import main
from bench.files.recording_file import write_recording
from bench.services.findings import findings_text, open_findings
from bench.wording.face import WINDOW

FORMS = ("text", "json", "csv", "toml", "c")
# A sheet that the window saves names no option; all else is the same.
OPTION = " and state it with --rheostat-known-ohms"
MADE = simulate_sweep(pedal_named("off-at-rest"), 100.0, 12, cycles=4, quick=3, seed=5)


def hall():
    """A Hall sensor of two tracks, whose limits nobody stated."""
    return replace(MADE.recording, extra={"pedal_kind": "hall"})


def hand_throttle():
    """One track alone, turned by hand."""
    made = MADE.recording
    return replace(made, channels=tuple(c for c in made.channels if c.column != "b"),
                   extra={"pedal_use": "hand throttle"})


def rheostat():
    """Two wires of 5 kohm under a known 4700 ohm, by Ohm's law."""
    ohms = 5000.0 * MADE.truth.pedal_travel_percent / 100.0
    noise = np.random.default_rng(2).normal(0.0, 8e-4, ohms.size)
    volts = 5.0 * ohms / (ohms + 4700.0) + noise
    counts = np.clip(np.floor(volts / 5.0 * 4096), 0, 4095)
    return replace(MADE.recording, channels=(Channel("r", "track", counts, "counts", 4096, 5.0),),
                   extra={"pedal_kind": "rheostat"})


def three_tracks():
    """A third track at 90 % of the first one's volts."""
    made = MADE.recording
    first = made.channel("a")
    third = replace(first, column="c", readings=np.floor(0.9 * first.readings))
    return replace(made, channels=(*made.channels, third))


def signed_counts():
    """Counts from -2048 to 2047 that stand for 0 to 5 V."""
    made = MADE.recording
    return replace(made, channels=tuple(
        c if c.role != "track" else
        replace(c, readings=c.readings - 2048.0, full_scale=2048.0, reference_volts=2.5,
                offset_volts=2.5) for c in made.channels))


ODD = (hall, hand_throttle, rheostat, three_tracks, signed_counts)


@pytest.fixture(params=ODD, ids=lambda each: each.__name__)
def path(request, tmp_path):
    write_recording(tmp_path / f"{request.param.__name__}.csv", request.param())
    return tmp_path / f"{request.param.__name__}.csv"


def test_every_sheet_of_an_odd_sweep_is_the_same(qtbot, window, capsys, path):
    """The values in every format as `settings` prints them, the findings as the sheet tells them;
    and every page shows the sweep."""
    open_file(qtbot, window, path)
    for key in ("read", "decide"):
        window.go_to(key)
        QApplication.processEvents()
        assert not window.page.wrong, key
    keep = window.pages["keep"]
    keep.folder.setText(str(path.parent))
    for form in FORMS:
        saved = keep.save_settings(form).read_bytes().decode("utf-8").replace("\r\n", "\n")
        capsys.readouterr()
        assert main(["settings", str(path), "--format", form]) in (0, 1)
        told = capsys.readouterr().out.replace("\r\n", "\n").replace(OPTION, "")
        assert saved == told, form
    # What is copied is the sheet of the same findings, in the window's words.
    window.go_to("read")
    window.pages["read"].sentences.setCurrentItem(None)
    window.pages["read"].copy()
    assert QApplication.clipboard().text() == findings_text(open_findings(path), face=WINDOW)

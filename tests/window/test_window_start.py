"""Starting the window: the verb, the look of the system, sharp screens, and the bars in short."""

import ctypes
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from places import ROOT
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from window_driver import open_file, open_window

from bench.acquisition.boards.pty_server import can_serve
from bench.command_line import main
from bench.window import theme


def test_help_of_the_verb_works_without_loading_qt():
    """`stillpedal window --help` answers even where Qt's system libraries are missing."""
    code = ("import sys\nfrom bench.command_line import main\n"
            "try: main(['window', '--help'])\n"
            "except SystemExit: pass\n"
            "sys.exit(any(m.startswith('PySide6') for m in sys.modules))")
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True,
                          timeout=60)
    assert done.returncode == 0
    assert "--before" in done.stdout


@pytest.mark.parametrize(("words", "said"), [
    (["window", "nowhere.csv"], "nowhere.csv"),
    (["window", "--before", __file__], "--before needs a recording"),
])
def test_a_wrong_call_is_one_line_and_status_2(capsys, words, said):
    """A file that is not there, or half a comparison, is refused before any window opens."""
    assert main(words) == 2
    error = capsys.readouterr().err
    assert said in error
    assert error.count("\n") == 1


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="elsewhere there is a screen")
def test_without_a_screen_the_verb_says_so_instead_of_dying(monkeypatch, capsys):
    """Qt would end the whole process; the verb looks first."""
    for name in ("QT_QPA_PLATFORM", "DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    assert main(["window"]) == 2
    assert "no screen here" in capsys.readouterr().err


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="X11's part is Linux's")
def test_a_missing_system_library_is_named_instead_of_dying(monkeypatch, capsys):
    """Qt would end the whole process with words of its own; the verb tries its X11 part first."""
    for name in ("QT_QPA_PLATFORM", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("DISPLAY", ":99")

    def load(name: str | None) -> None:
        assert name is None or Path(name).is_file()
        raise OSError("libxcb-icccm.so.4: cannot open shared object file")

    monkeypatch.setattr(ctypes, "CDLL", load)
    assert main(["window"]) == 2
    said = capsys.readouterr().err
    assert "libxcb-icccm.so.4" in said
    assert "docs/troubleshooting.md" in said
    assert said.count("\n") == 1


@pytest.mark.parametrize(("scheme", "name"), [
    (Qt.ColorScheme.Dark, "dark"), (Qt.ColorScheme.Light, "light"),
    (Qt.ColorScheme.Unknown, "light"),
])
def test_the_look_follows_the_system_unless_chosen(qtbot, tmp_path, monkeypatch, scheme, name):
    """As the system: its answer decides, and a change of it is followed."""
    class Hints:
        @staticmethod
        def colorScheme():
            return scheme

    window = open_window(qtbot, tmp_path)
    system = QGuiApplication.styleHints()
    monkeypatch.setattr(theme.QGuiApplication, "styleHints", staticmethod(lambda: Hints))
    system.colorSchemeChanged.emit(scheme)
    assert window.session.skin.look.name == name
    window.session.preferences.setValue("window/look", "dark")
    system.colorSchemeChanged.emit(scheme)
    assert window.session.skin.look.name == "dark"
    assert QGuiApplication.instance() is not None


def test_a_sharp_screen_gets_all_its_pixels(tmp_path):
    """At a scale of 2 the window is painted with twice the pixels, text and plots alike."""
    code = (
        "import os, sys\n"
        "from PySide6.QtCore import QSettings\n"
        "from bench.window.app import application\n"
        "from bench.window.main_window import MainWindow\n"
        "app = application()\n"
        f"w = MainWindow(QSettings({str(tmp_path / 'w.ini')!r}, QSettings.Format.IniFormat))\n"
        "w.resize(1200, 800); w.show(); app.processEvents()\n"
        "image = w.grab().toImage()\n"
        "print(image.width(), image.height(), w.width(), w.height(), flush=True)\n"
        "os._exit(0)\n")
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=60,
        env=os.environ | {"QT_SCALE_FACTOR": "2", "QT_QPA_PLATFORM": "offscreen"})
    wide, high, points_wide, points_high = map(int, done.stdout.split())
    assert (wide, high) == (2 * points_wide, 2 * points_high)


def test_the_window_stands_before_what_its_first_page_does_not_need(tmp_path):
    """Neither the plotting library nor another page is loaded until something asks for it."""
    code = (
        "import os, sys\n"
        "from PySide6.QtCore import QSettings\n"
        "from bench.window.app import application\n"
        "from bench.window.main_window import MainWindow\n"
        "app = application()\n"
        f"w = MainWindow(QSettings({str(tmp_path / 'w.ini')!r}, QSettings.Format.IniFormat))\n"
        "w.show(); app.processEvents()\n"
        "early = [m for m in ('pyqtgraph', 'scipy.stats') if m in sys.modules]\n"
        "print(early, [p.key for p in w.pages.made()], flush=True)\n"
        "w.make_pages()\n"
        "while len(w.pages.made()) < len(w.pages): app.processEvents()\n"
        "print([p.key for p in w.pages.made()] == list(w.pages), flush=True)\n"
        "os._exit(0)\n")
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True,
                          timeout=60)
    assert done.stdout.splitlines() == ["[] ['wire_up']", "True"], done.stderr


def test_the_window_fits_a_small_laptop(qtbot, tmp_path):
    """Every page fits 1280 x 720, less what a task bar takes, with a recording open."""
    window = open_window(qtbot, tmp_path)
    open_file(qtbot, window, ROOT / "sample_sweeps" / "synthetic_wiper_dropouts.csv")
    for title in window.pages:
        window.go_to(title)
    least = window.minimumSizeHint()
    assert least.width() <= 1280
    assert least.height() <= 680


@pytest.mark.skipif(not can_serve(), reason="needs pseudo terminals")
@pytest.mark.parametrize("minutes", [1, pytest.param(10, marks=pytest.mark.long)])
def test_minutes_of_four_channels_in_short_lose_no_sample(minutes):
    """So long at 1 kHz, 40 times as fast: no sample lost and the memory stays flat.

    Frames and processor are measured by tests/benchmarks/window_frames.py at true speed.
    """
    done = subprocess.run(
        [sys.executable, str(ROOT / "tests/benchmarks/window_frames.py"), "--only", "live",
         "--seconds", str(60 * minutes / 40), "--speed", "40"], cwd=ROOT, capture_output=True,
        text=True, timeout=240)
    assert "samples lost" in done.stdout, done.stderr[-2000:]
    lines = {line.split(":")[0][6:]: line for line in done.stdout.splitlines()}
    lost = lines["samples lost, live with recording"]
    rows = int(re.search(r"in (\d+) rows", lost)[1])
    assert lost.startswith("ok"), done.stdout
    assert rows > 30_000 * minutes
    assert lines["memory growth"].startswith("ok"), done.stdout

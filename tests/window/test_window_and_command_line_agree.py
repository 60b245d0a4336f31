"""The window and the command line say the same of one sweep and one log, word for word."""

import re
import subprocess
import sys
from pathlib import Path

import pytest
from places import ROOT
from PySide6.QtWidgets import QApplication
from window_driver import PATIENCE_MS, cleared, open_file, press, wait_told

from bench.command_line import main

SAMPLES = ROOT / "sample_sweeps"
SWEEP = SAMPLES / "synthetic_healthy_pair.csv"
# Power applied; a brake and a foot; the contactor closed and nothing wrong.
LOGS = ["ground_offset", "foot_and_brake", "quiet_car"]
PRINTED: dict[tuple[object, ...], str] = {}
FORMS = {"text": ".txt", "json": ".json", "csv": ".csv", "toml": ".toml", "c": ".h"}


@pytest.fixture
def window(window):
    """The one window of this file, cleared of what the test before put on it."""
    return cleared(window)


def log_of(name: str) -> Path:
    return SAMPLES / f"synthetic_key_on_{name}.csv"


def open_log(qtbot, window, path: Path) -> None:
    window.session.open(path)
    qtbot.waitUntil(lambda: window.session.key_on_path == path
                    and not window.session.work.busy, timeout=PATIENCE_MS)


def printed(capsys, *words: str) -> str:
    """Return what a command prints; asked again, what it printed before."""
    if words not in PRINTED:
        capsys.readouterr()
        assert main([str(w) for w in words]) == 0
        PRINTED[words] = capsys.readouterr().out
    return PRINTED[words]


def figures(text: str) -> list[str]:
    """Return every number of a sheet but those of an option or a command."""
    told = re.sub(r"`[^`]*`|--[a-z-]+( [a-z]*=?[\d.]+)?", "", text)
    return re.findall(r"\d+(?:\.\d+)?", told)


def same_sheets(capsys, window, folder: Path, log: Path, *options: str) -> None:
    """Hold every values sheet that the window saves to what `settings` prints."""
    keep = window.pages["keep"]
    keep.folder.setText(str(folder))
    for form in FORMS:
        saved = keep.save_settings(form).read_bytes().decode("utf-8")
        told = printed(capsys, "settings", SWEEP, "--key-on", log, "--format", form, *options)
        assert saved.replace("\r\n", "\n") == told.replace("\r\n", "\n"), form
    template = folder / "mine.txt"
    template.write_text("{start_of_travel.a} {warnings}\n", encoding="utf-8")
    filled = keep.fill_template(template).read_text(encoding="utf-8")
    assert filled == printed(capsys, "settings", SWEEP, "--key-on", log, "--template", template,
                             *options)


# One log by the suite, each by hand: the same ways are gone for all.
@pytest.mark.parametrize("name", [
    LOGS[0], *(pytest.param(log, marks=pytest.mark.long) for log in LOGS[1:])])
def test_values_and_key_on_sheets_are_the_same(qtbot, window, tmp_path, capsys, name):
    """Every format of the values, a template of the user's own, and the key-on log's sheet."""
    log = log_of(name)
    open_file(qtbot, window, SWEEP)
    open_log(qtbot, window, log)
    page = window.pages["in_car"]
    page.copy()
    copied = QApplication.clipboard().text()
    assert figures(copied) == figures(printed(
        capsys, "watch", "--from", log, "--sweep", SWEEP, "--more"))
    # The window has no options; every number above is the same.
    assert not re.search(r"(?<!-)--[a-z]", copied)
    assert "stillpedal" not in copied
    press(qtbot, page.use)
    same_sheets(capsys, window, tmp_path, log)


def test_other_parameters_give_the_same_sheets_at_once(qtbot, window, tmp_path, capsys):
    """A log in use is judged anew before a value is saved, whichever parameter was changed."""
    log = log_of("ground_offset")
    open_file(qtbot, window, SWEEP)
    open_log(qtbot, window, log)
    press(qtbot, window.pages["in_car"].use)
    window.session.set_parameters(margin_volts=0.03, key_ons=1000)
    assert window.session.findings.car
    same_sheets(capsys, window, tmp_path, log, "--margin-volts", "0.03", "--key-ons", "1000")
    # Once the window has judged it by itself, they are what they were.
    qtbot.waitUntil(lambda: not window.session.work.busy, timeout=PATIENCE_MS)
    same_sheets(capsys, window, tmp_path, log, "--margin-volts", "0.03", "--key-ons", "1000")


def test_a_sweep_alone_gives_the_same_sheets(qtbot, window, tmp_path, capsys):
    """Without any log as well."""
    open_file(qtbot, window, SWEEP)
    keep = window.pages["keep"]
    keep.folder.setText(str(tmp_path))
    for form in FORMS:
        assert keep.save_settings(form).read_bytes().decode("utf-8").replace("\r\n", "\n") == (
            printed(capsys, "settings", SWEEP, "--format", form).replace("\r\n", "\n")), form


def test_the_report_is_the_same_page(qtbot, window, tmp_path):
    """The page that the window writes of what is on show is the command line's, word for word."""
    log = log_of("foot_and_brake")
    open_file(qtbot, window, SWEEP)
    open_log(qtbot, window, log)
    press(qtbot, window.pages["in_car"].use)
    keep = window.pages["keep"]
    keep.folder.setText(str(tmp_path))
    keep.save_report("html")
    wait_told(qtbot, window, "-report.html")
    # In a process of its own: the window's application has another face for the figures.
    subprocess.run([sys.executable, "-m", "bench", "report", str(SWEEP), "--key-on", str(log),
                    "--out", str(tmp_path / "told.html")], cwd=ROOT, check=True, timeout=120)
    (made,) = tmp_path.glob("*-report.html")
    assert made.read_text(encoding="utf-8") == (tmp_path / "told.html").read_text(encoding="utf-8")

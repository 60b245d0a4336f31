"""In the window what a log says of its car stays with the sweep it was judged by."""

from dataclasses import replace
from pathlib import Path

import pytest
from places import ROOT
from PySide6.QtCore import Qt
from window_driver import PATIENCE_MS, cleared, open_file, open_window, press, wait_told

from analysis.simulation.car import Car, CarTrack, drive
from bench.files.recording_file import read_recording, write_recording
from bench.services.findings import open_findings
from bench.services.key_on import judge, open_key_on
from bench.window.contactor_choice import NOT_CHOSEN
from bench.wording import window_told as told

SAMPLES = ROOT / "sample_sweeps"
QUIET = SAMPLES / "synthetic_key_on_quiet_car.csv"
LOUD = SAMPLES / "synthetic_key_on_ground_offset.csv"
SWEEP = SAMPLES / "synthetic_healthy_pair.csv"
OTHER = SAMPLES / "synthetic_opposed_pair.csv"
# The allowance of docs/method_deadband.md until a log measures it.
ASSUMED = ("assumed", 0.030)


@pytest.fixture
def window(window):
    """The one window of this file, cleared of what the test before put on it."""
    return cleared(window)


def open_log(qtbot, window, path: Path) -> None:
    window.session.open(path)
    qtbot.waitUntil(lambda: window.session.key_on_path == path
                    and not window.session.work.busy, timeout=PATIENCE_MS)


def from_the_car(window) -> dict[str, tuple[str, float]]:
    return {name: next((i.basis, i.volts) for i in band.items if "car" in i.name)
            for name, band in window.session.findings.dead_bands.items()}


def test_the_allowance_is_of_one_sweep_and_forgotten_at_the_end(qtbot, tmp_path):
    window = open_window(qtbot, tmp_path)
    open_file(qtbot, window, SWEEP)
    open_log(qtbot, window, LOUD)
    page = window.pages["in_car"]
    press(qtbot, page.use)
    assert all(basis == "measured" for basis, _ in from_the_car(window).values())
    # What the page goes by is what the command issues from the same files, track by track.
    watched = open_key_on(LOUD, None, (), SWEEP)
    shown = {(s.name, s.channel): s.value for s in window.session.findings.settings}
    for setting in watched.settings:
        assert shown[setting.name, setting.channel] == pytest.approx(setting.value, nan_ok=True)
    assert window.session.log_against is None
    open_file(qtbot, window, OTHER)
    assert set(from_the_car(window).values()) == {ASSUMED}
    assert window.session.log_against is window.session.key_on
    assert page.status() == ("of another sweep", False)
    assert page.next_step().text.startswith("This log was judged by another sweep")
    assert not page.use.isEnabled()
    window.session.take_measured()
    assert set(from_the_car(window).values()) == {ASSUMED}
    window.session.preferences.sync()
    window.close()
    again = open_window(qtbot, tmp_path)
    open_file(qtbot, again, SWEEP)
    assert set(from_the_car(again).values()) == {ASSUMED}


def test_an_allowance_kept_by_an_earlier_version_is_not_taken_up(qtbot, tmp_path):
    """The settings file of a window that had remembered 10 mV gives 30 mV again."""
    first = open_window(qtbot, tmp_path)
    first.session.preferences.setValue("parameters/car_allowance_volts", 0.010)
    first.session.preferences.sync()
    first.close()
    assert open_window(qtbot, tmp_path).session.parameters.car_allowance_volts == ASSUMED[1]


def test_a_changed_parameter_judges_the_log_in_use_again(qtbot, window):
    """The bound is for so many later key-ons: after a change it is that of a new analysis."""
    open_file(qtbot, window, SWEEP)
    open_log(qtbot, window, LOUD)
    press(qtbot, window.pages["in_car"].use)
    before = from_the_car(window)
    window.session.set_parameters(key_ons=10_000)
    qtbot.waitUntil(lambda: window.session.key_on_fits and not window.session.work.busy,
                    timeout=PATIENCE_MS)
    after = from_the_car(window)
    expected = open_key_on(LOUD, window.session.parameters, (), SWEEP)
    for name in "ab":
        assert after[name] == (expected.car[name].basis, expected.car[name].volts)
        assert after[name][1] > before[name][1]


def test_the_contactor_is_a_choice_on_the_page(qtbot, tmp_path):
    """Not chosen at first; told later, a log without the word is judged again by it."""
    window = open_window(qtbot, tmp_path)
    open_file(qtbot, window, SWEEP)
    # A quiet car with the swept pedal in it, at rest where it was swept.
    tracks = tuple(CarTrack(n, t.rest.value, t.full.value)
                   for n, t in window.session.findings.tracks.items())
    log = tmp_path / "quiet.csv"
    write_recording(log, drive(Car(cycles=4, rate_hz=200.0, tracks=tracks))[0])
    page = window.pages["in_car"]
    assert set(page.contactor.buttons) == {"open", "closed", None}
    assert page.contactor.choice == NOT_CHOSEN
    open_log(qtbot, window, log)
    assert page.status() == ("held; contactor not stated", False)
    assert page.next_step().more.startswith("If the contactor closed at these key-ons, state it")
    assert page.sentences.item(0).data(Qt.ItemDataRole.UserRole).gravity == 1
    assert set(from_the_car(window).values()) == {ASSUMED}
    press(qtbot, page.stated.buttons["closed"])
    qtbot.waitUntil(lambda: window.session.key_on.contactor == "closed", timeout=PATIENCE_MS)
    assert page.status() == ("the dead band holds", True)
    assert page.next_step().more == ""
    assert page.sentences.item(0).data(Qt.ItemDataRole.UserRole).gravity == 0
    press(qtbot, page.use)
    assert all(b == "measured" and v < 0.015 for b, v in from_the_car(window).values())


def test_the_word_in_the_header_stands(qtbot, window, tmp_path):
    log = read_recording(QUIET)
    path = tmp_path / "open.csv"
    write_recording(path, replace(log, extra={**log.extra, "contactor": "open"}))
    open_file(qtbot, window, SWEEP)
    open_log(qtbot, window, path)
    page = window.pages["in_car"]
    assert page.read.of_log.text() == "Contactor at these key-ons: open"
    assert not page.stated.isVisible()
    assert window.session.key_on.contactor == "open"
    assert not page.status()[1]


def test_no_tick_beside_bad_news(qtbot, window):
    """A stuck return (sample_sweeps/README.md) heads the page of the quiet log, in red."""
    open_log(qtbot, window, QUIET)
    page = window.pages["in_car"]
    assert page.status() == ("no values to judge by", False)
    assert "`" not in page.next_step().text
    open_file(qtbot, window, SAMPLES / "synthetic_stuck_return.csv")
    window.go_to("in_car")
    press(qtbot, window.step_bar.action)
    qtbot.waitUntil(lambda: window.session.key_on_fits and not window.session.work.busy,
                    timeout=PATIENCE_MS)
    assert page.next_step().text.startswith("Do not drive: ")
    assert page.next_step().label == "Sweep again"
    assert page.status() == ("repair the pedal first", False)
    first = page.sentences.item(0).data(Qt.ItemDataRole.UserRole)
    assert first.gravity == 3
    shown = " ".join(page.sentences.item(k).text() for k in range(page.sentences.count()))
    assert not any(words in shown for words in ("settings below", "--sweep", "`"))


@pytest.mark.parametrize("at_once", [True, False])
def test_an_allowance_goes_back_when_its_log_is_no_longer_the_opened_one(qtbot, window, at_once):
    """What its bound would be for other parameters nobody knows: the assumed one stands again.

    At once where a value is to leave the house, else a moment after the change.
    """
    session = window.session
    swept = open_findings(SWEEP)
    session.take(swept, SWEEP)
    session.take_key_on(judge(read_recording(LOUD), LOUD, session.parameters, swept=swept), LOUD)
    session.take_measured()
    assert all(basis == "measured" for basis, _ in from_the_car(window).values())
    # Any other log: what it shows is not asked.
    found = session.key_on
    session.take_key_on(replace(found, recording=replace(found.recording)), QUIET)
    assert session.set_parameters(margin_volts=0.01) == ""
    if at_once:
        session.settle()
    qtbot.waitUntil(lambda: set(from_the_car(window).values()) == {ASSUMED}, timeout=PATIENCE_MS)
    assert wait_told(qtbot, window, "allowance") == told.ALLOWANCE_BACK

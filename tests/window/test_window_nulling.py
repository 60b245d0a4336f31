"""Nulling: how far off, which way, how many degrees."""

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtWidgets import QApplication
from said import refuses
from window_driver import PATIENCE_MS, connect, open_window, press, settings_in

from analysis.model.errors import BadParameter, SweepTooShort
from analysis.pedal.nulling import nulling
from bench.window.nulling_view import NullingView
from bench.window.session import Session
from bench.wording.limb import limb_of
from bench.wording.pages import nulling as said


def test_distance_and_degrees_follow_from_the_element():
    """150 mV of 5 V on an element of 270 degrees are 8.1 degrees (0.15 / 5 * 270)."""
    result = nulling(np.full(100, 0.90), 0.75, 5.0, 270.0)
    assert result.off_volts == pytest.approx(0.15)
    assert result.degrees == pytest.approx(8.1)
    assert result.way == "falls"
    assert nulling(np.full(100, 0.60), 0.75, 5.0, 270.0).way == "rises"


def test_on_target_within_a_thousandth_of_the_supply_or_one_step():
    """Nobody is sent hunting for less than can be read."""
    assert nulling(np.full(9, 0.754), 0.75, 5.0, 270.0).met
    assert not nulling(np.full(9, 0.756), 0.75, 5.0, 270.0).met
    assert nulling(np.full(9, 0.765), 0.75, 5.0, 270.0, step_volts=0.0195).met


def test_spikes_and_missing_readings_do_not_move_it():
    """The median holds against one reading in five that is a spike; NaN is left out."""
    volts = np.full(100, 0.8)
    volts[::5] = 5.0
    volts[1] = np.nan
    assert nulling(volts, 0.75, 5.0, 270.0).off_volts == pytest.approx(0.05)


def test_scatter_is_one_standard_deviation_of_normal_noise():
    """Half the width between the 15.87 % and 84.13 % points is sigma (normal distribution)."""
    volts = 1.0 + np.random.default_rng(1).normal(0, 0.004, 100_000)
    assert nulling(volts, 1.0, 5.0, 270.0).scatter_volts == pytest.approx(0.004, rel=0.02)


def test_nothing_to_go_by_is_said():
    """No reading, or an element without angle, is an error in one line."""
    with refuses(SweepTooShort, "no reading"):
        nulling(np.array([np.nan]), 0.75, 5.0, 270.0)
    with refuses(BadParameter, "above 0"):
        nulling(np.ones(3), 0.75, 5.0, 0.0)


def test_the_view_says_what_the_numbers_say(qtbot, tmp_path, monkeypatch):
    """The large number, the words and the tone follow the live reading."""
    beeps = []
    monkeypatch.setattr(QApplication, "beep", lambda: beeps.append(1))
    window = open_window(qtbot, tmp_path)
    connect(qtbot, window, "simulated")
    window.go_to("decide")
    page = window.pages["decide"]
    page.start_nulling()
    view = page.nulling
    # The simulated pedal rests for its first three seconds: a at 0.75 V, b at 0.91 V.
    view.track.setCurrentText("b")
    # No sweep is open and nobody stated a target: 0 V must not pass for one.
    qtbot.waitUntil(lambda: view.words.text().startswith("State the target"), timeout=PATIENCE_MS)
    assert view.target.text() == "not stated"
    view.target.setValue(0.75)
    assert view.origin.text() == "(typed here)"
    view.tone.setChecked(True)
    qtbot.waitUntil(lambda: view.result is not None, timeout=PATIENCE_MS)
    result = view.result
    assert view.number.text() == f"{1000 * result.off_volts:+.1f} mV"
    assert "reading falls" in view.words.text()
    assert f"{result.degrees:.1f} degrees" in view.words.text()
    view.target.setValue(result.level_volts + 0.01)
    qtbot.waitUntil(lambda: bool(beeps), timeout=PATIENCE_MS)
    # A board that stops sending leaves no number to turn by.
    monkeypatch.setattr(type(window.session.board_state), "frozen", True)
    qtbot.waitUntil(lambda: view.number.text() == "–", timeout=PATIENCE_MS)
    assert view.words.text().startswith("No readings come")
    press(qtbot, window.step_bar.action)
    assert not view.isVisible()


def test_without_a_board_the_view_sends_to_the_wiring(qtbot, tmp_path):
    """Turning live needs a board; the window says so and goes to the page that connects one."""
    window = open_window(qtbot, tmp_path)
    window.go_to("decide")
    window.pages["decide"].start_nulling()
    assert window.page is window.pages["wire_up"]
    assert "Connect the board first" in window.notice.text.text()


def test_the_tone_is_for_a_steady_reading_that_is_near(qtbot, tmp_path, monkeypatch):
    """No beep by chance: not far off, not while it moves, and no second one at once."""
    beeps = []
    monkeypatch.setattr(QApplication, "beep", lambda: beeps.append(1))
    view = NullingView(Session(settings_in(tmp_path)))
    qtbot.addWidget(view)
    near = nulling(np.full(100, 0.751), 0.75, 5.0, 270.0)
    view.show_reading(near, "")
    assert beeps == []
    view.tone.setChecked(True)
    far = nulling(np.full(100, 1.2), 0.75, 5.0, 270.0)
    moving = replace(near, steady=False)
    for reading in (far, moving):
        view.show_reading(reading, "")
        assert beeps == []
    assert view.words.text() == said.moves(limb_of(None))
    view.show_reading(near, "")
    view.show_reading(near, "")
    assert beeps == [1]

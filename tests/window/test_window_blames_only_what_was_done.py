"""The window blames nobody for what nobody did: a foot on the pedal, a field not yet filled in."""

import numpy as np
import pytest
from window_driver import open_window

from analysis.pedal.nulling import nulling


def shown(window, volts, target=0.75):
    """Show a level of a 5 V track, of an element of 270 degrees, in the nulling view."""
    view = window.pages["decide"].nulling
    result = nulling(np.full(50, volts), target, 5.0, 270.0)
    view.show_reading(result, "")
    return view, result


def test_a_foot_on_the_pedal_is_no_matter_of_turning(qtbot, tmp_path):
    """3.48 V off is 188 degrees (3.48 / 5 * 270): no potentiometer is off by that at rest."""
    view, result = shown(open_window(qtbot, tmp_path), 4.2326)
    assert result.degrees == pytest.approx(188.06, abs=0.1)
    assert view.words.text().startswith("The pedal is pressed")
    assert "degrees" not in view.words.text()
    assert view.number.text() == "+3.48 V"
    # The needle's scale ends where the supply does.
    assert view.needle.scale == 5.0


def test_a_track_that_is_off_is_turned(qtbot, tmp_path):
    """150 mV are 8.1 degrees (0.15 / 5 * 270): which way, and how far."""
    view, _ = shown(open_window(qtbot, tmp_path), 0.9)
    assert view.words.text() == "Turn so that the reading falls, about 8.1 degrees."
    assert view.number.text() == "+150.0 mV"
    assert view.needle.scale == 0.3


def test_senders_asks_for_nothing_before_a_key_is_touched(qtbot, tmp_path):
    """A divider without its resistors is told once somebody types, or starts the check."""
    window = open_window(qtbot, tmp_path)
    window.go_to("senders")
    page = window.pages["senders"]
    page.fields.kind.setCurrentText("divider")
    assert page.fields.wrong == ""
    page.fields.stated["highest_volts"].setText("24")
    assert "Top resistor" in page.fields.wrong
    page.fields.kind.setCurrentText("thermistor")
    assert page.fields.wrong == ""
    page.fields.kind.setCurrentText("divider")
    page.start()
    assert "Top resistor" in page.fields.wrong + window.notice.text.text()

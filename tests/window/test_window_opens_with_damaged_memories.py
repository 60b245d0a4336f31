"""What the window remembers may be damaged: it opens all the same, with what is usual."""

import pytest
from PySide6.QtCore import QSettings
from stress import window_saved_state

from bench.window.channel_edits import from_plain
from bench.window.remembered_numbers import whole_number


def test_a_window_opens_whatever_its_memories_say(qapp):
    assert window_saved_state.windows(3) == []


@pytest.mark.parametrize("kept", ["", "x", "-1", "5.5", "1e9", "9" * 30, None])
def test_a_number_that_is_none_is_as_if_it_were_not_kept(kept, tmp_path):
    preferences = QSettings(str(tmp_path / "w.ini"), QSettings.Format.IniFormat)
    preferences.setValue("board/baud", kept)
    assert whole_number(preferences, "board/baud", 115200) == 115200
    preferences.setValue("board/baud", "9600")
    assert whole_number(preferences, "board/baud", 115200) == 9600


@pytest.mark.parametrize("plain", [
    None, [], 3, {"columns": 3}, {"roles": [1]}, {"scale": {"a": "x"}}, {"full_scale": 10**400},
    {"roles": {"a": "nonsense"}}, {"x": 1}])
def test_channels_that_make_no_sense_are_forgotten(plain):
    assert from_plain(plain) == from_plain({})

"""Speed and pilot without a meter: a recording or typed values in, the answer first out.

Pulses by scipy.signal.square, a general library; 0.6 A a percent: SAE J1772.
"""

import json

import numpy as np
import pytest
from scipy.signal import square

from analysis.model.recording import Channel, Mark, Recording
from bench.command_line import main
from bench.files.recording_file import write_recording


def _write(path, hertz, rate, seconds, low, high, marks=()):
    t = np.arange(int(rate * seconds)) / rate
    volts = np.where(square(2 * np.pi * (hertz * t + 0.1), 0.3) > 0, high, low)
    write_recording(path, Recording(t, (Channel("p", "other", volts, unit="V"),), marks))
    return str(path)


def test_a_recording_of_the_pilot_says_what_may_be_drawn(tmp_path, capsys):
    """-12 and 9 V behind the three resistors: state B, 30 % is 18 A, less what is not sure."""
    ratio, lift = 1 + 100 / 39 + 100 / 68, 5 * 100 / 39
    file = _write(tmp_path / "pilot.csv", 1000.3, 40_000, 0.3, (-12 + lift) / ratio,
                  (9 + lift) / ratio)
    assert main(["meter", "--kind", "pilot", "--from", file, "--json", "--strict"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert 17.7 <= said["found"][0]["value"] <= 18.0
    assert said["found"][1]["name"] == "B (vehicle present)"
    assert said["cautions"]


def test_a_recording_of_a_wheel_says_its_speed_and_a_marked_one_is_checked(tmp_path, capsys):
    """10 Hz / 4 pulses = 150 rpm, by hand; with marks of a meter the same file is a calibration."""
    file = _write(tmp_path / "speed.csv", 10.0, 200, 8, 0.0, 5.0)
    words = ["meter", "--kind", "speed", "--set", "pulses_per_turn=4", "--from"]
    assert main([*words, file, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["found"][0]["value"] == pytest.approx(150, rel=3e-3)
    assert main([*words, file, "--out", str(tmp_path / "x.html")]) == 2
    assert "without a meter" in capsys.readouterr().err
    marked = _write(tmp_path / "marked.csv", 10.0, 200, 8, 0.0, 5.0,
                    (Mark(800, "meter 150"), Mark(1500, "meter 150")))
    assert main([*words, marked]) == 0
    said = capsys.readouterr().out
    assert "meter      not named" in said
    assert "Hz" in said


@pytest.mark.parametrize(("words", "said"), [
    (["pilot", "--set", "duty_percent=26.7", "--set", "hertz=1000"], "at most 16 A"),
    (["speed", "--set", "pulses_per_turn=4", "--set", "hertz=120"], "1800 rpm")])
def test_what_ones_own_meter_shows_is_typed(words, said, capsys):
    """The table, and 120 / 4 * 60, by hand."""
    assert main(["meter", "--kind", *words]) == 0
    assert said in capsys.readouterr().out

"""A check against a meter passes nothing that was not judged, and asks for all it lacks at once."""

import math
import shlex
import sys

import pytest

from analysis.senders import KINDS
from bench.command_line import main

# Repeats at three levels, no hysteresis: such points pass when the meter's limits are known.
POINTS = "reading,meter\n" + "".join(f"{v},{v + e:.2f}\n" for v, e in (
    (1, 0.02), (2, 0.02), (3, 0.01), (4, 0.02), (5, 0.01), (1, 0.01), (2, 0.02), (3, 0.02)))


@pytest.fixture
def points(tmp_path):
    path = tmp_path / "points.csv"
    path.write_text(POINTS)
    return ["meter", "--from", str(path), "--strict"]


def test_a_meter_without_limits_is_not_called_a_pass(points, capsys):
    """JCGM 106: a pass counts what the reference may be wrong by; unknown is not nothing."""
    assert main([*points, "--tolerance", "0.2"]) == 1
    out = capsys.readouterr().out
    assert "pass" not in out
    assert out.count("cannot tell; how far off the meter may be is not stated") == 2
    assert main([*points, "--tolerance", "0.2", "--meter-spec", "0.5% + 2 digits"]) == 0
    assert capsys.readouterr().out.count("pass") == 2


def test_a_check_without_an_allowed_deviation_judges_nothing(points, capsys):
    assert main([*points, "--meter-spec", "0.5% + 2 digits"]) == 1
    out = capsys.readouterr().out
    assert "VERDICT none: no allowed deviation was given (--tolerance)" in out
    assert "pass" not in out


@pytest.mark.parametrize("kind", sorted(k for k in KINDS if KINDS[k].must_state))
def test_missing_values_are_asked_for_all_at_once_with_an_example(kind, points, capsys):
    assert main([*points, "--kind", kind]) == 2
    said = capsys.readouterr().err.splitlines()
    asked = next(line for line in said if line.startswith("stillpedal: "))
    example = shlex.split(asked.partition("such as ")[2])
    named = [word.partition("=") for word in example if word != "--set"]
    assert [name for name, _, _ in named] == list(KINDS[kind].must_state)
    # The example is written as it is read: nothing is missing or refused any more.
    main([*points, "--kind", kind, *example])
    err = "".join(line for line in capsys.readouterr().err.splitlines()
                  if not line.startswith("next: "))
    assert "needs" not in err
    assert not any(f"{name}=" in err for name, _, _ in named)


def test_a_meter_in_fahrenheit_passes_nothing(tmp_path, capsys):
    """A curve fits degrees of either scale: a calibration to 176 "C" was called a pass.

    F = 1.8 C + 32 by definition; the resistances are those of beta 3950 K, 10 kohm at 25 C.
    """
    path = tmp_path / "points.csv"
    ohms = {c: 1e4 * math.exp(3950 * (1 / (c + 273.15) - 1 / 298.15)) for c in range(5, 90, 15)}
    path.write_text("reading,meter\n" + "".join(
        f"{5 * r / (r + 1e4):.4f},{1.8 * c + 32:.1f}\n" for c, r in ohms.items()))
    assert main(["meter", "--from", str(path), "--kind", "thermistor", "--set", "known_ohms=10k",
                 "--set", "supply_volts=5", "--meter-spec", "2 F", "--tolerance", "20",
                 "--strict"]) == 1
    out = capsys.readouterr().out
    assert "pass" not in out
    assert out.splitlines()[1].startswith("  !! the meter shows degrees Fahrenheit")
    assert "give them in Celsius first" in out


def test_a_duty_of_0_that_was_measured_offers_nothing(capsys):
    """IEC 61851-1, annex A: below 3 % no charging; typed with a frequency it is an answer."""
    assert main(["meter", "--kind", "pilot", "--set", "duty_percent=0", "--set", "hertz=1000"]) == 0
    said = capsys.readouterr()
    assert "duty 0 %: no charging allowed" in said.out
    # The wiring of a board is no answer to what the person's own meter shows.
    assert "series resistor" not in said.err


class _Screen:
    """Standard output that says it is a screen."""

    def __init__(self, stream):
        self._stream = stream

    def __getattr__(self, name):
        return getattr(self._stream, name)

    def isatty(self):
        return True


def test_each_next_command_runs_and_leads_to_the_page(tmp_path, monkeypatch, capsys):
    """Limits first, then what is allowed, then the page: each answer fits 24 lines."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "pack.csv").write_text(POINTS + POINTS.split("\n", 1)[1])
    words, asked = ["meter", "--from", "pack.csv"], []
    for _ in range(4):
        monkeypatch.setattr(sys, "stdout", _Screen(sys.stdout))
        assert main(words) == 0
        said = capsys.readouterr()
        lines = (said.out + said.err).splitlines()
        assert sum(-(-max(len(line), 1) // 80) for line in lines) <= 24
        assert "16 points; --more has each" in said.out
        following = [line for line in lines if line.startswith("next: ")]
        if not following:
            break
        words = shlex.split(following[0].removeprefix("next: stillpedal "))
        asked.append(words[-2])
    assert asked == ["--meter-spec", "--tolerance", "--out"]
    assert (tmp_path / words[-1]).exists()

"""A wrong number on the command line is told with its option as it was typed, and its unit.

No outside source: the words are the project's own.
"""

from pathlib import Path

import pytest
from places import ROOT

from bench.command_line import main

SOUND = str(ROOT / "sample_sweeps" / "synthetic_healthy_pair.csv")


def said_of(words, capsys):
    """Return the one line of a call that is refused with status 2."""
    try:
        status = main(words)
    except SystemExit as ended:
        status = ended.code
    said = capsys.readouterr()
    assert status == 2
    assert said.out == ""
    assert said.err.count("\n") == 1
    return said.err


@pytest.mark.parametrize(("words", "told"), [
    (["findings", SOUND, "--margin-volts", "50mV"],
     "--margin-volts is '50mV'; give a number of volts without a unit, such as 0.005"),
    (["findings", SOUND, "--key-on-hours", "long"], "a number of hours without a unit"),
    (["findings", SOUND, "--key-ons", "1.5"], "--key-ons is '1.5'; give a whole number"),
    (["boards", "--check", "simulated", "--seconds", "1s"],
     "--seconds is '1s'; give a number of seconds"),
    (["sweep", "--board", "simulated", "--rate", "fast"], "a whole number of rows per second"),
    (["findings", SOUND, "--margin-volts", "-1"], "--margin-volts is -1.0; use a value from 0"),
    (["settings", SOUND, "--supply-tolerance", "2"], "--supply-tolerance is 2.0; use a value"),
    (["findings", SOUND, "--lead-ohms", "2 ohm"],
     "--lead-ohms is '2 ohm'; give a number of ohms without a unit, such as 4700 or 4.7k"),
    (["findings", SOUND, "--lead-ohms", "1M"], "--lead-ohms is 1000000.0; use a value from 0"),
    (["trend", str(Path(SOUND).parent), "--temperature-span", "900"], "--temperature-span is 900"),
])
def test_a_number_is_refused_with_its_option_and_unit(words, told, capsys):
    """Nobody has to guess which option, or whether 50 mV is 50 or 0.05."""
    said = said_of(words, capsys)
    assert told in said
    assert "margin_volts" not in said
    assert "invalid float" not in said


def test_ohms_are_read_as_they_stand_on_a_part(capsys):
    """As `meter --set` reads them: 47k, 0.047M and 47000 are one resistor."""
    told = []
    for ohms in ("47k", "0.047M", "47000"):
        assert main(["settings", SOUND, "--json", "--controller-input-ohms", ohms]) == 0
        told.append(capsys.readouterr().out)
    assert told[0] == told[1] == told[2]
    assert "47 kohm" in told[0]


@pytest.mark.parametrize("volts", ["7", "700", "-1", "nan"])
@pytest.mark.parametrize("what", ["rest", "full"])
def test_a_target_beyond_the_supply_is_told_alike_however_far_beyond(volts, what, capsys):
    """7 V and 700 V are out of range for the same reason."""
    said = said_of(["findings", SOUND, f"--target-{what}", f"a={volts}"], capsys)
    assert "between 0 and the supply" in said
    assert f"is {float(volts):g} V" in said

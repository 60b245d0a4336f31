"""A new parameter needs one row in the table and its words: everything else is made from them.

No outside source: the promise is the project's own ("to add a parameter" in DEVELOPERS.md).
"""

import argparse
import os
import pickle
import shlex
import shutil
import subprocess
import sys
from dataclasses import replace

import pytest
from places import ROOT

from analysis.key_on import analyse_key_on
from analysis.model.errors import OutOfLimits
from analysis.parameters import TABLE, Parameter, Parameters
from analysis.pedal.findings import analyse
from bench.command_line import build_parser, main
from bench.command_line.parameter_options import SAID_BY, add_parameters, parameters_from
from bench.files.recording_file import read_recording
from bench.wording.parameters import (
    WORDS,
    by_its_name,
    changes_text,
    options_of,
    refusal,
    value_text,
)

SAMPLES = ROOT / "sample_sweeps"
NAMES = sorted(TABLE)
LIMITED = [n for n in NAMES if TABLE[n].kind in ("number", "whole")]
WITH_PARAMETERS = ("findings", "settings", "watch", "compare", "prove", "report", "trend")


def another(name):
    """Return a value of a parameter that is allowed and not its default, and how it is typed."""
    row = TABLE[name]
    if row.kind == "yes/no":
        return not row.default, []
    if row.kind == "choice":
        value = next(c for c in row.choices if c != row.default)
        return value, [value]
    if row.kind == "points":
        return "0:0,30:10,100:100", ["0:0,30:10,100:100"]
    if row.kind == "volts by track":
        return {"a": 0.75}, ["a=0.75"]
    value = row.high if row.kind == "whole" else (row.default + row.high) / 2
    return value, [repr(value)]


def parsed(*words):
    """Return the parameters that words on the command line ask for."""
    parser = argparse.ArgumentParser()
    add_parameters(parser)
    return parameters_from(parser.parse_args(words))


def help_of(verb, how, capsys):
    """Return what the verb prints for --help or --help-all."""
    with pytest.raises(SystemExit) as left:
        main([verb, how])
    assert left.value.code == 0
    return capsys.readouterr().out


def test_every_row_has_words_and_every_word_a_row():
    """What is told of a parameter is keyed by its name; no name is told twice."""
    assert set(WORDS) == set(TABLE)
    assert len({w.option for w in WORDS.values()}) == len({w.label for w in WORDS.values()})
    for name, row in TABLE.items():
        assert set(WORDS[name].options) == set(row.choices)
        row.check(row.default)


@pytest.mark.parametrize("name", NAMES)
def test_each_is_an_option_of_the_command_line(name):
    """Its option sets this field and no other; without it the default holds."""
    value, typed = another(name)
    made = parsed(WORDS[name].option, *typed)
    assert getattr(made, name) == value
    # A tolerance or a resistor that is typed is known.
    implied = (SAID_BY[name],) if name in SAID_BY else ()
    assert made.changed == (name, *implied)
    assert parsed() == Parameters()


@pytest.mark.parametrize("verb", WITH_PARAMETERS)
def test_help_shows_the_usual_five_and_help_all_every_one(verb, capsys):
    """The same in every verb that analyses."""
    usual = [n for n in NAMES if TABLE[n].usual]
    assert len(usual) == 5
    short, whole = help_of(verb, "--help", capsys), help_of(verb, "--help-all", capsys)
    assert "--help-all" in short
    for name in NAMES:
        assert (f"  {WORDS[name].option}" in short) == (name in usual)
        assert f"  {WORDS[name].option}" in whole


def test_the_page_of_the_commands_has_each_once():
    """docs/commands.md is made from the table: one line for each, and no block in the verbs."""
    page = (ROOT / "docs" / "commands.md").read_text("utf-8")
    for name in NAMES:
        assert page.count(f"`{WORDS[name].option}") == 1
        assert page.count(WORDS[name].label) >= 1
    verbs = page[:page.index("## Parameters")]
    assert "--supply-tolerance" not in verbs
    made = build_parser("all")
    verb = next(a for a in made._actions if isinstance(a, argparse._SubParsersAction))
    takes = [v for v, p in verb.choices.items() if "--help-all" in p._option_string_actions]
    assert sorted(takes) == sorted(WITH_PARAMETERS)
    assert verbs.count("those under Parameters") == len(takes)


@pytest.mark.parametrize("name", LIMITED)
def test_a_value_beyond_the_limits_is_told_by_each_face_in_its_own_name(name, capsys):
    """The option on the command line, the label in the window, the value and both limits."""
    row = TABLE[name]
    beyond = row.high * 2
    with pytest.raises(OutOfLimits) as caught:
        replace(Parameters(), **{name: beyond})
    error = pickle.loads(pickle.dumps(caught.value))
    for face, called in (("terminal", WORDS[name].option), ("window", WORDS[name].label)):
        told = refusal(error, face)
        assert told.startswith(f"{called} is {beyond}; use a value from ")
        assert row.unit in told
    typed = str(int(beyond)) if row.kind == "whole" else repr(beyond)
    assert main(["findings", str(SAMPLES / "synthetic_healthy_pair.csv"), WORDS[name].option,
                 typed]) == 2
    assert f"{WORDS[name].option} is {beyond}" in capsys.readouterr().err


@pytest.mark.parametrize("name", [n for n in NAMES if TABLE[n].remembered])
def test_what_is_remembered_comes_back_from_its_text(name):
    """The window's settings file keeps text."""
    value, _ = another(name)
    assert TABLE[name].from_text(str(value)) == value
    assert TABLE[name].from_text(str(value).lower()) == value


@pytest.mark.parametrize("name", NAMES)
def test_the_next_command_keeps_the_parameters(name):
    """What was typed stands behind the command that comes next, and means the same there."""
    made = parsed(WORDS[name].option, *another(name)[1])
    assert parsed(*shlex.split(options_of(made))) == made
    assert options_of(Parameters()) == ""


def test_a_sheet_on_one_screen_hands_its_parameters_on(capsys):
    """The values printed next are those of the same parameters."""
    sweep = str(SAMPLES / "synthetic_healthy_pair.csv")
    for verb in ("findings", "settings"):
        assert main([verb, sweep, "--margin-volts", "0.02", "--returns", "wide"]) == 0
        told = next(t for t in capsys.readouterr().out.splitlines() if t.startswith("next: "))
        assert told.endswith(" --margin-volts 0.02 --returns wide")


def test_the_parameters_that_differ_are_told_with_values():
    """What is not the default is named by its label, with its unit."""
    assert changes_text(Parameters()) == ""
    told = changes_text(Parameters(margin_volts=0.033, returns="even", cold=True,
                                   target_rest_volts={"a": 0.75}))
    assert told == ("Margin on top 0.033 V, Rest a 0.750 V, How later returns scatter evenly, "
                    f"{WORDS['cold'].label} yes")
    assert value_text("key_ons", 100) == "100"


@pytest.mark.parametrize("name", [n for n in NAMES if not TABLE[n].judges_log
                                  and TABLE[n].kind != "volts by track"])
def test_a_log_need_not_be_judged_again_for_any_other(name, logged):
    """What the log says of its car is the same, whatever the value of this parameter."""
    log, swept, usual = logged
    value, _ = another(name)
    found = analyse_key_on(log, Parameters(**{name: value}), (), swept)
    assert {n: (c.volts, c.basis) for n, c in found.car.items()} == {
        n: (c.volts, c.basis) for n, c in usual.car.items()}


def test_what_a_log_says_of_its_car_rests_on_the_key_ons(logged):
    """The test above would notice: for a million key-ons the bound is another."""
    log, swept, usual = logged
    found = analyse_key_on(log, Parameters(key_ons=1_000_000), (), swept)
    assert {n: c.basis for n, c in usual.car.items()} == {"a": "measured", "b": "measured"}
    assert found.car["a"].volts != usual.car["a"].volts


@pytest.fixture(scope="module")
def logged():
    """Return a key-on log, the findings of its sweep, and the log judged by the defaults."""
    log = read_recording(SAMPLES / "synthetic_key_on_ground_offset.csv")
    swept = analyse(read_recording(SAMPLES / "synthetic_healthy_pair.csv"))
    usual = analyse_key_on(log, Parameters(), (), swept)
    assert usual.car
    return log, swept, usual


def test_help_all_works_in_a_process_of_its_own():
    """As typed in a terminal, with status 0."""
    made = subprocess.run([sys.executable, "-m", "bench", "findings", "--help-all"], cwd=ROOT,
                          capture_output=True, text=True, timeout=60, check=False)
    assert made.returncode == 0
    assert "--mismatch-time" in made.stdout


ROW = '''    heater_watts: float = _number(3.5, "W", (0.0, 90.0), 0.5)
'''
ITS_WORDS = '''    "heater_watts": Words("Heater of the footwell", "--heater", "what heats it"),
'''
WALK = """
import sys
from pathlib import Path
from PySide6.QtCore import QSettings
from bench.command_line import build_parser
from bench.command_line.parameter_options import parameters_from
from bench.window.app import application
from bench.window.pages.decide import DecidePage
from bench.window.session import Session
from bench.wording.parameters import options_of
import docs.make_commands as commands

asked = parameters_from(build_parser("findings").parse_args(["findings", "x", "--heater", "7"]))
print(asked.heater_watts, options_of(asked))
print("--heater N" in commands.page(), "Heater of the footwell" in commands.page())
application()
kept = QSettings(sys.argv[1], QSettings.Format.IniFormat)
session = Session(kept)
field = DecidePage(session).fields["heater_watts"]
print(field.field.suffix(), field.field.maximum())
session.set_parameters(heater_watts=12.5)
print(Session(kept).parameters.heater_watts)
session.set_parameters(heater_watts=91.0)
print(session.parameters.heater_watts)
"""


def test_one_row_and_its_words_make_a_new_parameter(tmp_path):
    """Two files of a copy are touched; options, docs, window and what it remembers all have it."""
    for folder in ("analysis", "bench", "docs"):
        shutil.copytree(ROOT / folder, tmp_path / folder,
                        ignore=shutil.ignore_patterns("__pycache__", "*.png", "firmware"))
    for path, before, more in (("analysis/parameters.py", "    heavy_vehicle: bool", ROW),
                               ("bench/wording/parameters.py", '    "heavy_vehicle": Words(',
                                ITS_WORDS)):
        text = (tmp_path / path).read_text("utf-8")
        assert text.count(before) == 1
        (tmp_path / path).write_text(text.replace(before, more + before), encoding="utf-8")
    made = subprocess.run(
        [sys.executable, "-c", WALK, str(tmp_path / "window.ini")], cwd=tmp_path, text=True,
        capture_output=True, timeout=120, check=False,
        env=os.environ | {"PYTHONPATH": str(tmp_path)})
    assert made.returncode == 0, made.stderr
    assert made.stdout.splitlines() == [
        "7.0  --heater 7.0", "True True", " W 90.0", "12.5", "12.5"]


def test_a_row_without_words_is_called_by_its_name():
    row = Parameter("number", 0.5, "s", 0.0, 9.0, name="brake_delay_seconds")
    words = by_its_name(row)
    assert (words.label, words.option) == ("Brake delay seconds", "--brake-delay-seconds")
    assert words.help == "brake delay seconds, in s"

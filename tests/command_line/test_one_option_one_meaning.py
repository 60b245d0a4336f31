"""An option means the same wherever it stands; an old name is still accepted and not shown.

No outside source: the promises are the project's own.
"""

import argparse
import importlib
import json
import shutil

import pytest
from places import ROOT

from bench.command_line import VERBS, main

SAMPLES = ROOT / "sample_sweeps"
# Each of these has its one sense in every verb, told with what the verb is about.
SAID_IN_THE_VERBS_WORDS = {
    "--out", "--json", "--strict", "--more", "--from", "--seconds", "--format", "--contactor",
    "--full-scale", "--reference-volts", "--board", "--baud", "--rate", "--supply-volts",
    "--title", "--seed"}


def _parser(verb: str) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser()
    importlib.import_module(f"bench.command_line.{VERBS[verb][0]}").add_arguments(parser)
    return parser


def _shown() -> dict[str, dict[str, argparse.Action]]:
    found: dict[str, dict[str, argparse.Action]] = {}
    for verb in VERBS:
        for action in _parser(verb)._actions:
            for option in action.option_strings:
                if option.startswith("--") and action.help is not argparse.SUPPRESS:
                    found.setdefault(option, {})[verb] = action
    return found


def test_an_option_takes_the_same_kind_of_value_in_every_verb():
    wrong = []
    for option, by_verb in _shown().items():
        if option in SAID_IN_THE_VERBS_WORDS:
            continue
        kinds = {(a.metavar, getattr(a.type, "__qualname__", None), a.nargs,
                  tuple(a.choices or ())) for a in by_verb.values()}
        texts = {a.help for a in by_verb.values()}
        if len(kinds) > 1 or len(texts) > 1:
            wrong.append(f"{option}: {sorted(by_verb)}")
    assert not wrong


@pytest.mark.parametrize(("verb", "old", "dest", "given"), [
    ("sweep", "--cycles", "cycles", ["3"]), ("sweep", "--more", "more", ["x.csv"]),
    ("sweep", "--bits", "bits", ["10"]), ("watch", "--set", "entered", ["a.rest=0.7"]),
    ("meter", "--unit", "unit", ["bar"]), ("import", "--unit", "unit", ["mV"]),
    ("import", "--scale", "scale", ["2"])])
def test_an_old_name_still_works(verb, old, dest, given):
    file = ["log.csv"] if verb == "import" else []
    said = vars(_parser(verb).parse_args([*file, old, *given]))[dest]
    assert str(said[0] if isinstance(said, list) else said).removesuffix(".0") == given[0]


def test_findings_go_to_a_file_and_take_a_key_on_log(tmp_path, monkeypatch, capsys):
    shutil.copy(SAMPLES / "synthetic_healthy_pair.csv", tmp_path / "sweep.csv")
    shutil.copy(SAMPLES / "synthetic_key_on_quiet_car.csv", tmp_path / "log.csv")
    monkeypatch.chdir(tmp_path)
    assert main(["findings", "sweep.csv", "--out", "page.txt"]) == 0
    assert main(["findings", "sweep.csv", "--more"]) == 0
    assert (tmp_path / "page.txt").read_text() == capsys.readouterr().out
    assert main(["findings", "sweep.csv", "--out", "page.txt"]) == 2
    assert "page.txt" in capsys.readouterr().err
    assert main(["findings", "sweep.csv", "--out", "page.json", "--key-on", "log.csv",
                 "--contactor", "closed"]) == 0
    said = json.loads((tmp_path / "page.json").read_text())
    assert main(["settings", "sweep.csv", "--key-on", "log.csv", "--contactor", "closed",
                 "--json"]) == 0
    capsys.readouterr()
    assert "measured" in json.dumps(said["dead_bands"])
    assert main(["findings", "sweep.csv", "--contactor", "closed"]) == 2


def test_a_trend_is_json_too(tmp_path, capsys):
    for name in ("healthy_pair", "off_at_rest"):
        shutil.copy(SAMPLES / f"synthetic_{name}.csv", tmp_path / f"{name}.csv")
    (tmp_path / "notes.csv").write_text("just,a,table\n")
    assert main(["trend", str(tmp_path), "--json", "--processes", "1"]) == 0
    rows = json.loads(capsys.readouterr().out)["recordings"]
    by_file = {row["file"]: row for row in rows}
    assert by_file["off_at_rest.csv"]["track2_rest_volts"] == pytest.approx(0.909, abs=0.003)
    assert by_file["notes.csv"]["track1_rest_volts"] is None
    assert by_file["notes.csv"]["error"]

"""What the commands print to be typed next can be pasted into a shell, and does not end blind.

shlex.split is the standard library's reading of a POSIX shell's words.
"""

import shlex

import pytest
from places import ROOT

from bench.command_line import main

SAMPLES = ROOT / "sample_sweeps"
KEY_ON = SAMPLES / "synthetic_key_on_quiet_car.csv"
FAST = ["--board", "simulated", "--fast", "--cycles", "2", "--quick", "1"]


def test_the_next_command_of_a_sweep_can_be_pasted(tmp_path, capsys):
    folder = tmp_path / "Mein Prüfstand" / "ä b"
    folder.mkdir(parents=True)
    out = folder / "süß pedal 1.csv"
    assert main(["sweep", *FAST, "--out", str(out)]) == 0
    line = next(x for x in capsys.readouterr().err.splitlines() if x.startswith("next: "))
    words = shlex.split(line.removeprefix("next: "))
    assert words == ["stillpedal", "findings", str(out)]
    assert main(words[1:]) == 0


@pytest.mark.parametrize("preview", [[], ["--preview"]])
def test_importing_a_key_on_log_names_the_verb_that_reads_it(preview, tmp_path, capsys):
    log = tmp_path / "key on.csv"
    log.write_bytes(KEY_ON.read_bytes())
    assert main(["import", str(log), *preview]) == 2
    said = capsys.readouterr().err.strip()
    command = said.split("use it as it is: ", 1)[1]
    assert shlex.split(command) == ["stillpedal", "watch", "--from", str(log)]
    assert main(shlex.split(command)[1:]) == 0


def test_importing_a_sweep_names_findings(tmp_path, capsys):
    sweep = SAMPLES / "synthetic_healthy_pair.csv"
    assert main(["import", str(sweep)]) == 2
    assert f"stillpedal findings {sweep}" in capsys.readouterr().err


@pytest.mark.parametrize("words", [
    ["sweep", *FAST, "--out"], ["import", str(KEY_ON), "--out"],
    ["settings", str(SAMPLES / "synthetic_healthy_pair.csv"), "--out"],
    ["demo", "--out"]])
def test_a_name_too_long_for_any_file_ends_in_one_line(words, tmp_path, capsys):
    """255 bytes are the longest name of common file systems (POSIX NAME_MAX)."""
    assert main([*words, str(tmp_path / ("x" * 300 + ".csv"))]) == 2
    said = capsys.readouterr().err.strip().splitlines()
    assert said[-1].startswith("stillpedal: cannot write")
    assert "choose another" in said[-1]
    assert "Traceback" not in "".join(said)


@pytest.mark.parametrize("words", [
    ["prove"], ["prove", str(SAMPLES / "job_with_a_loose_plug"), "--add"], ["trend"], ["window"],
    ["sweep", "--board"], ["sweep", *FAST, "--out"],
    ["meter", "--history", "--channel", "a", "--store"]])
def test_so_does_a_place_whose_name_is_too_long(words, capsys):
    """The same where a folder, a board or a file to be opened is named."""
    assert main([*words, "x" * 300 + "/y.csv"]) == 2
    said = capsys.readouterr().err.strip().splitlines()
    assert said[-1].startswith("stillpedal: ")
    assert "Traceback" not in "".join(said)


def test_so_does_one_behind_a_template(tmp_path, capsys):
    template = tmp_path / "list.txt"
    template.write_text("{start_of_travel.a}")
    assert main(["settings", str(SAMPLES / "synthetic_healthy_pair.csv"), "--template",
                 str(template), "--out", str(tmp_path / ("x" * 300))]) == 2
    assert "cannot write" in capsys.readouterr().err.splitlines()[-1]

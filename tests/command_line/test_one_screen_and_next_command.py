"""A tired person gets the state, what to do, and one command that runs, on one screen."""

import io
import json
import shlex
import shutil

import pytest
from findings_by_hand import SAMPLES

from analysis.evidence.claim import Finding
from bench.command_line import main
from bench.wording.short import PHRASES, short_line

SWEEPS = sorted(p.name for p in SAMPLES.glob("synthetic_*.csv") if "key_on" not in p.name)
SCREEN = (24, 80)


def said(capsys, *words):
    assert main(list(words)) == 0
    return capsys.readouterr().out


def next_of(text):
    return next(line.removeprefix("next: ") for line in text.splitlines()
                if line.startswith("next: "))


@pytest.fixture
def job(tmp_path, monkeypatch):
    """A folder of the user's own, where paths are short."""
    monkeypatch.chdir(tmp_path)
    for name in SWEEPS:
        # As a link: every test would copy all samples.
        (tmp_path / name.removeprefix("synthetic_")).symlink_to(SAMPLES / name)
    return tmp_path


@pytest.mark.parametrize("name", [n.removeprefix("synthetic_") for n in SWEEPS])
def test_every_sweep_is_told_on_one_screen_with_one_next_command(name, job, capsys):
    text = said(capsys, "findings", name)
    lines = text.splitlines()
    assert len(lines) <= SCREEN[0]
    assert max(map(len, lines)) <= SCREEN[1]
    # The state stands on the second line, before anything that has to be read.
    assert lines[1].startswith(("DO NOT DRIVE", "REPAIR FIRST", "OPEN", "SOUND ON THE BENCH"))
    assert text.count("next: ") == 1


@pytest.mark.parametrize("name", ["healthy_pair.csv", "off_at_rest.csv", "one_track.csv"])
def test_the_next_command_runs_as_it_is_printed(name, job, capsys):
    words = shlex.split(next_of(said(capsys, "findings", name)))
    assert words[0] == "stillpedal"
    if words[1] == "sweep":
        assert not (job / words[words.index("--out") + 1]).exists()
        words[words.index("PORT")] = "simulated"
        words.append("--fast")
    assert main(words[1:]) == 0
    capsys.readouterr()


def test_the_remedy_stands_on_the_first_screen(job, capsys):
    """The fault this tool is for: the degrees and the volts, without scrolling."""
    text = said(capsys, "findings", "off_at_rest.csv")
    assert "repair: track b: turn the potentiometer 8.6 degrees, until it rests at 0.750 V" in text
    assert "do not enter these yet" in text


@pytest.mark.parametrize("name", [n.removeprefix("synthetic_") for n in SWEEPS])
def test_the_values_to_enter_fit_one_screen(name, job, capsys):
    text = said(capsys, "settings", name)
    lines = text.splitlines()
    assert len(lines) <= SCREEN[0]
    assert max(map(len, lines)) <= 2 * SCREEN[1]
    assert lines[0].startswith(("DO NOT DRIVE", "REPAIR FIRST", "OPEN", "SOUND ON THE BENCH"))
    # Every value of the whole sheet stands here too, to the same digits.
    whole = said(capsys, "settings", name, "--format", "json")
    for value in json.loads(whole)["settings"]:
        if value["unit"] == "V" and value["value"] is not None and value["name"] == "rest":
            assert f"{value['value']:.3f} V" in text


def test_a_sound_sweep_leads_on_and_an_open_one_is_not_called_sound(job, capsys):
    assert next_of(said(capsys, "findings", "healthy_pair.csv")).startswith("stillpedal settings")
    assert "SOUND" not in said(capsys, "findings", "lost_samples.csv")


def test_a_comparison_is_one_screen_and_says_what_is_left(job, capsys):
    text = said(capsys, "compare", "off_at_rest.csv", "healthy_pair.csv")
    assert len(text.splitlines()) <= SCREEN[0]
    assert "nothing got worse" in text
    assert "now: SOUND ON THE BENCH" in text
    worse = said(capsys, "compare", "healthy_pair.csv", "wiper_dropouts.csv")
    assert worse.splitlines()[1].startswith("SOMETHING GOT WORSE")
    assert "now: DO NOT DRIVE" in worse


def test_the_program_alone_says_where_the_job_stands(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert said(capsys).splitlines() == [
        "no recording in this folder yet: begin with the board", "next: stillpedal boards"]
    shutil.copy(SAMPLES / "synthetic_off_at_rest.csv", tmp_path / "before.csv")
    text = said(capsys)
    assert "1 recording here, newest before.csv: REPAIR FIRST" in text
    assert next_of(text) == "stillpedal sweep --board PORT --out before-2.csv"
    (tmp_path / "zz.csv").write_text("# stillpedal_recording = 1\nbroken")
    assert len(said(capsys).splitlines()) == 2


def test_every_code_of_a_sweep_has_short_words():
    from analysis.evidence.sweep import SPEAKS_OF

    assert set(SPEAKS_OF) <= set(PHRASES)


def test_a_short_line_stays_on_its_line_whatever_the_channel_is_called():
    finding = Finding("dropout", 3, "track", "x" * 200, 1.0, 41.0)
    assert len(short_line(finding)) <= 76
    assert io.StringIO(short_line(finding)).read().count("\n") == 0


LOGS = sorted(p.name for p in SAMPLES.glob("synthetic_key_on*.csv"))
STATES = ("POWER WOULD HAVE COME", "NO POWER WOULD HAVE COME", "OPEN",
          "THE SWEEP DOES NOT FIT THIS LOG")


@pytest.fixture
def car(job):
    """The job's folder with the logs of the samples too."""
    for name in LOGS:
        (job / name.removeprefix("synthetic_")).symlink_to(SAMPLES / name)
    return job


# Every log by its pedal's sweep; the other two ways by one log each that has most to say.
@pytest.mark.parametrize(("name", "words"), [
    *((n.removeprefix("synthetic_"), ("--sweep", "healthy_pair.csv")) for n in LOGS),
    ("key_on_switching_noise.csv", ()),
    ("key_on_ground_offset.csv", ("--sweep", "off_at_rest.csv", "--contactor", "closed"))])
def test_every_key_on_log_is_told_on_one_screen_with_one_next_command(name, words, car, capsys):
    text = said(capsys, "watch", "--from", name, *words)
    lines = text.splitlines()
    assert len(lines) <= SCREEN[0]
    assert all(len(line) <= SCREEN[1] for line in lines if "stillpedal" not in line)
    assert lines[1].startswith(STATES)
    assert text.count("next: ") == 1
    # What it points to is there, and tells more.
    more = shlex.split(next(line for line in lines if line.startswith("more: "))[6:])
    assert main(more[1:]) == 0
    assert len(capsys.readouterr().out.splitlines()) > 2 * len(lines)


def test_a_log_of_another_sweep_says_so_first(car, capsys):
    """129 mV below the sweep's rest: nothing may be judged by it."""
    text = said(capsys, "watch", "--from", "key_on_quiet_car.csv", "--sweep", "off_at_rest.csv")
    assert text.splitlines()[1].startswith("THE SWEEP DOES NOT FIT THIS LOG")
    assert next_of(text) == "stillpedal sweep --board PORT --out off_at_rest-2.csv"


def test_a_sound_log_with_the_contactor_closed_leads_to_the_values(car, capsys):
    words = ("watch", "--from", "key_on_quiet_car.csv", "--sweep", "healthy_pair.csv")
    text = said(capsys, *words)
    assert "--contactor closed" in next_of(text)
    assert "somebody at the" in text
    follow = next_of(said(capsys, *words, "--contactor", "closed"))
    assert follow == ("stillpedal settings healthy_pair.csv --key-on key_on_quiet_car.csv "
                      "--contactor closed")
    assert main(shlex.split(follow)[1:]) == 0
    capsys.readouterr()


def test_power_without_a_foot_leads_to_no_value(car, capsys):
    text = said(capsys, "watch", "--from", "key_on_one_track_lifts.csv", "--sweep",
                "healthy_pair.csv")
    assert text.splitlines()[1].startswith("POWER WOULD HAVE COME")
    assert "do not enter these yet" in text
    assert next_of(text).startswith("stillpedal watch --board PORT --out key_on_one_track_lifts-2")


def test_every_code_of_a_key_on_log_has_short_words():
    from analysis.key_on.opening import OPENS, WITHHOLDS
    from bench.wording.key_on_allowance import BRIEF

    assert set(BRIEF) | OPENS | WITHHOLDS <= set(PHRASES)


def test_the_page_behind_a_screen_is_of_the_same_values(car, capsys):
    """What was typed is typed again: the log whose allowance counts, the unit, the parameters."""
    words = ("healthy_pair.csv", "--key-on", "key_on_one_track_lifts.csv", "--contactor", "closed",
             "--margin-volts", "0.02")
    for verb, more in (("settings", ("--unit", "counts", "--bits", "10")), ("findings", ())):
        text = said(capsys, verb, *words, *more)
        behind = shlex.split(next(line for line in text.splitlines()
                                  if line.startswith("more: "))[6:])
        whole = said(capsys, *behind[1:])
        typed = said(capsys, verb, *words, *more, "--more")
        assert whole == typed
    # The printed page would have other values without the log.
    assert "--key-on key_on_one_track_lifts.csv --contactor closed" in next_of(
        said(capsys, "settings", "healthy_pair.csv", "--key-on", "key_on_quiet_car.csv",
             "--contactor", "closed")).replace("key_on_quiet_car", "key_on_one_track_lifts")
    text = said(capsys, "watch", "--from", "key_on_quiet_car.csv", "--sweep", "healthy_pair.csv",
                "--entered", "a.start_of_travel=0.9", "--margin-volts", "0.02")
    behind = next(line for line in text.splitlines() if line.startswith("more: "))
    assert "--entered a.start_of_travel=0.9" in behind
    assert "--margin-volts 0.02" in behind


@pytest.mark.parametrize("words", [("--scale", "supply=2"), ("--board", "simulated"),
                                   ("--full-scale", "1024"), ("--role", "a=track")])
def test_what_is_said_of_a_board_is_refused_beside_a_file(words, car, capsys):
    """It would not count, and whoever typed it would believe that it does."""
    assert main(["watch", "--from", "key_on_quiet_car.csv", *words]) == 2
    err = capsys.readouterr().err
    assert words[0] in err
    assert "leave it out" in err

"""`stillpedal prove`: led through every proof on a simulated car, resumed, and never rounded up."""

import json
import os
import shutil
import sys

import pytest
from places import ROOT

from bench.command_line import main
from bench.files.job_record import read_job

sys.path.insert(0, str(ROOT / "tests" / "stress"))

from kill_prove import kill_once


@pytest.fixture
def job(tmp_path):
    """A copy of the sample job, whose truth is in sample_sweeps/JOB.md."""
    folder = tmp_path / "job"
    shutil.copytree(ROOT / "sample_sweeps" / "job_with_a_loose_plug", folder)
    return folder


def states(folder, capsys):
    """Return each step's state."""
    capsys.readouterr()
    main(["prove", str(folder), "--json"])
    content = json.loads(capsys.readouterr().out)
    return {s["step"]: s["state"] for s in content["steps"]}, content


def test_the_sample_job_is_told_as_its_truth_says(job, capsys):
    """The loose lead, the droop, the ripple, the warmth and the drive that were put in (JOB.md)."""
    found, content = states(job, capsys)
    assert {found[t] for t in ("sweep", "wires", "warm", "loads", "drive")} == {"proved"}
    assert {found[t] for t in ("key-on", "entered", "signed")} == {"to do"}
    assert found["shake"] == "failed"
    assert main(["prove", str(job), "--strict"]) == 1
    details = {s["step"]: s["details"] for s in content["steps"]}
    assert [w["change"] for w in details["wires"]][:5] == [
        "as wired", "open a", "open b", "open supply", "open ground"]
    loose = next(x for x in details["shake"] if x["state"] == "loose")
    assert (loose["lead"], loose["losses"], loose["places"]) == ("b", 5, ["the plug"])
    for load in details["loads"]:
        assert load["droop_volts"] == pytest.approx(-0.08, abs=0.002)
        assert load["ripple_hz"] == pytest.approx(92.0, abs=0.05)
    for track in details["warm"]:
        assert track["volts_per_kelvin"]["low"] <= 120e-6 <= track["volts_per_kelvin"]["high"]
    assert len(details["drive"]) == 5
    counted = content["returns"]
    assert (counted["of_log"], counted["cold"], counted["warm"]) == (0, 5, 5)
    # Ten of the sweep, so these ten stand for them.
    assert (counted["least"], counted["stand"]) == (10, True)
    assert set(counted["start_of_travel_now"]) == {"a", "b"}


def test_the_first_lines_say_where_it_stands_and_what_is_next(job, capsys, monkeypatch):
    """One screen: headline, the repair before the next try, a line a step; also bare in the folder.

    The lead and its place are those that were put in (JOB.md).
    """
    capsys.readouterr()
    main(["prove", str(job)])
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == ("Do not drive, failed: leads and joints shaken (the signal lead of track "
                        "b).")
    assert lines[1] == "first: signal lead of track b, at the plug: remake it"
    assert lines[2].startswith("next: stillpedal prove ")
    assert len(lines) <= 24
    monkeypatch.chdir(job)
    assert main([]) == 0
    assert capsys.readouterr().out.splitlines() == [
        lines[0], lines[1], "next: stillpedal prove --do shake --board PORT"]


def test_a_proof_done_again_counts_and_the_old_one_stays(job, capsys):
    """The plug mended and shaken again on a sound car: proved, the old log still in the record."""
    assert main(["prove", str(job), "--do", "shake", "--board", "simulated", "--fast", "--rate",
                 "200"]) == 0
    found, content = states(job, capsys)
    assert found["shake"] == "proved"
    assert next(s for s in content["steps"] if s["step"] == "shake")["file"] == "shake-2.csv"
    assert [e.file for e in read_job(job).entries if e.what == "shake"] == [
        "shake.csv", "shake-2.csv"]


def test_a_file_that_was_changed_counts_no_more(job, capsys):
    """A proof rests on its very file: another content, or none, leaves it open."""
    with (job / "wires.csv").open("a") as file:
        file.write("\n")
    (job / "loads.csv").unlink()
    found, content = states(job, capsys)
    assert (found["wires"], found["loads"]) == ("open", "open")
    why = {s["step"]: s["because"] for s in content["steps"]}
    assert (why["wires"], why["loads"]) == (["file changed"], ["file gone"])


@pytest.mark.parametrize(("a_start", "state"), [(0.0, "failed"), (0.004, "open"), (0.05, "open")])
def test_values_typed_back_are_held_against_those_issued(job, capsys, a_start, state):
    """Below what is issued is the unsafe side; a start further up costs travel and is told."""
    issued = {v["name"]: v["issued_volts"] for v in states(job, capsys)[1]["values"]}
    values = [f"a.start_of_travel={issued['a.start_of_travel'] + a_start - 0.002:.4f}",
              f"b.start_of_travel={issued['b.start_of_travel'] + 0.001:.4f}",
              f"a.full_travel={issued['a.full_travel'] - 0.001:.4f}",
              *([f"b.full_travel={issued['b.full_travel'] - 0.001:.4f}"] if a_start != 0.004
                else [])]
    assert main(["prove", str(job), *(w for v in values for w in ("--shown", v))]) == 0
    assert states(job, capsys)[0]["entered"] == state


def test_the_values_go_by_the_warmth_that_was_measured(job, capsys):
    """As `settings --track-ppm` gives them, with the drift that went in: 120 µV/K (JOB.md)."""
    # Its key-ons would count for the returns of the sweep.
    (job / "drive.csv").unlink()
    content = states(job, capsys)[1]
    measured = content["temperature"]
    assert (measured["file"], measured["ppm_per_kelvin"]) == (
        "warm.csv", pytest.approx(24.0, abs=3.0))
    main(["settings", str(job / "sweep.csv"), "--json", "--track-ppm",
          str(measured["ppm_per_kelvin"])])
    stated = {f"{s['channel']}.{s['name']}": s["value"]
              for s in json.loads(capsys.readouterr().out)["settings"]}
    assert content["values"]
    for value in content["values"]:
        assert value["issued_volts"] == pytest.approx(stated[value["name"]], abs=1e-9)
    # And as `settings` and `findings` give them with that very log, which says how it is known.
    for verb in ("settings", "findings"):
        main([verb, str(job / "sweep.csv"), "--json", "--warm", str(job / "warm.csv")])
        told = json.loads(capsys.readouterr().out)
        by_log = {f"{s['channel']}.{s['name']}": s["value"] for s in told["settings"]}
        for value in content["values"]:
            assert value["issued_volts"] == pytest.approx(by_log[value["name"]], abs=1e-9)
    line = next(i for i in told["dead_bands"]["a"]["budget"] if i["name"] == "temperature")
    assert line["basis"] == "measured"
    assert "as measured in warm.csv from 21 to 40 °C, over 40 K" in line["why"]
    assert "an assumed span" in line["why"]
    assert main(["settings", str(job / "sweep.csv"), "--warm", str(job / "shake.csv")]) == 2
    assert "proves no drift with temperature" in capsys.readouterr().err
    # Without that log the usual drift is assumed, and nothing is said to be measured.
    (job / "warm.csv").unlink()
    less = states(job, capsys)[1]
    assert less["temperature"] is None
    assert less["values"][0]["issued_volts"] < content["values"][0]["issued_volts"]


def test_simulated_proofs_prove_nothing_of_a_car(job, capsys):
    """The sample job came from a simulated car: every line, the JSON and the page say so."""
    capsys.readouterr()
    main(["prove", str(job)])
    lines = capsys.readouterr().out.splitlines()
    # No tick for what shows nothing of a car (common practice, no source).
    assert sum("proved, simulated" in line for line in lines) == 5
    assert sum(line.startswith("[~]") for line in lines) == 5
    assert not any(line.startswith("[x]") for line in lines)
    page = job / "proof.html"
    assert main(["prove", str(job), "--do", "shake", "--board", "simulated", "--fast", "--page",
                 str(page), "--by", "A. Tester"]) == 0
    assert "6 of 9 proved, 6 of them only on a simulated board" in capsys.readouterr().out
    assert "done on a simulated board, which shows nothing of a car" in page.read_text("utf-8")


def test_levels_expected_by_the_network_stand_beside_those_seen(job, capsys):
    """An open ground lifts both tracks to the supply, an open signal may be anywhere (Ohm)."""
    wires = next(s["details"] for s in states(job, capsys)[1]["steps"] if s["step"] == "wires")
    by_change = {w["change"]: w for w in wires}
    assert by_change["open ground"]["expected_volts"] == pytest.approx({"a": 5.0, "b": 5.0})
    assert by_change["open a"]["expected_volts"]["a"] is None
    for wire in wires:
        for track, volts in wire["expected_volts"].items():
            assert volts is None or wire["volts"][track] == pytest.approx(volts, abs=0.5)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork and SIGKILL")
def test_killed_at_any_moment_nothing_told_is_lost(tmp_path):
    """Twice with -9 while it records; tests/stress/kill_prove.py does it fifty times."""
    shutil.copytree(ROOT / "sample_sweeps" / "job_with_a_loose_plug", tmp_path / "job")
    assert {kill_once(tmp_path, seconds) for seconds in (0.15, 0.5)} <= {
        "whole", "taken in", "not begun", "without a step yet"}


def test_the_page_is_signed_by_name_and_opened_by_later_work(job, capsys):
    """Without a name there is no page; a proof done after it opens it again."""
    page = job / "proof.html"
    assert main(["prove", str(job), "--page", str(page)]) == 2
    assert main(["prove", str(job), "--page", str(page), "--by", "A. Tester"]) == 0
    text = page.read_text(encoding="utf-8")
    assert "Signed by" not in text
    for words in ("A. Tester", "Printed by", "Not proved", "Key-ons in the car",
                  "power never came", "no proof", read_job(job).last("wires").sha256[:10]):
        assert words in text
    # What speaks of a failed proof was printed, but signs nothing (common practice, no source).
    assert states(job, capsys)[0]["signed"] == "open"
    assert main(["prove", str(job)]) == 0
    signed = next(x for x in capsys.readouterr().out.splitlines() if "Page signed" in x)
    assert signed.startswith("[?] Page signed")
    assert "proof.html: not proved on it" in signed
    # And `trend` tells it among the sweeps, by date; a page changed since is told as such.
    assert main(["trend", str(job), "--pattern", "sweep.csv", "--processes", "1"]) == 0
    told = capsys.readouterr().err.splitlines()[-1]
    assert told.startswith("printed, not proved, 20")
    assert told.endswith("by A. Tester: proof.html, 5 of 8 proved")
    page.write_text(text + " ", encoding="utf-8")
    main(["trend", str(job), "--pattern", "sweep.csv", "--processes", "1"])
    assert "CHANGED since" in capsys.readouterr().err.splitlines()[-1]
    page.write_text(text, encoding="utf-8")
    assert main(["prove", str(job), "--add", "drive.csv"]) == 0
    why = {s["step"]: s["because"] for s in states(job, capsys)[1]["steps"]}
    assert why["signed"] == ["newer work"]


def test_refusals_are_one_line(job, tmp_path, capsys):
    """No sweep, no folder, a file of elsewhere, a log without steps: one line with what to do."""
    for arguments, words in (
            (["prove", str(tmp_path / "none")], "there is no folder"),
            (["prove", str(tmp_path), "--do", "wires", "--board", "simulated"], "take it in first"),
            (["prove", str(tmp_path), "--add", str(job / "sweep.csv")], "does not lie in"),
            (["prove", str(job), "--do", "shake", "--board", "simulated", "--out",
              str(tmp_path / "x.csv")], "does not lie in"),
            (["prove", str(job), "--shown", "a.start=0.8"], "write TRACK.NAME=VALUE"),
            (["prove", str(job), "--do", "wires", "--board", "/dev/null"], "add --yes")):
        capsys.readouterr()
        assert main(arguments) == 2
        error = capsys.readouterr().err.strip().splitlines()
        assert words in error[-1]


def test_a_bad_sweep_issues_nothing_and_says_what_does_not_stand(job, tmp_path, capsys):
    """Lost contact in the newest sweep (the sample has it): nothing to enter, old proofs told."""
    shutil.copy(ROOT / "sample_sweeps" / "synthetic_wiper_dropouts.csv", job)
    assert main(["prove", str(job), "--add", "synthetic_wiper_dropouts.csv"]) == 0
    text = capsys.readouterr().out
    assert '"contact holds over the whole travel" does not stand' in text
    assert "issued:" not in text
    assert "nothing to enter" in text
    why = {s["step"]: s["because"] for s in states(job, capsys)[1]["steps"]}
    assert "before the sweep" in why["wires"]
    assert main(["prove", str(job), "--add", "wires.csv"]) == 0
    why = {s["step"]: s["because"] for s in states(job, capsys)[1]["steps"]}
    assert "before the sweep" not in why["wires"]


def test_a_failed_log_is_read_again_with_the_sweep_it_was_judged_by(tmp_path, capsys):
    """Without the job's sweep the next command could judge nothing (common practice, no source)."""
    for name, source in (("sweep.csv", "synthetic_healthy_pair.csv"),
                         ("log.csv", "synthetic_key_on_ground_offset.csv")):
        shutil.copy(ROOT / "sample_sweeps" / source, tmp_path / name)
        assert main(["prove", str(tmp_path), "--add", str(tmp_path / name)]) == 0
    told = capsys.readouterr().out
    assert f"next: stillpedal watch --from {tmp_path / 'log.csv'}" in told
    assert f"--sweep {tmp_path / 'sweep.csv'}" in told


def test_the_sweep_that_lies_there_is_named_and_of_several_the_sound_one(tmp_path, capsys,
                                                                         monkeypatch):
    """A real name in the next command, which runs as printed (common practice, no source)."""
    for name, source in (("after.csv", "synthetic_healthy_pair.csv"),
                         ("before.csv", "synthetic_wiper_dropouts.csv")):
        shutil.copy(ROOT / "sample_sweeps" / source, tmp_path / name)
    monkeypatch.chdir(tmp_path)
    assert main(["prove"]) == 0
    assert "next: stillpedal prove --add after.csv\n" in capsys.readouterr().out
    assert main(["prove", "--add", "after.csv"]) == 0
    assert "next: stillpedal watch --board PORT --out key-on.csv\n" in capsys.readouterr().out
    shutil.copy(ROOT / "sample_sweeps" / "synthetic_key_on_ground_offset.csv", "drive home.csv")
    assert main(["prove"]) == 0
    assert "next: stillpedal prove --add 'drive home.csv'\n" in capsys.readouterr().out


def test_bare_in_a_folder_with_a_log_and_a_sweep_names_both(tmp_path, capsys, monkeypatch):
    """In a job and without one: a log without its sweep could not be judged (common practice)."""
    for name, source in (("sweep.csv", "synthetic_healthy_pair.csv"),
                         ("log.csv", "synthetic_key_on_ground_offset.csv")):
        shutil.copy(ROOT / "sample_sweeps" / source, tmp_path / name)
        os.utime(tmp_path / name, (1.7e9, 1.7e9 + (name == "log.csv")))
    monkeypatch.chdir(tmp_path)
    for _ in range(2):
        assert main([]) == 0
        assert "next: stillpedal watch --from log.csv --sweep sweep.csv\n" in (
            capsys.readouterr().out)
        assert main(["prove", "--add", "sweep.csv", "--add", "log.csv"]) == 0
        capsys.readouterr()


def test_key_ons_of_a_drive_count_only_from_where_they_carry_it(job, capsys):
    """A drive from before the newest sweep, or one that was changed since, counts for nothing."""
    assert main(["prove", str(job), "--more"]) == 0
    said = capsys.readouterr().out
    assert "promise: 0 before this drive, 10 with its 10 (5 cold, 5 warm)" in said
    assert main(["prove", str(job), "--add", str(job / "sweep.csv")]) == 0
    counted = states(job, capsys)[1]["returns"]
    assert (counted["cold"], counted["hidden_by"]) == (0, ["before the sweep"])
    assert counted["start_of_travel_now"] == {}
    assert main(["prove", str(job), "--more"]) == 0
    assert "it was driven before the newest sweep" in capsys.readouterr().out


def test_what_an_odd_folder_leads_to(job, capsys):
    """A sweep gone or changed since, a record line edited by hand: each next command leads on."""
    record = job / "stillpedal-job.jsonl"
    whole = record.read_text(encoding="utf-8")
    for harm, following in (
            (lambda: (job / "sweep.csv").rename(job / "away.txt"),
             f"stillpedal sweep --board PORT --out {job / 'sweep.csv'}"),
            (lambda: (job / "sweep.csv").write_bytes((job / "away.txt").read_bytes() + b"\n"),
             f"stillpedal prove {job} --add sweep.csv"),
            (lambda: record.write_text(whole.replace("sweep.csv", "other.csv"), encoding="utf-8"),
             f"stillpedal prove {job} --add sweep.csv")):
        harm()
        assert main(["prove", str(job)]) == 0
        told = capsys.readouterr().out
        assert f"next: {following}\n" in told
        assert "FAILED" not in told
    assert "note: 1 line of the job's record is damaged and does not count" in told

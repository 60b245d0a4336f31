"""New files: whole or not at all, never over another, whoever writes at the same moment."""

import errno
import json
import os
import subprocess
import sys
import threading

import pytest
from places import ROOT
from sender_check_by_hand import stored_one
from stress.stress_common import ramp

from bench.errors import BadFile
from bench.files import new_file
from bench.files.calibration_store import check_sum, load
from bench.files.exports.files import write_output
from bench.files.new_file import move_new, put_new
from bench.files.recording_file import read_recording, write_recording

RACES = ROOT / "tests/stress/write_races.py"


def test_programs_that_write_at_the_same_moment_lose_nothing():
    # In a process of its own: the racers are forked, and Qt does not live through a fork.
    ran = subprocess.run([sys.executable, str(RACES), "--quick"], capture_output=True, text=True,
                         timeout=300, check=False)
    assert ran.returncode == 0, ran.stdout + ran.stderr


def no_links(*_):
    raise OSError(errno.EPERM, "Operation not permitted")


@pytest.mark.parametrize("links", [True, False])
def test_eight_writers_of_one_name_keep_eight_files_with_and_without_hard_links(
        tmp_path, monkeypatch, links):
    """FAT has no hard links; link(2) fails with EPERM there (man 2 link)."""
    if not links:
        monkeypatch.setattr(os, "link", no_links)
    gate = threading.Barrier(8)

    def write(number):
        gate.wait()
        put_new(tmp_path / "sheet.txt", lambda part: part.write_text(str(number)), number=True)

    threads = [threading.Thread(target=write, args=(k,)) for k in range(8)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert sorted(f.read_text() for f in tmp_path.iterdir()) == list("01234567")
    assert {f.name for f in tmp_path.iterdir()} == {
        "sheet.txt", *(f"sheet-{k}.txt" for k in range(2, 9))}


@pytest.mark.parametrize("links", [True, False])
def test_a_file_that_appears_while_another_is_written_is_not_written_over(
        tmp_path, monkeypatch, links):
    if not links:
        monkeypatch.setattr(os, "link", no_links)
    path = tmp_path / "out.txt"

    def write(part):
        part.write_text("mine")
        path.write_text("theirs")

    with pytest.raises(FileExistsError):
        put_new(path, write)
    assert [f.name for f in tmp_path.iterdir()] == ["out.txt"]
    assert path.read_text() == "theirs"


def test_a_name_taken_meanwhile_is_told_in_one_line(tmp_path, monkeypatch):
    path = tmp_path / "out.txt"
    real = new_file.name_in_full

    def late(part, wanted):
        wanted.write_text("theirs")
        real(part, wanted)

    monkeypatch.setattr(new_file, "name_in_full", late)
    with pytest.raises(BadFile, match="is there already and is not written over"):
        write_output(path, "mine")
    assert path.read_text() == "theirs"


def test_a_disk_that_fills_leaves_no_file(tmp_path, monkeypatch):
    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("pathlib.Path.write_bytes", full)
    with pytest.raises(BadFile, match="No space left"):
        write_output(tmp_path / "out.txt", "x")
    assert not list(tmp_path.iterdir())


def test_an_import_onto_a_full_disk_leaves_no_file(tmp_path, monkeypatch):
    real, written = os.write, []

    def full(file, data):
        written.append(len(data))
        if sum(written) > 4000:
            raise OSError(errno.ENOSPC, "No space left on device")
        return real(file, data)

    monkeypatch.setattr(os, "write", full)
    with pytest.raises(BadFile, match="the disk is full"):
        write_recording(tmp_path / "log.csv", ramp(2000))
    assert not list(tmp_path.iterdir())


def test_a_recording_written_twice_has_a_name_of_its_own(tmp_path):
    path = tmp_path / "log.csv"
    first = write_recording(path, ramp(20), number=True)
    second = write_recording(path, ramp(30), number=True)
    assert (first.name, second.name) == ("log.csv", "log-2.csv")
    assert (read_recording(first).rows, read_recording(second).rows) == (20, 30)


def test_a_file_put_aside_goes_over_no_other(tmp_path):
    for text in ("one", "two"):
        path = tmp_path / "sweep.csv"
        path.write_text(text)
        move_new(path, tmp_path / "sweep.csv.discarded")
    assert sorted((f.name, f.read_text()) for f in tmp_path.iterdir()) == [
        ("sweep.csv-2.discarded", "two"), ("sweep.csv.discarded", "one")]


@pytest.mark.skipif(os.name != "posix", reason="POSIX modes")
def test_a_new_file_can_be_read_by_others_as_the_system_allows(tmp_path):
    write_output(tmp_path / "out.txt", "x")
    mask = os.umask(0)
    os.umask(mask)
    assert (tmp_path / "out.txt").stat().st_mode & 0o777 == 0o666 & ~mask


# --- a stored calibration that was changed --------------------------------------------------

def steeper(document):
    document["curve"]["coefficients"][1] *= 1.3


def other_point(document):
    document["points"][3]["meter"] += 0.5


def other_reading(document):
    document["points"][3]["volts"] += 0.1


def consistent(document):
    """Turn slope and residuals together, which only a new fit or the check sum can tell."""
    steeper(document)
    c = document["curve"]["coefficients"]
    centre, scale = document["curve"]["centre"], document["curve"]["scale"]
    for p in document["points"]:
        p["residual"] = p["meter"] - (c[0] + c[1] * (p["shown"] - centre) / scale)


@pytest.mark.parametrize("change", [steeper, other_point, other_reading, consistent])
@pytest.mark.parametrize("seal", ["as it was", "sealed again", "none"])
def test_a_calibration_that_was_changed_is_refused_in_one_line(tmp_path, change, seal):
    path, _ = stored_one(tmp_path)
    document = json.loads(path.read_text())
    change(document)
    if seal == "sealed again":
        document["sha256"] = check_sum(document)
    elif seal == "none":
        del document["sha256"]
    path.write_text(json.dumps(document))
    if (change, seal) == (consistent, "sealed again"):
        load(path)  # whoever forges the sum as well may; a file damaged by chance never does
        return
    with pytest.raises(BadFile, match="was changed"):
        load(path)


def test_a_calibration_of_before_there_was_a_check_sum_still_opens(tmp_path):
    path, result = stored_one(tmp_path)
    document = json.loads(path.read_text())
    del document["sha256"]
    path.write_text(json.dumps(document))
    assert load(path).predict_volts(2.2) == result.stored.predict_volts(2.2)


def test_a_calibration_laid_out_anew_is_the_same(tmp_path):
    path, result = stored_one(tmp_path)
    path.write_text(json.dumps(json.loads(path.read_text()), indent=7))
    assert load(path).predict_volts(2.2) == result.stored.predict_volts(2.2)

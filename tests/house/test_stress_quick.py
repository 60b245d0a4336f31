"""The quick forms of tests/stress: every promise holds on a small scale.

The long forms run by hand; their figures are in docs/figures.md.
"""

import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from places import ROOT
from said import refuses
from stress import (
    clock_jumps,
    decoder_random,
    eight_hours,
    full_disk,
    kill_recorder,
    recording_mutations,
    replug,
    two_recorders,
)
from stress.stress_common import Report

from analysis.model.errors import BadRecording
from analysis.model.recording import Channel, Mark
from bench.acquisition.wire import Decoder, encode_frames
from bench.command_line import main
from bench.errors import BadFile
from bench.files.recording_file import read_recording


@pytest.mark.parametrize("script", [
    clock_jumps, decoder_random, full_disk, kill_recorder, recording_mutations, replug,
    eight_hours, two_recorders,
], ids=lambda script: script.__name__.split(".")[-1])
def test_every_promise_of_a_torture_script_holds_on_a_small_scale(script):
    report = Report()
    script.measure(True, report)
    assert not report.broken


def test_files_made_to_do_harm_do_nothing_but_one_line():
    # In a process of its own: an audit hook cannot be taken back.
    done = subprocess.run([sys.executable, ROOT / "tests/stress/malicious_files.py", "--quick"],
                          capture_output=True, text=True, timeout=300, cwd=ROOT, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


@settings(max_examples=60, deadline=None)
@given(st.lists(st.one_of(
    st.binary(max_size=80), st.just(b"\xa5\x48\xb7\x09\x00\xf6\xff"), st.just(b"\xa5\x21\xde"),
    st.integers(0, 4000).map(lambda n: encode_frames(n, [n], [[n % 9, 7]]))), max_size=30),
    st.integers(1, 90))
def test_frames_are_the_same_in_whatever_pieces_they_come(parts, piece):
    data = b"".join(parts)
    rows = []
    for size in (piece, len(data) + 1):
        one, found = Decoder("frames"), []
        for start in range(0, len(data), size):
            found += one.feed(data[start:start + size]).readings.tolist()
            while one.pending:
                found += one.feed(b"").readings.tolist()
        batch = one.finish()
        found += batch.readings.tolist()
        while one.pending:
            found += one.finish().readings.tolist()
        rows.append(found)
    assert rows[0] == rows[1]


@pytest.mark.parametrize(("text", "lost"), [
    ("gap 3", 3), (" gap  12 ", 12), ("gap \u00b2", 0), ("gap \u0663", 0), ("gap " + "9" * 5000, 0),
    ("gap -1", 0), ("gap 1e3", 0), ("a gap 3", 0)])
def test_only_a_plain_number_in_a_mark_counts_as_lost_samples(text, lost):
    assert Mark(0, text).lost_samples == lost


@pytest.mark.parametrize("name", ["full_scale", "reference_volts", "scale", "offset_volts",
                                  "nominal_volts"])
@pytest.mark.parametrize("value", [1e308, float("inf"), float("nan"), -1e300])
def test_a_channel_with_a_scale_beyond_reason_is_refused(name, value):
    stated = {"full_scale": 1024.0, "reference_volts": 5.0} | {name: value}
    with refuses(BadRecording, r"state a|must be finite"):
        Channel("a", "track", None, **stated)


def test_no_title_can_move_the_cursor_or_turn_the_text(tmp_path, capsys):
    sound = (ROOT / "sample_sweeps/synthetic_healthy_pair.csv").read_text()
    title = next(line for line in sound.splitlines() if line.startswith("# title"))
    path = tmp_path / "odd.csv"
    path.write_text(sound.replace(title, r'# title = "\u001b[2Jx\u202ey\rz"'))
    assert main(["findings", str(path)]) == 0
    out = capsys.readouterr().out
    assert not {"\x1b", "\u202e", "\r"} & set(out)
    assert r"\u001b[2Jx\u202ey" in out


def test_a_megabyte_in_a_template_is_no_megabyte_in_the_error(tmp_path, capsys):
    path = tmp_path / "list.txt"
    path.write_text("{" + "a" * 900_000 + "}")
    assert main(["settings", str(ROOT / "sample_sweeps/synthetic_healthy_pair.csv"),
                 "--template", str(path)]) == 2
    said = capsys.readouterr().err
    assert len(said) < 1200
    assert said.count("\n") == 1
    assert "docs/templates.md" in said  # what to do stands at the end and is kept


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="no such device here")
def test_a_device_is_no_recording():
    with pytest.raises(BadFile, match="a pipe or a device"):
        read_recording("/dev/zero")

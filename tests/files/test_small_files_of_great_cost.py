"""Small files that cost a naive reader minutes and gigabytes cost one line and no time."""

import contextlib
import time
import unicodedata

import numpy as np
import pytest
from places import ROOT

from analysis.model.recording import Channel, Recording
from bench.acquisition.wire import Decoder
from bench.errors import BadCall, BadFile
from bench.files.imports import ImportOptions, import_log
from bench.files.recording_file import read_recording, write_recording
from bench.files.recording_header import parse_header
from bench.services.report import write_report

START = 'stillpedal_recording = 1'
ROWS = "".join(f"{k / 100:.2f},{k % 7}.5,{k % 5}.25\n" for k in range(300))


@pytest.mark.parametrize("line", [
    "a" + ".a" * 20_000 + " = 1", "[" + "a." * 20_000 + "a]", "x = {a" + ".a" * 20_000 + " = 1}",
    "x = " + "[" * 40_000, "x = " + "{a=" * 13_000, "." * 40_000, "[" * 40_000, '\\"' * 20_000,
    'x = {y = """\n""", a' + ".a" * 20_000 + " = 1}"])
def test_a_header_of_40_kb_that_nests_is_refused_at_once(line):
    begun = time.process_time()
    with pytest.raises(BadFile, match="repair that line"):
        parse_header([START, *line.split("\n")])
    assert time.process_time() - begun < 1.0


def test_a_header_may_say_much_in_quotes_and_keep_its_dots(tmp_path):
    """Dots and brackets inside quotes, and arrays of numbers, are nobody's bomb."""
    extra = {"note": "." * 500 + "[{" * 500, "numbers": [k + 0.5 for k in range(200)],
             "deep": [[[1.5, 2.5]]], "it's": 'a "quoted" \\ thing'}
    recording = Recording(np.array([0.0, 0.1]), (
        Channel("a", "track", np.array([1.0, 2.0]), "V"),), extra=extra)
    write_recording(tmp_path / "r.csv", recording)
    assert read_recording(tmp_path / "r.csv").extra == extra


@pytest.mark.parametrize("name", ["(" * 40_000, "a(" * 20_000, "[" * 40_000, "x (" + " " * 40_000])
@pytest.mark.parametrize("delimiter", [",", " "])
def test_a_heading_of_brackets_takes_no_time(tmp_path, name, delimiter):
    path = tmp_path / "log.csv"
    path.write_text((f"time,{name},b\n" + ROWS).replace(",", delimiter))
    begun = time.process_time()
    with contextlib.suppress(BadCall, BadFile):
        import_log(path, ImportOptions())
    assert time.process_time() - begun < 1.0


def test_no_control_sign_of_a_title_reaches_a_page(tmp_path):
    """C0, C1, DEL and the signs that turn text (UAX #9) are dropped, the words stay."""
    sweep = (ROOT / "sample_sweeps" / "synthetic_healthy_pair.csv").read_text()
    title = next(line for line in sweep.splitlines() if line.startswith("# title"))
    path = tmp_path / "odd.csv"
    path.write_text(sweep.replace(title, r'# title = "left\u001b[2J\u0007\u0085\u202e\u2066pedal"'))
    out = tmp_path / "page.html"
    write_report(path, out)
    page = out.read_text(encoding="utf-8")
    assert "left[2Jpedal" in page
    assert [c for c in page if not c.isprintable() and c != "\n" and c != "\u00a0"
            and unicodedata.category(c) in ("Cc", "Cf")] == []


@pytest.mark.parametrize("head", [b"", b"# full_scale=1024 reference_volts=5.0 columns="
                                  + b",".join(b"c%d" % k for k in range(30)) + b"\n"])
def test_a_board_of_thirty_channels_is_told_why_nothing_is_read(head):
    decoder = Decoder("text")
    decoder.feed(head + (b",".join(b"%d" % k for k in range(30)) + b"\n") * 60)
    assert decoder.why_unread.startswith("its lines carry 30 numbers, and at most 16 readings")

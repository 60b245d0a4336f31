"""Calibrations: stored, found by date, compared, applied, exported."""

import csv
import html.parser
import io
import json
import re
from dataclasses import replace

import numpy as np
import pytest
from sender_check_by_hand import bench_recording, options, stored_one

from analysis.senders import make_sender
from bench.command_line import main
from bench.errors import BadCall, BadFile
from bench.files.calibration_store import (
    apply,
    calibration_object,
    compare,
    history,
    load,
    save,
    valid_at,
)
from bench.files.exports.calibration import calibration_csv, calibration_json
from bench.files.exports.calibration_text import calibration_text
from bench.files.recording_file import write_recording
from bench.services.report import write_calibration
from bench.services.sender_check import (
    SenderCheckOptions,
    calibrate_taken,
    points_of_recording,
    take_points,
)


def test_a_stored_calibration_comes_back_the_same(tmp_path):
    """Written and read again it predicts the same to the last digit, interval included."""
    path, result = stored_one(tmp_path)
    back = load(path)
    assert back.predict_volts(2.222) == result.stored.predict_volts(2.222)
    assert calibration_object(back) == calibration_object(result.stored)


@pytest.mark.parametrize("kind", ["thermistor", "platinum"])
def test_other_curves_come_back_too(tmp_path, kind):
    """A thermistor's law and a table survive the file."""
    sender = make_sender(kind, {"known_ohms": 2e3})
    celsius = np.array([5.0, 20, 35, 50, 65, 80])
    ohms = 10e3 * np.exp(3950 * (1 / (celsius + 273.15) - 1 / 298.15)) if kind == "thermistor" \
        else 1000 * (1 + 3.9083e-3 * celsius - 5.775e-7 * celsius**2)
    file = tmp_path / "t.csv"
    file.write_text("reading,meter\n" + "".join(
        f"{float(sender.volts(np.array([r]))[0])!r},{c:.1f}\n"
        for r, c in zip(ohms, celsius, strict=True)), encoding="utf-8")
    asked = SenderCheckOptions(sender, "0.2% + 1 digit", 0.1, channel="t")
    result = calibrate_taken(take_points(file, asked), asked)
    back = load(save(tmp_path / "kept", result.stored))
    assert back.predict_volts(2.0) == result.stored.predict_volts(2.0)
    assert calibration_text(result)


def test_old_calibrations_are_kept(tmp_path):
    """Two of one second stand side by side; history is in order of time."""
    first, _ = stored_one(tmp_path)
    content = first.read_bytes()
    second, _ = stored_one(tmp_path, gain=5.03)
    later, _ = stored_one(tmp_path, gain=5.2, date="2026-06-02T09:14:03+02:00")
    assert first.read_bytes() == content
    assert [s.path for s in history(tmp_path, "pack")] == [first, second, later]


def test_the_right_one_is_found_by_date(tmp_path):
    """A recording is valued by the last calibration before it, across time zones; else refused."""
    first, _ = stored_one(tmp_path)
    later, _ = stored_one(tmp_path, gain=5.2, date="2026-06-02T09:14:03+02:00")
    assert valid_at(tmp_path, "pack", "2026-05-20T00:00:00Z").path == first
    # 07:14:03 UTC is 09:14:03 at +02:00 (ISO 8601).
    assert valid_at(tmp_path, "pack", "2026-06-02T07:14:03Z").path == later
    assert valid_at(tmp_path, "pack", "2026-06-02T07:14:02Z").path == first
    with pytest.raises(BadCall, match="the first was made"):
        valid_at(tmp_path, "pack", "2026-01-01T00:00:00Z")


def test_drift_since_last_time(tmp_path):
    """A gain that moved by 1 % is real, the same gain is not; one meter's error drops out."""
    stored_one(tmp_path)
    stored_one(tmp_path, date="2026-06-02T09:14:03+02:00")
    stored_one(tmp_path, gain=5.07, date="2026-07-02T09:14:03+02:00")
    old, same, moved = history(tmp_path, "pack")
    assert not compare(old, same).real
    change = compare(same, moved)
    assert change.real
    assert change.difference == pytest.approx(0.05 * change.at_volts, rel=0.1)


def test_a_recording_is_valued_and_not_changed(tmp_path, capsys):
    """--apply writes the quantity with its uncertainty; the recording's bytes stay as they are."""
    stored_one(tmp_path / "kept")
    file = tmp_path / "later.csv"
    write_recording(file, replace(bench_recording(), started="2026-05-03T10:00:00+02:00"))
    before = file.read_bytes()
    out = tmp_path / "volts.csv"
    assert main(["meter", "--apply", str(file), "--channel", "pack", "--store",
                 str(tmp_path / "kept"), "--out", str(out), "--json"]) == 0
    summary = json.loads(capsys.readouterr().out)
    assert summary["rows"] == 6000
    assert summary["highest"] == pytest.approx(4.1 * 5.02, abs=0.05)
    rows = list(csv.reader(io.StringIO(out.read_text(encoding="utf-8"))))
    assert rows[0][1] == "pack [V]"
    # The true quantity of the first step, within three stated uncertainties.
    values = np.array([[float(c) for c in row] for row in rows[1:601]])
    assert abs(values[:, 1].mean() - 0.5 * 5.02) < 3 * values[0, 2]
    assert file.read_bytes() == before
    assert main(["meter", "--apply", str(file), "--channel", "pack", "--store",
                 str(tmp_path / "kept"), "--out", str(file)]) == 2
    assert file.read_bytes() == before


def test_values_outside_the_calibrated_range_are_told(tmp_path):
    """Rows beyond the calibrated range are counted."""
    path, _ = stored_one(tmp_path)
    recording = bench_recording()
    high = replace(recording.channels[0], readings=recording.channels[0].readings * 0 + 4000.0)
    from bench.files.calibration_store import outside_share

    moved = replace(recording, channels=(high, recording.channels[1]))
    assert outside_share(load(path), moved) == 1.0
    assert outside_share(load(path), recording) == 0.0
    value, uncertainty = apply(load(path), moved)
    assert np.isfinite(value).all()
    assert (uncertainty > 0).all()


@pytest.mark.parametrize("damage", [
    lambda t: t[:200], lambda t: t.replace('"schema": 1', '"schema": 9'), lambda t: "[]",
    lambda t: t.replace('"form": "line"', '"nothing": 1'), lambda t: t.replace("5.0", "-5.0"),
    lambda t: t.replace("2026-05", "some-05")])
def test_damaged_calibrations_are_refused(tmp_path, damage):
    """A cut, foreign, newer or altered file is refused with one line."""
    path, _ = stored_one(tmp_path)
    path.write_text(damage(path.read_text(encoding="utf-8")), encoding="utf-8")
    with pytest.raises((BadFile, BadCall)) as caught:
        load(path)
    assert str(path) in str(caught.value)


def test_history_on_the_command_line(tmp_path, capsys):
    """--history lists what was kept and what moved."""
    stored_one(tmp_path)
    stored_one(tmp_path, gain=5.07, date="2026-07-02T09:14:03+02:00")
    call = ["meter", "--history", "--channel", "pack", "--store", str(tmp_path)]
    assert main(call) == 0
    assert "since last time it moved" in capsys.readouterr().out
    assert main([*call, "--json"]) == 0
    listed = json.loads(capsys.readouterr().out)["calibrations"]
    assert [k["change"] is None for k in listed] == [True, False]


# --- exports ---------------------------------------------------------------------------------

class _Balanced(html.parser.HTMLParser):
    """Hold that every tag that was opened is closed in order."""

    single = frozenset({"meta"})

    def __init__(self):
        super().__init__()
        self.open = []

    def handle_starttag(self, tag, attrs):
        if tag not in self.single:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def test_the_page_is_whole_and_safe(tmp_path):
    """Names typed by the user are text, tags close, nothing is loaded from elsewhere."""
    taken = points_of_recording(bench_recording(), options(channel="pack"))
    result = calibrate_taken(taken, replace(
        options(channel="<script>alert(1)</script>", tolerance=0.5, note="a & b <i>"),
        meter_name="<b>meter"))
    page = write_calibration(tmp_path / "page.html", result).read_text("utf-8")
    reader = _Balanced()
    reader.feed(page)
    assert reader.open == []
    assert "<script" not in page
    # A name space is no address: nothing is fetched from it.
    assert "http" not in re.sub(r'xmlns(:\w+)?="[^"]*"', "", page)
    assert "<svg" in page
    assert "as found: pass" in page.lower()


def test_json_and_csv_agree_with_the_calibration():
    """Points, curve, covariance, interval, date and meter are all there, NaN nowhere."""
    taken = points_of_recording(bench_recording(), options(channel="pack"))
    result = calibrate_taken(taken, options(channel="pack"))

    def refuse(word):
        raise AssertionError(word)

    document = json.loads(calibration_json(result), parse_constant=refuse)
    assert document["date"] == "2026-05-02T09:14:03+02:00"
    found = result.stored.calibration
    for row in document["predictions"]:
        again = found.predict(row["shown"])
        assert (row["low"], row["high"]) == (again.low, again.high)
    rows = list(csv.DictReader(io.StringIO(calibration_csv(result.stored))))
    assert len(rows) == 10
    assert float(rows[3]["meter"]) - float(rows[3]["curve"]) == pytest.approx(
        float(rows[3]["residual"]), abs=1e-12)

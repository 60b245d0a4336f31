"""`stillpedal meter`: from files and from a board, stored, compared, applied, exported."""

import csv
import html.parser
import io
import json
import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analysis.errors import BadWish, NoCalibration
from analysis.recording import Channel, Mark, Recording
from analysis.senders import Divider, Sender, make_sender
from bench.boards.pty_server import PtyServer, can_serve
from bench.boards.serial_board import SerialBoard
from bench.boards.simulated_sender import SimulatedSenderBoard
from bench.calibration_store import (
    apply,
    calibration_object,
    compare,
    history,
    load,
    save,
    valid_at,
)
from bench.command_line import main
from bench.errors import BadCall, BadFile
from bench.exports.calibration import calibration_csv, calibration_html, calibration_json
from bench.exports.calibration_text import calibration_text
from bench.jobs.meter import (
    MeterWishes,
    calibrate_taken,
    number_with_multiple,
    points_of_recording,
    sender_from,
    take_points,
)
from bench.jobs.meter_live import MeterSession
from bench.recording_file import read_recording, write_recording

DIVIDER = ["--kind", "divider", "--set", "top_ohms=40k", "--set", "bottom_ohms=10k",
           "--set", "highest_volts=24"]
LEAFLET = ["--meter-spec", "0.5% + 2 digits", "--meter-name", "bench meter"]
VOLTS = (0.5, 1.4, 2.3, 3.2, 4.1, 4.1, 3.2, 2.3, 1.4, 0.5)


def points_file(folder, gain=5.02, offset=0.02, name="points.csv"):
    """Write a CSV of points of a 1:5 divider and return its path."""
    file = folder / name
    file.write_text("reading,meter\n" + "".join(
        f"{v},{gain * v + offset:.2f}\n" for v in VOLTS), encoding="utf-8")
    return file


def bench_recording(gain=5.02, mark_at="end", drifting=None, counts=4096, title="steps"):
    """Return a recording of ten steps of 3 s, each with a mark of what the meter showed."""
    rng = np.random.default_rng(4)
    rate, per_step = 200.0, 600
    level = np.repeat(VOLTS, per_step).astype(float)
    if drifting is not None:
        part = slice(drifting * per_step, (drifting + 1) * per_step)
        level[part] += np.linspace(0, 0.2, per_step)
    readings = np.rint(level / 5 * counts + rng.normal(0, 1.0, level.size))
    place = {"end": per_step - 1, "start": 0}[mark_at]
    marks = tuple(Mark(k * per_step + place, f"meter {gain * v:.2f}")
                  for k, v in enumerate(VOLTS))
    pack = Channel("pack", "voltage", readings, "counts", float(counts), 5.0)
    other = Channel("other", "other", np.zeros(level.size), "counts", float(counts), 5.0)
    return Recording(np.arange(level.size) / rate, (pack, other), marks, title, "meter",
                     "2026-05-02T09:14:03+02:00", rate)


def wishes(**more):
    return MeterWishes(Divider(top_ohms=40e3, bottom_ohms=10e3, highest_volts=24),
                       "0.5% + 2 digits", **more)


# --- from a file -----------------------------------------------------------------------------

def test_points_of_a_csv(tmp_path, capsys):
    """A CSV of points gives the line, the verdicts and the diagnosis as JSON alone on stdout."""
    file = points_file(tmp_path)
    assert main(["meter", "--from", str(file), *DIVIDER, *LEAFLET, "--tolerance", "3%",
                 "--json"]) == 0
    out, err = capsys.readouterr()
    found = json.loads(out)
    # numpy.polyfit as the reference library for the line over the shown volts (5 * reading).
    x = 5.0 * np.array(VOLTS)
    slope, offset = np.polyfit(x, [float(f"{5.02 * v + 0.02:.2f}") for v in VOLTS], 1)
    assert found["curve"]["coefficients"] == pytest.approx([offset, slope], abs=2e-3)
    assert np.array(found["curve"]["covariance"]).shape == (2, 2)
    assert [v["result"] for v in found["verdicts"]] == ["pass", "pass"]
    assert found["diagnoses"][0]["name"] == "as stated"
    assert found["meter"]["resolution"] == 0.01
    assert len(found["points"]) == 10
    assert found["points"][5]["run"] == "down"
    assert "resolution was taken as 0.01" in err


@pytest.mark.parametrize("text", [
    "reading,meter\n0.5,2.51\n2,10.02\n4,20.1\n", "meter;reading\n2,51;0,5\n10,02;2\n20,10;4\n",
    "0.5,2.51\n2,10.02\n4,20.10\n", "\ufeffvolts\tmeter\n0.5\t2.51\n2\t10.02\n4\t20.10\n",
    "# my notes\nreading,meter,uncertainty\n0.5,2.51,0.001\n2,10.02,0.001\n4,20.10,0.001\n"])
def test_tables_as_people_write_them(tmp_path, text):
    """Comma, semicolon with decimal comma, tab, no header, a third column: all are read."""
    file = tmp_path / "p.csv"
    file.write_text(text, encoding="utf-8")
    points = take_points(file, wishes()).points
    assert points.volts == pytest.approx([0.5, 2, 4])
    assert points.meter == pytest.approx([2.51, 10.02, 20.1])


@pytest.mark.parametrize(("text", "words"), [
    ("", "is empty"), ("reading,meter\n", "no point"), ("reading,meter\n1,two\n", "line 2"),
    ("reading,meter\n1\n", "no reading and meter"), ("reading,meter\n1,nan\n", "two numbers")])
def test_tables_that_cannot_be_read(tmp_path, text, words):
    """Each is refused with one line that says where and what to do."""
    file = tmp_path / "p.csv"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(BadFile, match=words):
        take_points(file, wishes())


@given(st.binary(max_size=300))
@settings(max_examples=80, deadline=None,
          suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_bytes_end_in_points_or_one_line(tmp_path, data):
    """Whatever is in the file, there is no traceback."""
    file = tmp_path / "p.csv"
    file.write_bytes(data)
    try:
        found = take_points(file, wishes()).points.count
    except (BadFile, NoCalibration) as error:
        found = "\n" not in str(error).replace(str(file), "")
    assert found


def test_counts_need_their_scale(tmp_path, capsys):
    """Readings in counts are refused without the scale, and turned into volts with it."""
    file = tmp_path / "p.csv"
    file.write_text("counts,meter\n102,2.50\n307,7.51\n819,20.02\n", encoding="utf-8")
    assert main(["meter", "--from", str(file), *DIVIDER]) == 2
    assert "--full-scale" in capsys.readouterr().err
    taken = take_points(file, wishes(full_scale=1024.0, reference_volts=5.0))
    assert taken.points.volts == pytest.approx(np.array([102, 307, 819]) * 5 / 1024)


@pytest.mark.parametrize("mark_at", ["end", "start"])
def test_points_of_a_recording(tmp_path, mark_at):
    """Marks 'meter VALUE' in a recording give the points, at the end or the start of a step."""
    file = tmp_path / "steps.csv"
    write_recording(file, bench_recording(mark_at=mark_at))
    taken = take_points(file, wishes(channel="pack"))
    # One 12-bit step is 1.2 mV; the mean of 400 readings is far better than that.
    assert taken.points.volts == pytest.approx(VOLTS, abs=5e-4)
    assert taken.date == "2026-05-02T09:14:03+02:00"
    assert np.all(taken.points.volts_uncertainty < 3e-4)
    result = calibrate_taken(taken, wishes(channel="pack"))
    assert result.stored.calibration.curve.coefficients[1] == pytest.approx(5.02 / 5, rel=2e-3)


def test_a_point_that_drifts_is_left_out_and_named():
    """The third point drifts by 0.2 V in 3 s: nine points remain and the note says so."""
    taken = points_of_recording(bench_recording(drifting=2), wishes(channel="pack"))
    assert taken.points.count == 9
    assert "point 3 (meter 11.55" in taken.notes[0]
    assert "drifts by +0.13" in taken.notes[0]


def test_a_point_taken_back_does_not_count():
    """'meter undo' takes the point before it back."""
    recording = bench_recording()
    marks = (*recording.marks[:2], Mark(1300, "meter undo"), *recording.marks[2:])
    taken = points_of_recording(replace(recording, marks=marks), wishes(channel="pack"))
    assert taken.points.count == 9


def test_recordings_that_say_too_little():
    """No marks, a mark without a number, and an unnamed channel among two are refused."""
    recording = bench_recording()
    with pytest.raises(BadFile, match="no mark 'meter VALUE'"):
        points_of_recording(replace(recording, marks=()), wishes(channel="pack"))
    with pytest.raises(BadFile, match="holds no number"):
        points_of_recording(replace(recording, marks=(Mark(500, "meter high"),)),
                            wishes(channel="pack"))
    with pytest.raises(BadCall, match="--channel"):
        points_of_recording(recording, wishes())


def test_a_ratiometric_sender_is_freed_from_its_supply():
    """A thermistor fed from a supply that sags 4 % still reads its resistance."""
    sender = make_sender("thermistor", {"known_ohms": 10e3})
    ohms = 3000.0
    share = ohms / (ohms + 10e3)
    supply = np.linspace(5.0, 4.8, 600)
    time_s = np.arange(600) / 200
    recording = Recording(time_s, (
        Channel("t", "temperature", supply * share, "V"),
        Channel("supply", "supply", supply, "V", nominal_volts=5.0)),
        (Mark(599, "meter 51.0"), Mark(300, "meter 51.0")), purpose="meter")
    taken = points_of_recording(replace(recording, marks=recording.marks[::-1]), MeterWishes(
        sender, "0.5%", 0.1, channel="t"))
    # Ohm's law: 5 V * 3 / 13.
    assert taken.points.volts == pytest.approx([5 * share] * 2, abs=1e-9)


# --- safety ----------------------------------------------------------------------------------

def test_a_pack_on_a_pin_is_refused_with_its_voltage(tmp_path, capsys):
    """400 V through 1:11 is 36.36 V: refused before anything is read, exit 2, one line."""
    file = points_file(tmp_path)
    assert main(["meter", "--from", str(file), "--kind", "divider", "--set", "top_ohms=100k",
                 "--set", "bottom_ohms=10k", "--set", "highest_volts=400"]) == 2
    err = capsys.readouterr().err
    # 400 V / 11, by the divider's equation.
    assert "36.36 V on the board's input" in err
    assert len(err.strip().splitlines()) == 1


def test_the_touch_safety_caution_is_shown(tmp_path, capsys):
    """Above 60 V the caution is on stderr and on the page."""
    file = points_file(tmp_path, gain=98.0)
    page = tmp_path / "pack.html"
    assert main(["meter", "--from", str(file), "--kind", "divider", "--set", "top_ohms=970k",
                 "--set", "bottom_ohms=10k", "--set", "highest_volts=420", *LEAFLET,
                 "--out", str(page)]) == 0
    assert "60 V DC is not safe to touch" in capsys.readouterr().err
    assert "60 V DC is not safe to touch" in page.read_text(encoding="utf-8")


def test_a_board_with_a_lower_reference_lowers_the_limit(tmp_path):
    """A divider that suits 5 V is refused on a board whose inputs end at 3.3 V."""
    board = SimulatedSenderBoard(1.0, speed=20.0, reference_volts=3.3)
    words = r"puts 4\.8 V on the board's input, above its limit of 3\.3"
    with pytest.raises(BadWish, match=words), \
            MeterSession(board, wishes(), tmp_path / "m.csv", print):
        pass
    assert read_recording(tmp_path / "m.csv").complete


# --- verdicts and exit status ----------------------------------------------------------------

def test_strict_fails_when_a_verdict_fails(tmp_path, capsys):
    """Exit 1 only with --strict and a failed tolerance; the diagnosis says wrong tap."""
    file = points_file(tmp_path, gain=10.03)
    call = ["meter", "--from", str(file), *DIVIDER, *LEAFLET, "--tolerance", "0.5"]
    assert main(call) == 0
    assert "as 1:10 does, not by the stated 5" in capsys.readouterr().out
    assert main([*call, "--strict"]) == 1
    good = points_file(tmp_path, gain=5.0, name="good.csv")
    assert main(["meter", "--from", str(good), *DIVIDER, *LEAFLET, "--tolerance", "0.5",
                 "--strict"]) == 0


@pytest.mark.parametrize(("options", "words"), [
    ([], "either --board NAME"), (["--from", "nowhere.csv"], "cannot read"),
    (["--from", "P", "--meter-spec", "fine"], "not understood"),
    (["--from", "P", "--kind", "divider"], "top_ohms"),
    (["--from", "P", "--set", "top_ohms=1"], "has pin_limit_volts"),
    (["--from", "P", *DIVIDER, "--set", "top_ohms=many"], "write a number"),
    (["--from", "P", "--seconds", "0"], "0.05 to 600"),
    (["--from", "P", "--tolerance", "-1"], "above 0"),
    (["--from", "P", "--out", "x.docx"], "end the name in"),
    (["--history", "--store", "none"], "--channel"),
    (["--history", "--store", "none", "--channel", "pack"], "no calibration of channel"),
    (["--apply", "nowhere.csv", "--channel", "pack"], "cannot read")])
def test_unusable_calls_end_in_one_line(tmp_path, capsys, monkeypatch, options, words):
    """Exit 2 and one line that says which and what to do; nothing on stdout."""
    monkeypatch.chdir(tmp_path)
    file = points_file(tmp_path)
    assert main(["meter", *[str(file) if o == "P" else o for o in options]]) == 2
    out, err = capsys.readouterr()
    assert words in err
    assert out == ""
    assert len(err.strip().splitlines()) == 1


def test_every_kind_can_be_explained(capsys):
    """--explain shows equation, wiring and stated values of each kind, without a board."""
    from bench.command_line.meter import KINDS

    for kind in KINDS:
        assert main(["meter", "--kind", kind, "--explain"]) == 0
        out = capsys.readouterr().out
        assert "equation" in out
        assert "wiring" in out
        assert "pin_limit_volts" in out


def test_numbers_with_multiples():
    """4.7k is 4700, 1M a million; words are refused."""
    assert number_with_multiple("4.7k", "x") == 4700
    assert number_with_multiple("1M", "x") == 1e6
    assert sender_from("divider", ["top_ohms=40k", "bottom_ohms=10k", "highest_volts=20",
                                   "other_ratios=2,7.3"]).other_ratios == (2.0, 7.3)
    assert sender_from("thermistor", ["known_ohms=10k", "to_ground=no"]).to_ground is False
    with pytest.raises(BadCall, match="x is 'five'"):
        number_with_multiple("five", "x")


# --- the store -------------------------------------------------------------------------------

def stored_one(folder, gain=5.02, date="2026-05-02T09:14:03+02:00", meter="bench meter"):
    taken = points_of_recording(
        replace(bench_recording(gain=gain), started=date), wishes(channel="pack"))
    result = calibrate_taken(taken, replace(wishes(channel="pack"), meter_name=meter))
    return save(folder, result.stored), result


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
    asked = MeterWishes(sender, "0.2% + 1 digit", 0.1, channel="t")
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
    from bench.calibration_store import outside_share

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
    taken = points_of_recording(bench_recording(), wishes(channel="pack"))
    result = calibrate_taken(taken, replace(
        wishes(channel="<script>alert(1)</script>", tolerance=0.5, note="a & b <i>"),
        meter_name="<b>meter"))
    page = calibration_html(result)
    reader = _Balanced()
    reader.feed(page)
    assert reader.open == []
    assert "<script" not in page
    assert "http" not in page
    assert "<svg" in page
    assert "as found: pass" in page.lower()


def test_json_and_csv_agree_with_the_calibration():
    """Points, curve, covariance, interval, date and meter are all there, NaN nowhere."""
    taken = points_of_recording(bench_recording(), wishes(channel="pack"))
    result = calibrate_taken(taken, wishes(channel="pack"))

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


# --- from a board ----------------------------------------------------------------------------

def take_all(session, board, levels, gain):
    """Take a point at each level, waiting until the channel is steady."""
    for volts in levels:
        board.go_to(volts)
        deadline = time.monotonic() + 20
        time.sleep(0.15)
        while not session.add(f"{gain * volts:.2f}").steady:
            assert time.monotonic() < deadline


def test_a_guided_check_in_process(tmp_path):
    """Through board, decoder and recorder: the true ratio is inside the interval, all is kept."""
    board = SimulatedSenderBoard(0.5, speed=20.0)
    with MeterSession(board, wishes(), tmp_path / "m.csv", print) as session:
        take_all(session, board, VOLTS, 5.04)
        assert "of at least" in session.progress() or "enough" in session.progress()
        result = session.result(tmp_path / "kept")
    predicted = result.stored.predict_volts(3.0)
    assert predicted.low < 3.0 * 5.04 < predicted.high
    assert result.enough.enough
    kept = read_recording(tmp_path / "m.csv")
    assert kept.complete
    assert kept.purpose == "meter"
    # The recording alone leads to the same calibration.
    again = calibrate_taken(points_of_recording(kept, wishes()), wishes())
    assert again.stored.calibration.curve.coefficients == pytest.approx(
        result.stored.calibration.curve.coefficients, abs=0.02)


def test_a_guided_check_refuses_while_it_drifts(tmp_path):
    """A point typed while the level still moves is refused with the drift and its limit."""
    board = SimulatedSenderBoard(0.5, speed=5.0)
    with MeterSession(board, wishes(window_s=1.0), tmp_path / "m.csv", print) as session:
        assert session.add("2.52").steady
        board.go_to(4.0)
        refused = session.add("20.16")
        assert not refused.steady
        assert "drifts by +" in refused.text()
        assert "allowed" in refused.text()
        assert len(session.points) == 1
        with pytest.raises(BadCall, match="no number"):
            session.add("twenty")
        session.undo()
        assert session.points == []
        with pytest.raises(NoCalibration, match="no point"):
            session.result()


@pytest.mark.skipif(not can_serve(), reason="no pseudo terminals here")
def test_a_guided_check_over_a_serial_port(tmp_path):
    """Through a real serial device, opened like hardware, the same points come out."""
    board = SimulatedSenderBoard(0.5, speed=10.0)
    server = PtyServer(board)
    try:
        with MeterSession(SerialBoard(server.port), wishes(), tmp_path / "m.csv",
                          print) as session:
            take_all(session, board, (0.5, 2.3, 4.1), 5.0)
            result = session.result()
    finally:
        server.close()
    assert result.stored.calibration.points.volts == pytest.approx([0.5, 2.3, 4.1], abs=2e-3)


def test_the_guided_verb_reads_what_is_typed(tmp_path, monkeypatch, capsys):
    """Typed lines drive the verb; wrong words are answered, the calibration is kept."""
    monkeypatch.chdir(tmp_path)
    lines = "what\n2.53\nwait 2.5\n7.07\nwait 2.5\n11.62\nundo\nwait 2.5\n11.62\ndone\n"
    monkeypatch.setattr("sys.stdin", io.StringIO(lines))
    assert main(["meter", "--board", "simulated", *DIVIDER, *LEAFLET, "--seconds", "0.4",
                 "--json"]) == 0
    out, err = capsys.readouterr()
    assert "'what' is no number" in err
    assert "the meter shows 2.5" in err
    assert len(json.loads(out)["points"]) == 3
    assert len(list((tmp_path / "calibrations").glob("sender-*.json"))) == 1
    assert read_recording(tmp_path / "meter.csv").complete


def test_a_board_that_ends_too_soon_loses_nothing(tmp_path, monkeypatch, capsys):
    """When the board goes away after one point, that is said, and the recording holds the point."""
    monkeypatch.chdir(tmp_path)
    short = bench_recording()
    short = replace(short, time_s=short.time_s[:300], marks=(), channels=tuple(
        replace(c, readings=c.readings[:300]) for c in short.channels))
    write_recording(tmp_path / "short.csv", short)
    monkeypatch.setattr("sys.stdin", io.StringIO("2.51\nwait 2\n7.03\n"))
    assert main(["meter", "--board", "replay:short.csv", "--channel", "pack", *DIVIDER,
                 "--seconds", "0.5"]) == 2
    assert "1 points were taken; the readings are kept in meter.csv" in capsys.readouterr().err
    kept = read_recording(tmp_path / "meter.csv")
    assert kept.complete
    assert [m.text for m in kept.marks] == ["meter 2.51"]


def test_any_sender_without_stated_values():
    """The kind 'other' calibrates volts against whatever the meter shows."""
    taken = points_of_recording(bench_recording(), MeterWishes(Sender(), "1%", channel="pack"))
    result = calibrate_taken(taken, MeterWishes(Sender(), "1%", channel="pack", unit="bar"))
    assert result.stored.calibration.unit == "bar"
    assert result.stored.predict_volts(2.0).value == pytest.approx(10.04, abs=0.02)

"""`stillpedal meter` from files: points, recordings, refusals, cautions."""

import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from said import as_text, refuses
from sender_check_by_hand import DIVIDER, LEAFLET, VOLTS, bench_recording, options, points_file

from analysis.model.errors import BadParameter, NoCalibration
from analysis.model.recording import Channel, Mark, Recording
from analysis.senders import Sender, make_sender
from bench.acquisition.boards.simulated_sender import SimulatedSenderBoard
from bench.command_line import main
from bench.errors import BadCall, BadFile
from bench.files.recording_file import read_recording, write_recording
from bench.services.sender_check import (
    SenderCheckOptions,
    calibrate_taken,
    points_of_recording,
    take_points,
)
from bench.services.sender_check_live import MeterSession
from bench.services.sender_stated import sender_from
from bench.services.typed_numbers import number_with_multiple


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
    points = take_points(file, options()).points
    assert points.volts == pytest.approx([0.5, 2, 4])
    assert points.meter == pytest.approx([2.51, 10.02, 20.1])


@pytest.mark.parametrize(("text", "words"), [
    ("", "is empty"), ("reading,meter\n", "no point"), ("reading,meter\n1,two\n", "line 2"),
    ("reading,meter\n1\n", "no reading and meter"), ("reading,meter\n1,nan\n", "two numbers"),
    ("reading,meter\n0.5,2,51\n2,10,02\n", "decimal comma"),
    ("0,5,2,51\n2,0,10,02\n", "decimal comma"), ("0.5,2,51\n2.1,10,02\n", "decimal comma")])
def test_tables_that_cannot_be_read(tmp_path, text, words):
    """Each is refused with one line that says where and what to do."""
    file = tmp_path / "p.csv"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(BadFile, match=words):
        take_points(file, options())


@given(st.binary(max_size=300))
@settings(max_examples=60, deadline=None,
          suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_bytes_end_in_points_or_one_line(tmp_path, data):
    """Whatever is in the file, there is no traceback."""
    file = tmp_path / "p.csv"
    file.write_bytes(data)
    try:
        found = take_points(file, options()).points.count
    except (BadFile, NoCalibration) as error:
        found = "\n" not in str(error).replace(str(file), "")
    assert found


def test_a_meter_that_shows_no_sign_is_no_pass(tmp_path):
    """A curve that turns back fits its points; the reading does not follow such a meter."""
    amps = np.linspace(-150.0, 150.0, 9)
    file = tmp_path / "p.csv"
    file.write_text("reading,meter\n" + "".join(
        f"{2.5 + 0.01 * a:.5f},{abs(a):.1f}\n" for a in amps), encoding="utf-8")
    sender = make_sender("hall", {"rated_amps": 200.0, "span_volts": 2.0, "zero_volts": 2.5})
    asked = replace(options(), sender=sender, tolerance=2.0, tolerance_percent=True)
    found = calibrate_taken(take_points(file, asked), asked)
    assert [d.name for d in found.diagnoses] == ["no relation"]
    assert "pass" not in {v.result for v in found.verdicts}


def test_counts_need_their_scale(tmp_path, capsys):
    """Readings in counts are refused without the scale, and turned into volts with it."""
    file = tmp_path / "p.csv"
    file.write_text("counts,meter\n102,2.50\n307,7.51\n819,20.02\n", encoding="utf-8")
    assert main(["meter", "--from", str(file), *DIVIDER]) == 2
    assert "--full-scale" in capsys.readouterr().err
    taken = take_points(file, options(full_scale=1024.0, reference_volts=5.0))
    assert taken.points.volts == pytest.approx(np.array([102, 307, 819]) * 5 / 1024)


@pytest.mark.parametrize("mark_at", ["end", "start"])
def test_points_of_a_recording(tmp_path, mark_at):
    """Marks 'meter VALUE' in a recording give the points, at the end or the start of a step."""
    file = tmp_path / "steps.csv"
    write_recording(file, bench_recording(mark_at=mark_at))
    taken = take_points(file, options(channel="pack"))
    # One 12-bit step is 1.2 mV; the mean of 400 readings is far better than that.
    assert taken.points.volts == pytest.approx(VOLTS, abs=5e-4)
    assert taken.date == "2026-05-02T09:14:03+02:00"
    assert np.all(taken.points.volts_uncertainty < 3e-4)
    result = calibrate_taken(taken, options(channel="pack"))
    assert result.stored.calibration.curve.coefficients[1] == pytest.approx(5.02 / 5, rel=2e-3)


def test_a_point_that_drifts_is_left_out_and_named():
    """The third point drifts by 0.2 V in 3 s: nine points remain and the note says so."""
    taken = points_of_recording(bench_recording(drifting=2), options(channel="pack"))
    assert taken.points.count == 9
    assert "point 3 (meter 11.55" in as_text(taken.notes[0])
    assert "drifts by +0.13" in as_text(taken.notes[0])


def test_a_point_taken_back_does_not_count():
    """'meter undo' takes the point before it back."""
    recording = bench_recording()
    marks = (*recording.marks[:2], Mark(1300, "meter undo"), *recording.marks[2:])
    taken = points_of_recording(replace(recording, marks=marks), options(channel="pack"))
    assert taken.points.count == 9


def test_recordings_that_say_too_little():
    """No marks, a mark without a number, and an unnamed channel among two are refused."""
    recording = bench_recording()
    with pytest.raises(BadFile, match="no mark 'meter VALUE'"):
        points_of_recording(replace(recording, marks=()), options(channel="pack"))
    with pytest.raises(BadFile, match="holds no number"):
        points_of_recording(replace(recording, marks=(Mark(500, "meter high"),)),
                            options(channel="pack"))
    with pytest.raises(BadCall, match="--channel"):
        points_of_recording(recording, options())


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
    taken = points_of_recording(replace(recording, marks=recording.marks[::-1]), SenderCheckOptions(
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
    with refuses(BadParameter, words), \
            MeterSession(board, options(), tmp_path / "m.csv", print):
        pass
    assert read_recording(tmp_path / "m.csv").complete


# --- verdicts and exit status ----------------------------------------------------------------

def test_strict_fails_when_a_verdict_fails(tmp_path, capsys):
    """Exit 1 only with --strict and a failed tolerance; the diagnosis says wrong tap."""
    file = points_file(tmp_path, gain=10.03)
    call = ["meter", "--from", str(file), *DIVIDER, *LEAFLET, "--tolerance", "0.5"]
    assert main(call) == 0
    assert "like 1:10, not by the stated 5" in capsys.readouterr().out
    assert main([*call, "--strict"]) == 1
    good = points_file(tmp_path, gain=5.0, name="good.csv")
    assert main(["meter", "--from", str(good), *DIVIDER, *LEAFLET, "--tolerance", "0.5",
                 "--strict"]) == 0


@pytest.mark.parametrize(("options", "words"), [
    ([], "no points given: take them now with --board"), (["--from", "nowhere.csv"], "cannot read"),
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


@pytest.mark.parametrize("kind", ["proximity", "pilot"])
def test_the_charge_port_is_explained_with_its_own_danger(kind, tmp_path, monkeypatch, capsys):
    """Beside those two lines runs mains: --explain says so, in the words of the live check.

    That a J1772 inlet carries AC mains: SAE J1772 (from memory).
    """
    monkeypatch.chdir(tmp_path)
    assert main(["meter", "--kind", kind, "--explain"]) == 0
    explained = " ".join(capsys.readouterr().out.split())
    assert "carries mains" in explained
    assert "never feed them" in explained
    main(["meter", "--kind", kind, "--board", "simulated", "--no-store", "--channel", "none"])
    live = [line.partition("CAUTION (with a real board): ")[2]
            for line in capsys.readouterr().err.splitlines() if "CAUTION" in line]
    assert live
    assert all(line in explained for line in live)


@pytest.mark.parametrize(("kind", "names"), [
    ("divider", ["top_ohms", "bottom_ohms", "highest_volts"]), ("thermistor", ["known_ohms"]),
    ("shunt", ["rated_amps", "rated_millivolts"]), ("platinum", ["known_ohms"]),
    ("rheostat", ["known_ohms"]), ("pilot", []), ("other", []), ("loop", [])])
def test_what_must_be_stated_is_said_before_and_after(kind, names, tmp_path, capsys):
    """Exactly what --explain marks is asked for, as it is to be typed: no outside source."""
    assert main(["meter", "--kind", kind, "--explain"]) == 0
    marked = [line.split()[0] for line in capsys.readouterr().out.splitlines()
              if "must be stated" in line]
    assert marked == names
    status = main(["meter", "--from", str(points_file(tmp_path)), "--kind", kind])
    said = capsys.readouterr().err
    if names:
        assert status == 2
        assert all(f"--set {name}=" in said for name in names)
    assert "needs" not in said or names


def test_a_channel_that_the_board_does_not_send_is_told_as_such(tmp_path, monkeypatch, capsys):
    """Who said --channel is not asked to say it: no outside source."""
    monkeypatch.chdir(tmp_path)
    assert main(["meter", "--board", "simulated", "--channel", "a"]) == 2
    assert "sends no channel 'a'; give --channel one of " in capsys.readouterr().err


def test_numbers_with_multiples():
    """4.7k is 4700, 1M a million; words are refused."""
    assert number_with_multiple("4.7k", "x") == 4700
    assert number_with_multiple("1M", "x") == 1e6
    assert sender_from("divider", ["top_ohms=40k", "bottom_ohms=10k", "highest_volts=20",
                                   "other_ratios=2,7.3"]).other_ratios == (2.0, 7.3)
    assert sender_from("thermistor", ["known_ohms=10k", "to_ground=no"]).to_ground is False
    with pytest.raises(BadCall, match="x is 'five'"):
        number_with_multiple("five", "x")


def test_any_sender_without_stated_values():
    """The kind 'other' calibrates volts against whatever the meter shows."""
    taken = points_of_recording(
        bench_recording(), SenderCheckOptions(Sender(), "1%", channel="pack")
    )
    result = calibrate_taken(taken, SenderCheckOptions(Sender(), "1%", channel="pack", unit="bar"))
    assert result.stored.calibration.unit == "bar"
    assert result.stored.predict_volts(2.0).value == pytest.approx(10.04, abs=0.02)

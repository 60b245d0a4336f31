"""A check against a meter that took an odd turn: notes, refusals, and nothing lost."""

import io
import json
from dataclasses import replace

import numpy as np
import pytest
from in_process import stillpedal
from said import refuses
from scripted_board import counting
from sender_check_by_hand import bench_recording, options, points_file, stored_one

from analysis.model.errors import NoCalibration
from analysis.model.recording import Mark
from analysis.senders import make_sender
from bench.acquisition.boards.simulated_sender import SimulatedSenderBoard
from bench.acquisition.boards.streamed import StreamedBoard
from bench.command_line import meter_guided
from bench.errors import BadCall, BadFile, BoardTrouble
from bench.files.calibration_store import (
    calibration_object,
    check_sum,
    compare,
    history,
    load,
    outside_share,
    pin_volts,
)
from bench.files.recording_writer import write_recording
from bench.services.report import write_calibration
from bench.services.sender_check import calibrate_taken, points_of_recording, take_points
from bench.services.sender_check_live import LiveReadings, MeterSession
from bench.services.sender_stated import sender_from
from bench.wording.senders.result import result_line


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    """Return (file, result) of one calibration of the channel pack."""
    return stored_one(tmp_path_factory.mktemp("kept"))


def test_a_folder_with_other_files_in_it(tmp_path, kept):
    """What is none of the channel's is passed over; a damaged one of its own is told."""
    path, _ = kept
    (tmp_path / path.name).write_bytes(path.read_bytes())
    (tmp_path / "notes.json").write_text("{}")
    assert len(history(tmp_path, "pack")) == 1
    assert history(tmp_path, "other") == ()
    (tmp_path / "pack-2026-01-01.json").write_text("{}")
    with pytest.raises(BadFile, match="pack-2026-01-01"):
        history(tmp_path, "pack")


def test_rows_without_a_reading_lie_nowhere(kept):
    """A channel of blank cells is not outside the range: nothing of it is known."""
    recording = bench_recording()
    blank = replace(recording.channels[0], readings=np.full(recording.rows, np.nan))
    empty = replace(recording, channels=(blank, recording.channels[1]))
    assert outside_share(load(kept[0]), empty) == 0.0


def test_two_quantities_are_not_compared(kept):
    """A volt and a degree have no difference."""
    before = load(kept[0])
    after = replace(before, calibration=replace(before.calibration, unit="°C"))
    with pytest.raises(BadCall, match="one calibration is in V, the other in °C"):
        compare(before, after)


def test_a_stored_file_with_more_in_it_than_was_stored(tmp_path, kept):
    """Somebody wrote into it; a check sum of their own does not help."""
    document = calibration_object(kept[1].stored)
    document["remark"] = "better"
    document.pop("sha256", None)
    path = tmp_path / "pack.json"
    for text in (document, {**document, "check_sum": check_sum(document)}):
        path.write_text(json.dumps(text))
        with pytest.raises(BadFile, match="was changed"):
            load(path)


def test_a_channel_that_holds_a_frequency_is_taken_as_it_came():
    """Hertz have no reference to be scaled by."""
    channel = bench_recording().channels[0]
    sender = make_sender("speed", {"pulses_per_turn": 4.0, "channel_holds": "hertz"})
    assert pin_volts(bench_recording(), channel, sender) is channel.readings


def test_an_applied_calibration_says_what_to_know(tmp_path, kept):
    """Another channel's, and readings beyond it, are told on the error stream; then the file."""
    recording = bench_recording()
    high = replace(recording.channels[0], readings=recording.channels[0].readings + 1500.0)
    file, out = tmp_path / "r.csv", tmp_path / "v.csv"
    write_recording(file, replace(recording, started="", channels=(
        recording.channels[0], replace(high, column="spare"))))
    done = stillpedal("meter", "--apply", str(file), "--channel", "spare", "--calibration",
                      str(kept[0]), "--out", str(out))
    assert done.returncode == 0, done.stderr
    assert "was made for channel 'pack' and is applied to 'spare'" in done.stderr
    assert "of the rows lie outside the calibrated range" in done.stderr
    assert f"written: {out}" in done.stderr
    assert out.read_text().startswith("time_s,spare [V],uncertainty [V]")
    assert done.stdout.startswith("spare by the calibration of 2026-05-02")
    done = stillpedal("meter", "--apply", str(file), "--channel", "pack", "--calibration",
                      str(kept[0]))
    assert (done.returncode, done.stderr) == (0, "")
    done = stillpedal("meter", "--apply", str(file), "--channel", "pack")
    assert done.returncode == 2
    assert "does not say when it was started" in done.stderr


def test_a_calibration_is_written_by_the_ending_of_its_file(tmp_path, kept):
    """JSON and CSV; another ending is named with those there are."""
    write_calibration(tmp_path / "c.json", kept[1])
    assert json.loads((tmp_path / "c.json").read_text())["channel"] == "pack"
    write_calibration(tmp_path / "c.csv", kept[1])
    assert "," in (tmp_path / "c.csv").read_text()
    for name, shown in (("c.doc", "'.doc'"), ("c", "'nothing'")):
        with pytest.raises(BadCall, match=f"not in {shown}"):
            write_calibration(tmp_path / name, kept[1])


def test_a_level_above_the_limit_of_the_input_is_noted(tmp_path):
    """5.5 V on an input that bears 5 V: measured, and told."""
    file = points_file(tmp_path)
    file.write_text(file.read_text() + "5.5,27.63\n")
    result = calibrate_taken(take_points(file, options()), options())
    beyond = [n for n in result.notes if n.code == "read beyond the input's limit"]
    assert beyond[0].values == {"volts": 5.5, "limit_volts": 5.0}


def test_a_mark_that_is_not_the_meters_and_one_taken_back():
    """Other remarks stay remarks; of one point too few no line is drawn."""
    recording = bench_recording()
    marks = (recording.marks[0], Mark(700, "lamp on"), recording.marks[1], Mark(1300, "meter undo"))
    with refuses(NoCalibration, "1 usable point"):
        points_of_recording(replace(recording, marks=marks), options(channel="pack"))


@pytest.mark.parametrize(("kind", "words", "leads_on"), [
    ("oracle", (), "no kind of sender 'oracle'; use one of"),
    ("divider", ("top=1",), "a divider has"),
])
def test_a_sender_that_is_not_known(kind, words, leads_on):
    """With what there is."""
    with pytest.raises(BadCall, match=leads_on):
        sender_from(kind, words)


def test_nothing_read_yet_is_no_level():
    """Not a mean of nothing."""
    with refuses(NoCalibration, "no readings came yet"):
        LiveReadings(10.0, print).last(1.0)


def test_a_board_that_never_sends_is_told(tmp_path, monkeypatch):
    """And the session is closed again."""
    from bench.services import sender_check_live

    class Silent(SimulatedSenderBoard):
        def read(self):
            return b""

    monkeypatch.setattr(sender_check_live, "WAIT_FOR_BOARD_S", 0.02)
    with pytest.raises(BoardTrouble, match="check its cable and sketch"), \
            MeterSession(Silent(0.5), options(), tmp_path / "m.csv", print):
        pass


def test_a_board_of_two_inputs_is_asked_which_one(tmp_path):
    """Both are named."""
    with pytest.raises(BadCall, match="the board sends a, b; say with --channel which one"), \
            MeterSession(StreamedBoard("two", counting(200), 100.0), options(),
                         tmp_path / "m.csv", print):
        pass


@pytest.mark.parametrize("typed", ["inf", "nan", "about 5", ""])
def test_what_is_no_number_is_no_point(typed, tmp_path):
    """A meter shows none of these."""
    session = MeterSession(SimulatedSenderBoard(0.5), options(), tmp_path / "m.csv", print)
    with pytest.raises(BadCall, match="is no number; type what the meter shows"):
        session.add(typed)
    assert session.points == []


def test_the_result_is_told_as_the_sender_is_stated(kept):
    """A divider by its ratio; of others the share of what was stated, or a slope with its units."""
    found = kept[1].stored.calibration
    divider = options().sender
    other = make_sender("thermistor", {"known_ohms": 2e3})
    assert result_line(divider, found).endswith(", stated 1:5")
    assert result_line(divider, found).startswith("1:5.0")
    assert result_line(other, replace(found, unit="V", x_unit="V")).endswith("of what was stated")
    assert result_line(other, replace(found, unit="A", x_unit="V")).endswith(" A for each V")


def test_taking_back_where_nothing_was_taken(tmp_path):
    """Harmless; and answers to doubted points are kept with the session."""
    session = MeterSession(SimulatedSenderBoard(0.5), options(), tmp_path / "m.csv", print)
    session.undo()
    assert session.points == []
    session.answer((2, 1), right=True)
    session.answer((3,), right=False)
    assert (session.options.confirmed, session.options.left_out) == ((1, 2), (3,))


class Answers:
    """A session to be asked: its points, and the level that it stands at."""

    def __init__(self, steady):
        self.points, self.steady, self.asked = [], steady, 0

    def now(self):
        self.asked += 1
        return self.steady

    def undo(self):
        self.points = self.points[:-1]

    def add(self, words):
        self.points += [words] * self.steady.steady
        return self.steady

    def progress(self):
        return f"{len(self.points)} so far"


@pytest.fixture
def ask(monkeypatch, capsys):
    def asked(lines, steady, simulated=None):
        session = Answers(steady)
        monkeypatch.setattr("sys.stdin", io.StringIO(lines))
        monkeypatch.setattr(meter_guided.time, "sleep", slept.append)
        meter_guided.ask_points(session, options(), simulated)
        return session, capsys.readouterr().err

    slept: list[float] = []
    asked.slept = slept
    return asked


def level(drift=0.0):
    time_s = np.linspace(0.0, 1.0, 200)
    noise = np.where(np.arange(200) % 2, 0.001, -0.001)
    return options().sender.level(time_s, 2.0 + noise + drift * time_s, 0.001)


def test_an_empty_line_asks_where_the_channel_stands(ask):
    """And takes no point; the end of the input ends it."""
    session, said = ask("\n5.02\n", level())
    assert session.asked == 1
    assert session.points == ["5.02"]
    assert "1 so far" in said


def test_a_point_that_drifts_is_not_told_as_one_more(ask):
    """It was not taken."""
    session, said = ask("5.02\ndone\n", level(drift=0.5))
    assert session.points == []
    assert "so far" not in said


def test_a_wait_of_less_than_nothing_waits_not_at_all(ask):
    """And words that are no number are answered; nothing ends the session."""
    session, said = ask("wait -5\nwait a bit\nwait 1G\nundo\nquit\n", level())
    assert ask.slept == [0.0, 60.0]
    assert "a bit" in said
    assert "0 points are left" in said
    assert session.points == []


def test_the_simulated_sender_ends_after_its_levels(ask):
    """Ten of them, up and down."""
    session, said = ask("1\n" * 20, level(), SimulatedSenderBoard(0.5))
    assert len(session.points) == 10
    assert "has gone through all its levels" in said

"""What `stillpedal boards` finds, keeps and checks; each answer names the next command."""

import io
import itertools
import json
import sys
from argparse import Namespace
from types import SimpleNamespace

import numpy as np
import pytest
from in_process import stillpedal
from scripted_board import HELLO, Scripted, counting
from text_lines import encode_text

from bench.acquisition.boards.channels import ChannelOptions
from bench.acquisition.boards.profiles import Profile, keep_profile, known_profiles, profiles_path
from bench.acquisition.boards.serial_board import FoundPort
from bench.command_line.board_memory import keep, recall
from bench.command_line.board_options import show_cautions
from bench.errors import BadCall, BoardTrouble
from bench.services import board_check, boards
from bench.services.board_check import CheckOrder, check


@pytest.fixture(autouse=True)
def own_settings(tmp_path, monkeypatch):
    monkeypatch.setenv("STILLPEDAL_SETTINGS", str(tmp_path / "settings"))


def kept(name="bench", port="/dev/none0", baud=None, form="auto", **said):
    profile = Profile(name, f"port:{port}", port, baud, form, ChannelOptions(**said))
    keep_profile(profile)
    return profile


SIMULATED = FoundPort("simulated", "a simulated pedal")


@pytest.mark.parametrize(("found", "said"), [
    ([], ("no serial port found: plug a board in", "next: stillpedal boards")),
    ([FoundPort("/dev/none0", "a port")], ("next: stillpedal boards --check /dev/none0",)),
    ([FoundPort("/dev/none0", "a port"), FoundPort("/dev/none1", "a port")],
     ("next: stillpedal boards --check PORT",)),
    ([FoundPort("/dev/none0", "a port"), FoundPort("/dev/none1", "USB", usb=True)],
     ("/dev/none1 is probably the converter", "next: stillpedal boards --check /dev/none1")),
    ([FoundPort("/dev/none0", "USB", usb=True), FoundPort("/dev/none1", "USB", usb=True)],
     ("one of /dev/none0, /dev/none1 is probably the converter",
      "next: stillpedal boards --check /dev/none0")),
])
def test_the_ports_found_lead_on(found, said, monkeypatch):
    """The converter is known by its plug, else nobody can say which it is."""
    monkeypatch.setattr(boards, "list_boards", lambda: (SIMULATED, *found))
    done = stillpedal("boards")
    assert done.returncode == 0
    assert done.stdout.splitlines()[0].startswith("simulated")
    lines = done.stderr.splitlines()
    assert lines[0].startswith(said[0])
    assert lines[-1] == said[-1]


def test_the_boards_kept_are_listed():
    """As lines, and as JSON with their file."""
    kept(full_scale=1024.0)
    done = stillpedal("boards", "--known")
    assert done.stdout.startswith("bench  at /dev/none0: ")
    told = json.loads(stillpedal("boards", "--known", "--json").stdout)
    assert [b["name"] for b in told["boards"]] == ["bench"]
    assert told["file"] == str(profiles_path())
    assert stillpedal("boards", "--forget", "bench").stderr == "forgotten: bench\n"
    assert known_profiles() == ()


def test_a_file_of_boards_larger_than_any_is_put_aside():
    """It is told, and nothing of it is believed."""
    kept()
    profiles_path().write_text('{"boards": []}' + " " * 3_000_000)
    done = stillpedal("boards", "--known")
    assert "cannot be understood; it is put aside" in done.stderr
    assert known_profiles() == ()


def called(board, baud=None, form="auto"):
    return Namespace(board=board, baud=baud, format=form)


def test_a_kept_board_is_called_by_its_name(capsys):
    """Its port, speed and format are put in; what is said now stays."""
    profile = kept(baud=57600, form="text", full_scale=1024.0)
    asked = called("bench")
    assert recall(asked) == profile
    assert (asked.board, asked.baud, asked.format) == ("/dev/none0", 57600, "text")
    assert "board bench, as you said before" in capsys.readouterr().err
    asked = called("/dev/none0", 9600, "frames")
    assert recall(asked) == profile
    assert (asked.board, asked.baud, asked.format) == ("/dev/none0", 9600, "frames")
    assert recall(called("/dev/none7")) is None
    assert recall(called("simulated")) is None


def test_what_is_said_of_a_board_is_kept(capsys):
    """Once: said again it is no news. A name that is taken is refused only where it was asked for.
    """
    first = keep("/dev/none0", ChannelOptions(full_scale=1024.0), 9600, "auto", "bench")
    assert first == known_profiles()[0]
    assert "kept for the next time as board bench" in capsys.readouterr().err
    assert keep("/dev/none0", ChannelOptions(full_scale=1024.0), None, "auto") == first
    assert capsys.readouterr().err == ""
    assert keep("/dev/none0", ChannelOptions(), None, "auto") is None
    moved = keep("/dev/none0", ChannelOptions(reference_volts=5.0), None, "text")
    assert (moved.name, moved.baud, moved.format) == ("bench", 9600, "text")
    assert (moved.channels.full_scale, moved.channels.reference_volts) == (1024.0, 5.0)
    with pytest.raises(BadCall, match="another board is called 'bench'"):
        keep("/dev/none1", ChannelOptions(), None, "auto", "bench")


def test_a_board_that_cannot_be_kept_is_told_and_read_all_the_same(capsys, monkeypatch):
    """The readings matter more than the note of them."""
    def full(profile):
        raise BadCall("the disk is full")

    monkeypatch.setattr("bench.command_line.board_memory.keep_profile", full)
    assert keep("/dev/none0", ChannelOptions(full_scale=1024.0), None, "auto") is None
    assert capsys.readouterr().err == "note: the disk is full\n"


class Careful(Scripted):
    needs_care = True


class Terminal(io.StringIO):
    def isatty(self):
        return True


@pytest.mark.parametrize(("typed", "agreed", "goes_on"), [
    ("yes\n", False, True), ("Y\n", False, True), ("no\n", False, False), ("", False, False),
    ("", True, True)])
def test_the_cautions_come_before_a_real_board_is_read(typed, agreed, goes_on, monkeypatch,
                                                       capsys):
    """Whoever does not say yes records nothing."""
    monkeypatch.setattr(sys, "stdin", Terminal(typed))
    if goes_on:
        show_cautions(Careful(), ("mind the lead",), agreed)
    else:
        with pytest.raises(BadCall, match="nothing was recorded; see to the cautions first"):
            show_cautions(Careful(), ("mind the lead",), agreed)
    said = capsys.readouterr().err
    assert "  - mind the lead" in said
    assert ("Type yes" in said) is not agreed


def test_a_simulated_board_needs_no_cautions(capsys):
    """Nor does anybody have to be there to answer."""
    show_cautions(Scripted(), ("mind the lead",), False)
    assert capsys.readouterr().err == ""


def lines(rows=60, hello=HELLO, columns=2):
    counts = 500 + np.arange(rows)[:, None] % 7 + np.arange(columns)
    return encode_text(hello, np.arange(rows) * 1000, counts)


def test_a_column_that_the_board_does_not_send():
    """Those that it sends are named."""
    with pytest.raises(BadCall, match="no input 'c'; the board sends a, b"):
        check(Scripted(lines(), lines(hello=None)), CheckOrder(1.0, {"c": 0.0}))


class Sketch(Scripted):
    """Print counts without a word of what they are, two in a row; after a while three."""

    three_after = 10**9
    ended = False

    def read(self):
        self.opened += 1
        row = b"%d,%d,7\n" if self.opened > self.three_after else b"%d,%d\n"
        return b"".join(row % (500 + k % 7, 600 + k % 5) for k in range(20))


@pytest.fixture
def sketch(monkeypatch):
    """Return such a board, read by a clock on which every reading takes 50 ms."""
    clock = itertools.count()
    monkeypatch.setattr(board_check, "time", SimpleNamespace(
        perf_counter=lambda: 0.05 * next(clock)))
    return Sketch()


def test_volts_cannot_be_compared_without_a_scale(sketch):
    """A count says nothing of volts; with the scale that is said it does."""
    with pytest.raises(BadCall, match="add --full-scale and --reference-volts"):
        check(sketch, CheckOrder(1.0, {"b": 0.0}))
    found = check(sketch, CheckOrder(1.0, {"a": 2.5}, 1024, 5.0))
    assert found.step_volts == pytest.approx(5.0 / 1024)


def test_a_board_that_is_no_longer_the_same_is_checked_again(sketch):
    """It went from two inputs to three."""
    sketch.three_after = 60
    with pytest.raises(BoardTrouble, match="changed its number of channels"):
        check(sketch, CheckOrder(3.0))


@pytest.mark.parametrize(("pieces", "words"), [
    ((b"\xff\x00\xfe" * 20,), "60 bytes from scripted but no valid line or frame"),
    ((b"",), "not a byte from scripted"),
])
def test_a_board_that_cannot_be_read(pieces, words):
    """How much came of it, and what to look at."""
    with pytest.raises(BoardTrouble, match=words):
        check(Scripted(*pieces), CheckOrder(1.0))


def test_a_board_that_stops_before_the_check_begins():
    """Rows before it do not count."""
    with pytest.raises(BoardTrouble, match="sent no readings for 1 s; is it stopped"):
        check(Scripted(lines()), CheckOrder(1.0))


def test_counts_without_a_scale_lead_to_the_scale(sketch, monkeypatch):
    """The next command is the same check with what it lacks."""
    monkeypatch.setattr(boards, "open_named", lambda *_: sketch)
    done = stillpedal("boards", "--check", "/dev/none0", "--seconds", "1")
    assert done.returncode == 0, done.stderr
    assert "next: stillpedal boards --check /dev/none0 --full-scale 1024" in done.stderr


def test_a_board_known_beforehand_has_its_scale(sketch):
    """A replay's channels stand where its lines say nothing."""
    sketch.known = counting(1).channels
    assert check(sketch, CheckOrder(1.0, {"a": 0.6})).step_volts == pytest.approx(5.0 / 4096)

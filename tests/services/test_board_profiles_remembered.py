"""What was said of a board once need not be said again; who says otherwise is believed."""

import json
import multiprocessing
import os
import threading
import time
from contextlib import contextmanager

import pytest

from bench.acquisition.boards.channels import ChannelOptions
from bench.acquisition.boards.profiles import (
    Profile,
    forget_profile,
    keep_profile,
    known_profiles,
    merged,
    profile_of,
    profiles_path,
)
from bench.acquisition.boards.pty_server import can_serve
from bench.command_line import main
from bench.errors import BadCall
from bench.files.recording_file import read_recording

needs_pty = pytest.mark.skipif(not can_serve(), reason="this system has no pseudo terminals")


@pytest.fixture(autouse=True)
def own_settings(tmp_path, monkeypatch):
    monkeypatch.setenv("STILLPEDAL_SETTINGS", str(tmp_path / "settings"))


def profile(name="bench", port="/dev/ttyX0", **said):
    return Profile(name, f"port:{port}", port, None, "auto", ChannelOptions(**said))


def test_a_board_comes_back_as_it_was_kept():
    kept = profile(columns=("a", "b", "supply"), roles={"a": "track"}, full_scale=1024.0,
                   reference_volts=5.0, scale={"supply": 2.0}, supply_volts=5.0)
    keep_profile(kept)
    assert known_profiles() == (kept,)
    assert profile_of("bench", "port:elsewhere") == kept
    assert profile_of("/dev/ttyX0", "port:/dev/ttyX0") == kept
    assert profile_of("/dev/ttyX1", "port:/dev/ttyX1") is None


def test_two_boards_cannot_share_a_name_and_one_can_be_forgotten():
    keep_profile(profile())
    with pytest.raises(BadCall, match="another board is called 'bench'"):
        keep_profile(profile(port="/dev/ttyX1"))
    forget_profile("bench")
    assert known_profiles() == ()
    with pytest.raises(BadCall, match="no board is called 'bench'; known: none"):
        forget_profile("bench")


@pytest.mark.parametrize("damaged", ["", "{", "[]", '{"boards": 3}', '{"boards": [{}]}',
                                     '{"boards": [{"name": 1, "identity": 2, "port": 3, '
                                     '"channels": {"roles": {"a": "nonsense"}}}]}'])
def test_a_damaged_file_of_boards_is_as_none(damaged):
    profiles_path().parent.mkdir(parents=True)
    profiles_path().write_text(damaged)
    assert known_profiles() == ()
    keep_profile(profile())
    assert [p.name for p in known_profiles()] == ["bench"]


def test_a_file_of_boards_that_is_not_understood_is_put_aside_and_said(capsys):
    profiles_path().parent.mkdir(parents=True)
    for text in ('{"schema": 9, "later": []}', "{", '{"boards": [{"name": 1e999}]}'):
        profiles_path().write_text(text)
        assert main(["boards", "--known"]) == 0
        assert "cannot be understood" in capsys.readouterr().err
        keep_profile(profile())
        profiles_path().unlink()
    aside = sorted(profiles_path().parent.glob("boards-not-understood*.json"))
    assert {p.read_text()[:12] for p in aside} == {'{"schema": 9', "{", '{"boards": ['}


@pytest.mark.skipif(os.name != "posix", reason="needs fork")
def test_boards_kept_by_several_programs_at_once_are_all_kept():
    fork = multiprocessing.get_context("fork")
    for turn in range(3):
        gate = fork.Barrier(5)

        def racer(number, gate=gate, turn=turn):
            gate.wait()
            keep_profile(profile(f"b{turn}-{number}", f"/dev/x{turn}-{number}"))

        racers = [fork.Process(target=racer, args=(k,)) for k in range(5)]
        for each in racers:
            each.start()
        for each in racers:
            each.join()
        assert len(known_profiles()) == 5 * (turn + 1)


def test_what_is_said_now_goes_before_what_is_kept():
    kept = ChannelOptions(("a", "b"), {"a": "track"}, 1024.0, 5.0, {"a": 2.0}, {}, 5.0)
    now = merged(ChannelOptions(full_scale=4096.0, scale={"b": 3.0}), kept)
    assert (now.full_scale, now.reference_volts) == (4096.0, 5.0)
    assert now.scale == {"a": 2.0, "b": 3.0}
    # Other names are other inputs: what was said of the old ones is not theirs.
    assert merged(ChannelOptions(columns=("x", "y")), kept).scale == {}


@contextmanager
def plain_board():
    """A board that prints plain numbers and says nothing of itself, 400 lines a second."""
    import tty

    ours, theirs = os.openpty()
    tty.setraw(theirs)
    over = threading.Event()

    def talk():
        begun, said = time.monotonic(), 0
        while not over.wait(0.002):
            # By the clock: on a busy machine a wait takes longer than asked.
            while said < 400 * (time.monotonic() - begun):
                os.write(ours, b"%d,%d\n" % (100 + said % 3, 200 + said % 2))
                said += 1

    thread = threading.Thread(target=talk, daemon=True)
    thread.start()
    try:
        yield os.ttyname(theirs)
    finally:
        over.set()
        thread.join()
        os.close(ours)
        os.close(theirs)


@needs_pty
def test_the_scale_is_said_once_and_found_again_by_the_sweep(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    with plain_board() as port:
        assert main(["boards", "--check", port, "--seconds", "1.5", "--full-scale", "1024",
                     "--reference-volts", "5", "--name", "mine"]) == 0
        said = capsys.readouterr().err
        assert "kept for the next time as board mine: full scale 1024; reference 5 V" in said
        assert "next: stillpedal sweep --board mine --out before.csv" in said
        assert main(["boards", "--known", "--json"]) == 0
        assert json.loads(capsys.readouterr().out)["boards"][0]["name"] == "mine"
        out = tmp_path / "log.csv"
        main(["watch", "--board", "mine", "--out", str(out), "--yes", "--minutes", "0.02"])
        said = capsys.readouterr().err
        assert "board mine, as you said before: full scale 1024; reference 5 V" in said
        assert read_recording(out).channel("a").full_scale == 1024.0
    assert main(["boards", "--forget", "mine"]) == 0

"""Values entered for a track that is not there are refused, before anything is logged or judged."""


import pytest
from places import ROOT

from analysis.simulation.car import Car, CarTrack, drive
from bench.acquisition.key_on_logger import HOW
from bench.command_line import main
from bench.files.recording_file import write_recording
from bench.services.key_on import open_key_on
from bench.wording.key_on_sentences import log_sentences

QUIET = ROOT / "sample_sweeps" / "synthetic_key_on_quiet_car.csv"


@pytest.mark.parametrize(("text", "reason"), [
    ("B.start_of_travel=0.70", "--entered B.start_of_travel: no track 'B'; the tracks are a, b"),
    ("supply.rest=0.7", "--entered supply.rest: no track 'supply'; the tracks are a, b"),
    ("a.start=0.7", "one of rest, start_of_travel, release, full_travel"),
])
@pytest.mark.parametrize("board", [True, False])
def test_what_is_not_there_is_refused_with_what_is(text, reason, board, tmp_path, capsys):
    """The sample has the tracks a and b (sample_sweeps/KEY_ON.md), so has the simulated car."""
    log = tmp_path / "log.csv"
    where = (["--board", "simulated", "--fast", "--cycles", "1", "--out", str(log)] if board
             else ["--from", str(QUIET)])
    assert main(["watch", *where, "--set", "a.rest=0.7", "--set", text]) == 2
    told = capsys.readouterr()
    assert reason in told.err.splitlines()[-1]
    assert told.out == ""
    assert not log.exists()


def test_the_key_ons_asked_for_are_enough_for_the_proof(tmp_path):
    """Three times what the line on the screen asks for never ends in "log at least 60 s"."""
    assert "on for 25 s, off for 10 s, at least three times" in HOW
    log = drive(Car(cycles=3, on_s=25.0, off_s=10.0, rate_hz=200.0,
                    tracks=(CarTrack("a", 0.7, 4.2),)))[0]
    write_recording(tmp_path / "log.csv", log)
    found = open_key_on(tmp_path / "log.csv")
    assert found.proofs["a"].reach_volts > 0
    assert not any("at least 60 s" in s for s in log_sentences(found))

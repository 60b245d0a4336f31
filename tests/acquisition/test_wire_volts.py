"""Boards that print volts, as many sketches do (common practice, no source), are read as such."""

import numpy as np
import pytest
from scripted_board import Ears, Scripted, run
from wire_streams import decode

from analysis.pedal.findings import analyse
from analysis.simulation import Motion, pedal_named, simulate_sweep
from bench.acquisition.boards.channels import ChannelOptions
from bench.errors import BadCall, BoardTrouble
from bench.files.recording_file import read_recording
from bench.services.board_check import CheckOrder, check
from bench.services.record import Order, record

HEAD = b"# columns=a,b,supply time=ms rate_hz=200\n"


def lines_of(volts, time_ms=None):
    """Print rows of volts with three decimals, as a sketch does."""
    for k, row in enumerate(volts):
        clock = b"" if time_ms is None else b"%d," % time_ms[k]
        yield clock + b",".join(b"%.3f" % v for v in row) + b"\r\n"


@pytest.fixture(scope="module")
def swept():
    """A healthy pedal on a 10-bit board of 5 V, and its lines."""
    made = simulate_sweep(pedal_named("healthy"), 200.0, 10, motion=Motion(cycles=8, quick=4),
                          seed=7)
    volts = np.stack([c.readings * 5.0 / 1024.0 for c in made.recording.channels], axis=1)
    ticks = np.rint(1000.0 * made.recording.time_s).astype(int)
    return made, volts, HEAD + b"".join(lines_of(volts, ticks))


@pytest.mark.parametrize("piece", [1, 7, 64, 4096])
def test_lines_of_volts_are_the_volts_that_were_printed(piece):
    volts = np.linspace(-0.003, 4.9, 80)[:, None] + [0.0, 0.05]
    # Without a head the first line is thrown away, and one more waits for a second like it.
    decoder, batch = decode(b"".join(lines_of(volts)), piece)
    assert decoder.hello is not None
    assert decoder.hello.volts
    assert batch.rows == 79
    np.testing.assert_allclose(batch.readings, np.round(volts[1:], 3), atol=1e-12)
    assert batch.lost_before.sum() == 0


def test_a_board_that_says_counts_keeps_to_counts():
    decoder, batch = decode(b"# full_scale=1024 reference_volts=5.0 columns=a,b\n"
                            + b"512,300\n" * 5 + b"0.512,0.300\n" * 5 + b"512,300\n" * 5, 64)
    assert batch.rows == 10
    assert batch.readings.dtype == np.int64
    assert decoder.bad == 5


def test_whole_numbers_among_volts_are_volts():
    _, batch = decode(b"0.9,0.8\n" * 3 + b"1,0.8\n" * 3, 5)
    assert batch.readings[-1].tolist() == [1.0, 0.8]


def test_a_sweep_in_volts_gives_the_levels_of_the_pedal(swept, tmp_path):
    made, volts, data = swept
    pieces = [data[k:k + 2000] for k in range(0, len(data), 2000)]
    # The simulated supply comes through a divider of its own.
    scale = made.recording.channel("supply").scale
    order = Order(path=tmp_path / "v.csv", channels=ChannelOptions(scale={"supply": scale}))
    record(Scripted(*pieces), order, ())
    recording = read_recording(tmp_path / "v.csv")
    assert recording.rows == len(volts)
    assert {c.unit for c in recording.channels} == {"V"}
    np.testing.assert_allclose(recording.channel("a").readings, np.round(volts[:, 0], 3))
    assert recording.channel("a").step_volts == pytest.approx(5.0 / 1024.0, rel=0.01)
    found = analyse(recording)
    for name, truth in made.truth.tracks.items():
        track = found.tracks[name]
        assert track.rest.value == pytest.approx(truth.rest_volts, abs=2 * track.rest.uncertainty)
        assert track.full.value == pytest.approx(truth.full_volts, abs=2 * track.full.uncertainty)


def test_a_stated_full_scale_of_volts_is_refused_in_one_line():
    with pytest.raises(BadCall, match=r"prints volts.*--full-scale 1024"):
        run(Scripted(*[b"0.751,0.908\n" * 20] * 40), Ears(),
            options=ChannelOptions(full_scale=1024.0, reference_volts=5.0))


def test_a_clock_before_volts_is_asked_about(monkeypatch):
    monkeypatch.setattr("bench.acquisition.recorder.HELLO_S", 0.1)
    data = b"".join(lines_of(np.full((600, 2), 0.75), range(5000, 8000, 5)))
    pieces = [x for k in range(0, len(data), 500) for x in (data[k:k + 500], 0.02)]
    with pytest.raises(BoardTrouble, match=r"column a only rises, 5 each row.*--clock ms"):
        run(Scripted(*pieces), Ears())


def test_a_check_of_a_board_in_volts_speaks_in_steps(swept):
    _, volts, _ = swept
    rest = np.tile(volts[:300], (40, 1))
    data = HEAD + b"".join(lines_of(rest, range(0, 5 * len(rest), 5)))
    # It waits 2.5 s for a board to say its scale; the board goes on meanwhile.
    pieces = [x for k in range(0, len(data), 500) for x in (data[k:k + 500], 0.01)]
    found = check(Scripted(*pieces), CheckOrder(1.0, reference_volts=5.0))
    assert found.lost_samples == 0
    assert found.step_volts == pytest.approx(5.0 / 1024.0, rel=0.3)
    assert np.isfinite(found.resolution_volts)

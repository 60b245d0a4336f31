"""Counts below 0 and of 24 bits, from the wire to the findings.

Two's complement as every converter of 24 bits sends it (common practice, no source); the volts are
those that were put in.
"""

from dataclasses import replace

import numpy as np
import pytest

from analysis.model.recording import Channel, Recording
from analysis.pedal.findings import analyse
from analysis.simulation import pedal_named, simulate_sweep
from bench.acquisition.boards.streamed import StreamedBoard
from bench.acquisition.wire.decoder import Decoder
from bench.acquisition.wire.encode import encode_frames, encode_hello
from bench.acquisition.wire.layout import DATA_HEAD, frame_length, kind_of
from bench.acquisition.wire.samples import Hello
from bench.acquisition.wire.widths import WIDTHS
from bench.errors import BadCall
from bench.files.recording_file import read_recording
from bench.files.recording_writer import write_recording

LOW = -(1 << 23)
HELLO = Hello("both ways", ("a", "b"), 1 << 23, 2.5, 100.0, usable_low=LOW,
              usable_high=(1 << 23) - 1)
ROWS = np.array([[LOW, -1], [-123456, 8388607], [0, 1], [-5, -8388607]])


def read_frames(rows, size, hello=HELLO):
    """Return what is read of rows sent as two's complement of so many bytes."""
    sent = np.asarray(rows) & ((1 << (8 * size)) - 1)
    decoder = Decoder("frames")
    batches = [decoder.feed(encode_hello(hello) + encode_frames(
        0, 10_000 * np.arange(len(sent)), sent))]
    return np.concatenate([b.readings for b in batches if b.rows])


@pytest.mark.parametrize("width", WIDTHS, ids=lambda w: f"{8 * w.size} bits")
@pytest.mark.parametrize("signed", [False, True])
def test_every_width_carries_its_ends(width, signed):
    """The bytes are those of the standard library's own `int.to_bytes`."""
    low, high = width.limits(signed)
    rows = np.array([[low, high], [high, low], [0, high // 3]])
    body = b"".join(b"".join(int(v).to_bytes(width.size, "little", signed=signed) for v in row)
                    for row in rows)
    data = encode_frames(0, 10_000 * np.arange(3), rows, signed)
    length = frame_length(kind_of(2, width))
    assert b"".join(data[k * length + DATA_HEAD:(k + 1) * length - 2] for k in range(3)) == body
    hello = replace(HELLO, usable_low=-1 if signed else None, usable_high=None)
    assert Decoder("frames").feed(
        encode_hello(hello) + data).readings.tolist() == rows.tolist()


def test_readings_that_no_width_holds_are_refused_with_the_range():
    low, high = WIDTHS[-1].limits(signed=True)
    with pytest.raises(BadCall, match=f"readings from {low - 1} to 0; use {low} to {high}"):
        encode_frames(0, [0], [[0, low - 1]], signed=True)


def test_frames_of_three_bytes_carry_a_sign():
    assert read_frames(ROWS, 3).tolist() == ROWS.tolist()


def test_frames_of_two_bytes_carry_a_sign():
    rows = np.array([[-32768, -1], [32767, -300]])
    assert read_frames(rows, 2).tolist() == rows.tolist()


def test_a_board_that_states_no_low_end_reads_from_0_on():
    """The same bytes are then large counts, as ever."""
    plain = replace(HELLO, usable_low=None, usable_high=None)
    assert read_frames(ROWS, 3, plain).tolist() == (ROWS & 0xFFFFFF).tolist()


def test_lines_of_text_carry_a_minus_where_the_board_says_so():
    hello = (b"# full_scale=8388608 reference_volts=2.5 rate_hz=100 usable_low=-8388608 "
             b"columns=a,b\n")
    lines = b"".join(b"%d,%d\n" % tuple(row) for row in ROWS.tolist() * 5)
    decoder = Decoder("text")
    read = [b.readings for b in (decoder.feed(hello + lines), decoder.feed(b"")) if b.rows]
    assert np.concatenate(read).tolist() == ROWS.tolist() * 5


def test_a_minus_that_nobody_announced_is_thrown_away_with_the_reason():
    decoder = Decoder("text")
    batch = decoder.feed(b"# full_scale=1024 reference_volts=5 rate_hz=100 columns=a,b\n"
                         + b"5,6\n" * 20 + b"-5,6\n" + b"5,6\n" * 20)
    assert batch.rows == 40
    assert any("'-5' is not a whole number from 0 on" in p for p in batch.problems)


def test_a_bipolar_converter_shows_the_same_pedal(tmp_path):
    """24 bits about mid supply, through a file: the same levels, nothing cut off at 0 counts."""
    made = simulate_sweep(pedal_named("healthy"), 200.0, 12, seed=3).recording
    rng = np.random.default_rng(0)

    def both_ways(channel):
        volts = channel.volts() + rng.normal(0.0, 2e-4, channel.readings.size)
        return replace(channel, readings=np.round((volts - 2.5) / 3.0 * 2**23), full_scale=2**23,
                       reference_volts=3.0, scale=1.0, offset_volts=2.5)

    path = write_recording(tmp_path / "signed.csv", replace(
        made, channels=tuple(map(both_ways, made.channels))))
    signed, plain = analyse(read_recording(path)), analyse(made)
    assert signed.recording.channel("a").readings.min() < 0
    assert signed.state == plain.state == "sound"
    for name, track in plain.tracks.items():
        assert signed.tracks[name].rest.value == pytest.approx(track.rest.value, abs=1e-3)
        assert signed.tracks[name].step_volts == pytest.approx(3.0 / 2**23, rel=0.05)
        assert not signed.tracks[name].clipped


def test_a_recording_below_zero_is_replayed_as_it_was():
    """A row with 40000 beside one below 0 is not taken for two's complement of two bytes."""
    readings = (np.array([-5.0, 40000.0, LOW, 7.0] * 20), np.arange(80.0))
    made = Recording(0.01 * np.arange(80), tuple(
        Channel(name, "track", values, "counts", 2.0**23, 2.5)
        for name, values in zip("ab", readings, strict=True)), rate_hz=100.0)
    board, decoder, rows = StreamedBoard("replay", made, None), Decoder(), []
    board.open()
    while not board.ended:
        rows.append(decoder.feed(board.read()).readings)
    assert np.concatenate([r for r in rows if r.size]).tolist() == np.stack(readings, 1).tolist()

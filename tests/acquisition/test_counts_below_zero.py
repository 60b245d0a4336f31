"""Counts below 0 and of 24 bits, from the wire to the findings.

Two's complement as every converter of 24 bits sends it (common practice, no source); the volts are
those that were put in.
"""

from dataclasses import replace

import numpy as np
import pytest

from analysis.pedal.findings import analyse
from analysis.simulation import pedal_named, simulate_sweep
from bench.acquisition.wire.decoder import Decoder
from bench.acquisition.wire.encode import encode_frames, encode_hello
from bench.acquisition.wire.samples import Hello
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

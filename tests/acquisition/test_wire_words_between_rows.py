"""Words between the rows, accents, and columns that are no reading."""

import struct

import numpy as np
import pytest
from scripted_board import Ears, Scripted
from stress import words_between_rows
from stress.stress_common import Report

from bench.acquisition.boards.channels import ChannelOptions
from bench.acquisition.recorder import Recorder
from bench.acquisition.wire import Decoder, encode_frames
from bench.acquisition.wire.crc import crc16
from bench.acquisition.wire.hello_text import parse_hello
from bench.acquisition.wire.layout import HELLO, SYNC
from bench.errors import BoardTrouble
from bench.services.record import Order

TOLD = ChannelOptions(full_scale=1024.0, reference_volts=5.0)


def test_words_and_comments_cost_no_sample_and_lost_rows_are_all_told():
    report = Report()
    words_between_rows.measure(True, report)
    assert not report.broken


@pytest.mark.parametrize("coding", ["utf-8", "latin-1"])
def test_a_hello_with_an_accent_is_taken(coding):
    decoder = Decoder("text")
    decoder.feed('# name="pédale gauche" full_scale=1024 columns=a,b\n1,2\n'.encode(coding))
    assert decoder.hello.name == "pédale gauche"
    assert decoder.hello.full_scale == 1024
    assert decoder.bad == 0


@pytest.mark.parametrize("piece", [1, 8, 100, 5000])
def test_a_comment_without_end_right_behind_the_hello_does_not_cost_the_hello(piece):
    comment = b"# " + b"long " * 900 + b"\n"
    data = b"# full_scale=1024 columns=a,b,supply\n" + comment + b"1,2,3\n" * 30 + comment
    decoder, rows = Decoder(), 0
    for at in range(0, len(data), piece):
        rows += decoder.feed(data[at:at + piece]).rows
        while decoder.pending:
            rows += decoder.feed(b"").rows
    rows += decoder.finish().rows
    assert decoder.hello.full_scale == 1024
    assert decoder.hello.columns == ("a", "b", "supply")
    assert rows == 30


def test_a_column_with_an_accent_is_named_as_the_cause():
    batch = Decoder("text").feed("# full_scale=1024 columns=pédale,b\n1,2\n1,2\n".encode())
    assert "column name 'pédale' cannot be used; take letters" in batch.problems[0]
    assert not batch.lost_before.any()


def test_a_hello_frame_with_an_accent_is_taken():
    """The layout is that of docs/wire.md: lengths and kinds stand once plain, once inverted."""
    text = 'name="pédale" full_scale=1024 columns=a,b'.encode()
    body = bytes([SYNC, HELLO, HELLO ^ 0xFF])
    body += struct.pack("<HH", len(text), len(text) ^ 0xFFFF) + text
    decoder = Decoder("frames")
    decoder.feed(body + struct.pack(">H", crc16(body)) + encode_frames(0, [1], [[5, 6]]))
    assert decoder.hello.name == "pédale"


@pytest.mark.parametrize("head", [
    b"# columns=t_ms,a,b full_scale=1024 reference_volts=5\n", b"x\nt_ms,a,b\n", b"t_ms,a,b\n",
    b"# columns=t_ms,a,b time=ms roles=other,track,track full_scale=1024\n"])
def test_a_first_column_named_as_a_clock_is_the_clock(head):
    decoder = Decoder("text")
    batch = decoder.feed(head + b"".join(b"%d,500,400\n" % (5 * k) for k in range(50)))
    while decoder.pending:
        batch = decoder.feed(b"")
    assert decoder.has_clock
    assert decoder.hello.columns == ("a", "b")
    assert batch.readings.shape[1] == 2
    assert np.allclose(np.diff(batch.time_s), 5e-3)


def test_roles_of_a_named_clock_go_with_it():
    assert parse_hello("columns=us,a,b roles=other,track,track").hello.roles == ("track", "track")


def clocked(start=45_000, rows=200):
    return b"".join(b"%d,%d,%d\n" % (start + 5 * k, 500 + k % 3, 250 + k % 2)
                    for k in range(rows))


def listen(data, options=TOLD, order=None, pieces=40):
    ears = Ears()
    size = max(1, len(data) // pieces)
    board = Scripted(*(data[i:i + size] for i in range(0, len(data), size)), 0.01)
    decoder = (order or Order(format="text", channels=options)).decoder()
    recorder = Recorder(board, [ears], options, decoder)
    recorder.start()
    recorder.join()
    return ears


def test_a_column_that_only_rises_is_asked_about_and_not_recorded():
    """A clock that nobody announced, below the full scale for a second yet."""
    with pytest.raises(BoardTrouble, match=r"column a only rises, 5 each row, from .*--clock ms"):
        listen(clocked(start=100, rows=80))


@pytest.mark.parametrize("hello", [b"", b"# full_scale=1024 reference_volts=5.0\n"])
def test_readings_beyond_full_scale_are_refused_at_once_by_option_and_by_hello(hello):
    """45 s on a clock in ms would be 220 V on a 10-bit board of 5 V."""
    options = TOLD if not hello else ChannelOptions()
    with pytest.raises(BoardTrouble, match=r"reads 4\d\d\d\d, and its full scale is 1024"):
        listen(b"1,2\n" + hello + clocked(), options)


def test_a_clock_said_by_option_is_the_clock():
    order = Order(format="text", channels=TOLD, clock="ms")
    ears = listen(clocked(), TOLD, order)
    assert [c.column for c in ears.source.channels] == ["a", "b"]
    times = np.concatenate([b.time_s for b in ears.batches])
    assert np.allclose(np.diff(times), 5e-3)


def test_a_clock_among_the_named_columns_may_be_said_by_option():
    head = b"# full_scale=1024 reference_volts=5.0 columns=x,a,b\n"
    ears = listen(head + clocked(), TOLD, Order(format="text", channels=TOLD, clock="ms"))
    assert [c.column for c in ears.source.channels] == ["a", "b"]


def test_a_reading_that_really_rises_can_be_recorded():
    rising = b"".join(b"%d,250\n" % (3 * k) for k in range(200))
    ears = listen(rising, TOLD, Order(format="text", channels=TOLD, clock="none"))
    assert sum(b.readings.shape[0] for b in ears.batches) == 199


def test_one_reading_beyond_full_scale_costs_its_line_and_no_more():
    data = bytearray(b"# full_scale=1024 reference_volts=5.0 columns=a,b\n" + b"500,250\n" * 100)
    at = data.rindex(b"500,", 0, 600)
    data[at:at + 3] = b"900"
    data[at:at + 3] = b"999"
    data[at + 3:at + 3] = b"9"
    ears = listen(bytes(data), ChannelOptions())
    assert sum(b.readings.shape[0] for b in ears.batches) == 99

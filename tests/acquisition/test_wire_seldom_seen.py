"""Lines and frames that a sound board seldom sends: each is taken whole or refused in words."""

from dataclasses import replace

import numpy as np
import pytest
from wire_streams import HELLO, ramp

from bench.acquisition.wire import Decoder, encode_frames, encode_hello
from bench.acquisition.wire.search import take_rows

HEAD = b"# full_scale=1024 reference_volts=5.0 rate_hz=200 time=us columns=a,b\n"


def lines(count, text="{t},512,300\n", step=5000):
    return "".join(text.format(t=step * k, k=k) for k in range(count)).encode()


def fed(*pieces):
    decoder, problems, rows = Decoder(), [], 0
    for piece in pieces:
        batch = decoder.feed(piece)
        while True:
            problems += batch.problems
            rows += batch.rows
            if not decoder.pending:
                break
            batch = decoder.feed(b"")
    return decoder, problems, rows


def test_a_time_beyond_any_clock_is_refused_with_the_time():
    """Beyond 2^53 a double holds no whole number exactly (IEEE 754), and that is 285 years."""
    decoder, problems, _ = fed(HEAD + lines(20), b"99999999999999999,512,300\n", lines(3))
    assert decoder.bad == 1
    assert any("99999999999999999" in p for p in problems)


@pytest.mark.parametrize("odd", [
    b"100000,512,,300\n", b"100000,512\r,300\n", b"100000,512,300,7\n"])
def test_one_odd_line_in_a_block_costs_no_other(odd):
    """A block of clean lines is read at once; one odd line sends all of it the slow way."""
    decoder, _, rows = fed(HEAD + lines(20), lines(200) + odd + lines(200))
    assert decoder.format == "text"
    assert (decoder.good, decoder.bad, rows) == (420, 1, 420)


def test_a_lone_line_counts_when_nothing_more_comes():
    """One line is held until a second agrees; the end is an end, and nothing sent is lost."""
    decoder = Decoder("text")
    decoder.feed(b"\n5,7\n")
    before = decoder.good
    rows = decoder.finish().rows
    while decoder.pending:
        rows += decoder.finish().rows
    assert (before, decoder.good, rows) == (0, 1, 1)
    assert decoder.hello.columns == ("a", "b")


def test_a_line_of_a_time_alone_has_no_reading():
    """The user said that each line begins with the clock."""
    decoder = Decoder("text", clock="us")
    decoder.feed(b"\n" + b"".join(b"%d\n" % (5000 * k) for k in range(30)))
    assert decoder.good == 0
    assert decoder.bad > 0


def test_no_frame_found_is_no_row():
    """Of the width asked for all the same."""
    assert take_rows(np.zeros(8, np.uint8), np.array([], int), 4).shape == (0, 4)


def test_a_hello_without_columns_is_given_as_many_as_the_frames_have():
    """In frames and in text: a, b and so on."""
    bare = encode_hello(replace(HELLO, columns=()))
    decoder, _, rows = fed(encode_frames(0, np.arange(20) * 2000, ramp(20, 3)) + bare,
                           encode_frames(20, np.arange(20, 40) * 2000, ramp(20, 3)))
    assert rows == 40
    assert decoder.hello.columns == ("a", "b", "c")
    decoder, _, rows = fed(b"# full_scale=1024 reference_volts=5.0 rate_hz=200\n" + b"5,7,9\n" * 40)
    assert decoder.hello.columns == ("a", "b", "c")


def test_what_is_not_found_out_yet_has_no_format():
    """Nothing was sent."""
    decoder = Decoder()
    decoder.let_go()
    assert decoder.format is None
    assert decoder.hello is None
    assert decoder.has_clock
    assert decoder.beyond_scale == (0, "")

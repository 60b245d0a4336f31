"""Text lines: torn, odd, hostile, rolled over, in pieces; and the finding out of the format."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from text_lines import encode_text
from wire_streams import HELLO, decode, ramp

from bench.acquisition.wire import Decoder, Hello, encode_frames, encode_hello
from bench.acquisition.wire.text import LONGEST_LINE

HEAD = b"# full_scale=1024 reference_volts=5.0 rate_hz=200 time=us columns=a,b,supply\n"


@pytest.mark.parametrize("piece", [1, 2, 5, 37, 100_000])
@pytest.mark.parametrize("timed", [True, False])
def test_every_line_arrives_in_pieces_of_any_size(piece, timed):
    ticks = np.arange(300) * 2000 if timed else None
    readings = ramp(300, 3)
    decoder, batch = decode(encode_text(HELLO, ticks, readings), piece)
    assert decoder.format == "text"
    assert batch.hello == HELLO
    assert np.array_equal(batch.readings, readings)
    assert np.allclose(batch.time_s, np.arange(300) / 500)
    assert not batch.lost_before.any()
    assert not batch.problems


def test_large_clean_pieces_and_single_lines_give_the_same():
    readings = np.random.default_rng(0).integers(0, 1025, (20_000, 3))
    data = encode_text(HELLO, np.arange(20_000) * 2000, readings)
    _, whole = decode(data, len(data))
    _, pieces = decode(data, 1000)
    assert np.array_equal(whole.readings, readings)
    assert np.array_equal(whole.readings, pieces.readings)
    assert np.allclose(whole.time_s, pieces.time_s)
    _, windows = decode(data.replace(b"\n", b"\r\n"), len(data))
    assert np.array_equal(windows.readings, readings)


@pytest.mark.parametrize("separator", [b",", b"\t", b" ", b", ", b" ,\t"])
def test_the_line_of_the_docs_is_read_with_any_separator(separator):
    lines = b"".join(separator.join([b"%d" % (i * 5000), b"512", b"300", b"1001"]) + b"\n"
                     for i in range(40))
    decoder, batch = decode(HEAD + lines, 64)
    assert decoder.hello == Hello("", ("a", "b", "supply"), 1024, 5.0, 200.0)
    assert batch.readings.tolist() == [[512, 300, 1001]] * 40
    assert np.allclose(batch.time_s, np.arange(40) * 5e-3)


def test_milliseconds_and_names_in_the_line():
    lines = "".join(f"ms:{1000 + 20 * i} a:{i} b:{2 * i}\n" for i in range(30))
    decoder, batch = decode(b"7 b:3\n" + lines.encode(), 50)
    assert decoder.hello is not None
    assert decoder.hello.columns == ("a", "b")
    assert batch.readings.tolist() == [[i, 2 * i] for i in range(30)]
    assert np.allclose(batch.time_s, np.arange(30) * 0.02)


@pytest.mark.parametrize("form", [
    "A0={} A1={}", "A0:{} A1:{}", "A0={},A1={}", "A0 = {}, A1 = {}", "A0: {}\tA1: {}"])
def test_named_readings_are_read_as_beginners_print_them(form):
    lines = "".join(form.format(i, 900 - i) + "\n" for i in range(40))
    for piece in (7, 10_000):
        decoder, batch = decode(b"3 A1=4\n" + lines.encode(), piece)
        assert decoder.format == "text"
        assert decoder.hello is not None
        assert decoder.hello.columns == ("A0", "A1")
        assert batch.readings.tolist() == [[i, 900 - i] for i in range(40)]
        assert not batch.problems


def test_a_sketch_that_says_nothing_is_still_read_and_names_are_made_up():
    lines = b"".join(b"%d\t%d\n" % (i, 500 - i) for i in range(40))
    decoder, batch = decode(b"8\t99\n" + lines, 9)
    assert decoder.hello == Hello("", ("a", "b"), None, None, None)
    assert batch.readings.tolist() == [[i, 500 - i] for i in range(40)]
    assert np.all(np.isnan(batch.time_s))


def test_the_first_line_may_be_torn_so_it_is_not_a_reading():
    data = HEAD + b"".join(b"%d,500,300,1001\n" % (i * 5000) for i in range(60))
    for start in range(len(HEAD), len(HEAD) + 40):
        decoder, batch = decode(data[start:], 31)
        assert decoder.bad == 0
        assert batch.readings[-1].tolist()[-3:] == [500, 300, 1001]
        assert {tuple(r[-3:]) for r in batch.readings.tolist()} == {(500, 300, 1001)}


@pytest.mark.parametrize(("line", "reason"), [
    (b"nan,1,2,3", "'nan' is not a whole number"), (b"1,inf,2,3", "'inf' is not a whole number"),
    (b"1,-2,3,4", "'-2' is not a whole number"), (b"1,2.5,3,4", "'2.5' is not a whole number"),
    (b"1,2,3", "has 3 numbers, 4 are expected"), (b"1,2,3,4,5", "has 5 numbers"),
    (b"1,,3,4", "'' is not a whole number"), (b"1,99999,3,4", "the largest possible is 1024"),
    (b"1,2,3,99999999999999999999", "is too large"), (b"1,2\xff,3,4", "bytes that are no text"),
    ("1,٣,3,4".encode(), "bytes that are no text"), (b"ERROR", "'ERROR' is not a whole number"),
    (b"1,2,3,4" * 200, "is longer than any line"), (b"# columns=a,a", "is a hello we cannot use"),
    (b"1e3,2,3,4", "'1e3' is not a whole number"), (b"0x10,2,3,4", "'0x10'"),
    (b"1_0,2,3,4", "'1_0'"), (b"a:1,2,3,4", "names only some"),
    (b"a=1,2,3,4", "names only some"), (b"a=1 b=2 c=3 a=4", "or two alike"),
    (b"us=1 b=2 a=3 supply=4", "in another order than the board's columns"),
    (b"1=2,3,4,5", "names only some"), (b"a=1=2,3,4", "names only some"),
])
@pytest.mark.parametrize("piece", [1, 10_000])
def test_a_bad_line_is_refused_alone_and_named(line, reason, piece):
    good = b"%d,500,300,1001\n"
    data = (HEAD + good % 0 + good % 5000 + line + b"\n"
            + b"".join(good % (5000 * i) for i in range(3, 20)))
    decoder, batch = decode(data, piece)
    assert batch.readings.tolist() == [[500, 300, 1001]] * 19
    assert decoder.bad == 1
    assert len(batch.problems) == 1
    assert batch.problems[0].startswith("line 4 ")
    assert reason in batch.problems[0]
    assert batch.lost_before.sum() == 1
    assert batch.lost_before[2] == 1
    assert batch.time_s[2] == pytest.approx(0.015)


def test_one_bad_line_in_a_large_piece_costs_one_line():
    readings = ramp(30_000, 3)
    lines = encode_text(HELLO, np.arange(30_000) * 2000, readings).split(b"\n")
    lines[20_001] = b"40000000,x,1,2"
    _, batch = decode(b"\n".join(lines), 1 << 22)
    assert np.array_equal(batch.readings, np.delete(readings, 20_000, axis=0))
    assert batch.problems == ("line 20002 'x' is not a whole number; thrown away",)
    assert batch.lost_before[20_000] == 1


def test_a_change_of_field_count_is_believed_when_it_stays():
    data = b"0 0\n" + b"1 2\n" * 40 + b"9 9 9\n" + b"1 2\n" * 3 + b"4 5 6\n" * 10
    decoder = Decoder("text")
    first = decoder.feed(data)
    second = decoder.feed(b"")
    assert first.readings.tolist() == [[1, 2]] * 43
    assert first.lost_before.sum() == 1
    assert "line 42 has 3 numbers, unlike its neighbours" in first.problems[0]
    assert second.readings.tolist() == [[4, 5, 6]] * 10
    assert second.hello is not None
    assert second.hello.columns == ("a", "b", "c")


@pytest.mark.parametrize(("unit", "tick_us"), [("us", 1), ("ms", 1000)])
def test_the_clock_of_a_sketch_rolls_over_without_a_step(unit, tick_us):
    lines = "".join(f"{((1 << 32) - 50 + i * 10) % (1 << 32)},5\n" for i in range(20))
    _, batch = decode(f"# time={unit} columns=a\n{lines}".encode(), 33)
    assert np.allclose(np.diff(batch.time_s), 10e-6 * tick_us)


@pytest.mark.parametrize("minutes", [0.1, 30, 37, 50, 71])
def test_a_sketch_that_restarts_does_not_run_backwards(minutes):
    # its 32-bit clock of microseconds rolls over after 71.6 minutes
    begun = round(minutes * 60e6)
    first = "".join(f"{begun + i * 5000},1,2,3\n" for i in range(20))
    again = "".join(f"{100 + i * 5000},1,2,3\n" for i in range(20))
    _, batch = decode(HEAD + (first + again).encode(), 40)
    assert batch.restarts == (20,)
    assert not batch.lost_before.any()
    assert np.allclose(np.diff(batch.time_s), 5e-3)


@pytest.mark.parametrize("lost", [0, 1, 300, 1900])
def test_rows_lost_over_the_roll_over_are_counted(lost):
    ticks = (1 << 32) - 100_000 + 5000 * np.arange(60)
    ticks[30:] += 5000 * lost
    lines = "".join(f"{t % (1 << 32)},1,2,3\n" for t in ticks.tolist())
    _, batch = decode(HEAD + lines.encode(), 10_000)
    assert batch.restarts == ()
    assert batch.lost_before.sum() == lost
    assert np.allclose(batch.time_s, (ticks - ticks[0]) * 1e-6)


@pytest.mark.parametrize("piece", [1, 29, 1000, 10_000])
@pytest.mark.parametrize("sent", [0, 3, 8])
def test_rows_that_come_late_in_a_burst_are_not_lost(sent, piece):
    # held up for 40 ms at 200 rows a second: 7 rows are due, of which `sent` follow in a burst
    before = [5000 * k for k in range(100)]
    held = before[-1] + 40_000
    ticks = [*before, held, *(held + 25 * k for k in range(1, min(sent, 7) + 1))]
    ticks += [held + 5000 * k for k in range(1, 50)]
    lines = "".join(f"{t},1,2,3\n" for t in ticks)
    _, batch = decode(HEAD + lines.encode(), piece)
    assert batch.rows == len(ticks)
    assert batch.lost_before.sum() == batch.lost_before[100] == 7 - min(sent, 7)
    assert np.allclose(batch.time_s, np.array(ticks) * 1e-6)


def test_a_burst_alone_says_nothing_of_the_rate():
    ticks = [5000 * k for k in range(100)] + [500_000 + 25 * k for k in range(10)] + [505_000]
    lines = [f"{t},1,2,3\n".encode() for t in ticks]
    decoder = Decoder()
    decoder.feed(HEAD + b"".join(lines[:100]))
    assert decoder.feed(b"".join(lines[100:])).lost_before.sum() == 0


def test_holes_in_the_boards_time_count_as_lost_when_it_states_a_rate():
    ticks = [i * 5000 for i in range(60) if not 30 <= i < 37]
    lines = "".join(f"{t},1,2,3\n" for t in ticks)
    _, batch = decode(HEAD + lines.encode(), 10_000)
    assert batch.lost_before.sum() == 7
    assert batch.lost_before[30] == 7


def test_replug_goes_on_behind_an_unknown_gap():
    decoder = Decoder()
    first = decoder.feed(encode_text(HELLO, np.arange(50) * 2000, ramp(50, 3)) + b"1234,5")
    decoder.reset()
    again = decoder.feed(b"3,4\n" + encode_text(None, np.arange(50) * 2000, ramp(50, 3)))
    assert (first.rows, again.rows) == (50, 50)
    assert again.restarts == (0,)
    assert not again.lost_before.any()
    assert again.time_s[0] == pytest.approx(first.time_s[-1] + 2e-3)
    assert decoder.hello == HELLO


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=4000), st.integers(1, 500))
def test_no_bytes_whatever_upset_the_decoder_or_fill_the_memory(data, piece):
    for format in ("auto", "text", "frames"):
        decoder = Decoder(format)
        for start in range(0, len(data), piece):
            decoder.feed(data[start:start + piece])
            assert len(decoder._undecided) <= 2048
            if format == "text":
                assert len(decoder._inner._rest) <= LONGEST_LINE
        decoder.finish()


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 300))
def test_a_damaged_line_takes_no_other_with_it(seed, piece):
    rng = np.random.default_rng(seed)
    readings = rng.integers(0, 1025, (80, 3))
    lines = encode_text(HELLO, np.arange(80) * 2000, readings).split(b"\n")
    hurt = sorted(set(rng.integers(1, 81, 5).tolist()))
    for place in hurt:
        line = bytearray(lines[place])
        line[int(rng.integers(0, len(line)))] = int(rng.choice(list(b"x-.\xff\x00:=e")))
        lines[place] = bytes(line)
    _, batch = decode(b"\n".join(lines), piece)
    sound = [i for i in range(80) if i + 1 not in hurt]
    assert np.array_equal(batch.readings, readings[sound])


def test_both_formats_are_told_apart_wherever_one_joins():
    # Some 400 bytes are left behind the last start.
    readings = ramp(40, 3)
    binary = encode_hello(HELLO) + encode_frames(0, np.arange(40) * 2000, readings)
    plain = encode_text(HELLO, np.arange(40) * 2000, readings)
    for start in range(0, 400, 19):
        for piece in (1, 64, 5000):
            assert decode(binary[start:], piece)[0].format == "frames"
            assert decode(plain[start:], piece)[0].format == "text"


def test_readings_that_look_like_text_do_not_fool_the_detection():
    # 0x0A31 is "1\n": a frame of 16 such readings holds 16 lines of text.
    data = encode_frames(0, [0x310A310A], [[0x0A31] * 16]) * 3
    for start in range(1, 40):
        decoder, batch = decode(data[start:], 1)
        assert decoder.format == "frames"
        assert batch.readings.tolist() == [[0x0A31] * 16] * 2


def test_a_wrong_baud_rate_is_said_once_and_in_plain_words():
    noise = np.random.default_rng(5).integers(128, 256, 6000).astype(np.uint8).tobytes()
    for format in ("auto", "text", "frames"):
        _, batch = decode(noise, 100, Decoder(format))
        said = [text for text in batch.problems if "wrong --baud" in text]
        assert len(said) == 1


def test_a_board_that_changes_its_format_is_followed():
    readings = ramp(400, 3)
    plain = encode_text(HELLO, np.arange(400) * 2000, readings)
    binary = encode_hello(HELLO) + encode_frames(400, (400 + np.arange(400)) * 2000, readings)
    decoder, batch = decode(plain + binary, 50)
    assert decoder.format == "frames"
    assert batch.rows > 780
    decoder, batch = decode(binary + plain, 50)
    assert decoder.format == "text"
    assert batch.rows > 780
    assert batch.lost_before.sum() < 20

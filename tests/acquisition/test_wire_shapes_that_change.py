"""Lines whose shape is not settled or changes, and frames within frames: none is misread."""

from dataclasses import replace

import numpy as np
from wire_streams import HELLO, ramp

from bench.acquisition.wire import Decoder, encode_frames, encode_hello
from bench.acquisition.wire.lines import is_words
from bench.acquisition.wire.samples import Batch, count_joinable, empty_batch
from bench.acquisition.wire.search import find_everywhere


def fed(*pieces, form="auto"):
    decoder, problems, readings = Decoder(form), [], []
    for piece in pieces:
        batch = decoder.feed(piece)
        while True:
            problems += batch.problems
            readings += batch.readings.tolist()
            if not decoder.pending:
                break
            batch = decoder.feed(b"")
    return decoder, " ".join(problems), readings


def test_a_lone_decimal_among_counts_is_refused():
    """One line of volts between lines of counts is a fault of the line, not another unit."""
    decoder, problems, readings = fed(b"\n5.5,7\n5,7\n5,8\n5,9\n5,7\n" * 3, form="text")
    assert "has a decimal point, unlike its neighbours" in problems
    assert {row[0] for row in readings} == {5}
    assert decoder.bad >= 1


def test_a_line_of_another_width_is_held_until_others_agree():
    """Alone it is thrown away with the number of its numbers."""
    _, problems, readings = fed(b"\n1,2\n1,2,3\n" + b"4,5\n" * 8, form="text")
    assert "has 3 numbers, unlike its neighbours" in problems
    assert [4, 5] in readings


def test_a_scale_told_between_named_numbers_keeps_their_names():
    """The hello says nothing of columns, so those of the lines stay."""
    rows = "".join(f"left:{500 + k} right:{300 + k}\n" for k in range(12)).encode()
    decoder, _, readings = fed(b"\n" + rows, b"# full_scale=1024 reference_volts=5.0\n", rows,
                               form="text")
    assert decoder.hello.columns == ("left", "right")
    assert decoder.hello.full_scale == 1024
    assert readings[-1] == [511, 311]


def test_words_between_named_numbers_are_words():
    """Letters alone say nothing; a digit in them may be a torn row."""
    assert is_words(b"hello there", True)
    assert not is_words(b"left:5", True)
    assert is_words(b"left:5", False)
    assert not is_words(b"\x00hello", True)


def test_a_board_that_goes_over_from_frames_to_text_begins_its_lines_with_its_clock():
    """As our own boards do (docs/wire.md): three numbers of two channels."""
    hello = replace(HELLO, columns=("a", "b"))
    frames = encode_hello(hello) + encode_frames(0, np.arange(40) * 2000, ramp(40, 2))
    lines = b"\n" + b"".join(b"%d,512,300\n" % (100_000 + 2000 * k) for k in range(60))
    decoder, _, readings = fed(frames, lines, lines)
    assert readings[0] == ramp(40, 2)[0].tolist()
    assert decoder.format == "text"
    assert readings[-1] == [512, 300]
    assert decoder.hello.columns == ("a", "b")


def test_a_frame_within_a_frame_is_none():
    """A reading may look like anything, a whole good frame included: the outer one counts."""
    inner = encode_frames(0, np.array([0]), np.array([[1]]))
    words = np.frombuffer(inner + b"\0" * (len(inner) % 2), "<u2").astype(np.int64)
    outer = encode_frames(7, np.array([5000]), words[None, :])
    stream = np.frombuffer(outer + b"\0" * 4, np.uint8)
    found = find_everywhere(stream, True)
    assert found.starts.tolist() == [0]
    assert found.lengths.tolist() == [len(outer)]


def batch(rows, channels):
    return Batch(np.arange(rows, dtype=float), np.zeros((rows, channels), np.int64),
                 np.zeros(rows, np.int64))


def test_batches_of_other_widths_are_not_joined():
    """Nor those behind a new hello."""
    assert count_joinable([batch(3, 2), empty_batch(2), batch(3, 2)]) == 3
    assert count_joinable([batch(3, 2), batch(3, 3)]) == 1
    assert count_joinable([batch(3, 2), empty_batch(2, HELLO), batch(3, 2)]) == 1

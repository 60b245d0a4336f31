"""The head of a recording file at its edges: what is refused, and in which words."""

import numpy as np
import pytest
from said import refuses

from analysis.model.recording import Channel, Recording
from bench.errors import BadFile
from bench.files import recording_file
from bench.files.recording_file import read_recording, write_recording


@pytest.fixture
def sound(tmp_path):
    """Return the header's lines and the table's of a small recording."""
    path = write_recording(tmp_path / "sound.csv", Recording(np.arange(4) / 10, (Channel(
        "a", "track", np.arange(4.0), full_scale=1024.0, reference_volts=5.0),), (), "t"))
    lines = path.read_bytes().splitlines(True)
    return [x for x in lines if x.startswith(b"#")][:-1], [x for x in lines if x[:1] != b"#"]


def read(tmp_path, data):
    path = tmp_path / "r.csv"
    path.write_bytes(data)
    return read_recording(path)


def test_a_head_with_a_mark_of_utf_8_empty_comments_or_crlf_reads_the_same(tmp_path, sound):
    head, table = sound
    for ahead, end in ((b"", b"\n"), (b"\xef\xbb\xbf", b"\n"), (b"", b"\r\n")):
        found = read(tmp_path, ahead + b"".join([*head, b"#\n", *table]).replace(b"\n", end))
        assert found.channels[0].readings.tolist() == [0, 1, 2, 3]
        assert found.title == "t"


@pytest.mark.parametrize(("made", "said"), [
    (lambda h, t: b"", "the file is empty; nothing was recorded"),
    (lambda h, t: b"\xef\xbb\xbf", "no '# stillpedal_recording = 1' on top"),
    (lambda h, t: b"".join(t), "no '# stillpedal_recording = 1' on top"),
    (lambda h, t: b"".join(h)[:-1], "cut short within its header; nothing was recorded"),
    (lambda h, t: b"".join(h), "cut short before its first row; nothing was recorded"),
    (lambda h, t: b"".join(h) + t[0][:-1], "cut short before its first row; nothing was recorded"),
    (lambda h, t: b"".join(h) + b"a" * (1 << 16), "the column line is endless; damaged"),
    (lambda h, t: b"".join(h) + b"a" * ((1 << 16) - 1), "cut short before its first row"),
    (lambda h, t: h[0] + b"# \xff\n" + b"".join(h[1:] + t), "line 2 is not UTF-8 text"),
    (lambda h, t: b"".join([*h, b"time_s,mark\n", *t[1:]]),
     r"line LAST must name the columns 'time_s', the channels, 'mark'; it names time_s, mark"),
    (lambda h, t: b"".join([*h, b"time,a,mark\n", *t[1:]]), "line LAST must name .* time, a, mark"),
    (lambda h, t: b"".join([*h, b"time_s,a,b\n", *t[1:]]), "line LAST must name .* time_s, a, b"),
    (lambda h, t: b"".join([*h, b"time_s,b,mark\n", *t[1:]]),
     "the table has the channels b but the header describes a; they must agree"),
    # What stands in a header is told first, where anything stands behind it.
    (lambda h, t: b"# x = 1\n# [y\ntime_s,a", r"the header is not TOML \(.*repair that line"),
    (lambda h, t: b"# x = 1\n# [y\n", "cut short before its first row; nothing was recorded"),
    (lambda h, t: b"".join([*h, b'time_s,"a,mark\n', *t[1:]]), r"line LAST \(column names\)")])
def test_what_is_no_head_is_refused_in_these_words(tmp_path, sound, made, said):
    head, table = sound
    with refuses(BadFile, said.replace("LAST", str(len(head) + 1))):
        read(tmp_path, made(head, table))


@pytest.mark.parametrize("names", [b"x" * 300, b"time_s," + b"x" * 300 + b",mark"])
def test_names_without_end_are_told_in_two_hundred_signs(tmp_path, sound, names):
    head, table = sound
    with pytest.raises(BadFile) as told:
        read(tmp_path, b"".join([*head, names + b"\n", *table[1:]]))
    assert str(told.value).count("x") == 200


def test_a_channel_of_the_header_without_end_is_told_in_two_hundred_signs(tmp_path, sound):
    head, table = sound
    data = b"".join(head + table).replace(b'column = "a"', b'column = "' + b"z" * 300 + b'"')
    with pytest.raises(BadFile) as told:
        read(tmp_path, data)
    assert str(told.value).count("z") == 200


def test_the_first_row_is_read_from_its_first_digit(tmp_path, sound):
    head, table = sound
    found = read(tmp_path, b"".join([*head, table[0], b"50.0,7,\n", b"51.0,8,\n"]))
    assert found.time_s.tolist() == [50.0, 51.0]


def test_a_header_may_be_as_long_as_is_said_and_no_longer(tmp_path, sound, monkeypatch):
    """Its last line may begin at the limit; one line behind that is refused, and so is no end."""
    head, table = sound
    size = sum(map(len, head))
    data = b"".join(head + table)
    monkeypatch.setattr(recording_file, "LONGEST_HEADER", size - len(head[-1]))
    assert read(tmp_path, data).rows == 4
    monkeypatch.setattr(recording_file, "LONGEST_HEADER", size - len(head[-1]) - 1)
    with refuses(BadFile, f"the header is longer than {size - len(head[-1]) - 1} bytes"):
        read(tmp_path, data)
    monkeypatch.setattr(recording_file, "LONGEST_HEADER", size + 9)
    for more, said in ((9, "cut short within its header"), (10, "the header is longer than")):
        with refuses(BadFile, said):
            read(tmp_path, b"".join(head) + b"#" * more)

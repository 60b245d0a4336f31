"""A recording opens when cut short, and refuses damage by name."""

import time

import pytest
from sealed_recording import EXAMPLE, HEAD, put, sealed

from bench.errors import BadFile
from bench.files import recording_file
from bench.files.recording_file import read_recording


def test_a_file_cut_at_any_byte_opens_with_all_whole_rows(tmp_path):
    data = sealed(EXAMPLE)
    rows_start = data.index(b"0.000,")
    whole = read_recording(put(tmp_path / "whole.csv", data))
    for end in range(rows_start, len(data)):
        cut = read_recording(put(tmp_path / "cut.csv", data[:end]))
        assert cut.rows == min(data[rows_start:end].count(b"\n"), 3)
        # Only the newline behind the trailer may be missing without harm.
        assert cut.complete == (end == len(data) - 1)
        assert cut.time_s.tolist() == whole.time_s[: cut.rows].tolist()
    for end in range(rows_start):
        with pytest.raises(BadFile, match="nothing was recorded"):
            read_recording(put(tmp_path / "cut.csv", data[:end]))


def test_a_changed_byte_in_the_table_is_never_silently_used(tmp_path):
    data = sealed(EXAMPLE)
    table = data.index(b"time_s,")
    for place in range(table, len(data) - 1):
        for value in (data[place] ^ 1, data[place] ^ 0x20, 0, ord(","), ord("\n")):
            if value == data[place]:
                continue
            changed = data[:place] + bytes([value]) + data[place + 1:]
            try:
                recording = read_recording(put(tmp_path / "d.csv", changed))
            except BadFile as error:
                assert "\n" not in str(error)  # noqa: PT017 - the point is that it may not raise
            else:
                # Lower-case hex is the same sum; a broken trailer line makes a cut file.
                same_sum = changed[place:].rstrip().isalnum() and changed[table:].lower() \
                    == data[table:].lower()
                assert same_sum or not recording.complete
                assert recording.rows <= 3


def test_nul_bytes_where_the_last_rows_should_be_count_as_cut(tmp_path):
    # What a journaling file system may leave after a power cut: common practice, no source.
    recording = read_recording(put(tmp_path / "n.csv", EXAMPLE.encode() + b"0.006,9" + bytes(5000)))
    assert (recording.rows, recording.complete) == (3, False)


def test_a_torn_end_of_any_length_costs_no_whole_row(tmp_path, monkeypatch):
    """Wherever the last whole row ends in the blocks that a file is read in, it counts."""
    monkeypatch.setattr(recording_file, "BLOCK", 16)
    for torn in [b"", b"0.006,9"]:
        for nul in range(40):
            path = put(tmp_path / "n.csv", EXAMPLE.encode() + torn + bytes(nul))
            assert read_recording(path).rows == 3


def test_a_recording_that_was_closed_before_its_first_row_is_whole(tmp_path):
    """Its trailer follows the names of the columns."""
    recording = read_recording(put(tmp_path / "r.csv", sealed(HEAD + "time_s,a,supply,mark\n")))
    assert (recording.rows, recording.complete) == (0, True)


def test_how_far_a_file_is_read_is_told_from_none_to_all(tmp_path, monkeypatch):
    """Shares between 0 and 1 that only rise, one for each block."""
    monkeypatch.setattr(recording_file, "BLOCK", 16)
    told = []
    read_recording(put(tmp_path / "r.csv", sealed(EXAMPLE)), told.append)
    assert told == sorted(told)
    assert len(told) >= 4
    assert told[0] < 1.0
    assert told[-1] == 1.0


def test_a_row_without_end_is_named_by_its_number(tmp_path, monkeypatch):
    """The fourth row runs over blocks without a line end; the file says that it is whole."""
    monkeypatch.setattr(recording_file, "BLOCK", 64)
    monkeypatch.setattr(recording_file, "LONGEST_LINE", 2000)
    data = sealed(EXAMPLE + "0.006," + "9" * 5000 + ",1,\n")
    with pytest.raises(BadFile, match="row 4 is longer than 2000 bytes"):
        read_recording(put(tmp_path / "r.csv", data))


@pytest.mark.parametrize(("text", "reason"), [
    ("", "empty"),
    ("time_s,a,mark\n0,1,\n", "stillpedal import"),
    (EXAMPLE.replace("recording = 1", "recording = 2"), "version 2 is not known"),
    (EXAMPLE.replace("recording = 1", 'recording = "1"'), "version '1' is not known"),
    (EXAMPLE.replace("stillpedal_recording = 1\n", "x = 1\n"), "not a recording"),
    (EXAMPLE.replace('"box as found"', "box"), "not TOML"),
    (EXAMPLE.replace("rate_hz = 500.0", "rate_hz = -1"), "rate_hz is -1"),
    (EXAMPLE.replace("rate_hz = 500.0", "rate_hz = true"), "rate_hz is True"),
    (EXAMPLE.replace('title = "box as found"', "title = 3"), "title is 3"),
    (EXAMPLE.replace('role = "track"', 'role = "trick"'), "role 'trick'"),
    (EXAMPLE.replace('purpose = "sweep"', 'purpose = "fun"'), "purpose 'fun'"),
    (EXAMPLE.replace("full_scale = 1024", "full_scale = 0"), "full_scale is 0"),
    (EXAMPLE.replace('column = "supply"', 'column = "a"'), "two channels are called 'a'"),
    (EXAMPLE.replace("time_s,a,supply,mark", "time_s,a,b,mark"), "they must agree"),
    (EXAMPLE.replace("time_s,a,supply,mark", "t,a,supply,mark"), "must name the columns"),
    (EXAMPLE.replace("0.002,,1022", "0.002,1e,1022"), "row 2 .*'1e' is not a number"),
    (EXAMPLE.replace("0.002,,1022", "0.002,nan,1022"), "row 2 .*'nan' is not a number"),
    (EXAMPLE.replace("0.002,,1022", "0.002,1e999,1022"), "row 2 .*too large"),
    (EXAMPLE.replace("0.002,,1022", "0.002,98\x1f,1022"), r"row 2 .*'98.*' is not a number"),
    (EXAMPLE.replace("0.002,,1022", ",,1022"), "row 2 .*no time"),
    (EXAMPLE.replace("0.000,98,1023,", ",98,1023,\n1,98,1023,"), "row 1 .*no time"),
    (EXAMPLE.replace("0.002,,1022", "0.002,1022"), "row 2 .*3 cells where 4"),
    (EXAMPLE.replace("0.002,,1022", "0.002,\0,1022"), "row 2 .*NUL"),
    (EXAMPLE.replace("0.002", "\n0.002"), "row 2 .*empty"),
    (EXAMPLE.replace("0.002", "# note\n0.002"), "row 2 .*comment inside the table"),
    (EXAMPLE.replace("0.004", "0.001"), "backwards at row 3"),
    (HEAD + "time_s,a,supply,mark", "nothing was recorded"),
    ("# x = 1\n" * 200_000, "longer than"),
    ("# " + "x" * 3_000_000, "longer than"),
], ids=range(29))
def test_a_damaged_file_is_refused_with_one_line_that_says_why(tmp_path, text, reason):
    path = put(tmp_path / "bad.csv", text)
    with pytest.raises(BadFile, match=reason) as caught:
        read_recording(path)
    assert str(path) in str(caught.value)
    assert "\n" not in str(caught.value)
    if "time_s,a,supply,mark\n" in text and "0.004" in text:
        # The same once more with a trailer whose sum is right for the bad content.
        with pytest.raises(BadFile, match=reason):
            read_recording(put(path, sealed(text)))


@pytest.mark.parametrize("data", [
    b"\xff\xfe#\0 \0", b"\x00" * 100, b"\x1f\x8b\x08", b"# \xff\xfe = 1\nx\n", b"#\n", b"# a=1\n",
])
def test_a_file_of_another_kind_is_refused(tmp_path, data):
    with pytest.raises(BadFile):
        read_recording(put(tmp_path / "x.csv", data))


def test_a_missing_file_or_a_folder_is_refused(tmp_path):
    with pytest.raises(BadFile, match="No such file"):
        read_recording(tmp_path / "none.csv")
    with pytest.raises(BadFile, match="cannot read"):
        read_recording(tmp_path)


def test_a_wrong_sum_names_the_first_bad_row(tmp_path):
    data = sealed(EXAMPLE).replace(b"0.002,,1022", b"0.002,x,1022")
    with pytest.raises(BadFile, match=r"damaged: its check sum .*row 2"):
        read_recording(put(tmp_path / "x.csv", data))


def test_a_stray_quote_in_a_long_file_is_refused_at_once(tmp_path):
    """It once took longer by the square of the size: half a minute for this megabyte."""
    rows = [f"{k / 1000:.6f},{k % 1000},{k % 777},\n" for k in range(45_000)]
    rows[3] = rows[3].replace(",\n", ',"stray\n')
    text = HEAD + "time_s,a,supply,mark\n" + "".join(rows)
    line = text.count("\n", 0, text.index("stray")) + 1
    for data in (sealed(text), text):
        path = put(tmp_path / "stray.csv", data)
        start = time.process_time()
        with pytest.raises(BadFile, match=rf"row 4 \(line {line}\): a quoted cell never ends"):
            read_recording(path)
        assert time.process_time() - start < 5.0


def test_a_mark_may_run_over_many_blocks(tmp_path, monkeypatch):
    """RFC 4180, 2.6; of the blocks a file is read in, its reader must know nothing."""
    monkeypatch.setattr(recording_file, "BLOCK", 64)
    mark = "\n".join(f"{k},{k},{k}," for k in range(300))
    text = EXAMPLE.replace('"gap 3"', f'"{mark}"')
    data = sealed(text).replace(b"rows=302", b"rows=3")
    assert read_recording(put(tmp_path / "m.csv", data)).marks[-1].text == mark


def test_converted_line_ends_are_told_as_such(tmp_path):
    path = put(tmp_path / "crlf.csv", sealed(EXAMPLE).replace(b"\n", b"\r\n"))
    with pytest.raises(BadFile, match=r"CRLF .*readings are as recorded"):
        read_recording(path)


def test_converted_line_ends_are_told_wherever_a_block_ends(tmp_path, monkeypatch):
    """Also where one block ends with the CR, and the next begins with the LF; a lone CR stays."""
    text = sealed(EXAMPLE.replace('"gap 3"', '"a\rb"'))
    path = put(tmp_path / "crlf.csv", text.replace(b"\n", b"\r\n"))
    for size in range(8, 40):
        monkeypatch.setattr(recording_file, "BLOCK", size)
        with pytest.raises(BadFile, match=r"CRLF .*readings are as recorded"):
            read_recording(path)


def test_a_hand_edited_file_with_crlf_and_no_trailer_opens(tmp_path):
    text = "\ufeff" + EXAMPLE.replace("\n", "\r\n")
    recording = read_recording(put(tmp_path / "crlf.csv", text))
    assert (recording.rows, recording.complete, recording.lost_samples) == (3, False, 3)
    assert recording.marks == read_recording(put(tmp_path / "lf.csv", EXAMPLE)).marks

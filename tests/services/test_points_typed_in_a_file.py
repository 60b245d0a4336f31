"""A list of points is read by its header or refused in one line."""

import pytest
from sender_check_by_hand import options

from bench.errors import BadCall, BadFile
from bench.services.sender_check_asked import counted
from bench.services.sender_check_points import take_points


def listed(tmp_path, text, **more):
    path = tmp_path / "points.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return take_points(path, options(**more))


@pytest.mark.parametrize(("text", "words"), [
    ("", "is empty; it needs a line 'reading,meter'"),
    ("# only words\n\n", "is empty"),
    (b"reading,meter\n1,\xff\xfe\n", "cannot read"),
    ("x,reading\n1,2\n3,4\n", "does not say which column is the meter's"),
    ("reading,meter\n" + "1,2\n" * 100_001, "at most"),
])
def test_a_list_that_is_none(text, words, tmp_path):
    """With the line to write."""
    with pytest.raises(BadFile, match=words):
        listed(tmp_path, text)


def test_counts_need_their_scale(tmp_path):
    """One of the two alone gives no volts."""
    with pytest.raises(BadCall, match="add --full-scale"):
        listed(tmp_path, "reading,meter\n100,1\n200,2\n300,3\n", full_scale=1024.0)


@pytest.mark.parametrize("header", ["meter,reading\n", "reading,meter,uncertainty\n", ""])
def test_the_header_says_which_column_is_which(header, tmp_path):
    """Without one the reading stands first."""
    lines = {"meter,reading\n": "2,1\n4,2\n6,3\n",
             "reading,meter,uncertainty\n": "1,2,0.1\n2,4,0.1\n3,6,0.1\n"}
    taken = listed(tmp_path, header + lines.get(header, "1,2\n2,4\n3,6\n"))
    assert taken.points.volts.tolist() == [1.0, 2.0, 3.0]
    assert taken.points.meter.tolist() == [2.0, 4.0, 6.0]


def test_points_are_left_out_by_their_number_and_two_are_kept(tmp_path):
    """Numbers begin with 1, as they are printed."""
    points = listed(tmp_path, "1,2\n2,4\n3,6\n").points
    told = []
    assert counted(points, (), (), told) is points
    assert told == []
    assert counted(points, (2,), (), told).meter.tolist() == [2.0, 6.0]
    assert told[0].values["points"] == ((2, 4.0),)
    with pytest.raises(BadCall, match="--leave-out 4: there are points 1 to 3"):
        counted(points, (4,), (), [])
    with pytest.raises(BadCall, match="--keep-point 0: there are points 1 to 3"):
        counted(points, (), (0,), [])
    with pytest.raises(BadCall, match="leaves fewer than 2 of 3 points; keep more"):
        counted(points, (1, 2), (), [])

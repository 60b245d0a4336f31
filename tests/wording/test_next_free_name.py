"""The name that comes after a file counts a counter on, never a date or a time.

Dates and times as ISO 8601 writes them, and their everyday forms; else common practice, no source.
"""

import pytest

from bench.wording.next_step import free_name


@pytest.mark.parametrize(("name", "after"), [
    ("demo-2026-11-28-084433.csv", "demo-2026-11-28-084433-2.csv"),
    ("demo-2026-11-28-084433-2.csv", "demo-2026-11-28-084433-3.csv"),
    ("demo-2026-11-28-084433-9.csv", "demo-2026-11-28-084433-10.csv"),
    ("demo-2026-11-28-084433-10.csv", "demo-2026-11-28-084433-11.csv"),
    ("sweep-2026-11-28.csv", "sweep-2026-11-28-2.csv"),
    ("sweep-2026-11-28-2.csv", "sweep-2026-11-28-3.csv"),
    ("sweep-2026-11-8.csv", "sweep-2026-11-8-2.csv"),
    ("sweep-28.11.26.csv", "sweep-28.11.26-2.csv"),
    ("sweep-28-11-2026.csv", "sweep-28-11-2026-2.csv"),
    ("20261128.csv", "20261128-2.csv"),
    ("sweep_08-44.csv", "sweep_08-44-2.csv"),
    ("sweep-0844.csv", "sweep-0844-2.csv"),
    ("sweep-2.csv", "sweep-3.csv"),
    ("sweep2.csv", "sweep3.csv"),
    ("sweep-007.csv", "sweep-008.csv"),
    ("sweep-09.csv", "sweep-10.csv"),
    ("9.csv", "10.csv"),
    ("sweep", "sweep-2.csv"),
])
def test_a_counter_is_counted_on_and_a_date_is_not(tmp_path, name, after):
    assert free_name(tmp_path / name) == tmp_path / after


def test_a_name_that_is_taken_is_never_given(tmp_path):
    for taken in ("sweep-02.csv", "sweep-03.csv", "before.csv"):
        (tmp_path / taken).touch()
    assert free_name(tmp_path / "sweep-02.csv") == tmp_path / "sweep-04.csv"
    assert free_name(tmp_path / "before.csv", "before") == tmp_path / "before-2.csv"
    assert free_name(tmp_path / "before.csv", "key-on") == tmp_path / "key-on.csv"

"""Work shared between cores: the same results in the same order, whatever goes wrong."""

import numpy as np
import pytest

from analysis.signal.side_by_side import BLOCK_ROWS, LONG_ROWS, by_name, in_blocks, side_by_side

EITHER = pytest.mark.parametrize("rows", [LONG_ROWS - 1, LONG_ROWS], ids=["short", "long"])


@EITHER
def test_results_come_in_the_order_of_the_jobs(rows):
    """As a plain loop gives them, also where a job has jobs of its own."""
    jobs = [lambda k=k: side_by_side(rows, *(lambda j=j: (k, j) for j in range(3)))
            for k in range(5)]
    assert side_by_side(rows, *jobs) == [job() for job in jobs]
    assert by_name(rows, "cab", str.upper) == {"c": "C", "a": "A", "b": "B"}
    assert side_by_side(rows) == []


@EITHER
def test_what_the_first_failing_job_raises_is_raised(rows):
    """As a plain loop would, so that a refusal is the same on every machine."""
    def fail(number):
        raise ValueError(number)

    with pytest.raises(ValueError, match=r"^0$"):
        side_by_side(rows, *(lambda k=k: fail(k) for k in range(4)))
    assert side_by_side(rows, lambda: 1, lambda: 2) == [1, 2]


@pytest.mark.parametrize("rows", [1, BLOCK_ROWS, LONG_ROWS, LONG_ROWS + BLOCK_ROWS - 1])
def test_every_row_is_worked_on_once(rows):
    """Blocks leave no row out and share none."""
    seen = np.zeros(rows, dtype=int)

    def work(block):
        seen[block] += 1

    in_blocks(rows, work)
    assert (seen == 1).all()

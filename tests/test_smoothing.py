"""The small tools on rows, against scipy and against the plain sum."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.ndimage import median_filter

from analysis.smoothing import median, running_mean, running_median

VALUES = st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=60).map(np.array)


@pytest.mark.parametrize("width", [3, 5])
@given(values=VALUES)
def test_running_medians_are_scipys(width: int, values: np.ndarray) -> None:
    """scipy.ndimage.median_filter with the ends held gives the same."""
    expected = median_filter(values, size=width, mode="nearest")
    assert np.array_equal(running_median(values, width), expected)


@given(VALUES)
def test_the_median_is_numpys(values: np.ndarray) -> None:
    """Of odd and even numbers of values; the values stay in their order."""
    before = values.copy()
    assert median(values) == np.median(values)
    assert np.array_equal(values, before)


@pytest.mark.parametrize("width", [3, 9])
@given(values=VALUES, data=st.data())
def test_running_means_at_some_rows_are_those_at_every_row(width: int, values: np.ndarray,
                                                           data: st.DataObject) -> None:
    """Every mean is that of its window, the ends held (numpy.convolve)."""
    half = width // 2
    held = np.concatenate([np.full(half, values[0]), values, np.full(half, values[-1])])
    expected = np.convolve(held, np.full(width, 1.0 / width), "valid")
    whole = running_mean(values, width)
    assert whole == pytest.approx(expected, rel=1e-9, abs=1e-6)
    rows = np.array(data.draw(st.lists(st.integers(0, values.size - 1))), dtype=np.intp)
    assert np.array_equal(running_mean(values, width, rows), whole[rows])

"""The small tools on rows, against numpy's own."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.signal.smoothing import median, running_mean, running_median

VALUES = st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=60).map(np.array)


@given(VALUES)
def test_the_median_is_numpys(values: np.ndarray) -> None:
    """Of odd and even numbers of values; the values stay in their order."""
    before = values.copy()
    assert median(values) == np.median(values)
    assert np.array_equal(values, before)


@pytest.mark.parametrize("width", [3, 5, 9])
@given(values=VALUES)
def test_running_windows_hold_their_ends(width: int, values: np.ndarray) -> None:
    """Mean and median of every window of values padded with the end ones, by numpy."""
    half = width // 2
    held = np.concatenate([np.full(half, values[0]), values, np.full(half, values[-1])])
    windows = np.lib.stride_tricks.sliding_window_view(held, width)
    assert running_mean(values, width) == pytest.approx(windows.mean(axis=1), rel=1e-9, abs=1e-6)
    assert np.array_equal(running_median(values, width), np.median(windows, axis=1))

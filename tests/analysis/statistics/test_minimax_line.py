"""The line that departs least from the readings."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from analysis.signal.linearity import minimax_line


def _by_linear_programming(x: np.ndarray, y: np.ndarray) -> float:
    """Return the least largest deviation by scipy's linprog: min t, |y - s x - c| <= t."""
    one = np.ones_like(x)
    left = np.vstack([np.column_stack([x, one, -one]), np.column_stack([-x, -one, -one])])
    right = np.concatenate([y, -y])
    free = (None, None)
    return float(linprog([0, 0, 1], A_ub=left, b_ub=right, bounds=[free, free, (0, None)]).fun)


@given(st.integers(0, 10_000), st.integers(2, 60))
@settings(max_examples=60, deadline=None)
def test_deviation_is_the_least_possible(seed: int, count: int) -> None:
    """The largest deviation equals the linear programme's (reference library: scipy linprog)."""
    rng = np.random.default_rng(seed)
    x = np.sort(rng.uniform(0, 100, count))
    y = 0.5 + 0.03 * x + rng.normal(0, 0.1, count) + 0.2 * np.sin(x / 15)
    slope, intercept, deviation = minimax_line(x, y)
    assert deviation == pytest.approx(_by_linear_programming(x, y), abs=1e-9)
    assert np.max(np.abs(y - slope * x - intercept)) == pytest.approx(deviation, abs=1e-9)


def test_points_on_a_line_depart_by_nothing() -> None:
    """Readings on a straight line have no deviation and give the line back."""
    x = np.linspace(0, 100, 50)
    slope, intercept, deviation = minimax_line(x, 0.7 + 0.035 * x)
    assert (slope, intercept) == (pytest.approx(0.035), pytest.approx(0.7))
    assert deviation < 1e-9

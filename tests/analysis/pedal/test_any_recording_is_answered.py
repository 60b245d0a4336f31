"""Whatever is in a recording: findings, or one line that says why not; never a stumble."""

import numpy as np
import pytest
from said import as_texts

from analysis.model.errors import AnalysisError
from analysis.model.recording import Channel, Mark, Recording
from analysis.pedal.findings import analyse
from bench.wording.refusals import refused


def _readings(rng: np.random.Generator, count: int) -> np.ndarray:
    """Return counts that no pedal gives, or hardly: noise, steps, holes, half a press."""
    row = np.arange(count)
    kind = rng.integers(9)
    if kind == 0:
        values = rng.integers(0, 1024, count)
    elif kind == 1:
        values = np.full(count, rng.integers(0, 1024))
    elif kind == 2:
        values = 512 + 400 * np.sin(row / rng.uniform(1, 500))
    elif kind == 3:
        values = np.cumsum(rng.normal(0, 20, count)) + 300
    elif kind == 4:
        values = 100 + 700 * (np.sin(row / 80) > 0)
    elif kind == 5:
        values = 100 + 700 * np.abs(np.sin(row / 80)) ** 3
    elif kind == 6:
        values = np.full(count, np.nan)
    elif kind == 7:
        values = np.where(row < count / 2, 100, 900)
    else:
        values = 100 + 700 * np.clip(np.abs(np.sin(row / 150)) * 2 - 1, 0, 1)
        values = values + rng.normal(0, 1, count)
    values = np.clip(np.round(np.asarray(values, dtype=float)), 0, 1023)
    if rng.random() < 0.2:
        values[rng.random(count) < 0.3] = np.nan
    return values


def _recording(seed: int) -> Recording:
    rng = np.random.default_rng(seed)
    count = int(rng.choice([1, 5, 19, 20, 25, 60, 300, 3000]))
    step = float(rng.choice([0.0005, 0.001, 0.005, 0.02, 0.1]))
    times = [np.arange(count) * step, np.sort(rng.uniform(0, count * step, count)),
             np.zeros(count)][rng.choice(3, p=[0.7, 0.2, 0.1])]
    channels = [Channel(name, "track", _readings(rng, count), "counts", 1024, 5.0)
                for name in "abc"[: rng.integers(1, 4)]]
    if rng.random() < 0.4:
        channels.append(Channel("s", "supply", _readings(rng, count), "counts", 1024, 5.0))
    rows = sorted(rng.integers(0, count, rng.integers(0, 4)))
    words = ["rest", "hold", "press", "gap 5", "mine"]
    marks = tuple(Mark(int(row), str(rng.choice(words))) for row in rows)
    return Recording(times, tuple(channels), marks)


@pytest.mark.parametrize("block", range(8))
def test_odd_recordings_are_answered(block: int) -> None:
    """Of 400 impossible recordings each gives findings or an AnalysisError of one line."""
    answered = 0
    for seed in range(50 * block, 50 * (block + 1)):
        said = ""
        try:
            found = analyse(_recording(seed))
        except AnalysisError as error:
            said = refused(error)
        else:
            answered += 1
            said = as_texts(found.verdict)[0]
            assert found.settings
        assert said
        assert "\n" not in said
    assert answered > 0

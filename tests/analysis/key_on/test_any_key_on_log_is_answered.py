"""Odd logs end in findings or in one plain error, never in a traceback or a warning."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from analysis.key_on import analyse_key_on
from analysis.model.errors import AnalysisError
from analysis.model.recording import Channel, Mark, Recording
from analysis.pedal.settings import Setting
from analysis.simulation.car import Car, CarTrack, drive
from bench.files.exports.key_on_json import key_on_json
from bench.files.exports.key_on_text import key_on_text
from bench.wording.refusals import refused

SETTINGS = (Setting("start_of_travel", "a", 0.85, "V", ""),
            Setting("release", "a", 0.80, "V", ""),
            Setting("full_travel", "a", float("nan"), "V", "not known"))


def base(**changes: object) -> Recording:
    """Return a small sound log."""
    return drive(replace(Car(rate_hz=100.0, ground_volts=0.04), **changes))[0]  # type: ignore[arg-type]


def with_column(recording: Recording, column: str, readings: np.ndarray) -> Recording:
    """Return the log with other readings in one column."""
    return replace(recording, channels=tuple(
        replace(c, readings=readings) if c.column == column else c for c in recording.channels))


@cache
def odd_logs() -> dict[str, Recording]:
    """Return logs that are wrong or poor in one way each."""
    good = base()
    n = good.rows
    rng = np.random.default_rng(1)
    a = good.channel("a").readings
    holes = a.copy()
    holes[rng.random(n) < 0.3] = np.nan
    blocks_gone = a.copy()
    blocks_gone[1000:1800] = np.nan
    return {
        "a track that is never there": with_column(good, "a", np.full(n, np.nan)),
        "a track that stands still": with_column(good, "a", np.full(n, 573.0)),
        "a track full of holes": with_column(good, "a", holes),
        "a track gone around key-on": with_column(good, "a", blocks_gone),
        "a track at the top rail": with_column(good, "a", np.full(n, 4095.0)),
        "a supply that is never there": with_column(good, "supply", np.full(n, np.nan)),
        "a supply of nothing": with_column(good, "supply", np.zeros(n)),
        "a key line that chatters": with_column(
            good, "key", np.where(np.arange(n) % 4 < 2, 2000.0, 0.0)),
        "a key line of noise": with_column(good, "key", rng.uniform(0, 4095, n)),
        "a key line that is never there": with_column(good, "key", np.full(n, np.nan)),
        "a key line that stays on": with_column(good, "key", np.full(n, 2000.0)),
        "one track": replace(good, channels=(good.channels[0], good.channels[3])),
        "three tracks": replace(good, channels=(*good.channels, Channel(
            "c", "track", a.copy(), "counts", 4096, 5.0))),
        "sixty rows": replace(good, time_s=good.time_s[780:840], channels=tuple(
            replace(c, readings=c.readings[780:840]) for c in good.channels), marks=()),
        "ten rows a second": base(rate_hz=10.0),
        "time that stands still": replace(good, time_s=np.zeros(n)),
        "time with a night in it": replace(
            good, time_s=good.time_s + np.where(np.arange(n) > 4000, 30_000.0, 0.0)),
        "key-ons of a second": base(on_s=1.0, off_s=1.0, cycles=10),
        "key-on at the last row": replace(good, channels=good.channels[:2],
                                          marks=(Mark(n - 1, "key on"),)),
        "only a key off": replace(good, channels=good.channels[:2], marks=(Mark(500, "key off"),)),
        "marks in a row": replace(good, channels=good.channels[:2], marks=(
            Mark(500, "key on"), Mark(501, "key on"), Mark(502, "key off"), Mark(502, "key off"))),
        "a foot all the time": base(presses=((0, 0.5, 19.0, 50.0), (1, 0.5, 19.0, 50.0),
                                             (2, 0.5, 19.0, 50.0))),
        "tracks in volts without supply": base(with_supply=False),
        "a falling pair": base(tracks=(CarTrack("a", 4.3, 0.8), CarTrack("b", 4.2, 0.9))),
    }


@pytest.mark.parametrize("name", sorted(odd_logs()))
def test_odd_log_is_answered(name: str) -> None:
    """The log is analysed, or refused in one line; text and JSON come out of what is found."""
    recording = odd_logs()[name]
    try:
        found = analyse_key_on(recording, settings=SETTINGS)
    except AnalysisError as error:
        words = refused(error)
        found = None
    if found is None:
        assert "\n" not in words
        assert len(words) > 20
        return
    assert "nan" not in key_on_text(found)
    assert "NaN" not in key_on_json(found)
    assert found.cycles
    for cycle in found.cycles:
        assert cycle.before_row <= cycle.on_row <= cycle.off_row <= recording.rows


def test_sound_logs_among_the_odd_are_right() -> None:
    """Where only one thing is poor, the rest of the answer stands."""
    logs = odd_logs()
    for name in ("one track", "three tracks", "a track full of holes",
                 "tracks in volts without supply", "time with a night in it"):
        shift = analyse_key_on(logs[name]).tracks["a"].shift
        assert shift.value == pytest.approx(0.04, abs=0.0005), name
        assert shift.low < 0.0403, name
        assert shift.high > 0.0397, name

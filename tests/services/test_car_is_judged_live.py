"""A log in the car judged row by row: never better than the log's own verdict, and as near."""

from dataclasses import replace

import numpy as np
import pytest
from places import ROOT

from analysis.key_on import analyse_key_on
from analysis.model.recording import Channel
from analysis.pedal.findings import analyse
from analysis.simulation import Motion, pedal_named, simulate_sweep
from bench.acquisition.listener import Rows, Source
from bench.files.recording_file import read_recording
from bench.services.car_live import CarWatch, SamePedal, same_pedal
from bench.services.findings import open_findings

SAMPLES = ROOT / "sample_sweeps"
OFFSET = SAMPLES / "synthetic_key_on_ground_offset.csv"
NOISY = SAMPLES / "synthetic_key_on_switching_noise.csv"


@pytest.fixture(scope="module")
def swept():
    return open_findings(SAMPLES / "synthetic_healthy_pair.csv")


def watched(swept, recording, drop=None, other_pedal=False):
    """Give a log to the watch in pieces as a board does; drop: rows lost on the way (a slice)."""
    watch = CarWatch(swept, 2.0, other_pedal)
    channels = tuple(replace(c, readings=np.empty(0)) for c in recording.channels)
    watch.started(Source(channels, recording.rate_hz, "test"))
    readings = np.stack([c.readings for c in recording.channels], axis=1)
    keep = np.ones(recording.rows, dtype=bool)
    if drop is not None:
        keep[drop] = False
    rows = np.flatnonzero(keep)
    states = []
    for piece in np.array_split(rows, max(1, rows.size // 100)):
        watch.rows(Rows(recording.time_s[piece], readings[piece],
                        np.zeros(piece.size, np.int64)))
        states.append(watch.now.state)
    return watch.now, states


@pytest.mark.parametrize("path", [OFFSET, NOISY], ids=["ground offset", "switching noise"])
def test_what_is_left_is_what_the_log_finds_afterwards(swept, path):
    """The nearest reading of each track, by the analysis of the whole log (analyse_key_on)."""
    recording = read_recording(path)
    found = analyse_key_on(recording, swept.parameters, (), swept)
    now, _ = watched(swept, recording)
    assert now.key_ons == len(found.cycles)
    for track in now.tracks:
        judged = found.verdict.tracks[track.line.column]
        assert track.line.start_volts == judged.start_of_travel_volts
        assert track.worst_volts == pytest.approx(judged.closest_volts, abs=1e-9)
        assert track.left_volts == pytest.approx(judged.margin_volts, abs=1e-9)
    assert (now.state == "passed") == bool(found.verdict.applied)


def key_on_rows(recording):
    return np.flatnonzero(recording.with_role("key")[0].volts() > 2.0)


def quiet(recording):
    """Return the log with its tracks held at their first rest: nothing comes near."""
    channels = tuple(replace(c, readings=np.full(c.readings.shape, np.median(c.readings[:500])))
                     if c.role == "track" else c for c in recording.channels)
    return replace(recording, channels=channels)


def test_rows_lost_with_the_key_on_leave_it_open_for_good(swept):
    """0.3 s is longer than the 100 ms that Formula SAE T.4.2 lets a throttle be wrong for."""
    log = quiet(read_recording(OFFSET))
    on = key_on_rows(log)
    rate = log.rate_hz or 1.0 / log.step_s
    assert watched(swept, log)[0].state == "below"
    now, states = watched(swept, log, slice(on[500], on[500] + round(0.3 * rate)))
    assert now.state == "open"
    assert now.why[0][0] == "rows lost"
    assert "below" not in states[states.index("open"):]
    # Nor does it matter that the key is off again when the rows come back.
    off = on[np.flatnonzero(np.diff(on) > 1)[0]]
    assert watched(swept, log, slice(off - round(0.2 * rate), off + round(0.2 * rate)))[
        0].state == "open"
    # One row of a thousand is as good as a slower board.
    assert watched(swept, log, slice(on[500], on[500] + 1))[0].state == "below"


@pytest.mark.parametrize(("change", "code"), [
    (lambda c: () if c.role == "supply" else (c,), "supply not logged"),
    (lambda c: () if c.column == "b" else (c,), "track not logged"),
    (lambda c: (replace(c, readings=np.full(c.readings.shape, c.full_scale - 1.0)),)
     if c.role == "supply" else (c,), "supply clipped"),
    (lambda c: (replace(c, readings=np.zeros(c.readings.shape)),)
     if c.column == "b" else (c,), "track clipped"),
    (lambda c: (replace(c, column="other"),) if c.column == "b" else (c,), "no start of travel"),
    # The supply may be switched by the key and tells it then; without either nothing does.
    (lambda c: () if c.role in ("key", "supply") else (c,), "key not logged"),
    (lambda c: (replace(c, readings=np.zeros(c.readings.shape)),)
     if c.role == "supply" else (c,), "no reading"),
])
def test_what_was_not_seen_is_never_below(swept, change, code):
    """Issue 14: what was not seen leaves the claim open."""
    log = quiet(read_recording(OFFSET))
    log = replace(log, channels=tuple(made for c in log.channels for made in change(c)))
    now, states = watched(swept, log)
    assert code in [c for c, _ in now.why]
    assert now.state in ("open", "passed")
    assert "below" not in states


def test_a_board_slower_than_a_controller_acts_is_open(swept):
    """5 rows a second: 200 ms lie between two, and Formula SAE T.4.2 allows 100."""
    log = quiet(read_recording(OFFSET))
    every = round(0.2 * (log.rate_hz or 1.0 / log.step_s))
    slow = tuple(replace(c, readings=c.readings[::every]) for c in log.channels)
    now, _ = watched(swept, replace(
        log, time_s=log.time_s[::every], rate_hz=5.0, marks=(), channels=slow))
    assert "rate too low" in [c for c, _ in now.why]
    assert now.state == "open"


def test_another_pedal_and_no_sweep_at_all_are_open(swept):
    log = quiet(read_recording(OFFSET))
    assert watched(swept, log, other_pedal=True)[0].state == "open"
    now, _ = watched(None, log)
    assert now.state == "open"
    assert now.why[0] == ("no start of travel", {"tracks": ("a", "b")})


def test_one_reading_past_start_of_travel_stays_passed(swept):
    log = quiet(read_recording(OFFSET))
    track = log.channel("a")
    readings = track.readings.copy()
    row = key_on_rows(log)[1000]
    readings[row] *= 1.3
    log = replace(log, channels=tuple(
        replace(c, readings=readings) if c.column == "a" else c for c in log.channels))
    now, states = watched(swept, log)
    assert now.state == "passed"
    assert now.first_passed == 1
    assert [t.passed for t in now.tracks] == [True, False]
    assert set(states[states.index("passed"):]) == {"passed"}
    # The same with the key off is no power: nothing is judged then.
    readings[row], readings[100] = readings[row - 1], 1.3 * readings[100]
    log = replace(log, channels=tuple(
        replace(c, readings=readings) if c.column == "a" else c for c in log.channels))
    assert watched(swept, log)[0].state == "below"


def resting(swept, off=0.0, supply=5.0, key=0.0, moving=0.0):
    """Return a second of both tracks `off` volts from the sweep's rest, by a 12-bit board."""
    time_s = np.arange(0.0, 1.0, 0.002)
    volts = [t.rest.value + off + moving * time_s for t in swept.tracks.values()]
    names = [*swept.tracks, "supply", "key"]
    roles = ["track"] * len(swept.tracks) + ["supply", "key"]
    scale = [supply / 5.0] * len(swept.tracks) + [1.0, 1.0]
    channels = tuple(Channel(n, r, np.empty(0), full_scale=4096.0, reference_volts=6.0)
                     for n, r in zip(names, roles, strict=True))
    columns = [np.broadcast_to(v, time_s.shape) * k for v, k in zip(
        [*volts, supply, key], scale, strict=True)]
    return channels, time_s, np.rint(np.stack(columns, axis=1) / 6.0 * 4096.0)


@pytest.mark.parametrize(("made", "answer"), [
    ({}, "yes"), ({"supply": 4.8}, "yes"), ({"off": 0.15}, "no"), ({"off": -0.15}, "no"),
    ({"supply": 0.02}, "no supply"), ({"key": 12.0 / 3}, "key on"), ({"moving": 0.5}, "moving")])
def test_whose_pedal_it_is_is_told_by_its_rest(swept, made, answer):
    """150 mV is far beyond what a sound pedal's returns scatter by (common practice, no source)."""
    same = same_pedal(swept, *resting(swept, **made))
    assert same.answer == answer
    for rest in same.rests:
        assert rest.off_volts == pytest.approx(made.get("off", 0.0), abs=0.005)


def test_without_a_sweep_or_its_tracks_nothing_is_said_of_the_pedal(swept):
    channels, time_s, readings = resting(swept)
    assert same_pedal(None, channels, time_s, readings) == SamePedal("no sweep")
    assert same_pedal(swept, channels, time_s[:0], readings[:0]).answer == "no board"
    renamed = (replace(channels[0], column="x"), *channels[1:])
    assert same_pedal(swept, renamed, time_s, readings).missing == ("a",)


def test_a_sweep_too_thin_to_tell_says_so(swept):
    """One press and its return: nothing says how far apart two returns of this pedal may lie."""
    made = simulate_sweep(pedal_named("healthy"), 200.0, motion=Motion(cycles=1, quick=0))
    thin = analyse(made.recording)
    channels, time_s, readings = resting(thin)
    assert same_pedal(thin, channels, time_s, readings) == SamePedal("sweep too thin")

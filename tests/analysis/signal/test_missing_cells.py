"""Readings that a logger left out are told as lost, per track; a slower column is not accused."""

import dataclasses

import numpy as np
import pytest
from said import fault_text

from analysis.evidence.sweep import AGREE, CONTACT, DEAD_BAND, RETURNS, SUPPLY
from analysis.model.recording import Recording
from analysis.pedal.faults import Fault
from analysis.pedal.findings import analyse
from analysis.pedal.travel import at_a_rail
from analysis.signal.missing_cells import lost_rows
from analysis.simulation import pedal_named, simulate_sweep
from bench.command_line import main

SWEEP = simulate_sweep(pedal_named("opposed"), rate_hz=100.0, seed=5)


def without(recording: Recording, **gone: np.ndarray) -> Recording:
    """Return the recording with those rows of its columns blank; gone: column -> mask."""
    return dataclasses.replace(recording, channels=tuple(
        dataclasses.replace(c, readings=np.where(gone[c.column], np.nan, c.readings))
        if c.column in gone else c for c in recording.channels))


def strokes(recording: Recording, low: float, high: float) -> np.ndarray:
    """Return where track a is between these shares of its range; its range is rest to full."""
    a = recording.channel("a").volts()
    bottom, top = np.quantile(a, [0.02, 0.98])
    return (a > bottom + low * (top - bottom)) & (a < bottom + high * (top - bottom))


def faults_of(recording: Recording) -> list[Fault]:
    return list(analyse(recording).faults)


def test_a_track_without_readings_at_one_place_is_told_once_with_all_it_takes_to_look() -> None:
    """What was blanked here is counted here: rows, times, place; it weighs what a dropout does."""
    gone = strokes(SWEEP.recording, 0.40, 0.44)
    times = int((np.diff(gone.astype(int)) == 1).sum())
    found = analyse(without(SWEEP.recording, b=gone))
    (fault,) = found.faults
    assert (fault.kind, fault.channel, fault.gravity) == ("no reading", "b", 3)
    assert f"no reading in {gone.sum()} rows, {times} times" in fault_text(fault)
    assert 38 < fault.travel_percent < 46
    rows = np.flatnonzero(gone)
    assert fault.time_s in SWEEP.recording.time_s[rows]
    assert not found.sound


@pytest.mark.parametrize("rows", [1, 3, 10, 40])
@pytest.mark.parametrize("column", ["a", "b"])
def test_one_loss_in_a_press_is_found_on_its_track_and_the_other_is_not_accused(
        column: str, rows: int) -> None:
    """The straight line drawn across a hole must not make the sound track look at fault."""
    presses = [p for p in analyse(SWEEP.recording).segments if p.kind == "press"]
    for press in presses[:6]:
        gone = np.zeros(SWEEP.recording.rows, dtype=bool)
        middle = (press.start + press.stop) // 2
        gone[middle: middle + rows] = True
        faults = faults_of(without(SWEEP.recording, **{column: gone}))
        assert [(f.kind, f.channel, f.gravity) for f in faults] == [("no reading", column, 3)]
        assert f"in {rows} row" in fault_text(faults[0])


def test_a_loss_at_rest_is_to_be_mended() -> None:
    """Nobody presses there, yet a controller would lose the track: mend before driving."""
    gone = np.zeros(SWEEP.recording.rows, dtype=bool)
    gone[20:30] = True
    assert [(f.kind, f.channel, f.gravity) for f in faults_of(
        without(SWEEP.recording, b=gone))] == [("no reading", "b", 2)]
    assert "-0 %" not in fault_text(faults_of(without(SWEEP.recording, b=gone))[0])


def test_a_track_that_was_never_read_is_told_once() -> None:
    """Blank from end to end: no level is made up for it ("stays at nan V")."""
    gone = np.ones(SWEEP.recording.rows, dtype=bool)
    told = faults_of(without(SWEEP.recording, b=gone))
    assert [(f.kind, f.channel, f.gravity) for f in told] == [("no reading", "b", 3)]
    assert "nan" not in fault_text(told[0])


def test_what_both_lose_together_is_the_recordings_loss_and_told_once() -> None:
    """A hole in the log is a gap to know of, though its cells do not all end at the same row."""
    a = np.zeros(SWEEP.recording.rows, dtype=bool)
    a[1000:1020] = True
    b = a.copy()
    b[1020] = True
    assert [(f.kind, f.channel, f.gravity) for f in faults_of(
        without(SWEEP.recording, a=a, b=b))] == [("gap", None, 1)]


def test_a_supply_without_readings_is_told_for_nothing_is_judged_there() -> None:
    """Without a supply there is no ratio; a supply recorded every second row lacks nothing."""
    gone = np.zeros(SWEEP.recording.rows, dtype=bool)
    gone[1500:1700] = True
    (fault,) = faults_of(without(SWEEP.recording, supply=gone))
    assert (fault.kind, fault.channel, fault.gravity) == ("supply lost", "supply", 1)
    assert "in 200 rows" in fault_text(fault)
    assert faults_of(without(SWEEP.recording, supply=every(gone.size, 1 / 2))) == []


@pytest.mark.parametrize("nothing", [np.nan, 0.0])
def test_what_rests_on_a_supply_that_is_missing_for_long_is_open(nothing: float) -> None:
    """A third of the sweep without a supply: no claim that needs a ratio is sound."""
    rows = np.arange(SWEEP.recording.rows)
    gone = (rows > rows.size // 3) & (rows < 2 * rows.size // 3)
    supply = SWEEP.recording.channel("supply")
    found = analyse(dataclasses.replace(SWEEP.recording, channels=tuple(
        dataclasses.replace(c, readings=np.where(gone, nothing, c.readings)) if c is supply else c
        for c in SWEEP.recording.channels)))
    states = {c.claim: c.state for c in found.claims}
    assert "sound" not in {states[c] for c in (CONTACT, AGREE, RETURNS, SUPPLY, DEAD_BAND)}
    assert [(f.channel, f.gravity) for f in found.faults if f.kind == "supply lost"] == [
        ("supply", 1)]
    assert "no return" not in {f.kind for f in found.faults}


def test_both_losing_at_one_place_of_every_stroke_is_no_hole_in_the_log() -> None:
    """A logger does not know where the pedal is; a lead that the pedal pulls on does."""
    gone = strokes(SWEEP.recording, 0.60, 0.64)
    (fault,) = faults_of(without(SWEEP.recording, a=gone, b=gone))
    assert (fault.kind, fault.channel, fault.gravity) == ("gap", None, 3)


def every(rows: int, share: float, phase: float = 0.0) -> np.ndarray:
    """Return where a column has no reading that is read `share` times a row, at even times."""
    ticks = np.floor((np.arange(rows) + phase) * share)
    return np.diff(ticks, prepend=ticks[0] - 1) == 0


@pytest.mark.parametrize("share", [1 / 2, 1 / 3, 1 / 5, 0.3, 0.7])
def test_a_column_recorded_less_often_is_not_accused(share: float) -> None:
    """A merged log leaves the slower column blank in between: nothing was lost."""
    rows = SWEEP.recording.rows
    assert faults_of(without(SWEEP.recording, b=every(rows, share))) == []


def test_two_columns_on_clocks_of_their_own_are_not_accused() -> None:
    """Rows of two loggers put in order of time: every row has the reading of one of them."""
    step = 0.01
    own_a = np.arange(800) * step
    own_b = np.arange(360) * (step / 0.45) + 0.0037
    times = np.concatenate([own_a, own_b])
    order = np.argsort(times)
    is_a = (np.arange(times.size) < own_a.size)[order]
    usual = float(np.median(np.diff(times[order])))
    assert not lost_rows(is_a, times[order], usual).any()
    assert not lost_rows(~is_a, times[order], usual).any()


def test_a_slower_column_that_loses_more_than_its_rate_explains_is_told() -> None:
    """Of every second row, three readings in a row are missing: seven rows without any."""
    rows = SWEEP.recording.rows
    gone = every(rows, 1 / 2)
    gone[1000:1006] = True
    (fault,) = faults_of(without(SWEEP.recording, b=gone))
    assert (fault.kind, fault.channel) == ("no reading", "b")
    assert "in 7 rows" in fault_text(fault)


def test_a_loss_of_chance_rows_is_told_however_many() -> None:
    """Blanks by chance follow no rate, so none is excused (seeded dice, common practice)."""
    for share in (0.001, 0.02, 0.25, 0.6):
        gone = np.random.default_rng(3).random(5000) < share
        assert np.array_equal(lost_rows(~gone, np.arange(5000) / 100.0, 0.01), gone)


def test_a_log_with_ol_in_it_does_not_pass_strict(tmp_path, capsys) -> None:
    """From the logger's file to the exit status: what it wrote as OL is not taken for nothing."""
    recording = SWEEP.recording
    gone = strokes(recording, 0.40, 0.44)
    a, b = (recording.channel(n).volts() for n in "ab")
    log = tmp_path / "ol.csv"
    log.write_text("t,a,b\n" + "".join(
        f"{t:.2f},{x:.4f},{'OL' if lost else f'{y:.4f}'}\n"
        for t, x, y, lost in zip(recording.time_s, a, b, gone, strict=True)))
    made = tmp_path / "made.csv"
    assert main(["import", str(log), "--step-volts", "0.001", "--out", str(made)]) == 0
    capsys.readouterr()
    assert main(["findings", str(made), "--strict", "--more"]) == 1
    assert f"no reading in {gone.sum()} rows" in " ".join(capsys.readouterr().out.split())


def test_import_tells_in_one_line_per_column_what_is_missing_and_how_it_was_written(
        tmp_path, capsys) -> None:
    """Written here: 3 OL and 1 blank in b, from line 42 on; a slower supply, 100 of 200 blank."""
    lines = ["t,a,b,supply"]
    for row in range(200):
        b = {40: "OL", 41: "OL", 42: "ol", 90: ""}.get(row, f"{1.5 + 0.01 * (row % 7):.3f}")
        supply = "5.001" if row % 2 == 0 else ""
        lines.append(f"{row / 100:.2f},{1.0 + 0.013 * (row % 17):.3f},{b},{supply}")
    log = tmp_path / "log.csv"
    log.write_text("\n".join(lines) + "\n")
    assert main(["import", str(log), "--step-volts", "0.001"]) == 0
    told = capsys.readouterr().err.splitlines()
    (lost,) = [line for line in told if "missing or out of range" in line]
    assert "4 of 200 readings of 'b' are missing or out of range (OL 2, ol 1, blank 1; " in lost
    assert "first: line 42" in lost
    (slower,) = [line for line in told if "less often" in line]
    assert "'supply'" in slower
    assert "100 of 200" in slower
    assert not any("'a'" in line and ("missing" in line or "less often" in line) for line in told)


def merged_clocks(jitter_s: float, own_b_s: float = 0.02) -> Recording:
    """Return the healthy sweep as two messages in order of time, both off by chance up to that."""
    dice = np.random.default_rng(3)
    whole = SWEEP.recording
    t = whole.time_s
    own_a = t + dice.uniform(-jitter_s, jitter_s, t.size)
    own_b = np.arange(0.003, t[-1], own_b_s)
    own_b = own_b + dice.uniform(-jitter_s, jitter_s, own_b.size)
    times = np.concatenate([own_a, own_b])
    order = np.argsort(times)
    blank_a, blank_b = np.full(own_b.size, np.nan), np.full(own_a.size, np.nan)
    a = whole.channel("a").readings.astype(float)
    b = np.round(np.interp(own_b, t, whole.channel("b").readings))
    merged = {"a": np.concatenate([a, blank_a]), "b": np.concatenate([blank_b, b])}
    return dataclasses.replace(
        whole, time_s=times[order] - times.min(), marks=(), channels=tuple(
            dataclasses.replace(c, readings=merged[c.column][order])
            for c in whole.channels if c.column in merged))


@pytest.mark.parametrize("jitter_s", [0.0, 0.001, 0.003, 0.006])
def test_jitter_of_two_merged_clocks_is_no_loss(jitter_s: float) -> None:
    """Every reading taken is there: with 10 ms a step and 6 ms of jitter, and nothing is lost."""
    merged = merged_clocks(jitter_s)
    for name in "ab":
        known = np.isfinite(merged.channel(name).readings)
        assert not lost_rows(known, merged.time_s, merged.step_s).any()
    assert [f for f in faults_of(merged) if f.kind == "no reading"] == []


def test_five_readings_lost_in_jittered_clocks_are_still_told() -> None:
    """Five steps of 20 ms without b, taken out here, are longer than 3 ms either way explain."""
    merged = merged_clocks(0.003)
    read = np.flatnonzero(np.isfinite(merged.channel("b").readings))
    gone = np.zeros(merged.rows, dtype=bool)
    gone[read[500:505]] = True
    known = np.isfinite(merged.channel("b").readings) & ~gone
    lost = lost_rows(known, merged.time_s, merged.step_s)
    assert lost[gone].all()
    assert not lost[: read[499]].any()
    assert not lost[read[505]:].any()


def test_where_most_blanks_would_be_lost_it_is_said_that_they_cannot_be_told() -> None:
    """b comes in bursts between long silences, in rows of several clocks: no rate is known."""
    merged = merged_clocks(0.003)
    dice = np.random.default_rng(7)
    gone = np.zeros(merged.rows, dtype=bool)
    at = 0
    while at < gone.size:
        at += int(dice.integers(40, 60))
        quiet = int(dice.choice([20, 90]))
        gone[at: at + quiet] = True
        at += quiet
    told = [f for f in faults_of(without(merged, b=gone)) if f.channel == "b"
            and f.kind == "no reading"]
    assert [f.gravity for f in told] == [1]
    assert "recorded unevenly: its blanks cannot be told from losses" in fault_text(told[0])


@pytest.mark.parametrize("offset", [1, 5, 19])
def test_a_slower_column_lacks_nothing_before_its_first_and_after_its_last(offset: int) -> None:
    """Every twentieth row from row 0..19 on: the first may come just short of its step late."""
    blank = np.ones(SWEEP.recording.rows, dtype=bool)
    blank[offset::20] = False
    assert not lost_rows(~blank, SWEEP.recording.time_s, SWEEP.recording.step_s).any()
    late = blank.copy()
    late[:60] = True
    lost = lost_rows(~late, SWEEP.recording.time_s, SWEEP.recording.step_s)
    assert lost[:60].all()


# Five losses of 80 ms in the middle of presses, made here.
LET_GO_ROWS = 8


def let_go(rate_hz: float = 100.0, rows: int = LET_GO_ROWS) -> tuple[Recording, list[float]]:
    """Return a sweep of which a falls to 0 V in the middle of five presses; and when."""
    whole = simulate_sweep(pedal_named("opposed"), rate_hz=rate_hz, seed=5).recording
    presses = [s for s in analyse(whole).segments if s.kind == "press"][:5]
    starts = [(p.start + p.stop) // 2 for p in presses]
    zero = np.zeros(whole.rows, dtype=bool)
    for start in starts:
        zero[start: start + rows] = True
    channels = tuple(dataclasses.replace(c, readings=np.where(zero, 0.0, c.readings))
                     if c.column == "a" else c for c in whole.channels)
    return dataclasses.replace(whole, channels=channels), [float(whole.time_s[s]) for s in starts]


def blank_rows(recording: Recording, kind: str) -> Recording:
    rows = np.arange(recording.rows)
    return without(recording, **{
        "alternate": {"a": rows % 2 == 1, "b": rows % 2 == 0},
        "a every second": {"a": rows % 2 == 1},
        "b every second": {"b": rows % 2 == 1},
        "b every tenth": {"b": rows % 10 != 0}}[kind])


@pytest.mark.parametrize("rate_hz", [100.0, 250.0])
@pytest.mark.parametrize("kind", ["alternate", "a every second", "b every second",
                                  "b every tenth"])
def test_dropouts_are_told_though_the_tracks_are_not_read_in_the_same_rows(
        kind: str, rate_hz: float) -> None:
    """Two messages in one log leave every other cell blank; what a reads is there all the same."""
    recording, starts = let_go(rate_hz, round(LET_GO_ROWS * rate_hz / 100.0))
    told = faults_of(blank_rows(recording, kind))
    assert {(f.kind, f.channel, f.gravity) for f in told} == {("dropout", "a", 3)}
    assert len(told) == len(starts)
    for fault, start in zip(sorted(told, key=lambda f: f.time_s), starts, strict=True):
        assert fault.time_s == pytest.approx(start, abs=0.03)


@pytest.mark.parametrize("name", ["healthy", "opposed"])
@pytest.mark.parametrize("rate_hz", [50.0, 100.0, 400.0])
@pytest.mark.parametrize("kind", ["alternate", "b every second", "b every tenth"])
def test_a_sound_pedal_read_in_other_rows_is_not_accused(
        name: str, rate_hz: float, kind: str) -> None:
    whole = simulate_sweep(pedal_named(name), rate_hz=rate_hz, seed=8).recording
    assert faults_of(blank_rows(whole, kind)) == []


def test_the_jump_to_a_rail_is_from_the_last_reading_to_the_next() -> None:
    """From mid range to 0 V in 10 ms, blanks between: read at rows 0, 2, 4, ... of 200 Hz."""
    volts = np.full(40, 2.5)
    volts[10:21] = 0.0
    volts[1::2] = np.nan
    marked = at_a_rail(volts, np.zeros(40, dtype=bool), 5.0, 0.005)
    assert np.flatnonzero(marked).tolist() == list(range(10, 21))
    assert not at_a_rail(volts, np.zeros(40, dtype=bool), 5.0, 0.011).any()  # 22 ms: a foot can


@pytest.mark.parametrize("dead", ["never read", "at 0 V"])
def test_beside_a_dead_track_the_other_ones_losses_are_its_own(dead: str) -> None:
    """One track left: what it loses is its loss, not a hole in the log, though b is never read."""
    gone = strokes(SWEEP.recording, 0.40, 0.44)
    if dead == "never read":
        recording = without(SWEEP.recording, a=gone, b=np.ones(gone.size, dtype=bool))
    else:
        recording = without(SWEEP.recording, a=gone)
        recording = dataclasses.replace(recording, channels=tuple(
            dataclasses.replace(c, readings=np.zeros(gone.size)) if c.column == "b" else c
            for c in recording.channels))
    told = [f for f in faults_of(recording) if f.channel == "a" and f.kind == "no reading"]
    assert [f.gravity for f in told] == [3]
    assert f"track a gives no reading in {gone.sum()} rows" in fault_text(told[0])
    assert [f for f in faults_of(recording) if f.kind == "gap"] == []


def test_holes_in_the_log_at_held_full_presses_are_holes_in_the_log() -> None:
    """The pedal stays at full, so a hole falls there by chance as it does at rest."""
    gone = np.zeros(SWEEP.recording.rows, dtype=bool)
    holds = [s for s in analyse(SWEEP.recording).segments if s.kind == "hold"][:4]
    assert len(holds) == 4
    for hold in holds:
        middle = (hold.start + hold.stop) // 2
        gone[middle: middle + 10] = True
    (fault,) = faults_of(without(SWEEP.recording, a=gone, b=gone))
    assert (fault.kind, fault.channel, fault.gravity) == ("gap", None, 1)


@pytest.mark.parametrize("every_nth", [2, 4, 10])
def test_a_loss_between_two_readings_of_a_slower_supply_is_told(every_nth: int) -> None:
    """a is read in every row, and at 0 V in some where the supply is not read."""
    recording, starts = let_go(100.0, 12)
    seen = recording.channel("a").volts() == 0.0
    blank = np.arange(recording.rows) % every_nth != 0
    # Where the supply is read, a holds its contact: only what lies between its readings is lost.
    kept = np.interp(recording.time_s, recording.time_s[~seen],
                     recording.channel("a").readings[~seen])
    channels = tuple(
        dataclasses.replace(c, readings=np.where(blank, c.readings, np.round(kept)))
        if c.column == "a" else c for c in recording.channels)
    told = faults_of(without(dataclasses.replace(recording, channels=channels), supply=blank))
    assert {(f.kind, f.channel, f.gravity) for f in told} == {("dropout", "a", 3)}
    assert len(told) >= len(starts)


@pytest.mark.parametrize("every_nth", [2, 4, 10])
def test_a_slower_supply_accuses_no_sound_pedal(every_nth: int) -> None:
    blank = np.arange(SWEEP.recording.rows) % every_nth != 0
    assert faults_of(without(SWEEP.recording, supply=blank)) == []


def test_a_single_track_read_in_every_second_row_keeps_its_dropouts() -> None:
    """Track and supply as two messages of 50 a second each: five losses are five losses."""
    recording, starts = let_go()
    alone = dataclasses.replace(recording, channels=tuple(
        c for c in recording.channels if c.column != "b"))
    even = np.arange(alone.rows) % 2 == 0
    told = faults_of(without(alone, a=~even, supply=even))
    assert [(f.kind, f.channel, f.gravity) for f in told] == [("dropout", "a", 3)] * len(starts)


@pytest.mark.parametrize("seed", range(4))
def test_columns_polled_whenever_there_is_time_lose_nothing_by_it(seed: int) -> None:
    """Two columns whose waits are drawn at random, most waits short, some long; none is lost."""
    dice = np.random.default_rng(seed)
    for shortest in (0.0, 0.8):
        own = [np.cumsum(step * (shortest + dice.exponential(1.0 - shortest, 4000)))
               for step in (0.01, 0.02)]
        own = [t[t < 39.0] for t in own]
        times = np.concatenate(own)
        order = np.argsort(times)
        first = (np.arange(times.size) < own[0].size)[order]
        usual = float(np.median(np.diff(times[order])))
        for known in (first, ~first):
            assert not lost_rows(known, times[order], usual).any()
        # Half a second without the first column is none of its waits.
        gone = (times[order] > 20.0) & (times[order] < 20.5)
        lost = lost_rows(first & ~gone, times[order], usual)
        assert lost[gone].all()

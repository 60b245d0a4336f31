"""Key-ons of a drive count toward the promise as those of a key-on log do, and no others."""

from dataclasses import replace

import numpy as np
import pytest
from places import ROOT

from analysis.key_on.analyse import analyse_key_on
from analysis.model.recording import Channel, Mark, Recording
from analysis.pedal.car_returns import CarReturns, joined
from analysis.proof.drive_returns import NO_KEY_LINE, NOTHING_FOLLOWS, drive_returns
from bench.services.findings import open_findings

RATE = 200.0
# Seconds of the key being turned on, each 3 s after a press ended; the drive is from 30 to 50 s.
ON_S = (6.0, 16.0, 26.0, 60.0, 70.0)
RESTS = (0.7504, 0.7512, 0.7498, 0.7520, 0.7509)


@pytest.fixture(scope="module")
def sweep():
    """The healthy pair of the samples: it rests at 0.7510 and 0.7608 V."""
    return open_findings(ROOT / "sample_sweeps" / "synthetic_healthy_pair.csv")


def press(t, start, end, depth):
    return depth * np.clip(np.minimum((t - start) / 0.4, (end - t) / 0.4), 0.0, 1.0)


def drive(presses=True, shallow=0.03, lift=0.0, key=True):
    """Return a log of key-ons at ON_S; shallow: a foot that only touches the pedal in the drive."""
    rng = np.random.default_rng(4)
    t = np.arange(int(76 * RATE)) / RATE
    foot, level, on = np.zeros(t.size), np.full(t.size, RESTS[0]), np.zeros(t.size)
    for number, (at, rest) in enumerate(zip(ON_S, RESTS, strict=True)):
        end = ON_S[number + 1] - 5.0 if number + 1 < len(ON_S) else t[-1] + 1
        on[(t >= at) & (t < end)] = 1.0
        if presses:
            foot = np.maximum(foot, press(t, at - 4.5, at - 3.0, 0.3))
        level[t >= at - 3.7] = rest
    for start in np.arange(31.0, 48.0, 4.0):
        foot = np.maximum(foot, press(t, start, start + 2.5, 0.5))
    foot = np.maximum(foot, press(t, 48.5, 49.8, shallow))
    a, b = (level + x + foot * 3.48 + lift * on * (t > 60) for x in (0.0, 0.0098))
    columns = [("a", "track", a), ("b", "track", b), ("supply", "supply", np.full(t.size, 5.0)),
               *([("key", "key", 12.0 * on)] if key else [])]
    channels = tuple(Channel(n, r, v + rng.normal(0, 0.001, t.size), "V") for n, r, v in columns)
    marks = ((0.0, "key-ons cold"), (30.0, "drive"), (50.0, "key-ons warm"))
    return Recording(t, channels, tuple(Mark(int(s * RATE), w) for s, w in marks), "", "proof", "",
                     RATE)


def test_each_key_on_after_a_press_counts_cold_and_warm_apart(sweep):
    """The five rests that were put in; three before the wheels turned, two after."""
    found = drive_returns(drive(), sweep.parameters, sweep)
    assert (found.cold, found.warm, found.hidden_by) == (3, 2, ())
    assert found.returns["a"].levels == pytest.approx(RESTS, abs=2e-4)
    assert found.returns["b"].levels == pytest.approx([r + 0.0098 for r in RESTS], abs=2e-4)


def test_it_is_the_rule_of_a_key_on_log(sweep):
    """The standing part, its presses marked by hand, gives the same returns as a key-on log."""
    made = drive()
    rows = int(30 * RATE)
    part = Recording(made.time_s[:rows], tuple(
        replace(c, readings=c.readings[:rows]) for c in made.channels),
        tuple(Mark(int((at - 4.0) * RATE), "foot") for at in ON_S[:3]), "", "key-on", "", RATE)
    log = analyse_key_on(part, sweep.parameters, (), sweep)
    assert log.hidden_by == ()
    driven = drive_returns(made, sweep.parameters, sweep)
    assert driven.returns["a"].levels[:3] == pytest.approx(log.returns["a"].levels, abs=1e-9)


def test_a_key_on_without_a_press_is_no_return(sweep):
    """Only the one after the drive finds a pedal pressed since (docs/method_deadband.md)."""
    found = drive_returns(drive(presses=False), sweep.parameters, sweep)
    assert (found.cold, found.warm) == (0, 1)
    assert drive_returns(drive(presses=False, shallow=0.0), sweep.parameters, sweep).count == 1


def test_without_a_key_line_nothing_counts(sweep):
    """Nothing else tells key on from a foot in a drive (common practice, no source)."""
    assert drive_returns(drive(key=False), sweep.parameters, sweep).hidden_by == (NO_KEY_LINE,)


def test_what_hides_a_level_lets_none_count(sweep):
    """A clipped supply, no supply, a track that was not read: each is named."""
    made = drive()
    supply = made.channel("supply")
    codes = replace(supply, unit="counts", full_scale=1024.0, reference_volts=4.0,
                    readings=np.full(made.rows, 1023.0))
    for channels, code in (
            ([c for c in made.channels if c.role != "supply"], "supply not logged"),
            ([codes if c.role == "supply" else c for c in made.channels], "supply clipped")):
        found = drive_returns(replace(made, channels=tuple(channels)), sweep.parameters, sweep)
        assert code in found.hidden_by
        assert found.count == 0
    dead = np.where(made.time_s < 20, np.nan, made.channel("b").readings)
    blind = replace(made, channels=tuple(
        replace(c, readings=dead) if c.column == "b" else c for c in made.channels))
    assert drive_returns(blind, sweep.parameters, sweep).count == 0


def test_a_key_fed_pedal_counts_for_nothing(sweep):
    """With the key off neither supply nor tracks are there: no rest before key-on was seen."""
    made = drive()
    on = made.channel("key").readings > 6
    fed = replace(made, channels=tuple(c if c.role == "key" else replace(
        c, readings=np.where(on, c.readings, 0.0)) for c in made.channels))
    found = drive_returns(fed, sweep.parameters, sweep)
    assert (found.count, found.hidden_by) == (0, (NOTHING_FOLLOWS,))


def test_a_key_on_that_passes_the_start_of_travel_is_told_and_counts_nothing(sweep):
    """100 mV at the standing key-ons, beyond the start that is issued; 20 mV are within it."""
    found = drive_returns(drive(lift=0.1), sweep.parameters, sweep)
    assert (found.count, found.applied, found.hidden_by) == (0, True, ("power came",))
    less = drive_returns(drive(lift=0.02), sweep.parameters, sweep)
    assert (less.count, less.applied) == (5, False)
    assert less.adds["a"].volts > 0.02


def test_returns_of_two_logs_are_one_in_order_of_time():
    """The earlier log first, whichever is named first; the coarser converter counts."""
    both = joined([(CarReturns((3.0, 4.0), (1.0, 2.0), 0.001), 1000.0),
                   (CarReturns((1.0, 2.0), (5.0, 9.0), 0.005), 0.0)])
    assert both == CarReturns((1.0, 2.0, 3.0, 4.0), (5.0, 9.0, 1001.0, 1002.0), 0.005)

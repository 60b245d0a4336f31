"""What kind of pedal it is decides its words, faults and remedies; the header keeps it.

No outside source: the promise is the project's own. The volts are those put into each recording.
"""

from dataclasses import replace

import numpy as np
import pytest
from places import ROOT
from said import as_text, as_texts

from analysis.model.pedal_kind import KIND_KEY, KINDS, USE_KEY
from analysis.parameters import Parameters
from analysis.pedal.dead_band import INPUT
from analysis.pedal.findings import analyse, decide
from analysis.simulation import pedal_named, simulate_sweep
from bench.files.recording_file import read_recording
from bench.files.recording_writer import write_recording
from bench.wording.short import short_line

SAMPLES = ROOT / "sample_sweeps"


def sweep(name="healthy", **said):
    made = simulate_sweep(pedal_named(name), 200.0, 12, seed=3).recording
    return replace(made, extra={**made.extra, **said})


def everything_said(findings):
    """Return every sentence that a person reads of a sweep."""
    remedies = [r.why for several in findings.remedies.values() for r in several]
    return "\n".join([*as_texts(findings.graded), *as_texts(f.why for f in findings.faults),
                      *map(as_text, remedies), *map(short_line, findings.coded)])


@pytest.mark.parametrize("name", ["healthy", "worn-spot", "off-at-rest", "dropouts"])
def test_a_hall_pedal_is_told_neither_to_trim_nor_of_a_worn_track(name):
    """Whatever it shows, and with a target too: nothing of it is a wiper or an element."""
    parameters = Parameters(target_rest_volts={"b": 0.70})
    findings = analyse(sweep(name, pedal_kind="hall"), parameters)
    said = everything_said(findings)
    for word in ("worn", "wiper", "potentiometer", "put ", " degrees"):
        assert word not in said
    assert "a Hall sensor has no track to turn" in said
    assert not any(np.isfinite(r.amount) for several in findings.remedies.values()
                   for r in several if r.kind != "dead band")


def test_the_same_readings_of_potentiometers_are_told_of_wear():
    """The words go by the kind alone; a parameter says it as the header does, and takes it back."""
    plain = analyse(sweep("worn-spot"))
    assert "worn track" in everything_said(plain)
    stated = decide(plain, Parameters(pedal_kind="hall"))
    assert "worn" not in everything_said(stated)
    assert stated.recording.pedal.kind == "hall"
    again = decide(stated, Parameters())
    assert everything_said(again) == everything_said(plain)
    assert again.recording.pedal == plain.recording.pedal


def test_a_sensor_with_its_own_reference_keeps_its_volts():
    """A supply of 5.25 V, 5 % high: volts as measured, no ratio taken of them."""
    made = sweep()
    high = tuple(replace(c, readings=c.readings / 1.05) if c.role == "track" else c
                 for c in made.channels)
    of_its_own = replace(made, channels=high, extra={**made.extra, KIND_KEY: "hall-fixed"})
    following = replace(of_its_own, extra={**made.extra, KIND_KEY: "hall"})
    supply = following.usual_supply_volts / following.nominal_volts
    own, ratio = analyse(of_its_own), analyse(following)
    assert own.tracks["a"].rest.value == pytest.approx(
        supply * ratio.tracks["a"].rest.value, rel=2e-3)
    lines = {i.name: i.volts for i in own.dead_bands["a"].items}
    # The controller's scale goes by a supply that may be 2 % off.
    assert lines["supply"] == pytest.approx(0.02 * own.tracks["a"].rest.value)
    assert {i.name: i.volts for i in ratio.dead_bands["a"].items}["supply"] == 0.0


def test_a_driven_output_is_hardly_moved_by_a_load():
    """100 ohm into 100 kohm on 4.25 V: a divider of 1 in 1001, not the 5 kohm track's."""
    findings = analyse(sweep("opposed", pedal_kind="hall"))
    rest = findings.tracks["b"].rest.value
    line = next(i for i in findings.dead_bands["b"].items if i.name == INPUT)
    assert line.volts == pytest.approx(rest * 100 / 100_100, rel=1e-6)


@pytest.mark.parametrize("kind", KINDS)
def test_the_recording_keeps_its_kind(tmp_path, kind):
    """Written and read again, the header says the same."""
    path = write_recording(tmp_path / "pedal.csv", sweep(pedal_kind=kind, pedal_use="brake"))
    read = read_recording(path)
    assert (read.pedal.kind, read.pedal.use, read.pedal.stated) == (kind, "brake", True)
    assert {KIND_KEY, USE_KEY} <= set(read.extra)


def test_a_kind_that_nobody_knows_counts_as_not_said():
    """A word of a later version is kept, and the pedal taken for what it was before."""
    pedal = sweep(pedal_kind="optical").pedal
    assert (pedal.kind, pedal.stated) == ("potentiometer", False)

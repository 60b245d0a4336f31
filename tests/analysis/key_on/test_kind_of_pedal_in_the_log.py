"""A key-on log is judged by the kind of its pedal; another kind than the sweep's is told.

And what its direction switch, where it is logged, says.

No outside source: the volts are those put into each log.
"""

from dataclasses import replace

import numpy as np
import pytest
from plain_car import PlainCar
from said import refuses

from analysis.key_on import analyse_key_on
from analysis.model.errors import BadRecording
from analysis.model.pedal_kind import KIND_KEY
from analysis.model.recording import Channel
from analysis.parameters import Parameters
from analysis.pedal.findings import analyse
from bench.files.recording_file import read_recording
from bench.services.key_on import pedal_of_log
from bench.services.record import Order


def supply_at(volts):
    """Return what puts the supply, and nothing else, at so many volts in the car."""
    def change(times, cycles, columns):
        columns["supply"] = columns["supply"] * volts / 5.0
    return change


@pytest.fixture(scope="module")
def swept(tmp_path_factory):
    """Return the findings of a sweep at 5.0 V by kind of pedal."""
    made = read_recording(PlainCar().sweep(tmp_path_factory.mktemp("kind") / "sweep.csv"))
    return {kind: analyse(replace(made, extra={**made.extra, KIND_KEY: kind}))
            for kind in ("hall-fixed", "potentiometer")}


@pytest.fixture(scope="module")
def logs(tmp_path_factory):
    """Return a quiet car whose supply reads 4.95 V, and one whose supply reads 4.7 V."""
    folder = tmp_path_factory.mktemp("logs")
    return {volts: read_recording(PlainCar(change=supply_at(volts)).log(
        folder / f"{volts}.csv")[0]) for volts in (4.95, 4.7)}


def codes(findings):
    return {f.code for f in findings.found}


def test_a_sensor_with_its_own_reference_is_judged_in_volts(swept, logs):
    """It keeps 0.70 V though the supply is 1 % low; as a share it would read 7 mV more.

    The car itself adds 2 mV (plain_car), one step of the converter is 1.4 mV.
    """
    own = analyse_key_on(logs[4.95], sweep=swept["hall-fixed"])
    assert own.recording.pedal.kind == "hall-fixed"
    rest = swept["hall-fixed"].tracks["a"].rest.value
    assert own.cycles[0].tracks["a"].before_volts == pytest.approx(rest, abs=0.002)
    ratio = analyse_key_on(logs[4.95], sweep=swept["potentiometer"])
    assert ratio.cycles[0].tracks["a"].before_volts == pytest.approx(rest / 0.99, abs=0.002)
    assert not codes(own) & {"supply moves a fixed sensor", "rest is not the sweep's"}


def test_a_supply_that_moves_more_than_allowed_is_told_of_such_a_sensor(swept, logs):
    """5 / 4.7 is 6.4 % to a controller that measures by it; 2 % are allowed. Not to another."""
    found = analyse_key_on(logs[4.7], sweep=swept["hall-fixed"])
    told = next(f for f in found.found if f.code == "supply moves a fixed sensor")
    assert told.values["off_percent"] == pytest.approx(100 * (5 / 4.7 - 1), abs=0.2)
    assert found.verdict.applied is not False
    free = Parameters(ratiometric_controller=False)
    assert "supply moves a fixed sensor" not in codes(
        analyse_key_on(logs[4.7], free, sweep=swept["hall-fixed"]))
    assert "supply moves a fixed sensor" not in codes(
        analyse_key_on(logs[4.7], sweep=swept["potentiometer"]))


def test_a_supply_that_rises_is_told_where_the_controller_measures_in_volts(swept, logs):
    """The ratio hides it: 5.3 V are 6 % more of a track that follows them; 2 % are allowed."""
    high = replace(logs[4.95], channels=tuple(
        replace(c, readings=c.readings * 5.3 / 4.95) if c.role in ("track", "supply") else c
        for c in logs[4.95].channels))
    volts = Parameters(ratiometric_controller=False)
    found = analyse_key_on(high, volts, sweep=swept["potentiometer"])
    told = next(f for f in found.found if f.code == "supply moves the readings")
    assert told.values["off_percent"] == pytest.approx(6.0, abs=0.2)
    assert told.values["allowed_percent"] == pytest.approx(2.0)
    assert found.verdict.applied is not False
    for quiet in (analyse_key_on(high, sweep=swept["potentiometer"]),
                  analyse_key_on(logs[4.95], volts, sweep=swept["potentiometer"])):
        assert "supply moves the readings" not in codes(quiet)


def test_a_log_of_another_kind_than_the_sweep_gives_no_values(swept, logs):
    """The log's header says Hall, the sweep's potentiometers: told, and nothing is issued."""
    log = replace(logs[4.95], extra={**logs[4.95].extra, KIND_KEY: "hall"})
    found = analyse_key_on(log, sweep=swept["potentiometer"])
    assert "another kind of pedal" in codes(found)
    assert not found.issued
    stated = analyse_key_on(log, Parameters(pedal_kind="potentiometer"),
                            sweep=swept["potentiometer"])
    assert "another kind of pedal" not in codes(stated)


def test_a_log_of_a_rheostat_is_not_judged(logs):
    """In the car another resistor, which nobody stated, makes its volts."""
    log = replace(logs[4.95], extra={**logs[4.95].extra, KIND_KEY: "rheostat"})
    with refuses(BadRecording, "rheostat"):
        analyse_key_on(log)


def test_a_log_takes_the_kind_of_its_sweep_into_its_header(tmp_path):
    """As the sweep's header says, unless the user says otherwise."""
    path = PlainCar().sweep(tmp_path / "sweep.csv")
    path.write_text(path.read_text("utf-8").replace(
        '# purpose = "sweep"', '# purpose = "sweep"\n# pedal_kind = "hall-fixed"', 1), "utf-8")
    said = pedal_of_log(path, Parameters(pedal_use="brake"))
    assert said == ("hall-fixed", "brake")
    assert Order(kind=said[0], use=said[1]).said == {
        "pedal_kind": "hall-fixed", "pedal_use": "brake"}
    assert pedal_of_log(path, Parameters(pedal_kind="hall"))[0] == "hall"
    assert pedal_of_log(None, Parameters()) == (None, None)


def test_the_direction_at_each_key_on_is_told_and_both_at_once_are_a_fault(swept, logs):
    """Forward up to the last key-on, reverse there; then forward is joined to it for 0.1 s."""
    log = logs[4.95]
    clean = analyse_key_on(log, sweep=swept["potentiometer"])
    last_s = clean.cycles[-1].on_s - 0.5
    reverse, both = log.time_s >= last_s, np.abs(log.time_s - last_s - 2.0) < 0.05
    lines = tuple(Channel(role, role, np.where(closed, 0.02, 4.97), unit="V", reading_step=0.005)
                  for role, closed in (("forward", ~reverse | both), ("reverse", reverse)))
    found = analyse_key_on(replace(log, channels=(*log.channels, *lines)),
                           sweep=swept["potentiometer"])
    told = next(n for n in found.notes if n.code == "direction in the log").values
    assert dict(told["states"]) == {"forward": len(clean.cycles) - 1, "reverse": 1}
    fault = next(f for f in found.found if f.code == "both directions closed")
    assert fault.values["seconds"] == pytest.approx(0.1, abs=0.02)
    assert clean.verdict.applied is False
    assert found.verdict.applied is None

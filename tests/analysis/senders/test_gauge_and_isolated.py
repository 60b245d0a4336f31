"""A sender with its gauge in parallel, and a pack behind an isolation amplifier: worked by hand."""

import numpy as np
import pytest
from said import refuses
from sender_verdict import named

from analysis.model.errors import BadParameter
from analysis.senders import Gauge, Isolated
from bench.wording.senders import caution_lines

GAUGE = Gauge(gauge_ohms=90.0, gauge_volts=12.0, top_ohms=47e3, bottom_ohms=22e3)
AMPLIFIER = Isolated(highest_volts=160.0, gain=8.2, top_ohms=1e6, bottom_ohms=1500.0)
OHMS = np.array([10.0, 33.0, 70.0, 110.0, 140.0, 180.0])


def test_the_junction_is_what_kirchhoff_gives_by_hand():
    """12/90 A into 1/90 + 1/33 + 1/69000 S is 3.2184 V, 22/69 of it 1.0262 V: by hand."""
    assert float(GAUGE.volts(np.array(33.0))) == pytest.approx(1.02616, abs=2e-5)
    assert float(GAUGE.shown(np.array(1.02616))) == pytest.approx(33.0, abs=2e-3)


def test_a_pull_up_beside_the_gauge_is_what_the_nodal_matrix_gives():
    """numpy.linalg.solve on the two-node conductance matrix, divider and leads as nodes."""
    sender = Gauge(gauge_ohms=120.0, gauge_volts=9.0, top_ohms=10e3, bottom_ohms=10e3,
                   known_ohms=1e3, lead_ohms=0.4)
    for ohms in (5.0, 60.0, 300.0):
        matrix = [[1 / 120 + 1 / 1e3 + 1 / 10e3 + 1 / (ohms + 0.4), -1 / 10e3],
                  [-1 / 10e3, 2 / 10e3]]
        pin = np.linalg.solve(matrix, [9 / 120 + 5 / 1e3, 0.0])[1]
        assert float(sender.volts(np.array(ohms))) == pytest.approx(pin, rel=1e-12)
        assert float(sender.shown(np.array(pin))) == pytest.approx(ohms, rel=1e-9)


def test_an_open_lead_would_put_the_gauges_supply_on_the_input():
    """With no divider 12 V reach the input: refused, with what to do; open and short are told."""
    with refuses(BadParameter, "put a divider in between"):
        Gauge(gauge_ohms=90.0, gauge_volts=12.0)
    found = {d.name for d in GAUGE.faults(np.array([float(GAUGE.open_volts) * 22 / 69, 0.0]))}
    assert found == {"open", "short"}


@pytest.mark.parametrize(("change", "name", "value"), [
    ({}, "as stated", None), ({"gauge_ohms": 120.0}, "gauge", 120.0),
    ({"lead_ohms": 4.0}, "lead resistance", 4.0)])
def test_a_gauge_that_is_not_as_stated_is_named(change, name, value):
    """Points of a sender with another gauge, or longer leads, by Kirchhoff, is named."""
    real = Gauge(**{**GAUGE.stated(), **change})
    found = named(GAUGE, real.volts(OHMS), OHMS)
    assert name in found
    if value is not None:
        assert found[name].value == pytest.approx(value, rel=0.03)


def test_a_pack_behind_an_amplifier_is_what_ohm_gives_by_hand():
    """144 V * 1500 / 1001500 * 8.2 = 1.7686 V; a module of 5 V for 500 V: 1.44 V; by hand."""
    assert float(AMPLIFIER.shown(np.array(1.76857))) == pytest.approx(144.0, abs=0.01)
    module = Isolated(highest_volts=400.0, gain=0.01)
    assert float(module.shown(np.array(1.44))) == pytest.approx(144.0)


def test_the_barrier_has_its_own_words_and_bounds_are_held():
    """ISO 6469-3 (60 V DC); the amplifier's and the board's input are never driven too far."""
    said = " ".join(caution_lines(AMPLIFIER.cautions()))
    assert "60 V DC" in said
    assert "barrier" in said
    assert "working voltage" in said
    with refuses(BadParameter, "on the amplifier's input, above its 0"):
        Isolated(highest_volts=400.0, gain=8.2, top_ohms=1e6, bottom_ohms=1500.0,
                 input_limit_volts=0.25)
    with refuses(BadParameter, "board's input"):
        Isolated(highest_volts=600.0, gain=0.01)
    with refuses(BadParameter, "go together"):
        Isolated(highest_volts=100.0, gain=0.01, top_ohms=1e6)


@pytest.mark.parametrize(("change", "name", "value"), [
    ({}, "as stated", None), ({"gain": 8.0 * 0.9}, "other gain", 7.2),
    ({"zero_volts": 0.05}, "zero offset", None), ({"gain": -8.2, "zero_volts": 2.5}, "sign swapped",
                                                  None)])
def test_an_amplifier_that_is_not_as_stated_is_named(change, name, value):
    """Lines of known gain and zero by Ohm; what is wrong is named, with its value."""
    real = Isolated(**{**AMPLIFIER.stated(), **change})
    line = np.array([20.0, 48.0, 72.0, 96.0, 120.0, 150.0])
    pin = real.zero_volts + real.gain * line / real.ratio
    found = named(AMPLIFIER, pin, line)
    assert name in found
    if value is not None:
        assert found[name].value == pytest.approx(value, rel=0.02)

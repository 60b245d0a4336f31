"""Senders at the ends of what they can be: refusals, odd ranges, and offsets of every kind."""

import numpy as np
import pytest
from said import as_text, as_texts, refuses
from sender_verdict import PIN, named

from analysis.model.errors import BadParameter
from analysis.model.number_format import ohm_text
from analysis.senders import (
    Divider,
    LoopSender,
    Platinum,
    Rheostat,
    Shunt,
    Thermistor,
    VoltSender,
    fit_beta,
    make_sender,
)
from analysis.senders.calibration import MeterSpec
from analysis.senders.platinum import resistance


@pytest.mark.parametrize(("kind", "stated", "words"), [
    ("volts", {"low_value": 5.0, "high_value": 5.0}, "state both ends of its range"),
    ("volts", {"low_volts": 1.0, "high_volts": 1.0}, "state both ends of its range"),
    ("loop", {"low_value": 3.0, "high_value": 3.0}, "state both ends of the range"),
    ("divider", {"top_ohms": 1e5, "bottom_ohms": 1e4, "highest_volts": 20.0, "input_ohms": 0.0},
     "input_ohms of the divider is 0"),
    ("divider", {"top_ohms": 1e5, "bottom_ohms": 1e4, "highest_volts": 20.0,
                 "other_ratios": (0.5,)}, "each is at least 1"),
    ("shunt", {"rated_amps": 200.0, "rated_millivolts": 50.0, "gain": 0.0},
     "give the amplifier's gain"),
    ("shunt", {"rated_amps": 200.0, "rated_millivolts": 50.0, "continuous_amps": -1.0},
     "give numbers of 0 or more"),
    ("platinum", {"known_ohms": 1e3, "r0_ohms": 1e6}, "has 10 to 10000"),
    ("rheostat", {"known_ohms": 1e3, "lead_ohms": -3.0}, "lead_ohms of the rheostat is -3"),
    ("rheostat", {"known_ohms": 1e3, "full_ohms": 0.0}, "full_ohms of the rheostat is 0"),
    ("sundial", {}, "no kind of sender 'sundial'; use one of divider"),
])
def test_stated_values_that_cannot_be_are_refused_in_one_line(kind, stated, words):
    """What cannot be is refused with the value or the remedy, on one line."""
    with refuses(BadParameter, words):
        make_sender(kind, stated)


@pytest.mark.parametrize(("ohms", "text"), [(0.25e-3, "0.25 mohm"), (47.0, "47 ohm"),
                                            (2200.0, "2.2 kohm"), (1.2e6, "1.2 Mohm"),
                                            (999.6, "1 kohm"), (0.0, "0 ohm"), (2e9, "2000 Mohm")])
def test_a_resistance_is_written_as_on_a_part(ohms, text):
    """Ohms are told with the prefix that a part has printed on it (SI prefixes)."""
    assert ohm_text(ohms) == text


# --- standard outputs ------------------------------------------------------------------------

def test_a_sender_of_an_unusual_range_is_told_its_own():
    """Ends that belong to no common range are told in volts, as a line through the points has."""
    sender = VoltSender(low_value=0, high_value=10)
    # Ends at 0.8 and 3.4 V by construction.
    found = named(sender, PIN, (PIN - 0.8) / 2.6 * 10)["unknown range"]
    assert found.value == pytest.approx(0.8, abs=0.01)
    assert "0.80 to 3.40 V" in as_text(found)


def test_a_lead_that_lifts_a_sender_is_an_offset():
    """A sender of 20 to 100 read 0.3 V too high everywhere is right in slope and off in zero."""
    sender = VoltSender(low_value=20, high_value=100)
    # 80 units over 5 V: 0.3 V are 4.8 units.
    found = named(sender, PIN + 0.3, 20 + 80 / 5 * PIN)
    assert set(found) == {"zero offset"}
    assert found["zero offset"].value == pytest.approx(-4.8, abs=0.05)
    assert "+4.800 unit (± 0.025)" in as_text(found["zero offset"])


def test_small_errors_that_add_up_are_not_passed_over():
    """Slope and zero each within 2 %, together beyond it at one end: the range found is told."""
    sender = VoltSender(low_value=0, high_value=100)
    # The line 1.018 x + 1.8 is 3.6 off at the top; it meets 0 and 100 at these volts.
    ends = [(q - 1.8) / 1.018 / 20 for q in (0.0, 100.0)]
    found = named(sender, PIN, 1.018 * 20 * PIN + 1.8, MeterSpec(0.0, 0, 0.001))
    assert "as stated" not in found
    (what,) = found.values()
    assert what.wrong
    assert f"{ends[0]:.2f} to {ends[1]:.2f} V" in as_text(what)


def test_a_loop_of_unusual_ends_is_told_its_own():
    """Ends that no resistor and no missing live zero explain are told in mA."""
    sender = LoopSender(low_value=0, high_value=10, sense_ohms=220)
    current = np.linspace(8, 20, 7)
    found = named(sender, current * 0.220, (current - 8) / 12 * 10)["unknown range"]
    assert found.value == pytest.approx(8.0, abs=0.05)
    assert "8.0 and 20.0 mA" in as_text(found)


def test_a_loop_that_runs_the_other_way_is_swapped():
    """A sender that falls while the meter rises is told to have its ends exchanged."""
    sender = LoopSender(low_value=0, high_value=10, sense_ohms=220)
    current = np.linspace(4, 20, 7)
    assert "sign swapped" in named(sender, current * 0.220, (20 - current) / 16 * 10)


@pytest.mark.parametrize(("ohms", "told"), [(240.0, True), (220.0, False)])
def test_a_failing_loop_may_exceed_the_input(ohms, told):
    """240 ohm suit 20 mA at a 5 V input (4.8 V) but not the 21 mA of a sender that failed."""
    # NAMUR NE 43: failure above 21 mA (from memory); Ohm's law: 5.04 V.
    notes = as_texts(LoopSender(sense_ohms=ohms).notes())
    assert bool(notes) == told
    assert not told or "5.04 V" in notes[0]


def test_a_loop_at_its_live_zero_is_no_fault():
    """4 mA is the bottom of the range, not a broken loop."""
    sender = LoopSender(sense_ohms=220)
    assert sender.faults(np.array([0.88, 4.4])) == ()
    assert [d.name for d in sender.faults(np.array([0.88, 0.0]))] == ["open"]


# --- rheostat --------------------------------------------------------------------------------

def test_a_rheostat_tells_how_much_of_the_supply_it_uses():
    """0 to 5 kohm over 2.2 kohm is 69 % of the supply, over 100 kohm hardly any."""
    # Ohm's law: 5000 / 7200 = 69 %, 5000 / 105000 = 5 %.
    assert as_texts(Rheostat(known_ohms=2200).notes()) == ["0 to 5000 ohm is 69 % of the supply"]
    (poor,) = as_texts(Rheostat(known_ohms=100e3).notes())
    assert "5 % of the supply; a known resistor nearer to full_ohms" in poor


def test_no_resistance_is_the_end_of_a_rheostat_and_no_short():
    """0 ohm is an end of its travel; only the open rail is a fault."""
    sender = Rheostat(known_ohms=2200)
    assert sender.faults(np.array([0.0])) == ()
    assert [d.name for d in sender.faults(np.array([4.99]))] == ["open"]
    # The rheostat between supply and input: the open rail is the lower one.
    turned = Rheostat(known_ohms=2200, to_ground=False)
    assert [d.name for d in turned.faults(np.array([0.0]))] == ["open"]
    assert turned.faults(np.array([5.0])) == ()


def test_a_rheostat_larger_than_stated_is_told():
    """A 10 kohm rheostat stated as 5 kohm reads right in ohms; its size is told."""
    sender = Rheostat(known_ohms=2200, full_ohms=5000)
    ohms = np.linspace(0, 10e3, 8)
    found = named(sender, sender.volts(ohms), ohms, MeterSpec(0.5, 2, 1.0))
    assert set(found) == {"as stated", "other full ohms"}
    assert found["other full ohms"].value == 10e3


def test_leads_stated_too_large_are_not_passed_as_stated():
    """Leads of 300 ohm stated where there are none make it read 300 ohm too low everywhere."""
    sender = Rheostat(known_ohms=2200, full_ohms=5000, lead_ohms=300)
    ohms = np.linspace(400, 5000, 8)
    volts = Rheostat(known_ohms=2200, full_ohms=5000).volts(ohms)
    found = named(sender, volts, ohms, MeterSpec(0.5, 2, 1.0))
    assert "as stated" not in found
    assert found["lead resistance"].value == pytest.approx(-300, abs=10)
    assert "300 ohm too low everywhere" in as_text(found["lead resistance"])


# --- shunt, divider --------------------------------------------------------------------------

def test_another_gain_is_told_where_no_shunt_explains_it():
    """A gain of 20 stated as 50 shows 0.4 of the current; no common shunt is 2.5 times as small."""
    sender = Shunt(rated_amps=350, rated_millivolts=75, gain=50, zero_volts=2.5, highest_amps=200)
    true = np.linspace(-150, 150, 9)
    found = named(sender, 2.5 + true * 0.075 / 350 * 20, true)
    assert found["other gain"].value == 20
    assert "0.4 times the true current" in as_text(found["other gain"])


@pytest.mark.parametrize(("zero", "amps", "count"), [(2.5, 150.0, 1), (0.0, 150.0, 2),
                                                     (0.0, 250.0, 3)])
def test_a_shunts_notes_are_those_that_apply(zero, amps, count):
    """Two thirds of 300 A are 200 A; without a zero in mid-scale no other sign can be read."""
    notes = as_texts(Shunt(rated_amps=300, rated_millivolts=75, gain=20, zero_volts=zero,
                           continuous_amps=amps).notes())
    assert len(notes) == count
    # 75 mV / 300 A is 0.25 mohm; 300 A x 75 mV is 22.5 W (Ohm's law).
    assert notes[0].startswith("0.25 mohm; 22.5 W at rating; continuously about 200 A")
    assert any("regeneration" in n for n in notes) == (zero == 0.0)


@pytest.mark.parametrize(("ratio", "text"), [(3.5, "3.5"), (5.35e3, "5350")])
def test_a_ratio_that_nothing_explains_is_told_as_it_is(ratio, text):
    """Neither a common tap nor a load: measure both resistors."""
    # 5350 would need a load of a few ohm across the bottom: no input is that.
    sender = Divider(top_ohms=40e3, bottom_ohms=10e3, highest_volts=24)
    found = named(sender, PIN, ratio * PIN)["unknown ratio"]
    assert found.value == pytest.approx(ratio, rel=0.01)
    assert f"divides by {text}" in as_text(found)


@pytest.mark.parametrize(("top", "bottom", "told"), [(4e3, 1e3, False), (400e3, 100e3, True)])
def test_a_divider_of_large_resistors_asks_for_a_capacitor(top, bottom, told):
    """A sampling input wants a source below about 10 kohm (usual in data sheets, from memory)."""
    notes = as_texts(Divider(top_ohms=top, bottom_ohms=bottom, highest_volts=24).notes())
    # Thevenin: 400 k in parallel to 100 k is 80 k.
    assert any("80 kohm: put 100 nF" in n for n in notes) == told


# --- temperatures ----------------------------------------------------------------------------

def test_a_platinum_that_reads_low_is_an_offset():
    """Leads stated too large make it read too cold; no lead resistance explains too few ohms."""
    sender = Platinum(known_ohms=1000, r0_ohms=1000, lead_ohms=12.0)
    celsius = np.array([0.0, 20, 40, 60, 80, 100])
    bare = Platinum(known_ohms=1000, r0_ohms=1000)
    found = named(sender, bare.volts(resistance(celsius, 1000.0)), celsius, MeterSpec(0.0, 1, 0.1))
    # 3.85 ohm is 1 K of a Pt1000 (IEC 60751): 12 ohm are 3.1 K.
    assert found["zero offset"].value == pytest.approx(3.1, abs=0.1)
    assert "3.07 K too low" in as_text(found["zero offset"])


def test_a_platinum_with_another_known_resistor_is_off_in_slope():
    """A known resistor of 1.03 kohm stated as 1 kohm is told as a slope, not as leads."""
    sender = Platinum(known_ohms=1000, r0_ohms=1000)
    celsius = np.array([-80.0, -40, 0, 40, 80, 120])
    other = Platinum(known_ohms=1030, r0_ohms=1000)
    volts = other.volts(resistance(celsius, 1000.0))
    # The stated 1 kohm makes 1/1.03 of the true ohms; IEC 60751 inverted at both ends.
    shown = sender.shown(volts)
    true = np.polyfit(shown, celsius, 1)[0]
    found = named(sender, volts, celsius, MeterSpec(0.0, 1, 0.1))
    assert set(found) == {"other slope"}
    assert found["other slope"].value == pytest.approx(true, rel=0.002)


def test_two_points_do_not_say_how_sure_beta_is():
    """Two points give beta exactly and its uncertainty not at all."""
    sender = Thermistor(known_ohms=10e3)
    celsius = np.array([0.0, 50.0])
    ohms = sender.resistance(celsius)
    r25, beta, error = fit_beta(ohms, celsius)
    # By definition of beta: ln(R1 / R2) / (1/T1 - 1/T2).
    assert beta == pytest.approx(np.log(ohms[0] / ohms[1]) / (1 / 273.15 - 1 / 323.15))
    assert r25 == pytest.approx(10e3)
    assert np.isnan(error)
    found = named(sender, sender.volts(ohms), celsius)
    assert "as stated" in found
    mistaken = named(sender, sender.volts(
        Thermistor(known_ohms=10e3, beta_kelvin=3435.0).resistance(celsius)), celsius)
    assert mistaken["beta mistaken"].value == pytest.approx(3435, abs=5)
    assert "nan" not in as_text(mistaken["beta mistaken"])
    assert "(from two points)" in as_text(mistaken["beta mistaken"])


def test_points_too_close_together_tell_nothing_of_a_thermistor():
    """Four points within 3 K leave beta open; ice water or hot water would tell."""
    sender = Thermistor(known_ohms=10e3)
    celsius = np.array([20.0, 21.0, 22.0, 23.0])
    found = named(sender, sender.volts(sender.resistance(celsius)), celsius)
    assert set(found) == {"narrow"}
    assert "span only 3 K" in as_text(found["narrow"])
    assert not found["narrow"].wrong


# --- charge port -----------------------------------------------------------------------------

"""Senders: equations against tables, cautions, refusals, and the classic mistakes by name."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from said import as_text, as_texts, refuses
from sender_verdict import PIN, named

from analysis.model.errors import BadParameter
from analysis.senders import (
    KINDS,
    Divider,
    LoopSender,
    Pilot,
    Platinum,
    Proximity,
    Rheostat,
    Shunt,
    Thermistor,
    VoltSender,
    make_sender,
    pilot_offer,
    pilot_state,
)
from analysis.senders.calibration import MeterSpec, calibrate, judge_as_found, points_from
from analysis.senders.platinum import resistance, temperature
from bench.wording.refusals import refused
from bench.wording.senders import caution_lines, equation, title, wiring

# --- divider ---------------------------------------------------------------------------------

def test_divider_ratio():
    """98.5 V through 1:5 gives 19.7 V, above any 5 V input: refused with that voltage."""
    # Check value of the trade: 1:5, 98.5 V in, 19.7 V out.
    with refuses(BadParameter, r"puts 19\.7 V on the board's input, above its limit of 5 V"):
        Divider(top_ohms=4000, bottom_ohms=1000, highest_volts=98.5)
    sender = Divider(top_ohms=4000, bottom_ohms=1000, highest_volts=24)
    assert sender.ratio == pytest.approx(5.0)
    assert sender.shown(np.array([2.0]))[0] == pytest.approx(10.0)


def test_the_refusal_names_a_resistor_that_would_do():
    """The top resistor advised is accepted when it is used."""
    with refuses(BadParameter, "at least 790 kohm"):
        Divider(top_ohms=100e3, bottom_ohms=10e3, highest_volts=400)
    Divider(top_ohms=790e3, bottom_ohms=10e3, highest_volts=400)


@pytest.mark.parametrize(("volts", "cautioned"), [(59.0, False), (60.0, False), (60.1, True),
                                                  (400.0, True)])
def test_touch_safety_above_60_volts(volts, cautioned):
    """DC above 60 V brings the touch-safety caution."""
    # ISO 6469-3: voltage class B begins above 60 V DC.
    cautions = Divider(top_ohms=1e6, bottom_ohms=10e3, highest_volts=volts).cautions()
    assert bool(cautions) == cautioned
    said = " ".join(caution_lines(cautions))
    assert not cautioned or ("60 V DC" in said and "local codes" in said)


def test_divider_mistakes_are_named():
    """As stated, wrong tap, exchanged resistors, loading, offset, sign."""
    sender = Divider(top_ohms=40e3, bottom_ohms=10e3, highest_volts=24)
    assert not named(sender, PIN, 5.03 * PIN)["as stated"].wrong
    assert named(sender, PIN, 10.05 * PIN)["wrong tap"].value == 10
    assert named(sender, PIN, 1.25 * PIN)["resistors exchanged"].value == pytest.approx(1.25)
    # 100 kohm across the bottom: 40 k || 10 k = 8 k, slope 1 + 8/100 (Thevenin).
    loaded = named(sender, PIN, 5 * 1.08 * PIN)["loaded"]
    assert loaded.value == pytest.approx(100e3, rel=0.02)
    assert "100 kohm" in as_text(loaded)
    assert named(sender, PIN, 5 * PIN + 0.6)["zero offset"].value == pytest.approx(0.6, abs=0.01)
    assert "sign swapped" in named(sender, PIN, -5 * PIN)
    own = Divider(top_ohms=40e3, bottom_ohms=10e3, highest_volts=24, other_ratios=(7.3,))
    assert named(own, PIN, 7.3 * PIN)["wrong tap"].value == 7.3


def test_a_stated_input_resistance_is_counted():
    """With the load stated, the loaded divider is as stated."""
    sender = Divider(top_ohms=40e3, bottom_ohms=10e3, highest_volts=24, input_ohms=100e3)
    assert "as stated" in named(sender, PIN, 5.4 * PIN)
    # A further 50 kohm: 40 k over 10 k || 100 k || 50 k = 7.692 k divides by 6.2 (Ohm's law).
    assert named(sender, PIN, 6.2 * PIN)["loaded"].value == pytest.approx(50e3, rel=0.02)


# --- shunt -----------------------------------------------------------------------------------

def test_a_shunt_set_for_another():
    """200 A/50 mV read as if it were 1000 A/50 mV shows five times the true current."""
    # Check value of the trade: 0.25 mohm; 1000 A/50 mV is 0.05 mohm.
    assert Shunt(rated_amps=200, rated_millivolts=50).ohms == pytest.approx(0.25e-3)
    sender = Shunt(rated_amps=1000, rated_millivolts=50, gain=50, zero_volts=2.5,
                   highest_amps=900)
    true = np.linspace(-150, 150, 9)
    found = named(sender, 2.5 + true * 0.25e-3 * 50, true)["other shunt"]
    assert found.value == pytest.approx(0.25e-3)
    assert "5 times the true current" in as_text(found)
    assert "200 A/50 mV" in as_text(found)


def test_shunt_mistakes_are_named():
    """As stated, sign, zero offset, another gain, and what fits nothing."""
    sender = Shunt(rated_amps=200, rated_millivolts=50, gain=50, zero_volts=2.5,
                   highest_amps=190)
    true = np.linspace(-150, 150, 9)
    per_amp = 0.25e-3 * 50
    assert "as stated" in named(sender, 2.5 + true * per_amp, true)
    swapped = named(sender, 2.5 - true * per_amp, true)
    assert "sign swapped" in swapped
    assert "as stated" in swapped
    zero = named(sender, 2.53 + true * per_amp, true)["zero offset"]
    assert "zero is 2.53 V" in as_text(zero)
    assert "unknown ratio" in named(sender, 2.5 + true * per_amp * 0.93, true)


def test_shunt_refusal_and_heat():
    """A gain that drives the input beyond its limit is refused; two thirds of rating is named."""
    with refuses(BadParameter, r"puts 7\.5 V on the board's input"):
        Shunt(rated_amps=200, rated_millivolts=50, gain=100, zero_volts=2.5)
    notes = Shunt(rated_amps=300, rated_millivolts=75, gain=50, continuous_amps=250).notes()
    # Continuous use at about two thirds of the rating: common practice, no source.
    assert any("250 A continuously is more than two thirds" in n for n in as_texts(notes))


# --- thermistor ------------------------------------------------------------------------------

def test_thermistor_at_25_degrees():
    """10 kohm, beta 3950 is 10 kohm at 25 C by definition, and one kelvin costs beta/T^2."""
    sender = Thermistor(known_ohms=10e3)
    assert sender.resistance(np.array([25.0]))[0] == pytest.approx(10e3)
    assert sender.temperature(np.array([10e3]))[0] == pytest.approx(25.0)
    slope = np.diff(np.log(sender.resistance(np.array([24.5, 25.5]))))
    # d ln R / dT = -beta / T^2 = -4.44 % per kelvin.
    assert slope[0] == pytest.approx(-3950 / 298.15**2, rel=1e-4)


def bath(sender, r25, beta, celsius):
    other = Thermistor(known_ohms=sender.known_ohms, r25_ohms=r25, beta_kelvin=beta)
    return sender.volts(other.resistance(celsius))


def test_a_thermistor_stated_with_another_beta_is_judged_as_found():
    """With beta 3435 read as 3950, 100 C shows as 87.9 C: the beta equation, by hand.

    ln(R/R25) = 3435 (1/373.15 - 1/298.15); 1/T = 1/298.15 + ln(R/R25) / 3950.
    """
    over = 1 / 298.15 + 3435 * (1 / 373.15 - 1 / 298.15) / 3950
    wanted = 1 / over - 273.15 - 100.0
    sender, celsius = Thermistor(known_ohms=10e3), np.linspace(0.0, 100.0, 9)
    points = points_from(bath(sender, 10e3, 3435.0, celsius), celsius, 1e-5)
    found = calibrate(points, sender.shown(points.volts), np.full(9, 0.1),
                      MeterSpec(resolution=0.1), "°C", "ohm", sender.forms)
    verdict = judge_as_found(found, 1.0, sender.quantity)
    assert verdict.result == "fail"
    assert verdict.at == pytest.approx(100.0, abs=0.3)
    assert verdict.deviation == pytest.approx(wanted, abs=0.3)


def test_steinhart_hart_recovers_its_coefficients():
    """Volts made with known A, B, C give A, B and C back."""
    # A typical 10 kohm set, coefficients as published widely for NTC examples (from memory).
    a, b, c = 1.129241e-3, 2.341077e-4, 8.775468e-8
    ohms = np.geomspace(1000, 35000, 9)
    celsius = 1 / (a + b * np.log(ohms) + c * np.log(ohms) ** 3) - 273.15
    # The coefficients are those of a 10 kohm part: 25 C within 0.1 K at 10 kohm.
    assert np.interp(10e3, ohms, celsius) == pytest.approx(25.0, abs=0.9)
    sender = Thermistor(known_ohms=10e3)
    points = points_from(sender.volts(ohms), celsius, 1e-7)
    found = calibrate(points, sender.shown(points.volts), np.full(9, 1e-3),
                      MeterSpec(resolution=1e-4), "°C", "ohm", ("steinhart-hart",))
    assert found.curve.coefficients == pytest.approx([a, b, c], rel=2e-3)
    assert found.predict(5000.0).value == pytest.approx(
        1 / (a + b * np.log(5000) + c * np.log(5000) ** 3) - 273.15, abs=1e-3)


def test_three_points_make_a_steinhart_hart_curve():
    """Three points fix it exactly."""
    sender = Thermistor(known_ohms=10e3)
    celsius = np.array([0.0, 25.0, 70.0])
    points = points_from(bath(sender, 10e3, 3950, celsius), celsius, 1e-6)
    found = calibrate(points, sender.shown(points.volts), np.zeros(3), MeterSpec(resolution=0.01),
                      "°C", "ohm", ("steinhart-hart",))
    assert found.residuals == pytest.approx(np.zeros(3), abs=1e-6)


def test_thermistor_mistakes_are_named():
    """As stated, another beta, another R25, open and short, changed places."""
    sender = Thermistor(known_ohms=10e3)
    celsius = np.array([0.0, 15, 25, 40, 60, 80])
    assert "as stated" in named(sender, bath(sender, 10e3, 3950, celsius), celsius)
    beta = named(sender, bath(sender, 10e3, 3435, celsius), celsius)["beta mistaken"]
    assert beta.value == pytest.approx(3435, abs=5)
    assert "3435" in as_text(beta)
    assert named(sender, bath(sender, 5e3, 3950, celsius), celsius)["other R25"].value == 5e3
    reversed_ = Thermistor(known_ohms=10e3, to_ground=False)
    assert "reversed" in named(reversed_, bath(sender, 10e3, 3950, celsius), celsius)
    assert [d.name for d in sender.faults(np.array([4.98]))] == ["open"]
    assert [d.name for d in sender.faults(np.array([0.02]))] == ["short"]
    assert [d.name for d in reversed_.faults(np.array([0.02]))] == ["open"]


# --- platinum --------------------------------------------------------------------------------

@pytest.mark.parametrize(("celsius", "ohms"), [(-200, 18.52), (0, 100.0), (100, 138.51),
                                               (850, 390.48)])
def test_platinum_table(celsius, ohms):
    """The table of the standard is met to its two decimals, both ways."""
    # IEC 60751, Pt100.
    assert resistance(np.array([float(celsius)]))[0] == pytest.approx(ohms, abs=5e-3)
    # 0.005 ohm of rounding is 0.013 K at 100 C, less where the slope is steeper.
    assert temperature(np.array([ohms]))[0] == pytest.approx(celsius, abs=0.02)


@given(st.floats(-200, 850))
@settings(max_examples=60, deadline=None)
def test_platinum_inverse(celsius):
    """Ohms and back is the same temperature over the whole range."""
    ohms = resistance(np.array([celsius]), 1000.0)
    assert temperature(ohms, 1000.0)[0] == pytest.approx(celsius, abs=1e-6)


def test_platinum_outside_its_range_is_no_number():
    """Beyond -200 to 850 C the standard says nothing, and so do we."""
    assert np.isnan(resistance(np.array([-201.0, 851.0]))).all()
    assert np.isnan(temperature(np.array([10.0, 400.0]))).all()


@pytest.mark.parametrize(("r0", "milliamperes"), [(100, 1.0), (1000, 0.316)])
def test_platinum_is_warmed_above_the_usual_current(r0, milliamperes):
    """More than the usual current is told, for a Pt1000 at the same heat as for a Pt100."""
    # Common practice, no source: 1 mA for a Pt100, 0.3 mA for a Pt1000 (both 0.1 mW).
    whole = 5.0 / (1e-3 * milliamperes)
    hot = Platinum(known_ohms=0.9 * whole - r0, r0_ohms=r0).notes()
    cool = Platinum(known_ohms=1.1 * whole - r0, r0_ohms=r0).notes()
    assert any("warms it" in note for note in as_texts(hot))
    assert not any("warms it" in note for note in as_texts(cool))


def test_platinum_mistakes_are_named():
    """As stated, lead resistance in ohms and kelvin, and a Pt100 taken for a Pt1000."""
    sender = Platinum(known_ohms=1000, r0_ohms=100)
    celsius = np.array([0.0, 20, 40, 60, 80, 100])
    ohms = resistance(celsius)
    spec = MeterSpec(0.0, 1, 0.1)
    assert "as stated" in named(sender, sender.volts(ohms), celsius, spec)
    lead = named(sender, sender.volts(ohms + 1.2), celsius, spec)["lead resistance"]
    assert lead.value == pytest.approx(1.2, abs=0.05)
    # 0.385 ohm is 1 K of a Pt100: 1.2 ohm is 3.1 K.
    assert "+3.1 K" in as_text(lead)
    other = Platinum(known_ohms=1000, r0_ohms=1000)
    assert "as of a Pt100" in as_text(other.hint(sender.volts(ohms), celsius))
    half = Platinum(known_ohms=1000, r0_ohms=500)
    assert named(half, half.volts(2 * resistance(celsius, 500.0)), celsius,
                 spec)["other R0"].value == 1000


# --- rheostat --------------------------------------------------------------------------------

def test_rheostat_reads_straight_in_ohms():
    """0-5 kohm through a known resistor is a line in ohms although it is none in volts."""
    sender = Rheostat(known_ohms=2200, full_ohms=5000)
    ohms = np.linspace(0, 5000, 8)
    volts = sender.volts(ohms)
    assert "as stated" in named(sender, volts, ohms, MeterSpec(0.5, 2, 1.0))
    half = sender.volts(np.array([2500.0]))[0]
    # Ohm's law: 5 V * 2500 / (2500 + 2200).
    assert half == pytest.approx(5 * 2500 / 4700)
    assert "known resistor" in named(sender, Rheostat(known_ohms=4700).volts(ohms), ohms,
                                     MeterSpec(0.5, 2, 1.0))
    assert "sign swapped" in named(sender, volts, ohms[::-1], MeterSpec(0.5, 2, 1.0))
    lead = named(sender, sender.volts(ohms + 80), ohms, MeterSpec(0.5, 2, 1.0))
    assert lead["lead resistance"].value == pytest.approx(80, abs=5)


# --- charge port -----------------------------------------------------------------------------

def test_proximity_levels():
    """Unplugged 4.46 V, plugged in 1.51 V, latch pressed 2.76 V."""
    # SAE J1772 (5 V through 330 ohm, 2.7 kohm in the vehicle, 150 and 480 ohm in the plug).
    levels = Proximity().levels()
    assert [round(levels[s], 2) for s in ("unplugged", "plugged in", "latch pressed")] == \
        [4.46, 1.51, 2.76]
    sender = Proximity()
    assert sender.state(4.40) == "unplugged"
    assert sender.state(1.55) == "plugged in"
    assert sender.state(2.70) == "latch pressed"
    assert sender.state(0.05) == "short to ground"
    assert sender.state(4.95) == "no resistor in the vehicle"
    assert sender.state(3.6) == "between the states"


@pytest.mark.parametrize(("volts", "letter"), [(12.1, "A"), (9.0, "B"), (5.8, "C"), (3.2, "D"),
                                               (0.1, "E"), (-12.0, "F")])
def test_pilot_states(volts, letter):
    """The pilot's high level says the state."""
    # SAE J1772: 12, 9, 6, 3, 0, -12 V.
    assert pilot_state(volts).startswith(letter)
    assert pilot_state(7.5) == "between the states"


@pytest.mark.parametrize(("duty", "amps", "digital"), [
    (0.0, 0, False), (2.9, 0, False), (3.0, 0, True), (5.0, 0, True), (7.0, 0, True),
    (7.5, 0, False), (8.0, 6, False), (9.9, 6, False), (10.0, 6, False), (25.0, 15, False),
    (50.0, 30, False), (85.0, 51, False), (86.0, 55, False), (90.0, 65, False),
    (96.0, 80, False), (97.0, 80, False), (97.1, 0, False), (100.0, 0, False)])
def test_what_the_pilots_duty_offers(duty, amps, digital):
    """IEC 61851-1 annex A and SAE J1772, as a test adapter's manual prints the table."""
    offer = pilot_offer(duty)
    assert offer.amps == pytest.approx(amps)
    assert offer.digital == digital
    words = " ".join(as_texts(Pilot(duty_percent=duty).notes()))
    assert ("digital communication" in words) == digital
    assert (f"at most {amps:g} A" in words) == (amps > 0)


@pytest.mark.parametrize("duty", [-1.0, 100.1, float("nan")])
def test_a_duty_that_cannot_be_is_refused(duty):
    with refuses(BadParameter, "duty_percent"):
        Pilot(duty_percent=duty)


def test_pilot_never_puts_minus_12_volts_on_an_input():
    """The default resistors keep -12 to 12 V inside 0 to 5 V; without a lift it is refused."""
    sender = Pilot()
    for level in (-12.0, 0.0, 12.0):
        # Kirchhoff at the input: three conductances.
        g = np.array([1 / 100e3, 1 / 39e3, 1 / 68e3])
        pin = (level * g[0] + 5.0 * g[1]) / g.sum()
        assert 0 < pin < 5
        assert sender.shown(np.array([pin]))[0] == pytest.approx(level, abs=1e-9)
    with refuses(BadParameter, "below ground"):
        Pilot(lift_ohms=1e6)


# --- standard outputs ------------------------------------------------------------------------

def test_volt_sender_ranges():
    """A 0.5-4.5 V sender read as 0-5 V is named."""
    sender = VoltSender(low_value=0, high_value=10)
    volts = np.linspace(0.5, 4.5, 7)
    assert "as stated" in named(sender, volts, 2 * volts)
    other = named(sender, volts, (volts - 0.5) / 4 * 10)["other range"]
    assert "0.5 to 4.5 V" in as_text(other)
    with refuses(BadParameter, "puts 10 V"):
        VoltSender(high_volts=10.0)


def test_loop_sender_mistakes():
    """4-20 mA: live zero, sense resistor, broken loop, and the refusal of too large a resistor."""
    sender = LoopSender(low_value=0, high_value=10, sense_ohms=220)
    current = np.linspace(4, 20, 7)
    value = (current - 4) / 16 * 10
    # 20 mA through 220 ohm is 4.4 V (Ohm's law).
    assert sender.shown(np.array([4.4]))[0] == pytest.approx(10.0)
    assert "as stated" in named(sender, current * 0.220, value)
    assert named(sender, current * 0.200, value)["sense resistor"].value == 200
    flat = np.linspace(1, 20, 7)
    assert "no live zero" in named(sender, flat * 0.220, flat / 20 * 10)
    assert sender.faults(np.array([0.0]))[0].name == "open"
    with refuses(BadParameter, "puts 10 V"):
        LoopSender(sense_ohms=500)


def test_a_reading_that_does_not_follow_is_named():
    """A channel that stays put, or follows nothing, is said to have no relation to the meter."""
    sender = Shunt(rated_amps=200, rated_millivolts=50, gain=50, zero_volts=2.5, highest_amps=150)
    assert "no relation" in named(sender, PIN, np.zeros(7))
    assert "no relation" in named(sender, PIN, [1, -2, 2, 0, 2, -2, 1])


# --- all kinds -------------------------------------------------------------------------------

STATED = {
    "hall": {"rated_amps": 200.0},
    "divider": {"top_ohms": 100e3, "bottom_ohms": 10e3, "highest_volts": 50.0},
    "shunt": {"rated_amps": 200.0, "rated_millivolts": 50.0, "gain": 40.0, "zero_volts": 2.5},
    "thermistor": {"known_ohms": 10e3}, "platinum": {"known_ohms": 1e3},
    "rheostat": {"known_ohms": 2200.0}, "proximity": {}, "pilot": {}, "volts": {},
    "gauge": {"gauge_ohms": 90.0, "gauge_volts": 12.0, "top_ohms": 47e3, "bottom_ohms": 22e3},
    "isolated": {"highest_volts": 160.0, "gain": 8.2, "top_ohms": 1e6, "bottom_ohms": 1500.0},
    "speed": {"pulses_per_turn": 4.0}, "loop": {}, "other": {},
}


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_kind_explains_itself_and_comes_back(kind):
    """Equation and wiring are there, stated values make the same sender, odd ones are refused."""
    sender = make_sender(kind, STATED[kind])
    assert all((title(kind), equation(kind), wiring(kind)))
    assert len(caution_lines(sender.cautions())) == len(sender.cautions())
    assert make_sender(kind, sender.stated()) == sender
    with refuses(BadParameter, "has no 'colour'"):
        make_sender(kind, {"colour": 1.0})
    with refuses(BadParameter, "limit"):
        make_sender(kind, STATED[kind] | {"pin_limit_volts": -1.0})


@pytest.mark.parametrize("kind", sorted(KINDS))
@given(seed=st.integers(0, 100_000))
@settings(max_examples=15, deadline=None)
def test_no_points_break_a_diagnosis(kind, seed):
    """Any readings and meter values end in a diagnosis or a one-line error."""
    from analysis.model.errors import AnalysisError

    rng = np.random.default_rng(seed)
    sender = make_sender(kind, STATED[kind])
    volts = rng.uniform(0.05, 4.9, int(rng.integers(2, 9)))
    meter = rng.normal(0, 50, volts.size)
    texts = []
    try:
        texts = [as_text(d) for d in named(sender, volts, meter).values()]
    except AnalysisError as error:
        texts = [refused(error)]
    assert all("\n" not in text for text in texts)

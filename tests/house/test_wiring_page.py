"""The figures and drawings of docs/wiring.md."""

import re
import sys
from xml.etree import ElementTree

import numpy as np
import pytest
from places import ROOT

from analysis.circuit.network import GROUND, Resistor, node_volts
from analysis.pedal.preferred_values import nearest_value
from bench.wording.cautions import CAR

DOCS = ROOT / "docs"
sys.path.insert(0, str(DOCS))
PAGE = (DOCS / "wiring.md").read_text(encoding="utf-8")


def both(a: float, b: float) -> float:
    """Return two resistors side by side."""
    return a * b / (a + b)


def said(text: str) -> None:
    """The page says these very words."""
    assert text in " ".join(PAGE.split())


def test_every_drawing_is_shown_and_every_shown_drawing_is_there():
    shown = set(re.findall(r"\((wiring/[a-z0-9_]+\.svg)\)", PAGE))
    assert shown == {f"wiring/{p.name}" for p in (DOCS / "wiring").glob("*.svg")}
    for name in shown:
        root = ElementTree.parse(DOCS / name).getroot()
        assert root.tag.endswith("svg")
        assert root.find("{http://www.w3.org/2000/svg}title").text


def kohms(words: str) -> float:
    """Return ohms of a label such as "4.7 kΩ"."""
    number, _, unit = words.partition(" ")
    assert unit == "kΩ"
    return 1e3 * float(number)


def highest(volts: float, top: float, bottom: float, tolerance: float = 0.01) -> float:
    """Return the most that the pin gets: both resistors off by their tolerance, the worse way."""
    lower = bottom * (1 + tolerance)
    return volts * lower / (lower + top * (1 - tolerance))


# What is divided: volts at most, top and bottom ohms, full scale of the board at its lowest, words
# of the page. 4.5 V: USB after a long lead (USB 2.0, 7.2.2, from memory: 4.4 V at a device). 5.5 V:
# a 5 V supply 10 % high; 3.2 V: a regulator 3 % low; 16 V: a 12 V battery at its charger (common
# practice, no source). 2.45 V: docs/boards.md.
DIVIDED = [
    (5.5, 22e3, 68e3, 4.5, "the worst pin at 4.18 V, 93 % of its range"),
    (5.5, 100e3, 330e3, 4.5, "the worst pin at 4.24 V, 94 % of it"),
    (16.0, 100e3, 33e3, 4.5, "16 V become 4.03 V at most (90 %)"),
    (5.5, 47e3, 33e3, 2.45, "5.5 V become 2.30 V at most"),
    (5.5, 100e3, 120e3, 3.2, "5.5 V become 3.03 V"),
    (16.0, 100e3, 22e3, 3.2, "16 V become 2.93 V"),
    (5.5, 100e3, 68e3, 2.45, "(2.25 V,"),
    (16.0, 100e3, 15e3, 2.45, "(2.12 V,"),
]


@pytest.mark.parametrize(("volts", "top", "bottom", "full", "words"), DIVIDED)
def test_no_pin_reaches_its_end_with_the_board_low_and_the_supply_high(
        volts, top, bottom, full, words):
    worst = highest(volts, top, bottom)
    said(words)
    assert f"{worst:.2f} V" in words
    assert worst < 0.95 * full
    if "%" in words:
        assert f"{100 * worst / full:.0f} %" in words
    assert re.search(rf"=({(top + bottom) / bottom:.3f})\b", PAGE)
    for ohms in (top, bottom):
        # IEC 60063, series E12.
        assert nearest_value(ohms, "E12") == ohms


def test_the_divider_keeps_a_5_V_wiper_inside_3_3_V():
    ratio = 68 / (47 + 68)
    said(f"5.25 V become {5.25 * ratio:.2f} V")
    said(f"5.5 V with 1 % resistors at most {highest(5.5, 47, 68):.2f} V")
    assert highest(5.5, 47, 68) < 3.3
    said(f"--scale a={1 / ratio:.3f}")
    said(f"{100 * (1 - ratio) * 2 * 0.01:.2f} % with 1 % resistors")
    said(f"{100 * (1 - ratio) * 2 * 0.001:.2f} % with 0.1 %")
    said(f"0.15 V at the pin, {0.15 * 80 / 33:.2f} V at the sensor")


def divided(x: float, top: float, bottom: float, *more: Resistor) -> tuple[float, float]:
    """Return volts of a 5 kohm track's wiper and of the pin behind a divider."""
    volts = node_volts(
        [Resistor("supply", "wiper", 5e3 * (1 - x)), Resistor("wiper", GROUND, 5e3 * x),
         Resistor("wiper", "pin", top), Resistor("pin", GROUND, bottom), *more],
        # 1000 V through 1 Gohm is 1 uA; 0.6 V is where a pin without power holds its lead.
        {"supply": 5.0, "leak": 1000.0, "clamp": 0.6})
    return float(volts["wiper"]), float(volts["pin"])


@pytest.mark.parametrize(("divider", "words"), [
    (115e3, "0.64 % of supply at two thirds"), (25e3, "2.8 % with a divider of 25 kohm"),
    (90e3, "0.81 % of the supply")])
def test_the_loading_error_is_that_of_the_circuit(divider, words):
    worst = 100 * max(x - divided(x, divider / 2, divider / 2)[0] / 5
                      for x in np.linspace(0.01, 0.99, 99))
    assert float(words.split()[0]) == pytest.approx(worst, abs=0.05)
    said(words)


def test_a_microampere_through_the_divider_is_told_at_the_sensor():
    for top, bottom, words in (
            (47e3, 68e3, "28 mV at the pin, which the program tells as **47 mV at the sensor**"),
            (100e3, 330e3, "77 mV at the pin and **100 mV at the sensor**")):
        plain = divided(0.15, top, bottom)[1]
        more = divided(0.15, top, bottom, Resistor("leak", "pin", 1e9))[1] - plain
        said(words)
        pin, sensor = map(int, re.findall(r"(\d+) mV", words))
        assert 1e3 * more == pytest.approx(pin, abs=0.6)
        assert 1e3 * more * (top + bottom) / bottom == pytest.approx(sensor, abs=0.6)


def test_capacitors_corners_and_currents():
    def corner(ohms, farads):
        return 1 / (2 * np.pi * ohms * farads)

    said(f"corner {corner(1e3 + 1.25e3, 100e-9):.0f} Hz with a 5 kohm track")
    source = both(47e3 + 1.25e3, 68e3)
    said(f"source impedance {source / 1e3:.0f} kohm")
    said(f"corner {corner(source, 47e-9):.0f} Hz, delay {source * 47e-9 * 1e3:.1f} ms")
    source = both(22e3 + 1.25e3, 68e3)
    said(f"Corner {corner(source, 100e-9):.0f} Hz, delay {source * 100e-9 * 1e3:.1f} ms")
    said(f"{2**11 * 14e-12 * 1e9:.0f} nF for 10 bits, {2**13 * 14e-12 * 1e9:.0f} nF for 12")
    said(f"0 to {100 * 5 / 9.7:.0f} % of the supply, at most {5 / 4.7:.1f} mA")


ROWS = [(10e3, np.inf, 100e-9, "| 10 kohm, 100 nF |"), (47e3, np.inf, 33e-9, "| 47 kohm, 33 nF |"),
        (100e3, 330e3, 33e-9, "| **100 kohm over 330 kohm, 33 nF** |")]


@pytest.mark.parametrize(("ohms", "bottom", "farads", "row"), ROWS)
def test_a_chafed_sense_lead_or_a_dead_board_moves_the_track_by_what_the_page_says(
        ohms, bottom, farads, row):
    cells = next(line for line in PAGE.splitlines() if line.startswith(row)).split("|")[2:]
    # The lead chafes behind the resistor at the tap, so that alone stands in the way.
    shorted = 1e3 * (4.25 - divided(0.85, ohms, 0.0)[0])
    risen = divided(0.15, ohms, np.inf, Resistor("pin", "supply", 0.0))[0]
    assert 1e3 * (risen - 0.75) == pytest.approx(shorted)
    dead = 1e3 * (4.25 - divided(0.85, ohms, bottom, Resistor("pin", "clamp", 0.0))[0])
    source = ohms + both(0.85 * 5e3, 0.15 * 5e3)
    corner = 1 / (2 * np.pi * (source if bottom == np.inf else both(source, bottom)) * farads)
    for cell, value in zip(cells, (shorted, dead, corner), strict=False):
        assert float(re.search(r"[0-9.]+", cell)[0]) == pytest.approx(value, abs=0.5)
    # A dead band of some 50 mV has to hold what the advised resistor lets through.
    assert ("**" in row) == (shorted < 50 and dead < 50)
    if ohms == 10e3:
        said(f"{shorted / 35:.1f} % of 3.5 V")
    if "**" in row:
        said(f"{dead:.0f} mV of the dead band are then gone")
        said(f"noise above {corner:.0f} Hz reaches the controller")


def test_the_drawing_and_the_page_name_the_same_parts_and_the_same_caution():
    drawing = (DOCS / "wiring" / "in_the_car.svg").read_text(encoding="utf-8")
    # Five inputs: the supply, two tracks, key and brake lamp; six leads with a fuse.
    assert [drawing.count(f">{label}<") for label in
            ("100 kΩ", "330 kΩ", "33 kΩ", "33 nF", "100 mA")] == [5, 3, 2, 5, 6]
    for text in (drawing, PAGE):
        assert re.search(r"board comes off, or stays powered, before the car can move under power",
                         " ".join(text.split()))


def test_the_drawings_are_those_that_the_script_makes_now():
    from make_drawings import drawings

    for name, svg in drawings().items():
        assert (DOCS / "wiring" / name).read_text(encoding="utf-8") == svg, \
            f"{name} is old: python docs/make_drawings.py"


def test_the_supply_is_read_in_every_drawing_of_the_bench():
    for path in (DOCS / "wiring").glob("*.svg"):
        assert (">A2  (supply)<" in path.read_text(encoding="utf-8")) == \
            (path.name != "look_first.svg")


def test_the_page_shows_the_values_of_the_drawings():
    from make_drawings import VALUES

    for label in VALUES.values():
        number, unit = label.split()
        said(f"{number} {unit.replace('kΩ', 'kohm')}")
    assert kohms(VALUES["car top"]) == 100e3
    assert kohms(VALUES["car bottom"]) == 330e3
    assert kohms(VALUES["12 V bottom"]) == 33e3
    assert kohms(VALUES["bench supply top"]) == 22e3
    assert kohms(VALUES["bench supply bottom"]) == 68e3


def test_no_page_asks_for_a_plug_of_live_wiring_to_be_pulled():
    first = (DOCS / "first_session.md").read_text(encoding="utf-8")
    for text in (PAGE, first, " ".join(CAR)):
        assert re.search(r"(No plug is pulled|never with the key on)", " ".join(text.split()))
    assert "Pull one track's plug" not in first
    said("No plug is pulled while the key is on: key off, wait until the controller is dark")
    said("a rising track reads *full travel*")


def test_the_pages_agree_on_what_feeds_the_pedal_on_the_bench():
    for name in ("README.md", "docs/first_session.md", "docs/wiring.md"):
        text = " ".join((ROOT / name).read_text(encoding="utf-8").split())
        assert re.search(r"by the board's own 5 V,? or by a bench supply with a current limit of "
                         "50 mA", text), name


def test_how_long_capacitors_take():
    # U(t) = U exp(-t/RC), a capacitor over a resistor.
    said(f"| down to 60 V | 1 kohm across them | {10 * np.log(144 / 60):.0f} s |")
    said(f"| down to 1 V | 1 kohm across them | {10 * np.log(144):.0f} s |")
    said(f"inside | {470 * np.log(144) / 60:.0f} min |")
    said(f"may close | 1 kohm | {10 * np.log(100):.0f} s |")
    said(f"{144**2 / 1e3:.0f} W at first and {0.5 * 0.01 * 144**2:.0f} J in all")


def test_what_a_resistor_at_the_tap_bears():
    # P = U^2/R.
    said(f"At 144 V one takes {144**2 / 1e5:.2f} W")
    said(f"above {np.sqrt(0.25 * 1e5):.0f} V a 0.25 W one burns")
    said(f"400 V are {400**2 / 1e5:.1f} W")


def test_whoever_logs_the_car_is_told_to_take_the_board_off():
    assert any("take it off before you drive" in text for text in CAR)
    assert "Take the board off" in (DOCS / "first_session.md").read_text(encoding="utf-8")


def test_what_the_pin_draws_through_the_advised_resistor_is_an_offset_of_the_size_said():
    share = 14e-12 / (14e-12 + 33e-9) * 5
    said(f"at most {1e3 * share:.1f} mV, less than half a step of 10 bits")
    assert share < 0.5 * 5 / 1024
    for rate in (200, 1000):
        said(f"{1e3 * 14e-12 * 5 * rate * 100e3:.1f} mV")
    said(f"= {1e9 * 14e-12 * 5 * 200:.0f} nA")
    # 6 Mohm: the input of a common 16-bit converter at a range of 4.096 V (from memory).
    said(f"{100 * (1 - both(6e6, 330e3) / (both(6e6, 330e3) + 100e3) * 430 / 330):.1f} % low")
    assert 120e-9 > 2**13 * 14e-12
    said(f"120 nF: corner {1 / (2 * np.pi * both(100.6e3, 330e3) * 120e-9):.0f} Hz")


def test_resistors_are_preferred_values():
    # IEC 60063, series E12.
    for ohms in (1e3, 4.7e3, 10e3, 47e3, 68e3, 100e3, 220e3, 680e3):
        assert nearest_value(ohms, "E12") == ohms


def test_the_divider_in_the_car_loads_the_tracks_by_what_is_said():
    falling, rising = divided(0.85, 1e5, 3.3e5)[0], divided(0.15, 1e5, 3.3e5)[0]
    said(f"loads the falling track at 4.25 V by {1e3 * (4.25 - falling):.1f} mV")
    said(f"the rising one at 0.75 V by {1e3 * (0.75 - rising):.1f} mV")
    share = (1 - 330 / 430) * 2 * 0.01
    said(f"1 % resistors may be off by {100 * share:.2f} % of the reading, "
         f"{1e3 * share * 4.25:.0f} mV at 4.25 V; 0.1 % ones {100 * share * 4.25:.0f} mV")


def test_noise_is_not_taken_from_behind_100_kohm():
    """A low pass hides noise from the dead band that the controller still sees."""
    said("Take the values from the sweep through 1 kohm")

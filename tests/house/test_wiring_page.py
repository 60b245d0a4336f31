"""The figures and drawings of docs/wiring.md."""

import re
from xml.etree import ElementTree

import numpy as np
import pytest
from places import ROOT

from analysis.pedal.preferred_values import nearest_value
from bench.wording.cautions import CAR

DOCS = ROOT / "docs"
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


def test_the_divider_keeps_a_5_V_wiper_inside_3_3_V():
    ratio = 68 / (47 + 68)
    said(f"5.25 V become {5.25 * ratio:.2f} V")
    assert 5.25 * ratio < 3.3
    said(f"--scale a={1 / ratio:.3f}")
    said(f"{100 * (1 - ratio) * 2 * 0.01:.2f} % with 1 % resistors")
    said(f"{100 * (1 - ratio) * 2 * 0.001:.2f} % with 0.1 %")


@pytest.mark.parametrize(("divider", "words"), [
    (115e3, "0.64 % of supply at two thirds"), (25e3, "2.8 % with a divider of 25 kohm")])
def test_the_loading_error_is_that_of_the_circuit(divider, words):
    # Kirchhoff's current law at the wiper, solved without the formula of the page.
    x = np.linspace(0.001, 0.999, 999)
    upper, lower = 5e3 * (1 - x), both(5e3 * x, divider)
    worst = 100 * np.max(x - lower / (upper + lower))
    assert float(words.split()[0]) == pytest.approx(worst, abs=0.05)
    said(words)


def test_capacitors_corners_and_currents():
    def corner(ohms, farads):
        return 1 / (2 * np.pi * ohms * farads)

    said(f"corner {corner(1e3 + 1.25e3, 100e-9):.0f} Hz with a 5 kohm track")
    source = both(47e3 + 1.25e3, 68e3)
    said(f"source impedance {source / 1e3:.0f} kohm")
    said(f"corner {corner(source, 47e-9):.0f} Hz, delay {source * 47e-9 * 1e3:.1f} ms")
    said(f"Corner {corner(both(10e3, 10e3), 100e-9):.0f} Hz")
    said(f"{2**11 * 14e-12 * 1e9:.0f} nF for 10 bits, {2**13 * 14e-12 * 1e9:.0f} nF for 12")
    said(f"0 to {100 * 5 / 9.7:.0f} % of the supply, at most {5 / 4.7:.1f} mA")


def wiper(x: float, resistor: float, foreign: float) -> float:
    """Return a 5 kohm track's wiper volts with a foreign voltage behind a resistor.

    Kirchhoff's current law at the wiper, solved without the formula of the page.
    """
    upper, lower = 5e3 * (1 - x), 5e3 * x
    return ((5 / upper + foreign / resistor) / (1 / upper + 1 / lower + 1 / resistor))


@pytest.mark.parametrize(("ohms", "farads", "row"), [
    (10e3, 100e-9, "| 10 kohm, 100 nF |"), (47e3, 33e-9, "| 47 kohm, 33 nF |"),
    (100e3, 33e-9, "| **100 kohm, 33 nF** |")])
def test_a_chafed_sense_lead_or_a_dead_board_moves_the_track_by_what_the_page_says(
        ohms, farads, row):
    cells = next(line for line in PAGE.splitlines() if line.startswith(row)).split("|")[2:]
    shorted = 1e3 * (4.25 - wiper(0.85, ohms, 0.0))
    assert 1e3 * (wiper(0.15, ohms, 5.0) - 0.75) == pytest.approx(shorted)
    dead = 1e3 * (4.25 - wiper(0.85, ohms, 0.6))
    corner = 1 / (2 * np.pi * (ohms + both(0.85 * 5e3, 0.15 * 5e3)) * farads)
    for cell, value in zip(cells, (shorted, dead, corner), strict=False):
        assert float(re.search(r"[0-9.]+", cell)[0]) == pytest.approx(value, abs=0.5)
    # A dead band of some 50 mV has to hold what the advised resistor lets through.
    assert ("**" in row) == (shorted < 50 and dead < 50)
    if ohms == 10e3:
        said(f"{shorted / 35:.1f} % of 3.5 V")
    if "**" in row:
        said(f"{dead:.0f} mV of the dead band are then gone")


def test_the_drawing_and_the_page_name_the_same_resistor_and_the_same_caution():
    drawing = (DOCS / "wiring" / "in_the_car.svg").read_text(encoding="utf-8")
    assert ">100 kΩ<" in drawing
    assert ">10 kΩ<" not in drawing
    assert "33 nF" in drawing
    for text in (drawing, PAGE):
        assert re.search(r"board comes off, or stays powered, before the car can move under power",
                         " ".join(text.split()))


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
    said(f"{1e3 * 1e-6 * 100e3:.0f} mV, usual parts far less")
    # 6 Mohm: the input of a common 16-bit converter at a range of 4.096 V (from memory).
    said(f"{100 * 100e3 / (6e6 + 100e3):.1f} % low")
    assert 120e-9 > 2**13 * 14e-12
    said(f"120 nF: corner {1 / (2 * np.pi * 100.6e3 * 120e-9):.0f} Hz")


def test_resistors_are_preferred_values():
    # IEC 60063, series E12.
    for ohms in (1e3, 4.7e3, 10e3, 47e3, 68e3, 100e3, 220e3):
        assert nearest_value(ohms, "E12") == ohms


def test_the_divider_in_the_car_keeps_3_3_V_and_loads_the_track_by_what_is_said():
    said(f"5.25 V become {5.25 * 150 / 250:.2f} V, `--scale a={250 / 150:.3f}`")
    assert 5.25 * 150 / 250 < 3.3
    said(f"loads the falling track by {1e3 * (4.25 - wiper(0.85, 250e3, 0.0)):.0f} mV")


def test_noise_is_not_taken_from_behind_100_kohm():
    """A low pass hides noise from the dead band that the controller still sees."""
    said("Take the values from the sweep through 1 kohm: noise above 48 Hz reaches the controller")

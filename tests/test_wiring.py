"""The figures and drawings of docs/wiring.md."""

import re
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

from analysis.preferred_values import nearest_value

DOCS = Path(__file__).parent.parent / "docs"
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
    said(f"the corner is {corner(10e3 + 1.25e3, 100e-9):.0f} Hz")
    said(f"{2**11 * 14e-12 * 1e9:.0f} nF for 10 bits, {2**13 * 14e-12 * 1e9:.0f} nF for 12")
    said(f"0 to {100 * 5 / 9.7:.0f} % of the supply, at most {5 / 4.7:.1f} mA")
    said(f"takes {5 / 10:.1f} mA from the track")


def test_resistors_are_preferred_values():
    # IEC 60063, series E12.
    for ohms in (1e3, 4.7e3, 10e3, 47e3, 68e3):
        assert nearest_value(ohms, "E12") == ohms

"""Text, fields and marks stand out from what lies behind them, in the light and the dark look."""

import pytest

from bench.window.theme import DARK, LIGHT

SKINS = pytest.mark.parametrize("skin", [LIGHT, DARK], ids=["light", "dark"])
# WCAG 2.2: 1.4.3 (text) and 1.4.11 (what shows that there is a control).
TEXT, CONTROL = 4.5, 3.0


def luminance(color):
    """Relative luminance of "#rrggbb" as WCAG 2.2 defines it."""
    shares = [int(color[at:at + 2], 16) / 255 for at in (1, 3, 5)]
    r, g, b = (s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one, other):
    """Contrast ratio as WCAG 2.2 defines it, 1 to 21."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_ratio_is_that_of_the_guideline():
    """Black on white is 21:1; #767676 on white is the palest grey that passes for text (WCAG)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") >= TEXT > contrast("#777777", "#ffffff")


@SKINS
def test_every_text_can_be_read(skin):
    """Words, quiet ones too, and each gravity: 4.5:1 on cards, on the window and where picked."""
    for ground in (skin.card, skin.window, skin.picked):
        for words in (skin.text, skin.quiet, skin.grave, skin.mend, skin.know, skin.good):
            assert contrast(words, ground) >= TEXT
    assert contrast(skin.on_accent, skin.accent) >= TEXT


@SKINS
def test_every_field_and_the_focus_can_be_seen(skin):
    """Borders of fields and the ring of the focus: 3:1 against what they stand on."""
    for ground in (skin.card, skin.window):
        for border in (skin.field, skin.accent, skin.grave):
            assert contrast(border, ground) >= CONTROL
    # A border that turns from plain to the focus's is told apart by its width as well.
    assert contrast(skin.accent, skin.picked) >= CONTROL

"""However a sentence is broken into lines, no number stands parted from its unit."""

import pytest

from bench.wording.hard_spaces import HARD, hard_spaces


@pytest.mark.parametrize(("text", "kept"), [
    ("track b rests 159 mV further", "159~mV further"),
    ("4.8 % of its travel", "4.8~% of"),
    ("0.9091 +- 0.0011 V over 10 returns", "0.9091~+-~0.0011~V over"),
    ("silent for 3 s", "3~s"),
    ("12 rows and 1 count", "12~rows and 1~count"),
])
def test_a_number_is_tied_to_its_unit(text, kept):
    """SI brochure, 9th edition, 5.4.3: a space stands between number and unit; it may not break."""
    tied = hard_spaces(text)
    assert kept.replace("~", HARD) in tied
    assert tied.replace(HARD, " ") == text


def test_words_that_are_no_units_may_be_parted():
    """A line must be able to end somewhere: only units are tied."""
    text = "press 3 of 8 and 5 sheets, 2 seconds, step 3 Vary"
    assert hard_spaces(text) == text

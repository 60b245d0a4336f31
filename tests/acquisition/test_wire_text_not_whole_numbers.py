"""Clean text that is no row of whole numbers is shown, and not taken for a wrong speed.

What sketches usually print instead, volts and labels, is common practice, no source.
"""

import numpy as np
import pytest
from scripted_board import Ears, Scripted, run
from wire_streams import decode

from bench.acquisition.wire.lines import why_unread
from bench.errors import BoardTrouble

# Decimals of a board that says it sends counts: one of the two is wrong.
VOLTS = b"# full_scale=1024 reference_volts=5.0\n" + b"".join(
    b"2.%03d,2.441\r\n" % k for k in range(600))
WORDS = b"".join(b"pedal at %d percent\n" % (k % 100) for k in range(600))


@pytest.mark.parametrize(("data", "shown"), [(VOLTS, "'2."), (WORDS, "'pedal at ")])
def test_the_recorder_shows_the_line_it_cannot_use(data, shown, monkeypatch):
    monkeypatch.setattr("bench.acquisition.recorder.UNCLEAR_S", 0.3)
    pieces = [x for k in range(0, len(data), 200) for x in (data[k: k + 200], 0.02)]
    with pytest.raises(BoardTrouble) as told:
        run(Scripted(*pieces), Ears())
    assert f"it sends lines like {shown}" in str(told.value)
    assert "only rows of counts, or of volts" in str(told.value)
    assert "baud" not in str(told.value)


def test_noise_is_still_a_wrong_speed():
    noise = np.random.default_rng(2).integers(0, 256, 2000, np.uint8).tobytes()
    assert why_unread(noise).startswith("wrong --baud")
    assert why_unread(b"") == why_unread(noise)
    # Half of the bytes are text: a wrong speed gives that too.
    assert why_unread(VOLTS[:200] + noise[:200]).startswith("wrong --baud")


def test_a_torn_first_line_is_not_the_one_that_is_shown():
    assert "'2.441,7.2'" in why_unread(b"41\n2.441,7.2\n2.44")


def test_the_decoder_says_so_once_in_its_notes():
    decoder, batch = decode(VOLTS, 100)
    assert decoder.good == 0
    said = [p for p in batch.problems if "it sends lines like" in p]
    assert len(said) == 1


def test_a_long_line_is_shown_in_part():
    text = why_unread(b"x\n" + b"volts " * 40 + b"\nx")
    assert len(text) < 260

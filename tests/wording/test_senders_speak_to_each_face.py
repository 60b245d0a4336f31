"""What is said of a sender names its stated values as the face does: no outside source, the rule
is the project's own (the window has fields, the terminal has names)."""

import re

import numpy as np
import pytest

from analysis.model.finding import Reason
from analysis.senders import KINDS, Divider, Pilot, Speed, Thermistor
from analysis.senders.sender import Sender
from bench.wording import senders
from bench.wording.face import PAPER, TERMINAL, WINDOW
from bench.wording.reasons import in_words
from bench.wording.senders.fields import labels, named

NAME_OF_CODE = re.compile(r"[a-z]_[a-z]|--[a-z]")


def test_every_kind_and_every_caution_has_its_words() -> None:
    """A new kind without words, or a caution without them, is found here."""
    for kind, made in KINDS.items():
        assert all((senders.title(kind), senders.equation(kind), senders.wiring(kind)))
        assert len(senders.caution_lines(made.always)) == len(made.always)


def test_a_sentence_names_fields_to_the_window_and_names_to_the_terminal() -> None:
    """Each value in square brackets is one that some kind is stated by."""
    asked = 0
    for table in senders.tables():
        for sentence in table.values():
            if isinstance(sentence, str):
                stated = re.findall(r"\[(\w+)\]", sentence)
                asked += len(stated)
                assert set(stated) <= set(labels())
                bare = re.sub(r"\{[^}]*\}", "", named(sentence, WINDOW))
                assert not NAME_OF_CODE.search(bare), bare
    assert asked > 5


@pytest.mark.parametrize("sender", [
    Divider(top_ohms=1e6, bottom_ohms=1e4, highest_volts=400.0),
    Thermistor(known_ohms=100.0), Pilot(), Pilot(duty_percent=25.0),
    Speed(pulses_per_turn=4.0, gear_ratio=4.0, tyre="185/65R15", hertz=50.0, meter_shows=20.0)],
    ids=lambda each: each.kind)
def test_what_a_sender_says_is_whole_on_every_face(sender: Sender) -> None:
    """Notes, typed values and faults: each a sentence, and without a name of the code but there."""
    said: list[Reason] = [*sender.notes(), *(d.reason for d in sender.typed()),
                          *(d.reason for d in sender.faults(np.array([0.0, 5.0])))]
    assert said
    for reason in said:
        spoken = [in_words(reason, face) for face in (TERMINAL, WINDOW, PAPER)]
        assert all(text and "{" not in text and "[" not in text for text in spoken), spoken
        assert not any(NAME_OF_CODE.search(text) for text in spoken[1:]), spoken

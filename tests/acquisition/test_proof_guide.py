"""What is typed while a proof is led: beside a wire it is of power, beside a load of the load."""

from types import SimpleNamespace

import numpy as np
import pytest

from analysis.proof.steps import LOAD_RESTS, LOAD_RUNS, POWER_ON, POWER_STOPPED
from bench.acquisition.proof_prompts import ProofGuide, prompts_of


def led(task, at_s, typed):
    """Return the marks of a proof in which these words are typed after so many seconds."""
    marks = []
    guide = ProofGuide(prompts_of(task, ("a", "b"), ("fans",)), lambda prompt: None)
    guide.recorder = SimpleNamespace(mark=marks.append, stop=lambda: marks.append("stopped"))
    guide.started(None)
    for time_s in np.arange(0.0, 40.0, 0.5):
        if time_s == at_s:
            for words in typed:
                guide.enter(words)
        guide.rows(SimpleNamespace(time_s=np.array([time_s])))
    return marks


@pytest.mark.parametrize(("typed", "mark"), [("on", LOAD_RUNS), ("off", LOAD_RESTS)])
def test_a_word_beside_a_consumer_says_whether_it_runs(typed, mark):
    """Off for 5 s, on for 10, off for 10 (docs/proof.md): the word lies within the time on."""
    marks = led("loads", 9.0, [typed])
    assert marks == ["load fans off", "load fans on", mark, "load fans off", "done", "stopped"]


@pytest.mark.parametrize(("typed", "mark"), [("on", POWER_ON), ("off", POWER_STOPPED)])
def test_a_word_beside_an_open_wire_says_what_power_did(typed, mark):
    """The same words, once the first wire is open; a note stays a note."""
    marks = led("wires", 9.0, ["", "", typed, "rain"])
    assert marks == ["as wired", "done", "open a", mark, "note: rain"]


def test_a_drive_asks_for_key_ons_cold_and_warm():
    """Before the wheels turn and after them; each ends when the person says so."""
    marks = led("drive", 9.0, [""])
    assert marks == ["key-ons cold", "done", "drive"]

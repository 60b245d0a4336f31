"""The command after a key-on log: each thing that a log shows leads somewhere else."""

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
from scripted_board import counting

from analysis.evidence.key_on import BRAKE, LEADS, MEASURED, NOISE, SAME_PEDAL
from analysis.parameters import Parameters
from bench.wording import next_step

ALL = (SAME_PEDAL, LEADS, MEASURED, NOISE)


@pytest.fixture
def after(monkeypatch, tmp_path):
    """Return what follows a log: bad, the claims that are bad; safe, whether it shows no power."""
    def asked(bad=(), safe=True, without=(), claims=ALL, **more):
        found = SimpleNamespace(**{
            "recording": replace(counting(2), extra={"board": {"port": "/dev/none0"}}),
            "swept": None, "parameters": Parameters(), "found": (), "forbidding": (),
            "verdict": SimpleNamespace(applied=False), "unread": {}, "contactor": "closed", **more})
        monkeypatch.setattr(next_step, "key_on_claims", lambda findings: [
            SimpleNamespace(claim=c, state="bad" if c in bad else "sound") for c in claims])
        monkeypatch.setattr(next_step, "shows_no_power", lambda claims: safe)
        monkeypatch.setattr(next_step, "without_start", lambda findings: without)
        return next_step.after_log(found, tmp_path / "log.csv", tmp_path / "sweep.csv",
                                   more.get("contactor"))

    return asked


AGAIN, SWEEP = "stillpedal watch --board /dev/none0", "stillpedal sweep --board /dev/none0"


@pytest.mark.parametrize(("shown", "command", "why"), [
    ({"found": (SimpleNamespace(code="another kind of pedal"),)}, AGAIN, "kind that the pedal is"),
    ({"bad": (SAME_PEDAL,)}, SWEEP, "as installed: the pedal rests elsewhere"),
    ({"forbidding": ("a fault",)}, SWEEP, "after the repair"),
    ({"verdict": SimpleNamespace(applied=True)}, AGAIN, "find what lifts the reading"),
    ({"bad": (LEADS,)}, AGAIN, "find what lifts the reading"),
    ({"bad": (BRAKE,), "claims": (*ALL, BRAKE)}, AGAIN, "find what lifts the reading"),
    ({"without": ("b",)}, SWEEP, "with track b too: this sweep does not have it"),
    ({"bad": (MEASURED,)}, AGAIN, "find what differed at that key-on"),
    ({"bad": (NOISE,), "safe": False}, AGAIN, "find what brings the noise"),
    ({"safe": False}, AGAIN, "so that every track is read all the time"),
    ({"contactor": "open"}, AGAIN, "with the contactor closed: wheels off the ground"),
    ({}, "stillpedal settings", ""),
])
def test_each_thing_that_a_log_shows_leads_on(shown, command, why, after):
    """What can hurt comes first: of a bad claim nothing is issued."""
    line, reason = after(**shown)
    assert line.startswith(command)
    assert why in reason
    assert ("--key-on" in line) is (command == "stillpedal settings")


def test_a_log_without_a_sweep_needs_one(tmp_path):
    """Nothing says where its start of travel lies."""
    found = SimpleNamespace(recording=counting(2), swept=None)
    line, why = next_step.after_log(found, Path(tmp_path) / "log.csv", None)
    assert line.startswith("stillpedal sweep --board PORT --out ")
    assert "give the sweep of this pedal" in why

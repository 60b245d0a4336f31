"""Wherever a chance is stated, the condition it stands on is stated in the same sentence.

The rule is the project's own (docs/method_deadband.md): no source.
"""

import re
from dataclasses import replace

import pytest
from places import ROOT
from said import as_text

from analysis.model.finding import Reason
from bench.files.exports import settings_formats
from bench.files.exports.findings_text import findings_text
from bench.services.findings import open_findings
from bench.wording.dead_band import CONDITION

HEALTHY = ROOT / "sample_sweeps/synthetic_healthy_pair.csv"


@pytest.fixture(scope="module")
def findings():
    return open_findings(HEALTHY)


def _chances(text: str) -> list[str]:
    """Return what stands before every chance, back to the last semicolon or full stop."""
    flat = re.sub(r"\s+", " ", text.replace("*/", " ").replace("/*", " "))
    flat = re.sub(r"\bat (?=most [0-9.]+ % chance)", "", flat)
    return [flat[:m.start()].rsplit("; ", 1)[-1][-60:] for m in re.finditer(r"\bchance that", flat)]


@pytest.mark.parametrize("form", sorted(settings_formats()))
def test_settings_state_no_chance_without_its_condition(form, findings):
    before = _chances(settings_formats()[form](findings))
    # A start of travel for each of two tracks; where a person reads, the second names the first.
    assert len(before) == (1 if form == "text" else 2)
    assert all(CONDITION in words.lower() for words in before), before


def test_findings_state_no_chance_without_its_condition(findings):
    before = _chances(findings_text(findings))
    assert len(before) == 1
    assert all(CONDITION in words.lower() for words in before), before


def test_a_promise_that_is_withdrawn_is_not_made_all_the_same(findings):
    """A start of travel with a doubt opens with it, and states no chance."""
    from analysis.pedal.settings import recommend

    leans = Reason("as told", {"words": "it leans"})
    bands = {n: replace(b, weak=leans) for n, b in findings.dead_bands.items()}
    made = recommend(findings.tracks, findings.pair, bands, findings.parameters)
    whys = [as_text(s.why) for s in made if s.name == "start_of_travel"]
    assert all(why.startswith("NOT PROVEN: it leans; ") for why in whys)
    assert not any("chance" in why or CONDITION in why for why in whys)

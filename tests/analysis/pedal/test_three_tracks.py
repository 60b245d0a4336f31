"""A pedal with three tracks: each is compared with both others, and the odd one is named.

Levels and bends are those put into each recording by hand; `common practice, no source`: of three
that should agree, the one that two contradict is wrong.
"""

from dataclasses import replace

import numpy as np
import pytest
from said import as_texts

from analysis.pedal.findings import analyse
from analysis.simulation import pedal_named, simulate_sweep

MADE = simulate_sweep(pedal_named("healthy"), 250.0, 12, seed=2).recording


def bent(readings, percent):
    """Return readings that bulge by so much of the converter's range in mid travel."""
    share = (readings - readings.min()) / (readings.max() - readings.min())
    return readings + np.round(4096 * percent / 100 * 4 * share * (1 - share))


def three(odd, percent):
    """Return a sweep of three like tracks of which one bulges; noise of each its own."""
    rng = np.random.default_rng(7)
    a, b, supply = MADE.channels
    tracks = {"a": a.readings, "b": b.readings,
              "third": a.readings + rng.integers(-1, 2, a.readings.size)}
    if odd:
        tracks[odd] = bent(tracks[odd], percent)
    return replace(MADE, channels=(*(replace(a, column=n, readings=r.astype(float))
                                     for n, r in tracks.items()), supply))


def codes(findings):
    return {f.code: f for f in findings.graded}


def test_three_that_agree_are_said_to():
    """Nobody is odd, and the claim stays what the first two make it."""
    found = analyse(three(None, 0.0))
    assert list(found.tracks) == ["a", "b", "third"]
    told = codes(found)
    assert "odd track" not in told
    told = told["third track compared"]
    assert max(worst for *_, worst in told.values["mismatches"]) < 1.5
    assert any("The three tracks agree: a and b by at most" in text
               for text in as_texts(found.verdict))


@pytest.mark.parametrize("odd", ["a", "b", "third"])
def test_the_one_that_both_others_contradict_is_odd(odd):
    """A bulge of 12 % of the range is 17 % of travel, beyond the 10 % that is tolerated."""
    found = analyse(three(odd, 12.0))
    told = codes(found)["odd track"]
    assert told.values["odd"] == odd
    assert (told.gravity, found.state) == (2, "bad")
    assert any(f"{odd} is the odd one" in text for text in as_texts(found.verdict))


def test_two_tracks_are_no_three():
    assert not {"odd track", "third track compared", "third track alone"} & set(
        codes(analyse(MADE)))


def test_one_wiper_read_twice_does_not_outvote_the_other_track():
    """Input `third` reads the wiper of a; b bulges. Two of three agree, but as one witness.

    The same wiper: the same readings.
    """
    made = three("b", 12.0)
    a = made.channel("a").readings
    twin = replace(made.channel("third"), readings=a.copy())
    found = analyse(replace(made, channels=tuple(
        twin if c.column == "third" else c for c in made.channels)))
    assert any(f.kind == "same wiper" and f.gravity == 2 for f in found.faults)
    told = codes(found)
    assert "odd track" not in told
    assert told["no two tracks agree"].values["copies"] == ("a", "third")
    assert any("one wiper read twice, and so one witness" in t for t in as_texts(found.verdict))

"""A pedal with three tracks: two are compared, the third is measured and said to be alone."""

from dataclasses import replace

from said import as_texts

from analysis.pedal.findings import analyse
from analysis.simulation import pedal_named, simulate_sweep


def test_the_third_track_is_measured_and_said_to_stand_alone():
    made = simulate_sweep(pedal_named("healthy"), 500.0, 12, seed=2)
    first = made.recording.channels[0]
    three = replace(made.recording, channels=(
        *made.recording.channels, replace(first, column="third")))
    found = analyse(three)
    assert list(found.tracks) == ["a", "b", "third"]
    # the same readings under another name: the same levels
    assert found.tracks["third"].rest == found.tracks["a"].rest
    assert ("Only tracks a and b are compared with each other; third is measured alone."
            in as_texts(found.notes))
    assert not any("compared with each other" in note for note in (
        as_texts(analyse(made.recording).notes)))

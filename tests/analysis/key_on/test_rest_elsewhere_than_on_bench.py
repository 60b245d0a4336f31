"""A pedal that rests elsewhere in the car than on the bench."""


import pytest
from places import ROOT

from analysis.key_on import analyse_key_on
from bench.files.recording_file import read_recording
from bench.services.findings import open_findings
from bench.wording.key_on_sentences import log_sentences

SAMPLES = ROOT / "sample_sweeps"


def _judged(log: str, sweep: str):
    recording = read_recording(SAMPLES / f"synthetic_key_on_{log}.csv")
    return recording, analyse_key_on(recording, None, (),
                                     open_findings(SAMPLES / f"synthetic_{sweep}.csv"))


# Rests as stated in sample_sweeps/KEY_ON.md (log: a 0.75 V, b 0.76 V; opposed b 4.25 V) and in
# sample_sweeps/README.md (sweep: a 0.75 V, b 0.76 V, off at rest 0.91 V; opposed b 4.25 V).
@pytest.mark.parametrize(("log", "sweep"), [("ground_offset", "healthy_pair"),
                                            ("ground_offset_opposed", "opposed_pair")])
def test_settings_issued_anew_hold_in_the_log_they_come_from(log, sweep):
    recording, found = _judged(log, sweep)
    assert found.issued
    assert not any(f.code == "rest is not the sweep's" for f in found.found)
    assert analyse_key_on(recording, None, found.settings).verdict.applied is False


def test_a_log_whose_rest_is_not_the_sweeps_says_so_first_and_gives_no_allowance():
    """Track b rests 150 mV nearer to released than that sweep has it."""
    _, found = _judged("quiet_car", "off_at_rest")
    (moved,) = [f for f in found.found if f.code == "rest is not the sweep's"]
    assert (moved.channel, moved.gravity) == ("b", 2)
    # Own scatter of a return is 0.8 mV (sample_sweeps/README.md), so some mV either way.
    assert moved.values["rest_moved_volts"] == pytest.approx(-0.15, abs=0.004)
    assert found.car == {}
    assert not found.issued
    assert found.verdict.applied is None
    first = log_sentences(found)[0]
    assert "rest of this log is not the sweep's" in first


def test_a_pedal_that_rests_as_on_the_bench_is_not_remarked_upon():
    recording = read_recording(SAMPLES / "synthetic_key_on_quiet_car.csv")
    alone = analyse_key_on(recording)
    assert alone.found == ()

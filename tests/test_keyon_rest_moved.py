"""A pedal that rests elsewhere in the car than on the bench."""

import re
from pathlib import Path

import pytest

from analysis.keyon import analyse_key_on
from bench.jobs.findings import open_findings
from bench.recording_file import read_recording

SAMPLES = Path(__file__).parent.parent / "sample_sweeps"


def _issued(log: str, sweep: str):
    recording = read_recording(SAMPLES / f"synthetic_key_on_{log}.csv")
    return recording, analyse_key_on(recording, None, (),
                                     open_findings(SAMPLES / f"synthetic_{sweep}.csv"))


# Rests as stated in sample_sweeps/KEY_ON.md (log: a 0.70 V, b 0.80 V; opposed b 4.30 V) and in
# sample_sweeps/README.md (sweep: a 0.75 V, b 0.76 V; opposed b 4.25 V).
@pytest.mark.parametrize(("log", "sweep", "further", "nearer"), [
    ("ground_offset", "healthy_pair", {"b": 0.04}, {"a": 0.05}),
    ("quiet_car", "off_at_rest", {}, {"a": 0.05, "b": 0.11}),
    ("ground_offset_opposed", "opposed_pair", {}, {"a": 0.05, "b": 0.05}),
])
def test_settings_issued_anew_hold_in_the_log_they_come_from(log, sweep, further, nearer):
    recording, found = _issued(log, sweep)
    assert found.issued
    assert analyse_key_on(recording, None, found.settings).verdict.applied is False
    told = {m[1]: (float(m[2]), m[3]) for n in found.notes
            if (m := re.match(r"With the key off track (\w) rests ([\d.]+) mV (\S+ \S+)", n))}
    # Own scatter of a return is 0.8 mV (sample_sweeps/README.md), so some mV either way.
    for columns, way in ((further, "further towards"), (nearer, "further from")):
        for column, volts in columns.items():
            assert told[column][1] == way
            assert told[column][0] == pytest.approx(1e3 * volts, abs=4)
    assert set(told) == {*further, *nearer}
    assert all(found.tracks[c].lift_bound_volts > v for c, v in further.items())


def test_a_pedal_that_rests_as_on_the_bench_is_not_remarked_upon():
    recording = read_recording(SAMPLES / "synthetic_key_on_quiet_car.csv")
    alone = analyse_key_on(recording)
    assert not any("than in the sweep" in n for n in alone.notes)

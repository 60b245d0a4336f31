"""A track that is unsteady once, and a reading at rest beyond the start of travel, are told.

Pedals of tests/studies/independent_pedal.py, which shares no code with the analysis; what is added
to one track is made here. That a wiper or lead that is unsteady once comes loose again is common
practice, no source.
"""

import re
from dataclasses import replace

import numpy as np
import pytest
from said import as_texts
from studies.independent_pedal import draw_board, draw_pedal, record, sweep

from analysis.evidence.sweep import CONTACT, DEAD_BAND
from analysis.pedal.findings import analyse

# Travel of the pedal there, and how long after the fifth time it gets there.
PLACES = {"rest": (-1.0, 0.01, 0.8), "full": (0.99, 2.0, 0.3), "moving": (0.3, 0.6, 0.0)}


def _swept(seed, place="rest", volts=0.0, lifted=0.0, for_s=0.4):
    """Return a sweep with noise of `volts` rms on track b once, or a travel that rises once."""
    rng = np.random.default_rng([77, seed])
    pedal, board = draw_pedal(rng, "opposed"), draw_board(rng, 200.0, 12)
    shot = sweep(rng, pedal, board, 10)
    low, high, later = PLACES[place]
    inside = (shot.travel >= low) & (shot.travel <= high)
    start = shot.time_s[np.flatnonzero(np.diff(inside.astype(int)) == 1)[5] + 1] + later
    during = (shot.time_s > start) & (shot.time_s < start + for_s)
    travel = shot.travel + lifted * during
    shares = [t.share(travel) for t in pedal.tracks]
    shares[1] = shares[1] + during * rng.normal(0, volts / 5.0, shot.time_s.size)
    return analyse(record(rng, pedal, board, replace(shot, travel=travel, shares=shares))), start


def _state(found, claim):
    return next(c.state for c in found.claims if c.claim == claim)


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("seed", [5, 12])
def test_a_track_that_is_unsteady_once_is_named_with_its_time(place, seed):
    found, start = _swept(seed, place, volts=0.02)
    told = [f for f in found.faults if f.kind == "noise"]
    assert [f.channel for f in told] == ["b"]
    assert told[0].time_s - 0.3 <= start <= told[0].end_s
    assert _state(found, CONTACT) == "bad"


def test_a_quiet_sweep_has_no_burst():
    found, _ = _swept(12)
    assert not found.faults
    assert found.state == "sound"


def test_a_reading_at_rest_beyond_start_of_travel_withdraws_the_promise():
    """Both tracks rise alike by 4 % of travel for a third of a second, with no foot known."""
    found, start = _swept(12, lifted=0.04, for_s=0.3)
    assert _state(found, DEAD_BAND) != "sound"
    why = [re.search(r"at ([0-9.]+) s, with the pedal at rest.* beyond the start of travel", t)
           for t in as_texts(found.warnings)]
    assert any(w and start - 0.05 <= float(w[1]) <= start + 0.35 for w in why)

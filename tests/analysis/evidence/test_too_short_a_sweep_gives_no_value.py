"""A sweep that does not carry a value gives none, and says how much more is needed.

The sweeps are made by hand here; no outside source but 49 CFR 571.124 S5.3 (1 s to return).
"""

import numpy as np
import pytest
from said import as_text, as_texts, fault_text

from analysis.evidence.sweep import AGREE, CONTACT, DEAD_BAND, RETURNS, SWEPT
from analysis.model.errors import AnalysisError
from analysis.model.recording import Channel, Recording
from analysis.parameters import Parameters
from analysis.pedal.findings import analyse

RATE = 200.0


def foot(presses=8, creep=0.0, tau=1.5, pause_s=0.0, rested=0.0, rest_s=2.0):
    """Return travel, 0 to 1; creep: share left at once after a lift-off, then with tau."""
    parts = [np.full(round(3 * RATE), rested)]
    for k in range(presses):
        start = parts[-1][-1]
        parts += [np.linspace(start, 1, round(1.5 * RATE)), np.ones(round(RATE))]
        if pause_s:
            parts += [np.linspace(1, 0.5, round(0.5 * RATE)), np.full(round(pause_s * RATE), 0.5),
                      np.linspace(0.5, 0, round(0.5 * RATE))]
        else:
            back = round((0.15 if k % 2 else 1.2) * RATE)
            parts += [np.linspace(1, creep, back)]
        after = np.arange(round(rest_s * RATE)) / RATE
        parts += [creep * np.exp(-after / tau) if creep else np.zeros(after.size)]
    return np.concatenate(parts)


def sweep(travel, gain=0.70, rest=0.152, parameters=None):
    rng = np.random.default_rng(3)
    shares = {"a": 0.15 + 0.70 * travel, "b": rest + gain * travel}
    channels = tuple(Channel(
        n, "track", np.round(4096 * s + 1.5 * rng.normal(size=travel.size)), full_scale=4096.0,
        reference_volts=5.0) for n, s in shares.items())
    feed = Channel("supply", "supply", np.full(travel.size, 4000.0), full_scale=4096.0,
                   reference_volts=5.0, scale=1.024, nominal_volts=5.0)
    return analyse(Recording(np.arange(travel.size) / RATE, (*channels, feed), rate_hz=RATE),
                   parameters)


def state(found, claim):
    return next(c.state for c in found.claims if c.claim == claim)


def starts(found):
    return [s.value for s in found.settings if s.name == "start_of_travel"]


@pytest.mark.parametrize("presses", [1, 2])
def test_too_few_presses_give_no_value_and_say_how_many_more(presses):
    found = sweep(foot(presses))
    assert found.graded[0].code == "not enough"
    assert f"{8 - presses} more full presses" in as_texts(found.verdict)[0]
    assert not np.isfinite(starts(found)).any()
    assert state(found, SWEPT) == state(found, DEAD_BAND) == "open"
    # Nothing is guessed about friction or springs.
    assert "friction" not in " ".join(as_texts(found.verdict))


def test_a_whole_sweep_is_enough():
    found = sweep(foot())
    assert found.state == "sound"
    assert np.isfinite(starts(found)).all()


@pytest.mark.parametrize("tau", [1.5, 8.0])
def test_a_pedal_that_creeps_back_is_not_sound_and_states_no_start(tau):
    found = sweep(foot(creep=0.06, tau=tau))
    assert [f.gravity for f in found.faults if f.kind == "not settled"] == [3]
    assert not np.isfinite(starts(found)).any()
    assert state(found, RETURNS) == "bad"


@pytest.mark.parametrize("let_go", [True, False])
def test_a_lift_off_that_stands_still_on_its_way_is_asked_about(let_go):
    """A fall to 45 % of travel within 0.06 s that waits there 1.2 s: a hand, or a pedal that hangs?

    A hand that leads the pedal from the start is not asked about.
    """
    steps = round((0.06 if let_go else 0.8) * RATE)
    travel = foot().copy()
    away = np.flatnonzero((travel[:-1] > 0.98) & (travel[1:] <= 0.98))[-1]
    back = np.flatnonzero(travel[away:] <= 0.01)[0] + away
    hung = np.r_[np.linspace(1.0, 0.45, steps), np.full(round(1.2 * RATE), 0.45),
                 np.linspace(0.45, 0.0, round(0.05 * RATE))]
    found = sweep(np.r_[travel[: away], hung, travel[back:]])
    assert ("hangs on its way" in {f.code for f in found.graded}) is let_go


def test_a_hand_that_pauses_half_way_is_no_lift_off():
    found = sweep(foot(pause_s=4.0))
    assert not [f for f in found.faults if f.kind == "slow return"]
    assert not any(r.quick for r in found.return_times)
    assert state(found, RETURNS) == "open"


def test_a_foot_on_the_pedal_at_first_is_asked_about():
    found = sweep(foot(rested=0.06))
    asked = [f for f in found.faults if f.kind == "foot at rest"]
    assert len(asked) == 1
    assert "was a foot resting on it?" in fault_text(asked[0])
    assert not [f for f in found.faults if f.kind == "no return"]


@pytest.mark.parametrize(("gain", "rest", "meant"), [
    (0.35, 0.105, "0.375"),    # half of 0.75 V is 0.375 V; it rests at 0.525 V
    (-0.70, 0.82, "4.250"),    # 5 V less 0.75 V; it rests at 4.10 V
])
def test_a_pair_off_its_law_gets_a_word_and_a_target_answers_it(gain, rest, meant):
    found = sweep(foot(), gain, rest)
    (said,) = [s for s in found.graded if s.code == "perhaps off at rest"]
    assert f"would rest at {meant} V" in as_text(said)
    assert abs(1000 * abs(said.values["off_volts"]) - 150) < 3
    assert state(found, AGREE) == "open"
    told = sweep(foot(), gain, rest, Parameters(target_rest_volts={"b": 5 * rest}))
    assert "perhaps off at rest" not in {s.code for s in told.graded}


def test_rows_missing_without_a_mark_leave_contact_open():
    travel = foot()
    found = sweep(travel)
    whole = found.recording
    kept = ~((travel > 0.2) & (travel < 0.6) & (whole.time_s > 8.0))
    holes = analyse(Recording(whole.time_s[kept], tuple(
        Channel(c.column, c.role, c.readings[kept], full_scale=c.full_scale, scale=c.scale,
                reference_volts=c.reference_volts, nominal_volts=c.nominal_volts)
        for c in whole.channels), rate_hz=RATE))
    assert state(holes, CONTACT) == "open"


def test_no_sentence_ever_says_nan():
    for presses in (1, 2, 3):
        for gain, rest in ((0.7, 0.152), (0.35, 0.08), (-0.7, 0.85)):
            travel = foot(presses)
            for share in (0.55, 0.8, 1.0):
                try:
                    found = sweep(travel[: int(share * travel.size)], gain, rest)
                except AnalysisError:
                    continue
                texts = ([as_text(s) for s in found.graded]
                         + [as_text(s.why) for s in found.settings])
                assert not [t for t in texts if " nan" in t]

"""A quick form of tests/studies/claims_*.py: a few cases of each kind, made apart from all else.

The generators (tests/studies/independent_*.py) share no code with those that the project was
built on. Bars are those of the scripts; with so few cases each that forbids a claim must hold
without exception.
"""

from studies import (
    claims_dead_track,
    claims_healthy_pedals,
    claims_key_on,
    claims_lost_contact,
    claims_thin_sweeps,
    one_wiper,
)

# Quick ones that differ most; the script has them all, with more seeds.
SOUND = ("quiet_opposed", "quiet_50hz", "quiet_single_lost_rows", "quiet_sag_logged",
         "quiet_foot_marked", "lift_nearly")


def _told(cases):
    return "\n".join(str(c) for c in cases)


def test_no_key_on_log_is_called_good_that_lifts_or_was_not_all_seen():
    # Every fourth kind, for the time it takes; the script has them all.
    kinds = [k for k in claims_key_on.KINDS if not k.startswith(("quiet", "late"))][::4]
    outcomes = [claims_key_on.judge((kind, 3)) for kind in kinds]
    assert len(outcomes) >= 10
    wrong = [o for o in outcomes
             if {"false not", "low allowance", "crash", "beyond", "neither moves"} & set(o.wrong)]
    assert not wrong, _told(wrong)


def test_sound_key_on_logs_get_their_verdict():
    outcomes = [claims_key_on.judge((kind, 4)) for kind in SOUND]
    wrong = [o for o in outcomes if o.wrong]
    assert not wrong, _told(wrong)


def test_a_dead_track_is_grave_and_the_sound_one_is_not_accused():
    cases = [claims_dead_track.judge(seed) for seed in range(8)]
    mild = [c for c in cases if c.said.grave < 3]
    accused = [c for c in cases if set(c.said.accused) - {c.dead}]
    assert not mild, _told(mild)
    assert not accused, _told(accused)


def test_a_lost_contact_is_found_and_the_sound_track_is_not_accused():
    cases = [claims_lost_contact.judge(seed) for seed in range(0, 16, 2)]
    missed = [c for c in cases if c.deep and not claims_lost_contact.found(c)]
    accused = [c for c in cases if set(c.said.told) - {c.hurt}]
    assert not missed, _told(missed)
    assert not accused, _told(accused)


def test_one_wiper_read_twice_is_never_two_tracks_that_agree():
    """Odd seeds are one wiper, each input with noise of its own; even ones are two films."""
    cases = [one_wiper.judge(seed) for seed in range(17, 23)]
    wrong = [c for c in cases if c.one == (c.said.claims[one_wiper.AGREE] == "sound")]
    assert not wrong, _told(wrong)


def test_a_healthy_pedal_has_no_named_fault():
    cases = [claims_healthy_pedals.judge(seed) for seed in range(7)]
    named = [c for c in cases if c.said.accused or any(
        int(f.split("/")[2]) >= 2 for f in c.said.faults)]
    assert not named, _told(named)


def test_no_sweep_that_carries_too_little_is_called_sound():
    cases = [claims_thin_sweeps.judge((kind, 1)) for kind in claims_thin_sweeps.KINDS]
    wrong = [c for c in cases if claims_thin_sweeps.wrong(c)]
    assert not wrong, _told(wrong)

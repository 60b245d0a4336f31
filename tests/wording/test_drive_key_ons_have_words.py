"""Whatever may hide the rest before a drive's key-ons has words of its own."""

from analysis.key_on import car
from analysis.key_on.opening import HINDERS, WITHHOLDS
from analysis.proof.drive_returns import NO_KEY_LINE, NOT_JUDGED, NOTHING_FOLLOWS
from bench.services.job_returns import BEFORE_SWEEP, CHANGED, SIMULATED_DRIVE
from bench.wording.job_returns import hidden_words


def test_every_code_is_worded():
    """None of the codes is told as it stands in the code (common practice, no source)."""
    codes = HINDERS | WITHHOLDS | {
        car.POWER_CAME, car.SUPPLY_MISSING, car.UNREAD, NO_KEY_LINE, NOT_JUDGED, NOTHING_FOLLOWS,
        BEFORE_SWEEP, CHANGED, SIMULATED_DRIVE}
    told = {code: hidden_words([code]) for code in codes}
    assert len(set(told.values())) == len(codes)
    assert not set(told.values()) & codes
    assert all(len(words) > 10 for words in told.values())

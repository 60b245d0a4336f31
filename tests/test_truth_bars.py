"""A quick form of tests/truth/pedal_bars.py: a few pedals of each generator, every bar.

The bars are the project's own (500 pedals, run by hand: python tests/truth/pedal_bars.py). With
few pedals one miss can break a percentage, so the quick form allows one miss per bar, and none
for the relation, which must always be right.
"""

import pytest
from truth import pedal_bars


@pytest.mark.parametrize(("generator", "sound", "lost"), [("first", 24, 16), ("second", 15, 10)])
def test_random_pedals_reach_every_bar(generator, sound, lost):
    tally = pedal_bars.Tally()
    pedal_bars.measure(generator, sound, False, tally)
    pedal_bars.measure(generator, lost, True, tally)
    report = f"{pedal_bars.table(tally)}\n{pedal_bars.details(tally, 20)}"
    assert (tally.refused, tally.relation_wrong) == ([], []), report
    assert len(tally.rest_share) == 2 * (sound + lost)
    assert tally.dropouts > 30
    for wrong in (tally.presses_wrong, tally.rest_wrong, tally.mismatch_wrong):
        assert len(wrong) <= 1, report
    for bar in pedal_bars.bars(tally):
        if bar.name in ("dropouts found on the right track",
                        "false faults per 1000 healthy presses"):
            assert bar.met, report
    assert sum(tally.false_kinds.values()) == 0, report

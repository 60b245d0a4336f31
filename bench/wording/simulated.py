"""What is the matter with each simulated pedal, by its name in `analysis.simulation`."""

from collections.abc import Mapping

STORIES: Mapping[str, str] = {
    "healthy": "two tracks of the same slope, nothing wrong",
    "off-at-rest": "track b sits 150 mV too high at rest; both are right when floored",
    "opposed": "track b falls as track a rises; their sum is constant",
    "half-slope": "track b moves half as far as track a",
    "offset": "track b has track a's slope, 0.56 V higher",
    "worn-spot": "track a is worn at 8 % of travel, where a foot dwells",
    "dropouts": "track b loses contact for 30 ms near 40 % of every press",
    "play": "3 % of play between the shafts of the two tracks",
    "stuck-return": "the fourth return stays at 15 % of travel",
    "slow-return": "a quick lift-off takes 1.6 s",
    "sagging-supply": "the supply sags by 0.6 V for 12 s",
    "clipped": "at 5.3 V supply track b runs into the top of a 5 V input before full travel",
    "flat-spot": "track b does not move between 58 and 62 % of travel",
    "slip": "track b slips by 4 % of travel at 30 s",
    "lost-samples": "the line to the board lost 140 samples in three gaps",
    "one-track": "a pedal with a single track",
}

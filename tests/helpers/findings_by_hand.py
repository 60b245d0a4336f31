"""Settings and findings made by hand for the tests of exports, comparison and report."""


from places import ROOT

from analysis.pedal.settings import Setting

DOCS = ROOT / "docs"
SAMPLES = DOCS.parent / "sample_sweeps"

SETTINGS = (
    Setting("rest", "a", 0.6, "V", "median of 24 returns"),
    Setting("start_of_travel", "a", 0.6842, "V", "above all that lifts the rest reading", "up"),
    Setting("release", "a", 0.6611, "V", "above the highest rest reading", "up"),
    Setting("full_travel", "a", 4.1788, "V", "reached by every full press", "down"),
    Setting("fault_low", "a", 0.3007, "V", "half way between ground and the lowest reading", "up"),
    Setting("fault_high", "a", 4.7003, "V", "between the highest reading and the supply", "down"),
    # Falls as the pedal is pressed.
    Setting("rest", "b", 4.4, "V", "median of 24 returns"),
    Setting("start_of_travel", "b", 4.3168, "V", "below all that lowers the rest reading", "down"),
    Setting("full_travel", "b", 0.8212, "V", "reached by every full press", "up"),
    Setting("fault_low", "b", float("nan"), "V", "no press reached full travel", "up"),
    Setting("mismatch_limit", None, 10.0, "%", "Formula SAE rules T.4.2"),
    Setting("mismatch_time", None, 0.1, "s", "Formula SAE rules T.4.2"),
)

"""Make the key-on samples again, and KEY_ON.md with what was put into each.

    python tests/studies/make_key_on_samples.py
"""

import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from analysis.model.recording import Recording
from analysis.pedal.settings import Setting
from analysis.simulation.car import Car, CarNoise, CarTrack, CarTruth, drive
from analysis.simulation.converter import Converter

PLACE = Path(__file__).resolve().parents[2] / "sample_sweeps"
STARTED = "2026-11-25T10:00:00+00:00"
# Power starts so far from rest on each track, and ends at 80 % of that (common practice).
DEAD_BAND_VOLTS = 0.100
BOARD = Converter(12, 5.0, 1.0, 2.0, 0.3)
QUIET = CarNoise(white=0.0008)
# The pedals of the samples swept on the bench (make_sample_sweeps.py), so that a log and a sweep
# belong together.
PAIR = (CarTrack("a", 0.75, 4.25), CarTrack("b", 0.76, 4.25))
OPPOSED = (CarTrack("a", 0.75, 4.25), CarTrack("b", 4.25, 0.75))
BASE = Car(tracks=PAIR, cycles=4, off_s=6.0, on_s=20.0, rate_hz=100.0, noise=QUIET, converter=BOARD)


@dataclass(frozen=True)
class KeyOnStory:
    """Hold one sample: its file, the car behind it, what was put in, and what it comes from.

    kind: the name `CommonMode.kind` should give the cause.
    """

    name: str
    put_in: str
    car: Car
    kind: str

    @property
    def path(self) -> Path:
        """Return where the recording lies."""
        return PLACE / f"synthetic_key_on_{self.name}.csv"

    def make(self) -> tuple[Recording, CarTruth]:
        """Return the recording and its truth, the same every time."""
        recording, truth = drive(replace(self.car, title=f"synthetic: {self.put_in}"))
        return replace(recording, started=STARTED), truth

    def settings(self) -> tuple[Setting, ...]:
        """Return the settings that the table's last column judges."""
        result = []
        for track in self.car.tracks:
            for name, share in (("start_of_travel", 1.0), ("release", 0.8)):
                result.append(Setting(
                    name, track.column, track.rest_volts + track.sign * share * DEAD_BAND_VOLTS,
                    "V", "100 mV of dead band"))
            result.append(Setting("full_travel", track.column, track.full_volts, "V", "as made"))
        return tuple(result)


STORIES = (
    KeyOnStory("quiet_car", "a quiet car: nothing moves at key-on", replace(BASE, seed=1), "none"),
    KeyOnStory("ground_offset", "both tracks shift by 45 mV at key-on",
               replace(BASE, ground_volts=0.045, ground_scatter_volts=0.001, seed=2),
               "ground offset"),
    KeyOnStory("ground_offset_opposed", "60 mV of ground offset on a pair of opposed slopes",
               replace(BASE, tracks=OPPOSED, ground_volts=0.060, ground_scatter_volts=0.001,
                       seed=3), "ground offset"),
    KeyOnStory("one_track_lifts", "track b lifts by 120 mV while the field comes up",
               replace(BASE, tracks=(PAIR[0],
                                     CarTrack("b", 0.76, 4.25, 0.120, 0.002)),
                       settle_s=0.4, overshoot=-1.0, seed=4), "one track"),
    KeyOnStory("switching_noise", "an 8037 Hz switching tone (folds to 37 Hz) and bursts",
               replace(BASE, cycles=3, off_s=5.0, on_s=25.0, rate_hz=500.0,
                       noise=CarNoise(0.0008, 0.003, burst_per_minute=12.0, burst_volts=0.02,
                                      burst_s=0.05, tones=((8037.0, 0.006),)), seed=5), "none"),
    KeyOnStory("sagging_supply", "the supply sags by 6 % at key-on; the tracks follow it",
               replace(BASE, sag=0.06, sag_wander=0.3, seed=6), "none"),
    KeyOnStory("fed_from_elsewhere", "the supply sags by 6 %, but the tracks are fed from another",
               replace(BASE, sag=0.06, ratiometric=False, seed=7), "none"),
    KeyOnStory("foot_and_brake", "no key line; the foot presses twice, once with the brake on",
               replace(BASE, ground_volts=0.050, ground_scatter_volts=0.0005,
                       presses=((1, 8.0, 3.0, 60.0), (2, 6.0, 2.0, 40.0)),
                       brakes=((2, 5.0, 5.0),), with_key=False, seed=8), "ground offset"),
)


def row_of(story: KeyOnStory) -> str:
    """Return the line of the table for one sample."""
    _, truth = story.make()
    columns = list(truth.shifts)
    cells = []
    for column in columns:
        each = ", ".join(f"{1000 * v:+z.1f}" for v in truth.shifts[column])
        cells.append(f"{1000 * truth.mean_shift[column]:+z.1f} ({each})")
    starts = {s.channel: s.value for s in story.settings() if s.name == "start_of_travel"}
    passed = [c for t in story.car.tracks for c in [t.column]
              if np.max(t.sign * (truth.peaks[c] - starts[c])) >= 0]
    times = ", ".join(f"{t:.1f}" for t in truth.key_on_s)
    return (f"| `{story.path.name}` | {story.put_in} | {times} | {cells[0]} | {cells[1]} | "
            f"{'yes: ' + ', '.join(passed) if passed else 'no'} |")


def page() -> str:
    """Return KEY_ON.md."""
    rows = "\n".join(row_of(s) for s in STORIES)
    return f"""# Key-on samples

None of these came from a real car: all are synthetic, made from a seed by
`python tests/studies/make_key_on_samples.py`, which also writes this page.
`tests/analysis/key_on/test_key_on_samples_hold_what_was_put_in.py` holds the analysis against it.

Shifts are true values in mV at 5 V supply: the mean of the simulated car, and in brackets each
key-on. Power: whether the true voltage passes a start of travel 100 mV from rest (towards
pressed) while the key is on and no foot is on the pedal, and on which track.

| recording | what was put in | key-on at, s | shift of a, mV | shift of b, mV | power? |
|---|---|---|---|---|---|
{rows}

Rest of track a 0.75 V, of b 0.76 V (4.25 V falling where the slopes are opposed). Inputs have
12 bits over 5 V with 0.3 steps of noise; white noise of 0.8 mV is always there. The supply is
read behind a 2:1 divider. 100 rows a second, 500 for the switching noise.
"""


def main() -> int:
    """Write all samples and the page."""
    from bench.files.recording_file import write_recording

    for story in STORIES:
        story.path.unlink(missing_ok=True)
        write_recording(story.path, story.make()[0])
        print(f"{story.path.name}: {story.path.stat().st_size / 1024:.0f} KiB")
    (PLACE / "KEY_ON.md").write_text(page(), encoding="utf-8", newline="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())

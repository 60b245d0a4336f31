"""Make sample_sweeps/ again: every recording and the README table of what was put in.

    python tests/studies/make_sample_sweeps.py
"""

import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from analysis.model.recording import Recording
from analysis.pedal.faults.returns import BACK_PERCENT
from analysis.simulation import (
    Converter,
    Dropout,
    Motion,
    SimulatedSweep,
    StuckReturn,
    Supply,
    WornSpot,
    pedal_named,
    simulate_sweep,
)

PLACE = Path(__file__).resolve().parents[2] / "sample_sweeps"
STARTED = "2026-11-25T09:00:00+00:00"
MOTION = Motion(cycles=6, quick=3)


@dataclass(frozen=True)
class Story:
    """Hold one sample: its file, the pedal and seed behind it, and what was put in, in words."""

    name: str
    pedal: str
    put_in: str
    seed: int
    rate_hz: float = 100.0
    bits: int = 12
    cut_short: bool = False

    @property
    def path(self) -> Path:
        """Return where the recording lies."""
        return PLACE / f"synthetic_{self.name}.csv"

    def make(self) -> SimulatedSweep:
        """Return the recording and its truth, the same every time."""
        pedal = pedal_named(self.pedal)
        if self.pedal == "sagging-supply":
            pedal = replace(pedal, supply=Supply(sag_volts=0.6, sag_at_s=20.0, sag_seconds=9.0))
        if self.pedal == "worn-spot":
            pedal = replace(pedal, worn_spots=(WornSpot(0, 8.0, 4.0, 0.025),))
        if self.pedal == "dropouts":
            pedal = replace(pedal, dropouts=(
                Dropout(1, 0.030, 40.0), Dropout(1, 0.060, None, 4.0, "high")))
        if self.pedal == "stuck-return":
            pedal = replace(pedal, stuck_returns=(StuckReturn(3, 15.0),))
        made = simulate_sweep(
            pedal, self.rate_hz, motion=MOTION, converter=Converter(self.bits), seed=self.seed)
        return replace(made, recording=replace(
            made.recording, title=f"synthetic: {self.put_in}", started=STARTED))


STORIES = (
    Story("healthy_pair", "healthy", "a healthy pair, nothing wrong", 1),
    Story("off_at_rest", "off-at-rest", "track b sits 150 mV too high at rest", 2),
    Story("opposed_pair", "opposed", "track b falls as track a rises", 3),
    Story("half_slope_pair", "half-slope", "track b moves half as far as track a", 4),
    Story("same_slope_with_offset", "offset", "track b is track a shifted up", 5),
    Story("worn_spot_near_rest", "worn-spot",
          "track a is worn near 8 % of travel: 25 mV of noise", 6, 200.0),
    Story("wiper_dropouts", "dropouts",
          "track b loses contact for 30 ms at 40 % of every press, and once for 60 ms", 7, 200.0),
    Story("play_between_shafts", "play", "3 % of play between the shafts of the tracks", 8),
    Story("stuck_return", "stuck-return", "the fourth return stays at 15 % of travel", 9),
    Story("slow_return", "slow-return", "a quick lift-off takes 1.6 s to come back", 10),
    Story("sagging_supply", "sagging-supply", "the supply sags by 0.6 V from 20 s to 29 s", 11),
    Story("clipped_input", "clipped",
          "track b runs into the top of a 5 V input at 93 % of travel", 12),
    Story("flat_spot", "flat-spot", "track b stands still from 58 to 62 % of travel", 13),
    Story("slipped_track", "slip", "track b slips by 4 % of travel at 30 s", 14),
    Story("lost_samples", "lost-samples", "140 samples lost in three gaps", 15),
    Story("cut_short_file", "healthy", "the file ends in the middle of a row", 16,
          cut_short=True),
    Story("one_track", "one-track", "a pedal with one track only", 17),
)


HEADING = (
    "| recording | what was put in | track a, V | track b, V | relation | gain "
    "| worst mismatch, % at % | presses |\n|---|---|---|---|---|---|---|---|")


def expected_rows(story: Story, whole: int) -> int:
    """Return how many rows the file holds: a cut file keeps its first five sixths."""
    return whole * 5 // 6 if story.cut_short else whole


def write(story: Story, recording: Recording) -> None:
    """Write one recording; a cut story loses its end in the middle of a row."""
    from bench.files.recording_file import write_recording

    story.path.unlink(missing_ok=True)
    write_recording(story.path, recording)
    if story.cut_short:
        lines = story.path.read_text(encoding="utf-8").splitlines(keepends=True)
        first_row = 1 + next(k for k, line in enumerate(lines) if line.startswith("time_s"))
        kept = first_row + expected_rows(story, recording.rows)
        story.path.write_bytes(("".join(lines[:kept]) + lines[kept][:7]).encode())


def presses_inside(story: Story, made: SimulatedSweep) -> tuple[int, int]:
    """Return how many slow presses and quick lift-offs have reached full travel in the file."""
    rows = expected_rows(story, made.recording.rows)
    end = float(made.recording.time_s[rows - 1])
    reached = [p for p in made.truth.parts if p.kind == "hold" and p.start_s < end]
    return sum(not p.quick for p in reached), sum(p.quick for p in reached)


def table_row(story: Story, made: SimulatedSweep) -> str:
    """Return one line of the README table."""
    truth = made.truth
    slow, quick = presses_inside(story, made)

    def levels(column: str) -> str:
        track = truth.tracks.get(column)
        return f"{track.rest_volts:.3f} to {track.full_volts:.3f}" if track else "-"

    def number(value: float, digits: int) -> str:
        return f"{value:.{digits}f}" if np.isfinite(value) else "-"

    worst = number(truth.mismatch_max_percent, 1)
    if worst != "-":
        worst += f" at {truth.mismatch_at_travel_percent:.0f}"
    return (f"| `{story.path.name}` | {story.put_in} | {levels('a')} | {levels('b')} | "
            f"{truth.relation or '-'} | {number(truth.gain, 3)} | {worst} | "
            f"{slow} + {quick} |")


def readme() -> str:
    """Return the text of sample_sweeps/README.md."""
    rows = "\n".join(table_row(story, story.make()) for story in STORIES)
    return f"""# Sample sweeps

None of these came from a real pedal: all are synthetic, made from a seed by
`python tests/studies/make_sample_sweeps.py`, which also writes this page. Each tells one story;
the table says what was put in, and
`tests/analysis/pedal/test_sample_sweeps_hold_what_was_put_in.py` holds the findings against it.

Levels are volts at the sensor at 5 V supply, from rest to full travel (median of the presses,
noise left out). Gain is track b over track a between their ends. Worst mismatch is the largest
difference between the two tracks' travels, pressing or releasing, in % of travel, without
noise, dropouts or scatter; "-" where it has no single value. Presses are slow + quick lift-offs.

{HEADING}
{rows}

All tracks carry 1 mV rms of white noise and 0.8 mV of scatter of their own between returns; the
whole pedal comes to rest within 0.05 % of travel (standard deviations). Inputs have 12 bits over
5 V; 100 rows a second, 200 for the worn spot and the dropouts; the supply is read behind a 2:1
divider. The foot follows each prompt about 0.35 s late. How long a return takes is put in all the
way to rest; the findings count until {BACK_PERCENT:g} % of travel, which is less.

The key-on logs, `synthetic_key_on_*.csv`, are described in [KEY_ON.md](KEY_ON.md).
"""


def main() -> int:
    """Write every recording and the README."""
    PLACE.mkdir(exist_ok=True)
    for story in STORIES:
        write(story, story.make().recording)
        print(story.path.name, story.path.stat().st_size, "bytes")
    (PLACE / "README.md").write_text(readme(), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())

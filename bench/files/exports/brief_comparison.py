"""Two recordings on one screen: did it get better, does the old value hold, what is left."""

import math
from pathlib import Path

from analysis.pedal.compare import Comparison, supply_doubts
from analysis.pedal.dead_band import sign_of
from analysis.pedal.of_its_kind import marks_of
from bench.files.exports.comparison import word
from bench.files.exports.text_layout import wrapped
from bench.wording.compare import answer, before_after, closing, label
from bench.wording.face import volts_of
from bench.wording.limb import worked
from bench.wording.next_step import after_sweep
from bench.wording.parameters import options_of
from bench.wording.shell_quote import pasted
from bench.wording.short import short_line, shortened

MOST_LEFT = 3
MOST_MOVES = 6


def brief_comparison(comparison: Comparison, before: str, after: str) -> str:
    """Return the answer in at most 24 lines; `--more` has every quantity and the reasons."""
    later = comparison.after
    lines = [f"{Path(before).name} -> {Path(after).name}"]
    lines += [*wrapped(answer(comparison), ""),
              ""]
    moved = sorted((m for m in comparison.moves if m.real),
                   key=lambda m: m.worse is not True)[:MOST_MOVES]
    for move in moved:
        lines.append(f"{word(move):<7} {label(move)}: {' -> '.join(before_after(move))}")
    if not moved:
        lines.append("nothing that was measured moved by more than chance")
    for name, old in comparison.before.dead_bands.items():
        track = later.tracks.get(name)
        if track is not None and math.isfinite(old.start_of_travel_volts) and sign_of(track) * (
                track.rest.value - old.start_of_travel_volts) >= 0:
            marks = marks_of(later.recording)
            rest = volts_of(marks, track.rest.value)
            lines.append(f"track {name} rests at {rest}, past the earlier "
                         f"start of travel: {worked(marks).would}")
    for doubt in supply_doubts(comparison.before)[:1]:
        lines += wrapped(f"the earlier sweep: {short_line(doubt)}", "")
    lines += ["", *wrapped(closing(comparison), "")]
    told = shortened(later.coded)
    lines += [f"{place}. {short_line(f)}" for place, f in enumerate(told[:MOST_LEFT], start=1)]
    if len(told) > MOST_LEFT:
        lines.append(f"   and {len(told) - MOST_LEFT} more")
    lines += ["", f"next: {after_sweep(later, Path(after))}",
              f"more: stillpedal compare {pasted(before)} {pasted(after)}"
              f"{options_of(later.parameters)} --more"]
    return "\n".join(lines) + "\n"

"""What a figure is called, the number it shows, and what is in that number.

Window, report and the small pictures of a strip read the same three pieces. The titles of the
figures in `sweep` stand here; every other one stands beside its drawing.
"""

from dataclasses import dataclass

import numpy as np

from analysis.pedal.findings import Findings
from bench.plots.ranges import known
from bench.plots.scale import scale_of
from bench.wording.limb import limb_of

NOT_KNOWN = "not known"


@dataclass(frozen=True)
class Title:
    """Hold a figure's title in pieces. number: "" for none; what: how the number was got.

    small, least: name and number for a picture no wider than a thumb; "" takes the usual ones.
    """

    name: str
    number: str = ""
    what: str = ""
    small: str = ""
    least: str = ""

    @property
    def thumb(self) -> tuple[str, str]:
        """Return name and number for the smallest pictures."""
        return self.small or self.name, self.least or self.number

    @property
    def forms(self) -> tuple[str, ...]:
        """Return the title from long to short, for plots of any width."""
        short = f"{self.name}: {self.number}" if self.number else self.name
        whole = f"{short} ({self.what})" if self.what else short
        return tuple(dict.fromkeys((whole, short, self.number or self.name)))


def level_word(findings: Findings) -> str:
    return "volts" if findings.recording.ohms_per_volt is None else "ohms"


def traces_title(findings: Findings, _column: str = "") -> Title:
    time_s = findings.recording.time_s
    seconds = float(time_s[-1] - time_s[0]) if time_s.size else float("nan")
    return Title("Traces", f"{seconds:.0f} s" if known(seconds) else "",
                 f"{level_word(findings)} over time, shaded by what the pedal did")


def pair_title(findings: Findings, _column: str = "") -> Title:
    pair = findings.pair
    if pair is None:
        return Title("Track against track")
    scale = scale_of(findings.recording)
    fitted = (f"{pair.second} = {pair.gain.value:.4g} × {pair.first} "
              f"{scale.level * pair.offset_volts.value:+.{scale.digits}f} {scale.unit}")
    return Title("Track against track", pair.relation, fitted, "Pair")


def mismatch_title(findings: Findings, _column: str = "") -> Title:
    pair = findings.pair
    if pair is None:
        return Title("Mismatch")
    worst, at = pair.mismatch_max_percent.value, pair.mismatch_at_travel_percent
    number = (f"{worst:.2f} %" + (f" at {at:z.0f} %" if known(at) else "") if known(worst)
              else NOT_KNOWN)
    return Title("Mismatch", number, "each track on its own travel, dropouts left out")


def play_title(findings: Findings, _column: str = "") -> Title:
    pair = findings.pair
    of = limb_of(findings.recording.pedal.use)
    name = "Press and release" if of.by_foot else "Opening and closing"
    if pair is None:
        return Title(name)
    play, at = pair.play_percent.value, pair.play_at_travel_percent
    place = f" at {at:z.0f} %" if known(at) else ""
    number, short = ((f"{play:.2f} % play{place}", f"{play:.2f} %{place}") if known(play)
                     else (NOT_KNOWN, NOT_KNOWN))
    return Title(name, number, f"widest gap between {of.pressing} and letting go", "Play",
                 short)


def noise_title(findings: Findings, _column: str = "") -> Title:
    step, scale = step_small(findings), scale_of(findings.recording)
    told = f"line: one converter step {step:.2f} {scale.small_unit}" if known(step) else ""
    rests = ", ".join(f"{name} {scale.fine(t.noise_volts, 2)}" for name, t in
                      findings.tracks.items() if known(t.noise_volts))
    worst = max(known(*(t.noise_volts for t in findings.tracks.values())), default=float("nan"))
    return Title("Noise", f"{rests} at rest" if rests else NOT_KNOWN, told,
                 least=scale.fine(worst, 2) if rests else NOT_KNOWN)


def step_small(findings: Findings) -> float:
    """Return one converter step of the tracks in mV, of a rheostat in ohms; NaN: none in common."""
    steps = {t.step_volts for t in findings.tracks.values() if known(t.step_volts)
             and t.step_volts > 0}
    return steps.pop() * scale_of(findings.recording).small if len(steps) == 1 else float("nan")


def rest_title(findings: Findings, column: str) -> Title:
    track, scale = findings.tracks[column], scale_of(findings.recording)
    rest, scatter = track.rest.value, track.rest_scatter.value
    count = int(np.isfinite(track.rest_levels).sum())
    what = f"median of {count} returns"
    if known(scatter):
        what += f", they scatter by {scale.fine(scatter, 1)}"
    return Title(f"Rest of {column}", scale.told(rest) if known(rest) else NOT_KNOWN, what)

"""Count how often two uncertainties hold rest, full travel and span where a limit rules.

    python tests/studies/interval_limits.py --cases 150

Over pedals, and over converters and warming laws drawn from their limits, of third_pedal.py. A
converter that bends by so much at its worst code bends by less at most others; whether the one
in hand rounds down or to the nearest stays unknown to the reading. "moment": the level at a
moment drawn evenly from the first to the last time it was seen; "middle": its mean over the
sweep; "end": its last.
"""

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from studies.claims_judge import finish, options, percent
from studies.independent_pedal import runner
from studies.third_pedal import LAWS, SHAPES, World, draw

from analysis.pedal.findings import analyse

WORLDS = {
    "cut down, bent by 0.8": World(),
    "cut down, bent by up to 0.8": World(worst=False),
    "nearest, bent by 0.8": World(offset="nearest"),
    "any offset, bent by up to 0.8": World(offset="any", worst=False),
    "12 bits, cut down, bent by 0.8": World(bits=12),
    "no supply, within 2 %": World(tolerance=0.02),
    "no supply, 12 bits": World(tolerance=0.02, bits=12, inl=0.5),
    "warms by up to 10 mV": World(bits=12, inl=0.3, warm_share=0.002),
    "warms by up to 40 mV": World(bits=12, inl=0.3, warm_share=0.008),
}
EACH = ({f"bent, {s}": World(shape=s) for s in SHAPES}
        | {f"warms, {law}": replace(WORLDS["warms by up to 10 mV"], law=law) for law in LAWS})


def judge(job: tuple[str, int]) -> list[tuple[str, bool, float]]:
    """Return by figure whether the truth was held, and half the width in steps."""
    name, seed = job
    world = (WORLDS | EACH)[name]
    rng = np.random.default_rng([41, seed])
    sample = draw(rng, world)
    found = analyse(sample.recording)
    share, rate = rng.random(), sample.recording.rate_hz
    presses = [s for s in found.segments if s.kind == "hold"]
    seen_s = {"rest": (0.0, float(sample.recording.time_s[-1])),
              "full": (presses[0].start_s, presses[-1].end_s), "span": (0.0, 0.0)}
    held = []
    for column in "ab":
        track = found.tracks[column]
        rest, full = sample.rest[column], sample.full[column]
        pairs = [("rest", track.rest, rest), ("full", track.full, full),
                 ("span", track.span, np.abs(full - rest))]
        for what, seen, true in pairs:
            first, last = seen_s[what]
            row = int((first + share * (last - first)) * rate)
            times = {"": true[row]} if not world.warm_share or what == "span" else {
                " at a moment": true[row], " in the middle": true.mean(), " at the end": true[-1]}
            for when, level in times.items():
                held.append((f"{name}: {what}{when}",
                             bool(abs(seen.value - level) <= 2 * seen.uncertainty),
                             2 * seen.uncertainty / track.step_volts))
    return held


def main() -> int:
    """Print coverage of each world."""
    parser = options(__doc__, 150)
    parser.add_argument("--each", action="store_true", help="by shape and by law too")
    asked = parser.parse_args()
    names = list(WORLDS) + (list(EACH) if asked.each else [])
    jobs = [(n, s) for n in names for s in range(asked.first, asked.first + asked.cases)]
    figures: dict[str, list[tuple[bool, float]]] = {}
    for case in runner(jobs, judge, asked.workers):
        for name, value, width in case:  # type: ignore[attr-defined]
            figures.setdefault(name, []).append((value, width))
    bars = []
    for name, values in figures.items():
        share = percent([v for v, _ in values])
        half = float(np.median([w for _, w in values]))
        bars.append((f"{name} ({len(values)}; half width {half:.2f} steps), %", share,
                     "93 to 98", 93.0 <= share <= 98.0))
    return finish(bars)


if __name__ == "__main__":
    sys.exit(main())

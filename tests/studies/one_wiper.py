"""Judge one wiper read twice, and twins of two films.

    python tests/studies/one_wiper.py --cases 200

The generator shares no code with the rule. Half of the cases are two leads on one wiper, each
input with noise of its own from a tenth of a step to far above it and a divider of 1 % parts; half
are two films of equal slope, drawn as `independent_pedal` draws them or as twins whose rest and
full level are one. Films bend (the independent linearity of good elements is stated as 0.1 to 2 %:
common practice, no source).
Bars: no pair on one wiper keeps the claim that the tracks agree; no two films are called copies
(gravity 2), and the claim of at most 5 % of them is left open.
"""

import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from studies.claims_judge import Said, arguments, finish, percent, run, say
from studies.independent_pedal import Board, Pedal, draw_pedal, record, sweep

from analysis.evidence.sweep import AGREE

BITS = {10: (5.0, 1.2), 12: (5.0, 1.15), 14: (5.0, 1.2), 16: (4.096, 1.4), 20: (5.0, 1.2)}


@dataclass(frozen=True)
class Case:
    """Hold one sweep and what was said."""

    seed: int
    what: str
    one: bool
    said: Said


def judge(seed: int) -> Case:
    """Return one case."""
    rng = np.random.default_rng([41, seed])
    one, twins = bool(seed % 2), bool(seed % 4 == 2)
    bits = int(rng.choice(list(BITS)))
    reference, scale = BITS[bits]
    step = reference * scale / 2.0**bits
    noise_volts = float(np.exp(rng.uniform(np.log(0.0001), np.log(0.004))))
    board = Board(bits, float(rng.choice([50.0, 100.0, 200.0, 500.0, 1000.0])), reference, scale,
                  rng.normal(0, 0.001), rng.uniform(-0.8, 0.8), 0.02,
                  max(noise_volts / step, 0.1), True, rng.uniform(4.9, 5.1), 0.001)
    pedal = draw_pedal(rng, str(rng.choice(["same", "falling"])))
    first, second = pedal.tracks
    if twins:
        second = replace(second, rest=first.rest, full=first.full)
    pedal = Pedal(pedal.relation, (first, first if one else second), pedal.scatter)
    shot = sweep(rng, pedal, board, int(rng.integers(8, 13)))
    if one:
        divider = 1 + rng.normal(0, 0.004)
        shot = replace(shot, shares=[shot.shares[0], shot.shares[0] * divider])
    kind = "one wiper" if one else "twin films" if twins else "two films"
    return Case(seed, f"{kind}, {bits} bit, noise {noise_volts / step:.1f} steps, "
                f"{board.rate:g} Hz", one, say(record(rng, pedal, board, shot)))


def figures(cases: list[Case]) -> list[tuple[str, float, str, bool]]:
    """Return the figures and their bar."""
    one = [c.said for c in cases if c.one]
    two = [c.said for c in cases if not c.one]

    kept = percent([s.claims.get(AGREE) == "sound" for s in one])
    copies = percent([s.claims.get(AGREE) == "bad" and "same wiper" in s.because for s in two])
    asked = percent(["same wiper" in s.because for s in two])
    return [("one wiper read twice: tracks said to agree, %", kept, "0", kept == 0),
            ("two films: called copies, %", copies, "0", copies == 0),
            ("two films: asked about, %", asked, "<= 5", asked <= 5.0)]


def main() -> int:
    """Print what went wrong and the figures."""
    asked = arguments(__doc__, 200)
    cases: list[Case] = run(judge, asked)  # type: ignore[assignment]
    wrong = [c for c in cases if c.one == (c.said.claims.get(AGREE) == "sound")]
    for c in wrong[:asked.show]:
        print(f"  seed {c.seed}: {c.what}: {c.said.because}; {c.said.faults[:4]}")
    return finish(figures(cases))


if __name__ == "__main__":
    sys.exit(main())

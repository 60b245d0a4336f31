"""Judge healthy pedals under different feet: named faults and withdrawn promises in 1000 sweeps.

    python tests/studies/claims_healthy_pedals.py --cases 1000
    python tests/studies/claims_healthy_pedals.py --cases 300 --generator second

Bar: a fault of gravity 2 or more named in at most 1 of 1000 sweeps. A promise is withdrawn by
design in 1 of 100 (Grubbs' test at 1 %), and a dead band may rightly cost too much of a small span.
"""

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from studies.claims_judge import Said, finish, options, run, say
from studies.independent_pedal import RATES, draw_board, draw_pedal, record, sweep
from studies.second_harms import read, ride

# rest_s None: as it comes. Each is a way to press that a person may well have.
FEET = {"usual": {}, "brisk": {"slow": 0.45}, "slow": {"slow": 3.0},
        "long rests": {"rest_s": 5.0}, "short rests": {"rest_s": 1.2}}
# A rate that may miss a short loss, and pairs that only the pedal's papers can tell from a fault.
RIGHTLY_OPEN = {"rate too low", "apart all along", "unusual relation"}


@dataclass(frozen=True)
class Case:
    """Hold one sweep and what was said."""

    seed: int
    what: str
    said: Said


def judge(seed: int) -> Case:
    """Return one case."""
    rng = np.random.default_rng([23, seed])
    pedal = draw_pedal(rng)
    board = draw_board(rng)
    foot = str(rng.choice(list(FEET)))
    presses = int(rng.integers(8, 13))
    shot = sweep(rng, pedal, board, presses, **FEET[foot])
    return Case(seed, f"{pedal.relation}, {board.bits} bit, {board.rate:g} Hz, {presses} presses, "
                f"{foot}", say(record(rng, pedal, board, shot)))


def judge_second(seed: int) -> Case:
    """Return one case of the second generator, nothing done to it."""
    shot = ride(seed, RATES[seed % len(RATES)])
    return Case(seed, f"{shot.kind}, {shot.rate:g} Hz", say(read(shot)))


def figures(cases: list[Case]) -> list[tuple[str, float, str, bool]]:
    """Return the figures and their bar."""
    def thousand(flags: list[bool]) -> float:
        return 1000.0 * sum(flags) / max(len(cases), 1)
    bad = thousand(["bad" in c.said.claims.values() for c in cases])
    faults = thousand([any(int(f.split("/")[2]) >= 2 for f in c.said.faults)
                       or bool(c.said.accused) for c in cases])
    return [("named faults of gravity 2 or more, of 1000", faults, "<= 1", faults <= 1.0),
            ("promises withdrawn, of 1000", thousand([c.said.weak for c in cases]), "none set",
             True),
            ("a claim contradicted, of 1000", bad, "none set", True),
            ("a claim open that the sweep carries, of 1000",
             thousand([bool(set(c.said.because) - RIGHTLY_OPEN) for c in cases]), "none set", True),
            ("refused, of 1000", thousand([bool(c.said.refused) for c in cases]), "none set",
             True),
            ("nan told, of 1000", thousand([c.said.nan for c in cases]), "0",
             not any(c.said.nan for c in cases))]


def main() -> int:
    """Print what went wrong and the figures."""
    parser = options(__doc__, 1000)
    parser.add_argument("--generator", choices=["free", "second"], default="free")
    asked = parser.parse_args()
    work = judge_second if asked.generator == "second" else judge
    cases: list[Case] = run(work, asked)  # type: ignore[assignment]
    bad = [c for c in cases if set(c.said.because) - RIGHTLY_OPEN or c.said.accused]
    for c in bad[:asked.show]:
        print(f"  seed {c.seed}: {c.what}: {c.said.because}; {c.said.faults[:4]}; "
              f"{c.said.headline[:200]}")
    return finish(figures(cases))


if __name__ == "__main__":
    sys.exit(main())

"""Judge sweeps in which a track goes dead: it stands still anywhere while the pedal moves on.

    python tests/studies/claims_dead_track.py --cases 300

Bars: all grave; the dead track named >= 98 %; the sound one accused <= 1 %.
"""

import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from studies.claims_judge import Said, arguments, finish, percent, run, say
from studies.independent_pedal import Pedal, Shot, draw_board, draw_pedal, record, sweep

from analysis.evidence.sweep import AGREE, CONTACT, DEAD_BAND

WAYS = ("still", "still", "without noise", "creeps", "wanders", "leaks through")


@dataclass(frozen=True)
class Case:
    """Hold one sweep: what was done to which track, and what was said."""

    seed: int
    what: str
    dead: str
    said: Said


def killed(rng: np.random.Generator, pedal: Pedal, shot: Shot) -> tuple[Shot, Pedal, str, str]:
    """Return the shot with a track dead for at least most of one press, and what was done."""
    n, number = shot.time_s.size, int(rng.integers(2))
    rate = n / shot.time_s[-1]
    while True:
        start = int(rng.uniform(0.1, 0.92) * n)
        kinds = {"to the end": n, "some presses": start + int(rng.uniform(4, 15) * rate),
                 "one press": start + int(rng.uniform(1.5, 4) * rate)}
        lasts = str(rng.choice(list(kinds)))
        stop = min(kinds[lasts], n)
        moved = shot.travel[start:stop]
        # What cannot be seen is no case: the pedal must leave the place by half its travel.
        if np.max(np.abs(moved - shot.travel[start])) > 0.5:
            break
    way = str(rng.choice(WAYS))
    share = shot.shares[number].copy()
    held = share[start]
    m = stop - start
    noise = 0.0
    if way == "creeps":
        noise = rng.uniform(-0.01, 0.01) * np.linspace(0, 1, m)
    elif way == "wanders":
        noise = 0.003 * np.cumsum(rng.normal(0, 1, m)) / np.sqrt(m)
    elif way == "leaks through":
        noise = rng.uniform(0.01, 0.04) * (share[start:stop] - held)
    if way == "without noise":
        pedal = replace(pedal, tracks=tuple(
            replace(t, noise=0.0) if i == number else t for i, t in enumerate(pedal.tracks)))
    share[start:stop] = held + noise
    shares = [share if i == number else s for i, s in enumerate(shot.shares)]
    at = 100 * shot.travel[start]
    return (replace(shot, shares=shares), pedal, "ab"[number],
            f"{way}, {lasts}, at {at:.0f} % from {shot.time_s[start]:.1f} s for {m / rate:.1f} s")


def judge(seed: int) -> Case:
    """Return one case."""
    rng = np.random.default_rng([21, seed])
    pedal = draw_pedal(rng)
    board = draw_board(rng)
    board = replace(board, with_supply=bool(rng.random() < 0.75))
    shot = sweep(rng, pedal, board, int(rng.integers(5, 11)))
    shot, pedal, dead, what = killed(rng, pedal, shot)
    return Case(seed, f"{pedal.relation}, {board.bits} bit, {board.rate:g} Hz, {what}", dead,
                say(record(rng, pedal, board, shot)))


def figures(cases: list[Case]) -> list[tuple[str, float, str, bool]]:
    """Return the figures and their bars."""
    grave = percent([c.said.grave >= 3 for c in cases])
    named = percent([c.dead in c.said.accused for c in cases])
    other = percent([bool(set(c.said.accused) - {c.dead}) for c in cases])
    sound = percent([not c.said.any_open((CONTACT, AGREE, DEAD_BAND)) for c in cases])
    return [("grave, %", grave, "100", grave == 100.0),
            ("dead track named, %", named, ">= 98", named >= 98.0),
            ("sound track accused, %", other, "<= 1", other <= 1.0),
            ("contact, pair and dead band all claimed sound, %", sound, "0", sound == 0.0),
            ("refused, %", percent([bool(c.said.refused) for c in cases]), "none set", True)]


def main() -> int:
    """Print what went wrong and the figures."""
    asked = arguments(__doc__, 300)
    cases: list[Case] = run(judge, asked)  # type: ignore[assignment]
    bad = [c for c in cases if c.said.grave < 3 or c.dead not in c.said.accused
           or set(c.said.accused) - {c.dead}]
    for c in sorted(bad, key=lambda c: (c.said.grave, c.seed))[:asked.show]:
        print(f"  seed {c.seed}, dead {c.dead}: {c.what}: gravity {c.said.grave}, accused "
              f"{c.said.accused}; {c.said.faults[:5]}; {c.said.headline[:160]}")
    return finish(figures(cases))


if __name__ == "__main__":
    sys.exit(main())

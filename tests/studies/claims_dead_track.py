"""Judge sweeps in which a track goes dead: it stands still anywhere while the pedal moves on.

    python tests/studies/claims_dead_track.py --cases 300
    python tests/studies/claims_dead_track.py --cases 100 --kind half     # for half a press only
    python tests/studies/claims_dead_track.py --cases 100 --kind late     # 0.3 to 3 s late
    each also with --generator second (second_harms.py)

Bars: all grave; the sound track accused <= 1 %; of dead tracks the right one named >= 98 %.
"""

import sys
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from studies.claims_judge import Said, finish, options, percent, run, say
from studies.independent_pedal import RATES, Pedal, Shot, draw_board, draw_pedal, record, sweep
from studies.second_harms import follow_late, read, ride, stand_still

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


def half_a_press(rng: np.random.Generator, shot: Shot) -> tuple[Shot, str, str]:
    """Return the shot with a track that stands still for half of a press, or of a release."""
    number, n = int(rng.integers(2)), shot.time_s.size
    up = bool(rng.random() < 0.3)
    way = 1.0 - shot.travel if up else shot.travel
    rate = n / shot.time_s[-1]
    while True:
        begin, share = rng.uniform(0.02, 0.55), rng.uniform(0.4, 0.6)
        enters = np.flatnonzero((way[:-1] < begin) & (way[1:] >= begin))
        start = int(rng.choice(enters[1:])) + 1
        stop = min(start + int(np.argmax(way[start:] > min(begin + share, 0.97))), n)
        # Shorter than the longest loss of contact that claims_lost_contact.py draws is no half.
        if stop - start > max(5, 0.1 * rate):
            break
    values = shot.shares[number].copy()
    values[start:stop] = values[start]
    shares = [values if i == number else s for i, s in enumerate(shot.shares)]
    return replace(shot, shares=shares), "ab"[number], (
        f"still for {100 * share:.0f} % of a {'release' if up else 'press'} from "
        f"{shot.time_s[start]:.1f} s, {shot.time_s[stop - 1] - shot.time_s[start]:.2f} s")


def late(rng: np.random.Generator, shot: Shot) -> tuple[Shot, str, str]:
    """Return the shot with a track that follows 0.3 to 3 s late, all along or from some time on.

    Now and then only for a while, or as behind a slow filter.
    """
    number, n = int(rng.integers(2)), shot.time_s.size
    late_s = float(rng.choice([2.0, rng.uniform(0.3, 3.0)]))
    way = str(rng.choice(["late", "late", "late for a while", "sluggish"]))
    begin = 0 if rng.random() < 0.5 else int(rng.uniform(0.2, 0.6) * n)
    rate, own = n / shot.time_s[-1], shot.shares[number]
    back, end = round(late_s * rate), n
    behind = np.r_[np.full(back, own[0]), own[:-back]]
    if way == "sluggish":
        behind = own.copy()
        for row in range(max(begin, 1), n):
            behind[row] = behind[row - 1] + (own[row] - behind[row - 1]) / (0.5 * late_s * rate)
    elif way == "late for a while":
        end = min(n, begin + int(rng.uniform(6.0, 20.0) * rate))
    inside = (np.arange(n) >= begin) & (np.arange(n) < end)
    values = np.where(inside, behind, own)
    shares = [values if i == number else s for i, s in enumerate(shot.shares)]
    return replace(shot, shares=shares), "ab"[number], (
        f"{way}, by {late_s:.2f} s from {shot.time_s[begin]:.1f} to {shot.time_s[end - 1]:.1f} s")


def judge_harder(seed: int, kind: str) -> Case:
    """Return one case of a harder kind."""
    rng = np.random.default_rng([41, seed, len(kind)])
    pedal, board = draw_pedal(rng), draw_board(rng)
    shot = sweep(rng, pedal, board, int(rng.integers(5, 11)), slow=float(rng.uniform(0.5, 4.0)))
    shot, dead, what = half_a_press(rng, shot) if kind == "half" else late(rng, shot)
    return Case(seed, f"{pedal.relation}, {board.bits} bit, {board.rate:g} Hz, {what}", dead,
                say(record(rng, pedal, board, shot)))


def judge_second(seed: int, kind: str) -> Case:
    """Return one case of the second generator."""
    rng = np.random.default_rng([42, seed, len(kind)])
    shot = ride(seed, float(rng.choice(RATES)))
    if kind == "late":
        shot = follow_late(rng, shot, float(rng.choice([2.0, rng.uniform(0.3, 3.0)])))
    else:
        shot = stand_still(rng, shot, rng.uniform(0.4, 0.6))
    return Case(seed, f"{shot.kind}, {shot.rate:g} Hz, {shot.what}", shot.harmed, say(read(shot)))


def figures(cases: list[Case], late: bool = False) -> list[tuple[str, float, str, bool]]:
    """Return the figures and their bars."""
    grave = percent([c.said.grave >= 3 for c in cases])
    named = percent([c.dead in c.said.accused for c in cases])
    other = percent([bool(set(c.said.accused) - {c.dead}) for c in cases])
    sound = percent([not c.said.any_open((CONTACT, AGREE, DEAD_BAND)) for c in cases])
    return [("grave, %", grave, "100", grave == 100.0),
            ("the track named, %", named, "none set" if late else ">= 98", late or named >= 98.0),
            ("sound track accused, %", other, "<= 1", other <= 1.0),
            ("contact, pair and dead band all claimed sound, %", sound, "0", sound == 0.0),
            ("refused, %", percent([bool(c.said.refused) for c in cases]), "none set", True)]


def main() -> int:
    """Print what went wrong and the figures."""
    parser = options(__doc__, 300)
    parser.add_argument("--kind", choices=["dead", "half", "late"], default="dead")
    parser.add_argument("--generator", choices=["free", "second"], default="free")
    asked = parser.parse_args()
    work = (judge if (asked.kind, asked.generator) == ("dead", "free")
            else partial(judge_second if asked.generator == "second" else judge_harder,
                         kind=asked.kind))
    cases: list[Case] = run(work, asked)  # type: ignore[assignment]
    bad = [c for c in cases if c.said.grave < 3 or c.dead not in c.said.accused
           or set(c.said.accused) - {c.dead}]
    for c in sorted(bad, key=lambda c: (c.said.grave, c.seed))[:asked.show]:
        print(f"  seed {c.seed}, dead {c.dead}: {c.what}: gravity {c.said.grave}, accused "
              f"{c.said.accused}; {c.said.faults[:5]}; {c.said.headline[:160]}")
    return finish(figures(cases, asked.kind == "late"))


if __name__ == "__main__":
    sys.exit(main())

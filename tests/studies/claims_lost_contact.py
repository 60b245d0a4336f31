"""Judge sweeps with lost contacts of 1 to 5 samples, and with flat spots that end in a jump.

    python tests/studies/claims_lost_contact.py --cases 600
    python tests/studies/claims_lost_contact.py --cases 600 --generator second

Bars, at each rate: found >= 98 %; the sound track accused <= 1 %. Half of the cases is of each
kind; a loss is found when a fault is told at its time, of its track or of the pair. The second
generator (`second_harms.py`) has another foot, arm, film and converter, and other losses.
"""

import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from studies.claims_judge import Said, finish, options, percent, run, say
from studies.independent_pedal import RATES, Pedal, Shot, draw_board, draw_pedal, record, sweep
from studies.second_harms import bare_film, lose_contact, read, ride

from analysis.evidence.sweep import AGREE, CONTACT
from analysis.model.recording import Recording


@dataclass(frozen=True)
class Case:
    """Hold one sweep: what was done to which track, and what was said."""

    seed: int
    kind: str
    deep: bool
    what: str
    hurt: str
    said: Said
    rate: float = 0.0


def lost(rng: np.random.Generator, shot: Shot) -> tuple[Shot, str, str, tuple[float, float], float]:
    """Return the shot with a loss of contact, now and then four; what was done, when, how deep.

    When and how deep (share of the span) are those of the deepest.
    """
    n, number, samples = shot.time_s.size, int(rng.integers(2)), int(rng.integers(1, 6))
    share = shot.shares[number].copy()
    span = abs(share.max() - share.min())
    # A worn film lets go under the moving wiper, so most losses are there.
    speed = np.abs(np.gradient(shot.travel)) * n / shot.time_s[-1]
    moving = np.flatnonzero((speed > 0.3) & (np.arange(n) > 5) & (np.arange(n) < n - 10))
    to = str(rng.choice(["ground", "supply", "part", "part", "charge", "hold"]))
    best, what, when = 0.0, "", (0.0, 0.0)
    slack = 3.0 * shot.time_s[-1] / n
    for _ in range(int(rng.choice([1, 1, 4]))):
        under_way = rng.random() < 0.7
        for attempt in range(1000):
            # At a quick rate nothing moves far enough within a held reading.
            to = "part" if attempt > 100 else to
            at = int(rng.choice(moving)) if under_way else int(rng.uniform(0.1, 0.95) * n)
            was = shot.shares[number][at:at + samples]
            level = {"ground": np.zeros(samples), "supply": np.full(samples, 0.9995),
                     "part": was + rng.choice([-1, 1]) * rng.uniform(0.1, 0.6) * span,
                     "hold": np.full(samples, shot.shares[number][at - 1]),
                     "charge": was * np.exp(-(1.0 + np.arange(samples)) * rng.uniform(0.4, 2))}[to]
            depth = float(np.max(np.abs(level - was))) / span
            if depth > 0.1 and level.max() < 1 and level.min() >= 0:
                break
        share[at:at + samples] = level
        if depth > best:
            best, when = depth, (shot.time_s[at] - slack, shot.time_s[at + samples] + slack)
            what = (f"{samples} samples to {to}, {100 * depth:.0f} % deep at "
                    f"{100 * shot.travel[at]:.0f} % {'moving' if speed[at] > 0.3 else 'held'}")
    shares = [share if i == number else s for i, s in enumerate(shot.shares)]
    return replace(shot, shares=shares), "ab"[number], what, when, best


def flattened(rng: np.random.Generator, pedal: Pedal, shot: Shot) -> tuple[Shot, str, str]:
    """Return the shot with a place where one film is bare: it stands still, then jumps."""
    number, wide = int(rng.integers(2)), rng.uniform(0.05, 0.08)
    place, both = rng.uniform(0.2, 0.75), bool(rng.random() < 0.5)
    share, down = shot.shares[number].copy(), np.gradient(shot.travel) > 0
    inside = (shot.travel > place) & (shot.travel < place + wide)
    edge = pedal.tracks[number].share(np.array([place, place + wide]))
    share[inside & down] = edge[0]
    if both:
        share[inside & ~down] = edge[1]
    shares = [share if i == number else s for i, s in enumerate(shot.shares)]
    return (replace(shot, shares=shares), "ab"[number],
            f"flat from {100 * place:.0f} % for {100 * wide:.1f} %, "
            f"{'both ways' if both else 'on the way down'}")


def judge(seed: int) -> Case:
    """Return one case."""
    rng = np.random.default_rng([22, seed])
    pedal = draw_pedal(rng)
    board = draw_board(rng, RATES[(seed // 2) % len(RATES)])
    shot = sweep(rng, pedal, board, int(rng.integers(5, 11)), slow=float(rng.uniform(0.25, 1.5)))
    near, depth = None, 1.0
    if seed % 2 == 0:
        kind, (shot, hurt, what, near, depth) = "loss", lost(rng, shot)
    else:
        kind, (shot, hurt, what) = "flat", flattened(rng, pedal, shot)
    recording: Recording = record(rng, pedal, board, shot)
    return Case(seed, kind, depth > 0.2, f"{pedal.relation}, {board.bits} bit, {board.rate:g} Hz, "
                f"{what}", hurt, say(recording, near), board.rate)


def judge_second(seed: int) -> Case:
    """Return one case of the second generator."""
    rng = np.random.default_rng([32, seed])
    shot = ride(seed, RATES[(seed // 2) % len(RATES)])
    kind = "flat" if seed % 2 else "loss"
    shot = bare_film(rng, shot) if seed % 2 else lose_contact(rng, shot)
    near = None if seed % 2 else (shot.from_s, shot.to_s)
    return Case(seed, kind, shot.depth > 0.2, f"{shot.kind}, {shot.rate:g} Hz, {shot.what}",
                shot.harmed, say(read(shot), near), shot.rate)


def found(case: Case) -> bool:
    """Return whether what was done was told, of its track or of the pair."""
    if case.kind == "loss":
        return bool({case.hurt, ""} & set(case.said.near)) or bool(case.said.refused)
    return case.hurt in case.said.told or any(
        f.split("/")[1] == "None" and f.split("/")[0] not in ("gap",) for f in case.said.faults)


def figures(cases: list[Case]) -> list[tuple[str, float, str, bool]]:
    """Return the figures and their bars."""
    result = []
    for kind in ("loss", "flat"):
        mine = [c for c in cases if c.kind == kind]
        seen = percent([found(c) for c in mine if c.deep])
        right = percent([c.hurt in c.said.told for c in mine])
        other = percent([accused(c) for c in mine])
        sound = percent([not c.said.any_open((CONTACT, AGREE)) for c in mine if c.deep])
        enough = seen >= 98.0 or kind == "flat"
        bar = ">= 98" if kind == "loss" else "none set"
        result += [(f"{kind}: found (of 20 % of travel or more), %", seen, bar, enough),
                   (f"{kind}: of its track, %", right, "none set", True),
                   (f"{kind}: sound track accused, %", other, "<= 1", other <= 1.0),
                   (f"{kind}: contact and pair claimed sound, %", sound, "<= 2", sound <= 2.0)]
    for rate in RATES:
        mine = [c for c in cases if c.kind == "loss" and c.rate == rate]
        seen, other = percent([found(c) for c in mine]), percent([accused(c) for c in mine])
        result.append((f"losses at {rate:g} Hz: found, % of {len(mine)}", seen, ">= 98",
                       seen >= 98.0))
        result.append((f"losses at {rate:g} Hz: sound track accused, %", other, "<= 1",
                       other <= 1.0))
    return result


def accused(case: Case) -> bool:
    """Return whether anything was told of the sound track."""
    return bool(set(case.said.told) - {case.hurt})


def main() -> int:
    """Print what went wrong and the figures."""
    parser = options(__doc__, 600)
    parser.add_argument("--generator", choices=["free", "second"], default="free")
    asked = parser.parse_args()
    work = judge_second if asked.generator == "second" else judge
    cases: list[Case] = run(work, asked)  # type: ignore[assignment]
    bad = [c for c in cases if not found(c) or accused(c)]
    for c in sorted(bad, key=lambda c: (not accused(c), c.kind == "flat", c.seed))[:asked.show]:
        print(f"  seed {c.seed}, {c.hurt}: {c.what}: "
              f"{'found' if found(c) else 'MISSED'}, told of {c.said.told}; {c.said.faults[:5]}; "
              f"open {c.said.because}")
    flat = [c for c in cases if c.kind == "flat"]
    for rate in RATES:
        mine = [c for c in flat if c.rate == rate]
        sound = percent([not c.said.any_open((CONTACT, AGREE)) for c in mine])
        print(f"  flat at {rate:g} Hz: found {percent([found(c) for c in mine]):.0f} %, claimed "
              f"sound {sound:.0f} % of {len(mine)}")
    return finish(figures(cases))


if __name__ == "__main__":
    sys.exit(main())

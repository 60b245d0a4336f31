"""Judge sweeps that do not carry a claim: stopped early, creeping, under a foot, cut short.

    python tests/studies/claims_thin_sweeps.py --cases 40          # of each kind

Bar: none is declared sound where the truth forbids it, no value from a sweep with too little.
Kinds that end in * may be sound (nothing is wrong with the pedal) and are held to be used.
"""

import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from studies.claims_judge import Said, arguments, finish, percent, say
from studies.independent_pedal import (
    Board,
    Pedal,
    Shot,
    draw_board,
    draw_pedal,
    feet,
    record,
    runner,
    sweep,
    take,
    with_readings,
    without_rows,
)

from analysis.evidence.sweep import CONTACT, DEAD_BAND, RETURNS, SUPPLY, SWEPT
from analysis.model.recording import Mark, Recording

Make = Callable[[np.random.Generator, Pedal, Board], Recording]


@dataclass(frozen=True)
class Case:
    """Hold one sweep and what was said."""

    kind: str
    seed: int
    what: str
    said: Said


def cut(recording: Recording, rows: int) -> Recording:
    """Return the first rows only, as after a power cut."""
    rows = max(rows, 30)
    return replace(
        recording, time_s=recording.time_s[:rows], complete=False,
        marks=tuple(m for m in recording.marks if m.row < rows),
        channels=tuple(replace(c, readings=c.readings[:rows]) for c in recording.channels))


def too_few_presses(rng: np.random.Generator, pedal: Pedal, board: Board) -> Recording:
    """Press once or twice only."""
    return record(rng, pedal, board, sweep(rng, pedal, board, int(rng.integers(1, 3))))


def stopped_early(rng: np.random.Generator, pedal: Pedal, board: Board) -> Recording:
    """Stop before the second return, anywhere."""
    shot = sweep(rng, pedal, board, 8)
    keys = np.flatnonzero((shot.travel[:-1] > 0.5) & (shot.travel[1:] <= 0.5))
    return replace(cut(record(rng, pedal, board, shot), int(rng.uniform(0.5, 1.0) * keys[1])),
                   complete=True)


def cut_short(rng: np.random.Generator, pedal: Pedal, board: Board) -> Recording:
    """Cut the file before the third return."""
    shot = sweep(rng, pedal, board, 8)
    keys = np.flatnonzero((shot.travel[:-1] > 0.5) & (shot.travel[1:] <= 0.5))
    return cut(record(rng, pedal, board, shot), int(rng.uniform(0.3, 1.0) * keys[2]))


def one_press_opposed(rng: np.random.Generator, pedal: Pedal, board: Board) -> Recording:
    """Cut an opposed pair short after one press."""
    pedal = draw_pedal(rng, "opposed")
    shot = sweep(rng, pedal, board, 3)
    keys = np.flatnonzero((shot.travel[:-1] > 0.5) & (shot.travel[1:] <= 0.5))
    return cut(record(rng, pedal, board, shot), int(keys[0] + rng.uniform(-1, 1) * board.rate))


def creeping(rng: np.random.Generator, pedal: Pedal, board: Board, size: float = 0.06,
             tau: float = 1.5, rest: float = 2.0) -> Recording:
    """Come back to 6 % of travel at once and creep the rest with 1.5 s; 2 s of rest each."""
    keys, prompts = feet(rng, pedal, int(rng.integers(6, 11)), rest_s=rest)
    shot = take(rng, pedal, board, keys, prompts)
    releases = [k[0] for k, after in pairwise(keys)
                if k[1] > 0.9 and after[1] < 0.1]
    late = np.full(shot.time_s.size, np.inf)
    for r in releases:
        late = np.where(shot.time_s >= r, shot.time_s - r, late)
    # The arm cannot be below the creep while the foot is away.
    stays = size * np.exp(-np.maximum(late - 0.3, 0) / tau)
    travel = np.where(np.isfinite(late), np.maximum(shot.travel, stays + 0.0), shot.travel)
    return record(rng, pedal, board, replace(
        shot, travel=travel, shares=[t.share(travel) for t in pedal.tracks]))


def creeping_other(rng: np.random.Generator, pedal: Pedal, board: Board) -> Recording:
    """Creep with other sizes and times than the issue names."""
    return creeping(rng, pedal, board, rng.uniform(0.04, 0.12), rng.uniform(1.0, 4.0),
                    rng.uniform(1.5, 3.0))


def creeping_slowly(rng: np.random.Generator, pedal: Pedal, board: Board) -> Recording:
    """Creep so slowly that no rest settles: only the first rest, before any press, was one."""
    return creeping(rng, pedal, board, rng.uniform(0.03, 0.06), rng.uniform(5.0, 15.0), 2.0)


def supply_clipped(rng: np.random.Generator, pedal: Pedal, board: Board) -> Recording:
    """Feed the pedal 5.00 V of the bench and read it by a board that stands at 4.70 V."""
    board = replace(board, reference=4.7, scale=1.0, supply_volts=5.0)
    return record(rng, pedal, board, sweep(rng, pedal, board, 8))


def supply_missing_third(rng: np.random.Generator, pedal: Pedal, board: Board) -> Recording:
    """Read nothing of the supply for a third of the sweep, in one piece or many: blank, or 0."""
    recording = record(rng, pedal, board, sweep(rng, pedal, board, int(rng.integers(9, 13))))
    n = recording.rows
    gone = np.zeros(n, dtype=bool)
    pieces = int(rng.choice([1, 1, 4, 20]))
    for start in rng.uniform(0, 1, 1 if pieces == 1 else pieces) * (n - n / 3 / pieces):
        gone[int(start): int(start + n / 3 / pieces)] = True
    nothing = float(rng.choice([np.nan, np.nan, 0.0]))
    return with_readings(recording, "supply", np.where(
        gone, nothing, recording.channel("supply").readings))


def part_of_travel_unseen(rng: np.random.Generator, pedal: Pedal, board: Board) -> Recording:
    """Lose the rows between 20 and 60 % of travel in all presses but the first, with no mark."""
    shot = sweep(rng, pedal, board, 8)
    lost = (shot.travel > 0.2) & (shot.travel < 0.6) & (shot.time_s > 4.0)
    return without_rows(record(rng, pedal, board, shot), lost, None)


def presses_of_any_depth(rng: np.random.Generator, pedal: Pedal, board: Board) -> Recording:
    """Press to anywhere between 30 and 90 % of travel, never to the stop."""
    return record(rng, pedal, board, sweep(rng, pedal, board, 8, short=1.0))


def foot_in_first_rests(rng: np.random.Generator, pedal: Pedal, board: Board) -> Recording:
    """Leave the foot on the pedal, 3 to 9 % down, in the first two or three rests."""
    keys, prompts = feet(rng, pedal, 8)
    on, seen, lifted = float(rng.uniform(0.03, 0.09)), 0, []
    until = int(rng.integers(2, 4))
    for at, to in keys:
        lifted.append((at, on + rng.normal(0, 0.003) if to < 0.1 and seen < until else to))
        seen += to > 0.9 and len(lifted) > 1 and lifted[-2][1] > 0.9
    return record(rng, pedal, board, take(rng, pedal, board, lifted, prompts))


def foot_in_all_rests(rng: np.random.Generator, pedal: Pedal, board: Board) -> Recording:
    """Leave the foot on the pedal in most rests, each time otherwise, 2 to 10 % down."""
    keys, prompts = feet(rng, pedal, 8)
    down = [(at, float(rng.uniform(0.02, 0.10)) if to < 0.1 and rng.random() < 0.7 else to)
            for at, to in keys]
    return record(rng, pedal, board, take(rng, pedal, board, down, prompts))


def _offset(relation: str) -> Make:
    def make(rng: np.random.Generator, pedal: Pedal, board: Board) -> Recording:
        pedal = draw_pedal(rng, relation)
        a, b = pedal.tracks
        by = 0.150 / 5.0 * (1 if rng.random() < 0.5 else -1)
        pedal = replace(pedal, tracks=(a, replace(b, rest=b.rest + by, full=b.full + by)))
        return record(rng, pedal, board, sweep(rng, pedal, board, 8))
    return make


def pause_half_way(rng: np.random.Generator, pedal: Pedal, board: Board) -> Recording:
    """Pause half way down for 2 to 6 s at every release."""
    return record(rng, pedal, board, sweep(rng, pedal, board, 8,
                                           pause_down=float(rng.uniform(2, 6))))


def ends_pressed(rng: np.random.Generator, pedal: Pedal, board: Board) -> Recording:
    """End while the pedal is held down a ninth time."""
    keys, prompts = feet(rng, pedal, 8)
    now = keys[-1][0]
    keys += [(now + 0.8, 1.0), (now + rng.uniform(1.5, 4), 1.0)]
    return record(rng, pedal, board, take(rng, pedal, board, keys,
                                          (*prompts, (now, "press"), (now + 0.9, "hold"))))


def marks_wrong(rng: np.random.Generator, pedal: Pedal, board: Board) -> Recording:
    """Follow no prompt: the prompts run on by themselves, the foot does as it likes."""
    shot: Shot = sweep(rng, pedal, board, 8, False)
    words = ("press", "hold", "release", "rest")
    marks = tuple(Mark(int(i), words[k % 4]) for k, i in enumerate(
        np.linspace(0, shot.time_s.size - 2, 33)))
    return record(rng, pedal, board, replace(shot, marks=marks))


FORBIDDEN: dict[str, Make] = {
    "too_few_presses": too_few_presses, "stopped_early": stopped_early, "cut_short": cut_short,
    "one_press_opposed": one_press_opposed, "creeping": creeping,
    "creeping_other": creeping_other, "foot_in_first_rests": foot_in_first_rests,
    "foot_in_all_rests": foot_in_all_rests, "creeping_slowly": creeping_slowly,
    "supply_clipped": supply_clipped, "part_of_travel_unseen": part_of_travel_unseen,
    "presses_of_any_depth": presses_of_any_depth, "supply_missing_third": supply_missing_third}
# Of these claims one at least must not be sound; a rate too low alone is no answer.
SPEAK: dict[str, tuple[str, ...]] = dict.fromkeys(FORBIDDEN, (SWEPT,)) | dict.fromkeys(
    ("creeping", "creeping_other", "creeping_slowly", "foot_in_first_rests", "foot_in_all_rests"),
    (SWEPT, RETURNS, DEAD_BAND)) | {"supply_clipped": (SUPPLY, DEAD_BAND),
                                    "supply_missing_third": (SUPPLY,),
                                    "part_of_travel_unseen": (CONTACT, SWEPT)}
# The pair may be meant so: it must get a word that is more than a figure.
WORD: dict[str, Make] = {"half_off_150mV": _offset("half"), "opposed_off_150mV": _offset("opposed")}
ALLOWED: dict[str, Make] = {"pause_half_way*": pause_half_way, "ends_pressed*": ends_pressed,
                            "marks_wrong*": marks_wrong}
NO_VALUES = ("too_few_presses", "stopped_early", "cut_short", "one_press_opposed")
KINDS: dict[str, Make] = FORBIDDEN | WORD | ALLOWED


def judge(job: tuple[str, int]) -> Case:
    """Return one case."""
    kind, seed = job
    rng = np.random.default_rng([24, seed, list(KINDS).index(kind)])
    pedal = draw_pedal(rng)
    board = draw_board(rng)
    return Case(kind, seed, f"{pedal.relation}, {board.bits} bit, {board.rate:g} Hz",
                say(KINDS[kind](rng, pedal, board)))


def falsely_sound(case: Case) -> bool:
    """Return whether every claim that the truth forbids is called sound."""
    return case.kind in SPEAK and not case.said.any_open(SPEAK[case.kind])


def wrong(case: Case) -> bool:
    """Return whether the claim is one that the sweep does not carry, or a good one is lost."""
    said = case.said
    if case.kind in FORBIDDEN:
        return falsely_sound(case) or said.nan or (case.kind in NO_VALUES and said.values)
    if case.kind in WORD:
        return not said.pair_told
    return said.grave >= 3 or bool(said.refused) or not said.values or bool(said.accused)


def figures(cases: list[Case]) -> list[tuple[str, float, str, bool]]:
    """Return the figures and their bars."""
    bad = [c for c in cases if c.kind in FORBIDDEN]
    sound = percent([falsely_sound(c) for c in bad])
    values = percent([c.said.values for c in bad if c.kind in NO_VALUES])
    silent = percent([not c.said.pair_told for c in cases if c.kind in WORD])
    lost = percent([wrong(c) for c in cases if c.kind in ALLOWED])
    nan = percent([c.said.nan for c in cases])
    return [("falsely sound, %", sound, "0", sound == 0.0),
            ("values from too little, %", values, "0", values == 0.0),
            ("pair 150 mV off without a word, %", silent, "0", silent == 0.0),
            ("nan told, %", nan, "0", nan == 0.0),
            ("sound pedal refused, accused or without values, %", lost, "<= 1", lost <= 1.0)]


def main() -> int:
    """Print the shares by kind, what went wrong, and the figures."""
    asked = arguments(__doc__, 40)
    jobs = [(k, s) for k in KINDS for s in range(asked.first, asked.first + asked.cases)]
    cases: list[Case] = runner(jobs, judge, asked.workers)  # type: ignore[assignment]
    for kind in KINDS:
        mine = [c for c in cases if c.kind == kind]
        print(f"{kind:20s} false {percent([falsely_sound(c) for c in mine]):3.0f} %, values "
              f"{percent([c.said.values for c in mine]):4.0f} %, gravity 3 "
              f"{percent([c.said.grave >= 3 for c in mine]):4.0f} %, refused "
              f"{percent([bool(c.said.refused) for c in mine]):4.0f} %, wrong "
              f"{percent([wrong(c) for c in mine]):4.0f} %")
        for c in [c for c in mine if wrong(c)][:min(asked.show, 2)]:
            print(f"    seed {c.seed}: {c.what}: {c.said.faults[:4]}; {c.said.headline[:220]}")
    return finish(figures(cases))


if __name__ == "__main__":
    sys.exit(main())

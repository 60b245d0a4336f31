"""Two recordings as one table: quantity, before, after, what became of it, what is left."""

from collections import Counter
from dataclasses import dataclass

from analysis.model.finding import Finding
from analysis.pedal.compare import Comparison, Move
from bench.wording.compare import became, before_after, label
from bench.wording.face import capital
from bench.wording.short import PHRASES, short_line

HEADS = ("quantity", "before", "after", "real or within noise", "left to repair")
NOTHING = "–"
_WORDS = {3: "do not drive", 2: "repair first"}
# The codes of what must be repaired -> the quantity whose row tells of it.
_TOLD_BY = {
    "off at rest": "rest", "perhaps off at rest": "rest", "catches at rest": "rest",
    "return off the others": "rest", "rest creeps": "drift", "not settled": "drift",
    "costly dead band": "rest_scatter", "noise": "noise", "mismatch": "mismatch_max",
    "play": "play", "slow return": "return_time",
}


@dataclass(frozen=True)
class ComparedRow:
    """Hold one row; gravity: of what is left, 0 for nothing. worse: a real change for the worse."""

    cells: tuple[str, str, str, str, str]
    gravity: int = 0
    worse: bool = False
    real: bool = False


def compared_rows(comparison: Comparison) -> tuple[ComparedRow, ...]:
    """Return the rows, what is left to repair first, then what really changed, then the rest."""
    left = {(f.code, f.channel): f for f in sorted(comparison.left, key=lambda f: f.gravity)}
    told: set[tuple[str, str | None]] = set()
    rows = []
    for move in comparison.moves:
        mine = [key for key in left if _tells(move, *key)]
        told.update(mine)
        gravity = max((left[key].gravity for key in mine), default=0)
        rows.append(ComparedRow(
            (capital(label(move)), *before_after(move), became(move),
             _WORDS.get(gravity, NOTHING)), gravity, bool(move.worse), bool(move.real)))
    rows += _fault_rows(comparison, told)
    rows += [_row_of(f, comparison) for key, f in left.items() if key not in told]
    return tuple(sorted(rows, key=lambda r: (-r.gravity, not r.worse, not r.real)))


def _tells(move: Move, code: str, channel: str | None) -> bool:
    return _TOLD_BY.get(code) == move.name and channel == move.channel


def _fault_rows(comparison: Comparison, told: set[tuple[str, str | None]]) -> list[ComparedRow]:
    """Return a row for each kind of fault of either recording, and note what they tell."""
    old = Counter((f.kind, f.channel) for f in comparison.before.faults)
    new = Counter((f.kind, f.channel) for f in comparison.after.faults)
    rows = []
    for key in (old | new):
        if key in told:
            continue
        told.add(key)
        gravity = max((f.gravity for f in comparison.after.faults if (f.kind, f.channel) == key),
                      default=0)
        change = "gone" if not new[key] else "new" if not old[key] else "still there"
        who = f"track {key[1]}" if key[1] else "pedal"
        rows.append(ComparedRow(
            (f"{capital(who)}: {PHRASES.get(key[0], key[0])}", _times(old[key]), _times(new[key]),
             change, _WORDS.get(gravity, NOTHING)),
            gravity if gravity > 1 else 0, change == "new", change != "still there"))
    return rows


def _times(count: int) -> str:
    return "none seen" if count == 0 else "once" if count == 1 else f"{count} times"


def _row_of(found: Finding, comparison: Comparison) -> ComparedRow:
    """Return the row of what no quantity and no fault of the table tells of."""
    before = any((f.code, f.channel) == (found.code, found.channel) and f.gravity >= 2
                 for f in comparison.before.graded)
    return ComparedRow(
        (capital(short_line(found, width=120)), "yes" if before else "no", "yes",
         "still there" if before else "new", _WORDS[found.gravity]), found.gravity, not before,
        not before)

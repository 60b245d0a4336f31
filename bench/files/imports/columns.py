"""Which column of a log is which: named by the user, or plain from the names."""

import difflib
import itertools
import re
from collections.abc import Sequence

from bench.errors import BadCall
from bench.files.imports.cells import is_clock, is_missing, is_number
from bench.files.imports.options import ROLES, ImportOptions
from bench.files.imports.questions import ImportQuestion
from bench.files.imports.table import Table
from bench.files.imports.times import SPELLINGS, unit_in_name
from bench.files.imports.units import VOLTS, heading_unit

_TIME = re.compile(
    r"(time|t|zeit|timestamp|date|datetime|elapsed|seconds?|millis|micros|uhrzeit|temps|tiempo)"
    r"([\s_(\[/].*|\s*)", re.IGNORECASE)
_HINTS = {
    "a": re.compile(r"(track|pot|app|tps|sensor|signal|pedal)?[\s_-]*(a|1)", re.IGNORECASE),
    "b": re.compile(r"(track|pot|app|tps|sensor|signal|pedal)?[\s_-]*(b|2)", re.IGNORECASE),
    "supply": re.compile(r"supply|v?ref|vcc|5\s?v|\+5\s?v|vdd|versorgung", re.IGNORECASE),
}


def find_column(names: Sequence[str], wanted: str, option: str) -> int:
    """Return the place of a column by its name, its name without unit, or its number from 1.

    Raises BadCall naming the option when there is none, or more than one.
    """
    def plain(text: str) -> str:
        return re.sub(r"\s+", " ", text).strip().lower()

    def bare(text: str) -> str:
        return plain(without_bracket(text))

    for key in (str, plain, bare):
        found = [i for i, name in enumerate(names) if key(name) == key(wanted)]
        if len(found) == 1:
            return found[0]
        if found:
            numbers = " or ".join(str(i + 1) for i in found)
            raise BadCall(f"{len(found)} columns are called {wanted!r}; give its number: "
                          f"{option} {numbers}")
    if re.fullmatch(r"[0-9]{1,4}", wanted.strip()) and 1 <= int(wanted) <= len(names):
        return int(wanted) - 1
    close = difflib.get_close_matches(plain(wanted), [plain(n) for n in names], n=1)
    which = next((n for n in names if close and plain(n) == close[0]), None)
    advice = f"did you mean {which!r}?" if which else f"there are {_listed(names)}"
    raise BadCall(f"{option}: no column {wanted!r}; {advice}")


def _listed(names: Sequence[str]) -> str:
    shown = ", ".join(repr(n) for n in names[:12])
    return shown + (f" and {len(names) - 12} more" if len(names) > 12 else "")


def time_column(table: Table, options: ImportOptions) -> int | None:
    """Return the place of the time column, None when a rate makes one needless.

    Raises BadCall naming --time when it is not plain which it is.
    """
    if options.time is not None:
        return find_column(table.names, options.time, "--time")
    if options.rate_hz is not None:
        return None
    named = [i for i, name in enumerate(table.names) if _TIME.fullmatch(name.strip())]
    clocks = [i for i in range(len(table.names))
              if any(is_clock(row[i]) for row in table.rows[:20]) and _has(table, i, ":")]
    united = [i for i, name in enumerate(table.names) if unit_in_name(name, SPELLINGS)
              or SPELLINGS.get(re.sub(r"[()\[\]{}\s]", "", table.units[i]).lower())]
    if table.stamped and len(united) == 1:
        # The board's own time tells when it measured; the monitor's, when the line arrived.
        return united[0]
    for found in (clocks, united, named):
        if len(found) == 1:
            return found[0]
    if not named and not table.has_header and _rises(table, 0):
        return 0
    rising = rising_columns(table)
    if rising:
        raise ImportQuestion("time not plain, one rises", rising=table.names[rising[0]])
    raise ImportQuestion("time not plain", names=_listed(table.names))


def rising_columns(table: Table, but: int | None = None) -> list[int]:
    """Return the places of columns named as times whose numbers rise with every row."""
    return [i for i, name in enumerate(table.names) if i != but and _rises(table, i) and (
        _TIME.fullmatch(name.strip()) or unit_in_name(name, SPELLINGS))]


def _has(table: Table, column: int, sign: str) -> bool:
    return any(sign in row[column] for row in table.rows[:20])


def _rises(table: Table, column: int) -> bool:
    try:
        values = [float(row[column].replace(",", ".")) for row in table.rows[:500]]
    except ValueError:
        return False
    return len(values) > 1 and all(b > a for a, b in itertools.pairwise(values))


def role_columns(table: Table, options: ImportOptions, time: int | None) -> dict[str, int]:
    """Return role -> place; raise BadCall naming --a when the tracks are not plain."""
    found = {role: find_column(table.names, name, f"--{role}")
             for role, name in options.columns.items() if name}
    seen = _once_each(table, found, time)
    if "a" in found or "b" in found:
        return _ordered(found)
    marks = set() if options.mark is None else {find_column(table.names, options.mark, "--mark")}
    free = [i for i in range(len(table.names)) if i not in seen and i not in marks
            and _is_numeric(table, i)]
    free = _readings(table, free, time)
    guess = _hinted(table, free, set(found))
    if "a" in guess:
        return _ordered(found | guess)
    if len(free) == 1 or (len(free) == 2 and table.has_header is False and time is not None):
        return _ordered(found | dict(zip("ab", free, strict=False)))
    raise _which_are_tracks(table, free, guess)


def _which_are_tracks(table: Table, free: list[int], guess: dict[str, int]) -> ImportQuestion:
    """Return the question which of the columns of readings are the tracks."""
    # A supply beside two others is plain from its name.
    tracks = [i for i in free if i not in guess.values()]
    if len(free) == 2 or len(tracks) == 2:
        one, two = (table.names[i] for i in (free if len(free) == 2 else tracks))
        return ImportQuestion("two columns of readings", one=one, two=two)
    return ImportQuestion("tracks not plain", names=_listed([table.names[i] for i in free]))


def _readings(table: Table, free: list[int], time: int | None) -> list[int]:
    """Return the columns that may be tracks, without row numbers, further times, other units.

    All of them where none would be left, or where no heading states a unit of readings.
    """
    told = {i: heading_unit(table.names[i], table.units[i]) for i in free}
    kept = [i for i in free if time is None or not (
        _is_time(table, i) or (told[i] not in VOLTS and _counts_rows(table, i)))]
    if any(told[i] in VOLTS for i in kept):
        kept = [i for i in kept if told[i] in VOLTS or not told[i]]
    return kept or free


def _is_time(table: Table, column: int) -> bool:
    return bool(unit_in_name(table.names[column], SPELLINGS)) and _rises(table, column)


def _counts_rows(table: Table, column: int) -> bool:
    """Return whether a column holds 0, 1, 2 ... or 1, 2, 3 ..., as a number of the row does."""
    cells = [row[column].strip() for row in table.rows[:500]]
    return len(cells) > 2 and any(
        cells == [str(k) for k in range(first, first + len(cells))] for first in (0, 1))


def _once_each(table: Table, found: dict[str, int], time: int | None) -> dict[int, str]:
    """Return what each column named so far is; raise ImportQuestion on one that is two things."""
    seen: dict[int, str] = {} if time is None else {time: "time"}
    for role, place in found.items():
        if place in seen:
            raise ImportQuestion("two parts of one column", role=role, other=seen[place],
                                 name=table.names[place])
        seen[place] = role
    return seen


def _hinted(table: Table, free: list[int], taken: set[str]) -> dict[str, int]:
    """Return the roles, not taken yet, that the name of one column alone tells."""
    hinted = {role: [i for i in free if pattern.fullmatch(_bare(table.names[i]))]
              for role, pattern in _HINTS.items()}
    return {role: places[0] for role, places in hinted.items()
            if len(places) == 1 and role not in taken}


def without_bracket(name: str) -> str:
    """Return a name without the bracket that it ends in; linear in its length."""
    text = name.strip()
    if not text.endswith((")", "]")):
        return text
    places = [p for p in (text.find("("), text.find("[")) if p >= 0]
    return text[:min(places)].rstrip() if places else text


def _bare(name: str) -> str:
    text = without_bracket(name)
    unit = heading_unit(text)
    if unit and len(text) > len(unit) and text.lower().endswith(unit):
        return text[:-len(unit)].rstrip(" _-,./")
    return text


def _is_numeric(table: Table, column: int) -> bool:
    cells = [row[column] for row in table.rows[:500] if not is_missing(row[column])]
    return bool(cells) and sum(map(is_number, cells)) > 0.8 * len(cells)


def _ordered(found: dict[str, int]) -> dict[str, int]:
    return {role: found[role] for role in ROLES if role in found}

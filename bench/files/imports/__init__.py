"""Logs of other origin (an oscilloscope, a data logger, the user's own script) -> a recording.

`preview` says what was found, `import_log` returns the recording. What can be found is found and
noted; what cannot is asked for, in one line that names the option. The log itself stays as it is.
"""

import contextlib
import dataclasses
import hashlib
from collections import Counter
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from analysis.model.recording import MOST, Channel, Mark, Recording
from analysis.signal.missing_cells import lost_rows
from bench.errors import BadCall, BadFile, BenchError
from bench.files.imports.cells import UNIT_BEHIND, clean, is_missing, numbers
from bench.files.imports.columns import find_column, rising_columns, role_columns, time_column
from bench.files.imports.load import Loaded, load
from bench.files.imports.options import ROLES, ImportOptions, ImportPreview
from bench.files.imports.questions import ImportNote, ImportQuestion, ImportRefusal, asked_in
from bench.files.imports.signs import GROUPED
from bench.files.imports.table import Table
from bench.files.imports.times import Backwards, Times, read_times
from bench.files.imports.units import VOLTS, heading_unit
from bench.wording.face import WINDOW
from bench.wording.imports import FIELDS

__all__ = ["ROLES", "ImportOptions", "ImportPreview", "import_log", "preview"]

Array = NDArray[np.float64]

# More than any pedal's supply: such numbers are no volts. Common practice, no source.
MOST_VOLTS = 60.0
# Steps this close to the usual one make a log evenly sampled; gaps can then be counted.
EVEN = 0.1


@dataclasses.dataclass(frozen=True)
class _Parts:
    table: Table
    encoding: str
    decimal: str
    time: int | None
    roles: dict[str, int]
    times: Times
    units: dict[str, str]
    values: dict[str, Array]
    notes: tuple[str, ...]


def import_log(path: Path, options: ImportOptions | None = None) -> Recording:
    """Return the recording in a log.

    Raises BadFile when it cannot be read or contradicts itself, BadCall when something must be
    said with an option.
    """
    parameters = options or ImportOptions()
    loaded = load(path, parameters)
    return _recording(path, loaded, _parts(path, loaded, parameters), parameters)


def preview(path: Path, options: ImportOptions | None = None) -> ImportPreview:
    """Return what was found in a log; `question` is what `import_log` would refuse with.

    Raises BadFile or BadCall only when there is no table to show at all.
    """
    parameters = options or ImportOptions()
    loaded = load(path, parameters)
    table, encoding = loaded.table, loaded.encoding
    asked: BenchError | None = None
    time, times, closing = None, "", ("", "")
    roles: dict[str, int] = {}
    units: dict[str, str] = {}
    notes: tuple[str, ...] = ()
    try:
        parts = _parts(path, loaded, parameters)
        closing = closing_lines(parts)
        time, roles = parts.time, parts.roles
        times, units, notes = parts.times.unit, parts.units, parts.notes
    except BenchError as error:
        asked = error
        # What is plain is shown all the same: only the rest is asked for.
        with contextlib.suppress(BenchError):
            time = time_column(table, parameters)
    return ImportPreview(
        encoding, table.delimiter, table.decimal or "?", table.names, table.units,
        tuple(tuple(row) for row in table.rows[:20]), len(table.rows), table.preamble,
        table.left_out[:20], None if time is None else table.names[time],
        {role: table.names[place] for role, place in roles.items()}, times, units, notes,
        None if asked is None else str(asked), *closing, time, dict(roles),
        None if asked is None else asked_in(asked, WINDOW),
        tuple(asked_in(note, WINDOW) for note in notes))


def _parts(path: Path, loaded: Loaded, options: ImportOptions) -> _Parts:
    table = loaded.table
    for name, field, value in (
            ("--rate", "rate_hz", options.rate_hz),
            ("--supply-volts", "supply_volts", options.supply_volts),
            ("--step-volts", "step_volts", options.step_volts)):
        if value is not None and not (np.isfinite(value) and value > 0):
            raise ImportQuestion("not above 0", option=name, field=FIELDS[field], value=value)
    if table.decimal is None:
        sample, name = next(
            ((c.strip(), "point" if "." in c else "comma") for row in table.rows for c in row
             if GROUPED.fullmatch(c.strip())), ("1,234", "comma"))
        raise ImportQuestion("decimal sign", path=path, sample=sample, name=name)
    time = time_column(table, options)
    roles = role_columns(table, options, time)
    times = _times(path, table, time, options)
    notes = [*loaded.notes, *times.notes]
    if table.stamped and time == 0:
        notes.append("The times are a serial monitor's: when each line arrived, not when it was "
                     "measured.")
    values: dict[str, Array] = {}
    for role, place in roles.items():
        read, bad = numbers(table.cells(place), table.decimal)
        values[role] = np.array(read)
        if len(bad) > 0.05 * max(len(read), 1):
            raise ImportRefusal("column not numeric", path=path, name=table.names[place],
                                line=table.lines[bad[0]], role=role,
                                cell=table.rows[bad[0]][place].strip())
        if bad:
            notes.append(f"{len(bad)} cells of {table.names[place]!r} are no numbers (first: "
                         f"line {table.lines[bad[0]]}) and count as missing.")
        notes += _missing(table, place, times.seconds)
    if table.left_out:
        line, shown = table.left_out[0]
        notes.append(f"{len(table.left_out)} lines without data were left out (first: line "
                     f"{line}, {shown!r}).")
    units, more = _units(path, table, roles, values, options)
    return _Parts(table, loaded.encoding, table.decimal, time, roles, times, units, values,
                  (*notes, *more, *_steps(values, units, options)))


def closing_lines(parts: _Parts) -> tuple[str, str]:
    """Return what was understood of a log and what was not, a line each."""
    table = parts.table
    said = [f"{len(table.rows)} rows"]
    if parts.time is not None:
        said.append(f"time = {table.names[parts.time]!r} in {parts.times.unit}")
    said += [f"{role} = {table.names[place]!r} in {parts.units[role]}"
             for role, place in parts.roles.items()]
    used = {parts.time, *parts.roles.values()}
    unused = [name for i, name in enumerate(table.names) if i not in used]
    open_ = []
    if unused:
        shown = ", ".join(repr(n[:40]) for n in unused[:6])
        more = f" and {len(unused) - 6} more" if len(unused) > 6 else ""
        open_.append(f"columns not used: {shown}{more}")
    if table.left_out:
        open_.append(f"{len(table.left_out)} lines without data")
    if table.preamble:
        open_.append(f"{len(table.preamble)} lines above the table")
    bad = sum(int(np.sum(~np.isfinite(v))) for v in parts.values.values())
    if bad:
        open_.append(f"{bad} cells without a reading")
    return f"understood: {'; '.join(said)}", f"not understood: {'; '.join(open_) or 'nothing'}"


def _missing(table: Table, place: int, seconds: Array) -> list[str]:
    """Return a note on the cells of a column that say that there is no reading, if any do.

    Those that a column recorded less often leaves between its readings are told as such.
    """
    cells = table.cells(place)
    known = np.array([not is_missing(cell) for cell in cells])
    if known.all():
        return []
    dated = np.isfinite(seconds)
    lost = ~known
    if dated.sum() > 1:
        usual = float(np.median(np.diff(seconds[dated])))
        lost[dated] = lost_rows(known[dated], seconds[dated], usual)
    name, notes = table.names[place], []
    between = int((~known & ~lost).sum())
    if between:
        notes.append(f"{name!r} was recorded less often than there are rows: {between} of "
                     f"{known.size} are blank between its readings, and nothing is lost there.")
    rows = np.flatnonzero(lost)
    if rows.size:
        said = Counter(clean(cells[row]) or "blank" for row in rows)
        shown = ", ".join(f"{text} {count}" for text, count in said.most_common(4))
        notes.append(f"{rows.size} of {known.size} readings of {name!r} are missing or out of "
                     f"range ({shown}; first: line {table.lines[rows[0]]}): where a track has no "
                     "reading, findings tell a fault.")
    return notes


def _times(path: Path, table: Table, time: int | None, options: ImportOptions) -> Times:
    if options.rate_hz is not None:
        seconds = np.arange(len(table.rows)) / options.rate_hz
        return Times(seconds, "rate", "", (f"Times follow from {options.rate_hz:g} rows a "
                                           "second.",))
    assert time is not None
    assert table.decimal is not None
    try:
        times = read_times(table.cells(time), table.names[time], table.units[time],
                           table.decimal, options.time_unit)
    except Backwards as error:
        raise BadFile(f"{path}: time runs backwards at line {table.lines[error.row]}; the log "
                      "was started again there, split it into two files") from None
    seen = times.seconds[np.isfinite(times.seconds)]
    steps = np.diff(seen)
    if steps.size and np.median(steps) <= 0:
        finer = rising_columns(table, time)
        if finer:
            raise ImportQuestion("time too coarse, finer there", path=path,
                                 name=table.names[time], finer=table.names[finer[0]])
        raise ImportQuestion("time too coarse", path=path)
    return times


def _units(path: Path, table: Table, roles: dict[str, int], values: dict[str, Array],
           options: ImportOptions) -> tuple[dict[str, str], list[str]]:
    """Return "V", "mV" or "counts" for every value column; ask when one stays open."""
    told = options.unit
    if told is not None and told not in ("V", "mV", "counts"):
        raise BadCall(f"--readings-in {told!r} is not known; use V, mV or counts")
    if options.full_scale is not None and told is None:
        told = "counts"
    units = {role: options.units.get(role) or _of_heading(path, table, role, place) or told
             or _behind(table, place) for role, place in roles.items()}
    if "counts" in units.values() and (
            options.full_scale is None or options.reference_volts is None):
        raise ImportQuestion("size of counts", path=path)
    open_roles = [role for role, unit in units.items() if unit is None]
    # Columns without a unit are judged together: one of them alone may hardly move.
    guess, note = _guessed(path, [values[role] for role in open_roles]) if open_roles else ("", "")
    return {role: unit or guess for role, unit in units.items()}, [note] * bool(note)


def _of_heading(path: Path, table: Table, role: str, place: int) -> str | None:
    """Return the unit in a column's heading, None without one; ask about one that is no voltage."""
    heading = heading_unit(table.names[place], table.units[place])
    if heading and heading not in VOLTS:
        raise ImportQuestion("unit of heading", path=path, name=table.names[place],
                             heading=heading, role=role)
    return VOLTS.get(heading)


def _behind(table: Table, place: int) -> str | None:
    """Return the unit of a column by what stands behind its cells."""
    ends = {match[1] if (match := UNIT_BEHIND.search(row[place].strip())) else ""
            for row in table.rows[:500] if not is_missing(row[place])}
    return ends.pop() if len(ends) == 1 and ends <= {"V", "mV"} else None


def _guessed(path: Path, values: list[Array]) -> tuple[str, str]:
    highest = max((float(np.nanmax(np.abs(v))) for v in values if np.isfinite(v).any()),
                  default=0.0)
    whole = all(np.all(v[np.isfinite(v)] == np.round(v[np.isfinite(v)])) for v in values)
    if highest <= MOST_VOLTS and not (whole and highest > 5):
        return "V", "The readings have no unit and are taken as volts."
    if not whole and highest <= 1000 * MOST_VOLTS:
        return "mV", f"The readings reach {highest:g} and are taken as millivolts."
    raise ImportQuestion("no unit", path=path, highest=highest)


def _steps(values: dict[str, Array], units: dict[str, str], options: ImportOptions) -> list[str]:
    """Return what is known of the converter's step of the tracks in volts."""
    tracks = [role for role in ("a", "b") if units.get(role) in ("V", "mV")]
    if not tracks or options.step_volts is not None:
        return []
    notes: list[str] = []
    for role in tracks:
        step = _channel(role, values[role], units[role], options).step_volts
        if step > 0:
            notes.append(ImportNote("step estimated", role=role, millivolts=1000 * step))
        else:
            notes.append(ImportNote("step not known", role=role))
    return notes


def _recording(path: Path, loaded: Loaded, parts: _Parts, options: ImportOptions) -> Recording:
    keep = np.isfinite(parts.times.seconds)
    notes = list(parts.notes)
    if not keep.all():
        notes.append(f"{int((~keep).sum())} rows without a time were left out.")
    time_s = parts.times.seconds[keep]
    if time_s.size < 2:
        raise BadFile(f"{path} has {time_s.size} rows with a time; a log needs at least 2")
    channels = tuple(_channel(role, values[keep], parts.units[role], options)
                     for role, values in parts.values.items())
    steps = np.diff(time_s)
    usual = float(np.median(steps))
    even = bool(np.mean(np.abs(steps - usual) <= EVEN * usual) > 0.9)
    marks = _marks(parts, keep, options)
    if even:
        lost = np.round(steps / usual).astype(int) - 1
        marks += [Mark(int(row) + 1, f"gap {lost[row]}") for row in np.flatnonzero(lost > 0)]
        if (lost > 0).any():
            notes.append(f"{int(lost[lost > 0].sum())} samples are missing between rows; each "
                         "gap is marked.")
    else:
        notes.append(f"The log is sampled unevenly: steps of {steps.min():.6g} to "
                     f"{steps.max():.6g} s, usually {usual:.6g} s.")
    origin = {
        "file": path.name, "sha256": hashlib.sha256(loaded.data).hexdigest(),
        "encoding": parts.encoding, "delimiter": parts.table.delimiter, "decimal": parts.decimal,
        "columns": {role: parts.table.names[place] for role, place in parts.roles.items()},
        "notes": notes}
    origin |= dict(zip(("understood", "not_understood"), closing_lines(parts), strict=True))
    if options.more:
        origin["files"] = [path.name, *(more.name for more in options.more)]
    return Recording(
        time_s, channels, tuple(sorted(marks, key=lambda m: m.row)),
        title=options.title or path.stem, started=parts.times.started or loaded.started,
        rate_hz=float(f"{1.0 / usual:.6g}") if even else None, board_name="imported log",
        extra={"imported": origin, **options.stated})


def _channel(role: str, values: Array, unit: str, options: ImportOptions) -> Channel:
    most = float(np.abs(values[np.isfinite(values)]).max(initial=0.0))
    if most > MOST:
        raise BadFile(f"a reading of the column taken for {role} is {most:g}, larger than any can "
                      f"be; repair it, or name another with --{role}")
    nominal = options.supply_volts if role in ("a", "b", "supply") else None
    kind = "track" if role in ("a", "b") else role
    if unit == "counts":
        return Channel(role, kind, values, "counts", options.full_scale, options.reference_volts,
                       scale=options.scale, nominal_volts=nominal)
    # A thousandth of a decimal number is put back on its decimal digits: 612.3 mV is 0.6123 V.
    volts = np.round(values / 1000.0, 9) if unit == "mV" else values
    return Channel(role, kind, volts, "V", scale=options.scale, nominal_volts=nominal,
                   reading_step=options.step_volts)


def _marks(parts: _Parts, keep: NDArray[np.bool_], options: ImportOptions) -> list[Mark]:
    if options.mark is None:
        return []
    place = find_column(parts.table.names, options.mark, "--mark")
    texts = [cell.strip() for cell, kept in zip(parts.table.cells(place), keep, strict=True)
             if kept]
    return [Mark(row, text) for row, text in enumerate(texts) if text]

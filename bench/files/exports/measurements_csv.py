"""Measurements as a plain CSV table (RFC 4180): time, raw readings, volts, marks.

Unlike the recording it has no header lines and no checksum; the recording stays the original.
"""

import io
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from analysis.model.recording import Recording
from bench.files.exports.csv_settings import csv_text, safe_cell
from bench.files.exports.files import write_through

# Rows turned into text at once: some MB, so that an hour at 1 kHz needs no more memory.
CHUNK = 50_000


def write_measurements_csv(recording: Recording, path: Path) -> None:
    """Write the measurements; raise BadFile when `path` cannot be written."""
    def write(part: Path) -> None:
        with part.open("w", encoding="utf-8", newline="") as file:
            for piece in measurements_csv(recording):
                file.write(piece)

    write_through(path, write)


def measurements_csv(recording: Recording) -> Iterator[str]:
    """Yield the table in pieces: every unit stands in its column's name."""
    names, columns, forms = ["time (s)"], [recording.time_s], ["%.6f"]
    for channel in recording.channels:
        if channel.unit == "counts":
            names.append(f"{channel.column} (counts)")
            columns.append(channel.readings)
            forms.append("%.10g")
        names.append(f"{channel.column} (V)")
        columns.append(channel.volts())
        forms.append("%.6f")
        per_volt = recording.ohms_per_volt
        if channel.role == "track" and per_volt is not None:
            names.append(f"{channel.column} (ohm)")
            columns.append(per_volt * recording.stated_volts(channel))
            forms.append("%.3f")
        elif channel.role == "track" and recording.supply is not None:
            names.append(f"{channel.column} at {recording.nominal_volts:g} V supply (V)")
            columns.append(recording.stated_volts(channel))
            forms.append("%.6f")
    yield csv_text([*names, "mark"], [])
    marks: dict[int, str] = {}
    for mark in recording.marks:
        marks[mark.row] = f"{marks[mark.row]} / {mark.text}" if mark.row in marks else mark.text
    for start in range(0, recording.rows, CHUNK):
        stop = min(start + CHUNK, recording.rows)
        table = np.column_stack([column[start:stop] for column in columns])
        out = io.StringIO(newline="")
        np.savetxt(out, table, fmt=",".join(forms), newline="\r\n")
        # An empty cell is what every reader takes for "missing"; "nan" is not.
        lines = out.getvalue().replace("nan", "").split("\r\n")[:-1]
        yield "".join(f"{line},{_quoted(marks.get(start + i, ''))}\r\n"
                      for i, line in enumerate(lines))


def _quoted(text: str) -> str:
    safe = safe_cell(text)
    return '"' + safe.replace('"', '""') + '"' if any(c in safe for c in ',"') else safe

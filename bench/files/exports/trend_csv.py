"""A folder of recordings as one table, one line per recording (RFC 4180).

Column names are lower case with units, one type per column, empty where unknown: a data frame
or a Parquet writer takes the table as it is. The levels of a two-wire rheostat stand in the columns
of ohms at the end, and in none of volts.
"""

import math
from collections.abc import Mapping
from pathlib import PurePath

from analysis.pedal.findings import Findings
from bench.files.exports.csv_settings import csv_rows, csv_text
from bench.wording.face import TERMINAL, on_a_sheet
from bench.wording.sweep import sentence

Row = Mapping[str, str | float | int | None]
TRACKS = 2
_PER_TRACK = (
    "name", "direction", "rest_volts", "rest_uncertainty_volts", "rest_scatter_volts",
    "noise_volts", "drift_volts_per_minute", "full_volts", "full_uncertainty_volts",
    "span_volts", "linearity_percent", "start_of_travel_volts", "lost_travel_percent",
)
_VOLTS = tuple(name for name in _PER_TRACK if "volts" in name)


def _in_ohms(name: str) -> str:
    return name.replace("volts", "ohms")


COLUMNS = (
    "file", "title", "started", "board", "rows", "seconds", "complete", "lost_samples",
    "nominal_volts", "supply_recorded", "presses", "returns",
    *(f"track{i + 1}_{name}" for i in range(TRACKS) for name in _PER_TRACK),
    "relation", "gain", "offset_volts", "mismatch_max_percent", "mismatch_at_travel_percent",
    "play_percent", "worst_return_s", "faults", "gravest", "state", "verdict", "error",
    "pedal_kind", "pedal_use",
    *(f"track{i + 1}_{_in_ohms(name)}" for i in range(TRACKS) for name in _VOLTS),
    "offset_ohms",
)


def trend_row(file: str, findings: Findings) -> dict[str, str | float | int | None]:
    """Return one line of the table."""
    recording, pair = findings.recording, findings.pair
    row: dict[str, str | float | int | None] = {
        "file": file, "title": recording.title, "started": recording.started,
        "board": recording.board_name, "rows": recording.rows,
        "seconds": float(recording.time_s[-1] - recording.time_s[0]),
        "complete": int(recording.complete), "lost_samples": recording.lost_samples,
        "nominal_volts": float(recording.nominal_volts),
        "supply_recorded": int(recording.supply is not None),
        "presses": sum(s.kind == "press" for s in findings.segments),
        "returns": max((t.rest_levels.size for t in findings.tracks.values()), default=0),
        "pedal_kind": recording.pedal.kind, "pedal_use": recording.pedal.use,
        "faults": len(findings.faults),
        "gravest": findings.gravest,
        "state": findings.state,
        "verdict": (sentence(findings.verdict[0], on_a_sheet(TERMINAL, PurePath(file).name))
                    if findings.verdict else ""),
    }
    for number, (name, track) in enumerate(list(findings.tracks.items())[:TRACKS], start=1):
        band = findings.dead_bands.get(name)
        values: tuple[str | float | int | None, ...] = (
            name, track.direction, track.rest.value, track.rest.uncertainty,
            track.rest_scatter.value, track.noise_volts, track.drift_volts_per_minute.value,
            track.full.value, track.full.uncertainty, track.span.value, track.linearity_percent,
            band.start_of_travel_volts if band else math.nan,
            band.lost_travel_percent if band else math.nan)
        row.update({f"track{number}_{key}": value
                    for key, value in zip(_PER_TRACK, values, strict=True)})
    if pair is not None:
        row.update(
            relation=pair.relation, gain=pair.gain.value, offset_volts=pair.offset_volts.value,
            mismatch_max_percent=pair.mismatch_max_percent.value,
            mismatch_at_travel_percent=pair.mismatch_at_travel_percent,
            play_percent=pair.play_percent.value)
    if recording.ohms_per_volt is not None:
        _to_ohms(row, recording.ohms_per_volt)
    times = [r.seconds for r in findings.return_times if r.quick and math.isfinite(r.seconds)]
    row["worst_return_s"] = max(times) if times else None
    return row


def _to_ohms(row: dict[str, str | float | int | None], per_volt: float) -> None:
    """Move what stands in volts of a rheostat's scale to the columns of ohms."""
    names = [f"track{i + 1}_{name}" for i in range(TRACKS) for name in _VOLTS]
    for name in (*names, "offset_volts"):
        value = row.pop(name, None)
        if isinstance(value, int | float):
            row[_in_ohms(name)] = per_volt * value


def row_text(row: Row) -> str:
    """Return one line of the table as text, with its line end."""
    return csv_rows([[_plain(row.get(name)) for name in COLUMNS]])


def header_text() -> str:
    """Return the line of column names."""
    return csv_text(COLUMNS, [])


def _plain(value: str | float | int | None) -> str | float | int | None:
    # Six significant digits are finer than any pedal and keep the table readable.
    if isinstance(value, float) and math.isfinite(value):
        return float(f"{value:.6g}")
    return value

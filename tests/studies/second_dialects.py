"""Import one log written in ways of another hand and count right, asked and misread ones.

    python tests/studies/second_dialects.py
    python tests/studies/second_dialects.py --only "german sheet"    tell one of them
    python tests/studies/second_dialects.py --keep FOLDER            keep the files

Apart from import_dialect_rates.py and the independent logs: the ways stand, each with the answer
that is due, in dialects_of_another_hand.py. Where the two tracks are proposed and asked for, the
proposal is taken. Exit status 1 when one is misread, when a question has more than one line, or
when one is not answered as it is due.
"""

import argparse
import sys
import tempfile
from pathlib import Path

import numpy as np
from dialects_of_another_hand import COUNT, FIRST, SECOND, SECONDS, all_dialects

from bench.errors import BenchError
from bench.files.imports import ImportOptions, import_log

PROPOSED = "two columns of readings"


def imported(first, **options):
    """Return the recording; two tracks that are proposed are accepted."""
    try:
        return import_log(first, ImportOptions(**options))
    except BenchError as error:
        if getattr(error, "code", "") != PROPOSED:
            raise
        return import_log(first, ImportOptions(**options, columns={
            "a": error.values["one"], "b": error.values["two"]}))


def outcome(name, dialect, folder):
    """Return (right, asked, misread or crooked, what was said)."""
    path = folder / f"{''.join(c if c.isalnum() else '_' for c in name)}.{dialect.ending}"
    made = dialect.write(path)
    if isinstance(made, bytes):
        path.write_bytes(made)
    first, *more = made if isinstance(made, list) else [path]
    try:
        got = imported(first, more=tuple(more), **dialect.options)
    except BenchError as error:
        said = str(error)
        return ("crooked" if "\n" in said or len(said) > 400 else "asked"), said
    origin = got.extra["imported"]
    if not (origin["understood"] and origin["not_understood"]):
        return "crooked", "one of the two last lines is missing"
    times = got.time_s - got.time_s[0]
    tracks = sorted((c for c in got.channels if c.role == "track"), key=lambda c: c.column)
    if len(tracks) != 2 or times.size not in (COUNT, COUNT - 1):
        return "misread", f"{len(tracks)} tracks, {times.size} rows; {origin['understood']}"
    volts = [c.readings * c.pin_volts_per_reading for c in tracks]
    off = max(float(np.nanmax(np.abs(v - w[:v.size]))) for v, w in zip(volts, (FIRST, SECOND),
                                                                       strict=True))
    late = float(np.max(np.abs(times - SECONDS[:times.size])))
    missing = max(int(np.isnan(v).sum()) for v in volts)
    if off > 0.004 or late > 0.0015 or missing > 3:
        return "misread", (f"off by {off:.4g} V, {late:.4g} s, {missing} missing; "
                           f"{origin['understood']}")
    return "right", origin["understood"]


def main():
    """Write, import and count; return 1 when a dialect is not read as it is due."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--only")
    parser.add_argument("--keep", type=Path)
    call = parser.parse_args()
    dialects = all_dialects()
    counts = {"right": 0, "asked": 0, "misread": 0, "crooked": 0}
    wrong = 0
    with tempfile.TemporaryDirectory() as made:
        folder = call.keep or Path(made)
        for name in [call.only] if call.only else dialects:
            due = dialects[name].due
            result, said = outcome(name, dialects[name], folder)
            counts[result] += 1
            bad = result in ("misread", "crooked") or (due != "either" and result != due)
            wrong += bad
            if bad or call.only:
                print(f"{name}: {result}, due {due}: {said}")
    print(f"{sum(counts.values())} dialects: "
          + ", ".join(f"{k} {v}" for k, v in counts.items()))
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main())

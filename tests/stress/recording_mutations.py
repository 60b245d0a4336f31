"""Damage recording files in every way: the reader opens or refuses in one line, never wrongly.

    python tests/stress/recording_mutations.py  20 000 damaged files, 400 through `findings`
    python tests/stress/recording_mutations.py --quick   some hundreds

Silently wrong would be: a file taken as complete whose rows are not those that were recorded. The
check sum covers the table; the header is outside it, so a header may read differently or be
refused, but never crash.
"""

import contextlib
import io
import re
import sys
import tempfile
import traceback
import warnings
import zlib
from collections import Counter
from pathlib import Path

import numpy as np

from analysis.model.recording import Mark, Recording
from bench.command_line import main as stillpedal
from bench.errors import BadFile
from bench.files.recording_file import read_recording, write_recording

sys.path.insert(0, str(Path(__file__).parent))

from stress_common import Report, ramp, run

SAMPLES = Path(__file__).parents[2] / "sample_sweeps"
EVIL = (b"\0", b"\0" * 4096, b"\n", b"\r\n", b",", b'"', b"#", b"# end rows=5 crc32=00000000\n",
        b"nan", b"inf", b"1e999", b"-", b"9" * 400, b"\xff\xfe", "\u202e".encode(), b"[", b"{" * 50,
        b"= ", b'"""', b"\x1b[2J", b"1e308", b"-1", b"0.0", b"\t", b"time_s,a,b,mark\n")


def damage(data: bytes, rng: np.random.Generator) -> bytes:
    """Return the bytes with one or two damages, a third of them in whole lines."""
    for _ in range(int(rng.integers(1, 3))):
        how = int(rng.integers(9))
        at = int(rng.integers(len(data) + 1))
        if rng.integers(5) == 0:
            at = min(at, int(rng.integers(1200)))  # the header is short; hit it often
        if how == 0 and at < len(data):
            data = data[:at] + bytes([data[at] ^ 1 << int(rng.integers(8))]) + data[at + 1:]
        elif how == 1:
            data = data[:at]
        elif how == 2:
            data = data[:at] + data[at + int(rng.integers(1, 200)):]
        elif how == 3:
            data = data[:at] + EVIL[int(rng.integers(len(EVIL)))] + data[at:]
        elif how == 4:
            data = data[:at] + rng.bytes(int(rng.integers(1, 60))) + data[at:]
        elif how == 5 and at < len(data):
            data = data[:at] + b"%d" % rng.integers(10) + data[at + 1:]
        else:
            lines = data.splitlines(True) or [b""]
            one, two = (int(k) for k in rng.integers(len(lines), size=2))
            if how == 6:
                lines[one], lines[two] = lines[two], lines[one]
            elif how == 7:
                lines.insert(one, lines[two])
            else:
                del lines[one]
            data = b"".join(lines)
        if not data:
            return b"\n"
    return data


def small_recording() -> Recording:
    """Return a recording with marks, gaps and an empty cell."""
    base = ramp(300, 3)
    base.channels[2].readings[7] = np.nan
    return Recording(base.time_s, base.channels,
                     (Mark(0, "rest"), Mark(50, "press"), Mark(90, "gap 3"), Mark(91, 'a, "b"')),
                     "before", rate_hz=1000.0, board_name="ramp", started="2026-05-02T09:14:03Z")


def same_table(found: Recording, wanted: Recording) -> bool:
    """Say whether times, readings and marks are those that were recorded."""
    return (np.array_equal(found.time_s, wanted.time_s)
            and len(found.channels) == len(wanted.channels)
            and all(np.array_equal(f.readings, w.readings, equal_nan=True)
                    for f, w in zip(found.channels, wanted.channels, strict=True))
            and found.marks == wanted.marks)


def reader(count: int, folder: Path, report: Report) -> None:
    """Read damaged files."""
    rng = np.random.default_rng(5)
    wanted = small_recording()
    good = folder / "good.csv"
    write_recording(good, wanted)
    data = good.read_bytes()
    seen: Counter[str] = Counter()
    for _ in range(count):
        path = folder / "damaged.csv"
        path.write_bytes(damage(data, rng))
        try:
            found = read_recording(path)
        except BadFile as error:
            plain = str(error).isprintable()
            seen["refused" if plain else "refused with control characters"] += 1
        except Exception as error:
            seen[f"crashed: {type(error).__name__}: {error}"[:90]] += 1
        else:
            if not found.complete:
                seen["opened as cut short"] += 1
            else:
                seen["opened, same table" if same_table(found, wanted) else "SILENTLY WRONG"] += 1
    fine = {"refused", "opened as cut short", "opened, same table"}
    report.figure(f"of {count} damaged files", ", ".join(
        f"{seen[k]} {k}" for k in sorted(fine)))
    odd = {k: n for k, n in seen.items() if k not in fine}
    report.promise("wrong silently, crashed, or refused with control characters", not odd, odd or 0)


def call(words: list[str]) -> tuple[int, str, str]:
    """Run one verb in this process; a warning counts as a crash."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), \
            warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            code = stillpedal(words)
        except SystemExit as end:
            code = int(end.code or 0)
    return code, out.getvalue(), err.getvalue()


def odd_numbers(data: bytes, rng: np.random.Generator) -> bytes:
    """Return a sealed recording (its check sum is right) with readings no pedal gives."""
    head, table = re.fullmatch(rb"((?:#[^\n]*\n)+)(.*\n)", data, re.DOTALL).groups()
    for _ in range(int(rng.integers(0, 3))):
        number = rng.choice([b"0.0", b"-1.0", b"1e308", b"1e-308", b"1e6", b"0.5", b"3"])
        figures = list(re.finditer(rb"= ([0-9.]+)\n", head))[1:]
        one = figures[int(rng.integers(len(figures)))]
        head = head[:one.start(1)] + number + head[one.end(1):]
    lines = table.splitlines()
    rows = [line.split(b",") for line in lines[1:]]
    for _ in range(int(rng.integers(1, 4))):
        low = int(rng.integers(len(rows)))
        high = min(len(rows), low + int(rng.choice([1, 30, 3000, 100_000])))
        column = int(rng.integers(1, len(rows[0])))
        how = int(rng.integers(7))
        value = rng.choice([b"0", b"1e308", b"-1e308", b"", b"4096", b"1e-320", b"5"])
        if how == 0:
            del rows[low:high]
        elif how == 1:
            for row in rows[low:high]:
                row[0] = rows[low][0]
        elif how == 2:
            for row in rows[low:high]:
                row[0] = b"%.6f" % (float(row[0]) + 1e9)
            rows = rows[:high]
        elif how == 3:
            rows[low:high] = [r[:1] + s[1:] for r, s in
                              zip(rows[low:high], rows[low:high][::-1], strict=True)]
        else:
            last = len(rows[0]) - 1
            for row in rows[low:high]:
                row[column] = rng.choice([b"press", b"rest", b"gap 9", b"key on", b"hold"]) \
                    if column == last else value
        if not rows:
            rows = [lines[1].split(b",")]
    body = b"".join(b",".join(row) + b"\n" for row in [lines[0].split(b","), *rows])
    return head + body + b"# end rows=%d crc32=%08X\n" % (len(rows), zlib.crc32(body))


def verb(count: int, folder: Path, report: Report) -> None:
    """Let the verbs read damaged sweeps, and whole ones with impossible numbers."""
    rng = np.random.default_rng(6)
    sources = [re.sub(rb"# end .*\n", b"", (SAMPLES / f"synthetic_{name}.csv").read_bytes())
               for name in ("one_track", "healthy_pair", "key_on_quiet_car")]
    seen: Counter[str] = Counter()
    for turn in range(count):
        path = folder / "sweep.csv"
        change = damage if turn % 4 == 3 else odd_numbers
        path.write_bytes(change(sources[turn // 4 % len(sources)], rng))
        try:
            code, _, err = call([("findings", "settings")[turn % 2], str(path)])
        except Exception as error:
            place = traceback.extract_tb(error.__traceback__)[-1]
            seen[f"crashed: {type(error).__name__}: {error} {place.filename}:{place.lineno}"] += 1
            keep = Path(tempfile.gettempdir()) / f"torture-crash-{turn}.csv"
            keep.write_bytes(path.read_bytes())
            continue
        good = code == 0 or (code == 2 and err.count("\n") == 1 and err.strip().isprintable())
        seen[f"exit {code}" if good else f"exit {code} and {err[:80]!r}"] += 1
    odd = {k: n for k, n in seen.items() if k not in ("exit 0", "exit 2")}
    report.figure(f"verbs over {count} damaged or impossible sweeps",
                  ", ".join(f"{n} {k}" for k, n in sorted(seen.items()) if k not in odd))
    report.promise("crashes, warnings, or more than one line", not odd, odd or 0)


def measure(quick: bool, report: Report) -> None:
    """Read damaged files, and let a verb read damaged sweeps."""
    with tempfile.TemporaryDirectory() as name:
        reader(200 if quick else 20_000, Path(name), report)
        verb(12 if quick else 600, Path(name), report)


if __name__ == "__main__":
    sys.exit(run(__doc__, measure))

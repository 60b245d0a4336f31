"""Give damaged and hostile files to every verb that reads one: one line, and soon.

    python tests/stress/damaged_files.py           5000 files, some ten minutes
    python tests/stress/damaged_files.py --quick   60

Each file is damaged anew (bits, bytes, lines, poison, numbers no pedal gives) and goes to one verb
after the other. Nothing may crash or warn; what is refused is refused in one printable line; no
file may take more than a second of processor time or 300 MB.
"""

import re
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1]))

from recording_mutations import call, damage, odd_numbers
from sender_check_by_hand import stored_one
from stress_common import Report, peak_megabytes, run

SAMPLES = Path(__file__).parents[2] / "sample_sweeps"
MOST_SECONDS, MOST_MEGABYTES = 1.0, 300.0
LIST = b"a: {start_of_travel.a:.3f}\nb: {start_of_travel.b.counts10}\n{title}\n"
POINTS = b"reading,meter\n" + b"".join(
    b"%.2f,%.2f\n" % (v, 5.02 * v + 0.02) for v in (0.5, 1.4, 2.3, 3.2, 4.1, 3.2, 2.3, 1.4, 0.5))
LOG = b"time [s];a [V];b [V];note\n" + b"".join(
    b"%.2f;%.3f;%.3f;\n" % (k / 50, 0.8 + k % 90 / 40, 0.4 + k % 90 / 80) for k in range(600))
DIVIDER = ["--kind", "divider", "--set", "top_ohms=40k", "--set", "bottom_ohms=10k", "--set",
           "highest_volts=24"]


def short(name: str, rows: int) -> bytes:
    """Return the first rows of a sample without a trailer, so that damage is read and judged."""
    text = (SAMPLES / f"synthetic_{name}.csv").read_bytes()
    lines = re.sub(rb"# end .*\n", b"", text).splitlines(True)
    head = sum(line.startswith(b"#") for line in lines) + 1
    return b"".join(lines[: head + rows])


def jobs(folder: Path) -> list[tuple[str, bytes, list[str]]]:
    """Return what is read by what: name, sound bytes, words of the call; FILE is the file."""
    pair, one = short("healthy_pair", 6000), short("one_track", 4000)
    car = short("key_on_quiet_car", 5000)
    sound = str(SAMPLES / "synthetic_healthy_pair.csv")
    kept, _ = stored_one(folder / "kept")
    return [
        ("findings", pair, ["findings", "FILE"]),
        ("findings --json", one, ["findings", "FILE", "--json"]),
        ("settings", pair, ["settings", "FILE"]),
        ("watch --from", car, ["watch", "--from", "FILE"]),
        ("compare", pair, ["compare", sound, "FILE"]),
        ("export", one, ["export", "FILE", "--out", "OUT.csv"]),
        ("report", one, ["report", "FILE", "--out", "OUT.html"]),
        ("trend", pair, ["trend", "FOLDER"]),
        ("import", LOG, ["import", "FILE", "--out", "OUT.csv"]),
        ("import --preview", LOG, ["import", "FILE", "--preview"]),
        ("settings --template", LIST, ["settings", sound, "--template", "FILE"]),
        ("meter --from", POINTS, ["meter", "--from", "FILE", *DIVIDER]),
        ("meter --calibration", kept.read_bytes(), [
            "meter", "--apply", sound, "--channel", "a", "--calibration", "FILE", "--out",
            "OUT.csv"]),
    ]


def measure(quick: bool, report: Report) -> None:
    """Damage, read, and hold against the limits."""
    count = 60 if quick else 5000
    rng = np.random.default_rng(5000)
    seen: Counter[str] = Counter()
    odd: list[str] = []
    slow: list[str] = []
    worst = 0.0
    with tempfile.TemporaryDirectory() as name:
        base = Path(name)
        todo = jobs(base)
        for verb, _, words in todo:  # what is loaded for the first time is not the file's doing
            if verb == "report":
                call([w.replace("FILE", str(SAMPLES / "synthetic_one_track.csv"))
                      .replace("OUT", str(base / "warm")) for w in words])
        for turn in range(count):
            verb, sound, words = todo[turn % len(todo)]
            table = sound.startswith(b"# stillpedal")
            change = odd_numbers if table and turn % 3 == 0 else damage
            data = change(sound, rng)
            folder = base / str(turn)
            folder.mkdir()
            path = folder / "file.csv"
            path.write_bytes(data)
            asked = [w.replace("FILE", str(path)).replace("OUT", str(folder / "out"))
                     .replace("FOLDER", str(folder)) for w in words]
            begun = time.process_time()
            try:
                code, _, err = call(asked)
            except Exception as error:
                place = traceback.extract_tb(error.__traceback__)[-1]
                odd.append(f"{verb}: {type(error).__name__} {error} "
                           f"{Path(place.filename).name}:{place.lineno}"[:200])
                keep = Path(tempfile.gettempdir()) / f"hostile-{turn}.csv"
                keep.write_bytes(data)
                continue
            took = time.process_time() - begun
            worst = max(worst, took)
            if took > MOST_SECONDS:
                slow.append(f"{verb} {took:.2f} s")
            lines = err.strip()
            good = code in (0, 1) or (code == 2 and lines.isprintable() and lines)
            seen[f"exit {code}"] += 1
            if not good:
                odd.append(f"{verb}: exit {code} {err[:120]!r}")
            for left in folder.iterdir():
                left.unlink()
            folder.rmdir()
    report.figure(f"of {count} damaged files, over {len(todo)} verbs", ", ".join(
        f"{n} {k}" for k, n in sorted(seen.items())))
    report.promise("tracebacks, warnings, or more than one line", not odd,
                   f"{len(odd)} {odd[:6]}" if odd else 0)
    report.promise(f"more than {MOST_SECONDS:g} s of processor time", not slow,
                   f"{len(slow)} {slow[:5]}" if slow else f"0 (slowest {worst:.2f} s)")
    peak = peak_megabytes()
    report.promise(f"memory of the process over all files, at most {MOST_MEGABYTES:g} MB",
                   peak <= MOST_MEGABYTES, f"{peak:.0f}")


if __name__ == "__main__":
    sys.exit(run(__doc__, measure))

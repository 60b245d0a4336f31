"""Give damaged and hostile files to every verb that reads one: one line, and soon.

    python tests/stress/damaged_files.py           5000 files, twenty minutes
    python tests/stress/damaged_files.py --quick   60

Each file is damaged anew (bits, bytes, lines, poison, numbers no pedal gives) and goes to one verb
after the other. Nothing may crash or warn; what is refused is refused in one printable line; no
file may take more than a second of processor time (two where it is recorded as well; the least of
three, as other work on the machine adds to one) or 300 MB beyond what the process held before it.
JSON and workbooks are damaged inside
as well, under a check sum that is right again.
"""

import contextlib
import copy
import importlib.util
import io
import json
import os
import re
import shutil
import sys
import tempfile
import time
import traceback
import zipfile
import zlib
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np

from bench.files.calibration_store import check_sum
from bench.files.exports.export_document import file_sha256
from bench.files.job_record import NAME as RECORD

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1] / "helpers"))

from recording_mutations import call, damage, odd_numbers
from sender_check_by_hand import stored_one
from stress_common import Report, peak_megabytes, run

SAMPLES = Path(__file__).parents[2] / "sample_sweeps"
JOB = SAMPLES / "job_with_a_loose_plug"
PROOFS = ("wires", "shake", "warm", "loads", "drive")
MOST_SECONDS, MOST_MEGABYTES = 1.0, 300.0
# Two verbs record what they read and judge it: a sound file takes a second as well.
RECORD_SECONDS = 2.0
LIST = b"a: {start_of_travel.a:.3f}\nb: {start_of_travel.b.counts10}\n{title}\n"
POINTS = b"reading,meter\n" + b"".join(
    b"%.2f,%.2f\n" % (v, 5.02 * v + 0.02) for v in (0.5, 1.4, 2.3, 3.2, 4.1, 3.2, 2.3, 1.4, 0.5))
LOG = b"time [s];a [V];b [V];note\n" + b"".join(
    b"%.2f;%.3f;%.3f;\n" % (k / 50, 0.8 + k % 90 / 40, 0.4 + k % 90 / 80) for k in range(600))
DIVIDER = ["--kind", "divider", "--set", "top_ohms=40k", "--set", "bottom_ohms=10k", "--set",
           "highest_volts=24"]


def short(name: str, rows: int) -> bytes:
    """Return the first rows of a sample without a trailer, so that damage is read and judged."""
    text = (JOB / f"{name}.csv" if name in PROOFS
            else SAMPLES / f"synthetic_{name}.csv").read_bytes()
    lines = re.sub(rb"# end .*\n", b"", text).splitlines(True)
    head = sum(line.startswith(b"#") for line in lines) + 1
    return b"".join(lines[: head + rows])


Change = Callable[[bytes, np.random.Generator], bytes]
HOSTILE = (None, True, -1, 0, 1e308, -1e308, 1e-320, float("nan"), float("inf"), "", "x", "\x1b[2J",
           "\u202e", "9" * 5000, 10**400, [], {}, [[]], ["a"] * 50, {"a": {"b": []}}, "nan")


def odd_leaf(document: Any, rng: np.random.Generator) -> None:
    """Put something hostile in one place of a document, or take the place out."""
    while True:
        keys = list(document) if isinstance(document, dict) else list(range(len(document)))
        if not keys:
            return
        key = keys[int(rng.integers(len(keys)))]
        inside = document[key]
        if isinstance(inside, dict | list) and inside and rng.integers(6):
            document = inside
            continue
        if rng.integers(8) == 0:
            del document[key]
        else:
            document[key] = copy.deepcopy(HOSTILE[int(rng.integers(len(HOSTILE)))])
        return


def odd_json(data: bytes, rng: np.random.Generator) -> bytes:
    """Return JSON with hostile values in one to three places; its check sum, if any, is right."""
    document = json.loads(data)
    for _ in range(int(rng.integers(1, 4))):
        odd_leaf(document, rng)
    if "sha256" in document:
        document["sha256"] = check_sum(document)
    return json.dumps(document).encode()


HEADER_KEYS = (
    "pedal_kind", "pedal_use", "rheostat_known_ohms", "rheostat_series_ohms", "rheostat_full_ohms",
    "fed_by", "contactor", "joined", "imported", "purpose", "rate_hz", "started", "title", "board",
    "channel", "name", "column", "role", "unit", "full_scale", "reference_volts", "scale",
    "offset_volts", "nominal_volts", "usable_low", "usable_high", "reading_step", "spread_seconds")
HEADER_VALUES = (
    "hall", "hall-fixed", "rheostat", "brake", "regeneration", "elsewhere", "board", "pedal",
    "volts", "track", "supply", "key", "proof", "key-on", "x", "", "\u202e", "\x1b[2J")
HEADER_BARE = ("true", "nan", "inf", "-inf", "0", "-1", "0.0", "1e308", "-1e308", "1e-320", "4096",
               "1979-05-27", "07:32:00", "1979-05-27T07:32:00Z", "[]", "{}", "[[1], {}]",
               "{ a = { b = [] } }", "9" * 30, "9" * 5000, "0x7fffffffffffffff")


def odd_header(data: bytes, rng: np.random.Generator) -> bytes:
    """Return a recording with hostile values of keys that mean something, one to three times.

    They take the place of a line, or stand behind one: at the top, with the board or a channel.
    """
    lines = data.splitlines(True)
    for _ in range(int(rng.integers(1, 4))):
        key = HEADER_KEYS[int(rng.integers(len(HEADER_KEYS)))]
        if rng.integers(2):
            value = HEADER_BARE[int(rng.integers(len(HEADER_BARE)))]
        else:
            value = json.dumps(HEADER_VALUES[int(rng.integers(len(HEADER_VALUES)))])
        line = f"# {key} = {value}\n".encode()
        head = sum(x.startswith(b"#") for x in lines)
        there = [k for k in range(1, head) if lines[k].startswith(f"# {key} =".encode())]
        if there and rng.integers(4):
            lines[there[int(rng.integers(len(there)))]] = line
        else:
            lines.insert(int(rng.integers(1, head)) if rng.integers(2) else 1, line)
    return b"".join(lines)


def summed(entry: dict[str, Any]) -> bytes:
    """Return a line of a job's record whose check sum is right."""
    entry.pop("crc32", None)
    plain = json.dumps(entry, ensure_ascii=False, sort_keys=True)
    return json.dumps({**entry, "crc32": f"{zlib.crc32(plain.encode()):08X}"},
                      ensure_ascii=False, sort_keys=True).encode() + b"\n"


def odd_record(data: bytes, rng: np.random.Generator) -> bytes:
    """Return a job's record with hostile values inside, its check sums right; lines in any order.

    A file that it names is named with its sum of then, so that it is read.
    """
    entries = [json.loads(line) for line in data.splitlines()]
    for _ in range(int(rng.integers(1, 4))):
        odd_leaf(entries[int(rng.integers(len(entries)))], rng)
    if rng.integers(3) == 0:
        entries = [entries[k] for k in rng.permutation(len(entries))]
    return b"".join(summed(e) for e in entries)


def odd_workbook(data: bytes, rng: np.random.Generator) -> bytes:
    """Return a workbook one of whose parts is damaged, packed again."""
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        parts = {name: book.read(name) for name in book.namelist()}
    name = list(parts)[int(rng.integers(len(parts)))]
    parts[name] = damage(parts[name], rng)
    return packed(parts)


def either(*changes: Change) -> Change:
    """Return a damage that is now the one, now the other."""
    return lambda data, rng: changes[int(rng.integers(len(changes)))](data, rng)


def packed(parts: dict[str, bytes]) -> bytes:
    """Return a zip of parts."""
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as book:
        for name, data in parts.items():
            book.writestr(name, data)
    return file.getvalue()


def workbook() -> bytes:
    """Return a workbook (ECMA-376 part 1) of a log of two tracks."""
    rows = [("time [s]", "a [V]", "b [V]"), *(
        (k / 50, 0.8 + k % 90 / 40, 0.4 + k % 90 / 80) for k in range(400))]
    cells = "".join("<row>" + "".join(
        f'<c t="inlineStr"><is><t>{c}</t></is></c>' if isinstance(c, str) else f"<c><v>{c}</v></c>"
        for c in row) + "</row>" for row in rows)
    main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    link = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    return packed({
        "xl/workbook.xml": f'<workbook xmlns="{main}" xmlns:r="{link}"><sheets><sheet name="log" '
                           'r:id="r1"/></sheets></workbook>'.encode(),
        "xl/_rels/workbook.xml.rels": b'<Relationships><Relationship Id="r1" '
                                      b'Target="worksheets/sheet1.xml"/></Relationships>',
        "xl/worksheets/sheet1.xml":
            f'<worksheet xmlns="{main}"><sheetData>{cells}</sheetData></worksheet>'.encode()})


def record_of_a_job() -> bytes:
    """Return a record of a sweep, two proofs, values typed back and a signed page."""
    old = [json.loads(line) for line in (JOB / RECORD).read_bytes().splitlines()]
    kept = [e for e in old if e["what"] in ("sweep", "loads", "drive")]
    kept[1]["values"] = {"power": "current"}
    when = {"when": "2026-11-28T10:00:00+00:00", "file": "", "sha256": ""}
    return b"".join(summed(e) for e in [
        *kept,
        {**when, "what": "entered", "values": {
            "volts": {"a.start_of_travel": 0.82, "b.full_travel": 4.1},
            "typed": {"a.start_of_travel": 16.4, "b.full_travel": 82}, "step_volts": 0.05}},
        {**when, "what": "signed", "file": "page.html", "sha256": "0" * 64, "values": {
            "by": "nobody", "vehicle": "", "next_check": "2027-11-28",
            "states": {"sweep": "proved", "loads": "open"}}}])


def dress(verb: str, folder: Path, path: Path) -> None:
    """Put round a damaged file what its verb reads besides: the files and record of a job."""
    if "record" in verb:
        for task in ("sweep", "loads", "drive"):
            (folder / f"{task}.csv").symlink_to(JOB / f"{task}.csv")
    elif verb.startswith("prove, "):
        task = verb.removeprefix("prove, ")
        names = [("sweep", JOB / "sweep.csv"), (task, path)]
        with open(folder / RECORD, "wb") as file:
            for step, source in names[task == "sweep":]:
                if source != path:
                    (folder / "sweep.csv").symlink_to(source)
                file.write(summed({"when": "2026-11-28T10:00:00+00:00", "what": step,
                                   "file": path.name if source == path else "sweep.csv",
                                   "sha256": file_sha256(source), "values": {}}))


def jobs(folder: Path) -> list[tuple[str, bytes, list[str], Change]]:
    """Return what is read by what: name, sound bytes, words of the call, how it is damaged.

    In the words FILE is the file, FOLDER its folder, OUT a name in it; without words the program
    looks through the folder.
    """
    pair, one = short("healthy_pair", 6000), short("one_track", 4000)
    # Short where it is recorded as well; whole where values are to be issued with it.
    car, key_ons = short("key_on_quiet_car", 5000), short("key_on_quiet_car", 100_000)
    sound = str(SAMPLES / "synthetic_healthy_pair.csv")
    log = str(SAMPLES / "synthetic_key_on_quiet_car.csv")
    kept = stored_one(folder / "kept")[0].read_bytes()
    boards = json.dumps({"schema": 1, "boards": [
        {"name": name, "identity": f"port:/dev/{name}", "port": f"/dev/{name}", "baud": 115200,
         "format": "text", "channels": {
             "columns": ["a", "b"], "roles": {"a": "track"}, "full_scale": 1024.0,
             "reference_volts": 5.0, "scale": {"a": 2.0}, "offset_volts": {"b": 0.1},
             "supply_volts": 5.0, "step_volts": None}} for name in ("one", "two")]}).encode()
    of_json, of_book, of_job = (either(damage, odd) for odd in (odd_json, odd_workbook, odd_record))
    mixed = either(damage, odd_numbers, odd_header)
    page = ["prove", "FOLDER", "--page", "OUT.html", "--by", "nobody"]
    applied = ["meter", "--apply", sound, "--channel", "a", "--calibration", "FILE", "--out",
               "OUT.csv"]
    found: list[tuple[str, bytes, list[str], Change]] = [
        ("findings", pair, ["findings", "FILE"], mixed),
        ("findings --json", one, ["findings", "FILE", "--json"], mixed),
        ("findings --key-on", key_ons, ["findings", sound, "--key-on", "FILE"], mixed),
        ("settings", pair, ["settings", "FILE"], mixed),
        ("settings --key-on", key_ons, ["settings", sound, "--key-on", "FILE", "--json"], mixed),
        ("watch --from", key_ons, ["watch", "--from", "FILE"], mixed),
        ("watch --from --sweep", pair, ["watch", "--from", log, "--sweep", "FILE"], mixed),
        ("compare", pair, ["compare", sound, "FILE"], mixed),
        ("export", one, ["export", "FILE", "--out", "OUT.csv"], mixed),
        ("report", one, ["report", "FILE", "--out", "OUT.html"], mixed),
        ("report --key-on", key_ons, [
            "report", str(SAMPLES / "synthetic_one_track.csv"), "--key-on", "FILE", "--out",
            "OUT.html"], mixed),
        ("trend", pair, ["trend", "FOLDER"], mixed),
        ("the folder", pair, [], mixed),
        ("sweep --board replay", one, [
            "sweep", "--board", "FILE", "--fast", "--yes", "--presses", "1", "--quick", "0",
            "--out", "OUT.csv"], mixed),
        ("watch --board replay", car, [
            "watch", "--board", "FILE", "--fast", "--yes", "--start-on", "now", "--out",
            "OUT.csv"], mixed),
        ("import", LOG, ["import", "FILE", "--out", "OUT.csv"], damage),
        ("import --preview", LOG, ["import", "FILE", "--preview"], damage),
        ("import of a workbook", workbook(), ["import", "FILE", "--preview"], of_book),
        ("settings --template", LIST, ["settings", sound, "--template", "FILE"], damage),
        ("meter --from", POINTS, ["meter", "--from", "FILE", *DIVIDER], damage),
        ("meter --calibration", kept, applied, of_json),
        ("meter --history", kept, [
            "meter", "--history", "--channel", "pack", "--store", "FOLDER"], of_json),
        ("boards --known", boards, ["boards", "--known"], of_json),
        ("boards --forget", boards, ["boards", "--forget", "one"], of_json),
        ("prove, record", record_of_a_job(), ["prove", "FOLDER", "--more"], of_job),
        ("prove --json, record", record_of_a_job(), ["prove", "FOLDER", "--json"], of_job),
        ("prove --shown, record", record_of_a_job(), [
            "prove", "FOLDER", "--shown", "a.start_of_travel=0.82"], of_job),
        ("prove --page, record", record_of_a_job(), page, of_job),
        ("trend, record", record_of_a_job(), ["trend", "FOLDER"], of_job),
        ("prove --add", short("drive", 4000), ["prove", "FOLDER", "--add", "FILE"], mixed),
        ("prove, sweep", pair, ["prove", "FOLDER"], mixed),
    ]
    found += [(f"prove, {task}", short(task, 8000), ["prove", "FOLDER"], mixed)
              for task in PROOFS]
    if importlib.util.find_spec("asammdf"):
        out = folder / "log.mf4"
        assert call(["export", str(SAMPLES / "synthetic_one_track.csv"), "--out", str(out)])[0] == 0
        found.append(("import of MDF", out.read_bytes(), ["import", "FILE", "--preview"], damage))
    return found


@contextlib.contextmanager
def settings_in(folder: Path) -> Iterator[None]:
    """Let what is known of boards be kept in a folder meanwhile."""
    former = os.environ.get("STILLPEDAL_SETTINGS")
    os.environ["STILLPEDAL_SETTINGS"] = str(folder)
    try:
        yield
    finally:
        del os.environ["STILLPEDAL_SETTINGS"]
        if former is not None:
            os.environ["STILLPEDAL_SETTINGS"] = former


NAMES = {"meter --history": "pack-20260502T091403.json", "boards --known": "boards.json",
         "boards --forget": "boards.json"}
NAMES |= {f"{verb}, record": RECORD
          for verb in ("prove", "prove --json", "prove --shown", "prove --page", "trend")}


def read_once(folder: Path, verb: str, words: list[str], data: bytes) -> tuple[float, int, str]:
    """Return the processor time of one call over the file, its exit status and its errors."""
    folder.mkdir()
    path = folder / NAMES.get(verb, "file.csv")
    path.write_bytes(data)
    dress(verb, folder, path)
    asked = [w.replace("FILE", str(path)).replace("OUT", str(folder / "out"))
             .replace("FOLDER", str(folder)) for w in words]
    begun = time.process_time()
    with contextlib.chdir(folder), settings_in(folder):
        code, _, err = call(asked)
    took = time.process_time() - begun
    shutil.rmtree(folder)
    return took, code, err


def measure(quick: bool, report: Report) -> None:
    """Damage, read, and hold against the limits."""
    count = 60 if quick else 5000
    rng = np.random.default_rng(5000)
    seen: Counter[str] = Counter()
    odd: list[str] = []
    slow: list[str] = []
    total, peak, grew = 0.0, 0.0, ""
    most = dict[str, float]()
    with tempfile.TemporaryDirectory() as name:
        base = Path(name)
        todo = jobs(base)
        for verb, _, words, _ in todo:  # what is loaded for the first time is not the file's doing
            if verb == "report":
                call([w.replace("FILE", str(SAMPLES / "synthetic_one_track.csv"))
                      .replace("OUT", str(base / "warm")) for w in words])
        for turn in range(count):
            verb, sound, words, change = todo[turn % len(todo)]
            data = change(sound, rng)
            limit = RECORD_SECONDS if "replay" in verb else MOST_SECONDS
            held = peak_megabytes(anew=True)
            try:
                took, code, err = read_once(base / str(turn), verb, words, data)
                for again in range(2):
                    if took > limit:
                        took = min(took, read_once(base / f"{turn}-{again}", verb, words, data)[0])
            except Exception as error:
                place = traceback.extract_tb(error.__traceback__)[-1]
                odd.append(f"{verb}: {type(error).__name__} {error} "
                           f"{Path(place.filename).name}:{place.lineno}"[:200])
                keep = Path(tempfile.gettempdir()) / f"hostile-{turn}.csv"
                keep.write_bytes(data)
                took, code, err = 0.0, 99, ""
            total += took
            most[verb] = max(most.get(verb, 0.0), took)
            if took > limit:
                slow.append(f"{verb} {took:.2f} s")
            # What records says more on the way; its last word counts.
            lines = err.strip().rpartition("\n")[2] if "replay" in verb else err.strip()
            good = code == 99 or code in (0, 1) or (code == 2 and lines.isprintable() and lines)
            seen[f"exit {code}"] += 1
            if not good:
                odd.append(f"{verb}: exit {code} {err[-120:]!r}")
            if peak_megabytes() - held > peak:
                peak, grew = peak_megabytes() - held, f"{verb}, file {turn}"
    worst = ", ".join(f"{verb} {s:.2f}" for verb, s in sorted(
        most.items(), key=lambda kept: -kept[1])[:4])
    report.figure("processor time in all, the slowest of the slowest verbs",
                  f"{total:.0f} s; {worst} s")
    report.figure(f"of {count} damaged files, over {len(todo)} verbs", ", ".join(
        f"{n} {k}" for k, n in sorted(seen.items())))
    report.promise("tracebacks, warnings, or more than one line", not odd,
                   f"{len(odd)} {odd[:6]}" if odd else 0)
    report.promise(f"more than {MOST_SECONDS:g} s of processor time, {RECORD_SECONDS:g} s where "
                   "recorded", not slow,
                   f"{len(slow)} {slow[:5]}" if slow else 0)
    report.promise(f"memory one file takes, at most {MOST_MEGABYTES:g} MB",
                   peak <= MOST_MEGABYTES, f"{peak:.0f} ({grew})")


if __name__ == "__main__":
    sys.exit(run(__doc__, measure))

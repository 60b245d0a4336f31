"""Let several programs write to one place at the same moment: nothing may be lost.

    python tests/stress/write_races.py           100 races of each kind, a quarter of an hour
    python tests/stress/write_races.py --quick   1 of each, two programs where one is dear

Every racer is a process of its own that waits at a gate until all are ready. What said done must
be there, whole and its own; what was refused must have said so in one line with exit 2.
"""

import contextlib
import json
import multiprocessing
import os
import re
import sys
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

import pyqtgraph  # noqa: F401 (loaded before the gate, not behind it, as what follows)
import scipy.ndimage
import scipy.optimize
import scipy.special  # noqa: F401

import bench.plots.paper
import bench.report.html
import bench.services.export
import bench.services.import_log
import bench.services.report
import bench.services.sender_check  # noqa: F401
from bench.acquisition.boards.profiles import Profile, keep_profile, known_profiles
from bench.command_line import main as stillpedal
from bench.files.calibration_store import load
from bench.files.exports.files import write_output
from bench.files.recording_file import read_recording
from bench.services.record import check_sweep  # noqa: F401 (loaded before the gate, not behind it)

sys.path.insert(0, str(Path(__file__).parent))

from stress_common import Report, run

SWEEP = str(Path(__file__).parents[2] / "sample_sweeps" / "synthetic_healthy_pair.csv")
QUICK = SWEEP.replace("healthy_pair", "one_track")  # drawn in half the time
POINTS = "reading,meter\n" + "".join(f"{v},{5.02 * v + 0.02:.2f}\n" for v in (0.5, 1.5, 2.5, 3.5))
LOG = "time,a,b\n" + "".join(f"{k / 100:.2f},{k % 7}.5,{k % 5}.25\n" for k in range(300))

Racers = Sequence[tuple[int, str]]


def race(count: int, work: Callable[[int], int], folder: Path) -> Racers:
    """Run `work(number)` in `count` processes at once; return exit codes and error texts."""
    fork = multiprocessing.get_context("fork")
    gate = fork.Barrier(count)

    def racer(number: int) -> None:
        os.chdir(folder)
        with open(f"{folder}.err{number}", "w", encoding="utf-8") as err, \
                open(os.devnull, "w", encoding="utf-8") as out, \
                contextlib.redirect_stderr(err), contextlib.redirect_stdout(out):
            gate.wait()
            try:
                code = work(number)
            except BaseException as error:
                print(f"CRASHED {type(error).__name__}: {error}", file=err)
                code = 99
        os._exit(code)

    racers = [fork.Process(target=racer, args=(k,)) for k in range(count)]
    for one in racers:
        one.start()
    for one in racers:
        one.join()
    found = []
    for number, one in enumerate(racers):
        said = Path(f"{folder}.err{number}")
        found.append((int(one.exitcode or 0), said.read_text(encoding="utf-8")))
        said.unlink()
    return found


def verb(words: Sequence[str]) -> Callable[[int], int]:
    """Return a racer that runs one verb; {n} in a word becomes its number."""
    return lambda number: stillpedal([w.replace("{n}", str(number)) for w in words])


def all_kept(racers: Racers, folder: Path, pattern: str, opens: Callable[[Path], object]) -> str:
    """Return what is wrong unless every racer was done and left a file of its own."""
    files = [f for f in sorted(folder.glob(pattern)) if not f.name.startswith(".")]
    for file in files:
        opens(file)
    if any(code for code, _ in racers) or len(files) != len(racers):
        return f"{[(c, said[-200:]) for c, said in racers if c]}, {len(files)} files"
    return ""


def one_kept(racers: Racers, folder: Path, name: str, wanted: set[bytes]) -> str:
    """Return what is wrong unless one racer was done and the others were refused in a line."""
    codes = sorted(code for code, _ in racers)
    lines = [said for code, said in racers if code == 2]
    if codes != [0] + [2] * (len(racers) - 1):
        return f"exits {codes}"
    if any(said.count("\n") != 1 for said in lines):
        return f"said {lines}"
    return "" if (folder / name).read_bytes() in wanted else "the file is none of theirs"


def kinds(base: Path, dear: int) -> dict[str, Callable[[Path], str]]:
    """Return each kind of race: name -> run it in a new folder and say what went wrong.

    dear: how many programs race where each analyses a sweep or records one.
    """
    points = base / "points.csv"
    points.write_text(POINTS, encoding="utf-8")
    log = base / "log.csv"
    log.write_text(LOG, encoding="utf-8")
    meter = ["meter", "--from", str(points), "--kind", "divider", "--set", "top_ohms=40k", "--set",
             "bottom_ohms=10k", "--set", "highest_volts=24", "--channel", "pack", "--meter-spec",
             "0.5% + 2 digits", "--store", "kept"]
    alone = {}
    for name, words in {"out.csv": ["export", SWEEP], "out.json": ["settings", SWEEP],
                        "out.html": ["report", QUICK]}.items():
        # Not in this process: Qt does not live through a fork once it runs.
        said = race(1, verb([*words, "--out", name]), base)
        assert said[0][0] == 0, said
        alone[name] = (base / name).read_bytes()

    def calibrations(folder: Path) -> str:
        return all_kept(race(8, verb(meter), folder), folder, "kept/*.json", load)

    def one_name(name: str, *words: str) -> Callable[[Path], str]:
        return lambda folder: one_kept(race(dear, verb([*words, "--out", name]), folder), folder,
                                       name, {alone[name]})

    def sweeps(folder: Path) -> str:
        words = ["sweep", "--board", "simulated", "--fast", "--cycles", "1", "--quick", "0",
                 "--seed", "{n}"]
        racers = race(dear, verb(words), folder)
        told = {re.search(r"samples lost: (\S+)", said)[1] for _, said in racers}
        wrong = all_kept(racers, folder, "sweep-*.csv", read_recording)
        return wrong or ("" if len(told) == dear else f"told {told}")

    def imports(folder: Path) -> str:
        local = folder / "log.csv"
        local.write_bytes(log.read_bytes())
        words = ["import", str(local), "--time", "1", "--a", "2", "--b", "3", "--unit", "V"]
        return all_kept(race(4, verb(words), folder), folder, "log-recording*.csv",
                        read_recording)

    def windows(folder: Path) -> str:
        def save(number: int) -> int:
            write_output(Path("sheet.txt"), f"window {number}\n", number=True)
            return 0

        racers = race(4, save, folder)
        texts = {f.read_text(encoding="utf-8") for f in folder.glob("sheet*.txt")}
        return "" if len(texts) == 4 and not any(c for c, _ in racers) else f"{racers} {texts}"

    def boards(folder: Path) -> str:
        os.environ["STILLPEDAL_SETTINGS"] = str(folder)

        def keep(number: int) -> int:
            keep_profile(Profile(f"b{number}", f"port:/dev/{number}", f"/dev/{number}"))
            return 0

        racers = race(6, keep, folder)
        (folder / ".boards.lock").unlink()
        found = {p.name for p in known_profiles()}
        return "" if len(found) == 6 and not any(c for c, _ in racers) else f"{racers} {found}"

    return {
        "6 boards kept by six programs": boards,
        "8 calibrations stored in one folder": calibrations,
        f"{dear} exports to one name": one_name("out.csv", "export", SWEEP),
        f"{dear} settings to one name": one_name("out.json", "settings", SWEEP),
        f"{dear} reports to one name": one_name("out.html", "report", QUICK),
        f"{dear} sweeps without --out": sweeps,
        "4 imports of one log": imports,
        "4 windows that save one sheet": windows,
    }


def measure(quick: bool, report: Report) -> None:
    """Race every kind."""
    rounds = 1 if quick else 100
    with tempfile.TemporaryDirectory() as name:
        base = Path(name)
        for kind, go in kinds(base, 2 if quick else 4).items():
            wrong = []
            for turn in range(rounds):
                folder = base / f"{len(list(base.iterdir()))}-{turn}"
                folder.mkdir()
                said = go(folder)
                if said:
                    wrong.append(said)
                left = [p.name for p in folder.rglob(".*")]
                if left:
                    wrong.append(f"left behind {left}")
            report.promise(f"{rounds} races: {kind}", not wrong, json.dumps(wrong[:3]) if wrong
                           else "0 lost")


if __name__ == "__main__":
    sys.exit(run(__doc__, measure))

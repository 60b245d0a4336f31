"""Kill `stillpedal prove --do` with -9 at random moments: nothing told is lost, the job resumes.

    python tests/stress/kill_prove.py           50 kills, about two minutes
    python tests/stress/kill_prove.py --quick   2 kills

The verb runs in a child of its own on the simulated car, in a copy of the sample job; it is killed
somewhere between its first instruction and its end. Held each time: every earlier entry of the
record is there word for word, no line of it is damaged, what was told as recorded is in the record
with a file of its very sum, a file that the record does not name is told and can be taken in, and
the same proof, done again, is kept.
"""

import os
import random
import shutil
import signal
import sys
import tempfile
import time
from pathlib import Path

from bench.command_line import main as stillpedal
from bench.errors import BadCall, BadFile
from bench.files.exports.export_document import file_sha256
from bench.files.job_record import NAME, read_job
from bench.services.job_files import add_file, unlisted_files
from bench.services.proof import limits_in

SAMPLE = Path(__file__).parents[2] / "sample_sweeps" / "job_with_a_loose_plug"
ASKED = ("--do", "loads", "--loads", "fans", "--board", "simulated", "--fast")


def prove_in_a_child(job: Path, told: Path, seconds: float | None) -> float:
    """Do the proof in a child, killed after so many seconds (None: not); return how long it ran."""
    began = time.monotonic()
    child = os.fork()
    if child == 0:
        with told.open("wb") as file:
            for stream in (1, 2):
                os.dup2(file.fileno(), stream)
            sys.stdout = sys.stderr = open(1, "w", buffering=1, closefd=False)  # noqa: SIM115
            os._exit(stillpedal(["prove", str(job), *ASKED]))
    if seconds is not None:
        time.sleep(seconds)
        os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return time.monotonic() - began


def kill_once(folder: Path, seconds: float) -> str:
    """Kill the proof after so many seconds; return what was left; an assertion tells a loss."""
    job, told = folder / "job", folder / "told.txt"
    shutil.rmtree(job, ignore_errors=True)
    shutil.copytree(SAMPLE, job)
    before = (job / NAME).read_bytes()
    prove_in_a_child(job, told, seconds)
    record = read_job(job)
    after = (job / NAME).read_bytes()
    assert after.startswith(before), "an earlier entry is gone"
    assert after == before or record.damaged == 0, "the new entry is damaged"
    for entry in record.entries:
        assert not entry.file or file_sha256(job / entry.file) == entry.sha256, entry.file
    done = len(record.entries) > before.count(b"\n")
    assert done or b"recorded" not in told.read_bytes(), "told as recorded, but not in the record"
    assert limits_in(job).limits is not None
    if done:
        return "whole"
    left = unlisted_files(record)
    files = {p.name for p in job.glob("*.csv")} - {e.file for e in record.entries}
    files = {f for f in files if not f.startswith(".")}
    assert set(left) == files or all((job / f).stat().st_size == 0 for f in files - set(left))
    if not left:
        return "not begun"
    try:
        add_file(job, job / left[0])
    except (BadCall, BadFile):
        return "without a step yet"
    assert read_job(job).last("loads").file == left[0]
    return "taken in"


def main() -> int:
    """Kill often; return 1 at the first loss."""
    count = 2 if "--quick" in sys.argv else 50
    rng = random.Random(20)
    found: dict[str, int] = {}
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        shutil.copytree(SAMPLE, folder / "job")
        whole_s = prove_in_a_child(folder / "job", folder / "told.txt", None)
        for _ in range(count):
            what = kill_once(folder, rng.uniform(0.0, 1.1 * whole_s))
            found[what] = found.get(what, 0) + 1
        # And resumed: what was killed last is done again.
        prove_in_a_child(folder / "job", folder / "told.txt", None)
        assert read_job(folder / "job").last("loads").file != "loads.csv"
    print(f"{count} kills within {whole_s:.1f} s: "
          + ", ".join(f"{n} {what}" for what, n in sorted(found.items())) + "; nothing lost")
    return 0


if __name__ == "__main__":
    sys.exit(main())

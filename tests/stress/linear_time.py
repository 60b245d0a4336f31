"""Time every reader over sizes: twice the bytes may take twice the time, whatever the bytes are.

    python tests/stress/linear_time.py           headers, cells, headings, words of up to 320 kB
    python tests/stress/linear_time.py --quick   up to 80 kB

Processor time, the least of three; a file four times as large may take six times as long, and
none may take more than a second.
"""

import contextlib
import io
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from analysis.model.errors import AnalysisError
from analysis.senders import Divider
from bench.acquisition.wire import Decoder
from bench.errors import BenchError
from bench.files.calibration_store import load
from bench.files.imports import ImportOptions, import_log
from bench.files.recording_file import read_recording
from bench.services.sender_check import SenderCheckOptions, take_points

sys.path.insert(0, str(Path(__file__).parent))

from stress_common import Report, peak_megabytes, run

PARTS = (".", "[", "]", "(", "((", "a(", "[a", "{", "a={", '"', '\\"', "'", '"""', ",", ";", ",,,",
         " ", "\t", " \t", "a ", "a.", "a=", "a=1 ", "a:1 ", "a: ", "1", "1 ", "1,", "1.", "1:",
         "1-", "9e", "-", "+", "#", "# ", "\\", "\\u", "µ", "\u0661", "\r", "|", "1;2,", "nan,",
         "%", "//", "mV(", "2026-05-02 ", "12:34:56 ", "gap 1 ", "meter ")
HEAD = ('# stillpedal_recording = 1\n# title = "x"\n# [[channel]]\n# column = "a"\n# unit = "V"\n'
        'time_s,a,mark\n')
ROWS = "".join(f"{k / 100:.2f},{k % 7}.5,{k % 5}.25\n" for k in range(60))


def places() -> dict[str, tuple[str, str, Callable[[Path], object]]]:
    """Return where the bytes go: name -> what stands before, what behind, and who reads it."""
    def log(path: Path) -> object:
        return import_log(path, ImportOptions())

    def points(path: Path) -> object:
        return take_points(path, SenderCheckOptions(Divider(1e3, 1e3)))

    def wire(path: Path) -> None:
        decoder = Decoder("text")
        decoder.feed(path.read_bytes())
        decoder.finish()

    mark = HEAD.replace("\n# [[", "\n# purpose = \"meter\"\n# [[")
    return {
        "a line of the header": (
            "# stillpedal_recording = 1\n# ", "\n" + HEAD[27:], read_recording),
        "a title": ('# stillpedal_recording = 1\n# title = "', '"\n' + HEAD[27:], read_recording),
        "a column line": (HEAD[:-15] + "time_s,", ",mark\n0.0,1,\n", read_recording),
        "a cell": (HEAD + "0.0,", ",\n0.1,1,\n", read_recording),
        "a mark": (mark + "0.0,1,", "\n0.1,1,\n", read_recording),
        "a log's heading": ("time,", ",b\n" + ROWS, log),
        "a log's preamble": ("", "\ntime,a,b\n" + ROWS, log),
        "a log's cell": ("time,a,b\n" + ROWS + "0.7,", ",3\n" + ROWS, log),
        "a log's comment": ("# ", "\ntime,a,b\n" + ROWS, log),
        "a table of points": ("reading,meter\n1,2\n", ",2\n3,4\n", points),
        "a heading of points": ("", ",meter\n1,2\n3,4\n", points),
        "a calibration": ('{"kind": "channel calibration", "schema": 1, "x": ', "}", load),
        "a line from a board": ("# columns=a,b\n1,2\n", "\n1,2\n1,2\n", wire),
        "a hello": ("# full_scale=1024 ", "\n1,2\n1,2\n", wire),
    }


def cost(read: Callable[[Path], object], path: Path, times: int) -> float:
    """Return the least processor time of reading a file, in seconds."""
    least = float("inf")
    for _ in range(times):
        begun = time.process_time()
        with contextlib.suppress(BenchError, AnalysisError), \
                contextlib.redirect_stderr(io.StringIO()):
            read(path)
        least = min(least, time.process_time() - begun)
    return least


def cases(size: int) -> Iterator[tuple[str, str, str, Callable[[Path], object]]]:
    """Yield the place, the part, the text of about `size` bytes, and its reader."""
    for place, (before, behind, read) in places().items():
        for part in PARTS:
            yield place, part, before + part * (size // len(part)) + behind, read


def measure(quick: bool, report: Report) -> None:
    """Read each at two sizes, four times apart."""
    large = 80_000 if quick else 320_000
    worst, slow, bent, count = 0.0, [], [], 0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "it.csv"
        for place, part, text, read in cases(large):
            count += 1
            path.write_text(text, encoding="utf-8", newline="")
            long = cost(read, path, 1)
            worst = max(worst, long)
            if long > 1.0:
                slow.append(f"{place} of {part!r}: {long:.2f} s")
            if long < 0.1:
                continue  # within the noise of a shared machine, and no harm to anybody
            small = text.replace(part * (large // len(part)), part * (large // 4 // len(part)))
            long = min(long, cost(read, path, 2))
            path.write_text(small, encoding="utf-8", newline="")
            short = cost(read, path, 3)
            if long > 6 * short + 0.05:
                bent.append(f"{place} of {part!r}: {short:.3f} -> {long:.3f} s")
    report.promise(f"{count} texts of {large // 1000} kB: more than 1 s", not slow, slow or "none")
    report.promise("four times the bytes, more than six times the time", not bent, bent or "none")
    report.figure("slowest, s", f"{worst:.2f}")
    report.figure("memory of this process at most, MB", f"{peak_megabytes():.0f}")


if __name__ == "__main__":
    sys.exit(run(__doc__, measure))

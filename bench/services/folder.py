"""Where the job in a folder stands: the recordings found, the newest, and what comes next."""

from dataclasses import dataclass, replace
from pathlib import Path

from analysis.model.errors import AnalysisError
from bench.errors import BenchError
from bench.files.job_record import NAME as JOB
from bench.files.recording_file import read_recording
from bench.services.findings import findings_of
from bench.wording.claims import state_line
from bench.wording.next_step import after_settings, after_sweep
from bench.wording.refusals import refused
from bench.wording.shell_quote import pasted, reader_of

_FIRST = b"# stillpedal_recording"
MOST_FILES = 2000


@dataclass(frozen=True)
class Standing:
    """Hold where a folder's job stands: said, the next command, and what is mended before it."""

    said: str
    next: str
    first: str = ""


def standing_of(folder: Path) -> Standing:
    """Return where the job in this folder stands; only the newest recording is read."""
    if (folder / JOB).exists():
        return _of_job(folder)
    found = _recordings(folder)
    if not found:
        return Standing("no recording in this folder yet: begin with the board",
                        "stillpedal boards")
    newest = found[-1]
    many = "1 recording" if len(found) == 1 else f"{len(found)} recordings"
    head = f"{many} here, newest {newest.name}"
    try:
        recording = read_recording(newest)
        if recording.purpose != "sweep":
            sweep = _newest_sweep(found) if recording.purpose == "key-on" else ""
            # Without a sweep the reader has no start of travel to judge a log by.
            return Standing(f"{head}: a {recording.purpose} log",
                            reader_of(recording.purpose, newest.name)
                            + (f" --sweep {pasted(sweep)}" if sweep else ""))
        findings = findings_of(recording, newest)
    except (BenchError, AnalysisError, OSError) as error:
        return Standing(f"{head}: {refused(error)}", f"stillpedal findings {pasted(newest.name)}")
    line = state_line(findings.state, findings.gravest, findings.claims)
    here = Path(newest.name)
    follow = after_settings if findings.state == "sound" else after_sweep
    return Standing(f"{head}: {line}", follow(findings, here))


def _newest_sweep(found: list[Path]) -> str:
    """Return the name of the newest sweep among these recordings, "" for none."""
    for path in reversed(found):
        try:
            if read_recording(path).purpose == "sweep":
                return path.name
        except (BenchError, AnalysisError, OSError):
            continue
    return ""


def _of_job(folder: Path) -> Standing:
    """Return where a job with proofs stands, and the next of them."""
    from bench.services.proof import job_headline, next_command, proofs_of, repair_of

    proofs = proofs_of(folder)
    here = replace(proofs, folder=Path()) if folder.resolve() == Path.cwd() else proofs
    return Standing(job_headline(proofs), next_command(here), repair_of(proofs))


def _recordings(folder: Path) -> list[Path]:
    """Return the recordings of a folder, oldest first."""
    result = []
    for path in sorted(folder.glob("*.csv"))[:MOST_FILES]:
        try:
            with path.open("rb") as file:
                if file.read(len(_FIRST)) == _FIRST:
                    result.append((path.stat().st_mtime, path))
        except OSError:
            continue
    return [path for _, path in sorted(result)]

"""The files of a job's folder: taken into its record, copied into it, found beside it."""

import shutil
from dataclasses import dataclass
from pathlib import Path

from analysis.model.recording import Recording
from analysis.proof.outcome import KINDS
from analysis.proof.steps import steps_of
from bench.acquisition.proof_prompts import TASKS
from bench.errors import BadCall, BadFile
from bench.files.exports.export_document import file_sha256
from bench.files.job_record import NAME, Entry, JobRecord, add_entry, read_job
from bench.files.new_file import put_new
from bench.files.recording_file import read_recording

# The first bytes of every recording of this program.
_HEAD = b"# stillpedal_recording"


def add_file(folder: Path, path: Path, power: str | None = None) -> tuple[str, ...]:
    """Take a recording of the folder into its record; return the steps that it is of.

    power: the column that shows power. Raise BadFile for what is no recording, BadCall for one
    that lies elsewhere or shows none of the steps.
    """
    if path.resolve().parent != folder.resolve():
        raise BadCall(f"{path} does not lie in the job's folder {folder}; copy it there first")
    recording = read_recording(path)
    steps = steps_shown(recording)
    if not steps:
        raise BadCall(f"{path} is a {recording.purpose} without a step of any proof; record one "
                      "with 'stillpedal prove --do'")
    if power is not None:
        recording.channel(power)
    for step in steps:
        add_entry(folder, step, path, {"power": power} if power else {}, file_sha256(path))
    return steps


def unusable(job: JobRecord, entry: Entry) -> str | None:
    """Return why an entry's file counts no more, or None."""
    path = job.folder / entry.file
    if not path.is_file():
        return "file gone"
    return "file changed" if entry.sha256 and file_sha256(path) != entry.sha256 else None


def steps_shown(recording: Recording) -> tuple[str, ...]:
    """Return the steps of a job that a recording is of, () for none."""
    if recording.purpose in ("sweep", "key-on"):
        return (recording.purpose,)
    kinds = {s.kind for s in steps_of(recording)}
    return tuple(t for t in TASKS if kinds & set(KINDS[t]))


def bring_in(folder: Path, path: Path) -> Path:
    """Take a recording into a job, copied into its folder where it lies elsewhere; return it there.

    Raise BadFile for what cannot be read or copied, BadCall as `add_file` does; a copy that is of
    no use is not kept.
    """
    if path.resolve().parent == folder.resolve():
        add_file(folder, path)
        return path
    read_recording(path)
    try:
        copied = put_new(folder / path.name, lambda part: shutil.copyfile(path, part), number=True)
    except OSError as error:
        raise BadFile(f"cannot copy {path} into {folder} ({error.strerror or error}); free the "
                      "disk or choose another folder") from None
    try:
        add_file(folder, copied)
    except BadCall:
        copied.unlink(missing_ok=True)
        raise
    return copied


def make_folder(folder: Path) -> None:
    """Make a folder for a job; raise BadFile where that cannot be."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise BadFile(f"cannot make the folder {folder} ({error.strerror or error}); choose "
                      "another one") from None


def unlisted_files(job: JobRecord) -> tuple[str, ...]:
    """Return the recordings that lie in a job's folder and of which its record says nothing.

    A proof that was ended by a power cut is such a file: what was recorded is there and can be
    taken in.
    """
    known = {e.file for e in job.entries}
    result = []
    for path in sorted(job.folder.glob("*.csv")):
        if path.name in known or path.name.startswith("."):
            continue
        try:
            with path.open("rb") as file:
                if file.read(len(_HEAD) + 3).removeprefix(b"\xef\xbb\xbf").startswith(_HEAD):
                    result.append(path.name)
        except OSError:
            continue
    return tuple(result)


@dataclass(frozen=True)
class SignedPage:
    """Hold one page that was signed: its date, its file with that one's state now, who, until when.

    state: "whole", "changed" or "gone". proved, steps: how many steps were proved then, of how
    many.
    """

    when: str
    path: Path
    state: str
    by: str
    next_check: str
    proved: int
    steps: int


def signed_pages(folder: Path) -> tuple[SignedPage, ...]:
    """Return the pages of every job in a folder and below it, oldest first.

    A record that cannot be read is passed over.
    """
    result = []
    for record in sorted(folder.rglob(NAME)):
        try:
            job = read_job(record.parent)
        except BadFile:
            continue
        for entry in job.entries:
            if entry.what != "signed":
                continue
            path, states = job.folder / entry.file, entry.values.get("states")
            # The signature itself was not there yet when its page was written.
            of = ([s for k, s in states.items() if k != "signed"] if isinstance(states, dict)
                  else [])
            result.append(SignedPage(
                entry.when[:10], path, "gone" if not path.is_file() else
                "whole" if file_sha256(path) == entry.sha256 else "changed",
                str(entry.values.get("by", "")), str(entry.values.get("next_check", "")),
                of.count("proved"), len(of)))
    return tuple(sorted(result, key=lambda page: page.when))


def is_job(folder: Path) -> bool:
    """Return whether a folder holds the record of a job."""
    return (folder / NAME).is_file()


def job_stamp(folder: Path) -> tuple[tuple[str, int, int], ...]:
    """Return what changes with any file of a folder: name, time and size of each."""
    try:
        return tuple(sorted((p.name, p.stat().st_mtime_ns, p.stat().st_size)
                            for p in folder.iterdir() if p.is_file()))
    except OSError:
        return ()


__all__ = ["SignedPage", "add_file", "bring_in", "is_job", "job_stamp", "make_folder", "read_job",
           "signed_pages", "steps_shown", "unlisted_files", "unusable"]

"""What comes next in a job: what is to be mended first, and the command for the step after it.

The command names real files: a recording that lies in the folder and would serve the step is taken
in before anything is recorded again.
"""

import datetime
from dataclasses import dataclass
from pathlib import Path

from analysis.model.errors import AnalysisError
from analysis.model.recording import Recording
from bench.errors import BenchError
from bench.files.job_standing import Proof, Proofs
from bench.files.recording_file import read_recording
from bench.services.findings import findings_of
from bench.services.job_files import steps_shown
from bench.wording.proof import (
    drive_repair_words,
    entered_repair_words,
    loads_repair_words,
    shake_repair_words,
    wires_repair_words,
)
from bench.wording.shell_quote import pasted, reader_of

# So many recordings beside the record are looked into, the newest first.
_MOST_LOOKED_AT = 12


def next_command(proofs: Proofs, board: str = "") -> str:
    """Return the command for the first step that is not proved. board: its name, "" if unknown."""
    where = "" if str(proofs.folder) == "." else f" {pasted(proofs.folder)}"
    step = proofs.next_step
    if step is None:
        return f"stillpedal prove{where} --more"
    lies = lies_there(proofs, step.step) if step.state in ("to do", "open") else None
    if lies is not None:
        return f"stillpedal prove{where} --add {pasted(lies)}"
    if step.step in ("sweep", "key-on"):
        if step.entry is not None and step.because == ("file changed",):
            # Read as it is now, or put back: the record goes by the content it had.
            return f"stillpedal prove{where} --add {pasted(step.entry.file)}"
        if step.entry is not None and step.because != ("file gone",):
            sweep = proofs.of("sweep").entry if step.step == "key-on" else None
            # A log is judged here by the job's sweep; without it the reader could judge nothing.
            judged = "" if sweep is None else f" --sweep {pasted(proofs.folder / sweep.file)}"
            return reader_of(step.step, proofs.folder / step.entry.file) + judged
        # Nothing that could be taken in lies there, so it is recorded first.
        return {"sweep": "stillpedal sweep", "key-on": "stillpedal watch"}[step.step] + (
            f" --board {pasted(board) if board else 'PORT'} --out "
            f"{pasted(proofs.folder / f'{step.step}.csv')}")
    if step.step == "entered":
        names = () if proofs.limits is None else tuple(proofs.limits.tracks)
        return f"stillpedal prove{where}" + "".join(
            f" --shown {pasted(n)}.{value}=VOLTS" for n in names
            for value in ("start_of_travel", "full_travel"))
    if step.step == "signed":
        return f"stillpedal prove{where} --page {pasted(proofs.folder / 'proof.pdf')} --by NAME"
    return f"stillpedal prove{where} --do {step.step} --board {pasted(board) if board else 'PORT'}"


@dataclass(frozen=True)
class _Lying:
    """Hold a recording beside the record: its name, when it was made, and itself."""

    name: str
    when: str
    recording: Recording


def lies_there(proofs: Proofs, step: str) -> str | None:
    """Return the recording beside the record that the step is to be taken from, None for none.

    The newest that serves it; of several sweeps the newest sound one before all others.
    """
    entry = proofs.of(step).entry
    # What lay there before the step was last done is not what follows it.
    found = sorted((x for x in _lying(proofs, step)
                    if entry is None or _moment(x.when) > _moment(entry.when)),
                   key=lambda x: (_moment(x.when), x.name), reverse=True)
    if not found:
        return None
    if step == "sweep" and len(found) > 1:
        return next((x.name for x in found if _sound(proofs.folder / x.name, x.recording)),
                    found[0].name)
    return found[0].name


def _lying(proofs: Proofs, step: str) -> list[_Lying]:
    """Return the recordings beside the record that serve a step; unreadable ones are left out."""
    def made(name: str) -> float:
        try:
            return (proofs.folder / name).stat().st_mtime
        except OSError:
            return 0.0

    result = []
    for name in sorted(proofs.unlisted, key=made, reverse=True)[:_MOST_LOOKED_AT]:
        try:
            recording = read_recording(proofs.folder / name)
            if step in steps_shown(recording):
                result.append(_Lying(name, recording.started, recording))
        except (BenchError, AnalysisError, OSError):
            continue
    return result


def _moment(when: str) -> float:
    """Return a time of ISO 8601 as seconds, 0 for none."""
    try:
        return datetime.datetime.fromisoformat(when).timestamp()
    except (ValueError, OverflowError, OSError):
        return 0.0


def _sound(path: Path, recording: Recording) -> bool:
    try:
        return findings_of(recording, path).state == "sound"
    except (BenchError, AnalysisError):
        return False


def repair_of(proofs: Proofs) -> str:
    """Return what is to be mended before the next step is done again, "" for nothing.

    A proof that failed is not simply done again: first the fault that it found is repaired.
    """
    step = proofs.next_step
    if step is None or step.state != "failed":
        return ""
    if step.step == "entered":
        wrong = [(v.name, v.issued_volts) for v in proofs.values if v.state == "unsafe side"]
        return entered_repair_words(wrong)
    return _repair_of_log(step)


def _repair_of_log(step: Proof) -> str:
    outcome = step.outcome
    if outcome is None:
        return ""
    if outcome.shake is not None:
        return shake_repair_words([(x.lead, x.places) for x in outcome.shake.leads
                                   if x.state == "loose"])
    if outcome.wires is not None:
        return wires_repair_words([(s.step.kind, s.step.leads) for s in outcome.wires.steps
                                   if s.step.mark in outcome.because])
    if outcome.loads:
        return loads_repair_words([x.name for x in outcome.loads if x.state == "passes"])
    return drive_repair_words() if outcome.drive is not None else ""

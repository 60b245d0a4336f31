"""What a job's files gave is kept while they are the same bytes, and never longer.

No outside source: the promise is the project's own.
"""

import shutil

from places import ROOT

from analysis.parameters import Parameters
from bench.files.job_record import read_job
from bench.services import job_sweep, proof
from bench.services.judged_once import JudgedOnce
from bench.services.proof import note_entered, proofs_of


def test_the_same_bytes_and_givens_are_judged_once_and_others_anew():
    """Another file, other givens: worked out; the oldest of too many: forgotten."""
    kept, done = JudgedOnce(2), []

    def ask(key, by):
        return kept.get((key,), by, lambda: done.append((key, by)) or len(done))

    assert [ask("a", 1), ask("a", 1), ask("a", 2), ask("b", 2), ask("a", 2)] == [1, 1, 2, 3, 2]
    assert [ask("c", 1), ask("a", 2), ask("b", 2)] == [4, 2, 5]


def test_a_job_read_again_says_the_same_and_a_changed_file_is_told(tmp_path, monkeypatch):
    """One more line in the record judges no file again; a changed file counts no more at once."""
    job = tmp_path / "job"
    shutil.copytree(ROOT / "sample_sweeps" / "job_with_a_loose_plug", job)
    first = proofs_of(job)
    read = []
    for module in (proof, job_sweep):
        monkeypatch.setattr(module, "read_recording", lambda path: read.append(path) or 1 / 0)
    note_entered(job, {"a.start_of_travel": 1.0}, {"a.start_of_travel": "1.0"}, 0.001)
    again = proofs_of(job)
    assert read == []
    assert [(p.step, p.state, p.because) for p in again.steps if p.step != "entered"] == [
        (p.step, p.state, p.because) for p in first.steps if p.step != "entered"]
    assert again.of("entered").entry == read_job(job).last("entered")
    monkeypatch.undo()
    shaken = job / read_job(job).last("shake").file
    shaken.write_bytes(shaken.read_bytes() + b"\n")
    assert proofs_of(job).of("shake").because == ("file changed",)
    # Other parameters are other values: the sweep is judged anew.
    wide = proofs_of(job, Parameters(margin_volts=0.1)).findings
    assert wide.dead_bands["a"].start_of_travel_volts > (
        first.findings.dead_bands["a"].start_of_travel_volts)

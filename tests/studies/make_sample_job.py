"""Make sample_sweeps/job_with_a_loose_plug again: a job's folder, its proofs and their truth.

    python tests/studies/make_sample_job.py
"""

import shutil
from dataclasses import replace

from make_sample_sweeps import PLACE

from analysis.proof.limits import Limits
from analysis.proof.outcome import limits_of
from analysis.simulation.proof_car import ProofCar, proof_log
from bench.acquisition.proof_prompts import TASKS, prompts_of
from bench.files.exports.export_document import file_sha256
from bench.files.job_record import add_entry
from bench.files.recording_file import write_recording
from bench.services.findings import open_findings

FOLDER = PLACE / "job_with_a_loose_plug"
LOOSE, STOPS_S, SAG_VOLTS, VOLTS_PER_KELVIN = "b", 0.045, 0.08, 0.00012
_SHORTS = ((("a", "supply"), 2200.0), (("b", "supply"), 2200.0))


def car_of(limits: Limits) -> ProofCar:
    """Return the car that is in the sample."""
    a, b = limits.tracks.values()
    return ProofCar(STOPS_S, (a.rest_volts, b.rest_volts), (a.full_volts, b.full_volts), LOOSE,
                    SAG_VOLTS, VOLTS_PER_KELVIN, 200.0, 7)


def main() -> None:
    """Write the folder."""
    shutil.rmtree(FOLDER, ignore_errors=True)
    FOLDER.mkdir()
    sweep = FOLDER / "sweep.csv"
    shutil.copy(PLACE / "synthetic_healthy_pair.csv", sweep)
    add_entry(FOLDER, "sweep", sweep, {}, file_sha256(sweep), "2026-11-25T09:10:00+00:00")
    limits = limits_of(open_findings(sweep))
    for number, task in enumerate(TASKS):
        asked = prompts_of(task, ("a", "b"), ("contactor", "fans", "wipers"), _SHORTS)
        log = proof_log(car_of(limits), task, tuple((p.mark, p.seconds) for p in asked))
        path = FOLDER / f"{task}.csv"
        # Dates of its own, so that the file is the same each time.
        when = f"2026-11-{26 + number // 3:02d}T1{number % 3}:00:00+00:00"
        write_recording(path, replace(log, started=when))
        add_entry(FOLDER, task, path, {}, file_sha256(path), when)
    rows = (
        ("sweep", "the sweep `synthetic_healthy_pair.csv`"),
        ("wires", "every wire opened, both signals joined to the supply; power is off as long as a "
         "fault is there"),
        ("shake", f"the signal lead of track {LOOSE} lets go for 12 ms five times while it is "
         "shaken at the plug; all other joints hold"),
        ("warm", f"22 K up and down; both rests move by {1e6 * VOLTS_PER_KELVIN:.0f} µV/K"),
        ("loads", f"contactor, fans and wipers, each pulls the supply down by "
         f"{1e3 * SAG_VOLTS:.0f} mV, with a ripple of 12 mV at 92 Hz; the rest stays where it is"),
        ("drive", "five key-ons cold and five warm, each after a press, the rest within 1 mV "
         f"(1 sigma) from one to the next; five presses; power follows the pedal "
         f"{1e3 * STOPS_S:.0f} ms late"))
    table = "\n".join(f"| `{name}.csv` | {words} |" for name, words in rows)
    (PLACE / "JOB.md").write_text(f"""# A job's folder, and what was put into it

`job_with_a_loose_plug/` is what `stillpedal prove` keeps: the sweep of a healthy pair, five proofs
done on a simulated car, and the record that says so. Made by
`python tests/studies/make_sample_job.py`, which also writes this page; nothing of it came from a
real car.

| file | what was put in |
|---|---|
{table}

`stillpedal prove sample_sweeps/job_with_a_loose_plug` leads with the loose lead. Not done: a key-on
log, the values in the controller, the signature.
""", encoding="utf-8")


if __name__ == "__main__":
    main()

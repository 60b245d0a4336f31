"""The job on the desk: its folder, where it stands, and the work on its files beside the window."""

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from bench.services.job_files import add_file, bring_in, job_stamp, make_folder
from bench.services.proof import Proofs, note_entered, proofs_of
from bench.services.saving import free_path
from bench.window.report_process import sign_job_beside
from bench.window.session import Session
from bench.window.worker import Worker
from bench.wording.pages.proof import READING, drift_taken_words

CLOSE_S = 5.0


class JobDesk(QObject):
    """Hold one job and read it anew after each thing that is done to it.

    proofs: where it stands, None until it was read. judged(step): it was read; step: what was just
    done, "" for nothing. changed: work began or ended.
    """

    judged = Signal(str)
    changed = Signal()

    def __init__(self, session: Session, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.session = session
        self.folder: Path | None = None
        self.proofs: Proofs | None = None
        self._stamp: object = None
        session.findings_changed.connect(self._hand_warmth)
        self._judged_by: object = None
        self.work = Worker(self)
        self.work.failed.connect(session.trouble)
        self.work.started.connect(lambda _text: self.changed.emit())
        self.work.ended.connect(self.changed)

    @property
    def busy(self) -> bool:
        """Return whether its files are being read or written."""
        return self.work.busy

    def open(self, folder: Path) -> None:
        """Put another job on the desk and read it."""
        self.folder, self.proofs = folder, None
        self.session.preferences.setValue("proof/folder", str(folder))
        self.read()

    def make(self, folder: Path) -> None:
        """Make a new folder for a job and put it on the desk."""
        self.work.run(READING, lambda _progress: make_folder(folder),
                      lambda _made: self.open(folder))

    def read(self, done: str = "") -> None:
        """Read and judge the job; done: the step that was just done."""
        folder, parameters = self.folder, self.session.parameters
        if folder is None:
            return
        stamp = job_stamp(folder)

        def show(result: Proofs) -> None:
            if folder == self.folder:
                self.proofs, self._stamp, self._judged_by = result, stamp, parameters
                self._hand_warmth()
                self.judged.emit(done)

        self.work.run(READING, lambda _progress: proofs_of(folder, parameters), show)

    def _hand_warmth(self) -> None:
        """Let the sweep on show go by what this job measured, where it is this job's sweep."""
        proofs, path, shown = self.proofs, self.session.path, self.session.findings
        entry = None if proofs is None else proofs.of("sweep").entry
        if (proofs is None or entry is None or path is None or shown is None
                or proofs.findings is None
                or path.resolve() != (proofs.folder / entry.file).resolve()):
            return
        drift = proofs.findings.warmth
        if shown.warmth != drift:
            self.session.go_by_warmth(drift)
            if drift is not None:
                self.session.notify(drift_taken_words(drift.ppm_per_kelvin, drift.log))

    @property
    def stale(self) -> bool:
        """Return whether a file or a parameter is another than when it was read."""
        return self.folder is not None and not self.busy and (
            job_stamp(self.folder) != self._stamp or self._judged_by != self.session.parameters)

    def bring(self, path: Path | None) -> None:
        """Take a recording into the job, copied into its folder."""
        folder = self.folder
        if path is not None and folder is not None:
            self._do(lambda: bring_in(folder, path))

    def take_unlisted(self, name: str) -> None:
        """Take a recording that lies in the folder into its record."""
        folder = self.folder
        if folder is not None:
            self._do(lambda: add_file(folder, folder / name))

    def keep_proof(self, path: Path, task: str, power: str | None) -> None:
        """Take a proof into the record that was just recorded; power: the input that shows it."""
        self._do(lambda: add_file(path.parent, path, power), task)

    def keep_values(self, volts: dict[str, float], typed: dict[str, str],
                    step_volts: float) -> None:
        """Keep what the controller shows."""
        folder = self.folder
        if folder is not None:
            self._do(lambda: note_entered(folder, volts, typed, step_volts), "entered")

    def sign(self, by: str, vehicle: str, kind: str) -> None:
        """Write the page beside the window and note that it was signed; kind: "pdf", "html"."""
        folder, parameters = self.folder, self.session.parameters
        if folder is None:
            return
        out = free_path(folder / f"proof.{kind}")

        def signed(where: Path) -> None:
            self.session.notify(f"Saved: {where}", "good")
            self.read("signed")

        self.work.run(READING, lambda progress: sign_job_beside(
            folder, out, by, vehicle, parameters, progress), signed)

    def shut(self) -> None:
        """Wait for what is being written."""
        self.work.wait(CLOSE_S)

    def _do(self, job: Callable[[], object], step: str = "") -> None:
        self.work.run(READING, lambda _progress: job(), lambda _done: self.read(step))

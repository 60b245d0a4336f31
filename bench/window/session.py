"""What the pages share: the opened recording, its findings, the parameters, the recent files.

Rules: pages read the session and listen to its signals, never to each other. Nothing is
computed here: findings come from `bench.services` and `analysis`.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QObject, QSettings, QTimer, Signal
from PySide6.QtGui import QUndoStack

from analysis.key_on import KeyOnFindings, analyse_key_on
from analysis.key_on.sentences import said_with_values
from analysis.model.errors import AnalysisError, OutOfLimits
from analysis.model.recording import Recording
from analysis.parameters import TABLE, Parameters
from analysis.pedal.findings import Findings, analyse, decide
from bench.acquisition.guided_plan import refusals
from bench.errors import BadFile
from bench.files.recording_file import read_recording
from bench.services.findings import READ_SHARE, open_findings, refuse_no_sweep
from bench.window.board_controller import BenchSide
from bench.window.parameter_change import ParameterChange
from bench.window.theme import LIGHT, Skin
from bench.window.worker import Work
from bench.wording.parameters import changes_text, refusal

MOST_RECENT = 12
# After the last change of a parameter, before a log in use is judged again.
JUDGE_MS = 400
# What the reader says of a file that is something else altogether.
NO_RECORDING = "so it is not a recording"
READING = "Reading"


class Session(QObject):
    """Hold the state of one sitting at the bench.

    findings, path: the opened recording; before, before_path: an earlier one laid under it.
    key_on, key_on_path: the opened key-on log.
    """

    findings_changed = Signal()
    before_changed = Signal()
    key_on_changed = Signal()
    parameters_changed = Signal()
    recent_changed = Signal()
    cautions_changed = Signal()
    told = Signal(str, str)
    asked = Signal(str, object)
    answered = Signal()
    foreign = Signal(object)

    def __init__(self, settings: QSettings, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.settings = settings
        self.work = Work(self)
        self.bench = BenchSide(settings, self)
        self.bench.trouble.connect(self.trouble)
        self.findings: Findings | None = None
        self.path: Path | None = None
        self.key_on: KeyOnFindings | None = None
        self.key_on_path: Path | None = None
        self._car: tuple[Recording, Path | None, str | None] | None = None
        self._judge_soon = QTimer(self)
        self._judge_soon.setSingleShot(True)
        self._judge_soon.setInterval(JUDGE_MS)
        self._judge_soon.timeout.connect(self._keep_up)
        self.before: Findings | None = None
        self.before_path: Path | None = None
        self.skin: Skin = LIGHT
        self.cautions_read = self.car_cautions_read = False
        self.undo_parameters = QUndoStack(self)
        self.parameters = self._remembered_parameters()
        self.work.failed.connect(self._failed)

    def tell(self, text: str, kind: str = "know") -> None:
        """Put one sentence into the notice bar; kind: good, know, mend, grave, unread.

        unread: grave until another recording has been opened.
        """
        self.told.emit(text, kind)

    def trouble(self, text: str) -> None:
        """Tell of something that went wrong."""
        self.told.emit(text, "grave")

    def _failed(self, text: str) -> None:
        # What could not be read matters until something else has been.
        self.tell(text, "unread" if self.work.what.startswith(READING) else "grave")

    def accept_cautions(self) -> None:
        """Take the word that every caution is met, once per session."""
        self.cautions_read = True
        self.cautions_changed.emit()

    def accept_car_cautions(self) -> None:
        """Take the word that the cautions of the car are met, once per session."""
        self.car_cautions_read = True
        self.cautions_changed.emit()

    def open(self, path: Path, then: Callable[[], None] | None = None) -> None:
        """Open a recording beside the window and analyse it; then go on with `then`.

        A key-on log goes to its own page, judged by the settings of the sweep that is open.
        """
        parameters, swept = self.parameters, self.findings

        def read(progress: Callable[[float, str], None]) -> Findings | KeyOnFindings | str:
            try:
                recording = read_recording(path)
            except BadFile as error:
                if NO_RECORDING in str(error):
                    return str(error)
                raise
            progress(READ_SHARE, f"Analysing {path.name}")
            if recording.purpose == "key-on":
                return analyse_key_on(recording, parameters, (), swept)
            refuse_no_sweep(recording, path)
            return analyse(recording, parameters)

        def show(result: object) -> None:
            if isinstance(result, str):
                self.asked.emit(
                    f"{path.name} is no recording of this program. Bring it in as a log of other "
                    "origin?", (("Bring it in", lambda: self.foreign.emit(path)),
                                ("Leave it", lambda: None)))
                return
            if isinstance(result, KeyOnFindings):
                self.take_key_on(result, path)
            else:
                self.take(result, path)
            if then is not None:
                then()

        self.work.run(f"{READING} {path.name}", read, show)

    def take_key_on(self, result: KeyOnFindings, path: Path | None) -> None:
        """Make these findings of a key-on log the ones on show."""
        self.key_on, self.key_on_path = result, path
        if path is not None:
            self.remember_file(path)
        self.key_on_changed.emit()

    @property
    def key_on_fits(self) -> bool:
        """Say whether the log was judged by the sweep on show, with the parameters as they are."""
        log, findings = self.key_on, self.findings
        return (
            log is not None
            and findings is not None
            and log.swept is findings.recording
            and all(getattr(log.parameters, n) == getattr(self.parameters, n)
                    for n, row in TABLE.items() if row.judges_log)
        )

    @property
    def car_log(self) -> tuple[Path | None, str | None]:
        """Return the log whose allowance the findings on show go by, and its contactor."""
        if self.findings is None or not self.findings.car or self._car is None:
            return None, None
        return self._car[1], self._car[2]

    def judge_key_on(self, contactor: str | None, then: Callable[[], None] | None = None) -> None:
        """Judge the opened log by the sweep and the parameters on show; contactor: stated of it."""
        log, path, parameters, swept = self.key_on, self.key_on_path, self.parameters, self.findings
        if log is None:
            return

        def show(result: object) -> None:
            assert isinstance(result, KeyOnFindings)
            self.take_key_on(result, path)
            if then is not None:
                then()

        self.work.run("Judging the log", lambda progress: analyse_key_on(
            log.recording, parameters, (), swept, contactor), show)

    def open_sweep(self, path: Path) -> None:
        """Open a sweep that was just recorded; say why it cannot be used, if so."""
        parameters = self.parameters

        def read(progress: Callable[[float, str], None]) -> tuple[Findings | None,
                                                                  tuple[str, ...]]:
            recording = read_recording(path)
            progress(READ_SHARE, f"Analysing {path.name}")
            refused = refusals(recording)
            if refused:
                return None, refused
            return analyse(recording, parameters), ()

        def show(result: object) -> None:
            assert isinstance(result, tuple)
            found, refused = result
            if found is not None:
                self.take(found, path)
            else:
                self.remember_file(path)
                self.tell(f"This sweep cannot be used: {'; '.join(refused)} (kept: {path}).",
                          "mend")

        self.work.run(f"{READING} {path.name}", read, show)

    def stop_asking(self) -> None:
        """Take a question back that no longer matters."""
        self.answered.emit()

    def take(self, result: object, path: Path | None) -> None:
        """Make these findings the ones on show."""
        assert isinstance(result, Findings)
        self.findings, self.path = result, path
        self.parameters = result.parameters
        if path is not None:
            self.remember_file(path)
        self.findings_changed.emit()
        name = path.name if path else "The recording"
        said = []
        if not result.recording.complete:
            said.append(f"{name} had been cut short; every whole row of it is used "
                        f"({result.recording.rows} rows).")
        # Parameters outlive a recording; none is to go into another pedal's values unseen.
        if others := changes_text(result.parameters):
            said.append(f"{name} is read with parameters of yours (page Decide): {others}.")
        if said:
            self.tell(" ".join(said), "know" if result.recording.complete else "mend")

    def open_before(self, path: Path) -> None:
        """Open an earlier recording of the same pedal and lay it under the opened one."""
        parameters = self.parameters
        self.work.run(f"{READING} {path.name}",
                      lambda progress: open_findings(path, parameters, progress),
                      lambda result: self.take_before(result, path))

    def take_before(self, result: object, path: Path | None) -> None:
        """Lay these findings under the ones on show; None takes them away."""
        assert result is None or isinstance(result, Findings)
        self.before, self.before_path = result, path
        if path is not None:
            self.remember_file(path)
        self.before_changed.emit()

    def set_parameters(self, **changes: object) -> None:
        """Change parameters and decide anew; a value that makes no sense is told, not taken.

        What was changed can be taken back (`undo_parameters`).
        """
        before = {name: getattr(self.parameters, name) for name in changes}
        # What the user types is assumed, whatever a log said before.
        if self._put(changes, {} if "car_allowance_volts" in changes else None) and (
                before != changes):
            self.undo_parameters.push(ParameterChange(self._put, before, changes))

    def _put(self, changes: Mapping[str, object], car: dict | None = None) -> bool:
        """Decide with these changes; return whether they could be. car: {} for the assumed one."""
        try:
            parameters = replace(self.parameters, **changes)
            decided = decide(self.findings, parameters, car) if self.findings is not None else None
        except AnalysisError as error:
            self.trouble(refusal(error, "window") if isinstance(error, OutOfLimits)
                         else str(error))
            self.parameters_changed.emit()
            return False
        self.parameters, self.findings = parameters, decided
        for name, row in TABLE.items():
            if row.remembered:
                self.settings.setValue(f"parameters/{name}", getattr(parameters, name))
        self.parameters_changed.emit()
        if decided is not None and decided.car and not self.key_on_fits:
            self._judge_soon.start()
        return True

    def take_measured(self) -> None:
        """Let the sweep on show, and no other, go by what the opened log says of its car.

        It stays with these findings: another recording begins with the assumed allowance, and
        nothing of it is remembered.
        """
        if self.key_on is None or not self.key_on.car or not self.key_on_fits:
            self.trouble("This log was not judged by the sweep on show; judge it by that first.")
            return
        log = self.key_on_path.name if self.key_on_path is not None else "just taken"
        self.findings = decide(self.findings, self.parameters, self.key_on.car,
                               said_with_values(self.key_on, log))
        self._car = self.key_on.recording, self.key_on_path, self.key_on.contactor
        self.parameters_changed.emit()

    def _keep_up(self) -> None:
        """Judge the log again whose allowance is in use, for its bound rests on the parameters."""
        if self.findings is None or not self.findings.car or self.key_on is None:
            return
        used = self._car is not None and self._car[0] is self.key_on.recording
        if not used or self.key_on.swept is not self.findings.recording:
            # Another log was opened since; what its bound would be now is not known.
            self.set_parameters(car_allowance_volts=self.parameters.car_allowance_volts)
            self.tell("The allowance of the log was for other parameters: the assumed one is back.",
                      "mend")
        elif self.work.busy:
            self._judge_soon.start()
        else:
            self.judge_key_on(self.key_on.contactor, self.take_measured)

    def remember_file(self, path: Path) -> None:
        """Put a file at the head of the recent ones."""
        name = str(path.resolve())
        files = [name, *(f for f in self.recent() if f != name)]
        self.settings.setValue("recent", files[:MOST_RECENT])
        self.recent_changed.emit()

    def recent(self) -> list[str]:
        """Return the recent files, newest first."""
        stored = self.settings.value("recent", [])
        return [stored] if isinstance(stored, str) else list(stored or [])

    def forget_recent(self) -> None:
        """Forget the recent files; the files themselves stay."""
        self.settings.setValue("recent", [])
        self.recent_changed.emit()

    def _remembered_parameters(self) -> Parameters:
        values: dict[str, object] = {}
        for name, row in TABLE.items():
            stored = self.settings.value(f"parameters/{name}") if row.remembered else None
            if stored is None:
                continue
            try:
                value = row.from_text(str(stored))
                row.check(value)
            except (ValueError, OverflowError):
                # A setting file from another version or hand: the usual value will do.
                continue
            values[name] = value
        return Parameters(**values)

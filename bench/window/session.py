"""What the pages share: the opened recording, its findings, the parameters, the recent files.

Rules: pages read the session and listen to its signals, never to each other. Nothing is
computed here: findings come from `bench.services`, which the command line asks too.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from PySide6.QtCore import QObject, QSettings, QTimer, Signal
from PySide6.QtGui import QUndoStack

from analysis.model.errors import AnalysisError
from bench.errors import BenchError, NoRecording
from bench.services.feed import state_feed
from bench.services.findings import (
    Findings,
    assuming,
    decide_again,
    open_any,
    open_findings,
    open_recorded,
)
from bench.services.key_on import KeyOnFindings, bound_stands, issue, judge, judged_by
from bench.services.warmth import MeasuredDrift, going_by
from bench.window.board_controller import BoardController
from bench.window.board_state import BoardState
from bench.window.parameter_change import ParameterChange
from bench.window.recent_files import RecentFiles
from bench.window.remembered_parameters import remember, remembered
from bench.window.saved_values import SavedValues
from bench.window.theme import LIGHT, Skin
from bench.window.worker import Progress, Worker
from bench.wording import window_told as told
from bench.wording.face import WINDOW
from bench.wording.feed import FEEDS, feed_question
from bench.wording.in_window import in_window
from bench.wording.limb import Limb, limb_of
from bench.wording.parameters import changes_text
from bench.wording.refusals import refused

# After the last change of a parameter, before a log in use is judged again.
JUDGE_MS = 400


class Session(QObject):
    """Hold the state of one sitting at the bench.

    findings, path: the opened recording; before, before_path: an earlier one laid under it.
    key_on, key_on_path: the opened key-on log.
    """

    findings_changed = Signal()
    before_changed = Signal()
    key_on_changed = Signal()
    key_on_opened = Signal()
    parameters_changed = Signal()
    recent_changed = Signal()
    cautions_changed = Signal()
    notified = Signal(str, str, str)
    settled_matter = Signal(str)
    asked = Signal(str, object)
    answered = Signal()
    foreign = Signal(object)

    def __init__(self, preferences: QSettings, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.preferences = preferences
        self.work = Worker(self)
        # Every change that can be taken back, whatever page it was made on.
        self.undo = QUndoStack(self)
        self.recent_files = RecentFiles(preferences, self.undo, self)
        self.recent_files.changed.connect(self.recent_changed)
        self.bench = BoardController(preferences, self.undo, self)
        self.bench.trouble.connect(lambda text: self.trouble(text, "board"))
        self.board_state = BoardState(self.bench, self)
        self.board_state.changed.connect(self._board_changed)
        self.findings: Findings | None = None
        self.path: Path | None = None
        self.key_on: KeyOnFindings | None = None
        self.key_on_path: Path | None = None
        # The log by which the values on show were issued, as it was judged then.
        self._issued_by: tuple[KeyOnFindings, Path | None] | None = None
        self._judge_soon = QTimer(self)
        self._judge_soon.setSingleShot(True)
        self._judge_soon.setInterval(JUDGE_MS)
        self._judge_soon.timeout.connect(self._keep_up)
        self.before: Findings | None = None
        self.before_path: Path | None = None
        self.skin: Skin = LIGHT
        self.saved = SavedValues(self)
        self.saved.changed.connect(self._saved_changed)
        self.cautions_read = self.car_cautions_read = False
        self.parameters = remembered(preferences)
        self.parameters_changed.connect(lambda: self.saved.look(self.findings))
        self.work.started.connect(lambda _text: self.settled("reading"))
        self.work.failed.connect(self._failed)

    def notify(self, text: str, kind: str = "know", about: str = "") -> None:
        """Put one sentence into the notice bar; kind: good, know, mend, grave.

        about: the matter, in a word of the caller's; `settled(about)` takes the sentence away.
        What concerns one field belongs beside it instead: `FieldTrouble`.
        """
        self.notified.emit(in_window(text), kind, about)

    def trouble(self, text: str, about: str = "") -> None:
        """Tell of something that went wrong."""
        self.notify(text, "grave", about)

    def settled(self, about: str) -> None:
        """Take away what was told about a matter: it is solved, or holds no longer."""
        self.settled_matter.emit(about)

    def _failed(self, text: str) -> None:
        self.trouble(text, "reading" if self.work.reading else "")

    def _board_changed(self) -> None:
        if self.board_state.kind == "live":
            self.settled("board")

    def note_saved(self, path: Path, kept: Findings | None = None) -> None:
        """Note that values were kept in a file just now, and tell so; kept: those on show."""
        self.notify(told.saved(str(path)), "good", "saved")
        self.saved.note(path, kept or self.shown)

    def _saved_changed(self) -> None:
        if self.saved.state != "saved":
            self.settled("saved")

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
        # The plotting library comes with what is to be drawn, not with the window.
        from bench.plots.readings import prepare_readings

        parameters, swept = self.parameters, self.findings

        def read(progress: Progress) -> Findings | KeyOnFindings | None:
            try:
                return open_any(path, parameters, swept, progress, prepare_readings)
            except NoRecording:
                return None

        def show(result: Findings | KeyOnFindings | None) -> None:
            if result is None:
                self.asked.emit(told.foreign(path.name), (
                    ("Import", lambda: self.foreign.emit(path)), ("Cancel", lambda: None)))
                return
            if isinstance(result, KeyOnFindings):
                self.take_key_on(result, path)
            else:
                self.take(result, path)
            if then is not None:
                then()

        self.work.run(told.reading(path.name), read, show, reading=True)

    def take_key_on(self, result: KeyOnFindings, path: Path | None) -> None:
        """Make these findings of a key-on log the ones on show."""
        self.key_on, self.key_on_path = result, path
        self.recent_files.add(path)
        self.key_on_changed.emit()
        self.key_on_opened.emit()

    @property
    def shown(self) -> Findings:
        """Return the findings on show; only for pages that have made sure that there are some."""
        assert self.findings is not None
        return self.findings

    @property
    def key_on_fits(self) -> bool:
        """Say whether what the log says of its car holds for the sweep and parameters on show."""
        return self.key_on is not None and bound_stands(self.key_on, self.findings)

    @property
    def log_against(self) -> KeyOnFindings | None:
        """Return the opened log unless the values on show were issued with it.

        What has to be known of that one goes with the values already.
        """
        log, issued = self.key_on, self._issued_by
        in_use = (log is not None and issued is not None and self.findings is not None
                  and bool(self.findings.car) and issued[0].recording is log.recording)
        return None if in_use else log

    def judge_key_on(self, contactor: str | None, then: Callable[[], None] | None = None) -> None:
        """Judge the opened log by the sweep and the parameters on show; contactor: stated of it."""
        if self.key_on is None:
            return
        path, job = self.key_on_path, self._judging(self.key_on, contactor)

        def show(result: KeyOnFindings) -> None:
            self.take_key_on(result, path)
            if then is not None:
                then()

        self.work.run(told.JUDGING, lambda progress: job(), show)

    def _judging(self, log: KeyOnFindings, contactor: str | None) -> Callable[[], KeyOnFindings]:
        """Return the job that judges a log by what is on show now, whatever comes meanwhile."""
        path, parameters, swept = self.key_on_path, self.parameters, self.findings
        return lambda: judge(log.recording, path, parameters, swept=swept, contactor=contactor)

    def open_sweep(self, path: Path) -> None:
        """Open a sweep that was just recorded; say why it cannot be used, if so."""
        parameters = self.parameters

        def show(result: tuple[Findings | None, tuple[str, ...]]) -> None:
            found, refused = result
            if found is not None:
                self.take(found, path)
            else:
                self.recent_files.add(path)
                self.notify(told.no_use(refused, str(path)), "mend")

        self.work.run(told.reading(path.name),
                      lambda progress: open_recorded(path, parameters, progress), show,
                      reading=True)

    def stop_asking(self) -> None:
        """Take a question back that no longer matters."""
        self.answered.emit()

    def take(self, result: Findings, path: Path | None) -> None:
        """Make these findings the ones on show."""
        self.findings, self.path = result, path
        self.parameters = result.parameters
        self.saved.look(result)
        self.recent_files.add(path)
        self.findings_changed.emit()
        whole = result.recording.complete
        # Parameters outlive a recording; none is to go into another pedal's values unseen.
        said = told.opened(path.name if path else "The recording",
                           None if whole else result.recording.rows,
                           changes_text(result.parameters))
        question = feed_question(result.recording)
        if question is not None and path is not None:
            self._ask_feed(path, f"{said} {question}".strip())
        elif said:
            self.notify(said, "know" if whole else "mend")

    def _ask_feed(self, path: Path, question: str) -> None:
        """Ask what feeds the pedal; the answer is written into a copy, and that is opened."""
        def answer(fed_by: str) -> Callable[[], None]:
            return lambda: self.work.run(
                told.stating_feed(path.name), lambda _progress: state_feed(path, fed_by),
                lambda made: self.open(Path(str(made))))

        self.asked.emit(question, (*((text, answer(fed_by)) for fed_by, text in FEEDS.items()),
                                   ("Not known", lambda: None)))

    def open_before(self, path: Path) -> None:
        """Open an earlier recording of the same pedal and lay it under the opened one."""
        parameters = self.parameters
        self.work.run(told.reading(path.name),
                      lambda progress: open_findings(path, parameters, progress),
                      lambda result: self.take_before(result, path), reading=True)

    def take_before(self, result: Findings | None, path: Path | None) -> None:
        """Lay these findings under the ones on show; None takes them away."""
        self.before, self.before_path = result, path
        self.recent_files.add(path)
        self.before_changed.emit()

    @property
    def limb(self) -> Limb:
        """Return the words for what works the pedal: of the sweep on show, else as said."""
        findings = self.findings
        return limb_of(self.bench.use if findings is None else findings.recording.pedal.use)

    def set_parameters(self, **changes: Any) -> str:
        """Change parameters and decide anew; return why not where they make no sense, else "".

        What was changed can be taken back (`undo`). Whoever asks says beside its field why not.
        """
        before = {name: getattr(self.parameters, name) for name in changes}
        # What the user types is assumed, whatever a log said before.
        why_not = self._put(changes, assumed="car_allowance_volts" in changes)
        if not why_not and before != changes:
            self.undo.push(ParameterChange(self._put_again, before, changes))
        return why_not

    def _put_again(self, changes: Mapping[str, Any]) -> None:
        """Take a change back, or make it again; why not is told: no field asked for it."""
        if why_not := self._put(changes):
            self.trouble(why_not, "parameters")

    def _put(self, changes: Mapping[str, Any], assumed: bool = False) -> str:
        """Decide with these changes; return why that cannot be. assumed: without any log."""
        decide = assuming if assumed else decide_again
        try:
            parameters = replace(self.parameters, **changes)
            decided = decide(self.findings, parameters) if self.findings is not None else None
        except AnalysisError as error:
            self.parameters_changed.emit()
            return refused(error, WINDOW)
        self.parameters, self.findings = parameters, decided
        self.settled("parameters")
        remember(self.preferences, parameters)
        self.parameters_changed.emit()
        if self._judging_due:
            self._judge_soon.start()
        return ""

    def take_measured(self) -> None:
        """Let the sweep on show, and no other, go by what the opened log says of its car.

        It stays with these findings: another recording begins with the assumed allowance, and
        nothing of it is remembered.
        """
        log = self.key_on
        if log is None or not log.car or self.findings is None:
            self.trouble(told.NOT_JUDGED_BY_IT)
            return
        if self.key_on_fits and not judged_by(log, self.findings):
            # Its bound holds, but what else is said with the values rests on all parameters.
            self.judge_key_on(log.contactor, self.take_measured)
            return
        try:
            self.findings = issue(self.findings, log, self.key_on_path or Path("just taken"))
        except BenchError as error:
            self.trouble(refused(error, WINDOW))
            if self.log_against is None:
                # What it gave before is for other parameters; the sweep alone stands for itself.
                self._take_back()
            return
        self._issued_by = log, self.key_on_path
        self.parameters_changed.emit()

    def go_by_warmth(self, drift: MeasuredDrift | None) -> None:
        """Let the sweep on show go by the drift with temperature that its job measured."""
        if self.findings is None or self.findings.warmth == drift:
            return
        self.findings = going_by(self.findings, drift)
        self.parameters_changed.emit()

    def _take_back(self) -> None:
        """Let the values on show go by the assumed allowance again."""
        assert self.findings is not None
        self.findings = assuming(self.findings, self.parameters)
        self.parameters_changed.emit()

    @property
    def _judging_due(self) -> bool:
        return (self.findings is not None and bool(self.findings.car)
                and (self._issued_by is None
                     or not judged_by(self._issued_by[0], self.findings)))

    def settle(self) -> None:
        """Judge the log in use again at once if that is due: no value leaves the house before."""
        if not self._judging_due:
            return
        self._judge_soon.stop()
        if self._other_log():
            return
        log = self.key_on
        assert log is not None
        try:
            self.key_on = self._judging(log, log.contactor)()
        except (AnalysisError, BenchError) as error:
            self.trouble(refused(error, WINDOW))
            self._take_back()
            return
        self.key_on_changed.emit()
        self.take_measured()

    def _other_log(self) -> bool:
        """Return whether the log in use is not the opened one; its allowance is taken back then."""
        if (self.key_on is not None and self.findings is not None and self.log_against is None
                and self.key_on.swept is self.findings.recording):
            return False
        # Another log was opened since; what its bound would be now is not known.
        self._take_back()
        self.notify(told.ALLOWANCE_BACK, "mend")
        return True

    def _keep_up(self) -> None:
        """Judge the log again whose allowance is in use, for all of it rests on the parameters."""
        if not self._judging_due or self._other_log():
            return
        if self.work.busy:
            self._judge_soon.start()
        elif self.key_on is not None:
            self.judge_key_on(self.key_on.contactor, self.take_measured)

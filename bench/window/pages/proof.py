"""Proof: the job of one car, each proof led and recorded, values typed back, one page signed."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QTimer, Signal
from PySide6.QtWidgets import (
    QVBoxLayout,
    QWidget,
)

from bench.services.boards import SIMULATED
from bench.services.proof import (
    TASKS,
    Asked,
    Proof,
    ProofPrompt,
    Proofs,
    job_headline,
    proof_guide,
    repair_of,
    simulated_car,
    tracks_missing,
)
from bench.services.record import Order
from bench.services.saving import free_path
from bench.window.job_bar import JobBar
from bench.window.job_desk import JobDesk
from bench.window.live import Taken
from bench.window.pages.page import NextStep, Page, PageStatus
from bench.window.proof_detail import ProofDetail
from bench.window.proof_list import ProofList
from bench.window.proof_live_view import ProofLiveView, words_of
from bench.window.session import Session
from bench.window.sizes import em
from bench.window.theme import Skin
from bench.window.widgets import Abreast, FrontStack, scrolled
from bench.wording.face import small
from bench.wording.limb import Limb, limb_of
from bench.wording.pages import proof as words
from bench.wording.pages import shared
from bench.wording.proof import TITLES

PAINT_MS = 50
BEFORE, LIVE = range(2)


class ProofPage(Page):
    """The proofs of a job's folder."""

    key = "proof"
    title = "Proof"
    _asks = Signal(object)

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.bench, self.link = session.bench, session.bench.link
        self.desk = JobDesk(session, self)
        self.step = ""
        self.prompt: ProofPrompt | None = None
        self._asked: Asked | None = None
        outer = QVBoxLayout(self)
        outer.setContentsMargins(em(1), em(1), em(1), em(1))
        self.stack = FrontStack()
        outer.addWidget(self.stack)
        self.live = ProofLiveView(session)
        self.stack.addWidget(self._job_side())
        self.stack.addWidget(self.live)
        self._timer = QTimer(self)
        self._timer.setInterval(PAINT_MS)
        self._timer.timeout.connect(self.paint)
        self._asks.connect(self._prompted)
        self.detail.changed.connect(self.step_changed)
        self.desk.changed.connect(self.step_changed)
        self.desk.judged.connect(self._show_job)
        self.link.changed.connect(self._link_changed)
        self.link.taken.connect(self._taken)
        self.bench.edits.changed.connect(self._link_changed)
        session.findings_changed.connect(self.step_changed)
        session.key_on_changed.connect(self.step_changed)
        session.parameters_changed.connect(self.step_changed)

    def _job_side(self) -> QWidget:
        side = QWidget()
        column = QVBoxLayout(side)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(em(0.8))
        self.bar = JobBar(self.session)
        self.bar.opened.connect(self.open_job)
        self.bar.make.connect(self.desk.make)
        self.bar.wanted.connect(self.desk.take_unlisted)
        column.addWidget(self.bar)
        self.list = ProofList()
        self.list.picked.connect(self.pick)
        self.detail = ProofDetail(self.session)
        self.detail_room = scrolled(self.detail)
        self.pair = Abreast(em(24))
        self.pair.row.addWidget(self.list, 2)
        self.pair.row.addWidget(self.detail_room, 3)
        column.addWidget(self.pair, 1)
        # Until there is a job there is nothing to pick.
        column.addStretch(0)
        self.pair.hide()
        return side

    @property
    def _recording(self) -> bool:
        return self.link.state == "recording" and self.link.purpose == "proof"

    @property
    def _simulated(self) -> bool:
        return self.bench.board_name == SIMULATED

    @property
    def proofs(self) -> Proofs | None:
        """Return where the job stands, None until it was read."""
        return self.desk.proofs

    @property
    def picked(self) -> Proof | None:
        """Return the step that is picked."""
        return None if self.proofs is None or not self.step else self.proofs.of(self.step)

    def next_step(self) -> NextStep:
        if self._recording:
            return self._step_running()
        if self.desk.folder is None:
            return NextStep(words.CHOOSE, words.CHOOSE_MORE, "choose job")
        picked = self.picked
        if self.proofs is None or picked is None:
            return (NextStep(words.READING) if self.desk.busy else
                    NextStep(words.CHOOSE, words.CHOOSE_MORE, "choose job"))
        lead = job_headline(self.proofs)
        if self.desk.busy:
            return NextStep(lead, words.READING)
        step = self._step_picked(lead, self.proofs, picked)
        if picked is self.proofs.next_step:
            repair = repair_of(self.proofs)
            return replace(step, more=words.first_words(repair, step.more)) if repair else step
        # The sentence speaks of another step: whose button it is has to be said.
        return replace(step, more=f"{TITLES[picked.step]}: {small(step.more)}".rstrip(": "))

    def _step_picked(self, lead: str, proofs: Proofs, picked: Proof) -> NextStep:
        """Return what is to be done about the step that is picked."""
        if picked.step in ("sweep", "key-on"):
            return self._step_file(lead, picked)
        if proofs.limits is None:
            return NextStep(lead, words.SWEEP_FIRST)
        if picked.step == "entered":
            return NextStep(lead, words.TYPE_BACK, "keep entered",
                            enabled=self.detail.values.ready)
        if picked.step == "signed":
            if picked.state == "proved":
                return NextStep(lead, words.SIGNED)
            named = bool(self.detail.signing.by.text().strip())
            return NextStep(lead, "" if named else words.SIGN_FIRST, "sign page", enabled=named)
        return self._step_task(lead, proofs)

    @property
    def _limb(self) -> Limb:
        """Return the words for what works the pedal of this job."""
        proofs = self.desk.proofs
        return (self.session.limb if proofs is None or proofs.findings is None else
                limb_of(proofs.findings.recording.pedal.use))

    def _step_running(self) -> NextStep:
        """Return the prompt of the moment; its button goes on where the person decides when."""
        if self.link.lost:
            return NextStep(shared.LOST, words.NOTHING_LOST)
        guide = self.link.lead
        if guide is None or self.prompt is None:
            return NextStep(shared.WAITING, self._limb.rests_off)
        if self._simulated:
            return NextStep(words_of(self.prompt, self._limb), words.SIMULATED, loud=True)
        return NextStep(words_of(self.prompt, self._limb), "",
                        "" if self.prompt.seconds is not None else "next prompt", loud=True)

    def _step_file(self, lead: str, picked: Proof) -> NextStep:
        """Return what is to be done about the sweep or the key-on log."""
        if picked.entry is not None and picked.because not in (("file gone",), ("file changed",)):
            return NextStep(lead, "", "open job file")
        session = self.session
        if picked.step == "sweep":
            return NextStep(lead, words.SWEEP_FIRST,
                            "take sweep" if session.findings is not None
                            and session.path is not None else "to the sweep")
        return NextStep(lead, "", "take log" if session.key_on_path is not None else "to the log")

    def _step_task(self, lead: str, proofs: Proofs) -> NextStep:
        """Return what keeps a proof from being started, or that it can be."""
        link = self.link
        if link.state == "recording":
            return NextStep(lead, words.OTHER_RECORDING)
        if link.state == "opening":
            return NextStep(lead, shared.OPENING)
        channels = self.bench.edits.channels
        if not channels or link.state != "live":
            return NextStep(lead, words.CONNECT, "wire up")
        if not self._simulated:
            assert proofs.limits is not None
            if self.bench.unchecked:
                return NextStep(lead, words.INPUTS_FIRST, "wire up")
            missing = tracks_missing(channels, proofs.limits)
            if missing:
                return NextStep(lead, words.missing_inputs(missing), "wire up")
        ready = self.detail.cautions.met
        return NextStep(lead, words.START if ready else words.TICK_EACH, "start proof",
                        enabled=ready)

    def act(self) -> None:
        action = self.next_step().action
        acts: dict[str, Callable[[], object]] = {
            "choose job": self.bar.choose, "start proof": self.start,
            "take sweep": lambda: self.desk.bring(self.session.path),
            "take log": lambda: self.desk.bring(self.session.key_on_path),
            "open job file": self._open_file, "keep entered": self._keep_entered,
            "sign page": self._sign, "next prompt": self._go_on,
            "to the sweep": lambda: self.go_to.emit("sweep"),
            "to the log": lambda: self.go_to.emit("in_car"),
            "wire up": lambda: self.go_to.emit("wire_up")}
        if action:
            acts[action]()

    def status(self) -> PageStatus:
        if self._recording:
            return PageStatus("cable is out" if self.link.lost else "recording…", False)
        if self.proofs is None:
            return PageStatus(
                "no job chosen" if self.desk.folder is None else "not read yet", False)
        return PageStatus(words.rail_words([(p.step, p.state) for p in self.proofs.steps]),
                          self.proofs.all_proved)

    def subject(self) -> str:
        return "" if self.desk.folder is None else f"job {self.desk.folder.name}"

    def apply_theme(self, skin: Skin) -> None:
        self.list.apply_theme(skin)
        self.live.apply_theme(skin)

    def shown(self) -> None:
        self._timer.start()
        if self.session.cautions_read:
            self.link.look_again()
        if self.desk.stale and not self._recording:
            self.desk.read()
        self._link_changed()

    def left(self) -> None:
        self._timer.stop()

    def shut(self) -> None:
        self.desk.shut()

    def catch_up(self) -> None:
        remembered = str(self.session.preferences.value("proof/folder", ""))
        if remembered and Path(remembered).is_dir():
            self.desk.folder = Path(remembered)
            self.bar.field.setText(remembered)

    def first_focus(self) -> QWidget | None:
        if self.desk.folder is None:
            return self.bar.field
        # The ticks come before the button that they free.
        ticks = self.detail.cautions.ticks
        return ticks[0].box if ticks and not self._recording else None

    def open_job(self, folder: Path) -> None:
        """Open the job of a folder and read where it stands."""
        self.step = ""
        self.bar.field.setText(str(folder))
        self.bar.show_notes(None)
        self.pair.hide()
        self.desk.open(folder)

    def _show_job(self, done: str) -> None:
        """Show a job that was read: on to the next step where the one done is proved."""
        proofs = self.proofs
        assert proofs is not None
        following = proofs.next_step
        self.bar.field.setText(str(proofs.folder))
        if not self.step or (done and proofs.of(done).state == "proved"):
            self.step = "signed" if following is None else following.step
        elif done:
            self.step = done
        self.list.show_steps(proofs.steps, self.step)
        self.pair.show()
        self.detail.show_step(proofs, self.step)
        self.bar.show_notes(proofs)
        self._link_changed()

    def pick(self, step: str) -> None:
        """Show one step; its ticks begin anew."""
        if self.proofs is not None and step != self.step:
            self.step = step
            self.detail.show_step(self.proofs, step)
            self.detail_room.verticalScrollBar().setValue(0)
            self._link_changed()

    def start(self) -> None:
        """Record the picked proof, led by its prompts; refused until every caution is ticked."""
        proofs, step = self.proofs, self.step
        if (proofs is None or proofs.limits is None or step not in TASKS
                or not self.detail.cautions.met or self.desk.folder is None):
            return
        self.session.accept_car_cautions()
        setup, limits = self.detail.setup, proofs.limits
        asked = self._asked = setup.asked
        by_hand = setup.by_hand(self._simulated)
        self.prompt = None
        order = Order("proof", free_path(self.desk.folder / f"{step}.csv"),
                      channels=self.bench.car_options(), retry_s=float("inf"), number=True)
        self.bench.prove(order, lambda speed: simulated_car(asked, limits, speed),
                         lambda board: proof_guide(board, asked, self._asks.emit))
        self.live.limb = self._limb
        self.live.begin(asked.prompts, by_hand)

    def _prompted(self, prompt: ProofPrompt) -> None:
        self.prompt = prompt
        self.live.show_prompt(prompt, self.link.lead)
        self.step_changed.emit()

    def _go_on(self) -> None:
        if self.link.lead is not None:
            self.link.lead.enter()

    def paint(self) -> None:
        """Show what came since the last call; the timer calls this 20 times a second."""
        if self._recording:
            self.live.paint_now()
        else:
            self.link.take()

    def _link_changed(self) -> None:
        self.stack.setCurrentIndex(LIVE if self._recording else BEFORE)
        self.detail.setup.show_inputs(tuple(self.bench.edits.channels), self._simulated)
        self.step_changed.emit()

    def _taken(self, taken: Taken) -> None:
        if taken.purpose != "proof":
            return
        file, asked, session = taken.file, self._asked, self.session
        session.stop_asking()
        self.detail.cautions.show_task(self.detail.cautions.task)
        self.link.look_again()
        if file.writer is None or asked is None:
            session.trouble(taken.error or shared.NO_ROW)
            return
        session.notify(" ".join(w for w in (
            words.kept_words(str(file.path), file.writer.rows), taken.error or "") if w),
            "mend" if taken.error else "good")
        self.desk.keep_proof(file.path, asked.task, None if self._simulated else asked.power)

    def _open_file(self) -> None:
        picked, folder = self.picked, self.desk.folder
        if picked is not None and picked.entry is not None and folder is not None:
            place = "read" if picked.step == "sweep" else "in_car"
            self.session.open(folder / picked.entry.file, lambda: self.go_to.emit(place))

    def _keep_entered(self) -> None:
        values = self.detail.values
        if values.ready:
            self.desk.keep_values(values.volts, values.typed, values.step_volts)
            values.clear()

    def _sign(self) -> None:
        signing = self.detail.signing
        self.desk.sign(signing.by.text().strip(), signing.vehicle.text().strip(),
                       str(signing.kind.currentData()))

"""One step of a job: where it stands, what was seen, and what is to be done or typed for it."""

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QGridLayout, QLabel, QLineEdit, QVBoxLayout, QWidget

from bench.services.proof import TASKS, Proof, Proofs, proof_lines
from bench.window.proof_cautions import ProofCautions
from bench.window.proof_setup import ProofSetup
from bench.window.proof_values import ProofValues
from bench.window.session import Session
from bench.window.sizes import em
from bench.window.widgets import Card, label
from bench.wording.face import capital
from bench.wording.limb import FOOT, limb_of
from bench.wording.pages import proof as words
from bench.wording.proof import TITLES, mark_of_state

LOOKS = {"proved": "good", "failed": "grave", "open": "mend"}
MARKS = {"proved": "✓ ", "failed": "■ ", "open": "? ", "simulated": "~ "}


class ProofDetail(QWidget):
    """The step that was picked; `changed` with whatever is ticked, typed or chosen for it."""

    changed = Signal()

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.session = session
        self.proof: Proof | None = None
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, em(0.5), 0)
        column.setSpacing(em(0.8))
        self.card = Card()
        self.heading, self.state = label("", "head"), label("", "quiet", wrap=True)
        self.state.setAccessibleName("Where this step stands")
        self.from_file = label("", "quiet", wrap=True)
        self.card.body.addWidget(self.heading)
        self.card.body.addWidget(self.state)
        self._seen = QVBoxLayout()
        self._seen.setSpacing(em(0.35))
        self.card.body.addLayout(self._seen)
        self.card.body.addWidget(self.from_file)
        self.cautions, self.setup = ProofCautions(session), ProofSetup(session)
        self.values, self.signing = ProofValues(session), ProofSigning(session)
        for made in (self.card, self.cautions, self.setup, self.values, self.signing):
            column.addWidget(made)
        for each in (self.cautions, self.setup, self.values, self.signing):
            each.changed.connect(self.changed)
        column.addStretch(1)

    def show_step(self, proofs: Proofs, step: str) -> None:
        """Show one step of a job; ticks are taken back, what is typed stays."""
        proof = self.proof = proofs.of(step)
        self.heading.setText(TITLES[step])
        mark = mark_of_state(proof.state, proof.simulated)
        self.state.setText(MARKS.get(mark, "") + words.state_line(
            step, proof.state, proof.because, proof.simulated))
        _dress(self.state, LOOKS.get(mark, "quiet"))
        while (item := self._seen.takeAt(0)) is not None:
            old = item.widget()
            if old is not None:
                old.hide()
                old.deleteLater()
        for line in proof_lines(proofs, step):
            self._seen.addWidget(label(f"•  {capital(line)}", wrap=True))
        entry = proof.entry
        self.from_file.setText("" if entry is None else "   ".join(w for w in (
            entry.when[:10], entry.file, f"SHA-256 {entry.sha256[:10]}" if entry.sha256 else "")
            if w))
        self.from_file.setVisible(entry is not None)
        task = step in TASKS and proofs.limits is not None
        self.cautions.setVisible(task)
        self.cautions.limb = FOOT if proofs is None or proofs.findings is None else limb_of(
            proofs.findings.recording.pedal.use)
        self.cautions.show_task(step if task else "")
        self.setup.setVisible(task)
        if task:
            self.setup.show_task(step, proofs)
        self.values.setVisible(step == "entered" and proofs.findings is not None)
        if proofs.findings is not None:
            self.values.show_job(proofs)
        self.signing.setVisible(step == "signed")
        self.signing.show_job(proofs)


class ProofSigning(Card):
    """Who signs, which car, which kind of page; `changed` with each."""

    changed = Signal()

    def __init__(self, session: Session) -> None:
        super().__init__("The page")
        self.session = session
        self.left = label("", wrap=True)
        self.left.setAccessibleName("What the page will say was not proved")
        self.body.addWidget(self.left)
        grid = QGridLayout()
        self.by, self.vehicle, self.kind = QLineEdit(), QLineEdit(), QComboBox()
        self.vehicle.setText(str(session.preferences.value("proof/vehicle", "")))
        for kind in ("pdf", "html"):
            self.kind.addItem(kind.upper(), kind)
        for row, (text, field) in enumerate((("Your &name", self.by), ("Which c&ar", self.vehicle),
                                             ("&Page as", self.kind))):
            named = label(text)
            named.setBuddy(field)
            field.setAccessibleName(text.replace("&", ""))
            grid.addWidget(named, row, 0)
            grid.addWidget(field, row, 1)
        self.by.textChanged.connect(lambda _text: self.changed.emit())
        self.vehicle.textChanged.connect(
            lambda text: session.preferences.setValue("proof/vehicle", text))
        self.body.addLayout(grid)

    def show_job(self, proofs: Proofs) -> None:
        """Say what the page will leave open."""
        left = [TITLES[p.step] for p in proofs.steps
                if p.step != "signed" and p.state != "proved"]
        self.left.setText(words.not_on_the_page(left))
        _dress(self.left, "mend" if left else "good")


def _dress(made: QLabel, look: str) -> None:
    if made.objectName() != look:
        made.setObjectName(look)
        made.style().unpolish(made)
        made.style().polish(made)

"""What is chosen before a proof: the input that shows power, the resistors, the consumers."""

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QCheckBox, QComboBox, QHBoxLayout, QLineEdit, QWidget

from analysis.model.recording import Channel
from bench.services.proof import LOADS, Asked, Proofs, power_column, shorts_of
from bench.window.session import Session
from bench.window.sizes import em
from bench.window.widgets import Card, label
from bench.wording.pages.proof import reading_of, resistor_words
from bench.wording.proof import lead_name

# Of these proofs the log must show power.
POWERED = ("wires", "drive")


class ProofSetup(Card):
    """The choices of one proof; `changed` with each."""

    changed = Signal()

    def __init__(self, session: Session) -> None:
        super().__init__("How it is recorded")
        self.session = session
        self.task = ""
        self._proofs: Proofs | None = None
        self._channels: tuple[Channel, ...] = ()
        self._simulated = False
        self.power_row = QWidget()
        self.power_row.setObjectName("onCard")
        row = QHBoxLayout(self.power_row)
        row.setContentsMargins(0, 0, 0, 0)
        named = label("Input that shows po&wer")
        self.power = QComboBox()
        self.power.setAccessibleName("Input that shows power")
        self.power.currentIndexChanged.connect(lambda _index: self._tell())
        named.setBuddy(self.power)
        row.addWidget(named)
        row.addWidget(self.power)
        row.addStretch(1)
        self.power_said = label("", "quiet", wrap=True)
        self.join = QCheckBox("&Join leads through a resistor as well; have ready:")
        self.join.setChecked(True)
        self.join.toggled.connect(lambda _on: self._tell())
        self.resistors = label("", wrap=True)
        self.loads = QLineEdit(str(session.preferences.value("proof/loads", ", ".join(LOADS))))
        self.loads.setAccessibleName("Consumers to be switched, with commas between")
        self.loads.textChanged.connect(self._keep_loads)
        self.loads_said = label("Consumers to be s&witched, with commas between", "quiet")
        self.loads_said.setBuddy(self.loads)
        for made in (self.power_row, self.power_said, self.join, self.resistors,
                     self.loads_said, self.loads):
            self.body.addWidget(made)
        self.power.setMinimumWidth(em(14))

    def show_task(self, task: str, proofs: Proofs) -> None:
        """Show the choices of a proof."""
        self.task, self._proofs = task, proofs
        powered, wires = task in POWERED, task == "wires"
        shorts = shorts_of(proofs) if wires else ()
        self.power_row.setVisible(powered)
        self.power_said.setVisible(powered)
        for made in (self.join, self.resistors):
            made.setVisible(bool(shorts))
        self.resistors.setText("\n".join(
            resistor_words(" and ".join(lead_name(x) for x in pair), ohms)
            for pair, ohms in shorts))
        self.loads_said.setVisible(task == "loads")
        self.loads.setVisible(task == "loads")
        self.setVisible(powered or task == "loads")
        self._tell()

    def show_inputs(self, channels: tuple[Channel, ...], simulated: bool) -> None:
        """Offer the board's inputs; the simulated car has a sensor of its own."""
        if channels == self._channels and simulated == (self.power.count() == 1):
            return
        self._channels, self._simulated = channels, simulated
        before = self.power.currentData()
        self.power.blockSignals(True)
        self.power.clear()
        self.power.addItem("current sensor of the simulated car" if simulated else
                           "as its role says", None)
        if not simulated:
            for channel in channels:
                if channel.role not in ("track", "supply", "key"):
                    self.power.addItem(channel.column, channel.column)
        self.power.setCurrentIndex(max(self.power.findData(before), 0))
        self.power.blockSignals(False)
        self._tell()

    def by_hand(self, simulated: bool) -> bool:
        """Return whether the person has to say what power does."""
        return not simulated and self.task == "wires" and power_column(
            self._channels, self.power.currentData()) is None

    @property
    def asked(self) -> Asked:
        """Return the proof as it is chosen here."""
        assert self._proofs is not None
        assert self._proofs.limits is not None
        loads = tuple(w.strip() for w in self.loads.text().split(",") if w.strip())
        return Asked(self.task, tuple(self._proofs.limits.tracks), loads or LOADS,
                     shorts_of(self._proofs) if self.join.isChecked() else (),
                     self.power.currentData())

    def _keep_loads(self, text: str) -> None:
        self.session.preferences.setValue("proof/loads", text)
        self.changed.emit()

    def _tell(self) -> None:
        column = power_column(self._channels, self.power.currentData())
        self.power_said.setText("" if self._simulated else reading_of(column))
        self.changed.emit()

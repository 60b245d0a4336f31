"""The values as the controller shows them, typed beside those that were issued."""


from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QGridLayout, QHBoxLayout, QLabel, QLineEdit, QSpinBox

from bench.services.proof import Proofs
from bench.services.typed_values import (
    UNITS,
    ShownUnit,
    TypedBack,
    shown_unit,
    typed_back,
    volts_of_text,
)
from bench.window.remembered_numbers import whole_number
from bench.window.session import Session
from bench.window.sizes import em
from bench.window.widgets import Card, label
from bench.wording.pages import proof as words


class ProofValues(Card):
    """The form; `changed` with every value typed. kept: what is typed, ready for the record."""

    changed = Signal()

    def __init__(self, session: Session) -> None:
        super().__init__("What the controller shows", words.TYPE_BACK)
        self.session = session
        self._proofs: Proofs | None = None
        self.fields: dict[str, QLineEdit] = {}
        self.said: dict[str, QLabel] = {}
        self._issued: dict[str, QLabel] = {}
        row = QHBoxLayout()
        named = label("It &shows values in")
        self.unit = QComboBox()
        for unit in UNITS:
            self.unit.addItem(words.UNITS[unit], unit)
        self.unit.setAccessibleName("Unit of the controller's values")
        self.unit.setCurrentIndex(max(self.unit.findData(
            session.preferences.value("proof/unit", "volts")), 0))
        named.setBuddy(self.unit)
        self.bits = QSpinBox()
        self.bits.setRange(8, 24)
        self.bits.setSuffix(" bits")
        self.bits.setValue(whole_number(session.preferences, "proof/bits", 10))
        self.bits.setAccessibleName("Bits of the controller's input")
        self.bits.setButtonSymbols(QSpinBox.ButtonSymbols.NoButtons)
        self.bits.setMinimumWidth(em(6))
        self.unit.currentIndexChanged.connect(lambda _index: self._unit_changed())
        self.bits.valueChanged.connect(lambda _value: self._unit_changed())
        row.addWidget(named)
        row.addWidget(self.unit)
        row.addWidget(self.bits)
        row.addStretch(1)
        self.body.addLayout(row)
        self._grid = QGridLayout()
        self._grid.setHorizontalSpacing(em(1))
        self._grid.setColumnStretch(3, 1)
        self.body.addLayout(self._grid)

    def show_job(self, proofs: Proofs) -> None:
        """Show the values that are issued now; what is being typed stays while they are the same.

        Fields begin empty: a value filled in beforehand would be compared with itself.
        """
        self._proofs = proofs
        names = [v.name for v in self._values({})]
        if names != list(self.fields):
            self._build(names)
        self._unit_changed()

    @property
    def _unit(self) -> ShownUnit:
        assert self._proofs is not None
        findings = self._proofs.findings
        nominal = 5.0 if findings is None else findings.recording.nominal_volts
        return shown_unit(str(self.unit.currentData()), self.bits.value(), nominal)

    def _values(self, volts: dict[str, float]) -> tuple[TypedBack, ...]:
        if self._proofs is None or self._proofs.findings is None:
            return ()
        return typed_back(self._proofs.findings, volts, self._unit.step_volts)

    @property
    def typed(self) -> dict[str, str]:
        """Return what stands in the fields, by name, without empty ones."""
        return {n: f.text().strip() for n, f in self.fields.items() if f.text().strip()}

    @property
    def volts(self) -> dict[str, float]:
        """Return what was typed in volts, by name; NaN where it is no number."""
        return {n: volts_of_text(t, self._unit) for n, t in self.typed.items()}

    @property
    def step_volts(self) -> float:
        """Return what the controller's own rounding may hide, volts."""
        return self._unit.step_volts

    @property
    def ready(self) -> bool:
        """Return whether something was typed, and all of it is numbers."""
        found = self.volts
        return bool(found) and all(v == v for v in found.values())

    def clear(self) -> None:
        """Empty the fields, once they are kept."""
        for field in self.fields.values():
            field.clear()

    def _build(self, names: list[str]) -> None:
        while (item := self._grid.takeAt(0)) is not None:
            old = item.widget()
            if old is not None:
                old.hide()
                old.deleteLater()
        self.fields, self.said, self._issued = {}, {}, {}
        for column, text in enumerate(("", "Issued", "It shows")):
            self._grid.addWidget(label(text, "quiet"), 0, column)
        for row, name in enumerate(names, start=1):
            field = QLineEdit()
            field.setAccessibleName(f"{words.value_name(name)} as the controller shows it")
            field.setMinimumWidth(em(7))
            field.textChanged.connect(lambda _text: self._tell())
            self.fields[name], self.said[name] = field, label("", "quiet", wrap=True)
            self._issued[name] = label("", "mid")
            for column, made in enumerate((label(words.value_name(name)), self._issued[name],
                                           field, self.said[name])):
                self._grid.addWidget(made, row, column)

    def _unit_changed(self) -> None:
        self.bits.setVisible(self.unit.currentData() == "counts")
        self.session.preferences.setValue("proof/unit", self.unit.currentData())
        self.session.preferences.setValue("proof/bits", self.bits.value())
        for value in self._values({}):
            known = value.issued_volts == value.issued_volts
            self._issued[value.name].setText(
                self._unit.shown(value.issued_volts) if known else "–")
        self._tell()

    def _tell(self) -> None:
        typed = self.volts if self._proofs is not None else {}
        for value in self._values({n: v for n, v in typed.items() if v == v}):
            wrong = value.name in typed and typed[value.name] != typed[value.name]
            text, look = (("■ that is no number", "grave") if wrong else
                          words.typed_words(value.state, value.off_volts))
            _dress(self.said[value.name], text, look)
        self.changed.emit()


def _dress(made: QLabel, text: str, look: str) -> None:
    made.setText(text)
    if made.objectName() != look:
        made.setObjectName(look)
        made.style().unpolish(made)
        made.style().polish(made)



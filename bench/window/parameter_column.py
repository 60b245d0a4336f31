"""Every parameter in one column: the usual ones first, the rest folded away under More."""

from collections.abc import Sequence

from PySide6.QtWidgets import QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from analysis.parameters import TABLE
from analysis.pedal.findings import Findings
from bench.window.parameter_fields import ParameterField, TargetField
from bench.window.session import Session
from bench.window.sizes import em
from bench.window.widgets import Abreast, Card, button, label
from bench.wording.dead_band import ground
from bench.wording.parameters import WORDS

_BY_TRACK = [n for n, row in TABLE.items() if row.kind == "volts by track"]
_UNFOLDED = "window/more_parameters"


class ParameterColumn(QWidget):
    """The fields of all parameters; what is typed goes to the session, which can take it back.

    fields: by name, of all but the volts by track. targets: those, by name and track.
    """

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.session = session
        self.fields: dict[str, ParameterField] = {}
        self.targets: dict[tuple[str, str], TargetField] = {}
        # What scrolls the column; the page that places it says so.
        self.area: QScrollArea | None = None
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        column.addWidget(self._usual_card())
        self.fold(str(session.preferences.value(_UNFOLDED, "false")) == "true")

    def show_parameters(self, findings: Findings | None) -> None:
        """Show the session's parameters, and what a log of the car has put in place of one."""
        parameters = self.session.parameters
        for name, field in self.fields.items():
            field.show_value(getattr(parameters, name))
        in_use = findings.car if findings is not None else {}
        self.fields["car_allowance_volts"].note(
            "" if not in_use else "In use, from the log in this car: " + ", ".join(
                f"{n} {1000 * c.volts:.0f} mV ({ground(c.basis, c.key_ons)})"
                for n, c in in_use.items())
            + ". Typing a value takes it back.")
        changed = parameters.changed
        self.defaults.setEnabled(bool(changed))
        others = sum(not TABLE[n].usual for n in changed)
        count = sum(not row.usual for row in TABLE.values())
        arrow = "▾" if self._more.isVisibleTo(self) else "▸"
        self.unfold.setText(f"{arrow}  More parameters ({count}"
                            f"{f', {others} changed' if others else ''})")
        self.unfold.setAccessibleName(self.unfold.text()[1:].strip())
        if findings is None:
            return
        for (name, track), target in self.targets.items():
            measured = findings.tracks.get(track)
            if measured is not None:
                found = measured.rest if name == "target_rest_volts" else measured.full
                target.show_value(getattr(findings.parameters, name).get(track), found.value)

    def forget_past(self) -> None:
        """Forget what each field held before: another recording is on show."""
        for field in self.fields.values():
            field.forget_past()

    def make_targets(self, tracks: Sequence[str], nominal_volts: float,
                     ohms_per_volt: float | None = None) -> None:
        """Make the target fields anew for these tracks; ohms_per_volt: of a rheostat."""
        for target in self.targets.values():
            target.hide()
            # At once: those that come count who is there before they stand side by side.
            self._targets.row.removeWidget(target)
            target.deleteLater()
        self.targets = {}
        for track in tracks:
            for name in _BY_TRACK:
                made = TargetField(f"{WORDS[name].label.lower()} of {track}", nominal_volts,
                                   ohms_per_volt)
                made.changed.connect(lambda volts, n=name, t=track, m=made: m.refuse(
                    self._target_set(n, t, volts)))
                made.setToolTip(WORDS[name].tip)
                self.targets[name, track] = made
                (self._targets.row if TABLE[name].usual else self._more_targets).addWidget(made)
        self._targets.arrange()

    def _usual_card(self) -> Card:
        card = Card()
        card.body.setContentsMargins(10, 6, 10, 8)
        card.body.setSpacing(4)
        head = QHBoxLayout()
        head.addWidget(label("What do you want?", "head"), 1)
        self.undo = button("Undo", self.session.undo.undo,
                           name="Undo the last change of a parameter", tip="Ctrl+Z")
        self.undo.setObjectName("corner")
        self.undo.setEnabled(False)
        self.session.undo.canUndoChanged.connect(self.undo.setEnabled)
        self.session.undo.undoTextChanged.connect(
            lambda text: self.undo.setToolTip(f"Undo {text} (Ctrl+Z)".replace("  ", " ")))
        head.addWidget(self.undo)
        card.body.addLayout(head)
        card.setAccessibleName("What do you want?")
        for row in TABLE.values():
            if row.usual and row.kind != "volts by track":
                card.body.addWidget(self._field(row.name))
        card.body.addWidget(label("Tick where a track should be, else it stays as found:",
                                  "quiet", wrap=True))
        self._targets = Abreast(em(15))
        card.body.addWidget(self._targets)
        self._add_more(card)
        return card

    def _add_more(self, card: Card) -> None:
        self.unfold = button("", lambda: self.fold(self._more.isHidden()))
        self.unfold.setObjectName("corner")
        card.body.addWidget(self.unfold)
        self._more = QWidget()
        self._more.setObjectName("onCard")
        body = QVBoxLayout(self._more)
        body.setContentsMargins(0, 0, 0, 0)
        self._more_targets = QVBoxLayout()
        body.addLayout(self._more_targets)
        for row in TABLE.values():
            if not row.usual and row.kind != "volts by track":
                body.addWidget(self._field(row.name))
        self.defaults = button("All back to their defaults", self._all_back)
        body.addWidget(self.defaults)
        card.body.addWidget(self._more)

    def _field(self, name: str) -> ParameterField:
        made = ParameterField(TABLE[name])
        made.changed.connect(
            lambda value: made.refuse(self.session.set_parameters(**{name: value})))
        self.fields[name] = made
        return made

    def fold(self, unfolded: bool) -> None:
        """Show the parameters under More, or fold them away; remembered."""
        self._more.setVisible(unfolded)
        self.session.preferences.setValue(_UNFOLDED, unfolded)
        self.show_parameters(self.session.findings)

    def _all_back(self) -> None:
        self.session.set_parameters(**{
            name: TABLE[name].default for name in self.session.parameters.changed})

    def _target_set(self, name: str, track: str, volts: float | None) -> str:
        targets = dict(getattr(self.session.parameters, name))
        targets.pop(track, None)
        if volts is not None:
            targets[track] = volts
        return self.session.set_parameters(**{name: targets})

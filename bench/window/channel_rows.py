"""Every input as a row: its name, its role, a bar, and its volts in large print."""

import math

import numpy as np
from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QComboBox,
    QDoubleSpinBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QVBoxLayout,
    QWidget,
)

from analysis.model.recording import ROLES, Channel
from bench.services.boards import LARGEST_READING
from bench.services.live_levels import VOLT, closed_lines, live_levels
from bench.window.field_trouble import FieldTrouble
from bench.window.live import volts_of
from bench.window.session import Session
from bench.window.sizes import em
from bench.window.text_field import TextField
from bench.window.theme import Skin
from bench.window.widgets import Card, LevelBar, button, label, scrolled, show_frozen
from bench.wording.face import WINDOW, capital
from bench.wording.live import line_state, live_level
from bench.wording.pages import wire_up as words
from bench.wording.state_bar import HARD

# A track has moved when its readings lie so far apart (as in the guided plan's own refusals).
MOVED_VOLTS, MOVED_SHARE = 0.1, 0.02
NOTHING = "–"
# Ems of the card's width below which the rows leave something out.
COMPACT_EMS = 51
# Ems of width below which there is no room for the bar either.
BARE_EMS = 36.0
# field of Channel -> text, unit, least, most, decimals, for which channels it is shown
DETAILS = {
    "scale": ("Divider: volts at the sensor per volt at the pin", "", -1000.0, 1000.0, 4),
    "offset_volts": ("Offset, added after the divider", "V", -1000.0, 1000.0, 4),
    "nominal_volts": ("Nominal supply", "V", 0.1, 1000.0, 3),
    "full_scale": ("Full scale of the readings", "counts", 2.0, LARGEST_READING + 1.0, 0),
    "reference_volts": ("Volts at the pin that read full scale", "V", 0.1, 1000.0, 4),
}


class _Row:
    """The widgets of one input."""

    def __init__(self, place: int) -> None:
        self.place = place
        self.name = TextField()
        self.name.setMaxLength(32)
        self.name.setFixedWidth(em(8.3))
        self.role = QComboBox()
        self.role.addItems(ROLES)
        self.role.setFixedWidth(em(10.2))
        self.bar = LevelBar(f"Level of input {place + 1}")
        self.volts = label("–", "big")
        self.volts.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self.volts.setMinimumWidth(em(12.5))
        self.counts = label("", "quiet")
        self.counts.setMinimumWidth(em(7))
        self.more = button("⋯", lambda: None, tip="Divider, offset, scale")
        self.more.setFixedWidth(em(3.9))
        self.troubles = {"column": FieldTrouble(self.name, lines=0),
                         "role": FieldTrouble(self.role, lines=0)}

    def fit(self, compact: bool) -> None:
        """Leave out what a narrow window has no room for: the counts, and large print."""
        self.name.setFixedWidth(em(7 if compact else 8.3))
        self.bar.setMinimumWidth(em(3.3 if compact else 6.7))
        self.counts.setVisible(not compact)
        self.volts.setObjectName("mid" if compact else "big")
        self.volts.setMinimumWidth(em(8.7 if compact else 12.5))
        self.volts.style().unpolish(self.volts)
        self.volts.style().polish(self.volts)

    def freeze(self) -> None:
        """Show that no reading comes: a dash for the number, nothing on the bar."""
        show_frozen(self.volts, True)
        self.volts.setText(NOTHING)
        self.counts.setText("")
        nan = float("nan")
        self.bar.show_level(nan, nan, nan, 1.0)

    def widgets(self) -> tuple[QWidget, ...]:
        return self.name, self.role, self.bar, self.volts, self.counts, self.more


class ChannelRows(Card):
    """All inputs of the board, live; names and roles can be edited, each edit undone."""

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.session, self.bench = session, session.bench
        self.edits = session.bench.edits
        head = QHBoxLayout()
        head.addWidget(label("Inputs, live", "head"), 1)
        self.undo = button("Undo", self.edits.undo_stack.undo, tip="Ctrl+Z")
        self.redo = button("Redo", self.edits.undo_stack.redo, tip="Ctrl+Shift+Z")
        self.forget = button("Forget extremes", self.forget_extremes,
                             tip=words.EXTREMES_TIP)
        for made in (self.undo, self.redo, self.forget):
            head.addWidget(made)
        self.body.addLayout(head)
        inside = QWidget()
        self.grid = QGridLayout()
        self.grid.setColumnStretch(2, 1)
        self.grid.setVerticalSpacing(10)
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 6, 0)
        column.addLayout(self.grid)
        column.addStretch(1)
        area = scrolled(inside)
        inside.setObjectName("onCard")
        self.body.addWidget(area, 1)
        self.nothing = label(words.NO_INPUTS, "quiet")
        column.insertWidget(0, self.nothing)
        self.details = QWidget()
        self.detail_grid = QGridLayout(self.details)
        self.detail_grid.setContentsMargins(0, 0, 0, 0)
        self.detail_grid.setColumnStretch(0, 1)
        self.body.addWidget(self.details)
        self.details.hide()
        self._rows: list[_Row] = []
        self._fresh = False
        self.low = self.high = np.empty(0)
        self._detail = -1
        # Both lines of the direction switch are closed now.
        self.both_closed = False
        self._compact = False
        session.board_state.replaced.connect(self.forget_extremes)
        self.edits.changed.connect(self.show_edits)
        stack = self.edits.undo_stack
        stack.canUndoChanged.connect(self.undo.setEnabled)
        stack.canRedoChanged.connect(self.redo.setEnabled)
        stack.undoTextChanged.connect(lambda text: self.undo.setToolTip(f"Undo {text} (Ctrl+Z)"))
        self.undo.setEnabled(False)
        self.redo.setEnabled(False)

    @property
    def rows(self) -> list[_Row]:
        """Return the rows, in the board's order."""
        return self._rows

    def apply_theme(self, skin: Skin) -> None:
        """Take on a skin."""
        for row in self._rows:
            row.bar.skin = skin
            row.bar.color = skin.look.track(row.place)
            row.bar.update()

    def show_edits(self) -> None:
        """Show the channels as they are edited now."""
        channels = self.edits.channels
        if len(channels) != len(self._rows):
            self._make_rows(len(channels))
        for row, channel in zip(self._rows, channels, strict=True):
            for widget in (row.name, row.role):
                widget.blockSignals(True)
            row.name.setText(channel.column)
            row.role.setCurrentText(channel.role)
            for widget in (row.name, row.role):
                widget.blockSignals(False)
            for trouble in row.troubles.values():
                trouble.clear()
            row.name.setAccessibleName(f"Name of input {row.place + 1}")
            row.role.setAccessibleName(f"Role of input {channel.column}")
            row.volts.setAccessibleName(f"Reading of {channel.column}")
            row.more.setAccessibleName(f"Scale of {channel.column}")
        self.nothing.setVisible(not channels)
        self.forget_extremes()
        if 0 <= self._detail < len(channels):
            self._show_detail(self._detail)
        else:
            self.details.hide()

    def _make_rows(self, count: int) -> None:
        for row in self._rows:
            for widget in (*row.widgets(), *row.troubles.values()):
                self.grid.removeWidget(widget)
                widget.deleteLater()
        self._rows = [_Row(place) for place in range(count)]
        for row in self._rows:
            # Below each input there is a line for what is wrong with its name, and its role.
            line = 3 * row.place
            for column, widget in enumerate(row.widgets()):
                self.grid.addWidget(widget, line, column)
            for below, trouble in enumerate(row.troubles.values(), 1):
                self.grid.addWidget(trouble, line + below, 0, 1, 6)
            row.name.editingFinished.connect(
                lambda r=row: self._edit(r.place, "column", r.name.text().strip(),
                                         r.troubles["column"]))
            row.role.currentTextChanged.connect(
                lambda role, r=row: self._edit(r.place, "role", role, r.troubles["role"]))
            row.more.clicked.connect(lambda _checked=False, r=row: self._toggle_detail(r.place))
            row.fit(self._compact)
            row.bar.setVisible(self.width() >= em(BARE_EMS))
        self.apply_theme(self.session.skin)

    def resizeEvent(self, _event: QResizeEvent) -> None:
        compact = self.width() < em(COMPACT_EMS)
        for row in self._rows:
            # The number says what the bar shows; scrolled out of sight neither says anything.
            row.bar.setVisible(self.width() >= em(BARE_EMS))
        if compact != self._compact:
            self._compact = compact
            for row in self._rows:
                row.fit(compact)

    def _edit(self, place: int, field: str, value: object, trouble: FieldTrouble) -> None:
        """Edit one field; what is refused stays in it, with why, until it is another."""
        refused = self.edits.edit(place, field, value)
        if refused is None:
            trouble.clear()
        elif not trouble.wrong:
            kept = getattr(self.edits.channels[place], field)
            trouble.say(words.still_is(capital(refused).rstrip("."), kept), focus=False)

    def _edit_stated(self, place: int, name: str, field: QDoubleSpinBox,
                     trouble: FieldTrouble) -> None:
        """Take what a field states; one that says "not stated" states nothing."""
        if not field.specialValueText() or field.text() != field.specialValueText():
            self._edit(place, name, field.value(), trouble)

    def _toggle_detail(self, place: int) -> None:
        if self._detail == place and self.details.isVisible():
            self.details.hide()
            self._detail = -1
        else:
            self._show_detail(place)

    def _show_detail(self, place: int) -> None:
        self._detail = place
        channel = self.edits.channels[place]
        while (item := self.detail_grid.takeAt(0)) is not None:
            if (old := item.widget()) is not None:
                old.deleteLater()
        self.detail_grid.addWidget(label(f"Input {channel.column}", "head"), 0, 0)
        for place_of, (name, (text, unit, least, most, places)) in enumerate(DETAILS.items()):
            row = 1 + 2 * place_of
            value = getattr(channel, name)
            if value is None and not (name == "nominal_volts" and channel.role == "supply"):
                continue
            field = QDoubleSpinBox()
            unstated = value is None
            # Below the least there is room for "not stated": leaving the field states nothing.
            field.setRange(least - 0.1 * unstated, most)
            field.setSpecialValueText("not stated" if unstated else "")
            field.setDecimals(places)
            field.setSuffix(f" {unit}" if unit else "")
            field.setButtonSymbols(QDoubleSpinBox.ButtonSymbols.NoButtons)
            field.setKeyboardTracking(False)
            field.setMinimumWidth(em(12.5))
            field.setAccessibleName(f"{text}, {channel.column}")
            field.setValue(field.minimum() if value is None else value)
            trouble = FieldTrouble(field, lines=0)
            field.editingFinished.connect(
                lambda f=field, n=name, t=trouble: self._edit_stated(place, n, f, t))
            self.detail_grid.addWidget(label(text), row, 0)
            self.detail_grid.addWidget(field, row, 1)
            self.detail_grid.addWidget(trouble, row + 1, 0, 1, 2)
        self.details.show()

    def forget_extremes(self) -> None:
        """Let the ticks of lowest and highest start anew."""
        self.low = np.full(len(self._rows), np.inf)
        self.high = np.full(len(self._rows), -np.inf)
        for row in self._rows:
            row.freeze()

    @property
    def tracks(self) -> tuple[str, ...]:
        """Return the names of the tracks."""
        return tuple(c.column for c in self.edits.channels if c.role == "track")

    @property
    def unmoved(self) -> tuple[str, ...]:
        """Return the tracks that have not moved yet since the board was connected."""
        return tuple(
            c.column for c, low, high in zip(self.edits.channels, self.low, self.high,
                                             strict=False)
            if c.role == "track" and not high - low >= max(
                MOVED_VOLTS, MOVED_SHARE * full_volts(c)))

    def paint(self) -> None:
        """Show what came since the last call."""
        pieces = self.bench.link.take()
        channels = self.edits.channels
        fresh = self.session.board_state.fresh
        if not fresh and self._fresh:
            # What stands still is no reading of now.
            for row in self._rows:
                row.freeze()
        self._fresh = fresh
        if not fresh or not pieces or len(channels) != pieces[-1].readings.shape[1]:
            return
        volts = np.concatenate([volts_of(channels, p.readings) for p in pieces])
        self.low = np.fmin(self.low, volts.min(axis=0))
        self.high = np.fmax(self.high, volts.max(axis=0))
        told = live_levels(channels, volts[-1], self.bench.said)
        lines = closed_lines(channels, volts[-1], self.session.parameters.direction_closed)
        self.both_closed = len(lines) == 2 and all(lines.values())
        for row, channel, (shown, unit), level, count, low, high in zip(
                self._rows, channels, told, volts[-1], pieces[-1].readings[-1], self.low,
                self.high, strict=True):
            show_frozen(row.volts, False)
            _text(row.volts, live_level(shown, unit, WINDOW))
            # Of a rheostat the volts stand beside its ohms: a meter at the pin shows those.
            _text(row.counts, line_state(lines[channel.role]) if channel.role in lines else
                  f"{level:.3f}{HARD}V" if unit != VOLT else
                  f"{count}{HARD}counts" if channel.full_scale else "")
            row.bar.show_level(float(level), float(low), float(high), full_volts(channel))


def full_volts(channel: Channel) -> float:
    """Return the volts at the sensor that fill a bar: the input's full scale."""
    if channel.full_scale is None:
        return channel.nominal_volts or 5.0
    full = float(volts_of((channel,), np.array([[channel.full_scale]]))[0, 0])
    return full if math.isfinite(full) and full > 0 else 5.0


def _text(made: QLabel, text: str) -> None:
    if made.text() != text:
        made.setText(text)



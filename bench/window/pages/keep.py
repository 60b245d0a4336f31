"""Keep: open recordings, lay two over each other, carry settings and pictures away."""

from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QFileDialog,
    QHBoxLayout,
    QListWidget,
    QListWidgetItem,
    QVBoxLayout,
    QWidget,
)

from bench.window.finding_view import must_mend, unproven, what_first
from bench.window.import_dialog import ImportDialog
from bench.window.pages.page import (
    NextStep,
    Page,
    PageStatus,
    act_on_car,
    car_status,
    car_step,
    on_show,
)
from bench.window.save_card import SaveCard
from bench.window.session import Session
from bench.window.sizes import em
from bench.window.widgets import Abreast, Card, FrontStack, button, label, scrolled
from bench.wording.cautions import PROVE
from bench.wording.face import WINDOW
from bench.wording.pages import keep as words
from bench.wording.sweep import sentence

RECORDINGS = "Recordings (*.csv);;All files (*)"
PATH_ROLE = int(Qt.ItemDataRole.UserRole)


class KeepPage(Page):
    """Opening, comparing, saving."""

    key = "keep"
    title = "Keep"

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.save_card = card = SaveCard(session)
        # What the menu and the pages call by name.
        self.folder, self.name, self.figure = card.folder, card.name, card.figure
        self.format_buttons, self.report_buttons = card.format_buttons, card.report_buttons
        self.target, self.save_settings = card.target, card.save_settings
        self.save_picture, self.save_report = card.save_picture, card.save_report
        self.fill_template = card.fill_template
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        self.stack = FrontStack()
        whole.addWidget(self.stack)
        files = QWidget()
        self.stack.addWidget(files)
        self.bring_in = ImportDialog(session)
        self.bring_in.done.connect(self._files_again)
        self.stack.addWidget(self.bring_in)
        outer = QVBoxLayout(files)
        outer.setContentsMargins(12, 12, 12, 12)
        self.pair = Abreast(em(29))
        outer.addWidget(self.pair)
        self.pair.row.addWidget(self._open_card(), 2)
        inside = QWidget()
        right = QVBoxLayout(inside)
        right.setContentsMargins(0, 0, 6, 0)
        right.setSpacing(12)
        right.addWidget(self._before_card())
        right.addWidget(self.save_card)
        right.addStretch(1)
        area = scrolled(inside)
        area.setMinimumHeight(em(20))
        self.pair.row.addWidget(area, 3)
        session.recent_changed.connect(self._fill_recent)
        session.findings_changed.connect(self._changed)
        session.before_changed.connect(self._changed)
        session.key_on_changed.connect(self.step_changed)
        session.saved.changed.connect(self.step_changed)
        self._fill_recent()
        self._changed()

    def _open_card(self) -> QWidget:
        card = Card("Open", words.OPEN_ABOUT)
        row = QHBoxLayout()
        row.addWidget(button("&Open a recording…", self.choose, tip="Ctrl+O"), 1)
        row.addWidget(button("&Bring in another log…", self.choose_foreign,
                             tip=words.FOREIGN_TIP))
        card.body.addLayout(row)
        self.recent = QListWidget()
        self.recent.setAccessibleName("Recent recordings")
        self.recent.itemActivated.connect(self._open_item)
        card.body.addWidget(self.recent, 1)
        row = QHBoxLayout()
        self.open_recent = button("Open it", lambda: self._open_item(self.recent.currentItem()))
        self.under_recent = button("Lay it under", self._lay_recent,
                                   tip=words.UNDER_TIP)
        row.addWidget(self.open_recent)
        row.addWidget(self.under_recent)
        row.addStretch(1)
        row.addWidget(button("Forget the list", self.session.recent_files.forget,
                             tip="The files themselves stay"))
        card.body.addLayout(row)
        self.recent.currentItemChanged.connect(lambda *_: self._enable())
        return card

    def _before_card(self) -> QWidget:
        card = Card("Before and after", words.BEFORE_ABOUT)
        self.opened = label(wrap=True)
        self.before = label(wrap=True)
        card.body.addWidget(self.opened)
        card.body.addWidget(self.before)
        row = QHBoxLayout()
        row.addWidget(button("Choose the earlier one…", self.choose_before, tip="Ctrl+B"))
        self.swap_button = button("Swap", self.swap, name="Swap the two")
        self.take_away = button("Take it away", lambda: self.session.take_before(None, None))
        row.addWidget(self.swap_button)
        row.addWidget(self.take_away)
        row.addStretch(1)
        card.body.addLayout(row)
        return card

    def next_step(self) -> NextStep:
        if self.stack.currentWidget() is self.bring_in:
            return NextStep(words.SAY_COLUMNS, str(self.bring_in.path))
        if self.session.findings is None:
            return NextStep(words.OPEN, words.OPEN_MORE, "choose a file")
        car = car_step(self.session)
        if car is not None:
            return replace(car, more=words.saved_says_so(car.more))
        mend, warnings = must_mend(self.session.findings), self.session.findings.warnings
        if mend:
            return NextStep(mend, words.saved_says_so(what_first(self.session.findings)),
                            "sweep again")
        saved = self.session.saved
        if saved.state != "saved" or saved.path is None:
            yet = self.session.findings.gravest >= 2
            return NextStep(words.NOT_YET if yet else words.SAVE,
                            words.saved_warns(sentence(warnings[0], WINDOW)) if warnings else
                            words.into(str(self.target("settings", ".txt"))), "save text")
        first = sentence(warnings[0], WINDOW) if warnings else f"{PROVE}."
        return NextStep(f"Saved: {saved.path.name}", first, "save text")

    def subject(self) -> str:
        return on_show(self.session) if self.stack.currentWidget() is not self.bring_in else ""

    def act(self) -> None:
        if self.session.findings is None:
            self.choose()
        elif act_on_car(self, self.next_step().action):
            return
        elif must_mend(self.session.findings):
            self.go_to.emit("sweep")
        else:
            self.save_settings("text")

    def status(self) -> PageStatus:
        saved = self.session.saved
        if saved.state == "changed":
            return PageStatus(car_status(self.session) or "changed since saved", False)
        if saved.state == "saved" and saved.path is not None:
            findings = self.session.findings
            return PageStatus(car_status(self.session) or f"saved {saved.path.name}", (
                findings is not None and findings.sound and not unproven(findings)
                and not car_status(self.session)))
        return PageStatus("nothing opened" if self.session.findings is None else "not saved yet",
                          False)

    def _changed(self) -> None:
        # At once, in front or not: the menu saves from here as well.
        self._stale = True
        self._refresh()
        self.step_changed.emit()

    def _empty(self) -> None:
        self.opened.setText(words.NOTHING_SHOWN)
        self.before.setText("Before: none")
        self.save_card.clear()
        self._enable(False)

    def _fill(self) -> None:
        session = self.session
        findings = session.findings
        path = session.path
        title = findings.recording.title if findings is not None else ""
        self.opened.setText(f"On show: {path.name if path else title or 'nothing yet'}")
        self.before.setText(f"Before: {session.before_path.name}" if session.before_path else
                            "Before: none")
        self.save_card.show_recording()
        self._enable()

    def _enable(self, may: bool = True) -> None:
        there = may and not self.wrong and self.session.findings is not None
        self.save_card.enable(there)
        picked = self.recent.currentItem() is not None
        self.open_recent.setEnabled(picked)
        self.under_recent.setEnabled(picked and there)
        self.take_away.setEnabled(self.session.before is not None)
        self.swap_button.setEnabled(self.session.before is not None)

    def _fill_recent(self) -> None:
        self.recent.clear()
        for name in self.session.recent_files.all():
            path = Path(name)
            item = QListWidgetItem(f"{path.name}\n{path.parent}")
            item.setData(PATH_ROLE, name)
            item.setToolTip(name)
            self.recent.addItem(item)
        self._enable()

    def _open_item(self, item: QListWidgetItem | None) -> None:
        if item is not None:
            self.session.open(Path(item.data(PATH_ROLE)))

    def _lay_recent(self) -> None:
        item = self.recent.currentItem()
        if item is not None:
            self.session.open_before(Path(item.data(PATH_ROLE)))

    def choose(self) -> None:
        """Ask for a recording to open."""
        name, _ = QFileDialog.getOpenFileName(self, "Open a recording", self.folder.text(),
                                              RECORDINGS)
        if name:
            self.session.open(Path(name))

    def choose_before(self) -> None:
        """Ask for the earlier recording."""
        name, _ = QFileDialog.getOpenFileName(self, "The recording before the adjustment",
                                              self.folder.text(), RECORDINGS)
        if name:
            self.session.open_before(Path(name))

    def choose_foreign(self) -> None:
        """Ask for a log of other origin."""
        name, _ = QFileDialog.getOpenFileName(self, "A log of other origin", self.folder.text(),
                                              "All files (*)")
        if name:
            self.open_foreign(Path(name))

    def open_foreign(self, path: Path) -> None:
        """Show what is in a log of other origin."""
        self.stack.setCurrentWidget(self.bring_in)
        self.bring_in.begin(path)
        self.step_changed.emit()

    def _files_again(self) -> None:
        self.stack.setCurrentIndex(0)
        self.step_changed.emit()

    def swap(self) -> None:
        """Put the earlier recording on show and lay the other one under it."""
        session = self.session
        findings, path = session.findings, session.path
        if session.before is not None:
            session.take(session.before, session.before_path)
            session.take_before(findings, path)

"""Keep: open recordings, lay two over each other, carry settings and pictures away."""

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QComboBox,
    QFileDialog,
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from bench.errors import BadCall, BadFile
from bench.plots import FIGURES, columns, png, svg
from bench.services.report import ReportOptions
from bench.services.saving import free_path, write_output
from bench.services.settings import Sheet, settings_formats, sheet_of
from bench.window.finding_view import car_trouble, must_mend, unproven, what_first
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
from bench.window.report_process import write_report_beside
from bench.window.session import Session
from bench.window.widgets import Card, button, label, scrolled
from bench.wording.cautions import PROVE
from bench.wording.face import PAPER, WINDOW
from bench.wording.refusals import refused
from bench.wording.sweep import sentence

ENDINGS = {"text": ".txt", "json": ".json", "csv": ".csv", "toml": ".toml", "c": ".h"}
NAMES = {"text": "Text", "json": "JSON", "csv": "CSV table", "toml": "TOML", "c": "C header"}
RECORDINGS = "Recordings (*.csv);;All files (*)"
PATH_ROLE = int(Qt.ItemDataRole.UserRole)


class KeepPage(Page):
    """Opening, comparing, saving."""

    key = "keep"
    title = "Keep"

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self._named_for: Path | None = None
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        self.stack = QStackedWidget()
        whole.addWidget(self.stack)
        files = QWidget()
        self.stack.addWidget(files)
        self.bring_in = ImportDialog(session)
        self.bring_in.done.connect(self._files_again)
        self.stack.addWidget(self.bring_in)
        outer = QHBoxLayout(files)
        outer.setContentsMargins(12, 12, 12, 12)
        outer.setSpacing(12)
        outer.addWidget(self._open_card(), 2)
        inside = QWidget()
        right = QVBoxLayout(inside)
        right.setContentsMargins(0, 0, 6, 0)
        right.setSpacing(12)
        right.addWidget(self._before_card())
        right.addWidget(self._save_card())
        right.addStretch(1)
        outer.addWidget(scrolled(inside), 3)
        session.recent_changed.connect(self._fill_recent)
        session.findings_changed.connect(self._changed)
        session.before_changed.connect(self._changed)
        session.key_on_changed.connect(self.step_changed)
        session.saved.changed.connect(self.step_changed)
        self._fill_recent()
        self._changed()

    def _open_card(self) -> QWidget:
        card = Card("Open", "Drop a recording anywhere on this window, choose a file, or pick a "
                            "recent one and press Enter.")
        row = QHBoxLayout()
        row.addWidget(button("&Open a recording…", self.choose, tip="Ctrl+O"), 1)
        row.addWidget(button("&Bring in another log…", self.choose_foreign,
                             tip="From an oscilloscope, a data logger, your own script"))
        card.body.addLayout(row)
        self.recent = QListWidget()
        self.recent.setAccessibleName("Recent recordings")
        self.recent.itemActivated.connect(self._open_item)
        card.body.addWidget(self.recent, 1)
        row = QHBoxLayout()
        self.open_recent = button("Open it", lambda: self._open_item(self.recent.currentItem()))
        self.under_recent = button("Lay it under", self._lay_recent,
                                   tip="Show it pale under the opened recording: the state before")
        row.addWidget(self.open_recent)
        row.addWidget(self.under_recent)
        row.addStretch(1)
        row.addWidget(button("Forget the list", self.session.forget_recent,
                             tip="The files themselves stay"))
        card.body.addLayout(row)
        self.recent.currentItemChanged.connect(lambda *_: self._enable())
        return card

    def _before_card(self) -> QWidget:
        card = Card("Before and after",
                    "An earlier recording of the same pedal is drawn pale under the opened one.")
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

    def _save_card(self) -> QWidget:
        self.save_card = Card("Save", "Files are written beside the recording; a recording itself "
                                      "is never written over.")
        grid = QGridLayout()
        grid.setColumnStretch(1, 1)
        self.folder = QLineEdit()
        self.folder.setAccessibleName("Folder to save in")
        self.name = QLineEdit()
        self.name.setAccessibleName("Name of the files, without ending")
        grid.addWidget(label("Folder"), 0, 0)
        grid.addWidget(self.folder, 0, 1)
        grid.addWidget(button("Choose…", self._choose_folder, name="Choose a folder"), 0, 2)
        grid.addWidget(label("Name"), 1, 0)
        grid.addWidget(self.name, 1, 1, 1, 2)
        self.save_card.body.addLayout(grid)
        self.save_card.body.addWidget(label("Settings", "quiet"))
        formats = QGridLayout()
        self.format_buttons = {}
        for place, key in enumerate(settings_formats()):
            made = button(NAMES.get(key, key), partial(self.save_settings, key),
                          name=f"Save settings as {NAMES.get(key, key)}")
            self.format_buttons[key] = made
            formats.addWidget(made, place // 3, place % 3)
        self.template = button("My template…", self.choose_template,
                               tip="Fill a text of your own: {start_of_travel.a} and the like")
        formats.addWidget(self.template, len(self.format_buttons) // 3,
                          len(self.format_buttons) % 3)
        self.save_card.body.addLayout(formats)
        self.save_card.body.addWidget(label("Picture", "quiet"))
        row = QHBoxLayout()
        self.figure = QComboBox()
        self.figure.setAccessibleName("Figure to save")
        self.figure.setMinimumContentsLength(16)
        self.figure.setSizeAdjustPolicy(
            QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        row.addWidget(self.figure, 1)
        self.png_button = button("PNG", lambda: self.save_picture("png"),
                                 name="Save the picture as PNG")
        self.svg_button = button("SVG", lambda: self.save_picture("svg"),
                                 name="Save the picture as SVG")
        row.addWidget(self.png_button)
        row.addWidget(self.svg_button)
        self.save_card.body.addLayout(row)
        self.save_card.body.addWidget(label("The page for the car's folder", "quiet"))
        row = QHBoxLayout()
        self.report_buttons = [
            button(f"Report as {kind.upper()}", partial(self.save_report, kind))
            for kind in ("pdf", "html")]
        for made in self.report_buttons:
            row.addWidget(made)
        row.addStretch(1)
        self.save_card.body.addLayout(row)
        return self.save_card

    def next_step(self) -> NextStep:
        if self.stack.currentWidget() is self.bring_in:
            return NextStep("Say what each column is, then import it.",
                            str(self.bring_in.path))
        if self.session.findings is None:
            return NextStep("Open a recording.", "Any recording of the pedal, old or new.",
                            "choose a file")
        car = car_step(self.session)
        if car is not None:
            return replace(car, more=f"{car.more} What is saved here says so too.")
        mend, warnings = must_mend(self.session.findings), self.session.findings.warnings
        if mend:
            return NextStep(mend, f"{what_first(self.session.findings)} What is saved here says so "
                            "too.", "sweep again")
        saved = self.session.saved
        if saved.state != "saved" or saved.path is None:
            return NextStep("Save the values before you walk to the car.",
                       f"What is saved warns too: {sentence(warnings[0], WINDOW)}" if warnings else
                            f"They go into {self.target('settings', '.txt')}", "save text")
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

    def target(self, what: str, ending: str) -> Path:
        """Return where a file of that kind goes."""
        return Path(self.folder.text()) / f"{self.name.text() or 'pedal'}-{what}{ending}"

    def _changed(self) -> None:
        # At once, in front or not: the menu saves from here as well.
        self._stale = True
        self._refresh()
        self.step_changed.emit()

    def _empty(self) -> None:
        self._named_for = None
        self.opened.setText("On show: nothing")
        self.before.setText("Before: none")
        self.figure.clear()
        self._enable(False)

    def _fill(self) -> None:
        session = self.session
        findings = session.findings
        path = session.path
        title = findings.recording.title if findings is not None else ""
        self.opened.setText(f"On show: {path.name if path else title or 'nothing yet'}")
        self.before.setText(f"Before: {session.before_path.name}" if session.before_path else
                            "Before: none")
        if path is not None and path != self._named_for:
            self._named_for = path
            self.folder.setText(str(path.resolve().parent))
            self.name.setText(path.stem)
        elif not self.folder.text():
            self.folder.setText(str(Path.home()))
        self.figure.clear()
        if findings is not None:
            for key, figure in FIGURES.items():
                for column in columns(findings) if figure.per_track else [None]:
                    self.figure.addItem(figure.title + (f": {column}" if column else ""),
                                        (key, column))
        self._enable()

    def _enable(self, may: bool = True) -> None:
        there = may and not self.wrong and self.session.findings is not None
        for made in (*self.format_buttons.values(), self.template, self.png_button,
                     self.svg_button):
            made.setEnabled(there)
        for made in self.report_buttons:
            made.setEnabled(there and self.session.path is not None)
        picked = self.recent.currentItem() is not None
        self.open_recent.setEnabled(picked)
        self.under_recent.setEnabled(picked and there)
        self.take_away.setEnabled(self.session.before is not None)
        self.swap_button.setEnabled(self.session.before is not None)

    def _fill_recent(self) -> None:
        self.recent.clear()
        for name in self.session.recent():
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

    def _choose_folder(self) -> None:
        name = QFileDialog.getExistingDirectory(self, "Folder to save in", self.folder.text())
        if name:
            self.folder.setText(name)

    def save_settings(self, form: str) -> Path | None:
        """Save the settings in a format and tell where; None when it could not be done."""
        findings = self.session.findings
        if findings is None:
            return None
        path = self.target("settings", ENDINGS.get(form, f".{form}"))
        return self._write(path, lambda: settings_formats()[form](self._sheet()))

    def _sheet(self) -> Sheet:
        """Return what is carried away, with what the log in the car holds against it."""
        session = self.session
        session.settle()
        source = session.path
        made = sheet_of(session.shown,
                        source if source is not None and source.exists() else None, PAPER)
        return replace(made, warnings=(*self._car_texts(), *made.warnings))

    def _car_texts(self) -> list[str]:
        return [t.text for t in car_trouble(self.session.findings, self.session.log_against)]

    def choose_template(self) -> None:
        """Ask for a template and fill it."""
        name, _ = QFileDialog.getOpenFileName(self, "A text with placeholders",
                                              self.folder.text(), "All files (*)")
        if name:
            self.fill_template(Path(name))

    def fill_template(self, template: Path) -> Path | None:
        """Fill the user's own template and save it under the same ending."""
        from bench.services.settings import fill

        def text() -> str:
            try:
                return fill(template.read_text(encoding="utf-8"), self._sheet())
            except (OSError, UnicodeDecodeError) as error:
                raise BadFile(f"cannot read {template} ({error}); choose a text file") from None

        return self._write(self.target("filled", template.suffix or ".txt"), text)

    def save_picture(self, kind: str) -> Path | None:
        """Save the picked figure, in the light look that prints well."""
        picked = self.figure.currentData()
        if picked is None:
            return None
        name, column = picked
        make = png if kind == "png" else svg
        part = name + (f"-{column}" if column else "")
        return self._write(self.target(part, f".{kind}"), lambda: make(
            name, self.session.shown, column=column, before=self.session.before),
            values=False)

    def save_report(self, kind: str) -> None:
        """Write the report beside the window; with an earlier recording, what changed."""
        session, out = self.session, free_path(self.target("report", f".{kind}"))
        session.settle()
        findings, source, earlier = session.findings, session.path, session.before
        if findings is None or source is None:
            return
        options = ReportOptions(before=session.before_path, remark=" ".join(self._car_texts()),
                                number=True)

        def done(path: Path) -> None:
            session.note_saved(path, findings)

        session.work.run(f"Writing {out.name}", lambda progress: write_report_beside(
            findings, source, out, options, earlier, progress), done)

    def _write(self, path: Path, content: Callable[[], str | bytes],
               values: bool = True) -> Path | None:
        """Write a file; values: it holds the values, so that they are saved now."""
        # What was kept before stays: a second saving has a name of its own.
        try:
            path = write_output(path, content(), number=True)
        except (BadCall, BadFile) as error:
            self.session.trouble(refused(error, WINDOW))
            return None
        if values:
            self.session.note_saved(path)
        else:
            self.session.notify(f"Saved {path}", "good")
        return path

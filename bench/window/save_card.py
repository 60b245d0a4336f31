"""What is carried away of the recording on show: values, pictures, the report.

Files get names of their own beside the recording: none is ever written over.
"""

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

from PySide6.QtWidgets import QComboBox, QFileDialog, QGridLayout, QHBoxLayout, QLineEdit

from bench.errors import BadCall, BadFile
from bench.plots import FIGURES, columns, png, svg
from bench.services.report import ReportOptions
from bench.services.saving import free_path, write_output
from bench.services.settings import Sheet, settings_formats, sheet_of
from bench.window.field_trouble import FieldTrouble
from bench.window.finding_view import car_trouble
from bench.window.report_process import write_report_beside
from bench.window.session import Session
from bench.window.widgets import Card, button, label
from bench.wording.face import PAPER, WINDOW, capital
from bench.wording.pages import keep as words
from bench.wording.refusals import refused

ENDINGS = {"text": ".txt", "json": ".json", "csv": ".csv", "toml": ".toml", "c": ".h"}
NAMES = {"text": "Text", "json": "JSON", "csv": "CSV table", "toml": "TOML", "c": "C header"}


class SaveCard(Card):
    """Folder and name, and a button for each kind of file."""

    def __init__(self, session: Session) -> None:
        super().__init__("Save", words.SAVE_ABOUT)
        self.session = session
        self._named_for: Path | None = None
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
        # Both say where a file goes: what is wrong with that stands below them.
        self.troubles = [FieldTrouble(made, lines=0) for made in (self.folder, self.name)]
        for line, trouble in enumerate(self.troubles, 2):
            grid.addWidget(trouble, line, 1, 1, 2)
        self.body.addLayout(grid)
        self.body.addWidget(label("Settings", "quiet"))
        formats = QGridLayout()
        self.format_buttons = {}
        for place, key in enumerate(settings_formats()):
            made = button(NAMES.get(key, key), partial(self.save_settings, key),
                          name=f"Save settings as {NAMES.get(key, key)}")
            made.setObjectName("corner")
            self.format_buttons[key] = made
            formats.addWidget(made, place // 3, place % 3)
        self.template = button("My template…", self.choose_template,
                               tip=words.TEMPLATE_TIP)
        self.template.setObjectName("corner")
        formats.addWidget(self.template, len(self.format_buttons) // 3,
                          len(self.format_buttons) % 3)
        self.body.addLayout(formats)
        row = QHBoxLayout()
        row.addWidget(label("Picture", "quiet"))
        self.figure = QComboBox()
        self.figure.setObjectName("tight")
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
        self.body.addLayout(row)
        row = QHBoxLayout()
        row.addWidget(label("The page for the car's folder", "quiet", wrap=True), 1)
        self.report_buttons = [
            button(f"Report as {kind.upper()}", partial(self.save_report, kind))
            for kind in ("pdf", "html")]
        for made in (*self.report_buttons, self.png_button, self.svg_button):
            made.setObjectName("corner")
        for made in self.report_buttons:
            row.addWidget(made)
        self.body.addLayout(row)

    def target(self, what: str, ending: str) -> Path:
        """Return where a file of that kind goes."""
        return Path(self.folder.text()) / f"{self.name.text() or 'pedal'}-{what}{ending}"

    def clear(self) -> None:
        """Offer nothing: no recording is on show."""
        self._named_for = None
        self.figure.clear()
        self.enable(False)

    def show_recording(self) -> None:
        """Name the files after the recording on show, and offer the figures there are of it."""
        session = self.session
        findings, path = session.findings, session.path
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

    def enable(self, there: bool) -> None:
        """Let the buttons be pressed where there is something to save."""
        for made in (*self.format_buttons.values(), self.template, self.png_button,
                     self.svg_button):
            made.setEnabled(there)
        for made in self.report_buttons:
            made.setEnabled(there and self.session.path is not None)

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
                raise BadFile(words.no_template(str(template), str(error))) from None

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
        try:
            made = content()
        except (BadCall, BadFile) as error:
            self.session.trouble(refused(error, WINDOW))
            return None
        # What was kept before stays: a second saving has a name of its own.
        try:
            path = write_output(path, made, number=True)
        except (BadCall, BadFile) as error:
            wrong = self.troubles[path.parent.is_dir()]
            wrong.say(f"{capital(refused(error, WINDOW)).rstrip('.')}.")
            return None
        for trouble in self.troubles:
            trouble.clear()
        if values:
            self.session.note_saved(path)
        else:
            self.session.notify(f"Saved {path}", "good")
        return path

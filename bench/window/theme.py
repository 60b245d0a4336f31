"""Light and dark dress of the window: palette, style sheet, and following the system."""

from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QGuiApplication, QPalette

from bench.plots import NIGHT, PAPER, Look
from bench.plots import palette as palettes
from bench.plots.palette import Palette

CHOICES = ("as the system", "light", "dark")


@dataclass(frozen=True)
class Skin:
    """Hold the colours of the window; `look` is that of its figures.

    grave, mend, know, good: the four gravities; each also stands as a word beside its colour.
    """

    look: Look
    window: str
    card: str
    edge: str
    text: str
    quiet: str
    accent: str
    on_accent: str
    picked: str
    grave: str
    mend: str
    know: str
    good: str

    def gravity(self, level: int) -> str:
        """Return the colour of a fault's gravity: 3 do not drive, 2 mend, 1 know of it."""
        return {3: self.grave, 2: self.mend, 1: self.know}.get(level, self.good)


def _skin(look: Look, colours: Palette) -> Skin:
    return Skin(look, colours.window, colours.page, colours.edge, colours.ink, colours.quiet,
                colours.accent, colours.on_accent, colours.picked, colours.grave, colours.mend,
                colours.know, colours.good)


LIGHT, DARK = _skin(PAPER, palettes.LIGHT), _skin(NIGHT, palettes.DARK)


def skin_for(choice: str) -> Skin:
    """Return the skin for a choice of `CHOICES`; the system's answer decides the first."""
    if choice == "dark":
        return DARK
    if choice == "light":
        return LIGHT
    scheme = QGuiApplication.styleHints().colorScheme()
    return DARK if scheme == Qt.ColorScheme.Dark else LIGHT


def palette(skin: Skin) -> QPalette:
    """Return the Qt palette of a skin, for what the style sheet leaves alone."""
    result = QPalette()
    role = QPalette.ColorRole
    for which, color in (
        (role.Window, skin.window), (role.WindowText, skin.text), (role.Base, skin.card),
        (role.AlternateBase, skin.window), (role.Text, skin.text), (role.Button, skin.card),
        (role.ButtonText, skin.text), (role.ToolTipBase, skin.card),
        (role.ToolTipText, skin.text), (role.PlaceholderText, skin.quiet),
        (role.Highlight, skin.accent), (role.HighlightedText, skin.on_accent),
        (role.Link, skin.accent), (role.Mid, skin.edge), (role.Dark, skin.edge),
        (role.Light, skin.edge),
    ):
        result.setColor(which, QColor(color))
        if which in (role.WindowText, role.Text, role.ButtonText):
            result.setColor(QPalette.ColorGroup.Disabled, which, QColor(skin.quiet))
    return result


def style_sheet(skin: Skin) -> str:
    """Return the style sheet: large touch areas, a focus ring that is seen, few lines."""
    marks = (Path(__file__).parent / "marks").as_posix()
    return f"""
    QWidget {{ color: {skin.text}; }}
    QMainWindow, QWidget#page, QScrollArea, QWidget#scrolled {{ background: {skin.window};
        border: none; }}
    QWidget#onCard {{ background: {skin.card}; }}
    QFrame#card {{ background: {skin.card}; border: 1px solid {skin.edge}; border-radius: 8px; }}
    QFrame#now {{ background: {skin.card}; border: none;
        border-bottom: 1px solid {skin.edge}; }}
    QFrame#rail {{ background: {skin.window}; border: none;
        border-right: 1px solid {skin.edge}; }}
    QLabel#nowText {{ font-size: 20pt; font-weight: 600; }}
    QLabel#nowLong {{ font-size: 15pt; font-weight: 600; }}
    QLabel#nowLoud {{ font-size: 34pt; font-weight: 700; }}
    QLabel#nowMore, QLabel#quiet {{ color: {skin.quiet}; }}
    QLabel#head {{ font-size: 12pt; font-weight: 600; }}
    QLabel#mid {{ font-size: 18pt; font-weight: 600; }}
    QLabel#big {{ font-size: 26pt; font-weight: 600; }}
    QLabel#huge {{ font-size: 64pt; font-weight: 700; }}
    QLabel#grave {{ color: {skin.grave}; font-weight: 700; }}
    QLabel#mend {{ color: {skin.mend}; font-weight: 700; }}
    QLabel#know {{ color: {skin.know}; font-weight: 700; }}
    QLabel#good {{ color: {skin.good}; font-weight: 700; }}
    QPushButton {{ background: {skin.card}; border: 1px solid {skin.edge}; border-radius: 6px;
        padding: 7px 14px; min-height: 22px; }}
    QPushButton:hover {{ background: {skin.picked}; }}
    QPushButton:pressed {{ background: {skin.edge}; }}
    QPushButton:checked {{ background: {skin.picked}; border-color: {skin.accent}; }}
    QPushButton:disabled {{ color: {skin.quiet}; background: {skin.window}; }}
    QPushButton:focus {{ border: 2px solid {skin.accent}; padding: 6px 13px; }}
    QPushButton#main {{ background: {skin.accent}; color: {skin.on_accent}; border: none;
        font-size: 14pt; font-weight: 600; padding: 12px 26px; min-height: 30px; }}
    QPushButton#main:disabled {{ background: {skin.edge}; color: {skin.quiet}; }}
    QPushButton#main:focus {{ border: 3px solid {skin.text}; padding: 9px 23px; }}
    QLineEdit, QComboBox, QSpinBox, QDoubleSpinBox, QPlainTextEdit {{ background: {skin.card};
        border: 1px solid {skin.edge}; border-radius: 5px; padding: 5px 7px; min-height: 22px;
        selection-background-color: {skin.accent}; selection-color: {skin.on_accent}; }}
    QLineEdit:focus, QComboBox:focus, QSpinBox:focus, QDoubleSpinBox:focus,
    QPlainTextEdit:focus {{ border: 2px solid {skin.accent}; padding: 4px 6px; }}
    QListWidget, QTableView, QTableWidget, QTreeWidget {{ background: {skin.card};
        border: 1px solid {skin.edge}; border-radius: 6px; outline: none;
        gridline-color: {skin.edge}; }}
    QListWidget:focus, QTableView:focus, QTableWidget:focus {{ border-color: {skin.accent}; }}
    QListWidget::item {{ padding: 7px 8px; border-bottom: 1px solid {skin.edge}; }}
    QListWidget::item:selected, QTableView::item:selected, QTableWidget::item:selected {{
        background: {skin.picked}; color: {skin.text}; }}
    QHeaderView::section {{ background: {skin.window}; border: none;
        border-bottom: 1px solid {skin.edge}; padding: 5px 8px; color: {skin.quiet}; }}
    QProgressBar {{ background: {skin.window}; border: 1px solid {skin.edge};
        border-radius: 6px; min-height: 16px; text-align: center; }}
    QProgressBar::chunk {{ background: {skin.accent}; border-radius: 5px; }}
    QSlider::groove:horizontal {{ height: 6px; background: {skin.edge}; border-radius: 3px; }}
    QSlider::handle:horizontal {{ background: {skin.accent}; width: 22px; height: 22px;
        margin: -9px 0; border-radius: 11px; }}
    QSlider:focus {{ border: 2px solid {skin.accent}; border-radius: 6px; }}
    QCheckBox {{ spacing: 8px; }}
    QCheckBox::indicator {{ width: 18px; height: 18px; border: 1px solid {skin.quiet};
        border-radius: 4px; background: {skin.card}; }}
    QCheckBox::indicator:checked {{ background: {skin.accent}; border-color: {skin.accent};
        image: url("{marks}/tick_{skin.look.name}.svg"); }}
    QCheckBox::indicator:focus {{ border: 2px solid {skin.accent}; }}
    QComboBox::drop-down {{ border: none; width: 24px; }}
    QComboBox::down-arrow {{ image: url("{marks}/down_{skin.look.name}.svg"); width: 14px;
        height: 14px; }}
    QComboBox QAbstractItemView {{ background: {skin.card}; border: 1px solid {skin.edge};
        selection-background-color: {skin.picked}; selection-color: {skin.text}; }}
    QScrollBar:vertical {{ background: transparent; width: 12px; margin: 0; }}
    QScrollBar:horizontal {{ background: transparent; height: 12px; margin: 0; }}
    QScrollBar::handle {{ background: {skin.edge}; border-radius: 5px; margin: 1px;
        min-height: 28px; min-width: 28px; }}
    QScrollBar::handle:hover {{ background: {skin.quiet}; }}
    QScrollBar::add-line, QScrollBar::sub-line {{ width: 0; height: 0; }}
    QScrollBar::add-page, QScrollBar::sub-page {{ background: transparent; }}
    QCheckBox:focus, QRadioButton:focus {{ color: {skin.accent}; }}
    QToolTip {{ background: {skin.card}; color: {skin.text}; border: 1px solid {skin.edge}; }}
    QMenuBar, QMenu, QStatusBar {{ background: {skin.card}; }}
    QMenuBar::item:selected, QMenu::item:selected {{ background: {skin.picked}; }}
    QSplitter::handle {{ background: {skin.window}; }}
    QTabWidget::pane {{ border: none; }}
    """

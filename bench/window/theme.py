"""Light and dark dress of the window: palette, style sheet, and following the system."""

from dataclasses import dataclass, replace
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QGuiApplication, QPalette

from bench.plots import palette as palettes
from bench.plots.look import NIGHT, PAPER, Look
from bench.plots.palette import Palette
from bench.window.sizes import em

# Pixels of an em of the usual font.
USUAL_EM = 12
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
    field: str
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
    return Skin(look, colours.window, colours.page, colours.edge, colours.field, colours.ink,
                colours.quiet, colours.accent, colours.on_accent, colours.picked, colours.grave,
                colours.mend, colours.know, colours.good)


LIGHT, DARK = _skin(PAPER, palettes.LIGHT), _skin(NIGHT, palettes.DARK)


def skin_for(choice: str) -> Skin:
    """Return the skin for a choice of `CHOICES`; the system's answer decides the first."""
    scheme = QGuiApplication.styleHints().colorScheme()
    dark = choice == "dark" or (choice != "light" and scheme == Qt.ColorScheme.Dark)
    skin = DARK if dark else LIGHT
    # The print of figures grows with the font of the window.
    return replace(skin, look=replace(skin.look, scale=em(1) / USUAL_EM))


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


# The sizes of text by object name, in ems.
TEXT_EMS = {"nowLoud": 3.75, "nowMid": 2.9, "nowText": 2.2, "nowLong": 1.67, "head": 1.33,
            "mid": 2.0, "big": 2.9, "huge": 7.1}


def style_sheet(skin: Skin) -> str:
    """Return the style sheet: large touch areas, a focus ring that is seen, few lines.

    Sizes follow the font of the application: make it anew when that changes.
    """
    marks = (Path(__file__).parent / "marks").as_posix()
    size = {name: f"{em(ems)}px" for name, ems in TEXT_EMS.items()}

    def pad(high: float, wide: float, less: int = 0) -> str:
        return f"{em(high) - less}px {em(wide) - less}px"

    return f"""
    QWidget {{ color: {skin.text}; }}
    QMainWindow, QWidget#page, QScrollArea, QWidget#scrolled, QWidget#foot {{
        background: {skin.window}; border: none; }}
    QWidget#onCard {{ background: {skin.card}; }}
    QFrame#card {{ background: {skin.card}; border: 1px solid {skin.edge}; border-radius: 8px; }}
    QFrame#notice {{ background: {skin.card}; border: 1px solid {skin.field};
        border-radius: 8px; }}
    QFrame#now {{ background: {skin.card}; border: none; }}
    QFrame#state {{ background: {skin.window}; border: none;
        border-top: 1px solid {skin.edge}; border-bottom: 1px solid {skin.edge}; }}
    QFrame#rail {{ background: {skin.window}; border: none;
        border-right: 1px solid {skin.edge}; }}
    QLabel#nowText {{ font-size: {size["nowText"]}; font-weight: 600; }}
    QLabel#nowLong {{ font-size: {size["nowLong"]}; font-weight: 600; }}
    QLabel#nowMid {{ font-size: {size["nowMid"]}; font-weight: 700; }}
    QLabel#nowLoud {{ font-size: {size["nowLoud"]}; font-weight: 700; }}
    QLabel#nowMore, QLabel#quiet {{ color: {skin.quiet}; }}
    QLabel#head {{ font-size: {size["head"]}; font-weight: 600; }}
    QLabel#mid {{ font-size: {size["mid"]}; font-weight: 600; }}
    QLabel#big {{ font-size: {size["big"]}; font-weight: 600; }}
    QLabel#huge {{ font-size: {size["huge"]}; font-weight: 700; }}
    QLabel#grave {{ color: {skin.grave}; font-weight: 700; }}
    QLabel#mend {{ color: {skin.mend}; font-weight: 700; }}
    QLabel#know {{ color: {skin.know}; font-weight: 700; }}
    QLabel#good {{ color: {skin.good}; font-weight: 700; }}
    QLabel[frozen="true"] {{ color: {skin.quiet}; font-weight: 400; }}
    QPushButton {{ background: {skin.card}; border: 1px solid {skin.field}; border-radius: 6px;
        padding: {pad(0.55, 1.15)}; min-height: {em(1.8)}px; }}
    QFrame#notice QPushButton {{ padding: {pad(0.2, 0.9)}; min-height: {em(1.5)}px; }}
    QPushButton:hover {{ background: {skin.picked}; }}
    QPushButton:pressed {{ background: {skin.edge}; }}
    QPushButton:checked {{ background: {skin.picked}; border-color: {skin.accent}; }}
    QPushButton#choice {{ font-size: {em(1.45)}px; font-weight: 600; }}
    QPushButton#choice:checked {{ border: 3px solid {skin.accent}; }}
    QPushButton:disabled {{ color: {skin.quiet}; background: {skin.window};
        border-color: {skin.edge}; }}
    QPushButton:focus {{ border: 2px solid {skin.accent}; padding: {pad(0.55, 1.15, 1)}; }}
    QPushButton#corner {{ padding: {pad(0.15, 0.7)}; min-height: {em(1.5)}px; }}
    QPushButton#corner:focus {{ padding: {pad(0.15, 0.7, 1)}; }}
    QFrame#tile {{ background: {skin.card}; border: 1px solid {skin.field};
        border-radius: 6px; }}
    QFrame#tile:hover {{ border-color: {skin.accent}; }}
    QFrame#tile:focus {{ border: 2px solid {skin.accent}; }}
    QFrame#remedy, QFrame#second {{ background: {skin.card}; border: 1px solid {skin.edge};
        border-radius: 8px; }}
    QFrame#remedy[marked="true"] {{ border: 2px solid {skin.accent}; }}
    QFrame#second {{ border: 2px solid {skin.grave}; }}
    QLabel#badge {{ color: {skin.on_accent}; background: {skin.accent}; border-radius: 4px;
        padding: {pad(0.1, 0.5)}; font-weight: 600; }}
    QLabel[struck="true"] {{ text-decoration: line-through; color: {skin.quiet}; }}
    QLabel#tileName {{ font-weight: 600; }}
    QLabel#tileNumber {{ color: {skin.quiet}; }}
    QFrame#notice QPushButton:focus {{ padding: {pad(0.2, 0.9, 1)}; }}
    QPushButton#main {{ background: {skin.accent}; color: {skin.on_accent}; border: none;
        font-size: {em(1.55)}px; font-weight: 600; padding: {pad(1, 2.1)};
        min-height: {em(2.5)}px; }}
    QPushButton#main[narrow="true"] {{ font-size: {em(1.25)}px; padding: {pad(0.7, 1)};
        min-height: {em(2)}px; }}
    QPushButton#main:disabled {{ background: {skin.edge}; color: {skin.quiet}; }}
    QPushButton#main:focus {{ border: 2px solid {skin.text}; padding: {pad(1, 2.1, 2)}; }}
    QPushButton#main[narrow="true"]:focus {{ padding: {pad(0.7, 1, 2)}; }}
    QLineEdit, QComboBox, QSpinBox, QDoubleSpinBox, QPlainTextEdit {{ background: {skin.card};
        border: 1px solid {skin.field}; border-radius: 5px; padding: {pad(0.4, 0.6)};
        min-height: {em(1.8)}px;
        selection-background-color: {skin.accent}; selection-color: {skin.on_accent}; }}
    QLineEdit, QPlainTextEdit, QComboBox {{ placeholder-text-color: {skin.quiet}; }}
    QLineEdit:disabled, QComboBox:disabled, QSpinBox:disabled, QDoubleSpinBox:disabled {{
        background: {skin.window}; color: {skin.quiet}; border-color: {skin.edge}; }}
    QLineEdit:focus, QComboBox:focus, QSpinBox:focus, QDoubleSpinBox:focus,
    QPlainTextEdit:focus {{ border: 2px solid {skin.accent}; padding: {pad(0.4, 0.6, 1)}; }}
    QLineEdit[wrong="true"], QComboBox[wrong="true"], QSpinBox[wrong="true"],
    QDoubleSpinBox[wrong="true"] {{ border: 2px solid {skin.grave};
        padding: {pad(0.4, 0.6, 1)}; }}
    QDoubleSpinBox#tight, QComboBox#tight {{ padding: {pad(0.1, 0.5)}; }}
    QDoubleSpinBox#tight:focus, QComboBox#tight:focus, QDoubleSpinBox#tight[wrong="true"] {{
        padding: {pad(0.1, 0.5, 1)}; }}
    QListWidget, QTableView, QTableWidget, QTreeWidget {{ background: {skin.card};
        border: 1px solid {skin.field}; border-radius: 6px; outline: none;
        gridline-color: {skin.edge}; }}
    QListWidget:focus, QTableView:focus, QTableWidget:focus {{
        border: 2px solid {skin.accent}; }}
    QListWidget::item {{ padding: {pad(0.55, 0.65)}; border-bottom: 1px solid {skin.edge}; }}
    QListWidget::item:selected, QTableView::item:selected, QTableWidget::item:selected {{
        background: {skin.picked}; color: {skin.text}; }}
    QTableView::item, QTableWidget::item {{ padding: 0 {em(0.6)}px; }}
    QHeaderView::section {{ background: {skin.window}; border: none;
        border-bottom: 1px solid {skin.edge}; padding: {pad(0.4, 0.65)}; color: {skin.quiet}; }}
    QProgressBar {{ background: {skin.window}; border: 1px solid {skin.field};
        border-radius: 6px; min-height: {em(1.3)}px; text-align: center; }}
    QProgressBar::chunk {{ background: {skin.picked}; border-radius: 5px; }}
    QSlider::groove:horizontal {{ height: {em(0.5)}px; background: {skin.field};
        border-radius: 3px; }}
    QSlider::handle:horizontal {{ background: {skin.accent}; width: {em(1.8)}px;
        height: {em(1.8)}px; margin: -{em(0.65)}px 0; border-radius: {em(0.9)}px; }}
    QSlider:focus {{ border: 2px solid {skin.accent}; border-radius: 6px; }}
    QCheckBox, QRadioButton {{ spacing: {em(0.65)}px; }}
    QCheckBox::indicator {{ width: {em(1.5)}px; height: {em(1.5)}px;
        border: 1px solid {skin.field}; border-radius: 4px; background: {skin.card}; }}
    QCheckBox::indicator:checked {{ background: {skin.accent}; border-color: {skin.accent};
        image: url("{marks}/tick_{skin.look.name}.svg"); }}
    QCheckBox::indicator:focus {{ border: 2px solid {skin.accent}; }}
    QComboBox::drop-down {{ border: none; width: {em(2)}px; }}
    QComboBox::down-arrow {{ image: url("{marks}/down_{skin.look.name}.svg");
        width: {em(1.15)}px; height: {em(1.15)}px; }}
    QComboBox QAbstractItemView {{ background: {skin.card}; border: 1px solid {skin.field};
        selection-background-color: {skin.picked}; selection-color: {skin.text}; }}
    QScrollBar:vertical {{ background: transparent; width: {em(1)}px; margin: 0; }}
    QScrollBar:horizontal {{ background: transparent; height: {em(1)}px; margin: 0; }}
    QScrollBar::handle {{ background: {skin.field}; border-radius: {em(0.4)}px; margin: 1px;
        min-height: {em(2.3)}px; min-width: {em(2.3)}px; }}
    QScrollBar::handle:hover {{ background: {skin.quiet}; }}
    QScrollBar::add-line, QScrollBar::sub-line {{ width: 0; height: 0; }}
    QScrollBar::add-page, QScrollBar::sub-page {{ background: transparent; }}
    QCheckBox:focus, QRadioButton:focus {{ color: {skin.accent}; }}
    QToolTip {{ background: {skin.card}; color: {skin.text}; border: 1px solid {skin.edge}; }}
    QMenuBar, QMenu, QStatusBar {{ background: {skin.card}; }}
    QMenuBar::item:selected, QMenu::item:selected {{ background: {skin.picked}; }}
    QMenu::item:disabled {{ color: {skin.quiet}; }}
    QSplitter::handle {{ background: {skin.window}; }}
    QTabWidget::pane {{ border: none; }}
    """

"""What the program is, its licence, and its keys: in panes of their own that block nothing."""

from importlib import metadata
from pathlib import Path

from PySide6.QtCore import Qt, qVersion
from PySide6.QtWidgets import QDialog, QPlainTextEdit, QVBoxLayout, QWidget

from bench.version import version
from bench.window.page_table import TABLE
from bench.window.widgets import button, label

KEYS = (
    (f"Alt+1 … Alt+{len(TABLE)}", "go to a page"),
    ("Ctrl+Enter", "do what the large sentence says"),
    ("Tab, Shift+Tab", "next and previous control"),
    ("Ctrl+O, Ctrl+B", "open a recording; lay an earlier one under it"),
    ("Ctrl+S", "save the settings as text"),
    ("Ctrl+C", "copy what is picked"),
    ("Ctrl+Z, Ctrl+Shift+Z", "undo and redo the last change, whatever page it was made on"),
    ("Up, Down in a list of faults", "every plot goes to the next fault"),
    ("F5 on the page Wire up", "look for boards again"),
    ("Home on the page Read", "see every plot whole again"),
    ("Left, Right in the large plot", "the reading before and after"),
    ("Ctrl+Shift+C on the page Read", "copy the large plot as a picture"),
    ("Esc", "dismiss a notice, leave the nulling view"),
    ("F1", "this list"),
)

# Work of others that is installed with this program; docs/licences.md has the same, with reasons.
OTHERS = (
    ("Qt, in PySide6-Essentials", "LGPL-3.0-only"),
    ("PySide6-Essentials, shiboken6", "LGPL-3.0-only"),
    ("numpy", "BSD-3-Clause"),
    ("scipy", "BSD-3-Clause"),
    ("pyserial", "BSD-3-Clause"),
    ("pyqtgraph", "MIT"),
    ("fontpkg", "MIT"),
    ("fontpkg-pt-serif, the font files", "OFL-1.1"),
    ("argcomplete", "Apache-2.0"),
    ("asammdf, only for MDF4 files", "LGPL-3.0-or-later"),
)


def others_text() -> str:
    """Return what is installed with this program, and under which licence."""
    wide = max(len(name) for name, _ in OTHERS)
    return ("Installed with it, each under its own licence (the text lies in the package's "
            "dist-info folder):\n\n"
            + "\n".join(f"{name:<{wide}}   {licence}" for name, licence in OTHERS)
            + "\n\nQt and PySide6 are used as shared libraries, unchanged; another version may be "
            "put in their place.\n")


def licence_text() -> str:
    """Return the licence as it was delivered."""
    try:
        found = metadata.distribution("stillpedal").read_text("licenses/LICENSE")
    except metadata.PackageNotFoundError:
        found = None
    if found:
        return found
    beside = Path(__file__).parents[2] / "LICENSE"
    return beside.read_text(encoding="utf-8") if beside.exists() else "MIT licence."


def _pane(parent: QWidget, title: str, intro: str, body: str) -> QDialog:
    pane = QDialog(parent)
    pane.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    pane.setWindowTitle(title)
    pane.resize(640, 480)
    column = QVBoxLayout(pane)
    column.addWidget(label(title, "head"))
    column.addWidget(label(intro, wrap=True))
    text = QPlainTextEdit(body)
    text.setReadOnly(True)
    text.setAccessibleName(title)
    column.addWidget(text, 1)
    column.addWidget(button("Close", pane.close))
    pane.show()
    return pane


def show_about(parent: QWidget) -> QDialog:
    """Show what the program is, and its licence."""
    return _pane(
        parent, f"Stillpedal {version()}",
        "Makes a two-track throttle pedal trustworthy before the first drive. It only reads; it "
        "never commands a vehicle. It replaces neither local codes nor licensed practice. "
        f"Drawn with Qt {qVersion()} (LGPL) and pyqtgraph (MIT).",
        f"{licence_text().rstrip()}\n\n\n{others_text()}")


def show_keys(parent: QWidget) -> QDialog:
    """Show the keys."""
    wide = max(len(keys) for keys, _ in KEYS)
    return _pane(parent, "Keys", "Everything can be done without a mouse.",
                 "\n".join(f"{keys:<{wide}}   {does}" for keys, does in KEYS))

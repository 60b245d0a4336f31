"""The window speaks its own language: a walk over every visible text of every page.

No outside source: the promise is the project's own.
"""

import re
from dataclasses import replace

import pytest
from findings_by_hand import SAMPLES
from PySide6.QtWidgets import (
    QAbstractButton,
    QComboBox,
    QGroupBox,
    QLabel,
    QLineEdit,
    QListWidget,
    QTableWidget,
    QWidget,
)
from window_driver import PATIENCE_MS, open_file

from analysis.model.pedal_kind import BY_HAND, USE_KEY
from bench.files.recording_file import read_recording
from bench.files.recording_writer import write_recording
from bench.window.finding_list import FindingList

# What only the command line or the code calls so.
OPTION = re.compile(r"(?<![\w-])--[a-z]|`|\bstillpedal [a-z]")
CODE_NAME = re.compile(r"\b[a-z]+_[a-z_]+\b")
# A unit written as a word of a field's name, as the code has it: "lift ohms", "zero volts".
BARE_UNIT = re.compile(r"^[a-z][a-z ]* (ohms|volts|amps|kelvin|percent|hertz)$")
# Words of the trade of the analysis that nobody in a garage uses.
OF_A_FOOT = re.compile(
    r"\b(foot|feet|press(?!\w* (Enter|Stop|All))\w*|lift-offs?)\b", re.IGNORECASE)
UNEXPLAINED = re.compile(r"noise crossings|chi-squared|\brms of\b")


def texts(root: QWidget) -> list[str]:
    """Return every text that a person sees, hears or is told by pointing at something."""
    found: list[str] = []
    for made in (root, *root.findChildren(QWidget)):
        found += [made.toolTip(), made.accessibleName(), made.accessibleDescription()]
        if isinstance(made, QLabel | QAbstractButton):
            found.append(made.text())
        elif isinstance(made, QLineEdit):
            found += [made.placeholderText()]
        elif isinstance(made, QComboBox):
            found += [made.itemText(k) for k in range(made.count())]
        elif isinstance(made, QGroupBox):
            found.append(made.title())
        elif isinstance(made, FindingList):
            found += [text for k in range(made.count())
                      if (said := made.said_of(made.item(k))) is not None
                      for text in (said.head, said.reasons)]
        elif isinstance(made, QListWidget):
            found += [made.item(k).text() for k in range(made.count())]
        elif isinstance(made, QTableWidget):
            found += [item.text() for r in range(made.rowCount())
                      for c in range(made.columnCount())
                      if (item := made.item(r, c)) is not None]
    return [text for text in found if text]


def foreign(text: str) -> bool:
    """Say whether a text has a word that is not the window's."""
    # A file's own name is the user's, and so is what goes into a template of his own.
    plain = re.sub(r"\{[\w.]+\}|\S*synthetic_\w+(\.\w+)?\S*|\S*/\S*", "", text)
    return bool(OPTION.search(plain) or CODE_NAME.search(plain) or BARE_UNIT.search(plain)
                or UNEXPLAINED.search(plain))


@pytest.mark.parametrize("words", [
    "say it with --time", "lift ohms", "top_ohms of the divider is 0",
    "noise crossings in 1000 h: at most 0.001", "try 'stillpedal findings'"])
def test_the_walk_finds_what_is_foreign(words):
    """Each of these stood in the window once."""
    assert foreign(words)


@pytest.mark.parametrize("name", ["one_track", "wiper_dropouts", "off_at_rest"])
def test_no_page_shows_a_word_that_is_not_the_windows(qtbot, window, name):
    """Every text of every page, with a recording on show and, once, another one under it."""
    path = SAMPLES / f"synthetic_{name}.csv"
    open_file(qtbot, window, path)
    if name == "off_at_rest":
        window.session.open_before(SAMPLES / "synthetic_healthy_pair.csv")
        qtbot.waitUntil(lambda: window.session.before is not None, timeout=PATIENCE_MS)
    for key in window.pages:
        window.go_to(key)
        assert not [text for text in texts(window) if foreign(text)], key


def test_no_kind_of_sender_shows_a_name_of_the_code(window):
    """Each field has a label of its own, with its unit, for every kind there is."""
    window.go_to("senders")
    fields = window.pages["senders"].fields
    for kind in [fields.kind.itemText(k) for k in range(fields.kind.count())]:
        fields.kind.setCurrentText(kind)
        for field in fields.stated.values():
            field.setText("nonsense")
        shown = [text for text in texts(fields) if foreign(text)]
        assert not shown, (kind, shown)


def test_no_page_of_a_hand_throttle_speaks_of_a_foot(qtbot, window, tmp_path):
    """Its sweep and its log on show, itself on the bench: every page, and what is next on it."""
    for name in ("off_at_rest", "key_on_foot_and_brake"):
        made = read_recording(SAMPLES / f"synthetic_{name}.csv")
        # The samples' own titles speak of feet.
        write_recording(tmp_path / f"{name}.csv", replace(
            made, title="a throttle", extra={**made.extra, USE_KEY: BY_HAND}))
    window.session.bench.use = BY_HAND
    open_file(qtbot, window, tmp_path / "off_at_rest.csv")
    window.session.open(tmp_path / "key_on_foot_and_brake.csv")
    qtbot.waitUntil(lambda: window.session.key_on is not None, timeout=PATIENCE_MS)
    for key, page in window.pages.items():
        window.go_to(key)
        step = page.next_step()
        assert not [text for text in (*texts(page), *texts(window.step_bar), step.text, step.more)
                    if OF_A_FOOT.search(text)], key
    assert window.session.limb.rests_off == "Hand off the throttle."
    window.session.bench.use = None

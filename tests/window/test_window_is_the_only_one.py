"""One window, and never another beside it.

No outside source: the promise is the project's own.
"""

from findings_by_hand import SAMPLES
from PySide6.QtCore import QEvent, QObject
from PySide6.QtWidgets import QApplication, QLabel, QWidget
from recorded_sweeps import swept
from window_driver import settings_in

from bench.services.findings import open_findings
from bench.window.app import application
from bench.window.main_window import MainWindow

TWO_TRACKS = SAMPLES / "synthetic_off_at_rest.csv"
ONE_TRACK = SAMPLES / "synthetic_one_track.csv"


class Windows(QObject):
    """Note what else is shown as a window of its own: it takes the keys, and flashes up."""

    def __init__(self, main):
        super().__init__()
        self.main, self.shown = main, []

    def eventFilter(self, made, event):
        if (event.type() == QEvent.Type.Show and isinstance(made, QWidget) and made.isWindow()
                and made is not self.main):
            self.shown.append(f"{type(made).__name__} {made.accessibleName()!r}")
        return False


def test_no_window_but_the_main_one_is_shown_while_its_pages_are_built(qapp, tmp_path):
    """A widget is shown once it has its place: without a parent it would be a window till then."""
    application()
    made = MainWindow(settings_in(tmp_path))
    seen = Windows(made)
    qapp.installEventFilter(seen)
    try:
        made.show()
        while len(made.pages.made()) < len(made.pages):
            made.make_pages()
            QApplication.processEvents()
        # What is made anew for another pedal, another board, another sender.
        for path in (TWO_TRACKS, ONE_TRACK):
            made.session.take(open_findings(path), path)
            for key in made.pages:
                made.go_to(key)
                QApplication.processEvents()
        made.session.accept_cautions()
        made.session.accept_car_cautions()
        made.session.bench.edits.begin(swept("healthy").recording.channels)
        made.go_to("wire_up")
        wire, senders = made.pages["wire_up"], made.pages["senders"].fields
        for row in wire.rows.rows:
            row.more.click()
        for box in (*wire.kinds.values(), senders.kind):
            for place in range(box.count()):
                box.setCurrentIndex(place)
        made.pages["decide"].column.fold(True)
        QApplication.processEvents()
        others = list(seen.shown)
        # The watch sees what it is to see.
        stray = QLabel("stray")
        stray.show()
        stray.close()
    finally:
        qapp.removeEventFilter(seen)
        made.close()
    assert others == []
    assert seen.shown == ["QLabel ''"]

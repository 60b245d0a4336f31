"""Damage what the window remembers (its .ini file): it opens all the same.

    python tests/stress/window_saved_state.py           120 windows, one process, some minutes
    python tests/stress/window_saved_state.py --quick   6
"""

import os
import sys
import tempfile
import traceback
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import numpy as np
from PySide6.QtCore import QSettings

sys.path.insert(0, str(Path(__file__).parent))

from recording_mutations import damage
from stress_common import Report, run

KEYS = ("window/geometry", "window/look", "window/page", "board/name", "board/baud", "board/pedal",
        "channels/simulated", "channels/replay:x.csv", "parameters/margin_volts",
        "parameters/key_on_hours", "nulling/tone", "recent", "sweep/folder", "sweep/cycles",
        "sweep/quick", "sweep/title", "sender/kind")
ODD = ("", "x", "-1", "1e999", "9" * 30, "nan", "true", "\x1b[2J", "\u202e", "[]", "{}", "null",
       '{"columns": 3}', '{"roles": [1]}', "[1, 2]", '"', "/nowhere/at/all", "\0", "5.5",
       "@ByteArray(\\0\\x1)", "@Variant(\\0\\0\\0\\x1)", "replay:/nowhere.csv", "a" * 100_000)


def windows(count: int) -> list[str]:
    """Open so many windows, each with other memories; return what went wrong."""
    from bench.window.app import application
    from bench.window.main_window import MainWindow

    app = application()
    rng = np.random.default_rng(11)
    wrong: list[str] = []
    hook = sys.excepthook
    sys.excepthook = lambda kind, error, trace: wrong.append(f"{kind.__name__}: {error}")
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "window.ini"
        for turn in range(count):
            path.unlink(missing_ok=True)
            store = QSettings(str(path), QSettings.Format.IniFormat)
            told = {}
            for key in KEYS:
                if rng.integers(3) == 0 or turn % len(KEYS) == KEYS.index(key):
                    told[key] = ODD[int(rng.integers(len(ODD)))]
                    store.setValue(key, told[key])
            store.sync()
            del store
            if turn % 3 == 2:
                path.write_bytes(damage(path.read_bytes(), rng))
            try:
                window = MainWindow(QSettings(str(path), QSettings.Format.IniFormat))
                window.show()
                for page in window.pages:
                    window.go_to(page)
                    app.processEvents()
                window.close()
                window.deleteLater()
                app.processEvents()
            except Exception as error:
                place = traceback.extract_tb(error.__traceback__)[-1]
                wrong.append(f"{type(error).__name__}: {error} {Path(place.filename).name}:"
                             f"{place.lineno}"[:200])
    sys.excepthook = hook
    return wrong


def measure(quick: bool, report: Report) -> None:
    """Open windows."""
    count = 6 if quick else 120
    wrong = windows(count)
    report.promise(f"{count} windows with damaged memories: did not open", not wrong,
                   f"{len(wrong)} {sorted(set(wrong))[:8]}" if wrong else 0)


if __name__ == "__main__":
    sys.exit(run(__doc__, measure))

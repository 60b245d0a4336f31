"""Long work beside the window: one thread, a progress bar, a way to stop waiting for it.

Rules: a job never touches a widget; what it returns or raises comes back as a signal in the
window's thread. `cancel` makes the job's next `progress` raise `Cancelled`, between two pieces of a
file, two parts of the analysis, or before writing: what nobody waits for ends there.
"""

import threading
from collections.abc import Callable
from typing import TypeVar

from PySide6.QtCore import QObject, Signal

from analysis.model.errors import AnalysisError
from bench.errors import BenchError
from bench.wording.face import WINDOW
from bench.wording.refusals import refused

# Called with (share done 0 to 1, or -1 for not known; what comes next); it raises to stop there.
Progress = Callable[[float, str], None]
Result = TypeVar("Result")


class Cancelled(Exception):
    """The user does not want the result any more."""


class Worker(QObject):
    """Run one job at a time; a new one takes the place of the one before.

    started(text), progressed(share 0..1 or -1, text), finished(result), failed(sentence),
    ended(): whatever happened, nothing runs any more. error: what failed last, as it was raised.
    """

    started = Signal(str)
    progressed = Signal(float, str)
    finished = Signal(object)
    failed = Signal(str)
    ended = Signal()
    _returned = Signal(int, object, object, object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._number = 0
        self.reading = False
        self.error: Exception | None = None
        self._running: dict[int, threading.Thread] = {}
        self._returned.connect(self._take)

    @property
    def busy(self) -> bool:
        """Say whether a job is under way whose result is still wanted."""
        return self._number in self._running

    def run(self, text: str, job: Callable[[Progress], Result],
            then: Callable[[Result], None] | None = None, *, reading: bool = False) -> None:
        """Start `job(progress)` beside the window; `then(result)` is called in the window.

        reading: the job opens a file; kept for whoever tells that it failed.
        """
        self._number += 1
        number, self.reading = self._number, reading

        told = -1.0

        def progress(share: float, what: str = "") -> None:
            nonlocal told
            if number != self._number:
                raise Cancelled
            # The bar has no more than a hundred steps worth painting.
            if what or share < told or share - told >= 0.01:
                told = share
                self.progressed.emit(share, what)

        def body() -> None:
            result: Result | None = None
            error: Exception | None = None
            try:
                result = job(progress)
            except (Cancelled, AnalysisError, BenchError, OSError) as trouble:
                error = trouble
            except MemoryError:
                error = BenchError(
                    "this computer has not enough memory for that; close other programs")
            except Exception as bug:
                error = BenchError(
                    f"something went wrong inside the program ({type(bug).__name__}: {bug}); "
                    "please report it with the recording")
            self._returned.emit(number, result, error, then)

        thread = threading.Thread(target=body, name=f"work {number}", daemon=True)
        self._running[number] = thread
        self.started.emit(text)
        thread.start()

    def cancel(self) -> None:
        """Stop waiting for the job that runs."""
        if self.busy:
            self._number += 1
            self.ended.emit()

    def wait(self, seconds: float) -> None:
        """Wait for every thread started, for closing."""
        for thread in list(self._running.values()):
            thread.join(seconds)

    def _take(self, number: int, result: Result, error: Exception | None,
              then: Callable[[Result], None] | None) -> None:
        self._running.pop(number, None)
        if number != self._number:
            return
        self.ended.emit()
        if error is None:
            if then is not None:
                then(result)
            self.finished.emit(result)
        elif not isinstance(error, Cancelled):
            self.error = error
            self.failed.emit(" ".join(refused(error, WINDOW).split()))

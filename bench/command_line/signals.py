"""Signals that end a recording as Ctrl-C does, on any system."""

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager

from bench.system import ending_signals


@contextmanager
def stopped_by_signals() -> Iterator[None]:
    """Let a hang-up or a plain kill end what is inside as Ctrl-C does; then as it was before."""
    former = {}
    if threading.current_thread() is threading.main_thread():
        for number in ending_signals(signal):
            former[number] = signal.signal(number, _interrupt)
    try:
        yield
    finally:
        for number, handler in former.items():
            # None: whoever embeds this set it outside Python, and it cannot be put back.
            signal.signal(number, signal.SIG_DFL if handler is None else handler)


def _interrupt(*_: object) -> None:
    raise KeyboardInterrupt

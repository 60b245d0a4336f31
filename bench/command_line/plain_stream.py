"""What reaches a terminal is plain text: no title, mark or file name can move its cursor.

Control signs and those that turn the direction of text go out as `\\uXXXX`, which in JSON, TOML
and C is the same text. `\\r` stays where it is ours: before a newline, and on the error stream,
where the progress line uses it.
"""

import errno
import io
import os
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, TextIO

from bench.errors import BadCall

_TURNS = "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"
_CONTROL = f"\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f{_TURNS}"
_ODD = re.compile(f"[{_CONTROL}]|\r(?!\n)")
_ODD_BUT_RETURN = re.compile(f"[{_CONTROL}]")


class OutputLost(BadCall):
    """Standard output took no more."""


class PlainStream:
    """Stand before a text stream and write odd signs as their codes.

    returns: it is the error stream: carriage returns are ours, and what it cannot take is dropped.
    """

    def __init__(self, stream: TextIO, returns: bool = False) -> None:
        self._stream = stream
        self._quiet = returns
        self.failed = False
        self._odd = _ODD_BUT_RETURN if returns else _ODD

    def write(self, text: str) -> int:
        """Write a text; return its length."""
        self._try(lambda: self._stream.write(
            self._odd.sub(lambda m: f"\\u{ord(m[0]):04x}", text)))
        return len(text)

    def flush(self) -> None:
        """Hand on what was written."""
        self._try(self._stream.flush)

    def give_up(self) -> None:
        """Write nowhere from now on; `failed` stays."""
        self._stream = _Deaf()  # type: ignore[assignment]

    def _try(self, act: Callable[[], object]) -> None:
        """Do it; what cannot be shown is told once, and what cannot be told stops no recording."""
        try:
            act()
        except BrokenPipeError:
            if not self._quiet:
                raise
            self._stream = nowhere()
        except (OSError, ValueError) as error:
            if not self._quiet:
                self.failed = True
                reason = getattr(error, "strerror", None) or error
                raise OutputLost(f"the output could not be written ({reason}); send it elsewhere, "
                                 "or free some space") from None
            self._stream = nowhere()

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


class _Closed:
    """Stand for a stream that was closed before the program began."""

    encoding = "utf-8"

    def write(self, text: str) -> int:
        raise OSError(errno.EBADF, "it is closed")

    def flush(self) -> None:
        """Hold nothing back."""

    def isatty(self) -> bool:
        return False


class _Deaf(_Closed):
    """Stand for a stream that took no more."""

    def write(self, text: str) -> int:
        return len(text)


def nowhere() -> TextIO:
    """Return a stream that keeps nothing."""
    return open(os.devnull, "w", encoding="utf-8")


def standard_streams(out: TextIO | None, err: TextIO | None) -> tuple[PlainStream, PlainStream]:
    """Return standard output and error to write to, also where one was closed.

    A closed one leaves its number free, and the next file that is opened, a recording say, would
    get whatever a library prints: so the numbers are taken.
    """
    while (number := os.open(os.devnull, os.O_RDWR)) <= 2:
        pass
    os.close(number)
    for stream in (out, err):
        # A Windows console or a pipe may not know every sign we print; never die of that.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    # A closed stream is written to alone, so that it has no more of a TextIO than that.
    return (PlainStream(_Closed() if out is None else out),  # type: ignore[arg-type]
            PlainStream(nowhere() if err is None else err, returns=True))


def let_go(stream: TextIO | None) -> None:
    """Send what a stream still holds back nowhere: the interpreter would fail on it at its end."""
    try:
        number = -1 if stream is None else stream.fileno()
    except (OSError, ValueError, AttributeError):
        return
    if number >= 0:
        empty = os.open(os.devnull, os.O_WRONLY)
        os.dup2(empty, number)
        os.close(empty)


def show_place(path: Path) -> None:
    """Print where a file was written, which is all that its verb has to say.

    Where standard output takes no name, the file is written all the same: that is told on the error
    stream, and the call has done what was asked.
    """
    try:
        print(path)
        sys.stdout.flush()
    except OutputLost as lost:
        if isinstance(sys.stdout, PlainStream):
            sys.stdout.give_up()
        print(f"{path} is written and whole; only its name was not shown: {lost}", file=sys.stderr)

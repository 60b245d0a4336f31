"""What reaches a terminal is plain text: no title, mark or file name can move its cursor.

Control signs and those that turn the direction of text go out as `\\uXXXX`, which in JSON, TOML
and C is the same text. `\\r` stays where it is ours: before a newline, and on the error stream,
where the progress line uses it.
"""

import re
from typing import Any, TextIO

_TURNS = "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"
_CONTROL = f"\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f{_TURNS}"
_ODD = re.compile(f"[{_CONTROL}]|\r(?!\n)")
_ODD_BUT_RETURN = re.compile(f"[{_CONTROL}]")


class PlainStream:
    """Stand before a text stream and write odd signs as their codes."""

    def __init__(self, stream: TextIO, returns: bool = False) -> None:
        self._stream = stream
        self._odd = _ODD_BUT_RETURN if returns else _ODD

    def write(self, text: str) -> int:
        """Write a text; return its length."""
        self._stream.write(self._odd.sub(lambda m: f"\\u{ord(m[0]):04x}", text))
        return len(text)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)

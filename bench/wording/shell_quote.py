"""What can be pasted behind a prompt: paths, and the verb that reads a recording."""

import re
from pathlib import Path

from bench.system import shell_word

# Control signs but for the line's end, and signs that turn the direction of text.
_ODD = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069\ufeff]")
_READERS = {"key-on": "watch --from", "meter": "meter --from", "proof": "prove --add"}


def pasted(path: str | Path) -> str:
    """Return the path quoted for the shell of this system where it needs that."""
    return shell_word(str(path))


def reader_of(purpose: str, path: str | Path) -> str:
    """Return the command that reads a recording made for that purpose."""
    return f"stillpedal {_READERS.get(purpose, 'findings')} {pasted(path)}"


def without_controls(page: str) -> str:
    """Return a page of text without signs that no reader sees but every program may obey."""
    return _ODD.sub("", page)

"""What can be pasted behind a prompt: paths, and the verb that reads a recording."""

import os
import shlex
import subprocess
from pathlib import Path

_READERS = {"key-on": "watch --from", "meter": "meter --from"}


def pasted(path: str | Path) -> str:
    """Return the path quoted for the shell of this system where it needs that."""
    if os.name == "nt":
        return subprocess.list2cmdline([str(path)])
    return shlex.quote(str(path))


def reader_of(purpose: str, path: str | Path) -> str:
    """Return the command that reads a recording made for that purpose."""
    return f"stillpedal {_READERS.get(purpose, 'findings')} {pasted(path)}"

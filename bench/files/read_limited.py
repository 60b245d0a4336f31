"""Read a small file whole: an ordinary one, of bounded size.

A pipe would be waited for for ever and a device never ends; neither is what the user meant.
"""

import os
import stat
from pathlib import Path

from bench.errors import BadFile


def check_ordinary(path: str | os.PathLike[str]) -> None:
    """Raise BadFile when the path leads to a pipe or a device; a missing file is not judged."""
    try:
        mode = os.stat(path).st_mode
    except (OSError, ValueError):
        return
    if not (stat.S_ISREG(mode) or stat.S_ISDIR(mode)):
        raise BadFile(f"{os.fspath(path)} is a pipe or a device; give an ordinary file")


def read_whole(path: str | os.PathLike[str], most_bytes: int) -> bytes:
    """Return the bytes of an ordinary file; raise BadFile when it is none, or larger."""
    check_ordinary(path)
    try:
        with Path(path).open("rb") as file:
            data = file.read(most_bytes + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise BadFile(f"cannot read {os.fspath(path)}: {reason}") from None
    if len(data) > most_bytes:
        raise BadFile(f"{os.fspath(path)} is larger than {most_bytes} bytes; that is no such file")
    return data

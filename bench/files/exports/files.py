"""Write an export in one piece, and never over a file that is there."""

import os
from collections.abc import Callable
from pathlib import Path

from bench.errors import BadFile
from bench.files.new_file import put_new

_RECORDING = b"# stillpedal_recording"


def write_output(path: Path, content: str | bytes, number: bool = False) -> Path:
    """Write text (UTF-8, line ends as they are) or bytes to `path`, whole or not at all.

    number: take the next free name when there is a file already. Return the file's path.
    Raises BadFile when `path` is there already or cannot be written.
    """
    data = content.encode("utf-8") if isinstance(content, str) else content
    return write_through(path, lambda part: part.write_bytes(data), number)


def write_through(path: Path, write: Callable[[Path], object], number: bool = False) -> Path:
    """Let `write` fill a file beside `path`, then give it that name; return its path.

    number: take the next free name when there is a file already.
    Raises BadFile when `path` is there already or cannot be written.
    """
    if not number:
        refuse_existing(path)
    try:
        return put_new(path, write, number)
    except FileExistsError:
        # Another program made it while this one was at work.
        refuse_existing(path)
        raise BadFile(f"cannot write {path}: another program just made and removed a file of "
                      "that name; try again") from None
    except OSError as error:
        raise _not_written(path, error) from None


def refuse_no_folder(path: Path) -> None:
    """Raise BadFile when the folder that `path` is to lie in is not there."""
    try:
        path.parent.stat()
    except OSError as error:
        raise _not_written(path, error) from None


def _not_written(path: Path, error: OSError) -> BadFile:
    return BadFile(f"cannot write {path} ({error.strerror or error}); free some space or choose "
                   "another place")


def refuse_existing(path: Path) -> None:
    """Raise BadFile when something is at `path`: what was kept is never written over."""
    if not os.path.lexists(path):
        return
    try:
        recording = path.is_file() and _start(path) == _RECORDING
    except OSError:
        recording = False
    if recording:
        raise BadFile(f"{path} is a recording and is not written over; choose another name")
    raise BadFile(f"{path} is there already and is not written over; choose another name or "
                  "delete it")


def _start(path: Path) -> bytes:
    with path.open("rb") as file:
        return file.read(len(_RECORDING))

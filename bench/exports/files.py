"""Write an export in one piece, and never over a file that is there."""

import os
import tempfile
from collections.abc import Callable
from pathlib import Path

from bench.errors import BadFile

_RECORDING = b"# stillpedal_recording"


def write_output(path: Path, content: str | bytes) -> None:
    """Write text (UTF-8, line ends as they are) or bytes to `path`, whole or not at all.

    Raises BadFile when `path` is there already or cannot be written.
    """
    data = content.encode("utf-8") if isinstance(content, str) else content
    write_through(path, lambda part: part.write_bytes(data))


def write_through(path: Path, write: Callable[[Path], object]) -> None:
    """Let `write` fill a file beside `path`, then put it in place of `path`.

    Raises BadFile when `path` is there already or cannot be written.
    """
    refuse_existing(path)
    try:
        handle, name = tempfile.mkstemp(
            prefix=f".{path.stem}-", suffix=path.suffix, dir=path.parent)
        os.close(handle)
        part = Path(name)
        try:
            write(part)
            # mkstemp makes files that only their owner can read; an export is an ordinary file.
            mask = os.umask(0)
            os.umask(mask)
            part.chmod(0o666 & ~mask)
            part.replace(path)
        finally:
            part.unlink(missing_ok=True)
    except OSError as error:
        raise BadFile(f"cannot write {path} ({error.strerror or error}); choose another place "
                      "with --out") from None


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

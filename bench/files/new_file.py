"""Put a new file where nothing is: whole or not at all, and never over another.

Looking first and writing then loses a file when two programs look at once. The system itself
must refuse the second: a hard link, or a file created exclusively, never replaces anything.
"""

import contextlib
import errno
import os
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

# What a disk without hard links says (FAT sticks, some network drives).
_NO_LINKS = {errno.EPERM, errno.ENOSYS, errno.EOPNOTSUPP, errno.ENOTSUP, errno.EMLINK,
             errno.EINVAL, errno.EACCES}


def numbered(path: Path) -> Iterator[Path]:
    """Yield the path, then with -2, -3 ... before its suffix, without end."""
    yield path
    number = 2
    while True:
        yield path.with_name(f"{path.stem}-{number}{path.suffix}")
        number += 1


def put_new(path: Path, write: Callable[[Path], object], number: bool = False,
            suffix: str | None = None) -> Path:
    """Let `write` fill a file beside `path`, then give it that name; return the name it got.

    number: take the next free name (-2, -3 ...) when the name is taken. suffix: of the file while
    it is written, default the path's own.
    Raise FileExistsError when the name is taken, OSError when it cannot be written; nothing is
    left behind.
    """
    handle, name = tempfile.mkstemp(prefix=f".{path.stem[:60]}-", dir=path.parent,
                                    suffix=path.suffix if suffix is None else suffix)
    os.close(handle)
    part = Path(name)
    try:
        write(part)
        # mkstemp makes files that only their owner can read; what is kept is an ordinary file.
        mask = os.umask(0)
        os.umask(mask)
        part.chmod(0o666 & ~mask)
        _on_disk(part)
        names = numbered(path)
        while True:
            wanted = next(names)
            try:
                name_in_full(part, wanted)
            except FileExistsError:
                if not number:
                    raise
                continue
            sync_folder(wanted)
            return wanted
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def move_new(path: Path, wanted: Path) -> Path:
    """Give a file another name beside it, the next free one of `wanted`; return it."""
    names = numbered(wanted)
    while True:
        name = next(names)
        try:
            name_in_full(path, name)
        except FileExistsError:
            continue
        path.unlink(missing_ok=True)
        return name


def create_new(path: Path, number: bool = False) -> tuple[int, Path]:
    """Create an empty file for appending and reading; return its descriptor and name.

    Raise FileExistsError when the name is taken and `number` does not allow the next.
    """
    flags = os.O_RDWR | os.O_CREAT | os.O_EXCL | os.O_APPEND | getattr(os, "O_BINARY", 0)
    names = numbered(path)
    while True:
        wanted = next(names)
        try:
            return os.open(wanted, flags, 0o666), wanted
        except FileExistsError:
            if not number:
                raise


def write_all(handle: int, data: bytes) -> None:
    """Write all of the data to a descriptor; raise OSError when it does not fit.

    A disk that fills up takes a part first, and refuses only what comes after (POSIX write).
    """
    done = 0
    while done < len(data):
        done += os.write(handle, data[done:])


def sync_folder(path: Path) -> None:
    """Keep a new file's name through a power cut; systems that cannot do not need it."""
    with contextlib.suppress(OSError, AttributeError):
        folder = os.open(path.parent, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def name_in_full(part: Path, wanted: Path) -> None:
    """Give the file its name; raise FileExistsError, and change nothing, when it is taken."""
    try:
        os.link(part, wanted)
        return
    except FileExistsError:
        raise
    except (AttributeError, NotImplementedError):
        pass
    except OSError as error:
        if error.errno not in _NO_LINKS:
            raise
    # The name is ours once we created it, and only then may it be written over.
    os.close(os.open(wanted, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666))
    try:
        os.replace(part, wanted)
    except OSError:
        wanted.unlink(missing_ok=True)
        raise


def _on_disk(part: Path) -> None:
    """Have the content on the disk before its name: a power cut leaves no empty file."""
    with part.open("rb+") as file, contextlib.suppress(OSError):
        os.fsync(file.fileno())

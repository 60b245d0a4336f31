"""What differs from system to system, all in one place: folders, signals, locks, shells, screens.

Every question takes the system's name as `sys.platform` has it, so that a test may ask for
another system's answer. Line ends need nothing here: files are opened as bytes or with newline="".
"""

import importlib
import os
import shlex
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType

WINDOWS, MACOS, LINUX = "win32", "darwin", "linux"
# A plain kill and a hang-up; Windows has no hang-up and sends SIGBREAK when a console closes.
_ENDING = ("SIGTERM", "SIGHUP", "SIGBREAK")
_LOOK_AGAIN_S = 0.02


def settings_folder(system: str = sys.platform, environ: Mapping[str, str] = os.environ,
                    home: Path | None = None) -> Path:
    """Return where settings of a user belong; STILLPEDAL_SETTINGS names another folder."""
    named = environ.get("STILLPEDAL_SETTINGS")
    if named:
        return Path(named)
    if system == WINDOWS:
        base = environ.get("APPDATA") or (home or Path.home()) / "AppData" / "Roaming"
    elif system == MACOS:
        base = (home or Path.home()) / "Library" / "Application Support"
    else:
        base = environ.get("XDG_CONFIG_HOME") or (home or Path.home()) / ".config"
    return Path(base) / "stillpedal"


def ending_signals(known: ModuleType = signal) -> tuple[int, ...]:
    """Return the signals that end a recording as Ctrl-C does; known: the module of signals."""
    return tuple(int(getattr(known, name)) for name in _ENDING if hasattr(known, name))


def shell_word(text: str, system: str = sys.platform) -> str:
    """Return the text as one word for the shell of this system, quoted where it needs that."""
    return subprocess.list2cmdline([text]) if system == WINDOWS else shlex.quote(text)


def port_options(system: str = sys.platform) -> dict[str, bool]:
    """Return how a serial port is opened for one program alone: Windows never does otherwise."""
    return {} if system == WINDOWS else {"exclusive": True}


def small_port_buffer(system: str = sys.platform) -> bool:
    """Return whether the driver keeps little of what comes unless it is asked for more."""
    return system == WINDOWS


def without_screen(system: str = sys.platform, environ: Mapping[str, str] = os.environ) -> bool:
    """Return whether a window has nowhere to open: Qt would end the process."""
    return system.startswith(LINUX) and not any(
        environ.get(k) for k in ("QT_QPA_PLATFORM", "DISPLAY", "WAYLAND_DISPLAY"))


def on_x11(system: str = sys.platform, environ: Mapping[str, str] = os.environ) -> bool:
    """Return whether a window opens through X11's libraries."""
    return system.startswith(LINUX) and not any(
        environ.get(k) for k in ("QT_QPA_PLATFORM", "WAYLAND_DISPLAY"))


@contextmanager
def locked(path: Path, patience_s: float = 5.0, system: str = sys.platform) -> Iterator[None]:
    """Hold a lock that ends with the process; path: a file of its own, made if need be, and left.

    Raise TimeoutError when another holds it for so long. Where the disk knows no locks (some
    network drives) nothing is held.
    """
    end = time.monotonic() + patience_s
    handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
    try:
        while not _took(handle, system):
            if time.monotonic() > end:
                raise TimeoutError(f"{path} is held by another program")
            time.sleep(_LOOK_AGAIN_S)
        yield
    finally:
        os.close(handle)


def _took(handle: int, system: str) -> bool:
    """Take the lock of an open file; return False when another has it."""
    library = importlib.import_module("msvcrt" if system == WINDOWS else "fcntl")
    try:
        if system == WINDOWS:
            library.locking(handle, library.LK_NBLCK, 1)
        else:
            library.flock(handle, library.LOCK_EX | library.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    except OSError:
        pass
    return True

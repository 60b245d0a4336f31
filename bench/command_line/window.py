"""`stillpedal window [FILE]`: open the bench window."""

import argparse
import ctypes
from pathlib import Path

from bench.errors import BadCall
from bench.system import on_x11, without_screen

_INSTALL = ("install the system libraries that docs/troubleshooting.md lists, or use the other "
            "verbs, which need none")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of this verb."""
    parser.add_argument("file", metavar="FILE", nargs="?", type=Path,
                        help="a recording to open, or the folder of a job")
    parser.add_argument("--before", metavar="FILE", type=Path,
                        help="an earlier recording of the same pedal, laid under it")


def run(arguments: argparse.Namespace) -> int:
    """Open the window and wait until it is closed."""
    for path in (arguments.file, arguments.before):
        if path is not None and not path.is_file() and not (
                path is arguments.file and path.is_dir()):
            raise BadCall(f"there is no file {path}; check its name")
    if arguments.before is not None and arguments.file is None:
        raise BadCall("--before needs a recording to lie under; name that one as well")
    _check_screen()
    try:
        from bench.window import app
        if on_x11():
            # Qt would end the process where this part of it lacks a library of the system.
            ctypes.CDLL(str(app.x11_part()))
    except (ImportError, OSError) as error:
        raise BadCall(f"the window cannot load Qt ({error}); {_INSTALL}") from None
    return app.run(arguments.file, arguments.before)


def _check_screen() -> None:
    """Raise BadCall where Qt would end the process because there is no screen to open on."""
    if without_screen():
        raise BadCall("there is no screen here (neither DISPLAY nor WAYLAND_DISPLAY is set); run "
                      "it on a desktop, or use the other verbs, which need none")

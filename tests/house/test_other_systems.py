"""Windows and macOS, as far as they can be tried from here: each answer with a double's.

Not run on either. The answers are held against the systems' own documents, named beside them.
"""

import ast
import errno
import multiprocessing
import os
import sys
from pathlib import Path, PureWindowsPath
from types import SimpleNamespace

import pytest
import serial
from places import ROOT

from bench import system
from bench.acquisition.boards import serial_board
from bench.acquisition.boards.serial_board import SerialBoard
from bench.errors import BoardTrouble
from bench.wording.shell_quote import pasted


@pytest.mark.parametrize(("name", "environ", "folder"), [
    # Windows: "Known Folders", FOLDERID_RoamingAppData is %APPDATA%.
    ("win32", {"APPDATA": "/r/Roaming"}, "/r/Roaming/stillpedal"),
    ("win32", {}, "/home/u/AppData/Roaming/stillpedal"),
    # macOS: "File System Programming Guide", Library/Application Support.
    ("darwin", {}, "/home/u/Library/Application Support/stillpedal"),
    # XDG Base Directory Specification 0.8: $XDG_CONFIG_HOME, else $HOME/.config.
    ("linux", {}, "/home/u/.config/stillpedal"),
    ("linux", {"XDG_CONFIG_HOME": "/x"}, "/x/stillpedal"),
    ("win32", {"STILLPEDAL_SETTINGS": "/s"}, "/s"),
])
def test_settings_lie_where_each_system_keeps_them(name, environ, folder):
    assert system.settings_folder(name, environ, Path("/home/u")) == Path(folder)


def test_every_signal_that_a_system_has_ends_a_recording():
    """Python's library reference, `signal`: Windows has SIGTERM and SIGBREAK and no SIGHUP."""
    assert system.ending_signals(SimpleNamespace(SIGTERM=15, SIGBREAK=21)) == (15, 21)
    assert system.ending_signals(SimpleNamespace(SIGTERM=15, SIGHUP=1)) == (15, 1)


@pytest.mark.parametrize(("name", "text", "word"), [
    # The rules of the C runtime ("Parsing C++ command-line arguments"): double quotes only.
    ("win32", r"C:\my sweeps\a.csv", '"C:\\my sweeps\\a.csv"'),
    ("win32", r"C:\sweeps\a.csv", r"C:\sweeps\a.csv"),
    # POSIX shell command language, 2.2.2: single quotes.
    ("darwin", "/my sweeps/a.csv", "'/my sweeps/a.csv'"),
    ("linux", "it's.csv", "'it'\"'\"'s.csv'"),
])
def test_a_path_is_quoted_for_the_shell_of_the_system(name, text, word):
    assert system.shell_word(text, name) == word


def test_windows_paths_are_pasted_as_they_are():
    assert system.shell_word(str(PureWindowsPath(r"C:\a\b.csv")), "win32") == r"C:\a\b.csv"
    assert pasted("a b.csv") == system.shell_word("a b.csv")


@pytest.mark.parametrize(("name", "environ", "screen", "x11"), [
    ("linux", {}, False, True), ("linux", {"DISPLAY": ":0"}, True, True),
    ("linux", {"WAYLAND_DISPLAY": "w"}, True, False),
    ("linux", {"QT_QPA_PLATFORM": "offscreen"}, True, False),
    ("win32", {}, True, False), ("darwin", {}, True, False),
])
def test_only_linux_may_lack_a_screen(name, environ, screen, x11):
    assert system.without_screen(name, environ) is not screen
    assert system.on_x11(name, environ) is x11


class Port:
    """Stand for a serial port of Windows: what pyserial 3.5's serialwin32.py offers."""

    def __init__(self, name, baud, **options):
        self.options, self.buffer = options, None
        if name == "COM9":  # serialwin32.py words it so: ctypes.WinError() in a text
            raise serial.SerialException("could not open port 'COM9': FileNotFoundError(2, 'The "
                                         "system cannot find the file specified.', None, 2)")
        if name == "COM4":
            raise serial.SerialException("could not open port 'COM4': PermissionError(13, 'Access "
                                         "is denied.', None, 5)")

    def set_buffer_size(self, rx_size):
        self.buffer = rx_size

    def close(self):
        pass


@pytest.fixture
def windows_ports(monkeypatch):
    monkeypatch.setattr(serial_board.serial, "Serial", Port)
    monkeypatch.setattr(serial_board.list_ports, "comports", lambda: [])
    monkeypatch.setattr(serial_board, "port_options", lambda: system.port_options("win32"))
    monkeypatch.setattr(serial_board, "small_port_buffer",
                        lambda: system.small_port_buffer("win32"))


def test_a_windows_port_gets_room_and_no_option_it_does_not_know(windows_ports):
    board = SerialBoard("COM3")
    board.open()
    assert "exclusive" not in board._port.options
    assert board._port.buffer >= 1 << 16
    assert system.port_options("darwin") == {"exclusive": True}


@pytest.mark.parametrize(("port", "said"), [
    ("COM9", "no board at COM9; plug it in"), ("COM4", "COM4 is in use by another program")])
def test_what_windows_says_of_a_port_is_told_in_our_words(windows_ports, port, said):
    with pytest.raises(BoardTrouble, match=said):
        SerialBoard(port).open()


def test_the_windows_lock_is_tried_again_until_it_is_free(tmp_path, monkeypatch):
    """Python's library reference, `msvcrt.locking`: OSError (EACCES) when it cannot be had."""
    tries = []

    def locking(handle, mode, count):
        tries.append(mode)
        if len(tries) < 3:
            raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setitem(sys.modules, "msvcrt", SimpleNamespace(locking=locking, LK_NBLCK=2))
    with system.locked(tmp_path / "l", system="win32"):
        assert tries == [2, 2, 2]
    monkeypatch.setattr(sys.modules["msvcrt"], "locking", taken)
    with pytest.raises(TimeoutError), system.locked(tmp_path / "l", 0.05, "win32"):
        pass


def taken(*_):
    raise PermissionError(errno.EACCES, "Permission denied")


@pytest.mark.skipif(os.name != "posix", reason="the lock of this system")
def test_the_lock_keeps_another_program_out_and_ends_with_its_holder(tmp_path):
    fork = multiprocessing.get_context("fork")
    told = fork.Queue()

    def hold():
        with system.locked(tmp_path / "l"):
            told.put("held")
            os._exit(9)  # as a killed program does

    def wait_in_vain():
        try:
            with system.locked(tmp_path / "l", 0.05):
                told.put("in")
        except TimeoutError:
            told.put("out")

    with system.locked(tmp_path / "l"):
        other = fork.Process(target=wait_in_vain)
        other.start()
        other.join()
        assert told.get(timeout=5) == "out"
    holder = fork.Process(target=hold)
    holder.start()
    holder.join()
    with system.locked(tmp_path / "l", 0.05):
        assert holder.exitcode == 9


def test_no_file_of_ours_gets_the_line_ends_of_the_system():
    """`open` turns each newline into the system's own unless it is told not to (`newline`)."""
    wrong = []
    for path in (ROOT / "bench").rglob("*.py"):
        if "firmware" in path.parts:
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call):
                continue
            name = getattr(node.func, "attr", getattr(node.func, "id", ""))
            texts = [a.value for a in node.args if isinstance(a, ast.Constant)]
            modes = [t for t in texts if isinstance(t, str) and set(t) <= set("wax+t") and t]
            given = {k.arg for k in node.keywords}
            into_nothing = any(isinstance(a, ast.Attribute) and a.attr == "devnull"
                               for a in node.args)
            if (name == "write_text" or (name in ("open", "fdopen", "NamedTemporaryFile")
                                         and modes)) and "newline" not in given \
                    and not into_nothing:
                wrong.append(f"{path.relative_to(ROOT)}:{node.lineno}")
    assert not wrong

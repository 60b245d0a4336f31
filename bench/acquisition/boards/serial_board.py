"""A board on a serial port; the only module that imports pyserial.

What is gone shows in three ways, and all mean the same: SerialException from a read, a plain
OSError from `in_waiting`, termios.error from a flush (pyserial 3.5, seen on Linux).
"""

import contextlib
import errno
import os
import threading
import time
from dataclasses import dataclass

import serial
from serial.tools import list_ports

from bench.acquisition.boards import DEFAULT_BAUD
from bench.acquisition.boards.board import WAIT_S, Board, Unplugged
from bench.errors import BoardTrouble
from bench.system import port_options, small_port_buffer

_BAUDS = (50, 12_000_000)
# After the first byte wait for its neighbours, so that a fast board costs few decoder calls;
# a pty holds 4 kB, which is more than comes in this time.
_GATHER_S = 0.005
_ENOUGH = 1024
_MOST = 1 << 16

# SerialException is an OSError; a port closed by another thread raises TypeError.
_GONE: tuple[type[BaseException], ...] = (OSError, TypeError)
with contextlib.suppress(ImportError):
    import termios

    _GONE = (*_GONE, termios.error)
# A speed that the port does not know raises ValueError.
_REFUSED: tuple[type[BaseException], ...] = (ValueError, *_GONE)


@dataclass(frozen=True)
class FoundPort:
    """Hold one serial port of this machine: what to type, and what the system says of it.

    usb: it is on USB, as converter boards are; ports of the mainboard and modems are not.
    """

    port: str
    text: str
    usb: bool = False


def found_ports() -> tuple[FoundPort, ...]:
    """Return the serial ports that the system lists; a pty is never among them."""
    ports = sorted(list_ports.comports(), key=lambda p: (p.vid is None, p.device))
    return tuple(FoundPort(p.device, "" if p.description in (None, "n/a") else p.description,
                           p.vid is not None)
                 for p in ports)


def identity_of(path: str) -> str:
    """Return what a board is known by: its USB identity, else the path it is on."""
    found = _identity(path)
    if found is None:
        return f"port:{path}"
    vid, pid, serial_number = found
    return f"usb:{vid:04x}:{pid:04x}:{serial_number}"


def port_with(identity: str, last: str) -> str:
    """Return where the board of that identity is now; where it was last when it is not seen."""
    for port in list_ports.comports():
        if identity_of(port.device) == identity:
            return str(port.device)
    return last


class SerialBoard(Board):
    """Read a board on a serial port, by any path or COM name the user types."""

    needs_care = True
    obeys = True

    def __init__(self, port: str, baud: int = DEFAULT_BAUD) -> None:
        if not _BAUDS[0] <= baud <= _BAUDS[1]:
            raise BoardTrouble(f"{baud} baud; use {_BAUDS[0]} to {_BAUDS[1]}")
        self.name = port
        self.baud = baud
        self._port: serial.Serial | None = None
        self._identity: tuple[object, ...] | None = None
        self._stopped = threading.Event()

    def open(self) -> None:
        """Open the port for this program alone."""
        self.close()
        self._stopped.clear()
        path = self._path_now()
        try:
            self._port = serial.Serial(path, self.baud, timeout=WAIT_S, write_timeout=1.0,
                                       **port_options())
        except _REFUSED as error:
            raise _why_not(path, self.baud, error) from None
        if small_port_buffer():
            self._port.set_buffer_size(rx_size=_MOST)
        self._identity = _identity(path)

    def read(self) -> bytes:
        """Return what came; wait for the first byte, then a little for its neighbours."""
        port = self._port
        if port is None:
            raise Unplugged(f"{self.name} is not open; plug it in")
        try:
            waiting = port.in_waiting
            data: bytes = b""
            if not waiting:
                data = port.read(1)
                if not data:
                    return b""
                waiting = port.in_waiting
            if waiting < _ENOUGH:
                time.sleep(_GATHER_S)
                waiting = port.in_waiting
            if waiting:
                data += port.read(min(waiting, _MOST))
            return data
        except _GONE as error:
            if self._stopped.is_set():
                return b""
            raise Unplugged(f"{self.name} is gone ({_reason(error)}); plug it in again") from None

    def write(self, data: bytes) -> None:
        """Send bytes; a board that does not listen is no trouble."""
        if self._port is None:
            raise Unplugged(f"{self.name} is not open; plug it in")
        try:
            self._port.write(data)
        except serial.SerialTimeoutException:
            return
        except _GONE as error:
            raise Unplugged(f"{self.name} is gone ({_reason(error)}); plug it in again") from None

    def change_baud(self, baud: int) -> None:
        """Go to another speed while open; raise BoardTrouble when the port does not take it."""
        if self._port is None:
            raise Unplugged(f"{self.name} is not open; plug it in")
        try:
            self._port.baudrate = baud
        except _REFUSED as error:
            raise _why_not(self.name, baud, error) from None
        self.baud = baud

    def stop(self) -> None:
        """Wake a waiting read."""
        self._stopped.set()
        with contextlib.suppress(AttributeError, *_GONE):
            if self._port is not None:
                self._port.cancel_read()

    def close(self) -> None:
        """Let go of the port."""
        port, self._port = self._port, None
        if port is not None:
            with contextlib.suppress(*_GONE):
                port.close()

    def _path_now(self) -> str:
        """Return where this board is now: a replugged one may come back under another name."""
        if self._identity is None or os.path.exists(self.name):
            return self.name
        for port in list_ports.comports():
            if _identity(port.device) == self._identity:
                return str(port.device)
        return self.name


def _identity(path: str) -> tuple[object, ...] | None:
    """Return what names a USB board wherever it is plugged, None for other ports."""
    for port in list_ports.comports():
        if port.device == path and port.serial_number:
            return (port.vid, port.pid, port.serial_number)
    return None


def _reason(error: BaseException) -> str:
    code = getattr(error, "errno", None)
    return os.strerror(code) if code else " ".join(str(error).split())[:80] or "no answer"


def _why_not(path: str, baud: int | None, error: BaseException) -> BoardTrouble:
    code = getattr(error, "errno", None)
    words = str(error)
    if isinstance(error, ValueError):
        return BoardTrouble(
            f"{path} does not take {baud} baud; use a usual speed such as 115200")
    if code in (errno.ENOENT, errno.ENODEV, errno.ENXIO) or "FileNotFoundError" in words:
        return BoardTrouble(f"no board at {path}; plug it in", ", or see 'stillpedal boards'")
    if code in (errno.EBUSY, errno.EAGAIN) or "lock" in words or "PermissionError" in words:
        return BoardTrouble(f"{path} is in use by another program; close that one first")
    if code in (errno.EACCES, errno.EPERM):
        return BoardTrouble(f"no permission for {path}; on Linux add yourself to the group that "
                            "owns it (often dialout) and log in again")
    if code == errno.ENOTTY or "Inappropriate ioctl" in words:
        return BoardTrouble(f"{path} is no serial port", "; see 'stillpedal boards'")
    return BoardTrouble(f"cannot open {path} ({_reason(error)})", "; see 'stillpedal boards'")

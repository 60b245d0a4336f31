"""A port that is gone, refused or renamed is told in one line; nothing of it needs hardware."""

import errno
from types import SimpleNamespace

import pytest
import serial

from bench.acquisition.boards import serial_board
from bench.acquisition.boards.board import Unplugged
from bench.acquisition.boards.serial_board import SerialBoard, identity_of, port_with
from bench.errors import BoardTrouble


def usb(device, number="77"):
    return SimpleNamespace(device=device, vid=0x1209, pid=0x0001, serial_number=number,
                           description="board")


class Port:
    """A port that gives out what a test says."""

    def __init__(self, waiting=(), data=b"", error=None):
        self.waiting, self.data, self.error = list(waiting), data, error
        self.written = b""

    @property
    def in_waiting(self):
        if self.error is not None:
            raise self.error
        return self.waiting.pop(0)

    def read(self, most):
        data, self.data = self.data[:most], self.data[most:]
        return data

    def write(self, data):
        if self.error is not None:
            raise self.error
        self.written += data

    def cancel_read(self):
        pass

    def close(self):
        pass


def opened(monkeypatch, port, name="/dev/none"):
    monkeypatch.setattr(serial_board.serial, "Serial", lambda *a, **k: port)
    board = SerialBoard(name)
    board.open()
    return board


def test_a_usb_board_is_known_by_its_own_number_wherever_it_is(monkeypatch):
    """vid:pid 1209:0001 is kept for tests in a registry of open hardware (from memory)."""
    monkeypatch.setattr(serial_board.list_ports, "comports",
                        lambda: [usb("/dev/ttyACM4"), usb("/dev/ttyACM9", None)])
    assert identity_of("/dev/ttyACM4") == "usb:1209:0001:77"
    # Without a serial number two of a kind could not be told apart.
    assert identity_of("/dev/ttyACM9") == "port:/dev/ttyACM9"
    assert port_with("usb:1209:0001:77", "/dev/ttyACM0") == "/dev/ttyACM4"
    assert port_with("usb:1209:0001:78", "/dev/ttyACM0") == "/dev/ttyACM0"


def test_a_board_plugged_in_again_is_found_under_its_new_name(monkeypatch):
    """Its old name is gone; another board of its kind is not taken for it."""
    ports = [usb("/dev/gone-0")]
    monkeypatch.setattr(serial_board.list_ports, "comports", lambda: ports)
    asked = []
    monkeypatch.setattr(serial_board.serial, "Serial",
                        lambda path, *a, **k: asked.append(path) or Port())
    board = SerialBoard("/dev/gone-0")
    board.open()
    ports[:] = [usb("/dev/gone-1", "78"), usb("/dev/gone-2")]
    board.open()
    ports[:] = [usb("/dev/gone-1", "78")]
    board.open()
    assert asked == ["/dev/gone-0", "/dev/gone-2", "/dev/gone-0"]


@pytest.mark.parametrize(("error", "words"), [
    (ValueError("Invalid baud rate"), "does not take 57 baud; use a usual speed"),
    (serial.SerialException(errno.ENOENT, "x"), "no board at /dev/none; plug it in"),
    (serial.SerialException(errno.EBUSY, "x"), "in use by another program; close that one"),
    (serial.SerialException(errno.EACCES, "x"), "no permission for /dev/none; on Linux add your"),
    (serial.SerialException(errno.ENOTTY, "x"), "/dev/none is no serial port"),
    (serial.SerialException("odd"), "cannot open /dev/none (odd)"),
])
def test_a_port_that_cannot_be_opened_says_why_and_what_to_do(monkeypatch, error, words):
    """The system's own error numbers, as POSIX names them."""
    def refuse(*_args, **_more):
        raise error

    monkeypatch.setattr(serial_board.serial, "Serial", refuse)
    with pytest.raises(BoardTrouble) as told:
        SerialBoard("/dev/none", 57).open()
    assert words in str(told.value)


def test_what_comes_together_is_read_together(monkeypatch):
    """One byte is waited for, and its neighbours with it; an empty port gives nothing."""
    board = opened(monkeypatch, Port([0, 2, 2], b"abc"))
    assert board.read() == b"abc"
    board = opened(monkeypatch, Port([0], b""))
    assert board.read() == b""
    board = opened(monkeypatch, Port([0, 0, 0], b"a"))
    assert board.read() == b"a"
    # Enough is there: no more is waited for.
    board = opened(monkeypatch, Port([2000], b"x" * 2000))
    assert len(board.read()) == 2000


def test_a_pulled_cable_is_told_unless_the_reading_was_to_stop(monkeypatch):
    """A closed port says so by an OSError; after `stop` that is what was asked for."""
    port = Port([5])
    board = opened(monkeypatch, port)
    port.error = OSError(errno.EIO, "gone")
    with pytest.raises(Unplugged, match=r"is gone \(Input/output error\); plug it in again"):
        board.read()
    with pytest.raises(Unplugged, match="plug it in again"):
        board.write(b"?\n")
    board.stop()
    assert board.read() == b""


def test_a_board_that_does_not_listen_is_no_trouble(monkeypatch):
    """Its answer is not waited for."""
    port = Port([0])
    board = opened(monkeypatch, port)
    port.error = serial.SerialTimeoutException("full")
    board.write(b"?\n")
    assert port.written == b""


def test_a_speed_can_be_changed_only_while_open(monkeypatch):
    """A speed that the port refuses leaves the old one on record."""
    class Fixed(Port):
        @property
        def baudrate(self):
            return 115200

        @baudrate.setter
        def baudrate(self, value):
            if value != 500000:
                raise ValueError("Invalid baud rate")

    board = opened(monkeypatch, Fixed())
    board.change_baud(500000)
    assert board.baud == 500000
    with pytest.raises(BoardTrouble, match="does not take 123 baud"):
        board.change_baud(123)
    assert board.baud == 500000
    board.close()
    for call in (lambda: board.change_baud(9600), board.read, lambda: board.write(b"?")):
        with pytest.raises(Unplugged, match="is not open; plug it in"):
            call()
    board.stop()
    with pytest.raises(BoardTrouble, match="49 baud; use 50 to 12000000"):
        SerialBoard("/dev/none", 49)

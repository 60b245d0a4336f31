"""A board served on a real serial device of this system, so that pyserial opens it like hardware.

POSIX only. The device's own name changes with every plug; `port` is a link that stays.
"""

import contextlib
import os
import select
import tempfile
import threading
from pathlib import Path

from bench.acquisition.boards.board import Board
from bench.errors import BoardTrouble


def can_serve() -> bool:
    """Say whether this system has pseudo terminals, and one to spare."""
    if not hasattr(os, "openpty"):
        return False
    ends: tuple[int, ...] = ()
    try:
        ends = os.openpty()
        os.ttyname(ends[1])
    except OSError:
        # In a container without /dev/pts, or when all of them are taken.
        return False
    finally:
        for end in ends:
            os.close(end)
    return True


class PtyServer:
    """Serve a board on a pty until `close`; it starts sending when it is first spoken to.

    Opening a port flushes what came before, so a board that sends at once would lose its hello.
    heard: everything the reader wrote so far.
    """

    def __init__(self, board: Board) -> None:
        if not can_serve():
            raise BoardTrouble("this system has no pseudo terminals; use the board 'simulated'")
        self.board = board
        self.heard = b""
        self._folder = tempfile.TemporaryDirectory(prefix="stillpedal-")
        self.port = str(Path(self._folder.name) / "board")
        self._master: int | None = None
        self._begun = False
        self._stopped = threading.Event()
        self._thread: threading.Thread | None = None
        try:
            self.plug()
        except OSError as error:
            self._folder.cleanup()
            raise BoardTrouble(f"no pseudo terminal to be had here ({error.strerror or error}); "
                               "use the board 'simulated'") from error

    def plug(self) -> None:
        """Plug the cable in; what is sent meanwhile was lost, as with a real cable."""
        import tty

        self._master, slave = os.openpty()
        try:
            tty.setraw(slave)
            device = os.ttyname(slave)
        except OSError:
            os.close(self._master)
            raise
        finally:
            os.close(slave)
        os.set_blocking(self._master, False)
        with contextlib.suppress(FileNotFoundError):
            os.unlink(self.port)
        os.symlink(device, self.port)
        self._stopped.clear()
        self._thread = threading.Thread(target=self._serve, name="pty board", daemon=True)
        self._thread.start()

    def unplug(self) -> None:
        """Pull the cable: the reader's port dies and its name goes away."""
        self._stopped.set()
        if self._thread is not None:
            self._thread.join()
        with contextlib.suppress(FileNotFoundError):
            os.unlink(self.port)
        if self._master is not None:
            os.close(self._master)
            self._master = None

    def close(self) -> None:
        """Unplug for good."""
        self.unplug()
        self.board.stop()
        self.board.close()
        self._folder.cleanup()

    def __enter__(self) -> "PtyServer":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _serve(self) -> None:
        master = self._master
        assert master is not None
        spoken = False
        while not self._stopped.is_set():
            spoken = self._listen(master, 0.0 if spoken else 0.02) or spoken
            if not self._begun:
                if not spoken:
                    continue
                self.board.open()
                self._begun = True
            data = self.board.read()
            if spoken:
                self._send(master, data)

    def _listen(self, master: int, seconds: float) -> bool:
        readable, _, _ = select.select([master], [], [], seconds)
        if not readable:
            return False
        try:
            data = os.read(master, 4096)
        except OSError:
            # No reader has the port open (EIO on Linux).
            self._stopped.wait(0.02)
            return False
        self.heard += data
        if data and self._begun:
            self.board.write(data)
        return bool(data)

    def _send(self, master: int, data: bytes) -> None:
        while data and not self._stopped.is_set():
            try:
                data = data[os.write(master, data):]
            except BlockingIOError:
                select.select([], [master], [], 0.02)
            except OSError:
                return

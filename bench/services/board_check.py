"""Watch a board for some seconds and say what it is good for."""

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.model.recording import DEFAULT_NOMINAL_VOLTS
from analysis.model.step_estimate import grid_step
from analysis.signal.board_check import BoardCheck, Capture, check_board
from bench.acquisition.boards.board import Board
from bench.acquisition.boards.channels import ChannelOptions, roles_of
from bench.acquisition.wire import Batch, Decoder, Hello, command
from bench.errors import BadCall, BoardTrouble
from bench.files.exports.board_check import board_check_json, board_check_text

__all__ = ["BoardCheck", "CheckOrder", "board_check_json", "board_check_text", "check"]

# A board that resets when its port opens sits in its loader for up to two seconds.
_SILENT_S = 6.0
_ASK_S = 1.0
# The hello comes about once a second; without one in this time there will be none.
_HELLO_S = 2.5
_SECONDS = (1.0, 3600.0)


@dataclass(frozen=True)
class CheckOrder:
    """Hold how a board is to be checked.

    seconds: 1 to 3600. expected_volts: by column, what is at the pin (0: grounded).
    full_scale, reference_volts: for boards that do not say. format: of the wire.
    """

    seconds: float = 10.0
    expected_volts: Mapping[str, float] = field(default_factory=dict)
    full_scale: int | None = None
    reference_volts: float | None = None
    format: str = "auto"

    def __post_init__(self) -> None:
        if not _SECONDS[0] <= self.seconds <= _SECONDS[1]:
            raise BadCall(f"a check of {self.seconds:g} s; use {_SECONDS[0]:g} to "
                          f"{_SECONDS[1]:g} s")


def check(board: Board, order: CheckOrder,
          progress: Callable[[float], None] | None = None) -> BoardCheck:
    """Return what the board is good for; progress is called with the share done, 0 to 1.

    Raise BoardTrouble when the board is silent, unreadable or goes away, BadCall when a column
    is named that it does not send.
    """
    board.open()
    try:
        capture = _watch(board, order, progress or (lambda share: None))
    finally:
        board.stop()
        board.close()
    for column in order.expected_volts:
        if column not in capture.columns:
            raise BadCall(f"no input {column!r}; the board sends {', '.join(capture.columns)}")
    if order.expected_volts and (capture.full_scale is None or capture.reference_volts is None):
        raise BadCall("the board does not say its scale, so its volts cannot be compared; add "
                      "--full-scale and --reference-volts")
    return check_board(capture, order.expected_volts)


@dataclass
class _Heard:
    """Collect what a board sends: batches, (rows so far, when they came), bytes."""

    batches: list[Batch] = field(default_factory=list)
    arrivals: list[tuple[int, float]] = field(default_factory=list)
    received: int = 0
    seconds: float = 0.0

    def take(self, batch: Batch, now: float, name: str) -> None:
        """Keep a batch that came now; raise BoardTrouble when it has other channels."""
        if not batch.rows:
            return
        if self.batches and batch.readings.shape[1] != self.batches[-1].readings.shape[1]:
            raise BoardTrouble(f"{name} changed its number of channels while it was "
                               "checked; check again")
        self.batches.append(batch)
        rows = self.arrivals[-1][0] if self.arrivals else 0
        self.arrivals.append((rows + batch.rows, now))


def _watch(board: Board, order: CheckOrder, progress: Callable[[float], None]) -> Capture:
    decoder = Decoder(order.format)
    _settle(board, decoder)
    refused = decoder.bad
    heard = _hear(board, decoder, order.seconds, progress)
    if not heard.batches:
        raise BoardTrouble(f"{board.name} sent no readings for {order.seconds:g} s; is it stopped?")
    hello = decoder.hello
    width = heard.batches[0].readings.shape[1]
    columns = hello.columns if hello else ()
    if len(columns) != width:
        columns = tuple("abcdefghijklmnop"[:width])
    same = hello if hello and len(hello.columns) == width else Hello("", columns, None, None, None)
    fitting = board.known if board.known and len(board.known) == width else None
    roles = roles_of(columns, same, fitting, ChannelOptions())
    lost = np.concatenate([b.lost_before for b in heard.batches])
    lost[0] = 0  # what was lost before the check began is not its concern
    readings, full_scale, reference = _scaled(board, order, hello, heard)
    return Capture(
        board_name=(hello.name if hello else "") or board.name,
        columns=columns,
        readings=readings,
        time_s=np.concatenate([b.time_s for b in heard.batches]),
        lost_before=lost,
        arrival_rows=np.array([a[0] for a in heard.arrivals]),
        arrival_s=np.array([a[1] for a in heard.arrivals]),
        seconds=heard.seconds,
        bytes_received=heard.received,
        refused=decoder.bad - refused,
        full_scale=full_scale,
        reference_volts=reference,
        rate_hz=hello.rate_hz if hello else None,
        usable_low=hello.usable_low if hello else None,
        usable_high=hello.usable_high if hello else None,
        baud=board.baud,
        says=decoder.board_says,
        tracks=tuple(c for c, role in zip(columns, roles, strict=True) if role == "track"),
    )


def _hear(board: Board, decoder: Decoder, seconds: float,
          progress: Callable[[float], None]) -> _Heard:
    """Return what the board sends in so many seconds, or until it ends."""
    heard = _Heard()
    begin = now = time.perf_counter()
    while now - begin < seconds and not board.ended:
        data = board.read()
        now = time.perf_counter()
        progress(min(1.0, (now - begin) / seconds))
        heard.received += len(data)
        heard.take(decoder.feed(data), now, board.name)
        while decoder.pending:
            heard.take(decoder.feed(b""), now, board.name)
    heard.seconds = now - begin
    return heard


def _scaled(board: Board, order: CheckOrder, hello: Hello | None, heard: _Heard,
            ) -> tuple[NDArray[Any], int | None, float | None]:
    """Return the readings as codes, their full scale and reference: as asked, said or known."""
    readings = np.concatenate([b.readings for b in heard.batches])
    if hello is not None and hello.volts:
        return _codes_of(readings, order.reference_volts)
    known = board.known[0] if board.known else None
    said_scale = hello.full_scale if hello else None
    said_reference = hello.reference_volts if hello else None
    if known is not None and said_scale is None and known.full_scale is not None:
        said_scale, said_reference = int(known.full_scale), known.reference_volts
    return (readings, order.full_scale or said_scale,
            order.reference_volts or said_reference)


def _codes_of(volts: NDArray[np.float64], reference: float | None,
              ) -> tuple[NDArray[np.int64], int, float]:
    """Return readings in volts as codes of the grid they lie on, with full scale and reference.

    The step is found from all inputs together; too still for that, one unit of the last decimal
    printed counts, which is never coarser. Without a stated reference 5 V stand in for it.
    """
    step = grid_step(volts.ravel())
    if not np.isfinite(step):
        apart = np.diff(np.unique(volts))
        apart = apart[apart > 1e-9]
        step = float(apart.min()) if apart.size else 0.001
    full_scale = max(2, round((reference or DEFAULT_NOMINAL_VOLTS) / step))
    return np.rint(volts / step).astype(np.int64), full_scale, full_scale * step


def _settle(board: Board, decoder: Decoder) -> None:
    """Read until the board has said what it is, or sends rows and will not say."""
    begin = time.perf_counter()
    asked = first = None
    seen = good = 0
    while True:
        now = time.perf_counter()
        if asked is None or now - asked > _ASK_S:
            asked = now
            board.write(command("?"))
            board.write(command("start"))
        data = board.read()
        seen += len(data)
        decoder.feed(data)
        while decoder.pending:
            decoder.feed(b"")
        good = decoder.good
        if good and first is None:
            first = now
        hello = decoder.hello
        if good and hello is not None and hello.full_scale is not None:
            return
        if first is not None and (now - first > _HELLO_S or board.ended):
            return
        if now - begin > _SILENT_S or (board.ended and not good):
            if seen:
                baud = board.baud
                at = f" at {baud} baud" if baud else ""
                raise BoardTrouble(f"{seen} bytes from {board.name}{at} but no valid line or "
                                   f"frame: {decoder.why_unread}")
            raise BoardTrouble(f"not a byte from {board.name} in {_SILENT_S:g} s; check that the "
                               "board is powered, runs its sketch, and is on this port")

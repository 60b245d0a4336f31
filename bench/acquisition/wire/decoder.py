"""The decoder of a stream: finds out which format it is, and hands out batches in order."""

import re

from bench.acquisition.wire.clock import StreamClock
from bench.acquisition.wire.frames import FrameDecoder
from bench.acquisition.wire.layout import LONGEST, LONGEST_DATA
from bench.acquisition.wire.lines import Refused, read_line, why_unread
from bench.acquisition.wire.samples import Batch, Hello, count_joinable, empty_batch, join
from bench.acquisition.wire.text import TextDecoder
from bench.errors import BadCall

FORMATS = ("auto", "text", "frames")
# More bytes of plain text than any frame of readings has cannot be frames.
_TEXT_PROOF = LONGEST_DATA + 4
# This many bytes without one good frame or line: neither of our formats, or another speed.
_GIVE_UP = 2048
_LATEST = 2048  # bytes kept to say what was sent when nothing can be read
# Larger feeds are taken in pieces of this size: what stays in a processor's cache is quicker.
_PIECE = 1 << 19
_RUN = re.compile(rb"[\t\r\n -~]{%d,}" % _TEXT_PROOF)
_HELLO_LINE = re.compile(rb"(?:^|\n)#[ -~]*\b(?:columns|full_scale)=[ -~]+\r?\n")
_PLAIN = b"\t\r\n" + bytes(range(0x20, 0x7F))


class Decoder:
    """Turn bytes into batches of rows.

    hello: what the board last said it is, None until known (for text without a `#` line it is
        made up from the first lines that agree, with the scale unknown).
    format: "text" or "frames", None until found out. good, bad: rows taken, pieces refused.
    board_says: other words of the hello, e.g. overruns, as texts.
    clock: "us" or "ms" when the user says that a line of text begins with the board's clock, "none"
        that it does not, None to find out. full_scale: what the user says a reading is at most.
    pending: True when rows of another shape wait for the next `feed` (b"" will do).
    """

    def __init__(self, format: str = "auto", clock: str | None = None,
                 full_scale: float | None = None) -> None:
        if format not in FORMATS:
            raise BadCall(f"no wire format {format!r}; use one of {', '.join(FORMATS)}")
        self._wanted = format
        self.clock_stated, self._full_scale = clock, full_scale
        self._clock = StreamClock()
        self._inner: FrameDecoder | TextDecoder | None = None
        self._undecided = b""
        self._recent = b""
        self._latest = b""
        self._queue: list[Batch] = []
        self._made: dict[str, FrameDecoder | TextDecoder] = {}
        self._seen = 0
        self._complained = False
        self._good_then = 0  # at the last complaint
        self._hello: Hello | None = None
        if format != "auto":
            self._choose(format)

    @property
    def hello(self) -> Hello | None:
        """Return what the board last said it is."""
        return self._inner.hello if self._inner else self._hello

    @property
    def format(self) -> str | None:
        """Return the format, None until found out."""
        if self._inner is None:
            return None
        return "frames" if isinstance(self._inner, FrameDecoder) else "text"

    @property
    def has_clock(self) -> bool:
        """Say whether the rows carry the board's own time, and not rows counted / rate."""
        return self._inner is None or self._inner.has_clock

    @property
    def beyond_scale(self) -> tuple[int, str]:
        """Return how many lines in a row read beyond full scale, and what the last of them said."""
        inner = self._inner
        return (inner.beyond, inner.beyond_words) if isinstance(inner, TextDecoder) else (0, "")

    @property
    def good(self) -> int:
        """Return how many rows were taken."""
        return sum(inner.good for inner in self._made.values())

    @property
    def bad(self) -> int:
        """Return how many lines or frames were refused."""
        return sum(inner.bad for inner in self._made.values())

    @property
    def board_says(self) -> dict[str, str]:
        """Return the other words of the board's hello, the latest of each."""
        says: dict[str, str] = {}
        for inner in self._made.values():
            says |= inner.board_says
        return says

    @property
    def why_unread(self) -> str:
        """Return why the latest bytes gave no row, and what to do."""
        return why_unread(self._latest)

    @property
    def pending(self) -> bool:
        """Say whether finished rows wait for the next call."""
        return bool(self._queue)

    def feed(self, data: bytes) -> Batch:
        """Return the rows that these bytes complete; any bytes may come, in any pieces."""
        return self._step(data, last=False)

    def finish(self) -> Batch:
        """Return what an unfinished line still holds; call again while `pending`."""
        return self._step(b"", last=True)

    def let_go(self) -> None:
        """Make rows pending that wait for what comes behind them: nothing will for now."""
        if isinstance(self._inner, TextDecoder):
            self._queue.extend(self._inner.let_go())

    def reset(self) -> None:
        """Forget unfinished bytes after a replug: the next row comes after an unknown gap."""
        self._drop_inner()
        self._undecided = self._recent = b""
        self._clock.break_here()
        if self._wanted != "auto":
            self._choose(self._wanted)

    def _step(self, data: bytes, last: bool) -> Batch:
        self._seen += len(data)
        self._latest = (self._latest + data[-_LATEST:])[-_LATEST:]
        if self._inner is None:
            self._undecided += data
            found = self._detect(self._undecided, last)
            if found is None and len(self._undecided) > _GIVE_UP \
                    and _HELLO_LINE.search(self._undecided):
                # It is short, and a line without end came behind it: it must not be given up.
                found = "text"
            if found is not None:
                data, self._undecided = self._undecided, b""
                self._choose(found)
            elif len(self._undecided) > _GIVE_UP:
                self._complain()
                self._undecided = self._undecided[-LONGEST:]
        if self._inner is not None:
            for start in range(0, max(1, len(data)), _PIECE):
                piece = data[start:start + _PIECE]
                self._queue.extend(
                    self._inner.feed(piece, last and start + _PIECE >= len(data)))
            self._follow_change(data)
            if self.good > self._good_then:
                self._complained = False
            if self._inner.idle_bytes > _GIVE_UP:
                self._complain()
                self._inner.idle_bytes = 0
                if self._wanted == "auto":
                    self._drop_inner()
        return self._next()

    def _follow_change(self, data: bytes) -> None:
        """Go over to the other format as soon as the bytes nobody could read are in it."""
        assert self._inner is not None
        if self._wanted != "auto":
            return
        self._recent = (self._recent + data[-_GIVE_UP:])[-_GIVE_UP:]
        unread = min(self._inner.unread_bytes, len(self._recent))
        if unread < _TEXT_PROOF:
            return
        bytes_unread = self._recent[-unread:]
        found = self._detect(bytes_unread)
        if found is not None and found != self.format:
            self._drop_inner()
            self._choose(found)
            assert self._inner is not None
            self._queue.extend(self._inner.feed(bytes_unread))

    def _next(self) -> Batch:
        if not self._queue:
            channels = len(self.hello.columns) if self.hello else 0
            return empty_batch(channels)
        count = count_joinable(self._queue)
        batch = join(self._queue[:count])
        del self._queue[:count]
        return batch

    def _complain(self) -> None:
        """Say once that nothing can be read."""
        if not self._complained:
            self._complained, self._good_then = True, self.good
            self._queue.append(empty_batch(0, None, (
                f"no valid line or frame in the last {_GIVE_UP} of {self._seen} bytes: "
                f"{self.why_unread}",)))

    def _choose(self, format: str) -> None:
        if format not in self._made:
            self._made[format] = FrameDecoder(self._clock) if format == "frames" else \
                TextDecoder(self._clock, self.clock_stated, self._full_scale)
        self._inner = self._made[format]
        self._inner.restart()
        self._inner.hello = self._hello

    def _drop_inner(self) -> None:
        if self._inner is not None:
            self.let_go()
            self._hello = self._inner.hello
            self._inner = None

    def _detect(self, data: bytes, last: bool = False) -> str | None:
        """Return the format these bytes are in, None while it cannot be told.

        One frame with a correct CRC proves frames. Lines prove text when they are longer than
        any frame of readings, or at the end of a stream.
        """
        trial = FrameDecoder(StreamClock())
        for start in range(0, len(data), _GIVE_UP):
            trial.feed(data[start:start + _GIVE_UP])
            if trial.good or trial.hello is not None:
                return "frames"
        if last and data:
            return "frames" if data.strip(_PLAIN) else "text"
        # Between words with accents there are runs of plain lines as well.
        for run in _RUN.findall(data):
            first = 0 if run.startswith(b"#") else run.find(b"\n") + 1
            stop = run.rfind(b"\n") + 1
            lines = run[first:stop] if first or run.startswith(b"#") else b""
            if len(lines) >= _TEXT_PROOF and _any_good_line(lines):
                return "text"
        return None


def _any_good_line(lines: bytes) -> bool:
    for line in lines.decode("ascii").splitlines():
        if line.startswith("#"):
            return True
        try:
            read_line(line)
        except Refused:
            continue
        return True
    return False

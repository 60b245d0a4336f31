"""Bytes of a log -> text: which encoding, and is it a text at all."""

import codecs
from pathlib import Path

from bench.errors import BadCall, BadFile
from bench.files.read_limited import check_ordinary

# The longest log read in one piece; four channels at 1 kHz for a day are about 3 GB of text.
MOST_BYTES = 2_000_000_000

_BOMS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_NOT_TEXT = (
    (b"PK\x03\x04", "a zipped workbook or archive; save the sheet as CSV first"),
    (b"\xd0\xcf\x11\xe0", "an old binary workbook; save the sheet as CSV first"),
    (b"\x1f\x8b", "compressed; unpack it first"),
    (b"%PDF", "a PDF; export the numbers as CSV"),
    (b"MDF ", "an MDF file; export its channels as CSV first"),
)


def starts_with(path: Path, signature: bytes) -> bool:
    """Return whether a file begins so; False when it cannot be read, which is told later."""
    check_ordinary(path)
    try:
        if path.stat().st_size > MOST_BYTES:
            return False
        with path.open("rb") as opened:
            return opened.read(len(signature)) == signature
    except OSError:
        return False


def read_bytes(path: Path) -> bytes:
    """Return a log's bytes; raise BadFile when it cannot be read or is no text."""
    check_ordinary(path)
    try:
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise BadFile(f"{path} has {size / 1e9:.1f} GB; split it into parts below "
                          f"{MOST_BYTES / 1e9:.0f} GB")
        data = path.read_bytes()
    except OSError as error:
        raise BadFile(f"cannot read {path} ({error.strerror or error}); check the name") from None
    if not data.strip():
        raise BadFile(f"{path} is empty; export the log again")
    for start, what in _NOT_TEXT:
        if data.startswith(start):
            raise BadFile(f"{path} is {what}")
    return data


def decode(data: bytes, path: Path, encoding: str | None = None) -> tuple[str, str]:
    """Return (text, encoding): a byte order mark decides, then UTF-16 by its zeros, UTF-8, 8 bit.

    Raises BadCall on an unknown encoding, BadFile when the bytes do not fit it or are no text.
    """
    if encoding is not None:
        try:
            return data.decode(encoding).removeprefix("\ufeff"), codecs.lookup(encoding).name
        except (LookupError, ValueError) as error:
            if isinstance(error, UnicodeDecodeError):
                raise BadFile(f"{path} is not {encoding} (byte {error.start}); leave --encoding "
                              "out or name another") from None
            raise BadCall(f"--encoding {encoding!r} is not known; use for example utf-8, utf-16 "
                          "or latin-1") from None
    for mark, name in _BOMS:
        if data.startswith(mark):
            try:
                return data.decode(name).removeprefix("\ufeff"), name
            except UnicodeDecodeError as error:
                raise BadFile(f"{path} begins as {name} but breaks it at byte {error.start}; "
                              "export the log again") from None
    # Plain Western text in UTF-16 has a zero in every other byte.
    head = data[:4000]
    pairs = max(1, len(head) // 2)
    for place, name in ((1, "utf-16-le"), (0, "utf-16-be")):
        if head[place::2].count(0) > 0.7 * pairs:
            return data[: len(data) // 2 * 2].decode(name, errors="replace"), name
    if b"\0" in data:
        # A logger that lost power leaves zeros at the end of its file; anywhere else: binary.
        trimmed = data.rstrip(b"\0")
        if b"\0" in trimmed or not trimmed.strip():
            raise BadFile(f"{path} is not a text file; export the log as CSV or text")
        data = trimmed
    for name in ("utf-8", "cp1252"):
        try:
            return data.decode(name), name
        except UnicodeDecodeError:
            continue
    return data.decode("latin-1"), "latin-1"

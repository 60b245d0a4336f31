"""One text line: its whole numbers, its words, or why it is neither."""

import re

from bench.acquisition.wire.widths import MOST_CHANNELS

_SPLIT = re.compile(r"[ \t]*,[ \t]*|[ \t]+")
_NAMED = re.compile(r"[ \t]*[:=][ \t]*")
# Volts as sketches print them: no exponents, no signs but a minus.
_DECIMAL = re.compile(r"-?[0-9]{1,7}\.[0-9]{0,9}\Z|-?\.[0-9]{1,9}\Z")
# No row of bare numbers holds three letters in a row, however it was torn.
_WORD = re.compile(rb"[A-Za-z\x80-\xff]{3}")


class Refused(ValueError):
    """A line that is no row; the message says why."""


def read_line(line: str) -> tuple[tuple[str, ...] | None, list[float]]:
    """Return the names (None without names) and numbers of a line; raise Refused.

    A whole number is an int; one with a decimal point is a float: volts.
    """
    # "A0 = 163, A1: 859" -> "A0:163, A1:859"; a line of bare numbers has neither sign.
    line = _NAMED.sub(":", line.strip().removesuffix(","))
    fields = _SPLIT.split(line)
    if len(fields) > MOST_CHANNELS + 1:
        raise Refused(f"has {len(fields)} fields, at most {MOST_CHANNELS} are read")
    names: list[str] = []
    values: list[float] = []
    for field in fields:
        name, colon, number = field.rpartition(":")
        if colon:
            names.append(name)
        if _DECIMAL.match(number):
            values.append(float(number))
            continue
        digits = number.removeprefix("-")
        # A minus before a 0 is damage: nobody prints it.
        if not (digits.isascii() and digits.isdigit()) or number.startswith("-0"):
            raise Refused(f"{_shown(field)} is not a whole number")
        if len(number) > 16:
            raise Refused(f"{_shown(field)} is too large")
        values.append(int(number))
    if names and (len(names) != len(fields) or len(set(names)) != len(names)
                  or not all(n.isidentifier() and n.isascii() for n in names)):
        raise Refused("names only some of its numbers, or two alike")
    return (tuple(names) or None), values


def _shown(text: str, most: int = 24) -> str:
    return repr(text if len(text) <= most else text[:most] + "...")


def why_unread(data: bytes) -> str:
    """Return why nothing was read from the last bytes of a stream, and what to do.

    Clean text of another kind is shown as it came: then the speed is right and the sketch is not.
    """
    lines = [line.strip() for line in data.split(b"\n")[1:-1]]
    text = next((line for line in lines if line and not line.startswith(b"#")), b"")
    fields = len(_SPLIT.split(text.decode("latin-1")))
    if fields > MOST_CHANNELS + 1:
        return (f"its lines carry {fields} numbers, and at most {MOST_CHANNELS} readings behind "
                "one time are read; let its sketch print only the channels that are wanted")
    if text and all(32 <= sign < 127 or sign == 9 for line in lines for sign in line):
        return (f"it sends lines like {_shown(text.decode('ascii'), 60)}, and only rows of "
                "counts, or of volts with a decimal point from a board that states no full scale, "
                "are read while recording; print one of the two, parted by commas "
                "(docs/wire.md), or bring a log of such lines in with 'stillpedal import'")
    return "wrong --baud, or a format we do not know (docs/wire.md)"


def decode_words(data: bytes) -> str:
    """Return what a board says in words: UTF-8, else the 8 bits of Western boards."""
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def is_words(line: bytes, named: bool) -> bool:
    """Return whether a line is words and no row, torn or damaged.

    named: the rows name their numbers, so a row has letters too.
    """
    if any(sign < 32 and sign != 9 for sign in line):
        return False
    if named:
        return bool(_WORD.search(line)) and not any(48 <= sign < 58 for sign in line)
    return bool(_WORD.search(line))

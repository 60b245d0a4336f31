"""Lines with a serial monitor's time in front ("12:34:56.789 -> 163,859") -> stamps and lines."""

import re

from bench.files.imports.labelled_lines import named_cells

_STAMP = re.compile(
    r"\s*(?P<open>\[)?"
    r"(?P<time>(?:[0-9]{1,4}[-./][0-9]{1,2}[-./][0-9]{1,4}[T ])?"
    r"[0-9]{1,2}:[0-9]{2}:[0-9]{2}(?:[.,:][0-9]{1,9})?(?:\s?[AaPp]\.?[Mm]\.?)?)"
    r"(?(open)\])(?P<arrow>\s*-?>|\s+-\s|:(?=\s))?\s*(?P<rest>.*)")
# Lines looked at before a log is taken to be written this way.
SAMPLE = 200


def unstamped(lines: list[str]) -> tuple[list[str], list[str]] | None:
    """Return the time before every line ("" where there is none) and the lines without it.

    None when the log is not written this way. A time that only a blank sets apart counts in
    front of named readings alone: elsewhere it is the first column of a table.
    """
    sample = [line for line in lines[:SAMPLE] if line.strip()]
    stamped = [match for line in sample if (match := _STAMP.fullmatch(line))]
    apart = sum(bool(m["open"] or m["arrow"] or named_cells(m["rest"])) for m in stamped)
    if not apart or apart < 0.8 * len(sample):
        return None
    matches = [_STAMP.fullmatch(line) for line in lines]
    return ([m["time"] if m else "" for m in matches],
            [m["rest"] if m else line for m, line in zip(matches, lines, strict=True)])

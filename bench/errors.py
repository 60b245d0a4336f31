"""What can go wrong outside the numbers, split by whose fault it is.

Every message is one line: what was wrong, with the value, and what to do. Both faces show the
message as it stands; the command line ends with exit status 2.
"""


class BenchError(Exception):
    """Base of all errors that `bench` raises on purpose.

    plain: the line without the file it begins with, for a list that names the file already.
    """

    plain: str | None = None


class BadCall(BenchError):
    """The caller asked for something that cannot be: an unknown option, a value out of range."""


class OtherKind(BadCall):
    """A file is a recording of another kind than what was asked for reads; of: the file."""

    def __init__(self, text: str = "", of: str = "") -> None:
        super().__init__(f"{of} {text}" if of else text)
        self.plain = text


class OtherInputs(BadCall):
    """A board sends another number of inputs than were named, now or when it was last used."""


class NotWritten(BadCall):
    """What was written for a stated value is no number, or neither yes nor no.

    name: of the value. kind: "number" or "yes or no".
    """

    def __init__(self, name: str, text: str, kind: str, line: str) -> None:
        super().__init__(line)
        self.name, self.text, self.kind = name, text, kind


class BoardTrouble(BenchError):
    """The board is missing, busy, silent, unplugged, or speaks no format we know.

    on_terminal: what to type at a terminal, told there only. plain: the line without it.
    """

    def __init__(self, text: str = "", on_terminal: str = "") -> None:
        super().__init__(text + on_terminal)
        self.plain: str = text


class ScaleUnknown(BoardTrouble):
    """A board does not say what its readings mean, and nobody else did."""


class SilentBoard(BoardTrouble):
    """A port is open, and not a byte came from it."""


class BadFile(BenchError):
    """A file is damaged, is not a recording, or cannot be read or written.

    of: the file that the line begins with, "" where the text names it.
    """

    def __init__(self, text: str = "", of: str = "") -> None:
        super().__init__(f"{of}: {text}" if of else text)
        self.plain = text


class NoRecording(BadFile):
    """A file is something else altogether; it may be a log of other origin."""
